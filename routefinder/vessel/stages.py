"""The stages of a step: as its record writes them, or derived by the rules below and marked so.

A record may write the beginning alone (charge, heat, cool): in what order things go in, and how
hot; the rest is derived. What a later charge names goes in there; a charge after the reaction is
counted from the start all the same (an equation runs once), and is told in its place.

Rules, where a record says nothing (common practice, ours):

    dry heat        charge, heat, hold, cool; then, if it has a wash: wash, filter, dry
    wet             charge, heat (above 40 degC), the stage it reacts in, and then, as far as the
                    equipment and the products ask for it: boil down, cool, crystallise, settle,
                    filter, wash, dry, grind
    reacts in       electrolyse with a current; distil with a still; hold under reflux or where it
                    is kept hot; gas off where gas leaves; else stir; a crystallisation in
                    "crystallise"
    hands           the record's hands_on time is nobody's stage: it is spread over all of them
    waiting         all of the record's waiting time falls to one stage: the soak of a dry heat
                    (less ramp and cooling, at least a quarter of it), else the first of
                    electrolyse, distil, hold, crystallise, settle, stand, dry, stir, gas off
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.solubility import crystallises
from routefinder.records.stage import SEPARATES, Stage
from routefinder.vessel.kiln import TOUCH_C, usual_minutes

HOT_C = 40.0  # above it somebody or something heats
PORTIONS = 3  # in which a solid is washed where nothing is said
LEAST_SOAK = 0.25  # of the waiting time of a dry heat, when ramp and cooling would eat it all
_WAITS = (
    "electrolyse", "distil", "hold", "crystallise", "settle", "stand", "dry", "stir", "gas off",
)  # fmt: skip
_DRIED = re.compile(r"\bdr(?:y|ied)\b")
BEGINS = ("charge", "heat", "cool")
REACTS = ("electrolyse", "distil", "hold", "stir", "gas off", "boil down", "stand")


@dataclass(frozen=True)
class Stages:
    """The stages of a step in order; ``derived``: by the rules, not from the record.

    ``reacts`` is the place of the stage in which the step's own equation runs. ``dry``: a dry
    heat; ``crystals``: one dissolved salt is taken to its crystals. ``alone`` are steps by which
    what has not yet combined loses its gas in the same heat (a carbonate beside silica).
    """

    listed: tuple[Stage, ...]
    derived: bool
    reacts: int
    dry: bool
    crystals: bool
    alone: tuple[ResolvedStep, ...] = ()

    def having(self, *kinds: str) -> tuple[Stage, ...]:
        """The stages of these kinds."""
        return tuple(s for s in self.listed if s.kind in kinds)


def stages_of(library: Library, step: ResolvedStep) -> Stages:
    """The stages of a step, from its record or by the rules."""
    known: Stages | None = library.kept("stages", step)
    if known is not None:
        return known
    written = step.record.stages
    crystals = crystallises(library, step)
    begun = all(s.kind in BEGINS for s in written)
    derived = _derive(library, step, written) if begun else []
    listed = _with_wash(step, tuple(derived) or written)
    dry = is_dry_heat(step)
    found = Stages(
        listed, begun, _reacts(listed, crystals, dry), dry, crystals,
        _alone(library, step) if dry else (),
    )  # fmt: skip
    library.keep("stages", step, found)
    return found


def wash_portions(step: ResolvedStep, stage: Stage) -> int:
    """In how many portions one wash goes on: as written, else a solid's in ``PORTIONS``."""
    return stage.times if stage.times > 1 or step.main.state != "s" else PORTIONS


def _with_wash(step: ResolvedStep, listed: tuple[Stage, ...]) -> tuple[Stage, ...]:
    """The stages with one for the wash, where a step has one and its stages leave it out."""
    if not any(a.role == "wash" for a in step.aids) or any(s.kind == "wash" for s in listed):
        return listed
    place = next((i for i, s in enumerate(listed) if s.kind == "dry"), len(listed))
    return (*listed[:place], _stage("wash"), *listed[place:])


def _alone(library: Library, step: ResolvedStep) -> tuple[ResolvedStep, ...]:
    """Steps of the library that give the gas of a solid of this charge without the other solids.

    Only of a step that combines several solids and gives off gas, and only those that run at its
    own heat: their window begins at or below it, and they give no other gas than the step does.
    """
    solids = {p.substance for p in step.reactants if p.state == "s"}
    gases = {p.substance for p in step.products if p.state == "g"}
    if len(solids) < 2 or not gases or step.is_recipe:
        return ()
    out: dict[str, ResolvedStep] = {}
    for other in library.known_steps.values():
        if len(other.reactants) != 1 or other.id == step.id or other.is_recipe:
            continue
        (part,) = other.reactants
        if part.substance not in solids or part.state != "s" or part.substance in out:
            continue
        made = {p.substance for p in other.products if p.state == "g"}
        plain = all(p.state in {"s", "g"} for p in other.products)
        if plain and made and made <= gases and other.record.temperature.low_C <= step.heat_C:
            out[part.substance] = other
    return tuple(out.values())


def _reacts(listed: tuple[Stage, ...], crystals: bool, dry: bool) -> int:
    """The place of the first stage of a kind that reacts, after what is charged before a filter."""
    parted = next((i for i, s in enumerate(listed) if s.kind in SEPARATES), len(listed))
    parted = 1 if dry else parted  # what is stirred into a hot charge counts from the start
    in_by = max((i for i, s in enumerate(listed[:parted]) if s.kind == "charge"), default=0)
    if crystals:
        for i, stage in enumerate(listed):
            if stage.kind == "crystallise":
                return i
    for kinds, first in ((REACTS, in_by), (REACTS, 0), (("crystallise",), 0)):
        for i, stage in enumerate(listed):  # two salts dissolved grow a double salt, last
            if stage.kind in kinds and i > first:
                return i
    return 0


def is_dry_heat(step: ResolvedStep) -> bool:
    """Whether a solid charge is heated dry: no solution or liquid reacts, and nothing wets it."""
    return step.dry_heat


def _derive(library: Library, step: ResolvedStep, written: tuple[Stage, ...] = ()) -> list[Stage]:
    stages = _dry(step) if is_dry_heat(step) else _wet(library, step)
    if written:
        heats = any(s.kind == "heat" for s in written)
        past = 2 if heats and stages[1].kind == "heat" else 1
        stages = [*written, *stages[past:]]
    time = step.record.time.waiting_min
    for kind in _WAITS:
        place = next((i for i, s in enumerate(stages) if s.kind == kind), None)
        if place is None or not time:
            continue
        if is_dry_heat(step) and kind == "hold":
            time = max(time - usual_minutes(step.heat_C), LEAST_SOAK * time)
        stages[place] = stages[place].model_copy(
            update={"for_min": time, "attended": _attended(step)}
        )
        break
    return stages


def _attended(step: ResolvedStep) -> bool | None:
    alone = step.record.time.unattended
    return None if alone is None else not alone


def _stage(kind: str, **figures: object) -> Stage:
    return Stage.model_validate({"kind": kind, **figures})


def _dry(step: ResolvedStep) -> list[Stage]:
    names = {n.name for n in step.record.equipment}
    window = step.record.temperature
    solids = [p for p in step.reactants if p.state == "s"]
    stages = [_stage("charge")]
    if len(solids) > 1 and "grind" in names:
        stages.append(_stage("grind"))
    stages.append(_stage("heat", to_C=step.heat_C))
    stages.append(_stage("hold", at_C=step.heat_C, to_C=max(window.high_C, step.heat_C)))
    stages.append(_stage("cool", to_C=TOUCH_C, closed="keep-airtight" in names))
    if len(solids) <= 1 and "grind" in names:
        stages.append(_stage("grind"))
    if any(a.role == "wash" for a in step.aids):
        stages += [_stage("wash"), _stage("filter"), _stage("dry")]
    return stages


def _wet(library: Library, step: ResolvedStep) -> list[Stage]:
    names = {n.name for n in step.record.equipment}
    window = step.record.temperature
    heated = bool(names & {"heat-liquid", "open-flame", "heat-dry", "reflux", "distil"})
    gas = any(p.state == "g" for p in step.products)
    crystals = crystallises(library, step)
    stages = [_stage("charge")]
    if heated and step.heat_C > HOT_C:
        stages.append(_stage("heat", to_C=step.heat_C))
    at = {"at_C": window.low_C, "to_C": window.high_C}
    if not crystals:
        if "electrolysis" in names:
            current = next(n for n in step.record.equipment if n.name == "electrolysis")
            stages.append(_stage("electrolyse", **at, current_A=current.limit("current")))
        elif "distil" in names:
            stages.append(_stage("distil", **at))
        elif "reflux" in names or (heated and step.heat_C > HOT_C):
            stages.append(_stage("hold", **at))
        else:
            stages.append(_stage("gas off" if gas else "stir", **at))
    if "evaporate" in names:
        stages.append(_stage("boil down"))
    if crystals or step.record.kind in {"crystallisation", "recrystallisation"}:
        stages += [_stage("cool", to_C=window.low_C), _stage("crystallise", at_C=window.low_C)]
    if _parts(step):
        if step.record.kind in {"precipitation", "causticising", "laking"}:
            stages.append(_stage("settle"))
        stages.append(_stage("filter"))
        if any(a.role == "wash" for a in step.aids):
            stages.append(_stage("wash"))
    if step.main.state == "s" and (
        names & {"dry", "dry-in-vacuum", "heat-dry", "keep-dry"}
        or _DRIED.search(step.record.yield_.basis)
    ):
        stages.append(_stage("dry"))
    if "grind" in names:
        stages.append(_stage("grind"))
    return stages


def _parts(step: ResolvedStep) -> bool:
    """Whether solids and liquor are parted from each other."""
    names = {n.name for n in step.record.equipment}
    if names & {"filter", "filter-vacuum", "decant", "centrifuge"}:
        return True
    wet = any(p.state in {"aq", "l"} for p in (*step.reactants, *step.products)) or step.aids
    return step.main.state == "s" and bool(wet) and "evaporate" not in names
