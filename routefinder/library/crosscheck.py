"""Compare every substance with the package `chemicals`, and list where the two disagree.

    python -m routefinder.library.crosscheck [--write]

Compared are the CAS number (the package may lead to another one), the formula with its molar mass,
and, where both know them, melting point, boiling point and density (CRC tables). Each disagreement
must be justified by a row of ``reactions/crosscheck.csv``; a row that no disagreement needs any
more, or whose figures have changed, is stale. ``--write`` renews the figures of the file, keeps
its justifications, drops stale rows and adds empty ones: fill those in. The exit code is 1 as long
as a disagreement is not justified or a row is stale.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from routefinder import files
from routefinder.chem import identifiers
from routefinder.errors import Fault, FileFault, LibraryFaults, RoutefinderError
from routefinder.files import read_text
from routefinder.library import where
from routefinder.library.count import RANKS
from routefinder.library.library import Library
from routefinder.library.load import load
from routefinder.records.substance import Substance

FILE = "crosscheck.csv"
COLUMNS = ("substance", "what", "ours", "chemicals", "right", "why")
MARKS = tuple(f"{mark}: " for mark in RANKS)
VERDICTS = ("ours", "chemicals", "both", "open")
WRITTEN_FOR = "1.5.2"  # the version of the package that crosscheck.csv answers
TEMPERATURE_SPAN_K = 6.0  # tables differ by as much; or by 1 % of the absolute temperature
TEMPERATURE_SHARE = 0.01
DENSITY_SHARE = 0.03
MASS_SHARE = 2e-4  # editions of atomic weights; on top of 0.05 g/mol
_KELVIN = 273.15

Key = tuple[str, str]


@dataclass(frozen=True)
class Disagreement:
    """One thing in which a substance and the package differ, both as text with units."""

    substance: str
    what: str
    ours: str
    theirs: str

    @property
    def key(self) -> Key:
        """What a row of the file answers."""
        return self.substance, self.what


@dataclass(frozen=True)
class Compared:
    """A row of crosscheck.csv: which side is right (one of VERDICTS) and why, with its source."""

    ours: str
    theirs: str
    right: str
    why: str


@dataclass(frozen=True)
class Disagreements:
    """All disagreements, those without a justification, the stale rows, and how many compared."""

    disagreements: tuple[Disagreement, ...]
    unjustified: tuple[Disagreement, ...]
    stale: tuple[Key, ...]
    compared: int
    unknown: int


def disagreements(substance: Substance) -> Iterator[Disagreement]:
    """Where one substance and the package differ; nothing when the package lacks its number."""
    theirs = identifiers.identity(substance.cas) if substance.cas else None
    if theirs is None or substance.cas is None:
        return
    ours = substance.parsed
    if theirs.cas != substance.cas:
        yield Disagreement(substance.id, "cas", substance.cas, f"{theirs.cas} {theirs.name}")
    elif ours is not None:
        apart = abs(theirs.molar_mass_g - ours.molar_mass)
        same = theirs.formula is not None and theirs.formula.counts == ours.counts
        if not same or apart > 0.05 + MASS_SHARE * ours.molar_mass:
            yield Disagreement(
                substance.id, "formula", f"{ours.text} {ours.molar_mass:.2f} g/mol",
                f"{theirs.written} {theirs.molar_mass_g:.2f} g/mol",
            )  # fmt: skip
    yield from _constants(substance, identifiers.constants(substance.cas))


def _constants(substance: Substance, theirs: identifiers.Constants) -> Iterator[Disagreement]:
    for what, mine, other in (
        ("melting", substance.melting_C, theirs.melting_C),
        ("boiling", substance.boiling_C, theirs.boiling_C),
    ):
        if mine is not None and other is not None:
            span = max(TEMPERATURE_SPAN_K, TEMPERATURE_SHARE * (other + _KELVIN))
            if abs(mine - other) > span:
                yield Disagreement(substance.id, what, f"{mine:g} degC", f"{other:g} degC")
    mine, other = substance.density_g_mL, theirs.density_g_mL
    if mine is not None and other is not None and abs(mine / other - 1) > DENSITY_SHARE:
        yield Disagreement(substance.id, "density", f"{mine:g} g/mL", f"{other:g} g/mL")


def read(path: Path) -> dict[Key, Compared]:
    """The justifications of a file; raises FileFault for a row that is not one."""
    out: dict[Key, Compared] = {}
    rows = csv.DictReader(read_text(path).splitlines())
    if tuple(rows.fieldnames or ()) != COLUMNS:
        raise FileFault(
            Fault(str(path), 1, 1, "", "the columns are not those of a cross-check table",
                  f"Write {','.join(COLUMNS)}.")
        )  # fmt: skip
    for line, row in enumerate(rows, start=2):
        if None not in row.values() and not (row["right"] or row["why"]):
            continue  # as --write left it: not justified yet
        key = row["substance"], row["what"]
        wrong = None
        if None in row.values() or None in row:
            wrong = "has too few or too many fields"
        elif key in out:
            wrong = f"justifies {key[1]} of {key[0]} a second time"
        elif row["right"] not in VERDICTS:
            wrong = f"has {row['right']!r} under right"
        elif not row["why"].startswith(MARKS):
            wrong = "does not begin its why with an honesty mark"
        if wrong is not None:
            raise FileFault(
                Fault(str(path), line, 1, "", f"this row {wrong}",
                      f"Give each disagreement one row, with one of {', '.join(VERDICTS)} under "
                      "right; begin its reason under why with 'published: ', 'computed: ', "
                      "'common practice: ' or 'from memory: '.")
            )  # fmt: skip
        out[key] = Compared(row["ours"], row["chemicals"], row["right"], row["why"])
    return out


def report(library: Library, answers: dict[Key, Compared]) -> Disagreements:
    """All disagreements of a library against the justifications."""
    found: list[Disagreement] = []
    compared = unknown = 0
    for substance in library.substances.values():
        if substance.cas is not None:
            known = identifiers.identity(substance.cas) is not None
            compared += known
            unknown += not known
            found += disagreements(substance)
    needed = {d.key: d for d in found}
    stale = [
        key
        for key, answer in answers.items()
        if key not in needed
        or (answer.ours, answer.theirs) != (needed[key].ours, needed[key].theirs)
    ]
    return Disagreements(
        tuple(found), tuple(d for d in found if d.key not in answers), tuple(stale),
        compared, unknown,
    )  # fmt: skip


def write(path: Path, found: Sequence[Disagreement], answers: dict[Key, Compared]) -> None:
    """Write the file anew: the disagreements of today with the justifications there are."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for d in sorted(found, key=lambda d: d.key):
        answer = answers.get(d.key)
        right, why = (answer.right, answer.why) if answer else ("", "")
        rows.writerow((d.substance, d.what, d.ours, d.theirs, right, why))
    files.write(path, out.getvalue(), force=True)


def main(words: Sequence[str]) -> int:
    """Print the disagreements with their justifications; gives the exit code.

    Raises RoutefinderError for words that are no option, LibraryFaults for a library with
    faults.
    """
    try:
        if set(words) - {"--write"}:
            raise RoutefinderError("usage: python -m routefinder.library.crosscheck [--write]")
        version = identifiers.version()
        folder = where.shipped_library()
        loaded = load([folder])
        if loaded.faults:
            raise LibraryFaults(loaded.faults)
        path = folder / FILE
        answers = read(path)
        found = report(loaded.library, answers)
    except RoutefinderError as error:
        print(f"crosscheck: {error}", file=sys.stderr)
        return 2
    for d in sorted(found.disagreements, key=lambda d: d.key):
        answer = answers.get(d.key)
        said = f"right: {answer.right}. {answer.why}" if answer else "NOT JUSTIFIED"
        print(f"{d.substance}, {d.what}\n  ours      {d.ours}\n  chemicals {d.theirs}\n  {said}")
    for name, what in found.stale:
        print(f"{name}, {what}\n  STALE: the two agree by now, or a figure has changed")
    print(
        f"\n{found.compared} substances compared ({found.unknown} CAS numbers are not in the "
        f"package), {len(found.disagreements)} disagreements, {len(found.unjustified)} not "
        f"justified, {len(found.stale)} stale rows in {path}."
    )
    if version != WRITTEN_FOR:
        print(
            f"{FILE} was written for chemicals {WRITTEN_FOR}; {version} is "
            "installed, and its data may differ."
        )
    if "--write" in words:
        write(path, found.disagreements, answers)
        print(f"{path} was written anew.")
    return 1 if found.unjustified or found.stale else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
