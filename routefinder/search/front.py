"""The non-dominated routes, found in the search.

A route dominates another if it is at least as good in every measure and better in one. The search
goes through the routes in order of one sum of step costs (``best``) and keeps an archive of the
non-dominated ones. A node of the tree is cut when the archive dominates a lower bound, measure by
measure, of all routes below it. Measures need not be sums: all that is asked is ``vector``, the
measures of a whole route, and ``lower``, which for some of a route's steps gives no more than the
vector of any route that holds them all. This is multi-objective branch and bound with bound sets
(Ehrgott and Gandibleux 2007, cited from memory).

**What is complete.** When the search comes to an end by itself the front is complete. When it is
stopped, it holds every non-dominated route whose cost in the search's order lies below ``below``;
routes that an unseen, dearer route would dominate may then still stand in it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from routefinder.graph.network import Network
from routefinder.search import best
from routefinder.search.route import Ending

Vector = tuple[float, ...]
INF = float("inf")
SHAVE = 1e-12  # what the arithmetic of a bound may be off by


@dataclass(frozen=True)
class Member:
    """One route with its measures, less is better."""

    steps: tuple[str, ...]
    cost: float
    vector: Vector


@dataclass(frozen=True)
class Front:
    """The non-dominated routes, cheapest first in the order of the search.

    ``beaten`` are the dominated routes that were looked at; ``cut`` counts the branches that were
    left unseen because all their routes are dominated.
    """

    routes: tuple[Member, ...]
    beaten: tuple[Member, ...]
    ending: Ending
    below: float
    cut: int
    seconds: float

    @property
    def complete(self) -> bool:
        """Whether no further non-dominated route exists."""
        return self.ending is not Ending.STOPPED


def dominates(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether ``a`` is nowhere greater than ``b`` and somewhere less."""
    return all(x <= y for x, y in zip(a, b, strict=True)) and any(
        x < y for x, y in zip(a, b, strict=True)
    )


def rounded(value: float) -> float:
    """Ten significant digits, so that dominance does not hang on the order of a summation."""
    return float(f"{value:.10g}")


def front(
    net: Network,
    shelf: Iterable[str],
    target: str,
    vector: Callable[[tuple[str, ...]], Vector],
    *,
    lower: Callable[[tuple[str, ...]], Vector] | None = None,
    seeds: Iterable[tuple[str, ...]] = (),
    accept: Callable[[tuple[str, ...]], bool] | None = None,
    caps: Sequence[best.Cap] = (),
    seconds: float = INF,
) -> Front:
    """The non-dominated routes among those that ``accept`` takes.

    ``vector`` is asked once a route; ``lower`` about the steps that a branch of the search has
    settled on. ``seeds`` are routes known to be good in something: they make the cuts sharper.
    """
    started = time.monotonic()
    cost = {name: float(net.costs[r]) for r, name in enumerate(net.steps)}
    seen: dict[frozenset[str], Member | None] = {}
    archive: list[Vector] = []
    cut = 0

    def note(ids: tuple[str, ...]) -> bool:
        """Take a route down; False, so that the search goes on to the next."""
        key = frozenset(ids)
        if key in seen or time.monotonic() - started > seconds:
            return False
        seen[key] = None
        if accept is None or accept(ids):
            v = tuple(rounded(x) for x in vector(ids))
            seen[key] = Member(ids, sum(cost[s] for s in ids), v)
            if v not in archive and not any(dominates(a, v) for a in archive):
                archive[:] = [a for a in archive if not dominates(v, a)]
                archive.append(v)
        return False

    def hopeless(ids: tuple[str, ...]) -> bool:
        nonlocal cut
        if lower is None or not archive:
            return False
        bound = tuple(rounded(x - abs(x) * SHAVE) for x in lower(ids))
        beaten = any(dominates(a, bound) for a in archive)
        cut += beaten
        return beaten

    for ids in seeds:
        note(ids)
    left = max(1e-3, seconds - (time.monotonic() - started))
    found = best.search(
        net, shelf, target, 10**9, seconds=left, caps=caps, accept=note,
        hopeless=hopeless if lower is not None else None,
    )  # fmt: skip
    members = sorted((m for m in seen.values() if m is not None), key=lambda m: (m.cost, m.steps))
    best_ones = set(archive)
    stopped = found.ending is Ending.STOPPED
    return Front(
        tuple(m for m in members if m.vector in best_ones),
        tuple(m for m in members if m.vector not in best_ones),
        Ending.STOPPED if stopped else Ending.ALL if members else Ending.NONE,
        found.bound if stopped else INF, cut, time.monotonic() - started,
    )  # fmt: skip
