"""Robustness: shares that add up, turns that really turn, and the model behind them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from routefinder.assessment.uncertainty import simulate
from routefinder.assessment.waste import waste
from routefinder.assessment.yields import overall
from routefinder.choice import prefer, robust
from routefinder.choice.model import RouteModel
from routefinder.errors import InputError
from routefinder.vessel.amounts import amounts

WISHES = "yield 3 from 40 % to 90 %, hazard 2, time 1 from 5 days to 1 day, cost 1"


@pytest.fixture(scope="module")
def routes(demo):
    return [r.assessment for r in demo.routes]


@pytest.fixture(scope="module")
def found(demo, routes):
    return robust.robustness(demo.library, routes, prefer.read(WISHES), draws=1000)


def test_typical_figures_are_the_assessments(demo, routes):
    """With nothing changed the model gives what the assessment gives."""
    for route in routes:
        got = RouteModel(demo.library, route).measures({})
        for key, m in route.measures().items():
            assert got[key] == pytest.approx(m.typical, rel=1e-12), key


def test_model_against_the_amounts_written_out(demo, routes):
    """Another yield in each step: as when the whole plan is worked back again."""
    supplies = demo.question.shelf.supplies
    for route in routes:
        model = RouteModel(demo.library, route)
        for step in route.steps:
            at = 0.9 * step.record.yield_.typical
            again = amounts(
                demo.library, route.steps, supplies, route.amounts.target, route.amounts.target_g,
                lambda s, step=step, at=at: at if s.id == step.id else s.record.yield_.typical,
            )  # fmt: skip
            got = model.measures({step.id: at})
            paid = sum(d.as_weighed_g * (d.supply.price_per_g or 0) for d in again.draws)
            assert got["cost"] == pytest.approx(paid, rel=1e-9)
            # waste is scaled, not worked out: say how far that may be off
            assert got["e_factor"] == pytest.approx(waste(again).e_factor, rel=0.02)


def test_overall_yield_of_the_draws(demo, routes):
    """The same draws as ``uncertainty``: same factor, same stream, same overall yield."""
    for route in routes:
        start = route.limiting_yield
        drawn = robust.drawn(RouteModel(demo.library, route), 500, 1, 1.3, 1.25)
        trial = simulate(demo.library, route.amounts, draws=500, seed=1)
        assert np.allclose(drawn["yield"], 100 * trial.overall[start.supply.id], rtol=1e-12)
        assert overall(demo.library, route.amounts)[0].typical == start.typical


def test_shares_add_up(found, routes):
    """Somebody comes first in every draw, and one only (ties shared out)."""
    assert len(found.shares) == len(routes)
    assert sum(s.any_weights for s in found.shares) == pytest.approx(1)
    assert sum(s.own_weights for s in found.shares) == pytest.approx(1)
    for share in found.shares:
        assert 0 <= share.any_weights <= 1
        if share.central is None:
            assert share.any_weights == 0
        else:
            assert sum(share.central.values()) == pytest.approx(1)
            assert 0 <= share.confidence <= 1


def test_certain_data_and_one_measure(demo, routes):
    """One measure that does not vary: the best in it comes first in every draw, ties share."""
    sure = robust.robustness(demo.library, routes, prefer.read("steps 1"), draws=50)
    least = min(len(r.steps) for r in routes)
    ties = sum(len(r.steps) == least for r in routes)
    for route, share in zip(routes, sure.shares, strict=True):
        wanted = 1 / ties if len(route.steps) == least else 0
        assert share.own_weights == share.any_weights == pytest.approx(wanted)


def test_first_is_the_best_score(found, routes):
    """The scores are those of ``prefer``, and the first has the highest."""
    scores = [s.total for s in prefer.scores(prefer.read(WISHES), routes)]
    assert list(found.scores) == pytest.approx(scores)
    assert scores[found.first] == max(scores)


def test_weight_turns_turn(found, routes):
    """With the weight said, and nothing else changed, the two are level; beyond it they swap."""
    assert found.weight_turns
    wishes = prefer.read(WISHES)
    for turn in found.weight_turns:
        for factor, sign in ((1.0, 0), (1.02, 1), (0.98, -1)):
            away = turn.now + (turn.to - turn.now) * factor
            changed = [replace(w, weight=away) if w.key == turn.key else w for w in wishes]
            scores = [s.total for s in prefer.scores(changed, routes)]
            gap = scores[turn.other] - scores[found.first]
            if sign == 0:
                assert gap == pytest.approx(0, abs=1e-9)
            else:
                assert gap * sign > 0


def test_yield_turns_turn(demo, found, routes):
    """With the yield said the two are level, a little beyond it the other leads."""
    assert found.yield_turns
    wishes = prefer.read(WISHES)
    ends = prefer.settled(wishes, routes)

    def score(i, step, y):
        values = RouteModel(demo.library, routes[i]).measures({step: y})
        return sum(
            w.weight * prefer.worth(e, values[w.key], clip=w.worst is not None)
            for w, e in zip(wishes, ends, strict=True)
        )

    for turn in found.yield_turns:
        beyond = turn.at + (-1 if turn.under else 1) * 1e-3
        gap = score(turn.other, turn.step, turn.at) - score(found.first, turn.step, turn.at)
        assert gap == pytest.approx(0, abs=1e-6)
        after = score(turn.other, turn.step, beyond) - score(found.first, turn.step, beyond)
        assert after > 0
        assert (turn.at < turn.typical) is turn.under


def test_same_seed_same_answer(demo, routes, found):
    """A run can be repeated; another seed gives another answer, near it."""
    again = robust.robustness(demo.library, routes, prefer.read(WISHES), draws=1000)
    assert again == found
    other = robust.robustness(demo.library, routes, prefer.read(WISHES), draws=1000, seed=2)
    assert other != found
    for a, b in zip(found.shares, other.shares, strict=True):
        assert a.any_weights == pytest.approx(b.any_weights, abs=0.08)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"draws": 0}, "draws"),
        ({"price_factor": 0.5}, "price factor"),
        ({"time_factor": 0}, "time"),
    ],
)
def test_bad_input(demo, routes, more, says):
    """Nonsense is told in a sentence."""
    with pytest.raises(InputError, match=says):
        robust.robustness(demo.library, routes, prefer.read("yield"), **more)
    with pytest.raises(InputError, match="two routes"):
        robust.robustness(demo.library, routes[:1], prefer.read("yield"))
