"""Quantiles of Student's t distribution, for any positive number of degrees of freedom.

The upper tail is half the regularised incomplete beta function I_x(nu/2, 1/2) at x = nu/(nu + t²)
(NIST Digital Library of Mathematical Functions, 8.17 and 26.7), which is summed as its continued
fraction 8.17.22; the quantile is found by halving. A test holds it against another implementation.
"""

from __future__ import annotations

import math
from functools import lru_cache

_TERMS = 500
_SMALL = 1e-300


@lru_cache(maxsize=256)
def quantile(share: float, freedom: float) -> float:
    """The t below which ``share`` (0.5 to below 1) of the distribution lies.

    ``freedom`` are the degrees of freedom, a whole number or not. Raises ValueError for a share or
    degrees of freedom out of range.
    """
    if not 0.5 <= share < 1 or not freedom > 0:
        raise ValueError(f"no quantile {share} of {freedom} degrees of freedom")
    tail = 1 - share
    high = 1.0
    while _above(high, freedom) > tail:
        high *= 2
    low = 0.0
    while (middle := (low + high) / 2) not in {low, high}:
        if _above(middle, freedom) > tail:
            low = middle
        else:
            high = middle
    return high


def _above(t: float, freedom: float) -> float:
    """The share of the distribution above a positive ``t``."""
    square = t * t
    return _beta(freedom / (freedom + square), square / (freedom + square), freedom / 2, 0.5) / 2


def _beta(x: float, rest: float, a: float, b: float) -> float:
    """I_x(a, b); ``rest`` is 1 - x, given apart so that nothing is lost near 1."""
    if x <= 0 or rest <= 0:
        return 0.0 if x <= 0 else 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    )
    if x < (a + 1) / (a + b + 2):
        return front / (a * _fraction(x, a, b))
    return 1 - front / (b * _fraction(rest, b, a))


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of DLMF 8.17.22 by Lentz: 1 + d1/(1 + d2/(1 + ...))."""
    value, c, d = 1.0, 1.0, 0.0
    for n in range(1, _TERMS):
        m = n // 2
        if n % 2:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 / ((1 + term * d) or _SMALL)
        c = (1 + term / c) or _SMALL
        value *= c * d
        if abs(c * d - 1) < 1e-16:
            break
    return value
