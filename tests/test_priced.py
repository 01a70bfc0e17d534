"""The search by step costs plus materials: equal to costing every route."""

from __future__ import annotations

import oracle
import pytest
from generate import batch_cost, generate_priced
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import THOROUGH, networks

from routefinder.search import priced
from routefinder.search.route import Ending


def in_order(plain, chosen, shelf):
    """The chosen steps in an order in which they can be run."""
    order, have, waiting = [], set(shelf), sorted(chosen)
    while waiting:
        s = next(s for s in waiting if plain[s][0] <= have)
        have |= plain[s][1]
        order.append(s)
        waiting.remove(s)
    return order


def plan_cost(steps, order, shelf, target, amount):
    """Step costs plus purchases, worked back: bought if on the shelf, else from the first maker."""
    maker = {}
    have = set(shelf)
    for s in order:
        for _, nodes in steps[s].gives:
            for n in nodes:
                if n not in have:
                    maker.setdefault(n, s)
        have |= {n for _, nodes in steps[s].gives for n in nodes}
    demand = {target: amount}
    total = sum(steps[s].cost for s in order)
    for s in reversed(order):
        turns = max(
            (
                demand.get(n, 0.0) / b
                for b, nodes in steps[s].gives
                for n in nodes
                if maker.get(n) == s
            ),
            default=0.0,
        )
        for node, a in steps[s].takes:
            if node in shelf:
                total += a * turns * shelf[node]
            else:
                demand[node] = demand.get(node, 0.0) + a * turns
    return total


@st.composite
def priced_networks(draw, max_steps=9):
    """A network with amounts and shelf prices."""
    plain, shelf, target = draw(networks(max_steps=max_steps))
    assume(target not in shelf)
    amounts = st.floats(0.3, 2.0)
    steps = {}
    for name, (tail, head, cost) in plain.items():
        steps[name] = priced.PricedStep(
            name,
            tuple((n, draw(amounts)) for n in sorted(tail)),
            tuple((draw(st.floats(0.3, 1.2)), (n,)) for n in sorted(head)),
            cost * draw(st.sampled_from([0.1, 1.0])),
        )
    prices = {n: draw(st.sampled_from([0.0, 1.0, 5.0, 20.0])) for n in sorted(shelf)}
    return plain, steps, prices, target, draw(st.sampled_from([0.1, 1.0, 30.0]))


@given(priced_networks(), st.integers(1, 6))
def test_equal_to_costing_every_route(case, k):
    """The k least total costs are those of all routes by brute force."""
    plain, steps, shelf, target, amount = case
    expected = []
    for _, chosen in oracle.all_routes(plain, shelf, target):
        order = in_order(plain, chosen, shelf)
        expected.append(plan_cost(steps, order, shelf, target, amount))

    def true_cost(ids):
        return plan_cost(steps, in_order(plain, ids, shelf), shelf, target, amount)

    found = priced.cheapest_routes(list(steps.values()), shelf, target, amount, k, true_cost)
    assert [r.cost for r in found.routes] == pytest.approx(sorted(expected)[:k])
    if not expected:
        assert found.ending is Ending.NONE
    else:
        assert found.ending in {Ending.PROVEN, Ending.ALL}


@given(priced_networks())
def test_prices_are_a_bound(case):
    """0 <= c <= shelf price, q >= 0, and the bound never passes the cost of any route."""
    plain, steps, shelf, target, amount = case
    price = priced.node_prices(list(steps.values()), shelf, target)
    assert all(0 <= price[n] <= shelf[n] + 1e-9 for n in shelf)
    turns = priced.least_turns(list(steps.values()), target, amount)
    regret = {s: priced.surplus(step, price) for s, step in steps.items()}
    assert all(q >= 0 for q in regret.values())
    for _, chosen in oracle.all_routes(plain, shelf, target):
        order = in_order(plain, chosen, shelf)
        cost = plan_cost(steps, order, shelf, target, amount)
        bound = amount * price.get(target, 0.0) + sum(
            steps[s].cost + turns[s] * regret[s] for s in chosen
        )
        assert bound <= cost * (1 + 1e-9) + 1e-9


@given(priced_networks())
def test_free_materials_give_the_step_only_answer(case):
    """At price 0 the order is that of the step costs."""
    plain, steps, shelf, target, amount = case
    free = dict.fromkeys(shelf, 0.0)
    found = priced.cheapest_routes(
        list(steps.values()), free, target, amount, 3, lambda ids: sum(steps[s].cost for s in ids)
    )
    costs = {s: (t, h, steps[s].cost) for s, (t, h, _) in plain.items()}
    expected = [c for c, _ in oracle.all_routes(costs, shelf, target)][:3]
    assert [r.cost for r in found.routes] == pytest.approx(expected)


@pytest.mark.parametrize("seed", range(4))
def test_same_as_a_milp_on_100_steps(seed):
    """The three cheapest of 100 steps cost what an independent MILP says, material by material."""
    steps, prices, kept = generate_priced(100, seed, 0.5, per_node=3.0, local=0.6)
    by_id = {s.id: s for s in steps}
    plain = {s.id: (dict(s.takes), {n: b for b, (n,) in s.gives}, s.cost) for s in steps}
    for target, scale in kept[: 2 if THOROUGH else 1]:
        scaled = {n: v * scale for n, v in prices.items()}
        found = priced.cheapest_routes(
            steps,
            scaled,
            target,
            1.0,
            3,
            lambda ids, p=scaled, t=target: batch_cost(by_id, p, t, 1.0, ids),
        )
        expected = oracle.priced_milp(plain, scaled, target, 1.0, 3)
        assert [r.cost for r in found.routes] == pytest.approx([c for c, _ in expected], rel=1e-5)
    assert kept


@given(priced_networks(), st.integers(1, 5))
def test_only_the_cheapest_of_each_group(case, k):
    """``group`` leaves exactly the cheapest route of every group, by true cost."""
    plain, steps, shelf, target, amount = case

    def true_cost(ids):
        return plan_cost(steps, in_order(plain, ids, shelf), shelf, target, amount)

    def group(ids):
        return len(ids)

    best = {}
    for _, chosen in oracle.all_routes(plain, shelf, target):
        cost = plan_cost(steps, in_order(plain, chosen, shelf), shelf, target, amount)
        best[len(chosen)] = min(cost, best.get(len(chosen), cost))
    found = priced.cheapest_routes(
        list(steps.values()), shelf, target, amount, k, true_cost, group=group
    )
    assert [r.cost for r in found.routes] == pytest.approx(sorted(best.values())[:k])
    assert len({len(r.steps) for r in found.routes}) == len(found.routes)
