"""Random reaction networks with heavy-tailed degrees, for tests and benchmarks; seeds are fixed.

Nodes are numbered; a step's reactants are drawn mostly from nodes with smaller numbers (so that much
can be reached) and sometimes from anywhere (so that there are cycles), small numbers far more often
(so that there are hubs). Reactants 1 to 3, products 1 to 2, costs 1 to 10.
"""

from __future__ import annotations

import random

from routefinder.graph.network import PlainStep


def generate(
    steps: int,
    seed: int,
    *,
    per_node: float = 2.0,
    back: float = 0.12,
    integer: bool = False,
    local: float = 1.0,
) -> tuple[list[PlainStep], list[str], list[str]]:
    """(steps, shelf, targets worth asking for, deepest first).

    ``local`` below 1 draws reactants only from that share of the smaller numbers nearest to the
    product, which makes routes long.
    """
    rng = random.Random(seed)
    n = max(6, int(steps / per_node))
    at_hand = max(3, n // 25)
    shelf = [f"n{i}" for i in range(at_hand)]
    out = []
    for i in range(steps):
        head = rng.randrange(at_hand, n)
        tails = set()
        for _ in range(rng.choice((1, 1, 2, 2, 3))):
            limit = n if rng.random() < back else head
            low = (1 - local) * limit
            tails.add(int(low + (limit - low) * rng.random() ** 1.7))
        heads = {head}
        if rng.random() < 0.35:
            heads.add(rng.randrange(at_hand, n))
        heads -= tails
        if not heads:
            continue
        cost = rng.randint(1, 9) if integer else rng.uniform(1, 10)
        out.append(
            PlainStep(
                f"s{i}", [f"n{v}" for v in sorted(tails)], [f"n{v}" for v in sorted(heads)],
                float(cost),
            )
        )  # fmt: skip
    targets = [f"n{v}" for v in range(n - 1, n // 2, -max(1, n // 200))]
    return out, shelf, targets


def generate_arrays(steps: int, seed: int, *, per_node: float = 2.0, back: float = 0.12):
    """The same kind of network as numpy arrays: (network, shelf, targets)."""
    import numpy as np

    from routefinder.graph.network import Network, Numbered, Rows

    rng = np.random.default_rng(seed)
    n = max(6, int(steps / per_node))
    at_hand = max(3, n // 25)
    head = rng.integers(at_hand, n, steps)
    count = rng.choice(np.array([1, 1, 2, 2, 3]), steps)
    owner = np.repeat(np.arange(steps), count)
    limit = np.where(rng.random(len(owner)) < back, n, head[owner])
    tail = (limit * rng.random(len(owner)) ** 1.7).astype(np.int32)
    keep = tail != head[owner]
    owner, tail = owner[keep], tail[keep]
    order = np.lexsort((tail, owner))
    owner, tail = owner[order], tail[order]
    first = np.ones(len(owner), bool)
    first[1:] = (owner[1:] != owner[:-1]) | (tail[1:] != tail[:-1])
    owner, tail = owner[first], tail[first]
    # a step that lost all its reactants takes node 0, which is at hand
    bare = np.setdiff1d(np.arange(steps), owner)
    owner = np.concatenate([owner, bare])
    tail = np.concatenate([tail, np.zeros(len(bare), np.int32)])
    order = np.argsort(owner, kind="stable")
    owner, tail = owner[order], tail[order]
    tails = Rows(np.searchsorted(owner, np.arange(steps + 1)), tail.astype(np.int32))
    extra = rng.random(steps) < 0.35
    other = rng.integers(at_hand, n, steps)
    starts = np.concatenate([[0], np.cumsum(1 + extra)])
    items = np.repeat(head, 1 + extra)
    items[starts[:-1][extra] + 1] = other[extra]
    heads = Rows(starts, items.astype(np.int32))
    net = Network(Numbered("n", n), Numbered("s", steps), tails, heads, rng.uniform(1, 10, steps))
    shelf = [f"n{i}" for i in range(at_hand)]
    targets = [f"n{v}" for v in range(n - 1, n // 2, -max(1, n // 200))]
    return net, shelf, targets


def generate_priced(steps: int, seed: int, share: float, **shape):
    """(priced steps, shelf prices, targets, true cost of a route) with amounts that conserve mass.

    Reactants are taken at 1 to 1.3 a turn, products come at 0.5 to 0.98 (half of that each when
    there are two), so no loop makes things from nothing. Shelf prices are log-normal, scaled so that
    materials are about ``share`` of the cost of a target's cheapest route by step costs alone.
    """
    from routefinder.search.best import best_routes
    from routefinder.search.priced import PricedStep

    plain, shelf, targets = generate(steps, seed, **shape)
    rng = random.Random(seed + 1)
    out = []
    for step in plain:
        gives = [(rng.uniform(0.5, 0.98) / len(step.products), (n,)) for n in step.products]
        takes = [(n, rng.uniform(1.0, 1.3)) for n in step.reactants]
        out.append(PricedStep(step.id, tuple(takes), tuple(gives), step.cost))
    prices = {n: rng.lognormvariate(0.0, 1.0) for n in shelf}
    by_id = {s.id: s for s in out}
    kept = []
    for target in targets:
        found = best_routes(plain, shelf, target, 1)
        if not found.routes or len(found.routes[0].steps) < 2:
            continue
        work = found.routes[0].cost
        goods = batch_cost(by_id, prices, target, 1.0, found.routes[0].steps) - work
        kept.append((target, share / (1 - share) * work / goods))
    return out, prices, kept


def batch_cost(by_id, prices, target, amount, ids):
    """Step costs plus the least purchases of a batch, by a linear programme in HiGHS.

    Turns are at least 0, what is left over costs nothing, and every node balances.
    """
    from routefinder.search.linear import least

    nodes: dict[str, int] = {}
    rows: list[dict[int, float]] = []
    steps = [by_id[i] for i in ids]

    def entry(name, j, value):
        if name not in nodes:
            nodes[name] = len(rows)
            rows.append({})
        row = rows[nodes[name]]
        row[j] = row.get(j, 0.0) + value

    for j, step in enumerate(steps):
        for name, a in step.takes:
            entry(name, j, -a)
        for b, names in step.gives:
            entry(names[0], j, b)
    cost = [0.0] * len(steps)
    for name in [n for n in nodes if n in prices]:
        entry(name, len(cost), 1.0)
        cost.append(prices[name])
    need = [amount if name == target else 0.0 for name in nodes]
    found = least(cost, rows, need)
    if found is None:
        raise ValueError(f"no batch makes {target} with {ids}")
    return sum(s.cost for s in steps) + found.aim
