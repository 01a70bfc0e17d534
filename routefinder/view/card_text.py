"""The card of a record for the terminal; ``view.card`` gives its data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.chem import formula as formulas
from routefinder.library.evidence import Evidence
from routefinder.view import control_words, safety_card
from routefinder.view.card import STATES
from routefinder.view.text import print_disclaimer
from routefinder.view.yield_words import rests_on

if TYPE_CHECKING:
    from rich.console import Console
SHOWN = 15  # rows of a list in the text; the data have all


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
    print_disclaimer(out)


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
    contents += [f"{digits.percent(row['stated'])} {row['what']}" for row in found["besides"]]
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
    rows += safety_card.in_short_rows(found["safety"]["label"])
    if found["hazards_as_sold"]:
        rows += [("hazards", "as sold:"), *_hazard_rows("", found["hazards_as_sold"])]
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
    if (made := found["solution"]) is not None:
        about = "about " * made["about"]
        rows.append(
            ("solution", f"{digits.significant(100 * made['strength'], 2)} %, {about}"
             f"{digits.significant(made['mol_per_L'], 2)} mol/L, from what the shops sell")
        )  # fmt: skip
    window = found["temperature"]
    text = digits.window(window["low_C"], window["high_C"])
    rows.append(("window", text + _by(window["sources"])))
    rows += _heat_rows(found["heat"], limiting["label"])
    time = found["time"]
    text = f"{digits.duration(time['hands_on_min'])} work"
    if time["waiting_min"]:
        a = time["stay"]
        if not a["watched"]:
            once = ["it has calmed down"] * a["calms"] + ["the heat is off"] * a["heat_off"]
            stay = f"may be left once {' and '.join(once)}" if once else "may be left alone"
        elif a["by_heater"]:
            stay = "stay by it, unless its heater may be left"
        else:
            stay = f"stay by it: {a['why'].rstrip('.')}"
        text += f", {digits.duration(time['waiting_min'])} waiting ({stay})"
    rows.append(("time", text + _by(time["sources"])))
    rows += _yield_rows(found["yield"])
    for label, key, words in (
        ("excess", "excess", "{} {} over the equation"),
        ("bought as", "purity", "{} of at least {}"),
        ("recovered", "recovered", "{} {}"),
        ("stays dissolved", "stays_dissolved", "{} {}"),
    ):
        lines = [words.format(x["label"], digits.percent(x["fraction"])) for x in found[key]]
        rows += _listed(label, lines)
    rows += _listed(
        "bought as",
        [f"{x['label']} as {' or '.join(x['fineness'])}" for x in found["fineness"]],
    )
    rows += _listed("strength", [_strength_words(x) for x in found["strength"]])
    rows += _bullets(
        "auxiliaries", [_aid_words(a, limiting["label"]) for a in found["auxiliaries"]]
    )
    rows += _bullets("equipment", found["equipment"])
    rows += _bullets("bench tests", [_test_words(t) for t in found["tests"]])
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
    known = rests_on(Evidence(**found["evidence"]))
    share = _range(found["low"], found["typical"], found["high"])
    lines = [f"{share}{known and f', {known}'}: {found['basis']}"]
    for part in found["parts"]:
        triangular = ", triangular" if part["reading"] == "triangular" else ""
        by = _by(part["sources"])
        if len(found["parts"]) > 1 or part["what"] or triangular or by:
            what = part["what"] or "all"
            share = _range(part["low"], part["typical"], part["high"])
            lines.append(f"{_BULLET}{what}: {share}{triangular}{by}")
    return _listed("yield", lines)


def _test_words(test: dict[str, Any]) -> str:
    end = f", {test['end_point']} end point" if "end_point" in test else ""
    said = [*test.get("wants", ()), *([test["note"]] if "note" in test else [])]
    return f"{test['method']}{end}" + (f": {' '.join(said)}" if said else "")


def _strength_words(row: dict[str, Any]) -> str:
    """The least and the greatest strength in the vessel, as far as the step says."""
    ends = []
    if row["fraction"]:
        ends.append(f"at least {digits.percent(row['fraction'])}")
    if row["at_most"] is not None:
        ends.append(f"at most {digits.percent(row['at_most'])}")
    return f"{row['label']} {' and '.join(ends)} by mass, in the vessel before it reacts"


def _aid_words(aid: dict[str, Any], limiting: str) -> str:
    amount = {
        "g/mol": f"{digits.mass(aid['amount'])} per mol {limiting}",
        "mL/mol": f"{digits.volume(aid['amount'])} per mol {limiting}",
        "g/g": f"{digits.significant(aid['amount'])} g per g {limiting}",
    }[aid["unit"]]
    text = f"{aid['name']} as {aid['role']}: {amount}"
    if aid["at_least"]:
        text += f", at least {digits.percent(aid['at_least'])}"
    if aid["after"]:
        text += ", when the reaction is over"
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
    if found["heats_by"]:
        left = "may be left while it heats" if found["may_be_left"] else "stay by it while it heats"
        rows.append(("heats by", f"{found['heats_by']}; {left}"))
    if found["outdoors"]:
        rows.append(("where", "outdoors only"))
    return rows + _bullets("cautions", found["cautions"]) + _end_rows(found)
