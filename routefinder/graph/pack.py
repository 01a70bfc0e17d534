"""Library + limits -> the numbered network that the search works on."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from routefinder.graph.needs import (
    Need,
    NeedIndex,
    need_of,
    need_of_aid,
    needs,
    offers_of_step,
    offers_of_supply,
)
from routefinder.graph.network import FREE, Network, PlainStep, network
from routefinder.graph.purify import AS_MADE, FINISHED, NEXT_TO_NOTHING, is_again
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply

BUY = "buy|"


def node_name(need: Need) -> str:
    """The name of a need's node."""
    return "|".join((need[0], need[1], repr(need[2])))


@dataclass(frozen=True)
class Packed:
    """The network of the allowed steps, and the nodes that the shelf covers.

    ``also`` says of each errand what else the thing bought can serve as (a solid, dissolved).
    """

    network: Network
    at_hand: tuple[str, ...]
    target: str
    also: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def roundabout(self, ids: Iterable[str]) -> bool:
        """Whether a step could go if all that is bought were used as whatever it can serve as.

        Such a route buys a solid, works on it, and then dissolves it, where the solid as bought
        would have dissolved as well.
        """
        chosen = [i for i in ids if not i.startswith(BUY)]
        bought = {*self.at_hand}
        for i in ids:
            if i.startswith(BUY):
                bought |= {i.removeprefix(BUY), *self.also.get(i, ())}
        return self.target in bought or any(
            self.target in self._closure(bought, [s for s in chosen if s != spare])
            for spare in chosen
        )

    def _closure(self, have: Iterable[str], ids: Iterable[str]) -> set[str]:
        found = {FREE, *have}
        waiting = list(ids)
        while True:
            ready = [i for i in waiting if self._sides[i][0] <= found]
            if not ready:
                return found
            for i in ready:
                found |= self._sides[i][1]
            waiting = [i for i in waiting if i not in ready]

    @cached_property
    def _sides(self) -> dict[str, tuple[frozenset[str], frozenset[str]]]:
        """What each step takes and makes, by name."""
        net = self.network
        return {
            name: (
                frozenset(net.nodes[v] for v in net.tails.row(r)),
                frozenset(net.nodes[v] for v in net.heads.row(r)),
            )
            for r, name in enumerate(net.steps)
        }


def needs_again(library: Library, step: ResolvedStep, goal: Need) -> list[Need]:
    """The needs of a purifying step: the goal as made in the place of what it takes dissolved."""
    root = library.root(step.main.substance)
    return [goal if n[0] == "dissolved" and n[1] == root else n for n in needs(library, step)]


def pack(
    library: Library,
    steps: Iterable[ResolvedStep],
    supplies: Iterable[Supply],
    goal: Need,
    cost: Callable[[ResolvedStep], float],
    errand: float,
    finish: bool = False,
    side: Callable[[str], bool] | None = None,
    dear: Callable[[Supply, str], float] | None = None,
) -> Packed:
    """Number the allowed steps; what already meets the goal is taken off the shelf.

    What is in a shop becomes a step of its own (``buy|`` and the node's name) at the cost of an
    ``errand``, so that a route may buy a thing or make it, and is minimal either way. ``finish``:
    the goal is then finished as it is made, or by a purifying step (``graph.purify``).

    What is ``side`` work (asked by substance) is not made where it is at hand or can be bought, nor
    is what only serves as a solvent, wash or drying agent; None: everything may be made. ``dear``
    says what an errand for a substance of a supply costs besides.
    """
    every = list(steps)
    allowed = [s for s in every if not is_again(s.id)]
    wanted: dict[str, list[Need]] = {s.id: needs(library, s) for s in allowed}
    again = [n for s in every if is_again(s.id) for n in needs_again(library, s, goal)]
    index = NeedIndex(library, [n for ns in wanted.values() for n in ns] + [goal, *again])
    at_hand: dict[str, None] = {}
    to_buy: dict[str, set[str]] = {}
    beside: dict[str, float] = {}
    for supply in supplies:
        for offer in offers_of_supply(supply):
            met = [node_name(need) for need in index.met_by(offer) if need != goal]
            if not supply.in_shop:
                at_hand.update(dict.fromkeys(met))
                continue
            more = 0.0 if dear is None else dear(supply, offer[0])
            for node in met:
                beside[node] = min(more, beside.get(node, more))
                # a dissolved thing is no solid, and of a weaker solution not more is known
                to_buy.setdefault(node, set()).update(met if node.startswith("form") else ())
    kept = spared(library, allowed, goal, {*at_hand, *to_buy}, side)
    plain: list[PlainStep] = []
    for step in allowed:
        made = dict.fromkeys(n for o in offers_of_step(step) for n in index.met_by(o))
        heads = [node_name(n) for n in made if n not in wanted[step.id] and n not in kept]
        if heads:
            tails = [node_name(n) for n in wanted[step.id]]
            plain.append(PlainStep(step.id, tails, heads, cost(step)))
    end = node_name(goal)
    if finish:
        end = FINISHED + end
        for step in every:
            if is_again(step.id):
                tails = [node_name(n) for n in needs_again(library, step, goal)]
                plain.append(PlainStep(step.id, tails, (end,), cost(step)))
        plain.append(PlainStep(AS_MADE, (node_name(goal),), (end,), NEXT_TO_NOTHING))
    also: dict[str, frozenset[str]] = {}
    for node, others in to_buy.items():
        if node not in at_hand:
            plain.append(PlainStep(BUY + node, (), (node,), errand + beside[node]))
            also[BUY + node] = frozenset(others)
    return Packed(network(plain), tuple(at_hand), end, also)


def spared(
    library: Library,
    steps: Sequence[ResolvedStep],
    goal: Need,
    had: Collection[str],
    side: Callable[[str], bool] | None,
) -> set[Need]:
    """The needs that nobody makes for: to be had, and side work or only solvents and washes."""
    if side is None:
        return set()
    reacts = {need_of(library, part, step) for step in steps for part in step.reactants}
    aids = {need_of_aid(library, aid) for step in steps for aid in step.aids}
    return {
        n
        for n in reacts | aids
        if n != goal and node_name(n) in had and (n not in reacts or side(n[1]))
    }


def real_steps(ids: Iterable[str]) -> tuple[str, ...]:
    """The steps of a route without its errands."""
    return tuple(i for i in ids if not i.startswith((BUY, AS_MADE)))
