"""The options that commands share, written once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.api.shown import ShownAnswer

Target = Annotated[
    list[str],
    typer.Argument(
        help="Name, trade name, formula or CAS number of what is wanted.", metavar="TARGET"
    ),
]
MaybeTarget = Annotated[
    list[str] | None,
    typer.Argument(
        help="Name, trade name, formula or CAS number of what is wanted; asked for in a terminal.",
        metavar="TARGET",
    ),
]
Amount = Annotated[
    str,
    typer.Option("--amount", "-a", metavar="AMOUNT", help="How much, such as '250 g' or '2 mol'."),
]
ShelfFile = Annotated[
    Path | None,
    typer.Option("--shelf", metavar="FILE",
                 help="CSV or YAML of materials at hand; without it everything in the library "
                 "can be bought."),
]  # fmt: skip
BenchFile = Annotated[
    Path | None,
    typer.Option(
        "--bench",
        metavar="FILE",
        help="YAML of equipment at hand; without it needs are only listed.",
    ),
]
Order = Annotated[
    str,
    typer.Option(
        "--by", metavar="ORDER", help="Order: balanced, cost, yield, time, hazard or steps."
    ),
]
Top = Annotated[int, typer.Option("--top", "-n", metavar="N", help="How many routes.")]
MaxTemperature = Annotated[
    str | None,
    typer.Option(
        "--max-temperature", metavar="TEMPERATURE", help="Set hotter steps aside: '250 degC'."
    ),
]
Avoid = Annotated[
    list[str] | None,
    typer.Option("--avoid", metavar="NAME", help="A substance or step to do without (repeat)."),
]
Use = Annotated[
    list[str] | None,
    typer.Option("--from", metavar="NAME", help="A substance that must be used (repeat)."),
]
UseUp = Annotated[
    str | None,
    typer.Option(
        "--use-up",
        metavar="NAME",
        help="A material on the shelf: routes that take most of it come first.",
    ),
]
MaxHazard = Annotated[
    list[str] | None,
    typer.Option(
        "--max-hazard", metavar="LIMIT", help="'3' for every aspect, or 'toxic 2' (repeat); 0 to 4."
    ),
]
MaxSteps = Annotated[
    int | None, typer.Option("--max-steps", metavar="N", help="Steps a route may have.")
]
MaxTime = Annotated[
    str | None, typer.Option("--max-time", metavar="TIME", help="Elapsed time: '3 days'.")
]
Budget = Annotated[
    float | None,
    typer.Option("--budget", metavar="MONEY", help="Money for materials, in the shelf's currency."),
]
NoLicence = Annotated[
    bool,
    typer.Option("--no-licence", help="Set aside what needs a licensed material (see README)."),
]
Different = Annotated[
    bool,
    typer.Option(
        "--different",
        help="Only the best route of each way: every further one goes through other key "
        "intermediates.",
    ),
]
Reuse = Annotated[
    bool,
    typer.Option("--reuse", help="Feed by-products back: what that saves on each route."),
]
Measures = Annotated[
    str | None,
    typer.Option(
        "--measures",
        metavar="LIST",
        help="What counts: some of yield, cost, time, work, hazard, missing, waste, peak, steps.",
    ),
]
NonDominated = Annotated[
    bool,
    typer.Option(
        "--non-dominated",
        help="Search for the routes that no other dominates in these measures, not for the best "
        "by --by.",
    ),
]
MayLack = Annotated[
    int,
    typer.Option(
        "--may-lack", metavar="N", help="Let a route need up to N things that the bench lacks."
    ),
]
Prefer = Annotated[
    str | None,
    typer.Option(
        "--prefer",
        metavar="WISHES",
        help="Weights, ends and must-haves: 'yield 3 from 40 % to 90 %, hazard 2, time at most "
        "3 days'.",
    ),
]
StepCost = Annotated[
    float,
    typer.Option(
        "--step-cost", metavar="MONEY",
        help="With --by cost: what each step is charged beside its materials (heat, filters, "
        "gloves; our assumption, set your own).",
    ),
]  # fmt: skip
Libraries = Annotated[
    list[Path] | None,
    typer.Option("--library", metavar="DIR", help="A library folder to add (repeat)."),
]
OnlyLibrary = Annotated[bool, typer.Option("--only-library", help="Leave the shipped library out.")]
Seconds = Annotated[float, typer.Option("--seconds", metavar="S", help="Time limit of the search.")]
MyYields = Annotated[
    bool,
    typer.Option(
        "--my-yields/--no-my-yields", help="Let your journal's runs sharpen the yields (shown)."
    ),
]
JournalFile = Annotated[
    Path | None,
    typer.Option(
        "--journal",
        metavar="FILE",
        help="The journal's file; else ROUTEFINDER_JOURNAL, else one in your user data folder.",
    ),
]
JsonOut = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]


def hazard_limits(texts: list[str] | None) -> dict[str, int]:
    """Read '3' or 'toxic 2' as limits per aspect."""
    out: dict[str, int] = {}
    for text in texts or ():
        parts = text.replace("=", " ").replace(":", " ").split()
        if not parts or not parts[-1].lstrip("-").isdigit() or len(parts) > 2:
            raise InputError(f"--max-hazard {text!r} is not a limit; write '3' or 'toxic 2'")
        aspect = parts[0] if len(parts) == 2 else "any"
        if aspect in out and out[aspect] != int(parts[-1]):
            raise InputError(f"--max-hazard names {aspect!r} twice with different points")
        out[aspect] = int(parts[-1])
    return out


def with_personal(libraries: list[Path] | None, only_library: bool = False) -> list[Path]:
    """The libraries named, after your own where there is one; says so on stderr."""
    from routefinder.library import where
    from routefinder.library.load import library_files

    named = list(libraries or ())
    own = where.personal_library()
    if only_library or own is None or not own.is_dir() or not library_files(own):
        return named
    if any(path.resolve() == own.resolve() for path in named):
        return named
    typer.echo(f"With your own library {own}.", err=True)
    return [own, *named]


def own_journal(named: Path | None) -> Path | None:
    """The journal to learn from: the one named, else the usual one if there is one."""
    from routefinder.library.where import journal_file

    if named is not None:
        return named
    usual = journal_file()
    return usual if usual.is_file() else None


def front_of(measures: str | None, non_dominated: bool) -> str | None:
    """The measures of a non-dominated search, or None when none was asked for."""
    from routefinder.choice import measures as named

    if not non_dominated:
        return None
    return measures if measures is not None else ",".join(map(named.word, named.DEFAULT))


AMOUNT = "100 g"  # when nothing is said


def name_and_amount(words: list[str], amount: str) -> tuple[str, str]:
    """The wanted name, and the amount, which may also stand at its end: "copper acetate 250 g".

    Raises InputError when both are given and differ.
    """
    from routefinder.units import FACTORS

    name = " ".join(words)
    units = "|".join((*FACTORS["mass"], *FACTORS["amount"], *FACTORS["volume"]))
    ends = re.fullmatch(rf"(.+?) (\d[\d.,]* ?(?:{units}))", name)
    if ends is None:
        return name, amount
    if amount not in (AMOUNT, ends[2]):
        raise InputError(f"the amount is given twice, {ends[2]!r} and --amount {amount!r}")
    return ends[1], ends[2]


def for_search(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Options as ``find`` takes them: lists for None, limits read, your own library added."""
    given = dict(asked)
    given["avoid"] = given.get("avoid") or ()
    given["use"] = given.get("use") or ()
    given["libraries"] = with_personal(given.get("libraries"), given.get("only_library", False))
    given["max_hazard"] = hazard_limits(given.get("max_hazard"))
    return given


def find_with(target: list[str], amount: str, **given: Any) -> ShownAnswer:
    """Call ``find`` with what the command line gave."""
    from routefinder.api.find import find

    name, amount = name_and_amount(target, amount)
    wanted = given.pop("my_yields", True)
    journal = given.pop("journal", None)
    given["journal"] = own_journal(journal) if wanted else None
    front = front_of(given.pop("measures", None), given.pop("non_dominated", False))
    given = for_search({**given, "non_dominated": front})
    with searching():
        return find(name, amount, **given)


@contextmanager
def searching() -> Iterator[None]:
    """Say on the error stream how far a search is once it takes over a second."""
    import sys
    import time

    from routefinder.cli.progress import Ticker
    from routefinder.search.progress import listen

    ticker = Ticker(sys.stderr, time.monotonic)

    def report(routes: int, nodes: int, bound: float) -> None:
        ticker.say(
            f"searching: routes proven {routes}, branches tried {nodes}; Ctrl-C ends it with what "
            "there is"
        )

    try:
        with listen(report):
            yield
    finally:
        ticker.wipe()


def show(found: ShownAnswer, json_out: bool, route: int = 1) -> None:
    """Print an answer, in words or as JSON."""
    if json_out:
        import json

        typer.echo(json.dumps(found.json(), indent=2, ensure_ascii=False))
        return
    from routefinder.view import text

    text.print_answer(found, text.console(), route)
