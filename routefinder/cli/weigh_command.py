"""The command weigh: what does this weight mean?"""

from __future__ import annotations

from typing import Annotated

import typer

from routefinder.cli import options as o

WeighedIn = Annotated[
    str,
    typer.Option(
        "--in", metavar="MASS", help="What was weighed in: '320 g', '220 mL' of a liquid."
    ),
]
WeighedOut = Annotated[
    str, typer.Option("--out", metavar="MASS", help="What it weighs now: '214.0 g'.")
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
    out: WeighedOut,
    of: Of = None,
    strength: Strength = None,
    density: Density = None,
    reads: Reads = None,
    tare: Tare = None,
    part: Part = None,
    wet: Wet = False,
    moisture: Moisture = None,
    bench: o.BenchFile = None,
    arithmetic: Annotated[
        bool, typer.Option("--why", help="Show the arithmetic line by line.")
    ] = False,
    libraries: o.Libraries = None,
    only_library: o.OnlyLibrary = False,
    json_out: o.JsonOut = False,
) -> None:
    """Say what a weight means: done, go on and to which weight, or something else."""
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
    weighed = weight.read_mass(out, reads, own)
    found = decide.weigh(
        library, found_step, charge, weighed,
        tare_g=units.read(tare, "mass") if tare else 0.0,
        part=units.read_fraction(part) if part else 1.0,
        wet=wet or moisture is not None,
        moisture=units.read_fraction(moisture) if moisture else None,
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
