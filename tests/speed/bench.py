"""The benchmark: commands and searches, printed as a table. Never part of the test suite.

    python tests/speed/bench.py [--quick]

Times are wall clock on this machine; searches are warm, over at least ten reachable targets whose
best route has two steps or more.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from generate import generate, generate_arrays

from routefinder.graph.network import network
from routefinder.search.best import best_routes
from routefinder.search.route import Ending


def command(words: list[str], repeat: int = 5, fresh_cache: bool = False) -> float:
    """Median seconds of a command line."""
    times = []
    cache = tempfile.mkdtemp(prefix="routefinder-bench-")
    for _ in range(repeat):
        folder = tempfile.mkdtemp(prefix="routefinder-bench-") if fresh_cache else cache
        started = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "routefinder", *words],
            env={**os.environ, "ROUTEFINDER_CACHE": folder},
            stdout=subprocess.DEVNULL, check=True,
        )  # fmt: skip
        times.append(time.perf_counter() - started)
    return statistics.median(times[1:] if not fresh_cache else times)


def searches(size: int, k: int, count: int = 12, seed: int = 1) -> tuple[float, float, int]:
    """(median ms, worst ms, targets) of the k best on a generated network."""
    steps, shelf, targets = generate(size, seed)
    net = network(steps)
    times = []
    for target in targets:
        first = best_routes(net, shelf, target, 1, seconds=30)
        if not first.routes or len(first.routes[0].steps) < 2:
            continue
        started = time.perf_counter()
        found = best_routes(net, shelf, target, k, seconds=30)
        times.append((time.perf_counter() - started) * 1000)
        if found.ending is Ending.STOPPED:
            print(f"    {target}: stopped, gap {found.gap:.0%}")
        if len(times) == count:
            break
    return statistics.median(times), max(times), len(times)


def large(size: int, k: int = 10, count: int = 12) -> None:
    """The same on array networks with the compiled kernels, with the cost of the labels."""
    from resource import RUSAGE_SELF, getrusage

    net, shelf, targets = generate_arrays(size, 1)
    best_routes(net, shelf, targets[0], 1)  # compiles, or reads the compiled code
    net.labels.clear()
    started = time.perf_counter()
    best_routes(net, shelf, targets[0], 1)
    labels = (time.perf_counter() - started) * 1000
    times: list[float] = []
    for target in targets:
        first = best_routes(net, shelf, target, 1, seconds=30)
        if not first.routes or len(first.routes[0].steps) < 2:
            continue
        started = time.perf_counter()
        best_routes(net, shelf, target, k, seconds=30)
        times.append((time.perf_counter() - started) * 1000)
        if len(times) == count:
            break
    print(
        f"  {size:>7} steps, k={k:<4} {statistics.median(times):8.1f} / {max(times):8.1f}   "
        f"({len(times)} targets; labels and first route {labels:.0f} ms; peak memory "
        f"{getrusage(RUSAGE_SELF).ru_maxrss // 1024} MB)"
    )


def how_sure(steps: int = 10, draws: int = 10_000) -> float:
    """Median milliseconds of all figures of uncertainty for a chain of steps, two parts each."""
    from routefinder.assessment.uncertainty import how_sure
    from routefinder.library.library import Library
    from routefinder.library.resolve import Part, ResolvedStep
    from routefinder.records.shelf import Supply
    from routefinder.records.step import Duration, Step, Window, Yield, YieldPart
    from routefinder.records.substance import Substance
    from routefinder.vessel.amounts import amounts

    def name(i: int) -> str:
        return f"C{2**i}"

    part = YieldPart(low=0.8, typical=0.9, high=0.95)
    chain = []
    for i in range(steps):
        record = Step(
            id=f"s{i}", title="toy", kind="combination", equation=f"2 {name(i)}(s) -> {name(i + 1)}(s)",
            product=name(i + 1), limiting=name(i), yield_=Yield(basis="toy", parts=(part, part)),
            temperature=Window(low_C=20, high_C=20), time=Duration(hands_on_min=60),
        )  # fmt: skip
        left, right = Part(name(i).lower(), 2.0, "s"), Part(name(i + 1).lower(), 1.0, "s")
        chain.append(ResolvedStep(record, (left,), (right,), right, left, {}, {}, {}, {}, ()))
    library = Library(substances={
        name(i).lower(): Substance(id=name(i).lower(), name=name(i), formula=name(i),
                                   sources="computed: toy") for i in range(steps + 1)
    })  # fmt: skip
    supply = Supply("m", "C1", "solid", {"c1": 0.98}, "c1", low={"c1": 0.97}, high={"c1": 0.99})
    found = amounts(library, chain, [supply], name(steps).lower(), 100)
    times = []
    for _ in range(21):
        started = time.perf_counter()
        how_sure(library, found, draws=draws)
        times.append((time.perf_counter() - started) * 1000)
    return statistics.median(times)


def main() -> None:
    """Print the tables."""
    studio = Path(__file__).resolve().parents[2] / "examples" / "studio"
    find = ["find", "copper(II) acetate monohydrate", "--amount", "250 g",
            "--shelf", str(studio / "shelf.csv"), "--bench", str(studio / "bench.yaml")]  # fmt: skip
    print("commands, median of 5")
    print(f"  routefinder --help        {command(['--help']):.3f} s   (wanted: under 0.2)")
    print(f"  find, cache warm          {command(find):.3f} s   (wanted: under 0.5)")
    print(f"  find, first time          {command(find, 3, True):.3f} s   (wanted: under 1.0)")
    print("how sure: 10 steps of two yield parts each, one purity, 10,000 draws, median of 21")
    print(f"  all figures               {how_sure():.1f} ms   (wanted: at most 20)")
    print("search on generated networks: median / worst ms")
    sizes = [(500, 10), (500, 100), (3000, 10)]
    if "--quick" not in sys.argv:
        sizes += [(10_000, 10)]
    for size, k in sizes:
        median, worst, count = searches(size, k)
        print(f"  {size:>7} steps, k={k:<4} {median:8.1f} / {worst:8.1f}   ({count} targets)")
    if "--quick" not in sys.argv:
        print("the same, compiled (needs the extra 'fast')")
        for size in (100_000, 1_000_000):
            large(size)


if __name__ == "__main__":
    main()
