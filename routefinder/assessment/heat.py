"""Heat of each step with its amounts: what it gives or takes, how hot it may get, what it burns.

    heat of the step    ``reaction_heat``: the equation, and apart from it what dissolves first
    rise                ``warming``: all at once, none lost
    to heat and boil    sum(m c) (T - start) + 2.257 kJ/g x water + heat taken up, by the heater's
                        power x efficiency (``heater``)
    furnace             ``furnace``: hot enough, and where the gas comes off by itself

What is in the vessel, and what evaporates, is read off the step's course. Heat that a reaction
gives is never counted on for heating; heat that it takes is. What is not known is None and says
which substance lacks data; where sources disagree the range is given. Words: ``view.heat_words``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.assessment.crystals import CrystalsOfStep, crystals_of_step
from routefinder.assessment.furnace import (
    Decomposition,
    Furnace,
    decomposition,
    furnace_verdict,
)
from routefinder.assessment.heater import DUTY, EFFICIENCY, Heater, heater_of, heating
from routefinder.assessment.reaction_heat import (
    Dissolving,
    ReactionHeat,
    dissolving,
    reaction_heat,
)
from routefinder.assessment.warming import (
    BOILING_C,
    PORTIONS_K,
    Warming,
    warming,
)
from routefinder.chem import heat_capacity
from routefinder.errors import InputError
from routefinder.hazards.attendance import HOT_C
from routefinder.library.crops import boils_down
from routefinder.library.library import Library
from routefinder.records.shelf import Bench
from routefinder.vessel.course import mixed
from routefinder.vessel.durations import Heating, StepTimes, cell_min, fired, times_of
from routefinder.vessel.kiln import ROOM_C
from routefinder.vessel.stages import is_dry_heat
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.stream import WATER
from routefinder.vessel.water import WaterOfStep, water_of_steps

BOILED = frozenset(
    {"heat", "hold", "boil down", "distil"}
)  # stages whose steam a heater drives off


@dataclass(frozen=True)
class BoilOff:
    """Water that a heater drives off, in grams of all batches; ``grams`` None: not known.

    ``on_purpose``: the step boils it down. ``other_g`` is the end by another solubility table,
    ``at_most`` when it is only an upper bound: all the free water ``free_g``, because ``why`` ("":
    the step itself says how far). With crops, ``leave_g`` of water are left before crop ``crop``.
    """

    grams: float | None
    free_g: float
    on_purpose: bool = True
    other_g: float | None = None
    at_most: bool = False
    why: str = ""
    leave_g: float | None = None
    crop: int = 0


@dataclass(frozen=True)
class HeatOfStep:
    """The heat of one step of a route; kJ, grams, K and minutes of all its batches together.

    ``boil_off`` is the water to be boiled off on purpose, or that a furnace drives off;
    ``heat_up_kJ`` brings the charge to ``to_C``, ``take_up_kJ`` is what the reaction takes (None:
    not known). ``heating`` is what the heater takes for one batch (None without one of known
    power), ``times`` the time of one batch with it. ``minds`` are what is to be minded:
    "no capacity" (the heat is that at 25 degC), "no water", "boils", "own heat" (dry), "warms".
    """

    step: str
    reaction: ReactionHeat
    dissolving: Dissolving
    warming: Warming
    boil_off: BoilOff
    to_C: float
    heat_up_kJ: float
    evaporate_kJ: float | None
    take_up_kJ: float | None
    heater: Heater | None
    efficiency: float
    batches: int
    heating: Heating | None
    times: StepTimes
    decomposition: Decomposition | None
    furnace: Furnace | None
    minds: tuple[str, ...] = ()

    @property
    def working_C(self) -> float:  # noqa: N802
        """What the step is heated to."""
        return self.reaction.working_C

    @property
    def boil_off_g(self) -> float | None:
        """Grams of water to be boiled off on purpose; None: not known."""
        return self.boil_off.grams if self.boil_off.on_purpose else 0.0

    @property
    def heating_min(self) -> float | None:
        """Minutes of heating a batch, boiling off besides; 0 in the cold, None when not known."""
        if self.heating is None:
            return 0.0 if self.heater is None and self.working_C <= HOT_C else None
        return self.heating.up_min + self.heating.boil_min

    @property
    def cooling_min(self) -> float:
        """Minutes of cooling of a furnace with its door shut."""
        return 0.0 if self.heating is None else self.heating.down_min

    @property
    def soak_min(self) -> float | None:
        """How long one round in a furnace is held; None for any other step."""
        return self.times.soak_min if self.in_furnace else None

    @property
    def rounds(self) -> int:
        """How often it is fired."""
        return self.times.rounds

    @property
    def in_furnace(self) -> bool:
        """Whether a furnace or a flame heats it dry."""
        return self.heater is not None and not self.heater.for_liquids

    @property
    def firing_min(self) -> float | None:
        """All firings of one batch from cold to cold; None where nothing is fired by stages."""
        if self.soak_min is None or self.heating_min is None:
            return None
        return self.rounds * (self.heating_min + self.soak_min + self.cooling_min)

    @property
    def needed_kJ(self) -> float | None:  # noqa: N802
        """Heat to bring in: heating up, boiling off, and what the reaction takes up."""
        if self.evaporate_kJ is None:
            return None
        return self.heat_up_kJ + self.evaporate_kJ + (self.take_up_kJ or 0.0)

    @property
    def hot_min(self) -> float | None:
        """Minutes that a furnace is on for one batch, all rounds; None when not known."""
        if self.heating_min is None:
            return None
        return (self.heating_min + (self.soak_min or 0.0)) * self.rounds

    @property
    def energy_kWh(self) -> float | None:  # noqa: N802
        """What the meter counts for all batches, losses included; None when it is not known.

        A kiln heats mostly itself: of its power 40 % over ramp and soak, in every round.
        """
        needed = self.needed_kJ
        if self.heater is not None and self.in_furnace:
            if self.heater.power_W is None or self.heater.assumed or self.hot_min is None:
                return None
            return self.heater.power_W / 1000 * DUTY * self.hot_min / 60 * self.batches
        return None if needed is None else needed / self.efficiency / 3600


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
    charged = mixed(library, step, amount.course)
    reaction = reaction_heat(library, amount)
    first = dissolving(library, amount, float(charged.grams(*WATER)))
    given = None if reaction.at_25_kJ is None else -(reaction.at_25_kJ + first.heat_kJ)
    crops = crystals_of_step(library, amount, water, bench)
    free = _free_g(amount, crops)
    warms = warming(library, amount, charged, free, given, start_C)
    off = _boil_off(amount, crops, free)
    to_C = reaction.working_C
    if off.on_purpose and off.grams:
        to_C = max(to_C, BOILING_C)
    hot = to_C > HOT_C
    heat_up = max(warms.capacity_J_K * (to_C - start_C) / 1000, 0.0) if hot else 0.0
    evaporate = None if off.grams is None else off.grams * heat_capacity.VAPORISATION
    take_up: float | None = 0.0
    if reaction.enthalpy_kJ is None:
        take_up = None
    elif hot:
        take_up = max(reaction.enthalpy_kJ, 0.0)
    heater = heater_of(library, step, bench, power_W)
    spent = heating(
        heater, reaction.working_C, heat_up + (take_up or 0.0), evaporate, efficiency, batches
    )
    found = None if step.record.kind == "electrolysis" else decomposition(library, step)
    return HeatOfStep(
        step.id, reaction, first, warms, off, to_C, heat_up, evaporate, take_up, heater,
        efficiency, batches, spent,
        times_of(library, step, spent, cell_min(library, amount.course, batches)),
        found, furnace_verdict(step, bench, found, heater) if fired(step) else None,
        tuple(_minds(amount, reaction, warms)),
    )  # fmt: skip


def _free_g(amount: StepAmounts, crops: CrystalsOfStep | None) -> float:
    """Free water in the vessel when the equation has run, g; not what all crystals would bind."""
    if crops is not None:
        return crops.free_water_g
    course = amount.course
    return max(float(course.points[course.stages.reacts].contents.grams(*WATER)), 0.0)


def _boil_off(amount: StepAmounts, crops: CrystalsOfStep | None, free: float) -> BoilOff:
    """Water that is boiled off: down to the crops, as the course has it, or at most all of it."""
    boils = boils_down(amount.step)
    if crops is None or not crops.answers:
        steam = sum(
            float(point.left["steam"].grams(*WATER))
            for point in amount.course.points
            if point.stage.kind in BOILED and "steam" in point.left
        )
        if steam > 0 or not boils:
            return BoilOff(steam, free, boils)
        return BoilOff(free, free, at_most=True, why="" if crops is None else crops.why)
    first = crops.answers[0].boil_off_g
    if not first or (crops.answers[0].to_leaves and not boils):  # a dish dries up by itself
        return BoilOff(0.0, free, boils)
    other = max((a.boil_off_g for a in crops.answers), key=lambda g: abs(g - first))
    last = crops.answers[0].crops[-1]
    return BoilOff(
        first, free, other_g=other if other != first else None,
        leave_g=last.liquor_water_g, crop=last.number,
    )  # fmt: skip


def _minds(amount: StepAmounts, reaction: ReactionHeat, warms: Warming) -> list[str]:
    """What is to be minded of the heat, as codes."""
    out = []
    far = abs(reaction.working_C - 25) > 100
    if far and reaction.turn_kJ is not None and (
        reaction.capacity_J_K is None or reaction.hot_kJ is None
    ):  # fmt: skip
        out.append("no capacity")
    if warms.none == "no water":
        out.append("no water")
    if warms.rise_K is None:
        return out
    if warms.boils:
        out += ["boils"] if _put_to_liquid(amount) else []
    elif warms.rise_K > PORTIONS_K and is_dry_heat(amount.step):
        out.append("own heat")
    elif warms.rise_K > PORTIONS_K and _put_to_liquid(amount):
        out.append("warms")
    return out


def _put_to_liquid(amount: StepAmounts) -> bool:
    """Whether something is put to a liquid: not a dry charge, nor one solution by itself."""
    put_in = [
        f for f in amount.feeds if f.drawn_g > 1e-9 and f.role not in {"wash", "drying agent"}
    ]
    wet = any(p.state in {"aq", "l"} for p in amount.step.reactants) or any(
        f.substance == WATER[0] for f in put_in
    )
    return wet and len(put_in) > 1


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
