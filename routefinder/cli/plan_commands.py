"""The command that plans a route: plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli import options as o
from routefinder.cli.takes_question import takes_question
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.worksheet.plan import Plan


def register(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command("plan")(plan)


@takes_question()
def plan(
    target: o.Target,
    route: Annotated[
        int, typer.Option("--route", "-r", metavar="N", help="Which of the routes that find lists.")
    ] = 1,
    confidence: Annotated[
        str | None,
        typer.Option(
            "--confidence",
            metavar="PERCENT",
            help="Start with enough to reach the amount so often, such as 90; typical yields "
            "otherwise.",
        ),
    ] = None,
    start: Annotated[
        str | None, typer.Option("--start", metavar="DATE", help="First day, such as 2026-11-28.")
    ] = None,
    hours: Annotated[
        str | None,
        typer.Option("--hours", metavar="HOURS", help="'Saturday and Sunday, 9 to 17'."),
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", metavar="VOLUME", help="Air of the room: '30 m3'.")
    ] = None,
    air_changes: Annotated[
        float | None,
        typer.Option("--air-changes", metavar="N", help="How often an hour its air is changed."),
    ] = None,
    heater: Annotated[
        str | None,
        typer.Option(
            "--heater",
            metavar="POWER",
            help="For liquids, instead of the bench's: '1.5 kW' or '1.5 kW at 40 %'.",
        ),
    ] = None,
    fill: Annotated[
        list[str] | None,
        typer.Option(
            "--fill",
            metavar="STEP=SHARE",
            help="How full a step's vessel may be: '2=85 %' (repeat); fewer batches, more care.",
        ),
    ] = None,
    tools: Annotated[
        list[str] | None,
        typer.Option(
            "--with",
            metavar="STEP=TOOL",
            help="What a step is to be done with, of your bench: 'step 2 = drying oven' (repeat).",
        ),
    ] = None,
    energy_price: Annotated[
        str | None,
        typer.Option("--energy-price", metavar="PRICE", help="Price of a kWh: '0.30 USD/kWh'."),
    ] = None,
    hourly: Annotated[
        float | None,
        typer.Option("--hourly", metavar="MONEY", help="What an hour of your work is worth."),
    ] = None,
    explain: Annotated[
        list[str] | None,
        typer.Option(
            "--explain",
            metavar="FIGURE",
            help="The arithmetic behind a figure instead: 'mass:1', 'start:soda ash', 'cost' "
            "(repeat).",
        ),
    ] = None,
    try_first: Annotated[
        bool,
        typer.Option(
            "--try-first",
            help="What a small trial of each step would save on the large batch, instead.",
        ),
    ] = False,
    to: Annotated[
        list[Path] | None,
        typer.Option(
            "--to",
            "-o",
            metavar="FILE",
            help="Write it to a file instead: .html (the printable dossier), .pdf, .md, .csv, "
            ".json (repeat for several).",
        ),
    ] = None,
    force: o.Force = False,
    json_out: o.JsonOut = False,
    *,
    asked: dict[str, Any],
) -> None:
    """Plan a route: how sure, shopping, batches, heat, gas, time, money and what is left over."""
    if route < 1:
        raise InputError(f"--route is {route}; the routes are numbered from 1")
    from routefinder.view import text
    from routefinder.worksheet import terms

    given: dict[str, Any] = {
        "confidence": confidence, "start": start, "hours": hours, "room": room,
        "air_changes": air_changes, "heater": heater, "energy_price": energy_price,
        "hourly": hourly, "fill": fill or (), "tools": tools or (),
    }  # fmt: skip
    terms.read(**given)  # what cannot be used is told before the search, not after it
    if to:
        if explain:
            raise InputError("--explain prints to the terminal; leave --to out")
        from routefinder.view import plan_files

        for path in to:
            plan_files.check(path, force)
    asked["top"] = max(asked["top"], route)
    found = o.find_with(target, **asked)
    if not found.routes:
        o.show(found, json_out)
        raise typer.Exit(1)
    made = found.plan(route, **given)
    if try_first:
        from routefinder.journal.trial import trials
        from routefinder.view import trial_text

        sure = made.start.confidence or 0.9
        rows = trials(made.library, made.amounts, made.spent.currency, sure)
        if json_out:
            o.echo_json(trial_text.as_json(rows))
        else:
            trial_text.print_trials(rows, text.console())
        return
    if to:
        for path in to:
            plan_files.write(made, found, path, force)
            typer.echo(f"Wrote the plan of route {route}: {path}")
        return
    if not explain and not json_out:
        titles = [a.step.title for a in made.amounts.steps]
        for note in text.of_your_runs(found.notes, titles):
            text.say(text.console(), f"Note: {note}.", 0, 2)
    _show(made, explain or [], json_out)


def _show(made: Plan, explain: list[str], json_out: bool) -> None:
    from routefinder.view import explain as figures
    from routefinder.view import plan_text, text

    reasons = [r for figure in explain for r in figures.explain(made, figure)]
    if json_out:
        from routefinder.view import plan_json

        data = plan_json.reasons(reasons) if explain else plan_json.plan(made)
        o.echo_json(data)
    elif explain:
        plan_text.print_reasons(reasons, text.console())
    else:
        plan_text.print_plan(made, text.console())
