"""Scheduling of blocks under shared resources, working hours and one pair of hands; no chemistry.

A block is one batch of one step: groups of segments. The segments of a group follow each other
without a gap; between groups one may pause (the night), while what the block holds (its vessel)
stays taken. A segment may need somebody there (working hours) and resources for itself.

Serial schedule generation: blocks are placed one after the other, each as early as it goes; the
order decides. Up to EXACT blocks every order that respects what must come first is tried; beyond
that the orders of several priority rules and SAMPLES seeded random ones, and the best is kept.
The method: Kolisch and Hartmann, "Heuristic algorithms for the resource-constrained project
scheduling problem", 1999 (from memory).
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from routefinder.assessment.calendar import DAY, Calendar
from routefinder.errors import InputError

EXACT = 6
SAMPLES = 200
WORK = 6000  # blocks times orders, so that many batches do not take long
HORIZON = 730 * DAY
EPS = 1e-6
HANDS = "hands"


@dataclass(frozen=True)
class Segment:
    """A stretch of a block. ``present``: somebody must be there; ``label`` is passed through.

    ``outside``: no working hours are long enough, so that somebody must be there beyond them.
    """

    label: str
    minutes: float
    present: bool = False
    resources: tuple[str, ...] = ()
    outside: bool = False


@dataclass(frozen=True)
class Block:
    """Groups of segments; ``holds`` is taken from first to last, ``after`` must be done before."""

    id: str
    groups: tuple[tuple[Segment, ...], ...]
    holds: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Time without any pause."""
        return sum(s.minutes for g in self.groups for s in g)


@dataclass(frozen=True)
class Placed:
    """A segment with its place in time."""

    block: str
    segment: Segment
    start: float
    end: float


@dataclass(frozen=True)
class Timetable:
    """Where everything lies; ``exact`` when every order was tried.

    ``unwatched`` are segments that need somebody there for longer than any working stretch.
    """

    placed: tuple[Placed, ...]
    spans: Mapping[str, tuple[float, float]]
    exact: bool
    unwatched: tuple[tuple[str, Segment], ...]

    @property
    def makespan(self) -> float:
        """When the last block ends, in minutes from the start."""
        return max((end for _, end in self.spans.values()), default=0.0)


@dataclass
class _Usage:
    capacities: Mapping[str, int]
    taken: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def free_from(self, resource: str, start: float, end: float) -> float | None:
        """None when one more fits into start to end, else the next moment worth trying."""
        if end - start <= EPS:
            return None
        room = max(self.capacities.get(resource, 1), 1)
        near = [
            (a, b) for a, b in self.taken.get(resource, ()) if a < end - EPS and b > start + EPS
        ]
        if len(near) < room:
            return None
        points = sorted({start, *(a for a, _ in near if a > start)})
        for point in points:
            over = [b for a, b in near if a <= point + EPS and b > point + EPS]
            if len(over) >= room:
                return min(over)
        return None

    def take(self, resource: str, start: float, end: float) -> None:
        if end - start > EPS:
            self.taken.setdefault(resource, []).append((start, end))


def _fit(
    group: Sequence[Segment],
    at: float,
    usage: _Usage,
    calendar: Calendar | None,
    until: float = HORIZON,
) -> float | None:
    """The first start from ``at`` on at which a group fits; None when there is none before."""
    start = at
    while start < until:
        moved = None
        offset = 0.0
        for segment in group:
            here = start + offset
            offset += segment.minutes
            if segment.minutes <= EPS:
                continue
            if segment.present and not segment.outside and calendar is not None:
                fits = calendar.next_fit(here, segment.minutes)
                if fits is None:
                    return None
                if fits > here + EPS:
                    moved = start + fits - here
                    break
            for resource in segment.resources:
                free = usage.free_from(resource, here, here + segment.minutes)
                if free is not None:
                    moved = start + free - here
                    break
            if moved is not None:
                break
        if moved is None:
            return start
        start = moved
    return None


def _place(
    block: Block, ready: float, usage: _Usage, calendar: Calendar | None
) -> list[Placed] | None:
    begin = ready
    while begin < HORIZON:
        out: list[Placed] = []
        at = begin
        for group in block.groups:
            start = _fit(group, at, usage, calendar)
            if start is None:
                return None
            for segment in group:
                out.append(Placed(block.id, segment, start, start + segment.minutes))
                start += segment.minutes
            at = start
        if not out:
            return out
        first, last = out[0].start, out[-1].end
        waits = [free for r in block.holds if (free := usage.free_from(r, first, last)) is not None]
        if not waits:
            return out
        begin = max(min(waits), begin + EPS)
    return None


def _serial(
    order: Sequence[Block], capacities: Mapping[str, int], calendar: Calendar | None
) -> tuple[list[Placed], dict[str, tuple[float, float]]] | None:
    usage = _Usage(capacities)
    spans: dict[str, tuple[float, float]] = {}
    placed: list[Placed] = []
    for block in order:
        ready = max((spans[a][1] for a in block.after), default=0.0)
        found = _place(block, ready, usage, calendar)
        if found is None:
            return None
        if not found:
            spans[block.id] = (ready, ready)
            continue
        spans[block.id] = (found[0].start, found[-1].end)
        _take(usage, block, found, spans[block.id])
        placed += found
    return placed, spans


def orders(blocks: Sequence[Block]) -> Iterator[tuple[Block, ...]]:
    """Every order in which a block comes after what must be done before it."""

    def extend(done: tuple[Block, ...], left: tuple[Block, ...]) -> Iterator[tuple[Block, ...]]:
        if not left:
            yield done
            return
        names = {b.id for b in done}
        for block in left:
            if set(block.after) <= names:
                yield from extend((*done, block), tuple(b for b in left if b is not block))

    return extend((), tuple(blocks))


def _tails(blocks: Sequence[Block]) -> dict[str, float]:
    """Longest time from a block's start to the end of what hangs on it."""
    by_id = {b.id: b for b in blocks}
    followers: dict[str, list[str]] = {b.id: [] for b in blocks}
    for block in blocks:
        for before in block.after:
            followers[before].append(block.id)
    out: dict[str, float] = {}

    def tail(name: str) -> float:
        if name not in out:
            out[name] = by_id[name].minutes + max((tail(f) for f in followers[name]), default=0.0)
        return out[name]

    for block in blocks:
        tail(block.id)
    return out


def _by_priority(blocks: Sequence[Block], rank: Mapping[str, float]) -> list[Block]:
    """An order that respects what comes first, by greatest rank among those that may go."""
    left, out = list(blocks), list[Block]()
    done: set[str] = set()
    while left:
        ready = [b for b in left if set(b.after) <= done]
        best = max(ready, key=lambda b: rank[b.id])
        left.remove(best)
        done.add(best.id)
        out.append(best)
    return out


def _check(blocks: Sequence[Block]) -> None:
    names = [b.id for b in blocks]
    if len(set(names)) != len(names):
        raise InputError("two blocks bear the same name")
    known = set(names)
    for block in blocks:
        for before in block.after:
            if before not in known:
                raise InputError(f"{block.id} comes after {before}, which is not there")
    done: set[str] = set()
    left = list(blocks)
    while left:
        ready = [b for b in left if set(b.after) <= done]
        if not ready:
            raise InputError(f"{left[0].id} would have to come after itself")
        done |= {b.id for b in ready}
        left = [b for b in left if b.id not in done]


def _watched(
    blocks: Sequence[Block], calendar: Calendar
) -> tuple[list[Block], list[tuple[str, Segment]]]:
    """Watches that no working hours allow, put outside them from the last on, and reported.

    Hours repeat every week, so what does not fit within three weeks never does.
    """
    out: list[Block] = []
    told: list[tuple[str, Segment]] = []
    for block in blocks:
        groups = []
        for group in block.groups:
            segments = list(group)
            while _fit(segments, 0.0, _Usage({}), calendar, 21 * DAY) is None:
                last = max(k for k, s in enumerate(segments) if s.present and not s.outside)
                told.append((block.id, segments[last]))
                segments[last] = replace(segments[last], outside=True)
            groups.append(tuple(segments))
        out.append(replace(block, groups=tuple(groups)))
    return out, told


def schedule(
    blocks: Sequence[Block],
    capacities: Mapping[str, int] | None = None,
    calendar: Calendar | None = None,
    seed: int = 0,
) -> Timetable:
    """Place all blocks; as early an end as is found, ties by the sum of the ends.

    ``capacities`` says how many of a resource there are (1 when not said). Raises InputError on
    names that are missing or go in a ring.
    """
    _check(blocks)
    there = dict(capacities or {})
    told: list[tuple[str, Segment]] = []
    if calendar is not None:
        blocks, told = _watched(blocks, calendar)
    best: tuple[float, float] | None = None
    kept: tuple[list[Placed], dict[str, tuple[float, float]]] | None = None
    exact = len(blocks) <= EXACT
    # a list placed greedily can end later with more equipment (Graham 1969): less is tried too
    rooms = [there, {}] if any(n > 1 for n in there.values()) else [there]
    tries = (
        (order, room)
        for room in rooms
        for order in (orders(blocks) if exact else _tries(blocks, seed))
    )
    for order, room in tries:
        found = _serial(order, room, calendar)
        if found is None:
            continue
        ends = [end for _, end in found[1].values()]
        value = (max(ends, default=0.0), sum(ends))
        if best is None or value < (best[0] - EPS, best[1]):
            best, kept = value, found
    if kept is None:
        raise InputError("the work does not fit into two years of these working hours")
    return Timetable(
        tuple(sorted(kept[0], key=lambda p: (p.start, p.end))), kept[1], exact, tuple(told)
    )


def later(
    blocks: Sequence[Block],
    plan: Timetable,
    capacities: Mapping[str, int] | None = None,
    calendar: Calendar | None = None,
) -> Timetable:
    """The same plan with everything that something waits for as late as that allows.

    The end stays, nothing that is made lies longer than it must; the slack is gone. Starts are
    whole minutes. What ``schedule`` put outside the working hours stays there.
    """
    told = {(name, s) for name, s in plan.unwatched}
    own = {
        b.id: replace(b, groups=tuple(tuple(
            replace(s, outside=True) if (b.id, s) in told else s for s in g) for g in b.groups))
        for b in blocks
    }  # fmt: skip
    placed = {b.id: [p for p in plan.placed if p.block == b.id] for b in blocks}
    spans = dict(plan.spans)
    for name in sorted(spans, key=lambda n: -spans[n][1]):
        limits = [spans[b.id][0] for b in blocks if name in b.after]
        if not limits or not placed[name]:
            continue
        usage = _Usage(dict(capacities or {}))
        for other in placed.keys() - {name}:
            _take(usage, own[other], placed[other], spans[other])
        best = _latest(own[name], spans[name][0], min(limits), usage, calendar)
        if best is not None:
            placed[name] = best
            spans[name] = (best[0].start, best[-1].end)
    everything = sorted((p for its in placed.values() for p in its), key=lambda p: (p.start, p.end))
    return replace(plan, placed=tuple(everything), spans=spans)


def _take(usage: _Usage, block: Block, placed: Sequence[Placed], span: tuple[float, float]) -> None:
    """What a block takes where it lies."""
    for p in placed:
        for resource in p.segment.resources:
            usage.take(resource, p.start, p.end)
    for resource in block.holds:
        usage.take(resource, *span)


def _latest(
    block: Block, start: float, limit: float, usage: _Usage, calendar: Calendar | None
) -> list[Placed] | None:
    """The block as late as ``limit`` allows, in whole minutes; None where it cannot move."""
    low, high = 0, math.floor(limit - start)
    best = None
    while low < high:  # the end never falls as the start rises
        middle = (low + high + 1) // 2
        tried = _place(block, start + middle, usage, calendar)
        if tried is not None and tried[-1].end <= limit + EPS:
            low, best = middle, tried
        else:
            high = middle - 1
    return best


def _tries(blocks: Sequence[Block], seed: int) -> Iterator[Sequence[Block]]:
    tails = _tails(blocks)
    yield _by_priority(blocks, tails)
    yield _by_priority(blocks, {b.id: -i for i, b in enumerate(blocks)})
    yield _by_priority(blocks, {b.id: b.minutes for b in blocks})
    yield _by_priority(blocks, {b.id: -b.minutes for b in blocks})
    dice = random.Random(seed)
    top = max(tails.values(), default=1.0) or 1.0
    for i in range(min(SAMPLES, WORK // max(len(blocks), 1))):
        spread = (0.1, 0.5, 2.0)[i % 3]
        yield _by_priority(
            blocks, {name: t / top + spread * dice.random() for name, t in tails.items()}
        )
