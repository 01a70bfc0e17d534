"""What to try first: what a small run of one step would teach, before the large batch.

The result of a trial is not known beforehand: it is drawn from what is thought of the step's yield
now (``OUTCOMES`` equally likely results). After each, the yield is what ``learn.update`` makes of
it; the mean of the starts that then reach the amount with the asked confidence is what a trial is
expected to come to (preposterior analysis: Raiffa and Schlaifer 1961, cited from memory). All are
worked from the same draws, so that their differences are not luck.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from routefinder.assessment import uncertainty
from routefinder.errors import InputError
from routefinder.journal.learn import Result, prior_of, score, update, yield_at
from routefinder.library.library import Library
from routefinder.vessel.flow import Flow
from routefinder.vessel.step_amounts import Amounts

OUTCOMES = 9
DRAWS = 4000
SHARE = 0.05  # of the batch: how large a trial is; common practice for a bench trial
LEAST_G = 5.0  # of the limiting reactant: less is lost on the filter
CONFIDENCE = 0.9


@dataclass(frozen=True)
class Trial:
    """One step tried small: ``in_g`` of what limits it, in ``minutes`` of handwork.

    ``before_g`` is the start that reaches the amount now, ``after_g`` the expected one after the
    trial, both of the route's limiting material; ``money`` what the trial's materials cost.
    """

    step: str
    title: str
    number: int
    what: str
    in_g: float
    minutes: float
    money: float
    currency: str
    material: str
    before_g: float
    after_g: float
    confidence: float

    @property
    def cut(self) -> float:
        """The share of the start that the trial is expected to save (0 to 1)."""
        return 1 - self.after_g / self.before_g


def trials(
    library: Library, found: Amounts, currency: str, confidence: float = CONFIDENCE
) -> tuple[Trial, ...]:
    """A trial of each step of a route, the most telling first.

    Raises InputError for a confidence outside 0 to 1.
    """
    import numpy as np

    if not 0 < confidence < 1:
        raise InputError(f"a confidence lies between 0 and 1, not {confidence:g}")
    limits = found.limits
    base = uncertainty.simulate(library, found, draws=DRAWS)
    if limits not in base.need_g:
        return ()
    need, flow = base.need_g[limits], base.flow
    whole: dict[str, Any] = {}
    for factor, values in zip(base.factors, base.values, strict=True):
        if factor.kind == "yield":
            whole[factor.of] = whole.get(factor.of, 1.0) * values
    strength = need / _need(flow, limits, whole)  # what its own doubt of strength makes of it
    before = float(np.quantile(need, confidence))
    out = []
    for number, amount in enumerate(found.steps, start=1):
        step = amount.step
        own = whole[step.id]
        if float(np.ptp(own)) < 1e-9:
            continue
        prior = prior_of(step)
        z = np.array([score(prior, float(y)) for y in own])
        after = []
        for k in range(OUTCOMES):
            seen = yield_at(prior, float(np.quantile(z, (k + 0.5) / OUTCOMES)))
            then = update(prior, [Result(0, step.id, seen)])
            moved = np.array([yield_at(then, float(v)) for v in z])
            grams = _need(flow, limits, {**whole, step.id: moved}) * strength
            after.append(float(np.quantile(grams, confidence)))
        feed = next(f for f in amount.feeds if f.substance == step.limiting.substance)
        part = min(max(SHARE, LEAST_G / max(feed.as_weighed_g, 1e-9)), 1.0)
        money = sum(
            f.as_weighed_g * part * (f.origin.price_per_g or 0.0)
            for f in amount.feeds
            if not isinstance(f.origin, str)
        )
        out.append(
            Trial(
                step.id, step.title, number, library.name(feed.form), feed.as_weighed_g * part,
                step.record.time.hands_on_min, money, currency, flow.supplies[limits].name, before,
                float(np.mean(after)), confidence,
            )
        )  # fmt: skip
    return tuple(sorted(out, key=lambda t: t.after_g))


def _need(flow: Flow, limits: str, yields: dict[str, Any]) -> Any:
    return flow.weighed_g(limits, flow.turns([yields[s.id] for s in flow.steps]))
