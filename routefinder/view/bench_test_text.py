"""What the terminal shows of bench tests. Worked out elsewhere; nothing is reckoned here."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view.bench_test_words import HOW
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.analysis.assay import Strength, TwoEnds
    from routefinder.analysis.step_tests import Prepared, Sign
    from routefinder.assessment.reasoning import Reason
    from routefinder.library.library import Library


def read_as(value: float, unit: str) -> str:
    """A reading with its unit: 35.6 mL, 1.081 g/mL."""
    if unit == "g/mL":
        return f"{value:.3f} g/mL"
    if unit == "mL":
        return f"{value:.1f} mL"
    return f"{value:.2f} {unit}".rstrip()


def named(p: Prepared) -> str:
    """A test by its title, with where it is done and to which end."""
    end = ", first end point (phenolphthalein)" if p.first else ""
    place = (
        ""
        if p.on == "product"
        else f", on the {'charge before its wash' if p.on == 'vessel' else p.on}"
    )
    return f"{p.method.title}{end}{place}"


def takes(p: Prepared) -> str:
    """The sample and the titrant."""
    text = f"{p.sample_g:g} g"
    if p.method.titrant:
        text += f", {p.method.titrant} of {p.molar:g} mol/L"
    return "a jar of it" if p.method.name == "hydrometer" else text


def wants(p: Prepared) -> str:
    """What it must read, and what it reads when the step stopped short."""
    unit = p.method.unit
    short = read_as(p.short, unit)
    text = f"{read_as(p.usual, unit)} as usual; {short} if it stopped a tenth short"
    return text + (f"; {read_as(p.nothing, unit)} if nothing reacted" if p.nothing else "")


def short_line(p: Prepared) -> str:
    """One test in a line: what, how much of it, what it must read."""
    return f"{named(p)}: {takes(p)}; {wants(p)}"


def sign_line(library: Library, sign: Sign) -> str:
    """One test without a figure in a line."""
    name = library.name(sign.substance)
    if sign.written is not None and sign.written.wants:
        return f"{sign.method.title}: {' '.join(sign.written.wants)}"
    if sign.method.name == "melting" and sign.figure is not None:
        text = f"{name} melts at {digits.temperature(sign.figure)}"
    elif sign.method.name == "flame":
        text = sign.word
    elif sign.method.name == "dissolving" and sign.word:
        text = f"{name} dissolves, {library.name(sign.word)} does not"
    elif sign.method.name == "pH" and sign.word:
        text = "clearly " + sign.word
    else:
        text = name
    return f"{sign.method.title}: {text}; {HOW[sign.method.name].means}"


def print_tests(
    library: Library, title: str, figures: tuple[Prepared, ...], signs: tuple[Sign, ...],
    out: Console,
) -> None:  # fmt: skip
    """The tests of a step, those that tell most for least work first."""
    if not figures and not signs:
        say(out, f"{title}: no bench test of ours tells how far it went; weigh it.", 0, 2)
    else:
        say(out, f"{title}: what tells how far it went, most for least work first.", 0, 2, "bold")
    for p in figures:
        tells = "" if p.tells else " (does not show a tenth short)"
        say(out, f"{p.method.name:<13} {short_line(p)}{tells}", 2, 16)
    for sign in signs:
        say(out, f"{sign.method.name:<13} {sign_line(library, sign)}", 2, 16)
    print_disclaimer(out)


def print_how(p: Prepared, library: Library, out: Console, arithmetic: bool) -> None:
    """How to do one test, what it must read and what it counts."""
    how = HOW[p.method.name]
    say(out, f"{named(p)}: {takes(p)}", 0, 2, "bold")
    say(out, how.first, 2, 2)
    say(out, how.then, 2, 2)
    say(out, f"Care: {how.care}", 2, 2)
    say(out, f"Must read: {wants(p)}.", 2, 2)
    if len(p.counted) > 1:
        listed = ", ".join(f"{library.name(n)} {digits.percent(share)}" for n, share in p.counted
                           if share > 0.002)  # fmt: skip
        say(out, f"It counts: {listed} of the reading.", 2, 2)
    if p.written is not None:
        for words in (*p.written.wants, p.written.note):
            if words:
                say(out, f"The library says: {words}", 2, 2)
    if arithmetic:
        print_reason(p.reason, out)
    print_disclaimer(out)


def print_sign(sign: Sign, library: Library, out: Console) -> None:
    """How to do a test without a figure, and what it means."""
    how = HOW[sign.method.name]
    say(out, sign_line(library, sign), 0, 2, "bold")
    say(out, how.first, 2, 2)
    say(out, how.then, 2, 2)
    say(out, f"Care: {how.care}", 2, 2)
    print_disclaimer(out)


def print_how_plain(method: str, title: str, out: Console) -> None:
    """How to do a test of a substance by itself."""
    how = HOW[method]
    say(out, title, 0, 2, "bold")
    say(out, how.first, 2, 2)
    say(out, how.then, 2, 2)
    say(out, f"Care: {how.care}", 2, 2)
    if how.means:
        say(out, f"What it means: {how.means}.", 2, 2)
    print_disclaimer(out)


def strength_words(found: Strength) -> str:
    """A strength in a sentence, by weight and by volume where the density is known."""
    f, low, high = found.fraction, found.low, found.high
    text = f"{found.name} {digits.percent(f)} by weight ({digits.percent(low)} to {digits.percent(high)})"  # noqa: E501
    if found.grams_per_litre is not None:
        text += (
            f"; {digits.significant(found.grams_per_litre)} g/L at {found.density_g_mL:.3f} g/mL"
        )
    return text + "."


def print_strength(found: Strength, out: Console, arithmetic: bool) -> None:
    """What one reading means for one substance."""
    say(out, strength_words(found), 0, 2, "bold")
    if found.low > 1:
        say(out, "More than pure: something else answers the test too, or a figure is wrong.", 0, 2)
    else:
        say(out, "If nothing else in it answers the test.", 0, 2)
    if arithmetic:
        print_reason(found.reason, out)
    print_disclaimer(out)


def two_ends_words(found: TwoEnds) -> str:
    """Hydroxide and carbonate apart."""
    return (
        f"Hydroxide {found.hydroxide * 1000:.3g} mmol/g (± {2000 * found.u_hydroxide:.1g}), "
        f"carbonate {found.carbonate * 1000:.3g} mmol/g (± {2000 * found.u_carbonate:.1g})."
    )


def print_reason(reason: Reason, out: Console) -> None:
    """The arithmetic line by line."""
    out.print("How it is reckoned:")
    for line in reason.lines:
        say(out, line, 2, 2)


def prepared_json(p: Prepared) -> dict[str, Any]:
    """One test as plain data: masses in g, readings in the unit of the method."""
    return {
        "method": p.method.name, "title": p.method.title, "unit": p.method.unit, "on": p.on,
        "first_end_point": p.first, "sample_g": p.sample_g, "titrant": p.method.titrant,
        "titrant_mol_L": p.molar, "usual": p.usual, "a_tenth_short": p.short,
        "nothing_reacted": p.nothing, "u": p.u, "tells": p.tells, "minutes": p.method.minutes,
        "counts": dict(p.counted), "why": list(p.reason.lines),
    }  # fmt: skip


def tests_json(step: str, figures: tuple[Prepared, ...], signs: tuple[Sign, ...]) -> dict[str, Any]:
    """The tests of a step as plain data."""
    return {
        "schema": "routefinder/tests/1", "disclaimer": DISCLAIMER, "step": step,
        "tests": [prepared_json(p) for p in figures],
        "signs": [{"method": s.method.name, "substance": s.substance, "figure": s.figure,
                   "word": s.word} for s in signs],
    }  # fmt: skip


def fits_json(substance: str, fits: tuple[str, ...]) -> dict[str, Any]:
    """The tests that a substance answers to as plain data."""
    return {
        "schema": "routefinder/tests/1", "disclaimer": DISCLAIMER, "substance": substance,
        "tests": list(fits),
    }  # fmt: skip


def strength_json(found: Strength) -> dict[str, Any]:
    """A strength as plain data: fractions from 0 to 1."""
    return {
        "schema": "routefinder/strength/1", "disclaimer": DISCLAIMER, **asdict(found),
        "low": found.low, "high": found.high, "grams_per_litre": found.grams_per_litre,
    }  # fmt: skip
