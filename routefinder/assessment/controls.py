"""Controlled substances along a route: what is bought and what is made on the way."""

from __future__ import annotations

from routefinder.hazards.controls import Controlled, flags, in_supply
from routefinder.library.library import Library
from routefinder.vessel.step_amounts import Amounts


def controlled(library: Library, amounts: Amounts) -> tuple[Controlled, ...]:
    """Every controlled substance of a route, materials first, each with the steps that meet it.

    The check runs on every node: what is taken, auxiliaries, main products, co-products and
    leavings. A solution made on the way has no stated strength.
    """
    out: list[Controlled] = []
    for draw in amounts.draws:
        steps = tuple(
            s.step.id
            for s in amounts.steps
            if any(not isinstance(f.origin, str) and f.origin.id == draw.supply.id for f in s.feeds)
        )
        out += in_supply(library, draw.supply, steps)
    made: dict[tuple[str, bool], list[str]] = {}
    for amount in amounts.steps:
        for part in amount.step.products:
            ids = made.setdefault((part.substance, part.state == "aq"), [])
            if amount.step.id not in ids:
                ids.append(amount.step.id)
    for (substance, dissolved), ids in made.items():
        strength = None if dissolved else 1.0
        for hit, over in flags(library, substance, strength):
            name = library.name(substance)
            out.append(Controlled(substance, name, None, tuple(ids), strength, over, hit))
    return tuple(dict.fromkeys(out))
