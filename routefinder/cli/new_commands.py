"""`new step`, `new substance`, `new material`: records of one's own, asked for and checked."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from routefinder.cli.prompt import Prompter, answers, say, yes_or_no
from routefinder.errors import EquationError, InputError, NameNotFound, Refused

if TYPE_CHECKING:
    from routefinder.chem.equation import Equation
    from routefinder.chem.lookup import Known
    from routefinder.library.author import Draft
    from routefinder.library.library import Library
    from routefinder.records.substance import Substance

Folder = Annotated[
    Path | None,
    typer.Option(
        "--library", metavar="DIR", help="Library folder to write to; your own otherwise."
    ),
]
Answers = Annotated[
    Path | None,
    typer.Option("--answers", metavar="FILE", help="YAML with the answers by key; suggestions "
                 "stand for what it leaves out."),
]  # fmt: skip
Set = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="KEY=VALUE", help="One answer (repeat); goes before FILE."),
]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Show the record and write nothing.")]
app = typer.Typer(
    help="Add a step, substance or material of your own: asks, checks, writes a YAML record.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def register(parent: typer.Typer) -> None:
    """Add the commands of this file."""
    parent.add_typer(app, name="new")


@app.command("step")
def step(
    folder: Folder = None, file: Answers = None, pairs: Set = None, dry_run: DryRun = False
) -> None:
    """Add a reaction or an operation.

    Asks for the equation (and balances it), states, product, limiting reactant, yield,
    temperature, time, equipment, what goes in besides, what is recovered, stages, tests and
    source; new substances on the way. "?" explains a question, an empty line takes the
    suggestion, "none" is nothing, Ctrl-C leaves without writing. If something fails, the answers
    are kept in a file beside the library, for --answers. Keys for --answers and --set: equation,
    take_balanced, states, title, kind, product, limiting, yield, basis, yield_source,
    temperature, hands_on, waiting, unattended, equipment, excess, water, wash, auxiliaries,
    strength, recovered, stages, tests, done_when, cautions, notes, sources, id, replaces, anyway,
    write;
    for a new substance X: X.name, X.cas, X.names, X.hydrate_of, X.hazards, X.hazards_source,
    X.sources, X.id; X.is for one of several.
    """
    _run(_step, folder, file, pairs, dry_run)


@app.command("substance")
def substance(
    folder: Folder = None, file: Answers = None, pairs: Set = None, dry_run: DryRun = False
) -> None:
    """Add a substance.

    Looks up the name in the table of identities (from PubChem). Keys for --answers and --set: name,
    formula, cas, names, hydrate_of, density, hazards, hazards_source, sources, id, replaces,
    anyway, write.
    """
    _run(_new_substance, folder, file, pairs, dry_run)


@app.command("material")
def material(
    folder: Folder = None, file: Answers = None, pairs: Set = None, dry_run: DryRun = False
) -> None:
    """Add something one can buy.

    Keys for --answers and --set: name, names, form, contains ("sulfuric acid 37 %; water 63 %"),
    density, price, price_source, sources, id, replaces, anyway, write.
    """
    _run(_material, folder, file, pairs, dry_run)


def _run(
    make: Any, folder: Path | None, file: Path | None, pairs: list[str] | None, dry_run: bool
) -> None:
    """Load, ask, check, show, write."""
    from routefinder.asking.library import load_library
    from routefinder.library import author, where

    asker = Prompter(answers(file, pairs))
    target = folder if folder is not None else where.personal_library()
    if target is None:
        raise InputError("your own library is switched off (ROUTEFINDER_LIBRARY is empty); "
                         "name a folder with --library DIR")  # fmt: skip
    if target.exists() and not target.is_dir():
        raise InputError(f"--library {target}: this is a file, not a library folder")
    library = load_library([target] if author.is_library(target) else [])
    asker.folder = target
    try:
        _ask_check_write(make, asker, library, target, folder, dry_run)
    except Refused:
        raise
    except InputError as error:
        kept = _keep_answers(asker, target, make.__name__.rsplit("_", 1)[-1])
        if kept is None:
            raise
        raise InputError(
            f"{error}\nYour answers are kept in {kept}: correct them there and give it to --answers"
        ) from None


def _keep_answers(asker: Prompter, target: Path, kind: str) -> Path | None:
    """What was typed, in a file beside the library; None where nothing was or it cannot be kept."""
    import json

    from routefinder import files
    from routefinder.errors import RoutefinderError

    if not asker.typed:
        return None
    for number in range(1, 100):
        path = target.parent / f"new-{kind}-answers-{number}.yaml"
        if not path.exists():
            break
    lines = (f"{json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}"
             for k, v in {**asker.given, **asker.typed}.items())  # fmt: skip
    try:
        files.write_all({path: "\n".join(lines) + "\n"})
    except (RoutefinderError, OSError):
        return None
    return path


def _ask_check_write(
    make: Any, asker: Prompter, library: Library, target: Path, folder: Path | None, dry_run: bool
) -> None:
    from routefinder.library import author, where

    drafts: list[Draft] = make(asker, library)
    faults = author.faults(drafts, target, [where.shipped_library()])
    for each in drafts:
        say(f"\n# {each.path(target)}")
        typer.echo(each.text().rstrip())
    if faults:
        say("\nThe check finds:")
        for fault in faults:
            say(f"  {fault.field + ': ' if fault.field else ''}{fault.what}. {fault.remedy}")
        hard = any(
            f.rule in {"unknown-id", "unbalanced", "repeated-id", "bad-value"} for f in faults
        )
        if hard or not asker.ask("anyway", "Write it all the same?", yes_or_no, "no"):
            raise InputError("nothing was written; answer otherwise and try again")
    if dry_run:
        asker.check_all_used()
        say("\nNothing was written (--dry-run).")
        return
    wanted = asker.ask("write", f"\nWrite this to {target}?", yes_or_no, "yes")
    asker.check_all_used()
    if not wanted:
        say("Nothing was written.")
        raise typer.Exit(1)
    for path in author.save(drafts, target, replace=asker.overwrite):
        say(f"Wrote {path}")
    if folder is None:
        say("find, draw, look and check use this library from now on.")
    else:
        say(f"Use it with --library {target}.")


# --- pieces of answers ---------------------------------------------------------------------------


def _filled(text: str) -> str:
    if not text.strip():
        raise InputError("write something")
    return text.strip()


def _any(text: str) -> str:
    return text.strip()


def _cas(text: str) -> str:
    from routefinder.records.substance import cas_check_digit_ok

    if text and not cas_check_digit_ok(text):
        raise InputError(f"{text!r} is not a CAS number (its check digit or form is wrong)")
    return text


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def _shares(text: str) -> dict[str, str]:
    """What is said of each: "C2H4O2: 5 %; H2O2: 20 %"."""
    out = {}
    for part in _parts(text):
        name, colon, value = part.rpartition(":")
        if not colon or not name.strip() or not value.strip():
            raise InputError(f"{part!r} is not 'reactant: figure'; write for example 'NaOH: 5 %'")
        out[name.strip()] = value.strip()
    return out


def _amount_a_mole(text: str) -> str:
    """An amount per mole, as a step's auxiliaries have it; "none" and nothing are none."""
    from routefinder import units

    if text.strip().lower() in {"", "none"}:
        return ""
    units.read_any(text, ("mass_per_amount", "volume_per_amount"))
    return text.strip()


def _sources(text: str) -> list[str]:
    from routefinder.library.author import draft

    found = _parts(text)
    draft("substances", {"id": "x", "name": "x", "sources": found})
    if not found:
        raise InputError("name a source, for example 'from memory' or 'published: Author, page'")
    return found


def _codes(text: str) -> list[str]:
    from routefinder.library.author import draft

    if text.strip().lower() in {"", "unknown", "?"}:
        return []
    found = [c for c in re.split(r"[\s,;]+", text.strip()) if c]
    if found != ["none"]:
        draft("substances", {"id": "x", "name": "x", "hazards": {"statements": found}})
    return found


def _three(text: str) -> tuple[str, str, str]:
    numbers = re.findall(r"\d+(?:\.\d+)?", text)
    if len(numbers) == 1:
        numbers *= 3
    if len(numbers) != 3:
        raise InputError(f"{text!r} is not low, typical and high; write for example '80 90 95 %'")
    low, typical, high = (float(n) for n in numbers)
    if max(low, typical, high) <= 1 and "%" not in text:
        low, typical, high = low * 100, typical * 100, high * 100
    if not 0 < low <= typical <= high <= 100:
        raise InputError("low, typical and high must rise from above 0 to at most 100 %")
    return f"{low:g} %", f"{typical:g} %", f"{high:g} %"


def _window(text: str) -> tuple[float, float]:
    from routefinder import units

    pieces = [p for p in re.split(r"\s+to\s+|\s*\.\.\s*|\s*–\s*", text.strip()) if p]
    two = re.fullmatch(r"\s*(\d+)[\s-]+(\d+)\s*(\D*)", text)
    if two:
        unit = two[3].strip() or "degC"
        raise InputError(
            f"{text!r} may be one figure or two; write '{two[1]} to {two[2]} {unit}' for a window, "
            f"or '{two[1]}{two[2]} {unit}' without a space"
        )
    if not 1 <= len(pieces) <= 2:
        raise InputError(f"{text!r} is not a window; write for example '20 to 60 degC'")
    unit = re.sub(r"^[-+\d.,\s]+", "", pieces[-1]) or "degC"
    figures = [
        units.read(p if re.search(r"[A-Za-z°]", p) else f"{p} {unit}", "temperature")
        for p in pieces
    ]
    low, high = figures[0], figures[-1]
    if low > high:
        raise InputError(f"{low:g} degC is above {high:g} degC")
    return low, high


def _time(text: str) -> str:
    from routefinder import units

    if text.strip() in {"", "0"}:
        return "0 min"
    if units.read(text, "time") < 0:
        raise InputError("a time cannot be negative")
    return text.strip()


def _capabilities(text: str) -> list[Any]:
    from routefinder.library.author import draft
    from routefinder.library.read import read_text_yaml

    found = [read_text_yaml(part) for part in _parts(text)]
    for each in found:
        draft("equipment", {"id": "x", "name": "x", "offers": [each]})
    return found


def _capability_text(found: list[Any]) -> str:
    def words(value: Any) -> str:
        if isinstance(value, dict):
            inner = ", ".join(f"{k}: {words(v)}" for k, v in value.items())
            return inner
        return f"[{', '.join(value)}]" if isinstance(value, list) else str(value)

    out = []
    for each in found:
        if isinstance(each, dict):
            name, figures = next(iter(each.items()))
            out.append(f"{name}: {{{words(figures)}}}")
        else:
            out.append(each)
    return "; ".join(out)


def _id(
    library: Library, kind: str, asker: Prompter, key: str, suggestion: str
) -> tuple[str, bool]:
    """An id, and whether the record replaces one of the library, which must be said."""
    from routefinder.records.base import ID

    def read(text: str) -> str:
        if not ID.match(text):
            raise InputError(f"{text!r} is not an id; small letters, digits, single hyphens")
        return text

    found = asker.ask(f"{key}id", "Id", read, suggestion, "Unique over the library.")
    if found not in getattr(library, kind):
        return found, False
    own = asker.folder is not None and (asker.folder / kind / f"{found}.yaml").exists()
    whose = "Your own library" if own else "The library"
    if not asker.ask(
        f"{key}replaces", f"{whose} has {found!r}; replace it by this one?", yes_or_no, "no"
    ):
        raise InputError(f"the id {found!r} is taken; give another, or answer yes to 'replaces'")
    asker.overwrite = asker.overwrite or own
    old = getattr(library, kind)[found]
    return found, not own or bool(getattr(getattr(old, "record", old), "replaces", False))


# --- records -------------------------------------------------------------------------------------


def _new_substance(asker: Prompter, library: Library) -> list[Draft]:
    return [_substance(asker, library, "", "")]


def _substance(asker: Prompter, library: Library, key: str, formula: str) -> Draft:
    """Ask for a substance; ``formula`` is what is known of it already."""
    from routefinder.chem import lookup
    from routefinder.library import author

    def named(text: str) -> str:
        author.refuse_answer(text, library)
        return _filled(text)

    doubts = author.doubtful(formula, library) if formula else ()
    if doubts:
        say(f"  {formula} is also the formula of a listed substance; its CAS number must say that "
            "it is another one.")  # fmt: skip
    # a formula alone never suggests a name: isomers share it
    name = asker.ask(f"{key}name", "Name", named, None)
    seen = lookup.known(name)
    formula = _formula(asker, library, key, formula, seen)
    cas, same = _number(asker, library, key, formula, seen)
    if formula:
        author.refuse_doubtful(formula, name, cas, library)
    names = asker.ask(f"{key}names", "Other names (with ; between)", _parts, "")
    for other in names:
        author.refuse_answer(other, library)
    dry = author.family(library, formula) if formula else None
    root = asker.ask(
        f"{key}hydrate_of", "Id of the anhydrous form, if this is a hydrate", _any, dry or ""
    )
    density = asker.ask(f"{key}density", "Density (empty if not known)", _any, "", "1.05 g/mL")
    hazards = _hazards(asker, key)
    sources = asker.ask(
        f"{key}sources", "Source of the rest", _sources,
        f"published: CAS number and formula in the {lookup.SOURCE}" if same else "from memory",
        _MARKS,
    )  # fmt: skip
    record_id, replaces = _id(library, "substances", asker, key, author.slug(name))
    found = author.draft(
        "substances",
        {"id": record_id, "name": name, "names": names, "formula": formula, "cas": cas,
         "hydrate_of": root, "mixture": "" if formula else "true", "hazards": hazards,
         "density": density, "sources": sources, "replaces": "true" if replaces else ""},
    )  # fmt: skip
    author.refuse_answer(found.record, library)  # type: ignore[arg-type]
    return found


def _formula(asker: Prompter, library: Library, key: str, formula: str, seen: Known | None) -> str:
    """The formula, suggested where the name is known; "" for a mixture."""
    from routefinder.chem.formula import parse
    from routefinder.library import author

    def readable(text: str) -> str:
        if text:
            author.refuse_answer(text, library)
            return parse(text).text
        return ""

    if seen is not None and not formula:
        mass = f"{parse(seen.formula).molar_mass:.2f} g/mol" if seen.formula else "no formula"
        say(f"  known: {seen.formula}, CAS {seen.cas}, {mass} from its formula"
            + (f"; {seen.warning}" if seen.warning else ""))  # fmt: skip
    if not formula:
        suggested = seen.formula if seen is not None and seen.formula else ""
        formula = asker.ask(
            f"{key}formula", "Formula (empty for a mixture)", readable, suggested,
            "CuSO4·5H2O, Ca(OH)2, C2H4O2",
        )  # fmt: skip
    if formula:
        say(f"  molar mass {parse(formula).molar_mass:.4g} g/mol, from the formula")
    return formula


def _number(
    asker: Prompter, library: Library, key: str, formula: str, seen: Known | None
) -> tuple[str, bool]:
    """The CAS number, and whether the name that is known has this formula too."""
    from routefinder.chem.formula import parse
    from routefinder.library import author

    def number(text: str) -> str:
        found = _cas(text)
        if found:
            author.refuse_answer(found, library)
        return found

    same = False
    if seen is not None and seen.formula is not None and formula:
        same = parse(seen.formula).counts == parse(formula).counts
        if not same:
            say(f"  {seen.name} is known as {seen.formula}: its CAS number is not suggested")
    suggested = seen.cas if seen is not None and same else ""
    return asker.ask(f"{key}cas", "CAS number", number, suggested), same


def _hazards(asker: Prompter, key: str) -> dict[str, Any]:
    codes = asker.ask(
        f"{key}hazards", "Hazard statements (H302 H314), 'none' if the source has none", _codes,
        "unknown", "GHS codes from the safety data sheet. 'unknown' counts as hazardous.",
    )  # fmt: skip
    if not codes:
        return {"unknown": "true"}
    source = asker.ask(
        f"{key}hazards_source", "Source of the hazards", _sources, "from memory", _MARKS
    )
    return {"statements": [c for c in codes if c != "none"], "source": source}


_MARKS = (
    "Begin with an honesty mark: published: Author, Title, page; common practice; from memory; "
    "computed: how."
)


def _step(asker: Prompter, library: Library) -> list[Draft]:
    """Ask for a step, and for the substances that the library does not have."""
    from routefinder.library import author

    equation, name_of, drafts = _equation(asker, library)
    product, limiting, title = _goal(asker, library, equation, name_of)

    def kinds(text: str) -> str:
        from routefinder.records.step import KINDS

        if text not in KINDS:
            raise InputError(f"{text!r} is not one of {', '.join(KINDS)}")
        return text

    kind = asker.ask("kind", "Kind", kinds, author.usual_kind(equation), _kinds())
    fields = {"kind": kind, "equation": str(equation), "product": product, "limiting": limiting,
              **_yield(asker)}  # fmt: skip
    cold, hot = asker.ask(
        "temperature", "Temperature window", _window, "20 to 30 degC",
        "From the least to the most the work may have: '60 to 90 degC'.",
    )  # fmt: skip
    present = _present(library, equation, drafts)
    fields["temperature"] = {"low": f"{cold:g} degC", "high": f"{hot:g} degC"}
    fields |= _times(asker)
    fields["equipment"] = asker.ask(
        "equipment", "Equipment", _capabilities,
        _capability_text(author.usual_equipment(equation, cold, hot, present)), _vocabulary(),
    )  # fmt: skip
    fields |= _put_in_besides(asker, library, [t.species for t in equation.right])
    fields |= _operations(asker)
    fields["cautions"] = asker.ask("cautions", "Cautions (with ; between)", _parts, "")
    fields["notes"] = asker.ask("notes", "Notes (with ; between)", _parts, "")
    fields["sources"] = asker.ask("sources", "Source", _sources, "from memory", _MARKS)
    record_id, replaces = _id(library, "steps", asker, "", author.slug(title))
    found = author.draft(
        "steps",
        {"id": record_id, "title": title, **fields, "replaces": "true" if replaces else ""},
    )
    return [*drafts, found]


def _kinds() -> str:
    from routefinder.records.step import KINDS

    return ", ".join(KINDS)


def _equation(asker: Prompter, library: Library) -> tuple[Equation, dict[str, str], list[Draft]]:
    """The equation as a file should have it, names by species, and new substances."""
    from dataclasses import replace

    from routefinder.chem import equation as equations
    from routefinder.library import author

    def read(text: str) -> Equation:
        found = equations.parse(text)
        for term in found.left:
            author.refuse_answer(term.species, library, "taken")
        for term in found.right:  # what is refused as a target only may be a by-product
            author.refuse_answer(term.species, library, "made")
        return found

    equation = asker.ask(
        "equation", "Equation, such as CuO + H2SO4 -> CuSO4 + H2O", read, None,
        "Formulas or substance ids, ' + ' between them, '->' in the middle; coefficients and "
        "states (s) (l) (g) (aq) may be left out.",
    )  # fmt: skip
    ids: dict[str, str] = {}
    formula_of: dict[str, str] = {}
    drafts: list[Draft] = []
    for term in (*equation.left, *equation.right):
        if term.species in ids:
            continue
        ids[term.species], formula_of[term.species], fresh = _species(asker, library, term.species)
        drafts += [fresh] if fresh is not None else []
    equation, changed = author.balanced(equation, formula_of)
    if changed:
        say(f"  balanced: {equation.pretty()}")
        if not asker.ask("take_balanced", "Take this?", yes_or_no, "yes"):
            raise InputError("an equation that does not balance cannot be used")
    terms = [*equation.left, *equation.right]
    guesses = [
        t.state or author.usual_state(library, ids[t.species], formula_of[t.species],
                                      i < len(equation.left))
        for i, t in enumerate(terms)
    ]  # fmt: skip
    chosen = _states(asker, [t.species for t in terms], guesses)
    written = [
        replace(t, species=_written(library, ids, drafts, t.species), state=s)
        for t, s in zip(terms, chosen, strict=True)
    ]
    named = {d.id: str(d.record.name) for d in drafts}  # type: ignore[attr-defined]
    named |= {i: library.name(i) for i in ids.values() if i in library.substances}
    name_of = {w.species: named[ids[t.species]] for w, t in zip(written, terms, strict=True)}
    equation = equations.Equation(
        tuple(written[: len(equation.left)]), tuple(written[len(equation.left) :])
    )
    say(f"  {equation}")
    return equation, name_of, drafts


def _states(asker: Prompter, species: list[str], guesses: list[str]) -> list[str]:
    from routefinder.chem.equation import STATES

    def states(text: str) -> list[str]:
        found = re.split(r"[\s,;]+", text.strip().replace("(", " ").replace(")", " ").strip())
        if len(found) != len(species) or not set(found) <= set(STATES):
            raise InputError(
                f"give {len(species)} states out of s, l, g, aq, in the equation's order"
            )
        return found

    found: list[str] = asker.ask(
        "states", f"States of {' '.join(species)}", states, " ".join(guesses),
        "s solid, l liquid, g gas, aq in solution",
    )  # fmt: skip
    return found


def _goal(
    asker: Prompter, library: Library, equation: Equation, name_of: dict[str, str]
) -> tuple[str, str, str]:
    """Main product, limiting reactant and title."""
    from routefinder.library import author

    def among(side: tuple[Any, ...]) -> Any:
        def one(text: str) -> str:
            if text not in {t.species for t in side}:
                raise InputError(f"{text!r} is none of {', '.join(t.species for t in side)}")
            return text

        return one

    def goal(text: str) -> str:
        author.refuse_answer(among(equation.right)(text), library, "target")
        return text

    main = [t for t in equation.right if t.state != "g" and t.species != "H2O"] or equation.right
    scarce = [t for t in equation.left if t.species not in {"H2O", "O2"}] or equation.left
    product = asker.ask("product", "Main product", goal, main[0].species)
    limiting = asker.ask(
        "limiting", "Limiting reactant", among(equation.left), scarce[0].species,
        "The reactant that the yield counts on; the others are in excess.",
    )  # fmt: skip
    title = asker.ask(
        "title", "Title, a sentence in the imperative", _filled,
        f"Make {name_of[product]} from {' and '.join(name_of[t.species] for t in scarce)}",
    )  # fmt: skip
    return product, limiting, title


def _yield(asker: Prompter) -> dict[str, Any]:
    low, typical, high = asker.ask(
        "yield", "Yield: low, typical, high in %", _three, None,
        "10th, 50th and 90th percentile of what you weigh, on the limiting reactant.",
    )  # fmt: skip
    basis = asker.ask("basis", "What is weighed, and how dry", _filled, "isolated and dry")
    source = asker.ask("yield_source", "Source of the yield", _sources, "from memory", _MARKS)
    return {"yield": {"low": low, "typical": typical, "high": high, "basis": basis,
                      "source": source}}  # fmt: skip


def _times(asker: Prompter) -> dict[str, Any]:
    hands_on = asker.ask("hands_on", "Working time of a batch", _time, "1 h")
    waiting = asker.ask("waiting", "Waiting time", _time, "0 min")
    unattended = waiting != "0 min" and asker.ask(
        "unattended", "May one leave it meanwhile?", yes_or_no, "no"
    )
    return {"time": {"hands_on": hands_on, "waiting": waiting,
                     "unattended": "true" if unattended else "false"}}  # fmt: skip


def _present(
    library: Library, equation: Equation, drafts: list[Draft]
) -> list[tuple[Substance, str]]:
    """What is in the vessel, with its state."""
    from routefinder.library.author import meanings

    fresh: dict[str, Substance] = {}
    for draft in drafts:
        record: Substance = draft.record  # type: ignore[assignment]
        fresh |= {draft.id: record, record.formula or draft.id: record}
    out: list[tuple[Substance, str]] = []
    for term in (*equation.left, *equation.right):
        found = meanings(library, term.species)
        if found:
            out.append((library.substances[found[0]], term.state))
        elif term.species in fresh:
            out.append((fresh[term.species], term.state))
    return out


def _put_in_besides(asker: Prompter, library: Library, made: list[str]) -> dict[str, Any]:
    """Excesses, water, other auxiliaries, strengths, what is recovered."""
    from routefinder.records.step import ROLES

    excess = asker.ask(
        "excess", "Excess over the equation (with ; between)", _shares, "",
        "Of the other reactants: 'C2H4O2: 5 %; H2O2: 20 %'.",
    )  # fmt: skip
    water = asker.ask(
        "water", "Water to work in, per mole of the limiting reactant", _amount_a_mole, "",
        "'1 L/mol' or '300 g/mol'; what acids, lyes and crystals bring counts. Empty: none.",
    )  # fmt: skip
    wash = asker.ask(
        "wash", "Water to wash with, per mole of the limiting reactant", _amount_a_mole, "",
        "'500 mL/mol'. Empty: none.",
    )  # fmt: skip

    def others(text: str) -> list[dict[str, str]]:
        from routefinder.library import author

        out = []
        for part in _parts(text):
            match = re.fullmatch(rf"(.+?)\s*:\s*({'|'.join(ROLES)})\s+(.+)", part)
            if not match:
                raise InputError(
                    f"{part!r} is not 'substance: role amount'; write for example "
                    f"'ethanol: wash 100 mL/mol'; roles: {', '.join(ROLES)}"
                )
            author.refuse_answer(match[1], library)
            library.substance(match[1])
            out.append({"substance": library.substance(match[1]).id, "role": match[2],
                        "amount": _amount_a_mole(match[3])})  # fmt: skip
        return out

    besides = asker.ask(
        "auxiliaries", "What else goes in: washes, catalysts, fluxes (with ; between)", others, "",
        "'ethanol: wash 100 mL/mol; NaHSO4: catalyst 8 g/mol'. Empty: none.",
    )  # fmt: skip
    strength = asker.ask(
        "strength", "How strong dissolved reactants may be (with ; between)", _shares, "",
        "'C2H4O2: up to 15 %; NaOH: 10 % to 30 %'. Acid, lye, ammonia and peroxide need it.",
    )  # fmt: skip

    def kept(text: str) -> dict[str, str]:
        found = _shares(text)
        for name in found:
            if name not in made:
                raise InputError(f"{name!r} is none of {', '.join(made)}")
        return found

    recovered = asker.ask(
        "recovered", "By-products that are really collected, and how far (with ; between)", kept,
        "", "'Na2SO4: 60 %'. What is not named goes to waste and feeds no other step.",
    )  # fmt: skip
    aids = [{"substance": "H2O", "role": role, "amount": amount}
            for role, amount in (("solvent", water), ("wash", wash)) if amount]  # fmt: skip
    return {"excess": excess, "strength": strength, "auxiliaries": [*aids, *besides],
            "recovered": recovered}  # fmt: skip


def _operations(asker: Prompter) -> dict[str, Any]:
    """Stages, bench tests and the sign that it is done."""
    from routefinder.records.bench_test import METHODS
    from routefinder.records.stage import STAGES

    stages = asker.ask(
        "stages", "Stages in order (with ; between; empty: as usual for its kind)", _stages, "",
        "'charge; heat: {to: 80 degC}; filter; wash; dry'. Words: " + ", ".join(STAGES) + ".",
    )  # fmt: skip
    tests = asker.ask(
        "tests", "Bench tests that tell how far it went (with ; between)", _tests, "",
        "'alkali; hydrometer' or '{method: alkali, end_point: first}'. Methods: "
        + ", ".join(METHODS) + ".",
    )  # fmt: skip
    done = asker.ask("done_when", "What shows that it is done (with ; between)", _parts, "")
    return {"stages": stages, "tests": tests, "done_when": done}


def _stages(text: str) -> list[Any]:
    from routefinder.library import author
    from routefinder.library.read import read_text_yaml

    out = []
    for part in _parts(text):
        found = read_text_yaml(part)
        author.check_part("Stage", found, part)
        out.append(found)
    return out


def _tests(text: str) -> list[Any]:
    from routefinder.library import author
    from routefinder.library.read import read_text_yaml

    out = []
    for part in _parts(text):
        found = read_text_yaml(part)
        found = {"method": found, "source": "from memory"} if isinstance(found, str) else found
        author.check_part("BenchTest", found, part)
        out.append(found)
    return out


def _vocabulary() -> str:
    from routefinder.records.capability import CAPABILITIES, VESSEL_MATERIALS

    lines = ["Capabilities with ';' between, such as: filter: {grade: fine}; stir; "
             "heat-liquid: {to: 90 degC}"]  # fmt: skip
    for name, (words, limits) in CAPABILITIES.items():
        lines.append(f"  {name:<20} {words}" + (f" ({', '.join(limits)})" if limits else ""))
    lines.append(f"A vessel may say made_of: [{', '.join(VESSEL_MATERIALS)}]")
    return "\n".join(lines)


def _written(library: Library, ids: dict[str, str], drafts: list[Draft], species: str) -> str:
    """A species as a file should have it: the formula where that is clear, the id otherwise."""
    from routefinder.library.author import meanings

    fresh = {d.id: d.record for d in drafts}
    if ids[species] in fresh:
        formula = fresh[ids[species]].formula  # type: ignore[attr-defined]
        return species if formula == species and not meanings(library, species) else ids[species]
    return species if meanings(library, species) == [ids[species]] else ids[species]


def _species(asker: Prompter, library: Library, species: str) -> tuple[str, str, Draft | None]:
    """(id, formula, new record) of one species of an equation."""
    from routefinder.chem.formula import parse
    from routefinder.errors import FormulaError
    from routefinder.library import author

    found = author.meanings(library, species)
    if len(found) > 1:
        listed = ", ".join(f"{i} ({library.name(i)})" for i in found)

        def one(text: str) -> str:
            if text not in found:
                raise InputError(f"{text!r} is none of {', '.join(found)}")
            return text

        say(f"  {species} may be {listed}")
        found = [asker.ask(f"{species}.is", f"Which {species}", one, found[0])]
    if found:
        record = library.substances[found[0]]
        if record.formula is None:
            raise EquationError(f"{species} has no formula; write a recipe in grams by hand")
        return record.id, record.formula, None
    try:
        parse(species)
    except FormulaError:
        near = library.substance_names.closest(species, 3)
        hint = f"; the closest names are {', '.join(near)}" if near else ""
        raise NameNotFound(
            f"{species!r} is neither a formula nor a substance of the library{hint}", near
        ) from None
    say(f"\nThe library does not have {species}.")
    fresh = _substance(asker, library, f"{species}.", species)
    say("")
    return fresh.id, species, fresh


def _material(asker: Prompter, library: Library) -> list[Draft]:
    from routefinder.library import author
    from routefinder.records.material import FORMS

    def named(text: str) -> str:
        author.refuse_answer(text, library)
        return _filled(text)

    name = asker.ask("name", "Name", named)
    names = asker.ask("names", "Other names (with ; between)", _parts, "")
    for other in names:
        author.refuse_answer(other, library)

    def forms(text: str) -> str:
        if text not in FORMS:
            raise InputError(f"{text!r} is not one of {', '.join(FORMS)}")
        return text

    form = asker.ask("form", f"Form ({', '.join(FORMS)})", forms, "solid")

    def contents(text: str) -> list[dict[str, str]]:
        out = []
        for part in _parts(text):
            match = re.match(r"^(.*?)[\s:]+(\d+(?:[.,]\d+)?(?:\s+to\s+[\d.,]+)?\s*%.*)$", part)
            if not match:
                raise InputError(f"{part!r} is not a substance and its strength, 'NaCl 98 %'")
            author.refuse_answer(match[1], library)
            held = library.substance(match[1])
            solid = form in {"solid", "metal"} and len(_parts(text)) == 1
            out.append(author.content(library, held, match[2], solid))
        if not out:
            raise InputError("name at least one substance with its strength")
        return out

    contains = asker.ask(
        "contains", "Contains, such as 'sodium carbonate 99 %'", contents, None,
        "Substance and strength (w/w, or write w/v, v/v), ';' between; an assay as on the label: "
        "'basic copper carbonate 56 % Cu', '44 to 48 % Co'.",
    )  # fmt: skip
    density = asker.ask("density", "Density (liquids and solutions)", _any, "")
    price = asker.ask("price", "Price, such as '8 USD/kg'", _any, "")
    price_source: list[str] = []
    if price:
        price_source = asker.ask(
            "price_source", "Source of the price", _sources, "from memory", _MARKS
        )
    sources = asker.ask("sources", "Source", _sources, "from memory", _MARKS)
    record_id, replaces = _id(library, "materials", asker, "", author.slug(name))
    return [
        author.draft(
            "materials",
            {"id": record_id, "name": name, "names": names, "form": form, "contains": contains,
             "density": density, "price": price, "price_source": price_source, "sources": sources,
             "replaces": "true" if replaces else ""},
        )
    ]  # fmt: skip
