"""The journal file: runs and what happened in them, in one SQLite file. Append-only.

Written ahead (WAL), synced at every commit (``synchronous = FULL``), so that an entry whose number
was given back survives ``kill -9`` and a power cut, and a second process can read meanwhile.
Nothing is ever changed or removed, triggers see to it: a correction is a new entry that names the
old one. A new file is built aside and put in place in one go. A file that is damaged, of a newer
version, or no journal at all is refused before anything is written to it.

The application id (in the file's header, offset 68) says that it is a journal, the user version
(offset 60) which schema it has: https://www.sqlite.org/fileformat.html, sections 1.3.10 and 1.3.14,
from memory.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import stat
import struct
import tempfile
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote_from_bytes

from routefinder import files
from routefinder.errors import InputError, JournalFault

APPLICATION = 0x52464A31  # "RFJ1"
BUSY_S = 10.0
MOST_BYTES = 2_000_000_000
KINDS = (
    "in", "out", "begin", "end", "temperature", "note", "photo", "failed", "finished", "plan",
    "shelf", "void", "strength", "gone", "test",
)  # fmt: skip

_FIRST = """
CREATE TABLE runs (
    run INTEGER PRIMARY KEY,
    uid TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    data TEXT NOT NULL CHECK (json_valid(data))
);
CREATE TABLE entries (
    entry INTEGER PRIMARY KEY AUTOINCREMENT,
    run INTEGER NOT NULL REFERENCES runs (run),
    at TEXT NOT NULL,
    happened TEXT NOT NULL,
    kind TEXT NOT NULL,
    step TEXT,
    data TEXT NOT NULL CHECK (json_valid(data)),
    corrects INTEGER UNIQUE REFERENCES entries (entry)
);
"""
_SECOND = """
CREATE INDEX entries_of_run ON entries (run, entry);
CREATE TRIGGER runs_stay BEFORE UPDATE ON runs
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER runs_keep BEFORE DELETE ON runs
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER entries_stay BEFORE UPDATE ON entries
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER entries_keep BEFORE DELETE ON entries
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER same_run BEFORE INSERT ON entries
WHEN NEW.corrects IS NOT NULL
     AND (SELECT run FROM entries WHERE entry = NEW.corrects) IS NOT NEW.run
BEGIN SELECT RAISE (ABORT, 'a correction must be of the same run'); END;
"""
# one script a version; version 2 guards with triggers what version 1 only promised
MIGRATIONS = (_FIRST, _SECOND)
VERSION = len(MIGRATIONS)


@dataclass(frozen=True)
class Run:
    """A run: the question, the route and the plan as they were when it began (``data``)."""

    run: int
    uid: str
    at: str
    data: dict[str, Any]
    fault: str = ""  # why ``data`` cannot be read from the file, then empty


@dataclass(frozen=True)
class Entry:
    """One thing that happened. ``at`` is when it was written, ``happened`` when it was.

    ``corrects`` is the entry it replaces; a correction of kind "void" takes it back.
    """

    entry: int
    run: int
    at: str
    happened: str
    kind: str
    step: str | None
    data: dict[str, Any]
    corrects: int | None = None
    fault: str = ""


def now() -> str:
    """This moment, to the second, with the offset of the local clock."""
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def moment(text: str) -> datetime:
    """Read a moment that the journal wrote; one without offset counts as local time."""
    found = datetime.fromisoformat(text)
    return found if found.tzinfo else found.astimezone()


class Store:
    """An open journal. Use as a context manager, or ``close`` it."""

    def __init__(self, path: str | Path, *, create: bool = True) -> None:
        self.path = Path(path)
        size = _size(self.path)
        if not size:
            if not create:
                raise JournalFault(
                    f"{self.path}: there is no journal here; begin one with 'routefinder log start'"
                )
            _make(self.path)
        _check_head(self.path)
        self._aside: tempfile.TemporaryDirectory[str] | None = None
        self._at = self.path
        if not _writable(self.path):  # read from a copy, in which SQLite may do what it must
            self._aside = tempfile.TemporaryDirectory(prefix="routefinder-journal-")
            self._at = _copied(self.path, Path(self._aside.name))
        _check_body(self._at, self.path)
        with _faults(self.path):
            self._db = _connect(self._at)
            self._migrate()

    @property
    def read_only(self) -> bool:
        """Whether the journal's file or folder cannot be written; it is read all the same."""
        return self._aside is not None

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()
        if self._aside is not None:
            self._aside.cleanup()

    def _migrate(self) -> None:
        found = self._db.execute("PRAGMA user_version").fetchone()[0]
        if found >= VERSION:
            return
        _backup(self._db, self._at, found)
        with self._transaction():
            found = self._db.execute("PRAGMA user_version").fetchone()[0]
            for number in range(found, VERSION):
                _script(self._db, MIGRATIONS[number])
            self._db.execute(f"PRAGMA user_version = {VERSION}")
        self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction in the file itself; raises JournalFault when it can only be read."""
        if self.read_only:
            raise JournalFault(
                f"{self.path}: not entered: the file or its folder cannot be written; name another "
                "file. What was confirmed before is kept"
            )
        with self._transaction():
            yield

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        """One transaction: all of it or nothing; synced before this returns."""
        with _faults(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise
            try:
                self._db.execute("COMMIT")
            except sqlite3.Error:
                with contextlib.suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise

    # --- writing

    def start(self, data: dict[str, Any], at: str | None = None) -> Run:
        """Begin a run; its number is given back when it is safely on the disk."""
        when = at or now()
        uid = uuid.uuid4().hex
        with self._writing():
            cursor = self._db.execute(
                "INSERT INTO runs (uid, at, data) VALUES (?, ?, ?)", (uid, when, _dump(data))
            )
            number = _row_id(cursor)
        return Run(number, uid, when, data)

    def add(
        self,
        run: int,
        kind: str,
        step: str | None = None,
        data: dict[str, Any] | None = None,
        *,
        happened: str | None = None,
        corrects: int | None = None,
    ) -> Entry:
        """Write one entry; it is safely on the disk when this returns.

        Raises InputError for an unknown run, kind or entry, or one that was corrected before.
        """
        return self.add_all(run, [(kind, step, data or {}, corrects)], happened=happened)[0]

    def add_all(
        self,
        run: int,
        rows: list[tuple[str, str | None, dict[str, Any], int | None]],
        *,
        happened: str | None = None,
    ) -> list[Entry]:
        """Write several entries (kind, step, data, corrects) together: all or none.

        Raises InputError for a kind that is none.
        """
        self.run(run)
        at = now()
        out: list[Entry] = []
        for kind, _, _, corrects in rows:
            if kind not in KINDS:
                raise InputError(f"{kind!r} is no kind of entry; the kinds are {', '.join(KINDS)}")
            if corrects is not None:
                self._check_correction(run, corrects)
        with self._writing():
            for kind, step, data, corrects in rows:
                cursor = self._db.execute(
                    "INSERT INTO entries (run, at, happened, kind, step, data, corrects) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (run, at, happened or at, kind, step, _dump(data), corrects),
                )
                out.append(
                    Entry(_row_id(cursor), run, at, happened or at, kind, step, data, corrects)
                )
        return out

    def _check_correction(self, run: int, entry: int) -> None:
        old = self.entry(entry)
        if old.run != run:
            raise InputError(f"entry {entry} belongs to run {old.run}, not to run {run}")
        later = self._db.execute(
            "SELECT entry FROM entries WHERE corrects = ?", (entry,)
        ).fetchone()
        if later is not None:
            raise InputError(f"entry {entry} was corrected by entry {later[0]}; correct that one")

    # --- reading

    def runs(self) -> list[Run]:
        """All runs, the oldest first."""
        with _faults(self.path):
            rows = self._db.execute("SELECT run, uid, at, data FROM runs ORDER BY run").fetchall()
        return [_run(row) for row in rows]

    def run(self, number: int) -> Run:
        """One run; raises InputError when there is none of that number."""
        with _faults(self.path):
            row = self._db.execute(
                "SELECT run, uid, at, data FROM runs WHERE run = ?", (number,)
            ).fetchone()
        if row is None:
            known = ", ".join(str(r.run) for r in self.runs()) or "none"
            raise InputError(f"there is no run {number} in {self.path}; the runs are: {known}")
        return _run(row)

    def entries(self, run: int | None = None) -> list[Entry]:
        """Every entry, corrected ones included, in the order written."""
        where, values = ("WHERE run = ?", (run,)) if run is not None else ("", ())
        with _faults(self.path):
            rows = self._db.execute(
                "SELECT entry, run, at, happened, kind, step, data, corrects FROM entries "
                f"{where} ORDER BY entry",
                values,
            ).fetchall()
        return [_entry(row) for row in rows]

    def entry(self, number: int) -> Entry:
        """One entry; raises InputError when there is none of that number."""
        with _faults(self.path):
            row = self._db.execute(
                "SELECT entry, run, at, happened, kind, step, data, corrects FROM entries "
                "WHERE entry = ?",
                (number,),
            ).fetchone()
        if row is None:
            raise InputError(f"there is no entry {number} in {self.path}; 'log show' lists them")
        return _entry(row)

    def standing(self, run: int | None = None) -> list[Entry]:
        """The entries that count: corrected ones replaced by their corrections, void ones gone.

        A correction stands in the place of the entry it corrects.
        """
        every = self.entries(run)
        replaced = {e.corrects: e for e in every if e.corrects is not None}
        out = []
        for entry in every:
            if entry.corrects is not None:
                continue
            last = entry
            while last.entry in replaced:
                last = replaced[last.entry]
            if last.kind != "void":
                out.append(last)
        return out

    # --- moving runs between journals

    def put(self, runs: list[Run], entries: list[Entry]) -> tuple[list[int], list[int]]:
        """Take in runs of another journal: (numbers they got, numbers that were here already).

        Into an empty journal numbers stay as they are; else new ones are given, order and
        corrections kept. All or nothing. Raises InputError when the parts do not fit together.
        """
        known = {r.uid for r in self.runs()}
        fresh = [r for r in runs if r.uid not in known]
        skipped = [r.run for r in runs if r.uid in known]
        _check_parts(runs, entries)
        keep = not known
        runs_to: dict[int, int] = {}
        entries_to: dict[int, int] = {}
        with self._writing():
            for run in fresh:
                cursor = self._db.execute(
                    "INSERT INTO runs (run, uid, at, data) VALUES (?, ?, ?, ?)",
                    (run.run if keep else None, run.uid, run.at, _dump(run.data)),
                )
                runs_to[run.run] = _row_id(cursor)
            for e in sorted(entries, key=lambda e: e.entry):
                if e.run not in runs_to:
                    continue
                corrects = None if e.corrects is None else entries_to[e.corrects]
                cursor = self._db.execute(
                    "INSERT INTO entries (entry, run, at, happened, kind, step, data, corrects) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (e.entry if keep else None, runs_to[e.run], e.at, e.happened, e.kind, e.step,
                     _dump(e.data), corrects),
                )  # fmt: skip
                entries_to[e.entry] = _row_id(cursor)
        return list(runs_to.values()), skipped


def _run(row: tuple[Any, ...]) -> Run:
    number, uid, at, data = row
    read, fault = _load(data)
    return Run(number, uid, at, read, fault)


def _entry(row: tuple[Any, ...]) -> Entry:
    number, run, at, happened, kind, step, data, corrects = row
    read, fault = _load(data)
    return Entry(number, run, at, happened, kind, step, read, corrects, fault)


def _load(text: str) -> tuple[dict[str, Any], str]:
    """What stands in the file as JSON, else why it cannot be read: a damage of that row only."""
    try:
        text.encode("utf-8")
        data = json.loads(text, parse_constant=_no_number)
    except UnicodeEncodeError:
        return {}, "is damaged in the file (no UTF-8 text)"
    except (ValueError, RecursionError) as error:
        return {}, f"is damaged in the file (no JSON: {error})"
    return (data, "") if isinstance(data, dict) else ({}, "is damaged in the file (no record)")


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _row_id(cursor: sqlite3.Cursor) -> int:
    if cursor.lastrowid is None:
        raise AssertionError("an insert gives a number")
    return cursor.lastrowid


def _check_parts(runs: list[Run], entries: list[Entry]) -> None:
    numbers = [r.run for r in runs]
    if len(set(numbers)) != len(numbers) or len({r.uid for r in runs}) != len(runs):
        raise InputError("a run stands there twice")
    by = {e.entry: e for e in entries}
    if len(by) != len(entries):
        raise InputError("an entry stands there twice")
    corrected = [e.corrects for e in entries if e.corrects is not None]
    if len(set(corrected)) != len(corrected):
        raise InputError("an entry is corrected twice")
    for e in entries:
        if e.run not in numbers:
            raise InputError(f"entry {e.entry} belongs to run {e.run}, which is not there")
        if e.kind not in KINDS:
            raise InputError(f"entry {e.entry}: {e.kind!r} is no kind of entry")
        if e.corrects is not None:
            old = by.get(e.corrects)
            if old is None or old.run != e.run or old.entry >= e.entry:
                raise InputError(f"entry {e.entry} corrects {e.corrects}, which is no earlier one")


def _dump(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, allow_nan=False, sort_keys=True)


def _connect(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    # a broken byte is the fault of its row alone, found when it is read
    db.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA foreign_keys = ON")
    return db


def _script(db: sqlite3.Connection, script: str) -> None:
    """The statements of a script inside the open transaction (``executescript`` would commit)."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            db.execute(statement)
            statement = ""


@contextlib.contextmanager
def _faults(path: Path) -> Iterator[None]:
    """Errors of SQLite as one sentence each."""
    try:
        yield
    except sqlite3.OperationalError as error:
        said = str(error)
        if "locked" in said or "busy" in said:
            remedy = "another process is writing to it; try again"
        elif "full" in said or "I/O" in said:
            remedy = "the disk is full or cannot be written; make room and enter it again"
        elif "readonly" in said or "unable to open" in said:
            remedy = "the file or its folder cannot be written; name another file"
        else:
            remedy = "nothing was changed"
        raise JournalFault(
            f"{path}: not entered ({said}): {remedy}. What was confirmed before is kept"
        ) from None
    except sqlite3.DatabaseError as error:
        raise _damaged(path, str(error)) from None


def _damaged(path: Path, said: str) -> JournalFault:
    return JournalFault(
        f"{path}: the journal is damaged ({said}); it was left as it is. Put back a backup, or "
        "name another file"
    )


def _size(path: Path) -> int | None:
    """Bytes of the file, None when there is none; raises JournalFault when it can be no journal."""
    try:
        state = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise JournalFault(f"the journal cannot be read ({said}); name another file") from None
    if not stat.S_ISREG(state.st_mode):
        what = "a folder" if stat.S_ISDIR(state.st_mode) else "a device, a pipe or a socket"
        raise JournalFault(
            f"{path}: the journal cannot be read: this is {what}, no ordinary file; it was left as "
            "it is. Name another file"
        )
    return state.st_size


def _make(path: Path) -> None:
    """Put an empty journal in place at once; whoever is there first wins."""
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        db.execute("BEGIN")
        for script in MIGRATIONS:
            _script(db, script)
        db.execute(f"PRAGMA application_id = {APPLICATION}")
        db.execute(f"PRAGMA user_version = {VERSION}")
        db.execute("COMMIT")
        empty = db.serialize()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        files.found(path, empty)
    except OSError as error:
        raise JournalFault(
            f"{path}: a journal cannot be made here ({error.strerror or error}); name another "
            "place for it"
        ) from None


def _check_head(path: Path) -> None:
    """Refuse what is no journal or a newer one, from the first 100 bytes."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise JournalFault(f"{path}: the journal cannot be read ({error.strerror})") from None
    if len(head) < 100 or not head.startswith(b"SQLite format 3\x00"):
        raise JournalFault(f"{path}: this is no journal; it was left as it is. Name another file")
    version, application = struct.unpack(">I", head[60:64])[0], struct.unpack(">I", head[68:72])[0]
    if application != APPLICATION:
        raise JournalFault(
            f"{path}: this is the database of another program; it was left as it is. Name another "
            "file"
        )
    if version > VERSION:
        raise JournalFault(
            f"{path}: this journal was written by a newer routefinder (its version {version}, this "
            f"one reads up to {VERSION}); it was left as it is. Update routefinder"
        )


def _writable(path: Path) -> bool:
    return os.access(path, os.W_OK) and os.access(path.resolve().parent, os.W_OK)


def _opened_for_reading(path: Path) -> sqlite3.Connection:
    """Not by ``Path.as_uri``: Python 3.13 imports what that needs only when it is called, and by
    then the process may have become a user who cannot read where Python lies."""
    where = quote_from_bytes(os.fsencode(path.resolve().as_posix()))
    return sqlite3.connect(f"file:{where}?mode=ro", uri=True, timeout=BUSY_S)


def _copied(path: Path, folder: Path) -> Path:
    """A copy of the journal with what is not yet written back into its file."""
    copy = folder / "journal.sqlite"
    try:
        with (
            contextlib.closing(_opened_for_reading(path)) as db,
            contextlib.closing(sqlite3.connect(copy)) as to,
        ):
            db.backup(to)
        return copy
    except sqlite3.Error:  # nothing can be locked there, or it is damaged: byte by byte then
        pass
    for ending in ("", "-wal"):
        source = path.resolve().with_name(path.resolve().name + ending)
        if ending and not source.exists():
            continue
        try:
            raw = files.read(source, most=MOST_BYTES)
        except InputError as error:
            raise JournalFault(f"the journal cannot be read: {error}") from None
        files.write(copy.with_name(copy.name + ending), raw, force=True)
    return copy


def _check_body(at: Path, path: Path) -> None:
    """Refuse a damaged file (read at ``at``, called ``path``); reads only."""
    try:
        with contextlib.closing(_opened_for_reading(at)) as db:
            db.text_factory = lambda raw: raw.decode("utf-8", "replace")
            db.execute("PRAGMA ignore_check_constraints = ON")  # damaged JSON: one run's fault
            rows = db.execute("PRAGMA quick_check(1)").fetchall()
            broken = db.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.OperationalError as error:
        if "malformed" in str(error) or "not a database" in str(error):
            raise _damaged(path, str(error)) from None
        return  # cannot be opened for reading only: the ordinary way says why
    except sqlite3.DatabaseError as error:
        raise _damaged(path, str(error)) from None
    if rows != [("ok",)]:
        raise _damaged(path, str(rows[0][0]))
    if broken is not None:
        raise _damaged(path, "an entry belongs to no run")


def _backup(db: sqlite3.Connection, path: Path, version: int) -> None:
    """A copy beside the file before its schema is raised."""
    copy = path.with_name(f"{path.name}.version-{version}.bak")
    if not copy.exists():
        db.execute("VACUUM INTO ?", (str(copy),))
