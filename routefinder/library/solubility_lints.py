"""Lints of solubility: what a step makes as a solution can be one.

The water is the record's (``pot.ends_with_g``), with solutions as strong as the shops sell them;
the solubility is the library's own, the most generous of its tables, at the low end of the window,
where the liquor must still hold what is written as dissolved. Honours ``exceptions``.
"""

from __future__ import annotations

from collections.abc import Iterator

from routefinder.errors import Fault
from routefinder.library import pot
from routefinder.library.library import Library
from routefinder.library.load import Loaded
from routefinder.library.resolve import ResolvedStep
from routefinder.library.solubility import readings, tables_of

RULE = "solution-above-solubility"
NEAR = 1e-3  # of the solubility: rounding of amounts in a record


def held(library: Library, step: ResolvedStep, temperature_C: float) -> float | None:
    """g of the anhydrous main product that 100 g of water hold at the most; None when not known."""
    found = readings(tables_of(library, step.main.substance), temperature_C)
    return max((r.anhydrous for r in found), default=None)


def made(library: Library, step: ResolvedStep, sold: dict[str, float]) -> float | None:
    """g of the anhydrous main product in 100 g of the water of its step; None without water.

    All that can be made counts: what a yield lacks is mostly liquor lost, not left unmade.
    """
    water = pot.ends_with_g(library, step, sold)
    if water <= 0:
        return None
    molar = library.substances[library.root(step.main.substance)].molar_mass_g
    return 100 * step.main.moles * molar / water


def above_solubility(loaded: Loaded) -> Iterator[Fault]:
    """A main product written as dissolved of which its water holds less."""
    library = loaded.library
    sold = pot.strongest_sold(library)
    for (kind, name), entry in loaded.entries.items():
        step = library.steps.get(name) if kind == "steps" else None
        if step is None or step.main.state != "aq" or RULE in step.record.exceptions:
            continue
        low = step.record.temperature.low_C
        most, here = held(library, step, low), made(library, step, sold)
        if most is None or here is None or here <= most * (1 + NEAR):
            continue
        yield entry.fault(
            ("equation",),
            f"{library.name(step.main.substance)} would stand at {here:.3g} g in 100 g of water, "
            f"which hold {most:.3g} g at {low:g} degC, the low end of the window",
            "Call for more water, raise the low end, or write it as the solid it is.", RULE,
        )  # fmt: skip


RULES = (above_solubility,)
