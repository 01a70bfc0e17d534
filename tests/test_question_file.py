"""A question kept in a file: saved, run again, overridden; what changed; faults with lines."""

from __future__ import annotations

import json
import re

import pytest

from routefinder.asking import question_file
from routefinder.choice.changes import changes
from routefinder.errors import FileFault, LibraryFaults

TARGET = "copper(II) acetate monohydrate"


@pytest.fixture
def saved(call, studio, tmp_path):
    path = tmp_path / "question.yaml"
    shelf = tmp_path / "shelf.csv"
    shelf.write_text((studio / "shelf.csv").read_text(encoding="utf-8"), encoding="utf-8")
    code, out, _ = call("find", TARGET, "--amount", "250 g", "--shelf", shelf, "--bench",
                        studio / "bench.yaml", "--library", studio / "reactions", "--save", path,
                        "--max-hazard", "toxic 4", "--no-licence")  # fmt: skip
    assert code == 0
    assert f"Saved: {path}" in out
    return path


def test_saved_question_is_what_was_asked(saved):
    """Every key reads back, paths relative to the file."""
    given, _ = question_file.read(saved)
    assert given["target"] == TARGET
    assert given["amount"] == "250 g"
    assert given["max_hazard"] == ["toxic 4"]
    assert given["no_licence"] is True
    assert "shelf: shelf.csv" in saved.read_text(encoding="utf-8")


def test_rerun_says_nothing_changed(call, saved):
    """The same library and question: the same routes."""
    code, out, _ = call("find", "--question", saved)
    assert code == 0
    assert "The routes are the same as last time" in out


def test_changes_are_told(call, saved):
    """A dearer vinegar, a wire gone: measures move, routes go; then they come back."""
    shelf = saved.parent / "shelf.csv"
    old = shelf.read_text(encoding="utf-8")
    lines = [line for line in old.splitlines() if not line.startswith("copper scrap")]
    shelf.write_text("\n".join(lines).replace("1.2 USD/L", "2.4 USD/L"), encoding="utf-8")
    _, out, _ = call("find", "--question", saved)
    assert re.search(r"No longer listed: it was route \d+, copper\s+scrap", out)
    assert "materials" in out.split("Since the last run")[1]
    shelf.write_text(old, encoding="utf-8")
    _, out, _ = call("find", "--question", saved)
    assert re.search(r"Newly listed: route \d+, copper\s+scrap", out)


def test_options_go_before_the_file(call, saved):
    """--amount and --top on the command line win, and are said."""
    _, out, _ = call("find", "--question", saved, "--amount", "1 mol", "--top", "2")
    assert "wanted: 200 g = 1.000 mol" in out
    assert "Asked otherwise than last time in: amount, top" in out


def test_json_stays_json(call, saved):
    """The changes go to stderr."""
    _, out, err = call("find", "--question", saved, "--json")
    assert json.loads(out)["routes"]
    assert "Since the last run" in err


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("target: x\nbudgt: 3\n", ":2:1: budgt: unknown key 'budgt'. Did you mean 'budget'?"),
        ("target: x\n\ntop: four\n", ":3:1: top: 'four' is not a whole number"),
        ("target: zinc oxide\nmax_time: 3 kg\n", ":2:1: max_time:"),
        ("amount: 3 g\n", "no target is named"),
        ("target: zinc oxide\nby: luck\n", ":2:1: by: unknown order 'luck'"),
        ("target: zinc oxide\ntop: 0\n", ":2:1: top is 0; ask for at least one route"),
        ("top: 3\ntarget: unobtainium\n", ":2:1: target: no substance is called 'unobtainium'"),
        ("target: zinc oxide\nshelf: none.csv\n", "none.csv: there is no such file"),
        ("- a\n- b\n", "the question is not 'key: value' lines"),
        ("target: [a, b]\n", ":1:1: target: ['a', 'b'] is not a text"),
        ("target: a\ntarget: b\n", ":2:1: target: the key 'target' stands twice"),
        ("", "the question is not 'key: value' lines"),
    ],
)
def test_faults_have_lines(call, tmp_path, text, says):
    """One sentence with file and line, exit code 2."""
    path = tmp_path / "q.yaml"
    path.write_text(text, encoding="utf-8")
    code, out, err = call("find", "--question", path)
    assert (code, out) == (2, "")
    assert says in err
    assert not question_file.beside(path).exists()


def test_damaged_last_answer(call, saved):
    """Said with its file; nothing is overwritten."""
    place = question_file.beside(saved)
    for text in ("{", "[]", '{"schema": "other"}'):
        place.write_text(text, encoding="utf-8")
        with pytest.raises(FileFault, match="Delete it"):
            question_file.read_last(saved)
        code, _, err = call("find", "--question", saved)
        assert code == 2
        assert "question.last.json" in err
        assert place.read_text(encoding="utf-8") == text


def test_all_faults_at_once(tmp_path):
    """Not only the first."""
    path = tmp_path / "q.yaml"
    path.write_text("target: x\na: 1\nb: 2\n", encoding="utf-8")
    with pytest.raises(LibraryFaults) as caught:
        question_file.read(path)
    assert len(caught.value.faults) == 2


def test_changes_by_step_sets():
    """Moved, new, gone, and figures that differ, whatever the order of the steps."""

    def answer(fingerprint, *routes):
        return {
            "fingerprint": fingerprint,
            "routes": [{"name": n, "steps": s, "measures": {"cost": c}} for n, s, c in routes],
        }

    before = answer("a", ("one", ["x", "y"], 1.0), ("two", ["z"], 2.0))
    now = answer("b", ("three", ["w"], 0.5), ("one", ["y", "x"], 1.5))
    found = changes(before, now)
    assert found.new == ((1, "three"),)
    assert found.gone == ((2, "two"),)
    assert [(k.before, k.now, dict(k.measures)) for k in found.kept] == [
        (1, 2, {"cost": (1.0, 1.5)})
    ]
    assert found.library
    assert changes(before, before).none
    assert not changes(before, before).library


def test_every_path_lies_beside_the_file(tmp_path):
    """Whatever a key names as a file or a folder, the journal too, is looked for beside it."""
    paths = [f.key for f in question_file.FIELDS if f.is_path]
    assert {*paths} == {"shelf", "bench", "journal", "library"}
    lines = [f"{key}: a/{key}" for key in paths]
    (tmp_path / "question.yaml").write_text("\n".join(["target: salt", *lines]), encoding="utf-8")
    given, _ = question_file.read(tmp_path / "question.yaml")
    for key in paths:
        wanted = str(tmp_path / "a" / key)
        assert given[key] in (wanted, [wanted]), key
