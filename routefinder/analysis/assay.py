"""How much of one substance is in a sample, from one reading, where nothing else answers the test.

    titration    w = c V M / (1000 m e)      e: equivalents per mole
    acid gas     w = V M / (24 055 m n)
    ignition     what has left, as a share; of a hydrate, the share of its own loss
    residue      what is left, as a share
    hydrometer   w from the substance's own table of densities

Two end points of alkali (Warder's method, from memory: Vogel's Textbook of Quantitative Chemical
Analysis): hydroxide takes 2 V1 - V2, carbonate 2 (V2 - V1). Intervals are +/- 2 standard
uncertainties (about 95 %), from reading, titrant and sample in quadrature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from routefinder.analysis import ignition
from routefinder.analysis.methods import (
    GAS_ML_MOL,
    METHODS,
    of_substance,
)
from routefinder.analysis.reading import Tested
from routefinder.assessment.reasoning import Reason, number
from routefinder.chem.solutions import WATER_G_ML
from routefinder.errors import InputError
from routefinder.library.densities import curve
from routefinder.library.library import Library

COVER = 2.0


@dataclass(frozen=True)
class Strength:
    """Grams of ``substance`` per gram of what was tested, with its 95 % interval.

    ``u`` is its standard uncertainty; ``density_g_mL`` that of the solution at that strength where
    a table knows it, ``mol_L`` likewise.
    """

    substance: str
    name: str
    fraction: float
    u: float
    density_g_mL: float | None
    reason: Reason

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return max(self.fraction - COVER * self.u, 0.0)

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.fraction + COVER * self.u

    @property
    def grams_per_litre(self) -> float | None:
        """g of the substance per L; None without a density."""
        return None if self.density_g_mL is None else self.fraction * self.density_g_mL * 1000


def equivalents_of(library: Library, substance: str, method: str, first: bool = False) -> float:
    """Moles of titrant (or of carbon dioxide) that a mole takes or gives in a test."""
    found = of_substance(library, substance)
    table = {
        "alkali": found.alkali_first if first else found.alkali, "acid": found.acid,
        "acid gas": found.carbonate, "iodometry": found.iodine, "chloride": found.chloride,
    }  # fmt: skip
    return float(table.get(method, 0.0))


def answers(library: Library, substance: str) -> tuple[str, ...]:
    """The tests with a figure that a substance answers to, itself."""
    out = [m for m in METHODS if equivalents_of(library, substance, m) > 0]
    root = library.substances[library.root(substance)]
    if root.densities is not None:
        out.append("hydrometer")
    if ignition.left(library, substance) < 0.999:
        out.append("ignition")
    return tuple(out)


def strength(library: Library, substance: str, done: Tested) -> Strength:
    """How much of the substance a reading means. Raises InputError when the test says nothing."""
    record = library.substances[substance]
    method = done.method
    if method == "hydrometer":
        return _by_density(library, substance, done)
    density = done.density_g_mL
    sample = done.grams(WATER_G_ML)
    lines = []
    if done.sample_g is None:
        density = density or _density_at(library, substance, done)
        sample = done.grams(density or WATER_G_ML)
        lines.append(
            f"sample: {number(done.sample_mL or 0.0)} mL × {number(density or WATER_G_ML)} g/mL = "
            f"{number(sample)} g"
        )
    if method == "ignition":
        own = 1 - ignition.left(library, substance)
        gone = 1 - done.reading / sample
        if own <= 1e-3:
            raise InputError(f"{record.name} loses nothing that the library knows of at red heat")
        value = gone / own
        u = math.hypot(done.u, done.u_sample_g) / sample / own
        lines += [
            f"share that left: 1 - {number(done.reading)} g / {number(sample)} g = {number(gone)}",
            f"{record.name}, if nothing else left: {number(gone)} / {number(own)} = "
            f"{number(value)}",
        ]
    elif method in {"residue", "acid residue"}:
        value = 1 - done.reading / sample
        u = math.hypot(done.u, done.u_sample_g) / sample
        lines.append(
            f"what dissolved: 1 - {number(done.reading)} g / {number(sample)} g = {number(value)}"
        )
    else:
        per = equivalents_of(library, substance, method, done.first)
        if per <= 0:
            fits = ", ".join(answers(library, substance)) or "none of those with a figure"
            raise InputError(
                f"{record.name} does not answer to {METHODS[method].title}; it does to: {fits}"
            )
        if method == "acid gas":
            moles = done.reading / GAS_ML_MOL
            lines.append(
                f"carbon dioxide: {number(done.reading)} mL / {number(GAS_ML_MOL)} mL = "
                f"{number(moles)} mol"
            )
        else:
            moles = done.reading * done.molar / 1000
            lines.append(
                f"titrant: {number(done.reading)} mL × {number(done.molar)} / 1000 = "
                f"{number(moles)} mol"
            )
        grams = moles / per * record.molar_mass_g
        value = grams / sample
        u = value * done.u_all / done.reading if done.reading else done.u / sample
        lines += [
            f"{record.name}: {number(moles)} mol / {number(per)} × "
            f"{number(record.molar_mass_g)} g/mol = {number(grams)} g",
            f"share of the sample: {number(grams)} g / {number(sample)} g = {number(value)}",
        ]
    lines.append(
        f"standard uncertainty {number(u)} (reading ± {number(done.u)} {METHODS[method].unit}, "
        f"sample and titrant {number(done.relative)} of it); the interval is twice that either way"
    )
    return Strength(
        substance, record.name, value, u, _table(library, substance, value) or density,
        Reason(f"test:{substance}", f"{METHODS[method].title}: what it means", tuple(lines)),
    )  # fmt: skip


def _table(library: Library, substance: str, fraction: float) -> float | None:
    if library.substances[library.root(substance)].densities is None or not 0 < fraction < 1:
        return None
    found = curve(library, substance).at(fraction)
    return found.g_mL if found is not None and found.from_table else None


def _density_at(library: Library, substance: str, done: Tested) -> float | None:
    """The density at which the reading means the strength that has this density (fixed point)."""
    per = equivalents_of(library, substance, done.method, done.first)
    if not per or not done.sample_mL or done.method == "acid gas":
        return None
    molar = library.substances[substance].molar_mass_g
    grams = done.reading * done.molar / 1000 / per * molar
    density = WATER_G_ML
    for _ in range(50):
        density = _table(library, substance, grams / done.sample_mL / density) or density
    return density


def _by_density(library: Library, substance: str, done: Tested) -> Strength:
    """The strength at which the table of densities gives the reading. Raises InputError."""
    record = library.substances[substance]
    root = library.substances[library.root(substance)]
    line = curve(library, substance)
    if root.densities is None or len(line.table) < 2:
        raise InputError(
            f"the library has no table of densities of {record.name} solutions; titrate it, or "
            "evaporate a weighed sample"
        )
    wanted = done.reading
    rows = list(line.table)
    rises = rows[-1][1] > rows[0][1]
    inside = [(a, b) for a, b in pairwise(rows)
              if min(a[1], b[1]) <= wanted <= max(a[1], b[1])]  # fmt: skip
    if not inside:
        ends = sorted(rho for _, rho in rows)
        raise InputError(
            f"{wanted:.4g} g/mL lies outside the table of {record.name} solutions "
            f"({ends[0]:.4g} to {ends[-1]:.4g} g/mL, up to {rows[-1][0] / line.dry:.0%})"
        )
    (f1, r1), (f2, r2) = inside[0]
    share = (1 / wanted - 1 / r1) / (1 / r2 - 1 / r1)
    dry = f1 + share * (f2 - f1)
    slope = abs((f2 - f1) / (r2 - r1))
    value, u = dry / line.dry, done.u * slope / line.dry
    source = "; ".join(str(s) for s in root.densities.source)
    word = "more" if rises else "less"
    lines = (
        f"table at {root.densities.temperature_C:g} degC ({source}): {number(f1)} at {number(r1)} "
        f"g/mL, {number(f2)} at {number(r2)} g/mL; stronger is {word} dense",
        f"between them, volumes added: {number(f1)} + {number(share)} × ({number(f2)} - "
        f"{number(f1)}) = {number(dry)}",
        f"as {record.name}: {number(dry)} / {number(line.dry)} = {number(value)}",
        f"standard uncertainty {number(u)}; the interval is twice that either way; nothing else "
        "may be dissolved in it",
    )
    return Strength(
        substance, record.name, value, u, wanted,
        Reason(f"test:{substance}", "density by hydrometer: what it means", lines),
    )  # fmt: skip


@dataclass(frozen=True)
class TwoEnds:
    """Hydroxide and carbonate from two end points: mol per g of sample, with uncertainties."""

    hydroxide: float
    u_hydroxide: float
    carbonate: float
    u_carbonate: float
    reason: Reason


def two_ends(first: Tested, last: Tested) -> TwoEnds:
    """Warder: hydroxide 2 V1 - V2, carbonate V2 - V1 (moles). Raises InputError for a mismatch."""
    if first.sample_g is None or last.sample_g is None:
        raise InputError("two end points are reckoned from weighed samples")
    e1 = first.reading * first.molar / 1000 / first.sample_g
    e2 = last.reading * last.molar / 1000 / last.sample_g
    if e1 > e2 * 1.0001:
        raise InputError("the first end point cannot take more than the last")
    u1 = first.u * first.molar / 1000 / first.sample_g
    u2 = last.u * last.molar / 1000 / last.sample_g
    made_up = last.relative
    hydroxide, carbonate = 2 * e1 - e2, e2 - e1
    lines = (
        f"to the first end point: {number(first.reading)} × {number(first.molar)} / 1000 / "
        f"{number(first.sample_g)} = {number(e1)} mol/g",
        f"to the last: {number(last.reading)} × {number(last.molar)} / 1000 / "
        f"{number(last.sample_g)} = {number(e2)} mol/g",
        f"hydroxide: 2 × {number(e1)} - {number(e2)} = {number(hydroxide)} mol/g",
        f"carbonate: {number(e2)} - {number(e1)} = {number(carbonate)} mol/g",
    )
    return TwoEnds(
        hydroxide, math.hypot(2 * u1, u2, made_up * hydroxide), carbonate,
        math.hypot(u1, u2, made_up * carbonate),
        Reason("test:two end points", "alkali at two end points", lines),
    )  # fmt: skip
