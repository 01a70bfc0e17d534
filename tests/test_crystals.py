"""What crystallises in the steps of real routes: the demo, alum, conflicts, retrograde salts."""

from __future__ import annotations

import pytest

import routefinder
from routefinder.assessment.crystals import crystals, crystals_of_step
from routefinder.graph import needs
from routefinder.library import solubility
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.water import water_of_steps

STEP = "crystallise-copper-ii-acetate"


def test_demo_crops_by_hand(demo, demo_routes):
    """S1 by hand: 293.1 g in 1.466 L, crop 1 187.6 g, crop 2 67.5 g, 38.0 g left in 0.528 L."""
    route = demo_routes["precipitate-basic-copper-carbonate"]
    found = crystals(demo.library, route.assessment.amounts)[STEP]
    assert found.salt_g == pytest.approx(293.1, rel=0.001)
    first = found.answers[0]
    assert [c.crystals_g for c in first.crops] == pytest.approx([187.6, 67.5], rel=0.002)
    assert first.crops[1].liquor_salt_g == pytest.approx(38.0, rel=0.005)
    assert first.crops[0].liquor_water_g == pytest.approx(1466, rel=0.002)
    assert first.share == pytest.approx(0.8704, abs=0.001)
    # boiled down in all: 3.25 L by volume of liquor, which counts 0.19 L of acid as water
    assert first.boil_off_g == pytest.approx(3250 - 189, rel=0.03)


def test_demo_tables_disagree(demo, demo_routes):
    """Two published hot values, 20 and 97.5 g/L: the range is shown, with both sources."""
    route = demo_routes["precipitate-basic-copper-carbonate"]
    found = crystals(demo.library, route.assessment.amounts)[STEP]
    assert found.share == pytest.approx((0.553, 0.870), abs=0.002)
    assert any("disagree: 55% to 87%" in note for note in found.notes)
    text = "\n".join(found.reason.lines)
    assert "Wikipedia" in text
    assert "nowa-cl" in text


def test_double_decomposition_boils_more(demo, demo_routes):
    """S1 by hand: R2 boils about 3.5 L before crop 1, R1 about 2.3 L (liquor, acid included).

    By hand the vitriol takes 1.2 L of water; here it has its share of what the vessel is made up
    to, less its crystal water (0.50 L), and 0.30 L of washings come with the liquor in place of as much
    that the gypsum holds ("cake holds about 0.3 L").
    """
    before = {
        name: crystals(demo.library, demo_routes[first].assessment.amounts)[STEP]
        .answers[0].crops[0].boiled_off_g
        for name, first in (
            ("R1", "precipitate-basic-copper-carbonate"), ("R2", "dissolve-chalk-in-acetic-acid"),
        )
    }  # fmt: skip
    # by hand the acid counts as liquor too (189 g), and nothing of the liquor is lost (2 %)
    assert before["R1"] == pytest.approx(0.98 * (2300 - 189), rel=0.03)
    assert before["R2"] == pytest.approx(3500 - 700 + 300 - 300, rel=0.05)


def test_water_is_followed(demo, demo_routes):
    """The vinegar's water, less what the equations bind, arrives at the crystallisation."""
    route = demo_routes["precipitate-basic-copper-carbonate"]
    water = water_of_steps(demo.library, route.assessment.amounts)
    dissolving = water["dissolve-basic-copper-carbonate-in-acetic-acid"]
    assert water["precipitate-basic-copper-carbonate"].onward_g == 0  # the liquor is poured away
    assert dissolving.carried_g == 0
    # 2 % of the copper stay behind, with their share of the liquor
    assert dissolving.onward_g == pytest.approx(0.98 * (dissolving.fed_g + dissolving.formed_g))
    # 0.749 turns make 3 water each
    assert dissolving.formed_g == pytest.approx(0.749 * 3 * 18.015, rel=0.002)
    assert water[STEP].carried_g == pytest.approx(dissolving.onward_g)


def test_alum_says_that_tables_disagree_when_warm(shipped):
    """Potassium alum at 60 degC: 24.75 g (Czech Wikipedia) or 33.3 g (Sigma-Aldrich).

    By hand for the second: h = 84.8 and 11.63 g, so 1 - 11.63 / 84.8 = 86.3 %.
    """
    found = solubility.crystallising(shipped, "potassium-alum-dodecahydrate", 60, 20)
    shares = sorted(f.share for f in found)
    assert shares == pytest.approx([0.802, 0.863], abs=0.002)
    assert solubility.readings(
        solubility.tables_of(shipped, "potassium-alum-dodecahydrate"), 200
    ) == ()  # fmt: skip


def test_thin_liquor_is_told(shipped):
    """Too much water for the crop: cooling alone brings less, and the note says what to boil off."""
    found = routefinder.find("potassium alum dodecahydrate", "1 kg", top=3)
    notes = []
    for route in found.routes:
        for one in crystals(found.library, route.assessment.amounts).values():
            first = one.answers[0]
            if first.crops[0].boiled_off_g > 0.05 * one.free_water_g:
                assert first.share < first.crops[0].share
                notes += one.notes
            else:
                assert first.share == pytest.approx(first.crops[-1].so_far)
    assert any("thinner than hot-saturated" in note for note in notes)


@pytest.mark.parametrize(
    ("target", "hot", "cold", "falls"),
    [
        ("calcium-acetate-monohydrate", 100, 0, True),
        ("copper-ii-sulfate-pentahydrate", 90, 10, False),
        ("manganese-ii-sulfate-monohydrate", 90, 30, True),
    ],
)
def test_retrograde_salts_are_flagged(shipped, target, hot, cold, falls):
    """Salts that dissolve less on warming are told from those that do not."""
    found = solubility.crystallising(shipped, target, hot, cold)
    assert found
    assert any(f.falls is not None for f in found) == falls


def test_clamped_cold_end(shipped):
    """A table that begins at 20 degC is read there for 5 degC, when asked, and else not at all."""
    assert solubility.crystallising(shipped, "copper-ii-acetate-monohydrate", 100, 5) == ()
    found = solubility.crystallising(shipped, "copper-ii-acetate-monohydrate", 100, 5, clamp=True)
    assert {f.cold_C for f in found} == {20}


def test_clamped_hot_end(shipped):
    """Strontium chloride's table ends at 100 degC: a liquor at 115 degC is read there, not lost."""
    assert solubility.crystallising(shipped, "strontium-chloride-hexahydrate", 115, 2) == ()
    (found,) = solubility.crystallising(
        shipped, "strontium-chloride-hexahydrate", 115, 2, clamp=True
    )
    assert (found.hot_C, found.cold_C) == (100, 2)
    # by hand: r = 266.62/158.53 = 1.6818; 99.48 -> 520, 47.36 (2 degC) -> 117.7; 1 - 117.7/520
    assert found.share == pytest.approx(0.774, abs=0.003)


def test_unknown_says_what_lacks(shipped):
    """Manganese acetate has no table: no answer, and the sentence names it."""
    found = routefinder.find("manganese(II) acetate tetrahydrate", "100 g", top=1)
    (one,) = crystals(found.library, found.routes[0].assessment.amounts).values()
    assert one.answers == ()
    assert one.share is None
    assert "no solubility of manganese(II) acetate tetrahydrate" in one.why


@pytest.fixture(scope="module")
def alone(shipped):
    """Every crystallisation by itself with its record's own water: step -> its crops."""
    out = {}
    for step in shipped.steps.values():
        if step.record.kind not in {"crystallisation", "recrystallisation"}:
            continue
        if not solubility.crystallises(shipped, step):
            continue
        names = dict.fromkeys(need[1] for need in needs.needs(shipped, step))
        supplies = [
            Supply(name, shipped.substances[name].name, "solid", {name: 1.0}, name)
            for name in names
        ]
        found = amounts(shipped.alone(step), [step], supplies, step.main.substance, 100.0)
        water = water_of_steps(shipped, found)[step.id]
        out[step.id] = crystals_of_step(shipped, found.steps[0], water)
    return out


def test_most_crystallisations_are_computable(shipped, alone):
    """At least 70 of the crystallisations have a crop by solubility; the others say what lacks."""
    kinds = {"crystallisation", "recrystallisation"}
    assert sum(s.record.kind in kinds for s in shipped.steps.values()) <= 90
    assert (
        sum(bool(one.answers) for one in alone.values()) >= 69
    )  # sodium benzoate is stirred dry, no crystallisation
    assert all(one.answers or one.why for one in alone.values())


def test_no_yield_beyond_what_its_own_water_gives(shipped, alone):
    """The typical yield of a record is never above the crop that its water and crops bring."""
    above = {
        name: (shipped.steps[name].record.yield_.typical, one.share)
        for name, one in alone.items()
        if one.share and shipped.steps[name].record.yield_.typical > one.share[1] + 0.01
    }
    assert above == {}


def test_boiling_down_to_what_the_record_leaves(shipped, alone):
    """Sodium sulfate: 25 g of water a mole keep 42.19 g per 100 g hot: 1 - 10.55 / 142.04."""
    (one,) = alone["boil-out-sodium-sulfate"].answers
    assert one.share == pytest.approx(1 - 25 * 0.4219 / 142.04, abs=1e-3)
    assert one.hot_parted
    lithium = alone["recrystallise-lithium-carbonate"].answers[0]  # warmed in its own water
    assert lithium.share == pytest.approx(1 - 55 * 0.7252 / 73.89, abs=2e-3)


def test_the_crop_is_that_of_the_bench(shipped, studio):
    """Without a refrigerator the crop is reckoned at what the bench reaches, never below its window."""
    from routefinder.assessment.crystals import coldest_C
    from routefinder.assessment.one_step import one_step_route
    from routefinder.records.capability import Capability
    from routefinder.records.shelf import Bench, Tool

    def cooling(to):
        return Tool(f"to {to}", (Capability.model_validate({"cool": {"to": f"{to} degC"}}),))

    step = shipped.steps["crystallise-epsom-salt"]  # down to 2 degC
    assert coldest_C(step, None) == pytest.approx(2.0)
    assert coldest_C(step, Bench(())) == pytest.approx(20.0)
    assert coldest_C(step, Bench((cooling(15), cooling(4)))) == pytest.approx(4.0)
    assert coldest_C(step, Bench((cooling(-18),))) == pytest.approx(2.0)
    found = one_step_route(shipped, step, 1000.0)
    here = {
        name: crystals(shipped, found, bench)[step.id]
        for name, bench in (("none", None), ("room", Bench(())), ("bath", Bench((cooling(15),))))
    }
    assert here["none"].cold_C < here["bath"].cold_C < here["room"].cold_C
    assert here["none"].share[1] > here["bath"].share[1] > here["room"].share[1]
    assert any("this bench cools to 20 °C, the record to 2 °C" in n for n in here["room"].notes)
    warmer = [
        s.id for s in shipped.steps.values()
        if coldest_C(s, Bench(())) < min(s.record.temperature.low_C, 20.0) - 1e-9
    ]  # fmt: skip
    assert warmer == []


def test_a_dish_that_dries_up_is_not_called_thin(alone):
    """Chrome alum in an open dish: 700 g of water a mole are left, and no note asks to boil."""
    one = alone["crystallise-chrome-alum"]
    assert one.answers[0].to_leaves
    assert one.answers[0].crops[0].liquor_water_g == pytest.approx(
        700 / 499.4 * one.salt_g, rel=1e-3
    )
    assert not any("thinner" in note for note in one.notes)
