"""What was weighed: a mass with the balance's readability, and the charge of a step.

Where no balance is named, the last digit as written counts as readability: "214.0 g" is read to
0.1 g, "320 g" to 1 g. The standard uncertainty of a reading is readability / sqrt(12)
(rectangular distribution: JCGM 100:2008, GUM, 4.3.7, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from routefinder import listing, units
from routefinder.assessment.distribution import Z90
from routefinder.errors import AmbiguousName, FieldError, InputError, QuantityError
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import supply
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


def read_mass(text: str, reads: str | None = None, bench: Bench | None = None) -> Reading:
    """Read "214.0 g"; readability from ``reads``, else the bench's balance, else as written.

    Raises QuantityError for anything that is no mass above 0.
    """
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
    return Reading(grams, _last_digit_g(text))


def _last_digit_g(text: str) -> float:
    number, unit = text.strip(), ""
    for i, sign in enumerate(number):
        if not (
            sign.isdigit() or sign in ".,+- _" or (sign in "eE" and i and number[i - 1].isdigit())
        ):
            number, unit = number[:i], number[i:]
            break
    try:
        written = Decimal(number.strip().replace(" ", "").replace("_", "").replace(",", "."))
    except InvalidOperation:
        return 1.0
    exponent = written.as_tuple().exponent
    places = exponent if isinstance(exponent, int) else 0
    factor = units.read(f"1 {unit.strip() or 'g'}", "mass")
    return float(10.0 ** min(places, 0)) * factor


@dataclass(frozen=True)
class Charge:
    """What was weighed in of one thing: ``form`` is the substance as weighed (a hydrate, say).

    ``purity`` is grams of it per gram weighed, with its 10th and 90th percentile; ``supply`` the
    material it was taken from, when it is known (for what else comes along in it). ``whole``: it
    stands for all that was put together, in the step's proportions. ``role`` as in a plan's feeds.
    ``most`` is the share that it may be at the most, where the purity is only reckoned (a solution
    that nobody measured); None: as stated.
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
