"""Preferences: read, scored measure by measure, and must-haves as limits in the search."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.api.find import find
from routefinder.choice import prefer
from routefinder.choice.prefer import Wish
from routefinder.errors import InputError


def test_words():
    """Weights, ends and must-haves, each in the measure's unit."""
    assert prefer.read("yield 3, hazard 2, time 1") == (
        Wish("yield", 3.0), Wish("hazard", 2.0), Wish("time", 1.0),
    )  # fmt: skip
    assert prefer.read("yield 3 from 40 % to 90 %") == (Wish("yield", 3.0, 40.0, 90.0),)
    assert prefer.read("time 2 from 5 days to 12 h at most 4 days, cost") == (
        Wish("time", 2.0, 120.0, 12.0, 96.0), Wish("cost"),
    )  # fmt: skip
    assert prefer.read("cost 1, yield at least 60 %")[1] == Wish("yield", 0.0, limit=60.0)
    assert prefer.read("peak at most 400 degC, steps 1")[0].limit == 400.0
    assert prefer.read("cost 1 from 20 USD to 5 USD")[0].worst == 20.0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        (" , ", "is empty"),
        ("beauty 3", "unknown measure 'beauty'"),
        ("yield 3, yield 2", "twice"),
        ("yield -1", "0 or more"),
        ("yield 1.2.3", "no number"),
        ("yield 0", "no measure a weight above 0"),
        ("yield 3 from 90 % to 40 %", "worst value first"),
        ("time 3 from 1 day to 2 days", "worst value first"),
        ("yield 3 from 40 to", "cannot be read"),
        ("time 3 from 40 to 20", "^prefer .*unit"),
        ("yield at most 40 %", "at least"),
        ("cost at least 4", "at most"),
        ("cost 3 from dear to cheap", "plain number"),
        ("3 yield", "cannot be read"),
    ],
)
def test_nonsense(text, says):
    """One sentence that says what is wrong."""
    with pytest.raises(InputError, match=says):
        prefer.read(text)


def test_score_by_hand(demo):
    """Two measures worked out by hand from the figures shown."""
    routes = [r.assessment for r in demo.routes]
    wishes = prefer.read("yield 3 from 40 % to 90 %, time 1 from 5 days to 1 day")
    for route, score in zip(routes, prefer.scores(wishes, routes), strict=True):
        m = route.measures()
        by_yield = min(1, max(0, (m["yield"].typical - 40) / 50))
        by_time = min(1, max(0, (120 - m["time"].typical) / 96))
        assert score.total == pytest.approx((3 * by_yield + by_time) / 4)
        assert score.total == pytest.approx(sum(p.points for p in score.parts))
        assert all(p.given for p in score.parts)


def test_ends_from_the_routes(demo):
    """Without ends the worst of the routes is worth 0 and the best 1, and that is said."""
    routes = [r.assessment for r in demo.routes]
    scores = prefer.scores(prefer.read("cost 1"), routes)
    costs = [r.cost.typical for r in routes]
    assert scores[costs.index(min(costs))].total == 1.0
    assert scores[costs.index(max(costs))].total == 0.0
    part = scores[0].parts[0]
    assert (part.worst, part.best, part.given) == (max(costs), min(costs), False)


@given(st.floats(-10, 110), st.floats(0, 100), st.floats(0, 100))
def test_worth_is_a_straight_line_cut_off(value, a, b):
    """0 at the worst end and beyond, 1 at the best and beyond, and linear between."""
    low, high = sorted((a, b))
    if high - low < 1e-6:
        return
    wish = Wish("yield", 1.0, low, high)
    found = prefer.worth(wish, value)
    assert 0 <= found <= 1
    if low <= value <= high:
        assert low + found * (high - low) == pytest.approx(value, abs=1e-6)
    else:
        assert found == (0.0 if value < low else 1.0)


def test_must_haves_are_limits(studio, demo):
    """What breaks a must-have is not found, though it would be otherwise."""
    found = find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"],
        prefer="hazard 1, yield at least 78 %, time at most 4 days",
    )  # fmt: skip
    kept = {r.ids for r in found.routes}
    wanted = {
        r.ids
        for r in demo.routes
        if r.assessment.chain_yield >= 0.78 and r.assessment.elapsed_min <= 4 * 24 * 60
    }
    assert kept == wanted
    assert 0 < len(kept) < len(demo.routes)


def test_broken_must_haves_come_last(demo):
    """Scored without the search: a route that breaks a must-have ranks behind all that keep it."""
    routes = [r.assessment for r in demo.routes]
    scores = prefer.scores(prefer.read("yield 1, cost at most 7"), routes)
    order = prefer.ranking(scores)
    broken = [bool(scores[i].broken) for i in order]
    assert broken == sorted(broken)
    assert any(broken)
    assert not all(broken)
    for i, r in enumerate(routes):
        assert bool(scores[i].broken) == (r.cost.typical > 7)
