"""What a yield rests on: how it is known, and of what grade the print is.

**Kind.** The first source of a yield bears its figures; those after it say what else went in.
Published yields count (``printed, one``, ``printed, several``); a published solubility behind a
computed crop stands second and does not. A yield in parts has the kind of the part that loses
most. A yield that does not say where it comes from is a guess.

**Grade** of a published source, by where it was read (``grades.csv``, first row that fits): paper
(journal, thesis, handbook read or quoted with volume and year), manual (book of preparations,
teaching sheet), forum (student report, hobby page, board, copy without an author), shop (maker,
seller, chemical directory). ``book`` where no row fits.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from routefinder.records.base import Source
from routefinder.records.step import Yield, YieldPart

_TABLE = Path(__file__).with_name("grades.csv")
SEVERAL, ONE, COMPUTED, PRACTICE, GUESS, INVENTED = KINDS = (
    "printed, several", "printed, one", "computed", "common practice", "guess", "invented",
)  # fmt: skip
GRADES = ("paper", "manual", "book", "forum", "shop")  # best first
_OF_MARK = {
    "computed": COMPUTED, "common practice": PRACTICE, "from memory": GUESS, "invented": INVENTED,
}  # fmt: skip


@dataclass(frozen=True)
class Evidence:
    """What a yield rests on.

    ``grades``: of the published sources, best first; ``scale_g``: what the printed work started
    from, None when not known.
    """

    kind: str
    grades: tuple[str, ...] = ()
    scale_g: float | None = None


@lru_cache(maxsize=1)
def _rows() -> tuple[tuple[re.Pattern[str], str], ...]:
    with _TABLE.open(encoding="utf-8", newline="") as file:
        return tuple(
            (re.compile(row["pattern"], re.IGNORECASE), row["grade"])
            for row in csv.DictReader(file)
        )


def grade(source: Source) -> str:
    """The grade of a published source by its citation, one of ``GRADES``."""
    return next((grade for pattern, grade in _rows() if pattern.search(source.cite)), "book")


def of_sources(sources: Sequence[Source], scale_g: float | None = None) -> Evidence:
    """What a number under these sources rests on."""
    if not sources:
        return Evidence(GUESS)
    mark = sources[0].mark
    if mark != "published":
        return Evidence(_OF_MARK[mark])
    printed = [s for s in sources if s.mark == "published"]
    grades = sorted((grade(s) for s in printed), key=GRADES.index)
    return Evidence(SEVERAL if len(printed) > 1 else ONE, tuple(grades), scale_g)


def of_part(part: YieldPart) -> Evidence:
    """What one factor of a yield rests on."""
    return of_sources(part.source, part.scale_g)


def of_yield(found: Yield) -> Evidence:
    """What a step's yield rests on: as the part that loses most."""
    return of_part(min(found.parts, key=lambda part: part.typical))
