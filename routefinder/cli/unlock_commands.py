"""Commands about what is not at hand: unlock."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from routefinder.cli import options as o
from routefinder.cli.takes_question import takes_question


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("unlock")(unlock)


@takes_question("top", "reuse", "non_dominated", "measures", seconds=30.0)
def unlock(
    target: o.Target,
    most: Annotated[
        int, typer.Option("--most", metavar="N", help="How many things at once, 1 to 4.")
    ] = 2,
    top: Annotated[
        int, typer.Option("--top", "-n", metavar="N", help="How many sets of each size.")
    ] = 5,
    json_out: o.JsonOut = False,
    *,
    asked: dict[str, Any],
) -> None:
    """What to buy, get or allow for a route, or a better one, and what it brings.

    Materials and kinds of equipment of the library, figures of tools at hand and your own limits:
    first what one alone opens, then the smallest sets. A set is listed only if nothing smaller
    opens as good a route in the order asked for (--by). Must-haves of --prefer are limits here;
    --different lists one route of each way, --use-up only routes that use the material.
    """
    from routefinder.api import find as api
    from routefinder.view import unlock_text

    name, amount = o.name_and_amount(target, asked.pop("amount"))
    with o.searching():
        found = api.unlock(name, amount, most=most, top=top, **o.for_search(asked))
    if json_out:
        o.echo_json(unlock_text.as_data(found))
    else:
        from routefinder.view import text

        unlock_text.print_unlocked(found, text.console())
    if not found.openings and not found.wider and found.today is None:
        raise typer.Exit(1)
