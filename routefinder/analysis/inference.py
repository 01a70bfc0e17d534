"""What weights and tests together say of a vessel: one inference.

**Unknowns** (``model.Unknowns``): how far the reaction went, what was kept of it, what of the
weighed-in start was what its name says, water in start and product, how far it went on.

**Explanations** part the ways a run can go; each is the usual run with one thing out of the way:

    usual           yield as the record draws it; moisture about 0.3 %; the start as stated
    unfinished      conversion times an even share        lost           kept times an even share
    wet             water up to 60 % (10 % after a dry heat)
    impure start    down to half of what its name says    damp start     water up to 60 %
    went on         an even share went on to what stronger heat makes
    another solid   one of the rivals on the filter instead
    misread         one reading means nothing             something else  none of them means any

with odds before any reading that are our choice (``ODDS``). "Even" is 1 / (1 + exp(-1.702 z)) of a
standard normal z, which is even to 1 %. All priors are functions of four standard normal scores.

**Readings** are normal about what the forward model gives, with the standard uncertainty of the
reading and 0.2 % of it for the model itself (our choice). One that "means nothing" is even in its
logarithm over two decades.

**Method**: importance sampling in the scores, adapted in steps. Draws from a normal proposal (a
tenth of them from the prior) are weighed by prior times likelihood to a power beta, which rises to
1 as fast as the effective number of draws allows; mean and covariance of one step make the next
proposal (population Monte Carlo: Cappe et al., J. Comput. Graph. Stat. 13, 2004, 907; tempering:
Neal, Stat. Comput. 11, 2001, 125; both cited from memory). The mean weight is the evidence, which
turns odds before into odds after. Intervals are the 10th to 90th percentile of all explanations
together. The seed is fixed: the same readings always mean the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from routefinder.analysis import methods
from routefinder.analysis.model import PRODUCT, Unknowns, Vessel
from routefinder.analysis.reading import Tested
from routefinder.assessment.distribution import Distribution, of_part
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.course import behaviour_of
from routefinder.vessel.stages import stages_of
from routefinder.vessel.stream import Number, Stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
else:
    Floats = Any

DRAWS = 3000
ROUNDS = 6
SEED = 1735
MODEL = 0.002  # how well the forward model knows a reading, as a share of it: our choice
LOGISTIC = 1.702  # the logistic curve nearest the normal one: Haley 1952, from memory
ODDS = {
    "usual": 0.78, "unfinished": 0.08, "lost": 0.04, "wet": 0.04, "impure start": 0.02,
    "damp start": 0.01, "went on": 0.01, "another solid": 0.01, "misread": 0.01,
    "something else": 0.002,
}  # fmt: skip
DRY_ENOUGH, DRY_SPREAD = 0.003, 0.7  # moisture of what was dried to constant weight: our choice
CLEAN, CLEAN_SPREAD = 0.005, 0.7  # what is not what its name says, where nothing is stated
DILUTION = 0.2  # how far a liquor's mass lies from its recipe's, in its logarithm: our choice
WETTEST, DAMPEST = 0.6, 0.1
MOIST = (0.3, 0.7)  # water in a cake that is called wet: common practice
FIGURES = ("conversion", "kept", "true", "moisture", "product_g", "share", "yield")


@dataclass(frozen=True)
class Weighed:
    """A weight in g with its standard uncertainty; ``part`` of the whole it is expected to be."""

    grams: float
    u: float
    on: str = PRODUCT
    part: float = 1.0


@dataclass(frozen=True)
class Priors:
    """What is thought before any reading.

    ``yield_`` as drawn, the purity of the start with its 10th and 90th percentile (``stated`` or
    not), ``u_in`` the standard uncertainty of the weight in as a share, ``moisture`` the least and
    most water of a product that is called wet (None: it is called dry).
    """

    yield_: Distribution
    purity: float = 1.0
    low: float = 1.0
    high: float = 1.0
    stated: bool = False
    u_in: float = 0.0
    moisture: tuple[float, float] | None = None


@dataclass(frozen=True)
class Spread:
    """10th, 50th and 90th percentile, and the standard deviation."""

    low: float
    middle: float
    high: float
    sd: float


@dataclass(frozen=True)
class Odds:
    """One explanation after the readings: its share of all, and its own figures."""

    what: str
    share: float
    figures: Mapping[str, Spread]
    reading: int | None = None
    substance: str = ""


@dataclass(frozen=True)
class Posterior:
    """All explanations together.

    ``figures``: conversion, kept, true (of the start), moisture, product_g (grams of the main
    product itself), share (of it in a gram of what was made: the strength to dose by), yield (over
    what the start as stated could make). ``before`` is the same without readings. ``effective`` is
    the least effective number of draws of an explanation that counts.
    """

    figures: Mapping[str, Spread]
    before: Mapping[str, Spread]
    explanations: tuple[Odds, ...]
    says: str
    effective: float
    draws: Mapping[str, Floats]
    weights: Floats
    streams: Mapping[str, Stream]

    def share_of(self, what: str) -> float:
        """The odds of an explanation, all readings or rivals together (0 to 1)."""
        return sum(o.share for o in self.explanations if o.what == what)


@dataclass(frozen=True)
class _Case:
    """One explanation to try."""

    what: str
    odds: float
    vessel: Vessel
    ignore: int | None = None  # the reading that means nothing; -1: all of them
    substance: str = ""


def prior_yield(step: ResolvedStep) -> Distribution:
    """The yield of a step as 10th, 50th and 90th percentile, all its parts together."""
    parts = [of_part(p) for p in step.record.yield_.parts]
    if len(parts) == 1 and not parts[0].triangular:
        return parts[0]
    import numpy as np

    generator = np.random.default_rng(1)
    drawn = np.ones(20_000)
    for part in parts:
        drawn = drawn * part.draw(generator, 20_000)
    low, middle, high = (float(v) for v in np.quantile(drawn, (0.1, 0.5, 0.9)))
    return Distribution(low, max(middle, low), max(high, middle))


def _even(z: Floats) -> Floats:
    import numpy as np

    found: Floats = 1 / (1 + np.exp(-LOGISTIC * z))
    return found


def _drawn(d: Distribution, z: Floats) -> Floats:
    """A distribution at scores z (0 is its median)."""
    import numpy as np

    from routefinder.assessment.distribution import Z90

    def logit(y: float) -> float:
        y = min(max(y, 1e-6), 1 - 1e-6)
        return math.log(y / (1 - y))

    middle = logit(d.typical)
    spread = np.where(z < 0, middle - logit(d.low), logit(d.high) - middle) / Z90
    found: Floats = 1 / (1 + np.exp(-(middle + z * spread)))
    return found


class _Model:
    """The map from scores to unknowns to readings, for one explanation."""

    def __init__(self, case: _Case, priors: Priors, readings: Sequence[Weighed | Tested]) -> None:
        self.case, self.priors, self.readings = case, priors, readings
        self.vessel = case.vessel
        self.step = case.vessel.step
        self.dry = stages_of(self.vessel.library, self.step).dry

    def unknowns(self, z: Floats) -> Unknowns:
        """Scores of shape (count, 4) as unknowns of shape (count,)."""
        import numpy as np

        p, what, own = self.priors, self.case.what, _even(z[:, 1])
        how = behaviour_of(self.vessel.library, self.step, _drawn(p.yield_, z[:, 0]))
        conversion = np.asarray(how.conversion) + 0.0 * z[:, 0]
        kept = np.asarray(how.kept) + 0.0 * z[:, 0]
        if p.stated:
            spread = Distribution(
                min(max(p.low, 1e-3), p.purity), min(p.purity, 1.0), min(max(p.high, p.purity), 1.0)
            )
            true = _drawn(spread, z[:, 2]) / p.purity if p.low < p.high else 1.0 + 0.0 * z[:, 2]
        else:
            true = 1 - np.minimum(CLEAN * np.exp(CLEAN_SPREAD * z[:, 2]), 0.3)
        solid = self.step.main.state == "s"
        if not solid:
            moisture = np.zeros(len(z))
        elif p.moisture is not None:
            moisture = p.moisture[0] + (p.moisture[1] - p.moisture[0]) * _even(z[:, 3])
        else:
            moisture = np.minimum(DRY_ENOUGH * np.exp(DRY_SPREAD * z[:, 3]), 0.3)
        dilution = np.exp(DILUTION * z[:, 3]) if self.step.main.state == "aq" else 1.0
        at = Unknowns(conversion, kept, true, 0.0, moisture, 0.0, dilution)
        if what == "unfinished":
            at = replace(at, conversion=conversion * own)
        elif what == "lost":
            at = replace(at, kept=kept * own)
        elif what == "wet":
            at = replace(at, moisture=moisture + own * (DAMPEST if self.dry else WETTEST))
        elif what == "impure start":
            at = replace(at, true=true * (1 - 0.5 * own))
        elif what == "damp start":
            at = replace(at, damp=own * WETTEST)
        elif what == "went on":
            at = replace(at, went_on=own)
        return at

    def run(self, z: Floats) -> tuple[Unknowns, Mapping[str, Stream], Floats]:
        """(unknowns, streams, readings of shape (count, readings)) at these scores."""
        import numpy as np

        at = self.unknowns(z)
        streams = self.vessel.streams(at)
        out = np.empty((len(z), len(self.readings)))
        for i, reading in enumerate(self.readings):
            out[:, i] = self._read(reading, streams)
        return at, streams, out

    def _read(self, reading: Weighed | Tested, streams: Mapping[str, Stream]) -> Number:
        stream = streams.get(reading.on)
        if stream is None:
            return 0.0 * streams[PRODUCT].mass_g
        if isinstance(reading, Weighed):
            return stream.mass_g * reading.part
        library = self.vessel.library
        sample: Number | None = reading.sample_g
        if sample is None:
            density = reading.density_g_mL or methods.density(library, stream)
            sample = (reading.sample_mL or 0.0) * density
        return methods.reading(
            library, reading.method, stream, sample, reading.molar, reading.first
        )

    def log_likelihood(self, read: Floats, seen: Floats) -> Floats:
        """Of readings ``seen``, shape (1 or vessels, readings), where ``read`` is expected."""
        import numpy as np

        total = 0.0 * read[..., 0]
        for i, reading in enumerate(self.readings):
            u = reading.u if isinstance(reading, Weighed) else reading.u_all
            at = seen[..., i]
            if self.case.ignore in (i, -1):
                total = total - np.log(np.maximum(np.abs(at), u) * math.log(100.0))
                continue
            expected = read[..., i]
            share = math.hypot(MODEL, self.priors.u_in if isinstance(reading, Weighed) else 0.0)
            sigma = np.sqrt(u * u + (share * expected) ** 2)
            total = total - 0.5 * ((at - expected) / sigma) ** 2 - np.log(sigma * 2.5066282746)
        return total


def cases(
    vessel: Vessel, readings: Sequence[Weighed | Tested], rivals: Sequence[tuple[str, float]] = ()
) -> list[_Case]:
    """The explanations that can be for this step, with their odds before, which sum to 1."""
    step = vessel.step
    dry = stages_of(vessel.library, step).dry
    out = [_Case("usual", ODDS["usual"], vessel)]
    named = ["unfinished", "lost", "impure start"]
    if step.main.state == "s":
        named.append("wet")
    if dry:
        named.append("damp start")
        if vessel.next_step is not None:
            named.append("went on")
    out += [_Case(name, ODDS[name], vessel) for name in named]
    for name, ratio in rivals:
        other = replace(vessel, rival=(name, ratio))
        odds = ODDS["another solid"] / len(rivals)
        out.append(_Case("another solid", odds, other, substance=name))
    if len(readings) > 1:
        for i in range(len(readings)):
            out.append(_Case("misread", ODDS["misread"], vessel, i))
    if readings:
        out.append(_Case("something else", ODDS["something else"], vessel, -1))
    whole = sum(c.odds for c in out)
    return [replace(c, odds=c.odds / whole) for c in out]


def infer(
    vessel: Vessel,
    priors: Priors,
    readings: Sequence[Weighed | Tested],
    rivals: Sequence[tuple[str, float]] = (),
    draws: int = DRAWS,
) -> Posterior:
    """What the readings mean for this vessel; without readings, what is thought beforehand."""
    import numpy as np

    seen = np.array([[r.grams if isinstance(r, Weighed) else r.reading for r in readings]])
    tried = cases(vessel, readings, rivals)
    before = _mixture([_Model(c, priors, ()) for c in cases(vessel, (), rivals)], None, draws)
    found = _mixture([_Model(c, priors, readings) for c in tried], seen, draws)
    shares = found.shares[0]
    weights, figures = found.weights[0], {k: v[0] for k, v in found.figures.items()}
    own = {k: _spread(v, weights) for k, v in figures.items()}
    prior = {k: _spread(v[0], before.weights[0]) for k, v in before.figures.items()}
    rows = []
    for i, case in enumerate(tried):
        part = slice(i * draws, (i + 1) * draws)
        mine = weights[part] / max(weights[part].sum(), 1e-300)
        rows.append(
            Odds(
                case.what, float(shares[i]),
                {k: _spread(v[part], mine) for k, v in figures.items()},
                None if case.ignore in (None, -1) else case.ignore, case.substance,
            )
        )  # fmt: skip
    rows.sort(key=lambda o: -o.share)
    counts = [e for e, s in zip(found.effective[0], shares, strict=True) if s > 0.05]
    usual = behaviour_of(vessel.library, vessel.step, priors.yield_.low)
    spreads = {
        case.what: _spread(
            before.figures["conversion"][0][i * draws : (i + 1) * draws],
            before.weights[0][i * draws : (i + 1) * draws],
        ).sd
        for i, case in enumerate(cases(vessel, (), rivals))
    }
    says = _says(rows, spreads, figures["conversion"], weights, float(usual.conversion))
    return Posterior(
        own, prior, tuple(rows), says, float(min(counts)), figures, weights, found.streams
    )


ENOUGH = 0.98  # of the conversion that the low end of a usual yield means
SURE = 0.8
TELLS = 0.6  # of the spread before: a spread that is no smaller tells nothing
TIMES = 3.0  # by which odds must change to tell


def _says(
    rows: Sequence[Odds], before: Mapping[str, float], conversion: Floats, weights: Floats,
    least: float,
) -> str:  # fmt: skip
    """The verdict: whether the readings tell of the conversion, and what.

    ``before`` is the spread of the conversion before any reading, by explanation.
    """
    odds: dict[str, float] = {}
    for row in rows:
        odds[row.what] = odds.get(row.what, 0.0) + row.share
    if odds.get("something else", 0.0) + odds.get("another solid", 0.0) > 0.5:
        return "something else"
    best = rows[0]
    told = best.figures["conversion"].sd < TELLS * before.get(best.what, 1.0)
    if best.what in {"usual", "unfinished"}:
        against = (odds.get("usual", 0.0) + 1e-12) / (odds.get("unfinished", 0.0) + 1e-12)
        change = against / (ODDS["usual"] / ODDS["unfinished"])
        told = told or not 1 / TIMES < change < TIMES
    if not told:
        return "cannot tell"
    done = float((weights * (conversion >= ENOUGH * least)).sum())
    if done >= SURE:
        return "done"
    return "go on" if done <= 1 - SURE else "cannot tell"


def _spread(values: Floats, weights: Floats) -> Spread:
    import numpy as np

    order = np.argsort(values)
    rising, sums = values[order], np.cumsum(weights[order])
    total = sums[-1] if sums[-1] > 0 else 1.0
    low, middle, high = (
        float(rising[min(int(np.searchsorted(sums, q * total)), len(rising) - 1)])
        for q in (0.1, 0.5, 0.9)
    )
    mean = float((values * weights).sum() / total)
    sd = math.sqrt(max(float(((values - mean) ** 2 * weights).sum() / total), 0.0))
    return Spread(low, middle, high, sd)


def intervals(
    vessel: Vessel,
    priors: Priors,
    readings: Sequence[Weighed | Tested],
    seen: Floats,
    draws: int = 400,
) -> dict[str, tuple[Floats, Floats]]:
    """10th and 90th percentiles for many vessels of one kind at once, shape (vessels,) each.

    ``seen`` are their readings, shape (vessels, readings); ``readings`` say what was read and how
    well (as shares of what they hold themselves).
    """
    import numpy as np

    found = _mixture([_Model(c, priors, readings) for c in cases(vessel, readings)], seen, draws)
    out = {}
    for name, values in found.figures.items():
        order = np.argsort(values, axis=1)
        rising = np.take_along_axis(values, order, axis=1)
        sums = np.cumsum(np.take_along_axis(found.weights, order, axis=1), axis=1)
        sums = sums / sums[:, -1:]
        ends = []
        for q in (0.1, 0.9):
            place = np.minimum((sums < q).sum(axis=1), values.shape[1] - 1)
            ends.append(np.take_along_axis(rising, place[:, None], axis=1)[:, 0])
        out[name] = (ends[0], ends[1])
    return out


def simulate(
    vessel: Vessel, priors: Priors, readings: Sequence[Weighed | Tested], count: int, seed: int
) -> tuple[Floats, dict[str, Floats]]:
    """Vessels drawn from what is thought beforehand: (readings, what is true of each)."""
    import numpy as np

    generator = np.random.default_rng(seed)
    tried = cases(vessel, readings)
    which = generator.choice(len(tried), size=count, p=[c.odds for c in tried])
    seen, truth = np.empty((count, len(readings))), {n: np.empty(count) for n in FIGURES}
    for i, case in enumerate(tried):
        mine = np.flatnonzero(which == i)
        if not len(mine):
            continue
        model = _Model(case, priors, readings)
        at, streams, read = model.run(generator.standard_normal((len(mine), 4)))
        for name, value in _figures(model, at, streams).items():
            truth[name][mine] = value
        for k, reading in enumerate(readings):
            u = reading.u if isinstance(reading, Weighed) else reading.u_all
            share = math.hypot(MODEL, priors.u_in if isinstance(reading, Weighed) else 0.0)
            sigma = np.sqrt(u * u + (share * read[:, k]) ** 2)
            seen[mine, k] = read[:, k] + sigma * generator.standard_normal(len(mine))
            if case.ignore in (k, -1):
                seen[mine, k] = read[:, k] * 100 ** (generator.random(len(mine)) - 0.5)
    return seen, truth


@dataclass(frozen=True)
class _Mixture:
    """Draws of all explanations one after another; first axis: vessels."""

    figures: Mapping[str, Floats]
    weights: Floats
    shares: Floats
    effective: Floats
    streams: Mapping[str, Stream]


def _mixture(models: Sequence[_Model], seen: Floats | None, draws: int) -> _Mixture:
    import numpy as np

    figures: dict[str, list[Floats]] = {}
    weights, evidence, effective = [], [], []
    kept: list[Mapping[str, Stream]] = []
    for model in models:
        log_w, at, streams = _sample(model, seen, draws)
        top = log_w.max(axis=1, keepdims=True)
        w = np.exp(log_w - top)
        evidence.append(np.log(w.mean(axis=1)) + top[:, 0] + math.log(model.case.odds))
        effective.append(w.sum(axis=1) ** 2 / (w**2).sum(axis=1))
        weights.append(w / w.sum(axis=1, keepdims=True))
        for name, value in _figures(model, at, streams).items():
            figures.setdefault(name, []).append(np.broadcast_to(value, (w.size,)).reshape(w.shape))
        kept.append(streams)
    logs = np.stack(evidence, axis=1)
    shares = np.exp(logs - logs.max(axis=1, keepdims=True))
    shares = shares / shares.sum(axis=1, keepdims=True)
    joined = np.concatenate([w * shares[:, i : i + 1] for i, w in enumerate(weights)], axis=1)
    return _Mixture(
        {k: np.concatenate(v, axis=1) for k, v in figures.items()}, joined, shares,
        np.stack(effective, axis=1), _joined(kept, draws),
    )  # fmt: skip


def _joined(every: Sequence[Mapping[str, Stream]], count: int) -> Mapping[str, Stream]:
    """The streams of all explanations, draw after draw (of one vessel)."""
    import numpy as np

    out = {}
    for name in {n for streams in every for n in streams}:
        keys = {k for s in every if name in s for k in s[name].parts}
        size = [count] * len(every)
        if any(s[name].parts and np.size(s[name].mass_g) != count for s in every if name in s):
            return {}  # several vessels at once: nobody asks what to measure next
        out[name] = Stream(
            {
                key: np.concatenate(
                    [np.broadcast_to(s[name].parts.get(key, 0.0) if name in s else 0.0, (n,))
                     for s, n in zip(every, size, strict=True)]
                )
                for key in keys
            }
        )  # fmt: skip
    return out


def _figures(model: _Model, at: Unknowns, streams: Mapping[str, Stream]) -> dict[str, Any]:
    step, library = model.step, model.vessel.library
    name = library.root(step.main.substance) if step.main.state == "aq" else step.main.substance
    product = streams[PRODUCT]
    grams = product.grams(name)
    theory = model.vessel.charge.turns * step.main.moles * library.substances[name].molar_mass_g
    return {
        "conversion": at.conversion, "kept": at.kept, "true": at.true * (1 - at.damp),
        "moisture": at.moisture, "product_g": grams, "share": grams / product.mass_g,
        "yield": grams / theory,
    }  # fmt: skip


def _sample(
    model: _Model, seen: Floats | None, draws: int
) -> tuple[Floats, Unknowns, Mapping[str, Stream]]:
    """(log weights of shape (vessels, draws), unknowns, streams), adapted over ROUNDS."""
    import numpy as np

    count = 1 if seen is None else len(seen)
    generator = np.random.default_rng(SEED)
    mean = np.zeros((count, 4))
    root = np.broadcast_to(np.eye(4), (count, 4, 4))
    many = ROUNDS if seen is not None and model.readings and model.case.ignore != -1 else 1
    prior_draws = draws if many == 1 else draws // 10
    for turn in range(many):
        base = generator.standard_normal((draws, 4))
        z = mean[:, None, :] + np.einsum("vij,nj->vni", root, base)
        first = prior_draws if turn else draws
        z[:, :first, :] = base[:first]
        log_prior = -0.5 * (z**2).sum(axis=2)
        log_q = log_prior
        if turn:
            off = np.linalg.solve(root, np.swapaxes(z - mean[:, None, :], 1, 2))
            scale = np.log(np.abs(np.linalg.det(root)))
            near = -0.5 * (off**2).sum(axis=1) - scale[:, None]
            part = prior_draws / draws
            log_q = np.logaddexp(near + math.log(1 - part), log_prior + math.log(part))
        at, streams, read = model.run(z.reshape(-1, 4))
        if seen is None or not model.readings:
            return log_prior - log_q, at, streams
        read = np.broadcast_to(read, (count * draws, len(model.readings)))
        log_l = model.log_likelihood(read.reshape(count, draws, -1), seen[:, None, :])
        if turn == many - 1:
            return log_prior + log_l - log_q, at, streams
        beta = _beta(log_prior - log_q, log_l, 0.15 * draws)
        mean, root = _fit(z, log_prior - log_q + beta[:, None] * log_l)
    raise AssertionError("no round")


def _beta(log_w: Floats, log_l: Floats, wanted: float) -> Floats:
    """The greatest power up to 1 that keeps ``wanted`` effective draws, vessel by vessel."""
    import numpy as np

    low, high = np.zeros(len(log_w)), np.ones(len(log_w))
    good = _effective(log_w + log_l) >= wanted
    for _ in range(30):
        middle = (low + high) / 2
        enough = _effective(log_w + middle[:, None] * log_l) >= wanted
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    return np.where(good, 1.0, np.maximum(low, 1e-12))


def _effective(log_w: Floats) -> Floats:
    import numpy as np

    w = np.exp(log_w - log_w.max(axis=1, keepdims=True))
    found: Floats = w.sum(axis=1) ** 2 / (w**2).sum(axis=1)
    return found


WIDER = 1.3  # a proposal is this much wider than what it was fitted to


def _fit(z: Floats, log_w: Floats) -> tuple[Floats, Floats]:
    import numpy as np

    w = np.exp(log_w - log_w.max(axis=1, keepdims=True))
    w = w / w.sum(axis=1, keepdims=True)
    mean = np.einsum("vn,vni->vi", w, z)
    off = z - mean[:, None, :]
    spread = np.einsum("vn,vni,vnj->vij", w, off, off) * WIDER**2 + 1e-8 * np.eye(4)
    return mean, np.linalg.cholesky(spread)


@dataclass(frozen=True)
class Telling:
    """What a further test would tell: ``cut`` is the share of the doubt (standard deviation)."""

    test: Any
    figure: str
    sd: float
    cut: float
    minutes: float


def worth(
    found: Posterior, vessel: Vessel, tests: Sequence[tuple[Any, Callable[[Stream], Number], str]],
    figure: str,
) -> tuple[Telling, ...]:  # fmt: skip
    """Further tests by how much doubt of a figure each would take away for a minute of work.

    ``tests`` are (the test as prepared, its reading of a stream, what it is done on). Linear Bayes:
    what is left of the variance is var - cov^2 / (var of the reading + u^2).
    """
    import numpy as np

    w, values = found.weights, found.draws[figure]
    mean = (w * values).sum()
    var = float((w * (values - mean) ** 2).sum())
    rows = []
    for test, read, on in tests:
        if on not in found.streams or var <= 0:
            continue
        with np.errstate(all="ignore"):
            got = np.nan_to_num(read(found.streams[on]))
        middle = (w * got).sum()
        spread = float((w * (got - middle) ** 2).sum())
        joint = float((w * (got - middle) * (values - mean)).sum())
        left = max(var - joint**2 / (spread + test.u**2), 0.0)
        cut = 1 - math.sqrt(left / var)
        rows.append(Telling(test, figure, math.sqrt(left), cut, test.method.minutes))
    rows.sort(key=lambda r: -r.cut / r.minutes)
    return tuple(rows)
