"""The air of a room while gas comes off: the one model that ``look``, ``plan`` and dossier use.

    room        V dC/dt = G - Q C with Q = a V, well mixed:  C(t) = G / Q (1 - exp(-a t)), G t / V
                without air changes; afterwards it falls as exp(-a t)

``a`` is air changes per hour (the mass balance as in P. Hewett, "Forecasting occupational exposures
using 'well mixed room' models", The Synergist, April 2017; derived, so no constant is borrowed).
The mean over 8 h is the integral of both over 8 h; where gas comes off for longer, the end value.
A room is never well mixed: close to the vessel it is several times as much, hydrogen gathers under
the ceiling, carbon dioxide sinks. So half of a limit asks for air (the action level, common
practice), and a tenth of the lower explosion limit (hydrogen burns from 4 % in air,
safe.engineering.asu.edu/hydrogen-gas). Limits are those of the package ``chemicals`` (Ontario);
carbon dioxide: 5000 ppm over 8 hours, 30 000 ppm for 10 to 15 minutes (also OSHA and NIOSH,
stacks.cdc.gov/view/cdc/19367); outdoor air holds about 420 ppm of it (from memory). Poisonous gases
have no place in a room at all, whatever the figure.

How fast gas comes off (``release``), of one batch:

    electrolysis    as the current lets it (``vessel.durations``)
    dry charge      while it is soaked the first time: heating up and cooling give off nothing
    driven off hot  a wet charge from 80 degC without acid, or sour salt on carbonate: over work
                    and the stage it reacts in
    any other       as the reagents meet: over the work

never in less than a quarter of an hour (common practice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routefinder.chem import data, thermo
from routefinder.chem import formula as formulas
from routefinder.errors import InputError
from routefinder.hazards.kinds import kinds
from routefinder.library.fumes import CLEAN
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.step_amounts import StepAmounts

ROOM_K = 293.15
LITRES_PER_MOLE = thermo.gas_volume_L(1.0, ROOM_K)
AIR_CHANGES = 0.5  # an hour, a closed room; common practice
ACTION = 0.5  # of a limit
EXPLOSIVE = 0.1  # of the lower flammability limit
HYDROGEN_LFL = 0.04
CO2_SHIFT = 5000e-6
CO2_SHORT = 30000e-6
CO2_OUTDOORS = 420e-6
SHIFT_MIN = 480.0
AT_ONCE_MIN = 1e-6  # an evolution shorter than this is one at once
LEAST_MIN = 15.0
DRIVEN_OFF_C = 80.0
ACIDS = frozenset({"strong acid", "mineral acid", "oxidising acid", "organic acid"})


@dataclass(frozen=True)
class Room:
    """The air of a workroom: cubic metres, and how often an hour it is changed."""

    volume_m3: float = 30.0
    air_changes_h: float = AIR_CHANGES

    def __post_init__(self) -> None:
        if not (self.volume_m3 > 0 and math.isfinite(self.volume_m3)):
            raise InputError("the room's volume must be above 0 m³")
        if not (self.air_changes_h >= 0 and math.isfinite(self.air_changes_h)):
            raise InputError("air changes an hour cannot be below 0")


@dataclass(frozen=True)
class Air:
    """What a gas comes to in a room, as fractions of the air (0.01 is 1 %).

    ``peak`` is reached at the end of an even evolution; ``peak_at_once`` when all comes at once and
    ``shift`` is the mean over 8 hours. ``times`` is the greatest ratio to an exposure limit,
    ``of_explosion`` the peak as a share of the lower flammability limit (None: no such limit).
    ``counted_g`` are the grams per mole that count against a limit in mg/m3. ``verdict`` is "fine",
    "air it", "draw it off" (the record asks for it) or "not here"; ``case`` says why: hydrogen
    "burns", has "a tenth" of what burns or "little", carbon dioxide is above its "short" limit or
    half its "shift" limit, above that "for a while", or "below"; any other is "clean" (part of air)
    or "bad". ``needed_m3_h`` of fresh air keep an even evolution below what is asked, for ever.
    """

    gas: str
    peak: float
    peak_at_once: float
    shift: float
    needed_m3_h: float
    verdict: str
    case: str
    limits: data.ExposureLimits | None = None
    times: float | None = None
    of_explosion: float | None = None
    counted_g: float = 0.0


def fraction(litres: float, over_min: float, room: Room, at_min: float) -> float:
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


def mean(litres: float, over_min: float, room: Room, until_min: float) -> float:
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
    return (came - fraction(litres, over_min, room, until_min)) / change / until_min


def release_min(library: Library, amount: StepAmounts, batches: int = 1) -> float | None:
    """Minutes over which the gas of one batch comes off; None when its stages state no time."""
    step = amount.step
    times = amount.times.shared(batches)
    reacts = times.reacting_min or times.waiting_min
    if step.record.kind == "electrolysis":
        minutes = reacts or times.hands_on_min
    elif not any(p.state in {"aq", "l"} for p in step.reactants):
        minutes = times.soak_min or reacts or times.hands_on_min
    elif _driven_off(library, step):
        minutes = times.hands_on_min + reacts
    else:
        minutes = times.hands_on_min or reacts
    return max(minutes, LEAST_MIN) if minutes else None


def _driven_off(library: Library, step: ResolvedStep) -> bool:
    """Whether heat drives the gas out, not the meeting of reagents."""
    if step.record.temperature.low_C < DRIVEN_OFF_C:
        return False
    names = set().union(*(kinds(library.substances[p.substance]).names for p in step.reactants))
    return not (names & ACIDS or {"acid salt", "carbonate"} <= names)


def air_of(
    formula: str,
    litres: float,
    over_min: float,
    room: Room,
    *,
    cas: str | None = None,
    asked: bool = False,
) -> Air:
    """What ``litres`` (20 degC) of a gas do in a room; ``over_min`` as given off evenly.

    ``cas`` finds the limits; ``asked``: the record asks for extraction.
    """
    number = cas or _CAS.get(formula)
    background = CO2_OUTDOORS if formula == "CO2" else 0.0
    peak = fraction(litres, over_min, room, over_min) + background
    once = litres / (room.volume_m3 * 1000) + background
    shift = peak
    if over_min <= SHIFT_MIN:
        shift = mean(litres, over_min, room, SHIFT_MIN) + background
    rate = litres / over_min * 60 / 1000 if over_min > AT_ONCE_MIN else math.inf  # m3/h
    limits, mass = _limits(formula, number)
    times = None
    if limits is not None:
        unit = 1e6 if limits.unit == "ppm" else mass * 1e6 / LITRES_PER_MOLE  # ppm or mg/m3
        pairs = ((shift, limits.eight_hours), (peak, limits.short), (peak, limits.ceiling))
        times = max((value * unit / limit for value, limit in pairs if limit), default=None)
    lower = data.lower_flammability(number) if number else None
    lower = HYDROGEN_LFL if formula == "H2" else lower
    burns = peak / lower if lower else None
    if formula == "H2":
        needed = rate / (EXPLOSIVE * HYDROGEN_LFL)
        verdict, case = _of_hydrogen(peak, once)
    elif formula == "CO2":
        needed = rate / (ACTION * CO2_SHIFT - CO2_OUTDOORS)
        verdict, case = _of_carbon_dioxide(peak, shift)
    elif formula in CLEAN:
        needed, verdict, case = 0.0, "fine", "clean"
    else:
        needed, verdict, case = math.inf, "not here", "bad"
    if asked and verdict in {"fine", "air it"}:
        verdict = "draw it off"
    return Air(formula, peak, once, shift, needed, verdict, case, limits, times, burns, mass)


_CAS = {"H2": "1333-74-0", "CO2": "124-38-9"}
_MIST = {"SO3": ("7664-93-9", 98.072)}  # in moist air it is sulfuric acid mist


def _limits(formula: str, cas: str | None) -> tuple[data.ExposureLimits | None, float]:
    """The limits, and the grams per mole that count against them."""
    if formula in _MIST:
        number, mass = _MIST[formula]
        return data.exposure_limits(number), mass
    from_table = data.exposure_limits(cas) if cas else None
    return from_table, formulas.molar_mass(formula)


def _of_hydrogen(peak: float, once: float) -> tuple[str, str]:
    if peak >= HYDROGEN_LFL or once >= HYDROGEN_LFL:
        return "not here", "burns"
    if peak >= EXPLOSIVE * HYDROGEN_LFL:
        return "air it", "a tenth"
    return "fine", "little"


def _of_carbon_dioxide(peak: float, shift: float) -> tuple[str, str]:
    if peak >= CO2_SHORT:
        return "not here", "short"
    if shift >= ACTION * CO2_SHIFT:
        return "air it", "shift"
    if peak >= CO2_SHIFT:
        return "air it", "for a while"
    return "fine", "below"
