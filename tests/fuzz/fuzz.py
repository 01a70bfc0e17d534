"""Try broken inputs: ``python tests/fuzz/fuzz.py --count 100000 [--start 0] [--door shelf]``.

Every case must end in an answer or in an error of routefinder's own, within 5 s of work (and a
minute by the clock, should it wait for something). What does not is printed with its door and number, and can be had again with ``--start NUMBER --count 1``. Exit code
1 when there was any.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import fuzz_cases

LIMIT_S, CLOCK_S = 5.0, 60.0


def one(doors, name: str, number: int) -> str:
    """Run a case; "" or what was wrong with it."""
    from routefinder.errors import RoutefinderError

    def late(*_):
        raise TimeoutError(f"longer than {LIMIT_S:g} s")

    previous = [(s, signal.signal(s, late)) for s in (signal.SIGALRM, signal.SIGPROF)]
    signal.setitimer(signal.ITIMER_REAL, CLOCK_S)
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    try:
        doors[name](random.Random(f"{name} {number}"))
    except RoutefinderError as error:
        if len(str(error)) > 20_000:
            return f"a message of {len(str(error))} characters"
    except BaseException:
        return traceback.format_exc(limit=-4)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.setitimer(signal.ITIMER_PROF, 0)
        for which, handler in previous:
            signal.signal(which, handler)
    return ""


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--count", type=int, default=100_000)
    ask.add_argument("--start", type=int, default=0)
    ask.add_argument("--door")
    given = ask.parse_args()
    from routefinder import units
    from routefinder.library.cache import load_cached

    library = load_cached()
    units.registry()  # built once a process: no part of a case
    wrong, slowest = 0, (0.0, "")
    with tempfile.TemporaryDirectory() as folder:
        doors = fuzz_cases.doors(library, Path(folder))
        names = [given.door] if given.door else sorted(doors)
        begun = time.monotonic()
        for number in range(given.start, given.start + given.count):
            name = names[number % len(names)]
            started = time.process_time()
            what = one(doors, name, number)
            slowest = max(slowest, (time.process_time() - started, f"{name} {number}"))
            if what:
                wrong += 1
                print(f"--- {name}, number {number}\n{what}", flush=True)
    print(
        f"{given.count} cases, {wrong} wrong, slowest {slowest[0]:.2f} s ({slowest[1]}), "
        f"{time.monotonic() - begun:.0f} s in all"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
