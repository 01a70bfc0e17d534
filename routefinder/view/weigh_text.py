"""What the terminal shows of a weighing. Computed elsewhere; nothing is worked out here."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.journal.decide import Verdict

WORDS = {
    "done": "DONE",
    "go on": "GO ON",
    "something else": "SOMETHING ELSE",
    "cannot tell": "CANNOT TELL",
}


def print_verdict(found: Verdict, out: Console, arithmetic: bool = False) -> None:
    """A verdict: what it says, what would explain the weight, what to measure next."""
    say(out, f"{WORDS[found.says]}: {found.sentence}", 0, 2, "bold")
    if found.explanations:
        out.print("What would explain the weight:")
        for row in found.explanations:
            mark = "can be " if row.fits else "hardly "
            say(out, f"{mark}  {row.what}: {row.sentence}", 2, 9)
    if found.next_checks:
        out.print("What would tell:")
        for words in found.next_checks:
            say(out, f"- {words}", 2, 2)
    for note in found.notes:
        say(out, f"Note: {note}.", 0, 2)
    if arithmetic:
        out.print("How it is reckoned:")
        for line in found.reason.lines:
            say(out, line, 2, 2)
    print_disclaimer(out)


def as_json(found: Verdict) -> dict[str, Any]:
    """A verdict as plain data; masses in g, fractions from 0 to 1."""
    return {"schema": "routefinder/weigh/1", "disclaimer": DISCLAIMER, **asdict(found)}


def understood(title: str, in_g: float, material: str, purity: float, out_g: float) -> str:
    """What was understood, in a line."""
    pure = "" if purity == 1 else f" ({digits.percent(purity)})"
    return f"{title}: {digits.mass(in_g)} {material}{pure} in, {digits.mass(out_g)} out"
