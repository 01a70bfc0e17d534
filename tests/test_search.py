"""The search against its definition: brute force, a MILP, and the laws it must keep."""

from __future__ import annotations

import random

import oracle
import pytest
from generate import generate
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import THOROUGH, networks

from routefinder import Ending, PlainStep, best_routes
from routefinder.errors import InputError
from routefinder.graph.network import network
from routefinder.search import kernels
from routefinder.search.best import Cap


def plain(steps):
    return [PlainStep(s, sorted(t), sorted(h), c) for s, (t, h, c) in steps.items()]


def judged(steps: list[PlainStep]) -> oracle.Steps:
    return {s.id: (frozenset(s.reactants), frozenset(s.products), s.cost) for s in steps}


@given(networks())
def test_same_routes_as_brute_force(case):
    """All routes, each once, sorted, runnable in the order given."""
    steps, shelf, target = case
    found = best_routes(plain(steps), shelf, target, 1000)
    expected = oracle.all_routes(steps, shelf, target)
    assert {frozenset(r.steps) for r in found.routes} == {r for _, r in expected}
    assert len(found.routes) == len(expected)
    costs = [r.cost for r in found.routes]
    assert costs == sorted(costs)
    assert costs == pytest.approx([c for c, _ in expected])
    for route in found.routes:
        assert oracle.is_route(steps, route.steps, shelf, target)
        assert oracle.runs_in_order(steps, route.steps, shelf)
    if target in shelf:
        assert found.routes[0].steps == ()
    else:
        assert found.ending is (Ending.ALL if expected else Ending.NONE)


@given(networks(), st.integers(1, 4))
def test_the_k_best_are_the_first_k(case, k):
    """k routes are the first k of all, and the ending says whether more exist."""
    steps, shelf, target = case
    assume(target not in shelf)
    every = oracle.all_routes(steps, shelf, target)
    found = best_routes(plain(steps), shelf, target, k)
    assert [r.cost for r in found.routes] == pytest.approx([c for c, _ in every[:k]])
    if len(every) > k:
        assert found.ending is Ending.PROVEN
        assert found.bound <= every[k][0] + 1e-6


@given(networks(), st.randoms(use_true_random=False))
def test_renumbering_changes_nothing(case, rng):
    """The order in which steps are given does not matter."""
    steps, shelf, target = case
    shuffled = list(steps.items())
    rng.shuffle(shuffled)
    a = best_routes(plain(steps), shelf, target, 50)
    b = best_routes(plain(dict(shuffled)), shelf, target, 50)
    assert {frozenset(r.steps) for r in a.routes} == {frozenset(r.steps) for r in b.routes}


@given(networks())
def test_removing_an_unused_step_changes_nothing(case):
    """A step in no route can go."""
    steps, shelf, target = case
    before = best_routes(plain(steps), shelf, target, 100)
    used = {s for r in before.routes for s in r.steps}
    spare = [s for s in steps if s not in used]
    assume(spare and target not in shelf)
    rest = {s: v for s, v in steps.items() if s != spare[0]}
    after = best_routes(plain(rest), shelf, target, 100)
    assert [r.cost for r in after.routes] == pytest.approx([r.cost for r in before.routes])


@given(networks(), networks(max_steps=1))
def test_adding_a_step_never_worsens_the_best(case, other):
    """More steps can only help."""
    steps, shelf, target = case
    extra = {f"x{s}": v for s, v in other[0].items()}
    before = best_routes(plain(steps), shelf, target, 1)
    after = best_routes(plain({**steps, **extra}), shelf, target, 1)
    if before.routes:
        assert after.routes[0].cost <= before.routes[0].cost + 1e-9


@given(networks(), st.sets(st.sampled_from([f"n{i}" for i in range(8)]), max_size=2))
def test_more_on_the_shelf_never_worsens_the_best(case, more):
    """More at hand can only help."""
    steps, shelf, target = case
    before = best_routes(plain(steps), shelf, target, 1)
    after = best_routes(plain(steps), shelf | more, target, 1)
    if before.routes:
        assert after.routes[0].cost <= before.routes[0].cost + 1e-9


@given(networks())
def test_bounds_bracket_the_optimum(case):
    """hmax <= LM-cut <= optimum."""
    steps, shelf, target = case
    assume(target not in shelf)
    every = oracle.all_routes(steps, shelf, target)
    net = network(plain(steps), [target])
    n, m = len(net.nodes), net.size
    at_hand = {net.number(s) for s in shelf}

    def fresh():
        return [0.0 if v in at_hand else kernels.INF for v in range(n)], [-1] * m, [0] * m

    arrays = kernels.Arrays(
        *(part for table in (net.tails, net.heads, net.takers, net.makers)
          for part in (table.starts, table.items))
    )  # fmt: skip
    label, support, missing = fresh()
    kernels.max_labels(arrays, net.costs, label, support, missing)
    hmax = label[net.number(target)]
    best = every[0][0] if every else kernels.INF
    for loose in (False, True):
        label, support, missing = fresh()
        residual = list(net.costs)
        single = [0] * m
        cut, singles = kernels.landmark_cuts(
            arrays, residual, label, support, missing, [0] * n, [net.number(target)], 1, single,
            loose,
        )  # fmt: skip
        assert hmax <= cut + 1e-9
        assert cut <= best + 1e-9
        assert all(w >= 0 for w in residual)
        forced = {net.steps[r] for r in single[:singles]}
        assert all(forced <= route for _, route in every), "a cut of one step is in every route"
        for cost, route in every:
            spent = sum(residual[net.steps.index(s)] for s in route)
            assert cut + spent <= cost + 1e-9, "bound and residual costs fit in the route's cost"
        again, *_ = fresh()  # what is kept of the labels is hmax in the residual costs
        kernels.max_labels(arrays, residual, again, [-1] * m, [0] * m)
        assert cut == kernels.INF or all(
            a == pytest.approx(b, abs=1e-6) or a == b for a, b in zip(label, again, strict=True)
        )


@pytest.mark.parametrize("seed", range(6))
def test_same_as_the_milp_on_middle_networks(seed):
    """300 steps with hubs and cycles: the k best costs are the MILP's."""
    steps, shelf, targets = generate(300, seed)
    asked = 0
    for target in targets[::7]:
        found = best_routes(steps, shelf, target, 4)
        if not found.routes or len(found.routes[0].steps) < 2:
            continue
        expected = oracle.milp_routes(judged(steps), shelf, target, 4)
        assert [r.cost for r in found.routes] == pytest.approx([c for c, _ in expected], abs=1e-5)
        asked += 1
        if asked == 2:
            break
    assert asked


@pytest.mark.parametrize("seed", range(8))
def test_laws_at_middle_size(seed):
    """Sorted, distinct, minimal, and k=10 the start of k=60, on 400 steps."""
    steps, shelf, targets = generate(400, 100 + seed)
    reference = judged(steps)
    asked = 0
    for target in targets:
        many = best_routes(steps, shelf, target, 60)
        if len(many.routes) < 11:
            continue
        few = best_routes(steps, shelf, target, 10)
        assert [r.cost for r in few.routes] == pytest.approx([r.cost for r in many.routes[:10]])
        costs = [r.cost for r in many.routes]
        assert costs == sorted(costs)
        assert len({frozenset(r.steps) for r in many.routes}) == len(many.routes)
        for route in many.routes[::5]:
            assert oracle.is_route(reference, route.steps, shelf, target)
        shuffled = list(steps)
        random.Random(seed).shuffle(shuffled)
        again = best_routes(shuffled, shelf, target, 10)
        assert [r.cost for r in again.routes] == pytest.approx([r.cost for r in few.routes])
        asked += 1
        if asked == 3:
            break
    assert asked


@pytest.mark.parametrize("seed", range(3))
def test_adding_and_removing_steps_at_middle_size(seed):
    """Without an unused step the same; without a used one not better; routes of both are kept."""
    steps, shelf, targets = generate(400, 200 + seed)
    target = next(t for t in targets if len(best_routes(steps, shelf, t, 12).routes) == 12)
    every = best_routes(steps, shelf, target, 12)
    used = {s for r in every.routes for s in r.steps}
    spare = [s for s in steps if s.id not in used]
    fewer = best_routes([s for s in steps if s not in spare[::3]], shelf, target, 12)
    assert [r.cost for r in fewer.routes] == pytest.approx([r.cost for r in every.routes])
    for lost in sorted(used)[::4]:
        rest = best_routes([s for s in steps if s.id != lost], shelf, target, 12)
        kept = [r.cost for r in every.routes if lost not in r.steps]
        assert [r.cost for r in rest.routes[: len(kept)]] == pytest.approx(kept)


def test_the_compiled_loops_find_the_same():
    """One text, two ways to run it: the same routes in the same order, small and middle."""
    pytest.importorskip("numba")
    for size, seed in ((12, 1), (60, 2), (400, 3), (400, 4))[: 4 if THOROUGH else 3]:
        steps, shelf, targets = generate(size, seed)
        for target in targets[: 6 if THOROUGH else 3]:
            a = best_routes(steps, shelf, target, 15, compile=False)
            b = best_routes(steps, shelf, target, 15, compile=True)
            assert a.ending is b.ending
            assert [r.steps for r in a.routes] == [r.steps for r in b.routes]
            assert a.nodes == b.nodes


def test_what_is_worth_seeing_can_shrink_as_routes_come():
    """``worth`` is asked after every route, and no route beyond it comes."""
    steps, shelf, targets = generate(300, 9)
    target = next(t for t in targets if len(best_routes(steps, shelf, t, 30).routes) == 30)
    costs = [r.cost for r in best_routes(steps, shelf, target, 30).routes]
    seen: list[float] = []

    def accept(ids: tuple[str, ...]) -> bool:
        seen.append(sum(s.cost for s in steps if s.id in ids))
        return True

    def worth() -> float:
        return 1.1 * seen[0] if seen else float("inf")

    found = best_routes(steps, shelf, target, 10**6, accept=accept, worth=worth)
    assert found.ending is Ending.PROVEN
    assert {round(r.cost, 6) for r in found.routes} == {
        round(c, 6) for c in costs if c <= 1.1 * costs[0]
    }


def test_a_search_tells_how_far_it_is_and_ctrl_c_ends_it():
    """Whoever listens hears of it; Ctrl-C gives what was found so far with its bound."""
    import os
    import signal

    from routefinder.search.progress import listen

    steps, shelf, targets = generate(400, 3)
    target = next(t for t in targets if len(best_routes(steps, shelf, t, 300).routes) == 300)
    whole = best_routes(steps, shelf, target, 300)
    told: list[tuple[int, int, float]] = []

    def stop(*now):
        told.append(now)
        if now[1] >= whole.nodes // 2:
            os.kill(os.getpid(), signal.SIGINT)

    with listen(stop):
        cut = best_routes(steps, shelf, target, 300)
    assert len(told) > 2
    assert [n for _, n, _ in told] == sorted(n for _, n, _ in told)
    assert cut.ending is Ending.STOPPED
    assert cut.nodes < whole.nodes
    assert 0 < cut.bound <= whole.routes[-1].cost + 1e-9
    proven = [r.cost for r in cut.routes if r.proven]
    assert proven == pytest.approx([r.cost for r in whole.routes[: len(proven)]])


def test_shared_step_is_counted_once():
    """Two branches through one intermediate pay for it once (a tree would pay twice)."""
    steps = [
        PlainStep("shared", ["a"], ["m"], 10),
        PlainStep("left", ["m"], ["p"], 1),
        PlainStep("right", ["m"], ["q"], 1),
        PlainStep("join", ["p", "q"], ["t"], 1),
    ]
    found = best_routes(steps, ["a"], "t")
    assert [r.cost for r in found.routes] == [13.0]


def test_a_loop_alone_makes_nothing():
    """A cycle without an entrance is no route."""
    steps = [PlainStep("there", ["a"], ["b"]), PlainStep("back", ["b"], ["a"])]
    assert best_routes(steps, ["x"], "b").ending is Ending.NONE


def test_co_product_feeds_another_step():
    """A by-product of a step on the way may be used."""
    steps = [
        PlainStep("burn", ["stone"], ["lime", "gas"], 5),
        PlainStep("slake", ["lime", "water"], ["milk"], 1),
        PlainStep("carbonate", ["milk", "gas"], ["chalk"], 1),
    ]
    found = best_routes(steps, ["stone", "water"], "chalk")
    assert [set(r.steps) for r in found.routes] == [{"burn", "slake", "carbonate"}]


def test_parallel_steps_are_different_routes():
    """Two steps between the same substances give two routes."""
    steps = [PlainStep("a", ["x"], ["y"], 1), PlainStep("b", ["x"], ["y"], 2)]
    assert [r.steps for r in best_routes(steps, ["x"], "y").routes] == [("a",), ("b",)]


def test_unreachable_and_unknown_targets_have_no_route():
    """No route is an answer."""
    steps = [PlainStep("a", ["x"], ["y"])]
    assert best_routes(steps, ["z"], "y").ending is Ending.NONE
    assert best_routes(steps, ["x"], "nobody").ending is Ending.NONE


def test_stopping_early_says_so_with_a_bound():
    """A node limit ends the search as stopped; what is proven is a prefix of the truth."""
    steps, shelf, targets = generate(400, 7)
    target = next(t for t in targets if len(best_routes(steps, shelf, t, 20).routes) == 20)
    full = best_routes(steps, shelf, target, 20)
    cut = best_routes(steps, shelf, target, 20, node_limit=full.nodes // 3)
    assert cut.ending is Ending.STOPPED
    proven = [r.cost for r in cut.routes if r.proven]
    assert proven == pytest.approx([r.cost for r in full.routes[: len(proven)]])
    assert cut.bound <= full.routes[len(proven)].cost + 1e-9
    assert 0 <= cut.gap <= 1


@given(networks(), st.integers(1, 3))
def test_caps_leave_exactly_the_routes_within(case, most):
    """A cap on a sum over steps filters exactly."""
    steps, shelf, target = case
    assume(target not in shelf)
    found = best_routes(
        plain(steps), shelf, target, 1000, caps=[Cap(dict.fromkeys(steps, 1.0), most)]
    )
    expected = {r for _, r in oracle.all_routes(steps, shelf, target) if len(r) <= most}
    assert {frozenset(r.steps) for r in found.routes} == expected


@given(networks())
def test_routes_turned_down_do_not_count(case):
    """``accept`` filters without disturbing the order."""
    steps, shelf, target = case
    assume(target not in shelf)
    every = [r for _, r in oracle.all_routes(steps, shelf, target)]
    found = best_routes(plain(steps), shelf, target, 1000, accept=lambda ids: "s0" not in ids)
    assert {frozenset(r.steps) for r in found.routes} == {r for r in every if "s0" not in r}


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ([PlainStep("a", ["x"], ["y"], 0)], "above 0"),
        ([PlainStep("a", ["x"], ["y"], float("nan"))], "above 0"),
        ([PlainStep("a", ["x"], ["x"])], "makes nothing that it does not take"),
        ([PlainStep("a", ["x"], ["y"]), PlainStep("a", ["x"], ["z"])], "used twice"),
    ],
)
def test_bad_plain_steps_are_refused(steps, message):
    """One clear sentence for a step that cannot be used."""
    with pytest.raises(InputError, match=message):
        best_routes(steps, ["x"], "y")


def test_k_below_one_is_refused():
    """k counts routes."""
    with pytest.raises(InputError, match="at least one route"):
        best_routes([PlainStep("a", ["x"], ["y"])], ["x"], "y", 0)


def test_halp_agrees_where_its_semantics_do():
    """halp's shortest B-tree equals ours on trees (no step shared, no cycle)."""
    halp = pytest.importorskip("halp.directed_hypergraph")
    from halp.algorithms.directed_paths import shortest_b_tree

    graph = halp.DirectedHypergraph()
    steps = []
    for i in range(1, 30):
        tail = {f"n{(i - 1) // 2}"}
        steps.append(PlainStep(f"s{i}", tail, {f"n{i}"}, float(1 + i % 5)))
        graph.add_hyperedge(tail, {f"n{i}"}, weight=float(1 + i % 5))
    _, weights = shortest_b_tree(graph, "n0")
    for i in range(1, 30):
        assert best_routes(steps, ["n0"], f"n{i}", 1).routes[0].cost == pytest.approx(
            weights[f"n{i}"]
        )
