"""Whole packs at least cost, exactly; what the shelf spares; both totals."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few
from test_demo import R1, R2, ask, route
from test_reasoning import check

from routefinder.assessment.shopping import Pack, cover, packs_of, shopping
from routefinder.errors import InputError
from routefinder.library.shelf import supply


def brute(need, packs):
    """The least cost by trying all counts."""
    ranges = [range(math.ceil(need / p.grams) + 1) for p in packs]
    costs = []
    for counts in itertools.product(*ranges):
        if sum(n * p.grams for n, p in zip(counts, packs, strict=True)) >= need - 1e-9:
            costs.append(sum(n * p.price for n, p in zip(counts, packs, strict=True)))
    return min(costs)


@given(
    st.floats(0.5, 400),
    st.lists(st.tuples(st.integers(20, 250), st.integers(1, 400)), min_size=1, max_size=3),
)
def test_least_cost_against_brute_force(need, sizes):
    """The dynamic programme finds what trying everything finds, and covers the need."""
    packs = [Pack(f"{g} g", float(g), price / 10) for g, price in sizes]
    found = cover(need, packs)
    assert found.grams >= need - 1e-6
    assert found.price == pytest.approx(brute(need, packs), abs=1e-6)
    assert found.grams == pytest.approx(sum(p.grams * n for p, n in found.packs))


@given(st.floats(1, 3000), st.lists(st.integers(1, 9), min_size=1, max_size=3, unique=True))
@few(60)
def test_many_packs_are_still_exact(need, sizes):
    """Far more packs than kinds: the part bought at the best price first loses nothing."""
    packs = [Pack(f"{g}", float(g), g**0.8) for g in sizes]
    best = max(sizes)
    found = cover(need, packs)
    whole = math.ceil(need) + best
    table = [0.0] + [math.inf] * whole
    for k in range(1, whole + 1):
        table[k] = min(table[max(0, k - g)] + g**0.8 for g in sizes)
    assert found.price == pytest.approx(table[math.ceil(need - 1e-9)], abs=1e-3)


def test_packs_by_hand():
    """700 g in packs of 500 g and 250 g: 750 g; a kilogram at a discount beats them."""
    small = [Pack("500 g", 500, 4.0), Pack("250 g", 250, 2.0)]
    found = cover(700, small)
    assert [(p.label, n) for p, n in found.packs] == [("500 g", 1), ("250 g", 1)]
    assert found.price == 6.0
    found = cover(700, [*small, Pack("1 kg", 1000, 5.5)])
    assert [(p.label, n) for p, n in found.packs] == [("1 kg", 1)]
    assert cover(0, small).grams == 0
    found = cover(700, [Pack("500 g", 500), Pack("250 g", 250)])
    assert (found.grams, found.price) == (750, None)
    # equal cost: fewer packs
    found = cover(1000, [Pack("500 g", 500, 4.0), Pack("1 kg", 1000, 8.0)])
    assert [n for _, n in found.packs] == [1]


def test_bad_packs():
    """One sentence each."""
    with pytest.raises(InputError, match="no pack sizes"):
        cover(1, [])
    with pytest.raises(InputError, match="must hold"):
        cover(1, [Pack("0 g", 0.0, 1.0)])


def test_packs_of_a_liquid(shipped):
    """A litre of vinegar weighs what its density says; words after the size do not matter."""
    vinegar = supply(shipped.material("white vinegar"))
    packs = packs_of(shipped, vinegar)
    assert packs
    for pack in packs:
        litres = float(pack.label.split()[0])
        assert pack.grams == pytest.approx(litres * 1000 * vinegar.density_g_mL)
    found = cover(3800, packs)
    assert found.grams >= 3800


def in_shop(found, **changes):
    """The same amounts with every supply changed (bought, or with so much on the shelf)."""
    return replace(found, draws=tuple(
        replace(d, supply=replace(d.supply, **changes)) if not d.supply.everywhere else d
        for d in found.draws
    ))  # fmt: skip


def test_everything_bought(studio):
    """R1 from an empty shelf: whole packs cover all; packets cost no less than what is consumed."""
    answer = ask(studio)
    found = in_shop(route(answer, R1).assessment.amounts, in_shop=True)
    bought = shopping(answer.library, [found])
    assert {p.material for p in bought.purchases} == {
        d.supply.id for d in found.draws if not d.supply.everywhere
    }
    for p in bought.purchases:
        assert p.chosen is not None
        assert p.chosen.grams >= p.short_g
        assert p.left_g == pytest.approx(p.chosen.grams - p.need_g)
        assert p.packets >= p.consumed - 1e-9
    assert bought.packets == pytest.approx(sum(p.packets for p in bought.purchases))
    assert bought.consumed == pytest.approx(route(answer, R1).assessment.cost.typical, rel=1e-9)
    assert bought.unknown == ()
    assert bought.currency == "USD"
    from routefinder.assessment.shopping import reasons

    assert check(reasons(bought)) >= 9


def test_the_shelf_is_deducted(studio):
    """With 1 kg of vitriol on the shelf nothing of it is bought; with 300 g the rest is."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    vitriol = "blue-vitriol-root-killer"
    by_id = {p.material: p for p in shopping(answer.library, [found]).purchases}
    assert by_id[vitriol].short_g == 0
    assert by_id[vitriol].packets == 0
    assert by_id[vitriol].consumed == pytest.approx(3.21, rel=0.01)
    little = in_shop(found, amount_g=300.0)
    by_id = {p.material: p for p in shopping(answer.library, [little]).purchases}
    assert by_id[vitriol].short_g == pytest.approx(401.7 - 300, rel=0.01)
    assert by_id[vitriol].chosen.grams == 500  # the smallest pack


def test_purity_of_the_shelf(studio):
    """Half-strength vitriol on the shelf spares half its mass of what is bought (98 %)."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    draws = []
    for d in found.draws:
        if d.supply.id == "blue-vitriol-root-killer":
            weak = replace(d.supply, fractions={d.supply.main: 0.49}, amount_g=400.0)
            d = replace(d, supply=weak, as_weighed_g=d.as_weighed_g * 2)
        draws.append(d)
    bought = shopping(answer.library, [replace(found, draws=tuple(draws))])
    weak, sold = (p for p in bought.purchases if p.material == "blue-vitriol-root-killer")
    assert (weak.need_g, weak.have_g, weak.short_g) == (400, 400, 0)
    assert sold.have_g == 0
    assert sold.need_g == sold.short_g == pytest.approx(401.7 - 200, rel=1e-2)


def test_two_routes_share_the_packs(studio):
    """Needs of several routes are added before the packs are chosen."""
    answer = ask(studio)
    both = [in_shop(route(answer, ids).assessment.amounts, in_shop=True) for ids in (R1, R2)]
    together = shopping(answer.library, both)
    apart = [shopping(answer.library, [x]) for x in both]
    assert together.consumed == pytest.approx(sum(x.consumed for x in apart))
    assert together.packets <= sum(x.packets for x in apart) + 1e-9


def test_unknown_prices_and_packs(studio):
    """A material of no known price is named, and the totals are not taken as complete."""
    answer = ask(studio)
    found = in_shop(route(answer, R1).assessment.amounts, in_shop=True, price_per_g=None)
    bought = shopping(answer.library, [found])
    assert len(bought.unknown) == len(bought.purchases) > 0
    assert bought.packets == 0
