"""Tables that stand here so that nothing large has to be installed for them, and their reader.

`routefinder.chem.pack` wrote them from the PyPI package `chemicals` (MIT licence); the sources it
names stand in ``README.md`` beside this file. Nothing of them is changed or left out but as said
there.

Identities are PubChem's: wrong for some hydrates, and some numbers are those of a near relative.
Compare, never adopt.
"""

from __future__ import annotations

import csv
import gzip
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from routefinder.chem.formula import Formula, parse
from routefinder.errors import FormulaError

FOLDER = Path(__file__).parent
IDENTITIES = FOLDER / "identities.tsv.gz"


@dataclass(frozen=True)
class Identity:
    """What is known by a CAS number; ``formula`` is None when it cannot be read."""

    cas: str
    name: str
    written: str
    formula: Formula | None
    molar_mass_g: float


def rows(name: str) -> Iterator[dict[str, str]]:
    """The rows of a table (``"ions"``) by column; an empty cell is a figure that is not known."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


@lru_cache(maxsize=1)
def _lines() -> dict[str, str]:
    """CAS number -> the rest of its line: formula, molar mass, name, other names."""
    text = gzip.decompress(IDENTITIES.read_bytes()).decode("utf-8")
    pairs = (line.partition("\t") for line in text.splitlines())
    return {cas: rest for cas, _, rest in pairs}


@lru_cache(maxsize=4096)
def identity(cas: str) -> Identity | None:
    """The entry of a CAS number, None when the table does not have the number."""
    line = _lines().get(cas)
    if line is None:
        return None
    written, mass, name, *_ = line.split("\t")
    try:
        formula = parse(written)
    except FormulaError:
        formula = None
    return Identity(cas, name, written, formula, float(mass))


@lru_cache(maxsize=1)
def _by_name() -> dict[str, str]:
    return {
        name: cas
        for cas, line in _lines().items()
        for name in line.split("\t")[3:]
    }  # fmt: skip


def named(text: str) -> Identity | None:
    """The entry of a name, capitals, spaces and hyphens apart, or of a CAS number."""
    name = text.strip().casefold()
    found = identity(name)
    for each in (name, name.replace(" ", ""), name.replace(" ", "").replace("-", "")):
        if found is None and each in _by_name():
            found = identity(_by_name()[each])
    return found
