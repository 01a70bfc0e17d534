"""The options of a question, made from its table of fields, for every command that asks one."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import Annotated, Any, cast, get_type_hints

from routefinder.asking.fields import FIELDS, Field
from routefinder.cli import options as o


def _parameter(field: Field, default: Any) -> inspect.Parameter:
    """A field as a parameter that typer reads; a list that is empty when nothing is said."""
    one: Any = list[field.kind] if field.many else field.kind  # type: ignore[name-defined]
    empty = field.many or default is None
    kind = one | None if empty else one
    return inspect.Parameter(
        field.name, inspect.Parameter.KEYWORD_ONLY, default=None if empty else default,
        annotation=cast(Any, Annotated)[kind, o.option(field.name)],
    )  # fmt: skip


FIRST = ("amount", "shelf", "bench", "by")


def takes_question(
    *without: str, **defaults: Any
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the options of a question, which reach it as the dictionary ``asked``.

    ``without`` names options that the command does not have, ``defaults`` other defaults.
    """
    shared = [
        _parameter(field, defaults.get(field.name, field.default))
        for field in FIELDS
        if field.name not in without
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
