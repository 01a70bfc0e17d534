"""What a step puts into the air of a room, against the exposure limits.

Gases: the well-mixed room with a steady source and fresh air (mass balance V dC/dt = G - Q C; as in
P. Hewett, "Forecasting occupational exposures using 'well mixed room' models", The Synergist, April
2017; derived, so no constant is borrowed):

    C(t) = G / Q (1 - exp(-Q t / V))        while it is given off, for the time T
    C(t) = C(T) exp(-Q (t - T) / V)         after that

with G in L/h of pure gas at 25 degC, Q = air changes x V. The mean over 8 h is the integral of both
over 8 h (the peak where gas comes off for longer). Close to the vessel it is several times as much:
half of a limit asks for extraction (the action level, common practice).

Vapours and dusts: how much goes into the air is not in any record. Said instead is how little it
takes: the grams that bring the whole room to the limit at once, limit x V. Extraction is asked for
where that is less than a hundredth of a liquid that is warmed, or less than 2 mg of a powder that
is weighed in, dried, ground or fired (a pinch; our own marks, common practice). A piece of metal
gives no dust. The table's one figure for chromium is that of chromium(VI), that for copper of its
fume.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routefinder.chem import data
from routefinder.chem.thermo import gas_volume_L
from routefinder.hazards.kinds import kinds
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench
from routefinder.records.substance import Substance
from routefinder.vessel.step_amounts import StepAmounts

ACTION = 0.5  # of a limit
OF_LIQUID = 0.01
PINCH_G = 0.002
DRY_WORK = frozenset({"grind", "sieve", "press", "dry", "heat-dry", "open-flame"})
WARM_C = 40.0
EXPLOSIVE = 0.1  # of the lower flammability limit
LEAST_H = 0.25  # no gas comes off in less than a quarter of an hour

# limits of an element that hold for its compounds, counted as the element
BY_ELEMENT = {
    "Co": "7440-48-4", "Mn": "7439-96-5", "Cu": "7440-50-8", "Cr": "7440-47-3", "Sn": "7440-31-5",
    "Ag": "7440-22-4", "Ba": "7440-39-3", "Ni": "7440-02-0",
}  # fmt: skip
NO_DUST_HARM = frozenset({"BaSO4"})
STANDS_FOR = {"SO3": ("7664-93-9", 98.072 / 80.057)}  # in moist air it is sulfuric acid mist


@dataclass(frozen=True)
class Room:
    """A room: its volume in m3 and how often an hour its air is changed (1: windows shut)."""

    volume_m3: float = 30.0
    changes_per_h: float = 1.0

    def __post_init__(self) -> None:
        if not self.volume_m3 > 0:
            raise ValueError(f"a room of {self.volume_m3:g} m3 has no air; give a volume above 0")
        if not self.changes_per_h >= 0:
            raise ValueError("air changes must be a number from 0 up, not negative")


@dataclass(frozen=True)
class Exposure:
    """One thing in the air of a room.

    ``kind`` is "gas", "vapour" or "dust". For a gas: ``litres`` given off over ``hours``, ``peak``
    and ``mean_8h`` in ``unit``, ``times`` the greatest ratio to a limit, ``of_explosion`` the peak
    as a share of the lower flammability limit. For a vapour or dust: ``to_limit_g``, the grams that
    bring the room to the limit, out of ``handled_g``. None: not known or not asked.
    """

    substance: str
    name: str
    kind: str
    limits: data.ExposureLimits | None
    unit: str
    litres: float | None = None
    hours: float | None = None
    peak: float | None = None
    mean_8h: float | None = None
    times: float | None = None
    of_explosion: float | None = None
    to_limit_g: float | None = None
    handled_g: float | None = None
    extraction: bool = False
    why: str = ""

    @property
    def unlimited(self) -> bool:
        """Nobody set a limit in the table that is used: not known to be harmless."""
        return self.limits is None and self.of_explosion is None


def concentration(litres: float, hours: float, room: Room, at_h: float) -> float:
    """Litres of gas per litre of air at a time, steady over ``hours`` and nothing after that."""
    volume = room.volume_m3 * 1000
    given = min(at_h, hours)
    k = room.changes_per_h
    if k * given < 1e-9:
        reached = litres / hours * given / volume
    else:
        reached = litres / hours / (k * volume) * -math.expm1(-k * given)
    return reached * math.exp(-k * max(at_h - hours, 0.0))


def mean(litres: float, hours: float, room: Room, span_h: float = 8.0) -> float:
    """Mean of the concentration over ``span_h`` hours from the start; its peak for longer work."""
    if hours > span_h:
        return concentration(litres, hours, room, hours)
    volume = room.volume_m3 * 1000
    k = room.changes_per_h
    rate = litres / hours / volume
    if k * span_h < 1e-6:
        area = rate * hours**2 / 2 + rate * hours * (span_h - hours)
    else:
        area = rate / k * (hours + math.expm1(-k * hours) / k)
        after = concentration(litres, hours, room, hours)
        area += after * -math.expm1(-k * (span_h - hours)) / k
    return area / span_h


def release_h(step: ResolvedStep) -> float:
    """Hours over which gas comes off: the work; of a dry firing or roasting all of its time."""
    minutes = step.record.time.hands_on_min
    if any(need.name in {"heat-dry", "open-flame"} for need in step.record.equipment):
        minutes += step.record.time.waiting_min
    return max(minutes / 60, LEAST_H)


def limits_of(substance: Substance) -> tuple[data.ExposureLimits, float] | None:
    """(limits, grams counted per gram of substance): own limits, or those of its element."""
    formula = substance.formula or ""
    if formula in STANDS_FOR:
        cas, factor = STANDS_FOR[formula]
        found = data.exposure_limits(cas)
        return (found, factor) if found else None
    found = data.exposure_limits(substance.cas) if substance.cas else None
    if found is not None:
        return found, 1.0
    parsed = substance.parsed
    best: tuple[data.ExposureLimits, float] | None = None
    for element, cas in BY_ELEMENT.items():
        if parsed is None or element not in parsed.counts or formula in NO_DUST_HARM:
            continue
        found = data.exposure_limits(cas)
        if found is None or not found.eight_hours:
            continue
        share = parsed.mass_fraction(element)
        if best is None or found.eight_hours / share < (best[0].eight_hours or 0) / best[1]:
            best = found, share
    return best


def exposure(library: Library, amount: StepAmounts, room: Room | None = None) -> list[Exposure]:
    """What a step with its amounts puts into the air of a room, the worst first.

    All of it is given off in one batch. Raises ValueError for a room without air.
    """
    room = room or Room()
    out: dict[tuple[str, str], Exposure] = {}
    step = amount.step
    hours = release_h(step)
    for outcome in amount.outcomes:
        substance = library.substances[outcome.substance]
        if outcome.state == "g" and outcome.fate == "gas":
            if substance.formula in {"H2O", "O2", "N2"}:
                continue
            found = _gas(substance, outcome.moles, hours, room)
            out[substance.id, "gas"] = found
    handled: dict[tuple[str, str], float] = {}
    states = {p.substance: p.state for p in (*step.reactants, *step.products)}
    for name, mass in [(f.substance, f.mass_g) for f in amount.feeds] + [
        (o.substance, o.mass_g) for o in amount.outcomes
    ]:
        state = states.get(name, "")
        kind = {"l": "vapour", "s": "dust"}.get(state)
        if kind:
            handled[name, kind] = max(handled.get((name, kind), 0.0), mass)
    for (name, kind), mass in handled.items():
        made = _loose(library.substances[name], kind, mass, step, room)
        if made is not None:
            out[name, kind] = made
    return sorted(out.values(), key=lambda e: (not e.extraction, e.kind, -(e.times or 0.0)))


def _gas(substance: Substance, moles: float, hours: float, room: Room) -> Exposure:
    litres = gas_volume_L(moles)
    peak, average = concentration(litres, hours, room, hours), mean(litres, hours, room)
    flammable = lower = None
    if substance.cas:
        lower = data.lower_flammability(substance.cas)
    if lower:
        flammable = peak / lower
    found = limits_of(substance)
    unit, factor = "ppm", 1e6
    if found is not None and found[0].unit == "mg/m3":
        unit = "mg/m3"  # mole fraction -> mg per m3 of air at 25 degC and 1 atm
        factor = substance.molar_mass_g * found[1] * 1e6 / gas_volume_L(1.0)
    times = None
    if found is not None:
        limits = found[0]
        ratios = [
            value * factor / limit
            for value, limit in (
                (average, limits.eight_hours), (peak, limits.short), (peak, limits.ceiling),
            )
            if limit
        ]  # fmt: skip
        times = max(ratios, default=None)
    why = ""
    if times is not None and times >= ACTION:
        why = f"{substance.name} reaches {times:.2g} times its limit in the room"
    elif flammable is not None and flammable >= EXPLOSIVE:
        why = f"{substance.name} reaches {flammable:.0%} of what burns"
    elif times is None and flammable is None:
        why = f"no limit is known for {substance.name}: counted as needing extraction"
    return Exposure(
        substance.id, substance.name, "gas", found[0] if found else None, unit, litres, hours,
        peak * factor, average * factor, times, flammable, extraction=bool(why), why=why,
    )  # fmt: skip


def _loose(
    substance: Substance, kind: str, mass_g: float, step: ResolvedStep, room: Room
) -> Exposure | None:
    """Grams of a vapour or dust that fill the room to its limit; None when there is no limit."""
    found = limits_of(substance)
    if found is None:
        return None
    limits, share = found
    least = min((v for v in (limits.eight_hours, limits.short, limits.ceiling) if v), default=None)
    if least is None:
        return None
    if limits.unit == "ppm":
        grams = least * 1e-6 * room.volume_m3 * 1000 / gas_volume_L(1.0) * substance.molar_mass_g
    else:
        grams = least * room.volume_m3 / 1000 / share
    why = ""
    if kind == "vapour" and step.record.temperature.high_C >= WARM_C and grams < OF_LIQUID * mass_g:
        why = (
            f"{grams:.2g} g of {substance.name} in the air reach the limit, {mass_g:.3g} g are warm"
        )
    if kind == "dust" and grams < PINCH_G < mass_g and _dusty(substance, step):
        why = f"{1000 * grams:.2g} mg of {substance.name} dust in the air reach the limit"
    return Exposure(
        substance.id, substance.name, kind, limits, limits.unit, to_limit_g=grams,
        handled_g=mass_g, extraction=bool(why), why=why,
    )  # fmt: skip


def _dusty(substance: Substance, step: ResolvedStep) -> bool:
    """Whether a solid is handled as a dry powder: weighed in, or made and dried or fired."""
    known = kinds(substance)
    if {"base metal", "noble metal", "copper metal"} & known.names and "metal powder" not in known:
        return False
    taken = substance.id in {p.substance for p in step.reactants}
    return taken or any(need.name in DRY_WORK for need in step.record.equipment)


def missing_extraction(
    found: list[Exposure], step: ResolvedStep, bench: Bench | None = None
) -> tuple[str, ...]:
    """Why extraction (against dust: a mask will do) is needed that record or bench do not have."""
    names = {need.name for need in step.record.equipment}
    if bench is not None:
        names &= {offer.name for tool in bench.tools for offer in tool.offers}
    out = []
    for e in found:
        enough = {"fume-extraction"} | ({"protect-from-dust"} if e.kind == "dust" else set())
        if e.kind == "vapour" and names & {"reflux", "distil"}:
            continue  # closed but for its condenser
        if e.extraction and not names & enough:
            out.append(e.why)
    return tuple(out)
