"""Commands about the library: check."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("check")(check)


def check(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Library folders to check; the shipped library when none is given."),
    ] = None,
    json_out: Annotated[bool, typer.Option("--json", help="Print the faults as JSON.")] = False,
) -> None:
    """Check a library: every fault in one pass, with its place and what to do."""
    from routefinder.library import check as checking
    from routefinder.library import where

    shipped = where.shipped_library()
    given = paths or [shipped]
    others = [p for p in given if p.resolve() != shipped.resolve()]
    alone = not others
    folders = [shipped, *others]
    faults = checking.check(folders, None if alone else others)
    if json_out:
        import json

        rows = [vars(fault) for fault in faults]
        typer.echo(json.dumps({"schema": "routefinder/check/1", "faults": rows}, indent=2))
    else:
        for fault in faults:
            typer.echo(str(fault))
        where_text = ", ".join(str(p) for p in given)
        if faults:
            typer.echo(f"{len(faults)} fault{'s' if len(faults) > 1 else ''} in {where_text}")
        else:
            typer.echo(f"No faults in {where_text}.")
    raise typer.Exit(1 if faults else 0)
