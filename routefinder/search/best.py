"""The exact k best routes by a sum of step costs, each step counted once.

Best-first branch and bound over sets of included and excluded steps. Bounds: LM-cut
(Helmert and Domshlak 2009), counted once per step. Cores: a step can be in a route of cost at most
U only if (dearest chain before it) + its cost + (cheapest chain behind it) is at most U, because in
a minimal route these three are disjoint. A child that includes step r is bounded by the parent's
bound plus r's residual cost; the residual belongs to the bound it was computed with, never to an
inherited one.
"""

from __future__ import annotations

import math
import signal
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from routefinder.errors import InputError
from routefinder.graph.network import FREE, Network, PlainStep, network
from routefinder.search.branching import (
    CAPS,
    COUNT,
    DONE,
    EXPANDED,
    FULL,
    HEAP,
    LEAF,
    NODES,
    STAMP,
    Scratch,
    Tree,
    push,
)
from routefinder.search.branching import GOAL as GOAL_NODE
from routefinder.search.compiled import PAYS_ABOVE, loops_for
from routefinder.search.goods import Materials
from routefinder.search.parts import GOAL, NetworkPart, Parts
from routefinder.search.progress import tell
from routefinder.search.route import Ending, Found, StepSet

INF = float("inf")
EPS = 1e-9
PAUSE = 100  # expansions between two looks at the clock
ROUNDS = 200  # after so many the limit is left out
FIRST_CREEP, GROWS, CREEP = 0.005, 1.7, 0.06  # how the cost limit is raised, as shares of it
ROOM = 2000
MANY = 500


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
    worth: Callable[[], float] | None = None,
    materials: Materials | None = None,
    hopeless: Callable[[tuple[str, ...]], bool] | None = None,
    compile: bool | None = None,
) -> Found:
    """The ``k`` cheapest routes from ``shelf`` to ``target``.

    ``steps`` is any reaction network; ``shelf`` the names at hand. A route is a set of steps that
    makes the target and of which none can be dropped; its cost is the sum of its step costs.
    A target that is on the shelf already has the one empty route.

    ``caps`` are limits on further sums over the steps of a route. ``accept`` is asked about every
    route in order of cost and may turn it down (it then does not count towards ``k``).
    ``worth`` gives the cost above which no route is wanted, INF when there is none; it is asked
    again after every route. The search ends (``proven``) when no cheaper route is left.

    ``hopeless`` is asked about the steps that a branch of the search has settled on; where it says
    yes, no route that holds them all is wanted (``search.front``).

    ``materials`` adds what a route's materials cost at least to its bound (``search.priced``).

    ``seconds`` and ``node_limit`` end the search early; Ctrl-C does too. The ending is then
    ``stopped`` and ``bound`` is what no unseen route can undercut.

    ``compile`` forces the compiled or the plain kernels; by default the size decides.

    Raises InputError for k below 1, a bad step (see ``network``), or negative limits, and Refused
    when a name in the network is one that routefinder refuses, as far as it can be known by name.
    """
    net = steps if isinstance(steps, Network) else network(steps)
    at_hand = list(shelf)
    _refuse_names(net, at_hand, target)
    return search(
        net, at_hand, target, k, seconds=seconds, node_limit=node_limit, caps=caps, accept=accept,
        worth=worth, materials=materials, hopeless=hopeless, compile=compile,
    )  # fmt: skip


def search(
    steps: Iterable[PlainStep] | Network,
    shelf: Iterable[str],
    target: str,
    k: int = 10,
    *,
    seconds: float = INF,
    node_limit: int = 10_000_000,
    caps: Sequence[Cap] = (),
    accept: Callable[[tuple[str, ...]], bool] | None = None,
    worth: Callable[[], float] | None = None,
    materials: Materials | None = None,
    hopeless: Callable[[tuple[str, ...]], bool] | None = None,
    compile: bool | None = None,
) -> Found:
    """``best_routes`` on names that were judged already, or are ids of a library that was.

    Raises InputError for k below 1, a bad step (see ``network``), or negative limits.
    """
    if k < 1:
        raise InputError(f"k is {k}; ask for at least one route")
    if not seconds > 0:
        raise InputError(f"the time limit is {seconds}; give a time above 0")
    net = steps if isinstance(steps, Network) else network(steps)
    started = time.monotonic()
    at_hand = {number for name in (*shelf, FREE) if (number := net.number(name)) is not None}
    goal = net.number(target)
    if any(target == name for name in shelf):
        return Found((StepSet((), 0.0),), Ending.ALL)
    if goal is None:
        return Found((), Ending.NONE)
    loops, fast = loops_for(net.size if compile is None else PAYS_ABOVE * compile)
    parts = Parts(net, at_hand, goal, loops, fast)
    engine = _Engine(parts, started + seconds, node_limit, caps, accept, worth, materials, hopeless)
    found = engine.run(k)
    return Found(found.routes, found.ending, found.bound, found.nodes, time.monotonic() - started)


def _refuse_names(net: Network, shelf: Iterable[str], target: str) -> None:
    """Refuse a network that makes or takes what routefinder refuses; numbered nodes have no names.

    Every name is judged once; a network that has passed is not judged again.
    """
    from routefinder.library import regulated

    regulated.refuse(target, "target")
    names: Sequence[str] = net.nodes if isinstance(net.nodes, list | tuple) else ()
    for name in shelf:
        if net.number(name) is None:
            regulated.refuse(name, "taken")
    if net.judged:
        return
    made = {i for k in range(len(net.heads)) for i in net.heads.row(k)} if names else set()
    for i, name in enumerate(names):
        if name != FREE:
            regulated.refuse(name, "made" if i in made else "taken")
    net.judged = True


class _Engine:
    """One search: raises the cost limit until k routes lie below it."""

    def __init__(
        self,
        parts: Parts,
        deadline: float,
        node_limit: int,
        caps: Sequence[Cap],
        accept: Callable[[tuple[str, ...]], bool] | None,
        worth: Callable[[], float] | None,
        materials: Materials | None,
        hopeless: Callable[[tuple[str, ...]], bool] | None,
    ) -> None:
        self.hopeless = hopeless
        self.materials = materials
        self.parts = parts
        self.deadline = deadline
        self.node_limit = node_limit
        self.caps = caps
        self.accept = accept
        self.worth = worth
        self.nodes = 0
        self.stop = False

    def run(self, k: int) -> Found:
        """Search until done; Ctrl-C asks it to stop at the next pause."""
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
        parts = self.parts
        if parts.label[parts.goal] == INF:
            return Found((), Ending.NONE)
        wide, ceiling = parts.first()
        cut = parts.cut(wide)
        limit = cut.bound
        tried: list[tuple[float, int]] = []
        for attempt in range(ROUNDS + 1):
            limit = min(limit if attempt < ROUNDS else INF, self._wanted() * (1 + EPS))
            if limit > wide.limit:
                wide = parts.part(limit)
                cut = parts.cut(wide)
            part = parts.narrowed(wide, cut, limit)
            if part.whole:  # every step that can matter: the answer is complete
                limit = self._wanted() * (1 + EPS)
            routes, bound, complete = self._branch(part, k, limit)
            wanted = self._wanted()
            ending = None
            if not complete:
                ending = Ending.STOPPED
            elif len(routes) >= k or INF > limit >= wanted:
                ending = Ending.PROVEN
            elif limit == INF:
                ending, bound = Ending.ALL, INF
            if ending is not None:
                named = tuple(self._route(part, steps, proven) for steps, proven in routes)
                return Found(named, ending, bound, self.nodes)
            tried.append((limit, len(routes)))
            limit = wanted if wanted < INF else self._raised(tried, k, ceiling)
        raise AssertionError("the last attempt has no cost limit and ends")

    def _wanted(self) -> float:
        return self.worth() if self.worth is not None else INF

    @staticmethod
    def _raised(tried: list[tuple[float, int]], k: int, ceiling: float) -> float:
        """The next cost limit: a little more at first, then by steps that grow to ``CREEP``.

        A limit that leaps makes a part of nearly the whole network where a hundredth would do. When
        some routes are found their number grows about exponentially with the limit.
        """
        limit, found = tried[-1]
        most = min(FIRST_CREEP * GROWS ** (len(tried) - 1), CREEP)
        creep = limit + most * max(limit, ceiling - limit)
        if len(tried) < 2 or found < 2 or found <= tried[-2][1]:
            return creep
        before, fewer = tried[-2]
        rate = math.log(found / max(1, fewer)) / (limit - before)
        likely = limit + math.log(1.25 * k / found) / rate
        return min((1 + CREEP) * limit, max((1 + FIRST_CREEP) * limit, likely))

    def _branch(
        self, part: NetworkPart, k: int, limit: float
    ) -> tuple[list[tuple[list[int], bool]], float, bool]:
        """Routes of ``part`` up to cost ``limit`` in order, the bound on the rest, completeness.

        A route is its steps' numbers in the part, and whether it is proven.
        """
        m, n = len(part.steps), part.nodes
        full = self.parts.full
        amounts = full(max(1, m * len(self.caps)), 0.0)
        for c, cap in enumerate(self.caps):
            for i, r in enumerate(part.steps):
                amounts[c * m + i] = cap.amounts.get(self.parts.net.steps[r], 0.0)
        limits = full(max(1, len(self.caps)), 0.0)
        for c, cap in enumerate(self.caps):
            limits[c] = cap.limit * (1 + EPS)
        by_step = [full(m, 0.0) if i == 3 else full(m, 0, "int64") for i in range(9)]
        by_node = [full(n, 0.0) if i == 3 else full(n, 0, "int64") for i in range(6)]
        scratch = Scratch(*by_step, *by_node)
        tree = self._tree(ROOM + m)
        state = full(8, 0, "int64")
        state[NODES], state[GOAL_NODE], state[CAPS] = 1, GOAL, len(self.caps)
        tree.parent[0] = -1
        push(tree, state, 0)
        goods = self.parts.goods(part, self.materials)
        cost = part.cost
        if self.materials is not None:
            cost = self.parts.taken(self.parts.as_array(self.materials.work), part.steps)
        routes: list[tuple[list[int], bool]] = []
        while True:
            # a route that may be turned down, or change what is wanted, is told at once
            ready = full(min(k - len(routes), MANY) if self.accept is None else 1, 0, "int64")
            before = int(state[EXPANDED])
            pause = PAUSE
            if self.hopeless is not None:
                self._drop(part, tree, state)
                pause = 1
            budget = before + min(pause, self.node_limit - self.nodes)
            state[COUNT] = 0
            code = self.parts.loops.grow(
                part.arrays,
                cost,
                amounts,
                limits,
                tree,
                scratch,
                state,
                limit,
                budget,
                ready,
                goods,
            )
            self.nodes += int(state[EXPANDED]) - before
            for leaf in ready[: int(state[COUNT])]:
                self._keep(part, tree, leaf, True, routes)
            limit = min(limit, self._wanted() * (1 + EPS))
            if len(routes) >= k:
                return routes, self._lowest(tree, state, limit), True
            if code == FULL:
                tree = self._tree(len(tree.parent), tree)
            elif code == DONE:
                return routes, limit, True
            tell(len(routes), self.nodes, self._lowest(tree, state, limit))
            if self.stop or self.nodes >= self.node_limit or time.monotonic() > self.deadline:
                for leaf in self._leaves(tree, state)[: k - len(routes)]:
                    state[STAMP] += 1
                    self.parts.loops.run_order(
                        part.arrays, tree.arena, tree.forced[leaf], tree.forced_end[leaf],
                        state[STAMP], scratch.made,
                    )  # fmt: skip
                    self._keep(part, tree, leaf, False, routes)
                return routes, self._lowest(tree, state, limit), False

    def _drop(self, part: NetworkPart, tree: Tree, state: Any) -> None:
        """Take nodes off the heap's top that are hopeless."""
        names = self.parts.net.steps
        while state[HEAP] > 0:
            node = int(tree.heap[0])
            if tree.kind[node] == LEAF or tree.parent[node] < 0:
                return
            settled = []
            x = node
            while tree.parent[x] >= 0:
                settled.append(tree.step[x])
                x = int(tree.parent[x])
                settled += list(tree.arena[tree.forced[x] : tree.forced_end[x]])
            if not self.hopeless(tuple([names[part.steps[r]] for r in settled])):  # type: ignore[misc]
                return
            self.parts.loops.pop(tree, state)

    def _keep(
        self,
        part: NetworkPart,
        tree: Tree,
        leaf: int,
        proven: bool,
        routes: list[tuple[list[int], bool]],
    ) -> None:
        """Add a leaf's route to ``routes`` unless it is turned down."""
        chosen = list(tree.arena[tree.forced[leaf] : tree.forced_end[leaf]])
        if self.accept is None or self.accept(self._route(part, chosen, proven).steps):
            routes.append((chosen, proven))

    @staticmethod
    def _lowest(tree: Tree, state: Any, limit: float) -> float:
        return min(float(tree.bound[tree.heap[0]]), limit) if state[HEAP] > 0 else limit

    @staticmethod
    def _leaves(tree: Tree, state: Any) -> list[int]:
        """Routes already found whose turn had not come, cheapest first."""
        nodes = [int(tree.heap[j]) for j in range(int(state[HEAP]))]
        return sorted((i for i in nodes if tree.kind[i] == LEAF), key=lambda i: (tree.bound[i], i))

    def _tree(self, more: int, old: Tree | None = None) -> Tree:
        """A tree with room for ``more`` nodes beyond an old one's."""
        fresh = []
        for name in Tree._fields:
            kind = "float64" if name == "bound" else "int64"
            array = self.parts.full(more * (8 if name == "arena" else 1), 0, kind)
            if old is not None:
                kept = getattr(old, name)
                if self.parts.fast:
                    import numpy as np

                    array = np.concatenate([kept, array])
                else:
                    array = kept + array
            fresh.append(array)
        return Tree(*fresh)

    def _route(self, part: NetworkPart, chosen: list[int], proven: bool) -> StepSet:
        """A route in names; ``chosen`` is in a workable order."""
        names = self.parts.net.steps
        steps = tuple([names[part.steps[r]] for r in chosen])
        return StepSet(steps, float(sum([part.cost[r] for r in chosen])), proven)


__all__ = ["Ending", "Found", "PlainStep", "StepSet", "best_routes", "search"]
