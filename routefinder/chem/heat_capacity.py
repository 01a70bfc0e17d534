"""Heat capacity of a mixture as charged; what is not known takes a stated default.

Defaults, in J/(g K), from memory: water 4.18; another liquid 2.0; what has no formula 1.0. A solid
or a dissolved substance goes by the Kopp-Neumann rule, the sum of its elements: C 7.5, H 9.6,
B 11.3, Si 15.9, O 16.7, F 20.9, P and S 22.6, any other 26 J/(mol K). The rule: "Kopp's law",
en.wikipedia.org; its figures from memory, as in Perry's Chemical Engineers' Handbook. It is good
to about 10 % at room temperature.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from routefinder.chem.formula import Formula

WATER = 4.18  # J/(g K), CRC (75.3 J/(mol K) over 18.015 g/mol)
LIQUID = 2.0
NO_FORMULA = 1.0
VAPORISATION = 2.257  # kJ/g of water at 100 degC (40.66 kJ/mol, CRC; 2.26 MJ/L of water)
KOPP = {"C": 7.5, "H": 9.6, "B": 11.3, "Si": 15.9, "O": 16.7, "F": 20.9, "P": 22.6, "S": 22.6}
KOPP_OTHER = 26.0


@dataclass(frozen=True)
class Portion:
    """Part of a mixture: grams, J/(g K), and how the capacity is known ("table" or a default)."""

    name: str
    mass_g: float
    capacity_J_g_K: float
    how: str

    @property
    def capacity_J_K(self) -> float:  # noqa: N802
        """J/K of the whole portion."""
        return self.mass_g * self.capacity_J_g_K


def kopp_J_mol_K(formula: Formula) -> float:  # noqa: N802
    """Heat capacity of a solid by the Kopp-Neumann rule, J/(mol K)."""
    return sum(n * KOPP.get(element, KOPP_OTHER) for element, n in formula.amounts.items())


def capacity_J_g_K(  # noqa: N802
    formula: Formula | None, state: str, table_J_mol_K: float | None = None
) -> tuple[float, str]:
    """J/(g K) of a substance in a state, and how it is known.

    ``table_J_mol_K`` is the tabulated figure for that state, None when there is none.
    """
    if formula is None:
        return NO_FORMULA, "default, no formula"
    if dict(formula.counts) == {"H": 2, "O": 1} and state in {"l", "aq"}:
        return WATER, "table"
    if table_J_mol_K is not None and state != "aq":
        return table_J_mol_K / formula.molar_mass, "table"
    if state == "l":
        return LIQUID, "default for a liquid"
    return kopp_J_mol_K(formula) / formula.molar_mass, "Kopp-Neumann rule"


def total_J_K(portions: Iterable[Portion]) -> float:  # noqa: N802
    """J/K of a mixture."""
    return sum(p.capacity_J_K for p in portions)
