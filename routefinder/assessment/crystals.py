"""What crystallises in each step with its amounts: crops, mother liquor, water to boil off.

For steps that take one dissolved salt to its crystals, by cooling, or by boiling down to what the
record's stage leaves (``leaves``), parted hot unless it is cooled after; in an open dish likewise,
in the cold. A salt that dissolves less on warming comes out of its own water when it is warmed. The
salt and the free water (what is not
bound in crystals) come from the amounts; the solubility tables of the library say the rest. Every
table gives its own answer; where they disagree the range is shown. A table that ends inside the
window is read at its ends, so that the crop is rather too small. The cold end is what the bench
reaches (``coldest_C``): a crop waits for no refrigerator that is not there.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment.reasoning import Reason
from routefinder.chem import solutions
from routefinder.library import solubility
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import ROOM_C
from routefinder.records.shelf import Bench
from routefinder.units import significant
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.water import WaterOfStep, water_of_steps

CLEAR = 1.05  # times the water of hot saturation: above it the liquor is too thin to crop fully


@dataclass(frozen=True)
class TableReading:
    """One table's crops. ``hot`` and ``cold``: g of crystals per 100 g of free water.

    ``share`` is what all crops bring together; ``boil_off_g`` the water that must leave for it.
    ``as_charged_share`` is what cooling brings without boiling anything off. ``hot_parted``: the
    crystals are parted from the hot liquor, nothing is cooled. ``to_leaves``: the record says how
    much water is left.
    """

    hot: float
    cold: float
    crops: tuple[solutions.Crop, ...]
    share: float
    boil_off_g: float
    as_charged_share: float
    source: str
    hot_parted: bool = False
    to_leaves: bool = False


@dataclass(frozen=True)
class CrystalsOfStep:
    """The crops of one step, by every table; ``answers`` is empty when nothing is known.

    ``why`` then says what lacks. ``falls_C`` is a stretch of temperature in which the salt
    dissolves less on warming (retrograde): there cooling does not crop and a hot vessel crusts.
    """

    step: str
    salt_g: float
    free_water_g: float
    hot_C: float
    cold_C: float
    answers: tuple[TableReading, ...]
    why: str
    falls_C: tuple[float, float] | None
    reason: Reason
    notes: tuple[str, ...]

    @property
    def share(self) -> tuple[float, float] | None:
        """Least and greatest share of the salt that all crops bring, over the tables."""
        shares = [a.share for a in self.answers]
        return (min(shares), max(shares)) if shares else None

    @property
    def boil_off_g(self) -> tuple[float, float] | None:
        """Least and greatest water to boil off, over the tables."""
        waters = [a.boil_off_g for a in self.answers]
        return (min(waters), max(waters)) if waters else None


def _answer(
    salt_g: float, free_g: float, hot: float, cold: float, count: int, source: str, boils: bool
) -> TableReading:
    found = solutions.crops(salt_g, free_g, hot, cold, count)
    off = max(sum(c.boiled_off_g for c in found), 0.0)
    stays = min(cold * max(free_g, 0.0) / 100, salt_g)
    plain = 1 - stays / salt_g if salt_g else 0.0
    share = found[-1].so_far if boils or free_g <= salt_g * 100 / hot else plain
    return TableReading(hot, cold, found, share, off, plain, source)


def _parted(
    salt_g: float, free_g: float, left_g: float, stays: float, source: str, hot: bool, said: bool
) -> TableReading:
    """One crop from ``left_g`` of water; ``stays``: g of crystals dissolved per 100 g of it."""
    in_liquor = min(stays * left_g / 100, salt_g)
    share = 1 - in_liquor / salt_g if salt_g else 0.0
    off = max(free_g - left_g, 0.0)
    crop = solutions.Crop(1, off, salt_g - in_liquor, in_liquor, left_g, share, share)
    plain = 1 - min(stays * free_g / 100, salt_g) / salt_g if salt_g else 0.0
    return TableReading(stays, stays, (crop,), share, off, plain, source, hot, said)


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


def coldest_C(step: ResolvedStep, bench: Bench | None) -> float:  # noqa: N802
    """How cold a step gets on a bench: its window's low end, or what the bench can reach above it.

    Without a bench the window counts; without anything that cools, a room (20 degC).
    """
    low = step.record.temperature.low_C
    if bench is None or low >= ROOM_C:
        return low
    offers = [o.limit("to") for t in bench.tools for o in t.offers if o.name == "cool"]
    return max(low, min((to for to in offers if to is not None), default=ROOM_C))


def crystals_of_step(
    library: Library, amount: StepAmounts, water: WaterOfStep, bench: Bench | None = None
) -> CrystalsOfStep | None:
    """The crops of one step on a bench; None when it does not crystallise one dissolved salt."""
    step = amount.step
    if not solubility.crystallises(library, step):
        return None
    product = library.substances[step.main.substance]
    salt = step.limiting.moles * amount.turns * product.molar_mass_g
    free = water.left_g
    window = step.record.temperature
    count = solubility.crops_of(step)
    boils = boils_down(step)
    said = leaves_g_mol(step)
    moles = step.limiting.moles * amount.turns
    leaves = None if said is None else (min(said[0] * moles, max(free, 0.0)), said[1])
    answers: list[TableReading] = []
    notes: list[str] = []
    lines = [
        f"salt in the liquor, as {product.name}: {significant(salt)} g; free water "
        f"{significant(free)} g (charged {significant(water.charged_g)} g"
        + (f", {significant(-water.formed_g)} g bound in crystals)" if water.formed_g < 0 else ")")
    ]
    falls = None
    cold_C = coldest_C(step, bench)
    found = solubility.crystallising(library, product.id, window.high_C, cold_C, clamp=True)
    for table in found:
        falls = falls or table.falls
        warms = (
            not boils
            and table.hot is not None
            and table.cold is not None
            and table.hot < table.cold
        )
        if leaves is not None or warms:
            left, parted_hot = (free, True) if leaves is None else leaves
            stays = table.hot if parted_hot else table.cold
            if stays is not None:
                one = _parted(salt, free, left, stays, table.source, parted_hot, said is not None)
                answers.append(one)
                lines.append(
                    f"{one.source}: {significant(stays)} g as crystals stay in 100 g of free water "
                    f"at {table.hot_C if parted_hot else table.cold_C:.0f} °C; in "
                    f"{significant(left)} g: {one.share:.1%} crystallise"
                )
            continue
        if table.hot is None or table.cold is None or table.hot <= table.cold:
            continue
        hot = table.hot
        if table.hot_C < window.high_C - solutions.TABLE_REACH and 0 < free < salt * 100 / hot:
            hot = salt * 100 / free  # the table ends colder than the liquor, which is as charged
        one = _answer(salt, free, hot, table.cold, count, table.source, boils)
        answers.append(one)
        lines += _lines(one, table.hot_C, table.cold_C, free, boils)
    why = "" if answers else _why(found, product.name, cold_C, window.high_C)
    if why:
        lines.append(why)
    if cold_C > window.low_C + 0.5:
        notes.append(
            f"this bench cools to {cold_C:.0f} °C, the record to {window.low_C:.0f} °C: the crop "
            "is reckoned for the bench"
        )
    if falls is not None:
        notes.append(
            f"{product.name} dissolves less on warming from {falls[0]:.0f} to {falls[1]:.0f} °C: "
            "evaporate warm instead of cooling from there, and stir against crusts"
        )
    if len(answers) > 1:
        low, high = min(a.share for a in answers), max(a.share for a in answers)
        if high - low > 0.02:
            notes.append(f"solubility tables disagree: {low:.0%} to {high:.0%} of the salt")
    plain = answers and not (boils or answers[0].hot_parted or answers[0].to_leaves)
    if plain and answers[0].crops[0].boiled_off_g > (CLEAR - 1) * free:
        a = answers[0]
        notes.append(
            f"the liquor is thinner than hot-saturated: cooling alone brings {a.share:.0%}; "
            f"boiling off {significant(a.crops[0].boiled_off_g)} g of water first brings "
            f"{a.crops[0].share:.0%}"
        )
    reason = Reason(f"crystals:{step.id}", f"Crystals of: {step.title}", (*lines, *notes))
    return CrystalsOfStep(
        step.id, salt, free, window.high_C, cold_C, tuple(answers), why, falls, reason,
        tuple(notes),
    )  # fmt: skip


def _lines(one: TableReading, hot_C: float, cold_C: float, free_g: float, boils: bool) -> list[str]:
    out = [
        f"{one.source}: {significant(one.hot)} g at {hot_C:.0f} °C, {significant(one.cold)} g at "
        f"{cold_C:.0f} °C, as crystals per 100 g of free water"
    ]
    if not boils and one.crops[0].boiled_off_g > 0:
        out.append(
            f"  cooling: 1 − {significant(one.cold)} × {significant(free_g)} g ÷ 100 g ÷ salt = "
            f"{one.share:.1%}"
        )
        return out
    for c in one.crops:
        out.append(
            f"  crop {c.number}: "
            + (f"boil off {significant(c.boiled_off_g)} g, " if c.boiled_off_g > 0.5 else "")
            + (f"add {significant(-c.boiled_off_g)} g of water, " if c.boiled_off_g < -0.5 else "")
            + f"cool: {significant(c.crystals_g)} g crystals, {significant(c.liquor_salt_g)} g "
            f"stay in {significant(c.liquor_water_g)} g of water; so far {c.so_far:.1%}"
        )
    return out


def _why(
    found: tuple[solubility.Crystallising, ...], name: str, low_C: float, high_C: float
) -> str:
    if not found:
        return f"not known: no solubility of {name} at {low_C:.0f} and {high_C:.0f} °C"
    if any(t.hot is None for t in found):
        return (
            f"not known: at {high_C:.0f} °C {name} dissolves in its own crystal water, there is no "
            "least amount of water"
        )
    return f"{name} is not less soluble at {low_C:.0f} than at {high_C:.0f} °C: cooling brings none"


def crystals(
    library: Library, found: Amounts, bench: Bench | None = None
) -> dict[str, CrystalsOfStep]:
    """The crops of every step of a route that crystallises a dissolved salt, by step id."""
    water = water_of_steps(library, found)
    out = {}
    for amount in found.steps:
        one = crystals_of_step(library, amount, water[amount.step.id], bench)
        if one is not None:
            out[amount.step.id] = one
    return out
