"""Every limit: what it sets aside, what it leaves, and that tighter limits never gain a route."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.choice import variety

TARGET = "copper(II) acetate monohydrate"


@pytest.fixture(scope="module")
def ask():
    from routefinder.library.where import examples

    studio = examples() / "studio"

    def run(**more):
        given = {
            "shelf": studio / "shelf-with-extras.csv",
            "libraries": [studio / "reactions"],
            "top": 60,
        }
        return rf.find(TARGET, "250 g", **{**given, **more})

    return run


@pytest.fixture(scope="module")
def free(ask):
    return ask()


def ids(answer):
    return {frozenset(r.ids) for r in answer.routes}


def test_without_a_bench_nothing_is_set_aside(free):
    """Needs are listed only."""
    assert free.aside == ()
    assert all(r.assessment.needed and not r.assessment.missing for r in free.routes)


def test_max_temperature(ask, free):
    """Hotter steps go, with the figure; the others stay."""
    found = ask(max_temperature="200 degC")
    assert ids(found) < ids(free)
    assert all(r.assessment.peak_C <= 200 for r in found.routes)
    assert any("750 °C, above the limit of 200 °C" in a.reason for a in found.aside)


def test_avoid_a_substance_and_a_step(ask, free):
    """A substance in any form, or one step."""
    found = ask(avoid=["hydrogen peroxide"])
    assert ids(found) < ids(free)
    assert not any("dissolve-copper-in-peroxide-and-acetic-acid" in r for r in ids(found))
    assert any(a.limit == "avoid" and "hydrogen peroxide" in a.reason for a in found.aside)
    found = ask(avoid=["crystallise-copper-ii-acetate"])
    assert ids(found) == {r for r in ids(free) if "crystallise-copper-ii-acetate" not in r}


def test_must_use(ask, free):
    """--from keeps the routes that take the material, exactly."""
    found = ask(use=["copper"])
    assert ids(found)
    for route in found.routes:
        assert "copper" in {d.supply.main for d in route.assessment.amounts.draws}


def test_max_hazard(ask, free):
    """By aspect and for all."""
    found = ask(max_hazard={"fire": 3})
    assert ids(found) == {
        frozenset(r.ids) for r in free.routes if r.assessment.hazards["fire"][0] <= 3
    }
    assert any(
        a.limit == "max-hazard" and "fire 4 of 4, above the 3 allowed" in a.reason
        for a in found.aside
    )
    assert ask(max_hazard={"any": 0}).routes == ()


def test_max_steps_time_and_budget(ask, free):
    """Limits on whole routes leave exactly the routes within."""
    found = ask(max_steps=2)
    assert ids(found) == {r for r in ids(free) if len(r) <= 2}
    hours = sorted(r.assessment.elapsed_min for r in free.routes)[len(free.routes) // 2] / 60
    found = ask(max_time=f"{hours} h")
    assert ids(found) == {
        frozenset(r.ids) for r in free.routes if r.assessment.elapsed_min <= hours * 60 + 1e-6
    }
    money = sorted(r.assessment.cost.typical for r in free.routes)[len(free.routes) // 2]
    found = ask(budget=money)
    assert ids(found) == {
        frozenset(r.ids) for r in free.routes if r.assessment.cost.typical <= money
    }


def test_bench_leaves_what_can_be_run(ask, free):
    """Nothing that the bench lacks is in a route; what it lacks is said."""
    from routefinder.library.where import examples

    found = ask(bench=examples() / "studio" / "bench.yaml")
    assert ids(found) < ids(free)
    assert all(not r.assessment.missing for r in found.routes)


def ways(found):
    """The really different ways in an answer."""
    return {variety.way(found.library, r.assessment) for r in found.routes}


@pytest.mark.parametrize("order", ["balanced", "cost", "yield", "time", "hazard", "steps"])
def test_orders(ask, free, order):
    """Every order finds the same ways when all are asked for, best first by its own measure."""
    found = ask(by=order, make_reagents=True)
    every = ask(make_reagents=True)
    assert ways(found) == ways(every) >= ways(free)
    costs = [r.cost for r in found.routes]
    # equal costs are added up in different orders: the last bit does not count
    assert costs == pytest.approx(sorted(costs), rel=1e-12)
    if order == "steps":
        assert [len(r.ids) for r in found.routes] == sorted(len(r.ids) for r in found.routes)
    if order == "cost":
        money = [r.assessment.cost.typical + len(r.ids) for r in found.routes]
        assert money == pytest.approx(sorted(money)), "materials and 1 a step"
        free = [r.assessment.cost.typical for r in ask(by=order, step_cost=0).routes]
        assert free == pytest.approx(sorted(free), abs=1e-3)


def test_no_route_names_what_is_lacking(ask, tmp_path):
    """A shelf without copper: the nearest route and what it lacks."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material\nwhite vinegar\n", encoding="utf-8")
    found = ask(shelf=shelf)
    assert found.routes == ()
    assert found.why_none is not None
    assert "copper" in " ".join(found.why_none.lacking)
    assert found.why_none.nearest


def test_max_time_that_nothing_meets(ask):
    """No route within limits on whole routes: said as such."""
    found = ask(max_time="1 min")
    assert found.routes == ()
    assert "--max-time" in found.why_none.sentence
