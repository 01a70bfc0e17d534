"""How sure a route is: the laws of the simulation, and the demo's numbers by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few
from test_amounts import toy_routes, toy_step, toy_substance
from test_demo import R1, R2, ask, route

from routefinder.assessment import uncertainty as u
from routefinder.assessment import yields
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.library.resolve import Aid, Part, ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.step import Yield, YieldPart
from routefinder.vessel.amounts import amounts
from routefinder.vessel.flow import flow_of


def chain(*parts: tuple[float, float, float] | tuple[float, float, float, str], **supply):
    """C1 -> C2 -> C4 ...: (library, steps, supplies, target), one uncertain yield a step."""
    library = Library(substances={f"c{2**i}": toy_substance(2**i) for i in range(len(parts) + 1)})
    steps = []
    for i, part in enumerate(parts):
        n = 2**i
        s = toy_step(i, [n], [2 * n], (0.5, 0.5, 0.5), 0, 0, 0)
        reading = part[3] if len(part) == 4 else "percentiles"
        y = Yield(basis="toy", parts=(
            YieldPart(low=part[0], typical=part[1], high=part[2], reading=reading,
                      source=["common practice"]),))  # fmt: skip
        steps.append(
            ResolvedStep(s.record.model_copy(update={"yield_": y}), (Part(f"c{n}", 2.0, "s"),),
                         s.products, s.main, Part(f"c{n}", 2.0, "s"), {}, {}, {}, {}, ())
        )  # fmt: skip
    supplies = [Supply("m", "C1", "solid", **{"fractions": {"c1": 1.0}, **supply}, main="c1")]
    return library, steps, supplies, f"c{2 ** len(parts)}"


def plan(case, grams=100.0):
    library, steps, supplies, target = case
    return library, amounts(library, steps, supplies, target, grams)


@given(toy_routes(), st.data())
def test_the_lean_pass_is_the_full_one(case, data):
    """Any yields: the same turns and draws as ``amounts``, one by one and as arrays."""
    library, steps, supplies, target = case
    flow = flow_of(library, amounts(library, steps, supplies, target, 10.0))
    sets = [[data.draw(st.floats(0.05, 1.0)) for _ in steps] for _ in range(3)]
    together = flow.turns([np.array([row[i] for row in sets]) for i in range(len(steps))])
    for k, row in enumerate(sets):
        by_id = {s.id: y for s, y in zip(steps, row, strict=True)}
        full = amounts(library, steps, supplies, target, 10.0, lambda s, by=by_id: by[s.id])
        lean = flow.turns(row)
        for i, step in enumerate(full.steps):
            assert lean[i] == pytest.approx(step.turns, rel=1e-12)
            assert np.broadcast_to(together[i], 3)[k] == pytest.approx(step.turns, rel=1e-12)
        for draw in full.draws:
            assert flow.weighed_g(draw.supply.id, lean) == pytest.approx(
                draw.as_weighed_g, rel=1e-12
            )
            assert flow.moles(draw.supply.id, lean) == pytest.approx(draw.moles, rel=1e-12)
    ideal = amounts(library, steps, supplies, target, 10.0, ideal=True)
    perfect = flow_of(library, ideal, ideal=True)
    for draw in ideal.draws:
        lean_moles = perfect.moles(draw.supply.id, perfect.turns([1.0] * len(steps)))
        assert lean_moles == pytest.approx(draw.moles, rel=1e-12)


@given(toy_routes())
@few(60)
def test_typical_values_give_the_deterministic_answer(case):
    """With every yield certain, all trials are the overall yields of ``yields.overall``."""
    library, steps, supplies, target = case
    certain = []
    for s in steps:
        t = s.record.yield_.typical
        y = Yield(basis="toy", parts=(YieldPart(low=t, typical=t, high=t),))
        certain.append(
            ResolvedStep(s.record.model_copy(update={"yield_": y}), s.reactants, s.products, s.main,
                         s.limiting, s.excess, s.strength, s.recovered, s.dissolved, s.aids)
        )  # fmt: skip
    found = amounts(library, certain, supplies, target, 10.0)
    sure = u.how_sure(library, found, draws=50)
    expected = {o.supply.id: o.typical for o in yields.overall(library, found)}
    assert {s.supply.id for s in sure.starts} == set(expected)
    for start in sure.starts:
        for value in (start.overall.p10, start.overall.p50, start.overall.p90):
            assert value == pytest.approx(expected[start.supply.id], rel=1e-9)
        assert start.output_g.p50 == pytest.approx(10.0, rel=1e-9)
        assert start.chance == 1.0
        assert all(g == pytest.approx(start.start_g, rel=1e-9) for _, g in start.enough_g)
    assert sure.shares == ()


@given(toy_routes(), st.floats(0.1, 3.0), st.floats(1.0, 3.0), st.integers(0, 5))
@few(60)
def test_probabilities(case, start, more, seed):
    """A chance lies in 0-1, rises with the start, and is what ``enough_g`` promises."""
    library, found = plan(case, 10.0)
    trial = u.simulate(library, found, draws=200, seed=seed)
    for draw in found.draws:
        name = draw.supply.id
        if name not in trial.overall:
            continue
        less = trial.chance({name: draw.as_weighed_g * start})
        assert 0 <= less <= trial.chance({name: draw.as_weighed_g * start * more}) <= 1
        for confidence in (0.1, 0.5, 0.9):
            enough = trial.enough_g(name, confidence)
            assert trial.chance({name: enough}) >= confidence - 1e-9
            assert trial.chance({name: enough * 0.999}) <= 1
            assert trial.enough_g(name, confidence, 20.0) == pytest.approx(2 * enough)
        assert np.all(trial.overall[name] > 0)
        assert np.all(trial.overall[name] <= 1 + 1e-9)
    everything = dict.fromkeys(trial.overall, 0.0)
    assert not everything or trial.chance(everything) == 0
    sure = u.how_sure(library, found, draws=200, seed=seed)
    factors = [f for _, f in sure.together]
    assert factors == sorted(factors)
    if sure.starts:
        for s in sure.starts:
            for confidence, grams in s.enough_g:
                assert trial.chance({s.supply.id: grams}) >= confidence - 1e-9
        for confidence, factor in sure.together:
            scaled = {s.supply.id: factor * s.start_g * (1 + 1e-9) for s in sure.starts}
            assert trial.chance(scaled) >= confidence - 1e-9
        for i, (_, factor) in enumerate(sure.together):  # all together need no less than one alone
            for s in sure.starts:
                assert factor * s.start_g >= s.enough_g[i][1] * (1 - 1e-9)
    assert all(s.share > 0 for s in sure.shares)
    assert sum(s.share for s in sure.shares) <= 1.05  # 200 draws are noisy


def test_scaling_is_linear():
    """Twice the target: twice the start at every confidence, the same chance and yields."""
    case = chain((0.8, 0.9, 0.95), (0.6, 0.7, 0.9))
    one, two = (u.how_sure(*plan(case, g)) for g in (50.0, 100.0))
    assert two.starts[0].overall == one.starts[0].overall
    assert two.starts[0].chance == one.starts[0].chance
    for (_, a), (_, b) in zip(one.starts[0].enough_g, two.starts[0].enough_g, strict=True):
        assert b == pytest.approx(2 * a, rel=1e-12)


def test_exact_moments_of_a_product():
    """Independent factors: E[XYZ] = E[X]E[Y]E[Z], E[(XYZ)^2] likewise; triangular moments exact."""
    triples = [(0.90, 0.95, 0.98), (0.95, 0.98, 0.995), (0.82, 0.8704, 0.90), (0.5, 0.8, 0.9)]
    trial = u.simulate(*plan(chain(*((*t, "triangular") for t in triples))), draws=100_000)
    product = trial.overall["m"]
    mean, square = 1.0, 1.0
    for a, c, b in triples:
        m = (a + b + c) / 3
        v = (a * a + b * b + c * c - a * b - a * c - b * c) / 18
        mean *= m
        square *= v + m * m
    variance = square - mean**2
    assert product.mean() == pytest.approx(mean, abs=5 * math.sqrt(variance / 100_000))
    assert product.var() == pytest.approx(variance, rel=0.03)


def test_quadrature_for_small_spreads():
    """JCGM 100:2008 (GUM), 5.1.2 eq. (10): relative standard uncertainties of a product add in
    quadrature, here of symmetric percentiles within 0.5 % (u = half-width / 1.2816)."""
    halves = [(0.80, 0.004), (0.70, 0.002), (0.60, 0.003)]
    case = chain(*((y - h, y, y + h) for y, h in halves))
    product = u.simulate(*plan(case), draws=100_000).overall["m"]
    expected = math.sqrt(sum((h / 1.2815515655 / y) ** 2 for y, h in halves))
    assert product.std() / product.mean() == pytest.approx(expected, rel=0.015)


def test_published_quadrature():
    """worked_examples.csv A43: 0.9, 0.8 and 0.7 with u = 0.03, 0.05, 0.07 give 0.504 +/- 0.062
    (JCGM 100:2008, 5.1.6, eq. (12), from memory; numbers of the project)."""
    case = chain(*((y - 1.28155 * s, y, y + 1.28155 * s)
                   for y, s in ((0.9, 0.03), (0.8, 0.05), (0.7, 0.07))))  # fmt: skip
    product = u.simulate(*plan(case), draws=100_000).overall["m"]
    assert np.median(product) == pytest.approx(0.504, abs=0.005)
    assert product.std() == pytest.approx(0.062, abs=0.004)


def test_shares_of_a_chain():
    """The share of a step is var(ln y) over the sum of all: worked out apart, by quadrature."""
    from routefinder.assessment.distribution import Distribution

    triples = [(0.90, 0.95, 0.98), (0.6, 0.8, 0.9), (0.93, 0.95, 0.97)]
    sure = u.how_sure(*plan(chain(*triples)), draws=40_000)
    grid = [(i + 0.5) / 4000 for i in range(4000)]
    variances = []
    for t in triples:
        logs = np.log([Distribution(*t).quantile(p) for p in grid])
        variances.append(logs.var())
    by_step = {s.of: s.share for s in sure.shares}
    for i, v in enumerate(variances):
        assert by_step[f"s{i}"] == pytest.approx(v / sum(variances), abs=0.01)
    assert sum(by_step.values()) == pytest.approx(1, abs=1e-9)
    assert sure.unexplained == pytest.approx(0, abs=1e-9)
    assert sure.shares[0].of == "s1"


def test_shares_against_pick_and_freeze():
    """First-order indices by re-drawing all but one factor (Saltelli's scheme, written apart)."""
    rng = np.random.default_rng(5)
    triples = [(0.90, 0.95, 0.98), (0.6, 0.8, 0.9)]
    trial = u.simulate(*plan(chain(*triples)), draws=40_000)
    f = np.log(trial.need_g["m"])
    found = {s.of: s.share for s in u.shares(trial, "m")[0]}
    for i in range(2):
        others = [v if j == i else rng.permutation(v) for j, v in enumerate(trial.values)]
        other = -np.log(others[0] * others[1])
        index = np.cov(f, other)[0, 1] / f.var()
        assert found[f"s{i}"] == pytest.approx(index, abs=0.02)


def test_branches_of_a_convergent_route():
    """A branch's need follows its own yield and the join's, not the other branch's."""
    library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 20)})
    sides = []
    for i, n in enumerate((3, 5)):
        s = toy_step(i, [n], [2 * n], (0.5, 0.7, 0.9), 0, 0, 0)
        sides.append(ResolvedStep(s.record, (Part(f"c{n}", 2.0, "s"),), s.products, s.main,
                                  Part(f"c{n}", 2.0, "s"), {}, {}, {}, {}, ()))  # fmt: skip
    join = toy_step(2, [6, 10], [16], (0.8, 0.9, 0.95), 0, 0, 0)
    supplies = [Supply(f"m{n}", f"C{n}", "solid", {f"c{n}": 1.0}, f"c{n}") for n in (3, 5)]
    trial = u.simulate(library, amounts(library, [*sides, join], supplies, "c16", 50))
    left, right, last = trial.values
    for name, own in (("m3", left), ("m5", right)):
        assert np.allclose(trial.overall[name], own * last, rtol=1e-12)
        assert {s.of for s in u.shares(trial, name)[0]} == {
            "s2", "s0" if name == "m3" else "s1"
        }  # fmt: skip
    both = trial.chance({"m3": 100.0, "m5": 100.0})
    assert both <= min(trial.chance({"m3": 100.0}), trial.chance({"m5": 100.0}))


def test_a_wanted_co_product_goes_with_the_run():
    """Main and co-product of one step are both wanted: the greater need rules, and the doubt of the
    step's yield is the co-product's too."""
    library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 20)})
    s = toy_step(0, [8], [5, 3], (0.5, 0.7, 0.9), 0, 0.6, 0)
    split = ResolvedStep(s.record, (Part("c8", 1.0, "s"),), s.products, s.main,
                         Part("c8", 1.0, "s"), {}, {}, {"c3": 0.7}, {}, ())  # fmt: skip
    join = toy_step(1, [5, 3], [8], (1, 1, 1), 0, 0, 0)
    join = ResolvedStep(join.record, join.reactants, (Part("c9", 8 / 9, "s"),), Part("c9", 8 / 9, "s"),
                        join.limiting, {}, {}, {}, {}, ())  # fmt: skip
    supplies = [Supply("m8", "C8", "solid", {"c8": 1.0}, "c8")]
    found = amounts(library, [split, join], supplies, "c9", 50)
    trial = u.simulate(library, found)
    y = trial.values[0]
    caught = np.minimum(0.7 * y / split.record.yield_.typical, 1)
    assert np.allclose(trial.overall["m8"], np.minimum(y, caught), rtol=1e-12)
    parts, unexplained = u.shares(trial, "m8")
    assert sum(p.share for p in parts) + unexplained == pytest.approx(1)


def test_a_shared_step_is_drawn_once():
    """C2 made once feeds two steps: what is needed of C1 follows its one yield exactly."""
    library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 9)})
    s = toy_step(0, [1], [2], (0.5, 0.7, 0.9), 0, 0, 0)
    first = ResolvedStep(s.record, (Part("c1", 2.0, "s"),), s.products, s.main,
                         Part("c1", 2.0, "s"), {}, {}, {}, {}, ())  # fmt: skip
    steps = [first, toy_step(1, [2, 3], [5], (1, 1, 1), 0, 0, 0),
             toy_step(2, [5, 2], [7], (1, 1, 1), 0, 0, 0)]  # fmt: skip
    supplies = [Supply(f"m{n}", f"C{n}", "solid", {f"c{n}": 1.0}, f"c{n}") for n in (1, 3)]
    trial = u.simulate(library, amounts(library, steps, supplies, "c7", 50))
    product = trial.need_g["m1"] * trial.values[0]
    assert product.std() / product.mean() < 1e-12
    assert trial.need_g["m3"].std() == 0


def test_a_shared_step_has_the_same_luck_in_every_route(studio):
    """Two routes that end in the same crystallisation draw the same yields for it."""
    answer = ask(studio)
    lucks = []
    for ids in (R1, R2):
        trial = u.simulate(answer.library, route(answer, ids).assessment.amounts)
        lucks.append([v for f, v in zip(trial.factors, trial.values, strict=True)
                      if f.of == "crystallise-copper-ii-acetate"])  # fmt: skip
    assert len(lucks[0]) == 2
    assert np.array_equal(lucks[0], lucks[1])
    assert not np.array_equal(lucks[0][0], lucks[0][1])


def test_purity_widens_the_start_not_the_yield():
    """A strength between 90 and 98 % changes what is weighed in, and only that."""
    sharp = chain((0.8, 0.8, 0.8), fractions={"c1": 0.95})
    wide = chain((0.8, 0.8, 0.8), fractions={"c1": 0.95}, low={"c1": 0.90}, high={"c1": 0.98})
    a, b = u.how_sure(*plan(sharp)), u.how_sure(*plan(wide))
    assert b.starts[0].overall.p10 == pytest.approx(a.starts[0].overall.p10)
    plain = a.starts[0].start_g
    assert b.starts[0].enough_g[2][1] == pytest.approx(plain * 0.95 / 0.90, rel=2e-3)  # 90 %
    assert b.starts[0].output_g.p10 == pytest.approx(100 * 0.90 / 0.95, rel=2e-3)
    assert [(s.of, s.kind) for s in b.shares] == [("m", "purity")]


def test_a_stated_strength_keeps_the_range_in_order(shipped, tmp_path):
    """A bare substance at 90 % has no range; a material's own range is scaled to the strength."""
    from routefinder.library.shelf import read_shelf

    path = tmp_path / "shelf.csv"
    path.write_text("material,strength\nsodium carbonate decahydrate,90 %\n"
                    "blue vitriol root killer,94 %\n", encoding="utf-8")  # fmt: skip
    bare, vitriol = read_shelf(path, shipped).supplies[:2]
    assert bare.low[bare.main] == bare.high[bare.main] == pytest.approx(0.90)
    assert vitriol.low[vitriol.main] == pytest.approx(0.97 * 94 / 98, rel=1e-3)  # 97 of 98 %
    assert vitriol.high[vitriol.main] == pytest.approx(0.995 * 94 / 98, rel=1e-3)


def test_gains_of_five_points():
    """0.8 -> 0.85 makes 6.25 % more of the same start; 0.97 can only rise to 1."""
    case = chain((0.8, 0.8, 0.8), (0.97, 0.97, 0.97), price_per_g=0.02)
    library, found = plan(case)
    sure = u.how_sure(library, found, draws=10)
    first, second = sure.gains
    assert (first.step, second.step) == ("s0", "s1")
    assert first.output_g == pytest.approx(100 * (0.85 / 0.8 - 1))
    assert second.points == pytest.approx(0.03)
    assert second.output_g == pytest.approx(100 * (1 / 0.97 - 1))
    cost = found.draws[0].as_weighed_g * 0.02
    assert first.saves == pytest.approx(cost * (1 - 0.8 / 0.85))


def test_demo_by_hand(studio):
    """S1: P10/P50/P90 0.744/0.773/0.802, P50 within 0.005; 401.7 g give 243 g; 90 % needs 429 g."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    sure = u.how_sure(answer.library, found)
    vitriol = sure.starts[0]
    assert vitriol.limits
    assert vitriol.supply.main == "copper-ii-sulfate-pentahydrate"
    assert vitriol.overall.p50 == pytest.approx(0.773, abs=0.005)
    assert vitriol.overall.p10 == pytest.approx(0.744, abs=0.005)
    assert vitriol.overall.p90 == pytest.approx(0.802, abs=0.005)
    assert vitriol.start_g == pytest.approx(401.7, rel=0.01)
    assert vitriol.output_g.p50 == pytest.approx(243, rel=0.01)
    assert dict(vitriol.enough_g)[0.9] == pytest.approx(429, rel=0.01)
    assert dict(vitriol.enough_g)[0.5] == pytest.approx(413, rel=0.01)
    assert sure.shares[0].of == "crystallise-copper-ii-acetate"
    assert sum(s.share for s in sure.shares) == pytest.approx(1, abs=1e-6)


def test_the_seed_decides():
    """The same seed, the same figures; another seed, others."""
    case = plan(chain((0.7, 0.8, 0.9)))
    assert u.how_sure(*case) == u.how_sure(*case)
    assert u.how_sure(*case) != u.how_sure(*case, seed=2)


def test_bad_questions():
    """One sentence each."""
    library, found = plan(chain((0.7, 0.8, 0.9)))
    trial = u.simulate(library, found, draws=10)
    with pytest.raises(InputError, match="no material of this route"):
        trial.chance({"gold": 1.0})
    with pytest.raises(InputError, match="negative"):
        trial.chance({"m": -1.0})
    with pytest.raises(InputError, match="at least one"):
        trial.chance({})
    with pytest.raises(InputError, match="between 0 and 1"):
        trial.enough_g("m", 1.0)
    with pytest.raises(InputError, match="at least 1"):
        u.simulate(library, found, draws=0)


@pytest.mark.parametrize("draws", [1, 7, 33])
def test_few_trials_promise_no_more_than_they_hold(draws):
    """Also with an odd number of trials the start given reaches the amount often enough."""
    library, found = plan(chain((0.5, 0.7, 0.9), (0.6, 0.8, 0.95)))
    trial = u.simulate(library, found, draws=draws)
    for confidence, grams in u.how_sure(library, found, draws=draws).starts[0].enough_g:
        assert trial.chance({"m": grams}) >= confidence - 1e-9
        assert trial.enough_g("m", confidence) == grams


def test_a_solvent_does_not_dilute_the_yield():
    """C1 reacts and serves as solvent, 100 g a mole: the overall yield counts what reacts."""
    library, steps, supplies, target = chain((0.8, 0.8, 0.8))
    s = steps[0]
    wet = ResolvedStep(s.record, s.reactants, s.products, s.main, s.limiting, {}, {}, {}, {},
                       (Aid("c1", "solvent", 100.0, 0.0, 0.0),))  # fmt: skip
    found = amounts(library, [wet], supplies, target, 100.0)
    (dry,) = yields.overall(library, amounts(library, steps, supplies, target, 100.0))
    (result,) = yields.overall(library, found)
    assert result.typical == dry.typical == pytest.approx(0.8)
    sure = u.how_sure(library, found, draws=10)
    assert sure.starts[0].overall.p50 == pytest.approx(0.8)
    assert sure.starts[0].start_g > 2 * 100  # the solvent must be weighed in all the same
