"""The branch and bound itself, on arrays: one text for the plain and the compiled path.

A node is a set of included steps and a set of banned ones. Every route below a node holds all the
included steps and none of the banned; the children of a node split its routes by the first of a
list of steps they hold, so no route comes twice.

What bans and forces a step, beside the bound:

* two steps that make the same things, or of which one only gives back what the other, which makes a
  single thing, took to make it, never stand in one minimal route (*rivals*);
* a step all of whose products can be made by the included steps is superfluous;
* a landmark cut of one step forces it.

A residual cost belongs to the bound it was computed with, never to an inherited one.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from routefinder.search.goods import demand, reach_back
from routefinder.search.kernels import landmark_cuts

INF = float("inf")
EPS = 1e-9
OPEN, LEAF = 0, 1
FREE, INCLUDED, BANNED = 0, 1, 2
DONE, ROUTES, PAUSED, FULL = 0, 1, 2, 3
# places in ``state``
HEAP, NODES, ARENA, EXPANDED, STAMP, COUNT, GOAL, CAPS = 0, 1, 2, 3, 4, 5, 6, 7


class Tree(NamedTuple):
    """The search tree; all arrays but ``arena`` and ``heap`` have one place a node.

    A node's children share its branch list ``arena[branch:]``; child number ``place`` includes the
    step there and bans those before it. ``forced`` and ``banned`` (with their ends) are what the
    node's own expansion found.
    """

    parent: Any
    place: Any
    step: Any
    kind: Any
    branch: Any
    forced: Any
    forced_end: Any
    banned_end: Any
    depth: Any
    bound: Any
    heap: Any
    arena: Any


class Scratch(NamedTuple):
    """Working arrays: up to ``fresh`` one place a step, from ``made`` one a node of the network."""

    mark: Any
    chosen: Any
    fired: Any
    residual: Any
    support: Any
    missing: Any
    single: Any
    branch: Any
    fresh: Any
    made: Any
    spare: Any
    times: Any
    label: Any
    zone: Any
    goals: Any


def before(tree: Any, a: Any, b: Any) -> Any:
    """Whether node ``a`` comes before ``b``: lower bound, then deeper, then older."""
    if tree.bound[a] != tree.bound[b]:
        return tree.bound[a] < tree.bound[b]
    if tree.depth[a] != tree.depth[b]:
        return tree.depth[a] > tree.depth[b]
    return a < b


def push(tree: Any, state: Any, node: Any) -> None:
    """Put a node on the heap."""
    heap = tree.heap
    i = state[HEAP]
    state[HEAP] = i + 1
    while i > 0:
        up = (i - 1) // 2
        if before(tree, heap[up], node):
            break
        heap[i] = heap[up]
        i = up
    heap[i] = node


def pop(tree: Any, state: Any) -> Any:
    """Take the first node off the heap."""
    heap = tree.heap
    first = heap[0]
    size = state[HEAP] - 1
    state[HEAP] = size
    node = heap[size]
    i = 0
    while True:
        down = 2 * i + 1
        if down >= size:
            break
        if down + 1 < size and before(tree, heap[down + 1], heap[down]):
            down += 1
        if before(tree, node, heap[down]):
            break
        heap[i] = heap[down]
        i = down
    heap[i] = node
    return first


def close(net: Any, chosen: Any, count: Any, skip: Any, stamp: Any, made: Any, fired: Any) -> None:
    """Mark with ``stamp`` what the chosen steps, but ``skip``, make; node 0 is at hand."""
    made[0] = stamp
    again = True
    while again:
        again = False
        for i in range(count - 1, -1, -1):
            r = chosen[i]
            if r == skip or fired[r] == stamp:
                continue
            ready = True
            for j in range(net.tail_start[r], net.tail_start[r + 1]):
                if made[net.tail_item[j]] != stamp:
                    ready = False
                    break
            if ready:
                fired[r] = stamp
                again = True
                for j in range(net.head_start[r], net.head_start[r + 1]):
                    made[net.head_item[j]] = stamp


def run_order(net: Any, chosen: Any, start: Any, end: Any, stamp: Any, made: Any) -> None:
    """Put ``chosen[start:end]`` in an order in which they can be run; low numbers first."""
    made[0] = stamp
    for i in range(start + 1, end):
        r = chosen[i]
        j = i
        while j > start and chosen[j - 1] > r:
            chosen[j] = chosen[j - 1]
            j -= 1
        chosen[j] = r
    done = start
    at = start
    while at < end:
        r = chosen[at]
        ready = True
        for j in range(net.tail_start[r], net.tail_start[r + 1]):
            if made[net.tail_item[j]] != stamp:
                ready = False
                break
        if not ready:
            at += 1
            continue
        for j in range(net.head_start[r], net.head_start[r + 1]):
            made[net.head_item[j]] = stamp
        for j in range(at, done, -1):
            chosen[j] = chosen[j - 1]
        chosen[done] = r
        done += 1
        at = done


def superfluous(net: Any, state: Any, scratch: Any, count: Any, stamp: Any) -> Any:
    """Whether a chosen step could go: the target, or all it makes, is there without it."""
    times, made = scratch.times, scratch.spare
    done = scratch.made[state[GOAL]] == stamp
    if not done:
        for i in range(count):
            r = scratch.chosen[i]
            for j in range(net.head_start[r], net.head_start[r + 1]):
                times[net.head_item[j]] = 0
        for i in range(count):
            r = scratch.chosen[i]
            for j in range(net.head_start[r], net.head_start[r + 1]):
                times[net.head_item[j]] += 1
    found = False
    for i in range(count):
        r = scratch.chosen[i]
        alone = False
        if not done:
            for j in range(net.head_start[r], net.head_start[r + 1]):
                if times[net.head_item[j]] == 1:
                    alone = True
                    break
        if alone:
            continue
        state[STAMP] += 1
        now = state[STAMP]
        close(net, scratch.chosen, count, r, now, made, scratch.fired)
        spare = True
        if made[state[GOAL]] != now:
            for j in range(net.head_start[r], net.head_start[r + 1]):
                if made[net.head_item[j]] != now:
                    spare = False
                    break
        if spare:
            found = True
            break
    return found


def inside(start: Any, item: Any, r: Any, other_start: Any, other_item: Any, q: Any) -> Any:
    """Whether row ``r`` of one table lies wholly in row ``q`` of another."""
    for i in range(start[r], start[r + 1]):
        found = False
        for j in range(other_start[q], other_start[q + 1]):
            if other_item[j] == item[i]:
                found = True
                break
        if not found:
            return False
    return True


def include(net: Any, scratch: Any, count: Any, r: Any) -> Any:
    """Include step ``r`` and ban its rivals; returns how many are chosen, -1 on a contradiction."""
    mark = scratch.mark
    mark[r] = INCLUDED
    scratch.chosen[count] = r
    clash = False
    width = net.head_start[r + 1] - net.head_start[r]
    head = net.head_item[net.head_start[r]]
    for i in range(net.maker_start[head], net.maker_start[head + 1]):
        q = net.maker_item[i]
        if (
            q != r
            and mark[q] != BANNED
            and net.head_start[q + 1] - net.head_start[q] == width
            and inside(net.head_start, net.head_item, q, net.head_start, net.head_item, r)
        ):
            clash = clash or mark[q] == INCLUDED
            mark[q] = BANNED
    if width == 1:  # what only gives back what r took
        for i in range(net.taker_start[head], net.taker_start[head + 1]):
            q = net.taker_item[i]
            if mark[q] != BANNED and inside(
                net.head_start, net.head_item, q, net.tail_start, net.tail_item, r
            ):
                clash = clash or mark[q] == INCLUDED
                mark[q] = BANNED
    for j in range(net.tail_start[r], net.tail_start[r + 1]):  # and what r only gives back to
        v = net.tail_item[j]
        for i in range(net.maker_start[v], net.maker_start[v + 1]):
            q = net.maker_item[i]
            if (
                mark[q] != BANNED
                and net.head_start[q + 1] - net.head_start[q] == 1
                and inside(net.head_start, net.head_item, r, net.tail_start, net.tail_item, q)
            ):
                clash = clash or mark[q] == INCLUDED
                mark[q] = BANNED
    return -1 if clash else count + 1


def branch_on(net: Any, scratch: Any, goal_count: Any) -> Any:
    """Steps of which every route below this node holds at least one, into ``scratch.branch``.

    The makers of the goal that has fewest and none included; when every goal has an included
    maker that waits for another goal (a cycle), the makers of all goals. Returns how many.
    """
    mark = scratch.mark
    best = -1
    fewest = 1 << 30
    for i in range(goal_count):
        g = scratch.goals[i]
        number = 0
        for j in range(net.maker_start[g], net.maker_start[g + 1]):
            r = net.maker_item[j]
            if mark[r] == INCLUDED:
                number = 1 << 30
                break
            if mark[r] == FREE:
                number += 1
        if number < fewest:
            fewest = number
            best = g
    count = 0
    if best >= 0:
        for j in range(net.maker_start[best], net.maker_start[best + 1]):
            r = net.maker_item[j]
            if mark[r] == FREE:
                scratch.branch[count] = r
                count += 1
        return count
    for i in range(goal_count):
        g = scratch.goals[i]
        for j in range(net.maker_start[g], net.maker_start[g + 1]):
            r = net.maker_item[j]
            if mark[r] == FREE:
                mark[r] = BANNED  # once each
                scratch.branch[count] = r
                count += 1
    for i in range(count):
        mark[scratch.branch[i]] = FREE
    return count


def read_node(net: Any, tree: Any, scratch: Any, node: Any, steps: Any) -> Any:
    """Mark the included and the banned steps of a node; returns how many are included, or -1."""
    mark = scratch.mark
    for r in range(steps):
        mark[r] = FREE
    count = 0
    x = node
    while tree.parent[x] >= 0:
        up = tree.parent[x]
        begin = tree.branch[up]
        for i in range(begin, begin + tree.place[x]):
            mark[tree.arena[i]] = BANNED
        for i in range(tree.forced_end[up], tree.banned_end[up]):
            mark[tree.arena[i]] = BANNED
        x = up
    x = node
    while tree.parent[x] >= 0:
        count = include(net, scratch, count, tree.step[x])
        if count < 0:
            return -1
        x = tree.parent[x]
        for i in range(tree.forced[x], tree.forced_end[x]):
            count = include(net, scratch, count, tree.arena[i])
            if count < 0:
                return -1
    return count


def grow(
    net: Any,
    cost: Any,
    cap_amount: Any,
    cap_limit: Any,
    tree: Any,
    scratch: Any,
    state: Any,
    limit: Any,
    budget: Any,
    ready: Any,
    goods: Any,
) -> Any:
    """Expand nodes, lowest bound first, until something has to be told.

    ``limit`` is the dearest route wanted; after ``budget`` expansions it pauses.
    ``cap_amount`` holds, cap after cap, an amount for every step. Returns DONE (no node left within
    the limit), ROUTES (``ready`` is full), PAUSED, or FULL (the tree's arrays must grow; nothing is
    lost). With a ``goods.amount`` above 0 costs include materials (``search.goods``), in which case
    ``cost`` is that of the steps alone. ``ready`` takes the next best routes as leaves;
    ``state[COUNT]`` says how many it holds.
    The steps of a leaf are ``tree.arena[forced:forced_end]``, in a workable order.
    """
    steps = len(cost)
    size = len(scratch.label)
    mark, chosen, made, residual = scratch.mark, scratch.chosen, scratch.made, scratch.residual
    while state[HEAP] > 0:
        if tree.bound[tree.heap[0]] > limit + EPS:
            return DONE
        if state[EXPANDED] >= budget:
            return PAUSED
        if state[NODES] + steps + 2 > len(tree.parent):
            return FULL
        if state[ARENA] + steps + 2 > len(tree.arena):
            return FULL
        node = pop(tree, state)
        if tree.kind[node] == LEAF:
            state[STAMP] += 1
            start, end = tree.forced[node], tree.forced_end[node]
            run_order(net, tree.arena, start, end, state[STAMP], made)
            ready[state[COUNT]] = node
            state[COUNT] += 1
            if state[COUNT] == len(ready):
                return ROUTES
            continue
        state[EXPANDED] += 1
        count = read_node(net, tree, scratch, node, steps)
        if count < 0:
            continue
        alive = True
        bound = tree.bound[node]
        floor = 0.0
        own = 0.0
        goal_count = 0
        fresh = 0  # steps forced here
        while True:
            state[STAMP] += 1
            stamp = state[STAMP]
            close(net, chosen, count, -1, stamp, made, scratch.fired)
            if superfluous(net, state, scratch, count, stamp):
                alive = False
                break
            own = 0.0
            priced = goods.amount > 0.0
            if priced:
                rival = INCLUDED if made[state[GOAL]] == stamp else FREE
                demand(net, goods, mark, chosen, count, state[GOAL], rival)
            for i in range(count):
                own += cost[chosen[i]]
                if priced:
                    own += goods.turns[chosen[i]] * goods.regret[chosen[i]]
            for c in range(state[CAPS]):
                total = 0.0
                for i in range(count):
                    total += cap_amount[c * steps + chosen[i]]
                if total > cap_limit[c]:
                    alive = False
            if not alive:
                break
            if made[state[GOAL]] == stamp:
                break
            goal_count = 1
            scratch.goals[0] = state[GOAL]
            made[state[GOAL]] = -stamp
            for i in range(count):
                r = chosen[i]
                for j in range(net.tail_start[r], net.tail_start[r + 1]):
                    v = net.tail_item[j]
                    if made[v] != stamp and made[v] != -stamp:
                        made[v] = -stamp
                        scratch.goals[goal_count] = v
                        goal_count += 1
            for v in range(size):
                scratch.label[v] = 0.0 if made[v] == stamp else INF
            for r in range(steps):
                if mark[r] == INCLUDED:
                    residual[r] = 0.0
                elif mark[r] == BANNED:
                    residual[r] = INF
                else:
                    residual[r] = cost[r]
            if priced:
                settled = reach_back(net, goods, mark, made, stamp, scratch.goals, goal_count)
                for r in range(steps):
                    if mark[r] == FREE:
                        turns = goods.turns[r] if settled else goods.least[r]
                        residual[r] = cost[r] + turns * goods.regret[r] if turns < INF else INF
            cut, singles = landmark_cuts(
                net, residual, scratch.label, scratch.support, scratch.missing, scratch.zone,
                scratch.goals, goal_count, scratch.single,
            )  # fmt: skip
            if cut == INF:
                alive = False
                break
            floor = own + cut
            if floor > bound:
                bound = floor
            if bound > limit + EPS:
                alive = False
                break
            again = False
            for i in range(singles):
                r = scratch.single[i]
                if mark[r] == FREE:
                    count = include(net, scratch, count, r)
                    if count < 0:
                        alive = False
                        break
                    scratch.fresh[fresh] = r
                    fresh += 1
                    again = True
                elif mark[r] == BANNED:
                    alive = False
                    break
            if not alive or not again:
                break
        if not alive:
            continue
        if made[state[GOAL]] == stamp:
            if own <= limit + EPS:
                leaf = state[NODES]
                state[NODES] = leaf + 1
                tree.parent[leaf] = -1
                tree.kind[leaf] = LEAF
                tree.bound[leaf] = round(own, 9)
                tree.depth[leaf] = steps + 1
                tree.forced[leaf] = state[ARENA]
                for i in range(count):
                    tree.arena[state[ARENA] + i] = chosen[i]
                state[ARENA] += count
                tree.forced_end[leaf] = state[ARENA]
                push(tree, state, leaf)
            continue
        at = state[ARENA]
        tree.forced[node] = at
        for i in range(fresh):
            tree.arena[at] = scratch.fresh[i]
            at += 1
        tree.forced_end[node] = at
        for r in range(steps):
            if mark[r] == FREE and floor + residual[r] > limit + EPS:
                mark[r] = BANNED
                tree.arena[at] = r
                at += 1
        tree.banned_end[node] = at
        number = branch_on(net, scratch, goal_count)
        branch = scratch.branch
        for i in range(1, number):
            r = branch[i]
            j = i
            while j > 0 and residual[branch[j - 1]] > residual[r]:
                branch[j] = branch[j - 1]
                j -= 1
            branch[j] = r
        tree.branch[node] = at
        for i in range(number):
            r = branch[i]
            tree.arena[at] = r
            at += 1
            child = state[NODES]
            value = floor + residual[r]
            if bound > value:
                value = bound
            if value <= limit + EPS:
                state[NODES] = child + 1
                tree.parent[child] = node
                tree.place[child] = i
                tree.step[child] = r
                tree.kind[child] = OPEN
                tree.bound[child] = round(value, 9)
                tree.depth[child] = count + 1
                push(tree, state, child)
        state[ARENA] = at
    return DONE
