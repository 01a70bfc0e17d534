"""Conversion from an equilibrium constant and the excess."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.chem.equilibrium import conversion
from routefinder.errors import InputError

K = 4.2  # isopentyl acetate, the value read at mywordsolution.com, question 9462048


@pytest.mark.parametrize(("ratio", "x"), [(1, 0.672), (2, 0.850), (3, 0.907), (5, 0.947)])
def test_excess_against_hand(ratio, x):
    """Solved by hand from x^2 / ((1 - x)(r - x)) = 4.2."""
    assert conversion(K, ratio) == pytest.approx(x, abs=6e-4)


def test_water_of_the_acid_counts():
    """Acid of 80 % by weight brings 0.833 mol of water a mole: 2 mol bring 1.67, 0.698 turn."""
    water = 2 * (60.052 / 0.8 * 0.2) / 18.015
    assert conversion(K, 2, water=water) == pytest.approx(0.698, abs=6e-4)


@given(
    k=st.floats(1e-3, 1e4), r=st.floats(0.05, 50), c=st.floats(0, 5), d=st.floats(0, 5),
)  # fmt: skip
def test_the_law_of_mass_action_holds(k, r, c, d):
    x = conversion(k, r, c, d)
    assert 0 <= x <= min(1.0, r)
    if 1e-6 < x < min(1.0, r) - 1e-6:
        assert (c + x) * (d + x) / ((1 - x) * (r - x)) == pytest.approx(k, rel=1e-4)


@given(k=st.floats(0.01, 100), r=st.floats(0.1, 20), more=st.floats(1.01, 5))
def test_more_of_the_other_turns_more(k, r, more):
    assert conversion(k, r * more) >= conversion(k, r) - 1e-12


@pytest.mark.parametrize("bad", [(0, 1), (-1, 1), (1, 0), (float("nan"), 1), (1, float("inf"))])
def test_nonsense(bad):
    with pytest.raises(InputError):
        conversion(*bad)
