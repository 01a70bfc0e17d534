"""Runs to JSON and CSV and back, without loss.

JSON: ``{"schema": "routefinder/journal/1", "runs": [...], "entries": [...]}``. CSV: a row a run or
entry, with the columns below; what a row says besides stands as JSON in its column ``data``. The
last row is a note, the disclaimer; it is passed over when the file is read.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from routefinder import files, tables
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import Fault, FileFault, InputError, JournalFault
from routefinder.hidden import HIDDEN, code, visible_json
from routefinder.journal.store import KINDS, Entry, Run, Store
from routefinder.records import run as deep

SCHEMA = "routefinder/journal/1"
MOST_NUMBER = 1_000_000_000  # of a run or an entry; SQLite counts on from the highest
MOST_CELL = 1000
COLUMNS = ("record", "run", "uid", "entry", "at", "happened", "kind", "step", "corrects", "data")


def parts(store: Store, run: int | None = None) -> tuple[list[Run], list[Entry]]:
    """All runs and entries, or those of one run; what is damaged in the file is left out.

    Raises JournalFault when the one run is damaged.
    """
    damaged = damage(store, run)
    if run is not None and damaged:
        raise JournalFault(damaged[run])
    runs = store.runs() if run is None else [store.run(run)]
    return (
        [r for r in runs if r.run not in damaged],
        [e for e in store.entries(run) if e.run not in damaged],
    )


def damage(store: Store, run: int | None = None) -> dict[int, str]:
    """Runs that cannot be read from the file, and why."""
    out = {e.run: f"run {e.run}: entry {e.entry} {e.fault}" for e in store.entries(run) if e.fault}
    for r in store.runs():
        if r.fault and run in {None, r.run}:
            out[r.run] = f"run {r.run} {r.fault}"
    return out


def to_json(runs: list[Run], entries: list[Entry]) -> str:
    """Runs and entries as JSON text."""
    data = {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "runs": [_row(r) for r in runs],
        "entries": [_row(e) for e in entries],
    }
    return visible_json(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)) + "\n"


def _row(thing: Run | Entry) -> dict[str, Any]:
    out = asdict(thing)
    del out["fault"]
    return out


def to_csv(runs: list[Run], entries: list[Entry]) -> str:
    """Runs and entries as CSV text."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow(COLUMNS)
    for r in runs:
        cells = ["run", r.run, r.uid, "", r.at, "", "", "", "", _cell(r.data)]
        writer.writerow(map(tables.defused, cells))
    for e in entries:
        cells = ["entry", e.run, "", e.entry, e.at, e.happened, e.kind, e.step or "",
                 "" if e.corrects is None else e.corrects, _cell(e.data)]  # fmt: skip
        writer.writerow(map(tables.defused, cells))
    writer.writerow(["note", *[""] * (len(COLUMNS) - 2), _cell({"words": DISCLAIMER})])
    return out.getvalue()


def _cell(data: dict[str, Any]) -> str:
    return visible_json(json.dumps(data, ensure_ascii=False, allow_nan=False, sort_keys=True))


def from_json(text: str, name: str = "the file") -> tuple[list[Run], list[Entry]]:
    """Read JSON text; raises FileFault that says what is wrong."""
    try:
        data = json.loads(text)
    except RecursionError:
        raise _fault(name, 0, "nested too deeply") from None
    except ValueError as error:
        raise _fault(name, getattr(error, "lineno", 0), f"not JSON ({error})") from None
    if not isinstance(data, dict) or data.get("schema") != SCHEMA:
        raise _fault(name, 0, f"not a journal: it does not say schema {SCHEMA!r}")
    for key in ("runs", "entries"):
        if not isinstance(data.get(key), list):
            raise _fault(name, 0, f"not a journal: {key!r} is no list")
    runs, entries = [], []
    for i, row in enumerate(data.get("runs") or ()):
        runs.append(_run(row, f"{name}: run {i + 1}"))
    for i, row in enumerate(data.get("entries") or ()):
        entries.append(_entry(row, f"{name}: entry {i + 1}"))
    return runs, entries


def from_csv(text: str, name: str = "the file") -> tuple[list[Run], list[Entry]]:
    """Read CSV text; raises FileFault with the line."""
    # a long entry is written whole, and read whole
    sheet = tables.read(text, name, COLUMNS, COLUMNS, remarks=False, most=files.MAX_BYTES)
    if sheet.faults:
        raise FileFault(sheet.faults[0])
    runs, entries = [], []
    for line in sheet.rows:
        place = f"{name}:{line.line}"
        row = {key: tables.restored(cell) for key, cell in line.cells.items()}
        if row["record"] == "note":
            continue
        try:
            data = json.loads(row["data"])
            fields: dict[str, Any] = {**row, "data": data, "run": int(row["run"])}
            if row["record"] == "entry":
                fields["entry"] = int(row["entry"])
                fields["corrects"] = int(row["corrects"]) if row["corrects"] else None
                fields["step"] = row["step"] or None
        except RecursionError:
            raise InputError(f"{place}: nested too deeply") from None
        except ValueError as error:
            raise InputError(f"{place}: {error}") from None
        if row["record"] == "run":
            runs.append(_run(fields, place))
        elif row["record"] == "entry":
            entries.append(_entry(fields, place))
        else:
            raise InputError(f"{place}: {row['record']!r} is neither 'run' nor 'entry'")
    return runs, entries


def _fault(name: str, line: int, what: str) -> FileFault:
    return FileFault(Fault(name, line, 0, "", what, "Give a file that 'log export' wrote."))


def _typed(row: Any, wanted: dict[str, type | tuple[type, ...]], place: str) -> dict[str, Any]:
    if not isinstance(row, dict):
        raise InputError(f"{place}: not a record")
    out = {}
    for key, kind in wanted.items():
        value = row.get(key)
        if not isinstance(value, kind) or isinstance(value, bool):
            said = "missing" if key not in row else f"{value!r:.60}"
            raise InputError(f"{place}: {key!r} is {said}; give a file that 'log export' wrote")
        if isinstance(value, int) and not 1 <= value <= MOST_NUMBER:
            raise InputError(f"{place}: {key!r} must lie between 1 and {MOST_NUMBER}")
        if isinstance(value, str) and (hidden := HIDDEN.search(value)):
            raise InputError(
                f"{place}: {key!r} holds a character that nobody sees, {code(hidden[0])}"
            )
        if isinstance(value, str) and len(value) > MOST_CELL:
            raise InputError(f"{place}: {key!r} is longer than {MOST_CELL} characters")
        out[key] = value
    return out


def _run(row: Any, place: str) -> Run:
    return Run(**_typed(row, {"run": int, "uid": str, "at": str, "data": dict}, place))


def _entry(row: Any, place: str) -> Entry:
    none = type(None)
    return Entry(
        **_typed(
            row,
            {"entry": int, "run": int, "at": str, "happened": str, "kind": str,
             "step": (str, none), "data": dict, "corrects": (int, none)},
            place,
        )
    )  # fmt: skip


def export(store: Store, path: Path, run: int | None = None, force: bool = False) -> int:
    """Write runs to ``path`` (.json or .csv) in one go; gives back how many runs.

    Raises InputError for another ending, or a file that is there (unless ``force``).
    """
    files.check(path, force)
    runs, entries = parts(store, run)
    if path.suffix.lower() == ".json":
        text = to_json(runs, entries)
    elif path.suffix.lower() == ".csv":
        text = to_csv(runs, entries)
    else:
        raise InputError(f"{path}: end the name in .json or .csv")
    files.write(path, text, force=force)
    return len(runs)


def read(path: Path) -> tuple[list[Run], list[Entry]]:
    """Runs and entries of a file (.json or .csv).

    Raises InputError for another ending, and for a file that would make a journal with something
    in it that cannot be read: every run and entry is checked to the bottom.
    """
    reader = {".json": from_json, ".csv": from_csv}.get(path.suffix.lower())
    if reader is None:
        raise InputError(f"{path}: the name must end in .json or .csv")
    raw = files.read(path)
    try:
        text = raw.decode("utf-8-sig")  # a carriage return in a cell stays
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: cannot be read ({error})") from None
    runs, entries = reader(text, str(path))
    check(runs, entries, str(path))
    return runs, entries


def check(runs: list[Run], entries: list[Entry], name: str) -> None:
    """Raise InputError when a run or an entry could not be read later on."""
    place = name
    try:
        for run in runs:
            place = f"{name}: run {run.run}"
            deep.sound(run.uid)
            deep.check_run(run.data, run.at)
        of = {r.run: {step["id"] for step in r.data["steps"]} for r in runs}
        for e in entries:
            place = f"{name}: entry {e.entry}"
            if e.run not in of:
                raise InputError(f"its run {e.run} is not there")
            if e.kind not in KINDS:
                raise InputError(f"{e.kind[:40]!r} is no kind of entry")
            if e.step is not None and e.step not in of[e.run]:
                raise InputError(f"run {e.run} has no step {e.step[:60]!r}")
            deep.check_entry(e.kind, e.data, e.at, e.happened)
    except InputError as error:
        raise InputError(f"{place}: {error}; give a file that 'log export' wrote") from None


def take_in(store: Store, path: Path) -> tuple[list[int], list[int]]:
    """Read runs from ``path``: (numbers they got, numbers already here); raises as ``read``."""
    return store.put(*read(path))
