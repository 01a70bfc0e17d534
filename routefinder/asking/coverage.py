"""How much of a list of wished-for substances a library can make, and in how many ways.

Every target of the list is looked up, asked for from shops or from a shelf, and its routes are
counted. Whether two routes are really different is said by ``choice.variety``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from routefinder import tables
from routefinder.asking import answering
from routefinder.asking.question import read_question
from routefinder.choice.variety import way
from routefinder.errors import (
    Fault,
    FieldError,
    FileFault,
    LibraryFaults,
    OutOfReach,
    Refused,
)
from routefinder.files import read_text
from routefinder.library import regulated
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.library.names import formula_key
from routefinder.records.substance import Substance, cas_check_digit_ok
from routefinder.results.answer import Answer
from routefinder.results.covered import COLUMNS, Coverage, Covered, Match, Progress, Target
from routefinder.search.route import Ending


def read_targets(path: Path) -> tuple[Target, ...]:
    """Read a CSV file with the columns name, formula, cas; other columns are left alone.

    Raises LibraryFaults with every fault in it.
    """
    table = tables.read(read_text(path), str(path), COLUMNS, remarks=False)
    faults = list(table.faults)
    out: list[Target] = []
    for row in table.rows:
        cells = {key: row.cells[key] for key in COLUMNS}
        if not cells["name"]:
            column = row.columns["name"]
            faults.append(
                Fault(str(path), row.line, column, "name", "the target has no name", "Name it.")
            )
            continue
        out.append(Target(**cells))
    if faults:
        raise LibraryFaults(faults)
    if not out:
        raise FileFault(Fault(str(path), 0, 0, "", "the list is empty", "Add a target a line."))
    return tuple(out)


def match(library: Library, target: Target) -> Match:
    """Which substance a target is: by CAS number, then name, then formula.

    A name may carry a remark in brackets at its end. A formula alone is not enough where the CAS
    numbers contradict it: isomers share one.
    """
    names = library.substance_names
    plain = re.sub(r"\s+\([^()]*\)$", "", target.name)
    cas = target.cas if cas_check_digit_ok(target.cas) else ""
    key = formula_key(target.formula) if target.formula else None
    by_name = list(dict.fromkeys((*names.find(target.name), *names.find(plain))))
    by_formula = names.by_formula(target.formula) if key is not None else []
    for by, ids in (
        ("cas", names.find(cas) if cas else []),
        ("name", by_name),
        ("formula", by_formula),
    ):
        if by == "formula":
            other = [i for i in ids if cas and library.substances[i].cas not in (None, cas)]
            ids = [i for i in ids if i not in other]
            if other and not ids:
                listed = ", ".join(library.name(i) for i in other)
                return Match(None, "", f"its formula is that of {listed}, its CAS number is not")
        for also in ([], by_name, by_formula):
            some = [i for i in ids if i in also] if also else ids
            if len(some) == 1:
                remark = _remark(library.substances[some[0]], cas, key)
                return Match(some[0], by, remark)
        if ids:
            listed = ", ".join(library.name(i) for i in ids)
            return Match(None, by, f"its {by} may mean several substances: {listed}")
    return Match(None, "", "no substance of the library has its CAS number, name or formula")


def _remark(substance: Substance, cas: str, key: tuple[object, ...] | None) -> str:
    """In what the list and the library disagree about a substance."""
    out = []
    if cas and substance.cas and cas != substance.cas:
        out.append(f"the library has the CAS number {substance.cas}")
    if key is not None and substance.formula and formula_key(substance.formula) != key:
        out.append(f"the library has the formula {substance.label}")
    return "; ".join(out)


def coverage(
    library: Library,
    targets: Sequence[Target],
    *,
    shelf: Path | None = None,
    places: Sequence[str] = (),
    bench: Path | None = None,
    top: int = 25,
    seconds: float = 5.0,
    progress: Progress | None = None,
) -> Coverage:
    """Look up every target and count its routes, up to ``top`` of each.

    They start from ``shelf``, a file of materials at hand, or from what the shops of ``places``
    (every shop when none is named) sell. ``seconds`` is the time limit of each search;
    ``progress`` is told how far it is. Raises InputError for a place that sells nothing, and when
    both shelf and places are given.
    """
    if top < 1:
        raise FieldError("{f} is {top}; ask for at least one route", f="top", top=top)
    found_bench = None if bench is None else shelves.read_bench(bench, library)
    if shelf is not None and places:
        raise FieldError("{f} and {g} do not go together; leave one out", f="shelf", g="shop")
    at_hand = (
        shelves.shops(library, places) if shelf is None else shelves.read_shelf(shelf, library)
    )
    rows = []
    for i, target in enumerate(targets):
        if progress is not None:
            progress(i, len(targets), target.name)
        found = match(library, target)
        refusal = _refusal(library, target, found)
        if refusal is not None:
            rows.append(
                Covered(target, None, found.by, "", why=regulated.sentence(target.name, refusal),
                        refused=True)
            )  # fmt: skip
            continue
        if found.id is None:
            rows.append(Covered(target, None, found.by, "", why=found.remark))
            continue
        try:
            question = read_question(
                library, found.id, "100 g", shelf=at_hand, bench=found_bench, top=top,
                seconds=seconds,
            )  # fmt: skip
            answer = answering.answer(library, question)
        except (Refused, OutOfReach) as error:
            refused = isinstance(error, Refused)
            rows.append(
                Covered(target, found.id, found.by, found.remark, why=str(error), refused=refused)
            )
            continue
        rows.append(_row(library, target, found, answer))
    start = at_hand.name if shelf is None else f"the shelf {shelf}"
    return Coverage(tuple(rows), top, None if bench is None else str(bench), start)


def _refusal(library: Library, target: Target, found: Match) -> regulated.Hit | None:
    """Why a target is refused: by name, number or formula.

    A formula that isomers share says nothing where the library knows which substance is meant.
    """
    known = (found.id,) if found.id is not None else ()
    judged = regulated.verdict_of(
        (target.name, *known), target.formula or None, target.cas or None, library
    )
    hits = (h for h in judged.hits if h.holds("target") and not (known and h.firmed))
    return next(hits, None)


def _row(library: Library, target: Target, found: Match, answer: Answer) -> Covered:
    if not answer.routes:
        return Covered(target, found.id, found.by, found.remark, why=_why(answer))
    best = answer.routes[0]
    overall = best.assessment.limiting_yield
    return Covered(
        target,
        found.id,
        found.by,
        found.remark,
        routes=len(answer.routes),
        more=answer.ending is not Ending.ALL,
        different=len({way(library, r.assessment) for r in answer.routes}),
        best=best.name,
        steps=len(best.assessment.steps),
        yield_low=overall.low if overall else None,
        yield_typical=best.assessment.chain_yield,
        yield_high=overall.high if overall else None,
    )


def _why(answer: Answer) -> str:
    why = answer.why_none
    if why is None:
        return "no route was found"
    reasons = [f"{answer.library.steps[a.step].title}: {a.reason}" for a in why.aside[:2]]
    return " ".join([why.sentence, *(f"{reason}." for reason in reasons)])
