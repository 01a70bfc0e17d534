"""What the package `chemicals` means by a CAS number: formula, molar mass, constants of the CRC.

Its identifiers are wrong for some hydrates, and some numbers lead to a near relative (the `cas` of
the answer is then another): compare, never adopt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from routefinder.chem.formula import Formula, parse
from routefinder.errors import FormulaError

_KELVIN = 273.15


@dataclass(frozen=True)
class Identity:
    """The package's entry for a CAS number; ``formula`` is None when it cannot be read."""

    cas: str
    name: str
    written: str
    formula: Formula | None
    molar_mass_g: float


@dataclass(frozen=True)
class Constants:
    """Melting and boiling point (degC) and density (g/mL) of the CRC tables, None when absent."""

    melting_C: float | None = None
    boiling_C: float | None = None
    density_g_mL: float | None = None


def version() -> str:
    """The version of the package that is installed."""
    import chemicals

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
