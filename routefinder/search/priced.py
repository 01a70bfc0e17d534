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
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.graph.network import FREE, Network, PlainStep, network
from routefinder.search import best
from routefinder.search.goods import Materials
from routefinder.search.linear import least
from routefinder.search.route import Ending, Found, StepSet

INF = float("inf")
ROUNDS = 60
BESIDE = 1e-3  # weight of all other prices together against the target's


@dataclass(frozen=True)
class PricedStep:
    """A step with amounts per turn.

    ``takes`` are (node, amount). ``gives`` are (amount, nodes it serves): one entry a product.
    """

    id: str
    takes: tuple[tuple[str, float], ...]
    gives: tuple[tuple[float, tuple[str, ...]], ...]
    cost: float


def node_prices(
    steps: Sequence[PricedStep], shelf: Mapping[str, float], target: str
) -> dict[str, float]:
    """A price c for every node that can be had, 0 <= c <= shelf price and q >= 0 for every step.

    The linear programme (HiGHS) that makes the target as dear as can be, and everything else as
    dear as goes beside. All 0 when there is no bound (a loop makes things from nothing).
    """
    have = {FREE, *shelf}
    waiting = list(steps)
    while True:
        ready = {s.id for s in waiting if all(node in have for node, _ in s.takes)}
        if not ready:
            break
        have.update(n for s in waiting if s.id in ready for _, nodes in s.gives for n in nodes)
        waiting = [s for s in waiting if s.id not in ready]
    number = {node: i for i, node in enumerate(sorted(have))}
    if target not in number:
        return dict.fromkeys(number, 0.0)
    upper = [shelf.get(node, 0.0 if node == FREE else INF) for node in number]
    rows: list[dict[int, float]] = []
    for step in steps:
        if any(node not in have for node, _ in step.takes):
            continue
        row: dict[int, float] = {}
        for node, a in step.takes:
            row[number[node]] = row.get(number[node], 0.0) + a
        for b, nodes in step.gives:
            worth = number[nodes[0]]
            if len(nodes) > 1:  # one product for several nodes is worth its dearest
                worth = len(upper)
                upper.append(INF)
                rows += [{worth: 1.0, number[node]: -1.0} for node in nodes]
            row[worth] = row.get(worth, 0.0) - b
        rows.append(row)
    costs = [-BESIDE / len(number)] * len(number) + [0.0] * (len(upper) - len(number))
    costs[number[target]] = -1.0
    found = least(costs, rows, [0.0] * len(rows), upper)
    if found is None:
        return dict.fromkeys(number, 0.0)
    return {node: max(0.0, found.values[i]) for node, i in number.items()}


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


def _materials(
    net: Network,
    steps: Sequence[PricedStep],
    regret: Mapping[str, float],
    turns: Mapping[str, float],
    amount: float,
) -> Materials:
    """The amounts along the rows of the packed network."""
    take: list[float] = []
    give: list[float] = []
    for r, step in enumerate(steps):
        takes: dict[str, float] = {}
        for node, a in step.takes:
            takes[node] = takes.get(node, 0.0) + a
        gives: dict[str, float] = {}
        for b, nodes in step.gives:
            for node in nodes:
                gives[node] = gives.get(node, 0.0) + b
        take += [takes.get(net.nodes[v], 0.0) for v in net.tails.row(r)]
        give += [gives[net.nodes[v]] for v in net.heads.row(r)]
    return Materials(
        take, give, [regret[s.id] for s in steps], [turns[s.id] for s in steps],
        [s.cost for s in steps], amount,
    )  # fmt: skip


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
    group: Callable[[tuple[str, ...]], Hashable] | None = None,
    beside: int = 0,
    compile: bool | None = None,
) -> Found:
    """The ``k`` routes with the least ``true_cost``, proven by the bound above.

    ``shelf`` gives the price per unit of every node at hand. ``true_cost`` must be the step costs
    plus the purchases of a plan whose turns satisfy every node's balance. With ``group`` only the
    cheapest route of each group counts; up to ``beside`` others of a group that were met and cost
    no more than the last are listed with it.
    """
    started = time.monotonic()
    turns = least_turns(steps, target, amount)
    price = node_prices(steps, shelf, target)
    usable = [s for s in steps if all(node in price for node, _ in s.takes)]
    regret = {s.id: surplus(s, price) for s in usable}
    net = network(
        PlainStep(
            s.id,
            [n for n, _ in s.takes],
            dict.fromkeys(n for _, names in s.gives for n in names),
            s.cost + turns[s.id] * regret[s.id],
        )
        for s in usable
    )
    materials = _materials(net, usable, regret, turns, amount)
    base = amount * price.get(target, 0.0)
    costed: dict[frozenset[str], tuple[float, tuple[str, ...]]] = {}

    def note(ids: tuple[str, ...]) -> bool:
        key = frozenset(ids)
        if key not in costed:
            if accept is not None and not accept(ids):
                return False
            costed[key] = (true_cost(ids), ids)
        return True

    groups: dict[tuple[str, ...], Hashable] = {}

    def ranked() -> list[tuple[float, tuple[str, ...]]]:
        """The routes costed, cheapest first; only the cheapest of each group."""
        every = sorted(costed.values(), key=lambda item: item[0])
        if group is None:
            return every
        first: dict[Hashable, tuple[float, tuple[str, ...]]] = {}
        for cost, ids in every:
            if ids not in groups:
                groups[ids] = group(ids)
            first.setdefault(groups[ids], (cost, ids))
        return list(first.values())

    def left() -> float:
        return max(1e-3, seconds - (time.monotonic() - started))

    def worth() -> float:
        """No route is wanted whose bound passes the k-th true cost so far."""
        best_so_far = ranked()
        return best_so_far[k - 1][0] * (1 + 1e-9) - base if len(best_so_far) >= k else INF

    # a first set of routes, so that the search proper knows what is worth seeing
    best.search(net, shelf, target, k, seconds=left() / 4, caps=caps, accept=note, compile=compile)
    found = best.search(
        net, shelf, target, 10**9, seconds=left(), caps=caps, accept=note, worth=worth,
        materials=materials, compile=compile,
    )  # fmt: skip
    bound = base + found.bound
    listed = ranked()[:k]
    if group is not None and beside and listed:
        count = {groups[ids]: 0 for _, ids in listed}
        for cost, ids in sorted(costed.values(), key=lambda item: item[0]):
            mine = groups[ids]
            if cost > listed[-1][0] and len(ranked()) > k:
                break
            if mine in count and (cost, ids) not in listed and count[mine] < beside:
                count[mine] += 1
                listed = [*listed, (cost, ids)]
        listed = sorted(listed, key=lambda item: item[0])
    routes = tuple(
        StepSet(ids, cost, cost <= bound * (1 + 1e-9) or found.ending is not Ending.STOPPED)
        for cost, ids in listed
    )
    ending = found.ending
    whole = len(routes) == len(costed) or (group is not None and not beside)
    if ending is Ending.ALL and (len(ranked()) > k or not whole):
        ending = Ending.PROVEN
    if not routes and ending is not Ending.STOPPED:
        ending = Ending.NONE
    return Found(routes, ending, bound, found.nodes, time.monotonic() - started)
