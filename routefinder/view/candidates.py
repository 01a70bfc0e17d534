"""What a word may mean, with what each asks: data, and text for the terminal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from routefinder.disclaimer import DISCLAIMER
from routefinder.library.library import Library
from routefinder.library.lookup import KINDS
from routefinder.library.purposes import Thing, makings
from routefinder.library.resolve import Part
from routefinder.listing import listed
from routefinder.records.capability import CAPABILITIES
from routefinder.view.text import print_disclaimer

if TYPE_CHECKING:
    from rich.console import Console
_DRY = re.compile(r",? anhydrous$")


def candidates(library: Library, text: str, things: Sequence[Thing]) -> dict[str, Any]:
    """The things that a text may mean, each with what it needs."""
    rows = [_row(library, t) for t in things]
    rows.sort(key=lambda r: (KINDS.index(r["kind"]), not r.get("ways"), r["name"]))
    return {
        "schema": "routefinder/candidates/1", "disclaimer": DISCLAIMER, "asked": text,
        "candidates": rows,
    }  # fmt: skip


def all_of(library: Library, kind: str) -> dict[str, Any]:
    """Every record of a kind, a row each."""
    ids: dict[str, list[str]] = {
        "substance": list(library.substances), "material": list(library.materials),
        "equipment": list(library.equipment), "step": list(library.steps),
    }  # fmt: skip
    things = [Thing(kind, i) for i in ids[kind]]
    return candidates(library, kind, things)


def _row(library: Library, thing: Thing) -> dict[str, Any]:
    if thing.kind == "substance":
        s = library.substances[thing.id]
        made = makings(library, thing.id)
        step = made.gentlest
        return {
            "kind": "substance", "id": s.id, "name": s.name, "label": s.label,
            "colour": s.colour, "uses": list(s.uses), "ways": made.ways,
            "gentlest": None if step is None else {
                "step": step.id, "title": step.title, "to_C": step.least_C,
                "from": [_called(library, p) for p in step.reactants
                         if p.substance not in {"water", "oxygen"}],
            },
            "sold_as": [_sold(library, m) for m in made.sold],
        }  # fmt: skip
    if thing.kind == "material":
        m = library.materials[thing.id].record
        return {"kind": "material", "id": m.id, "name": m.name, "uses": list(m.uses),
                "holds": library.name(library.materials[thing.id].main),
                "where": list(m.where)}  # fmt: skip
    if thing.kind == "step":
        return {"kind": "step", "id": thing.id, "name": library.steps[thing.id].title}
    e = library.equipment[thing.id]
    return {"kind": "equipment", "id": e.id, "name": e.name, "names": list(e.names),
            "count": e.count,
            "does": [_does(o) for o in e.offers]}  # fmt: skip


def _called(library: Library, part: Part) -> str:
    """A reactant's name; dissolved, any of its forms does."""
    name = library.name(part.substance)
    return _DRY.sub("", name) if part.state == "aq" else name


def _sold(library: Library, material_id: str) -> str:
    record = library.materials[material_id].record
    where = f" ({listed(record.where)})" if record.where else ""
    return f"{record.name}{where}"


def _does(offer: Any) -> str:
    to = offer.limit("to")
    words = CAPABILITIES[offer.name][0]
    return words if to is None else f"{words} to {to:g} °C"


def print_candidates(found: dict[str, Any], out: Console) -> None:
    """A paragraph a candidate."""
    rows = found["candidates"]
    out.print(f"{found['asked']}: {len(rows)} in the library", style="bold")
    for row in rows:
        out.print()
        label = row.get("label", "")
        out.print(f"{row['name']}{'  ' + label if label not in ('', row['name']) else ''}",
                  style="bold", highlight=False)  # fmt: skip
        for line in _lines(row):
            out.print(f"  {line}", highlight=False)
    print_disclaimer(out)


def _lines(row: dict[str, Any]) -> list[str]:
    if row["kind"] == "equipment":
        also = f"also called {listed(row['names'])}" if row["names"] else ""
        many = f"a line of a bench means {row['count']} of them" if row["count"] > 1 else ""
        return [x for x in (listed(row["does"]), also, many) if x]
    if row["kind"] == "step":
        return [row["id"]]
    said = [*([row["colour"]] if row.get("colour") else []), *row["uses"]]
    out = [", ".join(said)] if said else []
    if row["kind"] == "material":
        where = f", sold at: {listed(row['where'])}" if row["where"] else ""
        return [*out, f"holds {row['holds']}{where}"]
    step = row["gentlest"]
    if step is not None:
        ways = "1 last step makes it" if row["ways"] == 1 else (
            f"{row['ways']} last steps make it; the least hot")  # fmt: skip
        takes = f" of {listed(step['from'])}" if step["from"] else ""
        out.append(f"{ways}, at {step['to_C']:g} °C{takes}: {step['step']}")
    if row["sold_as"]:
        out.append(f"sold as {listed(row['sold_as'])}")
    return out or ["nothing in the library makes or sells it"]
