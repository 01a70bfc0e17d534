"""The work at the bench in sentences: imperative, with units, none without data behind it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from routefinder import digits
from routefinder.assessment import drying_words
from routefinder.hazards.attendance import Attendance
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed
from routefinder.records.stage import STAGES, Stage
from routefinder.records.step import Step
from routefinder.view import heat_words
from routefinder.view.words import things_left
from routefinder.worksheet.bench_work import BenchPortion, StepWork
from routefinder.worksheet.safety import Gear


def portion(p: BenchPortion) -> str:
    """One thing to weigh, to measure or to take over."""
    if p.from_step is not None:
        if p.dissolved:
            return (f"the solution from step {p.from_step} (it holds {digits.mass(p.grams)} "
                    f"{p.name})")  # fmt: skip
        return f"{digits.mass(p.grams)} of what step {p.from_step} gave"
    if p.volume_mL is not None:
        text = f"{digits.volume(p.volume_mL)} {p.name}"
    elif p.reads_g is not None:
        text = f"{digits.readable(p.grams, p.reads_g)} {p.name}"
    else:
        text = f"{digits.mass(p.grams)} {p.name}"
    return text + (" to make up what the others bring" if p.to_make_up else "")


def staying(a: Attendance) -> str:
    """Whether one may go away while it waits, and why not."""
    if a.stay:
        return f"stay with it ({a.why.rstrip('.')})"
    if a.calms:
        off = " and the heat is off" if a.heat_off else ""
        return f"stay with it until all is in and it has calmed down{off}, then it may be left"
    return "it may be left once the heat is off" if a.heat_off else "it may be left"


def minding(w: StepWork) -> list[str]:
    """What is to be minded of the tools used, one sentence a tool and thing."""
    return gear_words(w.plan.safety.gear)


def gear_words(gear: Sequence[Gear]) -> list[str]:
    """What is to be minded of tools, in sentences; what was said of one is not said again."""
    return list(dict.fromkeys(f"{g.tool}: {g.words.rstrip('.')}." for g in gear))


def doing(w: StepWork) -> list[str]:
    """What is done with one batch, in order."""
    out = []
    record = w.plan.amount.step.record
    vessel = f" in the {w.vessel}" if w.vessel else ""
    if w.charge:
        out += _putting_in(w)
    out += [
        f"Lead in {portion(p)}, under the surface, as fast as it is taken up." for p in w.led_in
    ]
    low, high = record.temperature.low_C, record.temperature.high_C
    window = digits.window(low, high)
    cold = low if w.plan.crops is None else w.plan.crops.cold_C
    out.append(f"Work at {window}{vessel if not w.charge else ''}{stages(w.plan.amount.step)}.")
    if not w.charge:
        out += [f"Mind: {note}." for note in heat_words.notes(w.plan.heat)]
    if w.plan.heat.heater is not None and w.plan.heat.heating_min and not _hot_before(w):
        out.append(_heating(w, heat_words.heater_name(w.plan.heat.heater), w.plan.heat.heating_min))
    gently = heat_words.gently(w.plan.amount.step)
    how = f"evaporate, {gently}," if gently else "boil down"
    if w.spare_mL:
        out.append(f"The solution brings {digits.volume(w.spare_mL)} more water than the crystals "
                   "want: evaporate it first, gently.")  # fmt: skip
    for i, crop in enumerate(w.crops, start=1):
        which = f"Crop {i}: " if len(w.crops) > 1 else ""
        then = "filter hot" if crop.hot else f"cool to {digits.temperature(cold)}"
        if crop.boils:
            out.append(
                f"{which}{how} until {digits.volume(crop.leave_mL)} of water are left, {then}, "
                f"collect about {digits.mass(crop.crystals_g)}."
            )
        else:
            out.append(f"{which}{then}; about {digits.mass(crop.crystals_g)} crystallise.")
    crystals_g, counted = sum(c.crystals_g for c in w.crops), w.checkpoint.expected_g
    if counted is not None and crystals_g > 1.03 * counted:
        out.append(f"(So much by the solubility tables; the record counts on "
                   f"{digits.mass(counted)} in the jar.)")  # fmt: skip
    if not w.crops and w.boil_off_mL and not w.plan.heat.boil_off.at_most:
        off = f"Evaporate, {gently}," if gently else "Boil off"
        out.append(f"{off} {digits.volume(w.boil_off_mL)} of water.")
    waiting = w.plan.heat.times.waiting_min
    if fired := heat_words.firing(w.plan.heat):
        out.append(f"{fired[0].upper()}{fired[1:]}; {staying(w.plan.stays)}.")
    elif waiting:
        out.append(
            f"Let it stand {digits.duration(waiting)} in all, heating and cooling "
            f"included; {staying(w.plan.stays)}."
        )
    out += [f"Watch: {text}" for text in record.watch]
    out += [f"It is done when: {text}" for text in record.done_when]
    for p in w.after:
        if p.liquid and any(c.burns for c in w.charge):
            out.append(f"When it is done, measure {portion(p)} into a second vessel and pour what "
                       "is in the first slowly into it, never the other way round.")  # fmt: skip
        else:
            out.append(f"When it is done, add {portion(p)}.")
    if w.filters and not _parted_before(w):
        out.append("Filter.")
    out += _washing(w)
    if w.agents:
        what = listed([portion(p) for p in w.agents])
        out.append(f"Let the product stand over {what} until it is clear, and pour it off.")
    if w.checkpoint.expected_g is not None and (text := _drying(w)):
        out.append(text)
    return out


def _putting_in(w: StepWork) -> list[str]:
    """Everything in its order, and what the stages do between one charge and the next."""
    first, *rest = w.charge
    record = w.plan.amount.step.record
    verb = "Measure" if first.liquid and first.from_step is None else "Put"
    thinned = any(p.to_dissolve or (p.stage and p.liquid and p.burns) for p in rest)
    keep = thinned and first.water
    back = ", half of it; the other half waits for what goes in later" if keep else ""
    out = [f"{verb} {portion(first)}{' into ' + w.vessel if w.vessel else ''}{back}."]
    # before anything goes in
    notes = [s.note for s in record.stages[:1] if s.kind == "charge" and s.note]
    out += [f"Mind: {note}." for note in (*heat_words.notes(w.plan.heat), *notes)]
    burning = bool(first.burns)
    place = first.stage
    for i, p in enumerate(rest):
        last = i == len(rest) - 1
        text = _adding(w, p, burning, w.in_portions and last, keep)
        if p.stage != place:
            out += _between(w, place, p.stage)
            place = p.stage
            if note := record.stages[place].note:
                alone = sum(q.stage == place for q in rest) == 1
                text = f"{text.rstrip('.')} ({note})." if alone else text
                out += [] if alone else [f"Mind: {note}."]
        out.append(text)
        burning = burning or bool(p.burns)
    return out


def _adding(w: StepWork, p: BenchPortion, burning: bool, slowly: bool, keep: bool) -> str:
    """How one thing goes in; ``burning``: onto an acid or a lye that burns."""
    each = "each when the foam has fallen" if w.foams else "letting it cool between"
    portions = f", in portions, {each}" if slowly else ""
    if p.to_dissolve:
        where = "the water kept back" if keep else "as little water as takes it up"
        also = ", in small lots: it heats" if p.burns else ""
        return (
            f"Dissolve {portion(p)} in {where}{also}, and pour it slowly into the rest{portions}."
        )
    if p.stage and p.liquid and p.burns and keep:
        return (
            f"Pour {portion(p)} slowly into the water kept back, never the other way round, and "
            f"that slowly into the rest with stirring{portions}."
        )
    if p.little_by_little:
        return (
            f"Add {portion(p)} little by little with stirring, the next only when the last has "
            "calmed down; wait when it warms."
        )
    if p.liquid and burning and not p.burns:
        return f"Pour {portion(p)} slowly into it with stirring{portions}."
    if p.burns and p.liquid:
        return (
            f"Pour {portion(p)} slowly into it with stirring, never the other way round{portions}."
        )
    if p.burns:
        return f"Add {portion(p)} in small lots with stirring: it heats{portions}."
    if p.stage and p.liquid:
        return f"Pour {portion(p)} slowly into it with stirring{portions}."
    return f"Add {portion(p)}{portions}."


def _between(w: StepWork, place: int, then: int) -> list[str]:
    """What is done after one charge and before the next, and how the next goes in."""
    out = []
    for stage in w.plan.amount.step.record.stages[place + 1 : then]:
        text = one_stage(stage, w.plan.amount.step)
        if stage.kind == "heat" and w.plan.heat.heater is not None and w.plan.heat.heating_min:
            name = heat_words.heater_name(w.plan.heat.heater)
            warm = _heating(w, name, w.plan.heat.heating_min, now=True)
            out.append(f"{text[0].upper()}{text[1:]}: {warm[0].lower()}{warm[1:]}")
        elif stage.kind != "charge":
            out.append(f"{text[0].upper()}{text[1:]}.")
    return out


def _heating(w: StepWork, heater: str, minutes: float, now: bool = False) -> str:
    """How long a heater heats; what heats itself past its window is only started by it."""
    heat = w.plan.heat
    low = w.plan.amount.step.record.temperature.low_C
    reaches = heat.warming.reaches_C
    itself = reaches is not None and reaches >= low
    if itself and w.in_portions and not heat.boil_off_g:
        return (f"It warms itself: if it does not start, warm it a little with {heater}, and take "
                "the heat away as soon as it does; a cold bath at hand.")  # fmt: skip
    long = digits.duration(minutes) if minutes >= 1 else "a minute"
    when = ", when its stage comes" if w.plan.amount.step.record.stages and not now else ""
    return f"Heat with {heater}{when}: about {long}."


def _last_charge(record: Step) -> int:
    return max((i for i, s in enumerate(record.stages) if s.kind == "charge"), default=0)


def _hot_before(w: StepWork) -> bool:
    """Whether it was heated between two charges."""
    stages_ = w.plan.amount.step.record.stages
    last = max((p.stage for p in w.charge), default=0)
    return any(s.kind == "heat" for s in stages_[:last])


def _parted_before(w: StepWork) -> bool:
    """Whether its only filter comes before something else goes in."""
    stages_ = w.plan.amount.step.record.stages
    last = max((p.stage for p in w.charge), default=0)
    filters = [i for i, s in enumerate(stages_) if s.kind == "filter"]
    return bool(filters) and filters[-1] < last


def one_stage(stage: Stage, step: ResolvedStep) -> str:
    """A stage in words, with its figures."""
    words, low, high = STAGES[stage.kind][0], stage.at_C, stage.to_C
    if stage.kind == "lift out":
        return f"take out {stage.note or listed(stage.what)}"
    if stage.kind == "boil down" and (gently := heat_words.gently(step)):
        words, low, high = f"evaporate {gently}", None, None
    if stage.kind == "heat":
        words = "bring" if high is not None else "heat"
    if low is not None and high is not None and low != high:
        words += f" at {digits.window(low, high)}"
    elif (only := low if low is not None else high) is not None:
        at = "to" if low is None and stage.kind in {"heat", "cool"} else "at"
        words += f" {at} {digits.temperature(only)}"
    more = [digits.duration(stage.for_min)] if stage.for_min else []
    more += [f"{stage.times} times"] if stage.times > 1 else []
    more += [stage.until] if stage.until else []
    more += [stage.note] if stage.note and "this record" not in stage.note else []
    return words + (f" ({', '.join(more)})" if more else "")


def stages(step: ResolvedStep) -> str:
    """The stages after the last charge, in order: a window by itself does not say what is hot."""
    after = step.record.stages[_last_charge(step.record) :]
    said = [one_stage(s, step) for s in after if s.kind != "charge"]
    return f", stage by stage: {'; '.join(said)}" if len(said) > 1 else ""


def _washing(w: StepWork) -> list[str]:
    """The washes; an acid, a lye or a solid goes into part of the water for it, never on neat."""
    waters = [p for p in w.washes if p.liquid and not p.burns]
    neat = [p for p in w.washes if p.burns or not p.liquid]
    brine = sum(p.grams for p in neat) > 0.35 * sum(p.grams for p in waters)  # salts soap out
    into_water = len(waters) == 1 and bool(neat) and (w.drying.way == "liquid" or not brine)
    vent = ": it fizzes; swirl it open until that ends, then vent often, or it bursts what is shut"
    often = f", in {w.portions} portions" if w.portions > 1 else ""
    out = []
    for p in neat if into_water else w.washes:
        how = "poured slowly into" if p.liquid else "dissolved in"
        into = f", {how} part of {portion(waters[0])}" if into_water else ""
        share = often if p.liquid and not into_water and not p.burns else ""
        out.append(f"Wash with {portion(p)}{into}{share}{vent if p.fizzes else ''}.")
    if into_water:
        out.append(f"Wash with what is left of the {portion(waters[0])}{often}.")
    return out


def _drying(w: StepWork) -> str:
    """How the product is dried; "" where the step itself has done it or where nothing is known."""
    if w.drying.way in {"unknown", "solution", "fire again"}:
        return ""
    if w.drying.way == "liquid" and (w.agents or not w.drying.agent):
        return ""
    if w.drying.fired and not (w.filters or w.washes):
        return ""
    text = drying_words.to_constant_weight(w.drying, "the product")
    return f"{text[0].upper()}{text[1:]}."


def checkpoint(w: StepWork) -> list[str]:
    """What must weigh what, for one batch."""
    c = w.checkpoint
    out = []
    if c.expected_g is not None and c.low_g is not None and c.high_g is not None:

        def shown(grams: float) -> str:
            return digits.readable(grams, c.reads_g) if c.reads_g else digits.mass(grams)

        wet = w.drying.way == "keep wet"
        dry = "" if wet or w.drying.way == "liquid" else "dry, "
        what = "The dry product" if dry else "The product"
        if wet:
            what = "Counted dry, the product"
        text = (
            f"{what} weighs about {shown(c.expected_g)}, between {shown(c.low_g)} and "
            f"{shown(c.high_g)}"
        )
        if wet:
            text += f"; it is kept wet and weighs more ({drying_words.advice(w.drying)})"
        elif c.ceiling_g is not None:
            text += (
                f"; more than {shown(c.ceiling_g)} cannot be the {dry}pure product: "
                f"{drying_words.again(w.drying)}"
            )
        if c.lies_g is not None:
            text += (
                f"; that is the product by itself: with what goes along {shown(c.lies_g)} lie there"
            )
        out.append(text + ".")
    if c.gas_g >= 0.05:
        text = (
            f"Gas leaves with {digits.mass(c.gas_g)}; the vessel then holds about "
            f"{digits.mass(c.contents_g)} beside its own weight"
        )
        if c.tells is False:
            text += "; this bench's balance cannot tell by that whether it is done"
        out.append(text + ".")
    elif c.expected_g is None:
        out.append(f"The vessel holds about {digits.mass(c.contents_g)} beside its own weight, "
                   "before anything is filtered or boiled off.")  # fmt: skip
    return out


def left_over(w: StepWork) -> list[str]:
    """What all batches of the step leave over, and where it usually goes; local rules decide."""
    out = [f"Keep: {digits.mass(grams)} {name}; nothing here uses it." for name, grams in w.kept]
    for h in w.leavings:
        what = things_left(h)
        never = "".join(f" Never add {n.agent}: {n.words}." for n in h.never)
        where = h.where[0].upper() + h.where[1:]
        out.append(f"{where}: {what} ({h.kind}): {h.how}.{never}")
    return out


def resting(w: StepWork) -> str:
    """Whether work may rest here, and how the product is kept."""
    k = w.keeping
    name = k.name[0].upper() + k.name[1:]
    if k.keeps_min is None:
        said = f" ({k.words})" if k.words else ""
        if w.last:
            return f"{name}: how long it keeps is not known{said}."
        return f"Do not rest here without need: how long {k.name} keeps is not known{said}."
    how = f" ({k.words})" if k.words else ""
    if w.last:
        long = "for ever" if math.isinf(k.keeps_min) else f"{digits.span(k.keeps_min)} at least"
        return f"{name} keeps {long}{how}."
    if math.isinf(k.keeps_min):
        return f"Work may rest here: {k.name} keeps for ever{how}."
    if k.keeps_min < 60:
        return f"Go on at once: {k.name} does not keep{how}."
    return f"Work may rest here: {k.name} keeps {digits.span(k.keeps_min)} at least{how}."
