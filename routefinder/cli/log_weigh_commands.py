"""The journal's commands about what is weighed and measured: log weigh, strength, keep, gone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli.log_base import (
    JournalFile,
    RunNumber,
    StepName,
    When,
    Yes,
    confirm,
    happened,
    library_of,
    open_run,
    open_store,
)
from routefinder.cli.weigh_command import Density, Moisture, Of, Part, Reads, Strength
from routefinder.errors import FieldError, InputError

if TYPE_CHECKING:
    from routefinder.journal.account import Account
    from routefinder.journal.book import Book, StepBook
    from routefinder.journal.store import Store
    from routefinder.library.library import Library
    from routefinder.records.shelf import Bench

SLIP = 1.5  # so many times the plan, or so many times less, and one is asked whether it is a slip
FAR = 5.0  # so many times the plan is not entered without a yes: a decimal point is ten
DIFFERS = 0.02  # a charge that differs less from the plan is the plan's
CANNOT = 2.0  # so many times the most that can come out, likewise


def weigh(
    step: StepName,
    into: Annotated[
        str | None,
        typer.Option("--in", metavar="MASS", help="What went in: '401.7 g', '220 mL' of a liquid."),
    ] = None,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="MASS", help="What came out: '151.2 g', '1.03 L'."),
    ] = None,
    of: Of = None,
    strength: Strength = None,
    density: Density = None,
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
    """Log what was weighed in or out of a step, and say what it means.

    --strength and --density are of what went in; without --in, of what came out.
    """
    from routefinder import digits, units
    from routefinder.journal import shelf_books
    from routefinder.journal.account import account
    from routefinder.journal.book import open_book
    from routefinder.vessel.linked import way_on
    from routefinder.view import text, weigh_text

    if into is None and out is None:
        raise InputError("nothing was weighed; give --in, --out or both")
    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step)
        library = library_of(book)
        settle(store, book, library, yes)
        standing = account(library, book)
        bench = _bench(book, library)
        rows: list[tuple[str, str | None, dict[str, Any], int | None]] = []
        words: list[str] = []
        asks: list[str] = []
        taken: dict[str, Any] | None = None
        change = None
        if into is not None:
            taken = _in_data(library, standing, own, into, reads, bench, of, strength, density)
            taken["more"] = more
            asks += _far_from_plan(own, taken, more)
            if not no_shelf:
                change = shelf_books.for_taking(book, taken, library)
                if isinstance(change, shelf_books.ShelfChange) and (yes or _somebody()):
                    taken["shelf"] = change.mark
            rows.append(("in", own.id, taken, None))
            words.append(f"in {_measured(taken)} {taken['name']}")
        if out is not None:
            made = out_data(
                library, standing, own, out, reads, bench, density if not into else None
            )
            resolved = library.steps.get(own.id)
            goes_on = resolved is not None and way_on(resolved) != "isolated"
            made |= {
                "more": more, "wet": wet or goes_on or moisture is not None, "goes_on": goes_on,
                "moisture": units.read_fraction(moisture) if moisture else None,
                "part": units.read_fraction(part) if part else None,
            }  # fmt: skip
            asks += _cannot_be(library, standing, own, made, more, into is not None)
            rows.append(("out", own.id, made, None))
            words.append(f"out {_measured(made)}" + (" wet" if made["wet"] else ""))
            if strength is not None and into is None:
                found = measured(library, own, strength, density)
                rows.append(("strength", own.id, found, None))
                words.append(f"of {digits.percent(found['share'])}")
        _ask_back(asks, yes)
        entries = store.add_all(book.run.run, rows, happened=when)
        book = open_book(store, book.run.run)
        own = book.step(step)
        standing = account(library, book)
        state = standing.of(own.id)
        said = state.verdict if out is not None else None
        confirm(
            book, own, ", ".join(words) + (f": {said.short}" if said else ""), entries[-1].entry
        )
        if own.goes_on and out is not None:
            typer.echo("  It goes straight on as it lies, all of it: its weight tells how much\n"
                       "  water is in it, not how much was made.")  # fmt: skip
        if said is not None:
            console = text.console()
            if state.whence == "plan":
                typer.echo("  (nobody weighed what went in: the plan's amount counts)")
            elif state.whence == "reckoned":
                typer.echo("  (nobody measured the solution that went in: it is reckoned from what "
                           "went into it)")  # fmt: skip
            weigh_text.print_verdict(said, console)
        if taken is not None:
            for line in _beside_plan(library, standing, own, taken):
                typer.echo(line)
            for line in warnings(library, standing, own, when):
                typer.echo(f"  Mind: {line}.")
        for line in dosing(library, standing, own):
            typer.echo(f"  {line}")
        if taken is not None and change is not None:
            answered = shelf_books.offer(
                store, book, own, entries[0].entry, library, change, yes, asked_back,
                float(taken["grams"]),
            )  # fmt: skip
            if answered:
                typer.echo(f"  {answered}")


def strength(
    step: StepName,
    value: Annotated[
        str | None,
        typer.Argument(metavar="[STRENGTH]", help="'6.4 %' by weight, '5 % w/v', '1.7 mol/L'."),
    ] = None,
    read: Annotated[
        str | None,
        typer.Option(
            "--read",
            metavar="READING",
            help="A bench test instead: 'alkali, 10.00 g, 35.6 mL, 0.500 mol/L'.",
        ),
    ] = None,
    density: Density = None,
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log how strong a solution, or how pure a product, was found; the next step is dosed by it."""
    from routefinder.journal.account import account
    from routefinder.journal.book import open_book
    from routefinder.view import text

    if (value is None) == (read is None):
        raise InputError("give a strength ('6.4 %'), or a reading of a bench test with --read")
    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run)
        own = book.step(step)
        library = library_of(book)
        settle(store, book, library, False)
        if value is not None:
            found = measured(library, own, value, density)
        else:
            found = tested(library, own, read or "", density)
        entry = store.add(book.run.run, "strength", own.id, found, happened=when)
        book = open_book(store, book.run.run)
        own = book.step(step)
        said = f"{library.name(own.plan['product']['substance'])}: {_percent(found['share'])}"
        if found["high"] > found["low"]:
            said += f" ({_percent(found['low'])} to {_percent(found['high'])})"
        if found.get("density_g_mL"):
            said += f", {found['density_g_mL']:.4g} g/mL"
        confirm(book, own, said, entry.entry)
        for line in dosing(library, account(library, book), own):
            typer.echo(f"  {line}")
        text.print_disclaimer(text.console())


def keep(
    step: StepName, run: RunNumber = None, yes: Yes = False, journal: JournalFile = None
) -> None:
    """Put what is left of what a step made on the run's shelf file (asked first, a copy kept)."""
    from routefinder.journal import shelf_books
    from routefinder.journal.account import account

    with open_store(journal) as store:
        book = open_run(store, run, last=True)
        own = book.step(step)
        library = library_of(book)
        settle(store, book, library, yes)
        state = account(library, book).of(own.id)
        confirm(book, own, shelf_books.keep(store, book, state, library, yes, asked_back))


def gone(
    step: StepName,
    amount: Annotated[
        str | None, typer.Argument(metavar="[MASS]", help="How much; all that is left without it.")
    ] = None,
    words: Annotated[str, typer.Option("--words", metavar="WORDS", help="Where it went.")] = "",
    at: When = None,
    run: RunNumber = None,
    journal: JournalFile = None,
) -> None:
    """Log that what is left of what a step made is gone: given away, used up, thrown away."""
    from routefinder import digits
    from routefinder.journal.account import account

    when = happened(at)
    with open_store(journal) as store:
        book = open_run(store, run, last=True)
        own = book.step(step)
        library = library_of(book)
        standing = account(library, book)
        lot = standing.of(own.id).lot
        left = None if lot is None else lot.left_total_g or lot.left_g
        if not left:
            raise InputError(f"nothing that step {own.number} made is left")
        grams = left
        if amount is not None:
            grams = out_data(library, standing, own, amount, None, None, None)["grams"]
            if grams > left * 1.001:
                raise InputError(
                    f"{digits.mass(grams)} is more than the {digits.mass(left)} that are left of "
                    f"step {own.number}"
                )
        entry = store.add(
            book.run.run, "gone", own.id, {"grams": grams, "words": words}, happened=when
        )
        confirm(book, own, f"gone: {digits.mass(grams)}{': ' * bool(words)}{words}", entry.entry)


# --- what is asked back


def asked_back(question: str) -> bool | None:
    """Ask at the terminal; None when nobody can answer."""
    return typer.confirm(question, default=False) if _somebody() else None


def _somebody() -> bool:
    import sys

    return sys.stdin.isatty()


def settle(store: Store, book: Book, library: Library, yes: bool) -> None:
    """Finish, or offer again, what a run's shelf file was not told before the program ended."""
    from routefinder.journal import shelf_books

    for said in shelf_books.settle(store, book, library, yes, asked_back):
        typer.echo(said)


def _ask_back(asks: list[str], yes: bool) -> None:
    for said in asks:
        answer = True if yes else asked_back(f"{said}. Enter it all the same?")
        if answer is None:
            raise InputError(f"{said}; nothing was entered. If it is so, say --yes")
        if not answer:
            raise InputError("nothing was entered")


def _far_from_plan(own: StepBook, taken: dict[str, Any], more: bool) -> list[str]:
    from routefinder import digits

    planned = planned_g(own, taken)
    before = own.ins.get(taken["name"], {}).get("grams", 0.0) if more else 0.0
    grams = taken["grams"] + before
    if not planned or grams <= FAR * planned:
        return []
    return [
        f"{digits.mass(grams)} {taken['name']} is {_times(grams / planned)} times the plan's "
        f"{digits.mass(planned)}: a slip"
    ]


def _times(value: float) -> str:
    return f"{value:,.0f}" if value >= 10 else f"{value:.2g}"


def planned_g(own: StepBook, taken: dict[str, Any]) -> float | None:
    """What the plan weighs in of this, in g."""
    if taken.get("whole"):
        parts = [f for f in own.plan["feeds"] if not f.get("everywhere") and f["role"] != "wash"]
        return float(sum(f["as_weighed_g"] for f in parts))
    for feed in own.plan["feeds"]:
        if feed.get("name") == taken["name"]:
            return float(feed["as_weighed_g"])
    return None


def _beside_plan(
    library: Library, standing: Account, own: StepBook, taken: dict[str, Any]
) -> list[str]:
    """What the plan weighs in, what goes with what else was weighed in, and what still lacks."""
    from routefinder import digits
    from routefinder.journal.account import scale_of

    out = []
    planned = planned_g(own, taken)
    asked = planned
    if planned is not None:
        out.append(f"  planned: {digits.mass(planned)}")
        scale = scale_of(library, standing, own, taken["name"])
        if scale is not None and abs(scale - 1) > DIFFERS and not taken.get("whole"):
            asked = planned * scale
            out[0] += f"; {digits.mass(asked)} go with what else was weighed in"
        times = own.ins[taken["name"]]["grams"] / asked if asked else 1.0
        if not 1 / SLIP < times < SLIP and not taken["more"]:
            what = "the plan" if asked == planned else "that"
            out.append(
                f"  that is {_times(times)} times {what}: if it is a slip, correct it (log "
                "correct); if not, go no further before it is clear what it changes"
            )
    scale = scale_of(library, standing, own)
    rest = [
        f"{digits.mass(f['as_weighed_g'] * scale)} {f['name']}"
        for f in own.plan["feeds"]
        if scale is not None and abs(scale - 1) > DIFFERS and "name" in f
        and not f.get("everywhere") and f["name"] not in own.ins
    ]  # fmt: skip
    if rest:
        out.append(f"  with it go: {', '.join(rest)}")
    return out


def _cannot_be(
    library: Library,
    standing: Account,
    own: StepBook,
    made: dict[str, Any],
    more: bool,
    charged_now: bool,
) -> list[str]:
    """What is asked when so much cannot come out of the step, whatever went on in it."""
    from routefinder import digits
    from routefinder.journal.account import most_out_g

    if charged_now:
        return []  # what goes in with the same command is not in the account yet
    state = standing.of(own.id)
    most = most_out_g(library, state, made["wet"])
    grams = made["grams"] + ((own.out_g or 0.0) if more else 0.0)
    if most is None or grams <= CANNOT * most:
        return []
    return [
        f"{digits.mass(grams)} is {_times(grams / most)} times the most that can come out of step "
        f"{own.number} ({digits.mass(most)}): a slip"
    ]


# --- what is entered


def _bench(book: Book, library: Library) -> Bench | None:
    from routefinder.library.shelf import read_bench

    file = book.run.data.get("bench")
    return read_bench(Path(file), library) if file and Path(file).exists() else None


def _measured(data: dict[str, Any]) -> str:
    import math

    places = max(0, -math.floor(math.log10(data["reads_g"]) + 1e-9))
    grams = f"{data['grams']:.{places}f} g"
    return f"{data['measured']} ({grams})" if data.get("measured") else grams


def _in_data(
    library: Library,
    standing: Account,
    own: StepBook,
    text: str,
    reads: str | None,
    bench: Bench | None,
    of: str | None,
    strength: str | None,
    density: str | None,
) -> dict[str, Any]:
    """What an entry "in" holds: which thing of the plan it is, how much, and how pure."""
    from routefinder import units
    from routefinder.journal.weight import is_volume, read_mass

    chosen = _chosen(library, standing.book, own, of)
    rho = units.read(density, "density") if density else _density(library, standing, chosen)
    reading = read_mass(text, reads, bench, rho, chosen["name"])
    w, low, high = chosen["purity"], chosen["low"], chosen["high"]
    if strength is not None:
        w = low = high = units.read_fraction(strength)
        if not 0 < w <= 1:
            raise InputError(f"the strength {strength!r} must lie above 0 and up to 100 %")
    data = {
        "name": chosen["name"], "form": chosen["form"], "role": chosen["role"],
        "grams": reading.grams, "reads_g": reading.reads_g, "purity": w, "low": low, "high": high,
        "stated": "material" in chosen or strength is not None,
        "material": chosen.get("material"), "whole": bool(chosen.get("whole")),
    }  # fmt: skip
    return data | ({"measured": text.strip(), "density_g_mL": rho} if is_volume(text) else {})


def _chosen(library: Library, book: Book, own: StepBook, of: str | None) -> dict[str, Any]:
    """Which thing of the plan was weighed in. Raises InputError for what the step does not take."""
    from routefinder.journal.weight import WHOLE, several_solids

    feeds = own.plan["feeds"]
    resolved = library.steps.get(own.id)
    limiting = resolved.limiting.substance if resolved is not None else ""
    first = next((f for f in feeds if f["substance"] == limiting), feeds[0])
    together = resolved is not None and several_solids(library, resolved)
    asked = of is not None and of.strip().casefold() in WHOLE
    if asked and not together:
        raise FieldError("{f} {of!r}: here not all that is put in is weighed together; name what "
                         "was weighed", f="of", of=of)  # fmt: skip
    if together and (of is None or asked):
        form = first["form"]
        return {"substance": limiting, "form": form, "role": "reactant", "whole": True,
                "name": "the whole charge", "purity": 1.0, "low": 1.0, "high": 1.0}  # fmt: skip
    chosen = first if of is None else _named(library, book, own, of)
    if "from_step" in chosen:
        maker = book.step(chosen["from_step"])
        return {**chosen, "name": f"from step {maker.number}", "purity": 1.0, "low": 1.0,
                "high": 1.0}  # fmt: skip
    return chosen


def _named(library: Library, book: Book, own: StepBook, of: str) -> dict[str, Any]:
    feeds, wanted = own.plan["feeds"], of.strip().casefold()
    for feed in feeds:
        if "from_step" in feed:
            number = book.step(feed["from_step"]).number
            if wanted in {f"from step {number}", f"step {number}"}:
                return dict(feed)
    known = [f for f in feeds if "name" in f]
    exact = [f for f in known if f["name"].casefold() == wanted or f["material"] == wanted]
    near = [f for f in known if wanted in f["name"].casefold()]
    if exact or len(near) == 1:
        return dict((exact or near)[0])
    ids = library.material_names.find(of)
    for feed in known:
        if feed["material"] in ids:
            return dict(feed)
    substance = library.substance(of)
    for feed in feeds:
        if library.root(feed["substance"]) != library.root(substance.id):
            continue
        if "from_step" in feed:
            return dict(feed)
        return {
            "substance": feed["substance"], "form": substance.id, "role": feed["role"],
            "name": substance.name, "purity": 1.0, "low": 1.0, "high": 1.0,
        }  # fmt: skip
    names = [f["name"] for f in known if not f.get("everywhere")]
    names += [f"step {book.step(f['from_step']).number}" for f in feeds if "from_step" in f]
    raise InputError(f"step {own.number} takes no {of!r}; by its plan it takes {', '.join(names)}")


def _density(library: Library, standing: Account, chosen: dict[str, Any]) -> float | None:
    """g/mL of something that goes in, when it is known."""
    from routefinder.journal.account import density_of

    if "from_step" in chosen:
        return density_of(library, standing.of(chosen["from_step"]))
    found = chosen.get("density_g_mL")
    return float(found) if found else None


def out_data(
    library: Library,
    standing: Account,
    own: StepBook,
    text: str,
    reads: str | None,
    bench: Bench | None,
    density: str | None,
) -> dict[str, Any]:
    """How much came out, in g; a volume by its density."""
    from routefinder import units
    from routefinder.journal.account import density_of
    from routefinder.journal.weight import is_volume, read_mass

    volume = is_volume(text)
    rho = None
    if volume:
        found = density_of(library, standing.of(own.id))
        rho = units.read(density, "density") if density else found
    name = library.name(own.plan["product"]["substance"])
    reading = read_mass(text, reads, bench, rho, f"the {name}")
    data: dict[str, Any] = {"grams": reading.grams, "reads_g": reading.reads_g}
    return data | ({"measured": text.strip(), "density_g_mL": rho} if volume else {})


def measured(library: Library, own: StepBook, text: str, density: str | None) -> dict[str, Any]:
    """A strength as an entry: grams of the product per gram; the last digit is its doubt."""
    from routefinder import units
    from routefinder.journal.weight import strength_of

    if own.id not in library.steps:
        raise InputError(f"step {own.number} is no longer in the library")
    rho = units.read(density, "density") if density else None
    return strength_of(library, library.steps[own.id], text, rho)


def tested(library: Library, own: StepBook, text: str, density: str | None) -> dict[str, Any]:
    """A reading of a bench test as a strength."""
    from routefinder import units
    from routefinder.analysis.assay import answers, strength
    from routefinder.analysis.reading import read_test
    from routefinder.assessment.distribution import Z90

    if own.id not in library.steps:
        raise InputError(f"step {own.number} is no longer in the library")
    main = library.steps[own.id].main
    titrates = next(
        (m for m in answers(library, main.substance) if m not in {"hydrometer", "ignition"}), ""
    )
    found = strength(library, main.substance, read_test(text, titrates))
    if not 0 < found.fraction <= 1:
        raise InputError(
            f"the reading {text!r} would mean {found.fraction:.3g} g of {found.name} in a gram; "
            "check it"
        )
    reach = Z90 * found.u
    rho = units.read(density, "density") if density else found.density_g_mL
    return {
        "low": max(found.fraction - reach, 0.0), "share": found.fraction,
        "high": min(found.fraction + reach, 1.0), "density_g_mL": rho, "words": text,
    }  # fmt: skip


def _percent(value: float) -> str:
    return f"{value * 100:.3g} %"


# --- what is said besides


def warnings(library: Library, standing: Account, own: StepBook, when: str | None) -> list[str]:
    """Sentences on what a step takes from earlier ones and has lain too long."""
    from datetime import datetime

    from routefinder.journal.account import makers
    from routefinder.journal.spoiling import warning
    from routefinder.journal.store import moment

    at = moment(when) if when else datetime.now().astimezone()
    found = [warning(library, standing.of(m.id), at) for m in makers(standing.book, own)]
    return [words for words in found if words]


def dosing(library: Library, standing: Account, own: StepBook) -> list[str]:
    """How much of a measured solution the next steps take, in g and mL."""
    from routefinder import digits
    from routefinder.journal.account import doses

    out = []
    for dose in doses(library, standing, own):
        volume = f" = {digits.volume(dose.volume_mL)}" if dose.volume_mL else ""
        short = ""
        if dose.left_g is not None and dose.total_g > dose.left_g * 1.005:
            short = f", but only {digits.mass(dose.left_g)} are left"
        out.append(
            f"for step {dose.taker}: {digits.mass(dose.total_g)}{volume} of it hold the "
            f"{digits.mass(dose.pure_g)} {dose.name} that it takes{short}"
        )
    return out
