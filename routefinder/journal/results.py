"""Results of all runs in the journal, as ``learn`` takes them.

A run that was marked as failed is a failure; one that a note calls spoilt, failed or mixed up
teaches nothing, and is shown with the note.
"""

from __future__ import annotations

import re

from routefinder.journal.account import Account, account
from routefinder.journal.book import Book, StepBook, open_books
from routefinder.journal.decide import COVER
from routefinder.journal.learn import Result
from routefinder.journal.store import Store
from routefinder.library.library import Library

_SPOILT = re.compile(
    r"\b(?:failed|failure|spoil(?:t|ed)|ruined|contaminated|discard(?:ed)?|threw (?:it )?away|"
    r"thrown away|wrong (?:bottle|jar|salt|material|powder|substance)|mixed up|mix-up)\b",
    re.IGNORECASE,
)
_NOT = re.compile(r"\b(?:not|no|never|nothing|isn't|wasn't|did not|didn't|without)\b[\w\s']{0,12}$",
                  re.IGNORECASE)  # fmt: skip


def results(store: Store, library: Library) -> list[Result]:
    """A result for each step of each run in which something was made or failed."""
    out = []
    books, _ = open_books(store)  # what cannot be read teaches nothing; 'log show' names it
    for book in books:
        standing = account(library, book)
        for step in book.steps:
            again = step.failures[: -1 if step.failed is not None else None]
            out += [Result(book.run.run, step.id, None, failed=True, why=w) for w in again]
            found = result(library, book, step, standing)
            if found is not None:
                out.append(found)
    return out


def spoilt(words: list[str]) -> str | None:
    """The first note that says that it failed or was spoilt; None when none does."""
    for text in words:
        for match in _SPOILT.finditer(text):
            if not _NOT.search(text[: match.start()]):
                return text
    return None


def result(
    library: Library, book: Book, step: StepBook, standing: Account | None = None
) -> Result | None:
    """What one step of a run gave; None when nothing is logged that could count.

    A yield is what was caught of theory, of a charge that was only heated as well: the product in
    what was weighed, over what the charge could give.
    """
    run, expected = book.run.run, step.plan["yield"]
    if step.failed is not None:
        return Result(run, step.id, None, failed=True, why=step.failed)
    if step.out_g is None:
        return None

    def left_out(why: str) -> Result:
        return Result(run, step.id, None, why=why)

    if step.id not in library.steps:
        return left_out("the step is not in the library")
    state = (standing or account(library, book)).of(step.id)
    said, found = state.verdict, state.found
    if said is None or found is None:
        return left_out("nothing says what went in")
    noted = spoilt([*step.notes, *book.notes])
    if noted is not None:
        return left_out(f"a note says: {noted}")
    if said.provisional:
        return left_out("only weighed wet")
    if state.whence == "plan":
        return left_out("nobody weighed what went in")
    if state.whence == "other":
        return left_out("nobody weighed what limits it")
    if state.whence == "reckoned":
        return left_out("what went in came in a solution that nobody measured")
    if said.extent is None or said.high is None:
        return left_out("a weight cannot tell this step's yield")
    low = library.steps[step.id].record.yield_.low
    y = said.extent
    if said.way == "through":
        y = (said.product_g or 0.0) / found.full_g
    light = said.way == "through" and said.extent > 1 and y >= low
    if said.says == "something else" and not light:  # (what is a little light was spilt)
        where = "above the ceiling" if said.way == "isolated" else "something else"
        return left_out(f"{where} ({said.short})")
    if not said.sure and said.way == "through":
        return left_out(f"the weight cannot tell ({said.short})")
    if state.phase != "made":
        return left_out(f"not finished ({said.short})")
    u = (said.high - said.extent) / COVER
    return Result(
        run, step.id, min(y, 1.0), u, low=expected["low"], median=expected["median"],
        high=expected["high"],
    )  # fmt: skip
