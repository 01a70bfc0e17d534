"""The one reader of tables that people write (CSV), strict and with the place of every fault.

RFC 4180 with commas: a cell that holds a comma stands in quotes, a quote in it is written twice.
Stricter than usual: a quoted cell ends on its line (an unclosed quote would swallow the lines after
it), an unknown or repeated column is a fault, and so is a character that nobody sees. Lines that
begin with # are remarks. One writer too: no cell of it is taken for a formula by a spreadsheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from routefinder.errors import Fault, FileFault
from routefinder.hidden import HIDDEN, code

MOST_IN_A_CELL = 100_000  # characters; more is a file gone wrong
_END = re.compile(r"\r\n|\n|\r")  # no other line ends: a cell may hold what Unicode calls one
_BARE = re.compile(r"[^,]*")
_QUOTED = re.compile(r'"((?:[^"]|"")*)"')
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # OWASP, CSV Injection


@dataclass(frozen=True)
class Line:
    """One line of a table: its cells by heading, stripped, and where each begins."""

    line: int  # from 1
    start: int  # where the line begins in the text
    end: int  # behind its line end
    cells: dict[str, str]
    columns: dict[str, int] = field(repr=False)  # from 1


@dataclass(frozen=True)
class Sheet:
    """A table that was read; ``faults`` are those of single lines, whose rows are left out."""

    heading: tuple[str, ...]
    rows: tuple[Line, ...]
    faults: tuple[Fault, ...]


def lines(text: str) -> Iterator[tuple[int, int, str]]:
    """(start, end, line without its end) of every line of ``text``."""
    start = 0
    for match in _END.finditer(text):
        yield start, match.end(), text[start : match.start()]
        start = match.end()
    if start < len(text):
        yield start, len(text), text[start:]


def read(
    text: str,
    path: str,
    needed: Sequence[str],
    known: Sequence[str] | None = None,
    *,
    remarks: bool = True,
    most: int = MOST_IN_A_CELL,
) -> Sheet:
    """Read a table with a heading line.

    ``needed`` are the columns that must be there, ``known`` all that may be (None: any). With
    ``remarks`` lines that begin with # are passed over; a cell may have ``most`` characters. Raises
    FileFault for a heading line that will not do.
    """
    heading: tuple[str, ...] = ()
    rows: list[Line] = []
    faults: list[Fault] = []
    example = ",".join(known or needed)
    for number, (start, end, line) in enumerate(lines(text.removeprefix("\ufeff")), 1):
        bare = line.strip()
        if not line.strip(" \t,") or (remarks and bare.startswith("#")):
            continue
        try:
            cells = _cells(line, number, path, most)
            if not heading:
                heading = _heading(cells, number, path, needed, known, example)
                continue
            if len(cells) > len(heading):
                raise FileFault(
                    Fault(path, number, cells[len(heading)][1], "",
                          "the line has more cells than the heading",
                          "Put text with commas in quotes.")
                )  # fmt: skip
        except FileFault as error:
            if not heading:
                raise
            faults.append(error.fault)
            continue
        padded = [*cells, *[("", len(line) + 1)] * (len(heading) - len(cells))]
        named = list(zip(heading, padded, strict=True))
        if remarks and named[0][1][0].startswith("#"):
            continue
        shift = len(text) - len(text.removeprefix("\ufeff"))
        rows.append(
            Line(number, start + shift, end + shift, {h: c for h, (c, _) in named},
                {h: column for h, (_, column) in named})
        )  # fmt: skip
    if not heading:
        missing = " and no column ".join(map(repr, needed))
        raise FileFault(
            Fault(path, 1, 0, "", f"the heading line names no column {missing}",
                  f"Begin with a line such as: {example}")
        )  # fmt: skip
    return Sheet(heading, tuple(rows), tuple(faults))


def _cells(line: str, number: int, path: str, most: int) -> list[tuple[str, int]]:
    """(cell, its column) of every cell of a line; raises FileFault."""

    def fail(place: int, what: str, remedy: str) -> FileFault:
        return FileFault(Fault(path, number, place + 1, "", what, remedy))

    if hidden := HIDDEN.search(line):
        raise fail(hidden.start(), f"a character that nobody sees, {code(hidden[0])}", "Delete it.")
    out = []
    place = 0
    while True:
        begin = place + len(line[place:]) - len(line[place:].lstrip(" \t"))
        if line.startswith('"', begin):
            found = _QUOTED.match(line, begin)
            if found is None:
                raise fail(
                    begin,
                    "a quote is opened and not closed on its line",
                    "Close it; a quote within quotes is written twice, a cell is one line.",
                )
            cell, place = found[1].replace('""', '"'), found.end()
            rest = _BARE.match(line, place)
            if rest is not None and rest[0].strip():
                raise fail(
                    place,
                    "text stands behind the closing quote of a cell",
                    "Put the whole cell in quotes; a quote in it is written twice.",
                )
        else:
            rest = _BARE.match(line, begin)
            cell = rest[0] if rest is not None else ""
        if len(cell) > most:
            raise fail(begin, f"the cell has {len(cell):,} characters",
                       f"More than {most:,} are not read.")  # fmt: skip
        out.append((cell.strip(), begin + 1))
        place = rest.end() if rest is not None else len(line)
        if place >= len(line):
            return out
        place += 1  # the comma


def _heading(
    cells: list[tuple[str, int]],
    number: int,
    path: str,
    needed: Sequence[str],
    known: Sequence[str] | None,
    example: str,
) -> tuple[str, ...]:
    def fail(column: int, name: str, what: str, remedy: str) -> FileFault:
        return FileFault(Fault(path, number, column, name, what, remedy))

    names = tuple(cell.lower() for cell, _ in cells)
    lacking = [name for name in needed if name not in names]
    if lacking:
        missing = " and no column ".join(map(repr, lacking))
        other = next((s for s in (";", "\t") if s in ",".join(names)), None)
        remedy = f"Begin with a line such as: {example}"
        if len(cells) == 1 and other is not None:
            said = "semicolons" if other == ";" else "tabs"
            remedy = f"The cells are parted by {said}; save the table with commas."
        raise fail(0, "", f"the heading line names no column {missing}", remedy)
    for i, name in enumerate(names):
        column = cells[i][1]
        if name in names[:i]:
            raise fail(column, name, f"the column {name!r} stands twice", "Keep one of them.")
        if known is not None and name not in known:
            near = get_close_matches(name, known, n=1)
            meant = f" Is {near[0]!r} meant?" if near else ""
            raise fail(column, name, f"unknown column {name!r}",
                       f"The columns are {', '.join(known)}.{meant}")  # fmt: skip
    return names


def defused(value: object) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe before = + - @.

    What is a plain number stays as it is.
    """
    text = "" if value is None else str(value)
    if not text.startswith(FORMULA):
        return text
    return text if re.fullmatch(r"[-+]?\d+(\.\d+)?([eE][-+]?\d+)?", text) else f"'{text}"


def restored(cell: str) -> str:
    """The text that ``defused`` made harmless."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA) else cell


def line_of(cells: Sequence[str], ending: str = "\n") -> str:
    """Cells as one line of a table, quoted where they must be."""
    return ",".join(map(_written, cells)) + ending


def _written(cell: str) -> str:
    if any(sign in cell for sign in ',"\n\r') or cell != cell.strip():
        return '"' + cell.replace('"', '""') + '"'
    return cell
