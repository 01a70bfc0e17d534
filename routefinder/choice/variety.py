"""When two routes are really different, and which are variants of one another.

A route's *way* is: its key intermediates, that is, what it makes and uses on as a reactant and what
carries an element of the target other than hydrogen and oxygen; what the limiting starting material
gives; and whether a current drives the making of any of them. Forms of one substance (hydrates,
solutions) count as one. Routes of one way differ in side work only: in where an acid or alkali
comes from, in drying first, in a counter-ion.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.chem.formula import parse
from routefinder.library.library import Library

EVERYWHERE = frozenset({"H", "O"})


@dataclass(frozen=True)
class Way:
    """What makes a route really different; ``through`` and ``start`` are ids of anhydrous forms."""

    through: frozenset[str]
    start: frozenset[str]
    by_current: bool


def way(library: Library, route: Assessment) -> Way:
    """The way of a route."""
    carried = _elements(library, route.amounts.target)
    target = library.root(route.amounts.target)
    through: set[str] = set()
    start: set[str] = set()
    for step in route.amounts.steps:
        for feed in step.feeds:
            if feed.role != "reactant":
                continue
            root = library.root(feed.form)
            if isinstance(feed.origin, str):
                if root != target and (not carried or _elements(library, root) & carried):
                    through.add(root)
            elif feed.origin.id == route.amounts.limits:
                start.add(root)
    current = any(
        s.record.kind == "electrolysis" and library.root(s.main.substance) in through | {target}
        for s in route.steps
    )
    return Way(frozenset(through), frozenset(start), current)


def _elements(library: Library, substance: str) -> frozenset[str]:
    formula = library.substances[substance].formula
    return frozenset(parse(formula).counts) - EVERYWHERE if formula else frozenset()


def leaders(library: Library, routes: Sequence[Assessment]) -> list[int | None]:
    """For each route the first route (counted from 0) of the same way, None for that one itself."""
    first: dict[Way, int] = {}
    out: list[int | None] = []
    for i, route in enumerate(routes):
        leader = first.setdefault(way(library, route), i)
        out.append(None if leader == i else leader)
    return out
