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
from routefinder.library.crops import (
    CLEAR,
    TableReading,
    boils_down,
    cooled_to_C,
    readings,
    stirred_dry,
)
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import ROOM_C
from routefinder.records.shelf import Bench
from routefinder.units import significant
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.water import WaterOfStep, water_of_steps


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


def coldest_C(step: ResolvedStep, bench: Bench | None) -> float:  # noqa: N802
    """How cold a step gets on a bench: what its record asks for, or what the bench can reach.

    Without a bench the record counts; without anything that cools, a room (20 degC).
    """
    low = cooled_to_C(step)
    if bench is None or low >= ROOM_C:
        return low
    offers = [o.limit("to") for t in bench.tools for o in t.offers if o.name == "cool"]
    return max(low, min((to for to in offers if to is not None), default=ROOM_C))


def crystals_of_step(
    library: Library, amount: StepAmounts, water: WaterOfStep, bench: Bench | None = None
) -> CrystalsOfStep | None:
    """The crops of one step on a bench; None when it does not crystallise one dissolved salt."""
    step = amount.step
    if stirred_dry(step) or not solubility.crystallises(library, step):
        return None
    product = library.substances[step.main.substance]
    salt = step.limiting.moles * amount.turns * product.molar_mass_g
    free = water.left_g
    window = step.record.temperature
    boils = boils_down(step)
    cold_C = coldest_C(step, bench)
    answers, found = readings(library, step, salt, free, cold_C)
    notes: list[str] = []
    lines = [
        f"salt in the liquor, as {product.name}: {significant(salt)} g; free water "
        f"{significant(free)} g (charged {significant(water.charged_g)} g"
        + (f", {significant(-water.formed_g)} g bound in crystals)" if water.formed_g < 0 else ")")
    ]
    falls = next((t.falls for t in found if t.falls), None)
    for one in answers:
        lines += _lines(one, boils)
    why = "" if answers else _why(found, product.name, cold_C, window.high_C)
    if why:
        lines.append(why)
    if cold_C > cooled_to_C(step) + 0.5:
        notes.append(
            f"this bench cools to {cold_C:.0f} °C, the record to {cooled_to_C(step):.0f} °C: the "
            "crop is reckoned for the bench"
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
    if answers and not boils and not answers[0].to_leaves and not answers[0].hot_parted:
        notes += _of_thin_liquor(answers[0], free)
    reason = Reason(f"crystals:{step.id}", f"Crystals of: {step.title}", (*lines, *notes))
    return CrystalsOfStep(
        step.id, salt, free, window.high_C, cold_C, answers, why, falls, reason,
        tuple(notes),
    )  # fmt: skip


def _of_thin_liquor(one: TableReading, free_g: float) -> list[str]:
    """What is to be said where a liquor is thinner than the recipe's, or than hot-saturated."""
    left = one.crops[0].liquor_water_g
    if one.boil_off_g > 0:
        return [
            "the liquor comes thinner than the recipe makes it: cooling as it is brings "
            f"{one.as_charged_share:.0%}; boil off {significant(one.boil_off_g)} g of water first "
            f"for {one.share:.0%}"
        ]
    more = solutions.crop(one.hot, one.cold)
    saturated = (one.crops[0].crystals_g + one.crops[0].liquor_salt_g) * 100 / one.hot
    if left <= CLEAR * saturated:
        return []
    return [
        f"the liquor is thinner than hot-saturated: cooling alone brings {one.share:.0%}; "
        f"boiling off {significant(free_g - saturated)} g of water first brings {more:.0%}"
    ]


def _lines(one: TableReading, boils: bool) -> list[str]:
    if one.to_leaves or one.hot_parted:
        (crop,) = one.crops
        stays_C = one.hot_C if one.hot_parted else one.cold_C
        return [
            f"{one.source}: {significant(one.cold)} g as crystals stay in 100 g of free water "
            f"at {stays_C:.0f} °C; in {significant(crop.liquor_water_g)} g: {one.share:.1%} "
            "crystallise"
        ]
    out = [
        f"{one.source}: {significant(one.hot)} g at {one.hot_C:.0f} °C, {significant(one.cold)} g "
        f"at {one.cold_C:.0f} °C, as crystals per 100 g of free water"
    ]
    if not boils:
        (crop,) = one.crops
        out.append(
            (f"  boil off {significant(one.boil_off_g)} g; " if one.boil_off_g else "  ")
            + f"cooling: 1 − {significant(one.cold)} × {significant(crop.liquor_water_g)} g ÷ 100 "
            f"g ÷ salt = {one.share:.1%}"
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
