"""The part of a network that can matter below a cost: some of its steps, renumbered."""

from __future__ import annotations

from typing import Any


def row_sizes(net: Any, kept: Any) -> Any:
    """(reactants, products) of the ``kept`` steps, all told."""
    tails = 0
    heads = 0
    for i in range(len(kept)):
        r = kept[i]
        tails += net.tail_start[r + 1] - net.tail_start[r]
        heads += net.head_start[r + 1] - net.head_start[r]
    return tails, heads


def sub_rows(
    net: Any,
    kept: Any,
    hand: Any,
    number: Any,
    goal: Any,
    tail_start: Any,
    tail_item: Any,
    head_start: Any,
    head_item: Any,
    tail_from: Any,
    head_from: Any,
) -> Any:
    """Rows of the ``kept`` steps over nodes numbered anew; 0 is all that is at hand, 1 the goal.

    ``hand[v]`` is 1 for what is at hand; ``number`` comes in as -1 everywhere and is so again
    afterwards. Reactants at hand are dropped (a step that has no other takes node 0), and so are
    products that no kept step takes. ``tail_from`` and ``head_from`` say where an entry stood in
    ``net``. Returns the number of nodes.
    """
    count = 2
    number[goal] = 1
    at = 0
    for i in range(len(kept)):
        r = kept[i]
        tail_start[i] = at
        for j in range(net.tail_start[r], net.tail_start[r + 1]):
            v = net.tail_item[j]
            if hand[v] == 1:
                continue
            if number[v] < 0:
                number[v] = count
                count += 1
            tail_item[at] = number[v]
            tail_from[at] = j
            at += 1
        if at == tail_start[i]:
            tail_item[at] = 0
            tail_from[at] = net.tail_start[r]
            at += 1
    tail_start[len(kept)] = at
    at = 0
    for i in range(len(kept)):
        r = kept[i]
        head_start[i] = at
        for j in range(net.head_start[r], net.head_start[r + 1]):
            v = net.head_item[j]
            if hand[v] == 0 and number[v] >= 0:
                head_item[at] = number[v]
                head_from[at] = j
                at += 1
    head_start[len(kept)] = at
    number[goal] = -1
    for i in range(len(kept)):
        r = kept[i]
        for j in range(net.tail_start[r], net.tail_start[r + 1]):
            number[net.tail_item[j]] = -1
    return count


def turned(start: Any, item: Any, width: Any, turn_start: Any, turn_item: Any) -> None:
    """The transposed rows; ``turn_start`` comes in as 0, with one place more than ``width``."""
    for i in range(start[len(start) - 1]):
        turn_start[item[i] + 1] += 1
    for v in range(width):
        turn_start[v + 1] += turn_start[v]
    for r in range(len(start) - 1):
        for i in range(start[r], start[r + 1]):
            v = item[i]
            turn_item[turn_start[v]] = r
            turn_start[v] += 1
    for v in range(width, 0, -1):
        turn_start[v] = turn_start[v - 1]
    turn_start[0] = 0
