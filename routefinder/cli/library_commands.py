"""Commands about the library: check, with its faults or its coverage."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from routefinder.cli import options as o
from routefinder.cli.progress import Ticker
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("check")(check)


def check(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Library folders to check; the shipped library and your own when none is given."
        ),
    ] = None,
    json_out: Annotated[bool, typer.Option("--json", help="Print the faults as JSON.")] = False,
    targets: Annotated[
        Path | None,
        typer.Option(
            "--coverage",
            help="CSV of wished-for substances (columns name, formula, cas): count the routes to "
            "each instead of looking for faults.",
        ),
    ] = None,
    shelf: o.ShelfFile = None,
    shop: Annotated[
        list[str] | None,
        typer.Option(
            "--shop", metavar="PLACE", help="Only what this kind of shop sells: 'grocery' (repeat)."
        ),
    ] = None,
    bench: o.BenchFile = None,
    top: o.Top = 25,
    only_library: o.OnlyLibrary = False,
) -> None:
    """Check a library: every fault in one pass, with its place and what to do.

    With --coverage: which of a list of substances it can make, in how many ways. --shelf, --shop,
    --bench, --top and --only-library go with --coverage.
    """
    if targets is not None:
        shops = tuple(shop or ())
        _coverage(
            targets,
            o.with_personal(paths, only_library),
            shelf,
            shops,
            bench,
            top,
            only_library,
            json_out,
        )
        return
    if shelf is not None or shop or bench is not None or only_library or top != 25:
        raise InputError(
            "--shelf, --shop, --bench, --top and --only-library go with --coverage FILE; add it"
        )
    from routefinder.library import check as checking
    from routefinder.library import where

    shipped = where.shipped_library()
    given = paths or [shipped, *o.with_personal(None)]
    others = [p for p in given if p.resolve() != shipped.resolve()]
    alone = not others
    folders = [shipped, *others]
    faults = checking.check(folders, None if alone or not paths else others)
    if json_out:
        rows = [vars(fault) for fault in faults]
        data = {"schema": "routefinder/check/1", "disclaimer": DISCLAIMER, "faults": rows}
        o.echo_json(data)
    else:
        for fault in faults:
            typer.echo(str(fault))
        where_text = ", ".join(str(p) for p in given)
        if faults:
            typer.echo(f"{len(faults)} fault{'s' if len(faults) > 1 else ''} in {where_text}")
        else:
            typer.echo(f"No faults in {where_text}.")
    raise typer.Exit(1 if faults else 0)


def _coverage(
    targets: Path,
    folders: list[Path],
    shelf: Path | None,
    shops: tuple[str, ...],
    bench: Path | None,
    top: int,
    only_library: bool,
    json_out: bool,
) -> None:
    import sys
    import time

    from routefinder.asking import coverage
    from routefinder.asking.library import load_library
    from routefinder.view import coverage_table, text

    if only_library and not folders:
        raise InputError("--only-library leaves no library; name a folder behind 'check'")
    wanted = coverage.read_targets(targets)
    library = load_library(folders, only_library)
    ticker = Ticker(sys.stderr, time.monotonic)
    found = coverage.coverage(
        library, wanted, shelf=shelf, places=shops, bench=bench, top=top,
        progress=lambda done, total, name: ticker.say(f"{done} of {total} done; now {name}"),
    )  # fmt: skip
    ticker.wipe()
    if json_out:
        o.echo_json(found.json())
    else:
        coverage_table.print_coverage(found, library, text.console())
