"""Densities of solutions in water at any strength: from a substance's table, else reckoned.

A table of the record speaks within its reach (``Substance.densities``, of the anhydrous form of the
family). Beyond it, or without one, what is known of the substance (a material of the library at its
strength, the pure liquid) and water are joined as if their volumes added up: common practice, right
to about 2 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from routefinder.chem.solutions import WATER_G_ML, density_between
from routefinder.library.library import Library

LIQUID_BELOW_C = 20.0


@dataclass(frozen=True)
class Found:
    """g/mL of a solution; ``from_table`` when a record's table reaches there."""

    g_mL: float
    from_table: bool


@dataclass(frozen=True)
class Curve:
    """Densities by mass fraction of one form: known points of its anhydrous form.

    ``dry`` is g anhydrous in a gram of the form; ``top`` how far the table reaches.
    """

    table: tuple[tuple[float, float], ...]
    points: tuple[tuple[float, float], ...]
    top: float
    dry: float

    def at(self, fraction: float) -> Found | None:
        """The density at a mass fraction of the form; None when nothing is known to go by."""
        share = fraction * self.dry
        inside = share <= self.top + 1e-9
        found = density_between(self.table if inside else self.points, share)
        return None if found is None else Found(found, inside)

    def strength(self, g_mL: float) -> tuple[float, ...]:
        """The mass fractions of the form at which a solution has this density, weakest first.

        Between two points of the record's table the inverse of ``at``. Empty where the table does
        not reach; two answers where the density rises and falls again (acetic acid). A spindle
        read at another temperature than the table's reads otherwise: its owner must say so.
        """
        out: list[float] = []
        for (low, rho_low), (high, rho_high) in pairwise(self.table):
            if rho_low == rho_high or not min(rho_low, rho_high) <= g_mL <= max(rho_low, rho_high):
                continue
            part = (1 / g_mL - 1 / rho_low) / (1 / rho_high - 1 / rho_low)
            fraction = (low + part * (high - low)) / self.dry
            if fraction <= 1 and not any(abs(fraction - f) < 1e-9 for f in out):
                out.append(fraction)
        return tuple(out)


def curve(library: Library, substance_id: str, known: Sequence[tuple[float, float]] = ()) -> Curve:
    """The densities of the solutions of a substance in water.

    ``known`` are further (mass fraction of this form, g/mL), which go before the library's.
    """
    if known:
        return _curve(library, substance_id, known)
    kept = library.curves.get(substance_id)
    if kept is None or kept[0] is not library.substances or kept[1] is not library.materials:
        kept = library.substances, library.materials, _curve(library, substance_id, ())
        library.curves[substance_id] = kept
    found: Curve = kept[2]
    return found


def _curve(library: Library, substance_id: str, known: Sequence[tuple[float, float]]) -> Curve:
    substance = library.substances[substance_id]
    root = library.substances[library.root(substance_id)]
    dry = root.molar_mass_g / substance.molar_mass_g
    table = ((0.0, WATER_G_ML), *(root.densities.at if root.densities else ()))
    top = table[-1][0]
    points = dict(table)
    melts = root.melting_C
    if root.density_g_mL is not None and melts is not None and melts < LIQUID_BELOW_C:
        points[1.0] = root.density_g_mL
    for material in library.materials.values():
        record, name = material.record, next(iter(material.fractions))
        if record.form not in {"solution", "liquid"} or library.root(name) != root.id:
            continue
        molar = library.substances[name].molar_mass_g
        at = material.fractions[name] * root.molar_mass_g / molar
        if record.density_g_mL is not None and at > top:
            points[at] = record.density_g_mL
    points.update((f * dry, rho) for f, rho in known if f * dry > top)
    return Curve(table, tuple(sorted(points.items())), top, dry)
