"""The command test: which bench test tells, how it is done, what its reading means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from routefinder.cli import options as o

if TYPE_CHECKING:
    from routefinder.library.library import Library


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("test")(bench_test)
    app.command("reckon")(reckon)


def bench_test(
    what: Annotated[
        str,
        typer.Argument(metavar="WHAT", help="Id or title of a step, or the name of a substance."),
    ],
    method: Annotated[
        str | None,
        typer.Argument(
            metavar="TEST",
            help="alkali, acid, hydrometer, acid gas, ignition, residue, acid residue, iodometry, "
            "chloride, pH, melting, flame or dissolving; left out: those that tell.",
        ),
    ] = None,
    read: Annotated[
        list[str] | None,
        typer.Option(
            "--read", metavar="READING",
            help="What was found: '10.00 g, 35.6 mL, 0.500 mol/L' (sample, burette, titrant); "
            "'1.081 g/mL'; add 'first end point' where phenolphthalein turned. May be repeated.",
        ),
    ] = None,
    sample: Annotated[
        str | None, typer.Option("--sample", metavar="MASS", help="How much is sampled: '10 g'.")
    ] = None,
    titrant: Annotated[
        str | None,
        typer.Option("--titrant", metavar="STRENGTH", help="Its strength: '0.5 mol/L'."),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option("--on", metavar="WHAT", help="What is sampled: 'product', 'vessel' (before "
                     "its wash), 'filtrate', 'residue'."),
    ] = None,
    arithmetic: Annotated[
        bool, typer.Option("--why", help="Show the arithmetic line by line.")
    ] = False,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:  # fmt: skip
    """Say which bench test tells how far a step went, how to do it, and what its reading means."""
    from routefinder.asking.library import load_library

    library = load_library(libraries or (), only_library)
    if _is_step(library, what):
        _of_step(library, what, method, read or [], sample, titrant, on, arithmetic, json_out)
    else:
        _of_substance(library, what, method, read or [], arithmetic, json_out)


def _is_step(library: Library, what: str) -> bool:
    from routefinder.errors import AmbiguousName, NameNotFound

    if what in library.steps:
        return True
    try:
        library.substance(what)
    except AmbiguousName:
        return False
    except NameNotFound:
        library.step(what)  # says what is near, when there is no such step
        return True
    return False


def _of_step(
    library: Library, what: str, method: str | None, read: list[str], sample: str | None,
    titrant: str | None, on: str | None, arithmetic: bool, json_out: bool,
) -> None:  # fmt: skip
    from routefinder import units
    from routefinder.analysis import step_tests
    from routefinder.analysis.methods import METHODS
    from routefinder.errors import InputError
    from routefinder.view import bench_test_text, text

    step = library.step(what)
    out = text.console()
    if read:
        raise InputError(
            f"what a reading of a step means follows from what was weighed in: routefinder weigh "
            f"{step.id} --in MASS --test '{method or 'alkali'}, {read[0]}'"
        )
    figures, signs = step_tests.figures_and_signs(library, step, on or "product")
    if method is None:
        if json_out:
            o.echo_json(bench_test_text.tests_json(step.id, figures, signs))
        else:
            bench_test_text.print_tests(library, step.title, figures, signs, out)
        return
    name = _method(method, [p.method.name for p in figures])
    sign = next((s for s in signs if s.method.name == name), None)
    if METHODS[name].sign:
        if json_out:
            o.echo_json(bench_test_text.tests_json(step.id, (), (sign,) if sign else ()))
        elif sign is not None:
            bench_test_text.print_sign(sign, library, out)
        else:
            bench_test_text.print_how_plain(name, METHODS[name].title, out)
        return
    likely = next((p for p in figures if p.method.name == name), None)
    place = on or (likely.on if likely else "product")
    made = step_tests.prepare(
        library, step, name, on=place, first=likely.first if likely else False,
        sample_g=units.read(sample, "mass") if sample else None,
        molar=units.read(titrant, "concentration") if titrant else None,
        written=likely.written if likely else None,
    )  # fmt: skip
    if made is None:
        listed = ", ".join(dict.fromkeys(p.method.name for p in figures)) or "none with a figure"
        raise InputError(
            f"{METHODS[name].title} sees nothing of the {place} of {step.id}; what does: {listed}"
        )
    if json_out:
        o.echo_json(bench_test_text.tests_json(step.id, (made,), ()))
    else:
        bench_test_text.print_how(made, library, out, arithmetic)


def _method(word: str, likely: list[str]) -> str:
    from routefinder.analysis.methods import TITRATIONS
    from routefinder.analysis.reading import method_named
    from routefinder.errors import InputError

    name = method_named(word)
    if name != "titration":
        return name
    found = next((m for m in likely if m in TITRATIONS), None)
    if found is None:
        raise InputError(f"say which titration: {', '.join(TITRATIONS)}")
    return found


def _of_substance(
    library: Library, what: str, method: str | None, read: list[str], arithmetic: bool,
    json_out: bool,
) -> None:  # fmt: skip
    from routefinder.analysis import assay
    from routefinder.analysis.methods import METHODS
    from routefinder.analysis.reading import read_test
    from routefinder.errors import InputError
    from routefinder.library import regulated
    from routefinder.view import bench_test_text, text

    substance = library.substance(what)
    regulated.refuse(substance.id, "target", library)
    out = text.console()
    fits = assay.answers(library, substance.id)
    if method is None:
        if json_out:
            o.echo_json(bench_test_text.fits_json(substance.id, fits))
            return
        for name in fits:
            text.say(out, f"{name:<13} {METHODS[name].title}", 2, 16)
        if not fits:
            out.print(f"No bench test of ours gives a figure for {substance.name}.")
        text.print_disclaimer(out)
        return
    name = _method(method, list(fits))
    if not read:
        bench_test_text.print_how_plain(name, f"{METHODS[name].title}: {substance.name}", out)
        return
    done = [read_test(f"{name}, {line}") for line in read]
    firsts = [d for d in done if d.first]
    if len(done) == 2 and len(firsts) == 1:
        both = assay.two_ends(firsts[0], next(d for d in done if not d.first))
        text.say(out, bench_test_text.two_ends_words(both), 0, 2, "bold")
        if arithmetic:
            bench_test_text.print_reason(both.reason, out)
        text.print_disclaimer(out)
        return
    if len(done) > 1:
        raise InputError("one reading at a time, or the first end point and the last of alkali")
    found = assay.strength(library, substance.id, done[0])
    if json_out:
        o.echo_json(bench_test_text.strength_json(found))
    else:
        bench_test_text.print_strength(found, out, arithmetic)


def reckon(
    line: Annotated[
        list[str],
        typer.Argument(
            metavar="WHAT",
            help="'CuSO4·5H2O'; 'Cu in CuSO4·5H2O'; '25 g NaOH'; '250 mL of 0.5 mol/L NaOH'; "
            "'dilute 37 % HCl to 10 %, 500 g'; 'gas from 10 g CO2'; '10 g CaCO3 + 8 g HCl -> CaCl2 "
            "+ H2O + CO2'.",
        ),
    ],
    arithmetic: Annotated[
        bool, typer.Option("--why", help="Show the arithmetic line by line.")
    ] = False,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:
    """Reckon formula mass, percent, moles, dilution, gas volume, or which reactant limits."""
    from routefinder.analysis import reckon as calculator
    from routefinder.asking.library import load_library
    from routefinder.view import reckon_text, text

    library = load_library(libraries or (), only_library)
    found = calculator.reckon(" ".join(line), library)
    if json_out:
        o.echo_json(reckon_text.as_json(found))
    else:
        reckon_text.print_reckoned(found, text.console(), arithmetic)
