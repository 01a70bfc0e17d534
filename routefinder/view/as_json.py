"""Answers as plain data; the schema is view/routes.schema.json."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from routefinder.asking.fields import FIELDS
from routefinder.assessment.ending import EndState
from routefinder.assessment.measure import Measure
from routefinder.disclaimer import DISCLAIMER
from routefinder.hazards.controls import Controlled
from routefinder.hazards.score import unknown_in
from routefinder.library.evidence import of_yield
from routefinder.library.value import NAMES
from routefinder.records.question import Question, State
from routefinder.records.shelf import Bench, Shelf
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.view import danger_words, state_words, surprise_words
from routefinder.view.yield_words import as_data

if TYPE_CHECKING:
    from routefinder.results.answer import Answer, Route

SCHEMA = "routefinder/routes/1"


def _question(q: Question) -> dict[str, Any]:
    """What was asked, by the keys of ``asking.fields``; must-haves are limits too."""
    out: dict[str, Any] = {}
    limits: dict[str, Any] = {"measures": dict(q.limits.measures)}
    for field in FIELDS:
        room, _, key = field.json.rpartition(".")
        if key:
            (limits if room else out)[key] = _plain(field.kept(q), field.pairs)
    return {**out, "limits": limits}


def _plain(value: Any, pairs: bool) -> Any:
    """A shelf or bench by its name, pairs as a mapping, other tuples as lists."""
    if isinstance(value, Shelf | Bench):
        return value.name
    if isinstance(value, State):
        return str(value)
    if not isinstance(value, tuple):
        return value
    return dict(value) if pairs else list(value)


def answer(found: Answer) -> dict[str, Any]:
    """An answer: question, ending, routes, reasons."""
    q = found.question
    why = found.why_none
    return {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "target": {
            "id": found.target.id,
            "name": found.target.name,
            "formula": found.target.formula,
            "amount_g": q.amount_g,
        },
        "question": _question(q),
        "state": _state(found),
        "ending": str(found.ending),
        "gap": found.gap,
        "routes": [route(r) | ({"reuse": _reuse(r)} if q.reuse else {}) for r in found.routes],
        "set_aside": [vars(a) for a in found.aside],
        "lost_routes": [
            {"steps": list(lost.steps), "reasons": [vars(a) for a in lost.reasons]}
            for lost in found.lost
        ],
        "no_route": None
        if why is None
        else {
            "sentence": why.sentence,
            "lacking": list(why.lacking),
            "nearest": list(why.nearest),
            "near": [
                {"lacks": [asdict(x) for x in n.lacks], "steps": list(n.steps)} for n in why.near
            ],
            "set_aside": [vars(a) for a in why.aside],
        },
        "notes": list(found.notes),
    }


def _state(found: Answer) -> dict[str, Any] | None:
    """In what state the target was wanted, and whether the routes end so."""
    state = found.state
    if state is None:
        return None
    return {
        "wanted": str(state.asked),
        "said": state.said,
        "met": state.met,
        "other_solids": list(state.solids),
        "sentence": state_words.sentence(found) or None,
    }


def ends(found: EndState) -> dict[str, Any]:
    """The state in which a route leaves its target."""
    made = found.liquor
    return {
        "state": found.kind,
        "water_share": found.water_share,
        "strength": made.strength if made else None,
        "mol_per_L": made.mol_per_L if made else None,
        "solution_g": made.total_g if made else None,
    }


def _reuse(found: Route) -> dict[str, Any]:
    """What feeding by-products back saves."""
    return {
        "refused": found.reuse.refused or None,
        "saved": [
            {
                "id": s.supply.id, "plain_g": s.plain_g, "reused_g": s.reused_g, "money": s.money,
            }
            for s in found.reuse.savings
        ],
        "fed_back": [
            {
                "substance": f.substance, "mass_g": f.mass_g, "from_step": f.maker,
                "to_step": f.taker, "starting_charge_g": f.mass_g if f.back else 0.0,
            }
            for f in found.reuse.fed_back
        ],
    }  # fmt: skip


def route(found: Route) -> dict[str, Any]:
    """One route: ordered steps with amounts, yields, measures, equipment."""
    a = found.assessment
    said = {d.aspect: d.words for d in a.dangers}
    others = surprise_words.instead(found.library, a.amounts)
    return {
        "number": found.number,
        "name": found.name,
        "order_cost": found.cost,
        "proven": found.proven,
        "dominated_by": found.dominated.by if found.dominated else None,
        "variant_of": found.variant_of,
        "steps": [step(s) for s in a.amounts.steps],
        "materials": [
            {
                "id": d.supply.id,
                "name": d.supply.name,
                "mass_g": d.as_weighed_g,
                "volume_mL": d.volume_mL,
                "pure_mol": d.moles,
                "on_shelf_g": d.supply.amount_g,
                "instead": list(others.get(d.supply.id, ())),
            }
            for d in a.amounts.draws
        ],
        "overall_yield": [
            {
                "on": y.supply.id,
                "low": y.low,
                "typical": y.typical,
                "high": y.high,
                "limiting": y.limits,
            }
            for y in a.overall
        ],
        "carried_yield": None
        if a.carried is None
        else {
            "value": NAMES[a.carried.value],
            "share": a.carried.share,
            "from": [{"id": s.id, "mol": mol} for s, mol in a.carried.supplies],
        },
        "links": [
            {
                "from": x.maker,
                "to": x.taker,
                "how": x.how,
                "why": x.why or None,
                "saved_min": x.saved_min,
            }
            for x in a.links
        ],
        "expect": surprise_words.surprise_data(found.library, a.surprises),
        "ends": ends(a.ends),
        "purity": {
            "share": a.purity.share,
            "besides": [{"what": w, "share": share} for w, share in a.purity.besides],
        },
        "measures": {name: _measure(m) for name, m in a.measures().items()},
        "equipment": [
            {"need": n.capability.in_words(), "steps": list(n.steps), "tool": n.tool}
            for n in a.needed
        ],
        "hazards": {
            aspect: {
                "points": points,
                "step": step or None,
                "cause": cause,
                "words": said.get(aspect, ""),
            }
            for aspect, (points, step, cause) in a.hazards.items()
        },
        "worst_danger": danger_words.data(a.worst_danger) if a.worst_danger else None,
        "marginal": [{"step": step_id, "reason": why} for step_id, why in a.marginal],
        "controlled": [_controlled(c) for c in a.controlled],
        "hazards_unknown": list(
            dict.fromkeys(n for s in a.steps for n in unknown_in(found.library, s))
        ),
        "leavings": [asdict(x) for x in a.waste.leavings],
        "e_factor": a.waste.e_factor,
        "e_factor_without_water": a.waste.e_factor_without_water,
    }


def _controlled(c: Controlled) -> dict[str, Any]:
    return {
        "substance": c.substance,
        "material": c.material,
        "steps": list(c.steps),
        "mass_fraction": c.strength,
        "list": c.hit.list,
        "part": c.hit.part,
        "threshold": c.hit.threshold,
        "limit": c.hit.limit,
        "above_limit": c.over,
        "needs_licence": c.licence,
        "date": c.hit.date,
        "source": c.hit.source,
    }


def _measure(m: Measure) -> dict[str, Any]:
    return {
        "unit": m.unit,
        "better": m.better,
        "typical": m.typical,
        "low": m.low,
        "high": m.high,
        "at_least": m.at_least,
        "unknown": list(m.unknown),
    }


def step(s: StepAmounts) -> dict[str, Any]:
    """One step with its amounts."""
    y = s.step.record.yield_
    window = s.step.record.temperature
    return {
        "id": s.step.id,
        "title": s.step.title,
        "equation": s.step.record.equation,
        "turns_mol": s.turns,
        "yield": {
            "low": y.low,
            "typical": y.typical,
            "high": y.high,
            "basis": y.basis,
            "evidence": as_data(of_yield(y)),
        },
        "temperature_C": {"low": window.low_C, "high": window.high_C},
        "time_min": {
            "hands_on": s.times.hands_on_min,
            "waiting": s.times.waiting_min,
        },
        "takes": [
            {
                "substance": f.substance,
                "form": f.form,
                "role": f.role,
                "mol": f.moles,
                "pure_g": f.mass_g,
                "as_weighed_g": f.drawn_g if f.drawn_g > 1e-9 else f.as_weighed_g,
                "from": f.origin
                if isinstance(f.origin, str)
                else "the solution"
                if f.from_solution_g and f.drawn_g <= 1e-9
                else f.origin.id,
                "from_step": isinstance(f.origin, str),
            }
            for f in s.feeds
        ],
        "gives": [
            {
                "substance": o.substance,
                "state": o.state,
                "mol": o.moles,
                "mass_g": o.mass_g,
                "fate": o.fate,
            }
            for o in s.outcomes
        ],
        "unnamed_g": s.unnamed_g,
        "theoretical_g": s.theoretical_g,
    }
