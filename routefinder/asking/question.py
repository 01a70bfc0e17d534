"""What the user wrote, read into a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from routefinder import units
from routefinder.choice import measures
from routefinder.choice import prefer as preferring
from routefinder.errors import InputError, NameNotFound
from routefinder.hazards.score import ASPECTS
from routefinder.library import regulated
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.records.question import ORDERS, STEP_COST, Limits, Question
from routefinder.records.shelf import Bench, Shelf
from routefinder.records.substance import Substance


def read_question(
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
