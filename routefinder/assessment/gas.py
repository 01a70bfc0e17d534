"""Gas of each step: litres by species, how fast, and what it does to the air of a room.

    volume      V = n R T / p, at 20 degC (24.06 L/mol) and at the step's temperature
    rate        even: V / t;  at worst 3 V / t: a first-order reaction that is 95 % through after t
                starts at k V = (ln 20) V / t; an electrolysis gives no more than its current lets
    room        ``room_air``: the same figures wherever they are shown

What the record says is given off besides (``library.fumes``) stands in ``also``, at its worst where
the record knows how much.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.assessment.room_air import (
    LITRES_PER_MOLE,
    Air,
    Room,
    air_of,
    release_min,
)
from routefinder.chem import thermo
from routefinder.errors import InputError
from routefinder.library import fumes
from routefinder.library.library import Library
from routefinder.vessel.step_amounts import Amounts, StepAmounts

WORST = math.log(20)  # times the even rate
OXYGEN_IN_AIR = 0.2095


@dataclass(frozen=True)
class Gas:
    """One gas of one step: moles, litres at 20 degC and at the step's temperature, 1 atm.

    ``over_min`` is the time it takes (None: not known); rates are in L/min at 20 degC, ``worst``
    as if all reagents met at once. ``kept`` is gas that a later step takes or that is collected:
    it does not come into the room.
    """

    substance: str
    formula: str
    name: str
    moles: float
    kept_mol: float
    room_L: float
    hot_L: float
    over_min: float | None
    even_L_min: float | None
    worst_L_min: float | None
    air: Air | None


@dataclass(frozen=True)
class Also:
    """What a step gives off besides its equation, for all of its batches together.

    ``typical_g`` and ``worst_g`` (and ``worst_L`` at 20 degC) are None where nobody knows how much:
    then nothing is computed of it. ``asked`` says that the record asks for extraction.
    """

    name: str
    substance: str
    formula: str
    traces: bool
    when: str
    typical_g: float | None
    worst_g: float | None
    worst_L: float | None
    over_min: float | None
    air: Air | None
    asked: bool
    source: tuple[str, ...]


@dataclass(frozen=True)
class GasOfStep:
    """All gases of one step, for all of its batches together.

    ``oxygen_mol`` is what it takes up (20.9 % of air); ``asked``
    says that the record asks for extraction, ``why_asked`` because of what. ``paced``: a current
    sets the pace.
    """

    step: str
    working_C: float
    gases: tuple[Gas, ...]
    also: tuple[Also, ...]
    asked: bool
    why_asked: str
    batches: int
    oxygen_mol: float
    paced: bool
    room: Room | None

    @property
    def air_taken_L(self) -> float:  # noqa: N802
        """The least air that holds the oxygen it takes up."""
        return self.oxygen_mol * LITRES_PER_MOLE / OXYGEN_IN_AIR

    @property
    def total_L(self) -> float:  # noqa: N802
        """Litres of all gases at 20 degC, water vapour left out (it condenses)."""
        return sum(g.room_L for g in self.gases if g.formula != "H2O")


def gas_of_step(
    library: Library,
    amount: StepAmounts,
    room: Room | None = None,
    *,
    over_min: float | None = None,
    batches: int = 1,
) -> GasOfStep | None:
    """The gases of one step with its amounts; None when it gives off none and takes no oxygen.

    ``over_min`` is the time of one batch's evolution; without it the step's own times say. Each
    batch has the room to itself.

    Raises InputError for a time below 0.
    """
    step = amount.step
    sums: dict[str, list[float]] = {}
    for o in amount.outcomes:
        if o.state == "g" and o.fate != "unreacted" and o.moles > 0:
            entry = sums.setdefault(o.substance, [0.0, 0.0])
            entry[0] += o.moles
            entry[1] += o.moles if o.fate in {"product", "used", "surplus"} else 0.0
    oxygen = _oxygen_mol(library, amount)
    besides = fumes.fumes(library, step)
    asked = fumes.asks(step)
    if not sums and not oxygen and not besides:
        return None
    if over_min is not None and over_min < 0:
        raise InputError("the time of a gas cannot be below 0")
    minutes = release_min(library, amount, batches) if over_min is None else over_min
    limited = step.record.kind == "electrolysis"  # no faster than its current
    working = step.heat_C
    gases = []
    for substance, (moles, kept) in sums.items():
        record = library.substances[substance]
        formula = record.formula or ""
        room_L = moles * LITRES_PER_MOLE
        even = room_L / batches / minutes if minutes else None
        worst = even * (1.0 if limited else WORST) if even is not None else None
        air = None
        if room is not None:
            air = air_of(
                formula, (moles - kept) * LITRES_PER_MOLE / batches, minutes or 0.0, room,
                cas=record.cas, asked=asked,
            )  # fmt: skip
        gases.append(
            Gas(substance, formula, record.name, moles, kept, room_L,
                thermo.gas_volume_L(moles, working + 273.15), minutes, even, worst, air)
        )  # fmt: skip
    return GasOfStep(
        step.id, working, tuple(gases),
        tuple(_also(library, amount, f, room, minutes, batches) for f in besides), asked,
        fumes.why_asked(library, step), batches, oxygen, limited, room,
    )  # fmt: skip


def _oxygen_mol(library: Library, amount: StepAmounts) -> float:
    """Oxygen that the step takes up, mol: that of the air, or what is led in."""
    course = amount.course
    streams = [course.charge.contents, *(point.taken for point in course.points)]
    return sum(
        float(grams) / library.substances[name].molar_mass_g
        for stream in streams
        for (name, phase), grams in stream.parts.items()
        if phase == "g" and name in library.substances
        and library.substances[name].formula == "O2"
    )  # fmt: skip


def _also(
    library: Library,
    amount: StepAmounts,
    fume: fumes.Fume,
    room: Room | None,
    minutes: float | None,
    batches: int,
) -> Also:
    """One thing the record says is given off, with the step's amounts."""
    step = amount.step
    limiting_mol = step.limiting.moles * amount.turns
    typical, worst = (
        None if g is None else g * limiting_mol for g in (fume.typical_g, fume.worst_g)
    )
    mass = fume.molar_mass_g
    litres = worst / mass * LITRES_PER_MOLE if worst is not None and mass else None
    air = None
    if room is not None and litres is not None:
        air = air_of(
            fume.formula, litres / batches, minutes or 0.0, room, cas=fume.cas,
            asked=fumes.asks(step),
        )  # fmt: skip
    return Also(
        fume.name, fume.substance, fume.formula, fume.traces, fume.when, typical, worst, litres,
        minutes, air, fumes.asks(step), fume.source,
    )  # fmt: skip


def gases(
    library: Library,
    found: Amounts,
    room: Room | None = None,
    *,
    over_min: Mapping[str, float] | None = None,
    batches: Mapping[str, int] | None = None,
) -> dict[str, GasOfStep]:
    """The gases of every step of a route that gives off any, by step id."""
    out = {}
    for amount in found.steps:
        name = amount.step.id
        one = gas_of_step(
            library, amount, room, over_min=(over_min or {}).get(name),
            batches=(batches or {}).get(name, 1),
        )  # fmt: skip
        if one is not None:
            out[name] = one
    return out
