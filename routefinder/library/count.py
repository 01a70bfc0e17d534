"""Count how much of the shipped library is published, and keep the table in its README fresh.

    python -m routefinder.library.count [--write]

An entry counts under the best mark among the sources of the entry itself; the last column counts
the entries in which anything at all, a price or a single yield included, is from memory. Yields
are counted by what they rest on (``evidence``), published sources by their grade.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel

from routefinder import files
from routefinder.errors import Fault, FileFault, LibraryFaults, RoutefinderError
from routefinder.files import read_text
from routefinder.library import evidence, where
from routefinder.library.assemble import FileEntry
from routefinder.library.heat import HeatCoverage, coverage
from routefinder.library.load import Loaded, load
from routefinder.records.base import Source

RANKS = ("published", "computed", "common practice", "from memory")
BEGIN, END = "<!-- counts -->", "<!-- /counts -->"


@dataclass(frozen=True)
class CountRow:
    """One line of the table: how many entries have each best mark, in the order of RANKS."""

    name: str
    best: tuple[int, ...]
    some_from_memory: int

    @property
    def total(self) -> int:
        """All entries with one of the marks."""
        return sum(self.best)


def sources(record: object) -> Iterator[Source]:
    """Every source in a record, those of its single numbers included."""
    if isinstance(record, Source):
        yield record
    elif isinstance(record, BaseModel):
        for name in type(record).model_fields:
            yield from sources(getattr(record, name))
    elif isinstance(record, list | tuple):
        for item in record:
            yield from sources(item)


def best_mark(record: object) -> str | None:
    """The best mark among an entry's own sources; None when it has none of the four."""
    marks = {source.mark for source in getattr(record, "sources", ())}
    return next((mark for mark in RANKS if mark in marks), None)


def row(name: str, entries: Sequence[FileEntry]) -> CountRow:
    """The counts of some entries."""
    marks = [best_mark(entry.record) for entry in entries]
    memory = sum(any(s.mark == "from memory" for s in sources(e.record)) for e in entries)
    return CountRow(name, tuple(marks.count(mark) for mark in RANKS), memory)


def _sound(folder: Path) -> Loaded:
    loaded = load([folder])
    if loaded.faults:
        raise LibraryFaults(loaded.faults)
    return loaded


def rows(folder: Path) -> list[CountRow]:
    """A row for each family file of steps, then one a kind; raises LibraryFaults."""
    return _rows(_sound(folder))


def _rows(loaded: Loaded) -> list[CountRow]:
    kinds: dict[str, list[FileEntry]] = {
        "steps": [],
        "substances": [],
        "materials": [],
        "equipment": [],
    }
    families: dict[str, list[FileEntry]] = {}
    for (kind, _), entry in loaded.entries.items():
        kinds[kind].append(entry)
        if kind == "steps":
            families.setdefault(entry.document.path.stem, []).append(entry)
    out = [row(f"steps: {family}", families[family]) for family in sorted(families)]
    names = {"steps": "all steps", "equipment": "kinds of equipment"}
    return out + [row(names.get(kind, kind), entries) for kind, entries in kinds.items()]


def table(found: Sequence[CountRow]) -> str:
    """The counts as a Markdown table."""
    lines = [
        f"| | entries | {' | '.join(RANKS)} | something in it from memory |",
        "|---|" + "---:|" * (len(RANKS) + 2),
    ]
    lines += [
        f"| {r.name} | {r.total} | {' | '.join(map(str, r.best))} | {r.some_from_memory} |"
        for r in found
    ]
    return "\n".join(lines) + "\n"


def heat_line(found: HeatCoverage) -> str:
    """How many equations have a computable heat, by the worst mark of their data, in a sentence."""
    marks = found.marks
    return (
        f"The heat of reaction is computable for {found.computed} of {found.equations} equations "
        f"({100 * found.share:.0f} %):\n{marks['published']} from published data alone, "
        f"{marks['computed']} with something computed by a stated rule,\n"
        f"{marks['from memory']} with something from memory.\n"
    )


@dataclass(frozen=True)
class YieldCount:
    """How many yields are of each kind of evidence, in the order of ``evidence.KINDS``.

    ``some_printed_or_computed``: with at least one part that is; ``grades``: the printed yields by
    the best grade of their sources, ``all_grades`` every published source of a step, both in the
    order of ``evidence.GRADES``.
    """

    kinds: tuple[int, ...]
    some_printed_or_computed: int
    grades: tuple[int, ...]
    all_grades: tuple[int, ...]


def yield_count(loaded: Loaded) -> YieldCount:
    """The yields of all steps by what they rest on."""
    steps = [e.record for (kind, _), e in loaded.entries.items() if kind == "steps"]
    found = [evidence.of_yield(s.yield_) for s in steps]
    kinds = [e.kind for e in found]
    best = [e.grades[0] for e in found if e.grades]
    known = {evidence.SEVERAL, evidence.ONE, evidence.COMPUTED}
    some = sum(any(evidence.of_part(p).kind in known for p in s.yield_.parts) for s in steps)
    every = [
        evidence.grade(s)
        for s in {
            str(s): s for step in steps for s in sources(step) if s.mark == "published"
        }.values()
    ]
    return YieldCount(
        tuple(kinds.count(k) for k in evidence.KINDS), some,
        tuple(best.count(g) for g in evidence.GRADES),
        tuple(every.count(g) for g in evidence.GRADES),
    )  # fmt: skip


def yield_lines(found: YieldCount) -> str:
    """The yields by what they rest on, as a Markdown table and a sentence."""
    heads = [k for k, n in zip(evidence.KINDS, found.kinds, strict=True) if n or k != "invented"]
    cells = [n for k, n in zip(evidence.KINDS, found.kinds, strict=True) if n or k != "invented"]
    grades = ", ".join(f"{n} {g}" for g, n in zip(evidence.GRADES, found.grades, strict=True))
    every = ", ".join(f"{n} {g}" for g, n in zip(evidence.GRADES, found.all_grades, strict=True))
    return (
        f"| what a yield rests on | {' | '.join(heads)} |\n|---|{'---:|' * len(heads)}\n"
        f"| steps | {' | '.join(map(str, cells))} |\n\n"
        f"{found.some_printed_or_computed} steps have a yield that is printed or computed at least "
        f"in one of its parts.\nPrinted yields by the best grade of their sources: {grades}.\n"
        f"All {sum(found.all_grades)} published sources of steps by grade: {every}.\n"
    )


def figures(folder: Path) -> str:
    """What stands between the marker lines; raises LibraryFaults."""
    loaded = _sound(folder)
    yields = yield_lines(yield_count(loaded))
    return f"{table(_rows(loaded))}\n{yields}\n{heat_line(coverage(loaded.library))}"


def block(text: str, shown: str) -> tuple[int, int]:
    """Where the text between the two marker lines begins and ends; raises FileFault."""
    start, end = text.find(BEGIN + "\n"), text.find(END)
    if start < 0 or end < start:
        raise FileFault(
            Fault(shown, 0, 0, "", f"the lines {BEGIN} and {END} are missing",
                  "Add them, in this order.")
        )  # fmt: skip
    return start + len(BEGIN) + 1, end


def write(path: Path, found: str) -> bool:
    """Put the table between the marker lines of a file; whether that changed anything."""
    text = read_text(path)
    start, end = block(text, str(path))
    new = text[:start] + found + text[end:]
    if new != text:
        files.write(path, new, force=True)
    return new != text


def main(words: Sequence[str]) -> int:
    """Print the table, or with --write renew it in reactions/README.md; gives the exit code.

    Raises RoutefinderError for words that are no option.
    """
    try:
        if set(words) - {"--write"}:
            raise RoutefinderError("usage: python -m routefinder.library.count [--write]")
        folder = where.shipped_library()
        found = figures(folder)
        if "--write" in words:
            changed = write(folder / "README.md", found)
            print(f"{folder / 'README.md'}: {'renewed' if changed else 'was fresh'}")
        else:
            print(found, end="")
    except RoutefinderError as error:
        print(f"count: {error}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
