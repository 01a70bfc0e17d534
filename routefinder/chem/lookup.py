"""What the table of identities (``packed/``) knows of a substance by name or CAS number.

Its data are from PubChem; some hydrates there have a wrong formula, so a record is never taken
over unseen: the formula is shown, and our own molar mass is worked out from it.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.chem import packed

SOURCE = "PyPI package chemicals (data of PubChem)"


@dataclass(frozen=True)
class Known:
    """A substance in the table: name, formula (None when we cannot read it), CAS number.

    ``warning`` says what to look at before believing it.
    """

    name: str
    formula: str | None
    cas: str
    molar_mass_g: float
    warning: str = ""


def known(text: str) -> Known | None:
    """The table's entry for a name or CAS number, or None."""
    entry = packed.named(text)
    if entry is None or not entry.written:
        return None
    if entry.formula is None:
        return Known(entry.name, None, entry.cas, entry.molar_mass_g)
    formula, theirs = entry.formula, entry.molar_mass_g
    warning = ""
    if abs(formula.molar_mass - theirs) > 0.05 + formula.molar_mass * 2e-4:
        warning = f"its molar mass there is {theirs:.2f} g/mol, which its formula does not give"
    elif "hydrate" in entry.name or "hydrate" in text:
        warning = "formulas of hydrates in that table can be wrong; compare with the label"
    return Known(entry.name, formula.text, entry.cas, theirs, warning)
