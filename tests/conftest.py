"""Shared set-up: a cache folder of the tests' own, and the helpers beside the tests."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE / "speed")]
if "PYTEST_XDIST_WORKER" not in os.environ:  # workers share the folder of who started them
    os.environ["ROUTEFINDER_CACHE"] = tempfile.mkdtemp(prefix="routefinder-test-cache-")
os.environ["ROUTEFINDER_LIBRARY"] = ""  # no test sees the library of who runs it
os.environ["ROUTEFINDER_SETTINGS"] = str(HERE / "no-settings.toml")
os.environ["ROUTEFINDER_JOURNAL"] = os.path.join(os.environ["ROUTEFINDER_CACHE"], "no-journal")
os.environ.setdefault("COLUMNS", "110")

# 100 examples of every law; HYPOTHESIS_PROFILE=thorough tries four times as many, as .ci/run does for some
for name, most in (("default", 100), ("thorough", 400)):
    settings.register_profile(
        name, deadline=None, max_examples=most, suppress_health_check=[HealthCheck.too_slow]
    )
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))


@pytest.fixture(scope="session")
def shipped():
    """The shipped library."""
    from routefinder.asking.library import load_library

    return load_library()


@pytest.fixture(scope="session")
def studio() -> Path:
    """The folder of the demo scenario."""
    from routefinder.library.where import examples

    return examples() / "studio"


@pytest.fixture
def make_library(tmp_path):
    """Write a small library: ``make_library(steps=..., substances=..., materials=...)``."""

    def make(name: str = "lib", **files: str) -> Path:
        folder = tmp_path / name
        folder.mkdir(exist_ok=True)
        for kind, text in files.items():
            if kind in {"equipment", "regulated"}:
                (folder / f"{kind}.yaml").write_text(text, encoding="utf-8")
            else:
                (folder / kind).mkdir(exist_ok=True)
                (folder / kind / "test.yaml").write_text(text, encoding="utf-8")
        return folder

    return make


@pytest.fixture(scope="session")
def demo(studio):
    """The answer to the demo's question: 250 g of copper acetate crystals."""
    import routefinder

    return routefinder.find(
        "copper(II) acetate monohydrate",
        "250 g",
        shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml",
        libraries=[studio / "reactions"],
    )


@pytest.fixture(scope="session")
def demo_routes(demo):
    """The demo's routes by their first step's id."""
    return {route.assessment.ids[0]: route for route in demo.routes}


@pytest.fixture
def call(capsys, monkeypatch):
    """Run the command line; returns (exit code, stdout, stderr). A traceback is a failure."""
    import sys

    from routefinder.cli import main

    def run(*words: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["routefinder", *map(str, words)])
        code = 0
        try:
            main.run()
        except SystemExit as end:
            code = int(end.code or 0)
        out = capsys.readouterr()
        assert "Traceback" not in out.out + out.err
        assert code != main.FAULT, out.err
        return code, out.out, out.err

    return run
