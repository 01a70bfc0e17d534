"""What heats a step on a bench, and how long it takes.

A heater's efficiency is 50 % unless said (an open pot on a plate; common practice: a plate boils
off 0.7 to 0.9 L an hour per kW). A kiln or an oven that holds itself draws 40 % of its rated power
over ramp and soak (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from routefinder.errors import InputError
from routefinder.hazards.heaters import heat_needs
from routefinder.hazards.set_up import set_up
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool
from routefinder.vessel.durations import Heating, furnace_heating

EFFICIENCY = 0.5
DUTY = 0.4  # of its rated power, over ramp and soak


@dataclass(frozen=True)
class Heater:
    """What heats a step: a tool of the bench (or one of 1 kW assumed), W, and its kind.

    ``kind`` is the capability: heat-liquid, heat-dry or open-flame. ``power_W`` None: not stated.
    ``name`` is "" for one that is assumed.
    """

    name: str
    kind: str
    reach_C: float | None
    power_W: float | None
    ramp_K_h: float | None
    cooling_min: float | None

    @property
    def assumed(self) -> bool:
        """Whether no bench was given, and one of some power is taken for granted."""
        return not self.name

    @property
    def for_liquids(self) -> bool:
        """Whether it heats a liquid, by its power; any other by its ramp."""
        return self.kind == "heat-liquid"


def heater_minutes(needed_kJ: float, power_W: float, efficiency: float = EFFICIENCY) -> float:
    """Minutes a heater takes: heat / (power x efficiency). Raises InputError on a senseless one."""
    if power_W <= 0 or not 0 < efficiency <= 1:
        raise InputError("a heater needs a power above 0 and an efficiency above 0 and up to 100 %")
    return needed_kJ * 1000 / (power_W * efficiency) / 60


def heater_of(
    library: Library, step: ResolvedStep, bench: Bench | None, power_W: float | None = None
) -> Heater | None:
    """The tool that heats the step; an assumed one of 1 kW without a bench; None when cold.

    ``power_W`` is that of the heater for liquids, instead of what the bench says.
    """
    need = next(iter(heat_needs(step)), None)
    if need is None:
        return None
    if bench is None:
        found = Heater("", need.name, None, 1000.0, None, None)
    else:
        tool = set_up(library, step, bench).heater
        if tool is None:
            return None
        found = _as_heater(tool, need)
    if power_W is not None and found.for_liquids:
        found = replace(found, power_W=power_W)
    return found


def _as_heater(tool: Tool, need: Capability) -> Heater:
    offers = [o for o in tool.offers if o.name == need.name]
    offer = next((o for o in offers if o.serves(need)), offers[0])
    return Heater(
        tool.name, need.name, offer.limit("to"), offer.limit("power"), offer.limit("ramp"),
        offer.limit("cooling"),
    )  # fmt: skip


def heating(
    heater: Heater | None,
    working_C: float,
    up_kJ: float,
    boil_kJ: float | None,
    efficiency: float,
    batches: int,
) -> Heating | None:
    """What one batch takes on its heater; None where heat or power are not known.

    A furnace goes by its ramp; ``boil_kJ`` None: nobody knows what must be boiled off.
    """
    if heater is None:
        return None
    if not heater.for_liquids:
        return furnace_heating(working_C, heater.kind, heater.ramp_K_h, heater.cooling_min)
    if boil_kJ is None or heater.power_W is None:
        return None
    up, boil = (heater_minutes(kJ / batches, heater.power_W, efficiency) for kJ in (up_kJ, boil_kJ))
    return Heating(up, boil)
