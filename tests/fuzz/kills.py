"""Kill the journal's writer again and again: ``python tests/fuzz/kills.py --kills 300``.

A child weighs 1 g in, over and over, and takes it off a shelf file; it is killed (SIGKILL) just
after the journal changed. What the child acknowledged must be in the journal; journal and shelf
must agree to the gram when the next command has finished what was cut off; nothing half-written
may lie about. Exit code 1 when anything is lost.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

CHILD = """\
import sys
from routefinder.cli import main
for _ in range(100000):
    sys.argv = ["routefinder", *sys.argv[1:]]
    try:
        main.run()
    except SystemExit:
        sys.stdout.flush()
"""
SHELF_G = 1_000_000.0
TARGET, FIRST = "copper(II) acetate monohydrate", "precipitate-basic-copper-carbonate"
WEIGHED = ("log", "weigh", "1", "--in", "1 g", "--of", "root killer", "--more", "--yes")


@dataclass(frozen=True)
class Found:
    """What a loop of kills found."""

    kills: int
    acknowledged: int
    kept: int
    lost: int
    shelf_g: float  # what the shelf says is left, less what it must be
    litter: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Nothing was lost, nothing lies about."""
        return not self.lost and abs(self.shelf_g) < 1e-6 and not self.litter


def loop(folder: Path, kills: int, seed: int = 11) -> Found:
    """Kill the writer ``kills`` times, its files in ``folder``; what was found."""
    import routefinder
    from routefinder.cli import main
    from routefinder.journal.store import Store
    from routefinder.library.where import examples

    studio, path = examples() / "studio", folder / "j.sqlite"
    shelf = folder / "shelf.csv"
    text = (studio / "shelf.csv").read_text("utf-8")
    line = next(x for x in text.splitlines() if "root killer" in x)
    shelf.write_text(text.replace(line, line.replace("1 kg", f"{SHELF_G:.0f} g")), "utf-8")
    assert f"{SHELF_G:.0f} g" in shelf.read_text("utf-8"), "the demo's shelf line has changed"
    os.environ["ROUTEFINDER_JOURNAL"] = str(path)

    def call(*words: object) -> None:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
            main.app([*map(str, words)], standalone_mode=False)

    found = routefinder.find(TARGET, "250 g", shelf=shelf, bench=studio / "bench.yaml",
                             libraries=[studio / "reactions"])  # fmt: skip
    number = next(r.number for r in found.routes if r.assessment.ids[0] == FIRST)
    call("log", "start", TARGET, "--amount", "250 g", "--shelf", shelf, "--bench",
         studio / "bench.yaml", "--library", studio / "reactions", "--route", number)  # fmt: skip
    rng, said = random.Random(seed), folder / "said.txt"
    acknowledged: set[int] = set()
    for _ in range(kills):
        with said.open("w") as out:
            child = subprocess.Popen([sys.executable, "-u", "-c", CHILD, *WEIGHED], stdout=out,
                                     stderr=out, stdin=subprocess.DEVNULL)  # fmt: skip
            changes, mark = rng.choice([1, 2, 3, 5]), _mark(path)
            while child.poll() is None and changes:
                if _mark(path) != mark:
                    mark, changes = _mark(path), changes - 1
                time.sleep(0.0005)
            time.sleep(rng.choice([0, 0.002, 0.01, 0.03]) * rng.random())
            child.kill()
            child.wait()
        acknowledged |= {int(n) for n in re.findall(r"\[entry (\d+)\]", said.read_text())}
    call(*WEIGHED)  # finishes what was cut off
    with Store(path) as store:
        kept = {e.entry for e in store.entries() if e.kind == "in"}
    left = re.search(r"root killer[^,]*,([\d.]+) (k?g)", shelf.read_text("utf-8"))
    assert left is not None
    left_g = float(left[1]) * (1000 if left[2] == "kg" else 1)
    litter = tuple(sorted(p.name for p in folder.iterdir() if p.name.endswith(".part")))
    return Found(kills, len(acknowledged), len(kept), len(acknowledged - kept),
                 left_g - (SHELF_G - len(kept)), litter)  # fmt: skip


def _mark(path: Path) -> tuple[int, ...]:
    files = (path, path.with_name(path.name + "-wal"))
    return tuple(p.stat().st_mtime_ns if p.exists() else 0 for p in files)


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--kills", type=int, default=300)
    ask.add_argument("--seed", type=int, default=11)
    given = ask.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = loop(Path(folder), given.kills, given.seed)
    print(
        f"{found.kills} kills, {found.acknowledged} entries acknowledged, {found.kept} kept, "
        f"{found.lost} lost; the shelf is off by {found.shelf_g:g} g; left over: "
        f"{', '.join(found.litter) or 'nothing'}"
    )
    return 0 if found.whole else 1


if __name__ == "__main__":
    sys.exit(main())
