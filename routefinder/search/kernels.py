"""The inner loops of the search, on compressed rows.

Every function takes plain sequences (lists, or numpy arrays under a compiler), numbers only, and
scratch arrays from the caller, so that one text serves the plain and the compiled path.

Sources: hmax and LM-cut, Helmert and Domshlak, ICAPS 2009, "Landmarks, critical paths and
abstractions"; the incremental relabelling as described there and in Bonet and Helmert, ECAI 2010.
"""

from __future__ import annotations

from heapq import heappop, heappush
from typing import Any, NamedTuple

INF = float("inf")
NOTHING = 1e-12  # a residual cost below this is rounding


class Arrays(NamedTuple):
    """A network as rows both ways: tails and heads of a step, takers and makers of a node.

    Row i of a table is ``item[start[i]:start[i + 1]]``. Every step has at least one tail
    (``network.FREE`` stands for none).
    """

    tail_start: Any
    tail_item: Any
    head_start: Any
    head_item: Any
    taker_start: Any
    taker_item: Any
    maker_start: Any
    maker_item: Any


def max_labels(net: Any, cost: Any, label: Any, support: Any, missing: Any) -> None:
    """Dijkstra over steps: the cost of the dearest chain that must be run before each node.

    ``label`` comes in as 0 for what is at hand and INF elsewhere; steps of cost INF are banned.
    On return ``label[v]`` is hmax(v), ``support[r]`` the reactant of r with the greatest label
    (-1 for a step that cannot run), ``missing[r]`` the number of reactants out of reach.
    """
    heap = [(0.0, 0)]
    heap.pop()
    for r in range(len(cost)):
        missing[r] = net.tail_start[r + 1] - net.tail_start[r]
        support[r] = -1
    for v in range(len(label)):
        if label[v] < INF:
            heap.append((label[v] + 0.0, v))
    heap.sort()
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > label[v]:
            continue
        for i in range(net.taker_start[v], net.taker_start[v + 1]):
            r = net.taker_item[i]
            missing[r] -= 1
            if missing[r] == 0:
                support[r] = v
                reached = value + cost[r]
                if reached < INF:
                    for j in range(net.head_start[r], net.head_start[r + 1]):
                        u = net.head_item[j]
                        if reached < label[u]:
                            label[u] = reached
                            heappush(heap, (reached, u + 0))


def max_labels_in_buckets(
    net: Any, least: Any, label: Any, record: Any, first: Any, after: Any, entry: Any, done: Any
) -> None:
    """hmax by a circular bucket queue (Dial 1969), for costs of at least ``least`` > 0.

    A bucket is as wide as the least cost, so a node's label is final when its bucket comes up, in
    whatever order the bucket is emptied. ``label`` comes in as 0 for what is at hand and INF
    elsewhere. What the loop needs of step r stands together, so that it is fetched at once:
    ``record[4 r:]`` is (dearest reactant so far, cost, reactants missing, start of its products),
    coming in with 0 and the number of reactants. ``first`` comes in as -1, one place a bucket and
    enough of them for the greatest cost, ``done`` as 0; ``after`` and ``entry`` have room for every
    product of every step and all that is at hand.
    """
    size = len(first)
    count = 0
    for v in range(len(label)):
        if label[v] < INF:
            entry[count] = v
            after[count] = first[0]
            first[0] = count
            count += 1
    waiting = count
    bucket = 0
    while waiting > 0:
        slot = bucket % size
        e = first[slot]
        first[slot] = -1
        while e >= 0:
            waiting -= 1
            v = entry[e]
            e = after[e]
            if done[v] != 0:
                continue  # entered twice; the first time it came up its label was final
            done[v] = 1
            value = label[v]
            for i in range(net.taker_start[v], net.taker_start[v + 1]):
                r = net.taker_item[i]
                at = 4 * r
                if value > record[at]:
                    record[at] = value
                record[at + 2] -= 1.0
                if record[at + 2] == 0.0:
                    reached = record[at] + record[at + 1]
                    for j in range(int(record[at + 3]), net.head_start[r + 1]):
                        u = net.head_item[j]
                        if reached < label[u]:
                            label[u] = reached
                            place = int(reached / least) % size
                            entry[count] = u
                            after[count] = first[place]
                            first[place] = count
                            count += 1
                            waiting += 1
        bucket += 1


def tree_labels(net: Any, cost: Any, label: Any, maker: Any, missing: Any, total: Any) -> None:
    """Knuth's generalisation of Dijkstra (1977): the cheapest derivation tree of every node.

    ``label`` comes in as 0 for what is at hand and INF elsewhere; ``missing`` and ``total`` are
    scratch. On return ``maker[v]`` is the last step of the tree of v (-1 for what is at hand or out
    of reach). A tree
    charges a shared step once per use; its set of steps is a route to begin with.
    """
    heap = [(0.0, 0)]
    heap.pop()
    for r in range(len(cost)):
        missing[r] = net.tail_start[r + 1] - net.tail_start[r]
        total[r] = cost[r]
    for v in range(len(label)):
        maker[v] = -1
        if label[v] < INF:
            heap.append((0.0, v))
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > label[v]:
            continue
        for i in range(net.taker_start[v], net.taker_start[v + 1]):
            r = net.taker_item[i]
            missing[r] -= 1
            total[r] += value
            if missing[r] == 0 and total[r] < INF:
                for j in range(net.head_start[r], net.head_start[r + 1]):
                    u = net.head_item[j]
                    if total[r] < label[u]:
                        label[u] = total[r]
                        maker[u] = r
                        heappush(heap, (total[r] + 0.0, u + 0))


def path_labels(
    net: Any, cost: Any, label: Any, hand: Any, goal: Any, bound: Any, after: Any, dist: Any
) -> Any:
    """Backward Dijkstra: ``dist[v]`` is the cheapest chain of steps from node v to ``goal``.

    A step is left out when the greatest ``label`` of its reactants, its cost, and ``after`` pass
    ``bound`` together; ``after[r]`` is the least dist of its products. Where ``hand`` is 1 none is
    needed. ``after`` and ``dist`` come in as INF. Returns (the steps kept, in the order found;
    whether the bound left none out that could run).
    """
    kept = [0]
    kept.pop()
    whole = True
    heap = [(0.0, goal + 0)]
    dist[goal] = 0.0
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > dist[v]:
            continue
        for i in range(net.maker_start[v], net.maker_start[v + 1]):
            r = net.maker_item[i]
            if after[r] < INF:
                continue
            reached = value + cost[r]
            dearest = 0.0
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                if label[net.tail_item[j]] > dearest:
                    dearest = label[net.tail_item[j]]
            if dearest + reached > bound:
                if dearest + cost[r] < INF:
                    whole = False
                continue
            after[r] = value
            kept.append(r)
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                u = net.tail_item[j]
                if hand[u] == 0 and reached < dist[u]:
                    dist[u] = reached
                    heappush(heap, (reached, u + 0))
    return kept, whole


def landmark_cuts(
    net: Any,
    cost: Any,
    label: Any,
    support: Any,
    missing: Any,
    zone: Any,
    goals: Any,
    goal_count: Any,
    single: Any,
    loose: Any = False,
) -> Any:
    """LM-cut: a lower bound on the cost of any set of steps that makes the goals.

    ``loose`` leaves out the look at what is reached without passing the goal zone: the cuts then
    hold more steps than they must, the bound is a little weaker and much sooner there.

    The goals are the first ``goal_count`` of ``goals``. ``cost`` is lowered in place to the
    residual costs (INF stays banned); ``label`` comes in as 0 for what is made and INF elsewhere.
    ``zone`` is scratch, all 0: 1 in the goal zone, 2 reached before it.

    Returns (bound, number of singles): the bound is INF when the goals cannot be made; the singles,
    written to ``single``, are cuts of one step, which every such set of steps must hold.
    """
    max_labels(net, cost, label, support, missing)
    total = 0.0
    singles = 0
    inside = [0]
    border = [0]
    cut = [0]
    reached = [0]
    inside.pop()
    border.pop()
    cut.pop()
    reached.pop()
    while True:
        top = -1.0
        goal = 0
        for i in range(goal_count):
            g = goals[i]
            if label[g] > top:
                top = label[g]
                goal = g
        if top == INF:
            return INF, singles
        if top <= NOTHING:
            return total, singles
        # the goal zone: what reaches the goal by steps that cost nothing any more
        zone[goal] = 1
        inside.append(goal)
        at = 0
        while at < len(inside):
            v = inside[at]
            at += 1
            for i in range(net.maker_start[v], net.maker_start[v + 1]):
                r = net.maker_item[i]
                u = support[r]
                if missing[r] > 0 or cost[r] == INF:
                    continue
                if cost[r] > NOTHING:
                    border.append(r)
                elif zone[u] == 0:
                    zone[u] = 1
                    inside.append(u)
        # a supporter below the goal's label is reached by a chain of lower labels, all outside the
        # zone; only for the others must it be seen what is reached without passing the zone
        doubtful = False
        if not loose:
            for r in border:
                u = support[r]
                if zone[u] != 1 and label[u] >= top - NOTHING:
                    doubtful = True
        if doubtful:
            for v in range(len(label)):
                if label[v] == 0.0 and zone[v] == 0:
                    zone[v] = 2
                    reached.append(v)
            at = 0
            while at < len(reached):
                v = reached[at]
                at += 1
                for i in range(net.taker_start[v], net.taker_start[v + 1]):
                    r = net.taker_item[i]
                    if support[r] != v or missing[r] > 0 or cost[r] == INF:
                        continue
                    for j in range(net.head_start[r], net.head_start[r + 1]):
                        u = net.head_item[j]
                        if zone[u] == 0:
                            zone[u] = 2
                            reached.append(u)
        least = INF
        for r in border:
            u = support[r]
            if missing[r] == 0 and zone[u] != 1 and (not doubtful or zone[u] == 2):
                missing[r] = -1  # each step is cut once
                cut.append(r)
                if cost[r] < least:
                    least = cost[r]
        for v in inside:
            zone[v] = 0
        for v in reached:
            zone[v] = 0
        inside.clear()
        reached.clear()
        border.clear()
        if least == INF:
            return total, singles  # cannot happen with exact arithmetic; the bound so far holds
        total += least
        if len(cut) == 1:
            single[singles] = cut[0]
            singles += 1
        heap = [(0.0, 0)]
        heap.pop()
        for r in cut:
            missing[r] = 0
            cost[r] = cost[r] - least
            if cost[r] <= NOTHING:
                cost[r] = 0.0
            value = cost[r] + label[support[r]]
            for j in range(net.head_start[r], net.head_start[r + 1]):
                v = net.head_item[j]
                if value < label[v]:
                    label[v] = value
                    heappush(heap, (value, v + 0))
        cut.clear()
        while len(heap) > 0:
            value, v = heappop(heap)
            if value > label[v]:
                continue
            for i in range(net.taker_start[v], net.taker_start[v + 1]):
                r = net.taker_item[i]
                if support[r] != v or missing[r] > 0 or cost[r] == INF:
                    continue
                # the label of the supporter fell: another reactant may now be the dearest
                best = v
                for j in range(net.tail_start[r], net.tail_start[r + 1]):
                    u = net.tail_item[j]
                    if label[u] > label[best]:
                        best = u
                support[r] = best
                value_r = label[best] + cost[r]
                for j in range(net.head_start[r], net.head_start[r + 1]):
                    u = net.head_item[j]
                    if value_r < label[u]:
                        label[u] = value_r
                        heappush(heap, (value_r, u + 0))
