"""A name that nothing bears: what it may be for, else how to add it."""

from __future__ import annotations

from pathlib import Path

from routefinder.cli import options as o
from routefinder.errors import NameNotFound


def show_or_raise(
    error: NameNotFound,
    name: str,
    libraries: list[Path] | None,
    only_library: bool,
    json_out: bool,
    kind: str | None = None,
) -> None:
    """Show what fits the words of ``name``; raises NameNotFound, with the way to add it, if none.

    ``libraries`` as given on the command line; only things of ``kind``, where it is given.
    """
    from routefinder.asking.library import load_library
    from routefinder.library.purposes import named_for
    from routefinder.view import candidates, text

    library = load_library(o.with_personal(libraries, only_library), only_library)
    things = [t for t in named_for(library, name) if kind in {None, t.kind}]
    if not things:
        raise NameNotFound(
            f"{error}\nTo add one of your own: routefinder new substance, or new step for a way "
            "to make it",
            error.closest,
        ) from None
    found = candidates.candidates(library, name, things)
    if json_out:
        o.echo_json(found)
    else:
        candidates.print_candidates(found, text.console())
