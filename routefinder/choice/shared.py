"""What several routes share and where they part.

Going back from the target: as long as all routes get a thing from the same step, they share that
step; where they do not, they part, at that thing. Behind a parting the routes that still go
together are followed on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.library.library import Library
from routefinder.vessel.step_amounts import StepAmounts


@dataclass(frozen=True)
class Parting:
    """Routes (places in the list) that get ``substance`` in different ways.

    ``ways`` pairs a step id, or the name of a material drawn from the shelf, with its routes.
    """

    substance: str
    routes: tuple[int, ...]
    ways: tuple[tuple[str, tuple[int, ...]], ...]


@dataclass(frozen=True)
class Shared:
    """``steps`` and ``materials`` that all routes have; where they part, nearest the target first.

    ``own`` are, per route, the steps that no other of them has.
    """

    steps: tuple[str, ...]
    materials: tuple[str, ...]
    partings: tuple[Parting, ...]
    own: tuple[tuple[str, ...], ...]


def shared(library: Library, routes: Sequence[Assessment]) -> Shared:
    """What the routes share, and where they part."""
    steps = tuple(s for s in routes[0].ids if all(s in r.ids for r in routes)) if routes else ()
    drawn = [
        {d.supply.id: d.supply.name for d in r.amounts.draws if not d.supply.everywhere}
        for r in routes
    ]
    materials = (
        tuple(name for s, name in drawn[0].items() if all(s in d for d in drawn)) if drawn else ()
    )
    own = tuple(
        tuple(s for s in r.ids if not any(s in o.ids for j, o in enumerate(routes) if j != i))
        for i, r in enumerate(routes)
    )
    found: list[Parting] = []
    if routes:
        at = {i: {a.step.id: a for a in r.amounts.steps} for i, r in enumerate(routes)}
        ends = {i: r.amounts.last for i, r in enumerate(routes)}
        _follow(library, at, library.root(routes[0].amounts.target), ends, found, set())
    return Shared(steps, materials, tuple(found), own)


def _follow(
    library: Library,
    at: dict[int, dict[str, StepAmounts]],
    substance: str,
    ends: dict[int, str],
    found: list[Parting],
    seen: set[tuple[tuple[int, str], ...]],
) -> None:
    """Compare how the routes in ``ends`` get a substance; then what its makers take."""
    ways: dict[str, list[int]] = {}
    for i, origin in ends.items():
        ways.setdefault(origin, []).append(i)
    key = tuple(ends.items())
    if key in seen:
        return
    seen.add(key)
    if len(ways) > 1:
        rows = tuple((origin, tuple(some)) for origin, some in ways.items())
        found.append(Parting(substance, tuple(ends), rows))
    for origin, some in ways.items():
        if len(some) < 2 or any(origin not in at[i] for i in some):
            continue
        feeds: dict[str, dict[int, str]] = {}
        for i in some:
            for feed in at[i][origin].feeds:
                if feed.role == "reactant":
                    name = feed.origin if isinstance(feed.origin, str) else feed.origin.name
                    feeds.setdefault(library.root(feed.substance), {})[i] = name
        for taken, origins in feeds.items():
            if len(origins) > 1:
                _follow(library, at, taken, origins, found, seen)
