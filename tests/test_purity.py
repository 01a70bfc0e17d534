"""A least purity: what falls short is crystallised once more, or set aside with its figure."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.errors import FieldError
from routefinder.graph.purify import is_again, purifies, with_purifiers, without_again


@pytest.fixture(scope="module")
def sulfate(shipped):
    """Potassium sulfate of 97 %: as made from muriate of potash it has about 86 %."""
    return rf.find("potassium sulfate", "100 g", library=shipped, purity="97 %", by="cost", top=6)


def test_every_route_is_as_pure_as_asked(sulfate):
    """And those that were not are told with their figures."""
    assert sulfate.routes
    assert all(r.assessment.purity.share >= 0.97 for r in sulfate.routes)
    told = [r for lost in sulfate.lost for r in lost.reasons if r.limit == "purity"]
    assert told
    assert all("below the 97 % asked for" in r.reason for r in told)
    assert all(r.step in sulfate.library.steps for r in told)


def test_what_falls_short_is_crystallised_once_more(sulfate, shipped):
    """The purifying step is one of the route: charged with what was made, weighed, and needed."""
    again = [r for r in sulfate.routes if any(map(is_again, r.ids))]
    assert again
    plain = rf.find("potassium sulfate", "100 g", library=shipped, by="cost", top=25)
    made = {r.ids: r.assessment.purity.share for r in plain.routes}
    for route in again:
        found = route.assessment.amounts
        first, last = found.steps[-2:]
        assert is_again(last.step.id)
        assert found.last == last.step.id
        assert [f.origin for f in last.feeds if f.role == "reactant"] == [first.step.id]
        assert last.product.mass_g == pytest.approx(100.0, rel=1e-9)
        assert first.product.mass_g == pytest.approx(100.0 / last.yield_, rel=1e-9)
        for amount in found.steps:
            assert amount.mass_in_g == pytest.approx(amount.mass_out_g, rel=1e-9)
        short = without_again(route.ids)
        if short in made:  # it is there because it has to be
            assert made[short] < 0.97


def test_its_plan_is_whole(sulfate):
    """The bench sheet of a route with a step twice over has both."""
    number = next(r.number for r in sulfate.routes if any(map(is_again, r.ids)))
    plan = sulfate.plan(number)
    assert plan.steps[-1].amount.step.title.endswith("once more")
    assert plan.timed.tasks


def test_nothing_is_pure_enough(shipped, call):
    """No step of the library purifies lye: the sentence gives the purest."""
    found = rf.find("sodium hydroxide", "100 g", library=shipped, purity="99.9 %", seconds=2)
    assert not found.routes
    assert "none comes out as pure as that; the purest has about" in found.why_none.sentence
    assert call("find", "sodium hydroxide", "--purity", "many")[2].startswith(
        "routefinder: --purity"
    )


def test_without_a_limit_nothing_changes(shipped):
    """The library of the question is the library; no route has a step once more."""
    found = rf.find("potassium sulfate", "100 g", library=shipped, top=3)
    assert found.library is shipped
    assert not any(is_again(i) for r in found.routes for i in r.ids)


@pytest.mark.parametrize("value", ["0 %", "120 %", "pure", True])
def test_what_is_no_purity(shipped, value):
    """One sentence that names the field."""
    with pytest.raises(FieldError, match=r"^purity"):
        rf.find("potassium sulfate", "100 g", library=shipped, purity=value)


def test_purifying_steps_take_what_they_give(shipped):
    """Over the library: each gives its own substance as crystals from its solution."""
    found = [s for s in shipped.steps.values() if purifies(shipped, s)]
    assert len(found) > 70
    for step in found:
        more = with_purifiers(shipped, step.main.substance)
        clone = more.steps[f"{step.id}@again"]
        assert clone.main == step.main
        assert len(more.steps) > len(shipped.steps)
