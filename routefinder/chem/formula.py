"""Chemical formulas: groups, hydrates with any dot, charges; molar mass and printing.

Grammar (a number may be an integer, a decimal or a fraction such as ½):

    formula := part (dot part)* charge?
    part    := number? unit+
    unit    := element count? | "(" unit+ ")" count? | "[" unit+ "]" count?
    dot     := "·" "•" "∙" "⋅" "*" or "." before something that is itself a part
    charge  := "^" digits? sign | sign digits? | superscripts

A "." after a digit other than a lone 0 is read as a hydrate dot when a part follows
(``CuSO4.5H2O``), and as a decimal sign otherwise (``Zn0.93Co0.07O``). A trailing digit and
sign without "^" reads as a subscript and a single charge (``NH4+`` is NH4 with +1), so write
``Cu^2+`` or ``Cu+2`` for the copper ion.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache

from routefinder.chem.elements import ATOMIC_WEIGHTS
from routefinder.errors import FormulaError

_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_TO_SUBSCRIPTS = str.maketrans("0123456789.", "₀₁₂₃₄₅₆₇₈₉.")
_TO_SUPERSCRIPTS = str.maketrans("0123456789+-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")
_FRACTIONS = {"½": "0.5", "¼": "0.25", "¾": "0.75", "⅓": "1/3", "⅔": "2/3"}
_DOTS = "·•∙⋅*"

_CHARGE = re.compile(r"(?:\^(\d*)([+-])|([+-])(\d*)|([+-]+))$")
_TOKEN = re.compile(r"(?P<element>[A-Z][a-z]?)|(?P<open>[(\[])|(?P<close>[)\]])")
_COUNT = re.compile(r"\d+/\d+|\d+\.\d+|\d+")
_LEADING = re.compile(r"\d+/\d+|\d+\.\d+|\d+|\.\d+")


@dataclass(frozen=True)
class Formula:
    """A parsed formula.

    ``parts`` holds, per dot-separated part, its multiplier and its element counts; ``charge``
    is in elementary charges; ``text`` is the formula with plain digits and "·" dots.
    """

    text: str
    parts: tuple[tuple[Fraction, tuple[tuple[str, Fraction], ...]], ...]
    charge: int

    @cached_property
    def amounts(self) -> dict[str, float]:
        """Atoms of each element in one formula unit, as floats."""
        return {element: float(count) for element, count in self.counts.items()}

    @cached_property
    def counts(self) -> dict[str, Fraction]:
        """Atoms of each element in one formula unit."""
        total: dict[str, Fraction] = {}
        for multiplier, elements in self.parts:
            for element, count in elements:
                total[element] = total.get(element, Fraction(0)) + multiplier * count
        return total

    @cached_property
    def molar_mass(self) -> float:
        """Molar mass in g/mol, from the IUPAC 2021 abridged atomic weights."""
        return sum(count * ATOMIC_WEIGHTS[el] for el, count in self.amounts.items())

    @property
    def waters(self) -> Fraction:
        """Molecules of crystal water in one formula unit (0 for an anhydrous formula)."""
        water = (("H", Fraction(2)), ("O", Fraction(1)))
        if len(self.parts) < 2:
            return Fraction(0)
        return sum((m for m, elements in self.parts[1:] if elements == water), Fraction(0))

    @property
    def key(self) -> tuple[object, ...]:
        """Equal for two spellings of the same formula, different for two hydrates."""
        parts = tuple((m, tuple(sorted(elements))) for m, elements in self.parts)
        return (*sorted(parts, key=repr), self.charge)

    def mass_fraction(self, element: str) -> float:
        """Mass of ``element`` in 1 g of the substance."""
        return (
            float(self.counts.get(element, 0)) * ATOMIC_WEIGHTS.get(element, 0.0) / self.molar_mass
        )

    def pretty(self) -> str:
        """The formula with real subscripts and superscripts: CuSO₄·5H₂O."""
        return pretty(self.text)


def normalise(text: str) -> str:
    """Plain digits, "·" dots, ASCII charge; nothing else is changed."""
    out = text.strip().translate(_SUBSCRIPTS)
    # a superscript charge becomes ^n+ so that its digits cannot be taken for a subscript
    match = re.search(r"[⁰¹²³⁴⁵⁶⁷⁸⁹]*[⁺⁻]$", out)
    if match:
        out = out[: match.start()] + "^" + match.group().translate(_SUPERSCRIPTS)
    for sign, plain in _FRACTIONS.items():
        out = out.replace(sign, plain)
    for dot in _DOTS:
        out = out.replace(dot, "·")
    return out.replace("−", "-").replace("–", "-").replace(" ", "")


@lru_cache(maxsize=8192)
def parse(text: str) -> Formula:
    """Parse ``text``; raises FormulaError that says where and what to write instead."""
    plain = normalise(text)
    if not plain:
        raise FormulaError("the formula is empty")
    if len(plain) > 300:
        raise FormulaError("the formula is longer than 300 characters")
    body, charge = plain, 0
    match = _CHARGE.search(plain)
    if match and match.start() > 0:
        digits = match[1] or match[4] or ""
        sign = match[2] or match[3] or match[5]
        charge = (int(digits) if digits else len(sign)) * (1 if sign[0] == "+" else -1)
        body = plain[: match.start()]
    pieces = _split_parts(body, text)
    parts = tuple(_parse_part(piece, text) for piece in pieces)
    return Formula(text="·".join(pieces) + _charge_text(charge), parts=parts, charge=charge)


def _charge_text(charge: int) -> str:
    if not charge:
        return ""
    size = "" if abs(charge) == 1 else str(abs(charge))
    return f"^{size}{'+' if charge > 0 else '-'}"


def _split_parts(body: str, text: str) -> list[str]:
    pieces: list[str] = []
    start = 0
    for i, char in enumerate(body):
        if char == "·" or (char == "." and _is_hydrate_dot(body, start, i)):
            pieces.append(body[start:i])
            start = i + 1
    pieces.append(body[start:])
    if any(not piece for piece in pieces):
        raise FormulaError(f"{text!r} has a dot with nothing on one side of it")
    return pieces


def _is_hydrate_dot(body: str, start: int, i: int) -> bool:
    before = body[start:i]
    digits = re.search(r"\d+$", before)
    if digits and digits.group() == "0":
        return False  # 0.93
    after = re.match(r"(?:\d+/\d+|\d+\.\d+|\d+)?[A-Z(\[]", body[i + 1 :])
    return bool(before) and not re.fullmatch(r"\d+", before) and after is not None


def _number(digits: str, text: str) -> Fraction:
    try:
        return Fraction(digits)
    except ZeroDivisionError:
        raise FormulaError(f"{text!r} divides by 0") from None


def _parse_part(piece: str, text: str) -> tuple[Fraction, tuple[tuple[str, Fraction], ...]]:
    multiplier = Fraction(1)
    match = _LEADING.match(piece)
    i = 0
    if match:
        multiplier = _number(match.group(), text)
        i = match.end()
    if i == len(piece):
        raise FormulaError(f"{text!r} has a number with no formula behind it")
    if multiplier == 0:
        raise FormulaError(f"{text!r} has a part with the number 0")
    stack: list[tuple[dict[str, Fraction], str]] = [({}, "")]
    while i < len(piece):
        match = _TOKEN.match(piece, i)
        if not match:
            raise FormulaError(
                f"{text!r}: {piece[i]!r} cannot stand in a formula; "
                "element symbols begin with a capital letter"
            )
        i = match.end()
        if match["open"]:
            stack.append(({}, match["open"]))
            continue
        if match["close"]:
            if len(stack) == 1:
                raise FormulaError(f"{text!r} closes a bracket that was never opened")
            group, opened = stack.pop()
            if {"(": ")", "[": "]"}[opened] != match["close"]:
                raise FormulaError(f"{text!r} closes {opened!r} with {match['close']!r}")
            if not group:
                raise FormulaError(f"{text!r} has an empty bracket")
            items = group
        else:
            element = match["element"]
            if element not in ATOMIC_WEIGHTS:
                raise FormulaError(f"{text!r}: there is no element {element!r}")
            items = {element: Fraction(1)}
        count = Fraction(1)
        number = _COUNT.match(piece, i)
        if number:
            count = _number(number.group(), text)
            i = number.end()
            if count == 0:
                raise FormulaError(f"{text!r} has the number 0 as a subscript")
        top = stack[-1][0]
        for el, n in items.items():
            top[el] = top.get(el, Fraction(0)) + n * count
    if len(stack) > 1:
        raise FormulaError(f"{text!r} opens a bracket that is never closed")
    return multiplier, tuple(stack[0][0].items())


def molar_mass(text: str) -> float:
    """Molar mass of a formula in g/mol."""
    return parse(text).molar_mass


def pretty(text: str) -> str:
    """Print a formula with subscripts and a superscript charge; other text is given back."""
    try:
        plain = parse(text).text
    except FormulaError:
        return text  # an id, not a formula
    out: list[str] = []
    charge = ""
    match = re.search(r"\^(\d*)([+-])$", plain)
    if match:
        charge = (match[1] + match[2]).translate(_TO_SUPERSCRIPTS)
        plain = plain[: match.start()]
    at_part_start = True
    i = 0
    while i < len(plain):
        number = re.match(r"\d+/\d+|\d+\.\d+|\d+", plain[i:])
        if number:
            run = number.group()
            # "CuSO4.5H2O": the dot starts a new part, it is not a decimal sign
            if "." in run and not at_part_start and _is_hydrate_dot(plain, 0, i + run.index(".")):
                run = run[: run.index(".")]
            out.append(_fraction_sign(run) if at_part_start else run.translate(_TO_SUBSCRIPTS))
            i += len(run)
            at_part_start = False
            continue
        char = plain[i]
        if char in "·.":
            out.append("·")
            at_part_start = True
        else:
            out.append(char)
            at_part_start = False
        i += 1
    return "".join(out) + charge


def _fraction_sign(run: str) -> str:
    return {"0.5": "½", "1/2": "½", "1.5": "1½", "0.25": "¼", "2.5": "2½"}.get(run, run)
