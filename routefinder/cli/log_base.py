"""What the journal's commands share: opening the journal and a run, moments, what is said back."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from routefinder.cli import options as o
from routefinder.errors import InputError, JournalFault

if TYPE_CHECKING:
    from datetime import datetime

    from routefinder.journal.book import Book, StepBook
    from routefinder.journal.store import Store
    from routefinder.library.library import Library

JournalFile = o.JournalFile
RunNumber = Annotated[
    int | None, typer.Option("--run", "-r", metavar="N", help="The run; else the last open one.")
]
StepName = Annotated[
    str, typer.Argument(metavar="STEP", help="Number of a step in the run, or its id.")
]
When = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="TIME",
        help="When it was: '14:30' today, '2026-11-28 14:30', 'yesterday', '3 days ago'.",
    ),
]
AnyTime = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="TIME",
        help="At another moment, past or to come: '2026-12-24', 'in 2 weeks', '3 days ago'.",
    ),
]
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Do it without asking.")]
_AGO = re.compile(
    r"(?:(?P<ahead>in)\s+)?(?P<n>an?|\d+(?:[.,]\d+)?)\s*(?P<unit>min(?:ute)?s?|h(?:ours?)?|d(?:ays?)?|"
    r"w(?:eeks?)?|months?|years?)(?:\s+(?P<ago>ago))?",
    re.IGNORECASE,
)
_MINUTES = {"mi": 1.0, "h": 60.0, "d": 1440.0, "w": 10080.0, "mo": 43800.0, "y": 525600.0}
_DAYS = {"today": 0, "yesterday": -1, "tomorrow": 1}


def open_store(path: Path | None, create: bool = False) -> Store:
    """The journal that a command means."""
    from routefinder.journal.store import Store
    from routefinder.library.where import journal_file

    return Store(path or journal_file(), create=create)


def open_run(store: Store, number: int | None, last: bool = False) -> Book:
    """The run that a command means: the one named, else the last that is not finished.

    ``last``: else the last of all (what is left over of a finished run can still be kept).

    Raises InputError when none is open.
    """
    from routefinder.journal.book import open_book

    if number is not None:
        return open_book(store, number)
    for run in reversed(store.runs()):
        try:
            book = open_book(store, run.run)
        except JournalFault as error:
            typer.echo(f"routefinder: {error}", err=True)
            continue
        if not book.finished:
            return book
    if last and store.runs():
        return open_book(store, store.runs()[-1].run)
    raise InputError("no run is open; begin one with 'routefinder log start'")


def readable(store: Store) -> list[Book]:
    """All runs that can be read; says on stderr what is wrong with the others."""
    from routefinder.journal.book import open_books

    books, faults = open_books(store)
    for fault in faults:
        typer.echo(f"routefinder: {fault}", err=True)
    return books


def library_of(book: Book) -> Library:
    """The library that a run was planned with."""
    from routefinder.asking.library import load_library
    from routefinder.journal.as_planned import as_planned
    from routefinder.journal.book import library_folders

    folders, only = library_folders(book.run)
    return as_planned(load_library(folders, only), book.run.data)


def happened(text: str | None) -> str | None:
    """Read "14:30", "2026-11-28 14:30", "yesterday 9:00", "3 days ago" as a past moment.

    Raises InputError for another form, and for what lies ahead of now.
    """
    if text is None:
        return None
    from datetime import datetime

    moment = any_time(text)
    if moment > datetime.now().astimezone():
        raise InputError(f"--at {text!r} lies ahead of now")
    return moment.isoformat(timespec="seconds")


def any_time(text: str) -> datetime:
    """Read a moment, past or to come: as ``happened``, and "in 2 weeks", "tomorrow".

    Raises InputError for another form.
    """
    from datetime import datetime, timedelta

    now = datetime.now().astimezone()
    words = text.strip().casefold()
    shifted = _AGO.fullmatch(words)
    if shifted and bool(shifted["ahead"]) != bool(shifted["ago"]):
        unit = shifted["unit"]
        minutes = _MINUTES[unit[:2] if unit[:2] in _MINUTES else unit[0]]
        n = 1.0 if shifted["n"] in {"a", "an"} else float(shifted["n"].replace(",", "."))
        if n * minutes > 1e8:
            raise InputError(f"--at {text!r} lies too far off")
        return now + timedelta(minutes=n * minutes * (1 if shifted["ahead"] else -1))
    day, _, clock = words.partition(" ")
    try:
        if day in _DAYS:
            date = (now + timedelta(days=_DAYS[day])).date()
            at = datetime.strptime(clock.strip(), "%H:%M").time() if clock.strip() else now.time()
            return datetime.combine(date, at).astimezone()
        if len(words) <= 5:
            return datetime.combine(
                now.date(), datetime.strptime(words, "%H:%M").time()
            ).astimezone()
        return datetime.fromisoformat(text.strip()).astimezone()
    except (ValueError, OverflowError, OSError):
        raise InputError(
            f"--at {text!r} is no time; write '14:30', '2026-11-28 14:30', 'yesterday 9:00' or "
            "'3 days ago'"
        ) from None


def confirm(book: Book, step: StepBook | None, words: str, entry: int | None = None) -> None:
    """Say what was understood, and under which number it stands."""
    where = f"run {book.run.run}" + (f", step {step.number}" if step else "")
    number = f"  [entry {entry}]" if entry else ""
    typer.echo(f"{where}, {words}{number}")
