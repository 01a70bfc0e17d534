"""What the terminal shows of trials before the large batch. Worked out in ``journal.trial``."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.journal.trial import Trial

WORTH = 0.002  # a smaller share saved is none


def line(t: Trial) -> str:
    """One trial in a sentence."""
    cost = digits.duration(t.minutes) + " of handwork"
    if t.money > 0:
        cost += f" and {digits.money(t.money, t.currency)}"
    start = (
        f"the start for {digits.percent(t.confidence)} from {digits.mass(t.before_g)} {t.material}"
    )
    if t.cut < WORTH:
        said = f"would not cut {start}"
    else:
        said = f"is expected to cut {start} to {digits.mass(t.after_g)}"
    return (
        f"step {t.number}, {t.title}: a trial with {digits.mass(t.in_g)} {t.what} costs {cost} "
        f"and {said}"
    )


def print_trials(rows: tuple[Trial, ...], out: Console) -> None:
    """All trials, the most telling first."""
    if not rows:
        out.print("Nothing about this route is unsure that a trial could tell.")
    else:
        out.print("What to try first, most telling first:", style="bold")
        for t in rows:
            say(out, f"{line(t)}.", 2, 4)
        say(
            out,
            "Log a trial as a run of its own: what it gave counts like any other run. The better "
            "part of one is often what it shows that no figure does.",
            0, 2,
        )  # fmt: skip
    print_disclaimer(out)


def as_json(rows: tuple[Trial, ...]) -> dict[str, Any]:
    """As plain data: masses in g, minutes of handwork."""
    return {
        "schema": "routefinder/trials/1", "disclaimer": DISCLAIMER,
        "trials": [{**asdict(t), "cut": t.cut} for t in rows],
    }  # fmt: skip
