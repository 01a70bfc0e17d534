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
    """Show all that the library knows about a substance, material, step or kind of equipment.

    For what routefinder refuses it says which list, how the name was recognised and what differs.
    """
    from routefinder import ask
    from routefinder.errors import NameNotFound
    from routefinder.library import regulated
    from routefinder.library.lookup import look_up
    from routefinder.view import card, control_words, text

    judged = regulated.verdict(name)
    found = None
    if judged.refusal("taken") is None:
        library = ask.load_library(o.with_personal(libraries, only_library), only_library)
        try:
            found = card.card(library, look_up(library, name, kind))
        except NameNotFound:
            if not judged.hits:
                raise
    shown = found if found is not None else control_words.explanation(judged)
    if json_out:
        import json

        typer.echo(json.dumps(shown, indent=2, ensure_ascii=False))
    elif found is not None:
        card.print_card(found, text.console())
    else:
        control_words.print_explanation(shown, text.console())
