"""Solid solutions by parameter: "Rinmann's green, x = 0.1" is the library at that composition.

A substance that ``varies`` has a formula in x ("Zn{1-x}Co{x}O"); so have what is made on the way to
it. At another x their formulas and the equations of the steps that make or take them are written
anew and balanced; all else is the library's. The doubt of an assay is a doubt of x: what is weighed
by an assay of which r times as much is true gives x' = x r / (1 - x + x r).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from routefinder import units
from routefinder.chem import equation as equations
from routefinder.chem import formula as formulas
from routefinder.errors import Fault, InputError
from routefinder.library.assemble import FileEntry, find_substance, resolve_step
from routefinder.library.library import Library
from routefinder.library.read import Document
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.step import Step
from routefinder.records.substance import Substance

_ASKED = re.compile(r"^\s*(?P<name>.+?)\s*[,;]?\s*\b(?:with\s+)?x\s*=\s*(?P<x>[\d.,]+\s*%?)\s*$")
_BRACES = re.compile(r"\{([^{}]*)\}")
_TERM = re.compile(r"([+-]?)(\d*\.?\d*)(x?)")


@dataclass(frozen=True)
class Composition:
    """What is wanted: a substance of the library at ``x``, and the library at that."""

    library: Library
    substance: Substance
    x: float


def asked(text: str) -> tuple[str, float] | None:
    """(name, x) of "Rinmann's green, x = 0.1"; None where no x is named."""
    found = _ASKED.match(text)
    return None if found is None else (found["name"], units.read_fraction(found["x"]))


def formula_at(pattern: str, x: float) -> str:
    """A formula in x at one x: "Zn{1-x}Co{x}O" at 0.1 is "Zn0.9Co0.1O"."""

    def worked(match: re.Match[str]) -> str:
        value = sum(
            (-1 if sign == "-" else 1) * float(figure or 1) * (x if letter else 1)
            for sign, figure, letter in _TERM.findall(match[1].replace(" ", ""))
            if figure or letter
        )
        if abs(value - 1) < 1e-12:
            return ""
        near = Fraction(value).limit_denominator(1000)
        # "17.8Co" would read as 17 and a hydrate's dot
        return f"{value:.6g}" if value < 1 or near.denominator == 1 else str(near)

    return _BRACES.sub(worked, pattern)


def at(library: Library, name: str, x: float) -> Composition:
    """The library with ``name`` at composition x. Raises InputError for what has none, or no such.

    Raises NameNotFound, AmbiguousName for a name that does not do.
    """
    target = library.substance(name)
    varies = target.varies
    if varies is None:
        known = [s.name for s in library.substances.values() if s.varies and not s.varies.with_]
        raise InputError(
            f"{target.name} has one composition; an x is known of {', '.join(sorted(known))}"
        )
    lead = library.substances[varies.with_] if varies.with_ else target
    if not varies.low <= x <= varies.high:
        raise InputError(
            f"x = {x:g} is outside {varies.low:g} to {varies.high:g}, where {target.name} is one "
            f"phase of this structure ({varies.formula.replace('{', '').replace('}', '')})"
        )
    changed = {
        s.id: s.model_copy(update={
            "formula": formulas.parse(formula_at(s.varies.formula, x)).text,
            **({"name": f"{s.name}, x = {x:g}", "names": (s.name, *s.names)}
               if s is target else {}),
        })
        for s in library.substances.values()
        if s.varies is not None and (s is lead or s.varies.with_ == lead.id)
    }  # fmt: skip
    substances = {i: changed.get(i, s) for i, s in library.substances.items()}
    new = replace(library, substances=substances, in_solution=library.soluble,
                  fingerprint=f"{library.fingerprint} {target.id} x = {x!r}")  # fmt: skip
    steps = {}
    for step in library.steps.values():
        parts = {p.substance for p in (*step.reactants, *step.products)}
        rewritten = step
        if parts & set(changed):
            rewritten = _rewritten(library, new, step.record, set(changed))
        steps[step.id] = rewritten
    new.steps = steps
    new.worked_out = {
        key: (step, substances, value)
        for key, (step, _, value) in library.worked_out.items()
        if steps.get(step.id) is step
    }
    return Composition(new, changed[target.id], x)


def _rewritten(library: Library, new: Library, record: Step, changed: set[str]) -> ResolvedStep:
    """A step at the new formulas, balanced again."""
    if record.equation is None:
        raise InputError(f"{record.id} is a recipe by mass and has no composition")
    old = record.parsed
    ids = {t.species: str(find_substance(library, t.species)[0]) for t in (*old.left, *old.right)}
    text = {
        species: (new.substances[i].formula or i) if i in changed else species
        for species, i in ids.items()
    }
    moved = equations.Equation(
        tuple(replace(t, species=text[t.species]) for t in old.left),
        tuple(replace(t, species=text[t.species]) for t in old.right),
    )
    parsed = {
        text[species]: formulas.parse(new.substances[i].formula or "") for species, i in ids.items()
    }
    balanced = equations.balance(moved, parsed)
    update = {
        "equation": str(balanced),
        "product": text.get(record.product, record.product),
        "limiting": text.get(record.limiting, record.limiting),
    }
    faults: list[Fault] = []
    entry = FileEntry(record.model_copy(update=update), Document(Path(), "", None), ())
    found = resolve_step(new, entry, faults)
    if found is None:
        raise InputError(f"{record.id} cannot be written at this composition: {faults[0].what}")
    return found


def doubts(found: Composition, supplies: Sequence[Supply]) -> list[tuple[Supply, float, float]]:
    """What the assays of what brings the second metal make of x: (supply, least, greatest)."""
    varies = found.substance.varies
    assert varies is not None
    element = re.findall(r"([A-Z][a-z]?)\{[\d.]*x\}", varies.formula)[0]
    makers = {
        p.substance
        for s in found.library.steps.values()
        if s.main.substance == found.substance.id
        for p in s.reactants
    }
    roots = {found.library.root(i) for i in makers}
    out = []
    for supply in supplies:
        parsed = found.library.substances[supply.main].parsed
        if parsed is None or element not in parsed.counts:
            continue
        if found.library.root(supply.main) not in roots:
            continue
        w = supply.fractions[supply.main]
        low, high = supply.low.get(supply.main, w) / w, supply.high.get(supply.main, w) / w
        x = found.x
        out.append((supply, x * low / (1 - x + x * low), x * high / (1 - x + x * high)))
    return sorted(out, key=lambda row: row[2] - row[1])
