"""Heat of each step with its amounts: what it gives or takes, how hot it may get, what it burns.

    heat of the step    turns x dH(T), dH(T) = dH(298) + dCp (T - 298)          (Hess, Kirchhoff)
    as charged          crystals that dissolve, and sulfuric acid that is diluted, counted apart
    adiabatic rise      - (heat) / sum(m c) of everything in the vessel, all at once, none lost
    boiled off by it    (heat - sum(m c) (100 - start)) / 2.257 kJ/g, when the rise passes 100 degC
    to heat and boil    sum(m c) (T - start) + 2.257 kJ/g x water + heat taken up, by the heater's
                        power x efficiency

Defaults of heat capacities stand in ``chem/heat_capacity.py``. A heater's efficiency is 50 % unless
said (an open pot on a plate; common practice: a plate boils off 0.7 to 0.9 L an hour per kW).
Heat that a reaction gives is never counted on for heating; heat that it takes is. What is not known
is None and says which substance lacks data; where sources disagree the range is given.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from routefinder.assessment.crystals import CrystalsOfStep, boils_down, crystals_of_step
from routefinder.assessment.reasoning import Reason
from routefinder.chem import data, heat_capacity, solutions, thermo
from routefinder.chem.formula import molar_mass
from routefinder.errors import FormulaError, InputError
from routefinder.hazards.attendance import HOT_C
from routefinder.hazards.heaters import FURNACE_MARGIN, heat_needs
from routefinder.hazards.set_up import set_up
from routefinder.library.heat import formation_of, step_heat
from routefinder.library.library import Library
from routefinder.library.pot import WATER, is_water
from routefinder.library.resolve import Part, ResolvedStep
from routefinder.listing import listed
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Supply, Tool
from routefinder.units import significant
from routefinder.vessel.feed import Feed
from routefinder.vessel.kiln import (
    KILN_COOLING_MIN,
    KILN_FROM_C,
    KILN_RAMP_K_H,
    OVEN_RAMP_K_H,
    ROOM_C,
    TOUCH_C,
    cooling_minutes,
    ramp_minutes,
)
from routefinder.vessel.stages import is_dry_heat, stages_of
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.water import WaterOfStep, water_of_steps

BOILING_C = 100.0
CELSIUS = 273.15
EFFICIENCY = 0.5
PORTIONS_K = 20.0  # a rise above it asks for adding in portions
DUTY = (
    0.4  # of its rated power, over ramp and soak: a kiln or oven that holds itself; common practice
)


@dataclass(frozen=True)
class Heater:
    """What heats a step: a tool of the bench (or "a heater of 1 kW" assumed), W, and its kind.

    ``kind`` is the capability: heat-liquid, heat-dry or open-flame. ``power_W`` None: not stated.
    """

    name: str
    kind: str
    reach_C: float | None
    power_W: float | None
    ramp_K_h: float | None
    cooling_min: float | None
    assumed: bool = False


@dataclass(frozen=True)
class Decomposition:
    """Where a dry step's gases reach 1 bar together, and whether the furnace gets there.

    ``low_C`` and ``high_C`` are two readings: heat capacities constant, and left out.
    ``working_C`` is what the step asks for; ``margin_K`` lies between (an equilibrium temperature
    is no working temperature: below it nothing happens, and at it only slowly). All None when
    data lack (``missing``).
    """

    low_C: float | None
    high_C: float | None
    working_C: float
    margin_K: float | None
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Furnace:
    """Whether the bench reaches a step's temperature: "yes", "marginal" or "no", and why."""

    verdict: str
    why: str
    tool: str | None
    reach_C: float | None
    needed_C: float


@dataclass(frozen=True)
class HeatOfStep:
    """The heat of one step of a route; kJ, grams, K and minutes of all its batches together.

    ``enthalpy_kJ`` is for the working temperature, ``at_25_kJ`` for 25 degC (below 0: gives heat),
    both as if everything turned; ``low_kJ`` and ``high_kJ`` are the ends where sources disagree.
    ``dissolving_kJ`` is the heat of what dissolves or is diluted first, with the names it leaves
    out in ``dissolving_missing``. ``rise_K`` is the adiabatic rise as charged, ``reaches_C`` where
    it ends (100 when the water would boil). ``boiled_by_itself_g`` is the water that would leave
    then, to be replaced. ``boil_off_g`` is the water to be boiled off on purpose (None: not known;
    ``boil_off_high_g`` the other end where solubility tables disagree, ``boil_off_at_most`` when it
    is only an upper bound). ``heating_min`` is None without a heater of known power; ``soak_min``
    is how long one round of a dry heat is held, ``rounds`` how many there are (its stages say).
    """

    step: str
    working_C: float
    at_25_kJ: float | None
    enthalpy_kJ: float | None
    low_kJ: float | None
    high_kJ: float | None
    missing: tuple[str, ...]
    sources: tuple[str, ...]
    dissolving_kJ: float
    dissolving_missing: tuple[str, ...]
    portions: tuple[heat_capacity.Portion, ...]
    rise_K: float | None
    reaches_C: float | None
    boiled_by_itself_g: float
    boil_off_g: float | None
    boil_off_high_g: float | None
    boil_off_at_most: bool
    heat_up_kJ: float
    evaporate_kJ: float | None
    take_up_kJ: float | None
    heater: Heater | None
    efficiency: float
    batches: int
    heating_min: float | None
    cooling_min: float
    decomposition: Decomposition | None
    furnace: Furnace | None
    reason: Reason
    notes: tuple[str, ...] = ()
    soak_min: float | None = None
    rounds: int = 1

    @property
    def firing_min(self) -> float | None:
        """All firings of one batch from cold to cold; None where nothing is fired by stages."""
        if self.soak_min is None or self.heating_min is None:
            return None
        return self.rounds * (self.heating_min + self.soak_min + self.cooling_min)

    @property
    def capacity_J_K(self) -> float:  # noqa: N802
        """Heat capacity of everything charged."""
        return heat_capacity.total_J_K(self.portions)

    @property
    def needed_kJ(self) -> float | None:  # noqa: N802
        """Heat to bring in: heating up, boiling off, and what the reaction takes up."""
        if self.evaporate_kJ is None:
            return None
        return self.heat_up_kJ + self.evaporate_kJ + (self.take_up_kJ or 0.0)

    @property
    def energy_kWh(self) -> float | None:  # noqa: N802
        """What the meter counts for all batches, losses included; None when it is not known.

        A kiln heats mostly itself: of its power 40 % over ramp and soak, in every round.
        """
        needed = self.needed_kJ
        if self.heater is not None and self.heater.kind != "heat-liquid":
            if self.heater.power_W is None or self.heater.assumed or self.heating_min is None:
                return None
            hot = (self.heating_min + (self.soak_min or 0.0)) * self.rounds
            return self.heater.power_W / 1000 * DUTY * hot / 60 * self.batches
        return None if needed is None else needed / self.efficiency / 3600


# --- arithmetic that needs no records ----------------------------------------------------------


def boiled_by_heat_g(heat_kJ: float, capacity_J_K: float, start_C: float, water_g: float) -> float:
    """Water that a heat given off at once boils away, g; 0 when it does not reach 100 degC.

    ``heat_kJ`` above 0 is given off. No more than the water there is.
    """
    over = heat_kJ - capacity_J_K * (BOILING_C - start_C) / 1000
    return min(max(over / heat_capacity.VAPORISATION, 0.0), water_g)


def heater_minutes(needed_kJ: float, power_W: float, efficiency: float = EFFICIENCY) -> float:
    """Minutes a heater takes: heat / (power x efficiency). Raises InputError on a senseless one."""
    if power_W <= 0 or not 0 < efficiency <= 1:
        raise InputError("a heater needs a power above 0 and an efficiency above 0 and up to 100 %")
    return needed_kJ * 1000 / (power_W * efficiency) / 60


# --- the bench ---------------------------------------------------------------------------------


def _heat_need(step: ResolvedStep) -> Capability | None:
    """The hottest heating the step asks for."""
    return next(iter(heat_needs(step)), None)


def _as_heater(tool: Tool, kind: str, need: Capability) -> Heater:
    offers = [o for o in tool.offers if o.name == kind]
    offer = next((o for o in offers if o.serves(need)), offers[0])
    return Heater(
        tool.name, kind, offer.limit("to"), offer.limit("power"), offer.limit("ramp"),
        offer.limit("cooling"),
    )  # fmt: skip


def heater_of(library: Library, step: ResolvedStep, bench: Bench | None) -> Heater | None:
    """The tool that heats the step; an assumed one of 1 kW without a bench; None when cold."""
    need = _heat_need(step)
    if need is None:
        return None
    if bench is None:
        return Heater("a heater of 1 kW", need.name, None, 1000.0, None, None, assumed=True)
    tool = set_up(library, step, bench).heater
    return None if tool is None else _as_heater(tool, need.name, need)


def furnace_verdict(
    step: ResolvedStep,
    bench: Bench | None,
    found: Decomposition | None,
    heater: Heater | None = None,
) -> Furnace:
    """Whether the bench's dry heat (that of ``heater`` where one is chosen) reaches the window.

    yes: 30 K to spare above its lower end; marginal: less to spare, or below the window but above
    the temperature where the gas reaches 1 bar, or hotter than the window with nothing to hold it;
    no: it does not get there.
    """
    need = _heat_need(step)
    window = step.record.temperature
    needed = step.least_C
    if bench is None or need is None:
        return Furnace("not known", "no bench is given", None, None, needed)
    offers = [
        (offer.limit("to") or 0.0, tool.name)
        for tool in bench.tools
        for offer in tool.offers
        if offer.name == need.name and (heater is None or heater.name == tool.name)
    ]
    if not offers:
        return Furnace("no", "nothing on the bench heats a dry solid", None, None, needed)
    reach, name = max(offers)
    if reach >= needed + FURNACE_MARGIN:
        holds = bench.serving(Capability(name="hold-temperature"))
        narrow = window.high_C - window.low_C < 2 * FURNACE_MARGIN
        controlled = any(
            o.name == "hold-temperature" for t in bench.tools if t.name == name for o in t.offers
        )
        if narrow and not controlled and holds is None and reach > window.high_C:
            return Furnace(
                "marginal",
                f"{name} gets there, but the window is only {window.high_C - window.low_C:.0f} K "
                "wide and nothing holds a temperature",
                name, reach, needed,
            )  # fmt: skip
        return Furnace("yes", f"{name} reaches {reach:.0f} °C, {reach - needed:.0f} K to spare",
                       name, reach, needed)  # fmt: skip
    if reach >= needed:
        return Furnace(
            "marginal",
            f"{name} reaches {reach:.0f} °C, only {reach - needed:.0f} K above the {needed:.0f} °C "
            f"needed ({FURNACE_MARGIN:.0f} K to spare are wanted); hold longer",
            name, reach, needed,
        )  # fmt: skip
    if found is not None and found.low_C is not None and reach >= found.low_C + FURNACE_MARGIN:
        return Furnace(
            "marginal",
            f"{name} reaches {reach:.0f} °C, below the {needed:.0f} °C of the step, though the gas "
            f"has 1 bar from about {found.low_C:.0f} °C; try a long hold and weigh the loss",
            name, reach, needed,
        )  # fmt: skip
    return Furnace("no", f"{name} reaches {reach:.0f} °C, {needed:.0f} °C are needed",
                   name, reach, needed)  # fmt: skip


# --- one step ----------------------------------------------------------------------------------


def decomposition(library: Library, step: ResolvedStep) -> Decomposition | None:
    """Where a dry step that gives off gas runs by itself at 1 bar total; None for other steps."""
    if any(p.state == "aq" for p in (*step.reactants, *step.products)):
        return None
    if not any(p.state == "g" for p in step.products) or step.is_recipe:
        return None
    if any(p.state == "g" for p in step.reactants):
        return None
    working = step.heat_C
    found = step_heat(library, step)
    change = found.change
    missing = found.missing
    if change is None or change.enthalpy_kJ is None or change.entropy_J_K is None:
        return Decomposition(None, None, working, None, missing or _no_entropy(library, step))
    at_298 = thermo.gibbs_kJ(change, thermo.ROOM, 1.0)
    if at_298 is not None and at_298 <= 0:
        return Decomposition(
            thermo.ROOM - CELSIUS, thermo.ROOM - CELSIUS, working,
            working - (thermo.ROOM - CELSIUS), (),
        )  # fmt: skip
    tried = [thermo.crossing_K(change.without_capacity(), 1.0)]
    if change.capacity_J_K is not None:
        tried.append(thermo.crossing_K(change, 1.0))
    known = [t - CELSIUS for t in tried if t is not None]
    if not known:
        return Decomposition(None, None, working, None, ("a crossing below 3700 °C",))
    low, high = min(known), max(known)
    return Decomposition(low, high, working, working - high, ())


def _no_entropy(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    out = []
    for part in (*step.reactants, *step.products):
        found = formation_of(library, part)
        if found is not None and found.entropy_J_K is None:
            out.append(f"entropy of {library.name(part.substance)}")
    return tuple(out)


def _range(library: Library, step: ResolvedStep) -> tuple[float, float] | None:
    """Lowest and highest dH(298) of a turn, each substance by each source that has it."""
    if step.is_recipe:
        return None
    low = high = 0.0
    for sign, parts in ((-1.0, step.reactants), (1.0, step.products)):
        for part in parts:
            values = _enthalpies(library, part)
            if not values:
                return None
            ends = [sign * part.moles * v for v in (min(values), max(values))]
            low, high = low + min(ends), high + max(ends)
    return low, high


def _enthalpies(library: Library, part: Part) -> list[float]:
    substance = library.substances[part.substance]
    if substance.formula is None:
        return []
    cas = substance.cas
    if part.state == "aq" and substance.hydrate_of:
        cas = library.substances[substance.hydrate_of].cas
    try:
        found = data.readings(substance.formula, part.state, cas)
    except FormulaError:
        return []
    return [f.enthalpy_kJ for f in found if f.enthalpy_kJ is not None]


def _state(feed: Feed, step: ResolvedStep) -> str:
    return next((p.state for p in step.reactants if p.substance == feed.substance), "l")


def _portions(
    library: Library, amount: StepAmounts, water: WaterOfStep
) -> tuple[heat_capacity.Portion, ...]:
    """Everything in the vessel: the water, each species as it stands, impurities."""
    out = []
    liquid = water.charged_g
    if liquid > 0:
        out.append(heat_capacity.Portion("water", liquid, heat_capacity.WATER, "table"))
    rest = 0.0
    for feed in amount.feeds:
        substance = library.substances[feed.substance]
        if feed.role == "wash":
            continue
        if substance.formula == WATER:
            continue
        state = _state(feed, amount.step)
        if state == "g" or feed.mass_g <= 0:
            continue  # with it goes what comes with it: the nitrogen of air
        rest += max(feed.companions_g - feed.water_g, 0.0)
        if feed.role != "reactant":
            state = "l" if (substance.melting_C or 999.0) < ROOM_C else "s"
        known = formation_of(library, Part(feed.substance, 1.0, state))
        table = known.capacity_J_K if known is not None else None
        capacity, how = heat_capacity.capacity_J_g_K(substance.parsed, state, table)
        out.append(heat_capacity.Portion(substance.name, feed.mass_g, capacity, how))
    if rest > 1e-9:
        out.append(
            heat_capacity.Portion("impurities", rest, heat_capacity.NO_FORMULA, "default 1 J/(g K)")
        )
    return tuple(out)


def _dissolving(
    library: Library, amount: StepAmounts, water: WaterOfStep
) -> tuple[float, tuple[str, ...], list[str]]:
    """Heat of what goes into solution first (kJ, below 0: given), what lacks data, and words."""
    total, missing, words = 0.0, [], []
    for feed in amount.feeds:
        if feed.role != "reactant" or _state(feed, amount.step) != "aq" or feed.moles <= 0:
            continue
        substance = library.substances[feed.form]
        if isinstance(feed.origin, Supply) and substance.formula == "H2SO4":
            heat, text = _acid(feed, water)
            total += heat
            words.append(text)
            continue
        if isinstance(feed.origin, Supply) and feed.origin.dissolved:
            continue
        if isinstance(feed.origin, str) and feed.water_g == 0 and _made_dissolved(library, feed):
            continue
        solid = "s" if (substance.melting_C is None or substance.melting_C > ROOM_C) else "l"
        if isinstance(feed.origin, Supply) and feed.origin.form == "liquid":
            solid = "l"
        before = formation_of(library, Part(feed.form, 1.0, solid))
        after = formation_of(library, Part(feed.substance, 1.0, "aq"))
        crystal = feed_waters(library, feed)
        liquid = data.formation(WATER, "l", "7732-18-5")
        if (
            before is None or before.enthalpy_kJ is None or after is None
            or after.enthalpy_kJ is None or liquid is None or liquid.enthalpy_kJ is None
        ):  # fmt: skip
            missing.append(f"{substance.name} dissolving")
            continue
        each = after.enthalpy_kJ + crystal * liquid.enthalpy_kJ - before.enthalpy_kJ
        total += each * feed.moles
        words.append(
            f"{substance.name} dissolving: {each:+.1f} kJ/mol × {significant(feed.moles)} mol = "
            f"{_kJ(each * feed.moles)}"
        )
    return total, tuple(missing), words


def feed_waters(library: Library, feed: Feed) -> float:
    """Crystal water per mole of the dissolved species, by the two molar masses."""
    form = library.substances[feed.form].molar_mass_g
    dry = library.substances[feed.substance].molar_mass_g
    return (form - dry) / molar_mass(WATER)


def _made_dissolved(library: Library, feed: Feed) -> bool:
    """Whether the earlier step delivers the feed already in solution."""
    maker = library.steps.get(str(feed.origin))
    if maker is None:
        return True
    return any(p.substance == feed.form and p.state == "aq" for p in maker.products)


def _acid(feed: Feed, water: WaterOfStep) -> tuple[float, str]:
    before = feed.water_g / molar_mass(WATER) / feed.moles
    after = water.charged_g / molar_mass(WATER) / feed.moles
    heat = solutions.sulfuric_mixing_kJ(before) - solutions.sulfuric_mixing_kJ(after)
    return heat * feed.moles, (
        f"sulfuric acid diluted from {before:.2g} to {after:.3g} mol of water a mole (Thomsen, "
        f"from memory): {heat:+.1f} kJ/mol × {significant(feed.moles)} mol = "
        f"{_kJ(heat * feed.moles)}"
    )


def _rise(kelvin: float) -> str:
    return f"{kelvin:+.0f} K" if abs(kelvin) >= 1 else "less than 1 K"


def _kJ(value: float) -> str:  # noqa: N802
    if abs(value) >= 1000:
        return f"{significant(value / 1000)} MJ"
    return f"{significant(value)} kJ"


def _boil_off(
    step: ResolvedStep, water: WaterOfStep, crops: CrystalsOfStep | None
) -> tuple[float | None, float | None, bool, list[str]]:
    """Water to boil off on purpose: (g, other end, only an upper bound, words)."""
    if not boils_down(step):
        return 0.0, None, False, []
    free = water.left_g
    if crops is None or not crops.answers:
        why = crops.why if crops is not None else "how far, the step says"
        words = [f"water to boil off: at most all of {significant(free)} g; {why}"]
        return free, None, True, words
    first = crops.answers[0].boil_off_g
    other = max((a.boil_off_g for a in crops.answers), key=lambda g: abs(g - first))
    left = crops.answers[0].crops[-1]
    words = [
        f"water to boil off: {significant(free)} g of free water down to "
        f"{significant(left.liquor_water_g)} g before crop {left.number} = {significant(first)} g"
    ]
    if other != first:
        words.append(f"by another solubility table: {significant(other)} g")
    return first, other if other != first else None, False, words


def _times(
    step: ResolvedStep, heater: Heater | None, needed_kJ: float | None, working_C: float,
    efficiency: float, batches: int,
) -> tuple[float | None, float, list[str]]:  # fmt: skip
    """(heating, cooling) in minutes of one batch, and words."""
    if heater is None:
        return (0.0 if working_C <= HOT_C else None), 0.0, []
    dry = heater.kind in {"heat-dry", "open-flame"}
    if not dry:
        if needed_kJ is None or heater.power_W is None:
            why = "the heat is" if needed_kJ is None else f"the power of {heater.name} is"
            return None, 0.0, [f"time to heat: not known, {why} not known"]
        minutes = heater_minutes(needed_kJ / batches, heater.power_W, efficiency)
        per = "" if batches == 1 else f" ÷ {batches} batches"
        return (
            minutes,
            0.0,
            [
                f"time to heat: {_kJ(needed_kJ)}{per} ÷ ({significant(heater.power_W)} W × "
                f"{efficiency:.0%}) = {_hours(minutes)}"
            ],
        )
    kiln = working_C > KILN_FROM_C
    ramp = heater.ramp_K_h or (KILN_RAMP_K_H if kiln else OVEN_RAMP_K_H)
    up = ramp_minutes(working_C, ramp)
    stated = "" if heater.ramp_K_h else ", common practice"
    words = [
        f"time to heat: ({working_C:.0f} − {ROOM_C:.0f}) K ÷ {ramp:.0f} K/h{stated} = {_hours(up)}"
    ]
    down = 0.0
    if kiln and heater.kind == "heat-dry":
        down = cooling_minutes(working_C, heater.cooling_min or KILN_COOLING_MIN)
        stated = "" if heater.cooling_min else " (10 to 14 h from 900 °C, common practice)"
        words.append(f"time to cool to {TOUCH_C:.0f} °C, door shut: {_hours(down)}{stated}")
    return up, down, words


def _hours(minutes: float) -> str:
    return f"{significant(minutes / 60, 2)} h" if minutes >= 90 else f"{minutes:.0f} min"


def heat_of_step(
    library: Library,
    amount: StepAmounts,
    water: WaterOfStep,
    bench: Bench | None = None,
    *,
    start_C: float = ROOM_C,
    efficiency: float = EFFICIENCY,
    batches: int = 1,
    power_W: float | None = None,
) -> HeatOfStep:
    """Everything about the heat of one step with its amounts.

    ``power_W`` is that of the heater for liquids, instead of what the bench says.

    Raises InputError for fewer batches than one.
    """
    step = amount.step
    if batches < 1:
        raise InputError(f"{step.id}: {batches} batches; at least 1 is needed")
    working = step.heat_C
    per_turn = step_heat(library, step)
    lines: list[str] = []
    notes: list[str] = []
    at_25 = at_working = low = high = None
    if per_turn.enthalpy_kJ is not None and per_turn.change is not None:
        at_25 = per_turn.enthalpy_kJ * amount.turns
        hot = thermo.enthalpy_kJ(per_turn.change, working + CELSIUS)
        at_working = None if hot is None else hot * amount.turns
        sense = "gives" if at_25 < 0 else "takes"
        lines.append(
            f"reaction at 25 °C: {per_turn.enthalpy_kJ:+.1f} kJ a turn × "
            f"{significant(amount.turns)} mol = {_kJ(at_25)} ({sense} heat)"
        )
        if per_turn.change.capacity_J_K is not None and abs(working - 25) > 1 and hot is not None:
            lines.append(
                f"at {working:.0f} °C: {per_turn.enthalpy_kJ:+.1f} + "
                f"({per_turn.change.capacity_J_K:+.1f} J/K × {working - 25:.0f} K) = {hot:+.1f} kJ "
                f"a turn, {_kJ(hot * amount.turns)}"
            )
        elif abs(working - 25) > 100:
            notes.append("a heat capacity is missing, so the heat is that at 25 °C")
        ends = _range(library, step)
        if ends is not None and ends[1] - ends[0] > 0.5:
            low, high = ends[0] * amount.turns, ends[1] * amount.turns
            lines.append(f"sources disagree: {_kJ(low)} to {_kJ(high)}")
        lines += [f"source: {source}" for source in per_turn.sources]
    else:
        lines.append(
            "heat of the reaction: not known, data lack for "
            + listed(per_turn.missing, "", none="some substance")
        )
    dissolving, lacking, words = _dissolving(library, amount, water)
    lines += words
    if lacking:
        lines.append("not known, and left out: " + listed(lacking, "", none="some substance"))
    portions = _portions(library, amount, water)
    capacity = heat_capacity.total_J_K(portions)
    lines += [
        f"charged: {p.name} {significant(p.mass_g)} g × {significant(p.capacity_J_g_K)} J/(g K) = "
        f"{significant(p.capacity_J_K / 1000)} kJ/K ({p.how})"
        for p in portions
    ]
    rise = reaches = None
    boiled = 0.0
    if at_25 is not None and capacity > 0:
        given = -(at_25 + dissolving)
        wet = any(p.state == "aq" for p in (*step.reactants, *step.products))
        if step.record.kind == "electrolysis":
            lines.append("the current drives it and sets its pace: no rise can be told")
        elif any(library.substances[p.substance].formula == "O2" for p in step.reactants):
            lines.append("it goes as fast as air comes to it: no rise can be told")
        elif wet and water.charged_g <= 0:
            lines.append("the amounts hold no water, though the step is in solution: no rise")
            notes.append("no water is among the feeds: dilute with what the step asks for")
        elif given < 0 and water.charged_g <= 0:
            lines.append("it takes heat and is dry: it stops when it is not heated")
        else:
            rise = given * 1000 / capacity
            reaches = start_C + rise
            lines.append(
                f"all at once and nothing lost: {_kJ(given)} ÷ {significant(capacity / 1000)} kJ/K"
                f" = {_rise(rise)}, to {reaches:.0f} °C"
            )
            if water.charged_g > 0 and reaches > BOILING_C:
                boiled = boiled_by_heat_g(given, capacity, start_C, water.left_g)
                reaches = BOILING_C
                lines.append(
                    f"it would boil, and {significant(boiled)} g of water leave: replace them"
                )
                if _mixed(library, amount):
                    notes.append("boils when mixed at once: add slowly, cool between")
            elif rise > PORTIONS_K and is_dry_heat(step):
                notes.append(
                    f"gives heat of its own, {rise:.0f} K if none were lost: warm it slowly, a "
                    "small charge first"
                )
            elif rise > PORTIONS_K and _mixed(library, amount):
                notes.append(f"warms by {rise:.0f} K when mixed at once: add in portions")
    boil_off, other, at_most, words = _boil_off(
        step, water, crystals_of_step(library, amount, water, bench)
    )
    lines += words
    boils = boil_off is not None and boil_off > 0
    to_C = max(working, BOILING_C) if boils else working
    heat_up = max(capacity * (to_C - start_C) / 1000, 0.0)
    if to_C > HOT_C:
        lines.append(
            f"to heat up: {significant(capacity / 1000)} kJ/K × {to_C - start_C:.0f} K = "
            f"{_kJ(heat_up)}"
        )
    else:
        heat_up = 0.0
    evaporate = None if boil_off is None else boil_off * heat_capacity.VAPORISATION
    if evaporate:
        lines.append(
            f"to boil off: {significant(boil_off or 0.0)} g × {heat_capacity.VAPORISATION} kJ/g = "
            f"{_kJ(evaporate)}"
        )
    take_up = None if at_working is None else max(at_working, 0.0) if to_C > HOT_C else 0.0
    if take_up:
        lines.append(f"the reaction takes up: {_kJ(take_up)}")
    heater = heater_of(library, step, bench)
    if power_W is not None and heater is not None and heater.kind == "heat-liquid":
        name = f"a heater of {significant(power_W / 1000)} kW" if bench is None else heater.name
        heater = replace(heater, power_W=power_W, name=name)
    needed = None if evaporate is None else heat_up + evaporate + (take_up or 0.0)
    dry = heater is not None and heater.kind != "heat-liquid"
    if needed:
        text = f"together {_kJ(needed)} = {significant(needed / 3600)} kWh"
        if dry:
            text += " into the charge; the kiln itself takes more"
        else:
            text += f"; at {efficiency:.0%} {significant(needed / 3600 / efficiency)} kWh"
        lines.append(text)
    heating, cooling, words = _times(step, heater, needed, to_C, efficiency, batches)
    lines += words
    soak, rounds = _soak(library, step) if dry else (None, 1)
    if soak is not None:
        lines.append(f"held hot: {_hours(soak)}" + (f", {rounds} times" if rounds > 1 else ""))
    if dry and heater is not None and heater.power_W and not heater.assumed and heating:
        hot = (heating + (soak or 0.0)) * rounds
        mains = heater.power_W / 1000 * DUTY * hot / 60 * batches
        lines.append(
            f"from the mains {significant(heater.power_W / 1000)} kW × {DUTY:.0%} × {_hours(hot)}"
            + (f" × {batches} batches" if batches > 1 else "")
            + f" = {significant(mains)} kWh (a kiln draws about {DUTY:.0%} of its power over ramp "
            "and soak, common practice)"
        )
    found = None if step.record.kind == "electrolysis" else decomposition(library, step)
    furnace = None
    need = _heat_need(step)
    if need is not None and need.name != "heat-liquid":
        furnace = furnace_verdict(step, bench, found, heater)
        lines.append(f"furnace: {furnace.verdict}: {furnace.why}")
    if found is not None:
        lines.append(_decomposition_words(found))
    reason = Reason(f"heat:{step.id}", f"Heat of: {step.title}", tuple(lines))
    return HeatOfStep(
        step.id, working, at_25, at_working, low, high, per_turn.missing, per_turn.sources,
        dissolving, lacking, portions, rise, reaches, boiled, boil_off, other, at_most, heat_up,
        evaporate, take_up, heater, efficiency, batches, heating, cooling, found, furnace, reason,
        tuple(notes), soak, rounds,
    )  # fmt: skip


def _mixed(library: Library, amount: StepAmounts) -> bool:
    """Whether something is put to a liquid: not a dry charge, nor one solution by itself."""
    put_in = [
        f for f in amount.feeds if f.drawn_g > 1e-9 and f.role not in {"wash", "drying agent"}
    ]
    wet = any(p.state in {"aq", "l"} for p in amount.step.reactants) or any(
        is_water(library, f.substance) for f in put_in
    )
    return wet and len(put_in) > 1


def _soak(library: Library, step: ResolvedStep) -> tuple[float | None, int]:
    """Minutes of one round's soak and the rounds, by the stages of a dry heat."""
    holds = [s for s in stages_of(library, step).having("hold") if s.for_min is not None]
    if not holds:
        return None, 1
    rounds = max(s.times for s in holds)
    return sum(s.for_min or 0.0 for s in holds), rounds


def _decomposition_words(found: Decomposition) -> str:
    if found.low_C is None or found.high_C is None or found.margin_K is None:
        return "gas at 1 bar: not known, data lack for " + listed(
            found.missing, "", none="some substance"
        )
    span = (
        f"about {found.low_C:.0f} °C"
        if found.high_C - found.low_C < 5
        else f"{found.low_C:.0f} to {found.high_C:.0f} °C"
    )
    return (
        f"the gases reach 1 bar together at {span}; the step works from {found.working_C:.0f} °C, "
        f"{found.margin_K:+.0f} K above"
    )


def heats(
    library: Library,
    found: Amounts,
    bench: Bench | None = None,
    *,
    start_C: float = ROOM_C,
    efficiency: float = EFFICIENCY,
    batches: Mapping[str, int] | None = None,
    power_W: float | None = None,
) -> dict[str, HeatOfStep]:
    """The heat of every step of a route, by step id."""
    water = water_of_steps(library, found)
    count = batches or {}
    return {
        a.step.id: heat_of_step(
            library, a, water[a.step.id], bench, start_C=start_C, efficiency=efficiency,
            batches=count.get(a.step.id, 1), power_W=power_W,
        )
        for a in found.steps
    }  # fmt: skip
