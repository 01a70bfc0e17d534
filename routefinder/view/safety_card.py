"""What is known about the safety of a step, a substance, a material or a shelf: as data, as rows.

No arithmetic and no chemistry here: all of it comes from the room ``hazards``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.assessment import exposure, leavings
from routefinder.assessment.room_air import Room
from routefinder.disclaimer import DISCLAIMER
from routefinder.hazards import cautions, danger, kinds, meets, vessels
from routefinder.hazards import label as labels
from routefinder.hazards.phrases import phrase
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Shelf
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.view import air_words, danger_words
from routefinder.view.text import print_disclaimer
from routefinder.view.words import under_never

if TYPE_CHECKING:
    from rich.console import Console

SCHEMA = "routefinder/shelf-check/1"
Rows = list[tuple[str, str]]
_BULLET = "• "


# --- data --------------------------------------------------------------------------------------


def _label(found: labels.Label) -> dict[str, Any]:
    return {
        "signal": found.signal,
        "in_short": list(danger.in_short((*found.statements, *found.for_caution))),
        "statements": [{"code": c, "wording": phrase(c)} for c in found.statements],
        "pictograms": [{"code": p, "name": labels.NAMES[p]} for p in found.pictograms],
        "omitted": [{"code": c, "why": why} for c, why in found.omitted],
        "for_caution": [{"code": c, "wording": phrase(c)} for c in found.for_caution],
        "unknown": found.unknown,
    }


def _advice(found: Iterable[cautions.Advice]) -> list[dict[str, str]]:
    return [{"text": a.text, "why": a.why, "source": a.source} for a in found]


def _meeting(library: Library, m: meets.Meeting) -> dict[str, Any]:
    return {
        "a": m.a,
        "b": m.b,
        "names": [library.name(m.a), library.name(m.b)],
        "where": m.where,
        "effects": [meets.EFFECTS[e] for e in m.effects if e in meets.EFFECTS],
        "gas": m.gas,
        "grave": m.grave,
        "words": m.words,
        "rule": m.rule,
        "source": m.source,
    }


def step_safety(library: Library, step: ResolvedStep) -> dict[str, Any]:
    """Label, points, cautions, surprises, trap, waste and vessels of a step, as plain data."""
    found = cautions.cautions(library, step)
    trap = meets.trap(library, step)
    return {
        "label": _label(found.label),
        "points": {
            a: {"points": s.points, "words": danger.words(a, s), "cause": s.cause}
            for a, s in found.profile.items()
        },
        "wear": _advice(found.wear),
        "if_it_goes_wrong": _advice(found.if_wrong),
        "never": _advice(found.never),
        "keep": _advice(found.keep),
        "lacks": _advice(found.lacks),
        "surprises": [_meeting(library, m) for m in meets.surprises(library, step)],
        "kinds_unknown": [library.name(i) for i in meets.unknown_kinds(library, step)],
        "trap": {
            "absorbents": [
                {"gas": meets.gas_name(library, g), "liquid": by} for g, by in trap.absorbents
            ],
            "outdoors": [meets.gas_name(library, g) for g in trap.outdoors],
            "sucks_back": [meets.gas_name(library, g) for g in trap.sucks_back],
            "conflicts": list(trap.conflicts),
        },
        "never_into_the_waste": [
            {"leaving": library.name(n.leaving), "agent": n.agent, "words": n.words,
             "source": n.source}
            for n in meets.never_add(library, meets.left(library, step))
        ],
        "vessels": [
            {
                "need": need.need.in_words(),
                "allowed": [_verdict(v) for v in need.allowed],
                "would_do": list(need.would_do),
            }
            for need in vessels.verdicts(library, step)
        ],
    }  # fmt: skip


def batch_safety(library: Library, amount: StepAmounts, room: Room) -> dict[str, Any]:
    """What one batch of a step puts into the air of a room, and what it leaves over."""
    found = exposure.exposure(library, amount, room)
    return {
        "product_g": amount.product.mass_g,
        "room": {"volume_m3": room.volume_m3, "changes_per_h": room.air_changes_h},
        "air": [
            {
                "substance": e.substance, "name": e.name, "kind": e.kind, "litres": e.litres,
                "hours": e.hours, "unit": e.unit, "peak": e.peak, "mean_8h": e.mean_8h,
                "times_the_limit": e.times, "of_explosion_limit": e.of_explosion,
                "limit_8h": e.limits.eight_hours if e.limits else None,
                "limit_15min": e.limits.short if e.limits else None,
                "ceiling": e.limits.ceiling if e.limits else None,
                "to_limit_g": e.to_limit_g, "handled_g": e.handled_g,
                "extraction": e.extraction, "why": air_words.exposed(e),
                "verdict": e.verdict or None, "at_worst": e.at_worst,
                "source": e.limits.source if e.limits else "",
            }
            for e in found
        ],
        "traps": [
            {"gas": t.gas, "liquid": t.liquid, "holds": t.holds}
            for t in leavings.trapped(library, [amount])
        ],
        "extraction_missing": [
            air_words.exposed(e) for e in exposure.missing_extraction(found, amount.step)
        ],
        "leavings": [
            {
                "kind": h.kind,
                "where": h.where,
                "what": [
                    {"name": w.name, "state": w.state, "mass_g": w.mass_g or None} for w in h.what
                ],
                "how": h.how, "rule": h.rule, "source": h.source,
                "never": [{"agent": n.agent, "words": n.words} for n in h.never],
            }
            for h in leavings.leavings(library, [amount])
        ],
    }  # fmt: skip


def _verdict(v: vessels.Verdict) -> dict[str, Any]:
    return {
        "material": v.material,
        "verdict": v.verdict,
        "reasons": [{"words": r.words, "source": r.source} for r in v.reasons],
    }


def substance_safety(library: Library, name: str) -> dict[str, Any]:
    """Label, kinds, gloves and what to keep apart, of a substance."""
    substance = library.substances[name]
    known = kinds.kinds(substance)
    gloves = cautions.glove(substance)
    return {
        "label": _label(labels.label(library, name)),
        "kinds": sorted(known.names),
        "kinds_unknown": known.unknown,
        "gloves": {"material": gloves[0], "source": gloves[1]} if gloves else None,
        "keep_apart": _advice(cautions.keep_apart(substance)),
    }


def material_safety(library: Library, name: str) -> dict[str, Any]:
    """The label of a material as it is sold."""
    m = library.materials[name]
    found = labels.material_label(
        library, m.record.name, m.fractions, m.record.form, m.record.hazards
    )
    return {"label": _label(found)}


def shelf_safety(library: Library, shelf: Shelf) -> dict[str, Any]:
    """What must stand apart on a shelf, and what needs care by itself."""
    return {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "shelf": shelf.name,
        "apart": [
            {"these": list(a.these), "those": list(a.those), "grave": a.grave, "words": a.words,
             "rule": a.rule, "source": a.source}
            for a in meets.apart(library, shelf.supplies)
        ],
        "alone": [{"material": n, "words": w} for n, w in meets.alone(library, shelf.supplies)],
        "labels": [
            {"material": s.name,
             **_label(labels.material_label(library, s.name, s.fractions, s.form, s.hazards))}
            for s in shelf.supplies
            if not s.everywhere
        ],
    }  # fmt: skip


# --- rows --------------------------------------------------------------------------------------


def _listed(label: str, lines: Sequence[str]) -> Rows:
    return [(label if i == 0 else "", line) for i, line in enumerate(lines)]


def label_words(found: dict[str, Any]) -> str:
    """A label in one line: signal word and pictograms by name."""
    pictures = ", ".join(p["name"] for p in found["pictograms"])
    words = found["signal"] or "no signal word"
    if pictures:
        words += f": {pictures}"
    if found["unknown"]:
        words += "; hazards partly unknown: treat as hazardous" if found["signal"] else (
            "; hazards unknown: treat as hazardous")  # fmt: skip
    return words


def in_short_rows(found: dict[str, Any]) -> Rows:
    """The statements of a label in short words, the gravest first."""
    return [("in short", "; ".join(found["in_short"]))] if found["in_short"] else []


def _advice_lines(found: Sequence[dict[str, str]]) -> list[str]:
    return [f"{_BULLET}{under_never(a['text'])} ({a['why']})" for a in found]


def _apart_lines(found: Sequence[dict[str, str]]) -> list[str]:
    """What to keep apart in one line, the reasons in brackets; storage itself has its own row."""
    said: dict[str, str] = {}
    lines = []
    for a in found:
        if not a["text"].startswith("apart from "):
            lines += [_BULLET + a["text"]] if a["text"].startswith("by itself") else []
            continue
        names, _, why = a["text"].removeprefix("apart from ").partition(": ")
        new = [n for n in names.split(", ") if n not in said]
        for n in new:
            said[n] = ""
        if new:
            short = why.split(", ")[0].split("; ")[0].split(": ")[0]
            said[new[-1]] = f" ({short})"
    if said:
        lines.insert(0, _BULLET + "apart from " + ", ".join(n + why for n, why in said.items()))
    return lines


def _surprise_lines(found: Sequence[dict[str, Any]]) -> list[str]:
    """One line a rule: the pairs that meet, then what comes of it."""
    by_rule: dict[tuple[str, str, str], list[str]] = {}
    for m in found:
        key = (m["rule"], m["where"], m["words"])
        by_rule.setdefault(key, []).append(f"{m['names'][0]} with {m['names'][1]}")
    where = {"vessel": "", "wash": "at washing, ", "trap": "in the trap, ", "waste": "in the jar, "}
    return [
        f"{_BULLET}{where.get(place, '')}{'; '.join(dict.fromkeys(pairs))}: {words}"
        for (_, place, words), pairs in by_rule.items()
    ]


def _trap_lines(trap: dict[str, Any]) -> list[str]:
    lines = []
    for row in trap["absorbents"]:
        back = row["gas"] in trap["sucks_back"]
        tail = "; funnel just above the liquid, it sucks back" if back else ""
        lines.append(f"{_BULLET}{row['gas']}: lead over {row['liquid']}{tail}")
    lines += [f"{_BULLET}{gas}: no simple trap; lead outdoors" for gas in trap["outdoors"]]
    return lines + [_BULLET + c for c in trap["conflicts"]]


def _vessel_lines(needs: Sequence[dict[str, Any]]) -> list[str]:
    lines = []
    for need in needs:
        quiet = [v["material"] for v in need["allowed"]
                 if v["verdict"] == vessels.NOTHING]  # fmt: skip
        if quiet:
            lines.append(f"{_BULLET}nothing known against {', '.join(quiet)}")
        grouped: dict[tuple[str, str], list[str]] = {}
        for v in need["allowed"]:
            if v["reasons"]:
                words = "; ".join(r["words"] for r in v["reasons"])
                grouped.setdefault((v["verdict"], words), []).append(v["material"])
        lines += [
            f"{_BULLET}{', '.join(names)} {verdict}: {words}"
            for (verdict, words), names in grouped.items()
        ]
        lasting = [v for v in need["allowed"] if v["verdict"] not in vessels.EATEN]
        if not lasting and need["would_do"]:
            lines.append(f"{_BULLET}rather {', '.join(need['would_do'][:4])}")
    return lines


def step_rows(found: dict[str, Any]) -> Rows:
    """The rows of a step's safety for a terminal."""
    rows: Rows = [("label", label_words(found["label"]))]
    points = [
        f"{s['words']} {danger_words.level(s['points'])} ({aspect}: {s['cause']})"
        for aspect, s in sorted(found["points"].items(), key=lambda row: -row[1]["points"])
        if s["points"]
    ]
    rows += _listed("dangers", points or ["none of the eight aspects has points"])
    for label, key in (
        ("wear and use", "wear"), ("if it goes wrong", "if_it_goes_wrong"), ("never", "never"),
        ("keep", "keep"), ("not in the record", "lacks"),
    ):  # fmt: skip
        lines = _advice_lines(found[key]) if key != "keep" else _apart_lines(found[key])
        rows += _listed(label, lines)
    rows += _listed("meets unasked", _surprise_lines(found["surprises"]))
    if found["kinds_unknown"]:
        rows.append(("meets unknown", ", ".join(found["kinds_unknown"]) + ": no rule knows these"))
    rows += _listed("trap", _trap_lines(found["trap"]))
    waste = dict.fromkeys(
        f"{_BULLET}no {n['agent']} onto {n['leaving']}: {n['words']}"
        for n in found["never_into_the_waste"]
    )
    rows += _listed("waste", list(waste))
    return rows + _listed("vessels", _vessel_lines(found["vessels"]))


def _air_line(e: dict[str, Any]) -> str:
    """One line of the air of the room."""
    unit = e["unit"].replace("mg/m3", "mg/m³")
    if e["kind"] == "fume":
        return str(e["why"])
    if e["kind"] != "gas":
        grams = digits.mass(e["to_limit_g"])
        line = f"{e['name']} {e['kind']}: {grams} in the air fill the room to its limit"
        return f"{line} (of {digits.mass(e['handled_g'])}); extraction" if e["extraction"] else line
    worst = "at worst " if e["at_worst"] else ""
    line = f"{e['name']}: {worst}{digits.volume(1000 * e['litres'])} over "
    line += digits.significant(e["hours"])
    line += f" h, up to {digits.significant(e['peak'])} {unit}"
    if e["times_the_limit"] is not None:
        line += f", {digits.significant(e['times_the_limit'], 2)} times its limit"
    elif e["of_explosion_limit"] is None:
        line += ", no limit known"
    if e["of_explosion_limit"] is not None:
        line += f", {digits.percent(e['of_explosion_limit'])} of what burns"
    return line + (f"; {_VERDICTS[e['verdict']]}" if e["extraction"] else "")


_VERDICTS = {
    "air it": "air the room, or extraction",
    "draw it off": "the record asks for extraction",
    "not here": "extraction or outdoors",
}


def batch_rows(found: dict[str, Any]) -> Rows:
    """The rows of one batch: the air, and the leavings."""
    room = found["room"]
    where = (
        f"room of {room['volume_m3']:g} m³, {room['changes_per_h']:g} air "
        f"change{'' if room['changes_per_h'] == 1 else 's'} an hour, "
        f"{digits.mass(found['product_g'])} in one batch:"
    )
    shown = [e for e in found["air"] if e["kind"] in {"gas", "fume"} or e["extraction"]]
    rows = _listed("in the air", [where, *(_BULLET + _air_line(e) for e in shown)])
    if not shown:
        rows.append(("", _BULLET + "no gas, and no vapour or dust near a limit that is known"))
    rows += _listed("extraction", [_BULLET + w for w in found["extraction_missing"]])
    lines = []
    for h in found["leavings"]:
        what = ", ".join(
            f"{w['name']} {digits.mass(w['mass_g'])}" if w["mass_g"] else w["name"]
            for w in h["what"]
        )
        never = dict.fromkeys(f"; no {n['agent']}: {n['words']}" for n in h["never"])
        lines.append(f"{_BULLET}{h['where']}, {h['kind']} ({what}): {h['how']}{''.join(never)}")
    lines += [
        f"{_BULLET}in the trap for {t['gas']} ({t['liquid']}): {t['holds']}" for t in found["traps"]
    ]
    if lines:
        lines.append("local rules decide")
    return rows + _listed("left over", lines)


def substance_rows(found: dict[str, Any]) -> Rows:
    """The rows of a substance's safety for a terminal."""
    rows: Rows = [("label", label_words(found["label"]))]
    rows += in_short_rows(found["label"])
    if found["gloves"]:
        rows.append(("gloves", f"{found['gloves']['material']} rubber"))
    return rows + _listed("keep", _apart_lines(found["keep_apart"]))


def print_shelf(found: dict[str, Any], out: Console) -> None:
    """What must stand apart, for a terminal."""
    from rich.table import Table

    out.print(f"What must stand apart on {found['shelf']}", style="bold")
    out.print()
    for title, grave in (
        ("Never side by side, nor above one another", True),
        ("Apart, or each in its own tray", False),
    ):
        rows = [a for a in found["apart"] if a["grave"] is grave]
        if not rows:
            continue
        out.print(title, style="bold")
        grid = Table.grid(padding=(0, 2))
        grid.add_column(overflow="fold")
        grid.add_column(overflow="fold")
        grid.add_column(overflow="fold")
        for a in rows:
            grid.add_row(", ".join(a["these"]), "and " + ", ".join(a["those"]), a["words"])
        out.print(grid)
        out.print()
    if not found["apart"]:
        out.print("No rule sets any two of these materials apart; that is no proof of safety.")
        out.print()
    if found["alone"]:
        out.print("By themselves", style="bold")
        grid = Table.grid(padding=(0, 2))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        for a in found["alone"]:
            grid.add_row(a["material"], a["words"])
        out.print(grid)
        out.print()
    print_disclaimer(out)
