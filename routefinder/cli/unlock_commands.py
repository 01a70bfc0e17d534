"""Commands about what is not at hand: unlock."""

from __future__ import annotations

from typing import Annotated

import typer

from routefinder.cli import options as o


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("unlock")(unlock)


def unlock(
    target: o.Target,
    amount: o.Amount = o.AMOUNT,
    shelf: o.ShelfFile = None,
    bench: o.BenchFile = None,
    by: o.Order = "balanced",
    most: Annotated[
        int, typer.Option("--most", metavar="N", help="How many things at once, 1 to 4.")
    ] = 2,
    top: Annotated[
        int, typer.Option("--top", "-n", metavar="N", help="How many sets of each size.")
    ] = 5,
    max_temperature: o.MaxTemperature = None,
    avoid: o.Avoid = None,
    use: o.Use = None,
    max_hazard: o.MaxHazard = None,
    max_steps: o.MaxSteps = None,
    max_time: o.MaxTime = None,
    budget: o.Budget = None,
    no_licence: o.NoLicence = False,
    step_cost: o.StepCost = 1.0,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    seconds: o.Seconds = 30.0,
    json_out: o.JsonOut = False,
) -> None:
    """What to buy, get or allow for a route, or a better one, and what it brings.

    Materials and kinds of equipment of the library, figures of tools at hand and your own limits:
    first what one alone opens, then the smallest sets. A set is listed only if nothing smaller
    opens as good a route in the order asked for (--by).
    """
    from routefinder import unlock as api
    from routefinder.view import unlock_text

    name, amount = o.name_and_amount(target, amount)
    found = api.unlock(
        name, amount, shelf=shelf, bench=bench, by=by, most=most, top=top,
        max_temperature=max_temperature, avoid=avoid or (), use=use or (),
        max_hazard=o.hazard_limits(max_hazard), max_steps=max_steps, max_time=max_time,
        budget=budget, no_licence=no_licence, step_cost=step_cost,
        libraries=o.with_personal(libraries, only_library), only_library=only_library,
        seconds=seconds,
    )  # fmt: skip
    if json_out:
        import json

        typer.echo(json.dumps(unlock_text.as_data(found), indent=2, ensure_ascii=False))
    else:
        from routefinder.view import text

        unlock_text.print_unlocked(found, text.console())
    if not found.openings and not found.wider and found.today is None:
        raise typer.Exit(1)
