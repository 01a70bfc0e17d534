"""What a plan says of safety, step by step and of what is left over: one door to the measures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from routefinder.assessment import exposure, leavings
from routefinder.assessment import hazards as points_of
from routefinder.assessment.gas import Room
from routefinder.hazards import danger
from routefinder.hazards import label as labels
from routefinder.hazards.cautions import Advice, cautions
from routefinder.hazards.phrases import phrase
from routefinder.library.library import Library
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.worksheet.contradictions import contradictions


@dataclass(frozen=True)
class Safety:
    """Safety of one step.

    ``statements`` are (code, wording), ``for_caution`` those that stricter sources add;
    ``pictograms`` are (code, name); ``unknown`` says that the
    hazards of something present are not known. ``dangers`` have the
    greatest first. ``cautions`` and ``watch`` are the record's own sentences; the others are
    advice with its reason and source. ``contradictions`` are sentences on two of them that cannot
    both be followed. ``air`` is what comes into a room, when one was given.
    """

    signal: str
    statements: tuple[tuple[str, str], ...]
    for_caution: tuple[tuple[str, str], ...]
    pictograms: tuple[tuple[str, str], ...]
    unknown: bool
    dangers: tuple[danger.Danger, ...]
    cautions: tuple[str, ...]
    watch: tuple[str, ...]
    wear: tuple[Advice, ...]
    never: tuple[Advice, ...]
    if_wrong: tuple[Advice, ...]
    keep: tuple[Advice, ...]
    lacks: tuple[Advice, ...]
    contradictions: tuple[str, ...]
    air: tuple[exposure.Exposure, ...]


@dataclass(frozen=True)
class LeftOver:
    """What a route leaves over by stream, and what would meet in a common jar (sentences)."""

    kinds: tuple[leavings.Handling, ...]
    never_together: tuple[str, ...]


def safety(library: Library, amount: StepAmounts, room: Room | None) -> Safety:
    """The safety of one step of a plan, with its amounts and the solutions it draws on."""
    step = amount.step
    found = cautions(library, step, points_of.strengths(library, amount), points_of.charged(amount))
    scored = points_of.points(library, amount)
    air: Iterable[exposure.Exposure] = ()
    if room is not None:
        own = exposure.Room(room.volume_m3, room.air_changes_h)
        air = exposure.exposure(library, amount, own)
    return Safety(
        found.label.signal,
        tuple((code, phrase(code)) for code in found.label.statements),
        tuple((code, phrase(code)) for code in found.label.for_caution),
        tuple((p, labels.NAMES[p]) for p in found.label.pictograms),
        found.label.unknown, danger.dangers(scored), step.record.cautions, step.record.watch,
        found.wear, found.never, found.if_wrong, found.keep, found.lacks,
        tuple(c.sentence for c in contradictions(library, step, found)), tuple(air),
    )  # fmt: skip


def left_over(library: Library, found: Amounts) -> LeftOver:
    """What is left over of all steps together, and what must not go into one jar."""
    grave = [m.words for m in leavings.jars(library, found.steps) if m.grave]
    return LeftOver(leavings.leavings(library, found.steps), tuple(dict.fromkeys(grave)))
