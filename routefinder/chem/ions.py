"""Which ions a dissolved salt falls into, by counting its atoms and charges."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from routefinder.chem.formula import Formula, parse

CATIONS = (
    "H+", "Li+", "Na+", "K+", "NH4+", "Ag+", "Cu+", "Mg+2", "Ca+2", "Sr+2", "Ba+2", "Mn+2", "Fe+2",
    "Co+2", "Ni+2", "Cu+2", "Zn+2", "Sn+2", "Pb+2", "Al+3", "Fe+3", "Bi+3", "Cr+3", "CrOH+2",
)  # fmt: skip
ANIONS = (
    "OH-", "F-", "Cl-", "Br-", "I-", "NO3-", "NO2-", "SO4-2", "HSO4-", "SO3-2", "HSO3-", "S2O3-2",
    "S2O4-2", "S2O8-2", "S-2", "SH-", "CO3-2", "HCO3-", "PO4-3", "HPO4-2", "H2PO4-", "P2O7-4",
    "CHOO-", "CH3COO-", "C2O4-2", "C2O4H-", "SCN-", "BO2-", "B4O7-2", "ClO-", "ClO3-", "MnO4-",
    "MnO4-2", "CrO4-2", "Cr2O7-2", "MoO4-2", "VO3-", "WO4-2", "Al(OH)4-", "Fe(CN)6-3", "Fe(CN)6-4",
    "S2O5-2", "SiO3-2", "Si2O5-2",
    "C3H5O2-", "C3H5O3-", "C4H4O6-2", "C4H5O6-", "C6H5O7-3", "C6H6O7-2", "C6H7O7-",  # propionate,
    # lactate, tartrate, hydrogen tartrate, citrate, hydrogen citrates; below benzoate, salicylate
    "C7H5O2-", "C7H5O3-", "C16H31O2-", "C18H33O2-", "C18H35O2-",  # palmitate, oleate, stearate
)  # fmt: skip

Counts = dict[str, Fraction]


@lru_cache(maxsize=4096)
def ions(formula: Formula) -> tuple[tuple[str, int], ...]:
    """Ions of one formula unit with their numbers, crystal water left out; () when not known.

    The split with the fewest kinds of ions counts; of two such, the one that keeps more hydrogen in
    the anion (sulfuric acid is H+ and HSO4-, as at bench strength). Organic molecules (formulas of
    C, H, O, N that begin with C) are no salts; a basic salt, with two kinds of anions, is not
    simply ions in solution and gives ().
    """
    counts = dry_counts(formula)
    if formula.charge or any(n.denominator != 1 for n in counts.values()):
        return ()
    if formula.text.startswith("C") and set(counts) <= {"C", "H", "O", "N"}:
        return ()
    best: tuple[tuple[str, int], ...] = ()
    rank: tuple[int, Fraction] | None = None
    for found in _splits(counts):
        hydrogen = found[0][1] if found[0][0] == "H+" else 0
        here = (len(found), Fraction(hydrogen))
        if rank is None or here < rank:
            best, rank = found, here
    return best


def dry_counts(formula: Formula) -> Counts:
    """Atoms of one formula unit without its crystal water."""
    waters = formula.waters
    counts = dict(formula.counts)
    if waters:
        counts["H"] -= 2 * waters
        counts["O"] -= waters
    return {element: n for element, n in counts.items() if n}


def _splits(counts: Counts) -> Iterator[tuple[tuple[str, int], ...]]:
    """One kind of anion and one or two kinds of cations that use up exactly these atoms."""
    for anion, n in (
        (a, n) for a in _possible(ANIONS, counts) for n in range(1, 13) if _fits(a, n, counts)
    ):
        rest = _less(counts, anion, n)
        charge = n * -parse(anion).charge
        for cations in _cations(rest, charge):
            yield (*cations, (anion, n))


def _cations(counts: Counts, charge: int) -> Iterator[tuple[tuple[str, int], ...]]:
    """One or two kinds of cations that use up exactly these atoms and this charge."""
    usable = [
        (c, n) for c in _possible(CATIONS, counts) for n in range(1, 13) if _fits(c, n, counts)
    ]
    for cation, n in usable:
        rest = _less(counts, cation, n)
        left = charge - n * parse(cation).charge
        if not rest and left == 0:
            yield ((cation, n),)
        for other, m in usable:
            if CATIONS.index(other) <= CATIONS.index(cation) or not _fits(other, m, rest):
                continue
            if not _less(rest, other, m) and left == m * parse(other).charge:
                yield ((cation, n), (other, m))


@lru_cache(maxsize=256)
def _atoms(ion: str) -> tuple[tuple[str, int], ...]:
    return tuple((el, int(k)) for el, k in parse(ion).counts.items())


def _possible(ions: tuple[str, ...], counts: Counts) -> list[str]:
    """The ions all of whose elements are there."""
    return [ion for ion in ions if all(el in counts for el, _ in _atoms(ion))]


def _fits(ion: str, n: int, counts: Counts) -> bool:
    return all(counts.get(el, 0) >= n * k for el, k in _atoms(ion))


def _less(counts: Counts, ion: str, n: int) -> Counts:
    out = dict(counts)
    for element, k in _atoms(ion):
        out[element] -= n * k
    return {element: k for element, k in out.items() if k}
