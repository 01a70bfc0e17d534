"""The balance of a found route with its by-products fed back: a linear programme over its steps.

In steady state what the steps make and what is bought together cover what the steps take and one
batch of the target. Recycles are superfluous for deriving the target, so they are never part of a
minimal route; here they improve one. What is fed back to a step that comes before its maker has to
be there before the first batch: the starting charge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from routefinder.errors import Refused
from routefinder.search.linear import least
from routefinder.search.priced import PricedStep

INF = float("inf")
SMALL = 1e-9
TIDY = 1e-6  # weight of a gram against a unit of money: of equal costs the least mass


@dataclass(frozen=True)
class SteadyFlow:
    """Part of a product (by its place among a step's products) that serves a step as ``node``."""

    maker: str
    product: int
    taker: str
    node: str
    amount: float
    back: bool


@dataclass(frozen=True)
class Balance:
    """Turns of each step, what is bought of each node, and what flows between the steps."""

    turns: Mapping[str, float]
    bought: Mapping[str, float]
    flows: tuple[SteadyFlow, ...]


def balance(
    steps: Sequence[PricedStep],
    prices: Mapping[str, float],
    target: str,
    amount: float,
    mass_g: Mapping[str, float],
    most: Mapping[str, float] | None = None,
) -> Balance | None:
    """The cheapest steady state that gives ``amount`` of ``target`` a batch, or None.

    ``steps`` stand in the order in which the first batch is run; ``prices`` are those of the nodes
    that may be bought, ``mass_g`` the grams in a unit of every node, ``most`` the turns no step
    may pass (without it a step may run for the sake of its by-product alone). Raises Refused when a
    loop would feed itself from nothing: more mass would come out than goes in.
    """
    costs: list[float] = [TIDY] * len(steps)
    upper_rows: dict[tuple[int, int], dict[int, float]] = {}
    cover: dict[str, dict[int, float]] = {}
    at_least: dict[str, float] = {target: amount}
    served: list[tuple[int, int, str]] = []
    for i, step in enumerate(steps):
        for node, a in step.takes:
            row = cover.setdefault(node, {})
            row[i] = row.get(i, 0.0) - a
        for j, (b, _) in enumerate(step.gives):
            upper_rows[i, j] = {i: b}
    wanted = {*cover, target}
    cover.setdefault(target, {})
    for i, step in enumerate(steps):
        for j, (_, nodes) in enumerate(step.gives):
            for node in nodes:
                if node in wanted:
                    upper_rows[i, j][len(costs)] = -1.0
                    cover[node][len(costs)] = 1.0
                    served.append((i, j, node))
                    costs.append(0.0)
    first_bought = len(costs)
    shop = [node for node in cover if node in prices]
    for node in shop:
        cover[node][len(costs)] = 1.0
        costs.append(prices[node] + TIDY * mass_g[node])
    rows = [*upper_rows.values(), *cover.values()]
    bounds = [0.0] * len(upper_rows) + [at_least.get(node, 0.0) for node in cover]
    upper = [INF if most is None else most[s.id] * (1 + SMALL) for s in steps]
    found = least(costs, rows, bounds, upper + [INF] * (len(costs) - len(steps)))
    if found is None:
        return None
    turns = {s.id: found.values[i] for i, s in enumerate(steps)}
    bought = {node: found.values[first_bought + k] for k, node in enumerate(shop)}
    goes_in = sum(mass_g[node] * value for node, value in bought.items())
    if goes_in < amount * mass_g[target] * (1 - 1e-6):
        raise Refused(
            f"a loop of {', '.join(s.id for s in steps)} would feed itself from nothing: "
            f"{goes_in:.4g} g go in, {amount * mass_g[target]:.4g} g come out"
        )
    given = {
        key: value
        for key, value in zip(served, found.values[len(steps) : first_bought], strict=True)
        if value > SMALL
    }
    return Balance(turns, bought, _shared_out(steps, turns, given))


def _shared_out(
    steps: Sequence[PricedStep],
    turns: Mapping[str, float],
    given: Mapping[tuple[int, int, str], float],
) -> tuple[SteadyFlow, ...]:
    """What each step gets of each product: first the steps after its maker, then those before."""
    open_needs = {
        (i, node): sum(a for n, a in s.takes if n == node) * turns[s.id]
        for i, s in enumerate(steps)
        for node in dict.fromkeys(n for n, _ in s.takes)
    }
    out: list[SteadyFlow] = []
    # makers late in the day have fewest takers after them
    for (i, j, node), value in sorted(given.items(), reverse=True):
        left = value
        later = [k for k in range(i + 1, len(steps)) if (k, node) in open_needs]
        before = [k for k in range(i + 1) if (k, node) in open_needs]
        for k in [*later, *before]:
            part = min(left, open_needs[k, node])
            if part > SMALL * max(1.0, value):
                open_needs[k, node] -= part
                left -= part
                out.append(SteadyFlow(steps[i].id, j, steps[k].id, node, part, k <= i))
    return tuple(out)
