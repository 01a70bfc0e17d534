"""What the terminal shows of the ways on. Computed elsewhere; nothing is worked out here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.journal.replan import Replan


def print_replan(found: Replan, out: Console) -> None:
    """The forecast and the options, each with its chance."""
    asked = digits.mass(found.target_g)
    same = found.expected_g is not None and digits.mass(found.expected_g) == asked
    against = "as asked" if same else f"instead of {asked}"
    if found.at_end and found.expected_g is not None:
        say(out, f"Made: {digits.mass(found.expected_g)} {against}.", 0, 2, "bold")
    elif found.expected_g is not None and found.chance is not None:
        say(
            out,
            f"Expected now: {digits.mass(found.expected_g)} {against}; the chance of as much or "
            f"more is {digits.chance(found.chance)}.",
            0,
            2,
            "bold",
        )
    for words in found.minds:
        say(out, f"Mind: {words}.", 0, 2)
    if found.left:
        say(out, f"Left over: {'; '.join(found.left)}.", 0, 2)
    for words in found.missing:
        say(out, f"Missing: {words}", 0, 2)
    if not found.options:
        out.print(
            "Nothing is left to do." if found.at_end else "No way on was found from what is there."
        )
    for i, option in enumerate(found.options, start=1):
        chance = ""
        if option.chance is not None:
            chance = f" [chance {digits.chance(option.chance)}]"
        say(out, f"{i}. {option.sentence}{chance}", 2, 3)
    print_disclaimer(out)
