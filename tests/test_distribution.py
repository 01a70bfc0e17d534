"""Laws of one uncertain fraction: its percentiles, its bounds, its moments."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from routefinder.assessment.distribution import NEARLY_ONE, Distribution

triples = st.lists(st.floats(0.001, 1.0), min_size=3, max_size=3).map(sorted).map(tuple)


@given(triples)
@example((0.9, 0.95, 0.98))
@example((0.2, 0.9, 0.95))
@example((0.99, 1.0, 1.0))
@example((0.5, 0.5, 0.9))
@example((0.05, 0.9, 1.0))
def test_percentiles_are_met(triple):
    """10th, 50th and 90th percentile are low, typical and high; 1 counts as nearly one."""
    d = Distribution(*triple)
    for p, value in zip((0.1, 0.5, 0.9), triple, strict=True):
        assert d.quantile(p) == pytest.approx(min(value, NEARLY_ONE), rel=1e-6, abs=2e-6)


@given(triples, st.booleans(), st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_quantiles_rise_and_stay_within_bounds(triple, triangular, p, q):
    """A greater share has a greater quantile; nothing at 0, nothing above 1."""
    d = Distribution(*triple, triangular)
    low, high = d.quantile(min(p, q)), d.quantile(max(p, q))
    assert 0 < low <= high + 1e-12
    assert high <= 1
    if triangular:
        assert triple[0] - 1e-12 <= low <= triple[2] + 1e-12


@given(triples, st.booleans(), st.integers(0, 99))
def test_draws_stay_within_bounds(triple, triangular, seed):
    """No draw at 0 or below, none above 1, none of them missing."""
    drawn = Distribution(*triple, triangular).draw(np.random.default_rng(seed), 2000)
    assert drawn.shape == (2000,)
    assert drawn.min() > 0
    assert drawn.max() <= 1


@pytest.mark.parametrize(
    ("triple", "triangular"),
    [((0.9, 0.95, 0.98), False), ((0.2, 0.9, 0.95), False), ((0.82, 0.8704, 0.9), True),
     ((0.99, 1.0, 1.0), True), ((0.3, 0.3, 0.8), False)],
)  # fmt: skip
def test_draws_follow_the_quantiles(triple, triangular):
    """The share of draws at or below a quantile is the share asked for (5 standard errors)."""
    d = Distribution(*triple, triangular)
    n = 40_000
    drawn = d.draw(np.random.default_rng(7), n)
    for p in (0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99):
        at_or_below = np.mean(drawn <= d.quantile(p) + 1e-12)
        error = 5 * np.sqrt(p * (1 - p) / n)
        assert at_or_below >= p - error
        if d.low < d.typical < d.high or p > 0.5:  # no lump of probability there
            assert at_or_below <= p + error


def test_triangular_moments():
    """Mean (a + b + c)/3, variance (a2 + b2 + c2 - ab - ac - bc)/18: any textbook of statistics."""
    a, c, b = 0.82, 0.8704, 0.90
    drawn = Distribution(a, c, b, True).draw(np.random.default_rng(3), 100_000)
    variance = (a * a + b * b + c * c - a * b - a * c - b * c) / 18
    assert drawn.mean() == pytest.approx((a + b + c) / 3, abs=5 * np.sqrt(variance / 100_000))
    assert drawn.var() == pytest.approx(variance, rel=0.03)


def test_a_certain_value_is_certain():
    """low = typical = high."""
    d = Distribution(0.8, 0.8, 0.8)
    assert d.certain
    assert d.quantile(0.03) == 0.8
    assert set(d.draw(np.random.default_rng(1), 50)) == {0.8}


@pytest.mark.parametrize(
    "bad", [(0.0, 0.5, 0.9), (0.6, 0.5, 0.9), (0.5, 0.95, 0.9), (0.5, 0.9, 1.2)]
)
def test_bad_triples_are_refused(bad):
    """Out of order or out of (0, 1]."""
    with pytest.raises(ValueError, match="must rise"):
        Distribution(*bad)
    with pytest.raises(ValueError, match="between 0 and 1"):
        Distribution(0.5, 0.6, 0.7).quantile(1.0)
