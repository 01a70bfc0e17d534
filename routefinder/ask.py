"""The Python API: wires the stages, decides nothing.

import routefinder as rf
answer = rf.find("copper(II) acetate monohydrate", "250 g", shelf="shelf.csv")
answer.routes[0]            # shows itself in a notebook
answer.routes[0].diagram("route.svg")
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder import units
from routefinder.answering import answer
from routefinder.answers import Answer, NetworkAnswer
from routefinder.choice import measures
from routefinder.choice import prefer as preferring
from routefinder.errors import InputError, NameNotFound
from routefinder.hazards import vessels
from routefinder.hazards.score import ASPECTS
from routefinder.library import cache, regulated
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.records.question import ORDERS, STEP_COST, Limits, Question
from routefinder.records.shelf import Bench, Shelf
from routefinder.records.substance import Substance
from routefinder.search import best, explain
from routefinder.search.route import Ending

if TYPE_CHECKING:
    pass


def load_library(folders: Sequence[str | Path] = (), only: bool = False) -> Library:
    """The shipped library (unless ``only``) with further library folders on top."""
    return cache.load_cached([Path(f) for f in folders], only, vessels.prepare)


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
) -> Answer:
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
    question = ask(
        lib, target, amount, shelf=shelf, bench=bench, by=by, top=top,
        max_temperature=max_temperature, avoid=avoid, use=use, use_up=use_up, max_hazard=max_hazard,
        max_steps=max_steps, max_time=max_time, budget=budget, step_cost=step_cost,
        different=different, reuse=reuse, no_licence=no_licence,
        non_dominated=non_dominated, may_lack=may_lack, prefer=prefer,
        seconds=seconds,
    )  # fmt: skip
    found = answer(lib, question)
    used = {step for route in found.routes for step in route.ids}
    notes = [words for step, words in own.items() if step in used]
    return replace(found, notes=(*found.notes, *notes)) if notes else found


def with_own_yields(lib: Library, journal: str | Path) -> tuple[Library, dict[str, str]]:
    """The library with the yields that the journal's runs taught, and a note a step.

    Raises JournalFault when the journal cannot be read.
    """
    from routefinder.journal.learn import learn
    from routefinder.journal.learn import with_own_yields as taught
    from routefinder.journal.results import results
    from routefinder.journal.store import Store
    from routefinder.view import digits

    with Store(journal, create=False) as store:
        learned = learn(lib, results(store, lib))
    notes = {}
    for name, one in learned.items():
        words = []
        if one.results:
            n = len(one.results)
            words.append(
                f"the yield counts as {digits.percent(one.after.typical)} instead of "
                f"{digits.percent(one.before.typical)}, "
                f"by {n} run{'s' if n > 1 else ''} of yours (--no-my-yields leaves them out)"
            )
        if one.failures:
            words.append(f"it failed {one.failures} times in your runs")
        if words:
            notes[name] = f"{lib.steps[name].title}: {'; '.join(words)}"
    return taught(lib, learned), notes


def ask(
    lib: Library,
    target: str,
    amount: Any,
    *,
    shelf: str | Path | Shelf | Sequence[str] | None = None,
    bench: str | Path | Bench | None = None,
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
) -> Question:
    """Turn what the user wrote into a question.

    Raises InputError for anything unusable, Refused for what routefinder does not plan for.
    """
    judged = regulated.refuse(target, "target", lib)
    for name in (*use, *([use_up] if use_up is not None else ())):
        regulated.refuse(name, "taken", lib)
    try:
        substance = lib.substance(target)
    except NameNotFound:
        regulated.refuse_doubt(judged)
        raise
    regulated.refuse(substance, "target", lib)
    grams = _amount(amount, substance)
    if by not in ORDERS:
        raise InputError(f"unknown order {by!r}; choose one of {', '.join(ORDERS)}")
    if top < 1:
        raise InputError(f"--top is {top}; ask for at least one route")
    if max_steps is not None and max_steps < 1:
        raise InputError(f"--max-steps is {max_steps}; a route has at least one step")
    if budget is not None and not budget >= 0:
        raise InputError(f"--budget is {budget}; give an amount of money from 0 up")
    if not 0 <= step_cost < float("inf"):
        raise InputError(f"--step-cost is {step_cost}; give an amount of money from 0 up")
    if may_lack < 0:
        raise InputError(f"--may-lack is {may_lack}; give a number from 0 up")
    if non_dominated is not None and (use_up is not None or different):
        rival = "--use-up" if use_up is not None else "--different"
        raise InputError(f"--non-dominated and {rival} are two different wishes; drop one")
    if not seconds > 0:
        raise InputError(f"--seconds is {seconds}; give a time above 0")
    max_t = None if max_temperature is None else units.canonical(max_temperature, "temperature")
    minutes = None if max_time is None else units.canonical(max_time, "time")
    if minutes is not None and minutes <= 0:
        raise InputError("--max-time must be above 0")
    hazards = []
    for aspect, points in (max_hazard or {}).items():
        if aspect != "any" and aspect not in ASPECTS:
            raise InputError(
                f"unknown hazard aspect {aspect!r}; the aspects are {', '.join(ASPECTS)} (or 'any')"
            )
        if not 0 <= points <= 4:
            raise InputError(f"the hazard limit {points} for {aspect!r} must lie between 0 and 4")
        hazards.append((aspect, points))
    avoided = tuple(_avoidable(lib, name) for name in avoid)
    shunned = {lib.root(a) for a in avoided if a in lib.substances}
    wanted = tuple(lib.substance(name).id for name in use)
    for name in wanted:
        if lib.root(name) in shunned:
            raise InputError(f"{lib.name(name)} stands under both --from and --avoid; drop one")
    if substance.id in avoided:
        raise InputError(f"{substance.name} is both the target and under --avoid; drop one")
    found_shelf = _shelf(lib, shelf)
    finish = None if use_up is None else lib.substance(use_up).id
    if finish is not None and lib.root(finish) in shunned:
        raise InputError(f"{lib.name(finish)} stands under both --use-up and --avoid; drop one")
    named = [("--from", name) for name in wanted]
    if finish is not None:
        named.append(("--use-up", finish))
    for option, name in named:
        if not any(lib.root(name) in {lib.root(s) for s in supply.offered}
                   for supply in found_shelf.supplies):  # fmt: skip
            raise InputError(
                f"{option} {lib.name(name)}: it is not on the shelf ({found_shelf.name})"
            )
    found_bench = shelves.read_bench(Path(bench), lib) if isinstance(bench, str | Path) else bench
    wishes = () if prefer is None else preferring.read(prefer)
    musts = tuple((w.key, w.limit) for w in wishes if w.limit is not None)
    limits = Limits(
        max_t, avoided, wanted, tuple(hazards), max_steps, minutes, budget, no_licence, musts
    )
    return Question(
        substance.id, grams, found_shelf, found_bench, limits, by, top, step_cost, different, reuse,
        seconds, finish,
        front=() if non_dominated is None else measures.read_names(non_dominated),
        may_lack=may_lack, prefer=prefer,
    )  # fmt: skip


def _amount(amount: Any, substance: Substance) -> float:
    if isinstance(amount, str):
        number, kind = units.read_any(amount, ("mass", "amount"))
    else:
        try:
            number, kind = units.canonical(amount, "mass"), "mass"
        except InputError:
            number, kind = units.canonical(amount, "amount"), "amount"
    if kind == "amount":
        if substance.formula is None:
            raise InputError(f"{substance.name} has no formula; give the amount in grams")
        number *= substance.molar_mass_g
    if not number > 0:
        raise InputError(f"the amount {amount!r} must be above 0; write for example '250 g'")
    return number


def _avoidable(lib: Library, name: str) -> str:
    return name if name in lib.steps else lib.substance(name).id


def _shelf(lib: Library, shelf: str | Path | Shelf | Sequence[str] | None) -> Shelf:
    if shelf is None:
        return shelves.shops(lib)
    if isinstance(shelf, Shelf):
        return shelf
    if isinstance(shelf, str | Path):
        return shelves.read_shelf(Path(shelf), lib)
    for name in shelf:
        regulated.refuse(name, "taken", lib)
    named = tuple(shelves.supply(lib.material(name)) for name in shelf)
    return Shelf((*named, *shelves.everywhere(lib)), "the materials named")


def find_in_network(
    path: str | Path,
    target: str,
    shelf: Sequence[str] = (),
    *,
    top: int = 10,
    seconds: float = 10.0,
) -> NetworkAnswer:
    """The best routes in a plain network file (``graph.network_file``) by the sum of step costs.

    Steps that take or make what routefinder refuses are left out and named in the answer. Raises
    InputError for a bad file or a target or shelf name that the network does not have, Refused for
    a refused one.
    """
    from difflib import get_close_matches

    from routefinder.graph.network_file import read_network

    regulated.refuse(target, "target")
    steps, own = read_network(Path(path))
    for name in (*own, *shelf):
        regulated.refuse(name, "taken")
    names = dict.fromkeys(n for s in steps for n in (*s.reactants, *s.products))
    for name in (target, *shelf):
        if name not in names:
            near = get_close_matches(name, names, n=3)
            hint = f"; the closest names are {', '.join(near)}" if near else ""
            raise InputError(f"{name!r} stands in no step of {path}{hint}")
    at_hand = tuple(dict.fromkeys((*own, *shelf)))
    if not at_hand:
        raise InputError("nothing is at hand; name what is with --have (repeat)")
    if target in at_hand:
        raise InputError(f"{target!r} is already at hand")
    refused = tuple(regulated.refused_steps((s.id, s.reactants, s.products) for s in steps))
    out = {r.step for r in refused}
    steps = [s for s in steps if s.id not in out]
    found = best.search(steps, at_hand, target, top, seconds=seconds)
    near_route = None
    if found.ending is Ending.NONE:
        near_route = explain.nearest(steps, at_hand, target, {})
    return NetworkAnswer(str(path), target, at_hand, found, near_route, refused)
