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
from routefinder.library.load import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply


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
    extra: Iterable[PlainStep] = (),
) -> Packed:
    """Number the allowed steps; what already meets the target is taken off the shelf."""
    allowed = list(steps)
    goal = target_need(target_id)
    wanted: dict[str, list[Need]] = {s.id: needs(library, s) for s in allowed}
    index = NeedIndex(library, [n for ns in wanted.values() for n in ns] + [goal])
    plain: list[PlainStep] = []
    for step in allowed:
        made = dict.fromkeys(n for o in offers_of_step(step) for n in index.met_by(o))
        heads = [node_name(n) for n in made if n not in wanted[step.id]]
        if heads:
            tails = [node_name(n) for n in wanted[step.id]]
            plain.append(PlainStep(step.id, tails, heads, cost(step)))
    at_hand = dict.fromkeys(
        node_name(n) for s in supplies for o in offers_of_supply(s) for n in index.met_by(o)
        if n != goal
    )  # fmt: skip
    return Packed(network([*plain, *extra]), tuple(at_hand), node_name(goal))
