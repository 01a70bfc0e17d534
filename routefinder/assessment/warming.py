"""How hot a charge would get by its own heat, all at once and nothing lost.

    adiabatic rise      - (heat) / sum(m c) of everything in the vessel
    boiled off by it    (heat - sum(m c) (100 - start)) / 2.257 kJ/g, when the rise passes 100 degC

What is in the vessel is its course's charge, dissolved (``vessel.course.mixed``). Defaults of heat
capacities stand in ``chem/heat_capacity.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.chem import heat_capacity
from routefinder.chem.heat_capacity import Portion
from routefinder.library.heat import formation_of
from routefinder.library.library import Library
from routefinder.library.resolve import Part
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.stream import WATER, Stream

BOILING_C = 100.0
PORTIONS_K = 20.0  # a rise above it asks for adding in portions


@dataclass(frozen=True)
class Warming:
    """What a charge's own heat does to it.

    ``portions`` are what is in the vessel; ``given_kJ`` the heat it gives (None: not known).
    ``rise_K`` is the adiabatic rise, ``reaches_C`` where it ends (100 when the water would boil),
    ``boiled_g`` the water that would leave then. ``none`` says why there is no rise: "not known",
    "current" (it sets the pace), "air" (as fast as air comes to it), "no water", "stops" (dry, and
    takes heat); "" where there is one. ``boils``: its water would.
    """

    portions: tuple[Portion, ...]
    start_C: float
    given_kJ: float | None
    rise_K: float | None = None
    reaches_C: float | None = None
    boiled_g: float = 0.0
    boils: bool = False
    none: str = ""

    @property
    def capacity_J_K(self) -> float:  # noqa: N802
        """Heat capacity of everything charged."""
        return heat_capacity.total_J_K(self.portions)


def boiled_by_heat_g(heat_kJ: float, capacity_J_K: float, start_C: float, water_g: float) -> float:
    """Water that a heat given off at once boils away, g; 0 when it does not reach 100 degC.

    ``heat_kJ`` above 0 is given off. No more than the water there is.
    """
    over = heat_kJ - capacity_J_K * (BOILING_C - start_C) / 1000
    return min(max(over / heat_capacity.VAPORISATION, 0.0), water_g)


def portions(library: Library, stream: Stream) -> tuple[Portion, ...]:
    """The parts of a stream with their heat capacities: water first, gases left out.

    What has no substance counts together, as "impurities".
    """
    out: list[Portion] = []
    water = float(stream.grams(*WATER))
    if water > 0:
        out.append(Portion("water", water, heat_capacity.WATER, "table"))
    rest = 0.0
    for (what, phase), grams in stream.parts.items():
        if (what, phase) == WATER or phase == "g" or grams <= 0:
            continue
        substance = library.substances.get(what)
        if substance is None:
            rest += float(grams)
            continue
        # of what is dissolved the tables' capacity is that of ions without water: not used
        known = None if phase == "aq" else formation_of(library, Part(what, 1.0, phase))
        table = known.capacity_J_K if known is not None else None
        capacity, how = heat_capacity.capacity_J_g_K(substance.parsed, phase, table)
        out.append(Portion(substance.name, float(grams), capacity, how))
    if rest > 1e-9:
        out.append(Portion("impurities", rest, heat_capacity.NO_FORMULA, "default 1 J/(g K)"))
    return tuple(out)


def warming(
    library: Library,
    amount: StepAmounts,
    charged: Stream,
    free_g: float,
    given_kJ: float | None,
    start_C: float,
) -> Warming:
    """What ``given_kJ`` does to ``charged`` when it all comes at once; ``free_g`` can boil away."""
    inside = portions(library, charged)
    step = amount.step
    capacity = heat_capacity.total_J_K(inside)
    if given_kJ is None or capacity <= 0:
        return Warming(inside, start_C, given_kJ, none="not known")
    water = float(charged.grams(*WATER))
    wet = any(p.state == "aq" for p in (*step.reactants, *step.products))
    none = ""
    if step.record.kind == "electrolysis":
        none = "current"
    elif any(library.substances[p.substance].formula == "O2" for p in step.reactants):
        none = "air"
    elif wet and water <= 0:
        none = "no water"
    elif given_kJ < 0 and water <= 0:
        none = "stops"
    if none:
        return Warming(inside, start_C, given_kJ, none=none)
    rise = given_kJ * 1000 / capacity
    reaches = start_C + rise
    if water <= 0 or reaches <= BOILING_C:
        return Warming(inside, start_C, given_kJ, rise, reaches)
    boiled = boiled_by_heat_g(given_kJ, capacity, start_C, free_g)
    return Warming(inside, start_C, given_kJ, rise, BOILING_C, boiled, boils=True)
