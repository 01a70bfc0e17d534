"""Results of all runs in the journal, as ``learn`` takes them."""

from __future__ import annotations

from routefinder.errors import InputError
from routefinder.journal.book import Book, StepBook, open_books, verdict
from routefinder.journal.decide import COVER
from routefinder.journal.learn import Result
from routefinder.journal.store import Store
from routefinder.library.library import Library


def results(store: Store, library: Library) -> list[Result]:
    """A result for each step of each run in which something was made or failed."""
    out = []
    books, _ = open_books(store)  # what cannot be read teaches nothing; 'log show' names it
    for book in books:
        for step in book.steps:
            found = result(library, book, step)
            if found is not None:
                out.append(found)
    return out


def result(library: Library, book: Book, step: StepBook) -> Result | None:
    """What one step of a run gave; None when nothing is logged that could count."""
    run, expected = book.run.run, step.plan["yield"]
    if step.failed is not None:
        return Result(run, step.id, None, failed=True, why=step.failed)
    if step.out_g is None:
        return None

    def left_out(why: str) -> Result:
        return Result(run, step.id, None, why=why)

    if step.id not in library.steps:
        return left_out("the step is not in the library")
    try:
        found = verdict(library, book, step)
    except InputError as error:
        return left_out(str(error))
    if found is None:
        return left_out("nothing says what went in")
    said, whence = found
    if said.provisional:
        return left_out("only weighed wet")
    if whence == "plan":
        return left_out("nobody weighed what went in")
    if said.extent is None or said.high is None:
        return left_out("a weight cannot tell this step's yield")
    y = said.extent
    if said.way == "through":
        # the conversion is not the yield: what was caught is weighed with what was not converted
        if said.says != "done" or not said.ceiling_g or not said.expected_g:
            return left_out(f"not through, or something else ({said.short})")
        y = min(said.out_g / said.expected_g, 1.0)
    elif y > 1 and said.says == "something else":
        return left_out(f"above the ceiling ({said.short})")
    if said.says == "go on" and not step.done:
        return left_out("not finished")
    u = (said.high - (said.extent or 0.0)) / COVER
    return Result(
        run, step.id, min(y, 1.0), u, low=expected["low"], median=expected["median"],
        high=expected["high"],
    )  # fmt: skip
