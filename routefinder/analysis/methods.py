"""The bench tests: what each reads, and what it must read of a stream of known contents.

A reading is worked out from the contents of what was sampled (``vessel.stream``), part by part:

    titration    mL of titrant = 1000 m e / c          e: equivalents per gram, c: mol/L
    acid gas     mL of CO2     = 24 055 m n            n: mol of carbonate per gram; 20 degC, 1 atm
    ignition     g left        = m r                   r: what strong heat leaves of a gram
    residue      g left        = m s                   s: share that water (or acid) leaves
    hydrometer   g/mL          = 0.9982 + sum of what each solute adds by its own table

Iodometry: 2 Cu(2+) + 4 I(-) -> 2 CuI + I2, H2O2 + 2 I(-) + 2 H(+) -> I2 + 2 H2O, and
I2 + 2 S2O3(2-): one thiosulfate a copper, two a peroxide. Chloride: by silver nitrate with chromate
(Mohr). Rules from memory: Vogel's Textbook of Quantitative Chemical Analysis. The sums of a
hydrometer's solutes are common practice, right to a few parts in a thousand in dilute liquor.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from routefinder.analysis import ignition
from routefinder.chem.responses import Response, response
from routefinder.chem.solutions import WATER_G_ML
from routefinder.library.densities import curve
from routefinder.library.library import Library
from routefinder.vessel.stream import Number, Stream, filled

GAS_ML_MOL = 24_055.0  # at 20 degC and 1 atm: R T / p, R from CODATA 2018
SOLUBLE_G = 1.0  # g per 100 g of water: more counts as dissolving


@dataclass(frozen=True)
class Method:
    """One test: ``reads`` is the kind of its reading, ``unit`` what it is written in.

    ``titrant`` is empty where none is used. ``u`` and ``u_share`` are the standard uncertainty of
    a reading where nothing else is said, in its unit and as a share (common practice). ``minutes``
    is its handwork. ``sign``: something to look at, no figure to reckon with.
    """

    name: str
    title: str
    reads: str
    unit: str
    titrant: str = ""
    u: float = 0.0
    u_share: float = 0.0
    minutes: float = 15.0
    sign: bool = False


METHODS = {
    m.name: m
    for m in (
        Method("alkali", "titration of alkali with acid", "volume", "mL", "acid", 0.05, 0.003, 15),
        Method("acid", "titration of acid with lye", "volume", "mL", "lye", 0.05, 0.003, 15),
        Method("hydrometer", "density by hydrometer", "density", "g/mL", "", 0.001, 0.0, 5),
        Method("acid gas", "gas from acid on carbonate", "volume", "mL", "", 1.0, 0.02, 20),
        Method("ignition", "loss on ignition", "mass", "g", "", 0.01, 0.0, 60),
        Method("residue", "residue that water leaves", "mass", "g", "", 0.02, 0.01, 40),
        Method("acid residue", "residue that acid leaves", "mass", "g", "", 0.02, 0.01, 40),
        Method("iodometry", "iodometric titration", "volume", "mL", "thiosulfate", 0.05, 0.003, 25),
        Method(
            "chloride", "titration of chloride", "volume", "mL", "silver nitrate", 0.05, 0.005, 20
        ),
        Method("pH", "pH by paper or meter", "number", "", "", 0.5, 0.0, 2, True),
        Method("melting", "melting range", "temperature", "degC", "", 1.0, 0.0, 20, True),
        Method("flame", "colour of a flame", "words", "", "", 0.0, 0.0, 5, True),
        Method("dissolving", "dissolving without rest", "words", "", "", 0.0, 0.0, 10, True),
    )
}
TITRATIONS = tuple(m.name for m in METHODS.values() if m.titrant)


def of_substance(library: Library, substance: str) -> Response:
    """What a mole of a substance of the library gives in each test."""
    record = library.substances.get(substance)
    if record is None:
        return Response()
    root = library.substances[library.root(substance)]
    return response(record.formula, record.cas or root.cas)


def dissolves_in_water(library: Library, substance: str) -> bool:
    """Whether water takes it up: the library knows it dissolved, or its table says so."""
    record = library.substances.get(substance)
    if record is None:
        return False
    root = library.substances[library.root(substance)]
    for table in root.solubility:
        return max(g for _, g in table.at) > SOLUBLE_G
    return root.id in library.soluble


_EQUIVALENTS: dict[str, Callable[[Response], float]] = {
    "alkali": lambda r: r.alkali,
    "alkali, first end point": lambda r: r.alkali_first,
    "acid": lambda r: r.acid,
    "acid gas": lambda r: r.carbonate,
    "iodometry": lambda r: r.iodine,
    "chloride": lambda r: r.chloride,
}


def equivalents(library: Library, stream: Stream, what: str) -> Number:
    """Moles of what a test counts, per gram of the stream; ``what`` is a method's name.

    "alkali, first end point" counts to phenolphthalein.
    """
    pick = _EQUIVALENTS[what]
    found: Number = 0.0
    for (name, _), grams in stream.parts.items():
        per = pick(of_substance(library, name))
        if per:
            found = found + grams * (per / library.substances[name].molar_mass_g)
    return found / filled(stream.mass_g)


def density(library: Library, stream: Stream) -> Number:
    """g/mL of the liquor of a stream: water, and what each solute adds by its own table."""
    import numpy as np

    liquor = stream.only("l", "aq")
    mass = liquor.mass_g
    found: Number = WATER_G_ML + 0.0 * mass
    for (name, _), grams in liquor.parts.items():
        if name == "water" or name not in library.substances:
            continue
        line = curve(library, name)
        points = [(f, rho) for f, rho in (line.points or line.table)]
        if len(points) < 2:
            continue
        shares, volumes = zip(*((f, 1 / rho) for f, rho in points), strict=True)
        at = np.interp(grams / mass * line.dry, shares, volumes)
        found = found + (1 / at - WATER_G_ML)
    return found if not isinstance(found, np.ndarray) or found.ndim else float(found)


def per_gram(library: Library, method: str, stream: Stream, first: bool = False) -> Number:
    """What a gram of the stream gives: mol (titrations, gas), g left, or g/mL itself.

    Raises KeyError for a test that gives no figure.
    """
    if method == "hydrometer":
        return density(library, stream)
    if method == "ignition":
        found: Number = 0.0
        for (name, _), grams in stream.parts.items():
            found = found + grams * ignition.left(library, name)
        return found / filled(stream.mass_g)
    if method in {"residue", "acid residue"}:
        rest: Number = 0.0
        for (name, phase), grams in stream.parts.items():
            if phase == "s" and _stays(library, name, method):
                rest = rest + grams
        return rest / stream.mass_g
    return equivalents(library, stream, "alkali, first end point" if first else method)


def _stays(library: Library, name: str, method: str) -> bool:
    if name not in library.substances:
        return True  # what nobody knows is taken to stay: cautious for a purity
    if method == "residue":
        return not dissolves_in_water(library, name)
    return of_substance(library, name).acid_leaves


def reading(
    library: Library,
    method: str,
    stream: Stream,
    sample_g: Number,
    molar: float = 0.0,
    first: bool = False,
) -> Number:
    """What the test must read of ``sample_g`` grams, in the unit of its method."""
    per = per_gram(library, method, stream, first)
    if METHODS[method].titrant:
        return per * sample_g * 1000 / molar
    if method == "acid gas":
        return per * sample_g * GAS_ML_MOL
    return per if method == "hydrometer" else per * sample_g


AIMED_ML = 20.0  # of a burette of 25 or 50 mL


def sample_for(method: str, per: float, molar: float, solid: bool) -> float:
    """Grams of sample that use a burette (or a gas jar of 200 mL) well: 1, 2 or 5 times ten."""
    if METHODS[method].titrant:
        want = AIMED_ML * molar / 1000 / per if per > 0 else 10.0
    elif method == "acid gas":
        want = 150.0 / GAS_ML_MOL / per if per > 0 else 5.0
    elif method == "hydrometer":
        return 200.0
    else:
        return 5.0 if method == "ignition" else 2.0
    want = min(max(want, 0.05), 10.0 if solid else 25.0)
    power = 10.0 ** math.floor(math.log10(want))
    return max(f for f in (1.0, 2.0, 5.0) if f * power <= want * 1.0001) * power
