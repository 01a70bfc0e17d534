"""Keeping the shelf's CSV in step with the bench: taking from it and adding to it.

Asked first. Only the cell of the amount changes (or one line is added); every other byte stays. The
new text is read back as a shelf before it replaces the old one at once; what the shelf was before
the first change of a day is kept beside it as ``NAME.DAY.bak``. When somebody changed the file
meanwhile, nothing is done.

**When the program ends in between.** What is about to be done to the file is entered before it is
done, in the same transaction as the weight: the digest of the file before and after. Until an entry
says how it ended, the next command of the run looks at the file: it is as it would be afterwards
(then that is entered), as it was before (then it is offered again), or neither (then it is told).
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder import digits, files, tables, units
from routefinder.errors import InputError, LibraryFaults
from routefinder.journal.book import MADE
from routefinder.library.library import Library
from routefinder.library.shelf import COLUMNS, read_shelf, supply_of
from routefinder.records.shelf import Supply

if TYPE_CHECKING:
    from routefinder.journal.account import StepState
    from routefinder.journal.book import Book, StepBook
    from routefinder.journal.store import Entry, Store


PURE = 0.995  # purer than that is called pure on a shelf: our choice


@dataclass(frozen=True)
class ShelfChange:
    """A change of a shelf file, worked out but not done: ``old`` and ``new`` text of the file.

    ``taken_g`` is what it really takes off (below 0: puts back), however much was wanted.
    """

    path: Path
    old: str
    new: str
    words: str
    taken_g: float = 0.0

    @property
    def mark(self) -> dict[str, str]:
        """What is entered before the file is touched."""
        return {
            "path": str(self.path), "words": self.words, "old": _digest(self.old),
            "new": _digest(self.new),
        }  # fmt: skip


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


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
    """Take ``grams`` of a material (its id) from the shelf; below 0: put so much back.

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
        if grams < 0:
            said = f"{name}: {amount} and {digits.mass(-grams)} put back make {after}"
        elif i + 1 == len(bottles):
            said = f"{name}: {amount} less {digits.mass(wanted)} leaves {after}"
            if short:
                said += f" (the shelf was short by {digits.mass(short)})"
        words.append(said)
        wanted = short
        if not short:
            break
    return ShelfChange(path, text, new, "; ".join(words), grams - short)


def _is(row: tables.Line, supply: Supply, library: Library) -> bool:
    """Whether a row of the shelf is of this supply: the same thing at the same strength."""
    try:
        other, _ = supply_of(row.cells, library)
    except InputError:
        return False
    return (other.id, other.fractions) == (supply.record, supply.fractions)


def adding(
    path: Path,
    library: Library,
    substance: str,
    grams: float,
    note: str,
    *,
    state: str = "s",
    share: float = 1.0,
) -> ShelfChange:
    """Put ``grams`` of what was made on the shelf, in a line of its own or more of it.

    ``share`` is grams of the substance in a gram: a solution (``state`` "aq") stands there by its
    volume and strength, a solid that is not pure by its strength. Raises InputError where the file
    has no column for that, or the density of a solution is not known.
    """
    text = _read(path)
    table = _table(text, path)
    name = library.name(substance)
    strength = "" if share > PURE else f"{100 * share:.6g} %"
    unit = "mL" if state == "aq" else "g"
    if strength and "strength" not in table.heading:
        raise InputError(
            f"{path}: {name} of {strength} cannot be put there, because the file has no column "
            "'strength'; add one"
        )
    trial = {"material": name, "strength": strength, "amount": f"1 {unit}"}
    supply, _ = supply_of(trial, library)  # raises where no density is known
    per = supply.density_g_mL or 1.0 if unit == "mL" else 1.0
    for row in table.rows:
        amount = row.cells["amount"]
        if row.cells["material"] != name or not amount:
            continue
        if row.cells.get("strength", "") != strength:
            continue
        after, _ = _amount(amount, grams, supply)
        new = text[: row.start] + _written(table, row, after, text) + text[row.end :]
        return ShelfChange(
            path, text, new, f"{name}: {amount} and {digits.mass(grams)} make {after}"
        )
    added = {
        "material": name, "amount": f"{grams / per:.6g} {unit}", "strength": strength, "note": note
    }  # fmt: skip
    line = tables.line_of([added.get(n, "") for n in table.heading], _ending(text))
    gap = "" if not text or text.endswith("\n") else _ending(text)
    of = f" of {strength}" if strength else ""
    return ShelfChange(
        path, text, text + gap + line, f"{name}: {digits.mass(grams)}{of} put on the shelf"
    )


def carry_out(change: ShelfChange, library: Library, at: datetime | None = None) -> Path:
    """Do a change: checked as a shelf, replaced at once. Gives what the shelf was this morning.

    Raises InputError when the file has changed meanwhile or the result would be no shelf.
    """
    path = change.path
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / path.name
        trial.write_bytes(change.new.encode("utf-8"))
        read_shelf(trial, library)
    if _read(path) != change.old:
        raise InputError(f"{path}: the shelf was changed by somebody else meanwhile; try again")
    backup = path.with_name(f"{path.name}.{at or datetime.now():%Y%m%d}.bak")
    if not backup.exists():
        try:
            files.write(backup, change.old, mode=path.stat().st_mode & 0o777)
        except OSError as error:
            raise InputError(
                f"{backup}: no copy of the shelf can be kept ({error.strerror})"
            ) from None
    files.write(path, change.new, force=True)
    return backup


Ask = Callable[[str], bool | None]


def for_taking(book: Book, data: dict[str, Any], library: Library) -> ShelfChange | str | None:
    """What is to be taken off the run's shelf for a weight, why that cannot be done, or None."""
    shelf, material = book.run.data.get("shelf") or "", data.get("material")
    if not shelf or not material or not Path(shelf).exists():
        return None
    if str(material).startswith(MADE):
        return None  # made in the run before, and never on the shelf
    try:
        return taking(Path(shelf), library, str(material), float(data["grams"]))
    except InputError as error:
        return str(error)


def offer(
    store: Store,
    book: Book,
    step: StepBook,
    entry: int,
    library: Library,
    change: ShelfChange | str,
    yes: bool,
    ask: Ask,
    grams: float,
) -> str:
    """Offer to take what was weighed in off the run's shelf; says what was done and enters it."""
    if isinstance(change, str):
        return change
    answer = True if yes else ask(f"Shelf {change.path.name}: {change.words}. Write it?")
    data: dict[str, Any] = {
        "words": change.words, "of_entry": entry, "grams": change.taken_g or grams
    }  # fmt: skip
    if answer is None:
        return f"shelf left as it is (say --yes to write: {change.words})"
    if not answer:
        store.add(book.run.run, "shelf", step.id, {
            "words": f"left as it is, not: {change.words}", "of_entry": entry, "grams": 0.0
        })  # fmt: skip
        return "shelf left as it is"
    backup = carry_out(change, library)
    store.add(book.run.run, "shelf", step.id, {**data, "backup": str(backup)})
    return f"shelf {change.path.name}: {change.words} (as it was this morning: {backup.name})"


def offer_back(store: Store, book: Book, first: int, library: Library, yes: bool, ask: Ask) -> str:
    """After a weight was corrected or taken back: offer to set the shelf right.

    ``first`` is the entry as it was first made.
    """
    booked = [e for e in book.entries if e.kind == "shelf" and e.data.get("of_entry") == first]
    taken = sum(float(e.data.get("grams", 0.0)) for e in booked)
    old = next((e for e in book.entries if e.entry == first), None)
    if old is None or not taken:
        return ""
    now = sum(
        g for s in book.steps for row in s.ins.values() for n, g in row["parts"] if n == first
    )
    step = next((s for s in book.steps if s.id == old.step), None)
    if step is None or abs(now - taken) <= 1e-6 * taken:
        return ""
    change = for_taking(book, {**old.data, "grams": now - taken}, library)
    if change is None:
        return ""
    return offer(store, book, step, first, library, change, yes, ask, now - taken)


def keep(store: Store, book: Book, state: StepState, library: Library, yes: bool, ask: Ask) -> str:
    """Offer to put what is left of what a step made on the run's shelf.

    Raises InputError when the run has no shelf file, nothing is left, or it cannot stand there.
    """
    shelf, step, lot = book.run.data.get("shelf") or "", state.step, state.lot
    if not shelf or not Path(shelf).exists():
        raise InputError(f"run {book.run.run} has no shelf file to put it on")
    if lot is None or not step.made:
        raise InputError(f"step {step.number} has made nothing yet that could be kept")
    left = lot.left_total_g
    if lot.state == "g":
        raise InputError(f"step {step.number}: a gas cannot be put on the shelf")
    if left is None or left <= 0 or lot.left_share <= 0:
        raise InputError(f"step {step.number}: nothing is left of what it made")
    share = min(lot.strength or 1.0, 1.0)
    if lot.state == "aq" and lot.whence != "measured":
        raise InputError(
            f"step {step.number}: nobody measured how strong the solution is; do so first "
            f"('log strength {step.number} \"6.4 %\"')"
        )
    if lot.state != "s" and not step.outs:
        raise InputError(
            f"step {step.number}: nobody measured how much there is; do so first, by weight or by "
            f"volume ('log weigh {step.number}')"
        )
    if step.wet:
        raise InputError(f"step {step.number}: only weighed wet; dry it, or log its strength")
    change = adding(
        Path(shelf), library, lot.what, left, f"made in run {book.run.run}", state=lot.state,
        share=share if lot.sure else 1.0,
    )  # fmt: skip
    answer = True if yes else ask(f"Shelf {change.path.name}: {change.words}. Write it?")
    if answer is None:
        return f"shelf left as it is (say --yes to write: {change.words})"
    if not answer:
        return "shelf left as it is"
    begun = store.add(
        book.run.run,
        "shelf",
        step.id,
        {"words": change.words, "shelf": change.mark, "kept_g": left},
    )
    return _kept(store, begun, change, library)


def _kept(store: Store, begun: Entry, change: ShelfChange, library: Library) -> str:
    backup = carry_out(change, library)
    data = {k: v for k, v in begun.data.items() if k != "shelf"}
    store.add(begun.run, "shelf", begun.step, {**data, "backup": str(backup)}, corrects=begun.entry)
    return f"shelf {change.path.name}: {change.words} (as it was this morning: {backup.name})"


def pending(book: Book) -> list[Entry]:
    """Entries that say what was about to be done to the shelf file, and not how it ended."""
    ended = {e.data.get("of_entry") for e in book.entries if e.kind == "shelf"}
    replaced = {e.corrects for e in book.entries}
    return [
        e
        for e in book.entries
        if e.data.get("shelf") and e.entry not in ended and e.entry not in replaced
        and e.corrects is None
    ]  # fmt: skip


def settle(store: Store, book: Book, library: Library, yes: bool, ask: Ask) -> list[str]:
    """Finish what was about to be done to the shelf file when the program ended, and say so."""
    out = []
    for entry in pending(book):
        mark = entry.data["shelf"]
        path, words = Path(mark["path"]), str(mark["words"])
        kept = "kept_g" in entry.data
        grams = float(entry.data.get("kept_g" if kept else "grams", 0.0))
        try:
            now = _digest(_read(path))
        except InputError as error:
            out.append(f"shelf: {words}: not known whether it was written ({error})")
            continue
        if now == mark["new"]:
            _enter(store, entry, words, grams)
            out.append(f"shelf {path.name}: {words} (was written before the program ended)")
            continue
        step = next(s for s in book.steps if s.id == entry.step)
        if now != mark["old"]:
            out.append(
                f"shelf {path.name}: the program ended before it was known whether this was "
                f"written: {words}. The file has changed since: look at it, and see to it yourself"
            )
            _enter(store, entry, f"see to it yourself: {words}", grams)
            continue
        change: ShelfChange | str | None = for_taking(book, entry.data, library)
        if kept:
            store.add(entry.run, "void", entry.step, {}, corrects=entry.entry)
            out.append(f"shelf {path.name}: not written when the program ended: {words}. Say "
                       f"'log keep {step.number}' again")  # fmt: skip
            continue
        if change is not None:
            said = offer(store, book, step, entry.entry, library, change, yes, ask, grams)
            out.append(f"from before ({words}): {said}")
    return out


def _enter(store: Store, entry: Entry, words: str, grams: float) -> None:
    """Say how it ended."""
    if "kept_g" in entry.data:
        data = {k: v for k, v in entry.data.items() if k != "shelf"}
        store.add(entry.run, "shelf", entry.step, {**data, "words": words}, corrects=entry.entry)
    else:
        store.add(
            entry.run, "shelf", entry.step,
            {"words": words, "of_entry": entry.entry, "grams": grams},
        )  # fmt: skip
