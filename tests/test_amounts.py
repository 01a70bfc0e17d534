"""Laws of amounts: mass is conserved, scaling is linear, better yields need less."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.assessment import yields as overall
from routefinder.assessment.waste import waste
from routefinder.library.library import Library
from routefinder.library.resolve import Aid, Part, ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.step import Duration, Step, Window, Yield, YieldPart
from routefinder.records.substance import Substance
from routefinder.vessel.amounts import amounts

fractions = st.floats(0.2, 1.0)


def toy_substance(n: int) -> Substance:
    """C1, C2, ...: an alphabet in which a + b -> a+b always balances."""
    return Substance(id=f"c{n}", name=f"C{n}", formula=f"C{n}", sources="computed: toy")


def toy_step(i: int, left: list[int], right: list[int], y: tuple[float, float, float],
             excess: float, recovered: float, aid_g: float) -> ResolvedStep:  # fmt: skip
    equation = " + ".join(f"C{n}(s)" for n in left) + " -> " + " + ".join(f"C{n}(s)" for n in right)
    record = Step(
        id=f"s{i}", title=f"step {i}", kind="combination", equation=equation,
        product=f"C{right[0]}", limiting=f"C{left[0]}",
        yield_=Yield(basis="toy", parts=(YieldPart(low=y[0], typical=y[1], high=y[2]),)),
        temperature=Window(low_C=20, high_C=20), time=Duration(hands_on_min=60),
    )  # fmt: skip
    reactants = tuple(Part(f"c{n}", 1.0, "s") for n in left)
    products = tuple(Part(f"c{n}", 1.0, "s") for n in right)
    extra = {f"c{n}": excess for n in left[1:] if excess}
    kept = {f"c{n}": recovered for n in right[1:] if recovered}
    aids = (Aid("c1", "solvent", aid_g, 0.5, 0.0),) if aid_g else ()
    return ResolvedStep(
        record, reactants, products, products[0], reactants[0], extra, {}, kept, {}, aids
    )


@st.composite
def toy_routes(draw):
    """A chain or convergent route over the toy alphabet: (library, steps, supplies, target)."""
    shelf = sorted(draw(st.sets(st.integers(1, 4), min_size=1, max_size=3)) | {1})
    have = list(shelf)
    steps = []
    for i in range(draw(st.integers(1, 5))):
        a = have[-1] if i else draw(st.sampled_from(have))
        b = draw(st.sampled_from(have))
        whole = a + b
        split = draw(st.integers(0, 1)) and whole > 3
        right = [whole - 1, 1] if split else [whole]
        if right[0] in have or right[0] in (a, b):
            right = [whole]
        left = [a, b] if a != b else [a, a]
        if whole in have:
            continue
        y = tuple(sorted((draw(fractions), draw(fractions), draw(fractions))))
        step = toy_step(i, left[:1] if a == b else left, right, y, draw(st.floats(0, 0.5)),
                        draw(st.sampled_from([0.0, 0.6])), draw(st.sampled_from([0.0, 30.0])))  # fmt: skip
        if a == b:
            step = ResolvedStep(
                step.record, (Part(f"c{a}", 2.0, "s"),), step.products, step.main,
                Part(f"c{a}", 2.0, "s"), {}, {}, step.recovered, {}, step.aids,
            )  # fmt: skip
        steps.append(step)
        have.append(right[0])
    if not steps:
        step = toy_step(9, [1], [1], (0.5, 0.6, 0.7), 0, 0, 0)
        steps = [ResolvedStep(step.record, (Part("c1", 2.0, "s"),), (Part("c2", 1.0, "s"),),
                              Part("c2", 1.0, "s"), Part("c1", 2.0, "s"), {}, {}, {}, {}, ())]  # fmt: skip
        shelf, have = [1], [1, 2]
    library = Library(
        substances={f"c{n}": toy_substance(n) for n in range(1, 200)},
        steps={s.id: s for s in steps},
    )
    supplies = [
        Supply(
            f"m{n}", f"C{n} bought", "solid", {f"c{n}": draw(fractions)}, f"c{n}", price_per_g=0.01
        )
        for n in shelf
    ]
    return library, steps, supplies, f"c{have[-1]}"


@given(toy_routes(), st.floats(0.01, 1e4))
def test_mass_is_conserved_at_every_step(case, grams):
    """In = out to 1e-9, with excess, losses, co-products, auxiliaries and impurities."""
    library, steps, supplies, target = case
    found = amounts(library, steps, supplies, target, grams)
    for step in found.steps:
        assert step.mass_in_g == pytest.approx(step.mass_out_g, rel=1e-9)
    final = next(s for s in reversed(found.steps) if s.product.substance == target)
    assert final.product.mass_g >= grams * (1 - 1e-9)
    # the whole route: what is drawn is the target, what is kept, and what is left over
    drawn = sum(d.as_weighed_g for d in found.draws)
    left = sum(x.mass_g for x in waste(found).leavings)
    companions = sum(s.unnamed_g + s.unnamed_onward_g + s.unnamed_used_g for s in found.steps)
    surplus = sum(s.product.mass_g for s in found.steps)
    used = sum(f.as_weighed_g for s in found.steps for f in s.feeds if isinstance(f.origin, str))
    co_used = sum(o.mass_g for s in found.steps for o in s.outcomes if o.fate == "used")
    along = sum(
        o.mass_g
        for s in found.steps
        for o in s.outcomes
        if o.fate == "along" and s.step.id != found.last
    )
    out = left + companions + surplus + co_used + along
    assert drawn + used == pytest.approx(out, rel=1e-9)


@given(toy_routes(), st.floats(0.1, 100), st.floats(1.1, 50))
def test_amounts_scale_linearly(case, grams, times):
    """Twice the target takes twice of everything."""
    library, steps, supplies, target = case
    one = amounts(library, steps, supplies, target, grams)
    more = amounts(library, steps, supplies, target, grams * times)
    for a, b in zip(one.draws, more.draws, strict=True):
        assert b.as_weighed_g == pytest.approx(a.as_weighed_g * times, rel=1e-9)
    assert waste(more).e_factor == pytest.approx(waste(one).e_factor, rel=1e-9)


@given(toy_routes())
def test_better_yields_need_less(case):
    """Low yields draw at least as much of everything as high ones; overall yields lie in 0-1."""
    library, steps, supplies, target = case
    low = amounts(library, steps, supplies, target, 10, lambda s: s.record.yield_.low)
    high = amounts(library, steps, supplies, target, 10, lambda s: s.record.yield_.high)
    by_name = {d.supply.id: d.as_weighed_g for d in high.draws}
    for draw in low.draws:
        assert draw.as_weighed_g >= by_name[draw.supply.id] * (1 - 1e-9)
    typical = amounts(library, steps, supplies, target, 10)
    for found in overall.overall(library, typical):
        assert 0 < found.low <= found.typical * (1 + 1e-9)
        assert found.typical <= found.high * (1 + 1e-9)
        assert found.high <= 1 + 1e-9


def test_overall_yield_of_a_chain_is_the_product():
    """Three steps at 50 % give 12.5 % (worked_examples.csv A38); six at 90 % give 53 % (A42)."""
    for count, y, expected in ((3, 0.5, 0.125), (6, 0.9, 0.5314)):
        library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 70)})
        steps = []
        for i in range(count):
            n = 2**i
            s = toy_step(i, [n], [2 * n], (y, y, y), 0, 0, 0)
            steps.append(
                ResolvedStep(s.record, (Part(f"c{n}", 2.0, "s"),), s.products, s.main,
                             Part(f"c{n}", 2.0, "s"), {}, {}, {}, {}, ())
            )  # fmt: skip
        supply = Supply("m", "C1", "solid", {"c1": 1.0}, "c1")
        found = amounts(library, steps, [supply], f"c{2**count}", 100)
        (result,) = overall.overall(library, found)
        assert result.typical == pytest.approx(expected, abs=1e-4)
        assert result.limits


def test_convergent_branches_are_not_multiplied():
    """Two branches at 50 % and a join at 50 %: 25 % on each start (A40), not 12.5 %."""
    library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 30)})
    left = toy_step(0, [3], [3], (0.5, 0.5, 0.5), 0, 0, 0)
    left = ResolvedStep(left.record, (Part("c3", 2.0, "s"),), (Part("c6", 1.0, "s"),),
                        Part("c6", 1.0, "s"), Part("c3", 2.0, "s"), {}, {}, {}, {}, ())  # fmt: skip
    right = toy_step(1, [5], [5], (0.5, 0.5, 0.5), 0, 0, 0)
    right = ResolvedStep(right.record, (Part("c5", 2.0, "s"),), (Part("c10", 1.0, "s"),),
                         Part("c10", 1.0, "s"), Part("c5", 2.0, "s"), {}, {}, {}, {}, ())  # fmt: skip
    join = toy_step(2, [6, 10], [16], (0.5, 0.5, 0.5), 0, 0, 0)
    supplies = [Supply(f"m{n}", f"C{n}", "solid", {f"c{n}": 1.0}, f"c{n}") for n in (3, 5)]
    found = amounts(library, [left, right, join], supplies, "c16", 100)
    results = overall.overall(library, found)
    assert [r.typical for r in results] == pytest.approx([0.25, 0.25])


def test_process_mass_intensity_is_the_e_factor_plus_one():
    """worked_examples.csv A86: when all that goes in counts, PMI = E + 1 (E 25, PMI 26)."""
    library = Library(substances={f"c{n}": toy_substance(n) for n in range(1, 9)})
    s = toy_step(0, [1], [2], (1 / 26, 1 / 26, 1 / 26), 0, 0, 0)
    step = ResolvedStep(s.record, (Part("c1", 2.0, "s"),), s.products, s.main,
                        Part("c1", 2.0, "s"), {}, {}, {}, {}, ())  # fmt: skip
    found = amounts(library, [step], [Supply("m", "C1", "solid", {"c1": 1.0}, "c1")], "c2", 1000)
    assert waste(found).e_factor == pytest.approx(25)
    assert sum(d.as_weighed_g for d in found.draws) / 1000 == pytest.approx(26)


def test_main_product_that_nothing_takes_is_kept(demo):
    """A step run for what it makes beside: its main product is said to be kept, not lost to sight."""
    over = 0
    for route in demo.routes:
        found = route.assessment.amounts
        for s in found.steps:
            if s.step.id == found.last:
                assert s.over_mol == 0
                continue
            taken = sum(
                f.moles for t in found.steps for f in t.feeds
                if f.origin == s.step.id and f.substance == s.product.substance
            )  # fmt: skip
            assert s.product.moles == pytest.approx(taken + s.over_mol, rel=1e-9)
            over += s.over_mol > 0
            if s.over_mol:
                kept = [x for x in route.assessment.waste.leavings
                        if (x.substance, x.kind) == (s.product.substance, "surplus")]  # fmt: skip
                assert sum(x.mass_g for x in kept) >= s.over_g - 1e-9
                assert "kept: " in route.dot()
    assert over
