"""The options of a question, written once for every command that asks one."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import Any, get_type_hints

from routefinder.cli import options as o


def _question(
    amount: o.Amount = o.AMOUNT,
    shelf: o.ShelfFile = None,
    bench: o.BenchFile = None,
    by: o.Order = "balanced",
    top: o.Top = 10,
    max_temperature: o.MaxTemperature = None,
    avoid: o.Avoid = None,
    use: o.Use = None,
    use_up: o.UseUp = None,
    max_hazard: o.MaxHazard = None,
    max_steps: o.MaxSteps = None,
    max_time: o.MaxTime = None,
    budget: o.Budget = None,
    no_licence: o.NoLicence = False,
    step_cost: o.StepCost = 1.0,
    different: o.Different = False,
    reuse: o.Reuse = False,
    non_dominated: o.NonDominated = False,
    measures: o.Measures = None,
    may_lack: o.MayLack = 0,
    prefer: o.Prefer = None,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    my_yields: o.MyYields = True,
    journal: o.JournalFile = None,
    seconds: o.Seconds = 10.0,
) -> None:
    """Only its parameters count: an answer of one command is asked for in the same words in all."""


FIRST = ("amount", "shelf", "bench", "by")


def takes_question(
    *without: str, **defaults: Any
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the options of a question, which reach it as the dictionary ``asked``.

    ``without`` names options that the command does not have, ``defaults`` other defaults.
    """
    hints = get_type_hints(_question, include_extras=True)
    shared = [
        p.replace(annotation=hints[p.name], default=defaults.get(p.name, p.default))
        for p in inspect.signature(_question).parameters.values()
        if p.name not in without
    ]

    def widen(command: Callable[..., None]) -> Callable[..., None]:
        known = get_type_hints(command, include_extras=True)
        own = [
            p.replace(annotation=known[p.name])
            for p in inspect.signature(command).parameters.values()
            if p.name != "asked"
        ]

        @wraps(command)
        def run(**values: Any) -> None:
            asked = {p.name: values.pop(p.name) for p in shared}
            command(**values, asked=asked)

        # what every question has comes first, then the command's own, then what bounds the search
        named = [p for p in own if p.name in {"ctx", "target"}]
        first = [p for p in shared if p.name in FIRST]
        order = dict.fromkeys((*named, *first, *own, *shared))
        every = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in order]
        run.__signature__ = inspect.Signature(every)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in every}
        return run

    return widen
