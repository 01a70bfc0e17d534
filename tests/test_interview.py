"""`find` without a target asks step by step: on a real terminal (a pty)."""

from __future__ import annotations

import os
import pty
import select
import shlex
import subprocess
import sys
from itertools import pairwise

import pytest

from routefinder.library.where import examples

STUDIO = examples() / "studio"


def talk(folder, answers, *options):
    """Answer each prompt in turn; (exit code, all that was shown)."""
    mine, theirs = pty.openpty()
    env = {**os.environ, "COLUMNS": "160", "TERM": "dumb", "ROUTEFINDER_LIBRARY": ""}
    process = subprocess.Popen(
        [sys.executable, "-m", "routefinder", "find", *options], stdin=theirs, stdout=theirs,
        stderr=theirs, cwd=folder, env=env, close_fds=True,
    )  # fmt: skip
    os.close(theirs)
    shown = ""
    waiting = list(answers)
    fresh = ""
    while True:
        ready, _, _ = select.select([mine], [], [], 60)
        assert ready, f"nothing more came after: {shown[-300:]}"
        try:
            data = os.read(mine, 65536)
        except OSError:
            break
        if not data:
            break
        text = data.decode("utf-8", "replace").replace("\r\n", "\n")
        shown += text
        fresh += text
        if waiting and fresh.endswith(": "):
            os.write(mine, (waiting.pop(0) + "\n").encode())
            fresh = ""
    os.close(mine)
    assert waiting == [], shown
    assert "Traceback" not in shown
    return process.wait(60), shown


@pytest.fixture
def folder(tmp_path):
    for name in ("shelf.csv", "bench.yaml"):
        (tmp_path / name).write_text((STUDIO / name).read_text(encoding="utf-8"), encoding="utf-8")
    return tmp_path


def test_asks_suggests_goes_back_changes_and_prints_the_command(folder):
    """A whole talk; the command printed at the end gives the same answer."""
    code, shown = talk(
        folder,
        [
            "copper acetat", "",  # misspelt: the nearest names, none taken
            "?", "copper(II) acetate monohydrate",
            "heaps", "back",  # no amount; back to the target
            "", "250 g",
            "", "",  # shelf.csv and bench.yaml of this folder
            "99999 kg", "110 degC", "", "toxic 9", "", "", "", "yield",
            "7", "toxic 4",  # change the seventh answer
            "",
        ],
        "--library", STUDIO / "reactions", "--top", "3",
    )  # fmt: skip
    assert code == 0, shown
    assert "The nearest names:" in shown
    assert "A name, trade name, formula or CAS number." in shown
    assert "Shelf file [shelf.csv]" in shown
    assert "toxic 2" in shown  # what may be written instead of toxic 9
    line = next(x for x in shown.splitlines() if x.startswith("The same again: "))
    words = shlex.split(line.removeprefix("The same again: "))
    assert words[:3] == ["routefinder", "find", "copper(II) acetate monohydrate"]
    for pair in (("--amount", "250 g"), ("--shelf", "shelf.csv"), ("--bench", "bench.yaml"),
                 ("--max-temperature", "110 degC"), ("--max-hazard", "toxic 4"), ("--by", "yield"),
                 ("--top", "3")):  # fmt: skip
        assert pair in list(pairwise(words))
    again = subprocess.run(
        [sys.executable, "-m", "routefinder", *words[1:]], cwd=folder, capture_output=True,
        text=True, check=True, env={**os.environ, "COLUMNS": "160", "ROUTEFINDER_LIBRARY": ""},
    )  # fmt: skip
    told = [
        x
        for x in again.stdout.splitlines()
        if x.strip().startswith(("1. ", "2. ", "take", "gives"))
    ]
    assert len(told) >= 6
    flat = " ".join(shown.split())  # a terminal wraps one column earlier than a pipe
    missing = [x for x in told if " ".join(x.split()) not in flat]
    assert missing == []


def test_quit_leaves(folder):
    """Nothing is searched, exit code 2."""
    code, shown = talk(folder, ["quit"])
    assert code == 2
    assert "left without searching" in shown


def test_without_a_terminal_a_target_is_asked_for(folder):
    """A pipe gets one sentence."""
    done = subprocess.run(
        [sys.executable, "-m", "routefinder", "find"], input="", cwd=folder, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "name a target" in done.stderr
