"""The k cheapest routes by step costs plus materials at the asked amount.

A route's material cost depends on how much each step has to make, so it is no sum over steps. It
has a lower bound that is one. With c >= 0, c <= shelf price at every node, and for every step

    q_r = sum of a c(reactants) - sum of b c(products) >= 0

(a, b: what one turn takes, with excess, and makes, with yield), weighing the balance of every node
with c gives, for a route R with turns x_r,

    cost(R) >= amount c(target) + sum over R of (w_r + x_r q_r) >= ... + sum (w_r + X_r q_r)

where X_r is the least number of turns that any route can give r. The right side is searched exactly
(``best``); every route it emits is costed truly, until no unseen one can be better.

A product that serves several nodes (a solid, and the same dissolved) counts once, at its greatest
c.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.graph.network import FREE, PlainStep
from routefinder.search import best
from routefinder.search.route import Ending, Found, StepSet

INF = float("inf")
ROUNDS = 60


@dataclass(frozen=True)
class PricedStep:
    """A step with amounts per turn.

    ``takes`` are (node, amount). ``gives`` are (amount, nodes it serves): one entry a product.
    """

    id: str
    takes: tuple[tuple[str, float], ...]
    gives: tuple[tuple[float, tuple[str, ...]], ...]
    cost: float


def node_prices(steps: Sequence[PricedStep], shelf: Mapping[str, float]) -> dict[str, float]:
    """A price c for every node with 0 <= c <= shelf price and q >= 0 for every step.

    Starts from the cheapest way to buy or make each node (the first product of a step pays for
    all it takes), then lowers prices until no step would earn by its co-products.
    """
    price: dict[str, float] = {FREE: 0.0, **shelf}
    by_products = True
    while by_products:
        _cheapen(steps, price)
        # what comes as a by-product only has no price of its own
        by_products = False
        for step in steps:
            if all(node in price for node, _ in step.takes):
                for _, nodes in step.gives[1:]:
                    for node in nodes:
                        if node not in price:
                            price[node] = 0.0
                            by_products = True
    for round_ in range(ROUNDS + 1):
        changed = False
        for step in steps:
            spent = sum(a * price.get(node, INF) for node, a in step.takes)
            if spent == INF:
                continue
            earned = sum(b * max(price.get(n, 0.0) for n in nodes) for b, nodes in step.gives)
            if earned <= spent * (1 + 1e-9) + 1e-12:
                continue
            changed = True
            scale = 0.0 if round_ == ROUNDS else spent / earned
            for _, nodes in step.gives:
                for node in nodes:
                    if node in price and node not in (FREE,):
                        price[node] *= scale
        if not changed:
            break
    return price


def _cheapen(steps: Sequence[PricedStep], price: dict[str, float]) -> None:
    """Lower prices in place to the cheapest way of making each step's first product."""
    for _ in range(len(steps) + 1):
        changed = False
        for step in steps:
            each = sum(a * price.get(node, INF) for node, a in step.takes) / step.gives[0][0]
            for node in step.gives[0][1]:
                if each < price.get(node, INF) * (1 - 1e-12):
                    price[node] = each
                    changed = True
        if not changed:
            return
    for node in price:  # a loop that makes things ever cheaper: no bound
        price[node] = 0.0


def surplus(step: PricedStep, price: Mapping[str, float]) -> float:
    """q of a step: what a turn costs beyond what it makes, at node prices."""
    spent = sum(a * price.get(node, INF) for node, a in step.takes)
    earned = sum(b * max(price.get(n, 0.0) for n in nodes) for b, nodes in step.gives)
    return max(0.0, spent - earned) if spent < INF else INF


def least_turns(steps: Sequence[PricedStep], target: str, amount: float) -> dict[str, float]:
    """X of every step: the fewest turns it can have in any route that holds it.

    Along the chain from the step to the target each taker has at least its own least turns, so the
    step makes at least the least (over takers) of a X(taker), or the target itself. Loops that
    would drive a figure down for ever leave it at 0.
    """
    demand: dict[str, float] = {target: amount}
    turns: dict[str, float] = {}
    takers: dict[str, list[tuple[PricedStep, float]]] = {}
    for step in steps:
        for node, a in step.takes:
            takers.setdefault(node, []).append((step, a))
    for round_ in range(ROUNDS + 1):
        changed: set[str] = set()
        for step in steps:
            found = min(
                (demand[node] / b for b, nodes in step.gives for node in nodes if node in demand),
                default=INF,
            )
            if found < turns.get(step.id, INF) * (1 - 1e-12):
                turns[step.id] = 0.0 if round_ >= ROUNDS // 2 else found
                changed.add(step.id)
        if not changed:
            break
        for step in steps:
            if step.id in changed:
                for node, a in step.takes:
                    demand[node] = min(demand.get(node, INF), a * turns[step.id])
    return {step.id: turns.get(step.id, 0.0) for step in steps}


def cheapest_routes(
    steps: Sequence[PricedStep],
    shelf: Mapping[str, float],
    target: str,
    amount: float,
    k: int,
    true_cost: Callable[[tuple[str, ...]], float],
    *,
    seconds: float = INF,
    caps: Sequence[best.Cap] = (),
    accept: Callable[[tuple[str, ...]], bool] | None = None,
) -> Found:
    """The ``k`` routes with the least ``true_cost``, proven by the bound above.

    ``shelf`` gives the price per unit of every node at hand. ``true_cost`` must be the step costs
    plus the purchases of a plan whose turns satisfy every node's balance.
    """
    started = time.monotonic()
    price = node_prices(steps, shelf)
    turns = least_turns(steps, target, amount)
    plain: list[PlainStep] = []
    for step in steps:
        regret = surplus(step, price)
        if regret == INF:
            continue  # takes what cannot be had at all
        cost = step.cost + turns[step.id] * regret
        nodes = dict.fromkeys(n for _, names in step.gives for n in names)
        plain.append(PlainStep(step.id, [n for n, _ in step.takes], nodes, cost))
    base = amount * price.get(target, 0.0)
    costed: dict[frozenset[str], tuple[float, tuple[str, ...]]] = {}

    def note(ids: tuple[str, ...]) -> bool:
        key = frozenset(ids)
        if key not in costed:
            if accept is not None and not accept(ids):
                return False
            costed[key] = (true_cost(ids), ids)
        return True

    def ranked() -> list[tuple[float, tuple[str, ...]]]:
        return sorted(costed.values(), key=lambda item: item[0])

    def left() -> float:
        return max(1e-3, seconds - (time.monotonic() - started))

    def worth() -> float:
        """No route is wanted whose bound passes the k-th true cost so far."""
        return ranked()[k - 1][0] * (1 + 1e-9) - base if len(costed) >= k else INF

    found = best.best_routes(
        plain, shelf, target, 10**9, seconds=left(), caps=caps, accept=note, worth=worth
    )
    bound = base + found.bound
    routes = tuple(
        StepSet(ids, cost, cost <= bound * (1 + 1e-9) or found.ending is not Ending.STOPPED)
        for cost, ids in ranked()[:k]
    )
    ending = found.ending
    if ending is Ending.ALL and len(costed) > k:
        ending = Ending.PROVEN
    if not routes and ending is not Ending.STOPPED:
        ending = Ending.NONE
    return Found(routes, ending, bound, found.nodes, time.monotonic() - started)
