"""An extra that is not installed: one sentence with the command that installs it, exit code 2."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from routefinder.errors import missing_package

ROOT = Path(__file__).parents[1]
SBML = '<sbml xmlns="http://www.sbml.org/sbml/level3/version1/core" level="3" version="1"/>'
ASK = ("copper(II) acetate monohydrate", "--amount", "250 g", "--top", "2")

# extra -> (module that it brings, what is called without it); {} is a folder to write in
WITHOUT = {
    "sbml": ("cobra", [("find", "lime", "--network", "{}/net.xml", "--have", "stone")]),
    "plots": ("matplotlib", [("compare", *ASK, "--plot", "{}/routes.png")]),
}
# without it the plain loops serve; only what builds, tests or prints needs the others
NOT_NEEDED = {"fast", "test", "browser", "dev", "docs"}


def test_every_extra_is_here():
    """A new extra has to be tried without, or named as not needed."""
    made = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert set(made["project"]["optional-dependencies"]) == set(WITHOUT) | NOT_NEEDED


@pytest.mark.parametrize("extra", WITHOUT)
def test_one_sentence_without_it(extra, call, tmp_path, monkeypatch, studio):
    """The sentence names the extra; nothing is written."""
    module, calls = WITHOUT[extra]
    for name in [m for m in sys.modules if m.split(".")[0] == module]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, module, None)
    (tmp_path / "net.xml").write_text(SBML, encoding="utf-8")
    for words in calls:
        more = () if "--network" in words else (
            "--shelf", studio / "shelf.csv", "--bench", studio / "bench.yaml",
            "--library", studio / "reactions",
        )  # fmt: skip
        code, _, err = call(*(w.replace("{}", str(tmp_path)) for w in words), *more)
        assert code == 2, err
        said = [line for line in err.splitlines() if line.startswith("routefinder: ")]
        assert len(said) == 1
        assert f"pip install 'routefinder[{extra}]'" in said[0]
        assert [p.name for p in tmp_path.iterdir()] == ["net.xml"]


def test_no_numba_no_difference(monkeypatch):
    """Without the extra `fast` the plain loops serve."""
    from routefinder.search import compiled

    monkeypatch.setitem(sys.modules, "numba", None)
    compiled.compiled.cache_clear()
    try:
        assert compiled.compiled() is None
        assert compiled.loops_for(compiled.PAYS_ABOVE) == (compiled.PLAIN, False)
    finally:
        compiled.compiled.cache_clear()


# what has to be there, by the name that is imported; each with a command that needs it
REQUIRED = {
    "yaml": ("check", "{}/lib"), "pydantic": ("look", "quicklime"),
    "typer": ("--help",), "rich": ("look", "quicklime"),
}  # fmt: skip
HALTED = """\
import runpy, sys
sys.modules[sys.argv.pop(1)] = None
runpy.run_module("routefinder", run_name="__main__", alter_sys=True)
"""


@pytest.mark.parametrize("module", REQUIRED)
def test_one_sentence_without_a_requirement(module, tmp_path):
    """A broken installation: which package, and what to do; never a traceback."""
    steps = tmp_path / "lib" / "substances"
    steps.mkdir(parents=True)
    (steps / "own.yaml").write_text(
        "- {id: own, name: own, formula: NaCl, cas: 7647-14-5, sources: from memory}\n"
    )
    words = [w.replace("{}", str(tmp_path)) for w in REQUIRED[module]]
    done = subprocess.run(
        [sys.executable, "-c", HALTED, module, *words], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "ROUTEFINDER_CACHE": str(tmp_path / "cache")},
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert done.returncode == 2, done.stderr
    (line,) = [x for x in done.stderr.splitlines() if x.startswith("routefinder: ")]
    assert line.startswith(f"routefinder: the package {module}, which routefinder cannot do")


def test_our_own_modules_are_no_package():
    """A module of routefinder's that is missing is a fault of the program, not of the user."""
    assert missing_package(ModuleNotFoundError("x", name="routefinder.view")) == ""
    assert missing_package(ValueError("x")) == ""
