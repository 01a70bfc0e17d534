"""What is left over, and how well mass is used: E-factor, mass intensity, atom economy.

E-factor = mass of everything that goes in and is neither the product nor recovered / mass of
product (Sheldon; with and without water). Process mass intensity = mass of everything that goes in
/ mass of product; it is the E-factor + 1 when nothing is recovered. Atom economy = molar mass of
the product / molar masses of all that the equations take for it, each as often as it is taken
(Trost 1991, from memory). Reaction mass efficiency = mass of product / mass of the reactants as
pure (Constable, Curzons and Cunningham, Green Chem. 2002, 4, 521-527, from memory). Of air only the
oxygen that reacts is counted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from routefinder.assessment.reasoning import Reason, number
from routefinder.library.library import Library
from routefinder.vessel.feed import Feed
from routefinder.vessel.flow import flow_of
from routefinder.vessel.step_amounts import Amounts, StepAmounts

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


def _air(feed: Feed) -> bool:
    """Whether a feed is drawn from the air, whose nitrogen only passes through."""
    supply = feed.origin
    return not isinstance(supply, str) and supply.form == "gas" and supply.everywhere


def _reacts_g(amount: StepAmounts, feed: Feed) -> float:
    """Grams of a gas of the air that really react."""
    return sum(float(p.taken.grams(feed.substance, "g")) for p in amount.course.points)


@dataclass(frozen=True)
class MassUse:
    """How well mass is used; per gram of target, ``mass_in_g`` for the asked amount.

    ``atom_economy`` and ``reaction_mass_efficiency`` are fractions; None where a step is a recipe
    by mass, which has no equation.
    """

    mass_in_g: float
    intensity: float
    intensity_without_water: float
    atom_economy: float | None
    reaction_mass_efficiency: float | None


def mass_use(library: Library, found: Amounts) -> MassUse:
    """Mass intensity, atom economy and reaction mass efficiency of a route."""
    total = water = reacts = 0.0
    for amount in found.steps:
        for feed in amount.feeds:
            if isinstance(feed.origin, str):
                continue
            grams = _reacts_g(amount, feed) if _air(feed) else feed.drawn_g
            total += grams
            plain = feed.mass_g - feed.from_solution_g if feed.substance == WATER else 0.0
            water += feed.water_g + plain
            reacts += feed.mass_g if feed.role == "reactant" else 0.0
    economy = efficiency = None
    if not any(s.step.is_recipe for s in found.steps):
        economy = found.target_g / _equations_g(library, found)
        efficiency = found.target_g / reacts
    return MassUse(
        total, total / found.target_g, (total - water) / found.target_g, economy, efficiency
    )


def _equations_g(library: Library, found: Amounts) -> float:
    """Grams that the equations take from the shelf for the target, nothing lost or in excess."""
    flow = flow_of(library, found, ideal=True)
    turns = flow.turns([1.0] * len(flow.steps))
    total = 0.0
    for turn, amount in zip(turns, found.steps, strict=True):
        for part, feed in zip(amount.step.reactants, amount.feeds, strict=False):
            if not isinstance(feed.origin, str):
                molar = library.substances[part.substance].molar_mass_g
                total += part.moles * float(turn) * molar
    return total


def reasons(library: Library, found: Amounts) -> tuple[Reason, ...]:
    """The arithmetic behind E-factor, mass intensity and atom economy."""
    left, used = waste(found), mass_use(library, found)
    target = f"{number(found.target_g)} g"
    dry = left.e_factor_without_water * found.target_g
    lines = [
        f"E-factor, without water: {number(dry)} g / {target} = "
        f"{number(left.e_factor_without_water)}",
        f"E-factor, with water: ({number(dry)} g + {number(left.water_g)} g) / {target} = "
        f"{number(left.e_factor)}",
        f"mass intensity: {number(used.mass_in_g)} g / {target} = {number(used.intensity)}",
    ]
    if used.atom_economy is not None:
        lines.append(f"atom economy: {target} / {number(found.target_g / used.atom_economy)} g = "
                     f"{number(used.atom_economy)}")  # fmt: skip
    return (Reason("waste", "What is left over", tuple(lines)),)


def waste(found: Amounts) -> Waste:
    """Leavings and E-factors of a route."""
    sums: dict[tuple[str, str, str], list[float]] = {}
    water = 0.0
    other = 0.0
    for amount in found.steps:
        other += amount.unnamed_g
        # what goes along with an intermediate is left over where it leaves; with the target, and
        # with product that nothing takes, it is what came in and is no product
        over = 1.0 if amount.step.id == found.last else amount.over_share
        other += amount.unnamed_onward_g * over
        left = [o for o in amount.outcomes if o.fate not in {"product", "used", "surplus", "along"}]
        left += [
            replace(o, moles=o.moles * over, mass_g=o.mass_g * over)
            for o in amount.outcomes
            if o.fate == "along" and over
        ]
        for outcome in (*left, *amount.kept):
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
