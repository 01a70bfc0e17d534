"""Own results sharpen the yields: a Bayesian update of each step's distribution.

**Model.** The library's 10th, 50th and 90th percentile define a score z for every yield y:

    z = (logit y - logit typical) / s,   s as in ``distribution`` (one spread on either side),

so that by the library alone z is standard normal at its 10th, 50th and 90th percentile. Results of
one bench are z ~ normal(mu, sigma^2), both unknown, with a conjugate normal-inverse-gamma prior:
mean 0, worth ``PRIOR_RUNS`` runs for the mean and for the variance alike, its scale chosen such
that the predictive distribution (Student's t) has exactly the library's 10th and 90th percentile.
With no run of one's own nothing changes. After n runs (Gelman et al., Bayesian Data Analysis,
3rd ed., section 3.3, cited from memory; weights are ours):

    kappa = k0 + n, nu = k0 + n, m = sum(w z) / kappa,
    nu s^2 = k0 s0^2 + sum(w (z - mean)^2) + k0 n / kappa mean^2,   n = sum(w)
    predictive: t with nu degrees of freedom, centre m, scale s sqrt(1 + 1 / kappa)

The last term widens the interval for a while when own results and the library disagree.

**Like steps** share strength: the mean score of a step is mu = m + d, m of its kind and d its own,
each normal about 0 with half of the variance sigma^2 / k0 that a step by itself has. The results of
the other steps of the kind (n_j runs, mean z_j) move where the step begins and how far that is to
be trusted (two-level normal model, sigma known: Gelman et al., section 5.4, from memory):

    p_j = 1 / (1 / (2 k0) + 1 / n_j),  m = sum(p_j z_j) / (2 k0 + sum p_j),
    runs = 1 / (1 / (2 k0) + 1 / (2 k0 + sum p_j))    in place of 0 and k0 for the mean

Only steps with results of their own are changed. On simulated runs it beats learning each step by
itself (tests/test_inference.py).

Each result weighs w = 1 / (1 + u^2), u its standard uncertainty from the balance in units of z.

**Failures** (nothing came out) are no small yields but a chance of their own: f failures among n
attempts make it f / (k0 + n), the library's runs counting as k0 without failure. **Outliers** (more
than ``OUTLIER`` scores from the centre of the others) are shown and stay in. What cannot be a yield
(above the ceiling, wet, nobody weighed the start) is left out, and shown with the reason.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

from routefinder.assessment.distribution import Z90, Distribution, of_part
from routefinder.journal import student
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.base import Source
from routefinder.records.step import Yield, YieldPart

PRIOR_RUNS = 3.0  # what the library's value is worth: our choice
OUTLIER = 3.0
NARROWEST = 0.1  # least spread in logits: a yield stated as certain can be learned from too
SAME_YIELD = 1e-6
EDGE = 1e-4  # yields are kept this far from 0 and 1


def _logit(y: float) -> float:
    y = min(max(y, EDGE), 1 - EDGE)
    return math.log(y / (1 - y))


@dataclass(frozen=True)
class Result:
    """What one run gave in one step.

    ``yield_`` is the fraction of theory with its standard uncertainty ``u``; None for a failure and
    for what is left out, whose ``why`` says why. ``low``, ``median``, ``high`` were expected.
    """

    run: int
    step: str
    yield_: float | None
    u: float = 0.0
    failed: bool = False
    why: str = ""
    low: float | None = None
    median: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Learned:
    """A step's yield before and after own results.

    ``failure`` is the chance that nothing comes out. ``outliers`` are results far from the others
    (they count), ``left_out`` what could not count. ``without`` is the median without the outliers.
    ``like`` other steps of its kind helped.
    """

    step: str
    before: Distribution
    after: Distribution
    results: tuple[Result, ...]
    failures: int
    failure: float
    outliers: tuple[Result, ...]
    left_out: tuple[Result, ...]
    without: float | None
    like: int = 0


def prior_of(step: ResolvedStep) -> Distribution:
    """The library's yield of a step as 10th, 50th and 90th percentile."""
    parts = step.record.yield_.parts
    spreads = [of_part(p) for p in parts]
    if len(spreads) == 1:
        one = spreads[0]
        if not one.triangular or one.certain:
            return replace(one, triangular=False)
        return Distribution(one.quantile(0.1), one.quantile(0.5), one.quantile(0.9))
    import numpy as np

    generator = np.random.default_rng(1)
    drawn = np.ones(20_000)
    for spread in spreads:
        drawn = drawn * spread.draw(generator, 20_000)
    low, middle, high = (float(v) for v in np.quantile(drawn, (0.1, 0.5, 0.9)))
    return Distribution(low, max(middle, low), max(high, middle))


def _spread(prior: Distribution, below: bool) -> float:
    other = _logit(prior.low) if below else _logit(prior.high)
    return max(abs(other - _logit(prior.typical)) / Z90, NARROWEST)


def score(prior: Distribution, y: float) -> float:
    """The score z of a yield against a distribution given by percentiles."""
    off = _logit(y) - _logit(prior.typical)
    return off / _spread(prior, off < 0)


def yield_at(prior: Distribution, z: float) -> float:
    """The yield of a score; the inverse of ``score``."""
    return 1 / (1 + math.exp(-_logit(prior.typical) - z * _spread(prior, z < 0)))


def chance_below(prior: Distribution, y: float) -> float:
    """The share of results that the distribution expects below ``y`` (0 to 1)."""
    return NormalDist().cdf(score(prior, y))


@dataclass(frozen=True)
class Kin:
    """What the other steps of a kind teach: a score to begin at, worth so many runs."""

    centre: float = 0.0
    runs: float = PRIOR_RUNS
    steps: int = 0


def kin(siblings: Sequence[tuple[Distribution, Sequence[Result]]]) -> Kin:
    """The prior that like steps make, each with its library's distribution and its results.

    The rule stands at the top of the file.
    """
    total = above = 0.0
    used = 0
    for prior, results in siblings:
        rows = [(score(prior, r.yield_), _weight(prior, r)) for r in results
                if r.yield_ is not None]  # fmt: skip
        n = sum(w for _, w in rows)
        if not n:
            continue
        used += 1
        precision = 1 / (1 / (2 * PRIOR_RUNS) + 1 / n)
        total += precision
        above += precision * sum(w * z for z, w in rows) / n
    shared = 2 * PRIOR_RUNS + total
    return Kin(above / shared, 1 / (1 / (2 * PRIOR_RUNS) + 1 / shared), used)


def update(
    prior: Distribution,
    results: Sequence[Result],
    worth: float = PRIOR_RUNS,
    like: Kin | None = None,
) -> Distribution:
    """The distribution of the next run's yield after these results; ``prior`` when none counts.

    ``like`` is what like steps teach.
    """
    rows = [(score(prior, r.yield_), _weight(prior, r)) for r in results if r.yield_ is not None]
    if not rows:
        return prior
    n = sum(w for _, w in rows)
    mean = sum(w * z for z, w in rows) / n
    begin, runs = (0.0, worth) if like is None or not like.steps else (like.centre, like.runs)
    scale0 = (Z90 / student.quantile(0.9, worth)) ** 2 / (1 + 1 / worth)
    kappa, nu = runs + n, worth + n
    centre = (runs * begin + n * mean) / kappa
    square = worth * scale0 + sum(w * (z - mean) ** 2 for z, w in rows)
    square = (square + runs * n / kappa * (mean - begin) ** 2) / nu
    reach = student.quantile(0.9, nu) * math.sqrt(square * (1 + 1 / kappa))
    low, middle, high = (yield_at(prior, centre + k * reach) for k in (-1, 0, 1))
    return Distribution(low, middle, high)


def _weight(prior: Distribution, result: Result) -> float:
    y = min(max(result.yield_ or 0.0, EDGE), 1 - EDGE)
    u = result.u / (y * (1 - y)) / _spread(prior, score(prior, y) < 0)
    return 1 / (1 + u * u)


def outliers(prior: Distribution, results: Sequence[Result]) -> tuple[Result, ...]:
    """Results more than ``OUTLIER`` scores from what the library and the others make likely."""
    out = []
    for i, one in enumerate(results):
        if one.yield_ is None:
            continue
        rest = update(prior, [r for j, r in enumerate(results) if j != i])
        if abs(score(rest, one.yield_)) > OUTLIER:
            out.append(one)
    return tuple(out)


def learn(library: Library, results: Sequence[Result]) -> dict[str, Learned]:
    """What the results teach, by step; steps that the library does not have are passed over."""
    out = {}
    for name in dict.fromkeys(r.step for r in results):
        if name not in library.steps:
            continue
        prior = prior_of(library.steps[name])
        mine = [r for r in results if r.step == name]
        counted = [r for r in mine if r.yield_ is not None]
        failures = [r for r in mine if r.failed]
        far = outliers(prior, counted)
        own_kind = library.steps[name].record.kind
        like = kin(
            [
                (prior_of(library.steps[other]), [r for r in results if r.step == other])
                for other in dict.fromkeys(r.step for r in results)
                if other != name and other in library.steps
                and library.steps[other].record.kind == own_kind
            ]
        )  # fmt: skip
        attempts = len(counted) + len(failures)
        out[name] = Learned(
            name, prior, update(prior, counted, like=like), tuple(counted), len(failures),
            len(failures) / (PRIOR_RUNS + attempts), far,
            tuple(r for r in mine if r.yield_ is None and not r.failed),
            update(prior, [r for r in counted if r not in far], like=like).typical if far else None,
            like.steps,
        )  # fmt: skip
    return out


def with_own_yields(library: Library, learned: Mapping[str, Learned]) -> Library:
    """The library with the yields learned in place of its own (a copy)."""
    mine = copy.copy(library)
    mine.steps = dict(library.steps)
    for name, found in learned.items():
        if not found.results:
            continue
        step = library.steps[name]
        after = found.after
        part = YieldPart(
            what="the library's value and own runs", low=after.low, typical=after.typical,
            high=after.high, source=(Source(mark="computed", cite="own runs and the library"),),
        )  # fmt: skip
        own = Yield(
            basis=f"{step.record.yield_.basis}; with {len(found.results)} own", parts=(part,)
        )
        mine.steps[name] = replace(step, record=step.record.model_copy(update={"yield_": own}))
    return mine


def planned_yields(library: Library, steps: Sequence[Mapping[str, Any]]) -> Library:
    """The library with the yields that a run was planned with, where they were others (a copy)."""
    mine = copy.copy(library)
    mine.steps = dict(library.steps)
    for plan in steps:
        step, was = library.steps.get(plan["id"]), plan["yield"]
        if step is None or abs(step.record.yield_.typical - was["typical"]) < SAME_YIELD:
            continue
        typical = min(max(was["typical"], was["low"]), was["high"], 1.0)
        part = YieldPart(
            what="the yield of the run's plan", low=was["low"], typical=typical,
            high=max(min(was["high"], 1.0), typical),
            source=(Source(mark="computed", cite="own runs and the library"),),
        )  # fmt: skip
        own = Yield(basis=step.record.yield_.basis, parts=(part,))
        mine.steps[plan["id"]] = replace(
            step, record=step.record.model_copy(update={"yield_": own})
        )
    return mine


@dataclass(frozen=True)
class Calibration:
    """How well past estimates held: ``pit`` is where each result fell in what was expected.

    0 is below all that was expected, 1 above all. Good estimates leave them even over 0 to 1, and
    80 % of them ``inside`` the interval.
    """

    pit: tuple[float, ...]
    inside: int

    @property
    def share(self) -> float | None:
        """Share of results inside the 80 % interval; None when there are none."""
        return self.inside / len(self.pit) if self.pit else None

    def bins(self, count: int = 5) -> list[int]:
        """Results in each of ``count`` equal stretches of 0 to 1."""
        out = [0] * count
        for value in self.pit:
            out[min(int(value * count), count - 1)] += 1
        return out


def calibration(results: Sequence[Result]) -> Calibration:
    """The results against the estimates that their runs began with."""
    pit = []
    inside = 0
    for r in results:
        if r.yield_ is None or r.low is None or r.median is None or r.high is None:
            continue
        expected = Distribution(r.low, min(max(r.median, r.low), r.high), r.high)
        pit.append(chance_below(expected, r.yield_))
        inside += r.low <= r.yield_ <= r.high
    return Calibration(tuple(pit), inside)
