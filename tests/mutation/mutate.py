"""Change the code on purpose, one place at a time, and see whether a test notices.

    python tests/mutation/mutate.py --named               # the changes that once went unseen
    python tests/mutation/mutate.py vessel/amounts        # every small change of one module
    python tests/mutation/mutate.py --every 7 --to out.jsonl   # every seventh of all of ROOMS

Nothing is written into the package. The tests of a module are collected once; for every change a
child is forked, the changed function's code is put in place of the old one there, and the tests that
call this function (found by a run that looks on) are run until one fails. A change that no test
notices is a survivor: write the test, or say in ``survivors.md`` why it changes nothing.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import importlib
import io
import json
import os
import pickle
import signal
import sys
import tempfile
import time
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import mutants  # noqa: E402
from mutants import Mutant  # noqa: E402

SECONDS = 300  # a change that makes the tests run longer than this has been noticed
# part of the package -> the files of tests that are about it
ROOMS: dict[str, tuple[str, ...]] = {
    "choice/dominance": ("batch_parts", "compare", "front"),
    "vessel/amounts": ("amounts", "vessel", "forward", "demo", "mutants"),
    "vessel/supplied": ("supplied", "amounts", "mutants"),
    "assessment/yields": ("batch_parts", "amounts", "uncertainty", "demo"),
    "hazards/mixture": ("label", "label_laws", "controls", "mutants"),
    "assessment/batches": ("batch_parts", "batches", "mutants"),
    "vessel/outcomes": ("amounts", "vessel", "mutants"),
    "vessel/course": ("amounts", "vessel", "purity", "leavings"),
    "journal/decide": ("weigh",),
    "assessment/heat": ("heat_of_steps", "heat", "mutants"),
    "assessment/gas": ("gas", "mutants"),
    "assessment/room_air": ("gas", "exposure", "mutants"),
    "assessment/exposure": ("exposure", "gas", "mutants"),
    "assessment/perishables": ("perishables", "mutants"),
    "hazards/score": ("hazards", "hazard_points", "mutants"),
    "choice/bounds": ("front", "mutants"),
    "journal/book": ("journal", "mutants"),
    "library/pot": ("make_up", "strength", "mutants"),
    "search/front": ("front", "mutants"),
}


def function_of(module: ModuleType, where: str) -> FunctionType | None:
    """The function behind a dotted name, whatever it is wrapped in; None for a constant."""
    found: Any = module
    for part in where.split("."):
        found = vars(found)[part]
    if isinstance(found, property):
        found = found.fget
    elif isinstance(found, functools.cached_property):
        found = found.func
    elif isinstance(found, staticmethod | classmethod):
        found = found.__func__
    while hasattr(found, "__wrapped__"):
        found = found.__wrapped__
    return found if isinstance(found, FunctionType) else None


def _code(code: CodeType, where: str) -> CodeType:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            if each.co_qualname == where:
                return each
            with contextlib.suppress(LookupError):
                return _code(each, where)
    raise LookupError(where)


def put_in_place(mutant: Mutant) -> None:
    """Make the change in this process. Raises LookupError for a place that cannot be changed so."""
    module = importlib.import_module("routefinder." + mutant.module.replace("/", "."))
    code = compile(mutants.source_of(mutant), str(module.__file__), "exec")
    function = function_of(module, mutant.function)
    if function is not None:
        function.__code__ = _code(code, mutant.function)
        return
    if "." in mutant.function or isinstance(vars(module)[mutant.function], type):
        raise LookupError(mutant.function)
    fresh = ModuleType(module.__name__)
    fresh.__file__, fresh.__package__ = module.__file__, module.__package__
    sys.modules[module.__name__], kept = fresh, module
    try:
        exec(code, fresh.__dict__)
    finally:
        sys.modules[module.__name__] = kept
    old, new = vars(module)[mutant.function], vars(fresh)[mutant.function]
    for other in list(sys.modules.values()):  # whoever imported the constant by its name
        if getattr(other, "__name__", "").startswith("routefinder"):
            for name, value in list(vars(other).items()):
                if value is old and name == mutant.function:
                    setattr(other, name, new)


class Round:
    """A plugin of pytest: instead of one run of the tests, one run for every change."""

    def __init__(self, changes: list[Mutant], out: Path | None) -> None:
        self.changes, self.out = changes, out
        self.told: list[tuple[Mutant, str]] = []

    def pytest_runtestloop(self, session: Any) -> bool:
        """Look on once, then try each change on the tests that call its function."""
        modules = {m.module for m in self.changes}
        for name in modules:
            importlib.import_module("routefinder." + name.replace("/", "."))
        calls, seconds, failed = self._forked(lambda: _watched(session, modules), 3600) or (
            {},
            {},
            ["?"],
        )
        if failed:
            print(f"red without any change: {', '.join(failed)}")
            raise SystemExit(1)
        for mutant in self.changes:
            module = sys.modules["routefinder." + mutant.module.replace("/", ".")]
            constant = function_of(module, mutant.function) is None
            called = calls.get((mutant.module, mutant.function), None if constant else set())
            items = [i for i in session.items if called is None or i.nodeid in called]
            cost: dict[Any, float] = {}
            for item in items:
                cost[item.path] = cost.get(item.path, 0.0) + seconds[item.nodeid]
            items.sort(key=lambda i: cost[i.path])  # whole files, the quick ones first
            started = time.monotonic()
            if not items:
                verdict = "no test calls it"
            else:
                verdict = (
                    self._forked(lambda m=mutant, i=items: _tried(m, i), SECONDS) or "too long"
                )
            self.told.append((mutant, verdict))
            self._say(mutant, verdict, len(items), time.monotonic() - started)
        return True

    def _say(self, mutant: Mutant, verdict: str, tests: int, seconds: float) -> None:
        print(f"{verdict:24.24} {seconds:5.0f} s {tests:4d} tests  {mutant.shown}", flush=True)
        if self.out is not None:
            row = {
                "module": mutant.module, "line": mutant.line, "function": mutant.function,
                "before": mutant.before, "after": mutant.after, "name": mutant.name,
                "verdict": verdict, "tests": tests,
            }  # fmt: skip
            with self.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row, ensure_ascii=False) + "\n")

    @staticmethod
    def _forked(work: Any, seconds: int) -> Any:
        """What ``work`` gives in a child; None when it takes longer than ``seconds``."""
        with tempfile.TemporaryDirectory() as folder:
            answer = Path(folder) / "answer"
            child = os.fork()
            if child == 0:
                with contextlib.suppress(BaseException):
                    os.setsid()
                    os.environ["ROUTEFINDER_CACHE"] = folder  # nothing worked out before serves
                    sys.stdout = sys.stderr = io.StringIO()
                    answer.write_bytes(pickle.dumps(work()))
                os._exit(0)
            until = time.monotonic() + seconds
            while os.waitpid(child, os.WNOHANG)[0] == 0:
                if time.monotonic() > until:
                    os.killpg(child, signal.SIGKILL)
                    os.waitpid(child, 0)
                    return None
                time.sleep(0.05)
            return pickle.loads(answer.read_bytes()) if answer.exists() else "died"


def _run(items: list[Any], stop: bool) -> tuple[list[str], dict[str, float]]:
    """(ids of the tests that fail, seconds of each)."""
    failed: list[str] = []
    seconds: dict[str, float] = {}

    class Ear:
        def pytest_runtest_logreport(self, report: Any) -> None:
            seconds[report.nodeid] = seconds.get(report.nodeid, 0.0) + report.duration
            if report.failed and report.nodeid not in failed:
                failed.append(report.nodeid)

    ear = Ear()
    config = items[0].config
    config.pluginmanager.register(ear)
    for i, item in enumerate(items):
        following = items[i + 1] if i + 1 < len(items) else None
        config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if failed and stop:
            break
    config.pluginmanager.unregister(ear)
    return failed, seconds


def _watched(
    session: Any, modules: set[str]
) -> tuple[dict[tuple[str, str], set[str]], Any, list[str]]:
    """Which tests call which functions of the modules."""
    files = {str(mutants.PACKAGE / f"{m}.py"): m for m in modules}
    calls: dict[tuple[str, str], set[str]] = {}
    now = ""

    def watch(frame: Any, event: str, _: Any) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename in files:
            where = code.co_qualname.split(".<locals>")[0]
            calls.setdefault((files[code.co_filename], where), set()).add(now)

    class Eye:
        def pytest_runtest_protocol(self, item: Any) -> None:
            nonlocal now
            now = item.nodeid

    session.config.pluginmanager.register(Eye())
    sys.setprofile(watch)
    try:
        failed, seconds = _run(session.items, False)
    finally:
        sys.setprofile(None)
    # what a shared fixture calls serves every test of its file
    for called in calls.values():
        paths = {name.split("::")[0] for name in called}
        called |= {i.nodeid for i in session.items if i.nodeid.split("::")[0] in paths}
    return calls, seconds, failed


def _tried(mutant: Mutant, items: list[Any]) -> str:
    try:
        put_in_place(mutant)
    except LookupError:
        return "not tried"
    failed, _ = _run(items, True)
    return "killed" if failed else "SURVIVED"


def main() -> int:
    """Exit code 1 when a change survives."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("modules", nargs="*", help="parts of the package, as vessel/amounts")
    ask.add_argument("--named", action="store_true", help="the changes that once went unseen")
    ask.add_argument("--every", type=int, default=1, help="only every so many")
    ask.add_argument("--start", type=int, default=0, help="leave out the first so many")
    ask.add_argument("--to", type=Path, help="a file to add the verdicts to, one JSON a line")
    asked = ask.parse_args()
    chosen = asked.modules or list(ROOMS)
    import pytest

    survived = 0
    for module in chosen:
        changes = mutants.named(module) if asked.named else mutants.generated(module)
        changes = changes[asked.start :: asked.every]
        if not changes:
            continue
        about = ("mutants",) if asked.named else ROOMS[module]
        files = [str(HERE.parent / f"test_{name}.py") for name in about]
        round_ = Round(changes, asked.to)
        pytest.main(
            ["-o", "addopts=", "-s", "-p", "no:cacheprovider", "-p", "no:terminal", *files], plugins=[round_],
        )  # fmt: skip
        lived = [m for m, verdict in round_.told if verdict in {"SURVIVED", "no test calls it"}]
        print(f"{module}: {len(round_.told)} changes, {len(lived)} survived")
        survived += len(lived)
    return 1 if survived else 0


if __name__ == "__main__":
    raise SystemExit(main())
