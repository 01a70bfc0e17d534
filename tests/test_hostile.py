"""A hostile surrounding: one sentence and a documented exit code, never a traceback."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder
from routefinder import files
from routefinder.cli import main
from routefinder.cli.terminal import Guarded
from routefinder.errors import InputError
from routefinder.hidden import HIDDEN, in_encoding, visible, visible_json
from routefinder.journal.store import Entry
from routefinder.library.where import examples

REPO = Path(main.__file__).parents[2]
HOSTILE = "\x1b]0;owned\x07\x9b2J\u202etxt.exe\u2066"
LOOK = ["look", "sodium chloride"]
ASKED = ["find", "precipitated chalk", "--network", str(examples() / "lime.csv"), "--have", "limestone", "--have", "fuel", "--have", "water"]  # fmt: skip


def run(words, *, shell="", cwd=None, **environment):
    """(exit code, stdout, stderr) of the program as a process; ``shell`` stands behind it."""
    env = {**os.environ, "PYTHONPATH": str(REPO), **environment}
    command = [sys.executable, "-W", "error", "-m", "routefinder", *words]
    if shell:
        command = ["bash", "-c", f'"$@" {shell}', "bash", *command]
    done = subprocess.run(command, capture_output=True, env=env, cwd=cwd, timeout=120, check=False)
    out, err = done.stdout.decode(errors="replace"), done.stderr.decode(errors="replace")
    assert "Traceback" not in out + err, err
    assert "Exception ignored" not in err, err
    assert len(err.splitlines()) <= 6, err
    return done.returncode, out, err


def test_plain_run_is_clean():
    """The base case, with every warning an error."""
    code, out, err = run(ASKED)
    assert (code, err) == (0, "")
    assert "proven" in out or "all" in out


@pytest.mark.parametrize("coding", ["ascii", "latin-1", "cp437"])
def test_output_in_another_encoding(monkeypatch, coding):
    """Written in the nearest characters; JSON is the same data."""

    def written(*words):
        raw = io.BytesIO()
        with monkeypatch.context() as patch:
            patch.setattr(sys, "argv", ["routefinder", *words])
            patch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=coding))
            with pytest.raises(SystemExit) as end:
                main.run()
            sys.stdout.flush()
        assert not end.value.code
        return raw.getvalue().decode(coding)

    assert "sodium" in written(*LOOK).lower()
    assert json.loads(written(*LOOK, "--json"))


def test_output_of_a_process_in_ascii():
    """The same with the encoding that the surroundings ask for."""
    code, out, err = run(LOOK, PYTHONIOENCODING="ascii")
    assert code == 0, err
    assert "sodium" in out.lower()


@pytest.mark.parametrize("columns", ["0", "1", "-5", "many"])
def test_a_terminal_without_width(call, monkeypatch, columns):
    """A width is found."""
    monkeypatch.setenv("COLUMNS", columns)
    assert call(*ASKED)[0] == 0
    assert call("--help")[0] == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_full_and_closed_outputs():
    """A full disk is said (2), a reader that has enough is none of our business (0)."""
    code, _, err = run(ASKED, shell="> /dev/full")
    assert code == 2
    assert "cannot be written (No space left on device)" in err
    assert run(ASKED, shell="2> /dev/full")[0] == 0
    assert run(["look", "nonsense"], shell="2> /dev/full")[0] == 2
    assert run(LOOK, shell="| head -c 1; exit ${PIPESTATUS[0]}")[0] == 0
    assert run(ASKED, shell=">&-")[0] in {0, 2}


def test_folders_and_names(call, tmp_path):
    """A working folder that is gone, names that are too long, unreadable folders."""
    gone = tmp_path / "gone"
    gone.mkdir()
    done = subprocess.run(
        ["bash", "-c", f'cd "{gone}" && rmdir "{gone}" && "$@"', "bash", sys.executable, "-m",
         "routefinder", "find", "x", "--library", "here"],
        capture_output=True, env={**os.environ, "PYTHONPATH": str(REPO)}, check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert b"Traceback" not in done.stderr
    long = "n" * 300
    for words in (
        ["find", "x", "--library", long], ["find", "x", "--shelf", f"{long}.csv"],
        ["find", "x", "--bench", f"{long}.yaml"], ["find", "x", "--network", f"{long}.csv"],
        ["check", long], ["check", "--coverage", f"{long}.csv"], ["log", "show", "--journal", long],
        ["log", "import", f"{long}.json"], ["find", long],
    ):  # fmt: skip
        code, _, err = call(*words)
        assert code in {1, 2}, (words, err)
        assert len(err.splitlines()) <= 6, (words, err)


INTERRUPTED = """\
import os, runpy, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # whatever whoever started us wants
class AtImport:
    left = int(sys.argv.pop(1))
    def find_spec(self, *_):
        AtImport.left -= 1
        if AtImport.left == 0:
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, AtImport())
runpy.run_module("routefinder", run_name="__main__", alter_sys=True)
"""


@pytest.mark.parametrize("imports", [20, 60, 200, 300])
def test_ctrl_c(imports):
    """Stopped at any moment, told by the imports so far: 130, no traceback."""
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, str(imports), "check"], capture_output=True,
        env={**os.environ, "PYTHONPATH": str(REPO)}, timeout=120, check=False,
    )  # fmt: skip
    assert b"Traceback" not in done.stderr, done.stderr
    assert done.returncode == 130, done.stderr
    assert done.stderr.decode().strip() == "routefinder: stopped"


def test_an_unexpected_fault_is_said(monkeypatch, call_raw, tmp_path):
    """Code 70, one sentence, and the details in a file that only its owner reads."""
    monkeypatch.setenv("ROUTEFINDER_CACHE", str(tmp_path))

    def broken(*_, **__):
        raise KeyError("target_g")

    monkeypatch.setattr(main, "app", broken)
    code, _, err = call_raw("find", "x")
    assert code == main.FAULT == 70
    assert "KeyError" in err
    assert len(err.splitlines()) == 1
    log = tmp_path / "last-fault.txt"
    assert str(log) in err
    assert "in broken" in log.read_text()
    assert log.stat().st_mode & 0o777 == 0o600


@pytest.fixture
def call_raw(capsys, monkeypatch):
    def go(*words):
        monkeypatch.setattr(sys, "argv", ["routefinder", *words])
        with pytest.raises(SystemExit) as end:
            main.run()
        return (end.value.code, *capsys.readouterr())

    return go


# --- what nobody sees --------------------------------------------------------------------------


@given(st.text())
def test_nothing_hidden_gets_through(text):
    """Shown text has no control or direction character; JSON keeps its data."""
    assert not HIDDEN.search(visible(text))
    assert "\r" not in visible(text)
    packed = visible_json(json.dumps(text, ensure_ascii=False))
    assert not HIDDEN.search(packed)
    assert json.loads(packed) == text
    in_encoding(visible(text), "ascii").encode("ascii")


def test_streams_and_consoles_show_it(capsys):
    """Through print and through rich, in a table too; colours of our own stay."""
    from rich.table import Table
    from rich.text import Text

    from routefinder.view.text import console

    Guarded(sys.stdout).write(f"a{HOSTILE}b \x1b[1mbold\x1b[0m\n")
    out = console(80)
    table = Table(HOSTILE)
    table.add_row(Text(HOSTILE))
    out.print(table)
    out.print(HOSTILE)
    shown = capsys.readouterr().out.replace("\x1b[1m", "").replace("\x1b[0m", "")
    assert not HIDDEN.search(shown)
    assert "(U+001B)]0;owned(U+0007)" in shown


def test_check_names_them(call, make_library):
    """A title with a hidden character is a fault with its place."""
    lib = make_library(
        substances='- {id: water, name: "wa\\e]0;x\\ater", formula: H2O, sources: from memory}\n'
        "- {id: salt, name: so\u202ealt, formula: NaCl, sources: from memory}\n"
    )
    code, out, _ = call("check", lib)
    assert code == 1
    assert "test.yaml:1:" in out
    assert "U+001B" in out
    assert "test.yaml:2:" in out
    assert "U+202E" in out
    assert not HIDDEN.search(out)


@pytest.mark.parametrize(
    "amount",
    ["1 g**9**9**9", "1e300 g", "²", "", " ", "1 g^99", "9" * 5000 + " g", "1 " + "g*" * 5000,
     "1 __import__('os')", "1 (g", "1 g;g", "1 g\x1b]0;x\x07", "1,500 g", "\ud800 g"],
)  # fmt: skip
def test_amounts_are_one_sentence(call, amount):
    """Nothing that is typed is evaluated; every bad amount has its one short sentence."""
    code, _, err = call("find", "sodium carbonate", "--amount", amount)
    assert code == 2, err
    assert len(err.splitlines()) == 1
    assert len(err) < 600


@pytest.mark.parametrize(
    ("name", "start", "shown"),
    [
        ("a.png", b"\x89PNG\r\n\x1a\n", True), ("a b>)[x](y).jpg", b"\xff\xd8\xff\xe0", True),
        ("secret.txt", b"\x89PNG\r\n\x1a\n", False), ("passwd.png", b"root:x:0:0", False),
    ],
)  # fmt: skip
def test_only_pictures_are_photos(tmp_path, name, start, shown):
    """By name and by first bytes; another machine's share is never asked."""
    from routefinder.journal.pictures import is_picture, need_picture
    from routefinder.view.run_report import _pictures

    path = tmp_path / name
    path.write_bytes(start)
    assert is_picture(path) is shown
    for other in ("//server/share/a.png", "\\\\server\\a.png", "/dev/zero", tmp_path / "none.png"):
        assert not is_picture(other)
    if not shown:
        with pytest.raises(InputError, match="no picture"):
            need_picture(path)
    (line, _) = _pictures([(str(path), True)])
    assert line.count(">") == 1
    assert line.endswith(">)")
    assert "[x]" not in line


def test_a_journal_as_csv_is_harmless_and_whole():
    """No cell is a formula, and what is read back is what was written, long entries too."""
    import csv

    from routefinder.journal.exchange import from_csv, to_csv

    at = "2026-01-01T00:00:00+00:00"
    entries = [Entry(1, 1, at, at, "note", "=cmd|' /C calc'!A0", {"words": "x" * 200_000}, None)]
    text = to_csv([], entries)
    assert not any(c.startswith(("=", "+", "-", "@")) for c in text.splitlines()[1].split('","'))
    csv.field_size_limit(10**7)
    (row, _) = csv.DictReader(io.StringIO(text))
    assert row["step"].startswith("'=")
    assert from_csv(text)[1] == entries


def test_no_file_that_is_written_holds_one(tmp_path, studio, monkeypatch):
    """Should a record get past the reader with such characters: no page, table or picture has them.

    Titles and cautions are shown spelled out; JSON keeps its data. The journal's pages and its
    export too, whose CSV is read back as it was.
    """
    from routefinder.journal import exchange
    from routefinder.library import read as reader

    library = tmp_path / "reactions"
    shutil.copytree(studio / "reactions", library)
    for path in (library / "steps").glob("*.yaml"):
        text = path.read_text("utf-8")
        text = re.sub(r"^(\s+title: )(.*)$", r'\1"\2 \\e]0;owned\\a\\u202Etxt"', text, flags=re.M)
        path.write_text(text, "utf-8")
    monkeypatch.setattr(reader, "HIDDEN", re.compile("(?!)"))
    found = routefinder.find("copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
                             bench=studio / "bench.yaml", libraries=[library])  # fmt: skip
    assert any(HIDDEN.search(s.title) for r in found.routes for s in r.assessment.steps)
    plan, side = found.plan(1), routefinder.compare(found, [1, 2])
    for ending in ("html", "md", "csv", "json"):
        plan.write(tmp_path / f"plan.{ending}")
    side.write(tmp_path / "side.html")
    side.masses().write(tmp_path / "masses.svg")
    for ending in ("dot", "svg"):
        found.diagram(tmp_path / f"ways.{ending}")
        found.routes[0].diagram(tmp_path / f"route.{ending}")
    at = "2026-01-01T00:00:00+00:00"
    entries = [Entry(1, 1, at, at, "note", "s", {"words": HOSTILE}, None)]
    files.write(tmp_path / "j.csv", exchange.to_csv([], entries))
    files.write(tmp_path / "j.json", exchange.to_json([], entries))
    written = {p.name: p.read_text("utf-8") for p in tmp_path.glob("*.*")}
    assert len(written) == 12
    for name, text in written.items():
        assert not HIDDEN.search(text), name
    for name in ("plan.html", "plan.md", "side.html"):
        assert "(U+001B)]0;owned(U+0007)(U+202E)txt" in written[name].replace("\\", ""), name
    assert HIDDEN.search(json.loads(written["plan.json"])["steps"][0]["title"])
    assert exchange.from_csv(written["j.csv"])[1] == entries
    with pytest.raises(InputError, match="nobody sees"):
        exchange.from_json(written["j.json"].replace('"s"', '"s\\u001b"'))
