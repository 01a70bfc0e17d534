"""The door of this room: a route, or several, as sheets; sheets as files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from routefinder import files
from routefinder.assessment.assess import Assessment
from routefinder.assessment.reuse import FedBack
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.records.substance import Substance
from routefinder.view import diagram
from routefinder.view.picture import lanes, lying, phone, upright
from routefinder.view.picture.pen import DrawnSheet
from routefinder.view.picture.said import said
from routefinder.view.route_words import alt_text

SHAPES = ("fitting", "lying", "upright", "phone", "graph")
FORMATS = (".svg", ".png")


def route(
    library: Library,
    found: Assessment,
    number: int = 1,
    fed_back: Sequence[FedBack] = (),
    shape: str = "fitting",
    date: str = "",
) -> list[DrawnSheet]:
    """The sheets of one route.

    ``shape``: "lying" or "upright" (A4), "phone" (390 pixels), "fitting" (lying where it has room,
    else upright). Raises InputError for a shape that the route has no room for.
    """
    alt = f"Route {number}. {alt_text(library, found)}"
    words = said(library, found, number, fed_back, date, alt)
    if shape == "phone":
        return [phone.sheet(words)]
    if shape in {"fitting", "lying"} and lying.fits(words):
        flat = lying.sheet(words)
        if shape == "lying" or not (flat.faults() or flat.h > lying.HIGH):
            return [flat]
    if shape == "lying":
        raise InputError(
            f"route {number} has no room on a lying sheet (more than {lying.MOST_STEPS} steps, or "
            "streams that skip one); draw it upright"
        )
    return upright.sheets(words)


def overview(
    library: Library,
    target: Substance,
    routes: Sequence[tuple[int, Assessment]],
    shape: str = "fitting",
    date: str = "",
) -> list[DrawnSheet]:
    """Several routes as lanes; "phone": one under another."""
    if shape == "phone":
        return [lanes.narrow(library, target, routes, date)]
    return lanes.sheets(library, target, routes, date)


def check(path: Path, force: bool) -> None:
    """Raise InputError when a picture cannot be written to ``path``."""
    if path.suffix.lower() not in (*FORMATS, ".dot"):
        raise InputError(f"{path.name!r} must end in .svg, .png or .dot")
    files.check(path, force)


def write(sheets: Sequence[DrawnSheet], path: Path, force: bool = False) -> tuple[Path, ...]:
    """Write sheets as .svg or .png, further ones as "name-2.svg"; all or none.

    Raises InputError for another ending or a file that is there (unless ``force``), OutOfReach when
    no Graphviz engine draws a .png.
    """
    check(path, force)
    form = path.suffix.lower().lstrip(".")
    names = [path, *(path.with_name(f"{path.stem}-{n}{path.suffix}")
                     for n in range(2, len(sheets) + 1))]  # fmt: skip
    data = [
        s.svg() if form == "svg" else diagram.render(s.dot(), form, placed=True) for s in sheets
    ]
    files.write_all(dict(zip(names, data, strict=True)), force=force)
    return tuple(names)
