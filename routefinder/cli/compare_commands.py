"""The command that puts routes side by side: compare."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from routefinder import files, units
from routefinder.cli import options as o
from routefinder.cli.takes_question import takes_question
from routefinder.errors import InputError

KINDS = ("tradeoff", "waterfall", "bars", "mass")


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("compare")(compare)


@takes_question(top=5)
def compare(
    target: o.Target,
    routes: Annotated[
        str, typer.Option("--routes", metavar="LIST", help="Which: '1,3,4', or 'all'.")
    ] = "all",
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            metavar="FILE",
            help="Write to FILE: .html the whole comparison; .svg, .png or .dot "
            "the routes over one another.",
        ),
    ] = None,
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="FILE", help="Write a picture (.svg or .png).")
    ] = None,
    kind: Annotated[
        str, typer.Option("--kind", help="The picture: tradeoff, waterfall, bars or mass.")
    ] = "tradeoff",
    axes: Annotated[
        str,
        typer.Option("--axes", metavar="X,Y", help="The two measures of a trade-off picture."),
    ] = "cost,yield",
    force: o.Force = False,
    json_out: o.JsonOut = False,
    *,
    asked: dict[str, Any],
) -> None:
    """Put routes side by side: measures, what they share, dominance, preferences, robustness."""
    from routefinder.api import find as api

    numbers = _numbers(routes)
    x, y = _axes(axes)
    if kind not in KINDS:
        raise InputError(f"unknown picture {kind!r}; the kinds are {', '.join(KINDS)}")
    for path, endings, option in (
        (to, (".html", ".svg", ".png", ".dot"), "--to"),
        (plot, (".svg", ".png"), "--plot"),
    ):
        if path is not None and path.suffix.lower() not in endings:
            raise InputError(f"{option} {path.name} must end in {' or '.join(endings)}")
        if path is not None:
            files.check(path, force)
    asked["top"] = max(asked["top"], *(numbers or [1]))
    counted = asked["measures"]
    if not asked["non_dominated"]:
        asked["measures"] = None  # they count in the comparison alone
    found = o.find_with(target, **asked)
    if not found.routes:
        o.show(found, json_out)
        raise typer.Exit(1)
    side = api.compare(found, numbers, measures=counted)
    written = []
    if plot is not None:
        picture = {
            "tradeoff": lambda: side.tradeoff(x, y),
            "waterfall": side.waterfall,
            "bars": side.bars,
            "mass": side.masses,
        }[kind]()
        written.append(picture.write(plot, force))
    if to is not None:
        written.append(side.write(to, force))
    if json_out:
        o.echo_json(side.json())
        return
    from routefinder.view import compare_text, text

    compare_text.print_comparison(side, text.console())
    if written:
        typer.echo(f"Written: {', '.join(map(str, written))}")


def _numbers(text: str) -> list[int] | None:
    """Route numbers from "1,3,4"; None for "all"."""
    if text.strip().lower() == "all":
        return None
    words = [w for w in text.replace(",", " ").split() if w]
    if not words or not all(units.is_whole(w) and int(w) > 0 for w in words):
        raise InputError(f"--routes {text!r} is no list of routes; write '1,3,4' or 'all'")
    return [int(w) for w in words]


def _axes(text: str) -> tuple[str, str]:
    from routefinder.choice import measures as named

    keys = named.read_names(text)
    if len(keys) != 2:
        raise InputError(f"--axes {text!r} must name two measures, such as 'cost,yield'")
    return keys[0], keys[1]
