"""Solutions: strengths, dilution, evaporation, and what crystallises; pure arithmetic, no files.

Everything is by mass; volumes come in and go out through densities, and are never added.

    strength       w = c M / (1000 rho) = (g/L) / (1000 rho) = (% w/v) / rho
                     = (% v/v) rho_pure / rho
    dilution       m1 w1 + m2 w2 = (m1 + m2) w
    free water     h = r s / (1 - (r - 1) s / 100)         r = M(hydrate) / M(anhydrous)
    crystals       c = (A - s W / 100) / (a - s b / 100)   a, b: salt and water share of crystals
    crops          1 - (h_cold / h_hot)^n, boiled down to hot saturation before each

``s`` is g anhydrous per 100 g of all water, ``h`` g of crystals per 100 g of water that is not
bound in crystals, ``A`` and ``W`` all anhydrous salt and all water. All follow from the mass
balance of salt and of water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from routefinder.errors import InputError

BASES = ("w/w", "w/v", "v/v", "g/L", "mol/L")
TABLE_REACH = 5.0  # K beyond the last point of a solubility table
GAP_K = 10.0  # points of a handbook table lie no further apart

Points = Sequence[tuple[float, float]]


# --- strengths ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Solution:
    """A solution of one substance: mass fraction and density; ``molar_mass_g`` of the solute.

    ``pure_density_g_mL`` of the solute serves "% v/v" only. Raises InputError when a figure makes
    no sense.
    """

    fraction: float
    density_g_mL: float
    molar_mass_g: float
    pure_density_g_mL: float | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.fraction <= 1:
            raise InputError(f"a mass fraction lies between 0 and 100 %, not {self.fraction:.4g}")
        if self.density_g_mL <= 0 or self.molar_mass_g <= 0:
            raise InputError("density and molar mass must be above 0")

    @property
    def grams_per_litre(self) -> float:
        """g of solute per L of solution."""
        return self.fraction * self.density_g_mL * 1000

    @property
    def moles_per_litre(self) -> float:
        """mol of solute per L of solution: c = 10 (% w/w) rho / M."""
        return self.grams_per_litre / self.molar_mass_g

    @property
    def weight_per_volume(self) -> float:
        """g of solute per mL of solution (0.05 is 5 % w/v)."""
        return self.fraction * self.density_g_mL

    @property
    def volume_per_volume(self) -> float | None:
        """mL of pure solute per mL of solution, None without the density of the pure solute."""
        if self.pure_density_g_mL is None:
            return None
        return self.weight_per_volume / self.pure_density_g_mL


def mass_fraction(
    value: float,
    basis: str,
    density_g_mL: float | None = None,
    molar_mass_g: float | None = None,
    pure_density_g_mL: float | None = None,
) -> float:
    """Mass fraction from a strength in one of BASES.

    ``value`` is a fraction for "w/w", "w/v" (g/mL) and "v/v", else in the unit the basis names.
    Raises InputError when a density or molar mass that is needed is missing, or when the result is
    no fraction.
    """
    if basis not in BASES:
        raise InputError(f"{basis!r} is not one of {', '.join(BASES)}")
    if basis == "w/w":
        out = value
    else:
        if density_g_mL is None or density_g_mL <= 0:
            raise InputError(f"to read {basis} the density of the solution is needed")
        if basis == "v/v":
            if pure_density_g_mL is None:
                raise InputError("to read v/v the density of the pure substance is needed")
            out = value * pure_density_g_mL / density_g_mL
        elif basis == "mol/L":
            if molar_mass_g is None:
                raise InputError("to read mol/L the molar mass is needed")
            out = value * molar_mass_g / 1000 / density_g_mL
        else:
            out = value / density_g_mL / (1000 if basis == "g/L" else 1)
    if not 0 <= out <= 1:
        raise InputError(f"{value:g} {basis} comes to {out:.0%} by weight, which cannot be")
    return out


WATER_G_ML = 0.9982  # at 20 degC; published: CRC Handbook, Standard Density of Water


def density_between(points: Sequence[tuple[float, float]], fraction: float) -> float | None:
    """g/mL at a mass fraction from known (mass fraction, g/mL), water at 0 % among them.

    Between neighbours the volumes of the two solutions are taken to add up (1/rho is linear in the
    mass fraction); beyond the last one the line from water through it goes on. None when nothing
    but water is known, or where that line makes no sense.
    """
    known = dict(points)
    known.setdefault(0.0, WATER_G_ML)
    at = sorted(known.items())
    if len(at) < 2:
        return None
    low, high = next(((a, b) for a, b in pairwise(at) if fraction <= b[0]), (at[0], at[-1]))
    share = (fraction - low[0]) / (high[0] - low[0])
    volume = 1 / low[1] + share * (1 / high[1] - 1 / low[1])
    return 1 / volume if volume > 0.2 else None


@dataclass(frozen=True)
class Dilution:
    """Strong solution and water for a weaker one.

    ``volume_sum_mL`` is what the two volumes would add to; ``naive_strong_mL`` what V1 C1 = V2 C2
    on percent by weight would measure out, wrong for strong acids.
    """

    strong_g: float
    strong_mL: float
    water_g: float
    result_g: float
    result_mL: float
    volume_sum_mL: float
    naive_strong_mL: float


def dilute(strong: Solution, weak: Solution, result_g: float) -> Dilution:
    """Make ``result_g`` of ``weak`` from ``strong`` and water, by mass balance.

    Raises InputError when the strong solution is not the stronger one.
    """
    if weak.fraction > strong.fraction:
        raise InputError(
            f"{strong.fraction:.3g} cannot be diluted to {weak.fraction:.3g}; boil it down instead"
        )
    if strong.fraction == 0:
        raise InputError("the strong solution holds nothing")
    strong_g = result_g * weak.fraction / strong.fraction
    water = result_g - strong_g
    strong_mL = strong_g / strong.density_g_mL
    result_mL = result_g / weak.density_g_mL
    return Dilution(
        strong_g, strong_mL, water, result_g, result_mL, strong_mL + water,
        result_mL * weak.fraction / strong.fraction,
    )  # fmt: skip


SULFURIC_LIMIT_kJ = 74.73  # 17 860 cal/mol
SULFURIC_HALF = 1.7983


def sulfuric_mixing_kJ(water_per_acid: float) -> float:  # noqa: N802
    """Heat given off per mole of H2SO4 on adding n moles of water: 74.73 n / (n + 1.7983) kJ.

    Thomsen's formula at 18 degC, from memory; it lacks the last 20 kJ of infinite dilution, where
    hydrogen sulfate falls apart.
    """
    return SULFURIC_LIMIT_kJ * water_per_acid / (water_per_acid + SULFURIC_HALF)


# --- solubility --------------------------------------------------------------------------------


def interpolate(points: Points, temperature_C: float) -> float | None:
    """Solubility between the points of a table; None outside it.

    By straight lines; across a gap of more than ``GAP_K`` in its logarithm, which is nearly
    straight in temperature (ideal solubility: ln s falls with 1 / T). TABLE_REACH beyond the ends
    the end value is used.
    """
    ordered = sorted(points)
    low, high = ordered[0][0], ordered[-1][0]
    if len(ordered) < 2 or not low - TABLE_REACH <= temperature_C <= high + TABLE_REACH:
        return None
    at = min(max(temperature_C, low), high)
    found = None
    for (t1, s1), (t2, s2) in pairwise(ordered):
        if t1 <= at <= t2:
            share = (at - t1) / (t2 - t1) if t2 > t1 else 0.0
            if t2 - t1 > GAP_K and min(s1, s2) > 0:
                found = s1 * (s2 / s1) ** share
            else:
                found = s1 + (s2 - s1) * share
    return found


def falls_between(points: Points, low_C: float, high_C: float) -> tuple[float, float] | None:
    """The first stretch (degC, degC) in which a table falls on warming, inside low to high."""
    for (t1, s1), (t2, s2) in pairwise(sorted(points)):
        if t2 > low_C and t1 < high_C and s2 < s1:
            return t1, t2
    return None


def crystals_per_free_water(anhydrous: float, mass_ratio: float) -> float | None:
    """g of hydrate per 100 g of free water, from g of anhydrous salt per 100 g of all water.

    ``mass_ratio`` is M(hydrate) / M(anhydrous). None when the salt dissolves in its own crystal
    water. The water bound in the crystals is not free: h = r s / (1 - (r - 1) s / 100).
    """
    rest = 1 - (mass_ratio - 1) * anhydrous / 100
    return None if rest <= 0 else mass_ratio * anhydrous / rest


def crop(hot: float, cold: float, crops: int = 1) -> float:
    """Share of a hot saturated salt that comes out on cooling, boiled down again between crops.

    ``hot`` and ``cold`` are g per 100 g of free water (or per the same volume of liquor).
    """
    return 1 - min(cold / hot, 1.0) ** crops


def crystals_g(anhydrous_g: float, water_g: float, solubility: float, mass_ratio: float) -> float:
    """g of crystals that stand in equilibrium with a liquor, of all salt and all water in a pot.

    ``solubility`` in g anhydrous per 100 g of all water. 0 while everything is dissolved; when the
    water does not suffice for the hydrate, all of it is bound and the rest stays dry.
    """
    a = 1 / mass_ratio
    surplus = anhydrous_g - solubility * water_g / 100
    if surplus <= 0:
        return 0.0
    share = a - solubility * (1 - a) / 100
    return min(surplus / share, anhydrous_g / a) if share > 0 else anhydrous_g / a


@dataclass(frozen=True)
class Crop:
    """One crop: crystals, and the liquor it leaves.

    ``boiled_off_g`` is the water that leaves before it; ``liquor_salt_g`` is what stays dissolved,
    counted as crystals; ``liquor_water_g`` the free water of the liquor; ``share`` and ``so_far``
    are of the salt before the first crop.
    """

    number: int
    boiled_off_g: float
    crystals_g: float
    liquor_salt_g: float
    liquor_water_g: float
    share: float
    so_far: float


def crops(
    salt_g: float,
    free_water_g: float | None,
    hot: float,
    cold: float,
    count: int,
) -> tuple[Crop, ...]:
    """Crops on cooling, the liquor boiled down to hot saturation before each.

    ``salt_g`` counts as crystals, ``hot`` and ``cold`` are g of crystals per 100 g of free water.
    ``free_water_g`` is the water at the start; None when it is hot-saturated already. When it is
    less than hot saturation needs, water is added (``boiled_off_g`` is then below 0).

    Raises InputError without a hot solubility above 0 or a crop.
    """
    if hot <= 0 or cold < 0 or count < 1:
        raise InputError("crops need a hot solubility above 0 and at least one crop")
    out: list[Crop] = []
    salt = salt_g
    water = salt * 100 / hot if free_water_g is None else free_water_g
    taken = 0.0
    for number in range(1, count + 1):
        saturated = salt * 100 / hot
        off = water - saturated
        stays = min(cold * saturated / 100, salt)
        got = salt - stays
        taken += got
        out.append(
            Crop(number, off, got, stays, saturated, got / salt_g if salt_g else 0.0,
                 taken / salt_g if salt_g else 0.0)
        )  # fmt: skip
        salt, water = stays, saturated
    return tuple(out)
