"""Which material is taken, what else would serve, and what a step asks of what is bought."""

from __future__ import annotations

from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.graph.needs import meets, offers_of_supply
from routefinder.library.shelf import shops
from routefinder.records.shelf import Supply
from routefinder.vessel.stages import is_dry_heat
from routefinder.vessel.supplied import Asked, asked_for, choices, serving
from routefinder.view import surprise_words

GROUND = {"calcium-carbonate", "quartz", "carbon"}  # sold as powder and as lumps or grains


@pytest.fixture(scope="module")
def sold(shipped):
    return shops(shipped).supplies


def test_what_a_step_asks_for_is_taken_where_it_is_sold(shipped, sold):
    """Over all steps: of all that meets a need, what falls short is never taken before the rest."""
    asked = short = 0
    for step in shipped.steps.values():
        for need, ask in asked_for(shipped, step).items():
            if ask == Asked():
                continue
            asked += 1
            ranked = serving(shipped, sold, need, ask)
            known = [ask.lacks(s, s.fractions[s.main]) for s in ranked]
            assert known == sorted(known), step.id
            short += bool(known and known[0])
    assert asked > 55
    assert short <= 12  # charcoal, silicon, tin, cobalt: sold in lumps only


def test_all_that_must_be_ground_asks_for_powder(shipped):
    """Chalk, quartz and charcoal that turn into another solid, in the fire or in the wet."""
    seen = 0
    for step in shipped.steps.values():
        solids = [p.substance for p in step.reactants if p.state == "s"]
        dry = is_dry_heat(step)
        if not ((dry and len(solids) > 1) or (not dry and step.main.state == "s")):
            continue
        for substance in GROUND.intersection(solids):
            seen += 1
            assert step.fineness.get(substance) == ("powder",), (step.id, substance)
    assert seen > 35


def test_a_price_of_nothing_does_not_decide(shipped, sold):
    """Free eggshells do not come before whiting where chalk should be a powder, nor alone."""
    need = ("form", "calcium-carbonate", 0.0)
    chalks = [s for s in sold if s.main == "calcium-carbonate"]
    first = serving(shipped, chalks, need, Asked(("powder",)))[0]
    assert first.fineness == "powder"
    free = replace(chalks[0], id="free", price_per_g=0.0, fractions={"calcium-carbonate": 0.5})
    assert serving(shipped, [*chalks, free], need)[0].id != "free"


def test_every_choice_names_what_else_would_serve(shipped, demo):
    for route in demo.routes:
        for choice in choices(shipped, route.assessment.amounts):
            assert isinstance(choice.supply, Supply)
            for other in choice.others:
                assert other.id != choice.supply.id
                assert any(meets(route.library, o, choice.need) for o in offers_of_supply(other))


def test_the_card_the_plan_and_json_name_the_choice(shipped):
    answer = rf.find("calcium acetate", library=shipped, top=1, seconds=3)
    route = answer.routes[0]
    others = surprise_words.instead(route.library, route.assessment.amounts)
    chalk = next(i for i in others if i in {"marble-chips", "whiting"})
    assert "eggshells, boiled and dried" in others[chalk]
    line = surprise_words.chosen_line(route.library, route.assessment.amounts)
    assert "else" in line
    from routefinder.view import as_json, plan_words

    rows = {m["id"]: m["instead"] for m in as_json.route(route)["materials"]}
    assert rows[chalk] == list(others[chalk])
    assert line in plan_words.shopping_words(answer.plan(1))


def test_a_material_that_is_too_coarse_is_taken_and_said(shipped):
    shelf = ["copper sheet or pipe", "black copper oxide", "hydrogen peroxide, 3 %"]
    answer = rf.find("copper(I) oxide", "50 g", library=shipped, shelf=shelf, top=5, seconds=5)
    route = next(r for r in answer.routes if r.ids == ("fire-copper-with-copper-ii-oxide",))
    found = [s for s in route.assessment.surprises if s.kind == "dividing"]
    assert found
    words = surprise_words.one(route.library, found[0])
    assert words == (
        "copper sheet or pipe comes as sheet, wanted as powder: divide it first, or buy it so"
    )


def test_purity_asked_for(shipped, sold):
    step = shipped.steps["burn-bismuth-to-bismuth-oxide"]
    ask = next(a for a in asked_for(shipped, step).values() if a.pure)
    metal = next(s for s in sold if s.main == "bismuth")
    scrap = replace(metal, id="scrap", fractions={"bismuth": 0.9}, price_per_g=1e-6)
    ranked = serving(shipped, [scrap, metal], ("form", "bismuth", 0.0), ask)
    assert ranked[0] is metal
    assert serving(shipped, [scrap, metal], ("form", "bismuth", 0.0))[0] is scrap
