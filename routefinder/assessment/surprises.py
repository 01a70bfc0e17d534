"""What work a route holds that its titles do not tell: raking, firing again, a second filtration.

Read off the stages of every step (written or derived) and off the materials chosen. Data only;
the words stand in ``view.surprise_words``. Nothing here is counted that every step has: one
filtration with its wash, a pour-off, one crop of crystals.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.stages import stages_of
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.supplied import Choice, choices

RAKED = ("burning", "roasting", "oxidation", "reduction")  # a bed that takes up air when raked
RAKED_C = 400.0
DECANTS = 3  # pour-offs from which a wash is told: our choice
ATTENDED_MIN = 120.0  # watching that is told: our choice


@dataclass(frozen=True)
class Surprise:
    """One thing to expect of a step.

    ``kind`` is "raking", "firing", "grinding", "filtering", "decanting", "crops", "distilling",
    "current", "atmosphere", "watching" or "dividing". ``times`` counts, ``minutes`` is how long,
    ``at_C`` how hot, where that is known; ``words`` the record's own (what is done between two
    firings, what keeps the air off); ``choice`` the material that is to be divided or is too weak.
    """

    step: str
    kind: str
    times: int = 1
    minutes: float | None = None
    at_C: float | None = None
    words: str = ""
    choice: Choice | None = None


def raking_h(step: ResolvedStep) -> float:
    """Hours of handwork beyond the first at a dry charge that is stirred at a red heat."""
    names = {need.name for need in step.record.equipment}
    if step.record.kind not in RAKED or "stir" not in names or step.heat_C < RAKED_C:
        return 0.0
    return max(0.0, step.record.time.hands_on_min / 60 - 1)


def of_step(library: Library, step: ResolvedStep, cell_min: float = 0.0) -> list[Surprise]:
    """What to expect of one step; ``cell_min`` is how long its current flows."""
    listed = stages_of(library, step).listed
    out: list[Surprise] = []

    def add(kind: str, **figures: object) -> None:
        out.append(Surprise(step.id, kind, **figures))  # type: ignore[arg-type]

    raked = raking_h(step)
    if raked:
        add("raking", minutes=60 * raked, at_C=step.heat_C)
    for stage in listed:
        if stage.kind == "hold" and stage.times > 1:
            heat = stage.at_C if stage.at_C is not None else step.heat_C
            add("firing", times=stage.times, at_C=heat, words=stage.between)
        if stage.kind == "hold" and stage.atmosphere not in {"", "air"}:
            add("atmosphere", words=stage.atmosphere)
        if stage.kind == "decant" and stage.times >= DECANTS:
            add("decanting", times=stage.times)
        if stage.kind == "crystallise" and (stage.crops or 1) > 1:
            add("crops", times=stage.crops)
    grinds = sum(s.kind == "grind" for s in listed)
    if grinds:
        add("grinding", times=grinds)
    filters = sum(s.kind == "filter" for s in listed)
    if filters > 1:
        add("filtering", times=filters)
    if any(s.kind == "distil" for s in listed):
        add("distilling")
    if any(s.kind == "electrolyse" for s in listed):
        add("current", minutes=cell_min or None)
    watched = sum((s.for_min or 0.0) * s.times for s in listed if s.attended and s.for_min)
    if watched >= ATTENDED_MIN and not raked:
        add("watching", minutes=watched)
    return out


def surprises(library: Library, found: Amounts) -> tuple[Surprise, ...]:
    """What to expect of a route, step by step; then materials that are not as a step asks."""
    out: list[Surprise] = []
    for amount in found.steps:
        out += of_step(library, amount.step, _cell_min(amount))
    out += [Surprise(c.step, "dividing", choice=c) for c in choices(library, found) if c.lacks]
    return tuple(out)


def _cell_min(amount: StepAmounts) -> float:
    return sum(t.minutes for t in amount.times.stages if t.cell)
