"""Strengths, dilution, evaporation and crops, against hand-worked and published cases."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from routefinder.chem import solutions as s
from routefinder.chem.formula import molar_mass
from routefinder.errors import InputError

with (Path(__file__).parent / "reference" / "worked_examples.csv").open(encoding="utf-8") as file:
    BOOK = {row["id"]: row for row in csv.DictReader(file)}

ACETIC = molar_mass("C2H4O2")
SULFURIC = molar_mass("H2SO4")
ALUM = molar_mass("KAl(SO4)2·12H2O") / molar_mass("KAl(SO4)2")
# g anhydrous per 100 g water: Czech Wikipedia, Siran draselno-hlinity (10, 20, 50 and 60 degC)
ALUM_TABLE = {10: 3.99, 20: 5.90, 40: 11.7, 50: 17.0, 60: 24.8}


# --- strengths ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "density", "percent", "molar"),
    [
        ("C2H4O2", 1.05, 99.5, 17.4), ("NH3", 0.90, 28, 14.8), ("HCl", 1.18, 36, 11.6),
        ("HNO3", 1.42, 71, 16.0), ("H3PO4", 1.70, 85, 14.7), ("NaOH", 1.53, 50, 19.1),
        ("H2SO4", 1.84, 96, 18.0),
    ],
)  # fmt: skip
def test_commercial_acids_and_bases(name, density, percent, molar):
    """OpenStax Chemistry 2e, Appendix F: density, percentage by mass and molarity as printed."""
    found = s.Solution(percent / 100, density, molar_mass(name))
    assert found.moles_per_litre == pytest.approx(molar, rel=0.01)
    back = s.mass_fraction(found.moles_per_litre, "mol/L", density, molar_mass(name))
    assert back == pytest.approx(percent / 100)


def test_five_percent_vinegar_in_three_readings():
    """5 % w/v is 0.833 mol/L, v/v 0.87, w/w 0.84; 3.146 mol are 3.78 L (worked by hand).

    Densities from memory: vinegar 1.005, acetic acid 1.049 g/mL.
    """
    by = {
        basis: s.Solution(s.mass_fraction(0.05, basis, 1.005, ACETIC, 1.049), 1.005, ACETIC, 1.049)
        for basis in ("w/v", "v/v", "w/w")
    }
    assert by["w/v"].moles_per_litre == pytest.approx(0.833, abs=0.001)
    assert by["v/v"].moles_per_litre == pytest.approx(0.873, abs=0.003)
    assert by["w/w"].moles_per_litre == pytest.approx(0.837, abs=0.003)
    assert 3.146 / by["w/v"].moles_per_litre * 1000 == pytest.approx(3780, rel=0.002)
    assert by["v/v"].volume_per_volume == pytest.approx(0.05)
    assert by["w/v"].grams_per_litre == pytest.approx(50)
    assert s.Solution(0.05, 1.0, ACETIC).volume_per_volume is None


@given(
    st.sampled_from(s.BASES), st.floats(0.001, 0.9), st.floats(0.7, 1.9), st.floats(20, 400),
)  # fmt: skip
def test_every_basis_reads_back(basis, fraction, density, molar):
    """Writing a mass fraction in a basis and reading it again gives it back."""
    found = s.Solution(fraction, density, molar, 1.1)
    written = {
        "w/w": found.fraction, "w/v": found.weight_per_volume, "v/v": found.volume_per_volume,
        "g/L": found.grams_per_litre, "mol/L": found.moles_per_litre,
    }[basis]  # fmt: skip
    assert s.mass_fraction(written, basis, density, molar, 1.1) == pytest.approx(fraction)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: s.mass_fraction(0.05, "w/v"), "density of the solution"),
        (lambda: s.mass_fraction(0.05, "v/v", 1.0), "density of the pure"),
        (lambda: s.mass_fraction(2, "mol/L", 1.0), "molar mass"),
        (lambda: s.mass_fraction(0.5, "proof", 1.0), "not one of"),
        (lambda: s.mass_fraction(1500, "g/L", 1.0), "150% by weight"),
        (lambda: s.Solution(1.2, 1.0, 60), "between 0 and 100"),
        (lambda: s.Solution(0.5, 0.0, 60), "above 0"),
        (lambda: s.dilute(s.Solution(0.3, 1.2, 98), s.Solution(0.9, 1.8, 98), 100), "boil it down"),
        (lambda: s.dilute(s.Solution(0, 1.0, 98), s.Solution(0, 1.0, 98), 100), "holds nothing"),
        (lambda: s.crops(10, None, 0, 1, 1), "hot solubility"),
    ],
)
def test_nonsense_is_one_sentence(call, says):
    """What cannot be is refused with a sentence."""
    with pytest.raises(InputError, match=says):
        call()


# --- dilution ----------------------------------------------------------------------------------


def test_sulfuric_acid_from_96_to_37():
    """By mass balance: 1 kg of 37 % takes 385.4 g of 96 % and 614.6 g of water.

    Densities 1.84 (96 %, OpenStax Chemistry 2e, Appendix F) and 1.28 (battery acid, from memory).
    The volumes shrink by about 5 %, and V1 C1 = V2 C2 on percent is wrong by more than 5 %.
    """
    strong, weak = s.Solution(0.96, 1.84, SULFURIC), s.Solution(0.37, 1.28, SULFURIC)
    found = s.dilute(strong, weak, 1000)
    assert found.strong_g == pytest.approx(385.4, abs=0.1)
    assert found.water_g == pytest.approx(614.6, abs=0.1)
    assert found.strong_mL == pytest.approx(209.5, abs=0.1)
    assert found.result_mL == pytest.approx(781.25)
    assert found.volume_sum_mL / found.result_mL == pytest.approx(1.055, abs=0.003)
    assert found.naive_strong_mL / found.strong_mL == pytest.approx(1.84 / 1.28, rel=1e-6)


@given(st.floats(0.05, 1.0), st.floats(0.0, 1.0), st.floats(1, 1e5))
def test_dilution_keeps_mass_and_solute(strong, part, grams):
    """Solute in = solute out, mass in = mass out."""
    weak = strong * part
    found = s.dilute(s.Solution(strong, 1.3, 50), s.Solution(weak, 1.1, 50), grams)
    assert found.strong_g + found.water_g == pytest.approx(grams)
    assert found.strong_g * strong == pytest.approx(grams * weak)


def test_thomsen_by_hand():
    """Thomsen's formula (from memory): 17 860 n / (n + 1.7983) cal; 1 mol water gives 26.7 kJ."""
    assert s.sulfuric_mixing_kJ(1) == pytest.approx(17860 * 4.184 / 1000 / 2.7983, rel=1e-3)
    assert s.sulfuric_mixing_kJ(0) == 0
    assert s.sulfuric_mixing_kJ(1e9) == pytest.approx(74.73, abs=0.01)


# --- crystals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("hot", "cold", "share"), [(60, 10, 86.8), (60, 20, 80.2), (50, 20, 68.7)])
def test_alum_crops(hot, cold, share):
    """Potassium alum, crystal water counted: 86.8, 80.2 and 68.7 % (worked by hand)."""
    h = {t: s.crystals_per_free_water(ALUM_TABLE[t], ALUM) for t in (hot, cold)}
    assert s.crop(h[hot], h[cold]) * 100 == pytest.approx(share, abs=0.1)
    # the same from one pot of salt and water, by the formula that counts all water
    salt = 1000.0
    water = 100 * salt / h[hot]
    dry, bound = salt / ALUM, salt * (1 - 1 / ALUM)
    assert s.crystals_g(dry, water + bound, ALUM_TABLE[hot], ALUM) == pytest.approx(0, abs=1e-6)
    got = s.crystals_g(dry, water + bound, ALUM_TABLE[cold], ALUM)
    assert got / salt * 100 == pytest.approx(share, abs=0.1)


def test_alum_for_one_kilogram():
    """1175.6 g in solution, 2044 g of free water, 155 g left in the liquor (worked by hand)."""
    h = {t: s.crystals_per_free_water(ALUM_TABLE[t], ALUM) for t in (10, 60)}
    salt = 1000 / (s.crop(h[60], h[10]) * 0.98)
    assert salt == pytest.approx(1175.6, rel=0.001)
    (one,) = s.crops(salt, None, h[60], h[10], 1)
    assert one.liquor_water_g == pytest.approx(2044, rel=0.002)
    assert one.liquor_salt_g == pytest.approx(155, rel=0.005)


def test_copper_acetate_in_crops():
    """20 and 7.2 g per 100 g: 187.6 g, then 67.5 g, 38.0 g left; 87.0 %, and 95.3 % in three."""
    found = s.crops(293.1, 3780, 20, 7.2, 3)
    assert [c.crystals_g for c in found[:2]] == pytest.approx([187.6, 67.5], abs=0.1)
    assert found[0].liquor_water_g == pytest.approx(1465.5)
    assert found[1].liquor_water_g == pytest.approx(527.6, abs=0.1)
    assert found[1].liquor_salt_g == pytest.approx(38.0, abs=0.05)
    assert [c.so_far for c in found] == pytest.approx([0.64, 0.8704, 0.9533], abs=1e-4)
    assert sum(c.boiled_off_g for c in found[:2]) == pytest.approx(3252, abs=1)


def test_published_crystallisations():
    """Rows A77 (socratic.org) and A78 (wizedu.com): potassium nitrate, acetanilide; anhydrous."""
    row = json.loads(BOOK["A77"]["inputs"])
    salt = row["solution_g"] * row["S75"] / (100 + row["S75"])
    got = s.crystals_g(salt, row["solution_g"] - salt, row["S25"], 1.0)
    assert got == pytest.approx(float(BOOK["A77"]["recomputed_IUPAC2021"]), rel=1e-5)
    row = json.loads(BOOK["A78"]["inputs"])
    got = s.crystals_g(row["g"], row["mL"], row["S0"], 1.0)
    assert got / row["g"] * 100 == pytest.approx(float(BOOK["A78"]["expected"]), abs=0.05)


grams = st.floats(1.0, 1e4)


@given(grams, grams, st.floats(0.1, 200), st.floats(1.0, 2.5))
def test_liquor_is_saturated_or_there_are_no_crystals(dry, water, solubility, ratio):
    """What is left of the liquor holds exactly the solubility, unless all stayed dissolved."""
    crystals = s.crystals_g(dry, water, solubility, ratio)
    salt_left = dry - crystals / ratio
    water_left = water - crystals * (1 - 1 / ratio)
    assume(abs(dry - solubility * water / 100) > 1e-6)
    if crystals == 0:
        assert dry <= solubility * water / 100
    elif salt_left > 1e-6 * dry and water_left > 1e-6 * water:
        assert salt_left / water_left * 100 == pytest.approx(solubility, rel=1e-4)
    assert salt_left >= -1e-6 * dry


@given(grams, st.floats(0.5, 300), st.floats(0.01, 1.0), st.integers(1, 5))
def test_crops_keep_mass(salt, hot, part, count):
    """Crops and the last liquor are the salt; the shares add up to the formula."""
    found = s.crops(salt, None, hot, hot * part, count)
    assert sum(c.crystals_g for c in found) + found[-1].liquor_salt_g == pytest.approx(salt)
    assert found[-1].so_far == pytest.approx(s.crop(hot, hot * part, count), abs=1e-9)
    assert found[0].boiled_off_g == pytest.approx(0, abs=1e-9 * salt / hot * 100)


def test_tables_that_fall():
    """Calcium acetate (37.4, 34.7, 29.7 g at 0, 20, 100 degC: sciencemadness.org) falls throughout;
    sodium sulfate only above 32.4 degC (CRC: 41.28 at 30, 47.82 at 40, 46.09 at 50)."""
    acetate = [(0, 37.4), (20, 34.7), (100, 29.7)]
    assert s.falls_between(acetate, 0, 100) == (0, 20)
    sulfate = [(20, 19.23), (30, 41.28), (40, 47.82), (50, 46.09)]
    assert s.falls_between(sulfate, 20, 40) is None
    assert s.falls_between(sulfate, 20, 50) == (40, 50)
    assert s.interpolate(sulfate, 25) == pytest.approx(30.255)
    assert s.interpolate(sulfate, 15) == 19.23  # within 5 K of the end
    # across a gap in the logarithm: the geometric mean half-way, by a straight line within 10 K
    assert s.interpolate([(0, 4.0), (40, 16.0)], 20) == pytest.approx(8.0)
    assert s.interpolate([(0, 0.0), (40, 16.0)], 20) == pytest.approx(8.0)
    assert s.interpolate(sulfate, 14) is None
    assert s.interpolate([(20, 1.0)], 20) is None
