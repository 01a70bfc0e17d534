"""Commands that show what the library holds: look."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli import candidates
from routefinder.cli import options as o
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.library.library import Library


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("look")(look)


def look(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            help="Name, trade name, formula, CAS number or id of a substance, material or kind of "
            "equipment; id or title of a step.",
            metavar="NAME",
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
    ] = 0.5,
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
    With --shelf FILE: which materials of a shelf must not stand side by side. What something is
    for does as a name ("blue pigment without cobalt", kiln): all that fits is listed. Without a
    name, --kind equipment lists every kind of equipment.
    """
    if not words and shelf is None and kind is not None:
        _list(kind, o.with_personal(libraries, only_library), only_library, json_out)
        return
    if (not words) == (shelf is None):
        raise InputError("look at one thing: write a name, or --shelf FILE, or only --kind")
    if shelf is not None:
        _look_at_shelf(shelf, o.with_personal(libraries, only_library), only_library, json_out)
        return
    from routefinder.asking.library import load_library
    from routefinder.errors import NameNotFound
    from routefinder.library import regulated
    from routefinder.library.lookup import look_up
    from routefinder.view import card, card_text, control_words, text

    name = " ".join(words or ())
    judged = regulated.verdict(name)
    found = None
    if judged.refusal("taken") is None:
        library = load_library(o.with_personal(libraries, only_library), only_library)
        try:
            meaning = look_up(library, name, kind)
            found = card.card(library, meaning)
            if amount is not None:
                if meaning.kind != "step":
                    raise InputError(f"--amount belongs to a step; {name!r} is a {meaning.kind}")
                found["batch"] = _batch(library, meaning.id, amount, room, air_changes)
        except NameNotFound as error:
            if not judged.hits:
                candidates.show_or_raise(error, name, libraries, only_library, json_out, kind)
                return
    shown = found if found is not None else control_words.explanation(judged)
    if json_out:
        o.echo_json(shown)
    elif found is not None:
        card_text.print_card(found, text.console())
    else:
        control_words.print_explanation(shown, text.console())


def _list(kind: str, libraries: Any, only_library: bool, json_out: bool) -> None:
    """Every record of a kind."""
    from routefinder.asking.library import load_library
    from routefinder.library.lookup import KINDS
    from routefinder.view import candidates as shown
    from routefinder.view import text

    if kind not in KINDS:
        raise InputError(f"unknown kind {kind!r}; choose one of {', '.join(KINDS)}")
    found = shown.all_of(load_library(libraries or (), only_library), kind)
    if json_out:
        o.echo_json(found)
    else:
        shown.print_candidates(found, text.console())


def _look_at_shelf(shelf: Path, libraries: Any, only_library: bool, json_out: bool) -> None:
    from routefinder.asking.library import load_library
    from routefinder.library.shelf import read_shelf
    from routefinder.view import safety_card, text

    library = load_library(libraries or (), only_library)
    found = safety_card.shelf_safety(library, read_shelf(shelf, library))
    if json_out:
        o.echo_json(found)
    else:
        safety_card.print_shelf(found, text.console())


def _batch(library: Library, step: str, amount: str, room: str, air_changes: float) -> Any:
    from routefinder import units
    from routefinder.assessment.one_step import one_step
    from routefinder.assessment.room_air import Room
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
