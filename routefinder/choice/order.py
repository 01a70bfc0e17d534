"""Orders of routes: what each step costs in the search, and how found routes are ranked.

Every order is a sum over steps, each counted once, so that the search can be exact:

* ``steps``     1 a step
* ``yield``     -ln(typical yield) a step (the product of all step yields)
* ``time``      hands-on + waiting hours a step (``vessel.durations``)
* ``hazard``    sum over the aspects of points squared (a 4 weighs as much as sixteen 1s)
* ``balanced``  1 + hours/8 + 4 x -ln(yield) + hazard/10: a working day, a quarter of the product
                and a step weigh alike
* ``cost``      materials at the asked amount (``search.priced``), plus a charge a step
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from routefinder.hazards.score import Profile
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.question import STEP_COST
from routefinder.vessel.durations import usual_times

# what buying one thing costs, when everything can be bought: an errand is a fraction of a step
ERRANDS = {
    "steps": 0.01, "yield": 1e-5, "time": 0.01, "hazard": 0.01, "balanced": 0.1, "cost": 1e-5,
}  # fmt: skip
LEAST = 1e-4  # every step costs something, so that no step is taken for nothing


def hazard_cost(profile: Profile) -> float:
    """Sum over aspects of points squared."""
    return float(sum(s.points**2 for s in profile.values()))


def step_cost(
    library: Library, order: str, profiles: Mapping[str, Profile], charge: float = STEP_COST
) -> Callable[[ResolvedStep], float]:
    """The cost of a step under an order; ``charge`` is what "cost" adds a step."""

    def hours(step: ResolvedStep) -> float:
        return usual_times(library, step).total_min / 60

    def loss(step: ResolvedStep) -> float:
        return -math.log(step.record.yield_.typical)

    table: dict[str, Callable[[ResolvedStep], float]] = {
        "steps": lambda s: 1.0,
        "yield": lambda s: loss(s) + LEAST,
        "time": lambda s: hours(s) + LEAST,
        "hazard": lambda s: hazard_cost(profiles[s.id]) + LEAST,
        "balanced": lambda s: 1.0 + hours(s) / 8 + 4 * loss(s) + hazard_cost(profiles[s.id]) / 10,
        "cost": lambda s: charge + LEAST,
    }
    return table[order]
