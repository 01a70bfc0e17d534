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
from typing import Any

from routefinder.api.own_yields import with_own_yields
from routefinder.api.shown import (
    ShownAnswer,
    ShownComparison,
    ShownUnlocked,
    show_answer,
    show_comparison,
    show_unlocked,
)
from routefinder.asking import compare as comparing
from routefinder.asking.answering import answer
from routefinder.asking.library import load_library
from routefinder.asking.question import read_question
from routefinder.asking.unlock import unlocked
from routefinder.choice import robust
from routefinder.errors import InputError
from routefinder.records.question import STEP_COST
from routefinder.records.shelf import Bench, Shelf
from routefinder.results.answer import Answer
from routefinder.results.unlocked import MOST


def find(
    target: str,
    amount: Any = "100 g",
    *,
    shelf: str | Path | Shelf | Sequence[str] | None = None,
    bench: str | Path | Bench | None = None,
    libraries: Sequence[str | Path] = (),
    only_library: bool = False,
    by: str = "balanced",
    top: int = 10,
    max_temperature: Any = None,
    avoid: Sequence[str] = (),
    use: Sequence[str] = (),
    use_up: str | None = None,
    max_hazard: Mapping[str, int] | None = None,
    max_steps: int | None = None,
    max_time: Any = None,
    budget: float | None = None,
    no_licence: bool = False,
    step_cost: float = STEP_COST,
    different: bool = False,
    reuse: bool = False,
    non_dominated: str | None = None,
    may_lack: int = 0,
    prefer: str | None = None,
    seconds: float = 10.0,
    journal: str | Path | None = None,
) -> ShownAnswer:
    """Find the best routes from a shelf to ``amount`` of ``target``.

    ``target`` is a name, trade name, formula or CAS number. ``shelf`` is a file, a list of material
    names, or None (everything in the library can be bought); ``bench`` a file or None (needs are
    listed, nothing is set aside). Limits as in the command line; ``no_licence`` sets aside what
    needs a licensed material, ``use_up`` names a material on the shelf, and the routes that take
    most of it come first. ``non_dominated`` names measures ("yield, cost, time"): the routes that
    no other dominates in these are wanted. ``may_lack``: needs the bench may leave unmet, counted
    over a route. ``prefer`` are wishes (``choice.prefer``), whose must-haves are limits. Raises
    InputError (or one of its children) with one sentence when the
    question cannot be used, Refused for what routefinder does not plan for.
    """
    lib = load_library(libraries, only_library)
    own: dict[str, str] = {}
    if journal is not None:
        lib, own = with_own_yields(lib, journal)
    question = read_question(
        lib, target, amount, shelf=shelf, bench=bench, by=by, top=top,
        max_temperature=max_temperature, avoid=avoid, use=use, use_up=use_up, max_hazard=max_hazard,
        max_steps=max_steps, max_time=max_time, budget=budget, step_cost=step_cost,
        different=different, reuse=reuse, no_licence=no_licence,
        non_dominated=non_dominated, may_lack=may_lack, prefer=prefer,
        seconds=seconds,
    )  # fmt: skip
    found = show_answer(answer(lib, question))
    used = {step for route in found.routes for step in route.ids}
    notes = [words for step, words in own.items() if step in used]
    return replace(found, notes=(*found.notes, *notes)) if notes else found


def unlock(
    target: str,
    amount: Any = "100 g",
    *,
    libraries: Sequence[Any] = (),
    only_library: bool = False,
    most: int = MOST,
    top: int = 5,
    seconds: float = 30.0,
    **given: Any,
) -> ShownUnlocked:
    """What to acquire for a route to ``target``, or a better one; ``given`` as for ``find``.

    Sets of up to ``most`` acquisitions, ``top`` of each size. Raises InputError (or one of its
    children) with one sentence when the question cannot be used.
    """
    if not 1 <= most <= 4:
        raise InputError(f"--most is {most}; ask for 1 to 4 things at once")
    lib = load_library(libraries, only_library)
    question = read_question(lib, target, amount, top=top, seconds=seconds, **given)
    return show_unlocked(unlocked(lib, question, most))


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
