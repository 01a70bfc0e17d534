"""A network seen from one shelf and one target: labels, first routes, and the part that matters.

A step can be in a route of cost at most U only if (dearest chain before it) + its cost + (cheapest
chain behind it) is at most U, because in a minimal route these three are disjoint. The same holds
in the residual costs of a landmark bound h for a budget of U - h.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from routefinder.graph.network import Network
from routefinder.search.goods import Goods, Materials
from routefinder.search.kernels import Arrays

INF = float("inf")
EPS = 1e-9
WIDE = 1.04  # the first part reaches this much beyond the first route's cost
WORTH_CUTTING = 0.9
LOOSE_ABOVE = 5000  # steps of a part whose root bound need not be the sharpest
HAND, GOAL = 0, 1  # numbers of these nodes in every part


@dataclass
class NetworkPart:
    """Some steps of a network, renumbered: node 0 is at hand, node 1 the goal."""

    steps: Any  # numbers in the whole network
    arrays: Arrays
    cost: Any
    tail_from: Any  # where each entry stood in the whole network's rows
    head_from: Any
    nodes: int
    limit: float  # every route up to this cost lies within
    whole: bool  # whether every route does


@dataclass(frozen=True)
class RootCut:
    """LM-cut of a whole part: the bound on every route, residual costs, hmax in these."""

    bound: float
    residual: Any
    label: Any


class Parts:
    """Cuts parts out of a network for one shelf and target."""

    def __init__(self, net: Network, at_hand: set[int], goal: int, loops: Any, fast: bool) -> None:
        self.loops, self.fast = loops, fast
        self.net = net = net.as_arrays if fast else net
        self.at_hand = at_hand
        self.goal = goal
        self.arrays = Arrays(
            net.tails.starts, net.tails.items, net.heads.starts, net.heads.items,
            net.takers.starts, net.takers.items, net.makers.starts, net.makers.items,
        )  # fmt: skip
        self.label, self.hand = self._labels()

    def full(self, size: int, value: float, kind: str = "float64") -> Any:
        """A scratch array of the kind the loops take."""
        if not self.fast:
            return [value] * size
        import numpy as np

        return np.full(size, value, dtype=kind)

    def _labels(self) -> tuple[Any, Any]:
        """hmax of every node, and what is at hand; kept per shelf."""
        net = self.net
        key = (self.fast, frozenset(self.at_hand))
        if key in net.labels:
            found: tuple[Any, Any] = net.labels[key]
            return found
        n, m = len(net.nodes), net.size
        label, hand = self.full(n, INF), self.full(n, 0, "uint8")
        for v in self.at_hand:
            label[v] = 0.0
            hand[v] = 1
        if self.fast and float(net.costs.max()) < 1000 * float(net.costs.min()):
            import numpy as np

            least = float(net.costs.min()) * (1 - EPS)
            buckets = int(float(net.costs.max()) / least) + 3
            room = len(net.heads.items) + len(self.at_hand)
            self.loops.max_labels_in_buckets(
                self.arrays, least, label, net.step_records(),
                np.full(buckets, -1, np.int32), np.empty(room, np.int32),
                np.empty(room, np.int32), np.zeros(n, np.uint8),
            )  # fmt: skip
        else:
            support, missing = self.full(m, -1, "int64"), self.full(m, 0, "int64")
            self.loops.max_labels(self.arrays, net.costs, label, support, missing)
        if len(net.labels) >= 4:  # of two shelves, with their trees
            net.labels.clear()
        net.labels[key] = (label, hand)
        return label, hand

    def first(self) -> tuple[NetworkPart, float]:
        """(a part to begin with, the cost of a route): the cheaper of two first routes."""
        ceiling = min(self._first_cost(), self._tree_cost()) * (1 + EPS)
        return self.part(ceiling * WIDE), ceiling

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
            r = min(net.makers.row(v), key=lambda r: self._before(r) + net.costs[r])
            used.add(int(r))
            stack.extend(net.tails.row(r))
        return float(sum(net.costs[r] for r in used))

    def _before(self, r: int) -> float:
        return float(max(self.label[v] for v in self.net.tails.row(r)))

    def _tree_cost(self) -> float:
        """The same by the cheapest derivation tree, usually less; trees are kept per shelf."""
        net = self.net
        key = ("trees", self.fast, frozenset(self.at_hand))
        maker = net.labels.get(key)
        if maker is None:
            m, n = net.size, len(net.nodes)
            label, maker = self.full(n, INF), self.full(n, -1, "int64")
            for v in self.at_hand:
                label[v] = 0.0
            missing, total = self.full(m, 0, "int64"), self.full(m, 0.0)
            self.loops.tree_labels(self.arrays, net.costs, label, maker, missing, total)
            net.labels[key] = maker
        used: set[int] = set()
        waiting, seen = [self.goal], set(self.at_hand)
        while waiting:
            v = int(waiting.pop())
            if v in seen:
                continue
            seen.add(v)
            r = int(maker[v])
            if r < 0:
                return INF
            used.add(r)
            waiting.extend(net.tails.row(r))
        return float(sum(net.costs[r] for r in used))

    def part(self, limit: float) -> NetworkPart:
        """The steps that can be in a route of cost up to ``limit``."""
        net = self.net
        kept, whole = self.loops.path_labels(
            self.arrays, net.costs, self.label, self.hand, self.goal, min(limit, 1e300),
            self.full(net.size, INF), self.full(len(net.nodes), INF),
        )  # fmt: skip
        return self._renumbered(
            self.arrays, net.costs, kept, None, self.hand, self.goal, limit, whole
        )

    def cut(self, part: NetworkPart) -> RootCut:
        """LM-cut at the root of a part."""
        m, n = len(part.steps), part.nodes
        residual = part.cost.copy()
        label = self.full(n, INF)
        label[HAND] = 0.0
        goals = self.full(1, GOAL, "int64")
        bound, _ = self.loops.landmark_cuts(
            part.arrays, residual, label, self.full(m, -1, "int64"), self.full(m, 0, "int64"),
            self.full(n, 0, "int64"), goals, 1, self.full(m, 0, "int64"),
            m > LOOSE_ABOVE,
        )  # fmt: skip
        return RootCut(float(bound), residual, label)

    def narrowed(self, part: NetworkPart, cut: RootCut, limit: float) -> NetworkPart:
        """The steps of a part whose chain in residual costs fits in ``limit - bound``."""
        m, n = len(part.steps), part.nodes
        hand = self.full(n, 0, "uint8")
        hand[HAND] = 1
        kept, whole = self.loops.path_labels(
            part.arrays, cut.residual, cut.label, hand, GOAL, (limit - cut.bound) * (1 + EPS) + EPS,
            self.full(m, INF), self.full(n, INF),
        )  # fmt: skip
        whole = whole and part.whole
        if len(kept) > WORTH_CUTTING * m:
            return replace(part, whole=whole)
        return self._renumbered(part.arrays, part.cost, kept, part, hand, GOAL, limit, whole)

    def _renumbered(
        self, arrays: Any, cost: Any, kept: Any, of: NetworkPart | None, hand: Any, goal: int,
        limit: float, whole: bool,
    ) -> NetworkPart:  # fmt: skip
        """The ``kept`` steps as a part of the whole network or ``of`` another part."""
        kept.sort()
        m = len(kept)
        if self.fast:
            import numpy as np

            kept = np.array(kept, np.int64)
        part_cost = self.taken(cost, kept)
        names = kept if of is None else self.taken(of.steps, kept)
        sizes = self.loops.row_sizes(arrays, kept)
        tails = self.full(m + 1, 0, "int64"), self.full(m + sizes[0], 0, "int64")
        heads = self.full(m + 1, 0, "int64"), self.full(sizes[1], 0, "int64")
        number = self.full(len(hand), -1, "int64")
        origin = self.full(m + sizes[0], 0, "int64"), self.full(sizes[1], 0, "int64")
        n = int(self.loops.sub_rows(arrays, kept, hand, number, goal, *tails, *heads, *origin))
        takers = self.full(n + 1, 0, "int64"), self.full(int(tails[0][m]), 0, "int64")
        makers = self.full(n + 1, 0, "int64"), self.full(int(heads[0][m]), 0, "int64")
        self.loops.turned(*tails, n, *takers)
        self.loops.turned(*heads, n, *makers)
        if of is not None:
            origin = self.taken(of.tail_from, origin[0]), self.taken(of.head_from, origin[1])
        return NetworkPart(
            names, Arrays(*tails, *heads, *takers, *makers), part_cost, *origin, n, limit, whole
        )

    def goods(self, part: NetworkPart, materials: Materials | None) -> Goods:
        """The amounts of a whole network along a part; empty without materials."""
        if materials is None:
            none = self.full(0, 0.0)
            places = self.full(0, 0, "int64")
            return Goods(none, none, none, none, 0.0, none, none, none, places, places)
        m, n = len(part.steps), part.nodes
        take, give, regret, least = (
            self.taken(self.as_array(values), places)
            for values, places in (
                (materials.take, part.tail_from), (materials.give, part.head_from),
                (materials.regret, part.steps), (materials.least, part.steps),
            )
        )  # fmt: skip
        return Goods(
            take, give, regret, least, materials.amount, self.full(m, 0.0), self.full(n, 0.0),
            self.full(n, 0.0), self.full(n, 0, "int64"), self.full(n, 0, "int64"),
        )  # fmt: skip

    def as_array(self, values: Any) -> Any:
        """Values of the kind the loops take."""
        if not self.fast:
            return values
        import numpy as np

        return np.asarray(values, float)

    def taken(self, array: Any, places: Any) -> Any:
        """The entries of ``array`` at ``places``."""
        return array[places] if self.fast else [array[i] for i in places]
