"""Overall yield of a route on each starting material.

Overall yield on m = (target made per mole of m used) / (the same with every yield 1 and every
excess 0). In a convergent route every branch has its own; multiplying all step yields would be
too low. For the limiting starting material it is the product of the yields along its branch.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.records.shelf import Supply
from routefinder.vessel.flow import flow_of
from routefinder.vessel.step_amounts import Amounts


@dataclass(frozen=True)
class OverallYield:
    """Overall yield on one starting material; ``low`` and ``high`` take every step at that end."""

    supply: Supply
    low: float
    typical: float
    high: float
    limits: bool


def overall(library: Library, found: Amounts) -> tuple[OverallYield, ...]:
    """Overall yields on all starting materials that react, the limiting one first.

    What serves as a solvent or wash besides does not count as used.
    """
    flow = flow_of(library, found)
    perfect = flow_of(library, found, ideal=True)
    ones = perfect.turns([1.0] * len(flow.steps))
    at = {
        name: flow.turns([getattr(s.record.yield_, name) for s in flow.steps])
        for name in ("low", "typical", "high")
    }
    out = []
    for name in flow.starts:
        ideal = float(perfect.moles(name, ones, True))
        if ideal:
            low, typical, high = (ideal / float(flow.moles(name, t, True)) for t in at.values())
            out.append(OverallYield(flow.supplies[name], low, typical, high, name == found.limits))
    return tuple(sorted(out, key=lambda y: not y.limits))
