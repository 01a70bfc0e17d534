"""Random reaction networks with heavy-tailed degrees, for tests and benchmarks; seeds are fixed.

Nodes are numbered; a step's reactants are drawn mostly from nodes with smaller numbers (so that much
can be reached) and sometimes from anywhere (so that there are cycles), small numbers far more often
(so that there are hubs). Reactants 1 to 3, products 1 to 2, costs 1 to 10.
"""

from __future__ import annotations

import random

from routefinder.graph.network import PlainStep


def generate(
    steps: int, seed: int, *, per_node: float = 2.0, back: float = 0.12, integer: bool = False
) -> tuple[list[PlainStep], list[str], list[str]]:
    """(steps, shelf, targets worth asking for, deepest first)."""
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
            tails.add(int(limit * rng.random() ** 1.7))
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
