"""What crystallises in a step, of one account: its record's water and crops, and the tables.

For steps that take one dissolved salt (or two that make a double salt) to its crystals. How much
water is left when the crystals are parted, g of free water a mole of the limiting reactant (what
is not bound in crystals), is the record's:

    boiled down to what a stage ``leaves``   that
    boiled down to hot saturation            what saturates the hot liquor, before each crop; where
                                             a table ends colder than the liquor, the step's water
    neither                                  the step's own water, one crop on cooling

so the share that crystallises is the same in every route: a liquor that comes thinner from the
step before is boiled down to it first (more than ``CLEAR`` times of it; less is let be). The cold
end is what the record asks the bench to cool to (its stage, else its equipment, else the low end of
its window). A salt that dissolves less on warming comes out of its own water when it is warmed.
Every table gives its own answer; the one that reaches furthest into the window counts (of equals
the first of the record), and the others make the range. A table that ends inside the window is read
at its ends, so that the crop is rather too small.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from routefinder.chem import solutions
from routefinder.chem.formula import molar_mass
from routefinder.library import pot, solubility
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.stage import SEPARATES

CLEAR = 1.05  # times the water that is to be left: a liquor no thinner is not boiled down for it
REACH_K = 10.0  # tables whose reach differs by less count as equals
WARMER_K = 5.0  # the low end of a crop: not cooled quite so far; our choice
MORE_LEFT = 1.25  # ... or not boiled down quite so far


@dataclass(frozen=True)
class TableReading:
    """One table's crops. ``hot`` and ``cold``: g of crystals per 100 g of free water.

    ``share`` is what all crops bring together; ``boil_off_g`` the water that must leave for it.
    ``as_charged_share`` is what cooling brings without boiling anything off. ``hot_parted``: the
    crystals are parted from the hot liquor, nothing is cooled. ``to_leaves``: the record says how
    much water is left. ``hot_C`` and ``cold_C`` are where the table was read.
    """

    hot: float
    cold: float
    crops: tuple[solutions.Crop, ...]
    share: float
    boil_off_g: float
    as_charged_share: float
    source: str
    hot_C: float
    cold_C: float
    hot_parted: bool = False
    to_leaves: bool = False


@dataclass(frozen=True)
class CropRange:
    """The share of a salt that all crops bring: the factor "crop" of a yield.

    ``typical`` by the table that counts; ``high`` by the most generous; ``low`` by the least,
    cooled or boiled down not quite so far, and with a crop fewer where the record says so.
    """

    low: float
    typical: float
    high: float


def leaves_g_mol(step: ResolvedStep) -> tuple[float, bool] | None:
    """Free water that boiling down leaves, g a mole of the limiting reactant, and whether hot.

    None where the record does not say. Hot: nothing is cooled between boiling down and parting.
    """
    kinds = [s.kind for s in step.record.stages]
    for at, stage in enumerate(step.record.stages):
        if stage.leaves is not None:
            return stage.leaves[0], stage.kind == "boil down" and "cool" not in kinds[at:]
    return None


def boils_down(step: ResolvedStep) -> bool:
    """Whether the step boils water off on purpose; what distils over as the product is none."""
    if step.main.state == "l" and step.record.kind != "concentration":
        return False
    return any(n.name in {"evaporate", "distil"} for n in step.record.equipment)


def stirred_dry(step: ResolvedStep) -> bool:
    """Whether its stages part no crystals from a liquor: all that was dissolved is left."""
    kinds = {s.kind for s in step.record.stages}
    return "boil down" in kinds and not kinds & {"crystallise", *SEPARATES}


def cooled_to_C(step: ResolvedStep) -> float:  # noqa: N802
    """How cold the record asks the bench to get it, degC."""
    for stage in step.record.stages:
        if stage.kind == "crystallise" and stage.at_C is not None:
            return stage.at_C
    asked = [n.limit("to") for n in step.record.equipment if n.name == "cool"]
    return next((to for to in asked if to is not None), step.record.temperature.low_C)


def own_free_g_mol(library: Library, step: ResolvedStep) -> float:
    """Free water that the record calls for, g a mole of the limiting reactant; 0: none."""
    call = pot.called(library, step)
    formed = sum(
        sign * p.moles
        for sign, parts in ((-1, step.reactants), (1, step.products))
        for p in parts
        if pot.is_water(library, p.substance) and p.state != "g"
    )
    free = call.bound_g + call.start_g + call.after_g + formed * molar_mass(pot.WATER)
    return max(free, 0.0) / step.limiting.moles


def readings(
    library: Library,
    step: ResolvedStep,
    salt_g: float,
    free_g: float,
    cold_C: float,
) -> tuple[tuple[TableReading, ...], tuple[solubility.Crystallising, ...]]:
    """Every table's crops of ``salt_g`` (as crystals) in ``free_g`` of water; and the tables.

    Steps that do not crystallise a dissolved salt have none.
    """
    work = _Readings(library, step, salt_g, free_g)
    found = solubility.crystallising(
        library, step.main.substance, step.record.temperature.high_C, cold_C, clamp=True
    )
    answers = [a for table in found if (a := work.of(table)) is not None]
    answers.sort(key=lambda a: -round((a.hot_C - a.cold_C) / REACH_K))
    return tuple(answers), found


def crop_of(library: Library, step: ResolvedStep) -> CropRange | None:
    """The factor "crop" of a step's yield; None where no table tells, or nothing crystallises."""
    known: CropRange | None = library.kept("crop", step)
    if known is not None or stirred_dry(step) or not solubility.crystallises(library, step):
        return known
    cold = cooled_to_C(step)
    usual, _ = readings(library, step, 1.0, 0.0, cold)
    if not usual:
        return None
    poorer, _ = readings(library, step, 1.0, 0.0, cold + WARMER_K)
    count = solubility.crops_of(step) - (1 if solubility.may_forgo(step) else 0)
    low = min(a.share for a in usual)
    for one in poorer:
        if one.to_leaves:
            low = min(low, 1 - (1 - one.share) * MORE_LEFT)
        elif boils_down(step):
            low = min(low, solutions.crop(one.hot, one.cold, count))
        else:
            low = min(low, one.share)
    found = CropRange(max(low, 0.0), usual[0].share, max(a.share for a in usual))
    library.keep("crop", step, found)
    return found


def left_g_mol(library: Library, step: ResolvedStep) -> float | None:
    """Free water when the last crystals are parted, g a mole of the limiting reactant.

    By the table that counts; None where none tells.
    """
    known: tuple[float | None] | None = library.kept("crop water", step)
    if known is None:
        molar = library.substances[step.main.substance].molar_mass_g
        found: tuple[TableReading, ...] = ()
        if solubility.crystallises(library, step) and not stirred_dry(step):
            found, _ = readings(library, step, molar, 0.0, cooled_to_C(step))
        known = (found[0].crops[-1].liquor_water_g if found else None,)
        library.keep("crop water", step, known)
    return known[0]


class _Readings:
    """The readings of one step's liquor."""

    def __init__(self, library: Library, step: ResolvedStep, salt_g: float, free_g: float) -> None:
        self.salt, self.free = salt_g, max(free_g, 0.0)
        self.high_C = step.record.temperature.high_C
        self.boils = boils_down(step)
        self.count = solubility.crops_of(step)
        moles = salt_g / library.substances[step.main.substance].molar_mass_g
        self.own = own_free_g_mol(library, step) * moles
        said = leaves_g_mol(step)
        self.leaves = None if said is None else said[0] * moles
        if self.leaves is not None and self.own:
            self.leaves = min(self.leaves, self.own)
        self.parts_hot = said is not None and said[1]

    def of(self, table: solubility.Crystallising) -> TableReading | None:
        """What one table says; None where it says nothing."""
        hot, cold = table.hot, table.cold
        warms = not self.boils and hot is not None and cold is not None and hot < cold
        if self.leaves is not None or warms:
            stays = hot if self.parts_hot or warms else cold
            left = (self.own or self.free) if self.leaves is None else self.leaves
            if stays is None:
                return None
            one = self._parted(table, stays, stays, left)
            return replace(one, hot_parted=self.parts_hot or warms,
                           to_leaves=self.leaves is not None)  # fmt: skip
        if hot is None or cold is None or hot <= cold:
            return None
        if (
            table.hot_C < self.high_C - solutions.TABLE_REACH
            and 0 < self.own < self.salt * 100 / hot
        ):
            hot = self.salt * 100 / self.own  # the table ends colder than the liquor
        if not self.boils:
            return self._parted(table, hot, cold, max(self.own, self.salt * 100 / hot))
        found = solutions.crops(self.salt, self.free, hot, cold, self.count)
        off = max(sum(c.boiled_off_g for c in found), 0.0)
        return TableReading(hot, cold, found, found[-1].so_far, off, self._plain(cold),
                            table.source, table.hot_C, table.cold_C)  # fmt: skip

    def _parted(
        self, table: solubility.Crystallising, hot: float, cold: float, left_g: float
    ) -> TableReading:
        """One crop from ``left_g`` of water."""
        in_liquor = min(cold * left_g / 100, self.salt)
        share = 1 - in_liquor / self.salt if self.salt else 0.0
        off = self.free - left_g
        if off <= (CLEAR - 1) * left_g and self.leaves is None:
            off = 0.0
        off = max(off, 0.0)
        crop = solutions.Crop(1, off, self.salt - in_liquor, in_liquor, left_g, share, share)
        return TableReading(hot, cold, (crop,), share, off, self._plain(cold), table.source,
                            table.hot_C, table.cold_C)  # fmt: skip

    def _plain(self, stays: float) -> float:
        """The share that comes out of all the water there is."""
        return 1 - min(stays * self.free / 100, self.salt) / self.salt if self.salt else 0.0
