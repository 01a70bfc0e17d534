"""Assays as labels give them: "56 % Cu", "17 % as Al2O3", "44 to 48 % cobalt".

A label often states the element or its oxide, not the substance. What is stated of one formula is
turned into another by an element that both hold; the substance's own formula says that the figure
is of the substance itself. A bare figure far below what the thing holds may be meant either way, so
it is asked back, never guessed: read as the substance, "56 %" of a copper carbonate that holds 56 %
copper takes 1.7 times too much.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder import digits
from routefinder.chem import formula as formulas
from routefinder.chem.formula import Formula
from routefinder.errors import FormulaError, InputError
from routefinder.library.value import METALS, NAMES
from routefinder.records.substance import Substance

FAR = 0.8  # of the least that a solid is known to hold: a bare figure below this is asked back
# how labels write oxides (fertilisers, glaze materials, common practice)
OXIDES = (
    "P2O5", "K2O", "Na2O", "CaO", "MgO", "Al2O3", "B2O3", "SiO2", "SO3", "Fe2O3", "MnO", "ZnO",
    "CuO", "CoO", "Cr2O3", "SnO2", "SrO", "BaO", "Li2O", "TiO2",
)  # fmt: skip
_ELEMENTS = {word: symbol for symbol, word in NAMES.items() if len(symbol) <= 2}
_STATED = re.compile(
    r"^\s*(?P<figure>[\d.,]+(?:\s*%)?(?:\s*(?:to|-|–|\+-|\+/-|±)\s*[\d.,]+)?\s*%)\s*"
    r"(?P<as>as\s+|of\s+)?(?P<formula>[A-Za-z(\[][\w()\[\]·.*]*)\s*$"
)
_SPAN = re.compile(r"^(?P<a>[\d.,]+)\s*%?\s*(?P<how>to|-|–|\+-|\+/-|±)\s*(?P<b>[\d.,]+)\s*%$")
_BASES = frozenset({"w", "v", "M", "percent"})


@dataclass(frozen=True)
class Stated:
    """A label's figure: mass fractions ``low``, ``typical``, ``high`` of ``formula``."""

    formula: str
    typical: float
    low: float
    high: float


def read(text: str) -> Stated | None:
    """What a label says, or None where the text names no formula behind a percentage.

    Raises InputError for a figure that cannot be.
    """
    found = _STATED.match(text)
    if found is None or found["formula"] in _BASES:
        return None
    word = found["formula"]
    formula = _ELEMENTS.get(word.casefold(), word)
    try:
        formulas.parse(formula)
    except FormulaError:
        raise InputError(
            f"strength {text!r}: {word!r} is no formula; write for example '56 % Cu', "
            "'17 % Al2O3', or a figure alone for the substance itself"
        ) from None
    low, typical, high = span(found["figure"])
    return Stated(formula, typical, low, high)


def span(text: str) -> tuple[float, float, float]:
    """Low, typical, high of "56 %", "44 to 48 %" or "46 % +- 2 %" (points of percent).

    Raises InputError for what does not rise within 0 to 100 %.
    """
    from routefinder import units

    found = _SPAN.match(text.strip())
    if found is None:
        value = units.read_fraction(text.strip())
        low = high = value
    else:
        a, b = (units.number(found[k], "'46'") / 100 for k in ("a", "b"))
        by_range = found["how"] in {"to", "-", "–"}
        low, high = (a, b) if by_range else (a - b, a + b)
        value = (a + b) / 2 if by_range else a
    if not 0 < low <= value <= high <= 1:
        raise InputError(f"strength {text!r} must rise within 0 to 100 %")
    return low, value, high


def factor(stated: Formula, held: Formula, element: str = "") -> float:
    """Grams of ``held`` that a gram of ``stated`` stands for, by ``element`` or what both hold.

    Oxygen and hydrogen count only where there is nothing else. Raises InputError where they share
    no element, or where one formula leaves open which of several is meant.
    """
    if stated.counts == held.counts:
        return 1.0
    by = [e for e in (telling(stated, held) if not element else [element]) if e in held.counts]
    found = {
        round(stated.amounts[e] / held.amounts[e] * held.molar_mass / stated.molar_mass, 12)
        for e in by
    }
    if not found:
        raise InputError(f"{stated.text} and {held.text} have no element in common")
    if len(found) > 1:
        raise InputError(
            f"{stated.text} does not say how much {held.text} it stands for: it shares "
            f"{' and '.join(by)} with it in other proportions; give the element"
        )
    return found.pop()


def telling(stated: Formula, held: Formula) -> list[str]:
    """The elements of what is stated that count, as far as the other holds them.

    Oxygen, hydrogen and carbon count only where nothing else is stated.
    """
    own = [e for e in stated.counts if e not in {"O", "H", "C"}]
    own = own or [e for e in stated.counts if e not in {"O", "H"}] or list(stated.counts)
    return [e for e in own if e in held.counts]


def fraction_of(stated: float, formula: str, substance: Substance) -> float:
    """The mass fraction of a substance that an assay stands for; raises InputError."""
    held = substance.parsed
    if held is None:
        raise InputError(f"{substance.name} has no formula, so {formula} says nothing of it")
    share = stated * factor(formulas.parse(formula), held)
    if share > 1.0005:
        most = 1 / factor(formulas.parse(formula), held)
        raise InputError(
            f"{digits.percent(stated)} {formula} is more than pure {substance.name} holds "
            f"({digits.percent(most)})"
        )
    return min(share, 1.0)


def readings(
    substance: Substance, figure: float, low: float, high: float
) -> tuple[tuple[str, float], ...]:
    """(formula, share of the substance) of what a bare figure may have been stated in.

    Only what brings it near ``low`` to ``high`` counts, what such goods hold; nearest first.
    """
    held = substance.parsed
    if held is None:
        return ()
    elements = [e for e in held.counts if e not in {"O", "H", "C"}]
    elements.sort(key=lambda e: e not in METALS)
    oxides = [o for o in OXIDES if set(formulas.parse(o).counts) & set(elements)]
    out = []
    for text in (*elements, *oxides):
        try:
            share = figure * factor(formulas.parse(text), held)
        except InputError:
            continue
        if FAR * low <= share <= min(1.005, high / FAR):
            out.append((text, min(share, 1.0)))
    return tuple(sorted(out, key=lambda r: abs(2 * r[1] - low - high)))


def ask_back(substance: Substance, name: str, figure: float, low: float, high: float) -> None:
    """Raise InputError where a bare figure lies far below ``low``, the least a solid holds."""
    if figure >= FAR * low or substance.parsed is None:
        return
    said = f"{100 * figure:.4g} %"
    own = substance.formula
    usual = digits.percent(low) if low == high else (
        f"{digits.percent(low)} to {digits.percent(high)}")  # fmt: skip
    asked = [
        f"'{said} {text}' if the label gives {NAMES.get(text, text)} (then it holds "
        f"{digits.percent(share)} {substance.name})"
        for text, share in readings(substance, figure, low, high)[:2]
    ]
    asked.append(f"'{said} {own}' if it is really {said} {substance.name}")
    raise InputError(
        f"strength '{said}' of {name} is far from the usual {usual} {substance.name}; "
        f"write {', or '.join(asked)}"
    )
