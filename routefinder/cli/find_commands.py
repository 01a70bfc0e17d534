"""Commands that ask for routes: find, draw, demo."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder import files
from routefinder.cli import candidates
from routefinder.cli import options as o
from routefinder.cli import question_options as q
from routefinder.cli.takes_question import takes_question
from routefinder.errors import InputError, NameNotFound, OutOfReach

if TYPE_CHECKING:
    from routefinder.api.shown import ShownAnswer


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("find")(find)
    app.command("draw")(draw)
    app.command("demo")(demo)


@takes_question()
def find(
    ctx: typer.Context,
    target: o.MaybeTarget = None,
    route: Annotated[
        int | None,
        typer.Option("--route", metavar="N", help="Show this route in full instead of the first."),
    ] = None,
    diagram: Annotated[
        Path | None,
        typer.Option(
            "--diagram",
            help="Draw to FILE (.svg, .png, .dot): all routes over one "
            "another, or with --route that one.",
        ),
    ] = None,
    network: Annotated[
        Path | None,
        typer.Option(
            "--network",
            metavar="FILE",
            help="Search a plain network (.csv, .json, SBML .xml) instead.",
        ),
    ] = None,
    have: Annotated[
        list[str] | None,
        typer.Option("--have", metavar="NAME", help="With --network: a name at hand (repeat)."),
    ] = None,
    question: Annotated[
        Path | None,
        typer.Option(
            "--question",
            metavar="FILE",
            help="YAML with the whole question; options here go before it. Says what has changed "
            "since the last run.",
        ),
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", metavar="FILE", help="Keep the question in a YAML file."),
    ] = None,
    force: o.Force = False,
    json_out: o.JsonOut = False,
    *,
    asked: dict[str, Any],
) -> None:
    """Find the best routes to a substance, ranked, with what each asks.

    Without a target, in a terminal, it asks for everything step by step. What something is for
    does as a target ("soap", "blue pigment without cobalt"): all that fits is listed, with needs.
    """
    for path in (diagram, save):
        if path is not None:
            files.check(path, force)
    if network is not None:
        if not target:
            raise InputError("name the target to find in the network")
        _find_in_network(
            network, " ".join(target), tuple(have or ()), asked["top"], asked["seconds"], json_out
        )
        return
    if asked["measures"] is not None and not asked["non_dominated"]:
        raise InputError("--measures goes with --non-dominated, or with the command compare")
    if have:
        raise InputError("--have goes with --network; a shelf of materials is given with --shelf")
    said = q.said(ctx, asked)
    if target:
        said["target"], amount = o.name_and_amount(target, asked["amount"])
        if amount != asked["amount"]:
            said["amount"] = amount
    interviewed = question is None and not target
    if question is not None:
        found, said = q.from_file(question, said)
    else:
        if interviewed:
            said = _interview(said, asked["libraries"], asked["only_library"])
        try:
            found = q.search(said)
        except NameNotFound as error:
            wanted = str(said.get("target", ""))
            if not target or repr(wanted) not in str(error):
                raise
            candidates.show_or_raise(
                error, wanted, asked["libraries"], asked["only_library"], json_out
            )
            raise typer.Exit(1) from None
    if route is not None:
        _check_route(found, route)
    if diagram is not None and found.routes:
        _draw(found, route, diagram, force)
    o.show(found, json_out, route or 1)
    if found.question.prefer is not None and found.routes and not json_out:
        from routefinder.api.find import compare
        from routefinder.view import compare_text, text

        side = compare(found)
        if side.preferred:
            compare_text.print_preferences(side, text.console())
    if diagram is not None and found.routes and not json_out:
        typer.echo(f"Diagram: {diagram}")
    _keep(question, save, said, found, json_out, force)
    if interviewed:
        typer.echo(f"\nThe same again: {q.command(said)}", err=json_out)
    if not found.routes:
        raise typer.Exit(1)


def _interview(
    asked: dict[str, Any], libraries: list[Path] | None, only_library: bool
) -> dict[str, Any]:
    """Ask step by step, where somebody sits."""
    import sys

    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise InputError("name a target, for example: routefinder find 'copper(II) acetate'")
    from routefinder.asking.library import load_library
    from routefinder.cli.interview import interview

    library = load_library(o.with_personal(libraries, only_library), only_library)
    return interview(library, asked)


def _keep(
    question: Path | None,
    save: Path | None,
    asked: dict[str, Any],
    found: ShownAnswer,
    json_out: bool,
    force: bool,
) -> None:
    """Write the question and its answer to files, and say what has changed since the last run."""
    from routefinder.asking import question_file

    if question is not None:
        from routefinder.view import changes_text

        changed = q.keep(question, asked, found)
        if changed is not None:
            measures = found.routes[0].assessment.measures() if found.routes else {}
            typer.echo(f"\nSince the last run of {question}:", err=json_out)
            for line in changes_text.lines(changed, measures):
                typer.echo(f"  {line}", err=json_out)
    if save is not None:
        question_file.write(save, {**q.DEFAULTS, **asked}, force)
        q.keep(save, question_file.read(save)[0], found)
        typer.echo(
            f"Saved: {save}; run it again with: routefinder find --question {save}", err=json_out
        )


def _find_in_network(
    path: Path, target: str, have: tuple[str, ...], top: int, seconds: float, json_out: bool
) -> None:
    """The exact search on a network from a file: steps, costs, nothing else."""
    from routefinder.asking.network import find_in_network
    from routefinder.view import text

    with o.searching():
        found = find_in_network(path, target, have, top=top, seconds=seconds)
    if json_out:
        o.echo_json(found.json())
    else:
        text.print_network_answer(found, text.console())
    if not found.found.routes:
        raise typer.Exit(1)


def _draw(
    found: ShownAnswer, route: int | None, to: Path, force: bool, shape: str = "fitting"
) -> tuple[Path, ...]:
    day = f"{date.today():%d %b %Y}".lstrip("0")
    if route is None:
        return found.diagram(to, force, shape, day)
    return found.routes[route - 1].diagram(to, found.question.reuse, force, shape, day)


def _check_route(found: ShownAnswer, route: int) -> None:
    if not 1 <= route <= len(found.routes):
        raise InputError(f"there is no route {route}; {len(found.routes)} were found")


@takes_question()
def draw(
    target: o.Target,
    to: Annotated[
        Path, typer.Option("--to", "-o", metavar="FILE", help="File to draw: .svg, .png or .dot.")
    ],
    route: Annotated[
        int | None,
        typer.Option("--route", metavar="N", help="Only this route; all in lanes otherwise."),
    ] = None,
    shape: Annotated[
        str,
        typer.Option(
            "--shape",
            metavar="SHAPE",
            help="lying, upright (A4), phone (narrow), graph (plain); else what fits.",
        ),
    ] = "fitting",
    force: o.Force = False,
    *,
    asked: dict[str, Any],
) -> None:
    """Draw a route, or all routes in lanes."""
    from routefinder.view.picture import pictures

    if shape not in pictures.SHAPES:
        raise InputError(f"--shape {shape!r} is none of {', '.join(pictures.SHAPES)}")
    files.check(to, force)
    found = o.find_with(target, **asked)
    if not found.routes:
        o.show(found, False)
        raise typer.Exit(1)
    if route is not None:
        _check_route(found, route)
    drawn = _draw(found, route, to, force, shape)
    from routefinder import digits
    from routefinder.view import text

    what = f"route {route}" if route else digits.count(len(found.routes), "route")
    typer.echo(f"Drew {what} to {found.target.name}: {', '.join(map(str, drawn))}")

    shown = found.routes[route - 1 : route] if route is not None else found.routes
    text.print_controls(shown, text.console())
    text.print_disclaimer(text.console())


def demo(
    kiln: Annotated[bool, typer.Option("--kiln", help="The variant with a kiln.")] = False,
    to: Annotated[
        Path, typer.Option("--to", metavar="DIR", help="Folder for the diagrams.")
    ] = Path(),
    copy: Annotated[
        Path | None,
        typer.Option(
            "--copy",
            metavar="FOLDER",
            help="Copy the demo's shelf, bench and library there, to begin your own with.",
        ),
    ] = None,
    json_out: o.JsonOut = False,
) -> None:
    """Run the demo: a pigment studio wants 250 g of copper(II) acetate crystals."""
    if copy is not None:
        _copy(copy, json_out)
        return
    from routefinder.api.find import find
    from routefinder.library import where

    if not to.is_dir():
        raise InputError(f"--to {to}: there is no such folder")
    studio = where.examples() / "studio"
    found = find(
        "copper(II) acetate monohydrate",
        "250 g",
        shelf=studio / "shelf.csv",
        bench=studio / ("bench-with-kiln.yaml" if kiln else "bench.yaml"),
        libraries=[studio / "reactions"],
    )
    if not json_out:
        typer.echo(
            "Demo: a community pigment studio. The yields and times of these steps are invented\n"
            "data (examples/studio), so that the arithmetic can be followed by hand.\n"
        )
    o.show(found, json_out)
    drawn: list[str] = []
    try:
        for name, thing in (
            ("routefinder-demo-route-1.svg", found.routes[0]),
            ("routefinder-demo-route-1.png", found.routes[0]),
            ("routefinder-demo-all-routes.svg", found),
        ):
            drawn += map(str, thing.diagram(to / name, force=True))  # its own from last time
    except OutOfReach as error:
        typer.echo(f"No diagram: {error}", err=True)
    if drawn and not json_out:
        typer.echo(f"Diagrams: {', '.join(drawn)}")


def _copy(folder: Path, json_out: bool) -> None:
    """Copy the files meant for copying, and say how to ask with them."""
    import json
    import shlex

    from routefinder.disclaimer import DISCLAIMER
    from routefinder.library import starter

    made = starter.copy(folder)
    if json_out:
        copied = {"copied": [str(path) for path in made], "disclaimer": DISCLAIMER}
        typer.echo(json.dumps(copied, indent=2, ensure_ascii=False))
        return
    typer.echo(f"Copied the demo's files to {folder} (its yields and times are invented data):")
    for path in made:
        typer.echo(f"  {path}")
    options = [f"--{what} {shlex.quote(str(folder / name))}" for what, name in (
        ("shelf", "shelf.csv"), ("bench", "bench.yaml"), ("library", "reactions"))]  # fmt: skip
    typer.echo("Change shelf.csv and bench.yaml to what you have, then ask, for example:")
    typer.echo(
        "  routefinder find 'copper(II) acetate monohydrate' --amount '250 g' " + " ".join(options)
    )
    typer.echo(DISCLAIMER)
