"""What a plan says of safety, step by step and of what is left over: one door to the measures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.assessment import equipment, exposure, leavings
from routefinder.assessment import hazards as points_of
from routefinder.assessment.room_air import Room
from routefinder.hazards import danger
from routefinder.hazards import label as labels
from routefinder.hazards import vessels as vessel_rules
from routefinder.hazards.cautions import NEVER_WITH_FOOD, Advice, cautions
from routefinder.hazards.phrases import phrase
from routefinder.hazards.set_up import set_up
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.water import Liquor
from routefinder.worksheet.contradictions import contradictions


@dataclass(frozen=True)
class Safety:
    """Safety of one step.

    ``statements`` are (code, wording), ``for_caution`` those that stricter sources add;
    ``pictograms`` are (code, name); ``unknown`` says that the
    hazards of something present are not known. ``dangers`` have the
    greatest first. ``cautions`` and ``watch`` are the record's own sentences; the others are
    advice with its reason and source. ``contradictions`` are sentences on two of them that cannot
    both be followed. ``air`` is what comes into a room, when one was given. ``gear`` is what is to
    be minded of the vessels, the heater and the other tools used.
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
    gear: tuple[Gear, ...] = ()


@dataclass(frozen=True)
class Gear:
    """One thing to mind of a tool that a step uses.

    ``kind`` is "vessel" (what is known of its material here; of a bench that is not given, of those
    that the record allows), "furnace" (what the charge does to it), "outdoors", "food" (food is
    made in it, and the charge is poisonous) or "caution" (the tool's own). ``grave``: it is
    attacked, or must not stand indoors or see food again.
    """

    tool: str
    kind: str
    words: str
    grave: bool = False


@dataclass(frozen=True)
class LeftOver:
    """What a route leaves over by stream, of its gas traps, and what would meet in one jar."""

    kinds: tuple[leavings.Handling, ...]
    never_together: tuple[str, ...]
    traps: tuple[leavings.Trapped, ...] = ()


MEASURING = frozenset({"weigh", "measure-volume", "titrate", "measure-density"})


def gear(
    library: Library, step: ResolvedStep, bench: Bench | None, vessels: Sequence[str] = ()
) -> tuple[Gear, ...]:
    """What is to be minded of the tools a step uses; ``vessels`` are those the batches took."""
    out: list[Gear] = []
    if bench is None:
        for need in vessel_rules.verdicts(library, step):
            for v in need.allowed:
                if v.verdict != vessel_rules.NOTHING:
                    grave = v.verdict != vessel_rules.CAUTION
                    out.append(Gear(v.material, "vessel", v.reasons[0].words, grave))
        return tuple(dict.fromkeys(out))
    found = set_up(library, step, bench)
    names = equipment.tools(library, step, bench, vessels)
    taken = iter(n for n, need in zip(names, step.record.equipment, strict=True)
                 if need.name == "vessel")  # fmt: skip
    for place in found.places:
        name = next(taken)
        fit = next((f for f in place.best if f.tool.name == name), None)
        if fit is None:
            continue
        if fit.verdict is None:
            words = "what it is made of is not said: find out whether its contents attack it"
            out.append(Gear(name or "", "vessel", words))
        else:
            out += [
                Gear(fit.tool.name, "vessel", r.words, r.verdict != vessel_rules.CAUTION)
                for r in fit.verdict.reasons
            ]
    tool = found.heater
    if tool is not None:
        out += [Gear(tool.name, "furnace", f"{w.agent} {w.words}", True) for w in found.wear]
    used = {
        name
        for name, need in zip(names, step.record.equipment, strict=True)
        if need.name not in MEASURING
    }
    for each in bench.tools:
        if each.name in used:
            own = [w for w in each.cautions if each.outdoors and "outdoors" in w.lower()]
            if each.outdoors:
                out.append(Gear(each.name, "outdoors", own[0] if own else "outdoors only", True))
            if each.food and (poison := _poison(library, step)):
                out.append(Gear(each.name, "food", f"food is made in it, and {poison} must never "
                                "touch what sees food again: take another, or give it up for food",
                                True))  # fmt: skip
            out += [Gear(each.name, "caution", w) for w in each.cautions if w not in own[:1]]
    return tuple(dict.fromkeys(out))


def _poison(library: Library, step: ResolvedStep) -> str:
    """What of a step must never touch a thing that sees food again; "" when nothing."""
    for part in (*step.reactants, *step.products):
        codes = {c[:4] for c in library.substances[part.substance].hazards.scored}
        if codes & set(NEVER_WITH_FOOD):
            return library.name(part.substance)
    return ""


def safety(
    library: Library,
    amount: StepAmounts,
    room: Room | None,
    bench: Bench | None = None,
    vessels: Sequence[str] = (),
    *,
    liquors: Mapping[str, Liquor],
    batches: int = 1,
) -> Safety:
    """The safety of one step of a plan, with its amounts and the solutions it draws on.

    ``liquors`` are those the steps of the route make (``vessel.water.liquors``). Each of
    ``batches`` has the room to itself.
    """
    step = amount.step
    poured = points_of.strengths(library, amount, liquors)
    inside = points_of.inside(library, amount)
    found = cautions(library, step, poured, points_of.charged(amount), inside)
    scored = points_of.points(library, amount, liquors)
    air: Iterable[exposure.Exposure] = ()
    if room is not None:
        air = exposure.exposure(library, amount, room, batches=batches)
    return Safety(
        found.label.signal,
        tuple((code, phrase(code)) for code in found.label.statements),
        tuple((code, phrase(code)) for code in found.label.for_caution),
        tuple((p, labels.NAMES[p]) for p in found.label.pictograms),
        found.label.unknown, danger.dangers(scored), step.record.cautions, step.record.watch,
        found.wear, found.never, found.if_wrong, found.keep, found.lacks,
        tuple(c.sentence for c in contradictions(library, step, found)), tuple(air),
        gear(library, step, bench, vessels),
    )  # fmt: skip


def left_over(library: Library, found: Amounts) -> LeftOver:
    """What is left over of all steps together, and what must not go into one jar."""
    grave = [m.words for m in leavings.jars(library, found.steps) if m.grave]
    return LeftOver(
        leavings.leavings(library, found.steps), tuple(dict.fromkeys(grave)),
        leavings.trapped(library, found.steps),
    )  # fmt: skip
