"""Whether one may go away while a step waits: one answer for the plan's words and the calendar.

Stays watched, whatever else is said: what the record says to stay with; a flame, a gas kiln, a
fire; hot oil; what boils down or is aerated while hot; what boils under a condenser; and what is
kept hot by a heater that nobody has said may be left. What heats itself up, or gives off a gas that
burns or poisons as its reagents meet, is watched until it has calmed down. Where the record says
nothing, only standing to crystallise, settle or dry in the cold without gas may be left. A step
that needs its heat no longer is left with the heat off. Common practice.

A stage that the record calls attended is stayed with, though the others may be left.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder.hazards import heaters
from routefinder.hazards.kinds import kinds
from routefinder.hazards.score import HARMLESS, rise_K
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench, Tool
from routefinder.records.step import Step

STANDING = frozenset({"crystallisation", "recrystallisation", "precipitation", "laking", "drying"})
SETTLES = frozenset({"precipitation", "laking"})  # made hot, then settled and dried in the cold
HOT_C = 40.0  # above it somebody or something heats
WARM_C = 25.0  # what evaporates above it needs warmth
OIL_C = 60.0  # fat and oil kept above it may go on by themselves
FAST_K = 50.0  # a rise as of two points of "heat"
CALMS_MIN = 60.0  # the least time till a brisk reaction has calmed down; common practice
OILY = frozenset({"drying oil", "fatty acid", "hydrocarbon"})
_OILY_NAME = re.compile(r"(^|-)(oil|tallow|lard|fat|butter|wax|beeswax|paraffin)(-|$)")
_THING = r"(pot|kiln|fire|flame|heat|plate|vessel|dish|furnace|batch|melt|pan)"
STAY_WORDS = re.compile(
    rf"\b(do not|don't|never|not to be) (leave|left) (it|this|alone|unattended|unwatched|"
    rf"the {_THING})\b|\bnever (alone|out of sight)\b|\bnot (to )?be left\b|"
    rf"\bstay (with|by|beside|near) (it\b|the {_THING}\b)|\bstand by\b|\bunattended\b|"
    r"\bkeep (an eye|watch)|\bwatch (it|the|over|closely|all)\b|\bstir (it )?(to the end|all the "
    r"time|without (a )?(stop|pause)|constantly|continuously)|\b(constant|continuous|steady) "
    r"stirring\b|\bstirring (all the time|constantly|without stopping)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Attendance:
    """Whether somebody must stay while a step waits, and why.

    ``said`` is whether the record speaks of it; ``heat_off``: it may be left once its heat is off;
    ``by_heater``: only the heater is against it (another one would let one go); ``hot``: it is kept
    hot while it waits. ``calms``: it heats itself or gives off a bad gas, and may be left only when
    that has calmed down. ``by_stage``: only stages called attended are stayed with.
    """

    stay: bool
    why: str
    said: bool
    heat_off: bool = False
    by_heater: bool = False
    hot: bool = False
    calms: bool = False
    by_stage: bool = False


def stay_words(record: Step) -> str:
    """The sentence of a record that says to stay, or ""."""
    for text in (*record.cautions, *record.watch, *record.done_when, *record.notes):
        if STAY_WORDS.search(text):
            return text
    return ""


def kept_hot(step: ResolvedStep) -> bool:
    """Whether a heater holds the step's heat while it waits."""
    record = step.record
    names = {n.name for n in record.equipment}
    low = record.temperature.low_C
    wanted = {n.name for n in heaters.heat_needs(step)}
    if wanted - {"heat-liquid"}:
        return True
    if not wanted:
        return "dry" in names and low >= HOT_C
    if "evaporate" in names and record.kind not in {"crystallisation", "recrystallisation"}:
        return low > WARM_C
    return low >= HOT_C and record.kind not in SETTLES


def keeper(step: ResolvedStep, bench: Bench | None, heater: Tool | None) -> Tool | None:
    """The tool that keeps a step hot: its heater, or what dries it."""
    if heater is not None or bench is None:
        return heater
    need = next((n for n in step.record.equipment if n.name == "dry"), None)
    return bench.serving(need) if need is not None else None


def attendance(
    step: ResolvedStep,
    tool: Tool | None = None,
    library: Library | None = None,
    way: heaters.Way | None = None,
) -> Attendance:
    """Whether a step may be left while it waits, kept hot by ``tool`` (None: not known).

    ``way`` is how the tool heats. Without a library no oil is known; then a heater should not be
    given either.
    """
    record = step.record
    hot = kept_hot(step)
    heated = bool(heaters.heat_needs(step))
    stated = record.time.unattended
    said = stated is not None

    def stay(why: str, by_heater: bool = False) -> Attendance:
        return Attendance(True, why, said, by_heater=by_heater, hot=hot)

    if stated is False:
        return stay("the record says so")
    if words := stay_words(record):
        return stay(f"the record says: {words}")
    why = _never_left(step, library, way, hot)
    if why:
        return stay(why)
    if stated is None:
        gas = any(p.state == "g" for p in step.products)
        if record.kind not in STANDING or gas or hot:
            return stay("nobody has said that it may be left")
    if hot and not (tool is not None and tool.may_be_left):
        name = "its heater" if tool is None else tool.name
        return stay(f"kept hot, and nothing says that {name} may be left", by_heater=True)
    calms = library is not None and calms_down(library, step)
    watched = " and ".join(dict.fromkeys(f"'{s.kind}'" for s in record.stages if s.attended))
    if watched:
        why = f"the record says so of its stage {watched}; the rest may be left"
        return Attendance(True, why, said, hot=hot, calms=calms, by_stage=True)
    return Attendance(False, "", said, heat_off=heated and not hot, hot=hot, calms=calms)


def calms_down(library: Library, step: ResolvedStep) -> bool:
    """Whether the reagents, as they meet, heat the charge up or give off a bad gas.

    A current, or air that must first come to it, sets a pace of its own.
    """
    if step.record.kind == "electrolysis" or any(p.state == "g" for p in step.reactants):
        return False
    made = (library.substances[p.substance] for p in step.products if p.state == "g")
    if any(s.formula not in HARMLESS and s.formula != "H2O" for s in made):
        return True
    rise = rise_K(library, step)
    met = any(library.substances[p.substance].formula == "H2O2" for p in step.reactants)
    return met or (rise is not None and rise >= FAST_K)


def _never_left(
    step: ResolvedStep, library: Library | None, way: heaters.Way | None, hot: bool
) -> str:
    """What keeps one there whatever the record says, or ""."""
    if any(a.role == "fuel" for a in step.aids):
        return "a fire"
    if not hot:
        return ""
    names = {n.name for n in step.record.equipment}
    if (way is not None and way.fire) or "open-flame" in names:
        return f"{way.words if way is not None and way.fire else 'a flame'} burns"
    if way is not None and way.name == "oil bath":
        return "a hot oil bath"
    if step.record.temperature.high_C >= OIL_C and library is not None and _oil(library, step):
        return "hot oil or fat"
    liquid = not any(n.name == "heat-dry" for n in heaters.heat_needs(step))
    if liquid and "evaporate" in names:
        return "it boils down and may go dry"
    if liquid and names & {"aerate", "lead-in-gas", "electrolysis"}:
        return "gas goes through a hot liquor, which may go dry"
    if names & {"reflux", "distil"}:
        return "it boils under a condenser"
    return ""


def _oil(library: Library, step: ResolvedStep) -> bool:
    inside = [p.substance for p in step.reactants] + [a.substance for a in step.aids]
    for name in inside:
        substance = library.substances[name]
        if kinds(substance).names & OILY or (not substance.formula and _OILY_NAME.search(name)):
            return True
    return False
