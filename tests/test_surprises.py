"""What a route holds beyond its titles is told in a line, from the stages of its steps."""

from __future__ import annotations

from collections import Counter

import routefinder as rf
from routefinder.assessment.surprises import of_step, raking_h
from routefinder.vessel.stages import stages_of
from routefinder.view import surprise_words


def test_every_step_tells_what_its_stages_hold(shipped):
    """Over all steps, written and derived: nothing told that is not there, nothing kept back."""
    count: Counter[str] = Counter()
    for step in shipped.steps.values():
        stages = stages_of(shipped, step).listed
        told = {s.kind: s for s in of_step(shipped, step)}
        count.update(told.keys())
        kinds = [s.kind for s in stages]
        assert ("distilling" in told) == ("distil" in kinds), step.id
        assert ("current" in told) == ("electrolyse" in kinds), step.id
        assert ("grinding" in told) == ("grind" in kinds), step.id
        assert ("filtering" in told) == (kinds.count("filter") > 1), step.id
        assert ("firing" in told) == any(s.kind == "hold" and s.times > 1 for s in stages)
        assert ("crops" in told) == any((s.crops or 1) > 1 for s in stages), step.id
        assert ("raking" in told) == (raking_h(step) > 0), step.id
        for surprise in told.values():
            words = surprise_words.one(shipped, surprise)
            assert words, (step.id, surprise)
            assert "None" not in words, (step.id, words)
    assert count["firing"] > 30
    assert count["grinding"] > 100
    assert count["filtering"] >= 5
    assert count["raking"] >= 2


def test_raking_says_how_long_and_how_hot(shipped):
    raked = [s for s in shipped.steps.values() if raking_h(s) > 0]
    for step in raked:
        found = next(s for s in of_step(shipped, step) if s.kind == "raking")
        words = surprise_words.one(shipped, found)
        assert " of raking at " in words
        assert words.endswith("°C")
        assert found.minutes == 60 * raking_h(step)


def test_one_line_in_card_plan_dossier_and_json(shipped, capsys):
    answer = rf.find("Egyptian blue", "50 g", library=shipped, top=1, seconds=3)
    route = answer.routes[0]
    numbers = {s.id: i for i, s in enumerate(route.assessment.steps, start=1)}
    line = surprise_words.surprise_line(route.library, route.assessment.surprises, numbers)
    assert line.startswith("Expect: step 1, ")
    assert "ground between" in line
    from routefinder.view import as_json, dossier, plan_json, plan_words, text

    out = text.console(400)
    with out.capture() as shown:
        text.print_route(route, out)
    assert line in shown.get()
    plan = answer.plan(1)
    assert plan_words.expect_words(plan) == line
    assert plan_json.plan(plan)["expect"] == as_json.route(route)["expect"] != []
    assert line.split(", ")[0] in dossier.html(plan, answer)


def test_a_plain_route_has_no_line(shipped):
    answer = rf.find("calcium acetate", library=shipped, top=1, seconds=3,
                     shelf=["hydrated lime", "glacial acetic acid"])  # fmt: skip
    route = answer.routes[0]
    told = [s.kind for s in route.assessment.surprises]
    line = surprise_words.surprise_line(route.library, route.assessment.surprises,
                                        {s.id: 1 for s in route.assessment.steps})  # fmt: skip
    assert bool(line) == bool(told)
