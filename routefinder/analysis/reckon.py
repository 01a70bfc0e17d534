"""A plain calculator for the bench, where no step is meant. Nothing typed is ever evaluated.

    CuSO4·5H2O                        formula mass and what is in it
    Cu in CuSO4·5H2O                  percent of an element
    25 g CuSO4·5H2O                   moles;  0.5 mol NaOH: grams
    250 mL of 0.5 mol/L NaOH          what to weigh in
    dilute 37 % HCl to 10 %, 500 g    by mass balance; volumes where the library has densities
    gas from 10 g CO2                 litres at 20 degC and 1 atm
    10 g CaCO3 + 8 g HCl -> CaCl2 + H2O + CO2      which one limits, and what comes of it
    soap 500 g olive oil + 300 g coconut oil, superfat 8 %, NaOH 98 %, lye 30 %

Names of the library serve as well as formulas. Formula masses from the abridged atomic weights of
IUPAC 2021.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder import units
from routefinder.analysis import soap
from routefinder.analysis.methods import GAS_ML_MOL
from routefinder.analysis.reckoned import Reckoned
from routefinder.assessment.reasoning import number
from routefinder.chem import equation as equations
from routefinder.chem import formula as formulas
from routefinder.chem.elements import ATOMIC_WEIGHTS
from routefinder.errors import FormulaError, InputError, Refused, RoutefinderError
from routefinder.library import regulated
from routefinder.library.densities import curve
from routefinder.library.library import Library

LONGEST = 500
FIGURES = 4  # of an answer; the arithmetic shows six
GASES = frozenset({"H2", "O2", "N2", "CO2", "CO", "SO2", "SO3", "NH3", "HCl", "Cl2", "NO", "NO2",
                   "H2S"})  # fmt: skip
_QUANTITY = r"[\d.,]+(?:[eE]-?\d+)?\s*(?:kg|mg|g|t|mmol|kmol|mol|mL|ml|L|l)"
_AMOUNT = re.compile(rf"(?P<q>{_QUANTITY})\s+(?:of\s+)?(?P<what>.+)")
_ELEMENT = re.compile(r"(?:percent |% |share of )?(?P<e>[A-Z][a-z]?) in (?P<what>.+)")
_SOLUTION = re.compile(
    r"(?P<v>[\d.,]+\s*(?:mL|ml|L|l))\s+(?:of\s+)?(?P<c>[\d.,]+\s*(?:mmol/L|mol/L|M))\s+(?P<what>.+)"
)
_DILUTE = re.compile(
    r"dilute (?P<a>[\d.,]+\s*%) (?P<what>.+?) to (?P<b>[\d.,]+\s*%)(?:[,:]?\s+(?:for |make )?"
    rf"(?P<q>{_QUANTITY}))?"
)
_GAS = re.compile(rf"gas (?:volume )?(?:from|of) (?P<q>{_QUANTITY})\s+(?:of\s+)?(?P<what>.+)")
_TERM = re.compile(rf"\s*(?P<q>{_QUANTITY})?\s*(?P<rest>\S.*?)\s*")


@dataclass(frozen=True)
class _Thing:
    label: str
    formula: formulas.Formula
    substance: str | None


def reckon(text: str, library: Library | None = None) -> Reckoned:
    """Work out one line. Raises InputError, saying what can be asked, for anything else.

    With a library, what an equation makes is refused where routefinder plans nothing with it.
    """
    line = " ".join(text.split())
    if not line or len(line) > LONGEST:
        raise InputError("write what is to be reckoned in one line of up to 500 characters")
    try:
        if re.search(r"->|→|=>|⇌|⟶|(?<=\s)=(?=\s)", line):
            return _limiting(line, library)
        for pattern, work in (
            (soap.ASKED, soap.soap), (_DILUTE, _dilute), (_GAS, _gas), (_SOLUTION, _solution),
            (_ELEMENT, _element), (_AMOUNT, _amount),
        ):  # fmt: skip
            found = pattern.fullmatch(line)
            if found is not None:
                return work(found, library)
        return _mass(line, library)
    except (InputError, Refused):
        raise
    except RoutefinderError as error:
        raise InputError(
            f"{error}; what can be reckoned: 'CuSO4·5H2O', 'Cu in CuSO4·5H2O', '25 g NaOH', "
            "'250 mL of 0.5 mol/L NaOH', 'dilute 37 % HCl to 10 %, 500 g', 'gas from 10 g CO2', "
            "'10 g CaCO3 + 8 g HCl -> CaCl2 + H2O + CO2', 'soap 500 g olive oil, superfat 8 %'"
        ) from None


def _short(value: float) -> str:
    return units.significant(value, FIGURES)


def _thing(text: str, library: Library | None) -> _Thing:
    name = text.strip()
    try:
        parsed = formulas.parse(name)
    except FormulaError:
        if library is None:
            raise
        record = library.substance(name)
        if record.parsed is None:
            raise InputError(f"{record.name} has no formula, so nothing can be reckoned") from None
        return _Thing(f"{record.name}, {record.label}", record.parsed, record.id)
    known = library.substance_names.find(name) if library is not None else []
    return _Thing(parsed.pretty(), parsed, known[0] if len(known) == 1 else None)


def _mass(text: str, library: Library | None) -> Reckoned:
    thing = _thing(text, library)
    molar = thing.formula.molar_mass
    lines = [
        f"{e}: {number(n)} × {number(ATOMIC_WEIGHTS[e])} = {number(n * ATOMIC_WEIGHTS[e])} g/mol"
        for e, n in thing.formula.amounts.items()
    ]
    shares = ", ".join(f"{e} {100 * thing.formula.mass_fraction(e):.2f} %"
                       for e in thing.formula.amounts)  # fmt: skip
    return Reckoned(
        f"{thing.label}: {molar:.3f} g/mol; {shares}", tuple(lines), {"molar_mass_g_mol": molar}
    )


def _element(found: re.Match[str], library: Library | None) -> Reckoned:
    thing, element = _thing(found["what"], library), found["e"]
    if element not in ATOMIC_WEIGHTS:
        raise InputError(f"there is no element {element!r}")
    n, molar = thing.formula.amounts.get(element, 0.0), thing.formula.molar_mass
    share = thing.formula.mass_fraction(element)
    line = (
        f"{element}: {number(n)} × {number(ATOMIC_WEIGHTS[element])} / {number(molar)} = "
        f"{number(share)}"
    )
    return Reckoned(f"{thing.label} holds {100 * share:.3g} % {element} by weight", (line,),
                    {"fraction": share})  # fmt: skip


def _quantity(text: str) -> tuple[float, str]:
    value, kind = units.read_any(text, ("mass", "amount", "volume"))
    if value <= 0:
        raise InputError(f"{text!r} must be above 0")
    return value, kind


def _moles(text: str, thing: _Thing) -> tuple[float, float, str]:
    """(moles, grams, line)."""
    value, kind = _quantity(text)
    molar = thing.formula.molar_mass
    if kind == "mass":
        moles = value / molar
        return (
            moles,
            value,
            f"{thing.label}: {number(value)} g / {number(molar)} = {number(moles)} mol",
        )
    if kind == "amount":
        grams = value * molar
        return (
            value,
            grams,
            f"{thing.label}: {number(value)} mol × {number(molar)} = {number(grams)} g",
        )
    if thing.formula.text in GASES:
        moles = value / GAS_ML_MOL
        line = f"{thing.label}: {number(value)} mL / {number(GAS_ML_MOL)} = {number(moles)} mol"
        return moles, moles * molar, line
    raise InputError(f"{text!r} of {thing.label}: give a mass or moles; only a gas goes by volume")


def _amount(found: re.Match[str], library: Library | None) -> Reckoned:
    thing = _thing(found["what"], library)
    moles, grams, line = _moles(found["q"], thing)
    return Reckoned(
        f"{thing.label}: {_short(grams)} g is {_short(moles)} mol ({thing.formula.molar_mass:.3f} "
        "g/mol)", (line,), {"mol": moles, "g": grams},
    )  # fmt: skip


def _solution(found: re.Match[str], library: Library | None) -> Reckoned:
    thing = _thing(found["what"], library)
    volume, strength = units.read(found["v"], "volume"), units.read(found["c"], "concentration")
    if volume <= 0 or strength <= 0:
        raise InputError("volume and strength must be above 0")
    moles = volume / 1000 * strength
    grams = moles * thing.formula.molar_mass
    lines = (
        f"moles: {number(volume)} / 1000 × {number(strength)} = {number(moles)} mol",
        f"grams: {number(moles)} × {number(thing.formula.molar_mass)} = {number(grams)} g",
    )
    return Reckoned(
        f"{_short(grams)} g of {thing.label} ({_short(moles)} mol), dissolved and made up to "
        f"{_short(volume)} mL", lines, {"g": grams, "mol": moles},
    )  # fmt: skip


def _dilute(found: re.Match[str], library: Library | None) -> Reckoned:
    thing = _thing(found["what"], library)
    a, b = units.read_fraction(found["a"]), units.read_fraction(found["b"])
    if not 0 < b <= a <= 1:
        raise InputError("dilution goes from a greater strength to a smaller one, up to 100 %")
    wanted, kind = _quantity(found["q"]) if found["q"] else (100.0, "mass")
    densities = _densities(library, thing, a, b)
    lines = []
    if kind == "volume":
        if densities is None:
            raise InputError(f"no densities of {thing.label} solutions are known: give a mass")
        lines.append(f"mass: {number(wanted)} mL × {number(densities[1])} = "
                     f"{number(wanted * densities[1])} g")  # fmt: skip
        wanted *= densities[1]
    elif kind != "mass":
        raise InputError("say how much of the weaker solution is wanted as a mass or a volume")
    strong = wanted * b / a
    water = wanted - strong
    lines += [
        f"strong solution: {number(wanted)} g × {number(b)} / {number(a)} = {number(strong)} g",
        f"water: {number(wanted)} g - {number(strong)} g = {number(water)} g",
    ]
    answer = (
        f"{_short(strong)} g of {100 * a:g} % and {_short(water)} g of water make "
        f"{_short(wanted)} g of {100 * b:g} % {thing.label}"
    )
    if densities is not None:
        volume = strong / densities[0]
        lines.append(
            f"by volume: {number(strong)} g / {number(densities[0])} = {number(volume)} mL"
        )
        answer += f"; that is {volume:.3g} mL of the strong one; volumes do not add up"
    if thing.formula.text in {"H2SO4", "NaOH", "KOH", "HNO3", "H3PO4", "HCl"}:
        answer += ". It gets hot: the strong one into the water, slowly, with goggles and gloves"
    return Reckoned(answer, tuple(lines), {"strong_g": strong, "water_g": water})


def _densities(
    library: Library | None, thing: _Thing, a: float, b: float
) -> tuple[float, float] | None:
    if library is None or thing.substance is None:
        return None
    line = curve(library, thing.substance)
    one, two = line.at(a), line.at(b)
    if one is None or two is None or not (one.from_table and two.from_table):
        return None
    return one.g_mL, two.g_mL


def _gas(found: re.Match[str], library: Library | None) -> Reckoned:
    thing = _thing(found["what"], library)
    moles, _, line = _moles(found["q"], thing)
    litres = moles * GAS_ML_MOL / 1000
    if thing.formula.text not in GASES:
        raise InputError(
            f"{thing.label} is no gas that is known here; write the equation, such as "
            "'10 g CaCO3 + HCl -> CaCl2 + H2O + CO2'"
        )
    second = f"volume: {number(moles)} mol × {number(GAS_ML_MOL / 1000)} = {number(litres)} L"
    return Reckoned(f"{thing.label}: {litres:.3g} L at 20 °C and 1 atm", (line, second),
                    {"L": litres, "mol": moles})  # fmt: skip


def _limiting(line: str, library: Library | None) -> Reckoned:
    left, arrow, right = re.split(r"\s*(->|→|=>|⇌|⟶|(?<=\s)=(?=\s))\s*", line, maxsplit=1)
    given: list[str | None] = []
    terms = []
    for term in left.split(" + "):
        found = _TERM.fullmatch(term)
        if found is None:
            raise InputError(f"{term!r} is no amount and no formula")
        given.append(found["q"])
        terms.append(found["rest"])
    if not any(given):
        raise InputError("say how much there is of a reactant at least: '10 g CaCO3 + ...'")
    read = equations.parse(f"{' + '.join(terms)} {arrow} {right}")
    species = {t.species: formulas.parse(t.species) for t in (*read.left, *read.right)}
    balanced = equations.balance(read, species)
    allowed = []
    lines = [f"balanced: {balanced}"]
    for term, quantity in zip(balanced.left, given, strict=True):
        if quantity is None:
            continue
        thing = _thing(term.species, None)
        moles, _, work = _moles(quantity, thing)
        turns = moles / float(term.coefficient)
        lines += [work, f"turns it allows: {number(moles)} / {number(float(term.coefficient))} = "
                        f"{number(turns)}"]  # fmt: skip
        allowed.append((turns, thing.label))
    turns, limits = min(allowed)
    made, figures = [], {"turns_mol": turns}
    for term in balanced.left:
        thing = _thing(term.species, None)
        grams = turns * float(term.coefficient) * thing.formula.molar_mass
        figures[f"takes {thing.formula.text} g"] = grams
        lines.append(f"takes {thing.label}: {number(turns)} × {number(float(term.coefficient))} × "
                     f"{number(thing.formula.molar_mass)} = {number(grams)} g")  # fmt: skip
    for term in balanced.right:
        regulated.refuse(term.species, "made", library)
        thing = _thing(term.species, None)
        moles = turns * float(term.coefficient)
        grams = moles * thing.formula.molar_mass
        text = f"{_short(grams)} g {thing.label}"
        if thing.formula.text in GASES:
            text += f" ({moles * GAS_ML_MOL / 1000:.3g} L at 20 °C)"
        made.append(text)
        figures[f"gives {thing.formula.text} g"] = grams
        lines.append(f"gives {thing.label}: {number(turns)} × {number(float(term.coefficient))} × "
                     f"{number(thing.formula.molar_mass)} = {number(grams)} g")  # fmt: skip
    return Reckoned(f"{limits} limits; at the most {', '.join(made)}", tuple(lines), figures)
