"""Reaction equations: read, check by element and charge, balance.

    2 CuSO4(aq) + 2 Na2CO3(aq) + H2O(l) -> Cu2(OH)2CO3(s) + 2 Na2SO4(aq) + CO2(g)

A term is a coefficient (integer, decimal or fraction), a species (a formula or a substance id)
and an optional state. Terms are separated by " + " with spaces.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm

from routefinder.chem.formula import Formula, pretty
from routefinder.errors import EquationError

STATES = ("s", "l", "g", "aq")
_ARROW = re.compile(r"\s*(?:<=>|<->|-->|->|=>|→|⇌|⟶|=)\s*")
_TERM = re.compile(
    r"^\s*(?P<coefficient>\d+\s*/\s*\d+|\d+(?:\.\d+)?\s+|\d+(?=[A-Z(\[])|[½¼¾]|\d+(?:\.\d+)?(?=\s))?"
    r"\s*(?P<species>\S+?)\s*(?:\((?P<state>s|l|g|aq)\))?\s*$"
)
_SIGNS = {"½": Fraction(1, 2), "¼": Fraction(1, 4), "¾": Fraction(3, 4)}


@dataclass(frozen=True)
class Term:
    """One term of an equation. ``state`` is "" when none was written."""

    coefficient: Fraction
    species: str
    state: str = ""

    def __str__(self) -> str:
        number = "" if self.coefficient == 1 else f"{_text(self.coefficient)} "
        state = f"({self.state})" if self.state else ""
        return f"{number}{self.species}{state}"


@dataclass(frozen=True)
class Equation:
    """A reaction equation as written; coefficients are positive."""

    left: tuple[Term, ...]
    right: tuple[Term, ...]

    def __str__(self) -> str:
        return " + ".join(map(str, self.left)) + " -> " + " + ".join(map(str, self.right))

    def pretty(self) -> str:
        """The equation with subscripts and a real arrow."""

        def side(terms: Sequence[Term]) -> str:
            return " + ".join(
                ("" if t.coefficient == 1 else f"{_text(t.coefficient)} ") + pretty(t.species)
                for t in terms
            )

        return f"{side(self.left)} → {side(self.right)}"


def _text(value: Fraction) -> str:
    if value.denominator == 1:
        return str(value.numerator)
    decimal = float(value)
    return f"{decimal:g}" if Fraction(f"{decimal:g}") == value else str(value)


def parse(text: str) -> Equation:
    """Read an equation; raises EquationError that says what to write."""
    sides = _ARROW.split(text.strip())
    if len(sides) != 2 or not all(side.strip() for side in sides):
        raise EquationError(f"{text!r} must have one arrow '->' with terms on both sides")
    left, right = (tuple(_terms(side)) for side in sides)
    return Equation(left, right)


def _terms(side: str) -> list[Term]:
    terms = []
    for chunk in re.split(r"\s+\+\s+|\s*\+\s+(?=\d|[A-Z(\[])", side.strip()):
        match = _TERM.match(chunk)
        if not match or not match["species"]:
            raise EquationError(f"{chunk.strip()!r} is not a term such as '2 NaCl(aq)'")
        raw = (match["coefficient"] or "1").strip()
        coefficient = _SIGNS[raw] if raw in _SIGNS else Fraction(raw.replace(" ", ""))
        if coefficient <= 0:
            raise EquationError(f"{chunk.strip()!r} has the coefficient 0")
        terms.append(Term(coefficient, match["species"], match["state"] or ""))
    return terms


def imbalance(equation: Equation, formulas: Mapping[str, Formula]) -> dict[str, Fraction]:
    """Left minus right, per element and for "charge"; empty when the equation balances."""
    total: dict[str, Fraction] = {}
    for sign, terms in ((1, equation.left), (-1, equation.right)):
        for term in terms:
            formula = formulas[term.species]
            for element, count in formula.counts.items():
                total[element] = total.get(element, Fraction(0)) + sign * term.coefficient * count
            total["charge"] = (
                total.get("charge", Fraction(0)) + sign * term.coefficient * formula.charge
            )
    return {element: value for element, value in total.items() if value}


def balances(equation: Equation, formulas: Mapping[str, Formula]) -> bool:
    """Whether the equation balances by element and charge (a quick test in floats, to 1e-9)."""
    total: dict[str, float] = {}
    size = 0.0
    for sign, terms in ((1.0, equation.left), (-1.0, equation.right)):
        for term in terms:
            formula = formulas[term.species]
            moles = sign * float(term.coefficient)
            total["charge"] = total.get("charge", 0.0) + moles * formula.charge
            for element, count in formula.amounts.items():
                total[element] = total.get(element, 0.0) + moles * count
                size = max(size, abs(moles * count))
    return all(abs(value) <= 1e-9 * max(size, 1.0) for value in total.values())


def balance(equation: Equation, formulas: Mapping[str, Formula]) -> Equation:
    """The same species with the smallest whole coefficients that balance.

    Raises EquationError when no coefficients do, or when more than one set does. The method is
    the null space of the element-by-species matrix (Gauss-Jordan elimination in fractions).
    """
    terms = [*equation.left, *equation.right]
    signs = [1] * len(equation.left) + [-1] * len(equation.right)
    elements = sorted({el for t in terms for el in formulas[t.species].counts})
    rows = [
        [
            s * formulas[t.species].counts.get(el, Fraction(0))
            for s, t in zip(signs, terms, strict=True)
        ]
        for el in elements
    ]
    rows.append(
        [Fraction(s * formulas[t.species].charge) for s, t in zip(signs, terms, strict=True)]
    )
    free, pivots = _eliminate(rows, len(terms))
    if not free:
        raise EquationError("no coefficients balance this equation; a species is missing")
    if len(free) > 1:
        raise EquationError(
            "more than one set of coefficients balances this equation; write it as two equations"
        )
    solution = [Fraction(0)] * len(terms)
    solution[free[0]] = Fraction(1)
    for row, column in pivots:
        solution[column] = -rows[row][free[0]]
    if any(value < 0 for value in solution):
        solution = [-value for value in solution]
    if any(value <= 0 for value in solution):
        raise EquationError(
            "the equation balances only with a species left out or on the other side"
        )
    scale = lcm(*(value.denominator for value in solution))
    whole = [int(value * scale) for value in solution]
    common = gcd(*whole)
    numbers = [Fraction(value // common) for value in whole]
    new = [Term(n, t.species, t.state) for n, t in zip(numbers, terms, strict=True)]
    return Equation(tuple(new[: len(equation.left)]), tuple(new[len(equation.left) :]))


def _eliminate(rows: list[list[Fraction]], width: int) -> tuple[list[int], list[tuple[int, int]]]:
    """Reduce ``rows`` in place; return the free columns and the (row, column) pivots."""
    pivots: list[tuple[int, int]] = []
    free: list[int] = []
    row = 0
    for column in range(width):
        pick = next((r for r in range(row, len(rows)) if rows[r][column]), None)
        if pick is None:
            free.append(column)
            continue
        rows[row], rows[pick] = rows[pick], rows[row]
        head = rows[row][column]
        rows[row] = [value / head for value in rows[row]]
        for r in range(len(rows)):
            if r != row and rows[r][column]:
                factor = rows[r][column]
                rows[r] = [a - factor * b for a, b in zip(rows[r], rows[row], strict=True)]
        pivots.append((row, column))
        row += 1
    return free, pivots
