"""Library + limits -> the numbered network that the search works on."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from routefinder.graph.needs import (
    Need,
    NeedIndex,
    needs,
    offers_of_step,
    offers_of_supply,
    target_need,
)
from routefinder.graph.network import Network, PlainStep, network
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply

BUY = "buy|"


def node_name(need: Need) -> str:
    """The name of a need's node."""
    return "|".join((need[0], need[1], repr(need[2])))


@dataclass(frozen=True)
class Packed:
    """The network of the allowed steps, and the nodes that the shelf covers."""

    network: Network
    at_hand: tuple[str, ...]
    target: str


def pack(
    library: Library,
    steps: Iterable[ResolvedStep],
    supplies: Iterable[Supply],
    target_id: str,
    cost: Callable[[ResolvedStep], float],
    errand: float,
) -> Packed:
    """Number the allowed steps; what already meets the target is taken off the shelf.

    What is in a shop becomes a step of its own (``buy|`` and the node's name) at the cost of an
    ``errand``, so that a route may buy a thing or make it, and is minimal either way.
    """
    allowed = list(steps)
    goal = target_need(library, target_id)
    wanted: dict[str, list[Need]] = {s.id: needs(library, s) for s in allowed}
    index = NeedIndex(library, [n for ns in wanted.values() for n in ns] + [goal])
    plain: list[PlainStep] = []
    for step in allowed:
        made = dict.fromkeys(n for o in offers_of_step(step) for n in index.met_by(o))
        heads = [node_name(n) for n in made if n not in wanted[step.id]]
        if heads:
            tails = [node_name(n) for n in wanted[step.id]]
            plain.append(PlainStep(step.id, tails, heads, cost(step)))
    at_hand: dict[str, None] = {}
    to_buy: dict[str, None] = {}
    for supply in supplies:
        for offer in offers_of_supply(supply):
            for need in index.met_by(offer):
                if need != goal:
                    (to_buy if supply.in_shop else at_hand)[node_name(need)] = None
    for node in to_buy:
        if node not in at_hand:
            plain.append(PlainStep(BUY + node, (), (node,), errand))
    return Packed(network(plain), tuple(at_hand), node_name(goal))


def real_steps(ids: Iterable[str]) -> tuple[str, ...]:
    """The steps of a route without its errands."""
    return tuple(i for i in ids if not i.startswith(BUY))
