"""The chain of arithmetic behind each figure of a route, for whoever asks "why 402 g?".

A line reads ``what: arithmetic = value unit`` and can be worked again as it stands: every number
in it is printed to six significant figures. ``mass:STEP`` goes all the way from the target to what
the step takes and gives.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from routefinder.assessment.distribution import GUESS_WIDER, of_part
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.records.step import YieldPart
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.water import water_of_steps


@dataclass(frozen=True)
class Reason:
    """The arithmetic behind one figure.

    ``figure`` is its key: "mass:STEP", "yield:STEP", "batches:STEP", "start:MATERIAL" or
    "cost:MATERIAL" with the id of a step or material.
    """

    figure: str
    title: str
    lines: tuple[str, ...]


def reasons(library: Library, found: Amounts) -> tuple[Reason, ...]:
    """The reasons for every mass, yield, start and cost of a route."""
    out = [mass(library, found, s.step.id) for s in found.steps]
    out += [yield_(library, s) for s in found.steps]
    for draw in found.draws:
        out.append(start(library, found, draw.supply.id))
        if draw.supply.price_per_g:
            out.append(cost(found, draw.supply.id))
    return tuple(out)


def reason(every: Iterable[Reason], figure: str) -> Reason:
    """The reason for one figure; raises InputError with the figures there are."""
    table = {r.figure: r for r in every}
    if figure not in table:
        from difflib import get_close_matches

        near = get_close_matches(figure, table, n=4, cutoff=0.3) or list(table)[:4]
        raise InputError(f"nothing explains {figure!r}; the closest figures are {', '.join(near)}")
    return table[figure]


def number(value: float) -> str:
    """Six significant figures, no exponent, no trailing zeros."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    decimals = max(0, 5 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class _Chain:
    """The lines from the target back to one step."""

    def __init__(self, library: Library, found: Amounts) -> None:
        self.library = library
        self.found = found
        self.steps = {s.step.id: s for s in found.steps}
        self.numbers = {s.step.id: i for i, s in enumerate(found.steps, start=1)}
        self.goal = found.form

    def unit(self, substance: str) -> str:
        """Moles, or grams of what has no formula."""
        return "mol" if self.library.substances[substance].formula else "g"

    def molar(self, substance: str) -> str:
        """The molar mass as a factor; 1 g/g of what is counted by mass."""
        found = self.library.substances[substance]
        return f"{number(found.molar_mass_g)} {'g/mol' if found.formula else 'g/g'}"

    def users(self, step_id: str, substance: str) -> list[tuple[StepAmounts, Feed]]:
        """The later steps that take this product of a step."""
        return [
            (s, f)
            for s in self.found.steps
            for f in s.feeds
            if f.origin == step_id and f.form == substance
        ]

    def downstream(self, step_id: str) -> list[StepAmounts]:
        """The step and all steps that its product goes through, from the last back."""
        kept = {step_id}
        for s in self.found.steps:
            if any(f.origin in kept for f in s.feeds if isinstance(f.origin, str)):
                kept.add(s.step.id)
        return [s for s in reversed(self.found.steps) if s.step.id in kept]

    def turns(self, amount: StepAmounts) -> list[str]:
        """How often a step's equation must turn, from what is wanted of its products."""
        step, name = amount.step, f"step {self.numbers[amount.step.id]}"
        lines: list[str] = []
        asked: list[str] = []
        for part in step.kept():
            unit = self.unit(part.substance)
            wanted: list[tuple[str, float]] = []
            if step.id == self.found.last and part.substance == self.goal:
                moles = (
                    self.found.target_g / self.library.substances[self.found.target].molar_mass_g
                )
                lines.append(
                    f"wanted, {self.library.name(self.found.target)}: "
                    f"{number(self.found.target_g)} g / {self.molar(self.found.target)} = "
                    f"{number(moles)} {unit}"
                )
                wanted.append((number(moles), moles))
            wanted += [(number(f.moles), f.moles) for _, f in self.users(step.id, part.substance)]
            total = sum(m for _, m in wanted)
            if not total:
                continue
            if len(wanted) > 1:
                terms = " + ".join(f"{text} {unit}" for text, _ in wanted)
                lines.append(f"{name}, wanted of {self.library.name(part.substance)}: {terms} = "
                             f"{number(total)} {unit}")  # fmt: skip
            main = part.substance == step.main.substance
            share = amount.yield_ if main else step.recovered[part.substance]
            turns = total / (part.moles * share)
            word = "yield" if main else "recovered"
            lines.append(
                f"{name}, turns of the equation for {self.library.name(part.substance)} ({word} "
                f"{number(share)}): {number(total)} {unit} / ({number(part.moles)} × "
                f"{number(share)}) = {number(turns)} {self.turn_unit(amount)}"
            )
            asked.append(f"{number(turns)} {self.turn_unit(amount)}")
        if len(asked) > 1:
            lines.append(f"{name}, turns, the greatest asked for: max({', '.join(asked)}) = "
                         f"{number(amount.turns)} {self.turn_unit(amount)}")  # fmt: skip
        return lines

    @staticmethod
    def turn_unit(amount: StepAmounts) -> str:
        return "recipes" if amount.step.is_recipe else "mol"

    def taken(self, amount: StepAmounts, feed: Feed, place: int) -> str:
        """Moles of one feed of a step, excess included."""
        step, name = amount.step, f"step {self.numbers[amount.step.id]}"
        unit, turn = self.unit(feed.substance), self.turn_unit(amount)
        turns = f"{number(amount.turns)} {turn}"
        what = f"{name} takes {self.library.name(feed.substance)}"
        if feed.role != "reactant":
            aid = step.aids[place - len(step.reactants)]
            if feed.spared_g < 0:
                return (
                    f"{what} to make up with, and to dilute to the strength the step allows: "
                    f"({number(aid.mass_g)} g/{self.unit(step.limiting.substance)} × "
                    f"{number(step.limiting.moles)} × {turns} + {number(-feed.spared_g)} g) / "
                    f"{self.molar(feed.substance)} = {number(feed.moles)} {unit}"
                )
            if feed.spared_g:
                return (
                    f"{what} to make up with, less what is brought: "
                    f"({number(aid.mass_g)} g/{self.unit(step.limiting.substance)} × "
                    f"{number(step.limiting.moles)} × {turns} - {number(feed.spared_g)} g) / "
                    f"{self.molar(feed.substance)} = {number(feed.moles)} {unit}"
                )
            return (
                f"{what} as {aid.role}: {number(aid.mass_g)} "
                f"g/{self.unit(step.limiting.substance)} × {number(step.limiting.moles)} "
                f"× {turns} / {self.molar(feed.substance)} = {number(feed.moles)} {unit}"
            )
        part = step.reactants[place]
        excess = step.excess.get(part.substance, 0.0)
        if not excess:
            return f"{what}: {number(part.moles)} × {turns} = {number(feed.moles)} {unit}"
        return (
            f"{what}, {number(excess * 100)} % over: {number(part.moles)} × {turns} × (1 + "
            f"{number(excess)}) = {number(feed.moles)} {unit}"
        )

    def weighed(self, feed: Feed) -> list[str]:
        """What the balance shows: hydrate and purity counted."""
        form, name = feed.form, self.library.name(feed.form)
        moles = f"{number(feed.moles)} {self.unit(feed.substance)}"
        if isinstance(feed.origin, str):
            place = self.numbers[feed.origin]
            pure = feed.moles * self.library.substances[form].molar_mass_g
            along = feed.as_weighed_g - pure
            lines = [f"from step {place}, as {name}: {moles} × {self.molar(form)} = "
                     f"{number(pure)} g"]  # fmt: skip
            if along > 1e-5 * pure:
                lines.append(f"with what comes along in it: {number(pure)} g + {number(along)} g = "
                             f"{number(feed.as_weighed_g)} g")  # fmt: skip
            return lines
        if feed.from_solution_g:
            whole = f"{moles} × {self.molar(form)}"
            if feed.drawn_g <= 1e-9:
                return [f"water that is brought: {whole} = {number(feed.from_solution_g)} g"]
            return [f"water to add, less what is brought: {whole} - "
                    f"{number(feed.from_solution_g)} g = {number(feed.drawn_g)} g"]  # fmt: skip
        supply = feed.origin
        strength = supply.fractions[form]
        said = f", {number(strength * 100)} % {name}" if strength != 1 else ""
        over = f" / {number(strength)}" if strength != 1 else ""
        lines = [f"{supply.name} as weighed{said}: {moles} × {self.molar(form)}{over} = "
                 f"{number(feed.as_weighed_g)} g"]  # fmt: skip
        if supply.form in {"solution", "liquid"} and supply.density_g_mL:
            volume = feed.as_weighed_g / supply.density_g_mL
            lines.append(f"{supply.name} as measured: {number(feed.as_weighed_g)} g / "
                         f"{number(supply.density_g_mL)} g/mL = {number(volume)} mL")  # fmt: skip
        return lines


def mass(library: Library, found: Amounts, step_id: str) -> Reason:
    """From the target back to what a step gives and takes; raises InputError for another step."""
    chain = _Chain(library, found)
    if step_id not in chain.steps:
        raise InputError(f"{step_id!r} is no step of this route; it has {', '.join(chain.steps)}")
    lines: list[str] = []
    path = chain.downstream(step_id)
    wanted = {s.step.id for s in path}
    for amount in path:
        lines += chain.turns(amount)
        if amount.step.id == step_id:
            continue
        for i, feed in enumerate(amount.feeds):
            if isinstance(feed.origin, str) and feed.origin in wanted:
                lines.append(chain.taken(amount, feed, i))
    own = chain.steps[step_id]
    part = own.step.main
    name = library.name(part.substance)
    turns = f"{number(own.turns)} {chain.turn_unit(own)}"
    molar = chain.molar(part.substance)
    place = chain.numbers[step_id]
    lines.append(f"step {place} gives {name}: {number(part.moles)} × {turns} × "
                 f"{number(own.yield_)} × {molar} = {number(own.product.mass_g)} g")  # fmt: skip
    if not own.step.is_recipe:
        lines.append(f"at most, with nothing lost: {number(part.moles)} × {turns} × {molar} = "
                     f"{number(own.theoretical_g)} g")  # fmt: skip
    for i, feed in enumerate(own.feeds):
        lines.append(chain.taken(own, feed, i))
        lines += chain.weighed(feed)
    return Reason(f"mass:{step_id}", f"Masses of step {place}: {own.step.title}", tuple(lines))


def _wider(part: YieldPart) -> str:
    drawn = of_part(part)
    if (drawn.low, drawn.high) == (part.low, part.high):
        return ""
    return (
        f"; a guess, so drawn {GUESS_WIDER:g} times as wide, from {number(drawn.low)} to "
        f"{number(drawn.high)}"
    )


def yield_(library: Library, amount: StepAmounts) -> Reason:
    """A step's yield: its parts, what low and high mean, and the product of the parts."""
    record = amount.step.record.yield_
    lines = [
        f"{part.what or 'yield'}: {number(part.low)}, {number(part.typical)}, {number(part.high)} "
        + (
            "(least, most likely and greatest of a triangular distribution)"
            if part.reading == "triangular"
            else "(10th, 50th and 90th percentile)"
        )
        + _wider(part)
        for part in record.parts
    ]
    if len(record.parts) > 1:
        for word in ("low", "typical", "high"):
            factors = " × ".join(number(getattr(p, word)) for p in record.parts)
            lines.append(f"all {word}: {factors} = {number(getattr(record, word))}")
    product = library.name(amount.step.main.substance)
    return Reason(f"yield:{amount.step.id}", f"Yield of {product}, {record.basis}", tuple(lines))


def start(library: Library, found: Amounts, supply_id: str) -> Reason:
    """All that is taken of one material; raises InputError for one that is not used."""
    chain = _Chain(library, found)
    draw = next((d for d in found.draws if d.supply.id == supply_id), None)
    if draw is None:
        raise InputError(f"this route takes no {supply_id!r}")
    lines: list[str] = []
    terms: list[str] = []
    for amount in found.steps:
        for i, feed in enumerate(amount.feeds):
            if isinstance(feed.origin, str) or feed.origin.id != supply_id:
                continue
            if feed.from_solution_g and feed.drawn_g <= 1e-9:
                continue
            lines.append(chain.taken(amount, feed, i))
            lines += chain.weighed(feed)
            terms.append(f"{number(feed.drawn_g)} g")
    if len(terms) > 1:
        lines.append(f"together: {' + '.join(terms)} = {number(draw.as_weighed_g)} g")
    return Reason(f"start:{supply_id}", f"How much {draw.supply.name}", tuple(lines))


def cost(found: Amounts, supply_id: str) -> Reason:
    """Money for one material, by the gram; raises InputError when there is no price."""
    draw = next((d for d in found.draws if d.supply.id == supply_id), None)
    if draw is None or draw.supply.price_per_g is None:
        raise InputError(f"there is no price for {supply_id!r} in this route")
    grams, price = draw.as_weighed_g, draw.supply.price_per_g
    money = draw.supply.currency or "USD"
    lines = (f"{draw.supply.name}: {number(grams)} g × {number(price)} {money}/g = "
             f"{number(grams * price)} {money}",
             f"per gram of target: {number(grams * price)} {money} / {number(found.target_g)} g = "
             f"{number(grams * price / found.target_g)} {money}/g")  # fmt: skip
    return Reason(f"cost:{supply_id}", f"Money for {draw.supply.name}", lines)


def water(library: Library, found: Amounts) -> tuple[Reason, ...]:
    """Where the water of each step comes from and where it goes."""
    out = []
    for amount, own in zip(found.steps, water_of_steps(library, found).values(), strict=True):
        lines = [
            f"water in the vessel, fed and brought with solutions: {number(own.fed_g)} g + "
            f"{number(own.carried_g)} g = {number(own.charged_g)} g",
        ]
        if own.formed_g:
            word = "formed" if own.formed_g > 0 else "bound"
            lines.append(f"{word} by the reaction: {number(abs(own.formed_g))} g")
            if own.charged_g + own.formed_g >= 0:
                sign = "+" if own.formed_g > 0 else "-"
                lines.append(
                    f"free afterwards: {number(own.charged_g)} g {sign} "
                    f"{number(abs(own.formed_g))} g = {number(own.left_g - own.after_g)} g"
                )
        if own.after_g:
            lines.append(f"put in when the reaction is over: {number(own.after_g)} g")
        if own.wash_g:
            lines.append(f"to wash with, besides: {number(own.wash_g)} g")
        if own.onward_g:
            lines.append(f"goes on with the solution: {number(own.onward_g)} g")
        title = f"Water of: {amount.step.title}"
        out.append(Reason(f"water:{amount.step.id}", title, tuple(lines)))
    return tuple(out)
