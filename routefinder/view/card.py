"""One record of a library as a card: all that the library knows about it, as data or as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from routefinder.chem import formula as formulas
from routefinder.graph import needs
from routefinder.hazards import controls
from routefinder.hazards.label import step_label
from routefinder.hazards.phrases import phrase
from routefinder.library import shelf as shelves
from routefinder.library.heat import step_heat
from routefinder.library.library import Library
from routefinder.library.lookup import Meaning
from routefinder.library.regulated import verdict
from routefinder.library.resolve import ResolvedStep
from routefinder.records.base import Source
from routefinder.records.substance import Hazards, Storage
from routefinder.view import control_words, digits, safety_card
from routefinder.view.words import DISCLAIMER

if TYPE_CHECKING:
    from rich.console import Console

SCHEMA = "routefinder/look/1"
STATES = {"s": "solid", "l": "liquid", "g": "gas", "aq": "in solution"}
SHOWN = 15  # rows of a list in the text; the data have all


# --- data --------------------------------------------------------------------------------------


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
            {"at_least": band.at_least, "below": band.below, **_hazards(band)}
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
    for content, substance in zip(record.contains, m.fractions, strict=True):
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
        "contains": contents,
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


def _step(library: Library, name: str) -> dict[str, Any]:
    step = library.steps[name]
    r = step.record
    label = step_label(library, step)

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
        "limiting": {"id": step.limiting.substance, **_called(library, step.limiting.substance)},
        "temperature": {
            "low_C": r.temperature.low_C,
            "high_C": r.temperature.high_C,
            "sources": _sources(r.temperature.source),
        },
        "heat": _heat(library, step),
        "time": {
            "hands_on_min": r.time.hands_on_min,
            "waiting_min": r.time.waiting_min,
            "unattended": r.time.unattended,
            "sources": _sources(r.time.source),
        },
        "yield": {
            "low": r.yield_.low,
            "typical": r.yield_.typical,
            "high": r.yield_.high,
            "basis": r.yield_.basis,
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
        "strength": shares(step.strength),
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
                "at_least": aid.at_least,
                "sources": _sources(aid.source),
            }
            for aid, resolved in zip(r.auxiliaries, step.aids, strict=True)
        ],
        "equipment": [need.in_words() for need in r.equipment],
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
                    if any(offer.serves(need) for need in s.record.equipment)
                ],
            }
            for offer in e.offers
        ],
        "size": e.size,
        "cautions": list(e.cautions),
        "notes": list(e.notes),
        "sources": _sources(e.sources),
    }


# --- text --------------------------------------------------------------------------------------


def print_card(found: dict[str, Any], out: Console) -> None:
    """The card for a terminal: a heading, then a label and its text a row."""
    from rich.table import Table

    rows = {
        "substance": _substance_rows,
        "material": _material_rows,
        "step": _step_rows,
        "equipment": _equipment_rows,
    }[found["kind"]](found)
    label = found.get("label", "")
    out.print(found["name"] + (f"  {label}" if label not in ("", found["name"]) else ""),
              style="bold")  # fmt: skip
    kind = found["kind"] if found["kind"] != "equipment" else "kind of equipment"
    out.print(f"{kind} {found['id']}" + (f" ({found['process']})" if "process" in found else ""))
    out.print()
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True, style="bold")
    grid.add_column(overflow="fold")
    for name, text in rows:
        grid.add_row(name, _hanging(text))
    out.print(grid)
    for other in found["also"]:
        out.print()
        out.print(
            f"The {other['kind']} {other['id']} bears this name too: "
            f"routefinder look {other['id']} --kind {other['kind']}"
        )
    out.print()
    out.print(DISCLAIMER, style="italic")


Rows = list[tuple[str, str]]
_BULLET = "• "


def _hanging(text: str) -> Any:
    """A bulleted line goes on under its own text, not under the bullet."""
    if not text.startswith(_BULLET):
        return text
    from rich.table import Table

    line = Table.grid(padding=(0, 1))
    line.add_row(_BULLET.strip(), text.removeprefix(_BULLET))
    return line


def _listed(label: str, lines: Sequence[str], most: int | None = None) -> Rows:
    shown = list(lines if most is None else lines[:most])
    if len(lines) > len(shown):
        shown.append(f"... and {len(lines) - len(shown)} more; --json lists all")
    return [(label if i == 0 else "", line) for i, line in enumerate(shown)]


def _bullets(label: str, lines: Sequence[str], most: int | None = None) -> Rows:
    return _listed(label, [_BULLET + line for line in lines], most)


def _marked(sources: Sequence[dict[str, str]]) -> list[str]:
    return [f"[{s['mark']}] {s['cite']}".rstrip() for s in sources]


def _by(sources: Sequence[dict[str, str]]) -> str:
    """Sources in brackets behind a figure; nothing when the record's own sources cover it."""
    return f"  {'; '.join(_marked(sources))}" if sources else ""


def _range(low: float, typical: float, high: float) -> str:
    text = digits.percent(typical)
    if low != high:
        text += f" ({digits.percent(low).removesuffix(' %')} to {digits.percent(high)})"
    return text


def _shelf_life(minutes: float) -> str:
    """A long time: 10 years, 6 months, 3 weeks; shorter ones as elsewhere."""
    for unit, days, least in (("years", 365.25, 2), ("months", 30.44, 2), ("weeks", 7, 2)):
        count = round(minutes / 1440 / days)
        if count >= least:
            return f"{count} {unit}"
    return digits.duration(minutes)


def _code_lines(codes: Sequence[dict[str, str]]) -> list[str]:
    return [f"{c['code']:<7}{c['wording']}".rstrip() for c in codes]


def _hazard_rows(label: str, found: dict[str, Any]) -> Rows:
    lines = []
    if found["unknown"]:
        lines.append("unknown: no source was found. Treat it as hazardous; scores do.")
    lines += _code_lines(found["statements"])
    if not lines:
        lines.append("the source gives no statement")
    if found["added_for_caution"]:
        lines.append("added for caution, from stricter sources:")
        lines += [f"  {line}" for line in _code_lines(found["added_for_caution"])]
    if found["note"]:
        lines.append(found["note"])
    return _listed(label, lines + _marked(found["sources"]))


def _storage_rows(found: dict[str, Any] | None) -> Rows:
    if found is None:
        return []
    lines = [found["how"] + (f"; keeps {found['keeps']}" if found["keeps"] else "")]
    if found["drift"]:
        lines.append(found["drift"])
    if found["spoils_by"]:
        lines.append(f"spoils by {', '.join(found['spoils_by'])}")
    return _listed("storage", lines + _marked(found["sources"]))


def _user_rows(found: dict[str, Any]) -> Rows:
    lines = []
    for row in found["used_by"]:
        role = "" if row["roles"] == ["reactant"] else f", as {' and '.join(row['roles'])}"
        lines.append(f"{row['title']} ({row['step']}){role}")
    return _bullets("used for", lines, SHOWN) or [("used for", "no step of the library takes it")]


def _end_rows(found: dict[str, Any]) -> Rows:
    return _bullets("notes", found["notes"]) + _listed("sources", _marked(found["sources"]))


def _substance_rows(found: dict[str, Any]) -> Rows:
    rows = _listed("other names", [", ".join(found["names"])] if found["names"] else [])
    if found["formula"]:
        molar_mass = digits.significant(found["molar_mass_g_mol"], 5)
        rows.append(("molar mass", f"{molar_mass} g/mol"))
    else:
        rows.append(("formula", "none fixed; counted by mass"))
    rows.append(("CAS number", found["cas"] or "not given"))
    family = [
        f"{f['label']}  {f['name']}" + (" (this one)" if f["id"] == found["id"] else "")
        for f in found["family"]
    ]
    rows += _listed("hydrates", family)
    if found["density_g_mL"] is not None:
        rows.append(("density", f"{found['density_g_mL']:g} g/mL"))
    for label, key in (("melting", "melting_C"), ("boiling", "boiling_C")):
        if found[key] is not None:
            rows.append((label, digits.temperature(found[key])))
    for table in found["solubility"]:
        rows += _solubility_rows(table)
    rows += _hazard_rows("hazards", found["hazards"])
    rows += safety_card.substance_rows(found["safety"])
    for band in found["hazards_of_solutions"]:
        low, high = digits.percent(band["at_least"]), digits.percent(band["below"])
        rows += [("in water", f"from {low} to below {high}:"), *_hazard_rows("", band)]
    rows += _bullets("control lists", control_words.lines(found["control_lists"]))
    rows += _storage_rows(found["storage"])
    made = []
    for row in found["made_by"]:
        how = [row["state"]] if row["state"] == STATES["aq"] else []
        if not row["main_product"]:
            how.append(f"by-product, {digits.percent(row['recovered'])} recovered")
        made.append(f"{row['title']} ({row['step']})" + (f", {', '.join(how)}" if how else ""))
    rows += _bullets("made by", made, SHOWN) or [("made by", "no step of the library makes it")]
    rows += _user_rows(found)
    sold = []
    for row in found["materials"]:
        form = f" {row['label']}" if row["substance"] != found["id"] else ""
        sold.append(
            f"{row['name']} ({row['id']}, {row['form']}): "
            f"{_range(row['low'], row['mass_fraction'], row['high'])}{form}"
        )
    rows += _bullets("in materials", sold, SHOWN) or [("in materials", "none of the library")]
    return rows + _end_rows(found)


def _solubility_rows(table: dict[str, Any]) -> Rows:
    """Temperatures over grams, eight to a line."""
    lines = [f"g {table['anhydrous']} per 100 g water"]
    points = table["at"]
    for start in range(0, len(points), 8):
        part = points[start : start + 8]
        lines.append("  at °C " + "".join(f"{p['temperature_C']:>8g}" for p in part))
        lines.append("  g     " + "".join(f"{p['g_per_100_g_water']:>8g}" for p in part))
    return _listed("solubility", lines + _marked(table["sources"]))


def _material_rows(found: dict[str, Any]) -> Rows:
    rows = _listed("other names", [", ".join(found["names"])] if found["names"] else [])
    rows.append(("form", found["form"]))
    contents = []
    for row in found["contains"]:
        text = f"{_range(row['low'], row['mass_fraction'], row['high'])} {row['name']}"
        if row["label"] != row["name"]:
            text += f", {row['label']}"
        if row["stated_as"] or row["stated_basis"] != "w/w":
            stated = f"{digits.percent(row['stated'])} {row['stated_basis']}"
            if row["stated_as"]:
                stated += f" as {formulas.pretty(row['stated_as'])}"
            text += f" (stated as {stated})"
        contents.append(text)
    rows += _listed("contains (w/w)", contents)
    rows += _bullets(
        "control lists",
        [
            _control_line(row["name"], c)
            for row in found["contains"]
            for c in row["controlled"]
            if c["above_limit"] is not False
        ],
    )
    if found["density_g_mL"] is not None:
        rows.append(("density", f"{found['density_g_mL']:g} g/mL"))
    price = found["price"]
    if price is not None:
        per = {"g": "kg", "mL": "L"}[price["per"]]
        money = digits.money(price["number"] * 1000, price["currency"])
        rows.append(("price", f"{money} per {per}{_by(price['sources'])}"))
    for label in ("packs", "where"):
        if found[label]:
            rows.append((label, ", ".join(found[label])))
    if found["everywhere"]:
        rows.append(("where", "on every bench"))
    if found["keeps_min"] is not None:
        rows.append(("keeps", _shelf_life(found["keeps_min"])))
    rows += _bullets("pitfalls", found["pitfalls"])
    rows.append(("label", safety_card.label_words(found["safety"]["label"])))
    for row in found["contains"]:
        rows += [("hazards of", f"{row['name']} (pure):"), *_hazard_rows("", row["hazards"])]
    return rows + _user_rows(found) + _end_rows(found)


def _control_line(name: str, row: dict[str, Any]) -> str:
    """A controlled substance in a material."""
    limit = row["threshold"] if row["threshold"] not in {"any", "none"} else ""
    text = f"{name}: {row['list']}" + (f" ({limit})" if limit else "")
    if row["above_limit"]:
        text += f"; above the limit of {digits.percent(row['limit'])}, needs a licence there"
    return f"{text}; check your country [{row['date']}]"


def _step_rows(found: dict[str, Any]) -> Rows:
    product, limiting = found["product"], found["limiting"]
    rows = [("equation" if found["equation"] else "recipe", found["pretty"])]
    rows.append(("makes", f"{product['name']}; counted on {limiting['name']}"))
    window = found["temperature"]
    text = digits.window(window["low_C"], window["high_C"])
    rows.append(("window", text + _by(window["sources"])))
    rows += _heat_rows(found["heat"], limiting["label"])
    time = found["time"]
    text = f"{digits.duration(time['hands_on_min'])} work"
    if time["waiting_min"]:
        stay = "may be left alone" if time["unattended"] else "stay by it"
        text += f", {digits.duration(time['waiting_min'])} waiting ({stay})"
    rows.append(("time", text + _by(time["sources"])))
    rows += _yield_rows(found["yield"])
    for label, key, words in (
        ("excess", "excess", "{} {} over the equation"),
        ("strength", "strength", "{} of at least {} by mass"),
        ("recovered", "recovered", "{} {}"),
        ("stays dissolved", "stays_dissolved", "{} {}"),
    ):
        lines = [words.format(x["label"], digits.percent(x["fraction"])) for x in found[key]]
        rows += _listed(label, lines)
    rows += _bullets(
        "auxiliaries", [_aid_words(a, limiting["label"]) for a in found["auxiliaries"]]
    )
    rows += _bullets("equipment", found["equipment"])
    for label, key in (("done when", "done_when"), ("watch", "watch"), ("cautions", "cautions")):
        rows += _bullets(label, found[key])
    hazards = _code_lines(found["statements"])
    if found["added_for_caution"]:
        hazards.append("added for caution, from stricter sources:")
        hazards += [f"  {line}" for line in _code_lines(found["added_for_caution"])]
    hazards += [f"unknown for {name}: treat it as hazardous" for name in found["hazards_unknown"]]
    rows += _listed("hazards present", hazards or ["no source gives a statement"])
    rows += safety_card.step_rows(found["safety"])
    if "batch" in found:
        rows += safety_card.batch_rows(found["batch"])
    return rows + _storage_rows(found["storage"]) + _end_rows(found)


def _heat_rows(found: dict[str, Any], limiting: str) -> Rows:
    heat = found["kJ_per_mol_limiting"]
    if heat is None and found["recipe"]:
        return [("heat", "not known: a recipe by weight has no equation to compute it from")]
    if heat is None:
        return [("heat", f"not known: no formation data for {'; '.join(found['missing'])}")]
    if abs(heat) < 0.5:
        text = f"less than 0.5 kJ per mol {limiting}"
    else:
        verb = "gives off" if heat < 0 else "takes up"
        text = f"{verb} {digits.significant(abs(heat))} kJ per mol {limiting}"
    text += " at 25 °C" + (", in much water" if found["dissolved"] else "")
    worst = "" if found["mark"] == "published" else ": the worst mark of its data"
    text += f" [{found['mark']}{worst}]"
    return _listed("heat", [text, *_marked(found["sources"])])


def _yield_rows(found: dict[str, Any]) -> Rows:
    lines = [f"{_range(found['low'], found['typical'], found['high'])}, {found['basis']}"]
    for part in found["parts"]:
        triangular = ", triangular" if part["reading"] == "triangular" else ""
        by = _by(part["sources"])
        if len(found["parts"]) > 1 or part["what"] or triangular or by:
            what = part["what"] or "all"
            share = _range(part["low"], part["typical"], part["high"])
            lines.append(f"{_BULLET}{what}: {share}{triangular}{by}")
    return _listed("yield", lines)


def _aid_words(aid: dict[str, Any], limiting: str) -> str:
    amount = {
        "g/mol": f"{digits.mass(aid['amount'])} per mol {limiting}",
        "mL/mol": f"{digits.volume(aid['amount'])} per mol {limiting}",
        "g/g": f"{digits.significant(aid['amount'])} g per g {limiting}",
    }[aid["unit"]]
    text = f"{aid['name']} as {aid['role']}: {amount}"
    if aid["at_least"]:
        text += f", at least {digits.percent(aid['at_least'])}"
    if aid["recovered"]:
        text += f", {digits.percent(aid['recovered'])} recovered"
    return text + _by(aid["sources"])


def _equipment_rows(found: dict[str, Any]) -> Rows:
    rows = _listed("other names", [", ".join(found["names"])] if found["names"] else [])
    offers = []
    for offer in found["offers"]:
        count = len(offer["steps"])
        offers.append(f"{offer['words']} (serves {digits.count(count, 'step')})")
    rows += _bullets("can", offers)
    if found["size"]:
        rows.append(("size", found["size"]))
    return rows + _bullets("cautions", found["cautions"]) + _end_rows(found)
