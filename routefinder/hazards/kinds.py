"""What kind of thing a substance is, for what meets what: acid, carbonate, hypochlorite, metal...

A substance may be of several kinds. They come from ``data/kinds.csv``: by formula (crystal water
left out), by a pattern in the formula (an ion), by CAS number (organic substances, whose formulas
say too little), by element, by GHS statement, or by name where there is no formula. What no row
knows and what is no plain salt, oxide or silicate is ``unknown``, never harmless.

The numbers in the column ``epa`` are the reactivity groups of EPA-600/2-80-076 (Hatayama et al.,
1980), named in ``data/epa_groups.csv``; which substances stand in a group is marked row by row.
``read_in`` says in what a group or a pair of that chart was read: a public copy, two copies, or one
transcription by others, which nothing else has borne out.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from routefinder.chem.formula import parse
from routefinder.records.substance import Substance

DATA = Path(__file__).with_name("data")
METALS = frozenset({
    "Li", "Na", "K", "Rb", "Cs", "Be", "Mg", "Ca", "Sr", "Ba", "Al", "Ti", "V", "Cr", "Mn", "Fe",
    "Co", "Ni", "Cu", "Zn", "Zr", "Mo", "Ag", "Cd", "Sn", "Sb", "W", "Pb", "Bi",
})  # fmt: skip
_WATER = re.compile(r"^\d*\.?\d*H2O$")
_ORGANIC_NAME = re.compile(r"-(stearate|oleate|palmitate|soap)")


@dataclass(frozen=True)
class KindRow:
    """One row of data/kinds.csv: what makes a substance of this kind, with its source."""

    kind: str
    by: str
    what: str
    epa: int | None
    source: str


@dataclass(frozen=True)
class Kinds:
    """The kinds of one substance, its EPA reactivity groups, and whether nothing is known."""

    names: frozenset[str]
    epa: frozenset[int]
    unknown: bool

    def __contains__(self, kind: str) -> bool:
        return kind in self.names


@lru_cache(maxsize=1)
def rows() -> tuple[KindRow, ...]:
    """All rows of data/kinds.csv."""
    with (DATA / "kinds.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            KindRow(r["kind"], r["by"], r["what"], int(r["epa"]) if r["epa"] else None, r["source"])
            for r in csv.DictReader(file)
        )


@dataclass(frozen=True)
class _Index:
    """The rows sorted by how they recognise a substance, so that one look-up does most of it."""

    exact: dict[tuple[str, str], tuple[KindRow, ...]]
    patterns: tuple[tuple[re.Pattern[str], KindRow], ...]
    names: tuple[tuple[re.Pattern[str], KindRow], ...]


@lru_cache(maxsize=1)
def _index() -> _Index:
    exact: dict[tuple[str, str], list[KindRow]] = {}
    patterns, names = [], []
    for row in rows():
        if row.by == "has":
            patterns.append((re.compile(row.what), row))
        elif row.by == "name":
            names.append((re.compile(row.what), row))
        else:
            for each in row.what.split(";"):
                key = _key(each) if row.by == "formula" else each
                exact.setdefault((row.by, key), []).append(row)
    return _Index({k: tuple(v) for k, v in exact.items()}, tuple(patterns), tuple(names))


def _key(text: str) -> str:
    """Element counts of a formula as text: C2H4O2 however it is written."""
    parsed = parse(text)
    return " ".join(f"{el}{n}" for el, n in sorted(parsed.counts.items()))


def dry(formula: str) -> str:
    """A formula without its crystal water: CuSO4 for CuSO4·5H2O; 2Na2CO3·3H2O2 stays."""
    parts = formula.split("·")
    return "·".join([parts[0], *(p for p in parts[1:] if not _WATER.match(p))])


def kinds(substance: Substance) -> Kinds:
    """The kinds of a substance; ``unknown`` when no row knows it and it is no plain salt."""
    hazards = substance.hazards
    return _kinds(substance.id, substance.formula, substance.cas, hazards.scored)


@lru_cache(maxsize=8192)
def _kinds(
    name: str, formula: str | None, cas: str | None, statements: tuple[str, ...]
) -> Kinds:  # fmt: skip
    index = _index()
    found: list[KindRow] = []
    element = False
    if formula:
        text = dry(formula)
        counts = parse(text).counts
        element = len(counts) == 1
        organic = "C" in counts and not METALS & set(counts)
        if not (organic and "H" in counts):  # isomers: of these the CAS number speaks
            found += index.exact.get(("formula", _key(text)), ())
        if not (organic and text.startswith("C")):  # triethanolamine, C6H15NO3, is no nitrate
            found += [row for pattern, row in index.patterns if pattern.search(text)]
        if element:
            found += index.exact.get(("element", next(iter(counts))), ())
    if cas:
        found += index.exact.get(("cas", cas), ())
    for code in statements:
        found += index.exact.get(("statement", code), ())
    found += [
        row
        for pattern, row in index.names
        if (element if row.kind == "metal powder" else not formula) and pattern.search(name)
    ]
    names = {row.kind for row in found}
    groups = {row.epa for row in found if row.epa is not None}
    if not element or not METALS & set(parse(formula or "").counts):
        names.discard("metal powder")  # sulfur takes fire too, but is put out otherwise
    if {"metal powder", "base metal"} <= names:
        groups = (groups - {23}) | {22}
    quiet = _quiet(name, formula)
    if quiet:
        names.add(quiet)
    return Kinds(frozenset(names), frozenset(groups), not names)


def _quiet(name: str, formula: str | None) -> str:
    """A plain salt, oxide or silicate; an organic salt; or "" when it is something else."""
    if formula is None:
        return ""
    elements = set(parse(formula).counts)
    if len(elements) == 1:
        return "element"
    if "C" in elements and "H" in elements:
        return "organic salt" if elements & METALS or _ORGANIC_NAME.search(name) else ""
    if elements & (METALS | {"Si", "B"}) or {"N", "H"} <= elements:
        return "salt or oxide"
    return ""
