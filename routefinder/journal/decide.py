"""What a weight means: conversion or yield, what else would explain it, and what to do next.

The weight is set against what the step allows (``mass_model``): for a charge that is heated,
dried, roasted or slaked the conversion follows from the mass balance; for a product that is
filtered off, the yield. The interval is +/- 2 standard uncertainties (about 95 %: GUM, from memory)
of the two readings and of the purity of what was weighed in, propagated linearly:

    through:   x = (z a - b) / (s a): dx/da = b / (s a^2),  dx/db = -1 / (s a),  dx/dw = -x / w
               (z is what is left of a gram when nothing has turned)
    isolated:  y = b / (c a w):       relative uncertainties of a, b and w in quadrature

What one weight cannot tell is said. Verdicts: "done"; "go on", with the weight to reach; "something
else", when no unfinished reaction weighs so; "cannot tell", when the weight does not see the
conversion or the balance is too coarse for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from routefinder import digits
from routefinder.analysis.model import VESSEL
from routefinder.analysis.step_tests import Prepared, deciding
from routefinder.assessment import drying_words
from routefinder.assessment.distribution import Z90
from routefinder.assessment.drying import drying
from routefinder.assessment.keeping import takes_up
from routefinder.assessment.reasoning import Reason, number
from routefinder.errors import InputError
from routefinder.journal import explain_isolated, explain_through
from routefinder.journal.explanation import Explanation
from routefinder.journal.mass_model import MassModel, model
from routefinder.journal.weight import Charge, Reading
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.course import behaviour_of

COVER = 2.0  # coverage factor of the intervals
ENOUGH = 0.98  # a charge at 98 % counts as through: our choice, near the end of constant weight
DULL = 0.25  # an interval wider than +/- 25 % tells nothing
MOIST = (0.3, 0.7)  # water in a filter cake when nothing is said: common practice


@dataclass(frozen=True)
class Verdict:
    """What a weight means.

    ``way`` is "through" (``extent`` is the conversion), "isolated" (``extent`` is the yield of
    theory, conversion and loss together) or "blind". ``low`` and ``high`` are its 95 % interval.
    ``floor_g``, ``expected_g`` and ``ceiling_g`` are what a usual run weighs at its worst, as a
    rule, and what no dry pure product can pass. ``reach_g`` is the weight to go on to.

    ``product_g`` is how much of the product alone may be counted on in what was weighed: what the
    weight says where it says it (``sure``), else what a usual run gives; None where nothing of it
    has been made or nobody can say. It is what later steps are dosed and forecasts are made by.
    """

    step: str
    title: str
    way: str
    says: str
    in_g: float
    out_g: float
    extent: float | None
    low: float | None
    high: float | None
    floor_g: float | None
    expected_g: float | None
    ceiling_g: float | None
    reach_g: float | None
    sentence: str
    explanations: tuple[Explanation, ...]
    next_checks: tuple[str, ...]
    notes: tuple[str, ...]
    reason: Reason
    provisional: bool = False
    product_g: float | None = None
    sure: bool = False

    @property
    def short(self) -> str:
        """A few words: "61 % converted", "87 % of theory"."""
        if self.extent is None or self.low is None or self.high is None:
            return "the weight cannot tell"
        if self.way == "through":
            return f"{digits.percent(self.extent)} converted"
        return f"{digits.percent(self.extent)} of theory" + (" (wet)" if self.provisional else "")


def weigh(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    *,
    others: tuple[Charge, ...] = (),
    tare_g: float = 0.0,
    part: float = 1.0,
    wet: bool = False,
    moisture: float | None = None,
    strength: tuple[float, float, float] | None = None,
) -> Verdict:
    """What it means that ``charge`` went in and ``out`` came out of a step; see ``by_weight``."""
    found = by_weight(
        library, step, charge, out, others=others, tare_g=tare_g, part=part, wet=wet,
        moisture=moisture, strength=strength,
    )  # fmt: skip
    if found.says != "cannot tell":
        return found
    decides = deciding(library, step)
    checks = found.next_checks if decides is None else (_test(step, decides), *found.next_checks)
    notes = (*found.notes, *(f"the library notes: {n.rstrip('.')}" for n in step.record.notes))
    return replace(found, next_checks=checks, notes=notes)


def _test(step: ResolvedStep, test: Prepared) -> str:
    """The test that decides, in a line."""
    place = "the charge before its wash" if test.on == VESSEL else f"the {test.on}"
    end = " to the first end point" if test.first else ""
    figures = ", ".join(
        f"{value:.4g} {test.method.unit} {words}"
        for value, words in ((test.usual, "as usual"), (test.short, "if it stopped a tenth short"))
    )
    used = f" with {test.method.titrant} of {test.molar:g} mol/L" if test.method.titrant else ""
    return (
        f"what decides: {test.method.title}{end}, {test.sample_g:g} g of {place}{used}: {figures} "
        f"(routefinder test {step.id})"
    )


def by_weight(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    *,
    others: tuple[Charge, ...] = (),
    tare_g: float = 0.0,
    part: float = 1.0,
    wet: bool = False,
    moisture: float | None = None,
    strength: tuple[float, float, float] | None = None,
) -> Verdict:
    """What it means that ``charge`` went in and ``out`` came out of a step.

    Where the weight cannot tell, the test that decides is named, with what the record notes.
    ``tare_g`` is a vessel weighed with both; ``part`` the share of the whole that this weight is
    expected to be (one crop or batch of several); ``wet`` marks a weight that is not dry yet, with
    its ``moisture`` (water per gram of wet product) if it is known. ``strength`` is what a gram of
    ``out`` was measured to hold of the product, with its 10th and 90th percentile (low, best,
    high). Raises InputError when the tare leaves nothing.
    """
    if not 0 < part <= 1:
        raise InputError(f"the share {part:g} must lie above 0 and up to 1 (100 %)")
    if moisture is not None and not 0 <= moisture < 1:
        raise InputError(f"the moisture {moisture:g} must lie from 0 to below 1 (100 %)")
    if tare_g:
        if tare_g >= min(charge.reading.grams, out.grams):
            raise InputError(
                f"the tare of {number(tare_g)} g leaves nothing of {number(charge.reading.grams)} g"
                f" in and {number(out.grams)} g out"
            )
        bare = Reading(charge.reading.grams - tare_g, charge.reading.reads_g)
        charge = replace(charge, reading=bare)
        out = Reading(out.grams - tare_g, out.reads_g)
    found = model(library, step, charge, others)
    if strength is not None and found.way != "through":
        return _measured(library, step, charge, out, found, part, strength)
    if found.way == "blind":
        return _blind(library, step, charge, out, found)
    if found.way == "through":
        charge = replace(charge, reading=found.weighed)  # all that was weighed in, as one
        return _through(library, step, charge, out, found, wet)
    return _isolated(library, step, charge, out, found, part, wet, moisture)


def _blind(
    library: Library, step: ResolvedStep, charge: Charge, out: Reading, found: MassModel
) -> Verdict:
    checks = []
    gas = [p for p in step.products if p.state == "g"]
    lines = [f"{found.why}: dm/dx = 0, no conversion follows from a weight"]
    for part in gas:
        grams = part.moles * found.turns * library.substances[part.substance].molar_mass_g
        label = library.substances[part.substance].label
        lines.append(f"gas at full conversion: {number(grams)} g of {label}")
        checks.append(
            f"weigh the open vessel with everything in it, before and after: at the end "
            f"{digits.mass(grams)} of {label} have left, less what stays dissolved and with what "
            "water steams off"
        )
    if step.main.state == "aq":
        checks.append("titrate a weighed sample, or measure its density, and scale up")
        checks.append("test a drop for what should be used up (pH, fizz, colour)")
    else:
        checks.append("test a pinch for what should be used up (acid: fizz; water: what dissolves)")
    checks += [f"the library says: {words}" for words in step.record.done_when]
    return Verdict(
        step.id, step.title, "blind", "cannot tell", charge.reading.grams, out.grams, None, None,
        None, None, None, None, None,
        f"A weight cannot tell how far this step has gone: {found.why}.", (), tuple(checks),
        found.notes, Reason(f"weigh:{step.id}", "What the weight means", tuple(lines)),
        product_g=_usual_of_blind(step, out, found),
    )  # fmt: skip


def _usual_of_blind(step: ResolvedStep, out: Reading, found: MassModel) -> float:
    """What a usual run gives, and of a solid no more than lies there."""
    usual = found.full_g * step.record.yield_.typical
    return min(usual, out.grams) if step.main.state == "s" else usual


def _u_through(charge: Charge, out: Reading, found: MassModel, x: float) -> float:
    a, b, s = charge.reading.grams, out.grams, found.share
    parts = (
        b / (s * a * a) * charge.reading.u_g,
        out.u_g / (s * a),
        x * charge.u_purity / charge.purity,
    )
    return math.hypot(*parts)


def _through(
    library: Library, step: ResolvedStep, charge: Charge, out: Reading, found: MassModel, wet: bool
) -> Verdict:
    a, b, s = charge.reading.grams, out.grams, found.share
    z = a * found.start
    x = found.extent_at(a, b)
    u = COVER * _u_through(charge, out, found, x)
    end = found.weight_at(a, 1.0)
    verb = "lose" if s > 0 else "gain"
    lines: tuple[str, ...] = (
        f"at full conversion {charge.name} must {verb}: {number(a)} g × {number(abs(s))} = "
        f"{number(a * abs(s))} g",
        f"it weighs then: {number(z)} g - ({number(a * s)} g) = {number(end)} g",
        f"conversion: ({number(z)} g - {number(b)} g) / {number(a * s)} g = {number(x)}",
        f"standard uncertainties: {number(charge.reading.u_g)} g in, {number(out.u_g)} g out, "
        f"purity {number(charge.u_purity)}: {number(x)} ± {number(u)} (95 %)",
    )
    reach: float | None = None
    usual = found.full_g * step.record.yield_.typical
    product, sure = b * found.product_at(min(max(x, 0.0), 1.0)), True
    if abs(z - a) > 1e-9 * a:
        besides = f"left when nothing has turned: {number(a)} g × {number(found.start)}"
        lines = (f"{besides} = {number(z)} g", *lines)
    span = f"{digits.percent(max(x - u, 0.0))} to {digits.percent(min(x + u, 1.0))}"
    heat = "heat" if s > 0 else "go"
    if u > DULL or wet or (x - u > 1 and s < 0):
        product, sure = usual, False
    if u > DULL:
        says = "cannot tell"
        sentence = (
            f"The weight is too coarse: full conversion changes it by {digits.mass(abs(a * s))} "
            f"only, and the conversion comes out as {digits.percent(x)} ± {digits.percent(u)}."
        )
    elif wet:
        says, reach = "cannot tell", end
        sentence = (
            "Not dry yet, so this weight is provisional: moisture and conversion cannot be told "
            f"apart. Dry, it should reach {digits.mass(end)}."
        )
    elif x - u > 1 and s > 0 and b >= end * behaviour_of(library, step).kept:
        says = "done"
        sentence = (
            f"Done, by weight: all converted. It is {digits.mass(end - b)} "
            f"({digits.percent((end - b) / end)}) lighter than full conversion leaves, about what "
            "is usually spilt or sticks."
        )
    elif x - u > 1:
        says = "something else"
        word = "lighter" if s > 0 else "heavier"
        sentence = (
            f"{word.capitalize()} than full conversion can make it: {digits.mass(end)} is the "
            f"limit, this is {digits.mass(abs(b - end))} {word}. An unfinished reaction does not "
            "explain that."
        )
    elif x + u < 0:
        says = "something else"
        word = "heavier" if s > 0 else "lighter"
        sentence = (
            f"It has become {word} than the start, but this step must {verb} weight. "
            "An unfinished reaction does not explain that."
        )
    elif x + u >= ENOUGH and x >= ENOUGH - u:
        says = "done"
        sentence = f"Done, by weight: {digits.percent(min(x, 1.0))} converted ({span})."
    else:
        says, reach = "go on", end
        sentence = (
            f"{digits.percent(max(x, 0.0))} converted ({span}). Go on: {heat} on to "
            f"{digits.mass(end)}, that is {digits.mass(abs(b - end))} "
            f"{'less' if s > 0 else 'more'}."
        )
    explanations, checks, notes = explain_through.explain(library, step, charge, out, found, x, u)
    return Verdict(
        step.id, step.title, "through", says, a, b, x, x - u, x + u, None, end, None, reach,
        sentence, explanations, checks, (*found.notes, *notes),
        Reason(f"weigh:{step.id}", "What the weight means", lines), wet,
        None if x + u < 0 and u <= DULL else product, sure,
    )  # fmt: skip


def _isolated(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    found: MassModel,
    part: float,
    wet: bool,
    moisture: float | None,
) -> Verdict:
    name = library.substances[step.main.substance].label
    y_record = step.record.yield_
    full = found.full_g
    weighed = out.grams
    dry, u_dry = weighed, out.u_g
    notes = list(found.notes)
    if wet:
        low_m, high_m = (
            MOIST if moisture is None else (max(moisture - 0.1, 0), min(moisture + 0.1, 0.95))
        )
        middle = moisture if moisture is not None else (low_m + high_m) / 2
        dry = weighed * (1 - middle)
        u_dry = math.hypot(out.u_g, weighed * (high_m - low_m) / 2 / COVER)
        notes.append(
            f"wet weight: taken as {digits.percent(low_m)} to {digits.percent(high_m)} water"
            + (" (common practice; say --moisture when known)" if moisture is None else "")
            + "; provisional, weigh it again dry"
        )
    y = dry / full
    rel = math.hypot(u_dry / dry, charge.reading.u_g / charge.reading.grams)
    ceiling = found.ceiling_g
    top = full if ceiling is None else max(ceiling, full)
    u_strength = charge.u_purity / charge.purity
    # a ceiling above theory has the greatest strength of the start in it already
    u_top = rel if top > full * (1 + 1e-9) else math.hypot(rel, u_strength)
    above = ceiling is not None and dry * (1 - COVER * u_top) > top
    rel = math.hypot(rel, u_strength)
    u = COVER * rel * y
    floor, expected, usual = (
        part * full * v for v in (y_record.low, y_record.typical, y_record.high)
    )
    lines = [
        f"ceiling, all of {found.limited_by} turned and caught: {number(found.turns)} turns × "
        f"{number(full / found.turns)} g = {number(full)} g of dry {name}",
        f"usual: {number(full)} g × {number(y_record.typical)} × {number(part)} = "
        f"{number(expected)} g; low end {number(floor)} g",
        f"yield of theory: {number(dry)} g / {number(full)} g = {number(y)} ± {number(u)} (95 %)",
    ]
    how = drying(library, step.main.substance, step.main.state, step)
    pure = "dry, pure" if step.main.state == "s" else "pure"
    if_dry = "if it is dry" if step.main.state == "s" else "if it holds no water"
    reach: float | None = None
    span = f"{digits.percent(max(y - u, 0.0))} to {digits.percent(y + u)}"
    product, sure = expected, False
    if wet:
        says = "cannot tell"
        sentence = (
            f"Not dry yet: about {digits.percent(y)} of theory ({span}), provisional: "
            f"{drying_words.to_constant_weight(how)}. {digits.mass(expected)} is usual, "
            f"{digits.mass(top)} the ceiling."
        )
        product = min(dry, expected) if moisture is not None else expected
    elif above:
        says = "something else"
        sentence = (
            f"{digits.mass(weighed - top)} above the ceiling: no {pure} {name} can weigh more "
            f"than {digits.mass(top)}; {digits.mass(expected)} is usual. This cannot be "
            f"{name} alone; it is wet or holds something besides."
        )
    elif y + u < y_record.low * part:
        says, reach = "go on", floor
        product, sure = dry, True
        sentence = (
            f"{digits.percent(y)} of theory ({span}), below the usual {digits.mass(floor)} to "
            f"{digits.mass(usual)}. Go on until it gives {digits.mass(floor)} or more, if the "
            "liquor still holds some; if not, it was lost."
        )
    elif y - u > y_record.high * part:
        says = "cannot tell"
        sentence = (
            f"{digits.percent(y)} of theory ({span}): more than the usual {digits.mass(floor)} to "
            f"{digits.mass(usual)}"
            + (f", still below the ceiling of {digits.mass(top)}" if ceiling is not None else "")
            + f". It may hold water: {drying_words.again(how)}."
        )
    else:
        says = "done"
        product, sure = dry, True
        sentence = (
            f"Done, {if_dry}: {digits.percent(y)} of theory ({span}); usual are "
            f"{digits.mass(floor)} to {digits.mass(usual)}"
            + (f", the ceiling is {digits.mass(top)}." if ceiling is not None else ".")
        )
    if ceiling is None:
        notes.append("the product has no fixed formula: 100 % means what the recipe gives")
    explanations, checks, more = explain_isolated.explain(
        library, step, charge, out, found, says, y, u, part
    )
    if says in {"something else", "cannot tell"} and ceiling is not None:
        more = (*more, explain_isolated.by_moles(library, step, product))
    record = library.substances[step.main.substance]
    words = "; ".join(w for s in (step.record.storage, record.storage) if s for w in s.spoils_by)
    if says != "go on" and takes_up(words):
        notes.append(f"{name} takes something up from the air ({words}): weigh it at once")
    return Verdict(
        step.id, step.title, "isolated", says, charge.reading.grams, weighed, y, y - u, y + u,
        floor, expected, ceiling, reach, sentence, explanations, checks, (*notes, *more),
        Reason(f"weigh:{step.id}", "What the weight means", tuple(lines)), wet, product, sure,
    )  # fmt: skip


def _measured(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    found: MassModel,
    part: float,
    strength: tuple[float, float, float],
) -> Verdict:
    """What a weight means whose strength was measured: so much of the product is in it."""
    name = library.substances[step.main.substance].label
    full, y_record = found.full_g, step.record.yield_
    low, share, high = strength
    pure = out.grams * share
    y = pure / full
    rel = math.hypot(
        out.u_g / out.grams, (high - low) / (2 * Z90 * share),
        charge.reading.u_g / charge.reading.grams, charge.u_purity / charge.purity,
    )  # fmt: skip
    u = COVER * rel * y
    ceiling = found.ceiling_g
    top = full if ceiling is None else max(ceiling, full)
    floor, expected, usual = (
        part * full * v for v in (y_record.low, y_record.typical, y_record.high)
    )
    span = f"{digits.percent(max(y - u, 0.0))} to {digits.percent(y + u)}"
    held = f"{digits.mass(out.grams)} of {digits.percent(share)} hold {digits.mass(pure)} {name}"
    range_ = f"usual are {digits.mass(floor)} to {digits.mass(usual)}"
    reach: float | None = None
    product, sure = pure, True
    if ceiling is not None and pure - u * full > top:
        says, product, sure = "something else", expected, False
        sentence = (
            f"{held}, {digits.mass(pure - top)} more than can come of what went in "
            f"({digits.mass(top)}): the strength, the weight or what went in is not right."
        )
    elif y + u < y_record.low * part:
        says, reach = "go on", floor
        sentence = (
            f"{held}: {digits.percent(y)} of theory ({span}), {range_}. Some has not turned, is "
            "still in what was filtered off, or was lost."
        )
    elif y - u > y_record.high * part:
        says = "cannot tell"
        sentence = f"{held}: {digits.percent(y)} of theory ({span}), more than the usual: {range_}."
    else:
        says = "done"
        sentence = f"{held}, {digits.percent(y)} of theory ({span}); {range_}."
    lines = (
        f"theory: {number(found.turns)} turns × {number(full / found.turns)} g = {number(full)} g "
        f"{name}",
        f"in it: {number(out.grams)} g × {number(share)} = {number(pure)} g",
        f"yield of theory: {number(pure)} g / {number(full)} g = {number(y)} ± {number(u)} (95 %)",
    )
    checks = ("measure the strength again, on a fresh sample",) if says != "done" else ()
    return Verdict(
        step.id, step.title, "isolated", says, charge.reading.grams, out.grams, y, y - u, y + u,
        floor, expected, ceiling, reach, sentence, (), checks, found.notes,
        Reason(f"weigh:{step.id}", "What the weight means", lines), False, product, sure,
    )  # fmt: skip
