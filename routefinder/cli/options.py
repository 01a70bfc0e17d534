"""The options that commands share, written once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.asking.fields import BY_NAME
from routefinder.errors import InputError
from routefinder.hidden import visible_json

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


def option(name: str) -> Any:
    """The option of a field of a question."""
    field = BY_NAME[name]
    return typer.Option(*field.options, metavar=field.metavar, help=field.help)


ShelfFile = Annotated[Path | None, option("shelf")]
BenchFile = Annotated[Path | None, option("bench")]
Top = Annotated[int, option("top")]
Libraries = Annotated[list[Path] | None, option("libraries")]
OnlyLibrary = Annotated[bool, option("only_library")]
JournalFile = Annotated[Path | None, option("journal")]
Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]
JsonOut = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]


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


AMOUNT = BY_NAME["amount"].default  # when nothing is said


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
    """Options as ``find`` takes them: your own library added, your journal if it is to count."""
    given = dict(asked)
    given["libraries"] = with_personal(given.get("libraries"), given.get("only_library", False))
    wanted = given.pop("my_yields", False)
    journal = given.pop("journal", None)
    if wanted:
        given["journal"] = own_journal(journal)
    return given


def find_with(target: list[str], amount: str, **given: Any) -> ShownAnswer:
    """Call ``find`` with what the command line gave."""
    from routefinder.api.find import find

    name, amount = name_and_amount(target, amount)
    given = for_search(given)
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


def echo_json(data: Any) -> None:
    """Print JSON: nothing hidden, no NaN, escapes where the output has not all characters."""
    import json
    import sys

    encoding = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "")
    text = json.dumps(data, indent=2, ensure_ascii=encoding != "utf8", allow_nan=False)
    typer.echo(visible_json(text))


def show(found: ShownAnswer, json_out: bool, route: int = 1) -> None:
    """Print an answer, in words or as JSON."""
    if json_out:
        echo_json(found.json())
        return
    from routefinder.view import text

    text.print_answer(found, text.console(), route)
