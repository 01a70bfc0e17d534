"""One explanation of a weight: what it would have to be, and whether that can be."""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

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


def next_losses(library: Library, substance: str) -> list[tuple[ResolvedStep, float]]:
    """Steps that heat this solid alone, with the share of its mass that leaves; coolest first."""
    out = []
    for step in library.steps.values():
        if step.is_recipe or len(step.reactants) != 1 or step.aids:
            continue
        if step.limiting.substance != substance or step.limiting.state != "s":
            continue
        if any(p.state not in {"s", "g"} for p in step.products):
            continue
        mass = step.limiting.moles * library.substances[substance].molar_mass_g
        gone = sum(
            p.moles * library.substances[p.substance].molar_mass_g
            for p in step.products
            if p.state == "g"
        )
        if gone > 0:
            out.append((step, gone / mass))
    return sorted(out, key=lambda row: (row[0].record.temperature.low_C, row[0].id))
