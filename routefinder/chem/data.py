"""Formation data and exposure limits of a substance.

Three sources, in this order of trust for equal completeness:

1. the CRC table "Standard Thermodynamic Properties of Chemical Substances" as `chemicals` has it
   (``packed/``), looked up by CAS number only. Its identifiers are wrong for some hydrates, so a
   row counts only when the formula and molar mass there for that CAS number agree with ours;
   otherwise the value is not known;
2. ``formation.csv`` beside this file: hydrates, hydroxides, dissolved molecules and organic ions
   that the CRC tables lack, each row with its source and honesty mark (``computed`` names its
   rule and uncertainty);
3. for a dissolved salt, the sum of its ions (infinite dilution) from the CRC table "Thermodynamic
   Properties of Aqueous Ions", each ion's molar mass checked against our formula, or, where that
   table has no enthalpy, from ``formation.csv``; the sum bears the worst mark of its ions.

A row stays whole: figures of two sources are never mixed within one state of one substance.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from routefinder.chem import ions as splitting
from routefinder.chem import packed
from routefinder.chem.formula import Formula, parse
from routefinder.chem.thermo import Formation, total

CRC = (
    "published: CRC Handbook, Standard Thermodynamic Properties of Chemical Substances (via the "
    "PyPI package chemicals)"
)
CRC_IONS = (
    "published: CRC Handbook, Thermodynamic Properties of Aqueous Ions (via the PyPI package "
    "chemicals)"
)
ONTARIO = (
    "published: Ontario, Current Occupational Exposure Limits (via the PyPI package chemicals; "
    "where an entry holds several forms the package keeps one figure, mostly the strictest)"
)
FLAMMABLE = (
    "published: IEC 60079-20-1 (2010) and NFPA 497 (2008), lower flammability limits (via the PyPI "
    "package chemicals)"
)
TABLE = Path(__file__).with_name("formation.csv")
_MASS_TOLERANCE = 0.05  # g/mol; two editions of atomic weights differ by less, an H atom by more


def formation(formula: str, state: str, cas: str | None = None) -> Formation | None:
    """Formation data of a substance in a state ("s", "l", "g", "aq"), or None when not known."""
    parsed = parse(formula)
    found = [_packed(parsed, state, cas)]
    if state == "aq":
        found.append(_dissolved(parsed))
    elif cas is not None:
        found.insert(0, _handbook(cas, parsed, state))
    usable = [f for f in found if f is not None and f.enthalpy_kJ is not None]
    if state == "aq":
        return usable[0] if usable else None
    return max(usable, key=lambda f: f.known, default=None)  # the first of equals


@dataclass(frozen=True)
class ExposureLimits:
    """Exposure limits at the workplace: values in ``unit`` ("ppm" or "mg/m3"), None when not set.

    ``eight_hours`` is the time-weighted average (TWA), ``short`` the 15 minute limit (STEL),
    ``ceiling`` never to be passed; ``skin`` says that it also goes through the skin.
    """

    unit: str
    eight_hours: float | None
    short: float | None
    ceiling: float | None
    skin: bool
    name: str
    source: str = ONTARIO


@lru_cache(maxsize=1024)
def exposure_limits(cas: str) -> ExposureLimits | None:
    """The exposure limits of a substance by CAS number, or None when the table has none."""
    entry = _exposure().get(cas)
    if entry is None:
        return None
    for unit, key in (("ppm", "ppm"), ("mg/m3", "mg/m^3")):
        # the table fills in the other unit from the molar mass; dusts and metals are set in mg/m3
        texts = [entry[f"{what} ({key})"] for what in ("TWA", "STEL", "Ceiling")]
        found = [float(text) if text else None for text in texts]
        whole = all(v is None or float(f"{v:.3g}") == v for v in found)
        if any(v is not None for v in found) and (whole or unit == "mg/m3"):
            skin = bool(entry["Skin"])
            return ExposureLimits(unit, found[0], found[1], found[2], skin, entry["Name"])
    return None


@lru_cache(maxsize=1)
def _exposure() -> dict[str, dict[str, str]]:
    return {row["cas"]: row for row in packed.rows("exposure")}


def lower_flammability(cas: str) -> float | None:
    """The lower flammability limit in air as a mole fraction, or None when no table has it."""
    return _flammability().get(cas)


@lru_cache(maxsize=1)
def _flammability() -> dict[str, float]:
    return {row["cas"]: float(row["lower_limit"]) for row in packed.rows("flammability")}


def readings(formula: str, state: str, cas: str | None = None) -> tuple[Formation, ...]:
    """Every source's enthalpy of formation of a substance in a state; they may disagree."""
    parsed = parse(formula)
    found = [_packed(parsed, state, cas)]
    if state == "aq":
        found.append(_dissolved(parsed))
    elif cas is not None:
        found.append(_handbook(cas, parsed, state))
    return tuple(f for f in found if f is not None and f.enthalpy_kJ is not None)


@lru_cache(maxsize=1)
def _crc() -> dict[str, dict[str, float]]:
    """CAS number -> column -> value (J/mol) of the CRC table."""
    return {
        row.pop("cas"): {c: float(v) for c, v in row.items() if v and c != "name"}
        for row in packed.rows("formation")
    }


@lru_cache(maxsize=4096)
def same_substance(cas: str, formula: Formula) -> bool:
    """Whether this CAS number is known as that of our formula (atoms and molar mass)."""
    entry = packed.identity(cas)
    if entry is None or entry.formula is None or entry.formula.counts != formula.counts:
        return False
    apart = abs(entry.molar_mass_g - formula.molar_mass)
    return apart < _MASS_TOLERANCE + formula.molar_mass * 2e-4


@lru_cache(maxsize=4096)
def _handbook(cas: str, formula: Formula, state: str) -> Formation | None:
    row = _crc().get(cas)
    if row is None or f"Hf{state}" not in row or not same_substance(cas, formula):
        return None

    def figure(name: str, per: float) -> float | None:
        value = row.get(f"{name}{state}")
        return None if value is None else value / per

    heat, gibbs = figure("Hf", 1000), figure("Gf", 1000)
    if heat == 0.0 and len(formula.counts) == 1:
        gibbs = 0.0  # an element in its reference state, by definition
    return Formation(state, heat, gibbs, figure("S0", 1), figure("Cp", 1), (CRC,))


@lru_cache(maxsize=1)
def _rows() -> tuple[tuple[Formula, str, str, Formation], ...]:
    """(formula, state, CAS, data) of every row of formation.csv."""
    out = []
    with TABLE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):

            def figure(name: str, row: dict[str, str] = row) -> float | None:
                return float(row[name]) if row[name] else None

            out.append(
                (
                    parse(row["formula"]), row["state"], row["cas"],
                    Formation(
                        row["state"], figure("enthalpy_kJ_mol"), figure("gibbs_kJ_mol"),
                        figure("entropy_J_mol_K"), figure("capacity_J_mol_K"),
                        (f"{row['mark']}: {row['source']}",),
                    ),
                )
            )  # fmt: skip
    return tuple(out)


@lru_cache(maxsize=1)
def _rows_of() -> dict[tuple[object, str], list[tuple[str, Formation]]]:
    """The same by formula and state, in the order of the file."""
    out: dict[tuple[object, str], list[tuple[str, Formation]]] = {}
    for formula, state, cas, data in _rows():
        out.setdefault((formula.key, state), []).append((cas, data))
    return out


def _packed(formula: Formula, state: str, cas: str | None) -> Formation | None:
    if state == "aq" and formula.waters:
        return None
    # isomers: the number must agree
    molecule = not formula.charge and set(formula.counts) <= {"C", "H", "N", "O"}
    rows = _rows_of().get((formula.key, state), ())
    # forms of one formula (quartz, precipitated silica): the row with its number comes first
    for its_cas, data in sorted(rows, key=lambda row: row[0] != cas):
        if molecule and "C" in formula.counts and "H" in formula.counts and its_cas != cas:
            continue
        return data
    return None


@lru_cache(maxsize=1)
def _ion_table() -> dict[str, Formation]:
    """Ion (as the table writes it) -> data, for ions whose molar mass agrees with ours."""
    out: dict[str, Formation] = {}
    for row in packed.rows("ions"):
        name = row["Formula"]
        if name not in splitting.CATIONS and name not in splitting.ANIONS:
            continue
        if abs(parse(name).molar_mass - float(row["MW"])) > _MASS_TOLERANCE:
            continue
        if not row["Hf(aq)"]:
            continue
        figures = [float(row[c]) if row[c] else None for c in ("Hf(aq)", "Gf(aq)", "S(aq)")]
        heat, gibbs, entropy = figures
        out[name] = Formation(
            "aq", None if heat is None else heat / 1000,
            None if gibbs is None else gibbs / 1000, entropy, None, (CRC_IONS,),
        )  # fmt: skip
    for name in (*splitting.CATIONS, *splitting.ANIONS):
        found = None if name in out else _packed(parse(name), "aq", None)
        if found is not None:
            out[name] = found
    return out


def ion(name: str) -> Formation | None:
    """Data of one ion in water, written as the CRC table writes it ("SO4-2")."""
    return _ion_table().get(name)


@lru_cache(maxsize=4096)
def _dissolved(formula: Formula) -> Formation | None:
    """A dissolved salt as the sum of its ions, its crystal water as liquid water."""
    parts = splitting.ions(formula)
    if not parts:
        return None
    pieces: list[tuple[float, Formation | None]] = [(n, ion(name)) for name, n in parts]
    if formula.waters:
        pieces.append((float(formula.waters), formation("H2O", "l", "7732-18-5")))

    def figure(name: str) -> float | None:
        return total((n, None if f is None else getattr(f, name)) for n, f in pieces)

    return Formation(
        "aq", figure("enthalpy_kJ"), figure("gibbs_kJ"), figure("entropy_J_K"), None,
        tuple(dict.fromkeys(text for _, f in pieces if f is not None for text in f.sources)),
        " + ".join(f"{n} {name}" if n > 1 else name for name, n in parts),
    )  # fmt: skip
