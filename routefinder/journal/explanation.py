"""One explanation of a weight: what it would have to be, and whether that can be."""

from __future__ import annotations

from dataclasses import dataclass

SCALE_STEPS = 3.0  # a balance in order is not off by more than 3 of its steps: common practice
COMMERCIAL = 0.90  # the least purity that is credible where none is stated: our choice
WATER_G = 18.015
CO2_G = 44.009


@dataclass(frozen=True)
class Explanation:
    """``what`` in a word or two; ``figure`` with ``unit`` what it takes; ``fits`` if it can be."""

    what: str
    fits: bool
    figure: float
    unit: str
    sentence: str


def scale_error(off_g: float, reads_g: float) -> Explanation:
    """The balance off by so much."""
    steps = abs(off_g) / reads_g
    fits = steps <= SCALE_STEPS
    said = f"the balance would have to be off by {abs(off_g):.3g} g, {steps:.0f} times its step"
    if steps < 1.5:
        said = f"the balance is off by {abs(off_g):.3g} g, about one of its steps"
    return Explanation("scale error", fits, abs(off_g), "g", said)
