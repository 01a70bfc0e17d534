"""The journal's commands: log start, weigh, note, show, today, correct, yields, export, import."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder import files
from routefinder.cli import options as o
from routefinder.cli.log_base import (
    AnyTime,
    JournalFile,
    RunNumber,
    StepName,
    When,
    Yes,
    any_time,
    confirm,
    happened,
    library_of,
    open_run,
    open_store,
    readable,
)
from routefinder.cli.log_test_command import log_test
from routefinder.cli.log_weigh_commands import asked_back, gone, keep, strength, weigh
from routefinder.cli.takes_question import takes_question
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.journal.book import Book
    from routefinder.journal.store import Store

MOST_PHOTO_BYTES = 500_000_000
log = typer.Typer(
    name="log",
    help="The journal: what really happened at the bench. A run is one making of one amount.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (
        start, weigh, strength, keep, gone, begin, end, temp, note, photo, fail, finish, correct,
        undo, show, today, yields, replan, report,
    ):  # fmt: skip
        log.command(command.__name__)(command)
    log.command("test")(log_test)
    log.command("export")(export_)
    log.command("import")(import_)
    app.add_typer(log)


@takes_question("different", "reuse", "non_dominated", "measures")
def start(
    target: o.Target,
    route: Annotated[
        int, typer.Option("--route", metavar="N", help="Which route of 'find' to take.")
    ] = 1,
    confidence: Annotated[
        str | None,
        typer.Option(
            "--confidence",
            metavar="PERCENT",
            help="Start with what 'plan --confidence' starts with, such as 90.",
        ),
    ] = None,
    *,
    asked: dict[str, Any],
) -> None:
    """Begin a run: find the routes as 'find' does, and plan one of them as 'plan' does."""
    from routefinder import digits
    from routefinder.journal.book import plan_data
    from routefinder.view import text
    from routefinder.worksheet import terms

    if route < 1:
        raise InputError(f"--route is {route}; routes count from 1")
    terms.read(confidence=confidence)  # what cannot be used is told before the search
    shelf, bench, journal = asked["shelf"], asked["bench"], asked["journal"]
    asked["top"] = max(asked["top"], route)
    asked["journal"] = journal if journal and journal.is_file() else None
    found = o.find_with(target, **asked)
    if not found.routes:
        text.print_answer(found, text.console())
        raise typer.Exit(1)
    if route > len(found.routes):
        raise InputError(f"there is no route {route}; {len(found.routes)} were found")
    chosen = found.routes[route - 1]
    planned = None if confidence is None else found.plan(route, confidence=confidence).amounts
    data = plan_data(
        found.library, chosen.assessment, chosen.name, planned=planned,
        shelf=str(shelf.resolve()) if shelf else "", bench=str(bench.resolve()) if bench else "",
        libraries=tuple(
            str(Path(p).resolve())
            for p in o.with_personal(asked["libraries"], asked["only_library"])
        ), only_library=asked["only_library"],
        order=asked["by"],
    )  # fmt: skip
    with open_store(journal, create=True) as store:
        run = store.start(data)
    n = len(data["steps"])
    typer.echo(
        f"run {run.run}: {digits.mass(data['target_g'])} {data['target_name']} by route {route} "
        f"({n} step{'s' if n > 1 else ''}): {chosen.name}"
    )
    if planned is not None:
        typer.echo(
            f"  planned for {digits.mass(planned.target_g)}, so that {confidence} of 100 such runs "
            f"reach {digits.mass(data['target_g'])}".replace("%", "")
        )
    for note in text.of_your_runs(found.notes, [s["title"] for s in data["steps"]]):
        typer.echo(f"  {note}")
    for i, step in enumerate(data["steps"], start=1):
        typer.echo(f"  step {i}: {step['title']}")
    text.print_disclaimer(text.console())


def _simple(
    kind: str,
    step: str | None,
    data: dict[str, Any],
    words: str,
    at: str | None,
    run: int | None,
    journal: Path | None,
) -> None:
    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step) if step is not None else None
        entry = store.add(book.run.run, kind, own.id if own else None, data, happened=when)
        confirm(book, own, words, entry.entry)


def begin(
    step: StepName, at: When = None, run: RunNumber = None, journal: JournalFile = None
) -> None:
    """Log that a step has begun."""
    _simple("begin", step, {}, "begun", at, run, journal)


def end(
    step: StepName, at: When = None, run: RunNumber = None, journal: JournalFile = None
) -> None:
    """Log that a step is done (for what is not weighed, such as a solution)."""
    _simple("end", step, {}, "done", at, run, journal)


def temp(
    step: StepName,
    temperature: Annotated[str, typer.Argument(metavar="TEMPERATURE", help="Such as '65 degC'.")],
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log a temperature."""
    from routefinder import units

    value = units.read(temperature, "temperature")
    _simple("temperature", step, {"temperature_C": value}, f"{value:g} °C", at, run, journal)


OfStep = Annotated[
    str | None, typer.Option("--step", "-s", metavar="STEP", help="The step it belongs to.")
]


def note(
    words: Annotated[list[str], typer.Argument(metavar="WORDS", help="What you saw.")],
    step: OfStep = None,
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log a remark."""
    text = " ".join(words).strip()
    if not text:
        raise InputError("the note is empty")
    _simple("note", step, {"words": text}, f"note: {text}", at, run, journal)


def photo(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="A picture; its path is kept.")],
    step: OfStep = None,
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log a photo by its path (the picture stays where it is)."""
    import hashlib

    from routefinder.journal.pictures import need_picture

    need_picture(path)
    digest = hashlib.sha256(files.read(path, most=MOST_PHOTO_BYTES)).hexdigest()
    data = {"path": str(path.resolve()), "sha256": digest}
    _simple("photo", step, data, f"photo {path}", at, run, journal)


def fail(
    step: StepName,
    words: Annotated[list[str], typer.Argument(metavar="WHY", help="What went wrong.")],
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log that a step gave nothing; it counts as a failure in your yields."""
    text = " ".join(words).strip() or "no reason given"
    _simple("failed", step, {"words": text}, f"FAILED: {text}", at, run, journal)


def finish(at: When = None, run: RunNumber = None, journal: JournalFile = None) -> None:
    """Close a run."""
    _simple("finished", None, {}, "finished", at, run, journal)


def undo(run: RunNumber = None, yes: Yes = False, journal: JournalFile = None) -> None:
    """Take back the last entry of a run; it stays readable, and can be entered again."""
    from routefinder.journal.book import open_book
    from routefinder.view import journal_text

    with open_store(journal) as store:
        book = open_run(store, run, last=True)
        standing = [e for e in store.standing(book.run.run) if e.kind != "shelf"]
        if not standing:
            raise InputError(f"run {book.run.run} has no entry that could be taken back")
        last = max(standing, key=lambda e: e.entry)
        new = store.add(
            book.run.run, "void", last.step, {}, happened=last.happened, corrects=last.entry
        )
        book = open_book(store, book.run.run)
        own = next((s for s in book.steps if s.id == last.step), None)
        was = journal_text.entry_words(last.kind, last.data)
        confirm(book, own, f"taken back (was: {was})", new.entry)
        _set_shelf_right(store, book, last.entry, yes)


def _set_shelf_right(store: Store, book: Book, entry: int, yes: bool) -> None:
    from routefinder.journal import shelf_books
    from routefinder.journal.book import first_of

    first = first_of(book.entries).get(entry, entry)
    said = shelf_books.offer_back(store, book, first, library_of(book), yes, asked_back)
    if said:
        typer.echo(f"  {said}")


def correct(
    entry: Annotated[
        int, typer.Argument(metavar="ENTRY", help="Number of the entry ('log show').")
    ],
    mass: Annotated[
        str | None,
        typer.Option("--mass", "--out", "--in", metavar="MASS", help="The right weight."),
    ] = None,
    words: Annotated[str | None, typer.Option("--words", help="The right words.")] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help="The right temperature.")
    ] = None,
    dry: Annotated[bool, typer.Option("--dry", help="The weight was dry.")] = False,
    wet: Annotated[bool, typer.Option("--wet", help="The weight was wet.")] = False,
    at: Annotated[str | None, typer.Option("--at", metavar="TIME", help="When it was.")] = None,
    void: Annotated[bool, typer.Option("--void", help="Take the entry back.")] = False,
    yes: Yes = False,
    journal: JournalFile = None,
) -> None:
    """Correct an entry: a new one that names the old, which stays readable."""
    from routefinder import units
    from routefinder.journal.book import open_book
    from routefinder.journal.weight import read_mass
    from routefinder.view import journal_text

    with open_store(journal) as store:
        old = store.entry(entry)
        kind, data = old.kind, dict(old.data)
        if void:
            kind, data = "void", {}
        elif mass is not None:
            if kind not in {"in", "out"}:
                raise InputError(f"entry {entry} is no weight but {kind!r}")
            rho = data.get("density_g_mL")
            if rho is None and kind == "in":
                feeds = open_book(store, old.run).step(old.step or "").plan["feeds"]
                named = (f for f in feeds if f.get("name") == data["name"])
                rho = next((f.get("density_g_mL") for f in named), None)
            reading = read_mass(mass, density_g_mL=rho, name=str(data.get("name", "")))
            data |= {"grams": reading.grams, "reads_g": reading.reads_g}
            data.pop("measured", None)
            data.pop("shelf", None)
        elif words is not None:
            if "words" not in data:
                raise InputError(f"entry {entry} has no words but is {kind!r}")
            data["words"] = words
        elif temperature is not None:
            if kind != "temperature":
                raise InputError(f"entry {entry} is no temperature but {kind!r}")
            data["temperature_C"] = units.read(temperature, "temperature")
        elif not (dry or wet or at):
            raise InputError("say what is right: --mass, --words, --temperature, --wet, --dry, "
                             "--at, or --void to take it back")  # fmt: skip
        if dry or wet:
            if kind != "out":
                raise InputError(f"entry {entry} is no weight out")
            data |= {"wet": wet, "moisture": data.get("moisture") if wet else None}
        new = store.add(
            old.run, kind, old.step, data, happened=happened(at) or old.happened, corrects=entry
        )
        book = open_book(store, old.run)
        own = next((s for s in book.steps if s.id == old.step), None)
        was = journal_text.entry_words(old.kind, old.data)
        now = journal_text.entry_words(kind, data)
        confirm(book, own, f"{now} (was: {was})", new.entry)
        if old.kind == "in" and (void or mass is not None):
            _set_shelf_right(store, book, entry, yes)


def show(
    run: Annotated[
        int | None, typer.Argument(metavar="RUN", help="A run; all runs in short without it.")
    ] = None,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
) -> None:
    """Show the runs, or one run with plan, weights and entries."""
    from routefinder.journal import exchange
    from routefinder.journal.account import account
    from routefinder.journal.book import open_book
    from routefinder.view import journal_text, text

    with open_store(journal) as store:
        if json_out:
            typer.echo(exchange.to_json(*exchange.parts(store, run)).rstrip())
            return
        console = text.console()
        if run is None:
            books = readable(store)
            journal_text.print_runs(books, console)
            if not store.runs():
                typer.echo("No runs yet; begin one with 'routefinder log start'.")
            return
        book = open_book(store, run)
        library = library_of(book)
        standing = account(library, book)
        said = {s.step.id: s.verdict.short for s in standing.states if s.verdict is not None}
        journal_text.print_book(book, said, console)


def today(journal: JournalFile = None, at: AnyTime = None) -> None:
    """What is due, what spoils next, what can rest and what is left over, over all runs."""
    from datetime import datetime

    from routefinder.journal import today as todays
    from routefinder.view import journal_text, text

    now = any_time(at) if at else datetime.now().astimezone()
    due: list[Any] = []
    lying: list[Any] = []
    with open_store(journal) as store:
        for book in readable(store):
            found = todays.today(library_of(book), [book], now)
            due += found.due
            lying += found.lying
    journal_text.print_today(todays.merged(now, due, lying), text.console())


def yields(
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="FILE", help="Draw how well past estimates held: .svg."),
    ] = None,
    force: o.Force = False,
) -> None:
    """What your runs teach about the yields, and how well past estimates held."""
    from dataclasses import asdict

    from routefinder.asking.library import load_library
    from routefinder.journal import learn
    from routefinder.journal.results import results
    from routefinder.view import journal_text, text

    with open_store(journal) as store:
        folders = list(libraries or ())
        if not folders and not only_library:  # those that the runs were planned with
            named = [Path(p) for b in readable(store) for p in b.run.data.get("libraries") or ()]
            folders = [p for p in dict.fromkeys(named) if p.is_dir()]
        library = load_library(folders, only_library)
        found = results(store, library)
    learned = learn.learn(library, found)
    held = learn.calibration(found)
    if plot is not None:
        from routefinder import files
        from routefinder.view import calibration_plot

        if plot.suffix.lower() != ".svg":
            raise InputError(f"{plot}: the picture of past estimates ends in .svg")
        files.write_page(plot, calibration_plot.page(held), force=force)
    if json_out:
        data = {"schema": "routefinder/own-yields/1", "disclaimer": DISCLAIMER,
                "steps": {k: asdict(v) for k, v in learned.items()},
                "calibration": {"pit": held.pit, "inside_80": held.inside,
                                "share": held.share}}  # fmt: skip
        o.echo_json(data)
        return
    titles = {name: library.steps[name].title for name in learned}
    journal_text.print_learned(learned, titles, held, text.console())


def export_(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="A .json or .csv file.")],
    run: RunNumber = None,
    force: o.Force = False,
    journal: JournalFile = None,
) -> None:
    """Write all runs, or one, to a JSON or CSV file; nothing is lost."""
    from routefinder.journal import exchange

    with open_store(journal) as store:
        count = exchange.export(store, path, run, force)
        left = exchange.damage(store, run)
    for said in left.values():
        typer.echo(f"routefinder: left out: {said}", err=True)
    typer.echo(f"{count} run{'s' if count != 1 else ''} written to {path}")
    if left:
        raise typer.Exit(1)


def import_(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="What 'log export' wrote.")],
    journal: JournalFile = None,
) -> None:
    """Take in runs from a file; runs that are here already are passed over."""
    from routefinder.journal import exchange

    runs, entries = exchange.read(path)  # all of it is sound before a journal is touched
    with open_store(journal, create=True) as store:
        fresh, skipped = store.put(runs, entries)
    numbers = ", ".join(map(str, fresh)) or "none"
    typer.echo(f"taken in: run {numbers}" + (f"; already here: {len(skipped)}" if skipped else ""))


def replan(
    without: Annotated[
        list[str] | None,
        typer.Option("--without", metavar="TOOL", help="Equipment that is broken (repeat)."),
    ] = None,
    take: Annotated[
        int | None,
        typer.Option(
            "--take",
            metavar="N",
            help="Go on by way N, another route: ends this run and begins one from what is there.",
        ),
    ] = None,
    at: AnyTime = None,
    run: RunNumber = None,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
) -> None:
    """The best ways on from what is really there, with the new chance of reaching the amount.

    Nothing is entered unless --take says so.
    """
    from routefinder.asking import answering
    from routefinder.journal import learn
    from routefinder.journal import replan as replans
    from routefinder.journal.book import plan_data
    from routefinder.library.shelf import read_bench, read_shelf, shops
    from routefinder.view import replan_text, text

    with open_store(journal) as store:
        book = open_run(store, run, last=True)
        library = learn.planned_yields(library_of(book), book.run.data["steps"])
        shelf_file, bench_file = book.run.data.get("shelf"), book.run.data.get("bench")
        shelf = read_shelf(Path(shelf_file), library) if shelf_file else shops(library)
        bench = read_bench(Path(bench_file), library) if bench_file else None

        def search(question: Any) -> list[tuple[str, Any]]:
            found = answering.answer(library, question)
            return [(r.name, r.assessment) for r in found.routes]

        found = replans.replan(library, book, shelf, bench, search, tuple(without or ()),
                               any_time(at) if at else None)  # fmt: skip
        chosen = replans.taken(found, take) if take is not None else None
        if json_out:
            data = {"schema": "routefinder/replan/1", "disclaimer": DISCLAIMER,
                    **replans.data(found)}  # fmt: skip
            o.echo_json(data)
        else:
            replan_text.print_replan(found, text.console())
        if chosen is not None:
            name, other = chosen
            old = book.run.data
            plan = plan_data(
                library, other, name, shelf=old.get("shelf", ""), bench=old.get("bench", ""),
                libraries=tuple(old.get("libraries", ())),
                only_library=bool(old.get("only_library")), order=old.get("order", "balanced"),
            )  # fmt: skip
            begun = store.start({**plan, "goes_on_from": book.run.run})
            way = found.options[(take or 1) - 1]
            store.add_all(book.run.run, [
                ("plan", None, {"words": way.sentence, "expected_g": found.expected_g,
                                "chance": way.chance}, None),
                ("finished", None, {"words": f"goes on as run {begun.run}"}, None),
            ])  # fmt: skip
            typer.echo(f"run {begun.run}, from what run {book.run.run} made: {name}", err=json_out)
            for i, step in enumerate(plan["steps"], start=1):
                typer.echo(f"  step {i}: {step['title']}", err=json_out)


def report(
    run: Annotated[
        int | None,
        typer.Argument(metavar="RUN", help="Number of the run; the latest without it."),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", "-o", metavar="FILE", help="An .html or .md file; else printed."),
    ] = None,
    force: o.Force = False,
    journal: JournalFile = None,
) -> None:
    """Write up a run: planned against actual, yields, time, cost, waste, photos, remarks."""
    from routefinder.journal import report as reports
    from routefinder.journal.book import open_book
    from routefinder.view import journal_text, run_report

    if to is not None:
        if to.suffix.lower() not in {".html", ".md"}:
            raise InputError(f"{to}: end the name in .html or .md")
        files.check(to, force)
    with open_store(journal) as store:
        if run is None:
            runs = store.runs()
            if not runs:
                raise InputError("no run yet; begin one with 'routefinder log start'")
            run = runs[-1].run
        book = open_book(store, run)
        lines = [journal_text.entry_line(e, book) for e in book.entries]
        found = reports.report(library_of(book), book, lines)
    if to is None:
        typer.echo(run_report.to_markdown(found))
        return
    html = to.suffix.lower() == ".html"
    words = run_report.to_html(found) if html else run_report.to_markdown(found)
    files.write_page(to, words, force=force)
    typer.echo(f"Report: {to}")
