"""Overall yield of a route on each starting material.

Overall yield on m = (target made per mole of m used) / (the same with every yield 1 and every
excess 0). In a convergent route every branch has its own; multiplying all step yields would be
too low. For the limiting starting material it is the product of the yields along its branch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.amounts import Amounts, amounts
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply


@dataclass(frozen=True)
class OverallYield:
    """Overall yield on one starting material; ``low`` and ``high`` take every step at that end."""

    supply: Supply
    low: float
    typical: float
    high: float
    limits: bool


def overall(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
    at_typical: Amounts,
) -> tuple[OverallYield, ...]:
    """Overall yields on all starting materials that react, the limiting one first."""

    def moles(found: Amounts) -> dict[str, float]:
        return {d.supply.id: d.moles for d in found.draws if d.reactant}

    target, mass = at_typical.target, at_typical.target_g
    ideal = moles(amounts(library, steps, supplies, target, mass, ideal=True))
    low = moles(amounts(library, steps, supplies, target, mass, lambda s: s.record.yield_.low))
    high = moles(amounts(library, steps, supplies, target, mass, lambda s: s.record.yield_.high))
    typical = moles(at_typical)
    out = []
    for draw in at_typical.draws:
        name = draw.supply.id
        if not draw.reactant or draw.supply.everywhere or not ideal.get(name):
            continue
        out.append(
            OverallYield(
                draw.supply,
                ideal[name] / low[name],
                ideal[name] / typical[name],
                ideal[name] / high[name],
                name == at_typical.limits,
            )
        )
    return tuple(sorted(out, key=lambda y: not y.limits))
