"""The account of a run: what was really weighed counts, downstream too, and is counted once."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_of import RunOf

from routefinder.journal import decide, weight
from routefinder.journal.account import account
from routefinder.journal.mass_model import model
from routefinder.journal.replan import replan
from routefinder.journal.results import results, spoilt
from routefinder.journal.weight import goes_through, several_solids
from routefinder.library.shelf import read_shelf
from routefinder.vessel.stages import stages_of

LIME_SOAP = (
    "burn-whiting-to-quicklime", "causticise-soda-with-quicklime",
    "neutralise-oleic-acid-with-caustic-soda",
)  # fmt: skip


def ways(run, **more):
    return replan(run.library, run.book(), read_shelf(run.shelf, run.library), None, lambda q: [],
                  **more)  # fmt: skip


@pytest.fixture
def baked(tmp_path):
    """A run of baking soda, 400 g of it, to washing soda without water."""
    return RunOf(tmp_path, "sodium carbonate", "252 g", "baking soda,1 kg\n", ("bake-baking-soda",))


@pytest.fixture
def soap(tmp_path):
    """A run of soap from whiting, soda and oleic acid: a solid, a solution, a product."""
    shelf = "whiting,2 kg\nsoda ash,1 kg\noleic acid,2 kg\n"
    return RunOf(tmp_path, "castile soap", "1 kg", shelf, LIME_SOAP)


# --- a verdict is used


def test_what_is_not_through_is_no_product(baked):
    """400 g of bicarbonate in, 290 g out: 74 % converted, so the charge counts, not 290 g of soda.

    By hand: 400 g lose 147.6 g in full (36.9 %); 110 g are 74.5 %. 400 g give 250 g or so, 246 g at
    the record's typical yield.
    """
    baked.put(1, "baking soda", 400.0)
    baked.out(1, 290.0)
    standing = account(baked.library, baked.book())
    state = standing.last
    assert state.verdict.says == "go on"
    assert state.phase == "going"
    assert not standing.at_end
    found = ways(baked)
    assert found.expected_g == pytest.approx(252.0 * 400 / 409.65, rel=2e-3)
    assert any("not finished: the charge counts" in w for w in found.minds)
    assert results(baked.store, baked.library)[0].why.startswith("not finished")


def test_an_impossible_weight_is_not_planned_with(baked):
    """999 kg out of 400 g is no soda: the usual yield of the charge counts while nobody knows."""
    baked.put(1, "baking soda", 400.0)
    baked.out(1, 999_000.0)
    assert ways(baked).expected_g < 260


@given(st.data())
@settings(max_examples=60)
def test_what_a_weight_is_counted_as(shipped, data):
    """In every step: never more product than theory, than was weighed, nor of nothing done."""
    steps = [s for s in shipped.steps.values() if s.main.state == "s" and not s.is_recipe
             and shipped.substances[s.limiting.substance].formula]  # fmt: skip
    step = data.draw(st.sampled_from(steps))
    charge = weight.Charge(step.limiting.substance, "start", weight.Reading(100.0, 0.01))
    found = model(shipped, step, charge)
    out = data.draw(st.floats(0.01, 3.0)) * 100.0
    said = decide.weigh(shipped, step, charge, weight.Reading(out, 0.01))
    if said.product_g is None:
        assert said.says == "something else"
        return
    assert 0 <= said.product_g <= max(found.full_g, found.ceiling_g or 0.0) * 1.01
    if said.sure:
        assert said.product_g <= out * (1 + 1e-9)
    if said.way == "through" and said.says == "go on":
        assert said.product_g == pytest.approx(max(said.extent, 0) * found.full_g, rel=1e-6)


# --- all that went in


def test_all_charges_count(tmp_path):
    """147 g of zinc oxide and 17 g of cobalt carbonate, the right cake out: converted, not -210 %.

    By hand: 17.3 g of cobalt carbonate hold 16.1 g at the plan's purity and lose 5.9 g of gas.
    """
    run = RunOf(
        tmp_path, "Rinmann's green", "150 g", "zinc oxide,1 kg\ncobalt carbonate,100 g\n",
        ("fire-rinmanns-green-dry",),
    )  # fmt: skip
    run.put(1, "zinc oxide", 146.9)
    run.put(1, "cobalt carbonate", 17.3)
    run.out(1, 157.9)
    state = account(run.library, run.book()).last
    assert state.found.weighed.grams == pytest.approx(164.2)
    gas = (1 - state.found.start) + state.found.share
    purity = next(f for f in run.feeds(1) if f["name"] == "cobalt carbonate")["purity"]
    assert gas * 164.2 == pytest.approx(17.3 * purity * 44.01 / 118.94, rel=1e-3)
    assert state.verdict.extent is None or 0.9 < state.verdict.extent < 1.1


def test_any_reactant_may_be_the_one_weighed(shipped):
    """In every step of several solids: each alone, and all together, mean the same conversion."""
    tried = 0
    for step in shipped.steps.values():
        if not several_solids(shipped, step) or stages_of(shipped, step).alone:
            continue
        whole = weight.charge(shipped, step, weight.Reading(1000.0, 0.01))
        assert whole.whole
        found = model(shipped, step, whole)
        if found.way != "through":
            continue
        half = found.weight_at(1000.0, 0.5)
        for part in step.reactants:
            if part.state != "s" or shipped.substances[part.substance].formula is None:
                continue
            more = 1 + step.excess.get(part.substance, 0.0)
            molar = shipped.substances[part.substance].molar_mass_g
            grams = part.moles * more * found.turns * molar
            one = weight.Charge(part.substance, "one", weight.Reading(grams, 0.01))
            own = model(shipped, step, one)
            assert own.turns == pytest.approx(found.turns, rel=1e-6), step.id
            assert own.extent_at(grams, half) == pytest.approx(0.5, abs=1e-6), step.id
            tried += 1
    assert tried >= 20


def test_one_reactant_of_a_wet_step_may_be_named(shipped):
    """Soda weighed, not the copper salt: the same ceiling as by the copper it goes with."""
    step = shipped.step("precipitate-basic-copper-carbonate")
    vitriol = weight.charge(shipped, step, weight.read_mass("249.7 g"), "CuSO4·5H2O")
    excess = step.excess.get("sodium-carbonate", 0.0) or next(iter(step.excess.values()), 0.0)
    soda = weight.charge(
        shipped, step, weight.read_mass(f"{105.99 * (1 + excess):.2f} g"), "Na2CO3"
    )  # fmt: skip
    assert model(shipped, step, soda).ceiling_g == pytest.approx(
        model(shipped, step, vitriol).ceiling_g, rel=1e-3
    )


# --- downstream, through solutions


def test_a_solution_is_reckoned_from_what_went_into_it(soap):
    """Ten times the plan weighed in: the next step is judged by that, not by the plan's lye."""
    soda = next(f for f in soap.feeds(2) if f.get("name") == "soda ash")["as_weighed_g"]
    lime = next(f for f in soap.feeds(2) if "from_step" in f)["as_weighed_g"]
    soap.put(1, "whiting", soap.feeds(1)[0]["as_weighed_g"] * 10)
    soap.out(1, lime * 10)
    soap.put(2, "soda ash", soda * 10)
    soap.log("end", 2)
    acid = next(f for f in soap.feeds(3) if f.get("name") == "oleic acid")["as_weighed_g"]
    soap.put(3, "oleic acid", acid * 10)
    soap.out(3, 10_000.0)
    standing = account(soap.library, soap.book())
    planned = soap.store.run(1).data["steps"][1]["product"]["mass_g"]
    lot = standing.states[1].lot
    assert lot.pure_g == pytest.approx(10 * planned, rel=0.02)
    assert not lot.sure
    assert standing.last.verdict.extent == pytest.approx(0.96, abs=0.08)


def test_replan_never_forgets_the_pot(soap):
    """At every point of an ordinary run the forecast stays that of the plan."""
    plan = soap.store.run(1).data["steps"]
    expected = [ways(soap).expected_g]
    soap.put(1, "whiting", plan[0]["feeds"][0]["as_weighed_g"])
    expected.append(ways(soap).expected_g)
    soap.out(1, next(f for f in plan[1]["feeds"] if "from_step" in f)["as_weighed_g"])
    expected.append(ways(soap).expected_g)
    soap.put(2, "soda ash", next(f for f in plan[1]["feeds"] if f.get("name") == "soda ash")[
        "as_weighed_g"])  # fmt: skip
    expected.append(ways(soap).expected_g)
    soap.log("end", 2)
    expected.append(ways(soap).expected_g)
    soap.log("begin", 3)
    expected.append(ways(soap).expected_g)
    soap.put(3, "oleic acid", next(f for f in plan[2]["feeds"] if f.get("name") == "oleic acid")[
        "as_weighed_g"])  # fmt: skip
    expected.append(ways(soap).expected_g)
    assert expected == pytest.approx([1000.0] * len(expected), rel=0.02)
    soap.out(3, 900.0)
    assert ways(soap).expected_g == pytest.approx(900.0)


@given(share=st.floats(0.05, 1.0), later=st.floats(0.3, 1.0))
@settings(max_examples=15, deadline=None)
def test_the_scarcest_decides_and_no_more_than_was_charged(tmp_path_factory, share, later):
    """A forecast is at most the share that was charged, at most the share that came out."""
    run = RunOf(
        tmp_path_factory.mktemp("run"), "sodium carbonate", "252 g", "baking soda,1 kg\n",
        ("boil-baking-soda-solution", "crystallise-washing-soda", "dry-washing-soda"),
    )  # fmt: skip
    plan = run.store.run(1).data["steps"]
    run.put(1, "baking soda", plan[0]["feeds"][0]["as_weighed_g"] * share)
    charged = ways(run).expected_g
    assert charged == pytest.approx(252.0 * share, rel=1e-3)
    run.log("end", 1)
    run.log("begin", 2)
    run.out(2, plan[1]["product"]["mass_g"] * share * later)
    assert ways(run).expected_g <= charged * 1.001


def test_the_chance_before_anything_is_the_plans(tmp_path):
    """One question, one answer: replan before the first weight says what the plan says."""
    import routefinder as rf

    run = RunOf(tmp_path, "castile soap", "1 kg", "whiting,2 kg\nsoda ash,1 kg\noleic acid,2 kg\n",
                LIME_SOAP)  # fmt: skip
    answer = rf.find("castile soap", "1 kg", shelf=run.shelf, top=40)
    route = next(r for r in answer.routes if r.ids == LIME_SOAP)
    assert ways(run).chance == pytest.approx(answer.plan(route.number).start.chance, abs=0.01)


# --- what teaches


def test_dry_heats_teach(baked):
    """What was caught of theory, by hand: 400 g at its purity p give 400 p x 105.99 / 168.01 g of
    soda, and what else is in it stays in the dish."""
    baked.put(1, "baking soda", 400.0)
    baked.out(1, 247.3)
    got = results(baked.store, baked.library)[0]
    purity = baked.feeds(1)[0]["purity"]
    full = 400.0 * purity / 84.006 / 2 * 105.988
    share = full / (full + 400.0 * (1 - purity))
    assert got.yield_ == pytest.approx(247.3 * share / full, abs=0.002)
    assert got.why == ""


def test_every_dry_heat_of_one_solid_can_teach(shipped):
    """Burn, bake, roast, slake, dry, fire: a usual weight is done, and gives back its yield."""
    taught = 0
    for step in shipped.steps.values():
        limiting = shipped.substances[step.limiting.substance]
        if not goes_through(shipped, step) or limiting.formula is None:
            continue
        charge = weight.charge(shipped, step, weight.Reading(1000.0, 0.01))
        found = model(shipped, step, charge)
        if found.way != "through":
            continue
        y = step.record.yield_.typical
        out = found.weight_at(1000.0, 1.0) * max(y, 0.995)
        said = decide.weigh(shipped, step, charge, weight.Reading(out, 0.01))
        if said.says == "done":
            assert said.product_g / found.full_g == pytest.approx(max(y, 0.995), abs=0.02), step.id
            taught += 1
    assert taught >= 110


def test_what_a_note_calls_spoilt_teaches_nothing(baked):
    """A run that a note calls spoilt is shown and left out; "not spoilt" is no such note."""
    baked.put(1, "baking soda", 400.0)
    baked.out(1, 247.3)
    baked.log("note", 1, words="did not spoil or fail; nothing was contaminated")
    assert results(baked.store, baked.library)[0].yield_ is not None
    baked.store.add(1, "note", None, {"words": "spoilt: the wrong jar was taken"})
    got = results(baked.store, baked.library)[0]
    assert got.yield_ is None
    assert "spoilt: the wrong jar" in got.why
    assert spoilt(["the filter failed, poured back"]) is not None
    assert spoilt(["no failure", "nothing spoilt"]) is None


def test_a_failed_attempt_counts_beside_the_one_that_went_well(baked):
    """Failed, begun anew, done: one failure and one result."""
    baked.put(1, "baking soda", 400.0)
    baked.log("failed", 1, words="the dish broke")
    assert account(baked.library, baked.book()).last.phase == "failed"
    found = ways(baked)
    assert found.expected_g == 0
    assert any("again, from" in o.sentence for o in found.options)
    baked.put(1, "baking soda", 400.0)
    baked.out(1, 247.3)
    got = results(baked.store, baked.library)
    assert [r.failed for r in got] == [True, False]
    assert math.isclose(got[1].yield_, 0.98, abs_tol=0.02)
