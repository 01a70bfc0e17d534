"""A material at another strength: its name, density, volume and price are those of that strength."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.chem.solutions import WATER_G_ML, density_between
from routefinder.errors import InputError, LibraryFaults
from routefinder.hazards import label
from routefinder.library.densities import curve
from routefinder.library.shelf import read_shelf, supply
from routefinder.library.strengths import at_strength
from routefinder.vessel.step_amounts import Draw


def poured(library):
    """Materials that are poured, with what they hold."""
    for m in library.materials.values():
        if m.record.form in {"solution", "liquid"} and not m.record.everywhere:
            base = supply(m)
            if library.substances[base.main].formula:
                yield base


def test_mass_is_volume_times_density_times_strength(shipped):
    """Every poured material, several strengths, every way to say them."""
    tried = 0
    for base in poured(shipped):
        usual = base.fractions[base.main]
        molar = shipped.substances[base.main].molar_mass_g
        for share in (0.02, 0.051, 0.093, 0.3 * usual, 0.5 * usual, 0.9 * usual, usual):
            if share > usual:
                continue
            weaker = at_strength(shipped, base, f"{100 * share!r} %")
            rho = weaker.density_g_mL
            assert rho is not None, base.id
            assert weaker.fractions[base.main] == pytest.approx(share)
            for text, per_litre in (
                (f"{rho * share * 100!r} % w/v", rho * share * 1000),
                (f"{rho * share * 1000!r} g/L", rho * share * 1000),
                (f"{rho * share * 1000 / molar!r} mol/L", rho * share * 1000),
            ):
                if rho * share >= 2:
                    continue
                same = at_strength(shipped, base, text)
                held = same.fractions[base.main] * (same.density_g_mL or 0) * 1000
                assert held == pytest.approx(per_litre, rel=2e-3), (base.id, text)
                tried += 1
            draw = Draw(weaker, 1.0, 50.0, 50.0 / share, True)
            assert draw.volume_mL is not None
            assert draw.volume_mL * rho * share == pytest.approx(50.0)
    assert tried > 500


def test_density_lies_between_water_and_what_is_thinned(shipped):
    """Between water and the material, or within 3 % of that (mixing shrinks)."""
    for base in poured(shipped):
        usual, rho = base.fractions[base.main], base.density_g_mL
        low, high = sorted((0.9982, rho))
        for part in (0.05, 0.2, 0.5, 0.8, 0.99):
            found = curve(shipped, base.main, [(usual, rho)]).at(usual * part)
            assert low * 0.99 < found.g_mL < high * 1.03, (base.id, part)


# g/mL at 20 degC; from memory: handbook tables (Perry, CRC), as copied in the reference densities
HANDBOOK = [
    ("sodium-hydroxide", 0.10, 1.1089), ("sodium-hydroxide", 0.50, 1.5253),
    ("sulfuric-acid", 0.10, 1.0661), ("sulfuric-acid", 0.30, 1.2185),
    ("sulfuric-acid", 0.96, 1.8355), ("hydrogen-chloride", 0.20, 1.0980),
    ("phosphoric-acid", 0.30, 1.1805), ("acetic-acid", 0.10, 1.0125), ("ammonia", 0.10, 0.9575),
    ("ethanol", 0.50, 0.9138), ("sodium-chloride", 0.10, 1.0707),
]  # fmt: skip


@pytest.mark.parametrize(("name", "share", "rho"), HANDBOOK)
def test_density_against_the_handbook(shipped, name, share, rho):
    assert curve(shipped, name).at(share).g_mL == pytest.approx(rho, rel=0.008)


def test_materials_agree_with_the_tables(shipped):
    """What is stated of a material on sale and the tables of what it holds: within 2 %.

    What is dissolved beside the main substance adds what it adds to water alone (common practice).
    """
    tried = 0
    for base in poured(shipped):
        found = {n: curve(shipped, n).at(share) for n, share in base.fractions.items()}
        main = found.pop(base.main)
        if main is None or not main.from_table:
            continue
        tried += 1
        rise = sum(f.g_mL - WATER_G_ML for f in found.values() if f is not None and f.from_table)
        assert base.density_g_mL == pytest.approx(main.g_mL + rise, rel=0.02), base.id
    assert tried >= 20


def test_between_two_densities_volumes_add():
    """1 g of 20 % (1.25 g/mL) and 1 g of water: 2 g in 0.8 + 1.0018 mL."""
    assert density_between([(0.2, 1.25)], 0.1) == pytest.approx(2 / (0.8 + 1 / 0.9982))
    assert density_between([], 0.1) is None


def test_hydrates_are_reckoned_as_anhydrous(shipped):
    """15.65 g of vitriol crystals hold 10 g of copper sulfate: the same solution."""
    crystals = shipped.substances["copper-ii-sulfate-pentahydrate"].molar_mass_g
    dry = shipped.substances["copper-ii-sulfate-anhydrous"].molar_mass_g
    one = curve(shipped, "copper-ii-sulfate-anhydrous").at(0.1)
    other = curve(shipped, "copper-ii-sulfate-pentahydrate").at(0.1 * crystals / dry)
    assert one.from_table
    assert one.g_mL == pytest.approx(other.g_mL)


# --- names --------------------------------------------------------------------------------------


def test_a_name_never_states_a_stronger_thing(shipped):
    """Every poured material at several strengths: the strength in its name is its own."""
    for base in poured(shipped):
        usual = base.fractions[base.main]
        for share in (0.01, 0.093, 0.5 * usual, 0.9 * usual):
            if share >= 0.98 * usual:
                continue
            weaker = at_strength(shipped, base, f"{100 * share!r} %")
            said = re.search(r"([\d.]+) %$", weaker.name)
            assert said, weaker.name
            assert float(said[1]) == pytest.approx(100 * share, rel=6e-3)
            assert len(re.findall("%", weaker.name)) == 1, weaker.name
            own = label.material_label(shipped, weaker.name, weaker.fractions, weaker.form)
            full = label.material_label(shipped, base.name, base.fractions, base.form)
            assert (own.signal == "Danger") <= (full.signal == "Danger"), weaker.name


@pytest.mark.parametrize(
    ("name", "strength", "called", "form"),
    [
        ("battery acid", "9.3 %", "battery acid diluted to 9.3 %", "solution"),
        ("battery acid, 37 %", "9.3 %", "battery acid diluted to 9.3 %", "solution"),
        ("battery acid, 37 %", "37 %", "battery acid, 37 %", "solution"),
        ("battery acid, 37 %", "45 %", "battery acid, 45 %", "solution"),
        ("caustic soda liquor, 50 %", "1 mol/L", "caustic soda liquor diluted to 3.85 %",
         "solution"),
        ("glacial acetic acid", "80 %", "glacial acetic acid, 80 %", "liquid"),
        ("soda ash", "95 %", "soda ash", "solid"),
        ("blue vitriol", "1 mol/L", "blue vitriol in water, 21.6 %", "solution"),
    ],
)  # fmt: skip
def test_names(shipped, tmp_path, name, strength, called, form):
    found = on_shelf(shipped, tmp_path, [name, "", strength])
    assert (found.name, found.form) == (called, form)


def on_shelf(library, folder, row):
    path = folder / "shelf.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["material", "amount", "strength"], row])
    return read_shelf(path, library).supplies[0]


def test_a_litre_of_weak_liquor_weighs_what_it_weighs(shipped, tmp_path):
    """5.1 % lye: 1.054 g/mL, not the 1.515 of 50 %, so a litre holds 53.8 g."""
    found = on_shelf(shipped, tmp_path, ["caustic soda liquor, 50 %", "1 L", "5.1 %"])
    assert found.density_g_mL == pytest.approx(1.054, abs=0.002)
    assert found.amount_g == pytest.approx(1054, abs=2)
    assert found.amount_g * found.fractions[found.main] == pytest.approx(53.8, abs=0.1)


def test_a_salt_by_the_litre_is_dissolved(shipped, tmp_path):
    found = on_shelf(shipped, tmp_path, ["sodium carbonate", "1 L", "10 %"])
    assert found.form == "solution"
    assert found.amount_g == pytest.approx(1102.9, rel=2e-3)  # Laliberte (2009), as in the record
    dry = on_shelf(shipped, tmp_path, ["sodium carbonate", "1 kg", "98 %"])
    assert dry.form == "solid"


@pytest.mark.parametrize(
    ("strength", "what"),
    [("20 mol/L", "cannot|can hold"), ("3 kg", "write for example"), ("120 %", "up to 100 %"),
     ("0 mol/L", "above 0")],
)  # fmt: skip
def test_strength_that_cannot_be(shipped, tmp_path, strength, what):
    with pytest.raises((InputError, LibraryFaults), match=what):
        on_shelf(shipped, tmp_path, ["battery acid, 37 %", "1 L", strength])


def test_dilution_water_costs_nothing(shipped):
    base = replace(supply(shipped.materials["battery-acid-37"]), price_per_g=0.01)
    weaker = at_strength(shipped, base, "18.5 %")
    assert weaker.price_per_g == pytest.approx(0.005)


# --- what is bought and what is poured ----------------------------------------------------------


def planned(tmp_path, amount):
    path = tmp_path / "shelf.csv"
    path.write_text(
        f'material,amount,strength\n"battery acid, 37 %",{amount},9.3 %\niron nails,5 kg,\n',
        encoding="utf-8",
    )
    return rf.find("green vitriol", "100 g", shelf=path).plan(1)


def acid_poured(plan):
    feeds = [f for s in plan.steps for f in s.amount.feeds
             if not isinstance(f.origin, str) and f.origin.id == "battery-acid-37"]  # fmt: skip
    return feeds[0].origin, sum(f.as_weighed_g for f in feeds)


def test_shopping_and_step_name_one_thing(tmp_path):
    """9.3 % acid: the step pours it by its name and the list counts the same litres of it."""
    plan = planned(tmp_path, "50 L")
    source, grams = acid_poured(plan)
    row = next(p for p in plan.buying.purchases if p.material == "battery-acid-37")
    assert row.name == source.name == "battery acid diluted to 9.3 %"
    assert row.need_g == pytest.approx(grams)
    assert row.density_g_mL == source.density_g_mL == pytest.approx(1.062, abs=0.002)
    assert row.short_g == 0


def test_what_is_lacking_is_bought_as_it_is_sold(tmp_path):
    """Too little of the weak acid: the rest as 37 %, by its own name, holding the same acid."""
    plan = planned(tmp_path, "100 mL")
    source, grams = acid_poured(plan)
    weak, sold = [p for p in plan.buying.purchases if p.material == "battery-acid-37"]
    assert (weak.name, sold.name) == ("battery acid diluted to 9.3 %", "battery acid, 37 %")
    assert sold.makes == weak.name
    assert (weak.short_g, sold.have_g) == (0, 0)
    assert sold.density_g_mL == 1.28
    acid = weak.need_g * 0.093 + sold.need_g * 0.37
    assert acid == pytest.approx(grams * source.fractions[source.main])


def test_one_material_at_two_strengths_is_two_things(shipped, tmp_path):
    """The strong and the diluted acid on one shelf keep apart, in plan, list and books."""
    from routefinder.journal.shelf_books import taking

    path = tmp_path / "shelf.csv"
    path.write_text(
        'material,amount,strength\n"battery acid, 37 %",1 L,\n"battery acid, 37 %",2 L,9.3 %\n',
        encoding="utf-8",
    )
    strong, weak = (s for s in read_shelf(path, shipped).supplies if not s.everywhere)
    assert (strong.id, strong.record) == ("battery-acid-37", "battery-acid-37")
    assert weak.id != strong.id
    assert weak.record == "battery-acid-37"
    assert (strong.name, weak.name) == ("battery acid, 37 %", "battery acid diluted to 9.3 %")
    change = taking(path, shipped, weak.id, weak.density_g_mL * 500)
    lines = change.new.splitlines()
    assert lines[1:] == ['"battery acid, 37 %",1 L,', '"battery acid, 37 %",1.5 L,9.3 %']


def test_no_jump_at_its_own_strength(shipped):
    """By weight or by volume, at its own strength a material is itself; just below, nearly so."""
    for base in poured(shipped):
        usual, rho = base.fractions[base.main], base.density_g_mL
        assert at_strength(shipped, base, f"{usual * rho * 1000!r} g/L") == base
        near = at_strength(shipped, base, f"{usual * 99.9!r} %")
        assert near.density_g_mL == pytest.approx(rho, rel=2e-3), base.id


def test_strength_by_density_is_the_inverse(shipped):
    """Over every table: the strength read from the density of a solution is the solution's."""
    tables = [s for s in shipped.substances.values() if s.densities]
    assert len(tables) >= 55
    for substance in tables:
        found = curve(shipped, substance.id)
        for share in (0.01, 0.03, 0.5 * found.top, 0.9 * found.top):
            if share <= found.top:
                back = found.strength(found.at(share).g_mL)
                assert any(b == pytest.approx(share, abs=1e-6) for b in back), substance.id
        assert found.strength(0.2) == ()  # lighter than any: no answer
        assert found.strength(4.0) == ()


def test_acetic_acid_has_two_strengths_at_one_density(shipped):
    """Its density rises to about 80 % and falls again: a hydrometer cannot tell the two."""
    weak, strong = curve(shipped, "acetic-acid").strength(1.065)
    assert weak < 0.78 < strong
