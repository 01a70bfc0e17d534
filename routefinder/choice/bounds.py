"""Lower bounds on the measures of all routes that hold some given steps, for ``search.front``.

Each holds for every route with these steps, whatever else it has, and comes from the definition of
the measure:

* steps, hands-on work, highest temperature: sum, sum, greatest over the steps given
* hazard: per aspect the greatest points over the steps given, summed
* elapsed time: the sum of hands-on work; and the longest chain, in which what has one maker only
  (a step given that makes nothing else of use) waits for it, and anything else for the soonest
  way to have it
* materials: the bound of ``search.priced``: amount x node price of the target + least turns x what
  a turn costs beyond what it makes at node prices
* waste: what a turn of each step leaves behind for certain (what is not recovered of its products,
  the loss of its main product, unreacted excess, auxiliaries not recovered) x its least turns
* equipment missing: unmet kinds of need; vessels, which are never merged, each for itself
* overall yield: every mole that reaches the target passes the step that makes it, of which a
  minimal route has one: no more than that step's yield
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.graph.network import Network
from routefinder.graph.pack import BUY
from routefinder.hazards.score import ASPECTS, Profile
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench
from routefinder.search import priced

INF = float("inf")


@dataclass(frozen=True)
class Facts:
    """What the bounds are made of: the network searched and what its steps are."""

    library: Library
    net: Network
    at_hand: Sequence[str]
    target: str
    target_g: float
    target_mol: float
    profiles: Mapping[str, Profile]
    bench: Bench | None
    turns: Sequence[priced.PricedStep]
    prices: Mapping[str, float]


def lower_bounds(
    facts: Facts, keys: Sequence[str]
) -> Callable[[tuple[str, ...]], tuple[float, ...]]:
    """A function from the steps given to lower bounds on the measures ``keys``, less is better."""
    table = _table(facts, keys)
    return lambda ids: tuple(table[key](ids) for key in keys)


def _table(facts: Facts, keys: Sequence[str]) -> dict[str, Callable[[tuple[str, ...]], float]]:
    lib = facts.library
    steps: dict[str, ResolvedStep] = {i: lib.steps[i] for i in facts.net.steps if i in lib.steps}
    hands = {i: s.record.time.hands_on_min / 60 for i, s in steps.items()}
    points = {i: [facts.profiles[i][a].points for a in ASPECTS] for i in steps}
    unmet = {i: _unmet(s, facts.bench) for i, s in steps.items()}
    heat = {i: s.heat_C for i, s in steps.items()}
    chain = _Chain(facts, {i: hands[i] + s.record.time.waiting_min / 60 for i, s in steps.items()})
    least = (
        priced.least_turns(facts.turns, facts.target, facts.target_mol)
        if {"cost", "e_factor"} & set(keys)
        else {}
    )
    money: dict[str, float] = {}
    base = 0.0
    if "cost" in keys:
        price = priced.node_prices(facts.turns, facts.prices, facts.target)
        base = facts.target_mol * price.get(facts.target, 0.0)
        for turn in facts.turns:
            beyond = priced.surplus(turn, price)
            money[turn.id] = least[turn.id] * beyond if beyond < INF else 0.0
    left = {
        i: least.get(i, 0.0) * _leaves_g(lib, s) / facts.target_g for i, s in steps.items()
    }  # fmt: skip

    def total(amounts: Mapping[str, float], ids: tuple[str, ...]) -> float:
        return sum(amounts.get(i, 0.0) for i in ids)

    def hazard(ids: tuple[str, ...]) -> float:
        rows = [points[i] for i in ids if i in points]
        return float(sum(map(max, zip(*rows, strict=True)))) if rows else 0.0

    def best_yield(ids: tuple[str, ...]) -> float:
        made = [steps[i].record.yield_.typical for i in ids if i in chain.last]
        return -100.0 * (min(made) if made else 1.0)

    return {
        "steps": lambda ids: float(sum(i in steps for i in ids)),
        "hands_on": lambda ids: total(hands, ids),
        "peak_temperature": lambda ids: max((heat[i] for i in ids if i in heat), default=-INF),
        "hazard": hazard,
        "time": lambda ids: max(total(hands, ids), chain.hours(ids)),
        "cost": lambda ids: base + total(money, ids),
        "e_factor": lambda ids: total(left, ids),
        "missing": lambda ids: float(len(set().union(*(unmet[i] for i in ids if i in unmet)))),
        "yield": best_yield,
    }


def _unmet(step: ResolvedStep, bench: Bench | None) -> set[object]:
    """Needs of a step that no tool meets, as far as they count one each in any route."""
    if bench is None:
        return set()

    def counts_as(need: Capability) -> object:
        return need if need.name == "vessel" else need.name

    return {
        counts_as(need)
        for need in step.record.equipment
        if not need.anywhere and bench.serving(need) is None
    }


def _leaves_g(library: Library, step: ResolvedStep) -> float:
    """Grams that a turn of the step leaves behind whatever the route."""
    molar = {p.substance: library.substances[p.substance].molar_mass_g for p in step.products}
    grams = 0.0
    for part in step.products:
        if part.substance == step.main.substance:
            share = step.record.yield_.typical
        else:
            share = step.recovered.get(part.substance, 0.0)
        grams += part.moles * (1 - share) * molar[part.substance]
    for part in step.reactants:
        excess = step.excess.get(part.substance, 0.0)
        grams += part.moles * excess * library.substances[part.substance].molar_mass_g
    for aid in step.aids:
        grams += aid.mass_g * step.limiting.moles * (1 - aid.recovered)
    return grams


class _Chain:
    """The longest chain of a route of which only some steps are known."""

    def __init__(self, facts: Facts, hours: Mapping[str, float]) -> None:
        net = facts.net
        at = range(net.size)
        self.tails = {net.steps[r]: [net.nodes[v] for v in net.tails.row(r)] for r in at}
        taken = {v for tail in self.tails.values() for v in tail} | {facts.target}
        hand = set(facts.at_hand)
        self.heads = {
            net.steps[r]: [
                v for v in (net.nodes[n] for n in net.heads.row(r)) if v in taken and v not in hand
            ]
            for r in at
        }
        self.hand = hand
        self.target = facts.target
        self.duration = dict(hours)
        self.last = {s for s, heads in self.heads.items() if facts.target in heads}
        self.soonest = self._soonest()

    def _soonest(self) -> dict[str, float]:
        """Hours until each node can be had at the soonest, all steps allowed."""
        ready = dict.fromkeys(self.hand, 0.0)
        again = True
        while again:
            again = False
            for s, tail in self.tails.items():
                start = max((ready.get(v, INF) if v != "(nothing)" else 0.0) for v in tail)
                end = start + self.duration.get(s, 0.0)
                for v in self.heads[s]:
                    if end < ready.get(v, INF):
                        ready[v] = end
                        again = True
        return ready

    def hours(self, ids: tuple[str, ...]) -> float:
        """Hours from the start to the target, at least, in any route with these steps."""
        makers: dict[str, list[str]] = {}
        for s in ids:
            for v in self.heads.get(s, ()):
                makers.setdefault(v, []).append(s)
        finished: dict[str, float] = {}

        def finish(s: str) -> float:
            if s not in finished:
                finished[s] = 0.0  # a loop counts nothing
                start = max(had(v) for v in self.tails[s])
                finished[s] = start + self.duration.get(s, 0.0)
            return finished[s]

        def had(v: str) -> float:
            if v in self.hand or v == "(nothing)":
                return 0.0
            own = makers.get(v, ())
            if len(own) == 1 and self.heads[own[0]] == [v] and not own[0].startswith(BUY):
                return finish(own[0])
            return min(self.soonest.get(v, 0.0), *(finish(s) for s in own)) if own else (
                self.soonest.get(v, 0.0)
            )

        return had(self.target)


__all__ = ["Facts", "lower_bounds"]
