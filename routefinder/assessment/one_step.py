"""The amounts of one step by itself, fed with pure substances: for looking at a step alone."""

from __future__ import annotations

from collections.abc import Mapping

from routefinder.graph import needs
from routefinder.library.library import Library
from routefinder.library.pot import strongest_sold
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts, StepAmounts


def one_step(library: Library, step: ResolvedStep, product_g: float) -> StepAmounts:
    """The amounts of ``step`` for grams of its main product, everything taken pure.

    Raises ValueError when the amount is not above 0.
    """
    return one_step_route(library, step, product_g).steps[0]


def from_shops(library: Library, step: ResolvedStep, product_g: float) -> StepAmounts:
    """As ``one_step``, but what the shops sell only dissolved comes at its greatest strength there.

    Raises ValueError when the amount is not above 0.
    """
    return _alone(library, step, product_g, strongest_sold(library)).steps[0]


def one_step_route(library: Library, step: ResolvedStep, product_g: float) -> Amounts:
    """The same as a route of that one step.

    Raises ValueError when the amount is not above 0.
    """
    return _alone(library, step, product_g, {})


def _alone(
    library: Library, step: ResolvedStep, product_g: float, sold: Mapping[str, float]
) -> Amounts:
    if not product_g > 0:
        raise ValueError(f"the amount {product_g:g} g must be above 0")
    dissolved = {p.substance for p in step.reactants if p.state == "aq"}
    names = dict.fromkeys(need[1] for need in needs.needs(library, step))
    supplies = []
    for name in names:
        substance = library.substances[name]
        share = sold.get(library.root(name), 1.0) if name in dissolved else 1.0
        form = "solution" if share < 1 else "solid"
        supplies.append(Supply(name, substance.name, form, {name: share}, name))
    return amounts(library.alone(step), [step], supplies, step.main.substance, product_g)
