"""What a plan says of safety. One function: where fuller cautions come in later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.assessment.amounts import StepAmounts
from routefinder.hazards import score
from routefinder.hazards.phrases import phrase
from routefinder.library.library import Library


@dataclass(frozen=True)
class Safety:
    """Safety of one step, as (code, wording) of GHS statements, points by aspect, and sentences.

    ``points`` are (aspect, points 1 to 4, cause), the greatest first. ``cautions`` and ``watch``
    are the record's own.
    """

    statements: tuple[tuple[str, str], ...]
    points: tuple[tuple[str, int, str], ...]
    cautions: tuple[str, ...]
    watch: tuple[str, ...]


def safety(library: Library, amount: StepAmounts, strengths: Mapping[str, float]) -> Safety:
    """The safety of one step of a plan; ``strengths`` of the solutions used, per family root."""
    step = amount.step
    codes = score.statements(library, step, strengths)
    found = score.profile(library, step, strengths)
    points = [(a, found[a].points, found[a].cause) for a in score.ASPECTS if found[a].points]
    points.sort(key=lambda p: -p[1])
    return Safety(
        tuple((code, phrase(code)) for code in codes), tuple(points), step.record.cautions,
        step.record.watch,
    )  # fmt: skip
