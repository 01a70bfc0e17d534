"""Why there is no route: what cannot be had, and what would be the nearest route."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from routefinder.graph.network import FREE, Network, PlainStep, network
from routefinder.search.best import search

MISSING_COST = 1000.0


@dataclass(frozen=True)
class Nearest:
    """The route that lacks the fewest things: its steps and the nodes it would have to be given."""

    steps: tuple[str, ...]
    lacking: tuple[str, ...]


def nearest(
    steps: Iterable[PlainStep],
    at_hand: Iterable[str],
    target: str,
    prices: Mapping[str, float],
    seconds: float = 5.0,
) -> Nearest | None:
    """The cheapest route when every node may be acquired at a price (``MISSING_COST`` if none).

    ``prices`` gives the acquisition price of a node; the target itself cannot be acquired. None
    when no step makes the target at all.
    """
    steps = list(steps)
    base = network(steps)
    if base.number(target) is None:
        return None
    buy = [
        PlainStep(f"acquire {name}", (FREE,), (name,), prices.get(name, MISSING_COST))
        for name in base.nodes
        if name not in {target, FREE}
    ]
    found = search([*steps, *buy], at_hand, target, 1, seconds=seconds)
    if not found.routes:
        return None
    chosen = found.routes[0].steps
    return Nearest(
        tuple(s for s in chosen if not s.startswith("acquire ")),
        tuple(s.removeprefix("acquire ") for s in chosen if s.startswith("acquire ")),
    )


def plain_steps(net: Network) -> list[PlainStep]:
    """The steps of a network in plain form again."""
    return [
        PlainStep(
            net.steps[r],
            tuple(net.nodes[v] for v in net.tails.row(r)),
            tuple(net.nodes[v] for v in net.heads.row(r)),
            float(net.costs[r]),
        )
        for r in range(net.size)
    ]
