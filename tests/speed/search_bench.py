"""The search by itself: scale, real networks, true material cost, and others on the same work.

    python tests/speed/search_bench.py [million] [scale] [real] [priced] [library]

Wall clock, warm, one process. A *gather pass* reads every row of the network once and what it
points at, with numpy over the same arrays: the least that any algorithm must do. ``halp`` is the
PyPI package's shortest B-tree, ``MILP`` the order-variable model in HiGHS (tests/oracle.py), both
for the best route only and left out where they take over a minute.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from resource import RUSAGE_SELF, getrusage

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))
import oracle
from generate import batch_cost, generate, generate_arrays, generate_priced

from routefinder.graph.network import Network, network
from routefinder.search import priced
from routefinder.search.best import best_routes
from routefinder.search.compiled import loops_for
from routefinder.search.explain import plain_steps
from routefinder.search.parts import Parts
from routefinder.search.route import Ending

MINUTE = 60.0


def ms(work: Callable[[], object], repeat: int = 1) -> float:
    """Least milliseconds of ``repeat`` runs."""
    times = []
    for _ in range(repeat):
        started = time.perf_counter()
        work()
        times.append((time.perf_counter() - started) * 1000)
    return min(times)


def gather(net: Network) -> float:
    """Milliseconds of a gather pass."""
    import numpy as np

    arrays = net.as_arrays
    label = np.zeros(len(arrays.nodes))
    costs = np.asarray(arrays.costs)

    def once() -> None:
        label[arrays.tails.items].sum()
        label[arrays.heads.items].sum()
        costs[arrays.takers.items].sum()
        costs[arrays.makers.items].sum()

    return ms(once, 5)


def asked(net: Network, shelf, targets, compile: bool, count: int = 12) -> list[str]:
    """The first targets whose best route has two steps or more."""
    out = []
    for target in targets:
        found = best_routes(net, shelf, target, 1, seconds=30, compile=compile)
        if found.routes and len(found.routes[0].steps) > 1:
            out.append(target)
        if len(out) == count:
            break
    return out


def report(title: str, net: Network, shelf, targets, k: int, compile: bool, wanted: str) -> None:
    """A line: median and worst of the targets, and the ratio to a gather pass."""
    times, longest = [], 0
    for target in targets:
        times.append(ms(lambda t=target: best_routes(net, shelf, t, k, compile=compile), 3))
        found = best_routes(net, shelf, target, k, seconds=MINUTE, compile=compile)
        longest = max(longest, *(len(r.steps) for r in found.routes))
        if found.ending is Ending.STOPPED:
            print(f"    {target}: stopped, gap {found.gap:.0%}")
    middle = statistics.median(times)
    how = "compiled" if compile else "plain"
    print(
        f"  {title:<18} {how:<9} k={k:<4} {middle:8.2f} / {max(times):8.2f} ms  (wanted {wanted}; "
        f"{len(times)} targets, routes of up to {longest} steps; {middle / gather(net):.0f} "
        "gather passes)"
    )


def others(title: str, net: Network, shelf, targets) -> None:
    """How much slower halp and the MILP are for one best route."""
    from halp.algorithms.directed_paths import shortest_b_tree
    from halp.directed_hypergraph import DirectedHypergraph

    steps = plain_steps(net)
    graph = DirectedHypergraph()
    for step in steps:
        tail = set(step.reactants) - set(shelf) or {"(shelf)"}
        head = set(step.products) - tail
        if head:
            graph.add_hyperedge(tail, head, weight=step.cost)
    own, tree, exact = [], [], []
    judged = {s.id: (frozenset(s.reactants), frozenset(s.products), s.cost) for s in steps}
    for target in targets[:3]:
        own.append(ms(lambda t=target: best_routes(net, shelf, t, 1, compile=True), 3))
        tree.append(ms(lambda: shortest_b_tree(graph, "(shelf)")))
        if net.size <= 3000:
            exact.append(ms(lambda t=target: oracle.milp_routes(judged, shelf, t, 1, MINUTE)))
    middle = statistics.median(own)
    words = f"halp {statistics.median(tree) / middle:.0f} times slower"
    if exact:
        slow = statistics.median(exact)
        over = " or more (its minute was over)" if slow > 0.95 * MINUTE * 1000 else ""
        words += f", MILP {slow / middle:.0f} times slower{over}"
    print(f"  {title:<18} best route {middle:.2f} ms; {words}")


def scale() -> None:
    """Generated networks of 500 to a million steps."""
    print("search on generated networks: median / worst")
    for size, k, wanted in (
        (500, 10, "2 / 15"), (500, 100, "8 / 60"), (3000, 10, "-"), (10_000, 10, "-"),
    ):  # fmt: skip
        steps, shelf, targets = generate(size, 1)
        net = network(steps)
        chosen = asked(net, shelf, targets, True)
        for compile in (False, True):
            report(f"{size} steps", net, shelf, chosen, k, compile, wanted)
        if k == 10 and size <= 3000:
            others(f"{size} steps", net, shelf, chosen)


def million() -> None:
    """Generated networks of 1e5 and 1e6 steps; run first, so that the memory is theirs."""
    print("search on large generated networks: median / worst")
    for size, k, wanted in ((100_000, 10, "30 / 100"), (100_000, 100, "-"),
                            (1_000_000, 10, "100 / 400"), (1_000_000, 100, "-")):  # fmt: skip
        net, shelf, targets = generate_arrays(size, 1)
        chosen = asked(net, shelf, targets, True)
        loops, fast = loops_for(size)
        at_hand = {net.number(name) for name in shelf}
        goal = net.number(chosen[0])

        def labels(net=net, at_hand=at_hand, goal=goal, loops=loops, fast=fast) -> None:
            net.labels.clear()
            Parts(net, at_hand, goal, loops, fast)

        if k == 10:
            took = ms(labels, 5)
            print(
                f"  {size} steps: labels for one shelf {took:.1f} ms "
                f"({took / gather(net):.1f} gather passes; wanted 100 ms at a million)"
            )
        report(f"{size} steps", net, shelf, chosen, k, True, wanted)
        if size == 1_000_000 and k == 10:
            peak = getrusage(RUSAGE_SELF).ru_maxrss // 1024
            print(f"  peak memory {peak} MB, making the network included (wanted 400)")


def real_networks() -> None:
    """iJO1366 and the textbook model, targets by the length of their best route."""
    from real import real

    print("real networks (unit costs; shelf: the default medium and seven carriers)")
    for name, count in (("textbook", 12), ("iJO1366", 60)):
        net, shelf = real(name)
        lengths = {}
        for target in sorted(n for n in net.nodes if n.endswith("_c") and n not in shelf):
            found = best_routes(net, shelf, target, 1, seconds=20, compile=True)
            if found.routes and len(found.routes[0].steps) > 1:
                lengths[target] = len(found.routes[0].steps)
        ranked = sorted(lengths, key=lambda t: (lengths[t], t))
        spread = ranked[:: max(1, len(ranked) // count)]
        chosen = list(dict.fromkeys([*spread, *ranked[-6:]]))  # the longest routes always
        report(f"{name} ({net.size})", net, shelf, chosen, 10, True, "5 / 100")
        report(f"{name} ({net.size})", net, shelf, chosen[::4], 100, True, "-")
        others(f"{name} ({net.size})", net, shelf, chosen[len(chosen) // 2 :])


def priced_networks() -> None:
    """500 steps with materials as 20, 50 and 80 % of the cost; 10 s limit."""
    print("true material cost, 500 steps, k=10, limit 10 s, compiled")
    shapes = {
        "heavy-tailed": {},
        "dense and deep": {"per_node": 4.0, "local": 0.4, "back": 0.05},
    }
    for shape, options in shapes.items():
        for share in (0.2, 0.5, 0.8):
            steps, prices, kept = generate_priced(500, 1, share, **options)
            by_id = {s.id: s for s in steps}
            times, gaps = [], []
            for target, scale_ in kept[:10]:
                scaled = {n: v * scale_ for n, v in prices.items()}
                started = time.perf_counter()
                found = priced.cheapest_routes(
                    steps, scaled, target, 1.0, 10,
                    lambda ids, b=by_id, p=scaled, t=target: batch_cost(b, p, t, 1.0, ids),
                    seconds=10, compile=True,
                )  # fmt: skip
                if found.ending is Ending.STOPPED:
                    gaps.append(found.gap)
                else:
                    times.append(time.perf_counter() - started)
            rest = f"; median gap of the rest {statistics.median(gaps):.0%}" if gaps else ""
            print(
                f"  {shape:<15} materials {share:.0%}: {len(times)} of {len(times) + len(gaps)} "
                f"proven, median {statistics.median(times):.2f} s, worst {max(times):.2f} s{rest}"
            )


def library() -> None:
    """Every product of the shipped library, by cost and by the balanced order, plain loops."""
    import routefinder as rf
    from routefinder.asking import answering
    from routefinder.asking.question import read_question, read_shelf
    from routefinder.errors import RoutefinderError

    print("the shipped library, every shop, 10 routes, plain loops: seconds of search")
    found_library = rf.load_library()
    shelf = read_shelf(found_library, None)
    targets = sorted({s.main.substance for s in found_library.steps.values()})
    for order in ("balanced", "cost"):
        times, stopped = [], []
        for target in targets:
            try:
                question = read_question(
                    found_library, target, "100 g", by=order, shelf=shelf, seconds=2
                )
            except RoutefinderError:
                continue
            put = answering.Inquiry(found_library, question)
            started = time.perf_counter()
            found = put.search(put.packed, 10)
            if not found.routes:
                continue
            times.append(time.perf_counter() - started)
            if found.ending is Ending.STOPPED:
                stopped.append(found.gap)
        within = sum(t <= 0.5 for t in times)
        print(
            f"  by {order:<9} {len(times)} targets: median {statistics.median(times):.3f} s, within "
            f"0.5 s {within} ({within / len(times):.0%}), stopped at 2 s {len(stopped)}"
            + (f" (median gap {statistics.median(stopped):.0%})" if stopped else "")
        )


def main() -> None:
    """Run the sections named, or all."""
    sections = {
        "million": million, "scale": scale, "real": real_networks, "priced": priced_networks, "library": library,
    }  # fmt: skip
    for name in sys.argv[1:] or list(sections):
        sections[name]()


if __name__ == "__main__":
    main()
