"""The heat of a step in sentences: its arithmetic line by line, and what is to be minded."""

from __future__ import annotations

from collections.abc import Iterator

from routefinder import digits
from routefinder.assessment.furnace import Decomposition, Furnace
from routefinder.assessment.heat import HeatOfStep
from routefinder.assessment.heater import DUTY, Heater
from routefinder.assessment.reaction_heat import Diluted, Dissolved, ReactionHeat
from routefinder.assessment.reasoning import Reason
from routefinder.assessment.warming import Warming
from routefinder.chem import heat_capacity
from routefinder.hazards.attendance import HOT_C
from routefinder.hazards.heaters import FURNACE_MARGIN
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed
from routefinder.units import significant
from routefinder.vessel.kiln import KILN_FROM_C, KILN_RAMP_K_H, OVEN_RAMP_K_H, ROOM_C, TOUCH_C

BOILS_C = 95.0  # what may not be this hot is evaporated, not boiled down


def reason(heat: HeatOfStep, step: ResolvedStep) -> Reason:
    """The arithmetic of a step's heat."""
    lines = (
        *_of_reaction(heat.reaction),
        *_of_dissolving(heat),
        *_of_charge(heat.warming),
        *_of_rise(heat.warming),
        *_of_boiling(heat),
        *_of_heating(heat),
        *_of_time(heat),
        *_of_furnace(heat),
    )
    return Reason(f"heat:{step.id}", f"Heat of: {step.title}", lines)


def notes(heat: HeatOfStep) -> tuple[str, ...]:
    """What is to be minded of the heat, one clause each."""
    rise = heat.warming.rise_K or 0.0
    words = {
        "no capacity": "a heat capacity is missing, so the heat is that at 25 °C",
        "no water": "no water is among the feeds: dilute with what the step asks for",
        "boils": "boils when mixed at once: add slowly, cool between",
        "own heat": f"gives heat of its own, {rise:.0f} K if none were lost: warm it slowly, a "
        "small charge first",
        "warms": f"warms by {rise:.0f} K when mixed at once: add in portions",
    }
    return tuple(words[mind] for mind in heat.minds)


def heater_name(heater: Heater) -> str:
    """What a heater is called; one that is taken for granted by its power."""
    if not heater.assumed:
        return heater.name
    return f"a heater of {(heater.power_W or 1000.0) / 1000:.3g} kW"


def furnace(found: Furnace) -> str:
    """Why a furnace serves, or does not, in a clause."""
    name, reach, needed = found.tool, found.reach_C or 0.0, found.needed_C
    match found.case:
        case "no bench":
            return "no bench is given"
        case "none":
            return "nothing on the bench heats a dry solid"
        case "no control":
            return (
                f"{name} gets there, but the window is only {found.width_K:.0f} K "
                "wide and nothing holds a temperature"
            )
        case "reaches":
            return f"{name} reaches {reach:.0f} °C, {reach - needed:.0f} K to spare"
        case "little to spare":
            return (
                f"{name} reaches {reach:.0f} °C, only {reach - needed:.0f} K above the "
                f"{needed:.0f} °C needed ({FURNACE_MARGIN:.0f} K to spare are wanted); hold longer"
            )
        case "by its gas":
            return (
                f"{name} reaches {reach:.0f} °C, below the {needed:.0f} °C of the step, though the "
                f"gas has 1 bar from about {found.gas_C:.0f} °C; try a long hold and weigh the loss"
            )
        case _:
            return f"{name} reaches {reach:.0f} °C, {needed:.0f} °C are needed"


def shown(h: HeatOfStep) -> str:
    """What the reaction gives or takes, and what must be brought in."""
    text = "; ".join([_gives(h), *_brings_in(h)])
    if h.energy_kWh:
        text += f", {digits.significant(h.energy_kWh, 2)} kWh from the mains"
    elif h.energy_kWh is None:
        text += "; kWh from the mains not known"
    return "; ".join([text, *_and_the_furnace(h)])


def _gives(h: HeatOfStep) -> str:
    at_25, warms = h.reaction.at_25_kJ, h.warming
    if at_25 is None:
        lacking = ", ".join(h.reaction.missing) or "some substance"
        return f"of the reaction not known (no data for {lacking})"
    text = f"the reaction {'gives' if at_25 < 0 else 'takes'} {digits.energy(abs(at_25))}"
    if h.reaction.low_kJ is not None and h.reaction.high_kJ is not None:
        low, high = digits.energy(h.reaction.low_kJ), digits.energy(h.reaction.high_kJ)
        text += f" (sources: {low} to {high})"
    if warms.rise_K is not None and warms.reaches_C is not None and abs(warms.rise_K) >= 2:
        text += (
            f"; all at once and nothing lost it would go from {digits.temperature(20)} to "
            f"{digits.temperature(round(warms.reaches_C))}"
        )
    return text


def _brings_in(h: HeatOfStep) -> Iterator[str]:
    if h.needed_kJ is None:
        yield "to bring in: not known"
    elif h.needed_kJ:
        text = f"bring in {digits.energy(h.needed_kJ)}"
        if h.heater is not None and h.heating_min:
            per = " a batch" if h.batches > 1 else ""
            text += f": {digits.duration(h.heating_min)}{per} with {heater_name(h.heater)}"
        yield text


def _and_the_furnace(h: HeatOfStep) -> Iterator[str]:
    if h.heater is None and h.working_C > HOT_C:
        yield f"nothing on the bench heats it to {digits.temperature(h.working_C)}"
    if h.warming.boiled_g > 0:
        yield f"{digits.mass(h.warming.boiled_g)} of water would boil away by itself"
    if h.furnace is not None:
        yield f"furnace: {h.furnace.verdict}, {furnace(h.furnace)}"
    d = h.decomposition
    if d is not None and d.low_C is not None and d.high_C is not None:
        yield f"the gas reaches 1 bar at {digits.window(round(d.low_C), round(d.high_C))}"
    elif d is not None:
        yield f"where the gas reaches 1 bar is not known (no data for {', '.join(_lacking(d))})"


def _lacking(found: Decomposition) -> list[str]:
    """What keeps one from knowing where the gas comes off."""
    lacking = [*found.missing, *(f"entropy of {name}" for name in found.no_entropy)]
    return lacking or ["a crossing below 3700 °C"]


def gently(step: ResolvedStep) -> str:
    """How hot a liquor that must not boil may be; "" where it may be boiled down."""
    most = step.evaporates_C
    return f"at no more than {digits.temperature(most)}" if most < BOILS_C else ""


def boil(h: HeatOfStep) -> str:
    """The water to boil off on purpose; "" where there is none."""
    if h.boil_off_g is None:
        return "not known"
    if h.boil_off_g <= 0:
        return ""
    text = digits.volume(h.boil_off_g)
    if h.boil_off.at_most:
        return f"at most {text} of water; how far, the step says"
    if h.boil_off.other_g is not None:
        text += f" of water ({digits.volume(h.boil_off.other_g)} by another solubility table)"
        return text
    return f"{text} of water"


def firing(heat: HeatOfStep) -> str:
    """How often a charge is fired and how long, as its stages say; "" where none is."""
    if heat.firing_min is None or heat.heating_min is None or heat.soak_min is None:
        return ""
    text = f"{digits.duration(heat.heating_min)} up, {digits.duration(heat.soak_min)} held hot"
    if heat.cooling_min:
        text += f", {digits.duration(heat.cooling_min)} down"
    if heat.rounds == 1:
        return f"fired: {text}"
    return f"{heat.rounds} firings, each {text}: {digits.duration(heat.firing_min)} in all"


def _kJ(value: float) -> str:  # noqa: N802
    if abs(value) >= 1000:
        return f"{significant(value / 1000)} MJ"
    return f"{significant(value)} kJ"


def _hours(minutes: float) -> str:
    return f"{significant(minutes / 60, 2)} h" if minutes >= 90 else f"{minutes:.0f} min"


def _of_reaction(heat: ReactionHeat) -> Iterator[str]:
    if heat.turn_kJ is None or heat.at_25_kJ is None:
        yield "heat of the reaction: not known, data lack for " + listed(
            heat.missing, "", none="some substance"
        )
        return
    sense = "gives" if heat.at_25_kJ < 0 else "takes"
    yield (
        f"reaction at 25 °C: {heat.turn_kJ:+.1f} kJ a turn × {significant(heat.turns)} mol = "
        f"{_kJ(heat.at_25_kJ)} ({sense} heat)"
    )
    away = heat.working_C - 25
    if heat.capacity_J_K is not None and heat.hot_kJ is not None and abs(away) > 1:
        yield (
            f"at {heat.working_C:.0f} °C: {heat.turn_kJ:+.1f} + ({heat.capacity_J_K:+.1f} J/K × "
            f"{away:.0f} K) = {heat.hot_kJ:+.1f} kJ a turn, {_kJ(heat.hot_kJ * heat.turns)}"
        )
    if heat.low_kJ is not None and heat.high_kJ is not None:
        yield f"sources disagree: {_kJ(heat.low_kJ)} to {_kJ(heat.high_kJ)}"
    for source in heat.sources:
        yield f"source: {source}"


def _of_dissolving(heat: HeatOfStep) -> Iterator[str]:
    for part in heat.dissolving.parts:
        yield _dissolved(part)
    if heat.dissolving.missing:
        lacking = [f"{name} dissolving" for name in heat.dissolving.missing]
        yield "not known, and left out: " + listed(lacking, "", none="some substance")


def _dissolved(part: Dissolved) -> str:
    sum_ = f"{part.each_kJ:+.1f} kJ/mol × {significant(part.moles)} mol = {_kJ(part.heat_kJ)}"
    if isinstance(part, Diluted):
        return (
            f"sulfuric acid diluted from {part.before:.2g} to {part.after:.3g} mol of water a mole "
            f"(Thomsen, from memory): {sum_}"
        )
    return f"{part.name} dissolving: {sum_}"


def _of_charge(warms: Warming) -> Iterator[str]:
    for p in warms.portions:
        yield (
            f"charged: {p.name} {significant(p.mass_g)} g × {significant(p.capacity_J_g_K)} J/(g K)"
            f" = {significant(p.capacity_J_K / 1000)} kJ/K ({p.how})"
        )


def _of_rise(warms: Warming) -> Iterator[str]:
    none = {
        "current": "the current drives it and sets its pace: no rise can be told",
        "air": "it goes as fast as air comes to it: no rise can be told",
        "no water": "the amounts hold no water, though the step is in solution: no rise",
        "stops": "it takes heat and is dry: it stops when it is not heated",
    }
    if warms.none in none:
        yield none[warms.none]
    if warms.rise_K is None or warms.given_kJ is None:
        return
    rise = f"{warms.rise_K:+.0f} K" if abs(warms.rise_K) >= 1 else "less than 1 K"
    yield (
        f"all at once and nothing lost: {_kJ(warms.given_kJ)} ÷ "
        f"{significant(warms.capacity_J_K / 1000)} kJ/K = {rise}, to "
        f"{warms.start_C + warms.rise_K:.0f} °C"
    )
    if warms.boils:
        yield f"it would boil, and {significant(warms.boiled_g)} g of water leave: replace them"


def _of_boiling(heat: HeatOfStep) -> Iterator[str]:
    off = heat.boil_off
    if off.grams is None or not (off.grams or off.on_purpose):
        return
    if off.at_most:
        why = off.why or "how far, the step says"
        yield f"water to boil off: at most all of {significant(off.free_g)} g; {why}"
    elif off.leave_g is not None:
        yield (
            f"water to boil off: {significant(off.free_g)} g of free water down to "
            f"{significant(off.leave_g)} g before crop {off.crop} = {significant(off.grams)} g"
        )
    elif off.grams:
        yield f"water that the heat drives off: {significant(off.grams)} g"
    if off.other_g is not None:
        yield f"by another solubility table: {significant(off.other_g)} g"


def _of_heating(heat: HeatOfStep) -> Iterator[str]:
    warms, off = heat.warming, heat.boil_off
    if heat.to_C > HOT_C:
        yield (
            f"to heat up: {significant(warms.capacity_J_K / 1000)} kJ/K × "
            f"{heat.to_C - warms.start_C:.0f} K = {_kJ(heat.heat_up_kJ)}"
        )
    if heat.evaporate_kJ:
        yield (
            f"to boil off: {significant(off.grams or 0.0)} g × {heat_capacity.VAPORISATION} kJ/g = "
            f"{_kJ(heat.evaporate_kJ)}"
        )
    if heat.take_up_kJ:
        yield f"the reaction takes up: {_kJ(heat.take_up_kJ)}"
    if needed := heat.needed_kJ:
        text = f"together {_kJ(needed)} = {significant(needed / 3600)} kWh"
        if heat.in_furnace:
            yield f"{text} into the charge; the kiln itself takes more"
        else:
            at = significant(needed / 3600 / heat.efficiency)
            yield f"{text}; at {heat.efficiency:.0%} {at} kWh"


def _of_time(heat: HeatOfStep) -> Iterator[str]:
    if heat.heater is None:
        return
    if heat.in_furnace:
        yield from _of_firing(heat, heat.heater)
    elif heat.needed_kJ is None or heat.heater.power_W is None:
        unknown = "heat is" if heat.needed_kJ is None else f"power of {heat.heater.name} is"
        yield f"time to heat: not known, the {unknown} not known"
    else:
        per = "" if heat.batches == 1 else f" ÷ {heat.batches} batches"
        yield (
            f"time to heat: {_kJ(heat.needed_kJ)}{per} ÷ ({significant(heat.heater.power_W)} W × "
            f"{heat.efficiency:.0%}) = {_hours(heat.heating_min or 0.0)}"
        )


def _of_firing(heat: HeatOfStep, heater: Heater) -> Iterator[str]:
    to_C, up = heat.working_C, heat.heating_min or 0.0
    ramp = heater.ramp_K_h or (KILN_RAMP_K_H if to_C > KILN_FROM_C else OVEN_RAMP_K_H)
    stated = "" if heater.ramp_K_h else ", common practice"
    yield (f"time to heat: ({to_C:.0f} − {ROOM_C:.0f}) K ÷ {ramp:.0f} K/h{stated} = {_hours(up)}")
    if heat.cooling_min:
        stated = "" if heater.cooling_min else " (10 to 14 h from 900 °C, common practice)"
        yield (f"time to cool to {TOUCH_C:.0f} °C, door shut: {_hours(heat.cooling_min)}{stated}")
    if heat.soak_min is not None:
        again = f", {heat.rounds} times" if heat.rounds > 1 else ""
        yield f"held hot: {_hours(heat.soak_min)}{again}"
    mains = heat.energy_kWh
    if mains and heat.hot_min and heater.power_W:
        batches = f" × {heat.batches} batches" if heat.batches > 1 else ""
        yield (
            f"from the mains {significant(heater.power_W / 1000)} kW × {DUTY:.0%} × "
            f"{_hours(heat.hot_min)}{batches} = {significant(mains)} kWh (a kiln draws about "
            f"{DUTY:.0%} of its power over ramp and soak, common practice)"
        )


def _of_furnace(heat: HeatOfStep) -> Iterator[str]:
    if heat.furnace is not None:
        yield f"furnace: {heat.furnace.verdict}: {furnace(heat.furnace)}"
    if heat.decomposition is not None:
        yield _of_gas_alone(heat.decomposition)


def _of_gas_alone(found: Decomposition) -> str:
    if found.low_C is None or found.high_C is None or found.margin_K is None:
        return f"gas at 1 bar: not known, data lack for {', '.join(_lacking(found))}"
    span = (
        f"about {found.low_C:.0f} °C"
        if found.high_C - found.low_C < 5
        else f"{found.low_C:.0f} to {found.high_C:.0f} °C"
    )
    return (
        f"the gases reach 1 bar together at {span}; the step works from {found.working_C:.0f} °C, "
        f"{found.margin_K:+.0f} K above"
    )
