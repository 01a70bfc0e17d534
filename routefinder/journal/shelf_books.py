"""Keeping the shelf's CSV in step with the bench: taking from it and adding to it.

Asked first. Only the cell of the amount changes (or one line is added); every other byte stays. The
new text is read back as a shelf before it replaces the old one at once, and the old one is kept
beside it as ``NAME.TIME.bak``. When somebody changed the file meanwhile, nothing is done.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from routefinder import digits, files, tables, units
from routefinder.errors import InputError, LibraryFaults
from routefinder.journal.book import MADE
from routefinder.library.library import Library
from routefinder.library.shelf import COLUMNS, read_shelf, supply_of
from routefinder.records.shelf import Supply

if TYPE_CHECKING:
    from routefinder.journal.book import Book, StepBook
    from routefinder.journal.store import Entry, Store


@dataclass(frozen=True)
class ShelfChange:
    """A change of a shelf file, worked out but not done: ``old`` and ``new`` text of the file."""

    path: Path
    old: str
    new: str
    words: str


def _read(path: Path) -> str:
    if path.suffix.lower() != ".csv":
        raise InputError(f"{path}: only a CSV shelf is kept; change this one yourself")
    try:
        return files.read(path).decode("utf-8")
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: the shelf cannot be read ({error})") from None


def _table(text: str, path: Path) -> tables.Sheet:
    """The shelf's table, with the place of every row in the text."""
    table = tables.read(text, str(path), ("material", "amount"), COLUMNS)
    if table.faults:
        raise LibraryFaults(table.faults)
    return table


def _written(table: tables.Sheet, row: tables.Line, amount: str, text: str) -> str:
    """A row with another amount, as a line of the file."""
    return _with_cell(text[row.start : row.end], table.heading.index("amount"), amount)


def _with_cell(record: str, column: int, cell: str) -> str:
    """A CSV record with one cell changed; quotes, spaces and ending of every other byte stay."""
    start = at = 0
    quoted = False
    for _ in range(column + 1):
        start = at
        while at < len(record) and (quoted or record[at] not in ",\r\n"):
            quoted ^= record[at] == '"'
            at += 1
        at += 1
    old = record[start : at - 1]
    inner = old.strip()
    before, after = old[: len(old) - len(old.lstrip())], old[len(old.rstrip()) :]
    mark = '"' if inner.startswith('"') and inner.endswith('"') and len(inner) > 1 else ""
    return f"{record[:start]}{before}{mark}{cell}{mark}{after}{record[at - 1 :]}"


def _ending(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _amount(text: str, grams: float, supply: Supply) -> tuple[str, float]:
    """The amount cell after adding ``grams`` (below 0: taking); and what the shelf was short of."""
    number, unit = units.split(text)
    _, kind = units.read_any(text, ("mass", "volume"))
    change = grams if kind == "mass" else grams / (supply.density_g_mL or 1.0)
    per = units.read(f"1 {unit}", kind)
    left = number + change / per
    short = 0.0
    if left < 0:
        short = -left * per * (1.0 if kind == "mass" else supply.density_g_mL or 1.0)
        left = 0.0
    places = max(len(text.partition(".")[2].rstrip(unit).strip()), 0)  # "500.0 g" keeps its 0
    return f"{_figure(left, min(places, 12))} {unit}", short


def _figure(value: float, places: int) -> str:
    """A number with at least so many places and none of its digits lost."""
    plain = f"{value:.12g}"
    if "e" in plain or len(plain.partition(".")[2]) >= places:
        return plain
    return f"{value:.{places}f}"


def taking(path: Path, library: Library, material: str, grams: float) -> ShelfChange:
    """Take ``grams`` of a material (its id) from the shelf.

    Raises InputError when it is not on the shelf or has no amount there.
    """
    text = _read(path)
    supply = next((s for s in read_shelf(path, library).supplies if s.id == material), None)
    table = _table(text, path)
    bottles = [row for row in table.rows if supply is not None and _is(row, supply, library)]
    if not bottles or supply is None:
        raise InputError(f"{path}: {material} is not on this shelf")
    new, wanted, words = text, grams, []
    shift = 0  # what was written so far moved the rows behind it
    for i, row in enumerate(bottles):
        name, amount = row.cells["material"], row.cells["amount"]
        if not amount:
            raise InputError(f"{path}: {name} has no amount there, so none can be taken off")
        after, short = _amount(amount, -wanted, supply)
        if short and i + 1 < len(bottles) and wanted == short:
            continue  # this one is empty already
        line = _written(table, row, after, text)
        new = new[: row.start + shift] + line + new[row.end + shift :]
        shift += len(line) - (row.end - row.start)
        said = f"{name}: {amount} less {digits.mass(wanted - short)} leaves {after}"
        if i + 1 == len(bottles):
            said = f"{name}: {amount} less {digits.mass(wanted)} leaves {after}"
            if short:
                said += f" (the shelf was short by {digits.mass(short)})"
        words.append(said)
        wanted = short
        if not short:
            break
    return ShelfChange(path, text, new, "; ".join(words))


def _is(row: tables.Line, supply: Supply, library: Library) -> bool:
    """Whether a row of the shelf is of this supply: the same thing at the same strength."""
    try:
        other, _ = supply_of(row.cells, library)
    except InputError:
        return False
    return (other.id, other.fractions) == (supply.record, supply.fractions)


def adding(path: Path, library: Library, substance: str, grams: float, note: str) -> ShelfChange:
    """Put ``grams`` of a solid that was made on the shelf, in a line of its own or more of it."""
    text = _read(path)
    table = _table(text, path)
    name = library.name(substance)
    for row in table.rows:
        amount = row.cells["amount"]
        if row.cells["material"] != name or not amount:
            continue
        supply = Supply(substance, name, "solid", {substance: 1.0}, substance)
        after, _ = _amount(amount, grams, supply)
        new = text[: row.start] + _written(table, row, after, text) + text[row.end :]
        return ShelfChange(
            path, text, new, f"{name}: {amount} and {digits.mass(grams)} make {after}"
        )
    added = {"material": name, "amount": f"{grams:.8g} g", "note": note}
    line = tables.line_of([added.get(n, "") for n in table.heading], _ending(text))
    gap = "" if not text or text.endswith("\n") else _ending(text)
    return ShelfChange(
        path, text, text + gap + line, f"{name}: {digits.mass(grams)} put on the shelf"
    )


def carry_out(change: ShelfChange, library: Library, at: datetime | None = None) -> Path:
    """Do a change: checked as a shelf, the old file kept, replaced at once. Gives the old one back.

    Raises InputError when the file has changed meanwhile or the result would be no shelf.
    """
    path = change.path
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / path.name
        trial.write_bytes(change.new.encode("utf-8"))
        read_shelf(trial, library)
    if _read(path) != change.old:
        raise InputError(f"{path}: the shelf was changed by somebody else meanwhile; try again")
    stamp = f"{at or datetime.now():%Y%m%d-%H%M%S}"
    backup = path.with_name(f"{path.name}.{stamp}.bak")
    number = 1
    while backup.exists():
        number += 1
        backup = path.with_name(f"{path.name}.{stamp}-{number}.bak")
    try:
        files.write(backup, change.old, mode=path.stat().st_mode & 0o777)
    except OSError as error:
        raise InputError(f"{backup}: no copy of the shelf can be kept ({error.strerror})") from None
    files.write(path, change.new, force=True)
    return backup


Ask = Callable[[str], bool | None]


def offer_taking(
    store: Store,
    book: Book,
    step: StepBook,
    entry: Entry,
    library: Library,
    yes: bool,
    ask: Ask,
) -> str:
    """Offer to take what was weighed in off the run's shelf; says what was done and logs it."""
    data, shelf = entry.data, book.run.data.get("shelf") or ""
    material = data.get("material")
    if not shelf or not material or not Path(shelf).exists():
        return ""
    if str(material).startswith(MADE):
        return ""  # made in the run before, and never on the shelf
    try:
        change = taking(Path(shelf), library, str(material), float(data["grams"]))
    except InputError as error:
        return str(error)
    return _offer(store, book, step, entry, library, change, yes, ask)


def offer_adding(
    store: Store,
    book: Book,
    step: StepBook,
    entry: Entry,
    library: Library,
    yes: bool,
    ask: Ask,
) -> str:
    """Offer to put what was made on the run's shelf.

    Raises InputError when the run has no shelf file, or what was made is no dry solid that was
    weighed.
    """
    shelf = book.run.data.get("shelf") or ""
    product = step.plan["product"]
    if not shelf or not Path(shelf).exists():
        raise InputError(f"run {book.run.run} has no shelf file to put it on")
    if product["state"] != "s" or step.out_g is None or step.wet:
        raise InputError(f"step {step.number}: only a dry solid that was weighed can be put there")
    change = adding(
        Path(shelf), library, product["substance"], step.out_g, f"made in run {book.run.run}"
    )
    return _offer(store, book, step, entry, library, change, yes, ask)


def _offer(
    store: Store,
    book: Book,
    step: StepBook,
    entry: Entry,
    library: Library,
    change: ShelfChange,
    yes: bool,
    ask: Ask,
) -> str:
    answer = True if yes else ask(f"Shelf {change.path.name}: {change.words}. Write it?")
    if answer is None:
        return f"shelf left as it is (say --yes to write: {change.words})"
    if not answer:
        return "shelf left as it is"
    backup = carry_out(change, library)
    store.add(
        book.run.run, "shelf", step.id,
        {"words": change.words, "of_entry": entry.entry, "backup": str(backup)},
    )  # fmt: skip
    return f"shelf {change.path.name}: {change.words} (before: {backup.name})"
