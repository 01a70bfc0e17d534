"""Published worked cases: tests/reference/worked_examples.csv, source and locator in each row."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from routefinder.chem import equation as e
from routefinder.chem import formula as f
from routefinder.chem.solutions import crop
from routefinder.records.substance import cas_check_digit_ok

PATH = Path(__file__).parent / "reference" / "worked_examples.csv"
with PATH.open(encoding="utf-8") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def rows(*topics):
    return [pytest.param(r, id=r["id"]) for r in ROWS.values() if r["topic"] in topics]


def close(value: float, row: dict[str, str]) -> None:
    """Within half a unit of the last significant figure that the book prints, and of our own sum."""
    expected = float(row["expected"])
    digits = int(row["sig_figs"])
    assert value == pytest.approx(expected, rel=10 ** (1 - digits) * 0.55)
    if row["recomputed_IUPAC2021"]:
        assert value == pytest.approx(float(row["recomputed_IUPAC2021"]), rel=1e-5)


@pytest.mark.parametrize("row", rows("molar_mass"))
def test_molar_mass(row):
    """OpenStax Chemistry 2e, section 3.1."""
    close(f.molar_mass(json.loads(row["inputs"])["formula"]), row)


@pytest.mark.parametrize("row", rows("mass_from_moles"))
def test_mass_from_moles(row):
    """OpenStax Chemistry 2e, section 3.1."""
    given = json.loads(row["inputs"])
    close(f.molar_mass(given["formula"]) * given["mol"], row)


@pytest.mark.parametrize("row", rows("composition"))
def test_composition(row):
    """OpenStax Chemistry 2e, sections 3.1 and 3.2."""
    given = json.loads(row["inputs"])
    close(f.parse(given["formula"]).mass_fraction(given["element"]) * 100, row)


@pytest.mark.parametrize("row", rows("balancing"))
def test_balancing(row):
    """OpenStax Chemistry 2e, sections 4.1 and 4.2."""
    given = json.loads(row["inputs"])
    text = " + ".join(given["reactants"]) + " -> " + " + ".join(given["products"])
    equation = e.parse(text)
    fs = {t.species: f.parse(t.species) for t in (*equation.left, *equation.right)}
    done = e.balance(equation, fs)
    numbers = [int(t.coefficient) for t in (*done.left, *done.right)]
    assert numbers == [int(n) for n in re.findall(r"\d+", row["expected"])]


def solve(given):
    """Moles of what is asked for, per the equation: (asked species, unit, value)."""
    equation = e.parse(given["eq"])
    numbers = {t.species: float(t.coefficient) for t in (*equation.left, *equation.right)}
    return numbers


@pytest.mark.parametrize(
    ("row_id", "known", "asked"),
    [
        ("A17", ("Mg(OH)2", 16.0), "NaOH"), ("A19", ("CuO", 1.5), "CuCO3"),
        ("A20", ("CO2", 283.0), "MgCO3"), ("A22", ("SiC", 3.0), "SiO2"),
        ("A23", ("FeTiO3", 379 * 0.883), "TiO2"), ("A25", ("Ca", 10.01), "H2"),
    ],
)  # fmt: skip
def test_stoichiometry(row_id, known, asked):
    """OpenStax Chemistry 2e, section 4.3: mass of one species from that of another."""
    row = ROWS[row_id]
    numbers = solve(json.loads(row["inputs"]))
    species, mass = known
    moles = mass / f.molar_mass(species) / numbers[species] * numbers[asked]
    close(moles * f.molar_mass(asked), row)


def test_mass_loss_of_vitriol_and_limestone():
    """Rows A45 (school pages) and A47 (ratio of molar masses)."""
    vitriol = f.parse("CuSO4.5H2O")
    assert float(vitriol.waters) * f.molar_mass("H2O") / vitriol.molar_mass * 100 == pytest.approx(
        float(ROWS["A45"]["recomputed_IUPAC2021"]), rel=1e-5
    )
    assert f.molar_mass("CO2") / f.molar_mass("CaCO3") * 100 == pytest.approx(
        float(ROWS["A47"]["expected"]), abs=0.01
    )


def test_gravimetry_of_tin():
    """Row A48, OpenStax Chemistry 2e, section 18.2 exercise 11."""
    given = json.loads(ROWS["A48"]["inputs"])
    tin = given["SnO2_g"] * f.parse("SnO2").mass_fraction("Sn")
    close(tin / given["sample_g"] * 100, ROWS["A48"])


def test_atom_economy_of_lime():
    """Row A85: 1 kg of calcium carbonate burns to 560 g (common practice says the same)."""
    assert f.molar_mass("CaO") / f.molar_mass("CaCO3") * 100 == pytest.approx(
        float(ROWS["A85"]["expected"]), abs=0.05
    )


def test_cas_check_digits():
    """Row A91 and tests/reference/cas_check_digit.yaml (cas.org)."""
    import yaml

    given = json.loads(ROWS["A91"]["inputs"])
    table = yaml.safe_load((PATH.parent / "cas_check_digit.yaml").read_text(encoding="utf-8"))
    for cas in [*given["valid"], *(row["cas"] for row in table["valid"])]:
        assert cas_check_digit_ok(cas), cas
    for cas in [*given["invalid"], *(row["cas"] for row in table["invalid"])]:
        assert not cas_check_digit_ok(cas), cas


def test_crystallisation():
    """A77 (worked answer, socratic.org) and A78 (worked answer, wizedu.com): one crop on cooling."""
    salt = json.loads(ROWS["A77"]["inputs"])
    dissolved = salt["solution_g"] * salt["S75"] / (100 + salt["S75"])
    close(dissolved * crop(salt["S75"], salt["S25"]), ROWS["A77"])
    given = json.loads(ROWS["A78"]["inputs"])
    close(crop(given["g"] / given["mL"] * 100, given["S0"]) * 100, ROWS["A78"])
