"""Water along a route: what each step is charged with, and what goes on with its solution.

The amounts follow substances; here the water that a solution carries from step to step is followed
too, because it must be heated, boiled off or crystallised from.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.chem.formula import molar_mass
from routefinder.library import pot
from routefinder.library.densities import curve
from routefinder.library.library import Library
from routefinder.library.pot import WATER, is_water
from routefinder.vessel.course import mixed
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.stream import WATER as LIQUID
from routefinder.vessel.volume import volume_mL

LITTLE = 0.05  # g of other things a gram of product: above it the table's density says nothing


@dataclass(frozen=True)
class WaterOfStep:
    """Liquid water of one step, in grams.

    ``fed_g`` comes with this step's own feeds (water, crystal water, the water of solutions)
    without ``wash_g`` and without ``after_g``, which goes in when the reaction is over;
    ``carried_g`` comes with a solution made earlier; ``formed_g`` by the equation, less what it
    binds. ``onward_g`` leaves in the product's solution (0 when the product is none).
    """

    fed_g: float
    wash_g: float
    carried_g: float
    formed_g: float
    onward_g: float
    after_g: float = 0.0

    @property
    def charged_g(self) -> float:
        """What is in the vessel before the step: fed and carried."""
        return self.fed_g + self.carried_g

    @property
    def left_g(self) -> float:
        """What is in the vessel after the reaction, washes not counted; never below 0."""
        return max(self.charged_g + self.formed_g, 0.0) + self.after_g


@dataclass(frozen=True)
class InPot:
    """How strong a dissolved feed stands in the vessel before the reaction, and what is asked.

    All are mass fractions. ``alone``: with the water poured in and what it brings itself;
    ``among``: with all the water there is (``library.pot``). ``most`` is None when the step names
    no upper end.
    """

    substance: str
    alone: float
    among: float
    least: float
    most: float | None

    @property
    def too_strong(self) -> bool:
        """Whether it stands above what the step allows, by more than a thousandth."""
        return self.most is not None and self.alone > self.most + 1e-3

    @property
    def too_weak(self) -> bool:
        """Whether it stands below what the step asks for, by more than a thousandth."""
        return self.among < self.least - 1e-3


@dataclass(frozen=True)
class Liquor:
    """The solution that a step makes: ``strength`` is the product's mass fraction in it.

    ``others_g`` is what else is dissolved; nothing is known of what stays as a solid.
    ``mol_per_L`` is by the volume of all that is in it (``vessel.volume``); ``about``: no table has
    its density, or other things are dissolved beside it.
    """

    substance: str
    mass_g: float
    water_g: float
    others_g: float
    mol_per_L: float
    about: bool

    @property
    def total_g(self) -> float:
        """The whole solution."""
        return self.mass_g + self.water_g + self.others_g

    @property
    def strength(self) -> float:
        """Mass fraction of the product, without crystal water."""
        return self.mass_g / self.total_g if self.total_g else 0.0


def in_pot(library: Library, amount: StepAmounts, water: WaterOfStep) -> tuple[InPot, ...]:
    """The strength in the pot of every dissolved reactant that its step speaks of."""
    step = amount.step
    others = pot.called(library, step).other_g * amount.turns
    poured = sum(
        f.mass_g - f.from_solution_g
        for f in amount.feeds
        if is_water(library, f.substance) and f.role != "wash" and not f.after
    )
    out = []
    for name in dict.fromkeys((*step.strength, *step.at_most)):
        own = [f for f in amount.feeds if f.role == "reactant" and f.substance == name]
        mass = sum(f.mass_g for f in own)
        brought = sum(f.water_g for f in own) + _carried_g(amount, name)
        alone = pot.strength(mass, poured + brought + others)
        among = pot.strength(mass, water.charged_g + others)
        least, most = step.strength.get(name, 0.0), step.at_most.get(name)
        out.append(InPot(name, alone, among, least, most))
    return tuple(out)


def _carried_g(amount: StepAmounts, substance: str) -> float:
    """Water that comes with a reactant from an earlier step's solution."""
    brought = amount.brought.get(substance)
    return 0.0 if brought is None else float(brought.grams(*LIQUID))


def liquor(library: Library, amount: StepAmounts) -> Liquor | None:
    """The solution a step makes; None when its product is none or has no water to be in."""
    product = amount.product
    made = amount.course.product
    water = float(made.grams(*LIQUID))
    if product.state != "aq" or water <= 0:
        return None
    others = float(made.liquor_g) - water - product.mass_g
    root = library.root(product.substance)
    litres = volume_mL(library, made.only("l", "aq")) / 1000
    molar = product.mass_g / library.substances[root].molar_mass_g / litres
    found = curve(library, root).at(product.mass_g / (product.mass_g + water))
    about = others > LITTLE * product.mass_g or found is None or not found.from_table
    return Liquor(product.substance, product.mass_g, water, others, molar, about)


def liquors(library: Library, found: Amounts) -> dict[str, Liquor]:
    """The solutions that the steps of a route make, by step id."""
    made = {a.step.id: liquor(library, a) for a in found.steps}
    return {name: one for name, one in made.items() if one is not None}


def pots_of_steps(library: Library, found: Amounts) -> dict[str, tuple[InPot, ...]]:
    """The strengths in the pot of every step of a route, by step id."""
    waters = water_of_steps(library, found)
    return {a.step.id: in_pot(library, a, waters[a.step.id]) for a in found.steps}


def water_of_step(library: Library, amount: StepAmounts) -> WaterOfStep:
    """Water of one step as its course has it, by where it comes from and where it goes."""
    charge = amount.course.charge
    charged = float(mixed(library, amount.step, amount.course).grams(*LIQUID))
    carried = float(amount.along.grams(*LIQUID))
    onward = 0.0
    if amount.step.main.state == "aq":
        onward = float(amount.course.product.grams(*LIQUID))
    return WaterOfStep(
        charged - carried, float(charge.wash.grams(*LIQUID)), carried, _formed_g(library, amount),
        onward, float(charge.after.grams(*LIQUID)),
    )  # fmt: skip


def water_of_steps(library: Library, found: Amounts) -> dict[str, WaterOfStep]:
    """Water of every step of a route, by step id."""
    return {amount.step.id: water_of_step(library, amount) for amount in found.steps}


def _formed_g(library: Library, amount: StepAmounts) -> float:
    if amount.step.is_recipe:
        return 0.0
    total = 0.0
    for sign, parts in ((-1, amount.step.reactants), (1, amount.step.products)):
        for part in parts:
            if is_water(library, part.substance) and part.state != "g":
                total += sign * part.moles * amount.turns
    return total * molar_mass(WATER)
