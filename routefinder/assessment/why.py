"""All reasons of a route together: the arithmetic behind every figure that can be asked for."""

from __future__ import annotations

from routefinder.assessment import (
    batches,
    forward,
    money,
    reasoning,
    shopping,
    uncertainty,
    waste,
)
from routefinder.assessment.reasoning import Reason
from routefinder.library.library import Library
from routefinder.records.shelf import Bench
from routefinder.vessel.step_amounts import Amounts


def every_reason(library: Library, found: Amounts, bench: Bench | None) -> tuple[Reason, ...]:
    """Reasons by figure: mass, yield, batches (with a bench), sure, start, buy, cost, most, waste.

    ``reasoning.reason`` picks one.
    """
    out = reasoning.reasons(library, found)
    if bench is not None:
        out += batches.reasons(batches.batches(library, found, bench), found)
    out += uncertainty.reasons(found, uncertainty.how_sure(library, found))
    out += shopping.reasons(shopping.shopping(library, [found]))
    out += money.reasons(found, money.money(found))
    out += forward.reasons(found)
    out += waste.reasons(library, found)
    return out
