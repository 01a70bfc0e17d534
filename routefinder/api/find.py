"""The Python API: wires the stages, decides nothing.

import routefinder as rf
answer = rf.find("copper(II) acetate monohydrate", "250 g", shelf="shelf.csv")
answer.routes[0]            # shows itself in a notebook
answer.routes[0].diagram("route.svg")
rf.compare(answer, [1, 2, 3], prefer="yield 3, hazard 2")
found = rf.unlock("copper(II) acetate monohydrate", "250 g", shelf="shelf.csv", bench="bench.yaml")
found.openings[0].pieces    # what to acquire
found.openings[0].route     # the route that it opens
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Unpack

from routefinder.api import composition
from routefinder.api.own_yields import with_own_yields
from routefinder.api.shown import (
    ShownAnswer,
    ShownComparison,
    ShownPlan,
    ShownUnlocked,
    show_answer,
    show_comparison,
    show_unlocked,
)
from routefinder.asking import compare as comparing
from routefinder.asking.answering import answer
from routefinder.asking.fields import BY_NAME, QuestionFields, check
from routefinder.asking.library import load_library
from routefinder.asking.question import read_question
from routefinder.asking.unlock import unlocked
from routefinder.choice import robust
from routefinder.errors import FieldError
from routefinder.library.library import Library
from routefinder.results.answer import Answer, Route
from routefinder.results.unlocked import MOST


def find(
    target: str,
    amount: Any = "100 g",
    *,
    library: Library | None = None,
    libraries: Sequence[str | Path] = (),
    only_library: bool = False,
    journal: str | Path | None = None,
    **asked: Unpack[QuestionFields],
) -> ShownAnswer:
    """Find the best routes from a shelf to ``amount`` of ``target``.

    ``target`` is a name, trade name, formula or CAS number; of a solid solution with its
    composition ("Rinmann's green, x = 0.1"). ``library`` is one that is loaded
    already; else the shipped one (unless ``only_library``) with the folders ``libraries`` on top.
    ``journal`` is a file whose runs sharpen the yields. ``shelf`` is a file, a list of material
    names, or None (everything in the library can be bought); ``bench`` a file or None (needs are
    listed, nothing is set aside). Limits as in the command line; ``no_licence`` sets aside what
    needs a licensed material, ``use_up`` names a material on the shelf, and the routes that take
    most of it come first. ``non_dominated`` names measures ("yield, cost, time"): the routes that
    no other dominates in these are wanted. ``may_lack``: needs the bench may leave unmet, counted
    over a route. ``prefer`` are wishes (``choice.prefer``), whose must-haves are limits. The other
    fields and all defaults stand in ``asking.fields``.

    Raises InputError (or one of its children) with one sentence when the question cannot be used,
    Refused for what routefinder does not plan for, JournalFault for a journal that cannot be read.
    """
    lib, own = _taught(_library(library, libraries, only_library), journal)
    lib, wanted, mixed = composition.read(lib, target)
    found = answer(lib, read_question(lib, wanted, amount, **asked))
    said = (*found.notes, *composition.notes(mixed, found), *_taught_in(found.routes, own))
    return show_answer(replace(found, notes=said))


def unlock(
    target: str,
    amount: Any = "100 g",
    *,
    library: Library | None = None,
    libraries: Sequence[str | Path] = (),
    only_library: bool = False,
    journal: str | Path | None = None,
    most: int = MOST,
    **asked: Unpack[QuestionFields],
) -> ShownUnlocked:
    """What to acquire for a route to ``target``, or a better one; arguments as for ``find``.

    Sets of up to ``most`` acquisitions, ``top`` (else 5) of each size; ``seconds`` is 30 unless
    given. Must-haves of ``prefer`` are limits. It lists by one order and feeds nothing back, so
    ``non_dominated``, ``measures`` and ``reuse`` are not for it. Raises InputError (or one of its
    children) with one sentence when the question cannot be used, Refused for what routefinder does
    not plan for, JournalFault for a journal that cannot be read.
    """
    if isinstance(most, bool) or not isinstance(most, int) or not 1 <= most <= 4:
        raise FieldError("{f} is {most!r}; ask for 1 to 4 things at once", f="most", most=most)
    for name in ("non_dominated", "measures", "reuse"):
        if asked.get(name):
            raise FieldError("{f} is for find; unlock lists by one order", f=name)
    lib, own = _taught(_library(library, libraries, only_library), journal)
    asked.setdefault("top", 5)
    asked.setdefault("seconds", 30.0)
    lib, wanted, _ = composition.read(lib, target)
    found = unlocked(lib, read_question(lib, wanted, amount, **asked), most)
    routes = [o.route for o in (*found.openings, *found.wider)]
    routes += [found.today] if found.today is not None else []
    return show_unlocked(replace(found, notes=(*found.notes, *_taught_in(routes, own))))


def _taught(lib: Library, journal: str | Path | None) -> tuple[Library, dict[str, str]]:
    """The library with the yields of a journal's runs, and a note a step."""
    check(BY_NAME["journal"], journal)
    return (lib, {}) if journal is None else with_own_yields(lib, journal)


def _taught_in(routes: Sequence[Route], own: Mapping[str, str]) -> tuple[str, ...]:
    """Notes on the steps of these routes whose yield own runs taught."""
    used = {step for route in routes for step in route.ids}
    return tuple(words for step, words in own.items() if step in used)


def _library(
    library: Library | None, libraries: Sequence[str | Path], only_library: bool
) -> Library:
    folders = check(BY_NAME["libraries"], libraries)
    if library is None:
        return load_library(folders, check(BY_NAME["only_library"], only_library))
    if not isinstance(library, Library):
        raise FieldError("{f} is {kind}, not a Library; load one with load_library", f="library",
                         kind=type(library).__name__)  # fmt: skip
    if folders or only_library:
        raise FieldError("{f} is loaded already; leave {g} out", f="library",
                         g="libraries" if folders else "only_library")  # fmt: skip
    return library


def plan(answer: ShownAnswer, number: int = 1, **terms: Any) -> ShownPlan:
    """The plan of one route of an answer; ``terms`` as in ``worksheet.terms.read``.

    Raises InputError for a number that no route has, and for terms that cannot be used.
    """
    if not isinstance(answer, ShownAnswer):
        raise FieldError("{f} is {kind}, not what find gave back", f="answer",
                         kind=type(answer).__name__)  # fmt: skip
    return answer.plan(number, **terms)


def compare(
    answer: Answer,
    routes: Sequence[int] | None = None,
    *,
    measures: str | None = None,
    prefer: str | None = None,
    draws: int = robust.DRAWS,
    price_factor: float = robust.PRICE_FACTOR,
    time_factor: float = robust.TIME_FACTOR,
) -> ShownComparison:
    """Compare routes of an answer, all of them or those numbered.

    ``measures`` names what counts ("yield, cost, time"; the default is yield, cost, time, hazard,
    missing, waste, or those of a non-dominated search). ``prefer`` is read by ``choice.prefer``
    (None: as in the question);
    ``draws`` and the two factors are those of ``choice.robust``. Raises InputError for a route that
    is not there, fewer than one, or words that cannot be read.
    """
    return show_comparison(
        comparing.compare(
            answer, routes, measures=measures, prefer=prefer, draws=draws,
            price_factor=price_factor, time_factor=time_factor,
        )
    )  # fmt: skip
