"""The journal's command about bench tests: log test."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli import options as o
from routefinder.cli.log_base import (
    JournalFile,
    RunNumber,
    StepName,
    When,
    confirm,
    happened,
    library_of,
    open_run,
    open_store,
)
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.journal.senses import Sensed
    from routefinder.library.library import Library


def log_test(
    step: StepName,
    reading: Annotated[
        str,
        typer.Argument(
            metavar="TEST",
            help="'alkali, 10.00 g, 35.6 mL, 0.500 mol/L'; 'routefinder test STEP' says which.",
        ),
    ],
    at: When = None,
    run: RunNumber = None,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
) -> None:
    """Log a bench test of a step: what it means with all that was weighed and tested before."""
    from routefinder.analysis.reading import read_test
    from routefinder.journal import senses
    from routefinder.journal.account import account
    from routefinder.view import sensed_text, text

    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step)
        library = library_of(book)
        if own.id not in library.steps:
            raise InputError(f"step {own.number} is no longer in the library")
        resolved = library.steps[own.id]
        kind = senses.titrates(library, resolved) if reading.startswith("titrat") else ""
        tests = [read_test(t, kind) for t in (*own.tests, reading)]
        found = senses.of_step(library, account(library, book).of(own.id), tests)
        rows: list[tuple[str, str | None, dict[str, Any], int | None]] = [
            ("test", own.id, {"words": _written(reading, kind)}, None)
        ]
        measured = _strength(library, found)
        if measured is not None:
            rows.append(("strength", own.id, measured, None))
        entries = store.add_all(book.run.run, rows, happened=when)
        if json_out:
            o.echo_json(sensed_text.as_json(found, library))
            return
        confirm(book, own, f"test: {reading}", entries[0].entry)
        sensed_text.print_sensed(found, library, text.console())
        if measured is not None:
            typer.echo("Later steps are dosed by that.")


def _written(reading: str, kind: str) -> str:
    """The line as it can be read again by itself."""
    first, comma, rest = reading.partition(",")
    return f"{kind}{comma}{rest}" if kind and first.strip().startswith("titrat") else reading


def _strength(library: Library, found: Sensed) -> dict[str, Any] | None:
    """The strength to dose by as an entry; None where the readings do not tell it.

    Of a solution it counts in the form that the step makes.
    """
    if found.odd or found.says == "something else" or not found.told:
        return None
    held = library.root(found.substance)
    form = library.substances[found.substance].molar_mass_g
    grow = form / library.substances[held].molar_mass_g if found.dissolved else 1.0
    low, share, high = (
        min(max(v * grow, 0.0), 1.0)
        for v in (found.strength.low, found.strength.middle, found.strength.high)
    )
    if not 0 < share <= 1:
        return None
    return {"low": low, "share": share, "high": high, "words": "; ".join(found.readings)}
