"""What the package `chemicals` means by a CAS number: formula, molar mass, constants of the CRC.

For the commands that compile or compare (`library.control_names`, `library.crosscheck`,
`chem.pack`): the package comes with the extra `test`, what the program needs stands in ``packed/``.
Its identifiers are wrong for some hydrates, and some numbers lead to a near relative (the `cas` of
the answer is then another): compare, never adopt.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from routefinder.chem.formula import parse
from routefinder.chem.packed import Identity
from routefinder.errors import FormulaError, OutOfReach

_KELVIN = 273.15


@dataclass(frozen=True)
class Constants:
    """Melting and boiling point (degC) and density (g/mL) of the CRC tables, None when absent."""

    melting_C: float | None = None
    boiling_C: float | None = None
    density_g_mL: float | None = None


def version() -> str:
    """The version of the package that is installed; raises OutOfReach when it is not."""
    try:
        import chemicals
    except ImportError:
        raise OutOfReach(
            "this compares with the package chemicals, which is not installed: "
            "pip install 'routefinder[test]'"
        ) from None
    return str(chemicals.__version__)


@lru_cache(maxsize=4096)
def identity(cas: str) -> Identity | None:
    """The entry for a CAS number, None when the package does not know the number."""
    from chemicals import identifiers

    try:
        entry: Any = identifiers.search_chemical(cas)
    except ValueError:
        return None
    written = str(entry.formula)
    try:
        formula = parse(written)
    except FormulaError:
        formula = None
    return Identity(str(entry.CASs), str(entry.common_name), written, formula, float(entry.MW))


def constants(cas: str) -> Constants:
    """Physical Constants of Inorganic or of Organic Compounds, CRC Handbook, by CAS number."""
    from chemicals import miscdata

    for table in (miscdata.CRC_inorganic_data, miscdata.CRC_organic_data):
        if cas in table.index:
            row: Any = table.loc[cas]
            melting, boiling, density = (float(row[name]) for name in ("Tm", "Tb", "rho"))
            return Constants(
                _known(melting - _KELVIN), _known(boiling - _KELVIN), _known(density / 1000)
            )
    return Constants()


def _known(value: float) -> float | None:
    return None if math.isnan(value) else round(value, 4)


def names(cas: str) -> tuple[str, ...]:
    """Every name that the package carries for a CAS number, in any language; () when unknown."""
    entry = _entries().get(cas)
    if entry is None:
        return ()
    every = (entry.common_name, entry.iupac_name, *entry.synonyms)
    return tuple(dict.fromkeys(str(name) for name in every if name))


def with_part(cas: str) -> frozenset[str]:
    """CAS numbers of substances that hold the molecule of ``cas`` as a part.

    These are its salts, adducts, stereoisomers and isotopologues: parts are compared by the
    formula, connection and hydrogen layers of their InChI (IUPAC InChI 1.0x), and by nothing else.
    Of a substance that is itself a salt only its own number: its ions are harmless elsewhere.
    """
    entry = _entries().get(cas)
    if entry is None or not entry.InChI:
        return frozenset()
    parts = set(_parts(str(entry.InChI)))
    return _by_part()[parts.pop()] if len(parts) == 1 else frozenset({cas})


def borne(forms: set[str], form: Callable[[str], str], but: set[str]) -> dict[str, str]:
    """Of the ``forms`` of names those that a substance outside ``but`` bears, with its number.

    Goes through every name of the package (more than a million): seconds.
    """
    found: dict[str, str] = {}
    for cas in _entries():
        if cas not in but:
            for name in names(cas):
                short = form(name)
                if short in forms:
                    found.setdefault(short, cas)
    return found


@lru_cache(maxsize=1)
def _entries() -> dict[str, Any]:
    from chemicals import identifiers

    database = identifiers.pubchem_db
    database.autoload_main_db()
    return {str(entry.CASs): entry for entry in database.CAS_index.values()}


@lru_cache(maxsize=1)
def _by_part() -> dict[tuple[str, str, str], frozenset[str]]:
    found: dict[tuple[str, str, str], set[str]] = {}
    for cas, entry in _entries().items():
        for part in _parts(str(entry.InChI)) if entry.InChI else ():
            found.setdefault(part, set()).add(cas)
    return {part: frozenset(numbers) for part, numbers in found.items()}


def _parts(inchi: str) -> list[tuple[str, str, str]]:
    """(formula, connections, hydrogens) of each molecule that an InChI is made of."""
    formula, *layers = inchi.removeprefix("InChI=1S/").split("/")
    molecules = _repeated(formula.split("."), "")
    out = []
    for letter in "ch":
        layer = next((text[1:] for text in layers if text[:1] == letter), "")
        each = _repeated(layer.split(";"), "*")
        out.append((each + [""] * len(molecules))[: len(molecules)])
    return list(zip(molecules, *out, strict=True))


def _repeated(pieces: list[str], sign: str) -> list[str]:
    """ "2C2H6" or "2*1-2" stand for two of the same."""
    out: list[str] = []
    for piece in pieces:
        number = re.match(rf"(\d+){re.escape(sign)}", piece)
        if number is None:
            out.append(piece)
        else:
            out += [piece[number.end() :]] * int(number[1])
    return out
