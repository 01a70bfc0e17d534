"""Orders of routes: what each step costs in the search, and how found routes are ranked.

Every order is a sum over steps, each counted once, so that the search can be exact:

* ``steps``     1 a step
* ``yield``     -ln(typical yield) a step (the product of all step yields)
* ``time``      hands-on + waiting hours a step (``vessel.durations``)
* ``hazard``    sum over the aspects of points squared (a 4 weighs as much as sixteen 1s)
* ``balanced``  a step + hands-on hours/8 + waiting hours/32 + 4 x -ln(carried) + hazard/10 +
                8 x -ln(purity) + 3 x hours of raking: a working day, a quarter of the product, a
                twelfth of it as impurity, twenty minutes at an open fire and a step weigh alike
* ``cost``      materials at the asked amount (``search.priced``), plus a charge a step

``carried`` is what a step hands on of the target's value (``library.value``): its typical yield,
less what its equation or its excess leaves behind, so that what is merely kept counts as lost. A
step that carries none of it (side work) counts its yield at a quarter. ``purity`` is that of the
step's product as computed from pure reactants (``assessment.purity``): in full for a step that
makes the target, at three quarters for one on the way to it. A step run only for what it makes
beside its own product counts as three. Raking is handwork beyond an hour in a step that burns or
roasts a stirred charge at 400 degC and above. An errand (one thing to buy) is 0.15, and for what
carries the value 1 more for each factor e that a mole of it costs above the cheapest that is on
sale, so that a route does not begin with a dear derivative of its own target.
The weights are ours; the settings file may change them (``[balanced]``), and
``tests/test_balanced.py`` holds them against what practitioners choose.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from routefinder.assessment import purity
from routefinder.assessment.surprises import raking_h
from routefinder.hazards.score import Profile
from routefinder.library import value as values
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.question import STEP_COST
from routefinder.vessel.durations import usual_times

# what buying one thing costs, when everything can be bought: an errand is a fraction of a step
ERRANDS = {
    "steps": 0.01, "yield": 1e-5, "time": 0.01, "hazard": 0.01, "balanced": 0.15, "cost": 1e-5,
}  # fmt: skip
LEAST = 1e-4  # every step costs something, so that no step is taken for nothing
BESIDES = 2.0  # steps more, for a step run only for what it makes beside its product
ASIDE = 0.25  # of a loss in side work
ON_THE_WAY = 0.75  # of an impurity in what is not yet the target


@dataclass(frozen=True)
class Weights:
    """What ``balanced`` weighs, in steps.

    A step, a working day (8 h hands-on), a waiting day (24 h), a loss by the factor e, ten hazard
    points (squared sums), an impurity by the factor e, an hour of raking, and a price by the
    factor e.
    """

    step: float = 1.0
    day: float = 1.0
    waiting: float = 0.75
    loss: float = 4.0
    hazard: float = 1.0
    impurity: float = 8.0
    raking: float = 3.0
    price: float = 1.0


def hazard_cost(profile: Profile) -> float:
    """Sum over aspects of points squared."""
    return float(sum(s.points**2 for s in profile.values()))


def dear(price: float | None, cheapest: float | None, weights: Weights) -> float:
    """What ``balanced`` adds to an errand for what carries the value, by its price a mole of it.

    Nothing where no price is known or it costs nothing: that never decides alone.
    """
    if not price or not cheapest:
        return 0.0
    return weights.price * max(0.0, math.log(price / cheapest))


def step_cost(
    order: str,
    library: Library,
    target: str,
    profiles: Mapping[str, Profile],
    charge: float = STEP_COST,
    weights: Weights | None = None,
) -> Callable[[ResolvedStep], float]:
    """The cost of a step under an order, on the way to ``target``; see ``cost_at``."""
    cost = cost_at(order, library, target, charge, weights)
    return lambda step: cost(step, profiles[step.id])


def cost_at(
    order: str,
    library: Library,
    target: str,
    charge: float = STEP_COST,
    weights: Weights | None = None,
) -> Callable[[ResolvedStep, Profile], float]:
    """The cost of a step with a hazard profile under an order, on the way to ``target``.

    ``charge`` is what "cost" adds a step, ``weights`` what "balanced" weighs (else the settings').
    """
    weigh = weights or settled()
    value = values.value_of(library, target)
    goal = library.root(target)
    carry = values.chain(library, target) if order == "balanced" else frozenset()

    def hours(step: ResolvedStep) -> float:
        return usual_times(library, step).total_min / 60

    def loss(step: ResolvedStep) -> float:
        return -math.log(step.record.yield_.typical)

    def balanced(step: ResolvedStep, profile: Profile) -> float:
        handed = {library.root(p.substance) for p in step.kept()} & carry
        makes = goal in handed
        by = bool(handed) and library.root(step.main.substance) not in handed
        lost = loss(step) - math.log(values.kept_share(library, step, value))
        share = purity.alone(library, step) if handed and not by else 1.0
        return (
            weigh.step * (1 + BESIDES * by)
            + weigh.day * usual_times(library, step).hands_on_min / 60 / 8
            + weigh.waiting * usual_times(library, step).waiting_min / 60 / 24
            + weigh.raking * raking_h(step)
            + weigh.loss * lost * (1.0 if handed else ASIDE)
            + weigh.hazard * hazard_cost(profile) / 10
            + weigh.impurity * -math.log(share) * (1.0 if makes else ON_THE_WAY)
        )

    table: dict[str, Callable[[ResolvedStep, Profile], float]] = {
        "steps": lambda s, p: 1.0,
        "yield": lambda s, p: loss(s) + LEAST,
        "time": lambda s, p: hours(s) + LEAST,
        "hazard": lambda s, p: hazard_cost(p) + LEAST,
        "balanced": lambda s, p: max(LEAST, balanced(s, p)),
        "cost": lambda s, p: charge + LEAST,
    }
    return table[order]


def settled() -> Weights:
    """The weights of the settings file, ours where it names none."""
    from routefinder.library import settings

    return Weights(**settings.weights())
