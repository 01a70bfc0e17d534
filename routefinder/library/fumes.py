"""What a step gives off besides the gases of its equation, as its record says (``gives_off``).

``fumes.csv`` names what a record may write: gases by formula, vapours by substance, mists and
smokes with points of their own. Most of these amounts nobody knows; then only the name stands, and
what is made of it says so ("not computed").
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from routefinder.chem import formula as formulas
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

_TABLE = Path(__file__).with_name("fumes.csv")
CLEAN = frozenset({"CO2", "O2", "N2", "H2O"})  # part of air; no extraction for their sake alone

POISONOUS = frozenset({
    "NH3", "HCl", "SO2", "SO3", "CO", "Cl2", "H2S", "PH3", "AsH3", "NO", "NO2", "C3H4O",
})  # fmt: skip


@dataclass(frozen=True)
class Known:
    """A row of ``fumes.csv``; ``points`` is None where formula or substance give them."""

    name: str
    substance: str
    formula: str
    cas: str
    points: int | None


@dataclass(frozen=True)
class Fume:
    """One thing given off: ``typical_g`` and ``worst_g`` per mole of the limiting reactant.

    ``substance`` is an id of the library or "", ``formula`` "" for a mist or smoke. The masses are
    None where the record gives none.
    """

    name: str
    substance: str
    formula: str
    cas: str
    points: int | None
    typical_g: float | None
    worst_g: float | None
    traces: bool
    when: str
    source: tuple[str, ...]

    @property
    def molar_mass_g(self) -> float | None:
        """g/mol, None for a mist or smoke."""
        return formulas.molar_mass(self.formula) if self.formula else None


@lru_cache(maxsize=1)
def table() -> dict[str, Known]:
    """The rows of ``fumes.csv`` by name."""
    with _TABLE.open(encoding="utf-8", newline="") as file:
        return {
            r["name"]: Known(r["name"], r["substance"], r["formula"], r["cas"],
                             int(r["points"]) if r["points"] else None)
            for r in csv.DictReader(file)
        }  # fmt: skip


def known(library: Library, what: str) -> Known | None:
    """The row a record's word names, or the substance of that id; None when neither is known."""
    row = table().get(what)
    if row is None and what in library.substances:
        found = library.substances[what]
        row = Known(found.name, what, found.formula or "", found.cas or "", None)
    if row is not None and row.substance and row.substance not in library.substances:
        row = Known(row.name, "", row.formula, row.cas, row.points)  # a library of its own
    return row


def fumes(library: Library, step: ResolvedStep) -> tuple[Fume, ...]:
    """What the record says is given off besides, in its order; each counts whatever its amount.

    A name that nobody knows stands as it is, without formula (it counts as unknown).
    """
    out = []
    limiting_g = library.substances[step.limiting.substance].molar_mass_g
    for given in step.record.gives_off:
        row = known(library, given.what) or Known(given.what, "", "", "", None)
        typical, worst = (
            None if x is None else x[0] * (limiting_g if x[1] == "ratio" else 1.0)
            for x in (given.typical, given.worst)
        )
        out.append(
            Fume(row.name, row.substance, row.formula, row.cas, row.points, typical, worst,
                 given.traces, given.when, tuple(str(s) for s in given.source))
        )  # fmt: skip
    return tuple(out)


def asks(step: ResolvedStep) -> bool:
    """Whether the record asks for extraction: it stands among what the step needs."""
    return any(need.name == "fume-extraction" for need in step.record.equipment)


def of_equation(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Ids of the equation's gases that leave the liquor, water left out."""
    return tuple(
        p.substance
        for p in step.products
        if p.state == "g"
        and step.dissolved.get(p.substance, 0.0) < 1
        and library.substances[p.substance].formula != "H2O"
    )


def what_leaves(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of all that needs drawing off: the equation's gases but air's, and the record's."""
    names = [
        library.name(i)
        for i in of_equation(library, step)
        if library.substances[i].formula not in CLEAN
    ]
    return tuple(dict.fromkeys([*names, *(f.name for f in fumes(library, step))]))


def why_asked(library: Library, step: ResolvedStep) -> str:
    """Why extraction is asked for, in a few words; "" when the record does not ask for it."""
    if not asks(step):
        return ""
    names = what_leaves(library, step) or tuple(library.name(i) for i in of_equation(library, step))
    if not names:
        return "the record asks for it"
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f"{', '.join(names[:3])}{more} given off"
