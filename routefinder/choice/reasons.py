"""What makes each group of routes different, in one line made from the titles of steps.

Groups are the ways of ``variety``. The line names the step that most sets the group apart: one that
all its routes have and the fewest others; of several, the one nearest to the target.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.choice.variety import Way, way
from routefinder.library.library import Library
from routefinder.listing import listed


@dataclass(frozen=True)
class Group:
    """Routes of one way (places in the list, from 0) and what sets them apart."""

    routes: tuple[int, ...]
    way: Way
    reason: str


def groups(library: Library, routes: Sequence[Assessment]) -> tuple[Group, ...]:
    """The really different ways among some routes, in order of their first route."""
    found: dict[Way, list[int]] = {}
    for i, route in enumerate(routes):
        found.setdefault(way(library, route), []).append(i)
    return tuple(
        Group(tuple(places), w, _reason(library, routes, places, w)) for w, places in found.items()
    )


def _reason(library: Library, routes: Sequence[Assessment], places: Sequence[int], w: Way) -> str:
    """ "goes through basic copper carbonate: "precipitate ...", which no other does"."""
    mine = [routes[i] for i in places]
    others = [r for i, r in enumerate(routes) if i not in places]
    through = listed([library.name(s).removesuffix(", anhydrous") for s in sorted(w.through)])
    head = f"through {through}" if through else "straight from the shelf"
    if w.by_current:
        head += ", by current"
    common = [s for s in mine[0].steps if all(s.id in r.ids for r in mine)]
    if not common or not others:
        return head
    shared = {s.id: sum(s.id in r.ids for r in others) for s in common}
    fewest = min(shared.values())
    step = [s for s in common if shared[s.id] == fewest][-1]
    title = step.title[0].lower() + step.title[1:]
    if fewest == 0:
        return f"{head}: the only way with “{title}”"
    if fewest == len(others):
        return f"{head}: all its steps stand in the others too; it does without the rest"
    return f"{head}: with “{title}”, as {fewest} of the {len(others)} other routes"
