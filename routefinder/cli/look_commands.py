"""Commands that show what the library holds: look."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from routefinder.cli import options as o
from routefinder.errors import InputError


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("look")(look)


def look(
    name: Annotated[
        str | None,
        typer.Argument(
            help="Name, trade name, formula, CAS number or id of a substance, material or kind of "
            "equipment; id or title of a step."
        ),
    ] = None,
    shelf: Annotated[
        Path | None,
        typer.Option(
            "--shelf", metavar="FILE", help="Instead of a name: what must stand apart on a shelf."
        ),
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option("--kind", help="Only this kind: substance, material, equipment or step."),
    ] = None,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:
    """Show all that the library knows about a substance, material, step or kind of equipment.

    With --shelf FILE: which materials of a shelf must not stand side by side.
    """
    if (name is None) == (shelf is None):
        raise InputError("look at one thing: write a name, or --shelf FILE")
    from routefinder import ask
    from routefinder.library.lookup import look_up
    from routefinder.library.shelf import read_shelf
    from routefinder.view import card, safety_card, text

    library = ask.load_library(libraries or (), only_library)
    if name is not None:
        found = card.card(library, look_up(library, name, kind))
    else:
        found = safety_card.shelf_safety(library, read_shelf(Path(str(shelf)), library))
    if json_out:
        import json

        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
    elif name is None:
        safety_card.print_shelf(found, text.console())
    else:
        card.print_card(found, text.console())
