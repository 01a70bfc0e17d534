"""Commands that show what the library holds: look."""

from __future__ import annotations

from typing import Annotated

import typer

from routefinder.cli import options as o


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("look")(look)


def look(
    name: Annotated[
        str,
        typer.Argument(
            help="Name, trade name, formula, CAS number or id of a substance, material or kind of "
            "equipment; id or title of a step."
        ),
    ],
    kind: Annotated[
        str | None,
        typer.Option("--kind", help="Only this kind: substance, material, equipment or step."),
    ] = None,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:
    """Show all that the library knows about a substance, material, step or kind of equipment."""
    from routefinder import ask
    from routefinder.library.lookup import look_up
    from routefinder.view import card, text

    library = ask.load_library(libraries or (), only_library)
    found = card.card(library, look_up(library, name, kind))
    if json_out:
        import json

        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        card.print_card(found, text.console())
