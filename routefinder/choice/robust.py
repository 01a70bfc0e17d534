"""How robust a choice among routes is: who comes first, how often, and what would turn the order.

**Acceptability.** Stochastic multicriteria acceptability analysis (SMAA: Lahdelma, Hokkanen and
Salminen 1998, Eur. J. Oper. Res. 106, 137-143, pages from memory). Yields, purities, prices and
times are drawn at random; so are the weights, evenly over all weights that add up to 1. The
*acceptability* of a route is the share of draws in which its score is the highest; its *central
weights* are the mean of the weights for which it comes first; its *confidence* is the share of
draws in which it comes first with just these weights. Beside it stands the share with the user's
own weights, only the data drawn. The shares of the routes add up to 1 (a tie is shared out).

**What is drawn.** Yields and purities as in ``assessment.uncertainty``: a step that two routes
share has the same luck in both. Prices and times carry no range in the library. Our assumption,
which can be set: in 8 of 10 cases a price lies within a factor of 1.3 of the one given, and a
step's time within 1.25 (log-normal, each material and each step for itself).

**Value functions** are the straight lines of ``prefer``. Ends that the user gave cut off; ends that
come from the routes do not, so that a draw beyond them still counts.

**What would turn the order.** For the first route and each other one: the weight which, changed
alone, makes them equal, the least change first (as a factor); and the yield of a single step, the
others typical, nearest to its typical one, at which they are equal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zlib import crc32

from routefinder.assessment.assess import Assessment
from routefinder.assessment.distribution import Z90
from routefinder.assessment.uncertainty import factors
from routefinder.choice.model import RouteModel
from routefinder.choice.prefer import Wish, settled, worth
from routefinder.errors import InputError
from routefinder.library.library import Library

DRAWS = 4000
SEED = 1
PRICE_FACTOR = 1.3
TIME_FACTOR = 1.25
GRID = 400  # places at which a step's yield is tried
TIE = 1e-9


@dataclass(frozen=True)
class Acceptability:
    """How often one route comes first (shares from 0 to 1); central weights None if it never does.

    ``any_weights``: weights and data drawn; ``own_weights``: the user's weights, data drawn.
    """

    any_weights: float
    own_weights: float
    central: Mapping[str, float] | None
    confidence: float | None


@dataclass(frozen=True)
class WeightTurn:
    """``other`` (place in the list) comes level with the first if ``key`` weighs ``to``."""

    other: int
    key: str
    now: float
    to: float


@dataclass(frozen=True)
class YieldTurn:
    """``other`` comes level with the first if ``step`` gives ``at`` (a fraction).

    ``under``: the turn is at yields under ``at``, not over it. ``likely`` is whether ``at`` lies
    within the step's low and high.
    """

    other: int
    step: str
    typical: float
    at: float
    under: bool
    likely: bool


@dataclass(frozen=True)
class Robustness:
    """What is known of the choice; places count in the list of routes compared."""

    first: int
    tied: tuple[int, ...]
    scores: tuple[float, ...]
    shares: tuple[Acceptability, ...]
    weight_turns: tuple[WeightTurn, ...]
    yield_turns: tuple[YieldTurn, ...]
    never: tuple[int, ...]
    draws: int
    seed: int
    price_factor: float
    time_factor: float


class _Judge:
    """Scores of all routes under some weights, for numbers or arrays."""

    def __init__(self, wishes: Sequence[Wish], routes: Sequence[Assessment]) -> None:
        counted = [w for w in wishes if w.weight > 0]
        if not counted:
            raise InputError("no measure has a weight above 0")
        self.ends = settled(counted, routes)
        self.given = [w.worst is not None for w in counted]
        whole = sum(w.weight for w in counted)
        self.weights = [w.weight / whole for w in counted]

    def worths(self, values: Mapping[str, Any]) -> list[Any]:
        """Worth of each measure that counts."""
        pairs = zip(self.ends, self.given, strict=True)
        return [worth(end, values[end.key], clip=given) for end, given in pairs]

    def score(self, values: Mapping[str, Any]) -> Any:
        """The weighted mean of the worths."""
        pairs = zip(self.weights, self.worths(values), strict=True)
        return sum(w * x for w, x in pairs)


def robustness(
    library: Library,
    routes: Sequence[Assessment],
    wishes: Sequence[Wish],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    price_factor: float = PRICE_FACTOR,
    time_factor: float = TIME_FACTOR,
) -> Robustness:
    """How robust the choice among at least two routes is, under these wishes.

    Raises InputError for fewer than two routes, no draws, or factors below 1.
    """
    if len(routes) < 2:
        raise InputError("to see how robust a choice is, compare at least two routes")
    if draws < 1:
        raise InputError(f"{draws} draws; at least 1 is needed")
    for factor, what in ((price_factor, "price"), (time_factor, "time")):
        if not factor >= 1:
            raise InputError(f"the {what} factor is {factor:g}; give 1 (certain) or more")
    judge = _Judge(wishes, routes)
    models = [RouteModel(library, r) for r in routes]
    scores = [float(judge.score(m.measures({}))) for m in models]
    first = max(range(len(routes)), key=lambda i: (scores[i], -i))
    tied = tuple(
        i for i, s in enumerate(scores) if i != first and s >= scores[first] - TIE
    )  # fmt: skip
    shares = _shares(models, judge, draws, seed, price_factor, time_factor)
    weight_turns, yield_turns, never = [], [], []
    for other in range(len(routes)):
        if other == first:
            continue
        by_weight = _weight_turn(judge, wishes, models, first, other)
        by_yield = _yield_turn(judge, models, first, other)
        if by_weight is not None:
            weight_turns.append(by_weight)
        if by_yield is not None:
            yield_turns.append(by_yield)
        if by_weight is None and by_yield is None:
            never.append(other)
    weight_turns.sort(key=_far)
    yield_turns.sort(key=lambda t: abs(t.at - t.typical))
    return Robustness(
        first, tied, tuple(scores), shares, tuple(weight_turns), tuple(yield_turns), tuple(never),
        draws, seed, price_factor, time_factor,
    )  # fmt: skip


def _far(turn: WeightTurn) -> float:
    """How far a weight must go, as a factor up or down."""
    if turn.to <= 0:
        return float("inf")
    return max(turn.to / turn.now, turn.now / turn.to)


def drawn(
    model: RouteModel, draws: int, seed: int, price_factor: float, time_factor: float
) -> dict[str, Any]:
    """A route's measures, each an array of ``draws`` (or a number where nothing varies)."""
    import math

    import numpy as np

    def stream(name: str) -> Any:
        return np.random.default_rng([seed, crc32(name.encode())])

    yields: dict[str, Any] = {}
    strengths: dict[str, Any] = {}
    counts: dict[str, int] = {}
    for factor in factors(model.flow):
        counts[factor.of] = counts.get(factor.of, 0) + 1
        name = f"{factor.kind} {factor.of} {counts[factor.of]}"  # the stream of ``uncertainty``
        values = factor.spread.draw(stream(name), draws)
        if factor.kind == "yield":
            yields[factor.of] = yields.get(factor.of, 1.0) * values
        else:
            strengths[factor.of] = values / factor.spread.typical
    prices = {
        name: np.exp(math.log(price_factor) / Z90 * stream(f"price {name}").standard_normal(draws))
        for name, supply in model.flow.supplies.items()
        if supply.price_per_g
    }
    times = {
        s.id: np.exp(math.log(time_factor) / Z90 * stream(f"time {s.id}").standard_normal(draws))
        for s in model.flow.steps
    }
    return model.measures(yields, prices, times, strengths)


def _shares(
    models: Sequence[RouteModel],
    judge: _Judge,
    draws: int,
    seed: int,
    price_factor: float,
    time_factor: float,
) -> tuple[Acceptability, ...]:
    import numpy as np

    worths = np.empty((len(models), len(judge.ends), draws))
    for i, model in enumerate(models):
        for k, w in enumerate(
            judge.worths(drawn(model, draws, seed, price_factor, time_factor))
        ):  # fmt: skip
            worths[i, k] = w
    generator = np.random.default_rng([seed, crc32(b"weights")])
    weights = generator.dirichlet(np.ones(len(judge.ends)), draws)
    at_random = _firsts(np.einsum("dk,ikd->id", weights, worths))
    own = _firsts(np.einsum("k,ikd->id", np.array(judge.weights), worths))
    out = []
    for i in range(len(models)):
        share = float(at_random[i].mean())
        central = confidence = None
        if share > 0:
            middle = np.einsum("d,dk->k", at_random[i], weights) / at_random[i].sum()
            central = {end.key: float(m) for end, m in zip(judge.ends, middle, strict=True)}
            confidence = float(_firsts(np.einsum("k,ikd->id", middle, worths))[i].mean())
        out.append(Acceptability(share, float(own[i].mean()), central, confidence))
    return tuple(out)


def _firsts(scores: Any) -> Any:
    """Per route and draw 1 if it comes first, parts of 1 where several do; shape as ``scores``."""
    best = scores >= scores.max(axis=0) - TIE
    return best / best.sum(axis=0)


def _weight_turn(
    judge: _Judge, wishes: Sequence[Wish], models: Sequence[RouteModel], first: int, other: int
) -> WeightTurn | None:
    """The least change of one weight that brings the other level, None if no single one does."""
    mine = judge.worths(models[first].measures({}))
    theirs = judge.worths(models[other].measures({}))
    gaps = [float(a - b) for a, b in zip(mine, theirs, strict=True)]
    counted = [w for w in wishes if w.weight > 0]
    lead = sum(w.weight * gap for w, gap in zip(counted, gaps, strict=True))
    turns = [
        WeightTurn(other, w.key, w.weight, w.weight - lead / gap)
        for w, gap in zip(counted, gaps, strict=True)
        if abs(gap) > 1e-12 and w.weight - lead / gap > TIE
    ]
    return min(turns, key=_far, default=None)


def _yield_turn(
    judge: _Judge, models: Sequence[RouteModel], first: int, other: int
) -> YieldTurn | None:
    """The step's yield nearest to its typical one at which the other comes level."""
    import numpy as np

    steps = {s.id: s for m in (models[first], models[other]) for s in m.flow.steps}
    best: YieldTurn | None = None
    for step in steps.values():
        y = step.record.yield_

        def lead(at: Any, step_id: str = step.id) -> Any:
            mine = judge.score(models[first].measures({step_id: at}))
            return mine - judge.score(models[other].measures({step_id: at}))

        for end in (0.01, 1.0):
            places = y.typical + (end - y.typical) * np.linspace(0, 1, GRID + 1)[1:]
            if abs(end - y.typical) < 1e-12:
                continue
            below = np.broadcast_to(lead(places), places.shape) < -TIE
            if not below.any():
                continue
            i = int(np.argmax(below))
            near = y.typical if i == 0 else float(places[i - 1])
            far = float(places[i])
            for _ in range(40):
                middle = (near + far) / 2
                if float(lead(middle)) < 0:
                    far = middle
                else:
                    near = middle
            likely = y.low - 1e-12 <= far <= y.high + 1e-12
            turn = YieldTurn(other, step.id, y.typical, far, end < y.typical, likely)
            if best is None or abs(turn.at - turn.typical) < abs(best.at - best.typical):
                best = turn
    return best
