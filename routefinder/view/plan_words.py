"""A plan in sentences, the same in the terminal, the dossier and the notebook files."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from routefinder import digits
from routefinder.assessment.crystals import boils_down
from routefinder.assessment.leavings import Trapped
from routefinder.assessment.money import Money, MoneyPart
from routefinder.assessment.schedule import Task
from routefinder.assessment.shopping import Purchase
from routefinder.assessment.surprises import surprises
from routefinder.chem.solutions import Crop
from routefinder.vessel.stream import WATER
from routefinder.vessel.water import liquor
from routefinder.view import gas_words, heat_words, surprise_words
from routefinder.view.state_words import strength_words
from routefinder.view.text import feed_words, short_path
from routefinder.view.time_words import notes as taken_for_granted
from routefinder.view.words import poured_or_weighed
from routefinder.view.yield_words import yield_words
from routefinder.worksheet.bench_work import LIES_MORE
from routefinder.worksheet.plan import Plan, StepPlan

# What goes off, or falls apart, before or with its water: boiling down makes it no stronger.
_LEAVES = frozenset({"NH3", "HCl", "H2O2", "SO2", "CH2O2", "C2H4O2"})


def given_words(plan: Plan) -> list[str]:
    """What was given: shelf, bench, terms."""
    q, terms = plan.question, plan.terms
    given = [f"shelf: {short_path(q.shelf.name)}"]
    given.append(f"bench: {short_path(q.bench.name) if q.bench else 'none given'}")
    if terms.calendar is not None:
        given.append(f"from {terms.calendar.start:%Y-%m-%d}, {terms.calendar.text}")
    if terms.room is not None:
        given.append(
            f"room: {digits.significant(terms.room.volume_m3)} m³, "
            f"{terms.room.air_changes_h:g} air changes an hour"
        )
    if terms.heater_W is not None:
        given.append(f"heater: {terms.heater_W / 1000:g} kW at {digits.percent(terms.efficiency)}")
    return given


def sure_words(plan: Plan) -> tuple[list[str], list[str]]:
    """How sure the amounts are: sentences before the table of starts, and after it."""
    sure, start = plan.sure, plan.start
    asked = digits.mass(plan.asked_g)
    if not sure.starts:
        return ["Nothing from the shelf limits this route: no interval can be given."], []
    first = sure.starts[0]
    name = first.supply.name
    out = [
        f"Overall yield on {name}, the limiting material: median "
        f"{digits.percent(first.overall.p50)}, 8 times in 10 between "
        f"{digits.percent(first.overall.p10)} and {digits.percent(first.overall.p90)}."
    ]
    if start.confidence is None:
        only = "only " if first.chance < 0.5 else ""
        out.append(
            f"The amounts below are for typical yields. They start from {weight(first.start_g)} "
            f"{name} and reach {asked} in {only}{digits.percent(first.chance)} of trials (half of "
            f"them give {digits.mass(first.output_g.p50)} or less)."
        )
        ninety = next((g for c, g in first.enough_g if c == 0.9), None)
        if ninety is not None:
            out.append(
                f"To reach {asked} 9 times in 10 start from {weight(ninety)} and scale everything: "
                "--confidence 90."
            )
    else:
        out.append(
            f"The amounts below are {digits.significant(start.scale, 4)} times those at typical "
            f"yields (planned for {digits.mass(plan.planned_g)}), so that "
            f"{percent(start.confidence)} of trials reach {asked}: start from "
            f"{weight(start.enough_g[0][1])} {name} instead of {weight(first.start_g)}."
        )
    rest = [
        f"Chance: that {asked} come of the typical start of this material, the others as needed. "
        f"{sure.draws} trials, seed {sure.seed}."
    ]
    names = _names(plan)
    if sure.shares:
        words = [
            f"{names[x.of]}{' (strength)' if x.kind == 'purity' else ''} {digits.percent(x.share)}"
            for x in sure.shares[:4]
        ]
        rest.append(f"Whose doubt matters most: {'; '.join(words)}.")
    gains = [g for g in sure.gains if g.output_g > 0 or g.saves > 0]
    if gains:
        best = gains[0]
        rest.append(
            f"What pays most: {digits.significant(best.points * 100, 2)} points more yield in "
            f"{names[best.step]} give {digits.mass(best.output_g)} more from the same start, or "
            f"save {digits.money(best.saves, plan.spent.currency)}."
        )
    return out, rest


def percent(share: float) -> str:
    """A confidence: 90 %."""
    return f"{share * 100:.3g} %"


def _names(plan: Plan) -> dict[str, str]:
    names = {s.amount.step.id: f"step {s.number}" for s in plan.steps}
    return names | {d.supply.id: d.supply.name for d in plan.amounts.draws}


def weight(grams: float) -> str:
    """A mass to four figures, as a bench balance shows it."""
    return digits.mass(grams, 4)


def measured(plan: Plan, material: str, grams: float) -> str:
    """As it is weighed or measured out."""
    supply = next((d.supply for d in plan.amounts.draws if d.supply.id == material), None)
    return poured_or_weighed(supply, grams, 4) if supply else weight(grams)


def expect_words(plan: Plan) -> str:
    """What the route holds beyond its titles, in a line."""
    numbers = {s.amount.step.id: s.number for s in plan.steps}
    found = surprises(plan.library, plan.amounts)
    return surprise_words.surprise_line(plan.library, found, numbers)


def shopping_words(plan: Plan) -> list[str]:
    """Totals, materials chosen, the tap, what runs out first, what the bench lacks."""
    bought = plan.buying
    least = bought.at_least
    used = digits.money(bought.consumed, bought.currency, least)
    to_pay = digits.money(bought.packets, bought.currency, least)
    out = [f"Together: {used} for what is used, {to_pay} to pay now for whole packs."]
    for currency, consumed, packets in bought.others:
        now = f", {digits.money(packets, currency)} to pay now for whole packs" * (packets > 0)
        out.append(
            f"Besides, {digits.money(consumed, currency)} for what is used{now}, "
            f"{_apart(bought.currency)}."
        )
    if bought.unknown:
        out.append(f"No price is known for {', '.join(bought.unknown)}.")
    chosen = surprise_words.chosen_line(plan.library, plan.amounts)
    out += [chosen] if chosen else []
    for d in plan.amounts.draws:
        if d.supply.everywhere and d.supply.form != "gas" and d.as_weighed_g > 0:
            liquid = d.supply.form in {"liquid", "solution"}
            much = digits.volume(d.as_weighed_g) if liquid else digits.mass(d.as_weighed_g)
            out.append(f"Besides, from the tap or the bench: {much} {d.supply.name}.")
    most = plan.most
    if most is not None:
        text = (
            f"{most.runs_out.name} runs out first: the shelf gives {digits.mass(most.most_g)} at "
            f"typical yields ({digits.mass(most.low_g)} to {digits.mass(most.high_g)} with every "
            "step at its low or high end"
        )
        if most.likely is not None:
            text += (
                f"; 8 times in 10 {digits.mass(most.likely.p10)} to {digits.mass(most.likely.p90)}"
            )
        out.append(text + ").")
        if most.most_g < plan.planned_g * (1 - 1e-9):
            out.append("That is less than planned: buy what is lacking, or plan for less.")
    if plan.bench is not None:
        out += [
            f"Missing on the bench: {n.capability.in_words()}." for n in plan.needed if not n.tool
        ]
    return out


def _apart(currency: str) -> str:
    return f"not added: the settings give no rate into {currency}"


def amount(p: Purchase, grams: float) -> str:
    """As it is sold: a mass, or the volume of a liquid."""
    if p.density_g_mL:
        return digits.volume(grams / p.density_g_mL)
    return digits.mass(grams)


def packs(p: Purchase) -> str:
    """What to buy."""
    if not p.short_g:
        return "nothing"
    made = f" (for {p.makes})" if p.makes else ""
    if p.chosen is None or not p.chosen.packs:
        return f"{amount(p, p.short_g)} or more (packs not known){made}"
    return ", ".join(f"{n} × {pack.label}" for pack, n in p.chosen.packs) + made


def paid(value: float | None, currency: str) -> str:
    """Money, a dash for none, a question mark where no price is known."""
    if value is None:
        return "?"
    return digits.money(value, currency) if value else "–"


def part_paid(part: MoneyPart, spent: Money) -> str:
    """The money of one material, in the currency it is known in."""
    return paid(*(part.elsewhere or (part.money, spent.currency)))


def codes(statements: Iterable[tuple[str, str]]) -> str:
    """GHS codes with their wordings."""
    return "; ".join(f"{code} {words}" for code, words in statements)


def expect(plan: Plan, s: StepPlan) -> list[tuple[str, str]]:
    """Heat, water, crops, gas and time of a step, as (what, words)."""
    rows: list[tuple[str, str]] = []
    rows.append(("heat", heat_words.shown(s.heat)))
    boil = heat_words.boil(s.heat)
    if boil:
        rows.append(("evaporate" if heat_words.gently(s.amount.step) else "boil off", boil))
    if s.water.carried_g:
        rows.append(("water", f"{digits.mass(s.water.carried_g)} come with the solution, "
                              f"{digits.mass(s.water.fed_g)} are added"))  # fmt: skip
    rows += [("strength", text) for text in pot_words(plan, s)]
    if s.crops is not None:
        rows += [("crops", text) for text in crop_words(s)]
    if s.gas is not None:
        rows += [("gas", gas_words.shown(g)) for g in s.gas.gases if g.formula != "H2O"]
        rows += [("gas", gas_words.also(a)) for a in s.gas.also]
        if s.gas.air_taken_L:
            rows.append(("air", f"takes up oxygen: at least {digits.significant(s.gas.air_taken_L)}"
                                " L of air"))  # fmt: skip
    rows.append(("time", _time_words(plan, s)))
    notes = [
        *heat_words.notes(s.heat),
        *(s.crops.notes if s.crops else ()),
        *(gas_words.notes(s.gas) if s.gas else ()),
    ]
    rows += [("note", text) for text in notes]
    return rows


def pot_words(plan: Plan, s: StepPlan) -> list[str]:
    """How strong what is dissolved stands before the reaction, where the step speaks of it."""
    out = []
    strongest = max((p.alone for p in s.pots), default=0.0)
    for p in s.pots:
        name = plan.library.name(p.substance).removesuffix(", anhydrous")
        text = f"{name} stands at {digits.percent(p.among)} in all the water"
        if p.alone == strongest and p.among < p.alone - 0.005:
            text += f", at {digits.percent(p.alone)} before other solutions come"
        asked = f"at most {digits.percent(p.most)}" if p.most is not None else ""
        if p.least:
            asked = f"at least {digits.percent(p.least)}" + (f" and {asked}" if asked else "")
        text += f" (asked: {asked})"
        if p.too_strong:
            text += ": dilute it before it goes in"
        if p.too_weak:
            text += ": too weak, " + _stronger(plan, s, p, name)
        out.append(text)
    return out


def _stronger(plan: Plan, s: StepPlan, p: Any, name: str) -> str:
    """What to do about a solution that stands too weak.

    Where it is strong enough by itself, the water of another solution makes it weak: that one must
    come stronger. What leaves its water as a gas is not boiled down.
    """
    if p.alone >= p.least:
        others = [
            (f.mass_g, f.origin.name) for f in s.amount.feeds
            if not isinstance(f.origin, str) and f.origin.form == "solution"
            and f.role in {"reactant", "catalyst"}
            and plan.library.root(f.substance) != plan.library.root(p.substance)
        ]  # fmt: skip
        if others:
            return f"take something stronger than {max(others)[1]}: its water thins the {name}"
    if plan.library.substances[p.substance].formula in _LEAVES:
        return "take a stronger one"
    return "take a stronger one or boil it down first"


def take(feed: Any, s: StepPlan, numbers: dict[str, int], parts: int = 1) -> str:
    """One thing that goes into a step, all of it or one of so many parts."""
    from dataclasses import replace

    words = feed_words(replace(feed, mass_g=feed.mass_g / parts,
                               companions_g=feed.companions_g / parts,
                               from_solution_g=feed.from_solution_g / parts), numbers)  # fmt: skip
    if isinstance(feed.origin, str):
        return f"{words} (in solution)" if dissolved(feed, s) else words
    if feed.origin.form not in {"solid", "metal"}:
        return words
    w = next((w for w in s.weigh_outs if w.material == feed.origin.name), None)
    if w is None:
        return words
    grams = w.rounded_g if parts == 1 else feed.as_weighed_g / parts
    role = "" if feed.role == "reactant" else f" ({feed.role})"
    return f"{digits.readable(grams, w.readability_g)} {feed.origin.name}{role}"


def dissolved(feed: Any, s: StepPlan) -> bool:
    """Whether a feed from an earlier step comes as its solution."""
    part = next((p for p in s.amount.step.reactants if p.substance == feed.substance), None)
    return part is not None and part.state == "aq" and feed.water_g == 0


def gives(plan: Plan, s: StepPlan) -> str:
    """The product with its yield, and what it can weigh at most."""
    product = s.amount.product
    substance = plan.library.substances[product.substance]
    name = substance.name
    if product.state == "aq":
        name = name.removesuffix(", anhydrous").removesuffix(" anhydrous") + " in solution"
        name += strength_words(liquor(plan.library, s.amount))
    made = f"{digits.mass(product.mass_g)} {name}"
    made += f" at the typical yield of {yield_words(s.amount.step.record.yield_)}"
    if not s.amount.step.is_recipe:
        made += f"; never more than {digits.mass(s.amount.theoretical_g)}"
    return made + _lies_there(s)


def _lies_there(s: StepPlan) -> str:
    """What a wet or impure product weighs as it lies there; nothing where that is itself."""
    product, stream = s.amount.product, s.amount.course.product
    whole = float(stream.in_phases("s", "l", "aq"))
    if product.state not in {"s", "l"} or whole < product.mass_g * LIES_MORE:
        return ""
    water = float(stream.grams(*WATER))
    wet = f", {digits.mass(water)} of it water" if water > (LIES_MORE - 1) * whole else ""
    basis = "dry and pure" if wet else "pure"
    return f"; counted {basis}: as it lies there {digits.mass(whole)}{wet}"


def batch_words(s: StepPlan, many: str) -> str:
    """In how many batches and in what, or why that is not known."""
    b = s.batches
    if b is None or not b.known:
        return "1 (no vessel of known size)"
    limit = b.limit
    text = f"{b.count}"
    if limit is not None:
        text += (
            f": {digits.volume(limit.filling.volume_mL)} ({digits.mass(limit.filling.mass_g)}) "
            f"{limit.filling.when}; {limit.what} takes "
            f"{digits.volume(limit.holds_mL * limit.use)} ({digits.percent(limit.use)} of it)"
        )
    if b.at_once > 1:
        text += f"; {b.at_once} can wait side by side"
    if b.note:
        text += f"; or {b.note} (--fill {s.number}=…)"
    for what, goes in b.portions:
        text += f"; {what} in {goes} goes"
    return text


def crop_words(s: StepPlan) -> list[str]:
    """Each table's crops, one line a table."""
    crops = s.crops
    if crops is None or not crops.answers:
        return [crops.why] if crops and crops.why else []
    out = []
    boils = boils_down(s.amount.step)
    for a in crops.answers:
        if not boils and not a.to_leaves and a.crops[0].boiled_off_g > 0.5:
            out.append(f"cooling brings {digits.percent(a.as_charged_share)} of the salt")
            continue
        how = heat_words.gently(s.amount.step)
        parts = [
            f"{_bring(c, a.hot_parted, boils, how)}{digits.mass(c.crystals_g)}" for c in a.crops
        ]
        text = "; then ".join(parts)
        out.append(f"{text}; {digits.mass(a.crops[-1].liquor_salt_g)} stay in the liquor "
                   f"({digits.percent(a.share)} crystallise)")  # fmt: skip
    if len(out) > 1:
        out = [out[0], *(f"by another solubility table: {text}" for text in out[1:])]
    return out


def _bring(crop: Crop, hot_parted: bool, boils: bool, gently: str) -> str:
    then = "filter hot" if hot_parted else "cool"
    if crop.boiled_off_g > 0.5 and not boils:
        return f"let the dish dry up to {digits.volume(crop.liquor_water_g)} of water: "
    if crop.boiled_off_g > 0.5:
        how = f"evaporate, {gently}," if gently else "boil down"
        return f"{how} to {digits.volume(crop.liquor_water_g)} of water, {then}: "
    if crop.boiled_off_g < -0.5:
        return f"add {digits.volume(-crop.boiled_off_g)} of water, {then}: "
    return f"{then}: "


def trap_words(t: Trapped) -> str:
    """What a gas trap leaves over."""
    return f"If {t.gas} is led into {t.liquid}, the liquor is left over too: {t.holds}."


def _time_words(plan: Plan, s: StepPlan) -> str:
    time = s.heat.times
    text = f"{digits.duration(time.hands_on_min)} by hand"
    fired = heat_words.firing(s.heat)
    if time.waiting_min:
        text += f", {fired or digits.duration(time.waiting_min) + ' waiting'}"
        a = s.stays
        if a.stay:
            text += f", to be watched ({a.why.rstrip('.')})"
        else:
            once = (["it has calmed down"] if a.calms else []) + ["the heat is off"] * a.heat_off
            text += ", which may be left" + (f" once {' and '.join(once)}" if once else "")
            text += "" if a.said else " (it stands; nobody has said so)"
    if s.count > 1:
        text += "; each batch"
    return text


def there(t: Task) -> str:
    """Whether somebody must be there during a task of the calendar."""
    if t.present:
        return "yes, outside your hours" if t.outside else "yes"
    if t.kind == "cooling":
        return "heat off, shut"
    return "may be left, heat off" if t.heat_off else "may be left"


KINDS = {"hands-on": "work", "heating": "heat", "waiting": "wait", "cooling": "cool"}


def time_words(plan: Plan) -> list[str]:
    """Work and waiting in all, what sets the end, and what was taken for granted."""
    timed = plan.timed
    by = "" if timed.calendar is None else " by the calendar"
    end = "." if timed.exact else " (the best of many orders tried)."
    out = [
        f"{digits.duration(timed.hands_on_min)} by hand, {digits.duration(timed.watched_min)} with "
        f"somebody there, {digits.duration(timed.elapsed_min)} from first to last{by}{end}"
    ]
    steps = {s.amount.step.id: s for s in plan.steps}
    if timed.critical:
        links = []
        for link in timed.critical:
            s = steps[link.step]
            batch = f", batch {link.batch}" if s.count > 1 else ""
            why = f" (waits for {link.waited_for})" if link.waited_for not in {"", "step"} else ""
            links.append(f"step {s.number}{batch}{why}")
        out.append(f"What sets the end: {' → '.join(links)}.")
    out += [f"Note: {note}." for note in taken_for_granted(timed)]
    return out


def moment(when: datetime | None, ends: datetime | None, day: str, t: Task) -> str:
    """When a task begins and ends."""
    if when is None or ends is None:
        return f"from {_clock(t.start_min)}"
    over = (ends.date() - when.date()).days
    return f"{day:<11}{when:%H:%M}–{ends:%H:%M}" + (f" +{over} d" if over else "")


def _clock(minutes: float) -> str:
    days, rest = divmod(round(minutes), 1440)
    text = f"{rest // 60}:{rest % 60:02d} h"
    return f"{days} d {text}" if days else text


def keeping_words(plan: Plan) -> list[str]:
    """How long each intermediate lies, and whether it keeps so long."""
    marks = {"fine": "", "close it": "Close it: "}
    out = [f"{marks.get(w.verdict, 'Mind: ')}{w.sentence}." for w in plan.keeps.waits]
    if plan.keeps.not_overnight:
        out.append(
            "Not to be left open or over a night without need: "
            f"{', '.join(plan.keeps.not_overnight)}."
        )
    return out


def money_words(plan: Plan) -> list[str]:
    """Totals, energy, and making against buying."""
    spent, energy, buy = plan.spent, plan.energy, plan.buy
    lacks = bool(energy.unknown)
    least = bool(spent.unknown) or (spent.energy is not None and lacks)
    counted = (
        "energy not counted (no --energy-price)"
        if spent.energy is None
        else f"energy {digits.money(spent.energy, spent.currency, lacks)}"
    )
    out = [
        f"Materials {digits.money(spent.materials, spent.currency, bool(spent.unknown))}; "
        f"{counted}; together {digits.money(spent.total, spent.currency, least)}, that is "
        f"{'≥ ' if least else ''}{digits.significant(spent.per_gram, 2)} {spent.currency} a gram "
        f"of the {digits.mass(plan.planned_g)} that typical yields give."
    ]
    out += [
        f"Besides, {digits.money(sum_, currency)} of materials, {_apart(spent.currency)}."
        for currency, sum_ in spent.others
    ]
    text = f"Energy from the mains: {digits.significant(energy.known_kWh, 2)} kWh"
    if energy.unknown:
        unknown = ", ".join(str(plan.step(i).number) for i in energy.unknown)
        text += f", and an unknown amount for step {unknown}"
    out.append(text + ".")
    if buy.bought is None and buy.elsewhere is not None:
        out.append(
            f"Bought ready as {buy.material}: {digits.money(*buy.elsewhere)} by the gram; made: "
            f"{digits.money(buy.made, buy.currency, least)}; not compared: the settings give no "
            f"rate into {buy.currency}."
        )
        return out
    if buy.bought is None:
        out.append("Bought ready: nobody in the library sells the target.")
        return out
    text = (
        f"Bought ready as {buy.material}: {digits.money(buy.bought, buy.currency)} by the gram; "
        f"made: {digits.money(buy.made, buy.currency)}"
    )
    if buy.saves_per_hour is not None and buy.saves is not None and buy.saves > 0:
        text += f" ({digits.money(buy.saves_per_hour, buy.currency)} saved an hour of work)"
    out.append(f"{text}; so {_verdict(buy.verdict)}.")
    return out


def _verdict(verdict: str) -> str:
    return {"buy": "buying costs less", "make": "making costs less"}.get(
        verdict, "which costs less is not known"
    )


def waste_words(plan: Plan) -> str:
    """How well mass is used, in a sentence."""
    left, used = plan.left, plan.used
    text = (
        f"E-factor {digits.significant(left.e_factor_without_water, 2)} without water, "
        f"{digits.significant(left.e_factor, 2)} with; mass intensity "
        f"{digits.significant(used.intensity_without_water, 2)} without water, "
        f"{digits.significant(used.intensity, 2)} with"
    )
    if used.atom_economy is None or used.reaction_mass_efficiency is None:
        return text + "; atom economy not known (a step is a recipe by mass)."
    return (
        f"{text}; atom economy {digits.percent(used.atom_economy)}; reaction mass efficiency "
        f"{digits.percent(used.reaction_mass_efficiency)}."
    )
