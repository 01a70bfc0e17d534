"""Weigh-outs rounded to what the balance shows, and what that does to the target.

The finest balance that bears the load is taken, and the mass rounded to its readability. A rounded
limiting material changes the target in proportion; of another reactant only what falls short of
the equation does, because its excess gives room. The standard uncertainty of a reading is
readability / sqrt(12) (rectangular distribution: JCGM 100:2008, GUM, 4.3.7, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routefinder.records.shelf import Bench
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import Amounts, StepAmounts

COARSE = 0.01  # a reading that may be off by more than 1 % is called coarse


@dataclass(frozen=True)
class WeighOut:
    """One material to weigh for one step.

    ``balance`` is "" when the bench has none that bears the load (then nothing is rounded);
    ``effect`` is the relative change of the target; ``u_g`` the standard uncertainty of reading.
    """

    step: str
    material: str
    exact_g: float
    rounded_g: float
    readability_g: float
    balance: str
    effect: float
    u_g: float

    @property
    def coarse(self) -> bool:
        """Whether the balance is too coarse for this mass."""
        return bool(self.balance) and self.readability_g / 2 > COARSE * self.exact_g


def weigh_outs(found: Amounts, bench: Bench) -> tuple[WeighOut, ...]:
    """All solids taken from the shelf, rounded to the bench's balances; liquids are measured."""
    scales = [
        (reads, o.limit("capacity") or math.inf, t.name)
        for t in bench.tools
        for o in t.offers
        if o.name == "weigh" and (reads := o.limit("readability"))
    ]
    out = []
    for amount in found.steps:
        for feed in amount.feeds:
            if isinstance(feed.origin, str) or feed.origin.form not in {"solid", "metal"}:
                continue
            exact = feed.drawn_g
            fitting = [s for s in scales if s[1] >= exact]
            if not fitting:
                out.append(WeighOut(amount.step.id, feed.origin.name, exact, exact, 0, "", 0, 0))
                continue
            reads, _, name = min(fitting)
            rounded = round(exact / reads) * reads
            out.append(
                WeighOut(amount.step.id, feed.origin.name, exact, rounded, reads, name,
                         _effect(amount, feed, rounded / exact), reads / math.sqrt(12))
            )  # fmt: skip
    return tuple(out)


def _effect(amount: StepAmounts, feed: Feed, share: float) -> float:
    step = amount.step
    if feed.role != "reactant":
        return 0.0
    if feed.substance == step.limiting.substance:
        return share - 1
    return min(0.0, share * (1 + step.excess.get(feed.substance, 0.0)) - 1)
