"""Which acquisitions open a route, or a better one: exact, on the reaction graph.

An acquisition (a purchase, a limit given up) is one step that makes all the nodes it gives, so that
a route pays it once however often it serves. With f(A) the least cost of a route that has the
acquisitions A besides the shelf, and F(n) the least f over all sets of at most n, this lists

    level n: every set A of n acquisitions with f(A) < F(n - 1)

so a set is listed only if nothing smaller does as well, its own parts included. Within a level the
sets come in order of f. A set that another of its level stands *below* (each of its acquisitions
gives no more than its partner in the other set) at no greater cost is left out.

A level is gone through by Lawler's partition (1972): the best set is taken out by solving once
more without each of its members.
"""

from __future__ import annotations

import heapq
import itertools
import time
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.errors import InputError
from routefinder.graph.network import PlainStep, network
from routefinder.search import best
from routefinder.search.route import Ending, Found

INF = float("inf")
TRIFLE = 1e-6  # what an acquisition adds to the cost of a route, so that none is had for nothing
SAME = 1e-5  # costs nearer to one another than this count as the same

SHARE = 0.3  # what an acquisition adds in a search for cheaper routes, as a share of the bar

# (acquisitions left out, most of them or None, what each adds, cost to be undercut) -> best route
Solve = Callable[[frozenset[str], int | None, float, float], Found]


@dataclass(frozen=True)
class Opened:
    """A set of acquisitions, and the best route that it opens.

    ``steps`` is in a workable order, acquisitions left out; ``cost`` is the route's own.
    """

    acquired: tuple[str, ...]
    steps: tuple[str, ...]
    cost: float


@dataclass(frozen=True)
class Openings:
    """What ``unlock`` gives back.

    ``now`` is the cost of the best route without acquisitions (infinite when there is none).
    ``levels`` holds, per number of acquisitions gone through, how it ended: ``all`` sets listed,
    ``proven`` (the best are listed, there are more), ``none``, or ``stopped`` by the time limit.
    """

    now: float
    opened: tuple[Opened, ...]
    levels: Mapping[int, Ending]


def unlock(
    steps: Sequence[PlainStep],
    shelf: Iterable[str],
    target: str,
    acquisitions: Mapping[str, Iterable[str]],
    *,
    takes: Mapping[str, Sequence[str]] | None = None,
    most: int = 2,
    k: int = 5,
    seconds: float = INF,
    caps: Sequence[best.Cap] = (),
    accept: Callable[[tuple[str, ...]], bool] | None = None,
    same: Callable[[Opened], Hashable] | None = None,
) -> Openings:
    """Up to ``k`` sets of each size up to ``most`` that open a route, or a better one.

    ``acquisitions`` gives per acquisition the nodes that it makes, ``takes`` what it needs itself
    (nothing, where it is not named). ``accept`` is asked about every
    route, acquisitions included. Raises InputError for k or most below 1, a bad step, or an
    acquisition that bears a step's id. Sets for which ``same`` gives the same count once to ``k``.
    """
    given = {name: tuple(dict.fromkeys(nodes)) for name, nodes in acquisitions.items()}
    for step in steps:
        if step.id in given:
            raise InputError(f"{step.id!r} is both a step and an acquisition; rename one")
    started = time.monotonic()
    shelf = tuple(shelf)
    costs = {step.id: step.cost for step in steps}

    def solve(
        left_out: frozenset[str],
        limit: int | None,
        each: float,
        bar: float,
    ) -> Found:
        buying = [
            PlainStep(name, (takes or {}).get(name, ()), nodes, each + trifle(nodes))
            for name, nodes in given.items()
            if name not in left_out and nodes and target not in nodes
        ]
        worth, limits = INF, list(caps)
        if limit is not None and bar == INF:
            worth = each * (limit + 1)  # a route costs less than one acquisition
        elif limit is not None:
            worth = bar + (each + 2 * TRIFLE) * limit
            limits.append(best.Cap(dict.fromkeys(given, 1.0), limit))

        def wanted(ids: tuple[str, ...]) -> bool:
            return sum(costs.get(i, 0.0) for i in ids) < bar and (accept is None or accept(ids))

        return best.search(
            network([*steps, *buying]), shelf, target, 1,
            seconds=max(1e-3, seconds - (time.monotonic() - started)), caps=limits,
            accept=wanted if accept is not None or bar < INF else None, worth=lambda: worth,
        )  # fmt: skip

    sets = {name: frozenset(nodes) for name, nodes in given.items()}
    # dearer than any route, so that the fewest acquisitions come first
    weight = 1.0 + sum(step.cost for step in steps)

    def left() -> float:
        return seconds - (time.monotonic() - started)

    return levels(solve, sets, takes or {}, most=most, k=k, left=left, weight=weight, same=same)


def trifle(nodes: Iterable[str]) -> float:
    """The cost of an acquisition beside nothing: a little more for one that gives more."""
    return TRIFLE * (1 + 1e-3 * len(tuple(nodes)))


def levels(
    solve: Solve,
    gives: Mapping[str, frozenset[str]],
    takes: Mapping[str, Sequence[str]],
    *,
    most: int,
    k: int,
    left: Callable[[], float],
    weight: float = 0.0,
    fewest: int | None = None,
    same: Callable[[Opened], Hashable] | None = None,
) -> Openings:
    """Go through the levels with any search that is exact for one route.

    ``gives`` and ``takes`` are the nodes of each acquisition, ``left`` the seconds that are left.
    ``weight`` is more than any route costs: added to each acquisition it finds how many are needed
    at all, unless ``fewest`` says so (then it may be 0). Where more than ``most`` are needed, one
    such set is given all the same.

    Raises InputError when k or most is below 1.
    """
    if k < 1 or most < 1:
        raise InputError(f"k is {k} and most is {most}; both must be at least 1")
    today = solve(frozenset(gives), None, 0.0, INF)
    now = today.routes[0].cost if today.routes else INF
    ending = {0: Ending.STOPPED if today.ending is Ending.STOPPED else Ending.ALL}
    out: list[Opened] = []
    if ending[0] is Ending.STOPPED:
        return Openings(now, (), ending)
    before = now
    start = 1
    if now == INF and fewest is not None:
        start = fewest
    elif now == INF:  # how many does it take at all?
        first = solve(frozenset(), None, weight, INF)
        if not first.routes or first.ending is Ending.STOPPED:
            stopped = first.ending is Ending.STOPPED
            ended = Ending.STOPPED if stopped else Ending.NONE  # not with all of them
            return Openings(now, (), {**ending, **dict.fromkeys(range(1, most + 1), ended)})
        start = len(set(first.routes[0].steps) & set(gives))
    ending.update(dict.fromkeys(range(1, start), Ending.NONE))
    covers = {
        b: frozenset(a for a in gives if gives[a] >= gives[b]
                     and set(takes.get(a, ())) <= set(takes.get(b, ())))
        for b in gives
    }  # fmt: skip
    extra = {name: trifle(nodes) for name, nodes in gives.items()}
    for size in range(start, max(start, most) + 1):
        if size > most:
            k = 0  # it takes more than asked: one such set is told all the same
        each = weight if before == INF else SHARE * before if weight else 0.0
        found, ended = _level(solve, covers, extra, size, before, each, k, left, same)
        out += found
        ending[size] = ended
        before = min([before, *(o.cost for o in found)])
        if ended is Ending.STOPPED:
            break
    return Openings(now, tuple(out), ending)


def _level(
    solve: Solve,
    covers: Mapping[str, frozenset[str]],
    extra: Mapping[str, float],
    size: int,
    before: float,
    each: float,
    k: int,
    left: Callable[[], float],
    same: Callable[[Opened], Hashable] | None,
) -> tuple[list[Opened], Ending]:
    """The sets of ``size`` acquisitions with a route cheaper than ``before``, cheapest first.

    Up to ``k`` of them; with ``k`` 0 the cheapest alone, without asking for others.

    A set that stands above none of those listed holds, for one member of each of them, nothing that
    covers it: if every member had a partner, and no way to give each its own, then some members
    would share fewer partners than they are, and these alone would open a route as good, with fewer
    acquisitions than ``size`` (Hall's theorem). So leaving out all that covers a member, for each
    member in turn, loses nothing.
    """
    bar = INF if before == INF else before - SAME * max(1.0, before)
    seen: list[Opened] = []
    counted: set[Hashable] = set()
    stopped = more = False
    number = itertools.count()
    heap: list[tuple[float, int, Opened, frozenset[str]]] = []
    tried: set[frozenset[str]] = set()

    def search(left_out: frozenset[str]) -> None:
        nonlocal stopped
        if left_out in tried or stopped:
            return
        tried.add(left_out)
        found = solve(left_out, size, each, bar)
        stopped = stopped or found.ending is Ending.STOPPED
        if not found.routes or found.ending is Ending.STOPPED:
            return
        route = found.routes[0]
        acquired = tuple(sorted(i for i in route.steps if i in covers))
        cost = route.cost - sum(each + extra[a] for a in acquired)
        if cost < bar:
            steps = tuple(i for i in route.steps if i not in covers)
            heapq.heappush(heap, (cost, next(number), Opened(acquired, steps, cost), left_out))

    search(frozenset())
    while heap and not stopped:
        _, _, opened, left_out = heapq.heappop(heap)
        below = next((o for o in seen if _above(opened.acquired, o.acquired, covers)), None)
        if below is None:
            counted.add(same(opened) if same else opened.acquired)
            if len(counted) > max(k, 1):
                more = True
                break
            seen.append(opened)
            if k == 0:
                more = True  # whether there are others is not looked for
                break
            below = opened
        for acquisition in below.acquired:
            search(left_out | covers[acquisition])
        if left() <= 0:
            stopped = True
    if stopped:
        return seen, Ending.STOPPED
    if not seen:
        return seen, Ending.NONE
    return seen, Ending.PROVEN if more else Ending.ALL


def _above(mine: Sequence[str], other: Sequence[str], covers: Mapping[str, frozenset[str]]) -> bool:
    """Whether each of ``other`` is covered by a partner of its own in ``mine``."""
    return len(mine) == len(other) and any(
        all(a in covers[b] for a, b in zip(order, other, strict=True))
        for order in itertools.permutations(mine)
    )
