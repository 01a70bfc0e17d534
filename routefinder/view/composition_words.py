"""A composition and its doubt in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from routefinder import digits
from routefinder.library.composition import Composition
from routefinder.records.shelf import Supply

SHOWN = 4


def notes(found: Composition, doubts: Sequence[tuple[Supply, float, float]]) -> tuple[str, ...]:
    """One sentence for the formula, one a supply for what its assay leaves open."""
    formula = found.substance.label
    out = [f"x = {found.x:g}: {formula}; amounts are for this composition"]
    for supply, low, high in doubts[:SHOWN]:
        if high - low < 1e-9:
            continue
        w = supply.fractions[supply.main]
        least, most = supply.low.get(supply.main, w), supply.high.get(supply.main, w)
        out.append(
            f"with {supply.name} ({digits.percent(least)} to {digits.percent(most)} "
            f"{found.library.name(supply.main)}) x lies between {low:.3f} and {high:.3f}"
        )
    return tuple(out)
