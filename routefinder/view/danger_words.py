"""How a danger is shown: in words first, its points as small squares and "3 of 4".

The squares are ours: they order the steps of routes by ``hazards.score`` and stand for no published
label; the only diamonds are the pictograms of ``view.pictograms``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from routefinder.hazards.score import MOST

if TYPE_CHECKING:
    from routefinder.hazards.danger import Danger

FULL, EMPTY = "■", "□"
NONE = "no danger known"


def squares(points: int) -> str:
    """ "■■■□" for 3."""
    return FULL * points + EMPTY * (MOST - points)


def level(points: int) -> str:
    """ "■■■□ 3 of 4"."""
    return f"{squares(points)} {points} of {MOST}"


def in_line(found: Danger | None) -> str:
    """ "burns skin and eyes ■■■□ 3 of 4"."""
    return NONE if found is None else f"{found.words} {level(found.points)}"


def with_cause(found: Danger, behind: str = "") -> str:
    """ "burns skin and eyes ■■■□ 3 of 4 (corrosive: sulfuric acid 30 % H314, step 2)"."""
    return f"{in_line(found)} ({found.aspect}: {found.cause}{behind})"


def data(found: Danger) -> dict[str, Any]:
    """A danger as plain data; ``step`` is None where one step is meant anyway."""
    return {
        "aspect": found.aspect,
        "points": found.points,
        "of": MOST,
        "words": found.words,
        "cause": found.cause,
        "step": found.step or None,
    }
