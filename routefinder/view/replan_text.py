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
    if found.expected_g is not None and found.chance is not None:
        say(
            out,
            f"Expected now: {digits.mass(found.expected_g)} instead of "
            f"{digits.mass(found.target_g)}; the chance of as much or more is "
            f"{digits.chance(found.chance)}.",
            0,
            2,
            "bold",
        )
    for words in found.missing:
        say(out, f"Missing: {words}", 0, 2)
    if not found.options:
        out.print("No way on was found from what is there.")
    for i, option in enumerate(found.options, start=1):
        chance = ""
        if option.chance is not None:
            chance = f" [chance {digits.chance(option.chance)}]"
        say(out, f"{i}. {option.sentence}{chance}", 2, 3)
    print_disclaimer(out)
