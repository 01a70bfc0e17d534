"""Equations: reading, checking, balancing."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.chem import equation as e
from routefinder.chem import formula as f
from routefinder.errors import EquationError


def formulas(equation):
    return {t.species: f.parse(t.species) for t in (*equation.left, *equation.right)}


def balanced(text):
    equation = e.parse(text)
    return e.balance(equation, formulas(equation))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        # OpenStax Chemistry 2e, module m68709 exercise 3(b) and Example 4.8 Check Your Learning
        ("Cu + HNO3 -> Cu(NO3)2 + H2O + NO", "3 Cu + 8 HNO3 -> 3 Cu(NO3)2 + 4 H2O + 2 NO"),
        ("Ca(OH)2 + H3PO4 -> Ca3(PO4)2 + H2O", "3 Ca(OH)2 + 2 H3PO4 -> Ca3(PO4)2 + 6 H2O"),
        # Pickering's blue carbonate, by hand
        ("CuSO4 + Na2CO3 + H2O -> Cu2(OH)2CO3 + Na2SO4 + CO2",
         "2 CuSO4 + 2 Na2CO3 + H2O -> Cu2(OH)2CO3 + 2 Na2SO4 + CO2"),
        ("Zn + Cu^2+ -> Zn^2+ + Cu", "Zn + Cu^2+ -> Zn^2+ + Cu"),
    ],
)  # fmt: skip
def test_balances(text, shown):
    """The smallest whole coefficients."""
    assert str(balanced(text)) == shown


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Cu -> Au", "no coefficients"), ("Cu + O2 -> CuO + Cu2O", "more than one set"),
        ("Cu", "one arrow"), ("-> CuO", "one arrow"), ("0 Cu -> Cu", "coefficient 0"),
    ],
)  # fmt: skip
def test_bad_equations(text, says):
    """What is wrong, in a sentence."""
    with pytest.raises(EquationError, match=says):
        balanced(text)


def test_terms_with_states_fractions_and_ids():
    """Coefficients as integers, decimals, fractions; ids as species."""
    equation = e.parse("½ O2(g) + 2 Cu(s) + 1/3 soda-ash(aq) ⇌ 1.5 CuO(s) + 2CaSO4·2H2O(s)")
    numbers = [t.coefficient for t in (*equation.left, *equation.right)]
    assert numbers == [Fraction(1, 2), 2, Fraction(1, 3), Fraction(3, 2), 2]
    assert [t.state for t in equation.left] == ["g", "s", "aq"]
    assert equation.left[2].species == "soda-ash"
    assert e.parse(str(equation)) == equation


def test_imbalance_names_elements_and_charge():
    """Left minus right, by element and charge."""
    equation = e.parse("Fe^3+ + OH- -> Fe(OH)3")
    off = e.imbalance(equation, formulas(equation))
    assert off == {"O": -2, "H": -2, "charge": 2}


@given(st.integers(1, 9))
def test_scaling_keeps_balance(n):
    """A multiple of a balanced equation balances."""
    equation = e.parse(f"{n * 2} Al + {n * 6} HCl -> {n * 2} AlCl3 + {n * 3} H2")
    assert e.imbalance(equation, formulas(equation)) == {}
