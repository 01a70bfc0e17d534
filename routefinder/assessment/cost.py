"""Money for materials: what is drawn from the shelf at its price, by the gram.

All prices of a route are in one currency (``records.shelf.Purse``); what is priced only in another
one counts as not known here, and ``elsewhere`` tells it apart.
"""

from __future__ import annotations

from routefinder.assessment.measure import Measure
from routefinder.vessel.step_amounts import Amounts


def material_cost(found: Amounts) -> Measure:
    """Cost of all materials drawn; ``at_least`` when a price is unknown."""
    total = 0.0
    unknown = []
    currency = next((d.supply.currency for d in found.draws if d.supply.currency), "")
    for draw in found.draws:
        if draw.supply.price_per_g is None:
            unknown.append(draw.supply.name)
        else:
            total += draw.as_weighed_g * draw.supply.price_per_g
    return Measure(
        "cost", currency or "USD", "less", total, at_least=bool(unknown), unknown=tuple(unknown)
    )


def elsewhere(found: Amounts) -> dict[str, float]:
    """Money by currency for what is priced only in another one than the rest."""
    out: dict[str, float] = {}
    for draw in found.draws:
        if draw.supply.elsewhere is not None:
            per_g, currency = draw.supply.elsewhere
            out[currency] = out.get(currency, 0.0) + draw.as_weighed_g * per_g
    return out
