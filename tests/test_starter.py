"""`demo --copy`: the files of an installed package, for one's own folder."""

from __future__ import annotations

import json
import shlex

from routefinder.library import starter, where


def test_the_copy_answers_as_the_demo_does(call, tmp_path):
    """Shelf, bench and library arrive whole; the command that is printed runs and finds routes."""
    folder = tmp_path / "my own" / "lab"
    code, out, _ = call("demo", "--copy", folder)
    assert code == 0
    studio = where.examples() / "studio"
    for name in starter.FILES:
        assert (folder / name).read_bytes() == (studio / name).read_bytes()
    command = next(line for line in out.splitlines() if line.startswith("  routefinder find"))
    code, found, _ = call(*shlex.split(command)[1:], "--json")
    assert code == 0
    assert len(json.loads(found)["routes"]) > 3


def test_all_that_is_meant_for_copying_is_copied():
    """A data file added to the studio is copied too; pictures stay."""
    studio = where.examples() / "studio"
    every = {
        p.relative_to(studio).as_posix()
        for p in studio.rglob("*")
        if p.is_file() and p.suffix != ".png"
    }
    assert set(starter.FILES) == every


def test_nothing_is_written_over(call, tmp_path):
    """A file that is there stays as it is, and nothing beside it is written."""
    (tmp_path / "bench.yaml").write_text("mine", encoding="utf-8")
    code, out, err = call("demo", "--copy", tmp_path)
    assert (code, out) == (2, "")
    assert "bench.yaml is there already" in err
    assert [p.name for p in tmp_path.iterdir()] == ["bench.yaml"]
    assert (tmp_path / "bench.yaml").read_text(encoding="utf-8") == "mine"
    code, _, err = call("demo", "--copy", tmp_path / "bench.yaml" / "in")
    assert code == 2
    assert "cannot be written" in err
