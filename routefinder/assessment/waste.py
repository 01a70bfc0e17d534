"""What is left over: E-factor and leavings.

E-factor = mass of everything that goes in and is neither the product nor recovered / mass of
product (Sheldon; with and without water). Process mass intensity = E-factor + 1 when nothing is
recovered.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment.amounts import Amounts

WATER = "water"


@dataclass(frozen=True)
class Leaving:
    """One substance left over from a route: solid, liquid, in solution, or gas."""

    substance: str
    state: str
    moles: float
    mass_g: float
    kind: str


@dataclass(frozen=True)
class Waste:
    """Leavings of a route and its E-factors."""

    leavings: tuple[Leaving, ...]
    e_factor: float
    e_factor_without_water: float
    water_g: float


def waste(found: Amounts) -> Waste:
    """Leavings and E-factors of a route."""
    sums: dict[tuple[str, str, str], list[float]] = {}
    water = 0.0
    other = 0.0
    for amount in found.steps:
        other += amount.companions_g - amount.companion_water_g
        water += amount.companion_water_g
        for outcome in amount.outcomes:
            if outcome.fate in {"product", "used"}:
                continue
            key = (outcome.substance, outcome.state, outcome.fate)
            entry = sums.setdefault(key, [0.0, 0.0])
            entry[0] += outcome.moles
            entry[1] += outcome.mass_g
            if outcome.fate == "surplus":
                continue
            if outcome.substance == WATER:
                water += outcome.mass_g
            else:
                other += outcome.mass_g
    leavings = tuple(
        Leaving(substance, state, moles, mass, fate)
        for (substance, state, fate), (moles, mass) in sums.items()
        if mass > 1e-9
    )
    product = found.target_g
    return Waste(leavings, (other + water) / product, other / product, water)
