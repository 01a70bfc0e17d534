"""When two routes are really different, and which are variants of one another.

The one place that says so; lists, ``--different``, coverage and groups of routes all ask here. A
route's *way* is what becomes of the atoms that make the target's value (``library.value``): the
intermediates through which they go, the starting material that brings them, whether a current
drives the making of any of these, and what oxidises or reduces them. Forms of one substance
(hydrates, solutions) count as one. Routes of one way differ in side work only: in where an acid,
an alkali, a wash or a drying agent comes from, in drying first, in a counter-ion.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.library import value as values
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep


@dataclass(frozen=True)
class Way:
    """What makes a route really different; ``through`` and ``start`` are ids of anhydrous forms.

    ``with_`` are what oxidises or reduces what is carried: a metal is dissolved with peroxide or
    with air.
    """

    through: frozenset[str]
    start: frozenset[str]
    by_current: bool
    with_: frozenset[str] = frozenset()


def way(library: Library, route: Assessment) -> Way:
    """The way of a route."""
    feeds = {
        (a.step.id, f.substance): f.origin
        for a in route.amounts.steps
        for f in a.feeds
        if f.role == "reactant"
    }
    makers = {key: origin for key, origin in feeds.items() if isinstance(origin, str)}
    return way_of(library, route.amounts.target, route.steps, route.amounts.last, makers)


def way_of(
    library: Library,
    target: str,
    steps: Sequence[ResolvedStep],
    last: str,
    makers: Mapping[tuple[str, str], str],
) -> Way:
    """The way of a set of steps; ``makers`` says which step makes a reactant of which.

    (step id, substance in its equation) -> id of the making step; what is not there comes from the
    shelf. ``last`` makes the target.
    """
    by_id = {s.id: s for s in steps}

    def maker(step: ResolvedStep, part: Part) -> str | None:
        return makers.get((step.id, part.substance))

    goal = library.root(target)
    through: set[str] = set()
    start: set[str] = set()
    agents: set[str] = set()
    driven = {last}
    carry = values.path(library, target, by_id, last, maker)
    carrying = {(step.id, part.substance) for step, part, _ in carry}
    for _, part, origin in carry:
        root = library.root(part.substance)
        if origin is None:
            start.add(root)
        elif root != goal:
            through.add(root)
        if origin is not None:
            driven.add(origin)
    for step_id in driven:
        for part in by_id[step_id].reactants:
            if (step_id, part.substance) not in carrying and _acts(library, part.substance):
                agents.add(library.root(part.substance))
    current = any(by_id[s].record.kind == "electrolysis" for s in driven)
    return Way(frozenset(through), frozenset(start), current, frozenset(agents))


def _acts(library: Library, substance: str) -> bool:
    """Whether it is an element, or oxidises or reduces by what it is; acids and alkalis do not."""
    formula = library.substances[substance].parsed
    return formula is not None and (len(formula.counts) == 1 or formula.text in _AGENTS)


# what the steps of the trade oxidise and reduce with, besides elements: common practice
_AGENTS = frozenset({
    "H2O2", "2Na2CO3·3H2O2", "NaClO", "Ca(ClO)2", "KMnO4", "MnO2", "HNO3", "KNO3", "NaNO3",
    "FeCl3", "Na2SO3", "NaHSO3", "Na2S2O4", "Na2S2O8", "CO", "C6H8O6", "C6H12O6", "C12H22O11",
})  # fmt: skip


def leaders(library: Library, routes: Sequence[Assessment]) -> list[int | None]:
    """For each route the first route (counted from 0) of the same way, None for that one itself."""
    first: dict[Way, int] = {}
    out: list[int | None] = []
    for i, route in enumerate(routes):
        leader = first.setdefault(way(library, route), i)
        out.append(None if leader == i else leader)
    return out
