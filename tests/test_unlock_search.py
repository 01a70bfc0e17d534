"""Which acquisitions open a better route: the search against brute force on small networks."""

from __future__ import annotations

from itertools import combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracle import all_routes, is_route

from routefinder.errors import InputError
from routefinder.graph.network import PlainStep
from routefinder.search.route import Ending
from routefinder.search.smallest_sets import SAME, unlock

INF = float("inf")


@st.composite
def shops(draw):
    """A small network with things to acquire: (steps, shelf, target, acquisitions).

    What can be acquired is what no step makes, mostly, and the target is made by several steps.
    """
    things = [f"n{i}" for i in range(5)]
    made = [f"m{i}" for i in range(3)]
    steps = {}
    for i in range(draw(st.integers(3, 8))):
        tail = draw(st.sets(st.sampled_from(things + made), min_size=1, max_size=3))
        head = draw(st.sets(st.sampled_from([*made, "t", "t", "t"]), min_size=1, max_size=2))
        if head - tail:
            cost = draw(st.sampled_from([1.0, 2.0, 3.0]) | st.floats(0.1, 9.0))
            steps[f"s{i}"] = (frozenset(tail), frozenset(head - tail), cost)
    shelf = draw(st.sets(st.sampled_from(things), max_size=2))
    gives = st.sets(st.sampled_from([*things, *things, *made]), min_size=1, max_size=2)
    acquisitions = {f"a{i}": frozenset(draw(gives)) for i in range(draw(st.integers(2, 6)))}
    return steps, shelf, "t", acquisitions


def by_hand(steps, shelf, target, acquisitions, most):
    """Level -> {set of acquisitions: f}, by trying all sets."""
    f = {}
    for size in range(most + 1):
        for chosen in combinations(sorted(acquisitions), size):
            have = set(shelf).union(*(acquisitions[a] for a in chosen))
            found = all_routes(steps, have, target)
            f[frozenset(chosen)] = found[0][0] if found else INF
    levels = {}
    for size in range(1, most + 1):
        before = min(cost for chosen, cost in f.items() if len(chosen) < size)
        bar = before - SAME * max(1.0, before) if before < INF else INF
        levels[size] = {c: cost for c, cost in f.items() if len(c) == size and cost < bar}
    return f[frozenset()], levels


def above(mine, other, gives):
    return any(
        all(gives[b] <= gives[a] for a, b in zip(order, sorted(other), strict=True))
        for order in permutations(sorted(mine))
    )


@given(shops())
def test_unlock_agrees_with_brute_force(case):
    """The same sets at the same costs; what is left out stands above one listed at no more."""
    steps, shelf, target, acquisitions = case
    plain = [PlainStep(i, t, h, c) for i, (t, h, c) in steps.items()]
    found = unlock(plain, shelf, target, acquisitions, most=3, k=1000)
    now, levels = by_hand(steps, shelf, target, acquisitions, 3)
    assert found.now == pytest.approx(now)
    for size, wanted in levels.items():
        got = {frozenset(o.acquired): o.cost for o in found.opened if len(o.acquired) == size}
        for chosen, cost in got.items():
            assert cost == pytest.approx(wanted[chosen])
        for chosen, cost in wanted.items():
            assert chosen in got or any(
                above(chosen, other, acquisitions) and mine <= cost + 1e-6
                for other, mine in got.items()
            )
        assert found.levels[size] in (Ending.ALL if got else Ending.NONE,)
    for opened in found.opened:
        have = set(shelf).union(*(acquisitions[a] for a in opened.acquired))
        assert is_route(steps, opened.steps, have, target)
    assert len({o.acquired for o in found.opened}) == len(found.opened)


@given(shops(), st.integers(1, 3))
def test_fewer_are_the_first_of_more(case, k):
    """Asking for fewer gives the cheapest of each size."""
    steps, shelf, target, acquisitions = case
    plain = [PlainStep(i, t, h, c) for i, (t, h, c) in steps.items()]
    every = unlock(plain, shelf, target, acquisitions, most=2, k=1000)
    few = unlock(plain, shelf, target, acquisitions, most=2, k=k)
    for size in (1, 2):
        costs = [o.cost for o in every.opened if len(o.acquired) == size]
        assert [o.cost for o in few.opened if len(o.acquired) == size] == pytest.approx(costs[:k])
        assert few.levels[size] is (
            Ending.PROVEN if len(costs) > k else Ending.ALL if costs else Ending.NONE
        )


def test_one_tool_for_two_steps_is_paid_once():
    """A kiln serves both burnings: one acquisition, not two."""
    steps = [
        PlainStep("burn", ["chalk", "kiln"], ["lime"], 1.0),
        PlainStep("fire", ["lime", "sand", "kiln"], ["glass"], 1.0),
        PlainStep("swap", ["waste"], ["glass"], 9.0),
    ]
    found = unlock(
        steps, ["chalk", "sand"], "glass", {"buy kiln": ["kiln"], "get waste": ["waste"]}
    )
    assert [o.acquired for o in found.opened] == [("buy kiln",), ("get waste",)]
    assert [o.cost for o in found.opened] == pytest.approx([2.0, 9.0])
    assert found.now == INF


def test_a_route_at_hand_leaves_only_better_ones():
    """What opens a dearer route than today's is no unlocking."""
    steps = [
        PlainStep("slow", ["a"], ["t"], 5.0),
        PlainStep("quick", ["b"], ["t"], 2.0),
        PlainStep("slower", ["c"], ["t"], 8.0),
        PlainStep("best", ["b", "c"], ["t"], 1.0),
    ]
    found = unlock(steps, ["a"], "t", {"b": ["b"], "c": ["c"]})
    assert [o.acquired for o in found.opened] == [("b",), ("b", "c")]
    assert [o.cost for o in found.opened] == pytest.approx([2.0, 1.0])


def test_bad_calls():
    """One sentence each."""
    step = PlainStep("s", ["a"], ["t"], 1.0)
    with pytest.raises(InputError, match="both a step and an acquisition"):
        unlock([step], ["a"], "t", {"s": ["a"]})
    with pytest.raises(InputError, match="at least 1"):
        unlock([step], ["a"], "t", {"x": ["a"]}, k=0)


def test_the_clock_is_said():
    """A search cut short says so and lists nothing unproven."""
    step = PlainStep("s", ["a"], ["t"], 1.0)
    found = unlock([step], [], "t", {"x": ["a"]}, seconds=1e-9)
    assert Ending.STOPPED in found.levels.values() or found.opened
