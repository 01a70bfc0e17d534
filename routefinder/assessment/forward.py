"""Forward from the shelf: the most target a route can give, what runs out first, what is left.

Amounts are linear in the target, so the most is the asked amount x the smallest (at hand / needed).
It is given for typical yields, for every step at its low and high end, and by stoichiometry alone
(every yield 1, every excess 0: the ceiling that no run can pass).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from routefinder.assessment.reasoning import Reason, number
from routefinder.library.library import Library
from routefinder.records.shelf import Supply
from routefinder.vessel.flow import Flow, flow_of
from routefinder.vessel.step_amounts import Amounts, Draw

if TYPE_CHECKING:
    from routefinder.assessment.uncertainty import Range, Simulation


@dataclass(frozen=True)
class Remainder:
    """What stands on the shelf of one material, what the most target takes, what stays (g)."""

    supply: Supply
    at_hand_g: float
    used_g: float

    @property
    def left_g(self) -> float:
        """What would be left; never below nothing."""
        return max(0.0, self.at_hand_g - self.used_g)


@dataclass(frozen=True)
class Forward:
    """The most target from the shelf, in g; ``likely`` (80 %) when a simulation was given.

    ``uncounted`` are materials whose amount on the shelf is not stated: taken as enough.
    """

    most_g: float
    low_g: float
    high_g: float
    ceiling_g: float
    runs_out: Supply
    left: tuple[Remainder, ...]
    uncounted: tuple[Supply, ...]
    likely: Range | None = None


def runs_out_first(found: Amounts) -> tuple[Draw, float] | None:
    """The material that covers the least of the plan, and how many times it covers it.

    None when no amount on the shelf is stated.
    """
    shares = [
        (d.supply.amount_g / d.as_weighed_g, d)
        for d in found.draws
        if d.supply.amount_g is not None and d.as_weighed_g > 0
    ]
    if not shares:
        return None
    share, draw = min(shares, key=lambda item: item[0])
    return draw, share


def forward(library: Library, found: Amounts, trial: Simulation | None = None) -> Forward | None:
    """What a route gives from the shelf as it stands; None when no amount there is stated."""
    first = runs_out_first(found)
    if first is None:
        return None
    draw, times = first
    flow = flow_of(library, found)
    ideal = flow_of(library, found, ideal=True)
    at = {
        name: _most(flow, [getattr(s.record.yield_, name) for s in flow.steps])
        for name in ("low", "high")
    }
    left = tuple(
        Remainder(d.supply, d.supply.amount_g, d.as_weighed_g * times)
        for d in found.draws
        if d.supply.amount_g is not None
    )
    likely = None
    if trial is not None:
        import numpy as np

        stock = {x.supply.id: x.at_hand_g for x in left if x.supply.id in trial.need_g}
        if stock:
            made = np.quantile(trial.output_g(stock), (0.1, 0.5, 0.9))
            from routefinder.assessment.uncertainty import Range

            likely = Range(*(float(v) for v in made))
    return Forward(
        found.target_g * times, at["low"], at["high"], _most(ideal, [1.0] * len(ideal.steps)),
        draw.supply, left,
        tuple(d.supply for d in found.draws
              if d.supply.amount_g is None and not d.supply.everywhere),
        likely,
    )  # fmt: skip


def _most(flow: Flow, yields: list[float]) -> float:
    turns = flow.turns(yields)
    shares = []
    for name, supply in flow.supplies.items():
        need = float(flow.weighed_g(name, turns))
        if supply.amount_g is not None and need > 0:
            shares.append(supply.amount_g / need)
    return flow.target_g * min(shares, default=float("inf"))


def reasons(found: Amounts) -> tuple[Reason, ...]:
    """The arithmetic behind the most target: every stated amount over what the plan takes."""
    first = runs_out_first(found)
    if first is None:
        return ()
    lines = [
        f"{d.supply.name}, times this plan: {number(d.supply.amount_g)} g / "
        f"{number(d.as_weighed_g)} g = {number(d.supply.amount_g / d.as_weighed_g)}"
        for d in found.draws
        if d.supply.amount_g is not None and d.as_weighed_g > 0
    ]
    draw, times = first
    lines.append(
        f"most target, by {draw.supply.name}: {number(found.target_g)} g × {number(times)} = "
        f"{number(found.target_g * times)} g"
    )
    return (Reason("most", "The most target from the shelf", tuple(lines)),)
