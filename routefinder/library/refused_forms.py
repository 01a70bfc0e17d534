"""Readings of a text as formulas, and what is left of a salt: what ``regulated`` judges.

People write a formula with its state ("HCN(g)"), with words ("NaN3, dry"), with a number before it
("2 HCN"), in full-width or look-alike letters, or within a name. Each of these is read as the bare
formula. Salts are taken apart into their acid or base, by atoms alone (common practice).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from routefinder.chem import formula as formulas
from routefinder.chem.elements import ATOMIC_WEIGHTS
from routefinder.errors import FormulaError

Counts = dict[str, Fraction]
_NONMETALS = "H He B C N O F Ne Si P S Cl Ar Ge As Se Br Kr Sb Te I Xe At Rn"
METALS = frozenset(ATOMIC_WEIGHTS) - frozenset(_NONMETALS.split())
WATER: Counts = {"H": Fraction(2), "O": Fraction(1)}

# capital letters of other alphabets that look like Latin ones
_CAPITALS = str.maketrans("АВЕКМНОРСТХІЅΑΒΕΖΗΙΚΜΝΟΡΤΧ", "ABEKMHOPCTXISABEZHIKMNOPTX")
_SMALL = str.maketrans("аеіорсѕԁһ", "aeiopcsdh")
_KEPT = frozenset("₀₁₂₃₄₅₆₇₈₉⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻½¼¾⅓⅔·•∙⋅")  # ``chem.formula`` reads these itself
_STATE = re.compile(
    r"[(\[{]\s*(?:g|l|s|c|cr|aq|gas|liq(?:uid)?|sol(?:id|n|ution)?|vap(?:ou?r)?|conc\.?|dil\.?|am|"
    r"[a-z]{1,3}\.?,\s*[a-z]{1,4}\.?)\s*[)\]}]",
    re.IGNORECASE,
)
_NUMBER = re.compile(
    r"^\s*(?:\d+(?:[.,/]\d+)?|n|x)(?:\s*(?:mol|mmol|g|kg|mg|mL|L|ppm|%)\b)?\s*(?:[x×*·]\s*)?"
    r"(?=[A-Z(\[])"
)
_AMOUNT = re.compile(
    r"(?<![\w)\]])\d+(?:[.,]\d+)?\s*(?:%|°?C\b|K\b|ppm\b|[mk]?g\b|m?L\b|m?mol\b|M\b|N\b|bar\b)"
    r"(?:\s*w/[wv])?|\d+(?:[.,]\d+)?\s*-\s*\d+\s*%",
    re.IGNORECASE,
)
_ANY_WATER = re.compile(r"([·•∙⋅*.])\s*[nx]\s*(?=H2O)")
_BEGINS = re.compile(r"\s*[\[(A-Z0-9½¼]")
_NO_FORMULA = re.compile(r"[a-z]{2}|[,;:_%?!'\"<>=]")  # no symbol has two small letters
_EDGES = " \t\n.,;:!?'\"`´“”‘’<>=|~↑↓→&"


@lru_cache(maxsize=16384)
def latin(text: str) -> str:
    """One spelling of letters: no full-width, look-alike or invisible characters."""
    if text.isascii():
        return text
    out = "".join(
        c if c in _KEPT else unicodedata.normalize("NFKC", c)
        for c in text
        if unicodedata.category(c) != "Cf"
    )
    return out.translate(_CAPITALS).translate(_SMALL)


@lru_cache(maxsize=16384)
def parsed(text: str) -> formulas.Formula | None:
    """The formula that a text is, or None."""
    if len(text) > 200 or _NO_FORMULA.search(text) or not _BEGINS.match(text):
        return None
    try:
        return formulas.parse(text)
    except FormulaError:
        return None


def readings(text: str, words: frozenset[str]) -> Iterator[tuple[formulas.Formula, bool]]:
    """(formula, whether the whole text is that formula) of every formula in a text.

    ``words`` are those that say nothing of what a thing is: state, purity, package.
    """
    plain = _ANY_WATER.sub(r"\1", latin(text))
    found = parsed(plain)
    if found is not None:
        yield found, True
        return
    if not re.search("[A-Z]", plain):
        return
    bare = _AMOUNT.sub(" ", _STATE.sub(" ", plain))
    pieces = [p.strip(_EDGES) for p in re.split(r"[\s,;:_/+&–—=|]+|-(?![+\d]*$)", bare)]
    kept = [p for p in pieces if p and not _says_nothing(p, words)]
    whole = _NUMBER.sub("", " ".join(kept))
    alone = parsed(_unwrapped(whole))
    if alone is not None:
        yield alone, True
        if len(bare.split()) >= len(kept):  # "K Cl O4": blanks alone part no two substances
            return
    each = [parsed(_unwrapped(piece)) for piece in kept]
    for piece, one in zip(kept, each, strict=True):
        # "N-methyl", "CO" within other words
        apart = len(piece) > 2 and piece[0] + piece[-1] in {"()", "[]"}
        if one is not None and (all(each) or apart or len(one.text) > 2):
            yield one, False


def _says_nothing(piece: str, words: frozenset[str]) -> bool:
    bare = piece.strip("()[]{}")
    # "NO" in capitals is no word
    return bare.casefold() in words and (len(bare) < 2 or not bare.isupper() or not parsed(bare))


def small_readings(text: str, words: frozenset[str]) -> list[formulas.Formula]:
    """Every formula that a text without capitals may be: "hcn" is HCN, "cocl2" two things."""
    plain = _STATE.sub(" ", _AMOUNT.sub(" ", latin(text)))
    kept = [p for p in re.split(r"[\s,;:_/=]+", plain.strip(_EDGES)) if p and p not in words]
    if len(kept) == 2 and re.fullmatch(r"\d+(?:[.,/]\d+)?|n|x", kept[0]):
        del kept[0]
    if len(kept) != 1 or not re.fullmatch(r"(?=.*[a-z].*[a-z])[a-z0-9()]{3,20}", kept[0]):
        return []
    found: list[str] = [""]
    for letters, rest in re.findall(r"([a-z]+)|([^a-z]+)", kept[0]):
        heads = _symbols(letters) if letters else (rest,)
        found = [f + head for f in found for head in heads]
        if not 0 < len(found) <= 64:
            return []
    ways = [f for f in map(parsed, found) if f is not None]
    return ways if all(len(f.counts) > 1 for f in ways) else []


def _symbols(letters: str) -> list[str]:
    """The ways to write letters as symbols of elements."""
    if not letters:
        return [""]
    out = []
    for size in (1, 2):
        symbol = letters[:size].capitalize()
        if len(symbol) == size and symbol in ATOMIC_WEIGHTS:
            out += [symbol + rest for rest in _symbols(letters[size:])]
    return out[:65]


def _unwrapped(text: str) -> str:
    """Without brackets or quotes around all of it."""
    text = text.strip(_EDGES)
    while len(text) > 2 and text[0] + text[-1] in {"()", "[]", "{}"} and _closes_last(text):
        text = text[1:-1].strip(_EDGES)
    return text if _balanced(text) else text.strip("()[]{}")


def _balanced(text: str) -> bool:
    return all(text.count(a) == text.count(b) for a, b in ("()", "[]"))


def _closes_last(text: str) -> bool:
    depth = 0
    for i, c in enumerate(text):
        depth += (c in "([{") - (c in ")]}")
        if depth == 0:
            return i == len(text) - 1
    return False


def key(counts: Counts) -> frozenset[tuple[str, Fraction]]:
    """Equal for equal atoms; P4 and S8 are the element."""
    if set(counts) in ({"P"}, {"S"}):
        counts = dict.fromkeys(counts, Fraction(1))
    return frozenset(counts.items())


def dry(formula: formulas.Formula) -> Counts:
    """Atoms of one formula unit without crystal water; a number before all of it does not count."""
    parts = [(m, dict(elements)) for m, elements in formula.parts]
    if len(parts) > 1:
        parts = [(m, e) for m, e in parts if e != WATER] or parts
    if len(parts) == 1:
        return _out_of_bracket(formula, parts[0][1])
    out: Counts = {}
    for multiplier, elements in parts:
        for element, count in elements.items():
            out[element] = out.get(element, Fraction(0)) + multiplier * count
    return out


def _out_of_bracket(formula: formulas.Formula, elements: Counts) -> Counts:
    """ "(HCN)2" is HCN: a bracket around a whole part counts what is in it."""
    for piece in formula.text.split("^")[0].split("·"):
        match = re.fullmatch(r"(?:\d+(?:[./]\d+)?)?([(\[].+[)\]])(\d+)", piece)
        if match and _closes_last(match[1]):
            number = Fraction(match[2])
            inner = {el: n / number for el, n in elements.items()}
            if parsed(match[1][1:-1]) is not None:
                return inner
    return elements


# acids of amine salts, one molecule each; organic acids only where a dot keeps them apart
_STRONG = tuple(
    dict(formulas.parse(f).counts) for f in ("HCl", "HBr", "HI", "H2SO4", "HNO3", "H3PO4")
)
_ORGANIC = tuple(
    dict(formulas.parse(f).counts)
    for f in ("C2H4O2", "C2H2O4", "C4H4O4", "C4H6O4", "C4H6O6", "C6H8O7", "CH4O3S", "C7H8O3S")
)
_RATIOS = ((1, 1), (2, 1), (1, 2), (3, 1))  # base molecules to acid molecules
_AMMONIA: Counts = {"N": Fraction(1), "H": Fraction(3)}
# the usual charges of a metal's ions in salts; others are tried with 2 and 3 (textbook knowledge)
_CHARGES = {**dict.fromkeys(("Li", "Na", "K", "Rb", "Cs", "Ag", "Tl"), (1,)), "Cu": (1, 2),
            "Hg": (1, 2), **dict.fromkeys(("Mg", "Ca", "Sr", "Ba", "Zn", "Cd"), (2,)),
            "Al": (3,), "Zr": (4,), "Th": (4,)}  # fmt: skip


def _minus(counts: Counts, other: Counts, times: int) -> Counts | None:
    out = dict(counts)
    for element, n in other.items():
        left = out.get(element, Fraction(0)) - n * times
        if left < 0:
            return None
        out[element] = left
    return {el: n for el, n in out.items() if n}


def _share(counts: Counts, number: int) -> Iterator[Counts]:
    """One of ``number`` equal shares of the atoms, if they can be shared."""
    if all((n / number).denominator == 1 for n in counts.values()):
        yield {el: n / number for el, n in counts.items()}


def _shares(counts: Counts) -> Iterator[Counts]:
    """The atoms, and their halves, thirds and quarters."""
    for number in (1, 2, 3, 4):
        yield from _share(counts, number)


def bases(formula: formulas.Formula) -> list[Counts]:
    """What an organic salt may be the salt of when its acid is taken off: amine sulfates."""
    out: list[Counts] = []
    parts = [dict(elements) for _, elements in formula.parts]
    if len(parts) > 1:
        for part in parts:
            if "C" in part and part not in _ORGANIC:
                out += _shares(part)
    whole = dry(formula)
    if {"C", "N", "H"} <= set(whole):
        for acid in _STRONG:
            for base, number in _RATIOS:
                rest = _minus(whole, acid, number)
                if rest and {"C", "H"} <= set(rest) and "N" in rest:
                    out += _share(rest, base)
    return out


def acids(formula: formulas.Formula) -> list[Counts]:
    """The acid of an organic salt: metals changed for hydrogen, ammonia taken off."""
    whole = dry(formula)
    metals = [el for el in whole if el in METALS]
    out: list[Counts] = []
    if "C" not in whole:
        return out
    if metals and "H" in whole:
        rest = {el: n for el, n in whole.items() if el not in METALS}
        charges = {m: _CHARGES.get(m, (2, 3)) for m in metals}
        for charge in sorted({c for each in charges.values() for c in each}):
            number = sum(
                (whole[m] * (charge if charge in charges[m] else charges[m][0]) for m in metals),
                Fraction(0),
            )
            out += _shares({**rest, "H": rest.get("H", Fraction(0)) + number})
    elif formula.charge < 0:
        out += [{**whole, "H": whole.get("H", Fraction(0)) - formula.charge}]
    elif "N" in whole:
        for times in (1, 2):
            less = _minus(whole, _AMMONIA, times)
            # smaller ones are amides, hydrazides and amino acids of all kinds
            if less and less.get("C", 0) >= 6 and "H" in less:
                out.append(less)
    return out
