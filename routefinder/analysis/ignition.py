"""What strong heat leaves of a substance, by the library's own steps of heating it alone."""

from __future__ import annotations

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

RED_HEAT_C = 900.0  # a loss on ignition is taken at a bright red heat: common practice
DEEPEST = 6  # steps one after another, at the most


def heated_alone(library: Library, substance: str) -> list[tuple[ResolvedStep, float]]:
    """Steps that heat this solid alone, with the share of its mass that leaves; coolest first."""
    out = []
    for step in library.heated_alone.get(substance, ()):
        mass = step.limiting.moles * library.substances[substance].molar_mass_g
        gone = sum(
            p.moles * library.substances[p.substance].molar_mass_g
            for p in step.products
            if p.state == "g"
        )
        out.append((step, gone / mass))
    return out


def left(library: Library, substance: str, at_C: float = RED_HEAT_C, depth: int = DEEPEST) -> float:
    """Grams left of a gram: after its hydrate water, and after every such step below ``at_C``."""
    if substance not in library.substances:
        return 1.0
    record = library.substances[substance]
    if record.formula == "H2O":
        return 0.0
    steps = [s for s, _ in heated_alone(library, substance) if s.record.temperature.low_C <= at_C]
    if steps and depth:
        step = steps[-1]  # the hottest goes furthest
        mass = step.limiting.moles * record.molar_mass_g
        return sum(
            part.moles * library.substances[part.substance].molar_mass_g
            * left(library, part.substance, at_C, depth - 1)
            for part in step.products
            if part.state == "s"
        ) / mass  # fmt: skip
    root = library.root(substance)
    if root != substance and depth:
        share = library.substances[root].molar_mass_g / record.molar_mass_g
        return share * left(library, root, at_C, depth - 1)
    return 1.0
