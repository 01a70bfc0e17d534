"""The inner loops of the search, on compressed rows.

Every function takes plain sequences (lists, or numpy arrays under a compiler), numbers only, and
scratch arrays from the caller, so that one text serves the plain and the compiled path.

Sources: hmax and LM-cut, Helmert and Domshlak, ICAPS 2009, "Landmarks, critical paths and
abstractions"; the incremental relabelling as described there and in Bonet and Helmert, ECAI 2010.
"""

from __future__ import annotations

from heapq import heappop, heappush
from typing import Any

INF = float("inf")


def max_labels(
    tail_start: Any,
    tail_item: Any,
    head_start: Any,
    head_item: Any,
    taker_start: Any,
    taker_item: Any,
    cost: Any,
    label: Any,
    support: Any,
    missing: Any,
) -> None:
    """Dijkstra over steps: the cost of the dearest chain that must be run before each node.

    ``label`` comes in as 0 for what is at hand and INF elsewhere; steps of cost INF are banned.
    On return ``label[v]`` is hmax(v), ``support[r]`` the reactant of r with the greatest label
    (-1 for a step that cannot run), ``missing[r]`` the number of reactants out of reach. Every
    step has at least one reactant (``network.FREE`` stands for none).
    """
    heap = [(0.0, 0)]
    heap.pop()
    for r in range(len(cost)):
        missing[r] = tail_start[r + 1] - tail_start[r]
        support[r] = -1
    for v in range(len(label)):
        if label[v] < INF:
            heap.append((label[v] + 0.0, v))
    heap.sort()
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > label[v]:
            continue
        for i in range(taker_start[v], taker_start[v + 1]):
            r = taker_item[i]
            missing[r] -= 1
            if missing[r] == 0:
                support[r] = v
                reached = value + cost[r]
                if reached < INF:
                    for j in range(head_start[r], head_start[r + 1]):
                        u = head_item[j]
                        if reached < label[u]:
                            label[u] = reached
                            heappush(heap, (reached, u + 0))


def max_labels_in_buckets(
    tail_start: Any,
    tail_item: Any,
    head_start: Any,
    head_item: Any,
    taker_start: Any,
    taker_item: Any,
    cost: Any,
    least: float,
    most: float,
    label: Any,
    before: Any,
    missing: Any,
    done: Any,
) -> None:
    """hmax by a circular bucket queue (Dial 1969), for costs between ``least`` > 0 and ``most``.

    A bucket is as wide as the least cost, so a node's label is final when its bucket comes up, in
    whatever order the bucket is emptied. ``missing`` comes in as the number of reactants of each
    step, ``before`` as INF, ``done`` as 0; on return ``before[r]`` is the dearest label among the
    reactants of r.
    """
    size = int(most / least) + 3
    first = [-1]
    first.pop()
    for _ in range(size):
        first.append(-1)
    entry_node = [0]
    entry_node.pop()
    entry_next = [0]
    entry_next.pop()
    for v in range(len(label)):
        if label[v] < INF:
            entry_node.append(v)
            entry_next.append(first[0])
            first[0] = len(entry_node) - 1
    waiting = len(entry_node)
    bucket = 0
    while waiting > 0:
        slot = bucket % size
        e = first[slot]
        first[slot] = -1
        top = (bucket + 1) * least
        while e >= 0:
            waiting -= 1
            v = entry_node[e]
            e = entry_next[e]
            if label[v] < bucket * least or label[v] >= top:
                continue  # moved to an earlier bucket since
            if done[v] != 0:
                continue  # the same node, entered twice
            done[v] = 1
            for i in range(taker_start[v], taker_start[v + 1]):
                r = taker_item[i]
                missing[r] -= 1
                if missing[r] == 0:
                    dearest = 0.0
                    for j in range(tail_start[r], tail_start[r + 1]):
                        if label[tail_item[j]] > dearest:
                            dearest = label[tail_item[j]]
                    before[r] = dearest
                    reached = dearest + cost[r]
                    for j in range(head_start[r], head_start[r + 1]):
                        u = head_item[j]
                        if reached < label[u]:
                            label[u] = reached
                            place = int(reached / least) % size
                            entry_node.append(u + 0)
                            entry_next.append(first[place])
                            first[place] = len(entry_node) - 1
                            waiting += 1
        bucket += 1


def tree_labels(
    head_start: Any,
    head_item: Any,
    taker_start: Any,
    taker_item: Any,
    label: Any,
    maker: Any,
    missing: Any,
    total: Any,
) -> None:
    """Knuth's generalisation of Dijkstra (1977): the cheapest derivation tree of every node.

    ``label`` comes in as 0 for what is at hand and INF elsewhere, ``missing[r]`` as the number of
    reactants of r, ``total`` as the costs (it gathers the trees of the reactants). On return
    ``maker[v]`` is the last step of v's tree (-1 for what is at hand or out of reach). A tree
    charges a shared step once per use; its set of steps is a route to begin with.
    """
    heap = [(0.0, 0)]
    heap.pop()
    for v in range(len(label)):
        maker[v] = -1
        if label[v] < INF:
            heap.append((0.0, v))
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > label[v]:
            continue
        for i in range(taker_start[v], taker_start[v + 1]):
            r = taker_item[i]
            missing[r] -= 1
            total[r] += value
            if missing[r] == 0 and total[r] < INF:
                for j in range(head_start[r], head_start[r + 1]):
                    u = head_item[j]
                    if total[r] < label[u]:
                        label[u] = total[r]
                        maker[u] = r
                        heappush(heap, (total[r] + 0.0, u + 0))


def path_labels(
    tail_start: Any,
    tail_item: Any,
    maker_start: Any,
    maker_item: Any,
    cost: Any,
    before: Any,
    goal: Any,
    bound: Any,
    after: Any,
    dist: Any,
) -> Any:
    """Backward Dijkstra: ``dist[v]`` is the cheapest chain of steps from node v to ``goal``.

    ``before[r]`` is the dearest label among the reactants of r; a step whose
    ``before + cost + after`` passes ``bound`` is left out. ``after[r]`` is the least dist of its
    products; both arrays come in as INF. Returns the steps kept, in the order found.
    """
    kept = [0]
    kept.pop()
    heap = [(0.0, goal + 0)]
    dist[goal] = 0.0
    while len(heap) > 0:
        value, v = heappop(heap)
        if value > dist[v]:
            continue
        for i in range(maker_start[v], maker_start[v + 1]):
            r = maker_item[i]
            if after[r] < INF or before[r] + cost[r] + value > bound:
                continue
            after[r] = value
            kept.append(r)
            reached = value + cost[r]
            for j in range(tail_start[r], tail_start[r + 1]):
                u = tail_item[j]
                if reached < dist[u]:
                    dist[u] = reached
                    heappush(heap, (reached, u + 0))
    return kept


def landmark_cuts(
    tail_start: Any,
    tail_item: Any,
    head_start: Any,
    head_item: Any,
    taker_start: Any,
    taker_item: Any,
    maker_start: Any,
    maker_item: Any,
    cost: Any,
    label: Any,
    support: Any,
    missing: Any,
    zone: Any,
    goals: Any,
) -> float:
    """LM-cut: a lower bound on the cost of any set of steps that makes all ``goals``.

    ``cost`` is lowered in place to the residual costs (INF stays banned); ``label`` comes in as 0
    for what is made and INF elsewhere. Returns the bound, INF when the goals cannot be made.
    ``zone`` is scratch: 1 in the goal zone, 2 reached before it.
    """
    max_labels(
        tail_start, tail_item, head_start, head_item, taker_start, taker_item,
        cost, label, support, missing,
    )  # fmt: skip
    total = 0.0
    while True:
        top = -1.0
        goal = -1
        for g in goals:
            if label[g] > top:
                top = label[g]
                goal = g
        if top == INF:
            return INF
        if top <= 1e-12:
            return total
        for v in range(len(zone)):
            zone[v] = 0
        # the goal zone: what reaches the goal by steps that cost nothing any more
        zone[goal] = 1
        stack = [goal]
        border = [0]
        border.pop()
        while len(stack) > 0:
            v = stack.pop()
            for i in range(maker_start[v], maker_start[v + 1]):
                r = maker_item[i]
                u = support[r]
                if missing[r] > 0 or cost[r] == INF:
                    continue
                if cost[r] > 1e-12:
                    border.append(r)
                elif zone[u] == 0:
                    zone[u] = 1
                    stack.append(u)
        # what is reached from the shelf without passing the zone
        for v in range(len(label)):
            if label[v] == 0.0 and zone[v] == 0:
                zone[v] = 2
                stack.append(v)
        while len(stack) > 0:
            v = stack.pop()
            for i in range(taker_start[v], taker_start[v + 1]):
                r = taker_item[i]
                if support[r] != v or missing[r] > 0 or cost[r] == INF:
                    continue
                for j in range(head_start[r], head_start[r + 1]):
                    u = head_item[j]
                    if zone[u] == 0:
                        zone[u] = 2
                        stack.append(u)
        least = INF
        cut = [0]
        cut.pop()
        for r in border:
            if zone[support[r]] == 2 and cost[r] < least:
                least = cost[r]
        for r in border:
            if zone[support[r]] == 2 and missing[r] == 0:
                missing[r] = -1  # each step is cut once
                cut.append(r)
        if least == INF:
            return total  # cannot happen with exact arithmetic; the bound so far holds
        total += least
        heap = [(0.0, 0)]
        heap.pop()
        for r in cut:
            missing[r] = 0
            cost[r] = cost[r] - least
            if cost[r] <= 1e-12:
                cost[r] = 0.0
            reached = cost[r] + label[support[r]]
            for j in range(head_start[r], head_start[r + 1]):
                v = head_item[j]
                if reached < label[v]:
                    label[v] = reached
                    heappush(heap, (reached, v + 0))
        while len(heap) > 0:
            value, v = heappop(heap)
            if value > label[v]:
                continue
            for i in range(taker_start[v], taker_start[v + 1]):
                r = taker_item[i]
                if support[r] != v or missing[r] > 0 or cost[r] == INF:
                    continue
                # the label of the supporter fell: another reactant may now be the dearest
                best = v
                for j in range(tail_start[r], tail_start[r + 1]):
                    u = tail_item[j]
                    if label[u] > label[best]:
                        best = u
                support[r] = best
                reached = label[best] + cost[r]
                for j in range(head_start[r], head_start[r + 1]):
                    u = head_item[j]
                    if reached < label[u]:
                        label[u] = reached
                        heappush(heap, (reached, u + 0))
