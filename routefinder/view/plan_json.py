"""A plan as plain data; the schema is view/plan.schema.json. Units stand in the names."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from routefinder.assessment import shopping
from routefinder.assessment.crystals import CrystalsOfStep
from routefinder.assessment.ending import end_state
from routefinder.assessment.heat import HeatOfStep
from routefinder.assessment.reasoning import Reason
from routefinder.assessment.room_air import Air
from routefinder.assessment.surprises import surprises
from routefinder.disclaimer import DISCLAIMER
from routefinder.library import fumes
from routefinder.vessel.water import liquor
from routefinder.view import air_words, danger_words, explain, heat_words, time_words
from routefinder.view.as_json import ends
from routefinder.view.as_json import step as step_data
from routefinder.view.doubt_words import doubts
from routefinder.view.surprise_words import instead, surprise_data
from routefinder.worksheet.plan import Plan, StepPlan

SCHEMA = "routefinder/plan/1"


def plan(found: Plan) -> dict[str, Any]:
    """A whole plan, with the arithmetic behind each figure under ``reasons``."""
    target = found.library.substances[found.amounts.target]
    q = found.question
    data = {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "target": {
            "id": target.id,
            "name": target.name,
            "formula": target.formula,
            "asked_g": found.asked_g,
            "planned_g": found.planned_g,
        },
        "route": {"number": found.number, "name": found.name},
        "ends": ends(end_state(found.library, found.amounts)),
        "expect": surprise_data(found.library, surprises(found.library, found.amounts)),
        "shelf": q.shelf.name,
        "bench": q.bench.name if q.bench else None,
        "terms": _terms(found),
        "how_sure": _sure(found),
        "shopping": _shopping(found),
        "most": _most(found),
        "equipment": [
            {"need": n.capability.in_words(), "steps": list(n.steps), "tool": n.tool}
            for n in found.needed
        ],
        "steps": [_step(s, found) for s in found.steps],
        "time": _time(found),
        "keeping": [
            {
                "made_by": w.maker, "taken_by": w.taker, "substance": w.keeping.substance,
                "waits_min": w.waits_min, "keeps_min": w.keeping.keeps_min,
                "verdict": w.verdict, "change": w.change, "sentence": w.sentence,
            }
            for w in found.keeps.waits
        ],
        "money": _money(found),
        "waste": {
            "e_factor": found.left.e_factor,
            "e_factor_without_water": found.left.e_factor_without_water,
            "water_g": found.left.water_g,
            "mass_intensity": found.used.intensity,
            "mass_intensity_without_water": found.used.intensity_without_water,
            "atom_economy": found.used.atom_economy,
            "reaction_mass_efficiency": found.used.reaction_mass_efficiency,
            "leavings": [asdict(x) for x in found.left.leavings],
            "handling": [
                {
                    "kind": h.kind,
                    "where": h.where,
                    "steps": list(h.steps),
                    "what": [
                        {"name": w.name, "state": w.state, "mass_g": w.mass_g or None}
                        for w in h.what
                    ],
                    "how": h.how,
                    "never": [{"agent": n.agent, "words": n.words} for n in h.never],
                }
                for h in found.handling.kinds
            ],
            "traps": [asdict(t) for t in found.handling.traps],
            "never_together": list(found.handling.never_together),
        },
        "doubts": list(doubts(found)),
        "reasons": reasons(explain.reasons(found))["reasons"],
    }  # fmt: skip
    return _finite(data)  # type: ignore[no-any-return]


def reasons(found: Iterable[Reason]) -> dict[str, Any]:
    """Some reasons: by figure, a title and lines of arithmetic."""
    return {
        "disclaimer": DISCLAIMER,
        "reasons": {r.figure: {"title": r.title, "lines": list(r.lines)} for r in found},
    }


def _finite(data: Any) -> Any:
    """The same with None for what JSON cannot say: "for ever" and "without limit"."""
    if isinstance(data, dict):
        return {k: _finite(v) for k, v in data.items()}
    if isinstance(data, list | tuple):
        return [_finite(v) for v in data]
    if isinstance(data, float) and not math.isfinite(data):
        return None
    return data


def _terms(found: Plan) -> dict[str, Any]:
    t = found.terms
    return {
        "confidence": t.confidence,
        "start": t.calendar.start.date().isoformat() if t.calendar else None,
        "hours": t.calendar.text if t.calendar else None,
        "room_m3": t.room.volume_m3 if t.room else None,
        "air_changes_h": t.room.air_changes_h if t.room else None,
        "heater_W": t.heater_W,
        "efficiency": t.efficiency,
        "price_per_kWh": t.price_per_kWh,
        "hourly": t.hourly,
        "fill": dict(t.fill),
        "with": [{"step": step, "tool": tool} for step, tool in t.tools],
        "assumed": list(t.assumed),
    }


def _sure(found: Plan) -> dict[str, Any]:
    sure = found.sure
    return {
        "draws": sure.draws,
        "seed": sure.seed,
        "scale": found.start.scale,
        "chance_of_this_plan": found.start.chance,
        "starts": [
            {
                "material": s.supply.id,
                "limits": s.limits,
                "overall_yield": asdict(s.overall),
                "typical_start_g": s.start_g,
                "output_g": asdict(s.output_g),
                "chance": s.chance,
                "enough_g": [{"confidence": c, "start_g": g} for c, g in s.enough_g],
            }
            for s in sure.starts
        ],
        "asked_start_g": [{"material": m, "start_g": g} for m, g in found.start.enough_g],
        "variance_shares": [asdict(s) for s in sure.shares],
        "unexplained": sure.unexplained,
        "gains": [asdict(g) for g in sure.gains],
    }


def _shopping(found: Plan) -> dict[str, Any]:
    bought = found.buying
    others = instead(found.library, found.amounts)
    return {
        "currency": bought.currency,
        "consumed": bought.consumed,
        "to_pay": bought.packets,
        "no_price": list(bought.unknown),
        "others": [
            {"currency": c, "consumed": used, "to_pay": paid} for c, used, paid in bought.others
        ],
        "materials": [
            _purchase(p) | {"instead": list(others.get(p.material, ()))} for p in bought.purchases
        ],
        "besides": [
            {"id": d.supply.id, "name": d.supply.name, "mass_g": d.as_weighed_g}
            for d in found.amounts.draws
            if d.supply.everywhere and d.supply.form != "gas"
        ],
    }


def _purchase(p: shopping.Purchase) -> dict[str, Any]:
    return {
        "id": p.material, "name": p.name, "need_g": p.need_g, "have_g": p.have_g,
        "short_g": p.short_g, "density_g_mL": p.density_g_mL, "consumed": p.consumed,
        "to_pay": p.packets, "stays_over_g": p.left_g, "keeps_min": p.keeps_min,
        "makes": p.makes, "currency": p.currency,
        "packs": None if p.chosen is None else [
            {"pack": pack.label, "count": n, "grams": pack.grams, "price": pack.price}
            for pack, n in p.chosen.packs
        ],
    }  # fmt: skip


def _most(found: Plan) -> dict[str, Any] | None:
    most = found.most
    if most is None:
        return None
    return {
        "most_g": most.most_g,
        "low_g": most.low_g,
        "high_g": most.high_g,
        "ceiling_g": most.ceiling_g,
        "likely_g": asdict(most.likely) if most.likely else None,
        "runs_out": most.runs_out.id,
        "left": [
            {"id": x.supply.id, "at_hand_g": x.at_hand_g, "used_g": x.used_g, "left_g": x.left_g}
            for x in most.left
        ],
        "uncounted": [s.id for s in most.uncounted],
    }


def _step(s: StepPlan, found: Plan) -> dict[str, Any]:
    times = s.heat.times
    return {
        "number": s.number,
        **step_data(s.amount),
        "time_min": {"hands_on": times.hands_on_min, "waiting": times.waiting_min},
        **_batches(s),
        "weigh_outs": [
            {
                "material": w.material,
                "exact_g": w.exact_g,
                "rounded_g": w.rounded_g,
                "readability_g": w.readability_g,
                "balance": w.balance or None,
                "effect": w.effect,
            }
            for w in s.weigh_outs
        ],
        "heat": _heat(s.heat),
        **_gases(s),
        **_water(s, found),
        "crops": None if s.crops is None else _crops(s.crops),
        **_safety(s),
    }


def _batches(s: StepPlan) -> dict[str, Any]:
    b = s.batches
    return {
        "batches": s.count,
        "vessel": (b.vessel or None) if b else None,
        "vessels": [name or None for name in b.vessels] if b else [],
        "tools": [
            {"tool": g.tool, "kind": g.kind, "words": g.words, "grave": g.grave}
            for g in s.safety.gear
        ],
        "stay": {
            "watched": s.stays.stay,
            "why": s.stays.why or None,
            "record_says": s.stays.said,
            "heat_off": s.stays.heat_off,
            "calms": s.stays.calms,
        },
        "peak_mL": b.peak_mL if b else None,
        "peak_g": b.peak_g if b else None,
        "batch_note": (b.note or None) if b else None,
        "portions": [{"what": w, "goes": n} for w, n in b.portions] if b else [],
    }


def _heat(h: HeatOfStep) -> dict[str, Any]:
    return {
        "working_C": h.working_C,
        "at_25_kJ": h.reaction.at_25_kJ,
        "enthalpy_kJ": h.reaction.enthalpy_kJ,
        "low_kJ": h.reaction.low_kJ,
        "high_kJ": h.reaction.high_kJ,
        "not_known_for": [
            *h.reaction.missing,
            *(f"{name} dissolving" for name in h.dissolving.missing),
        ],
        "rise_K": h.warming.rise_K,
        "reaches_C": h.warming.reaches_C,
        "boiled_by_itself_g": h.warming.boiled_g,
        "boil_off_g": h.boil_off_g,
        "boil_off_other_g": h.boil_off.other_g,
        "boil_off_at_most": h.boil_off.at_most,
        "needed_kJ": h.needed_kJ,
        "energy_kWh": h.energy_kWh,
        "heater": heat_words.heater_name(h.heater) if h.heater else None,
        "heating_min_a_batch": h.heating_min,
        "cooling_min": h.cooling_min,
        "furnace": h.furnace.verdict if h.furnace else None,
        "notes": list(heat_words.notes(h)),
    }


def _gases(s: StepPlan) -> dict[str, Any]:
    return {
        "gases": [
            {
                "substance": g.substance,
                "mol": g.moles,
                "room_L": g.room_L,
                "hot_L": g.hot_L,
                "over_min": g.over_min,
                "even_L_min": g.even_L_min,
                "worst_L_min": g.worst_L_min,
                "room": _air(g.air),
            }
            for g in (s.gas.gases if s.gas else ())
        ],
        "also_given_off": [
            {
                "name": a.name,
                "substance": a.substance or None,
                "traces": a.traces,
                "when": a.when or None,
                "typical_g": a.typical_g,
                "worst_g": a.worst_g,
                "worst_L": a.worst_L,
                "computed": a.worst_g is not None,
                "room": _air(a.air),
            }
            for a in (s.gas.also if s.gas else ())
        ],
        "extraction_asked": fumes.asks(s.amount.step),
        "air_taken_L": s.gas.air_taken_L if s.gas else 0.0,
    }


def _water(s: StepPlan, found: Plan) -> dict[str, Any]:
    made = liquor(found.library, s.amount)
    return {
        "water": {**asdict(s.water), "left_g": s.water.left_g},
        "strengths": [
            {
                "substance": p.substance,
                "alone": p.alone,
                "among": p.among,
                "least": p.least,
                "most": p.most,
            }
            for p in s.pots
        ],
        "solution_strength": made.strength if made else None,
        "solution_mol_per_L": made.mol_per_L if made else None,
        "solution_about": made.about if made else None,
    }


def _crops(crops: CrystalsOfStep) -> dict[str, Any]:
    return {
        "salt_g": crops.salt_g,
        "not_known": crops.why or None,
        "tables": [
            {
                "source": a.source,
                "share": a.share,
                "boil_off_g": a.boil_off_g,
                "as_charged_share": a.as_charged_share,
                "crystals_g": [c.crystals_g for c in a.crops],
            }
            for a in crops.answers
        ],
    }


def _safety(s: StepPlan) -> dict[str, Any]:
    return {
        "done_when": list(s.amount.step.record.done_when),
        "watch": list(s.safety.watch),
        "cautions": list(s.safety.cautions),
        "signal": s.safety.signal or None,
        "statements": [code for code, _ in s.safety.statements],
        "added_for_caution": [code for code, _ in s.safety.for_caution],
        "pictograms": [code for code, _ in s.safety.pictograms],
        "hazards_unknown": s.safety.unknown,
        "points": {d.aspect: d.points for d in s.safety.dangers},
        "dangers": [danger_words.data(d) for d in s.safety.dangers],
        "wear": [a.text for a in s.safety.wear],
        "never": [a.text for a in s.safety.never],
        "if_it_goes_wrong": [a.text for a in s.safety.if_wrong],
    }


def _air(air: Air | None) -> dict[str, Any] | None:
    """A gas in the room as data; without a limit, and without an end to the air it needs, None."""
    if air is None:
        return None
    left_out = {"limits", "counted_g", "case"}
    data = {k: v for k, v in asdict(air).items() if k not in left_out}
    return {**data, "why": air_words.why(air)}


def _time(found: Plan) -> dict[str, Any]:
    t = found.timed

    def clock(minutes: float) -> str | None:
        when = t.when(minutes)
        return None if when is None else when.isoformat(timespec="minutes")

    return {
        "hands_on_min": t.hands_on_min,
        "watched_min": t.watched_min,
        "elapsed_min": t.elapsed_min,
        "least_min": t.least_min,
        "exact": t.exact,
        "tasks": [
            {
                "step": x.step, "batch": x.batch, "kind": x.kind, "start_min": x.start_min,
                "end_min": x.end_min, "starts": clock(x.start_min), "ends": clock(x.end_min),
                "present": x.present, "outside_hours": x.outside, "heat_off": x.heat_off,
                "takes": list(x.resources),
            }
            for x in t.tasks
        ],
        "critical": [asdict(x) for x in t.critical],
        "problems": [f"{u.step}: {time_words.unwatched(u)}" for u in t.unwatched],
        "notes": list(time_words.notes(t)),
    }  # fmt: skip


def _money(found: Plan) -> dict[str, Any]:
    m, buy = found.spent, found.buy
    return {
        "currency": m.currency,
        "materials": m.materials,
        "energy_kWh": found.energy.known_kWh,
        "energy_not_known_for": list(found.energy.unknown),
        "energy": m.energy,
        "total": m.total,
        "per_gram": m.per_gram,
        "no_price": list(m.unknown),
        "others": [{"currency": c, "materials": money} for c, money in m.others],
        "parts": [asdict(p) for p in m.parts],
        "bought_ready": {
            "material": buy.material or None,
            "bought": buy.bought,
            "elsewhere": (
                {"money": buy.elsewhere[0], "currency": buy.elsewhere[1]} if buy.elsewhere else None
            ),
            "made": buy.made,
            "hours": buy.hours,
            "saves": buy.saves,
            "verdict": buy.verdict,
        },
    }
