"""Gas of each step: litres by species, how fast, and what it does to the air of a room.

    volume      V = n R T / p, at 20 degC (24.06 L/mol) and at the step's temperature
    rate        even: V / t;  at worst 3 V / t: a first-order reaction that is 95 % through after t
                starts at k V = (ln 20) V / t
    room        dC/dt = G / V - a C, well mixed:  C(t) = G / (a V) (1 - exp(-a t)), G t / V without
                air changes; afterwards it falls as exp(-a t)

``a`` is air changes per hour. (The well-mixed single-zone balance, for example
codingace.net/physics/pollutant_mass_balance_indoor.html.) A room is never well mixed above the
vessel: hydrogen rises and gathers under the ceiling, carbon dioxide sinks.

Limits: hydrogen burns from 4 % in air (safe.engineering.asu.edu/hydrogen-gas); kept below 1 %, a
quarter of that (IEEE 1635, as tabulated at inflectionpointengineering.com). Carbon dioxide: 5000
ppm over 8 hours (OSHA PEL, as quoted at bmet.fandom.com, "Health Risk Evaluation for Carbon
Dioxide"), 30 000 ppm for 10 minutes (NIOSH, stacks.cdc.gov/view/cdc/19367). Outdoor air holds about
420 ppm (from memory). Other gases have no place in a room at all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.assessment.reasoning import Reason
from routefinder.chem import thermo
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.units import significant
from routefinder.vessel.step_amounts import Amounts, StepAmounts

ROOM_K = 293.15
LITRES_PER_MOLE = thermo.gas_volume_L(1.0, ROOM_K)
WORST = math.log(20)  # times the even rate
HYDROGEN_LFL = 0.04
HYDROGEN_ACTION = 0.01
CO2_SHIFT = 5000e-6
CO2_SHORT = 30000e-6
CO2_OUTDOORS = 420e-6
SHIFT_MIN = 480.0
AT_ONCE_MIN = 1e-6  # an evolution shorter than this is one at once
OXYGEN_IN_AIR = 0.2095
HARMLESS = frozenset({"O2", "N2", "H2O"})


@dataclass(frozen=True)
class Room:
    """The air of a workroom: cubic metres, and how often an hour it is changed."""

    volume_m3: float
    air_changes_h: float

    def __post_init__(self) -> None:
        if not (self.volume_m3 > 0 and math.isfinite(self.volume_m3)):
            raise InputError("the room's volume must be above 0 m³")
        if not (self.air_changes_h >= 0 and math.isfinite(self.air_changes_h)):
            raise InputError("air changes an hour cannot be below 0")


@dataclass(frozen=True)
class Air:
    """What a gas comes to in a room, as fractions of the air (0.01 is 1 %).

    ``peak`` is reached at the end of an even evolution; ``peak_at_once`` when all comes at once and
    ``shift`` is the mean over 8 hours from the start. ``verdict`` is "fine", "air it" or "not
    here". ``needed_m3_h`` of fresh air keep an even evolution below the limit for ever.
    """

    gas: str
    peak: float
    peak_at_once: float
    shift: float
    needed_m3_h: float
    verdict: str
    why: str


@dataclass(frozen=True)
class Gas:
    """One gas of one step: moles, litres at 20 degC and at the step's temperature, 1 atm.

    ``over_min`` is the time it takes (None: not known); rates are in L/min at 20 degC, ``worst``
    as if all reagents met at once. ``kept`` is gas that a later step takes or that is collected.
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
class GasOfStep:
    """All gases of one step, for all of its batches together.

    ``air_taken_L`` is the least air that holds the oxygen it takes up (20.9 % of air).
    """

    step: str
    working_C: float
    gases: tuple[Gas, ...]
    batches: int
    air_taken_L: float
    reason: Reason
    notes: tuple[str, ...]

    @property
    def total_L(self) -> float:  # noqa: N802
        """Litres of all gases at 20 degC, water vapour left out (it condenses)."""
        return sum(g.room_L for g in self.gases if g.formula != "H2O")


def room_fraction(litres: float, over_min: float, room: Room, at_min: float) -> float:
    """Fraction of the room's air after ``at_min``, ``litres`` given off evenly over ``over_min``.

    Well mixed, fresh air without the gas. ``over_min`` 0: all at once at the start.
    """
    change = room.air_changes_h / 60
    volume = room.volume_m3 * 1000
    if over_min <= AT_ONCE_MIN:
        return litres / volume * math.exp(-change * at_min)
    until = min(at_min, over_min)
    rate = litres / over_min / volume
    if change * until < 1e-9:
        during = rate * until
    else:
        during = rate / change * -math.expm1(-change * until)
    return during * math.exp(-change * max(at_min - over_min, 0.0))


def room_mean(litres: float, over_min: float, room: Room, until_min: float) -> float:
    """Mean fraction over the first ``until_min`` minutes.

    From the balance itself: what came in less what is left has gone out with the air, and
    dC/dt = G/V - a C integrates to a x integral(C) = litres/V - C(end).
    """
    change = room.air_changes_h / 60
    volume = room.volume_m3 * 1000
    came = litres / volume * (min(until_min / over_min, 1.0) if over_min > AT_ONCE_MIN else 1.0)
    if change * until_min < 1e-6:
        if over_min <= AT_ONCE_MIN:
            return came
        rising = min(over_min, until_min)
        return (came * rising / 2 + came * (until_min - rising)) / until_min
    return (came - room_fraction(litres, over_min, room, until_min)) / change / until_min


def air_of(formula: str, litres: float, over_min: float, room: Room) -> Air:
    """What ``litres`` (20 degC) of a gas do in a room; ``over_min`` as given off evenly."""
    peak = room_fraction(litres, over_min, room, over_min)
    once = litres / (room.volume_m3 * 1000)
    shift = room_mean(litres, over_min, room, SHIFT_MIN)
    rate = litres / over_min * 60 / 1000 if over_min > AT_ONCE_MIN else math.inf  # m3/h
    if formula == "H2":
        needed = rate / HYDROGEN_ACTION
        if peak >= HYDROGEN_LFL or once >= HYDROGEN_LFL:
            verdict, why = "not here", f"it would burn: {max(peak, once):.1%}, limit 4 %"
        elif peak >= HYDROGEN_ACTION:
            verdict, why = "air it", f"{peak:.2%}, above the 1 % that is a quarter of the limit"
        else:
            verdict, why = "fine", f"{peak:.2%} in the whole room, limit 4 %"
        why += "; it gathers under the ceiling: open high up, no flame, no switch"
    elif formula == "CO2":
        needed = rate / (CO2_SHIFT - CO2_OUTDOORS)
        peak, once, shift = (x + CO2_OUTDOORS for x in (peak, once, shift))
        if peak >= CO2_SHORT:
            verdict, why = "not here", f"{_ppm(peak)}, above 30 000 ppm for 10 minutes"
        elif shift >= CO2_SHIFT:
            verdict, why = "air it", f"{_ppm(shift)} over 8 hours, limit 5000 ppm"
        elif peak >= CO2_SHIFT:
            verdict, why = "air it", f"{_ppm(peak)} for a while, 5000 ppm are the limit for a shift"
        else:
            verdict, why = "fine", f"{_ppm(peak)} at most, limit 5000 ppm over 8 hours"
    elif formula in HARMLESS:
        needed, verdict, why = 0.0, "fine", "part of air"
    else:
        needed, verdict, why = math.inf, "not here", "outdoors or under extraction only"
    return Air(formula, peak, once, shift, needed, verdict, why)


def _ppm(fraction: float) -> str:
    return f"{significant(fraction * 1e6, 2)} ppm"


def evolution_min(amount: StepAmounts) -> float | None:
    """Minutes over which a step's gas comes: what is heated dry while it waits, else the adding.

    A wet step's gas comes as the reagents are added, so over its hands-on time; an electrolysis
    and a dry firing give it off over their waiting time. None when neither is stated.
    """
    record = amount.step.record
    wet = any(p.state in {"aq", "l"} for p in amount.step.reactants)
    slow = record.kind == "electrolysis" or not wet or record.time.hands_on_min <= 0
    minutes = record.time.waiting_min if slow else record.time.hands_on_min
    return minutes or record.time.hands_on_min or None


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
    """
    step = amount.step
    sums: dict[str, list[float]] = {}
    for o in amount.outcomes:
        if o.state == "g" and o.fate != "unreacted" and o.moles > 0:
            entry = sums.setdefault(o.substance, [0.0, 0.0])
            entry[0] += o.moles
            entry[1] += o.moles if o.fate in {"product", "used"} else 0.0
    oxygen = sum(
        f.moles
        for f in amount.feeds
        if f.role == "reactant" and library.substances[f.substance].formula == "O2"
    )
    if not sums and not oxygen:
        return None
    if over_min is not None and over_min < 0:
        raise InputError("the time of a gas cannot be below 0")
    minutes = evolution_min(amount) if over_min is None else over_min
    working = step.heat_C
    gases, lines, notes = [], [], []
    for substance, (moles, kept) in sums.items():
        record = library.substances[substance]
        formula = record.formula or ""
        room_L = moles * LITRES_PER_MOLE
        hot_L = thermo.gas_volume_L(moles, working + 273.15)
        even = room_L / batches / minutes if minutes else None
        worst = even * WORST if even is not None else None
        air = None
        if room is not None:
            air = air_of(formula, (moles - kept) * LITRES_PER_MOLE / batches, minutes or 0.0, room)
        gases.append(
            Gas(substance, formula, record.name, moles, kept, room_L, hot_L, minutes, even, worst,
                air)
        )  # fmt: skip
        if formula == "H2O":
            lines.append(
                f"water vapour: {significant(moles)} mol, {significant(hot_L)} L at {working:.0f} "
                "°C; it condenses in the cold"
            )
            continue
        lines.append(
            f"{record.name}: {significant(moles)} mol × {LITRES_PER_MOLE:.2f} L/mol = "
            f"{significant(room_L)} L at 20 °C"
            + (f", {significant(hot_L)} L at {working:.0f} °C" if working > 40 else "")
        )
        if even is not None and worst is not None and minutes:
            per = f" ÷ {batches} batches" if batches > 1 else ""
            lines.append(
                f"  {significant(room_L)} L{per} ÷ {significant(minutes)} min = "
                f"{significant(even, 2)} L/min even; up to {significant(worst, 2)} L/min when all "
                "meets at once (95 % through in that time)"
            )
        if kept:
            lines.append(f"  of it {significant(kept * LITRES_PER_MOLE)} L are collected or used")
        if air is not None and room is not None:
            lines.append(
                f"  room of {significant(room.volume_m3)} m³, {significant(room.air_changes_h, 2)} "
                f"air changes an hour: {air.verdict}: {air.why}"
            )
            if 0 < air.needed_m3_h < math.inf and air.verdict != "fine":
                lines.append(
                    f"  {significant(air.needed_m3_h, 2)} m³ of fresh air an hour keep it below "
                    "the limit, or take longer over it"
                )
    air_taken = oxygen * LITRES_PER_MOLE / OXYGEN_IN_AIR
    if oxygen:
        lines.append(
            f"oxygen taken up: {significant(oxygen)} mol = "
            f"{significant(oxygen * LITRES_PER_MOLE)} L, at least {significant(air_taken)} L of "
            f"air; at 20 % uptake {significant(air_taken * 5)} L"
        )
    if any(g.formula == "H2" for g in gases):
        notes.append("hydrogen: no flame, no spark, never a closed vessel")
    toxic = [g.name for g in gases if g.formula not in HARMLESS | {"H2", "CO2"}]
    if toxic:
        notes.append(f"{', '.join(toxic)}: outdoors or under extraction only")
    reason = Reason(f"gas:{step.id}", f"Gas of: {step.title}", (*lines, *notes))
    return GasOfStep(step.id, working, tuple(gases), batches, air_taken, reason, tuple(notes))


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
