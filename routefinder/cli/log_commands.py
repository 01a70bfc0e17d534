"""The journal's commands: log start, weigh, note, show, today, correct, yields, export, import."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder import files
from routefinder.cli import options as o
from routefinder.cli.takes_question import takes_question
from routefinder.cli.weigh_command import Moisture, Of, Part, Reads, Strength
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError, JournalFault

if TYPE_CHECKING:
    from routefinder.journal.book import Book, StepBook
    from routefinder.journal.store import Store
    from routefinder.library.library import Library

MOST_PHOTO_BYTES = 500_000_000
log = typer.Typer(
    name="log",
    help="The journal: what really happened at the bench. A run is one making of one amount.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
SLIP = 1.5  # so many times the plan, or so many times less, and one is asked whether it is a slip
JournalFile = o.JournalFile
RunNumber = Annotated[
    int | None, typer.Option("--run", "-r", metavar="N", help="The run; else the last open one.")
]
StepName = Annotated[
    str, typer.Argument(metavar="STEP", help="Number of a step in the run, or its id.")
]
When = Annotated[
    str | None,
    typer.Option("--at", metavar="TIME", help="When it was: '14:30' today, or '2026-11-28 14:30'."),
]
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Do it without asking.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (
        start, weigh, keep, begin, end, temp, note, photo, fail, finish, correct, show, today,
        yields, replan, report,
    ):  # fmt: skip
        log.command(command.__name__)(command)
    log.command("export")(export_)
    log.command("import")(import_)
    app.add_typer(log)


def open_store(path: Path | None, create: bool = False) -> Store:
    """The journal that a command means."""
    from routefinder.journal.store import Store
    from routefinder.library.where import journal_file

    return Store(path or journal_file(), create=create)


def open_run(store: Store, number: int | None) -> Book:
    """The run that a command means: the one named, else the last that is not finished.

    Raises InputError when none is open.
    """
    from routefinder.journal.book import open_book

    if number is not None:
        return open_book(store, number)
    for run in reversed(store.runs()):
        try:
            book = open_book(store, run.run)
        except JournalFault as error:
            typer.echo(f"routefinder: {error}", err=True)
            continue
        if not book.finished:
            return book
    raise InputError("no run is open; begin one with 'routefinder log start'")


def readable(store: Store) -> list[Book]:
    """All runs that can be read; says on stderr what is wrong with the others."""
    from routefinder.journal.book import open_books

    books, faults = open_books(store)
    for fault in faults:
        typer.echo(f"routefinder: {fault}", err=True)
    return books


def library_of(book: Book) -> Library:
    """The library that a run was planned with."""
    from routefinder.asking.library import load_library
    from routefinder.journal.book import library_folders

    folders, only = library_folders(book.run)
    return load_library(folders, only)


def happened(text: str | None) -> str | None:
    """Read '14:30' or '2026-11-28 14:30' as a moment of the local clock.

    Raises InputError for another form.
    """
    if text is None:
        return None
    from datetime import datetime

    now = datetime.now().astimezone()
    words = text.strip()
    try:
        if len(words) <= 5:
            clock = datetime.strptime(words, "%H:%M").time()
            moment = datetime.combine(now.date(), clock).astimezone()
        else:
            moment = datetime.fromisoformat(words).astimezone()
    except ValueError:
        raise InputError(f"--at {text!r} is no time; write '14:30' or '2026-11-28 14:30'") from None
    if moment > now:
        raise InputError(f"--at {text!r} lies ahead of now")
    return moment.isoformat(timespec="seconds")


def confirm(book: Book, step: StepBook | None, words: str, entry: int | None = None) -> None:
    """Say what was understood, and under which number it stands."""
    where = f"run {book.run.run}" + (f", step {step.number}" if step else "")
    number = f"  [entry {entry}]" if entry else ""
    typer.echo(f"{where}, {words}{number}")


@takes_question("different", "reuse", "non_dominated", "measures")
def start(
    target: o.Target,
    route: Annotated[
        int, typer.Option("--route", metavar="N", help="Which route of 'find' to take.")
    ] = 1,
    *,
    asked: dict[str, Any],
) -> None:
    """Begin a run: find the routes as 'find' does, and plan one of them."""
    from routefinder import digits
    from routefinder.journal.book import plan_data
    from routefinder.view import text

    if route < 1:
        raise InputError(f"--route is {route}; routes count from 1")
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
    data = plan_data(
        found.library, chosen.assessment, chosen.name,
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
    for i, step in enumerate(data["steps"], start=1):
        typer.echo(f"  step {i}: {step['title']}")
    text.print_disclaimer(text.console())


def weigh(
    step: StepName,
    into: Annotated[
        str | None, typer.Option("--in", metavar="MASS", help="What went in: '401.7 g'.")
    ] = None,
    out: Annotated[
        str | None, typer.Option("--out", metavar="MASS", help="What came out: '151.2 g'.")
    ] = None,
    of: Of = None,
    strength: Strength = None,
    reads: Reads = None,
    part: Part = None,
    wet: Annotated[bool, typer.Option("--wet", help="Not dry yet: a provisional weight.")] = False,
    moisture: Moisture = None,
    more: Annotated[
        bool, typer.Option("--more", help="A further batch or crop: added to the weights before.")
    ] = False,
    at: When = None,
    run: RunNumber = None,
    yes: Yes = False,
    no_shelf: Annotated[
        bool, typer.Option("--no-shelf", help="Leave the shelf file alone.")
    ] = False,
    journal: JournalFile = None,
) -> None:
    """Log what was weighed in or out of a step, and say what it means."""
    from routefinder import digits, units
    from routefinder.journal import shelf_books
    from routefinder.journal.account import verdict
    from routefinder.journal.book import open_book
    from routefinder.journal.weight import read_mass
    from routefinder.library.shelf import read_bench
    from routefinder.view import text, weigh_text

    if into is None and out is None:
        raise InputError("nothing was weighed; give --in, --out or both")
    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step)
        library = library_of(book)
        bench_file = book.run.data.get("bench")
        bench = None
        if bench_file and Path(bench_file).exists():
            bench = read_bench(Path(bench_file), library)
        rows: list[tuple[str, str | None, dict[str, Any], int | None]] = []
        words = []
        taken: dict[str, Any] | None = None
        if into is not None:
            reading = read_mass(into, reads, bench)
            taken = charge_data(library, book, own, reading, of, strength)
            taken["more"] = more
            rows.append(("in", own.id, taken, None))
            words.append(f"in {_grams(reading)} {taken['name']}")
        if out is not None:
            reading = read_mass(out, reads, bench)
            rows.append(("out", own.id, {
                "grams": reading.grams, "reads_g": reading.reads_g, "more": more,
                "wet": wet or moisture is not None,
                "moisture": units.read_fraction(moisture) if moisture else None,
                "part": units.read_fraction(part) if part else None,
            }, None))  # fmt: skip
            words.append(f"out {_grams(reading)}" + (" wet" if wet else ""))
        entries = store.add_all(book.run.run, rows, happened=when)
        book = open_book(store, book.run.run)
        own = book.step(step)
        found = verdict(library, book, own) if out is not None else None
        said = f": {found[0].short}" if found else ""
        confirm(book, own, ", ".join(words) + said, entries[-1].entry)
        if found is not None:
            console = text.console()
            if found[1] == "plan":
                typer.echo("  (nobody weighed what went in: the plan's amount counts)")
            weigh_text.print_verdict(found[0], console)
        elif out is None and taken is not None:
            planned = next((f for f in own.plan["feeds"] if f.get("name") == taken["name"]), None)
            if planned is not None:
                typer.echo(f"  planned: {digits.mass(planned['as_weighed_g'])}")
                times = taken["grams"] / planned["as_weighed_g"] if planned["as_weighed_g"] else 1.0
                if not 1 / SLIP < times < SLIP:
                    typer.echo(f"  that is {times:.2g} times the plan: if it is a slip, correct it "
                               "(log correct); if not, go no further before it is clear what it "
                               "changes")  # fmt: skip
        if taken is not None and not no_shelf:
            said = shelf_books.offer_taking(store, book, own, entries[0], library, yes, _asked)
            if said:
                typer.echo(f"  {said}")


def keep(
    step: StepName, run: RunNumber = None, yes: Yes = False, journal: JournalFile = None
) -> None:
    """Put what a step made on the shelf file of the run (asked first, the old file is kept)."""
    from routefinder.journal import shelf_books

    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step)
        outs = [e for e in book.entries if e.kind == "out" and e.step == own.id]
        if not outs:
            raise InputError(f"nothing came out of step {own.number} yet")
        said = shelf_books.offer_adding(store, book, own, outs[-1], library_of(book), yes, _asked)
        confirm(book, own, said)


def _asked(question: str) -> bool | None:
    """Ask at the terminal; None when nobody can answer."""
    import sys

    if not sys.stdin.isatty():
        return None
    return typer.confirm(question, default=False)


def _grams(reading: Any) -> str:
    places = max(0, -_exponent(reading.reads_g))
    return f"{reading.grams:.{places}f} g"


def _exponent(value: float) -> int:
    import math

    return math.floor(math.log10(value) + 1e-9)


def charge_data(
    library: Library,
    book: Book,
    own: StepBook,
    reading: Any,
    of: str | None,
    strength: str | None,
) -> dict[str, Any]:
    """What an entry "in" holds: which thing of the plan it is, and how pure.

    Raises InputError for what the step does not take, or a strength out of range.
    """
    from routefinder import units

    feeds = own.plan["feeds"]
    chosen: dict[str, Any] | None = None
    if of is None:
        limiting = library.steps[own.id].limiting.substance if own.id in library.steps else ""
        chosen = next((f for f in feeds if f["substance"] == limiting), feeds[0])
    else:
        wanted = of.casefold()
        known = [f for f in feeds if "name" in f]
        exact = [f for f in known if f["name"].casefold() == wanted or f["material"] == wanted]
        near = [f for f in known if wanted in f["name"].casefold()]
        if exact or len(near) == 1:
            chosen = (exact or near)[0]
        else:
            ids = library.material_names.find(of)
            chosen = next((f for f in known if f["material"] in ids), None)
        if chosen is None:
            substance = library.substance(of)
            for feed in feeds:
                if library.root(feed["substance"]) == library.root(substance.id):
                    chosen = {
                        "substance": feed["substance"], "form": substance.id,
                        "role": feed["role"], "name": substance.name, "purity": 1.0, "low": 1.0,
                        "high": 1.0,
                    }  # fmt: skip
        if chosen is None:
            names = ", ".join(f["name"] for f in known if not f.get("everywhere"))
            raise InputError(f"step {own.number} takes no {of!r}; by its plan it takes {names}")
    if "from_step" in chosen:
        maker = book.step(chosen["from_step"])
        chosen = {**chosen, "name": f"from step {maker.number}", "purity": 1.0, "low": 1.0,
                  "high": 1.0}  # fmt: skip
    w, low, high = chosen["purity"], chosen["low"], chosen["high"]
    if strength is not None:
        w = low = high = units.read_fraction(strength)
        if not 0 < w <= 1:
            raise InputError(f"the strength {strength!r} must lie above 0 and up to 100 %")
    return {
        "name": chosen["name"], "form": chosen["form"], "role": chosen["role"],
        "grams": reading.grams, "reads_g": reading.reads_g, "purity": w, "low": low, "high": high,
        "stated": "material" in chosen or strength is not None,
        "material": chosen.get("material"),
    }  # fmt: skip


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
            reading = read_mass(mass)
            data |= {"grams": reading.grams, "reads_g": reading.reads_g}
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


def show(
    run: Annotated[
        int | None, typer.Argument(metavar="RUN", help="A run; all runs in short without it.")
    ] = None,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
) -> None:
    """Show the runs, or one run with plan, weights and entries."""
    from routefinder.journal import exchange
    from routefinder.journal.account import verdict
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
        said = {}
        for step in book.steps:
            found = verdict(library, book, step) if step.id in library.steps else None
            if found is not None:
                said[step.id] = found[0].short
        journal_text.print_book(book, said, console)


def today(journal: JournalFile = None, at: When = None) -> None:
    """What is due, what spoils next and what can rest, over all open runs."""
    from datetime import datetime

    from routefinder.journal import today as todays
    from routefinder.journal.store import moment
    from routefinder.view import journal_text, text

    when = happened(at)
    now = moment(when) if when else datetime.now().astimezone()
    due: list[Any] = []
    lying: list[Any] = []
    with open_store(journal) as store:
        for book in readable(store):
            if book.finished:
                continue
            found = todays.today(library_of(book), [book], now)
            due += found.due
            lying += found.lying
    journal_text.print_today(todays.merged(now, due, lying), text.console())


def yields(
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
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
    run: RunNumber = None,
    json_out: o.JsonOut = False,
    journal: JournalFile = None,
) -> None:
    """The best ways on from what is really there, with the new chance of reaching the amount."""
    from routefinder.asking import answering
    from routefinder.journal import replan as replans
    from routefinder.journal.book import plan_data
    from routefinder.library.shelf import read_bench, read_shelf, shops
    from routefinder.view import replan_text, text

    with open_store(journal) as store:
        book = open_run(store, run)
        library = library_of(book)
        shelf_file, bench_file = book.run.data.get("shelf"), book.run.data.get("bench")
        shelf = read_shelf(Path(shelf_file), library) if shelf_file else shops(library)
        bench = read_bench(Path(bench_file), library) if bench_file else None

        def search(question: Any) -> list[tuple[str, Any]]:
            found = answering.answer(library, question)
            return [(r.name, r.assessment) for r in found.routes]

        found = replans.replan(library, book, shelf, bench, search, tuple(without or ()))
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
    files.write(to, words, force=force)
    typer.echo(f"Report: {to}")
