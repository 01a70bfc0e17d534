"""One record of a library as a card: all that the library knows about it, as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from routefinder.assessment.one_step import from_shops
from routefinder.chem import formula as formulas
from routefinder.disclaimer import DISCLAIMER
from routefinder.graph import needs
from routefinder.hazards import controls, mixture
from routefinder.hazards.label import step_label
from routefinder.hazards.phrases import phrase
from routefinder.hazards.set_up import attended
from routefinder.library import evidence
from routefinder.library import shelf as shelves
from routefinder.library.heat import step_heat
from routefinder.library.library import Library
from routefinder.library.lookup import Meaning
from routefinder.library.regulated import verdict
from routefinder.library.resolve import ResolvedStep
from routefinder.records.base import Source
from routefinder.records.substance import Hazards, Storage
from routefinder.vessel.durations import usual_times
from routefinder.vessel.water import liquor
from routefinder.view import control_words, safety_card
from routefinder.view.yield_words import as_data

if TYPE_CHECKING:
    pass
SCHEMA = "routefinder/look/1"
STATES = {"s": "solid", "l": "liquid", "g": "gas", "aq": "in solution"}
BARELY = 1e-6  # a band speaks up to just below its end


def card(library: Library, meaning: Meaning) -> dict[str, Any]:
    """All that the library knows about one record, as plain data."""
    body = {
        "substance": _substance,
        "material": _material,
        "step": _step,
        "equipment": _equipment,
    }[meaning.kind](library, meaning.id)
    return {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "kind": meaning.kind,
        "id": meaning.id,
        **body,
        "also": [{"kind": kind, "id": name} for kind, name in meaning.also],
    }


def _sources(sources: Iterable[Source]) -> list[dict[str, str]]:
    return [{"mark": s.mark, "cite": s.cite} for s in sources]


def _statements(codes: Iterable[str]) -> list[dict[str, str]]:
    return [{"code": code, "wording": phrase(code)} for code in codes]


def _hazards(found: Hazards) -> dict[str, Any]:
    return {
        "unknown": found.no_data,
        "statements": _statements(found.statements),
        "added_for_caution": _statements(found.caution),
        "note": found.note,
        "sources": _sources(found.source),
    }


def _storage(found: Storage | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "how": found.how,
        "keeps": found.keeps,
        "spoils_by": list(found.spoils_by),
        "drift": (
            f"{found.drift.what}, {found.drift.per_day * 100:g} % a day"
            + (f", {found.drift.at_most * 100:g} % at most" if found.drift.at_most else "")
            if found.drift
            else ""
        ),
        "sources": _sources(found.source),
    }


def _substance(library: Library, name: str) -> dict[str, Any]:
    s = library.substances[name]
    root = library.root(name)
    family = library.families.get(root, (name,))
    return {
        "name": s.name,
        "names": list(s.names),
        "formula": s.formula,
        "label": s.label,
        "molar_mass_g_mol": s.molar_mass_g if s.formula else None,
        "cas": s.cas,
        "family": [
            {"id": i, "name": library.name(i), "label": library.substances[i].label}
            for i in family
            if len(family) > 1
        ],
        "density_g_mL": s.density_g_mL,
        "melting_C": s.melting_C,
        "boiling_C": s.boiling_C,
        "solubility": [
            {
                "anhydrous": library.substances[root].label,
                "at": [{"temperature_C": t, "g_per_100_g_water": g} for t, g in table.at],
                "sources": _sources(table.source),
            }
            for table in s.solubility
        ],
        "hazards": _hazards(s.hazards),
        "safety": safety_card.substance_safety(library, name),
        "hazards_of_solutions": [
            {
                "at_least": band.at_least,
                "below": band.below,
                **_hazards(mixture.solution_hazards(s, band.below - BARELY, library)),
            }
            for band in s.solutions
        ],
        "control_lists": control_words.rows(verdict(s, library).hits),
        "storage": _storage(s.storage),
        "made_by": _makers(library, name),
        "used_by": _users(library, [(name, False, 1.0)]),
        "materials": _materials(library, root),
        "notes": list(s.notes),
        "sources": _sources(s.sources),
    }


def _makers(library: Library, name: str) -> list[dict[str, Any]]:
    """Steps that make the substance: in this form, or its family in solution."""
    out = []
    for step in library.steps.values():
        for part in step.kept():
            family = library.root(part.substance) == library.root(name)
            if part.substance != name and not (family and part.state == "aq"):
                continue
            main = part.substance == step.main.substance
            out.append(
                {
                    "step": step.id,
                    "title": step.title,
                    "state": STATES[part.state],
                    "main_product": main,
                    "recovered": None if main else step.recovered[part.substance],
                }
            )
    return sorted(out, key=lambda row: (row["state"] == STATES["aq"], not row["main_product"]))


def _users(library: Library, offers: Sequence[needs.Offer]) -> list[dict[str, Any]]:
    """Steps that can take what is offered, as a reactant first, then in other roles."""
    out = []
    for step in library.steps.values():
        roles = [("reactant", needs.need_of(library, p, step)) for p in step.reactants]
        roles += [(a.role, needs.need_of_aid(library, a)) for a in step.aids]
        served = [r for r, need in roles if any(needs.meets(library, o, need) for o in offers)]
        if served:
            out.append({"step": step.id, "title": step.title, "roles": list(dict.fromkeys(served))})
    return sorted(out, key=lambda row: "reactant" not in row["roles"])


def _materials(library: Library, root: str) -> list[dict[str, Any]]:
    return [
        {
            "id": m.id,
            "name": m.record.name,
            "form": m.record.form,
            "substance": name,
            "label": library.substances[name].label,
            "mass_fraction": m.fractions[name],
            "low": m.low[name],
            "high": m.high[name],
        }
        for m in library.materials.values()
        for name in m.fractions
        if library.root(name) == root
    ]


def _material(library: Library, name: str) -> dict[str, Any]:
    m = library.materials[name]
    record = m.record
    contents = []
    named = [content for content in record.contains if not content.what]
    for content, substance in zip(named, m.fractions, strict=True):
        s = library.substances[substance]
        contents.append(
            {
                "substance": substance,
                "name": s.name,
                "label": s.label,
                "mass_fraction": m.fractions[substance],
                "low": m.low[substance],
                "high": m.high[substance],
                "stated": content.strength[0],
                "stated_basis": content.strength[1],
                "stated_as": content.as_formula,
                "hazards": _hazards(s.hazards),
                "controlled": [
                    {
                        "list": hit.title,
                        "threshold": hit.threshold,
                        "limit": hit.limit,
                        "above_limit": over,
                        "date": hit.date,
                    }
                    for hit, over in controls.flags(library, substance, m.fractions[substance])
                ],
            }
        )
    price = record.price
    return {
        "name": record.name,
        "names": list(record.names),
        "form": record.form,
        "fineness": record.fineness or None,
        "contains": contents,
        "besides": [
            {
                "what": content.what,
                "stated": content.strength[0],
                "stated_basis": content.strength[1],
                "fate": content.fate,
            }
            for content in record.contains
            if content.what
        ],
        "density_g_mL": record.density_g_mL,
        "price": None
        if price is None
        else {
            "number": price[0],
            "currency": price[1],
            "per": {"mass": "g", "volume": "mL"}[price[2]],
            "sources": _sources(record.price_source),
        },
        "packs": list(record.packs),
        "where": list(record.where),
        "everywhere": record.everywhere,
        "keeps_min": record.keeps_min,
        "pitfalls": list(record.pitfalls),
        "hazards_as_sold": None if record.hazards is None else _hazards(record.hazards),
        "safety": safety_card.material_safety(library, name),
        "used_by": _users(library, needs.offers_of_supply(shelves.supply(m))),
        "notes": list(record.notes),
        "sources": _sources(record.sources),
    }


def _heat(library: Library, step: ResolvedStep) -> dict[str, Any]:
    """Heat of reaction at 25 °C, below 0 when it is given off, with how its data are known."""
    found = step_heat(library, step)
    heat, moles = found.enthalpy_kJ, step.limiting.moles
    return {
        "kJ_per_equation": heat,
        "kJ_per_mol_limiting": None if heat is None or step.is_recipe else heat / moles,
        "recipe": step.is_recipe,
        "dissolved": any(p.state == "aq" for p in (*step.reactants, *step.products)),
        "mark": found.mark,
        "missing": list(found.missing),
        "sources": [
            {"mark": mark, "cite": cite}
            for mark, _, cite in (source.partition(": ") for source in found.sources)
        ],
    }


def _solution(library: Library, step: ResolvedStep) -> dict[str, Any] | None:
    """The strength of what a step makes dissolved, from what the shops sell; None of a solid."""
    made = liquor(library, from_shops(library, step, 100.0)) if step.main.state == "aq" else None
    if made is None:
        return None
    return {"strength": made.strength, "mol_per_L": made.mol_per_L, "about": made.about}


def _step(library: Library, name: str) -> dict[str, Any]:
    step = library.steps[name]
    r = step.record
    label = step_label(library, step)
    stays = attended(library, step, None)

    def shares(values: dict[str, float]) -> list[dict[str, Any]]:
        return [
            {"substance": i, "label": library.substances[i].label, "fraction": value}
            for i, value in values.items()
        ]

    present = dict.fromkeys(
        (*(p.substance for p in (*step.reactants, *step.products)),
         *(a.substance for a in step.aids))
    )  # fmt: skip
    return {
        "name": r.title,
        "names": [],
        "process": r.kind,
        "equation": r.equation,
        "recipe": r.recipe,
        "pretty": pretty_equation(library, step),
        "product": {"id": step.main.substance, **_called(library, step.main.substance)},
        "solution": _solution(library, step),
        "limiting": {"id": step.limiting.substance, **_called(library, step.limiting.substance)},
        "temperature": {
            "low_C": r.temperature.low_C,
            "high_C": r.temperature.high_C,
            "sources": _sources(r.temperature.source),
        },
        "heat": _heat(library, step),
        "time": {
            "hands_on_min": r.time.hands_on_min,
            "waiting_min": usual_times(library, step).waiting_min,
            "unattended": r.time.unattended,
            "stay": {
                "watched": stays.stay,
                "why": stays.why or None,
                "by_heater": stays.by_heater,
                "heat_off": stays.heat_off,
                "calms": stays.calms,
            },
            "sources": _sources(r.time.source),
        },
        "yield": {
            "low": r.yield_.low,
            "typical": r.yield_.typical,
            "high": r.yield_.high,
            "basis": r.yield_.basis,
            "evidence": as_data(evidence.of_yield(r.yield_)),
            "parts": [
                {
                    "what": part.what,
                    "low": part.low,
                    "typical": part.typical,
                    "high": part.high,
                    "reading": part.reading,
                    "sources": _sources(part.source),
                }
                for part in r.yield_.parts
            ],
        },
        "excess": shares(step.excess),
        "purity": shares(step.pure),
        "fineness": [
            {**row, "fineness": list(step.fineness[row["substance"]])}
            for row in shares(dict.fromkeys(step.fineness, 0.0))
        ],
        "strength": [
            {**row, "fraction": step.strength.get(row["substance"]) or None, "at_most": most}
            for row in shares(dict.fromkeys((*step.strength, *step.at_most), 0.0))
            for most in (step.at_most.get(row["substance"]),)
        ],
        "recovered": shares(step.recovered),
        "stays_dissolved": shares(step.dissolved),
        "auxiliaries": [
            {
                "substance": resolved.substance,
                "name": library.name(resolved.substance),
                "role": aid.role,
                "amount": aid.amount[0],
                "unit": {"mass": "g/mol", "volume": "mL/mol", "ratio": "g/g"}[aid.amount[1]],
                "recovered": aid.recovered,
                "after": aid.after,
                "at_least": aid.at_least,
                "sources": _sources(aid.source),
            }
            for aid, resolved in zip(r.auxiliaries, step.aids, strict=True)
        ],
        "equipment": [need.in_words() for need in r.equipment],
        "tests": [t.as_file() for t in r.tests],
        "done_when": list(r.done_when),
        "watch": list(r.watch),
        "cautions": list(r.cautions),
        "statements": _statements(label.statements),
        "added_for_caution": _statements(label.for_caution),
        "hazards_unknown": [
            library.name(i) for i in present if library.substances[i].hazards.no_data
        ],
        "safety": safety_card.step_safety(library, step),
        "storage": _storage(r.storage),
        "notes": list(r.notes),
        "sources": _sources(r.sources),
    }


def _called(library: Library, name: str) -> dict[str, str]:
    s = library.substances[name]
    return {"name": s.name, "label": s.label}


def pretty_equation(library: Library, step: ResolvedStep) -> str:
    """The equation of a step with subscripts, states and a real arrow; a recipe in grams."""
    equation = step.record.parsed

    def nice(species: str) -> str:
        found = library.substances.get(species)
        return formulas.pretty(species) if found is None else found.label

    def side(terms: Sequence[Any]) -> str:
        if step.is_recipe:
            return " + ".join(f"{float(t.coefficient):g} g {nice(t.species)}" for t in terms)
        return " + ".join(str(replace(t, species=nice(t.species))) for t in terms)

    return f"{side(equation.left)} → {side(equation.right)}"


def _equipment(library: Library, name: str) -> dict[str, Any]:
    e = library.equipment[name]
    return {
        "name": e.name,
        "names": list(e.names),
        "offers": [
            {
                "capability": offer.name,
                "words": offer.in_words(),
                "steps": [
                    s.id
                    for s in library.steps.values()
                    if any(offer.serves(need) for need in s.needs)
                ],
            }
            for offer in e.offers
        ],
        "heats_by": e.heats_by or None,
        "may_be_left": e.may_be_left,
        "outdoors": e.outdoors,
        "size": e.size,
        "cautions": list(e.cautions),
        "notes": list(e.notes),
        "sources": _sources(e.sources),
    }
