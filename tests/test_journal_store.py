"""The journal file for real: killed writers, full disks, damaged and newer files, round trips."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

from routefinder.errors import InputError, JournalFault
from routefinder.journal import exchange, store
from routefinder.journal.store import Entry, Run, Store

WRITER = """\
import sys
from routefinder.journal.store import Store
with Store(sys.argv[1]) as journal:
    run = journal.start({"who": sys.argv[2]})
    print("run", run.run, flush=True)
    for i in range(100000):
        e = journal.add(run.run, "note", "a-step", {"words": "x" * (i % 900), "i": i})
        print("entry", e.entry, i, flush=True)
"""
LIMITED = """\
import resource, sys
from routefinder.errors import JournalFault
from routefinder.journal.store import Store
with Store(sys.argv[1]) as journal:
    run = journal.start({})
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
    try:
        for i in range(100000):
            e = journal.add(run.run, "note", None, {"words": "y" * 500, "i": i})
            print("entry", e.entry, i, flush=True)
    except JournalFault as error:
        print("fault", error, flush=True)
        sys.exit(2)
"""


def spawn(code, *words):
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)], stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env=dict(os.environ),
    )  # fmt: skip


def acknowledged(text):
    """What a writer said it had written, whole lines only."""
    lines = text[: text.rfind("\n") + 1].splitlines()
    return {int(w[1]): int(w[2]) for w in (x.split() for x in lines) if w[0] == "entry"}


def test_acknowledged_entries_survive_kill_9(tmp_path):
    """A writer killed at a random moment, again and again: all it acknowledged is there."""
    path = tmp_path / "journal.sqlite"
    rng = random.Random(7)
    said: dict[int, int] = {}
    for turn in range(8):
        process = spawn(WRITER, path, turn)
        assert process.stdout.readline().startswith("run")
        time.sleep(rng.uniform(0.0, 0.12))
        process.send_signal(signal.SIGKILL)
        out, _ = process.communicate()
        assert process.returncode == -signal.SIGKILL
        said |= acknowledged(out)
        with Store(path) as journal:
            kept = {e.entry: e.data["i"] for e in journal.entries()}
        assert said.items() <= kept.items()
        assert len(kept) <= len(said) + turn + 1  # at most the one in flight besides, each time
    assert len(said) > 20
    with Store(path) as journal:
        assert len(journal.runs()) == 8


def test_killed_while_the_file_is_made(tmp_path):
    """Killed at any moment of the very beginning: no journal yet, or a good one."""
    rng = random.Random(3)
    for turn in range(6):
        path = tmp_path / f"new-{turn}" / "journal.sqlite"
        process = spawn(WRITER, path, turn)
        time.sleep(rng.uniform(0.03, 0.15))
        process.kill()
        process.communicate()
        with Store(path) as journal:
            journal.add(journal.start({}).run, "note")


def test_full_disk_reports_and_loses_nothing(tmp_path):
    """The file may not grow: one sentence, exit code 2, and all that was acknowledged is kept."""
    path = tmp_path / "journal.sqlite"
    for limit in (40_000, 60_000, 200_000):
        process = spawn(LIMITED, path, limit)
        out, err = process.communicate(timeout=60)
        assert process.returncode == 2, err
        fault = next(x for x in out.splitlines() if x.startswith("fault"))
        assert "make room" in fault
        said = acknowledged(out)
        with Store(path) as journal:
            kept = {e.entry: e.data["i"] for e in journal.entries()}
            assert said.items() <= kept.items()
            journal.add(1, "note", None, {"i": -1})  # and it can be written again
    assert len(said) > 5


def test_two_processes_write_and_one_reads(tmp_path):
    """Two writers and a reader at once: nobody is refused, nothing is lost."""
    path = tmp_path / "journal.sqlite"
    Store(path).close()
    writers = [spawn(WRITER, path, name) for name in "ab"]
    for writer in writers:
        assert writer.stdout.readline().startswith("run")
    counts: list[int] = []
    runs: set[int] = set()
    deadline = time.monotonic() + 60  # a writer waits for its turn; it must come
    while len(counts) < 10 or (len(runs) < 2 and time.monotonic() < deadline):
        with Store(path) as journal:
            entries = journal.entries()
        counts.append(len(entries))
        runs = {e.run for e in entries}
        time.sleep(0.02)
    said: dict[int, int] = {}
    for writer in writers:
        writer.kill()
        said |= acknowledged(writer.communicate()[0])
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]
    with Store(path) as journal:
        assert said.items() <= {e.entry: e.data["i"] for e in journal.entries()}.items()
        assert len({e.run for e in journal.entries()}) == 2


def test_reader_while_a_transaction_is_open(tmp_path):
    """A second process reads what was committed while a first holds the write lock."""
    path = tmp_path / "journal.sqlite"
    with Store(path) as journal:
        run = journal.start({})
        journal.add(run.run, "note", None, {"n": 1})
        journal._db.execute("BEGIN IMMEDIATE")
        code = (
            "import sys; from routefinder.journal.store import Store\n"
            "print(len(Store(sys.argv[1], create=False).entries()))"
        )
        done = spawn(code, path).communicate(timeout=30)
        journal._db.execute("ROLLBACK")
    assert done[0].strip() == "1", done[1]


def test_busy_journal_says_so(tmp_path, monkeypatch):
    """When another holds the lock too long, one sentence and nothing written."""
    monkeypatch.setattr(store, "BUSY_S", 0.05)
    path = tmp_path / "journal.sqlite"
    with Store(path) as first, Store(path) as second:
        run = first.start({})
        first._db.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalFault, match="another process is writing"):
            second.add(run.run, "note")
        first._db.execute("ROLLBACK")
        assert first.entries() == []


def refused(path, match):
    before = path.read_bytes()
    with pytest.raises(JournalFault, match=match) as caught:
        Store(path)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == before


def test_damaged_newer_and_foreign_files_are_left_alone(tmp_path):
    """Each is refused in a sentence, byte for byte as it was."""
    path = tmp_path / "journal.sqlite"
    with Store(path) as journal:
        run = journal.start({})
        for i in range(200):
            journal.add(run.run, "note", None, {"words": "z" * 200, "i": i})
    good = path.read_bytes()
    holes = bytearray(good)
    for page in range(2, len(good) // 4096):
        holes[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    path.write_bytes(bytes(holes))
    refused(path, "is damaged")
    path.write_bytes(good[: len(good) // 2])
    refused(path, "is damaged")
    path.write_bytes(b"not a journal at all" * 20)
    refused(path, "no journal")
    path.write_bytes(good[:50])
    refused(path, "no journal")
    newer = bytearray(good)
    newer[60:64] = (store.VERSION + 1).to_bytes(4, "big")
    path.write_bytes(bytes(newer))
    refused(path, "newer routefinder")
    path.unlink()
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE mine (x)")
    other.close()
    refused(path, "another program")


def test_places_that_cannot_be(tmp_path):
    """A folder, a file for a folder, and a journal that must be there."""
    with pytest.raises(JournalFault, match="cannot be read"):
        Store(_folder(tmp_path / "folder"))
    (tmp_path / "file").write_text("x")
    with pytest.raises(JournalFault, match="cannot be made"):
        Store(tmp_path / "file" / "journal.sqlite")
    with pytest.raises(JournalFault, match="no journal here"):
        Store(tmp_path / "none.sqlite", create=False)
    assert not (tmp_path / "none.sqlite").exists()


def _folder(path: Path) -> Path:
    path.mkdir()
    (path / "x").write_text("x")
    return path


def test_an_old_version_is_raised_and_kept(tmp_path):
    """A version 1 file is brought to today's schema with all it holds, and a copy stays."""
    path = tmp_path / "journal.sqlite"
    db = store._connect(path)
    db.execute("BEGIN")
    store._script(db, store.MIGRATIONS[0])
    db.execute(f"PRAGMA application_id = {store.APPLICATION}")
    db.execute("PRAGMA user_version = 1")
    db.execute("INSERT INTO runs VALUES (4, 'u', '2026-01-01T00:00:00+00:00', '{\"a\": 1}')")
    db.execute("INSERT INTO entries VALUES (9, 4, 'x', 'x', 'note', NULL, '{}', NULL)")
    db.execute("COMMIT")
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    with Store(path) as journal:
        assert journal.run(4).data == {"a": 1}
        assert [e.entry for e in journal.entries(4)] == [9]
        assert journal._db.execute("PRAGMA user_version").fetchone() == (store.VERSION,)
        with pytest.raises(sqlite3.Error, match="append-only"):
            journal._db.execute("DELETE FROM entries")
    copy = tmp_path / "journal.sqlite.version-1.bak"
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT count(*) FROM entries").fetchone() == (1,)


def test_settings_are_on(tmp_path):
    """WAL, synchronous FULL, foreign keys."""
    with Store(tmp_path / "j") as journal:
        ask = journal._db.execute
        assert ask("PRAGMA journal_mode").fetchone() == ("wal",)
        assert ask("PRAGMA synchronous").fetchone() == (2,)
        assert ask("PRAGMA foreign_keys").fetchone() == (1,)
        with pytest.raises(sqlite3.IntegrityError):
            ask("INSERT INTO entries (run, at, happened, kind, data) VALUES (99, '', '', '', '{}')")
        run = journal.start({})
        journal.add(run.run, "note")
        for words in (
            "UPDATE entries SET kind = 'x'",
            "UPDATE runs SET at = ''",
            "DELETE FROM runs",
        ):
            with pytest.raises(sqlite3.Error, match="append-only"):
                ask(words)


def test_corrections(tmp_path):
    """A correction stands in the old one's place; void takes back; all of it stays readable."""
    with Store(tmp_path / "j") as journal:
        run = journal.start({}).run
        other = journal.start({}).run
        first = journal.add(run, "out", "s", {"g": 21.4})
        second = journal.add(run, "note", None, {"words": "blue"})
        better = journal.add(run, "out", "s", {"g": 214.0}, corrects=first.entry)
        assert [e.entry for e in journal.standing(run)] == [better.entry, second.entry]
        best = journal.add(run, "out", "s", {"g": 213.0}, corrects=better.entry)
        assert journal.standing(run)[0] == best
        journal.add(run, "void", corrects=second.entry)
        assert journal.standing(run) == [best]
        assert len(journal.entries(run)) == 5
        with pytest.raises(InputError, match="was corrected by entry"):
            journal.add(run, "void", corrects=first.entry)
        with pytest.raises(InputError, match="belongs to run"):
            journal.add(other, "void", corrects=best.entry)
        with pytest.raises(InputError, match="no entry 99"):
            journal.add(run, "void", corrects=99)
        with pytest.raises(InputError, match="no run 7"):
            journal.add(7, "note")
        with pytest.raises(InputError, match="no kind"):
            journal.add(run, "nonsense")
        assert len(journal.entries()) == 5


WHOLE = {
    "name": "r", "target": "a", "target_name": "a", "target_g": 1.0, "cost": None, "currency": "USD",
    "elapsed_min": 1.0, "hands_on_min": 1.0, "waste_g": 0.0, "steps": [{
        "id": "s", "title": "S", "yield": {"low": 0.5, "typical": 0.6, "median": 0.6, "high": 0.7},
        "product": {"substance": "a", "state": "s", "mass_g": 1.0}, "ceiling_g": None,
        "hands_on_min": 1.0, "waiting_min": 0.0, "feeds": [{
            "substance": "b", "form": "b", "role": "reactant", "as_weighed_g": 2.0, "mol": 0.1,
            "material": "b", "name": "b", "purity": 1.0, "low": 1.0, "high": 1.0}]}],
}  # fmt: skip
OUT = {"grams": 1.0, "reads_g": 0.1}
HELD = {"in": {**OUT, "name": "b", "form": "b", "purity": 1.0, "low": 1.0, "high": 1.0}, "out": OUT,
        "temperature": {"temperature_C": 20.0}, "gone": {"grams": 2.0},
        "strength": {"low": 0.1, "share": 0.2, "high": 0.3},
        "test": {"words": "pH, 7"}}  # fmt: skip
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
DATA = st.dictionaries(
    TEXTS.map("x {}".format), st.one_of(TEXTS, st.floats(-1e15, 1e15), st.integers(-10**15, 10**15), st.none(),
                     st.booleans(), st.lists(TEXTS, max_size=3)), max_size=4,
)  # fmt: skip


@few(50)  # each writes and syncs five files
@given(
    st.lists(DATA, min_size=1, max_size=3),
    st.lists(st.tuples(st.integers(0, 99), st.sampled_from(store.KINDS), st.sampled_from([None, "s"]), DATA), max_size=8),
)  # fmt: skip
def test_round_trip_without_loss(tmp_path_factory, runs, rows):
    """Journal -> JSON or CSV -> empty journal gives the same runs and entries; again changes nothing."""
    folder = tmp_path_factory.mktemp("trip")
    with Store(folder / "a") as one:
        numbers = [one.start({**WHOLE, **d}).run for d in runs]
        last: dict[int, int] = {}
        for pick, kind, step, data in rows:
            run = numbers[pick % len(numbers)]
            corrects = last.pop(run, None) if pick % 3 == 0 else None
            held = {**HELD.get(kind, {}), **data}
            last[run] = one.add(run, kind, step, held, corrects=corrects).entry
        whole = exchange.parts(one)
        for suffix in (".json", ".csv"):
            exchange.export(one, folder / f"x{suffix}")
            with Store(folder / f"b{suffix}") as two:
                assert exchange.take_in(two, folder / f"x{suffix}")[0] == numbers
                assert exchange.parts(two) == whole
                assert exchange.take_in(two, folder / f"x{suffix}") == ([], numbers)
                assert exchange.parts(two) == whole


def test_import_into_a_journal_with_other_runs(tmp_path):
    """New numbers are given, corrections follow them."""
    with Store(tmp_path / "a") as one, Store(tmp_path / "b") as two:
        run = one.start(WHOLE).run
        old = one.add(run, "out", "s", {**OUT, "grams": 1.0})
        one.add(run, "out", "s", {**OUT, "grams": 2.0}, corrects=old.entry)
        mine = two.start(WHOLE).run
        two.add(mine, "note")
        exchange.export(one, tmp_path / "x.json")
        fresh, skipped = exchange.take_in(two, tmp_path / "x.json")
        assert skipped == []
        assert fresh == [mine + 1]
        assert [e.data["grams"] for e in two.standing(fresh[0])] == [2.0]


def test_bad_imports_change_nothing(tmp_path):
    """Every bad file is refused in a sentence, and the journal stays as it was."""
    path = tmp_path / "x.json"
    with Store(tmp_path / "a") as one:
        run = one.start(WHOLE).run
        one.add(run, "note")
        good = json.loads(exchange.to_json(*exchange.parts(one)))
    bad = [
        "", "[]", "{}", "nonsense", json.dumps({**good, "schema": "other"}),
        json.dumps({**good, "runs": [1]}), json.dumps({**good, "runs": []}),
        json.dumps({**good, "runs": good["runs"] * 2}),
        json.dumps({**good, "entries": good["entries"] * 2}),
        json.dumps({**good, "entries": [{**good["entries"][0], "kind": "x"}]}),
        json.dumps({**good, "entries": [{**good["entries"][0], "corrects": 5}]}),
        json.dumps({**good, "entries": [{**good["entries"][0], "run": "1"}]}),
    ]  # fmt: skip
    with Store(tmp_path / "b") as two:
        for text in bad:
            path.write_text(text)
            with pytest.raises(InputError):
                exchange.take_in(two, path)
        rows = tmp_path / "x.csv"
        head = ",".join(exchange.COLUMNS)
        for text in (
            "",
            "a,b\n",
            f"{head}\nrun,x\n",
            f"{head}\nrun,x,u,,t,,,,,{{}}\n",
            f"{head}\nfoo,1,u,,t,,,,,{{}}\n",
        ):
            rows.write_text(text)
            with pytest.raises(InputError):
                exchange.take_in(two, rows)
        with pytest.raises(InputError):
            exchange.take_in(two, tmp_path / "missing.json")
        with pytest.raises(InputError, match=r"\.json or \.csv"):
            exchange.export(two, tmp_path / "x.txt")
        assert exchange.parts(two) == ([], [])


def test_parts_must_fit(tmp_path):
    """A run that comes twice, a correction of a later entry."""
    run = Run(1, "u", "t", {})
    note = Entry(1, 1, "t", "t", "note", None, {})
    with Store(tmp_path / "a") as one:
        with pytest.raises(InputError, match="twice"):
            one.put([run, replace(run, run=2)], [])
        with pytest.raises(InputError, match="no earlier"):
            one.put([run], [replace(note, corrects=2), replace(note, entry=2)])
        assert one.runs() == []


def spoilt(good):
    """The export of a sound journal, one place of it spoilt: (what is wrong, text)."""
    text = json.dumps(good)
    run, entry = good["runs"][0], good["entries"][0]

    def with_run(**more):
        return json.dumps({**good, "runs": [{**run, **more}]})

    def with_data(**more):
        return with_run(data={**run["data"], **more})

    def with_step(**more):
        return with_data(steps=[{**run["data"]["steps"][0], **more}])

    def with_feed(**more):
        return with_step(feeds=[{**run["data"]["steps"][0]["feeds"][0], **more}])

    def with_entry(**more):
        return json.dumps({**good, "entries": [{**entry, **more}]})

    deep = "[" * 500 + "]" * 500
    deeper = "[" * 100_000 + "]" * 100_000
    for key in ("name", "target", "target_g", "target_name", "cost", "currency", "elapsed_min",
                "waste_g", "steps"):  # fmt: skip
        yield key, with_run(data={k: v for k, v in run["data"].items() if k != key})
    yield "name", with_run(data={})
    for bad in (-1.0, 0, 1e300, float("nan"), float("inf"), "1", None, True, [1]):
        yield "target_g", with_data(target_g=bad)
    for bad in (-1.0, 1e300, float("nan"), "1", None):
        yield "as_weighed_g", with_feed(as_weighed_g=bad)
        yield "grams", with_entry(kind="out", data={**OUT, "grams": bad})
        yield "grams", with_entry(kind="in", data={**HELD["in"], "grams": bad})
    yield "reads_g", with_entry(kind="out", data={**OUT, "reads_g": 0})
    yield "temperature_C", with_entry(kind="temperature", data={"temperature_C": -300})
    yield "temperature_C", with_entry(kind="temperature", data={})
    yield "name", with_entry(kind="in", data=OUT)
    yield "no step", with_entry(step="t")
    yield "no earlier step", with_feed(from_step="s")
    yield "purity", with_feed(purity=1.5)
    yield "steps", with_data(steps=[])
    yield "twice", with_data(steps=run["data"]["steps"] * 2)
    yield "rise", with_step(**{"yield": {"low": 0.9, "typical": 0.6, "median": 0.6, "high": 0.7}})
    yield "no moment", with_run(at="yesterday")
    yield "no moment", with_entry(happened="0001-01-01T00:00:00+00:00")
    for bad in (0, -1, 2**63 - 1, 10**30):
        yield "between 1 and", with_run(run=bad)
        yield "between 1 and", with_entry(entry=bad)
    yield "half a character", text.replace('"r"', '"\\ud800"')
    yield "half a character", with_data(x="\udc00")
    yield "beyond", with_data(x=10**40)
    yield "", text.replace('"r"', "1" * 5000)
    yield "no number", text.replace('"waste_g": 0.0', '"waste_g": 0.0, "x": 1e999')
    yield "nested", text.replace('"waste_g": 0.0', f'"waste_g": 0.0, "x": {deep}')
    yield "nested", text.replace('"waste_g": 0.0', f'"waste_g": 0.0, "x": {deeper}')
    yield "no list", json.dumps({**good, "runs": {"a": 1}})
    yield "no list", json.dumps({k: v for k, v in good.items() if k != "entries"})


def test_hollow_imports_are_refused_before_a_byte_is_written(tmp_path, call):
    """Whatever could not be read later is no journal: one sentence, no file made, none changed."""
    with Store(tmp_path / "a") as one:
        one.add(one.start(WHOLE).run, "note")
        good = json.loads(exchange.to_json(*exchange.parts(one)))
    path, mine = tmp_path / "x.json", tmp_path / "mine.sqlite"
    tried = 0
    for said, text in spoilt(good):
        path.write_text(text, encoding="utf-8")
        code, out, err = call("log", "import", path, "--journal", mine)
        assert (code, out) == (2, ""), (said, out, err)
        assert said in err, (said, err)
        assert err.count("\n") == 1
        assert len(err) < 600
        assert not mine.exists()
        tried += 1
    assert tried > 60
    path.write_text(json.dumps(good))
    assert call("log", "import", path, "--journal", mine)[0] == 0
    assert call("log", "show", "--journal", mine)[0] == 0


def test_one_unreadable_run_leaves_the_others(tmp_path, call):
    """A hollow run of an earlier version, broken JSON, broken bytes: named, the others are shown."""
    path = tmp_path / "j.sqlite"
    with Store(path) as journal:
        for data in (WHOLE, {}, {**WHOLE, "name": "torn"}, {**WHOLE, "name": "bytes"}, WHOLE):
            journal.add(journal.start(data).run, "note", data={"words": "here"})
        journal.add(5, "out", "s", {"words": "hollow"})
        journal.start(WHOLE)
        journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw = path.read_bytes()
    assert raw.count(b'"name": "torn"') == raw.count(b'"name": "bytes"') == 1
    raw = raw.replace(b'"name": "torn"', b'"name"; "torn"').replace(b'"bytes"', b'"by\xfees"')
    path.write_bytes(raw)
    code, out, err = call("log", "show", "--journal", path)
    assert code == 0
    assert [f"run {n}:" in out for n in range(1, 7)] == [True, False, False, False, False, True]
    for number, why in ((2, "name"), (3, "no JSON"), (4, "no UTF-8"), (5, "grams")):
        (line,) = [x for x in err.splitlines() if f"run {number}" in x]
        assert why in line
        code, out, err2 = call("log", "show", number, "--journal", path)
        assert (code, out) == (2, "")
        assert f"run {number}" in err2
        assert why in err2
    assert call("log", "today", "--journal", path)[0] == 0
    assert "note" in call("log", "note", "still", "works", "--journal", path)[1]
    code, out, err = call("log", "export", tmp_path / "x.json", "--journal", path)
    assert code == 1
    assert err.count("left out: run 3") == err.count("left out: run 4") == 1
    assert [r["run"] for r in json.loads((tmp_path / "x.json").read_text())["runs"]] == [1, 2, 5, 6]


@pytest.mark.parametrize("what", ["/dev/null", "/dev/zero", "fifo", "link", "socket"])
def test_no_special_file_becomes_a_journal(tmp_path, call, what):
    """A device, a pipe, a link to one: refused and still there."""
    import socket

    path = Path(what)
    if not path.is_absolute():
        path = tmp_path / what
        if what == "fifo":
            os.mkfifo(path)
        elif what == "link":
            path.symlink_to("/dev/null")
        else:
            with socket.socket(socket.AF_UNIX) as plug:
                plug.bind(str(path))
    before = path.lstat()
    for words in (("show",), ("note", "x"), ("today",)):
        code, out, err = call("log", *words, "--journal", path)
        assert (code, out) == (2, "")
        assert "no ordinary file" in err
    with pytest.raises(JournalFault, match="no ordinary file"):
        Store(path)
    after = path.lstat()
    assert (before.st_ino, before.st_mode, before.st_rdev) == (
        after.st_ino, after.st_mode, after.st_rdev)  # fmt: skip


def test_a_file_made_empty_beforehand_keeps_its_mode(tmp_path):
    """An empty file is a journal not begun; a link to where none is is followed."""
    path = tmp_path / "j"
    path.touch(mode=0o640)
    path.chmod(0o640)
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    for place in (path, tmp_path / "link"):
        with Store(place) as journal:
            assert journal.start({}).run == 1
    assert path.stat().st_mode & 0o777 == 0o640
    assert (tmp_path / "link").is_symlink()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["elsewhere", "j", "link"]


def test_without_hard_links(tmp_path, monkeypatch):
    """No journal needs one."""
    monkeypatch.setattr(os, "link", lambda *a, **b: pytest.fail("a hard link"))
    with Store(tmp_path / "j") as journal:
        assert journal.start({}).run == 1


@pytest.mark.parametrize("waiting", [False, True])
def test_a_read_only_journal_is_read(tmp_path, monkeypatch, waiting):
    """Where nothing can be written, not even beside it: read whole; entering says why not."""
    path = tmp_path / "j.sqlite"
    writer = Store(path)
    writer.add(writer.start(WHOLE).run, "note", data={"words": "kept"})
    if not waiting:
        writer.close()  # else what was written waits in the file beside
    real = os.access
    monkeypatch.setattr(
        os, "access", lambda p, mode: not (mode & os.W_OK and str(p).startswith(str(tmp_path)))
        and real(p, mode)
    )  # fmt: skip
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.suffix == ".sqlite"}
    with Store(path) as journal:
        assert journal.read_only
        assert [e.data for e in journal.entries()] == [{"words": "kept"}]
        with pytest.raises(JournalFault, match="not entered: the file or its folder cannot be"):
            journal.add(1, "note")
        with pytest.raises(JournalFault, match="cannot be written"):
            journal.start({})
        assert len(journal.entries()) == 1
    assert before == {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.suffix == ".sqlite"}
    writer.close()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
def test_another_users_journal_is_read(tmp_path_factory):
    """The real thing: a user who may read file and folder and write neither."""
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        path = folder / "j.sqlite"
        with Store(path) as journal:
            journal.add(journal.start(WHOLE).run, "note", data={"words": "kept"})
        path.chmod(0o644)
        code = (
            "import os, sys\nfrom routefinder.journal.store import Store\n"
            "os.setgid(65534); os.setuid(65534)\n"
            "with Store(sys.argv[1]) as j: print(j.read_only, j.entries()[0].data)\n"
        )
        done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True)
        assert done.stdout.strip() == "True {'words': 'kept'}", done.stderr
        assert [p.name for p in folder.iterdir()] == ["j.sqlite"]
