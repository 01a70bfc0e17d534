"""Drying and storing are not making, and a wet step is heated as wet things are: laws over all steps."""

from __future__ import annotations

from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.graph.narrow import lack
from routefinder.hazards.makeshift import FINISHING, finishes
from routefinder.hazards.set_up import set_up
from routefinder.library import shelf as shelves
from routefinder.library.solubility import crystallises
from routefinder.library.where import examples
from routefinder.records.shelf import Bench
from routefinder.records.stage import Stage
from routefinder.vessel.stages import stages_of
from routefinder.view import heat_words
from routefinder.view.bench_words import one_stage

FIRED = {"porcelain", "alumina", "clay-graphite", "earthenware", "fused silica", "graphite",
         "nickel", "platinum"}  # fmt: skip
WARM_C = 60.0


@pytest.fixture(scope="module")
def bare(shipped) -> Bench:
    """The ordinary bench without anything that dries or keeps."""
    bench = shelves.read_bench(examples() / "ordinary" / "bench.yaml", shipped)
    tools = tuple(
        replace(t, offers=tuple(o for o in t.offers if o.name not in FINISHING))
        for t in bench.tools
    )
    return Bench(tools)


def test_no_step_is_set_aside_for_want_of_an_oven_or_a_jar(shipped, bare):
    """What lacks for drying or keeping makes a step marginal, with what to do instead."""
    seen = 0
    for step in shipped.steps.values():
        wants = [n for n in step.needs if n.name in FINISHING and finishes(step, n)]
        told = set_up(shipped, step, bare).instead
        assert len(told) == len(wants), step.id
        assert all(len(t) > 20 and not t.endswith(".") for t in told)
        seen += bool(wants)
    assert seen >= 350  # 22 + 48 that keep and 334 that dry, some both


def test_drying_that_is_the_work_itself_is_needed(shipped, bare):
    """A hydrate that is dried to a lower one cannot be made without something to dry it in."""
    hard = [
        s.id
        for s in shipped.steps.values()
        for n in s.needs
        if n.name == "dry" and not finishes(s, n)
    ]
    assert "dry-borax-decahydrate-to-pentahydrate" in hard
    assert "dry-sodium-thiosulfate" in hard
    assert all(shipped.steps[i].record.kind in {"drying", "dehydration"} for i in hard)
    for i in hard:
        assert any(lack(bare, n) for n in shipped.steps[i].needs if n.name == "dry")


def test_a_route_is_found_and_says_what_to_do_instead(shipped, tmp_path):
    """Dehydrated zinc acetate on a bench without a desiccator and without a jar."""
    text = (examples() / "ordinary" / "bench.yaml").read_text(encoding="utf-8")
    for word in ("- desiccator\n", "- airtight-jars\n"):
        assert word in text
        text = text.replace(word, "")
    bench = tmp_path / "bench.yaml"
    bench.write_text(text, encoding="utf-8")
    answer = rf.find("zinc acetate, anhydrous", "50 g", library=shipped, bench=bench, top=1)
    (route,) = answer.routes[:1]
    assert any("screw-top jar" in why for _, why in route.assessment.marginal)


def test_what_comes_dry_from_the_fire_wants_a_tight_jar_no_drying_agent(shipped):
    """Nothing is dried over silica gel that was just held at 100 degC or more."""
    for step in shipped.steps.values():
        names = {n.name for n in step.record.equipment}
        if "keep-dry" in names:
            assert not names & {"heat-dry", "open-flame"}, step.id


def test_what_is_boiled_down_stands_on_a_plate_not_in_a_kiln(shipped):
    """A liquor asks for a heat for liquids, as hot as it is boiled down."""
    seen, short = 0, []
    for step in shipped.steps.values():
        for stage in step.record.stages:
            if stage.kind != "boil down" or step.dry_heat:
                continue
            reach = [n.limit("to") or 0.0 for n in step.needs if n.name == "heat-liquid"]
            hot = stage.hottest_C
            seen += 1
            if not reach and (hot is None or hot > WARM_C):
                short.append(step.id)
            elif hot is not None and hot > heat_words.BOILS_C and max(reach) < hot - 5:
                short.append(step.id)  # what may not boil has an upper end instead
    assert not short
    assert seen >= 50


def test_a_wet_charge_in_a_furnace_is_a_paste_in_what_stands_the_fire(shipped):
    """A furnace on a step that handles a solution: its vessel is no beaker."""
    for step in shipped.steps.values():
        hot = [n for n in step.needs if n.name == "heat-dry"]
        if not hot or step.dry_heat:
            continue
        vessels = [set(n.made_of) for n in step.needs if n.name == "vessel"]
        assert any(v and v <= FIRED for v in vessels), step.id


def test_what_is_stirred_hot_in_water_has_a_plate(shipped):
    """A stage that works hot in water asks for a heat for liquids, whatever was fired before."""
    for step in shipped.steps.values():
        names = {n.name for n in step.record.equipment}
        fired = "heat-dry" in names
        after = False
        for stage in step.record.stages:
            after = after or (fired and stage.kind == "cool")
            if after and stage.kind == "stir" and (stage.hottest_C or 0) >= WARM_C:
                assert "heat-liquid" in names, step.id


def test_crystals_grow_from_what_was_dissolved_warm(shipped):
    """A salt that is taken to its crystals has a plate to dissolve it on, or needs none."""
    seen = 0
    for step in shipped.steps.values():
        names = {n.name for n in step.record.equipment}
        if crystallises(shipped, step) and step.record.temperature.high_C > 30:
            assert names & {"heat-liquid", "reflux", "distil"}, step.id
            seen += 1
    assert seen >= 70


def test_nothing_peaks_below_the_room_that_may_stand_in_it(shipped):
    """A cooled liquor was made at room temperature at least."""
    for step in shipped.steps.values():
        window = step.record.temperature
        assert step.heat_C >= min(20.0, window.high_C), step.id


def test_nothing_is_boiled_that_must_stay_cool(shipped):
    """What may not be 95 degC is evaporated at no more than its figure, in every word for it."""
    seen = []
    for step in shipped.steps.values():
        for stage in stages_of(shipped, step).having("boil down"):
            words = one_stage(Stage.model_validate(stage), step)
            if step.evaporates_C < heat_words.BOILS_C:
                assert "boil" not in words, step.id
                assert f"at no more than {step.evaporates_C:g}" in words
                seen.append(step.id)
    assert "crystallise-copper-ii-formate-tetrahydrate" in seen
    assert len(seen) >= 10


def test_brown_and_green_are_two_things(shipped):
    """Two records whose words name different colours make two substances, where no formula says
    that they are one."""
    colours = ("brown", "green", "blue", "red", "yellow", "black", "white", "violet")
    said: dict[str, dict[str, set[str]]] = {}
    for step in shipped.steps.values():
        if shipped.substances[step.main.substance].formula is None:
            basis = step.record.yield_.basis.split(";")[0].casefold()
            words = {c for c in colours if f"{c} scales" in basis or f"{c} powder" in basis}
            said.setdefault(step.main.substance, {})[step.id] = words
    for what, by_step in said.items():
        named = [w for w in by_step.values() if w]
        assert not named or set.intersection(*named), (what, by_step)
    green = shipped.steps["make-green-ammonium-iron-citrate"].main.substance
    assert green != shipped.steps["make-ammonium-iron-citrate"].main.substance
    material = shipped.materials["ammonium-iron-citrate-green"]
    assert next(iter(material.fractions)) == green


def test_what_is_taken_out_has_had_its_turn(shipped):
    """Nothing is lifted out before the reaction it is for."""
    seen = 0
    for step in shipped.steps.values():
        plan = stages_of(shipped, step)
        for place, stage in enumerate(plan.listed):
            if stage.kind == "lift out":
                seen += 1
                assert place > plan.reacts, step.id
    assert seen >= 9
