"""Whether a bench's furnace is hot enough for a dry heat, and where its gas comes off by itself."""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment.heater import Heater
from routefinder.chem import thermo
from routefinder.hazards.heaters import FURNACE_MARGIN, heat_needs
from routefinder.library.heat import formation_of, step_heat
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench

CELSIUS = 273.15


@dataclass(frozen=True)
class Decomposition:
    """Where a dry step's gases reach 1 bar together, and whether the furnace gets there.

    ``low_C`` and ``high_C`` are two readings: heat capacities constant, and left out.
    ``working_C`` is what the step asks for; ``margin_K`` lies between (an equilibrium temperature
    is no working temperature: below it nothing happens, and at it only slowly). All None when
    data lack: ``missing`` names substances, ``no_entropy`` those of which only the entropy lacks;
    neither when it lies beyond 3700 degC.
    """

    low_C: float | None
    high_C: float | None
    working_C: float
    margin_K: float | None
    missing: tuple[str, ...] = ()
    no_entropy: tuple[str, ...] = ()


@dataclass(frozen=True)
class Furnace:
    """Whether the bench reaches a step's temperature: "yes", "marginal", "no" or "not known".

    ``case`` says why: "no bench", "none" (nothing heats a dry solid), "reaches", "little to spare",
    "no control" (it gets there, and nothing holds it in a window ``width_K`` wide), "by its gas"
    (below the step, but the gas has 1 bar from ``gas_C``), "too cold".
    """

    verdict: str
    case: str
    tool: str | None
    reach_C: float | None
    needed_C: float
    width_K: float = 0.0
    gas_C: float | None = None


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
    need = next(iter(heat_needs(step)), None)
    window = step.record.temperature
    needed = step.least_C
    width = window.high_C - window.low_C
    if bench is None or need is None:
        return Furnace("not known", "no bench", None, None, needed)
    offers = [
        (offer.limit("to") or 0.0, tool.name)
        for tool in bench.tools
        for offer in tool.offers
        if offer.name == need.name and (heater is None or heater.name == tool.name)
    ]
    if not offers:
        return Furnace("no", "none", None, None, needed)
    reach, name = max(offers)
    gas = found.low_C if found is not None else None
    verdict, case = "no", "too cold"
    if reach >= needed + FURNACE_MARGIN:
        verdict, case = "yes", "reaches"
        if width < 2 * FURNACE_MARGIN and reach > window.high_C and not _held(bench, name):
            verdict, case = "marginal", "no control"
    elif reach >= needed:
        verdict, case = "marginal", "little to spare"
    elif gas is not None and reach >= gas + FURNACE_MARGIN:
        verdict, case = "marginal", "by its gas"
    return Furnace(verdict, case, name, reach, needed, width, gas)


def _held(bench: Bench, name: str) -> bool:
    """Whether the furnace, or something else at hand, holds a temperature."""
    own = any(o.name == "hold-temperature" for t in bench.tools if t.name == name for o in t.offers)
    return own or bench.serving(Capability(name="hold-temperature")) is not None


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
    if change is None or change.enthalpy_kJ is None or change.entropy_J_K is None:
        lacking = () if found.missing else _no_entropy(library, step)
        return Decomposition(None, None, working, None, found.missing, lacking)
    at_298 = thermo.gibbs_kJ(change, thermo.ROOM, 1.0)
    if at_298 is not None and at_298 <= 0:
        room = thermo.ROOM - CELSIUS
        return Decomposition(room, room, working, working - room)
    tried = [thermo.crossing_K(change.without_capacity(), 1.0)]
    if change.capacity_J_K is not None:
        tried.append(thermo.crossing_K(change, 1.0))
    known = [t - CELSIUS for t in tried if t is not None]
    if not known:
        return Decomposition(None, None, working, None)
    low, high = min(known), max(known)
    return Decomposition(low, high, working, working - high)


def _no_entropy(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    out = []
    for part in (*step.reactants, *step.products):
        found = formation_of(library, part)
        if found is not None and found.entropy_J_K is None:
            out.append(library.name(part.substance))
    return tuple(out)
