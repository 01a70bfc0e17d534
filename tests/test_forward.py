"""From the shelf: the most target, what runs out first, what stays; weigh-outs on a real balance."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few
from test_amounts import toy_routes
from test_demo import R1, ask, route
from test_reasoning import check

import routefinder as rf
from routefinder.assessment import forward as fw
from routefinder.assessment import uncertainty as u
from routefinder.assessment.weighing import weigh_outs
from routefinder.library.shelf import read_shelf
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool
from routefinder.vessel.amounts import amounts

SALT = "potassium sodium tartrate tetrahydrate"


def rochelle(shipped, tmp_path, text):
    path = tmp_path / "shelf.csv"
    path.write_text(text, encoding="utf-8")
    answer = rf.find(SALT, "100 g", shelf=read_shelf(path, shipped), top=20)
    found = [
        r for r in answer.routes
        if {"sodium-carbonate-anhydrous"} == {
            d.supply.main for d in r.assessment.amounts.draws
            if d.reactant and not d.supply.everywhere and "tartrate" not in d.supply.main}
    ]  # fmt: skip
    assert found
    return answer.library, found[0].assessment


def test_rochelle_salt_from_340_g(shipped, tmp_path):
    """By hand: 340 g of pure cream of tartar are 1.807 mol, at most 509.9 g of Rochelle salt; that
    takes 95.8 g of soda (112.0 g as monohydrate, 258.5 g as decahydrate) and gives 21.7 L of CO2
    at 24.0 L/mol."""
    library, a = rochelle(
        shipped,
        tmp_path,
        "material,amount,strength\ncream of tartar,340 g,100 %\nsoda ash,1 kg,100 %\n",
    )
    found = fw.forward(library, a.amounts, u.simulate(library, a.amounts))
    assert found.ceiling_g == pytest.approx(509.9, rel=2e-3)
    assert found.runs_out.main == "potassium-hydrogen-tartrate"
    assert found.low_g < found.most_g < found.high_g <= found.ceiling_g * (1 + 1e-9)
    assert found.likely.p10 < found.likely.p50 < found.likely.p90 < found.ceiling_g
    ideal = amounts(library, a.steps, [d.supply for d in a.amounts.draws], a.amounts.target,
                    found.ceiling_g, ideal=True)  # fmt: skip
    draws = {d.supply.main: d for d in ideal.draws}
    assert draws["potassium-hydrogen-tartrate"].moles == pytest.approx(1.807, rel=1e-3)
    soda = draws["sodium-carbonate-anhydrous"]
    assert soda.mass_g == pytest.approx(95.8, rel=2e-3)
    assert soda.moles * 124.00 == pytest.approx(112.0, rel=2e-3)
    assert soda.moles * 286.14 == pytest.approx(258.5, rel=2e-3)
    gas = sum(o.moles for s in ideal.steps for o in s.outcomes if o.substance == "carbon-dioxide")
    assert gas * 24.0 == pytest.approx(21.7, rel=2e-3)


def test_rochelle_salt_from_200_g_and_500_g_of_soda(shipped, tmp_path):
    """200 g of cream of tartar are the limit, at most 299.95 g, however much soda there is."""
    library, a = rochelle(
        shipped,
        tmp_path,
        "material,amount,strength\ncream of tartar,200 g,100 %\nsoda ash,500 g,100 %\n",
    )
    found = fw.forward(library, a.amounts)
    assert found.ceiling_g == pytest.approx(299.95, rel=2e-3)
    assert found.runs_out.main == "potassium-hydrogen-tartrate"
    soda = next(x for x in found.left if x.supply.main == "sodium-carbonate-anhydrous")
    assert 0 < soda.left_g < 500


@given(toy_routes(), st.data())
@few(60)
def test_the_most_uses_up_one_thing_and_no_more_of_the_others(case, data):
    """Worked back from the most: nothing is taken beyond the shelf, and what runs out is at 0."""
    library, steps, supplies, target = case
    from dataclasses import replace

    stocked = [replace(s, amount_g=data.draw(st.floats(1, 1000))) for s in supplies]
    found = amounts(library, steps, stocked, target, 10.0)
    most = fw.forward(library, found)
    again = amounts(library, steps, stocked, target, most.most_g)
    for draw in again.draws:
        assert draw.as_weighed_g <= draw.supply.amount_g * (1 + 1e-9)
        if draw.supply.id == most.runs_out.id:
            assert draw.as_weighed_g == pytest.approx(draw.supply.amount_g)
    by_id = {x.supply.id: x for x in most.left}
    assert by_id[most.runs_out.id].left_g == pytest.approx(0, abs=1e-6)
    for draw in again.draws:
        assert by_id[draw.supply.id].used_g == pytest.approx(draw.as_weighed_g)
    assert most.low_g <= most.most_g * (1 + 1e-9)
    assert most.most_g <= most.high_g * (1 + 1e-9)
    assert most.high_g <= most.ceiling_g * (1 + 1e-9)
    check(fw.reasons(found))


def test_no_amounts_stated():
    """Without an amount on the shelf there is no most."""
    answer = rf.find("copper(II) sulfate pentahydrate", "10 g", top=1)
    assert fw.forward(answer.library, answer.routes[0].assessment.amounts) is None
    assert fw.reasons(answer.routes[0].assessment.amounts) == ()


def test_the_demo_shelf(studio):
    """S1 shelf: 1 kg of vitriol lasts 2.49 times 401.7 g; the vinegar lasts longer (2.6 times)."""
    answer = ask(studio)
    a = route(answer, R1).assessment
    found = fw.forward(answer.library, a.amounts)
    assert found.runs_out.main == "copper-ii-sulfate-pentahydrate"
    assert found.most_g == pytest.approx(250 * 1000 / 401.7, rel=1e-3)
    assert a.runs_out_first[1] == pytest.approx(1000 / 401.7, rel=1e-3)
    assert found.uncounted == ()


def scale(readability, capacity="2 kg", name="scale"):
    offer = Capability.model_validate({"weigh": {"readability": readability, "capacity": capacity}})
    return Tool(name, (offer,))


def test_weigh_outs(studio):
    """A balance of 1 g: 401.727 g become 402 g, and the target 0.07 % more; too much soda does no
    harm, and neither does a little less of its 10 % excess."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    vitriol, soda = weigh_outs(found, Bench((scale("1 g"),)))
    assert (vitriol.rounded_g, soda.rounded_g) == (402, 186)
    assert vitriol.effect == pytest.approx(402 / vitriol.exact_g - 1)
    assert vitriol.u_g == pytest.approx(1 / 12**0.5)
    assert soda.effect == 0
    assert not vitriol.coarse
    vitriol, soda = weigh_outs(found, Bench((scale("50 g"),)))
    assert (vitriol.rounded_g, soda.rounded_g) == (400, 200)
    assert vitriol.effect < 0
    assert vitriol.coarse
    _, soda = weigh_outs(found, Bench((scale("100 g", "2 kg"),)))
    assert soda.rounded_g == 200
    fine, rough = scale("0.1 g", "200 g", "fine"), scale("5 g", "5 kg", "rough")
    vitriol, soda = weigh_outs(found, Bench((fine, rough)))
    assert (vitriol.balance, soda.balance) == ("rough", "fine")
    vitriol, _ = weigh_outs(found, Bench((fine,)))
    assert vitriol.balance == ""
    assert vitriol.rounded_g == vitriol.exact_g


def test_a_short_weighing_beyond_the_excess(studio):
    """Soda rounded down by more than its excess costs target."""
    answer = ask(studio)
    found = amounts(answer.library, route(answer, R1).assessment.steps,
                    answer.question.shelf.supplies, "copper-ii-acetate-monohydrate", 80)  # fmt: skip
    _, soda = weigh_outs(found, Bench((scale("50 g"),)))  # 59.4 g become 50
    assert soda.rounded_g == 50
    assert soda.effect == pytest.approx(50 / soda.exact_g * 1.1 - 1)
    assert soda.effect < 0


def used(found, main):
    return sum(d.as_weighed_g for d in found.assessment.amounts.draws if d.supply.main == main)


def test_use_up_prefers_what_takes_most(studio):
    """--use-up copper: only routes with copper, of those that none beats the hungriest first."""
    answer = ask(studio, use_up="copper scrap wire")
    assert answer.routes
    best = [r for r in answer.routes if r.dominated is None]
    assert list(answer.routes[: len(best)]) == best  # dominated ones last
    grams = [used(r, "copper") for r in best]
    assert min(grams) > 0
    assert grams == sorted(grams, reverse=True)
    assert [r.number for r in answer.routes] == list(range(1, len(answer.routes) + 1))
    assert "those that take most of it first" in answer.notes[-1]
    assert answer.question.limits.use == ()
    assert answer.json()["question"]["use_up"] == "copper-wire-scrap"


def test_use_up_looks_beyond_the_routes_shown(studio):
    """With --top 1 the one route shown is still the first of all, and more are said to exist."""
    every = ask(studio, use_up="copper scrap wire")
    one = ask(studio, use_up="copper scrap wire", top=1)
    assert [r.ids for r in one.routes] == [every.routes[0].ids]
    assert str(every.ending) == "all"
    assert str(one.ending) == "proven"


def test_use_up_is_a_preference(studio):
    """When no route takes it, the best routes without it are given and the note says so."""
    plain = ask(studio, "shelf-with-extras.csv", max_steps=1)
    assert plain.routes
    answer = ask(studio, "shelf-with-extras.csv", max_steps=1, use_up="whiting")
    assert [r.ids for r in answer.routes] == [r.ids for r in plain.routes]
    assert "no route within the limits uses whiting" in answer.notes[-1]


@pytest.mark.parametrize(
    ("more", "words"),
    [({"use_up": "zinc oxide"}, "use_up zinc oxide: it is not on the shelf"),
     ({"use_up": "vinegar", "avoid": ["vinegar"]}, "stands under both use_up and avoid"),
     ({"use_up": "unobtainium"}, "no substance is called")],
)  # fmt: skip
def test_use_up_of_what_is_not_there(studio, more, words):
    """One clear sentence."""
    from routefinder.errors import InputError

    with pytest.raises(InputError, match=words):
        ask(studio, **more)
