"""What is due today, what spoils next, what can rest: from when each intermediate was made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from routefinder import digits
from routefinder.assessment import drying_words
from routefinder.assessment.calendar import DAY
from routefinder.assessment.drying import drying
from routefinder.assessment.perishables import drifted, keeping_of
from routefinder.journal.book import Book, StepBook
from routefinder.journal.store import moment
from routefinder.library.library import Library


@dataclass(frozen=True)
class Due:
    """A step that can go on: ``what`` in words; ``when`` its waiting is over (None: now)."""

    run: int
    step: int
    what: str
    when: datetime | None


@dataclass(frozen=True)
class Lying:
    """Something made that nobody has taken yet.

    ``verdict`` is "spoilt" (longer than it keeps), "spoils" (within a day), "unknown" (nobody says
    how long) or "rests". ``until`` is when it spoils, None when that is not known or never.
    """

    run: int
    step: int
    name: str
    made: datetime
    verdict: str
    until: datetime | None
    sentence: str


@dataclass(frozen=True)
class Today:
    """All open runs at one moment; what spoils first stands first."""

    at: datetime
    due: tuple[Due, ...]
    lying: tuple[Lying, ...]


def today(library: Library, books: list[Book], at: datetime) -> Today:
    """What the open runs ask for at the moment ``at``."""
    due: list[Due] = []
    lying: list[Lying] = []
    for book in books:
        if book.finished:
            continue
        for step in book.steps:
            found = _due(library, book, step, at)
            if found is not None:
                due.append(found)
            lies = _lies(library, book, step, at)
            if lies is not None:
                lying.append(lies)
    return merged(at, due, lying)


def merged(at: datetime, due: list[Due], lying: list[Lying]) -> Today:
    """What several runs ask for, the most pressing first."""
    rank = {"spoilt": 0, "spoils": 1, "unknown": 2, "rests": 3}
    far = datetime.max.replace(tzinfo=at.tzinfo)
    lies = sorted(lying, key=lambda x: (rank[x.verdict], x.until or far, x.run, x.step))
    asked = sorted(due, key=lambda x: (x.when or at, x.run, x.step))
    return Today(at, tuple(asked), tuple(lies))


def _makers(book: Book, step: StepBook) -> list[StepBook]:
    return [book.step(f["from_step"]) for f in step.plan["feeds"] if "from_step" in f]


def _due(library: Library, book: Book, step: StepBook, at: datetime) -> Due | None:
    title = step.plan["title"]
    if step.done:
        return None
    if step.failed is not None:
        return Due(
            book.run.run, step.number, f"{title}: failed; 'log replan' says how to go on", None
        )
    if step.begun is not None:
        over = moment(step.begun) + timedelta(
            minutes=step.plan["hands_on_min"] + step.plan["waiting_min"]
        )
        words = "finish it and weigh it"
        if step.wet and step.id in library.steps:
            found = library.steps[step.id]
            how = drying(library, found.main.substance, found.main.state, found)
            words = f"{drying_words.to_constant_weight(how)}, and weigh it again"
        return Due(book.run.run, step.number, f"{title}: {words}", over if over > at else None)
    if all(m.done for m in _makers(book, step)):
        return Due(book.run.run, step.number, f"{title}: can begin", None)
    return None


def _lies(library: Library, book: Book, step: StepBook, at: datetime) -> Lying | None:
    takers = [s for s in book.steps if any(m is step for m in _makers(book, s))]
    if step.made is None or not takers or any(s.begun or s.done for s in takers):
        return None
    if step.id not in library.steps:
        return None
    product = step.plan["product"]
    keeping = keeping_of(library, library.steps[step.id], product["substance"], product["state"])
    made = moment(step.made)
    lain = max((at - made).total_seconds() / 60, 0.0)
    lies = f"{keeping.name}, made {made:%d %b %H:%M}, has lain {digits.duration(lain)}"
    changed = ""
    if keeping.drift_per_day is not None:
        share = drifted(keeping.drift_per_day, lain / DAY, keeping.drift_at_most)
        changed = f"; {keeping.drift_words}: about {digits.percent(share)} by now"
    closed = " Keep it closed." if keeping.takes_up or keeping.oxidises else ""
    where = (book.run.run, step.number, keeping.name, made)
    if keeping.keeps_min is None:
        said = f" ({keeping.words})" if keeping.words else ""
        return Lying(
            *where, "unknown", None,
            f"{lies}; how long it keeps is unknown{said}: use it at once{changed}.{closed}",
        )  # fmt: skip
    if math.isinf(keeping.keeps_min):
        return Lying(*where, "rests", None, f"{lies}; it can rest{changed}.{closed}")
    until = made + timedelta(minutes=keeping.keeps_min)
    if until <= at:
        return Lying(
            *where, "spoilt", until,
            f"{lies}, longer than the {digits.duration(keeping.keeps_min)} it keeps by its record: "
            f"test it before use{changed}.",
        )  # fmt: skip
    left = (until - at).total_seconds() / 60
    verdict = "spoils" if left < DAY else "rests"
    word = "use it within" if verdict == "spoils" else "it can rest for"
    return Lying(
        *where, verdict, until, f"{lies}; {word} {digits.duration(left)}{changed}.{closed}"
    )
