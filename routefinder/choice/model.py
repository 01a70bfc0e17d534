"""A route's measures as functions of its yields, prices and times, for numbers or arrays of draws.

At typical yields, prices and times they are those of ``Assessment.measures``. The overall yield and
the materials come from ``flow``. Times stretch step by step, with the same waiting for one another
and as many batches as at typical yields.
Waste: per gram of target, mass in - product - what is recovered; what is recovered (and the
nitrogen of air) is taken to grow with the mass that goes in. Hazard, missing equipment, steps and
temperature do not vary.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routefinder.assessment.assess import Assessment
from routefinder.library.library import Library
from routefinder.vessel.flow import flow_of

Numbers = Any  # a float, or an array of draws


class RouteModel:
    """One route, ready to be worked through at other yields, prices and times."""

    def __init__(self, library: Library, found: Assessment) -> None:
        self.found = found
        self.typical = {
            k: m.typical if m.typical is not None else float("inf")
            for k, m in found.measures().items()
        }
        amounts = found.amounts
        self.flow = flow_of(library, amounts)
        start = found.limiting_yield
        self.start = start.supply.id if start is not None else None
        self.ideal: dict[str, float] = {}
        self.overall = {y.supply.id: y.typical for y in found.overall}
        if self.start is not None or found.carried is not None:
            perfect = flow_of(library, amounts, ideal=True)
            ones = perfect.turns([1.0] * len(perfect.steps))
            self.ideal = {n: float(perfect.moles(n, ones, True)) for n in self.overall}
        self.waits = [
            [self.flow.steps.index(s) for s in self.flow.steps if s.id in origins]
            for origins in (
                {f.origin for f in a.feeds if isinstance(f.origin, str)} for a in amounts.steps
            )
        ]
        own = {b.step: (b.hands_on_min, b.waiting_min) for b in found.batched}
        self.spent = [
            own.get(a.step.id, (a.times.hands_on_min, a.times.waiting_min)) for a in amounts.steps
        ]
        self.mass_in_g = self._mass_in(self.flow.turns(self.flow.typical), {})

    def _mass_in(self, turns: list[Any], strengths: Mapping[str, Numbers]) -> Numbers:
        total: Any = 0.0
        for name in self.flow.supplies:
            total = total + self.flow.weighed_g(name, turns) / strengths.get(name, 1.0)
        return total

    def measures(
        self,
        yields: Mapping[str, Numbers],
        prices: Mapping[str, Numbers] | None = None,
        times: Mapping[str, Numbers] | None = None,
        strengths: Mapping[str, Numbers] | None = None,
    ) -> dict[str, Numbers]:
        """Measures by key, in their units.

        ``yields`` replace the typical yield of the steps named. ``prices`` and ``strengths`` (per
        supply) and ``times`` (per step) are factors on the typical ones, 1 where not named.
        """
        prices, times, strengths = prices or {}, times or {}, strengths or {}
        flow = self.flow
        turns = flow.turns(
            [yields.get(s.id, y) for s, y in zip(flow.steps, flow.typical, strict=True)]
        )
        out: dict[str, Numbers] = dict(self.typical)
        if self.found.carried is not None:
            now = {n: ideal / flow.moles(n, turns, True) for n, ideal in self.ideal.items()}
            out["yield"] = 100 * self.found.carried.at(self.overall, now)
        elif self.start is not None:
            out["yield"] = 100 * self.ideal[self.start] / flow.moles(self.start, turns, True)
        else:
            product: Any = 100.0
            for s, y in zip(flow.steps, flow.typical, strict=True):
                product = product * yields.get(s.id, y)
            out["yield"] = product
        cost: Any = 0.0
        for name, supply in flow.supplies.items():
            if supply.price_per_g:
                grams = flow.weighed_g(name, turns) / strengths.get(name, 1.0)
                cost = cost + grams * supply.price_per_g * prices.get(name, 1.0)
        out["cost"] = cost
        share = self._mass_in(turns, strengths) / self.mass_in_g
        out["e_factor"] = (self.typical["e_factor"] + 1) * share - 1
        out["hands_on"], out["time"] = self._times(times)
        return out

    def _times(self, factors: Mapping[str, Numbers]) -> tuple[Numbers, Numbers]:
        """(hands-on, elapsed) hours, as in ``assessment.time``."""
        finish: list[Any] = []
        hands: Any = 0.0
        for i, step in enumerate(self.flow.steps):
            factor = factors.get(step.id, 1.0)
            start = _greatest([0.0, *(finish[j] for j in self.waits[i])])
            work, wait = self.spent[i]
            finish.append(start + (work + wait) / 60 * factor)
            hands = hands + work / 60 * factor
        return hands, _greatest([hands, *finish])


def _greatest(values: list[Any]) -> Any:
    if all(isinstance(v, float) for v in values):
        return max(values)
    import numpy as np

    out = values[0]
    for value in values[1:]:
        out = np.maximum(out, value)
    return out
