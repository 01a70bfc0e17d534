"""What the package `chemicals` knows of a substance by name, formula or CAS number.

Its data are from PubChem; some hydrates there have a wrong formula, so a record is never taken
over unseen: the formula is shown, and our own molar mass is worked out from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from routefinder.chem.formula import parse
from routefinder.errors import FormulaError

SOURCE = "PyPI package chemicals (data of PubChem)"


@dataclass(frozen=True)
class Known:
    """A substance in the package: name, formula (None when we cannot read it), CAS number.

    ``warning`` says what to look at before believing it.
    """

    name: str
    formula: str | None
    cas: str
    molar_mass_g: float
    warning: str = ""


def known(text: str) -> Known | None:
    """The package's entry for a name, formula or CAS number, or None."""
    from chemicals import identifiers

    try:
        entry: Any = identifiers.search_chemical(text.strip())
    except ValueError:
        return None
    if not entry.CASs or not entry.formula:
        return None
    theirs = float(entry.MW)
    try:
        formula = parse(str(entry.formula))
    except FormulaError:
        return Known(str(entry.common_name), None, str(entry.CASs), theirs)
    warning = ""
    if abs(formula.molar_mass - theirs) > 0.05 + formula.molar_mass * 2e-4:
        warning = f"its molar mass there is {theirs:.2f} g/mol, which its formula does not give"
    elif "hydrate" in str(entry.common_name) or "hydrate" in text:
        warning = "formulas of hydrates in that table can be wrong; compare with the label"
    return Known(str(entry.common_name), formula.text, str(entry.CASs), theirs, warning)
