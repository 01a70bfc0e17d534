"""How sure a route is: yields and purities drawn at random, ten thousand times over.

Every part of every step's yield, and the strength of every material that has a range, is a
distribution (``distribution``). Each is drawn once per trial, so that a step or a material that
serves two branches has the same luck in both; all draws are independent of one another (losses
with a common cause, such as one leaky filter, are not modelled). Draws belong to the step and the
seed alone: two routes that share a step share its luck, so that they can be compared.

**Overall yield** on a material as in ``yields``, in moles; its purity is not in it. **Need** is
what must be weighed in of a material for the asked amount, its purity included; the output from a
given start is the asked amount x start / need, because amounts are linear in the target.

**Whose uncertainty matters**: the share of each factor x_i in the variance of ln(need). Regression
of ln(need) on all ln(x_i) gives b_i; the share is b_i cov(ln x_i, ln need) / var(ln need). For a
chain ln(need) = const - sum ln(x_i) exactly, and the share is the first-order sensitivity index
(for a linear model with independent inputs the squared standardised regression coefficient is that
index: Saltelli and Marivoet 1990, cited from memory). The shares add up to R2 of the regression;
what is missing to 1 (``unexplained``) comes from branches that overtake one another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zlib import crc32

from routefinder.assessment.distribution import Distribution, of_part
from routefinder.assessment.reasoning import Reason, number
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.records.shelf import Supply
from routefinder.vessel.flow import Flow, flow_of
from routefinder.vessel.step_amounts import Amounts

if TYPE_CHECKING:
    from routefinder.assessment.distribution import Draws

DRAWS = 10_000
SEED = 1
CONFIDENCES = (0.5, 0.8, 0.9, 0.95)
POINTS = 0.05  # by how much a typical yield is raised to see what that pays


@dataclass(frozen=True)
class Factor:
    """One uncertain fraction: ``of`` is a step or supply, ``kind`` "yield" or "purity"."""

    of: str
    kind: str
    what: str
    spread: Distribution


@dataclass(frozen=True)
class Range:
    """10th, 50th and 90th percentile: the median, and the interval that holds 80 %."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class SureStart:
    """What can be said of one starting material.

    ``overall`` is the overall yield on it. ``start_g`` is what the plan at typical yields weighs
    in; ``output_g`` what comes of that, ``chance`` that it is the asked amount or more.
    ``enough_g`` pairs a confidence with the grams that reach the asked amount so often, other
    materials as needed.
    """

    supply: Supply
    limits: bool
    overall: Range
    start_g: float
    output_g: Range
    chance: float
    enough_g: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Share:
    """A step's or material's share in the variance (0 to 1) of what must be weighed in."""

    of: str
    kind: str
    share: float


@dataclass(frozen=True)
class Gain:
    """What a better step pays: its typical yield raised by ``points`` (5, or up to 100 %).

    ``output_g`` is the additional target from the same start; ``saves`` is money on materials at
    the asked amount (known prices only).
    """

    step: str
    points: float
    output_g: float
    saves: float


@dataclass(frozen=True)
class HowSure:
    """The uncertainty of a route in figures.

    ``starts`` begins with the limiting material. ``together`` pairs a confidence with the factor by
    which all starting materials of the plan must be scaled so that none falls short.
    """

    starts: tuple[SureStart, ...]
    shares: tuple[Share, ...]
    unexplained: float
    gains: tuple[Gain, ...]
    together: tuple[tuple[float, float], ...]
    draws: int
    seed: int


@dataclass(frozen=True, eq=False)
class Simulation:
    """All draws of one route; arrays of shape (draws,).

    ``values`` per factor; ``overall`` per starting material that reacts, ``need_g`` per material.
    """

    flow: Flow
    factors: tuple[Factor, ...]
    values: tuple[Draws, ...]
    overall: dict[str, Draws]
    need_g: dict[str, Draws]

    def output_g(self, start_g: Mapping[str, float]) -> Draws:
        """Target made in each trial from these starts (g as weighed); the rest as needed.

        Raises InputError for a material that the route does not start from.
        """
        import numpy as np

        if not start_g:
            raise InputError("name at least one starting material")
        made = []
        for name, grams in start_g.items():
            if name not in self.need_g:
                known = ", ".join(self.need_g)
                raise InputError(f"{name!r} is no material of this route; it has {known}")
            if grams < 0:
                raise InputError(f"a start of {grams:g} g is negative")
            made.append(self.flow.target_g * grams / self.need_g[name])
        return np.minimum.reduce(made)  # type: ignore[no-any-return]

    def chance(self, start_g: Mapping[str, float], amount_g: float | None = None) -> float:
        """Share of trials that reach ``amount_g`` (the asked amount unless given)."""
        import numpy as np

        wanted = self.flow.target_g if amount_g is None else amount_g
        return float(np.mean(self.output_g(start_g) >= wanted * (1 - 1e-12)))

    def enough_g(self, supply: str, confidence: float, amount_g: float | None = None) -> float:
        """Grams of a starting material that reach the amount with this confidence (0 to 1).

        Raises InputError for a confidence outside 0 to 1.
        """
        import numpy as np

        if not 0 < confidence < 1:
            raise InputError(f"a confidence lies between 0 and 1, not {confidence:g}")
        scale = 1.0 if amount_g is None else amount_g / self.flow.target_g
        need = np.quantile(self.need_g[supply], confidence, method="inverted_cdf")
        return float(need) * scale


def factors(flow: Flow) -> tuple[Factor, ...]:
    """Everything uncertain about a route."""
    out = []
    for step in flow.steps:
        for part in step.record.yield_.parts:
            out.append(Factor(step.id, "yield", part.what, of_part(part)))
    for supply in flow.supplies.values():
        typical = supply.fractions[supply.main]
        low, high = supply.low.get(supply.main, typical), supply.high.get(supply.main, typical)
        # a shelf may state a strength outside the library's range: the statement wins
        spread = Distribution(min(low, typical), typical, max(high, typical))
        if not spread.certain:
            out.append(Factor(supply.id, "purity", supply.name, spread))
    return tuple(out)


def simulate(
    library: Library, found: Amounts, *, draws: int = DRAWS, seed: int = SEED
) -> Simulation:
    """Draw all factors of a route ``draws`` times and work each trial back from the target.

    Raises InputError for fewer draws than one.
    """
    import numpy as np

    if draws < 1:
        raise InputError(f"{draws} draws; at least 1 is needed")
    flow = flow_of(library, found)
    every = factors(flow)
    values: list[Draws] = []
    yields: dict[str, Draws] = {}
    strength: dict[str, Draws] = {}
    counts: dict[str, int] = {}
    for factor in every:
        counts[factor.of] = counts.get(factor.of, 0) + 1
        key = crc32(f"{factor.kind} {factor.of} {counts[factor.of]}".encode())
        drawn = factor.spread.draw(np.random.default_rng([seed, key]), draws)
        values.append(drawn)
        if factor.kind == "yield":
            before = yields.get(factor.of)
            yields[factor.of] = drawn if before is None else before * drawn
        else:
            strength[factor.of] = drawn / factor.spread.typical
    turns = flow.turns([yields[s.id] for s in flow.steps])
    perfect = flow_of(library, found, ideal=True)
    ideal = perfect.turns([1.0] * len(flow.steps))
    overall: dict[str, Draws] = {}
    need: dict[str, Draws] = {}
    for name in flow.starts:
        ideal_mol = perfect.moles(name, ideal, True)
        if not ideal_mol:  # no step draws on it
            continue
        overall[name] = np.broadcast_to(ideal_mol / flow.moles(name, turns, True), (draws,))
    for name, supply in flow.supplies.items():
        if not supply.everywhere and any(t.moles for t in flow.takes[name]):
            grams = flow.weighed_g(name, turns) / strength.get(name, 1.0)
            need[name] = np.broadcast_to(grams, (draws,))
    return Simulation(flow, every, tuple(values), overall, need)


def how_sure(library: Library, found: Amounts, *, draws: int = DRAWS, seed: int = SEED) -> HowSure:
    """How sure a route is, from ``draws`` trials with this seed."""
    import numpy as np

    trial = simulate(library, found, draws=draws, seed=seed)
    plan = {d.supply.id: d.as_weighed_g for d in found.draws}
    names = sorted(trial.overall, key=lambda name: name != found.limits)
    starts = []
    for name in names:
        enough = np.quantile(trial.need_g[name], CONFIDENCES, method="inverted_cdf")
        starts.append(
            SureStart(
                trial.flow.supplies[name], name == found.limits, _range(trial.overall[name]),
                plan[name], _range(trial.output_g({name: plan[name]})),
                trial.chance({name: plan[name]}),
                tuple(zip(CONFIDENCES, (float(g) for g in enough), strict=True)),
            )
        )  # fmt: skip
    if not names:
        return HowSure((), (), 0.0, gains(trial.flow, None), (), draws, seed)
    worst = np.maximum.reduce([trial.need_g[name] / plan[name] for name in names])
    factors_ = np.quantile(worst, CONFIDENCES, method="inverted_cdf")
    parts, unexplained = shares(trial, names[0])
    return HowSure(
        tuple(starts), parts, unexplained, gains(trial.flow, names[0]),
        tuple(zip(CONFIDENCES, (float(f) for f in factors_), strict=True)), draws, seed,
    )  # fmt: skip


def _range(values: Draws) -> Range:
    import numpy as np

    return Range(*(float(v) for v in np.quantile(values, (0.1, 0.5, 0.9))))


def shares(trial: Simulation, supply: str) -> tuple[tuple[Share, ...], float]:
    """Shares in the variance of ln(need) of one material, greatest first, and what they miss."""
    import numpy as np

    need = np.log(trial.need_g[supply])
    logs: dict[tuple[str, str], Draws] = {}
    for factor, values in zip(trial.factors, trial.values, strict=True):
        if not factor.spread.certain:  # the parts of a yield act as one
            key = (factor.of, factor.kind)
            logs[key] = np.log(values) + logs.get(key, 0.0)
    y = need - need.mean()
    total = float(np.einsum("d,d->", y, y))
    if not logs or total < 1e-24 * len(y):
        return (), 0.0
    x = np.stack([v - v.mean() for v in logs.values()])
    # einsum, not @: on a busy machine the threads of a matrix product wait longer than it takes
    with_need = np.einsum("id,d->i", x, y)
    slopes = np.linalg.lstsq(np.einsum("id,jd->ij", x, x), with_need, rcond=None)[0]
    parts = slopes * with_need / total
    found = [
        Share(of, kind, float(part))
        for (of, kind), part in zip(logs, parts, strict=True)
        if part > 1e-9
    ]
    found.sort(key=lambda s: -s.share)
    return tuple(found), max(0.0, 1 - float(parts.sum()))


def gains(flow: Flow, supply: str | None) -> tuple[Gain, ...]:
    """What 5 points more typical yield pay in each step, best first.

    ``supply`` is the material whose start stays the same (None: the output is not counted).
    """
    typical = flow.typical
    before = flow.turns(typical)
    out = []
    for i, step in enumerate(flow.steps):
        better = [min(1.0, y + POINTS) if j == i else y for j, y in enumerate(typical)]
        after = flow.turns(better)
        more = 0.0
        if supply is not None:
            ratio = _number(flow.weighed_g(supply, before)) / _number(flow.weighed_g(supply, after))
            more = flow.target_g * (ratio - 1)
        saves = _cost(flow, before) - _cost(flow, after)
        out.append(Gain(step.id, better[i] - typical[i], more, saves))
    return tuple(sorted(out, key=lambda g: (-g.output_g, -g.saves)))


def _cost(flow: Flow, turns: Sequence[float | Draws]) -> float:
    return sum(
        _number(flow.weighed_g(name, turns)) * (supply.price_per_g or 0.0)
        for name, supply in flow.supplies.items()
    )


def _number(value: float | Draws) -> float:
    return float(value)


def reasons(found: Amounts, sure: HowSure) -> tuple[Reason, ...]:
    """What stands behind the interval: the trials, their percentiles, the shares of the steps."""
    names = {s.step.id: s.step.title for s in found.steps}
    names |= {s.supply.id: f"strength of {s.supply.name}" for s in sure.starts}
    out = []
    for s in sure.starts:
        lines = [
            f"{sure.draws} trials (seed {sure.seed}), each yield and strength drawn once a trial",
            f"overall yield: 10 % of trials below {number(s.overall.p10)}, half below "
            f"{number(s.overall.p50)}, 90 % below {number(s.overall.p90)}",
            f"from {number(s.start_g)} g of {s.supply.name} {number(found.target_g)} g or more "
            f"are reached in {number(s.chance * 100)} % of trials",
        ]
        for confidence, grams in s.enough_g:
            made = found.target_g * s.start_g / grams
            lines.append(
                f"what {number(confidence * 100)} % of trials reach from {number(s.start_g)} g: "
                f"{number(found.target_g)} g × {number(s.start_g)} g / {number(grams)} g = "
                f"{number(made)} g"
            )
        if s.limits:
            lines += [
                f"share in the variance, {names.get(x.of, x.of)}: {number(x.share * 100)} %"
                for x in sure.shares
            ]
        out.append(Reason(f"sure:{s.supply.id}", f"How sure: {s.supply.name}", tuple(lines)))
    return tuple(out)
