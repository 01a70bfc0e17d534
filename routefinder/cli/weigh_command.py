"""The command weigh: what does this weight mean?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from routefinder.cli import options as o

if TYPE_CHECKING:
    from routefinder.journal.weight import Charge, Reading
    from routefinder.library.library import Library
    from routefinder.library.resolve import ResolvedStep

WeighedIn = Annotated[
    str,
    typer.Option(
        "--in", metavar="MASS", help="What was weighed in: '320 g', '220 mL' of a liquid."
    ),
]
WeighedOut = Annotated[
    str | None, typer.Option("--out", metavar="MASS", help="What it weighs now: '214.0 g'.")
]
Tests = Annotated[
    list[str] | None,
    typer.Option(
        "--test",
        metavar="TEST",
        help="A bench test beside the weight or in place of it: 'alkali, 10.00 g, 35.6 mL, 0.500 "
        "mol/L'. May be repeated.",
    ),
]
BeforeWash = Annotated[
    bool,
    typer.Option("--before-wash", help="The weight is of the fired charge before its wash."),
]
Holds = Annotated[
    str | None,
    typer.Option(
        "--holds",
        metavar="STRENGTH",
        help="What was found to be product in what came out (a liquor, a slurry): '6.8 %', or its "
        "density where nothing else is dissolved: '1.07 g/mL'.",
    ),
]
Of = Annotated[
    str | None,
    typer.Option("--of", metavar="NAME", help="What was weighed in: a material or substance."),
]
Strength = Annotated[
    str | None, typer.Option("--strength", metavar="SHARE", help="Its purity: '98 %'.")
]
Reads = Annotated[
    str | None,
    typer.Option(
        "--reads",
        metavar="MASS",
        help="The balance's readability: '0.1 g'; else the bench's balance, else the last digit "
        "as written.",
    ),
]
Density = Annotated[
    str | None,
    typer.Option("--density", metavar="DENSITY", help="Its density: '1.07 g/mL', for a volume."),
]
Tare = Annotated[
    str | None,
    typer.Option("--tare", metavar="MASS", help="A vessel that was weighed with both."),
]
Part = Annotated[
    str | None,
    typer.Option(
        "--part", metavar="SHARE", help="Only part of the whole, a crop or batch: '50 %'."
    ),
]
Wet = Annotated[bool, typer.Option("--wet", help="Not dry yet: a provisional weight.")]
Moisture = Annotated[
    str | None,
    typer.Option("--moisture", metavar="SHARE", help="Water in the wet product: '40 %'."),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command("weigh")(weigh)


def weigh(
    step: Annotated[
        str, typer.Argument(metavar="STEP", help="Id or title of a step ('look' shows them).")
    ],
    into: WeighedIn,
    out: WeighedOut = None,
    of: Of = None,
    strength: Strength = None,
    density: Density = None,
    reads: Reads = None,
    tare: Tare = None,
    part: Part = None,
    wet: Wet = False,
    moisture: Moisture = None,
    tests: Tests = None,
    before_wash: BeforeWash = False,
    holds: Holds = None,
    bench: o.BenchFile = None,
    arithmetic: Annotated[
        bool, typer.Option("--why", help="Show the arithmetic line by line.")
    ] = False,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:
    """Say what a weight means, or a weight and tests: done, go on, or something else."""
    from routefinder import units
    from routefinder.asking.library import load_library
    from routefinder.journal import decide, weight
    from routefinder.library.shelf import read_bench
    from routefinder.view import text, weigh_text

    library = load_library(libraries or (), only_library)
    found_step = library.step(step)
    own = read_bench(bench, library) if bench is not None else None
    rho = units.read(density, "density") if density else None
    if weight.is_volume(into):
        one = weight.Reading(1.0, 1.0)
        held = weight.charge(library, found_step, one, of, strength)
        rho = rho or weight.density_of_charge(library, held)
        into_g = weight.read_mass(into, reads, own, rho, held.name)
    else:
        into_g = weight.read_mass(into, reads, own)
    charge = weight.charge(library, found_step, into_g, of, strength)
    if tests or before_wash or out is None:
        _sensed(
            library, found_step, charge, weight.read_mass(out, reads, own) if out else None,
            tests or [], before_wash, part, wet, moisture, arithmetic, json_out,
        )  # fmt: skip
        return
    weighed = weight.read_mass(out, reads, own)
    found = decide.weigh(
        library, found_step, charge, weighed,
        tare_g=units.read(tare, "mass") if tare else 0.0,
        part=units.read_fraction(part) if part else 1.0,
        wet=wet or moisture is not None,
        moisture=units.read_fraction(moisture) if moisture else None,
        strength=_strength(library, found_step, holds) if holds else None,
    )  # fmt: skip
    if json_out:
        o.echo_json(weigh_text.as_json(found))
        return
    console = text.console()
    line = weigh_text.understood(
        found_step.title, found.in_g, charge.name, charge.purity, found.out_g
    )
    text.say(
        console, f"{line} (read to {charge.reading.reads_g:g} and {weighed.reads_g:g} g).", 0, 2
    )
    weigh_text.print_verdict(found, console, arithmetic)


def _strength(library: Library, step: ResolvedStep, holds: str) -> tuple[float, float, float]:
    """What a gram of what came out holds of the product: (low, best, high)."""
    from routefinder import units
    from routefinder.analysis import assay
    from routefinder.analysis.reading import read_test
    from routefinder.assessment.distribution import Z90
    from routefinder.errors import InputError

    if "g/" in holds or "kg/" in holds:
        found = assay.strength(library, step.main.substance, read_test(f"hydrometer, {holds}"))
        off = Z90 * found.u
        return max(found.fraction - off, 0.0), found.fraction, found.fraction + off
    share = units.read_fraction(holds)
    if not 0 < share <= 1:
        raise InputError(f"the strength {holds!r} must lie above 0 and up to 100 %")
    return share, share, share


def _sensed(
    library: Library, step: ResolvedStep, charge: Charge, out: Reading | None, tests: list[str],
    before_wash: bool, part: str | None, wet: bool, moisture: str | None, arithmetic: bool,
    json_out: bool,
) -> None:  # fmt: skip
    from routefinder import units
    from routefinder.analysis.model import PRODUCT, VESSEL
    from routefinder.analysis.reading import read_test
    from routefinder.errors import InputError
    from routefinder.journal import senses
    from routefinder.view import sensed_text, text

    if out is None and not tests:
        raise InputError("nothing was read: give --out, --test or both")
    kind = senses.titrates(library, step) if any(t.startswith("titrat") for t in tests) else ""
    found = senses.sense(
        library, step, charge, [read_test(t, kind) for t in tests], out,
        on=VESSEL if before_wash else PRODUCT,
        part=units.read_fraction(part) if part else 1.0,
        wet=wet or moisture is not None,
        moisture=units.read_fraction(moisture) if moisture else None,
    )  # fmt: skip
    if json_out:
        o.echo_json(sensed_text.as_json(found, library))
    else:
        sensed_text.print_sensed(found, library, text.console(), arithmetic)
