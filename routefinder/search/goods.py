"""What a route's materials must cost at least, at a node of the search tree.

Every step has a *regret* q >= 0 for each turn: what its reactants are worth beyond its products, at
fixed node prices. A route costs at least its base plus, over its steps, step cost + turns x regret.
The turns of the included steps follow from what is demanded of them; those of a step still free
are at least what the least demanding chain from it to a demand asks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

FREE, INCLUDED, BANNED = 0, 1, 2
INF = float("inf")
SWEEPS = 12


@dataclass(frozen=True)
class Materials:
    """The same for a whole network: ``take`` and ``give`` run along its rows both ways.

    ``work`` is the cost of each step alone; the network's own costs are ``work + least * regret``.
    """

    take: Any
    give: Any
    regret: Any
    least: Any
    work: Any
    amount: float


class Goods(NamedTuple):
    """Amounts along a part: one place a reactant or product entry, a step, or a node of it.

    ``take`` and ``give`` are amounts a turn; ``regret`` and ``least`` (turns) stand by step;
    ``amount`` is what is asked of the goal. The rest is scratch.
    """

    take: Any
    give: Any
    regret: Any
    least: Any
    amount: Any
    turns: Any
    need: Any
    reach: Any
    queue: Any
    queued: Any


def demand(net: Any, goods: Any, mark: Any, chosen: Any, count: Any, goal: Any, rival: Any) -> None:
    """Least turns of the included steps into ``goods.turns``, what they ask into ``goods.need``.

    A node that only one step can make, and that one included, is made by it in full. Other steps
    that can are those marked INCLUDED or ``rival``: FREE ones too while a route grows, INCLUDED
    ones alone when it is complete.
    """
    turns, need = goods.turns, goods.need
    for i in range(count):
        turns[chosen[i]] = goods.least[chosen[i]]
    for _ in range(SWEEPS):
        for i in range(count):
            r = chosen[i]
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                need[net.tail_item[j]] = 0.0
            for j in range(net.head_start[r], net.head_start[r + 1]):
                need[net.head_item[j]] = 0.0
        need[goal] = goods.amount
        for i in range(count):
            r = chosen[i]
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                need[net.tail_item[j]] += goods.take[j] * turns[r]
        changed = False
        for i in range(count):
            r = chosen[i]
            for j in range(net.head_start[r], net.head_start[r + 1]):
                v = net.head_item[j]
                asked = need[v] / goods.give[j]
                if asked > turns[r] * (1 + 1e-12):
                    alone = True
                    for k in range(net.maker_start[v], net.maker_start[v + 1]):
                        q = net.maker_item[k]
                        if q != r and (mark[q] == INCLUDED or mark[q] == rival):
                            alone = False
                            break
                    if alone:
                        turns[r] = asked
                        changed = True
        if not changed:
            break


def reach_back(
    net: Any, goods: Any, mark: Any, made: Any, stamp: Any, goals: Any, goal_count: Any
) -> Any:
    """Least turns of the free steps into ``goods.turns``, by the least demanding chain to a goal.

    Label correcting, as amounts may shrink along a chain; returns False when it does not settle
    (``goods.turns`` of the free steps is then not to be used).
    """
    reach, queue, queued, turns = goods.reach, goods.queue, goods.queued, goods.turns
    size = len(reach)
    for v in range(size):
        reach[v] = INF
        queued[v] = 0
    for r in range(len(turns)):
        if mark[r] == FREE:
            turns[r] = INF
    at = 0
    waiting = 0
    for i in range(goal_count):
        g = goals[i]
        reach[g] = goods.need[g]
        queue[waiting] = g
        queued[g] = 1
        waiting += 1
    patience = 6 * size + 50
    while waiting > 0:
        patience -= 1
        if patience < 0:
            return False
        v = queue[at]
        at = (at + 1) % size
        waiting -= 1
        queued[v] = 0
        for i in range(net.maker_start[v], net.maker_start[v + 1]):
            r = net.maker_item[i]
            if mark[r] != FREE:
                continue
            amount = 0.0
            for j in range(net.head_start[r], net.head_start[r + 1]):
                if net.head_item[j] == v:
                    amount = goods.give[j]
            value = reach[v] / amount
            if value < goods.least[r]:
                value = goods.least[r]
            if value >= turns[r] * (1 - 1e-12):
                continue
            turns[r] = value
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                u = net.tail_item[j]
                if made[u] == stamp:
                    continue
                asked = value * goods.take[j]
                if asked < reach[u]:
                    reach[u] = asked
                    if queued[u] == 0:
                        queued[u] = 1
                        queue[(at + waiting) % size] = u
                        waiting += 1
    return True
