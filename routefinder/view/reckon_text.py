"""What the terminal shows of the calculator."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from routefinder.disclaimer import DISCLAIMER
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.analysis.reckoned import Reckoned


def print_reckoned(found: Reckoned, out: Console, arithmetic: bool) -> None:
    """The answer, and its arithmetic where it is asked for."""
    say(out, f"{found.answer}.", 0, 2, "bold")
    if arithmetic:
        for line in found.lines:
            say(out, line, 2, 2)
    print_disclaimer(out)


def as_json(found: Reckoned) -> dict[str, Any]:
    """The answer as plain data, each figure named with its unit."""
    return {
        "schema": "routefinder/reckon/1", "disclaimer": DISCLAIMER, "answer": found.answer,
        "figures": found.figures, "why": list(found.lines),
    }  # fmt: skip
