"""Commands that show what the library holds: look."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli import options as o
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.library.library import Library


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
    amount: Annotated[
        str | None,
        typer.Option(
            "--amount", metavar="MASS", help="Of a step: also the air and the leavings of a batch."
        ),
    ] = None,
    room: Annotated[
        str, typer.Option("--room", metavar="VOLUME", help="The room, for --amount.")
    ] = "30 m3",
    air_changes: Annotated[
        float, typer.Option("--air-changes", help="Air changes an hour, for --amount.")
    ] = 1.0,
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
        meaning = look_up(library, name, kind)
        found = card.card(library, meaning)
        if amount is not None:
            if meaning.kind != "step":
                raise InputError(f"--amount belongs to a step; {name!r} is a {meaning.kind}")
            found["batch"] = _batch(library, meaning.id, amount, room, air_changes)
    else:
        found = safety_card.shelf_safety(library, read_shelf(Path(str(shelf)), library))
    if json_out:
        import json

        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
    elif name is None:
        safety_card.print_shelf(found, text.console())
    else:
        card.print_card(found, text.console())


def _batch(library: Library, step: str, amount: str, room: str, air_changes: float) -> Any:
    from routefinder import units
    from routefinder.assessment.exposure import Room
    from routefinder.assessment.one_step import one_step
    from routefinder.view import safety_card

    grams = units.canonical(amount, "mass")
    volume = units.canonical(room, "volume") / 1e6  # mL -> m3
    try:
        place = Room(volume, air_changes)
        return safety_card.batch_safety(
            library, one_step(library, library.steps[step], grams), place
        )
    except ValueError as error:
        raise InputError(str(error)) from None
