"""The amounts of one step by itself, fed with pure substances: for looking at a step alone."""

from __future__ import annotations

from routefinder.graph import needs
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts, StepAmounts


def one_step(library: Library, step: ResolvedStep, product_g: float) -> StepAmounts:
    """The amounts of ``step`` for grams of its main product, everything taken pure.

    Raises ValueError when the amount is not above 0.
    """
    return one_step_route(library, step, product_g).steps[0]


def one_step_route(library: Library, step: ResolvedStep, product_g: float) -> Amounts:
    """The same as a route of that one step.

    Raises ValueError when the amount is not above 0.
    """
    if not product_g > 0:
        raise ValueError(f"the amount {product_g:g} g must be above 0")
    names = dict.fromkeys(need[1] for need in needs.needs(library, step))
    supplies = []
    for name in names:
        substance = library.substances[name]
        supplies.append(Supply(name, substance.name, "solid", {name: 1.0}, name))
    return amounts(library.alone(step), [step], supplies, step.main.substance, product_g)
