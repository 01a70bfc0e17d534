"""Routes of an answer put side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from routefinder.choice import measures as named
from routefinder.choice import prefer as preferring
from routefinder.choice import reasons, robust
from routefinder.choice.dominance import dominated
from routefinder.choice.shared import shared
from routefinder.errors import FieldError, InputError
from routefinder.results.answer import Answer, Route
from routefinder.results.comparison import Comparison


def chosen(answer: Answer, routes: Sequence[int] | None) -> tuple[Route, ...]:
    """Routes of an answer by number, all when None; raises InputError for a number not there."""
    if routes is None:
        return answer.routes
    wanted: Any = (routes,) if isinstance(routes, int) else routes
    if isinstance(wanted, str) or not isinstance(wanted, Iterable):
        raise FieldError("{f} is {value!r}; give numbers, such as [1, 3]", f="routes", value=routes)
    out = []
    for number in dict.fromkeys(wanted):
        if isinstance(number, bool) or not isinstance(number, int):
            raise FieldError("{f} names {value!r}, not the number of a route", f="routes",
                             value=number)  # fmt: skip
        if not 1 <= number <= len(answer.routes):
            raise InputError(
                f"there is no route {number} to compare; {len(answer.routes)} were found"
            )
        out.append(answer.routes[number - 1])
    return tuple(out)


def compare(
    answer: Answer,
    routes: Sequence[int] | None = None,
    *,
    measures: str | None = None,
    prefer: str | None = None,
    draws: int = robust.DRAWS,
    price_factor: float = robust.PRICE_FACTOR,
    time_factor: float = robust.TIME_FACTOR,
) -> Comparison:
    """Compare routes of an answer, all of them or those numbered.

    ``measures`` names what counts ("yield, cost, time"; the default is yield, cost, time, hazard,
    missing, waste, or those of a non-dominated search). ``prefer`` is read by ``choice.prefer``
    (None: as in the question);
    ``draws`` and the two factors are those of ``choice.robust``. Raises InputError for a route that
    is not there, fewer than one, or words that cannot be read.
    """
    if not isinstance(answer, Answer):
        raise FieldError("{f} is {kind}, not what find gave back", f="answer",
                         kind=type(answer).__name__)  # fmt: skip
    for name, text in (("measures", measures), ("prefer", prefer)):
        if text is not None and not isinstance(text, str):
            raise FieldError("{f} is {value!r}, not a text", f=name, value=text)
    if isinstance(draws, bool) or not isinstance(draws, int) or draws < 1:
        raise FieldError("{f} is {value!r}; give a whole number from 1 up", f="draws", value=draws)
    for name, factor in (("price_factor", price_factor), ("time_factor", time_factor)):
        if not isinstance(factor, int | float) or not factor >= 1:
            raise FieldError("{f} is {value!r}; give a factor from 1 up", f=name, value=factor)
    some = chosen(answer, routes)
    if not some:
        raise InputError("there is no route to compare")
    prefer = answer.question.prefer if prefer is None else prefer
    wishes = () if prefer is None else preferring.read(prefer)
    keys = answer.front.keys if answer.front is not None else named.DEFAULT
    if measures is not None:
        keys = named.read_names(measures)
    keys = tuple(dict.fromkeys((*keys, *(w.key for w in wishes))))
    counted = preferring.weighed(wishes, keys)
    found = [r.assessment for r in some]
    lib = answer.library
    return Comparison(
        answer, some, keys, counted, any(w.weight for w in wishes), tuple(dominated(found, keys)),
        shared(lib, found), reasons.groups(lib, found), preferring.scores(counted, found),
        robust.robustness(
            lib, found, counted, draws=draws, price_factor=price_factor, time_factor=time_factor
        ) if len(some) > 1 else None,
    )  # fmt: skip
