"""Quantities at the boundary."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder import units
from routefinder.errors import QuantityError


@pytest.mark.parametrize("kind", sorted(units.FACTORS))
def test_table_of_factors_agrees_with_pint(kind):
    """The table that saves importing pint says what pint says."""
    spelled = {"ml": "mL", "l": "L", "hours": "hour", "minutes": "minute", "days": "day",
               "weeks": "week", "ml/mol": "mL/mol", "l/mol": "L/mol", "g/ml": "g/mL", "cm3": "cm**3", "m3": "m**3", "g/cm3": "g/cm**3"}  # fmt: skip
    for unit, factor in units.FACTORS[kind].items():
        name = spelled.get(unit, unit)
        by_pint = units.registry().Quantity(1.0, name).to(units.CANONICAL[kind]).magnitude
        assert factor == pytest.approx(by_pint, rel=1e-12), unit


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("250 g", "mass", 250), ("1.5kg", "mass", 1500), ("1 500 mg", "mass", 1.5),
        ("2,5 L", "volume", 2500), ("900 degC", "temperature", 900), ("1173.15 K", "temperature", 900),
        ("212 °F", "temperature", 100), ("2 days", "time", 2880), ("30 min", "time", 30),
        ("1 troy_ounce", "mass", 31.1034768), ("2 gallon", "volume", 7570.823568),
    ],
)  # fmt: skip
def test_reads_quantities(text, kind, value):
    """Common units, a comma, °C and K, and anything pint knows."""
    assert units.read(text, kind) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("250", "mass", "has no unit"), ("250 L", "mass", "not a unit of mass"),
        ("250 wibble", "mass", "unknown unit"), ("nan g", "mass", "not a number"),
        ("g", "mass", "not a number"), ("", "mass", "not a number"),
        ("-300 degC", "temperature", "absolute zero"), ("5 g", "temperature", "not a temperature"),
        ("1e999 g", "mass", "not a finite number"),
    ],
)  # fmt: skip
def test_says_what_is_wrong(text, kind, says):
    """One sentence with an example of what to write."""
    with pytest.raises(QuantityError, match=says):
        units.read(text, kind)


@given(st.sampled_from(sorted(units.CANONICAL)), st.floats(-200, 1e9))
def test_written_quantities_read_back(kind, value):
    """write and read are inverse."""
    assert units.read(units.write(value, kind), kind) == value


def test_pint_quantities_cross_the_boundary():
    """Python callers may give pint quantities; plain numbers are refused."""
    assert units.canonical(units.quantity(2, "mass").to("kg"), "mass") == pytest.approx(2)
    with pytest.raises(QuantityError, match="no unit"):
        units.canonical(250, "mass")
    with pytest.raises(QuantityError, match="not a mass"):
        units.canonical(units.quantity(1, "time"), "mass")
    with pytest.raises(QuantityError, match="finite"):
        units.canonical(units.quantity(math.nan, "mass"), "mass")


@pytest.mark.parametrize(("text", "value"), [("95 %", 0.95), ("0.5", 0.5), (0.25, 0.25)])
def test_reads_fractions(text, value):
    """Percent or plain."""
    assert units.read_fraction(text) == pytest.approx(value)


def test_a_mass_is_no_fraction():
    """A unit other than % is refused."""
    with pytest.raises(QuantityError, match="not a fraction"):
        units.read_fraction("5 g")
