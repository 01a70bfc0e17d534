"""Water along a route: what each step is charged with, and what goes on with its solution.

The amounts follow substances; here the water that a solution carries from step to step is followed
too, because it must be heated, boiled off or crystallised from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.chem.formula import molar_mass
from routefinder.library.library import Library
from routefinder.vessel.step_amounts import Amounts, StepAmounts

WATER = "H2O"


@dataclass(frozen=True)
class WaterOfStep:
    """Liquid water of one step, in grams.

    ``fed_g`` comes with this step's own feeds (water, crystal water, the water of solutions)
    without ``wash_g``; ``carried_g`` with a solution made earlier; ``formed_g`` by the equation,
    less what it binds. ``onward_g`` leaves in the product's solution (0 when the product is none).
    """

    fed_g: float
    wash_g: float
    carried_g: float
    formed_g: float
    onward_g: float

    @property
    def charged_g(self) -> float:
        """What is in the vessel before the step: fed and carried."""
        return self.fed_g + self.carried_g

    @property
    def left_g(self) -> float:
        """What is in the vessel after the reaction, washes not counted; never below 0."""
        return max(self.charged_g + self.formed_g, 0.0)


def is_water(library: Library, substance: str) -> bool:
    """Whether a substance is water itself."""
    return library.substances[substance].formula == WATER


def water_of_step(
    library: Library,
    amount: StepAmounts,
    made: Mapping[str, StepAmounts],
    done: Mapping[str, WaterOfStep],
) -> WaterOfStep:
    """Water of one step; ``made`` and ``done`` hold the earlier steps and their water."""
    fed = wash = carried = 0.0
    for feed in amount.feeds:
        if feed.from_solution:
            continue  # it is in what is carried
        own = feed.mass_g if is_water(library, feed.substance) else feed.water_g
        if feed.role == "wash":
            wash += own
        else:
            fed += own
        if isinstance(feed.origin, str):
            share = _share(made[feed.origin], feed.form, feed.moles)
            carried += share * done[feed.origin].onward_g
    formed = _formed_g(library, amount)
    liquid = max(fed + carried + formed, 0.0) + wash
    onward = liquid if amount.step.main.state == "aq" else 0.0
    return WaterOfStep(fed, wash, carried, formed, onward)


def water_of_steps(library: Library, found: Amounts) -> dict[str, WaterOfStep]:
    """Water of every step of a route, by step id."""
    out: dict[str, WaterOfStep] = {}
    made = {amount.step.id: amount for amount in found.steps}
    for amount in found.steps:
        out[amount.step.id] = water_of_step(library, amount, made, out)
    return out


def _share(maker: StepAmounts, form: str, moles: float) -> float:
    """Which part of an earlier step's solution a feed takes."""
    product = maker.product
    if product.substance != form or product.state != "aq" or product.moles <= 0:
        return 0.0
    return min(moles / product.moles, 1.0)


def _formed_g(library: Library, amount: StepAmounts) -> float:
    if amount.step.is_recipe:
        return 0.0
    total = 0.0
    for sign, parts in ((-1, amount.step.reactants), (1, amount.step.products)):
        for part in parts:
            if is_water(library, part.substance) and part.state != "g":
                total += sign * part.moles * amount.turns
    return total * molar_mass(WATER)
