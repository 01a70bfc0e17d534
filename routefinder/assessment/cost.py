"""Money for materials: what is drawn from the shelf at its price, by the gram."""

from __future__ import annotations

from routefinder.assessment.measure import Measure
from routefinder.vessel.step_amounts import Amounts


def material_cost(found: Amounts) -> Measure:
    """Cost of all materials drawn; ``at_least`` when a price is unknown."""
    total = 0.0
    unknown = []
    currency = ""
    for draw in found.draws:
        if draw.supply.price_per_g is None:
            unknown.append(draw.supply.name)
        else:
            total += draw.as_weighed_g * draw.supply.price_per_g
            if draw.supply.price_per_g:
                currency = draw.supply.currency
    return Measure(
        "cost", currency or "USD", "less", total, at_least=bool(unknown), unknown=tuple(unknown)
    )
