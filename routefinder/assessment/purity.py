"""How pure the product of a route is, read off the vessel in which it is made.

What goes along with the product at the end of its course: reactants that have not turned, what was
put in over, salts that the last wash leaves, impurities of the raw materials. Free water of a wet
product and the solvent of a solution are not counted: a solution has its strength.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment.ending import final_stream
from routefinder.assessment.one_step import one_step_route
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.step_amounts import Amounts
from routefinder.vessel.stream import OTHER, WATER

LEAST = 0.01  # no product counts as less pure
TOLD = 0.001  # what is less than a part in a thousand is not named


@dataclass(frozen=True)
class Purity:
    """``share`` is grams of the target per gram of it and all that goes along, free water apart.

    ``besides`` are (what, share), the most first; what has no substance by its words.
    """

    share: float
    besides: tuple[tuple[str, float], ...]


def purity(library: Library, found: Amounts) -> Purity:
    """The computed purity of what a route makes."""
    stream = final_stream(found)
    root = library.root(found.form)
    rest: dict[str, float] = {}
    for (what, phase), grams in stream.parts.items():
        if (what, phase) == WATER:
            continue
        rest[what.removeprefix(OTHER)] = rest.get(what.removeprefix(OTHER), 0.0) + float(grams)
    total = sum(rest.values())
    if total <= 0:  # what is made is water itself
        return Purity(1.0, ())
    made = root if (root, "aq") in stream.parts else found.form
    besides = sorted(
        ((what, grams / total) for what, grams in rest.items() if what != made), key=lambda x: -x[1]
    )
    return Purity(rest[made] / total, tuple(x for x in besides if x[1] >= TOLD))


def alone(library: Library, step: ResolvedStep) -> float:
    """The purity of what a step makes from pure reactants, as a share; kept with the library."""
    known: float | None = library.kept("purity", step)
    if known is None:
        found = one_step_route(library, step, 100.0)
        known = library.keep("purity", step, max(LEAST, min(1.0, purity(library, found).share)))
    return known


def prepare(library: Library) -> None:
    """Work it out for every step, for the cache."""
    for step in library.steps.values():
        alone(library, step)
