"""Formulas: every dot, nested groups, charges, molar masses."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.chem import formula as f
from routefinder.chem.elements import ATOMIC_WEIGHTS
from routefinder.errors import FormulaError

REFERENCE = Path(__file__).parent / "reference"


@pytest.mark.parametrize(
    ("text", "mass"),
    [
        # SCENARIOS of the project, computed by hand from IUPAC weights
        ("CuSO4·5H2O", 249.68), ("Cu2(OH)2CO3", 221.11), ("Cu(C2H3O2)2·H2O", 199.65),
        ("KAl(SO4)2·12H2O", 474.37), ("Na2CO3.10H2O", 286.14), ("CaSO4·½H2O", 145.14),
        ("CaSO4.0.5H2O", 145.14), ("[Co(NH3)5Cl]Cl2", 250.44), ("CaCuSi4O10", 375.95),
        ("Zn0.93Co0.07O", 80.93), ("2Na2CO3·3H2O2", 314.02), ("CoCO3·2Co(OH)2·H2O", 322.85),
    ],
)  # fmt: skip
def test_molar_masses(text, mass):
    """Hydrates with any dot, nested groups, fractions."""
    assert f.molar_mass(text) == pytest.approx(mass, abs=0.01)


def test_atomic_weights_are_the_reference_table():
    """IUPAC 2021 abridged: tests/reference/atomic_weights_iupac_2021_abridged.csv."""
    with (REFERENCE / "atomic_weights_iupac_2021_abridged.csv").open(encoding="utf-8") as file:
        rows = {r["symbol"]: float(r["Ar_abridged"]) for r in csv.DictReader(file)}
    assert rows == ATOMIC_WEIGHTS


def test_atomic_weights_agree_with_chemicals():
    """An independent table agrees within its age (a few weights were revised)."""
    elements = pytest.importorskip("chemicals.elements").periodic_table
    for symbol, weight in ATOMIC_WEIGHTS.items():
        assert weight == pytest.approx(elements[symbol].MW, rel=6e-4), symbol


@pytest.mark.parametrize(
    "spelling",
    ["CuSO4·5H2O", "CuSO4.5H2O", "CuSO4*5H2O", "CuSO4•5H2O", "CuSO₄·5H₂O", " CuSO4 . 5 H2O"],
)
def test_spellings_are_one_formula(spelling):
    """All dots and subscripts mean the same."""
    assert f.parse(spelling).key == f.parse("CuSO4·5H2O").key
    assert f.parse(spelling).waters == 5


def test_hydrates_are_never_confused():
    """The monohydrate is not the anhydrous salt, though no dot hides inside a count."""
    keys = {f.parse(t).key for t in ("Na2CO3", "Na2CO3·H2O", "Na2CO3·10H2O", "CH2Na2O4")}
    assert len(keys) == 4


@pytest.mark.parametrize(
    ("text", "charge"),
    [("SO4^2-", -2), ("Cu+2", 2), ("Cu²⁺", 2), ("NH4+", 1), ("OH-", -1), ("[Fe(CN)6]^4-", -4),
     ("CO3-2", -2), ("H2O", 0)],
)  # fmt: skip
def test_charges(text, charge):
    """Charges in every usual spelling."""
    assert f.parse(text).charge == charge


@pytest.mark.parametrize(
    ("text", "shown"),
    [("CuSO4.5H2O", "CuSO₄·5H₂O"), ("CaSO4·0.5H2O", "CaSO₄·½H₂O"), ("SO4^2-", "SO₄²⁻"),
     ("Zn0.93Co0.07O", "Zn₀.₉₃Co₀.₀₇O"), ("KAl(SO4)2·12H2O", "KAl(SO₄)₂·12H₂O"),
     ("copper-acetate", "copper-acetate")],
)  # fmt: skip
def test_printing(text, shown):
    """Real subscripts; what is no formula is left alone."""
    assert f.pretty(text) == shown


@pytest.mark.parametrize(
    ("text", "says"),
    [("", "empty"), ("Xx2", "no element"), ("Cu(OH", "never closed"), ("Cu)2", "never opened"),
     ("Cu(OH]2", "closes"), ("Cu()2", "empty bracket"), ("CuSO4·", "nothing on one side"),
     ("5", "no formula behind"), ("H0", "number 0"), ("cu", "capital letter"), ("H2O" * 200, "300")],
)  # fmt: skip
def test_bad_formulas(text, says):
    """What is wrong, in a sentence."""
    with pytest.raises(FormulaError, match=says):
        f.parse(text)


groups = st.recursive(
    st.tuples(st.sampled_from(sorted(ATOMIC_WEIGHTS)), st.integers(1, 12)),
    lambda inner: st.tuples(st.lists(inner, min_size=1, max_size=3), st.integers(1, 4)),
    max_leaves=6,
)


def _spell(group):
    inner, n = group
    body = inner if isinstance(inner, str) else "(" + "".join(map(_spell, inner)) + ")"
    return body + (str(n) if n > 1 else "")


def _count(group, times=1, out=None):
    out = {} if out is None else out
    inner, n = group
    if isinstance(inner, str):
        out[inner] = out.get(inner, 0) + n * times
    else:
        for part in inner:
            _count(part, times * n, out)
    return out


@given(groups, st.integers(0, 12))
def test_any_nesting_is_counted(group, waters):
    """Counts of any nested formula with crystal water are those of its structure."""
    text = _spell(group) + (f"·{waters}H2O" if waters else "")
    expected = _count(group)
    if waters:
        expected["H"] = expected.get("H", 0) + 2 * waters
        expected["O"] = expected.get("O", 0) + waters
    parsed = f.parse(text)
    assert parsed.counts == {el: Fraction(n) for el, n in expected.items()}
    assert f.parse(parsed.text).key == parsed.key


@pytest.mark.parametrize("text", ["0/0", "1/0", "H1/0", "CuSO4·1/0H2O"])
def test_a_fraction_of_nothing_is_a_fault(text):
    """A division by 0 is said, not thrown."""
    with pytest.raises(FormulaError):
        f.parse(text)
