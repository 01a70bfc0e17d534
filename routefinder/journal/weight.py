"""What was weighed: a mass with the balance's readability, and the charge of a step.

Where no balance is named, the last digit as written counts as readability: "214.0 g" is read to
0.1 g, "320 g" to 1 g. The standard uncertainty of a reading is readability / sqrt(12)
(rectangular distribution: JCGM 100:2008, GUM, 4.3.7, from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from routefinder import listing, units
from routefinder.analysis.reading import last_digit
from routefinder.assessment.distribution import Z90
from routefinder.errors import AmbiguousName, FieldError, InputError, QuantityError
from routefinder.library.densities import curve
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import supply
from routefinder.library.strengths import at_strength, of_substance
from routefinder.records.shelf import Bench, Supply

WATER = "H2O"
STAYS = ("flux", "catalyst")  # auxiliaries that stay in the charge
BURNS = ("fuel",)  # auxiliaries that are gone when it is weighed
WHOLE = frozenset({"whole charge", "the whole charge", "charge", "all", "everything", "mix"})


@dataclass(frozen=True)
class Reading:
    """A mass in g, and the step of the balance's display in g."""

    grams: float
    reads_g: float

    @property
    def u_g(self) -> float:
        """Standard uncertainty of the reading, in g."""
        return self.reads_g / math.sqrt(12)


def is_volume(text: str) -> bool:
    """Whether a text is a volume: "220 mL"."""
    try:
        return units.read_any(text, ("mass", "volume"))[1] == "volume"
    except QuantityError:
        return False


def read_mass(
    text: str,
    reads: str | None = None,
    bench: Bench | None = None,
    density_g_mL: float | None = None,
    name: str = "",
) -> Reading:
    """Read "214.0 g"; readability from ``reads``, else the bench's balance, else as written.

    A volume ("220 mL") is read through ``density_g_mL`` of what is called ``name``. Raises
    QuantityError for anything that is no mass above 0, or a volume without a density.
    """
    if is_volume(text):
        return _read_volume(text, reads, density_g_mL, name)
    try:
        grams = units.read(text, "mass")
    except QuantityError as error:
        raise QuantityError(f"weight {error}") from None
    if grams <= 0:
        raise QuantityError(f"the weight {text!r} must be above 0 g")
    if reads is not None:
        step = units.read(reads, "mass")
        if step <= 0:
            raise QuantityError(f"the readability {reads!r} must be above 0 g")
        return Reading(grams, step)
    if bench is not None:
        fitting = [
            r
            for tool in bench.tools
            for offer in tool.offers
            if offer.name == "weigh"
            and (r := offer.limit("readability"))
            and (offer.limit("capacity") or math.inf) >= grams
        ]
        if fitting:
            return Reading(grams, min(fitting))
    return Reading(grams, last_digit(text, "mass"))


def _read_volume(text: str, reads: str | None, density_g_mL: float | None, name: str) -> Reading:
    millilitres = units.read(text, "volume")
    if millilitres <= 0:
        raise QuantityError(f"the volume {text!r} must be above 0 mL")
    if density_g_mL is None:
        raise QuantityError(
            f"{text!r} is a volume, and the density of {name or 'this'} is not known; give a "
            "weight, or the density besides"
        )
    step = units.read(reads, "volume") if reads is not None else last_digit(text, "volume")
    if step <= 0:
        raise QuantityError(f"the readability {reads!r} must be above 0 mL")
    return Reading(millilitres * density_g_mL, step * density_g_mL)


@dataclass(frozen=True)
class Charge:
    """What was weighed in of one thing: ``form`` is the substance as weighed (a hydrate, say).

    ``purity`` is grams of it per gram weighed, with its 10th and 90th percentile; ``supply`` the
    material it was taken from, when it is known (for what else comes along in it). ``whole``: it
    stands for all that was put together, in the step's proportions. ``role`` as in a plan's feeds.
    ``most`` is the share that it may be at the most, where the purity is only reckoned (a solution
    that nobody measured); None: as stated. ``key`` is its name in the journal's entries.
    """

    form: str
    name: str
    reading: Reading
    purity: float = 1.0
    low: float = 1.0
    high: float = 1.0
    stated: bool = False
    supply: Supply | None = None
    whole: bool = False
    role: str = "reactant"
    most: float | None = None
    key: str = ""

    @property
    def u_purity(self) -> float:
        """Standard uncertainty of the purity, from its 10th and 90th percentile."""
        return (self.high - self.low) / (2 * Z90)

    def moles(self, library: Library) -> float:
        """Moles of the substance as stated."""
        pure = self.reading.grams * self.purity
        return pure / library.substances[self.form].molar_mass_g


def goes_through(library: Library, step: ResolvedStep) -> bool:
    """Whether all solids stay together and only gas or water leaves or joins."""
    if step.is_recipe or step.main.state != "s":
        return False
    for part in (*step.reactants, *step.products):
        water = part.state == "l" and library.substances[part.substance].formula == WATER
        if part.state not in {"s", "g"} and not water:
            return False
    if step.limiting.state != "s":
        return False
    return all(aid.role in (*STAYS, *BURNS) for aid in step.aids)


def several_solids(library: Library, step: ResolvedStep) -> bool:
    """Whether several solids are put together and only gas or water leaves or joins."""
    solids = [p for p in step.reactants if p.state == "s"]
    solids_too = [a for a in step.aids if a.role in STAYS]
    return goes_through(library, step) and len(solids) + len(solids_too) > 1


def strength_of(
    library: Library, step: ResolvedStep, text: str, density_g_mL: float | None = None
) -> dict[str, float | str | None]:
    """A measured strength of what a step made: "6.4 %" by weight, "5 % w/v", "1.7 mol/L".

    ``low``, ``share``, ``high`` are grams of the product in a gram of what lies there (10th, best,
    90th percentile: the last digit as written), ``density_g_mL`` as measured or by its table.
    Raises InputError for what cannot be.
    """
    main = step.main
    record = library.substances[main.substance]
    dissolved = main.state == "aq"
    fraction: float | None = None
    rho = density_g_mL
    try:
        fraction = units.read_fraction(text) if "w/v" not in text and "v/v" not in text else None
    except InputError:
        fraction = None
    if fraction is None and rho is not None:  # grams in a millilitre, over its grams
        try:
            grams = units.read(text, "concentration") * record.molar_mass_g / 1000
        except InputError:
            grams = units.read_fraction(text.replace("w/v", "").strip()) if "w/v" in text else 0.0
        fraction = grams / rho or None
    if fraction is None:
        found = at_strength(library, of_substance(record), text, poured=dissolved)
        fraction, rho = found.fractions[found.main], found.density_g_mL
    if not 0 < fraction <= 1:
        raise InputError(f"the strength {text!r} must lie above 0 and up to 100 %")
    figures = re.match(r"\s*([\d.,]+)", text)
    digit = last_digit(figures[1], "mass") if figures else 0.0
    typed = float(figures[1].replace(",", ".")) if figures else 0.0
    reach = Z90 * digit / math.sqrt(12) / typed * fraction if typed else 0.0
    if rho is None and dissolved:
        known = curve(library, main.substance).at(fraction)
        rho = None if known is None else known.g_mL
    return {
        "low": max(fraction - reach, 0.0), "share": fraction, "high": min(fraction + reach, 1.0),
        "density_g_mL": rho, "words": text.strip(),
    }  # fmt: skip


def density_of_charge(library: Library, charge: Charge) -> float | None:
    """g/mL of a liquid that is measured in, as its material or substance has it."""
    if charge.supply is not None and charge.supply.form in {"solution", "liquid"}:
        return charge.supply.density_g_mL
    liquid = of_substance(library.substances[charge.form])
    return liquid.density_g_mL if liquid.form == "liquid" and charge.supply is None else None


def charge_of_supply(material: Supply, form: str, reading: Reading) -> Charge:
    """A weight of a material of the shelf, used for the substance ``form`` in it."""
    w = material.fractions[form]
    low, high = material.low.get(form, w), material.high.get(form, w)
    return Charge(form, material.name, reading, w, min(low, w), max(high, w), True, material)


def charge(
    library: Library,
    step: ResolvedStep,
    reading: Reading,
    of: str | None = None,
    strength: str | None = None,
    supplies: Mapping[str, Supply] | None = None,
) -> Charge:
    """What went into a step, from what the user says was weighed.

    ``of`` is a material or substance name: any reactant of the step, alone; without it, or as one
    of ``WHOLE``, the whole charge where several solids are heated together, else the limiting
    reactant, which must then have one form only. ``strength`` overrides the purity. Raises
    InputError when ``of`` is nothing the step takes, or when the form is left open.
    """
    limiting = step.limiting
    root = library.root(limiting.substance)
    together = several_solids(library, step)
    if of is not None and of.strip().casefold() in WHOLE:
        if not together:
            raise FieldError(
                "{f} {of!r}: here not all that is put in is weighed together; name what was "
                "weighed", f="of", of=of,
            )  # fmt: skip
        of = None
    if of is None and together:
        found = Charge(limiting.substance, "the whole charge", reading, whole=True)
    elif of is None:
        forms = library.families.get(root, (root,))
        if limiting.state == "aq" and len(forms) > 1:
            choices = [library.substances[f].label for f in forms]
            raise FieldError(
                "the step takes {name} dissolved, so any of its forms may have been weighed in; "
                "say which with {f}: {choices}, or the name of a material",
                f="of", name=library.name(limiting.substance), choices=", ".join(choices),
            )  # fmt: skip
        found = Charge(limiting.substance, library.name(limiting.substance), reading)
    else:
        found = _named(library, step, reading, of, supplies or {})
    if strength is not None:
        w = units.read_fraction(strength)
        if not 0 < w <= 1:
            raise InputError(f"the strength {strength!r} must lie above 0 and up to 100 %")
        found = Charge(found.form, found.name, reading, w, w, w, True)
    return found


def _named(
    library: Library,
    step: ResolvedStep,
    reading: Reading,
    of: str,
    supplies: Mapping[str, Supply],
) -> Charge:

    def serves(form: str) -> bool:
        return any(
            library.root(form) == library.root(part.substance)
            if part.state == "aq"
            else form == part.substance
            for part in step.reactants
        )

    known = supplies.get(of)
    if known is None and library.material_names.find(of):
        try:
            known = supply(library.material(of))
        except AmbiguousName:
            known = None
    if known is not None:
        for form in known.fractions:
            if serves(form):
                return charge_of_supply(known, form, reading)
    substance = library.substance(of)
    if not serves(substance.id):
        takes = listing.listed(
            library.name(p.substance) + (" in any form" if p.state == "aq" else "")
            for p in step.reactants
        )
        raise InputError(f"{of!r} is nothing this step takes; it takes {takes}")
    return Charge(substance.id, substance.name, reading)
