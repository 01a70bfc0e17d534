"""Exposure in a room, and leavings by kind."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from routefinder.asking.library import load_library
from routefinder.assessment import exposure as air
from routefinder.assessment import leavings as left
from routefinder.assessment import room_air
from routefinder.assessment.one_step import one_step
from routefinder.chem import data
from routefinder.library.contents import contents


@pytest.fixture(scope="module")
def lib():
    return load_library()


def found(lib, name, grams=100.0, room=None):
    return {e.name: e for e in air.exposure(lib, one_step(lib, lib.steps[name], grams), room)}


# --- the room's default -------------------------------------------------------------------------


def test_look_and_the_library_take_the_same_room():
    """What look takes when nothing is said is the room of the measures."""
    import inspect

    from routefinder.cli import look_commands

    given = inspect.signature(look_commands.look).parameters
    assert given["air_changes"].default == room_air.AIR_CHANGES
    assert given["room"].default == f"{room_air.Room().volume_m3:g} m3"


# --- limits -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cas", "unit", "eight", "short", "ceiling"),
    [
        ("7446-09-5", "ppm", 2.0, 5.0, None),  # sulfur dioxide
        ("7664-41-7", "ppm", 25.0, 35.0, None),  # ammonia
        ("7647-01-0", "ppm", None, None, 2.0),  # hydrogen chloride
        ("124-38-9", "ppm", 5000.0, 30000.0, None),  # carbon dioxide
        ("7440-48-4", "mg/m3", 0.02, None, None),  # cobalt and inorganic compounds, as Co
        ("7664-93-9", "mg/m3", 0.2, None, None),  # sulfuric acid
        ("1305-78-8", "mg/m3", 2.0, None, None),  # calcium oxide
    ],
)
def test_limits_of_the_table(cas, unit, eight, short, ceiling):
    limits = data.exposure_limits(cas)
    assert (limits.unit, limits.eight_hours, limits.short, limits.ceiling) == (
        unit, eight, short, ceiling,
    )  # fmt: skip
    assert limits.source.startswith("published: ")


def test_no_limit_is_none():
    assert data.exposure_limits("1-1-1") is None
    assert data.lower_flammability("1333-74-0") == pytest.approx(0.04)
    assert data.lower_flammability("124-38-9") is None


def test_compounds_count_as_their_element(lib):
    limits, share = air.limits_of(lib.substances["cobalt-ii-carbonate-basic"])
    assert limits.eight_hours == 0.02
    assert share == pytest.approx(58.933 / 118.94, rel=1e-3)
    assert air.limits_of(lib.substances["barium-sulfate"])[1] == 1.0  # its own entry


# --- steps --------------------------------------------------------------------------------------


def test_roasting_vitriol_needs_extraction(lib):
    """100 g of red oxide: SO2 and SO3 far above their limits; the hand calculation for SO2."""
    rows = found(lib, "roast-green-vitriol-to-red-oxide", room=room_air.Room(30, 0.5))
    sulfur = rows["sulfur dioxide"]
    step = lib.steps["roast-green-vitriol-to-red-oxide"]
    amount = one_step(lib, step, 100.0)
    moles = next(o.moles for o in amount.outcomes if o.substance == "sulfur-dioxide")
    (held,) = [s for s in step.record.stages if s.kind == "hold"]
    hours = held.for_min / 60  # dry: while it is held hot
    ppm = moles * 24.055 / hours / 15000 * (1 - math.exp(-hours / 2)) * 1e6  # half a change an hour
    assert sulfur.peak == pytest.approx(ppm, rel=1e-3)
    assert sulfur.times > 5
    assert sulfur.extraction
    assert rows["sulfur trioxide"].limits.eight_hours == 0.2  # as sulfuric acid mist
    bare = replace(step, record=step.record.model_copy(update={"equipment": ()}))
    assert air.missing_extraction(list(rows.values()), bare)
    assert air.missing_extraction(list(rows.values()), step) == ()


def test_a_little_carbon_dioxide_is_no_alarm(lib):
    rows = found(lib, "dissolve-chalk-in-acetic-acid", 20.0)
    assert not rows["carbon dioxide"].extraction
    assert rows["carbon dioxide"].times < 0.5
    assert found(lib, "dissolve-chalk-in-acetic-acid", 100_000.0)["carbon dioxide"].extraction


def test_hydrogen_against_its_explosion_limit(lib):
    small = found(lib, "dissolve-iron-in-sulfuric-acid", 100.0)["hydrogen"]
    assert 0 < small.of_explosion < 0.1
    assert small.verdict == "draw it off"  # the record asks for it
    assert found(lib, "dissolve-iron-in-sulfuric-acid", 5000.0)["hydrogen"].extraction


def test_dust_of_cobalt(lib):
    rows = found(lib, "fire-cobalt-blue-from-alumina-hydrate-in-chloride-flux", 50.0)
    dust = rows["cobalt(II) carbonate"]
    assert dust.to_limit_g == pytest.approx(0.02 * 30 / 1000 / (58.933 / 118.94), rel=1e-3)
    assert dust.extraction


def test_a_gas_without_a_limit_counts_as_needing_extraction(lib):
    step = lib.steps["dissolve-iron-in-sulfuric-acid"]
    nameless = lib.substances["hydrogen"].model_copy(update={"cas": None, "formula": "CH4"})
    changed = replace(lib, substances={**lib.substances, "hydrogen": nameless})
    rows = air.exposure(changed, one_step(changed, step, 10.0))
    gas = next(e for e in rows if e.kind == "gas")
    assert gas.unlimited
    assert gas.extraction


def test_no_alarm_fatigue(lib):
    """Of the shipped steps at 100 g few lack extraction or mask in their record."""
    lacking = [
        s.id
        for s in lib.steps.values()
        if air.missing_extraction(air.exposure(lib, one_step(lib, s, 100.0)), s)
    ]
    assert len(lacking) <= len(lib.steps) // 50


# --- leavings -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("copper-ii-sulfate-anhydrous", "metal: copper"),
        ("zinc-oxide", "metal: zinc"),
        ("cobalt-ferrite", "metal: cobalt"),  # the graver one names it
        ("chromium-iii-sulfate", "metal: chromium"),
        ("manganese-dioxide", "metal: manganese"),
        ("tin-ii-chloride-anhydrous", "metal: tin"),
        ("barium-carbonate", "metal: barium"),
        ("barium-sulfate", "low hazard"),
        ("sulfuric-acid", "acid"),
        ("citric-acid-monohydrate", "acid"),
        ("sodium-hydroxide", "alkali"),
        ("ethyl-acetate", "solvent"),
        ("ethanol", "solvent"),
        ("hydrogen-peroxide", "oxidiser"),
        ("sodium-hypochlorite", "oxidiser"),
        ("triethanolamine", "solvent"),  # C6H15NO3 is no nitrate
        ("potassium-hexacyanoferrate-ii-trihydrate", "cyanoferrate"),
        ("borax-decahydrate", "borate"),
        ("potassium-oxalate", "oxalate"),
        ("sodium-chloride", "low hazard"),
        ("magnesium", "hazardous"),
        ("iron-ii-stearate", "unknown"),
        ("cobalt-blue-glaze-batch", "unknown"),
    ],
)
def test_kind_of_waste(lib, name, kind):
    got = left.kind_of(lib.substances[name], "aq")
    if name == "cobalt-blue-glaze-batch":
        assert got in {"unknown", "hazardous"}
    else:
        assert got == kind


def test_leavings_of_a_step(lib):
    amount = one_step(lib, lib.steps["precipitate-basic-cobalt-carbonate-from-sulfate"], 100.0)
    rows = left.leavings(lib, [amount])
    assert [(h.kind, h.where) for h in rows[:2]] == [
        ("metal: cobalt", "liquor"), ("metal: cobalt", "solids"),
    ]  # fmt: skip
    assert "hand in" in rows[1].how
    assert all(h.rule == "local rules decide" for h in rows)
    waste = sum(
        o.mass_g for o in amount.outcomes
        if o.fate in {"waste", "unreacted", "lost"} and o.state != "g" and o.substance != "water"
    )  # fmt: skip
    assert sum(h.mass_g for h in rows) == pytest.approx(waste, rel=1e-9)


def test_never_into_the_waste(lib):
    amount = one_step(lib, lib.steps["give-back-ammonia-with-lime"], 10.0)
    ammonia = next(h for h in left.leavings(lib, [amount]) if h.kind == "ammonia")
    assert "bleach" in {n.agent for n in ammonia.never}


def test_every_step_has_leavings_in_known_kinds(lib):
    for step in lib.steps.values():
        for handling in left.leavings(lib, [one_step(lib, step, 100.0)]):
            assert handling.how
            known = [w for w in handling.what if w.name != left.WASHED_OUT]
            assert (handling.mass_g > 0) == bool(known)
            assert handling.what


def test_one_step_balances(lib):
    """Everything taken pure, mass in equals mass out."""
    for name in ("dissolve-iron-in-sulfuric-acid", "slake-quicklime"):
        amount = one_step(lib, lib.steps[name], 100.0)
        assert amount.mass_in_g == pytest.approx(amount.mass_out_g, rel=1e-9)
        assert amount.product.mass_g == pytest.approx(100.0)
        assert contents(lib, lib.steps[name]).heat_kJ < 0
    with pytest.raises(ValueError, match="above 0"):
        one_step(lib, lib.steps["slake-quicklime"], 0.0)
