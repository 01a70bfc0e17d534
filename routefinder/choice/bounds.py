"""Lower bounds on the measures of all routes that hold some given steps, for ``search.front``.

Each holds for every minimal route with these steps, whatever else it has, and comes from the
definition of the measure. What makes them sharp: if a step s of a minimal route makes a thing v,
and every other step that makes v makes all else that s makes as well, then s is what provides v (of
two makers the second to run, or s, could be dropped otherwise). With that the amounts can be worked
back from the target through the given steps, and are never more than the true ones.

* steps, hands-on work, highest temperature: sum, sum, greatest over the steps given
* hazard: per aspect the greatest points over the steps given, summed
* elapsed time: the sum of hands-on work; and the longest chain through the providers, where what
  has none is there at the soonest that any steps could have it
* materials: amount x node price of the target + turns x what a turn costs beyond what it makes, at
  the node prices of ``search.priced``
* waste: turns x what a turn leaves behind for certain besides water: what is not recovered of its
  products, the loss of its main product, unreacted excess, auxiliaries not recovered
* equipment missing: unmet kinds of need; vessels, which are never merged, each for itself
* overall yield: every mole that reaches the target passes the step that makes it, of which a
  minimal route has one, and a chain of providers behind it: at most the best product of yields
  along a way by which the limiting material can come in
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from routefinder.graph.needs import need_of
from routefinder.graph.network import FREE, Network
from routefinder.graph.pack import BUY, node_name
from routefinder.hazards.makeshift import finishes
from routefinder.hazards.score import ASPECTS, profile
from routefinder.library.library import Library
from routefinder.library.pot import is_water
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench
from routefinder.search import priced
from routefinder.vessel.durations import usual_times

INF = float("inf")
THINNEST = 0.001  # mass fraction: how thin what a step makes dissolved may come to stand


@dataclass(frozen=True)
class Facts:
    """What the bounds are made of: the network searched and what its steps are."""

    library: Library
    net: Network
    at_hand: Sequence[str]
    target: str
    target_g: float
    target_mol: float
    strengths: Mapping[str, float]
    bench: Bench | None
    turns: Sequence[priced.PricedStep]
    prices: Mapping[str, float]


def lower_bounds(
    facts: Facts, keys: Sequence[str]
) -> Callable[[tuple[str, ...]], tuple[float, ...]]:
    """A function from the steps given to lower bounds on the measures ``keys``, less is better."""
    table = _Table(facts, keys)

    def lower(ids: tuple[str, ...]) -> tuple[float, ...]:
        known = _Known(table, ids)
        return tuple(known.measure(key) for key in keys)

    return lower


class _Table:
    """What is worked out once for a question."""

    def __init__(self, facts: Facts, keys: Sequence[str]) -> None:
        lib, net = facts.library, facts.net
        self.facts = facts
        self.steps = {i: lib.steps[i] for i in net.steps if i in lib.steps}
        self.hands = {i: s.record.time.hands_on_min / 60 for i, s in self.steps.items()}
        self.hours = {
            i: self.hands[i] + usual_times(lib, s).least_waiting_min / 60
            for i, s in self.steps.items()
        }
        self.points = {
            i: _least_points(lib, s, facts.strengths) if "hazard" in keys else []
            for i, s in self.steps.items()
        }
        self.unmet = {i: _unmet(s, facts.bench) for i, s in self.steps.items()}
        self.leaves = {i: _leaves_g(lib, s) / facts.target_g for i, s in self.steps.items()}
        self.turns = {t.id: t for t in facts.turns}
        self._prices("cost" in keys)
        makers = self._ways()
        self.provides = self._providers(makers)
        self.soonest = self._soonest()
        self.limiting = {i: self._limiting_node(i) for i in self.steps}
        self.reactants = {
            i: {node_name(need_of(lib, part, s)) for part in s.reactants}
            for i, s in self.steps.items()
        }
        self.sources = self._sources(makers)
        # the nodes that only the main product of a step serves
        self.of_main = {t.id: self._of_main(t) for t in facts.turns}

    def _prices(self, asked: bool) -> None:
        """What each node costs at the least, and what a turn costs beyond what it makes."""
        self.price: dict[str, float] = {}
        self.beyond: dict[str, float] = {}
        if asked:
            facts = self.facts
            self.price = priced.node_prices(facts.turns, facts.prices, facts.target)
            beyond = {t.id: priced.surplus(t, self.price) for t in facts.turns}
            self.beyond = {i: x for i, x in beyond.items() if x < INF}

    def _ways(self) -> dict[str, list[str]]:
        """What each step takes (``tails``) and makes that is wanted (``heads``); makers by node."""
        net = self.facts.net
        names = [net.nodes[v] for v in range(len(net.nodes))]
        self.tails = {s: [names[v] for v in net.tails.row(r)] for r, s in enumerate(net.steps)}
        self.hand = {*self.facts.at_hand, FREE}
        wanted = {v for tail in self.tails.values() for v in tail} | {self.facts.target}
        wanted -= self.hand
        self.heads = {
            s: frozenset(names[n] for n in net.heads.row(r)) & wanted
            for r, s in enumerate(net.steps)
        }
        makers: dict[str, list[str]] = {}
        for s, heads in self.heads.items():
            for v in heads:
                makers.setdefault(v, []).append(s)
        return makers

    def _providers(self, makers: Mapping[str, list[str]]) -> dict[str, set[str]]:
        """Step -> nodes that it is what provides, if it is in a minimal route."""
        provides = {
            s: {v for v in heads if all(heads <= self.heads[q] for q in makers[v])}
            for s, heads in self.heads.items()
        }
        for s in makers.get(self.facts.target, ()):  # a minimal route has one maker of the target
            provides[s].add(self.facts.target)
        return provides

    def _is_main(self, turn: priced.PricedStep) -> bool:
        """Whether the first product of a turn is the main one (it is, where it serves a node)."""
        step = self.steps.get(turn.id)
        if step is None:
            return False
        share = step.record.yield_.typical
        return abs(turn.gives[0][0] - step.main.moles * share) <= 1e-12 * step.main.moles

    def _limiting_node(self, i: str) -> str:
        step = self.steps[i]
        return node_name(need_of(self.facts.library, step.limiting, step))

    def _of_main(self, turn: priced.PricedStep) -> set[str]:
        besides = {v for _, nodes in turn.gives[1:] for v in nodes}
        return set(turn.gives[0][1]) - besides if self._is_main(turn) else set()

    def root(self, node: str) -> str:
        """The family of the substance of a node."""
        return self.facts.library.root(node.split("|")[1])

    def _soonest(self) -> dict[str, float]:
        """Hours until each node can be had at the soonest, all steps allowed."""
        ready = dict.fromkeys(self.hand, 0.0)
        again = True
        while again:
            again = False
            for s, tail in self.tails.items():
                end = max(ready.get(v, INF) for v in tail) + self.hours.get(s, 0.0)
                for v in self.heads[s]:
                    if end < ready.get(v, INF):
                        ready[v] = end
                        again = True
        return ready

    def _sources(self, makers: Mapping[str, Sequence[str]]) -> dict[str, frozenset[str]]:
        """Families that may be drawn from the shelf or a shop on some way to each node."""
        bit: dict[str, int] = {}
        found = dict.fromkeys(makers, 0)
        again = True
        while again:
            again = False
            for s, heads in self.heads.items():
                mask = 0
                if s.startswith(BUY):
                    for v in heads:
                        mask |= 1 << bit.setdefault(self.root(v), len(bit))
                for v in self.tails[s]:
                    if v in self.hand and v != FREE:
                        mask |= 1 << bit.setdefault(self.root(v), len(bit))
                    mask |= found.get(v, 0)
                for v in heads:
                    if mask & ~found[v]:
                        found[v] |= mask
                        again = True
        return {
            v: frozenset(r for r, place in bit.items() if mask >> place & 1)
            for v, mask in found.items()
        }


class _Known:
    """Some steps of a route, with what follows from them; a method a measure."""

    def __init__(self, table: _Table, ids: tuple[str, ...]) -> None:
        self.table = table
        self.ids = ids
        self.real = [i for i in ids if i in table.steps]
        self.provider: dict[str, str] = {}
        self.takers: dict[str, list[str]] = {}
        for s in ids:
            for v in table.provides.get(s, ()):
                self.provider[v] = s
            for v in table.tails.get(s, ()):
                self.takers.setdefault(v, []).append(s)
        self._turns: dict[str, float] = {}

    def measure(self, key: str) -> float:
        """The bound on one measure."""
        bound: float = getattr(self, "yield_" if key == "yield" else key)()
        return bound

    def steps(self) -> float:
        return float(len(self.real))

    def hands_on(self) -> float:
        return sum(self.table.hands[i] for i in self.real)

    def peak_temperature(self) -> float:
        return max((self.table.steps[i].heat_C for i in self.real), default=-INF)

    def hazard(self) -> float:
        rows = [self.table.points[i] for i in self.real]
        return float(sum(map(max, zip(*rows, strict=True)))) if rows else 0.0

    def purity(self) -> float:
        return -100.0  # nothing is purer, and no step alone says how pure the last one is

    def missing(self) -> float:
        return float(len(set().union(*(self.table.unmet[i] for i in self.real))))

    def time(self) -> float:
        table = self.table
        finished: dict[str, float] = {}

        def had(v: str) -> float:
            if v in table.hand:
                return 0.0
            s = self.provider.get(v)
            if s is None:
                return table.soonest.get(v, 0.0)
            if s not in finished:
                finished[s] = 0.0  # a loop counts nothing
                finished[s] = max(map(had, table.tails[s])) + table.hours.get(s, 0.0)
            return finished[s]

        return max(self.hands_on(), had(table.facts.target))

    def turns(self, s: str) -> float:
        """Turns of a step, at least, for the asked amount."""
        if s not in self._turns:
            self._turns[s] = 0.0  # a loop counts nothing
            table = self.table
            turn = table.turns.get(s)
            found = 0.0
            for b, nodes in turn.gives if turn else ():
                served = [v for v in nodes if self.provider.get(v) == s]
                wanted = sum(
                    a * self.turns(taker)
                    for v in served
                    for taker in self.takers.get(v, ())
                    for node, a in table.turns[taker].takes
                    if node == v
                )
                if table.facts.target in served:
                    wanted += table.facts.target_mol
                found = max(found, wanted / b)
            self._turns[s] = found
        return self._turns[s]

    def cost(self) -> float:
        table = self.table
        base = table.facts.target_mol * table.price.get(table.facts.target, 0.0)
        return base + sum(self.turns(s) * table.beyond.get(s, 0.0) for s in self.ids)

    def e_factor(self) -> float:
        return sum(self.turns(s) * self.table.leaves[s] for s in self.real)

    def yield_(self) -> float:
        """Minus the overall yield, in percent."""
        table = self.table
        last = self.provider.get(table.facts.target)
        if last is None:
            return -100.0
        of_last = table.steps[last].record.yield_.typical
        family = self._start(last)
        if family is None:
            return -100.0 * of_last
        for v in {v for i in self.ids for v in table.tails[i]} - table.hand - {*self.provider}:
            if family in table.sources.get(v, ()):
                return -100.0 * of_last  # more of it may come in behind here
        found: dict[str, float] = {}
        ways = [
            self._path(i, found)
            for i in self.real
            for v in table.reactants[i]
            if table.root(v) == family and self._bought(v)
        ]
        return -100.0 * max(ways)

    def _bought(self, v: str) -> bool:
        return v in self.table.hand or self.provider.get(v, "").startswith(BUY)

    def _start(self, last: str) -> str | None:
        """The family of the limiting starting material, where the chain to it is known."""
        s: str | None = last
        for _ in self.ids:
            if s is None:
                return None
            v = self.table.limiting[s]
            if self._bought(v):
                return self.table.root(v)
            s = self.provider.get(v)
        return None

    def _path(self, s: str, found: dict[str, float]) -> float:
        """The best product of yields on a way through the given steps from ``s`` to the target."""
        if s in found:
            return found[s]
        found[s] = 1.0  # a loop costs nothing
        step, best = self.table.steps[s], 0.0
        for v in self.table.heads[s]:
            onward = 1.0 if v == self.table.facts.target else 0.0
            for taker in self.takers.get(v, ()):
                onward = max(onward, self._path(taker, found))
            # co-products are recovered at their own share, which counts as all here
            is_main = v in self.table.of_main[s]
            best = max(best, onward * (step.record.yield_.typical if is_main else 1.0))
        found[s] = best
        return best


def _least_points(
    library: Library, step: ResolvedStep, strengths: Mapping[str, float]
) -> list[int]:
    """The least points of each aspect, whatever solution each feed turns out to be drawn from.

    ``strengths`` are the weakest on the shelf; a feed made on the way has none. Amounts only add;
    what is made dissolved counts as ever so thin.
    """
    fed = {library.root(p.substance) for p in step.reactants}
    fed |= {library.root(aid.substance) for aid in step.aids}
    roots = sorted(fed & {*strengths})
    rows = []
    thin = {p.substance: THINNEST for p in step.products if p.state == "aq"}
    for size in range(len(roots) + 1):
        for some in combinations(roots, size):
            found = profile(library, step, {r: strengths[r] for r in some}, inside=thin)
            rows.append([found[a].points for a in ASPECTS])
    return [min(column) for column in zip(*rows, strict=True)]


def _unmet(step: ResolvedStep, bench: Bench | None) -> set[object]:
    """Needs of a step that no tool meets, as far as they count one each in any route."""
    if bench is None:
        return set()

    def counts_as(need: Capability) -> object:
        return need if need.name == "vessel" else need.name

    return {
        counts_as(need)
        for need in step.needs
        if not need.anywhere and not finishes(step, need) and bench.serving(need) is None
    }


def _leaves_g(library: Library, step: ResolvedStep) -> float:
    """Grams besides water that a turn of the step leaves behind whatever the route.

    Water is left out: what one step leaves, the crystals of a later one may bind.
    """

    def grams(substance: str, moles: float) -> float:
        if is_water(library, substance):
            return 0.0
        return moles * library.substances[substance].molar_mass_g

    total = 0.0
    for part in step.products:
        if part.substance == step.main.substance:
            share = step.record.yield_.typical
        else:
            share = step.recovered.get(part.substance, 0.0)
        total += grams(part.substance, part.moles * (1 - share))
    for part in step.reactants:
        total += grams(part.substance, part.moles * step.excess.get(part.substance, 0.0))
    for aid in step.aids:
        if not is_water(library, aid.substance):
            total += aid.mass_g * step.limiting.moles * (1 - aid.recovered)
    return total


__all__ = ["Facts", "lower_bounds"]
