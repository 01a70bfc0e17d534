"""How far a reaction goes that stops at its equilibrium: pure arithmetic, no files.

For A + B <=> C + D at concentrations that share one volume, with 1 mol of A, r mol of B, and c and
d mol of C and D there from the start:

    K = (c + x) (d + x) / ((1 - x) (r - x))

Solved for the conversion x of A, 0 <= x <= min(1, r). (Law of mass action; the ester is C, the
water D, that an acid of 80 % brings counts as d.)
"""

from __future__ import annotations

import math

from routefinder.errors import InputError


def conversion(constant: float, ratio: float, made: float = 0.0, water: float = 0.0) -> float:
    """The share of A that turns, of 1 mol with ``ratio`` mol of B.

    ``made`` and ``water`` are moles of C and D at the start, per mole of A. Raises InputError for
    a constant or ratio that is not above 0 or an amount below 0.
    """
    if not (constant > 0 and ratio > 0 and math.isfinite(constant) and math.isfinite(ratio)):
        raise InputError("an equilibrium needs a constant and a ratio above 0")
    if made < 0 or water < 0:
        raise InputError("what is there from the start cannot be less than nothing")
    # (K - 1) x^2 - (K (1 + r) + c + d) x + (K r - c d) = 0
    a = constant - 1.0
    b = -(constant * (1.0 + ratio) + made + water)
    c = constant * ratio - made * water
    if c <= 0:
        return 0.0
    if abs(a) < 1e-12:
        return min(-c / b, 1.0, ratio)
    root = math.sqrt(b * b - 4.0 * a * c)
    x = 2.0 * c / (-b + root)  # the smaller root, without taking equal numbers from each other
    return min(x, 1.0, ratio)
