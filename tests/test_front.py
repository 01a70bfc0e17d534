"""The non-dominated routes: equal to brute force on small networks, and honest when stopped."""

from __future__ import annotations

import oracle
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import networks

from routefinder.api.find import find
from routefinder.asking import answering
from routefinder.asking.library import load_library
from routefinder.asking.question import read_question
from routefinder.assessment.measure import MEASURES
from routefinder.choice import bounds, measures
from routefinder.choice.dominance import dominated
from routefinder.errors import InputError
from routefinder.graph.network import PlainStep, network
from routefinder.search.front import dominates, front
from routefinder.search.route import Ending

TARGET = "copper(II) acetate monohydrate"


@st.composite
def measured(draw):
    """A network whose steps have three more figures: two that add up and one that does not."""
    steps, shelf, target = draw(networks())
    assume(target not in shelf)
    figures = {
        s: (draw(st.integers(0, 4)), draw(st.integers(0, 4)), draw(st.integers(0, 3)))
        for s in steps
    }
    return steps, shelf, target, figures


def lower(figures, ids):
    """Bounds on (sum, product of yields as a loss, greatest) of all routes with these steps."""
    rows = [figures[i] for i in ids]
    best_yield = 1.0
    for _, loss, _ in rows:
        best_yield *= 1 - loss / 10
    return (
        float(sum(a for a, _, _ in rows)), -best_yield, float(max((c for *_, c in rows), default=0)),
    )  # fmt: skip


def run(case, seeds=(), bound=True, **more):
    steps, shelf, target, figures = case
    net = network(PlainStep(s, t, h, cost) for s, (t, h, cost) in steps.items())
    return front(
        net, shelf, target, lambda ids: lower(figures, ids),
        lower=(lambda ids: lower(figures, ids)) if bound else None, seeds=seeds, **more,
    )  # fmt: skip


@given(measured(), st.booleans(), st.booleans())
def test_equal_to_brute_force(case, bound, seeded):
    """With and without cuts, with and without seeds: the front is that of all routes."""
    steps, shelf, target, figures = case
    every = [r for _, r in oracle.all_routes(steps, shelf, target)]
    vectors = {r: tuple(round(x, 9) for x in lower(figures, sorted(r))) for r in every}
    wanted = {
        r for r in every if not any(dominates(other, vectors[r]) for other in vectors.values())
    }
    seeds = [r.steps for r in run(case, bound=False).routes[-1:]] if seeded else []
    found = run(case, seeds, bound)
    assert {frozenset(m.steps) for m in found.routes} == wanted
    assert found.complete
    assert found.ending is (Ending.ALL if every else Ending.NONE)
    assert len(found.routes) == len(wanted)
    for member in found.beaten:
        assert any(dominates(m.vector, member.vector) for m in found.routes)


def test_cuts_leave_branches_unseen():
    """Where the bound tells, dominated routes are never looked at."""
    steps = [
        PlainStep("good", ["s"], ["t"], 1.0),
        PlainStep("end", [f"m{i}" for i in range(6)], ["t"], 1.0),
    ]
    steps += [PlainStep(f"a{i}{j}", ["s"], [f"m{i}"], 1.0) for i in range(6) for j in range(4)]
    asked = []

    def vector(ids):
        asked.append(ids)
        return (float(len(ids)),)

    found = front(network(steps), ["s"], "t", vector, lower=lambda ids: (float(len(ids)),))
    assert [m.steps for m in found.routes] == [("good",)]
    assert found.complete
    assert found.cut > 0
    assert len(asked) < 4**6


def test_stopped_says_how_far_it_is_complete():
    """Ctrl-C after 300 routes: below the cost told, no non-dominated route is missing."""
    import signal
    from itertools import product

    steps = [PlainStep(f"a{i}{j}", ["s"], [f"m{i}"], 1.0 + j) for i in range(4) for j in range(6)]
    steps.append(PlainStep("end", [f"m{i}" for i in range(4)], ["t"], 1.0))
    calls = []

    def vector(ids):
        calls.append(ids)
        if len(calls) == 300:
            signal.raise_signal(signal.SIGINT)
        dear = float(sum(int(i[2]) for i in ids if i != "end"))
        return (dear, -dear)  # no route dominates another

    found = front(network(steps), ["s"], "t", vector)
    assert not found.complete
    assert found.ending is Ending.STOPPED
    every = [5.0 + sum(choice) for choice in product(range(6), repeat=4)]
    below = sum(cost < found.below - 1e-9 for cost in every)
    assert 0 < below < len(every)
    assert sum(m.cost < found.below - 1e-9 for m in found.routes) == below


# --- on the library --------------------------------------------------------------------------------


def asked_for(target, **given_):
    lib = load_library()
    question = read_question(lib, target, "250 g", **given_)
    return lib, answering.Inquiry(lib, question)


@pytest.mark.parametrize("target", [TARGET, "CuSO4·5H2O", "potassium alum"])
def test_bounds_never_pass_the_measure(target):
    """Any part of a route bounds the route, in every measure."""
    import random

    lib, asked = asked_for(target)
    steps, shelf, moles = asked.priced(asked.packed, lambda _: 0.0)
    keys = tuple(MEASURES)
    facts = bounds.Facts(
        lib, asked.packed.network, asked.packed.at_hand, asked.packed.target, 250.0, moles,
        asked.narrowed.strengths, None, steps, shelf,
    )  # fmt: skip
    low = bounds.lower_bounds(facts, keys)
    dice = random.Random(1)
    found = asked.search(asked.packed, 60, fold=False).routes
    assert len(found) == 60
    for route in found:
        truth = measures.losses(asked.assess(route.steps), keys)
        for size in range(len(route.steps) + 1):
            part = tuple(dice.sample(route.steps, size))
            for key, bound, value in zip(keys, low(part), truth, strict=True):
                assert bound <= value + 1e-7 * max(1.0, abs(value)), (key, part, route.steps)


def test_bounds_tell_something(studio):
    """Of a whole route the plain measures are bounded exactly, and the others above nothing."""
    lib, asked = asked_for(TARGET, shelf=studio / "shelf.csv")
    steps, shelf, moles = asked.priced(asked.packed, lambda _: 0.0)
    keys = ("steps", "hands_on", "peak_temperature", "cost", "e_factor", "yield", "time")
    facts = bounds.Facts(
        lib, asked.packed.network, asked.packed.at_hand, asked.packed.target, 250.0, moles,
        asked.narrowed.strengths, None, steps, shelf,
    )  # fmt: skip
    route = asked.search(asked.packed, 1).routes[0]
    bound = bounds.lower_bounds(facts, keys)(route.steps)
    truth = measures.losses(asked.assess(route.steps), keys)
    assert bound[:3] == pytest.approx(truth[:3])
    assert all(b < 0 if k == "yield" else b > 0 for k, b in zip(keys, bound, strict=True))


@pytest.fixture(scope="module")
def every(studio):
    """All routes on the demo's shelf, without a bench."""
    found = find(TARGET, "250 g", top=10_000, make_reagents=True, seconds=100, shelf=studio / "shelf.csv",
                 libraries=[studio / "reactions"])  # fmt: skip
    assert found.ending is Ending.ALL
    return found


@pytest.mark.parametrize(
    "words", ["yield, cost, time, hazard, missing, waste", "cost, work", "steps"]
)
def test_same_as_sorting_out_all_routes(studio, every, words):
    """On the demo's shelf without a bench: the front of all routes, found by the search."""
    given_ = dict(shelf=studio / "shelf.csv", libraries=[studio / "reactions"])
    keys = measures.read_names(words)
    verdicts = dominated([r.assessment for r in every.routes], keys)
    wanted = {frozenset(r.ids) for r, v in zip(every.routes, verdicts, strict=True) if v is None}
    found = find(TARGET, "250 g", top=10_000, seconds=100, non_dominated=words, **given_)
    assert found.front.complete
    assert {frozenset(r.ids) for r in found.routes} == wanted
    assert found.front.size == len(wanted)
    for beaten in found.front.examples:
        by = found.routes[beaten.dominated.by - 1].assessment
        better = measures.losses(by, beaten.dominated.where)
        worse = measures.losses(beaten.assessment, beaten.dominated.where)
        assert all(a < b for a, b in zip(better, worse, strict=True))


def test_equipment_as_a_measure(studio):
    """What the bench lacks is a limit, or with ``may_lack`` a measure."""
    given_ = dict(
        shelf=studio / "shelf.csv", bench=studio / "bench.yaml", libraries=[studio / "reactions"]
    )
    strict = find(TARGET, "250 g", top=50, **given_)
    loose = find(TARGET, "250 g", top=50, may_lack=2, **given_)
    assert {len(r.assessment.missing) for r in strict.routes} == {0}
    assert {len(r.assessment.missing) for r in loose.routes} == {0, 1, 2}
    with pytest.raises(InputError, match="may_lack"):
        find(TARGET, "250 g", may_lack=-1, **given_)


def test_clashing_wishes(studio):
    """A front is not the best by use of a material."""
    with pytest.raises(InputError, match="two different wishes"):
        find(TARGET, shelf=studio / "shelf.csv", use_up="vinegar", non_dominated="yield")
