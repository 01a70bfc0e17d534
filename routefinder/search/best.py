"""The exact k best routes by a sum of step costs, each step counted once.

Best-first branch and bound over sets of included and excluded steps. Bounds: LM-cut
(Helmert and Domshlak 2009), counted once per step. Cores: a step can be in a route of cost at most
U only if (dearest chain before it) + its cost + (cheapest chain behind it) is at most U, because in
a minimal route these three are disjoint. A child that includes step r is bounded by the parent's
bound plus r's residual cost; the residual belongs to the bound it was computed with, never to an
inherited one.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from typing import Any

from routefinder.errors import InputError
from routefinder.graph.network import FREE, Network, PlainStep, network, rows, turn
from routefinder.search.compiled import PAYS_ABOVE, kernels_for
from routefinder.search.route import Ending, Found, StepSet

INF = float("inf")
EPS = 1e-9


@dataclass(frozen=True)
class Cap:
    """A limit on a sum over a route's steps: ``amounts[step]`` (0 when absent) up to ``limit``."""

    amounts: Mapping[str, float]
    limit: float


def best_routes(
    steps: Iterable[PlainStep] | Network,
    shelf: Iterable[str],
    target: str,
    k: int = 10,
    *,
    seconds: float = INF,
    node_limit: int = 10_000_000,
    caps: Sequence[Cap] = (),
    accept: Callable[[tuple[str, ...]], bool] | None = None,
    until: Callable[[float], bool] | None = None,
    ceiling: float = INF,
    compile: bool | None = None,
) -> Found:
    """The ``k`` cheapest routes from ``shelf`` to ``target``.

    ``steps`` is any reaction network; ``shelf`` the names at hand. A route is a set of steps that
    makes the target and of which none can be dropped; its cost is the sum of its step costs.
    A target that is on the shelf already has the one empty route.

    ``caps`` are limits on further sums over the steps of a route. ``accept`` is asked about every
    route in order of cost and may turn it down (it then does not count towards ``k``).
    No route dearer than ``ceiling`` is wanted. ``until`` is asked with the bound on all unseen
    routes; when it says yes, the search ends with what it has (ending ``proven``).

    ``seconds`` and ``node_limit`` end the search early; Ctrl-C does too. The ending is then
    ``stopped`` and ``bound`` is what no unseen route can undercut.

    ``compile`` forces the compiled or the plain kernels; by default the size decides.

    Raises InputError for k below 1, a bad step (see ``network``), or negative limits, and Refused
    when a name in the network is one that routefinder refuses, as far as it can be known by name.
    """
    if k < 1:
        raise InputError(f"k is {k}; ask for at least one route")
    if not seconds > 0:
        raise InputError(f"the time limit is {seconds}; give a time above 0")
    net = steps if isinstance(steps, Network) else network(steps)
    _refuse_names(net, target)
    started = time.monotonic()
    at_hand = {number for name in (*shelf, FREE) if (number := net.number(name)) is not None}
    goal = net.number(target)
    if any(target == name for name in shelf):
        return Found((StepSet((), 0.0),), Ending.ALL)
    if goal is None:
        return Found((), Ending.NONE)
    size = net.size if compile is None else PAYS_ABOVE * compile
    engine = _Engine(
        net, at_hand, goal, started + seconds, node_limit, caps, accept, kernels_for(size)
    )
    engine.until = until
    engine.ceiling = ceiling
    found = engine.run(k)
    return Found(found.routes, found.ending, found.bound, found.nodes, time.monotonic() - started)


def _refuse_names(net: Network, target: str) -> None:
    """Refuse a network that makes or takes what routefinder refuses.

    Nodes of our own libraries ("form|...") were judged with the library; numbered ones have no
    names.
    """
    names = [n for n in net.nodes if "|" not in n] if isinstance(net.nodes, list | tuple) else []
    if "|" in target or (not names and isinstance(net.nodes, list | tuple)):
        return
    from routefinder.library import regulated

    regulated.refuse(target, "target")
    made = {i for k in range(net.size) for i in net.heads.row(k)} if names else set()
    for name in names:
        if name != FREE:
            regulated.refuse(name, "made" if net.number(name) in made else "taken")


@dataclass
class _Core:
    """The part of the network that can matter below a cost bound, renumbered."""

    steps: list[int]  # numbers in the whole network
    # starts and items of tails, heads, takers, makers
    arrays: tuple[Any, ...]
    costs: list[float]
    closed: int  # bit set of the nodes at hand
    goal: int
    nodes: int
    tail_bits: list[int]
    head_bits: list[int]
    makers: list[list[int]]


class _Engine:
    def __init__(
        self,
        net: Network,
        at_hand: set[int],
        goal: int,
        deadline: float,
        node_limit: int,
        caps: Sequence[Cap],
        accept: Callable[[tuple[str, ...]], bool] | None,
        kernels: tuple[Any, bool],
    ) -> None:
        self.caps = caps
        self.accept = accept
        self.until: Callable[[float], bool] | None = None
        self.ceiling = INF
        self.kernels, self.fast = kernels
        self.net = net = net.as_arrays if self.fast else net
        self.at_hand = at_hand
        self.goal = goal
        self.deadline = deadline
        self.node_limit = node_limit
        self.nodes = 0
        self.stop = False
        self.done = False
        self.label, self.before = self._labels()

    def _full(self, size: int, value: float, whole: bool = False) -> Any:
        """A scratch array of the kind the kernels take."""
        if not self.fast:
            return [value] * size
        import numpy as np

        return np.full(size, value, dtype=np.int64 if whole else np.float64)

    def _labels(self) -> tuple[Any, Any]:
        """hmax of every node, and the dearest label among each step's reactants; kept per shelf."""
        net = self.net
        key = (self.fast, frozenset(self.at_hand))
        if key in net.labels:
            found: tuple[Any, Any] = net.labels[key]
            return found
        n, m = len(net.nodes), net.size
        label = self._full(n, INF)
        for v in self.at_hand:
            label[v] = 0.0
        rows_ = (
            net.tails.starts, net.tails.items, net.heads.starts, net.heads.items,
            net.takers.starts, net.takers.items,
        )  # fmt: skip
        before = self._full(m, INF)
        least, most = (float(min(net.costs)), float(max(net.costs))) if m else (1.0, 1.0)
        if self.fast and most < 1000 * least:
            import numpy as np

            missing = np.diff(net.tails.starts).astype(np.int32)
            self.kernels.max_labels_in_buckets(
                *rows_, net.costs, least, most, label, before, missing, np.zeros(n, np.uint8)
            )
        else:
            support, missing = self._full(m, -1, True), self._full(m, 0, True)
            self.kernels.max_labels(*rows_, net.costs, label, support, missing)
            for r in range(m):
                if support[r] >= 0:
                    before[r] = label[support[r]]
        if len(net.labels) >= 2:
            net.labels.clear()
        net.labels[key] = (label, before)
        return label, before

    def run(self, k: int) -> Found:
        """Search until done; Ctrl-C asks it to stop at the next node."""
        try:
            previous = signal.signal(signal.SIGINT, self._interrupted)
        except ValueError:  # not the main thread: nothing to catch
            return self._run(k)
        try:
            return self._run(k)
        finally:
            signal.signal(signal.SIGINT, previous)

    def _interrupted(self, *_: object) -> None:
        if self.stop:
            raise KeyboardInterrupt
        self.stop = True

    def _run(self, k: int) -> Found:
        if self.label[self.goal] == INF:
            return Found((), Ending.NONE)
        ceiling = self._first_cost() * (1 + EPS)
        if self.ceiling == INF:
            ceiling = min(ceiling, self._better_cost(self._core(ceiling)) * (1 + EPS))
        routes: list[StepSet] = []
        bound = 0.0
        size, relevant = -1, None
        for attempt in range(40):
            # a core that holds every step that can matter makes the answer complete
            limit = ceiling if attempt < 30 else INF
            if self.ceiling < INF:
                limit = self.ceiling * (1 + EPS)  # known from the start: no need to feel upwards
            core = self._core(limit)
            if len(core.steps) == size and relevant is None:
                relevant = len(self._kept(1e300))  # all that runs and leads to the target
            size = len(core.steps)
            if size == relevant:
                limit = INF
            routes, bound, complete = self._branch(core, k, limit)
            if len(routes) >= k:
                return Found(tuple(routes[:k]), Ending.PROVEN, bound, self.nodes)
            if not complete:
                return Found(tuple(routes), Ending.STOPPED, bound, self.nodes)
            if self.done or (limit < INF and limit >= self.ceiling):
                return Found(tuple(routes), Ending.PROVEN, bound, self.nodes)
            if limit == INF:
                return Found(tuple(routes), Ending.ALL, INF, self.nodes)
            ceiling *= 1.25 if len(routes) < k // 2 else 1.1
        raise AssertionError("the last attempt has no cost limit and ends")

    def _first_cost(self) -> float:
        """The counted-once cost of one route: what hmax made each node by."""
        net = self.net
        used: set[int] = set()
        stack = [self.goal]
        seen: set[int] = set()
        while stack:
            v = int(stack.pop())
            if v in self.at_hand or v in seen:
                continue
            seen.add(v)
            r = min(net.makers.row(v), key=lambda r: self.before[r] + net.costs[r])
            used.add(int(r))
            stack.extend(net.tails.row(r))
        return float(sum(net.costs[r] for r in used))

    def _better_cost(self, core: _Core) -> float:
        """The same by the cheapest derivation tree inside a core, usually less."""
        m = len(core.steps)
        label = self._labels_of(core, core.closed)
        maker = self._full(core.nodes, -1, True)
        starts = core.arrays[0]
        missing, total = self._full(m, 0, True), self._full(m, 0.0)
        for r in range(m):
            missing[r] = starts[r + 1] - starts[r]
            total[r] = core.costs[r]
        self.kernels.tree_labels(*core.arrays[2:6], label, maker, missing, total)
        used: set[int] = set()
        waiting = 1 << core.goal
        seen = core.closed
        while waiting & ~seen:
            v = _bits(waiting & ~seen)[0]
            seen |= 1 << v
            r = int(maker[v])
            if r < 0:
                return INF
            used.add(r)
            waiting |= core.tail_bits[r]
        return sum(core.costs[r] for r in used)

    def _kept(self, limit: float) -> list[int]:
        net = self.net
        after, dist = self._full(net.size, INF), self._full(len(net.nodes), INF)
        kept: list[int] = self.kernels.path_labels(
            net.tails.starts, net.tails.items, net.makers.starts, net.makers.items,
            net.costs, self.before, self.goal, limit, after, dist,
        )  # fmt: skip
        return kept

    def _core(self, limit: float) -> _Core:
        core = self._renumber(sorted(self._kept(min(limit, 1e300))))
        if limit < 1e300 and len(core.steps) > 40:
            kept = self._worth(core, limit)
            if len(kept) < 0.8 * len(core.steps):
                core = self._renumber([core.steps[r] for r in kept])
        return core

    def _renumber(self, steps: list[int]) -> _Core:
        net = self.net
        numbers: dict[int, int] = {}
        tails, heads = [], []
        for r in steps:
            tails.append([numbers.setdefault(int(v), len(numbers)) for v in net.tails.row(r)])
        goal = numbers.setdefault(self.goal, len(numbers))
        for r in steps:
            # a product that nothing here takes cannot matter
            heads.append([numbers[int(v)] for v in net.heads.row(r) if int(v) in numbers])
        n = len(numbers)
        tail_rows, head_rows = rows(tails), rows(heads)
        takers, makers = turn(tail_rows, n), turn(head_rows, n)
        closed = 0
        for v, number in numbers.items():
            if v in self.at_hand:
                closed |= 1 << number
        arrays: list[Any] = [
            part
            for table in (tail_rows, head_rows, takers, makers)
            for part in (table.starts, table.items)
        ]
        if self.fast:
            import numpy as np

            arrays = [np.asarray(part, np.int64) for part in arrays]
        return _Core(
            steps,
            tuple(arrays),
            [float(net.costs[r]) for r in steps],
            closed,
            goal,
            n,
            [sum(1 << v for v in row) for row in tails],
            [sum(1 << v for v in set(row)) for row in heads],
            [list(makers.row(v)) for v in range(n)],
        )  # fmt: skip

    def _worth(self, core: _Core, limit: float) -> list[int]:
        """The steps of a core that survive the same test on residual costs.

        LM-cut gives a bound h on every route and residual costs that sum to at most cost - h over
        the steps of a route; so a step stays only if its chain in residual costs fits in limit - h.
        """
        n, m = core.nodes, len(core.steps)
        residual: Any
        h, residual = self._cut(core, list(core.costs), core.closed, [core.goal])
        if h == INF:
            return []
        if self.fast:
            import numpy as np

            residual = np.asarray(residual)
        label = self._labels_of(core, core.closed)
        support, missing = self._full(m, -1, True), self._full(m, 0, True)
        self.kernels.max_labels(*core.arrays[:6], residual, label, support, missing)
        before = self._full(m, INF)
        for r in range(m):
            if support[r] >= 0:
                before[r] = label[support[r]]
        kept: list[int] = self.kernels.path_labels(
            core.arrays[0], core.arrays[1], core.arrays[6], core.arrays[7], residual, before,
            core.goal, (limit - h) * (1 + EPS) + EPS, self._full(m, INF), self._full(n, INF),
        )  # fmt: skip
        return sorted(kept)

    def _labels_of(self, core: _Core, closed: int) -> Any:
        """0 for what is made, INF elsewhere."""
        if not self.fast:
            return [0.0 if closed >> v & 1 else INF for v in range(core.nodes)]
        import numpy as np

        raw = closed.to_bytes((core.nodes + 7) // 8, "little")
        made = np.unpackbits(np.frombuffer(raw, np.uint8), bitorder="little")[: core.nodes]
        return np.where(made == 1, 0.0, INF)

    def _cut(
        self, core: _Core, residual: list[float], closed: int, goals: list[int]
    ) -> tuple[float, list[float]]:
        """LM-cut on a core: the bound and the residual costs."""
        m = len(core.steps)
        label = self._labels_of(core, closed)
        support, missing = self._full(m, -1, True), self._full(m, 0, True)
        zone = self._full(core.nodes, 0, True)
        if not self.fast:
            cut = self.kernels.landmark_cuts(
                *core.arrays, residual, label, support, missing, zone, goals
            )
            return cut, residual
        import numpy as np

        costs, wanted = np.asarray(residual), np.asarray(goals, np.int64)
        cut = self.kernels.landmark_cuts(*core.arrays, costs, label, support, missing, zone, wanted)
        return float(cut), costs.tolist()

    def _branch(self, core: _Core, k: int, limit: float) -> tuple[list[StepSet], float, bool]:
        """Routes of ``core`` up to cost ``limit`` in order, the bound on the rest, completeness."""
        serial = count()
        caps = [
            ([cap.amounts.get(self.net.steps[r], 0.0) for r in core.steps], cap.limit * (1 + EPS))
            for cap in self.caps
        ]
        costs, tail_bits, head_bits = core.costs, core.tail_bits, core.head_bits
        goal_bit = 1 << core.goal
        m = len(core.steps)
        routes: list[StepSet] = []
        # entry: bound, depth (negative), serial, included, excluded bits, stage, data
        heap: list[tuple[float, int, int, tuple[int, ...], int, int, Any]] = [
            (0.0, 0, next(serial), (), 0, 0, None)
        ]

        def push(
            bound: float, included: tuple[int, ...], excluded: int, stage: int, data: Any = None
        ) -> None:
            # among equal bounds the deepest first: it is nearest to a route
            depth = -len(included) if stage < 2 else -m - 1
            entry = (round(bound, 9), depth, next(serial), included, excluded, stage, data)
            heappush(heap, entry)

        def closure(included: Iterable[int]) -> int:
            closed = core.closed
            waiting = list(included)
            again = True
            while again:
                again = False
                rest = []
                for r in waiting:
                    if tail_bits[r] & ~closed == 0:
                        closed |= head_bits[r]
                        again = True
                    else:
                        rest.append(r)
                waiting = rest
            return closed

        def superfluous(included: tuple[int, ...], closed: int) -> bool:
            """Whether a step could go: the target, or all it makes, is there without it."""
            done = closed & goal_bit
            for i, r in enumerate(included):
                if not done:
                    rest = core.closed
                    for j, q in enumerate(included):
                        if j != i:
                            rest |= head_bits[q]
                    if head_bits[r] & ~rest:
                        continue  # it alone makes something
                without = closure(included[:i] + included[i + 1 :])
                if without & goal_bit or head_bits[r] & ~without == 0:
                    return True
            return False

        while heap:
            if self.stop or self.nodes >= self.node_limit or time.monotonic() > self.deadline:
                bound = heap[0][0]
                ready = sorted(e for e in heap if e[5] == 2)[: max(0, k - len(routes))]
                extra = [self._route(core, e[3], proven=False) for e in ready]
                if self.accept is not None:
                    extra = [route for route in extra if self.accept(route.steps)]
                return routes + extra, min(bound, limit), False
            if self.until is not None and self.until(heap[0][0]):
                self.done = True
                return routes, heap[0][0], True
            bound, _, _, included, excluded, stage, data = heappop(heap)
            if stage == 2:
                route = self._route(core, included, proven=True)
                if self.accept is not None and not self.accept(route.steps):
                    continue
                routes.append(route)
                if len(routes) >= k:
                    return routes, min(heap[0][0] if heap else INF, limit), True
                continue
            if stage == 0:
                self.nodes += 1
                if any(sum(amounts[r] for r in included) > cap for amounts, cap in caps):
                    continue
                closed = closure(included)
                if superfluous(included, closed):
                    continue
                own = sum(costs[r] for r in included)
                if closed & goal_bit:
                    if own <= limit:
                        push(own, included, excluded, 2)
                    continue
                wanted = goal_bit
                for r in included:
                    wanted |= tail_bits[r]
                goals = _bits(wanted & ~closed)
                residual = list(costs)
                for r in included:
                    residual[r] = 0.0
                for r in _bits(excluded):
                    residual[r] = INF
                cut, residual = self._cut(core, residual, closed, goals)
                if cut == INF:
                    continue
                floor = own + cut
                bound = max(bound, floor)
                if bound > limit + EPS:
                    continue
                data = (floor, residual, goals)
                if heap and bound > heap[0][0] + EPS:
                    push(bound, included, excluded, 1, data)
                    continue
            floor, residual, goals = data
            chosen = set(included)
            for r in range(m):
                if floor + residual[r] > limit + EPS and r not in chosen:
                    excluded |= 1 << r
            branch = _branch_on(core, goals, chosen, excluded)
            branch.sort(key=lambda r: residual[r])
            for r in branch:
                child = max(bound, floor + residual[r])
                if child <= limit + EPS:
                    push(child, (*included, r), excluded, 0)
                excluded |= 1 << r
        return routes, limit, True

    def _route(self, core: _Core, included: tuple[int, ...], proven: bool) -> StepSet:
        """The steps of a route in an order in which they can be run."""
        closed = core.closed
        waiting = sorted(included)
        order: list[int] = []
        while waiting:
            for r in waiting:
                if core.tail_bits[r] & ~closed == 0:
                    closed |= core.head_bits[r]
                    order.append(r)
                    waiting.remove(r)
                    break
            else:
                raise AssertionError("a route that cannot be run was emitted")
        names = tuple(self.net.steps[core.steps[r]] for r in order)
        return StepSet(names, sum(core.costs[r] for r in included), proven)


def _branch_on(core: _Core, goals: list[int], chosen: set[int], excluded: int) -> list[int]:
    """Steps of which every route below this node holds at least one.

    The makers of the goal that has fewest and none included; when every goal has an included
    maker that waits for another goal (a cycle), the makers of all goals.
    """
    best: list[int] | None = None
    for g in goals:
        makers = core.makers[g]
        if any(r in chosen for r in makers):
            continue
        allowed = [r for r in makers if not excluded >> r & 1]
        if best is None or len(allowed) < len(best):
            best = allowed
    if best is not None:
        return best
    return list(
        dict.fromkeys(
            r for g in goals for r in core.makers[g] if r not in chosen and not excluded >> r & 1
        )
    )


def _bits(value: int) -> list[int]:
    out = []
    while value:
        low = value & -value
        out.append(low.bit_length() - 1)
        value ^= low
    return out


__all__ = ["Ending", "Found", "PlainStep", "StepSet", "best_routes"]
