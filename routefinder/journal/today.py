"""What is due today, what spoils next, what can rest, what is left over: from when it was made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from routefinder import digits
from routefinder.assessment import drying_words
from routefinder.assessment.drying import drying
from routefinder.journal.account import Account, Lot, StepState, account, makers, takers
from routefinder.journal.book import Book
from routefinder.journal.spoiling import lain
from routefinder.journal.store import moment
from routefinder.library.library import Library

LEAST_LEFT = 0.02  # less of a lot than that is what sticks to the jar: our choice


@dataclass(frozen=True)
class Due:
    """A step that can go on: ``what`` in words; ``when`` its waiting is over (None: now)."""

    run: int
    step: int
    what: str
    when: datetime | None


@dataclass(frozen=True)
class Lying:
    """Something made that nobody has taken yet; ``over``: and that no later step asks for.

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
    over: bool = False


@dataclass(frozen=True)
class Today:
    """All open runs at one moment; what spoils first stands first."""

    at: datetime
    due: tuple[Due, ...]
    lying: tuple[Lying, ...]


def today(library: Library, books: list[Book], at: datetime) -> Today:
    """What the runs ask for at the moment ``at``; of finished ones only what is left over."""
    due: list[Due] = []
    lying: list[Lying] = []
    for book in books:
        standing = account(library, book)
        for state in standing.states:
            found = None if book.finished else _due(library, standing, state, at)
            if found is not None:
                due.append(found)
            lies = _lies(library, standing, state, at)
            if lies is not None and (lies.over or not book.finished):
                lying.append(lies)
    return merged(at, due, lying)


def merged(at: datetime, due: list[Due], lying: list[Lying]) -> Today:
    """What several runs ask for, the most pressing first."""
    rank = {"spoilt": 0, "spoils": 1, "unknown": 2, "rests": 3}
    far = datetime.max.replace(tzinfo=at.tzinfo)
    lies = sorted(lying, key=lambda x: (rank[x.verdict], x.until or far, x.run, x.step))
    asked = sorted(due, key=lambda x: (x.when or at, x.run, x.step))
    return Today(at, tuple(asked), tuple(lies))


def _due(library: Library, standing: Account, state: StepState, at: datetime) -> Due | None:
    book, step = standing.book, state.step
    title = step.plan["title"]
    if state.phase == "made" or standing.at_end:
        return None
    if state.phase == "failed":
        return Due(
            book.run.run, step.number, f"{title}: failed; 'log replan' says how to go on", None
        )
    if state.phase == "going":
        begun = moment(step.begun) if step.begun else at
        over = begun + timedelta(minutes=step.plan["hands_on_min"] + step.plan["waiting_min"])
        words = "finish it and weigh it"
        said = state.verdict
        if step.wet and state.resolved is not None:
            main = state.resolved.main
            how = drying(library, main.substance, main.state, state.resolved)
            words = f"{drying_words.to_constant_weight(how)}, and weigh it again"
        elif said is not None and said.reach_g is not None:
            words = f"{said.short}; go on to {digits.mass(said.reach_g)}, and weigh it again"
        elif said is not None:
            words = "what was weighed cannot be; weigh it again, or correct the entry"
        return Due(book.run.run, step.number, f"{title}: {words}", over if over > at else None)
    if all(standing.of(m.id).phase == "made" for m in makers(book, step)):
        return Due(book.run.run, step.number, f"{title}: can begin", None)
    return None


def _lies(library: Library, standing: Account, state: StepState, at: datetime) -> Lying | None:
    book, step, lot = standing.book, state.step, state.lot
    waits = takers(book, step)
    if lot is None or step.made is None or not waits or lot.left_share < LEAST_LEFT:
        return None
    over = standing.at_end or all(standing.of(t.id).phase in {"made", "failed"} for t in waits)
    found = lain(library, state, at)
    if found is None:
        return None
    keeping = found.keeping
    lies = f"{keeping.name}, made {found.made:%d %b %H:%M}, has lain"
    lies += f" {digits.duration(found.lain_min)}"
    if over:
        lies = f"left over: {left_words(lot)} {lies}"
    elif lot.takes or lot.gone_g:
        lies = f"{left_words(lot)} are left of {lies}"
    closed = " Keep it closed." if keeping.not_open else ""
    where = (book.run.run, step.number, keeping.name, found.made)
    changed = found.changed
    if found.verdict == "unknown":
        said = f" ({keeping.words})" if keeping.words else ""
        sentence = f"{lies}; how long it keeps is unknown{said}: use it at once{changed}.{closed}"
    elif found.until is None:
        sentence = f"{lies}; it can rest{changed}.{closed}"
    elif found.verdict == "spoilt":
        sentence = (
            f"{lies}, longer than the {digits.duration(keeping.keeps_min or 0.0)} it keeps by its "
            f"record: test it before use{changed}."
        )
    else:
        left = (found.until - at).total_seconds() / 60
        word = "use it within" if found.verdict == "spoils" else "it can rest for"
        sentence = f"{lies}; {word} {digits.duration(left)}{changed}.{closed}"
    return Lying(*where, found.verdict, found.until, sentence, over)


def left_words(lot: Lot) -> str:
    """How much of a lot is left, in words: "102 g", "437 g of 6.4 %"."""
    total = lot.left_total_g
    if total is None:
        return f"about {digits.mass(lot.left_g)}"
    about = "" if lot.sure else "about "
    if lot.state == "aq" and lot.strength is not None:
        return f"{about}{digits.mass(total)} of {digits.percent(lot.strength)}"
    return f"{about}{digits.mass(total)}"
