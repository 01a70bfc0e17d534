"""A supply at another strength than the library's: its contents, density, price and name.

What is diluted is another thing and must not bear the name of the stronger: "battery acid, 37 %" at
9.3 % is "battery acid diluted to 9.3 %", with the density of 9.3 %. The law: the mass of solute is
volume x density x strength, whatever way the strength is given.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from routefinder.errors import InputError
from routefinder.library import assays
from routefinder.library.densities import LIQUID_BELOW_C, curve
from routefinder.library.library import Library
from routefinder.records.material import _strength
from routefinder.records.shelf import Supply
from routefinder.records.substance import Substance

SAME = 1e-6  # strengths closer than this are one
ABOUT = 0.01  # a name without a strength still serves within a hundredth
PURE = 0.9  # what is thinned from here on is a solution, not a diluted one
SOLUTION_BELOW = 0.6  # a liquid weaker than this serves as a solution
_STATED = re.compile(r"[,\s]+\d+(?:[.,]\d+)?\s*%(?:\s*[wv]/[wv])?\s*$")
_MOLAR = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(mol/[lL]|M|g/[lL])\s*$")


def of_substance(substance: Substance) -> Supply:
    """A pure substance as a supply, in the form it has in a room."""
    liquid = (
        substance.melting_C is not None
        and substance.melting_C < LIQUID_BELOW_C
        and (substance.boiling_C is None or substance.boiling_C > LIQUID_BELOW_C)
        and "H280" not in substance.hazards.statements
    )
    return Supply(
        substance.id, substance.name, "liquid" if liquid else "solid", {substance.id: 1.0},
        substance.id, density_g_mL=substance.density_g_mL,
    )  # fmt: skip


def at_strength(library: Library, base: Supply, text: str, poured: bool = False) -> Supply:
    """``base`` at a strength: "9.3 %" (by weight), "5 % w/v", "40 % v/v", "1 mol/L", "80 g/L".

    An assay as a label gives it does as well: "56 % Cu", "44 to 48 % Co", "17 % as Al2O3".
    ``poured`` says that its amount is a volume: a solid is then meant dissolved. Raises InputError
    for a strength that cannot be read or cannot be, and, to ask back, for a bare figure far below
    what a solid holds.
    """
    usual = base.fractions[base.main]
    stated = assays.read(text)
    if stated is not None:
        return _assayed(library, base, stated)
    value, basis = _read(text)
    gas = "H280" in library.substances[base.main].hazards.statements
    wet = base.form in {"solution", "liquid"} or basis != "w/w" or poured or gas
    rho = _density_of(library, base, usual, wet)
    fraction = value
    if basis != "w/w":
        fraction = _fraction(library.substances[base.main], value, basis, rho, text)
    if not 0 < fraction <= 1:
        raise InputError(f"strength {text!r} must lie above 0 and up to 100 %")
    if abs(fraction - usual) <= SAME * usual:
        return base
    if base.form in {"solid", "metal"} and not wet:
        least = min(base.low.get(base.main, usual), usual)
        most = max(base.high.get(base.main, usual), usual)
        assays.ask_back(library.substances[base.main], base.name, fraction, least, most)
    scale = fraction / usual
    return replace(
        base,
        name=_name(base, fraction, usual, wet),
        fractions={**_beside(base.fractions, base.main, fraction, usual, wet), base.main: fraction},
        others=_beside(base.others, "", fraction, usual, wet),
        low={base.main: base.low.get(base.main, usual) * scale},
        high={base.main: min(1.0, base.high.get(base.main, usual) * scale)},
        form=_form(base, fraction, wet),
        density_g_mL=rho(fraction),
        # the water of a dilution costs nothing
        price_per_g=base.price_per_g * scale if wet and base.price_per_g else base.price_per_g,
    )  # fmt: skip


def _assayed(library: Library, base: Supply, stated: assays.Stated) -> Supply:
    """``base`` with what a label states of its main substance; the rest as far as there is room."""
    substance = library.substances[base.main]
    usual = base.fractions[base.main]
    low, fraction, high = (
        assays.fraction_of(share, stated.formula, substance)
        for share in (stated.low, stated.typical, stated.high)
    )
    if stated.low == stated.high:  # the doubt of the record, in proportion
        low = min(base.low.get(base.main, usual) / usual * fraction, fraction)
        high = min(1.0, max(base.high.get(base.main, usual) / usual * fraction, fraction))
    wet = base.form in {"solution", "liquid"}
    if wet and abs(fraction - usual) > SAME * usual:
        return at_strength(library, base, f"{100 * fraction!r} %")
    return replace(
        base,
        name=_name(base, fraction, usual, wet),
        fractions={**_beside(base.fractions, base.main, fraction, usual, wet), base.main: fraction},
        others=_beside(base.others, "", fraction, usual, wet),
        low={base.main: low},
        high={base.main: high},
    )


def in_water(library: Library, substance_id: str, text: str) -> float:
    """The mass fraction of a solution in water from text, as for ``at_strength``."""
    value, basis = _read(text)
    if basis == "w/w":
        return value
    densities = curve(library, substance_id)

    def rho(fraction: float) -> float | None:
        found = densities.at(fraction)
        return None if found is None else found.g_mL

    return _fraction(library.substances[substance_id], value, basis, rho, text)


def _read(text: str) -> tuple[float, str]:
    molar = _MOLAR.match(text)
    if molar:
        return float(molar[1]), "g/L" if molar[2].startswith("g") else "mol/L"
    if re.fullmatch(r"\s*[-+0-9.,eE_]+\s*", text):
        raise InputError(
            f"strength {text!r} has no unit; write for example '9.3 %', '5 % w/v' or '1 mol/L'"
        )
    try:
        value, basis = _strength(text)
    except ValueError as error:
        raise InputError(
            f"strength {error}; write for example '9.3 %', '5 % w/v', '1 mol/L' or '80 g/L'"
        ) from None
    if not 0 < value <= (2.0 if basis == "w/v" else 1.0):
        raise InputError(f"strength {text!r} must lie above 0 and up to 100 %")
    return value, basis


_Density = Callable[[float], float | None]


def _density_of(library: Library, base: Supply, usual: float, wet: bool) -> _Density:
    """g/mL by mass fraction: of a solution in water, through the material's own at its strength.

    Where a table differs from what is stated of the material, the difference is spread in
    proportion to the strength, so that nothing jumps.
    """
    liquid = base.form in {"solution", "liquid"} and base.density_g_mL is not None
    known = [(usual, base.density_g_mL or 1.0)] if liquid else []
    densities = curve(library, base.main, known)
    own = densities.at(usual) if liquid else None
    off = (base.density_g_mL or 1.0) / own.g_mL if own else 1.0

    def rho(fraction: float) -> float | None:
        if not wet:
            return base.density_g_mL
        found = densities.at(fraction)
        return None if found is None else found.g_mL * off ** min(fraction / usual, 1.0)

    return rho


def _fraction(substance: Substance, value: float, basis: str, rho: _Density, text: str) -> float:
    """The mass fraction at which a litre holds what ``value`` says (grams grow with strength)."""
    per_mL = {
        "w/v": value, "g/L": value / 1000, "mol/L": value * substance.molar_mass_g / 1000,
        "v/v": value * (substance.density_g_mL or 0.0),
    }[basis]  # fmt: skip
    if value <= 0:
        raise InputError(f"strength {text!r} must lie above 0")
    if not per_mL:
        raise InputError(f"strength {text!r} needs the density of pure {substance.name}; "
                         "give it as w/w")  # fmt: skip
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        found = rho(middle)
        if found is None:
            raise InputError(f"strength {text!r} needs a density; give it as w/w")
        low, high = (middle, high) if middle * found < per_mL else (low, middle)
    if high > 1 - 1e-6:
        raise InputError(f"strength {text!r} is more than a litre of {substance.name} can hold")
    return (low + high) / 2


def _form(base: Supply, fraction: float, wet: bool) -> str:
    if base.form == "liquid":
        return "solution" if fraction < SOLUTION_BELOW else "liquid"
    return "solution" if wet else base.form


def _beside(
    shares: dict[str, float], main: str, fraction: float, usual: float, wet: bool
) -> dict[str, float]:
    """What else is in it: thinned with the rest in a dilution, else as far as there is room."""
    rest = sum(v for k, v in shares.items() if k != main)
    if not rest:
        return {k: v for k, v in shares.items() if k != main}
    room = (1 - fraction) / rest
    scale = min(fraction / usual if wet else 1.0, room)
    return {k: v * scale for k, v in shares.items() if k != main}


def _name(base: Supply, fraction: float, usual: float, wet: bool) -> str:
    """The name of what it is at this strength, never that of a stronger thing."""
    said = f"{100 * fraction:.3g} %"
    stated = _STATED.search(base.name)
    if stated is None and abs(fraction - usual) <= ABOUT * usual:
        return base.name
    if stated and stated[0].strip(" ,") == said:
        return base.name
    bare = base.name[: stated.start()] if stated else base.name
    if base.form == "solid" and wet:
        return f"{bare} in water, {said}"
    if wet and fraction < usual < PURE:
        return f"{bare} diluted to {said}"
    return f"{bare}, {said}" if wet or stated else base.name
