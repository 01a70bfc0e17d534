"""Read a shelf (CSV or YAML) and a bench (YAML) against a library."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from routefinder import listing, tables, units
from routefinder.errors import Fault, FileFault, InputError, LibraryFaults
from routefinder.files import read_text
from routefinder.library import regulated, settings
from routefinder.library.library import Library
from routefinder.library.load import validate
from routefinder.library.purposes import named_for
from routefinder.library.read import Document, read_yaml
from routefinder.library.resolve import ResolvedMaterial
from routefinder.library.strengths import at_strength, of_substance
from routefinder.records.equipment import Equipment
from routefinder.records.material import _price
from routefinder.records.shelf import Bench, BenchItem, Purse, Shelf, Supply, Tool

COLUMNS = ("material", "amount", "strength", "price", "note")


def supply(material: ResolvedMaterial) -> Supply:
    """A material of the library as a supply of unlimited amount."""
    record = material.record
    per_g, currency = None, ""
    if record.price is not None:
        number, currency, kind = record.price
        per_g = number if kind == "mass" else number / (record.density_g_mL or 1.0)
    return Supply(
        record.id, record.name, record.form, material.fractions, next(iter(material.fractions)),
        density_g_mL=record.density_g_mL, price_per_g=0.0 if record.everywhere else per_g,
        currency=currency, everywhere=record.everywhere, low=material.low, high=material.high,
        others=material.others, fates=material.fates, hazards=record.hazards,
        fineness=record.fineness,
    )  # fmt: skip


def everywhere(library: Library) -> tuple[Supply, ...]:
    """What every bench has: tap water and air."""
    return tuple(supply(m) for m in library.materials.values() if m.record.everywhere)


def shops(library: Library, places: Sequence[str] = ()) -> Shelf:
    """Every material of the library, as if all could be bought; with ``places`` what they sell.

    Raises InputError for a place that sells nothing in the library.
    """
    sold = {place.casefold() for m in library.materials.values() for place in m.record.where}
    wanted = {place.strip().casefold() for place in places}
    for place in sorted(wanted - sold):
        raise InputError(
            f"nothing in the library is sold at {place!r}; places are: {', '.join(sorted(sold))}"
        )
    every = (
        supply(m)
        for m in library.materials.values()
        if not wanted
        or m.record.everywhere
        or any(place.casefold() in wanted for place in m.record.where)
    )
    name = f"these shops: {', '.join(sorted(wanted))}" if wanted else "every shop"
    mine = purse(library)
    sold_here = (mine.priced(replace(s, in_shop=not s.everywhere)) for s in every)
    return Shelf(tuple(sold_here), name, (), mine)


def read_shelf(path: Path, library: Library) -> Shelf:
    """Read a shelf file; raises LibraryFaults with every fault in it, Refused for a refused thing.

    CSV with the columns material, amount, strength, price, note (a heading line first), or a YAML
    list with the same fields. A name is looked up among the materials, then among the substances.
    The amounts of several lines of one material at one strength and price are added.
    """
    rows, faults = _shelf_rows(path)
    own: dict[str, None] = {}  # the currencies that the file itself writes prices in
    supplies: list[Supply] = []
    lines: list[int] = []
    notes: list[str] = []
    for line, row in rows:
        regulated.refuse(row.get("material", ""), "taken", library)
        try:
            item, note = supply_of(row, library)
        except InputError as error:
            faults.append(Fault(str(path), line, 0, str(row.get("material", "")), str(error), ""))
            continue
        if row.get("price"):
            own[item.currency] = None
        supplies.append(item)
        lines.append(line)
        if note:
            notes.append(note)
    supplies, more = _put_together(_told_apart(supplies), lines, path, faults)
    notes += more
    if faults:
        raise LibraryFaults(faults)
    if not supplies:
        raise FileFault(Fault(str(path), 0, 0, "", "the shelf is empty", "Add a material a line."))
    named = {s.id for s in supplies}
    supplies += [s for s in everywhere(library) if s.id not in named]
    found = purse(library, own)
    if any(c != found.currency and c not in found.rates for c in own):
        raise FileFault(
            Fault(str(path), 0, 0, "price", f"prices are in {' and '.join(sorted(own))}",
                  f"Use one currency, or {_rate_hint(*list(own)[1::-1])}.")
        )  # fmt: skip
    priced = [found.priced(s) for s in supplies]
    notes += [_only_elsewhere(s) for s in priced if s.elsewhere is not None]
    return Shelf(tuple(priced), str(path), tuple(notes), found)


def purse(library: Library, currencies: Iterable[str] = ()) -> Purse:
    """The purse of a shelf whose prices are written in ``currencies``, the first of them first.

    Without any, the currency of the library's own prices. Raises FileFault for the settings.
    """
    theirs = (m.record.price[1] for m in library.materials.values() if m.record.price)
    one = next(iter(currencies), None) or next(theirs, Purse().currency)
    return Purse(one, settings.rates(one))


def _rate_hint(known: str, wanted: str) -> str:
    return f'set what one is worth in the settings: [money] rates = ["1 {known} = ... {wanted}"]'


def _only_elsewhere(item: Supply) -> str:
    assert item.elsewhere is not None
    per_g, currency = item.elsewhere
    return (
        f"{item.name}: its price is known in {currency} only ({per_g * 1000:.3g} {currency}/kg) "
        f"and is not counted; write it in {item.currency}, or {_rate_hint(currency, item.currency)}"
    )


def _told_apart(supplies: list[Supply]) -> list[Supply]:
    """A material that stands there at two strengths is two: the later one has an id of its own."""
    seen: dict[str, dict[str, float]] = {}
    out = []
    for item in supplies:
        if item.id in seen and seen[item.id] != item.fractions:
            share = 100 * item.fractions[item.main]
            item = replace(item, id=f"{item.id} at {share:.6g} %", material=item.id)
        seen.setdefault(item.id, item.fractions)
        out.append(item)
    return out


def _put_together(
    supplies: list[Supply], lines: list[int], path: Path, faults: list[Fault]
) -> tuple[list[Supply], list[str]]:
    """What stands in several lines is one supply of their amounts; and a note of each.

    A fault where the lines contradict each other.
    """
    out: dict[str, Supply] = {}
    where: dict[str, list[int]] = {}
    for item, line in zip(supplies, lines, strict=True):
        first = out.get(item.id)
        where.setdefault(item.id, []).append(line)
        if first is None:
            out[item.id] = item
            continue
        what = ""
        if (first.amount_g is None) != (item.amount_g is None):
            what = "has an amount in one of them and none in the other"
        elif (first.price_per_g, first.currency) != (item.price_per_g, item.currency):
            what = "has two prices"
        elif first.amount_g is None:
            what = "has no amount in either"
        if what:
            faults.append(
                Fault(str(path), line, 0, item.name, f"it stands in line {where[item.id][0]} too, "
                      f"and {what}", "Write one line of it.")
            )  # fmt: skip
            continue
        total = (first.amount_g or 0.0) + (item.amount_g or 0.0)
        notes = "; ".join(dict.fromkeys(n for n in (first.note, item.note) if n))
        out[item.id] = replace(first, amount_g=total, note=notes)
    said = [
        f"{out[i].name}: lines {listing.listed(map(str, at))} are taken together"
        for i, at in where.items()
        if len(at) > 1
    ]
    return list(out.values()), said


def _shelf_rows(path: Path) -> tuple[list[tuple[int, dict[str, str]]], list[Fault]]:
    if path.suffix.lower() in {".yaml", ".yml"}:
        document = read_yaml(path)
        if document.faults:
            raise LibraryFaults(document.faults)
        if not isinstance(document.data, list):
            raise FileFault(document.fault((), "the shelf is not a list", "Begin lines with '- '."))
        out = []
        for i, raw in enumerate(document.data):
            row = {"material": raw} if isinstance(raw, str) else raw
            if not isinstance(row, dict):
                raise FileFault(document.fault((i,), "not a material", "Write its name."))
            for key in row:
                if key not in COLUMNS:
                    raise FileFault(
                        document.fault((i, key), f"unknown field {key!r}",
                                       f"The fields are {', '.join(COLUMNS)}.")
                    )  # fmt: skip
                if isinstance(row[key], dict | list):
                    raise FileFault(document.fault((i, key), "not a text", "Write one value."))
            out.append((document.place((i,))[0], {k: str(v or "") for k, v in row.items()}))
        return out, []
    table = tables.read(read_text(path), str(path), ("material",), COLUMNS)
    return [(row.line, row.cells) for row in table.rows], list(table.faults)


def supply_of(row: dict[str, str], library: Library) -> tuple[Supply, str]:
    """One row of a shelf as a supply, and a note for the user; raises InputError."""
    name = row.get("material", "").strip()
    if not name:
        raise InputError("the material has no name; write one in the column 'material'")
    note = ""
    if library.material_names.find(name):
        base = replace(supply(library.material(name)), name=name)
    else:
        try:
            substance = library.substance(name)
        except InputError as error:
            closest = library.material_names.closest(name, 3)
            hint = f"; materials near it: {', '.join(closest)}" if closest else ""
            raise InputError(f"{str(error).splitlines()[0]}{hint}") from None
        base = of_substance(substance)
        if not row.get("strength"):
            note = f"{name}: no strength given, taken as pure"
    if row.get("strength"):
        volume = bool(row.get("amount")) and _is_volume(row["amount"])
        base = at_strength(library, base, row["strength"], poured=volume)
    if row.get("price"):
        try:
            number, currency, kind = _price(row["price"])
        except ValueError as error:
            raise InputError(str(error)) from None
        if kind == "volume" and base.density_g_mL is None:
            raise InputError(f"the price {row['price']!r} needs a density; give it per kg")
        per_g = number if kind == "mass" else number / (base.density_g_mL or 1.0)
        base = replace(base, price_per_g=per_g, currency=currency)
    if row.get("amount"):
        amount, kind = units.read_any(row["amount"], ("mass", "volume"))
        if amount < 0:
            raise InputError(f"the amount {row['amount']!r} is negative")
        if kind == "volume":
            if base.density_g_mL is None:
                raise InputError(f"the amount {row['amount']!r} needs a density; give it in g")
            amount *= base.density_g_mL
        base = replace(base, amount_g=amount)
    return replace(base, note=row.get("note", "")), note


def _is_volume(amount: str) -> bool:
    return units.read_any(amount, ("mass", "volume"))[1] == "volume"


def read_bench(path: Path, library: Library) -> Bench:
    """Read a bench file: a YAML list of equipment names, or of entries with offers.

    Raises FileFault or LibraryFaults with the lines of what cannot be used.
    """
    document = read_yaml(path)
    faults: list[Fault] = list(document.faults)
    if not faults and not isinstance(document.data, list):
        raise FileFault(document.fault((), "the bench is not a list", "Begin lines with '- '."))
    tools: list[Tool] = []
    for i, raw in enumerate(document.data or ()):
        tool = _tool(raw, i, document, library, faults)
        if tool is not None:
            tools.append(tool)
    if faults:
        raise LibraryFaults(faults)
    if not tools:
        raise FileFault(
            document.fault((), "the bench is empty", "Add a piece of equipment a line.")
        )
    return Bench(tuple(tools), str(path))


def _tool(
    raw: Any, i: int, document: Document, library: Library, faults: list[Fault]
) -> Tool | None:
    entry = {"equipment": raw} if isinstance(raw, str) else raw
    item = validate(BenchItem, entry, document, (i,), faults)
    if item is None:
        return None
    offers = item.offers
    name = item.name
    kind: Equipment | None = None
    if item.equipment is not None:
        ids = library.equipment_names.find(item.equipment)
        if len(ids) != 1:
            fitting = [library.equipment[t.id].name for t in named_for(library, item.equipment)
                       if t.kind == "equipment"]  # fmt: skip
            near = fitting or library.equipment_names.closest(item.equipment, 4)
            all_kinds = "All kinds: routefinder look --kind equipment."
            start = "One of" if fitting else "The nearest are"
            hint = f"{start}: {'; '.join(near)}. {all_kinds}" if near else (
                f"{all_kinds} Or describe it with 'offers'.")  # fmt: skip
            what = f"no equipment is called {item.equipment!r}" if not ids else (
                f"{item.equipment!r} may be {' or '.join(ids)}")  # fmt: skip
            faults.append(document.fault((i,), what, hint))
            return None
        kind = library.equipment[ids[0]]
        own = {offer.name for offer in offers}
        offers = (*offers, *(o for o in kind.offers if o.name not in own))
        name = name or kind.name
    if not offers and kind is None:
        faults.append(
            document.fault((i,), "the entry offers nothing", "Give 'equipment:' or 'offers:'.")
        )
        return None
    cautions = (*(kind.cautions if kind else ()), *item.cautions)
    return Tool(
        name or CAPABILITY_TOOL, offers,
        item.count if item.count is not None else (kind.count if kind else 1),
        item.heats_by or (kind.heats_by if kind else ""),
        item.may_be_left if item.may_be_left is not None or kind is None else kind.may_be_left,
        item.outdoors if item.outdoors is not None else bool(kind and kind.outdoors),
        tuple(dict.fromkeys(cautions)),
        item.food if item.food is not None else bool(kind and kind.food),
    )  # fmt: skip


CAPABILITY_TOOL = "unnamed tool"
