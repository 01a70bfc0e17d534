"""How many equal batches each step takes on a bench: vessels, crucibles, furnace, stirrer.

**Wet steps.** Volumes of liquids from their densities (water 1.00 g/mL, a solution of unknown
density likewise), taken as additive; dissolved or suspended solids count with their own volume
(density of the substance, 2 g/mL where none is known). A solution made by an earlier step comes
with all the liquid that went into it. Of a vessel only a part is used:

    0.67  boiling: a flask between one half and two thirds full (published: Organic chemistry
          laboratory, Boulder, technique page "Liquid Level in the Distillation Flask")
    0.7   mixing without gas                                                 common practice
    0.6   gas is given off                                                   common practice
    0.4   more than 20 times the liquid's volume of gas, or soap             common practice

Washes go through the filter and are counted with the filtrate, where the product is in it.
Which vessels serve a step, with the heater they would stand on, is decided in ``hazards.set_up``;
of those that last the largest is taken.

**Dry steps** (no liquid but washes, which come after the fire; or damp and heated dry). Bulk volume
= mass / bulk density, 0.6 g/mL unless told: loose powders have about 0.6
to 0.9 (common practice; the cautious end). Crucibles are filled to two thirds, and a furnace takes
charge for 0.3 of its volume, because crucibles, shelves and air take the rest (common practice).

Batches are equal. Hands are needed for every batch; waiting times run side by side in as many
vessels (and, with heat, on as many heaters) as there are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from routefinder.assessment.reasoning import Reason, number
from routefinder.hazards.set_up import SetUp, set_up
from routefinder.library.library import Library
from routefinder.records.shelf import Bench, Tool
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import Amounts, StepAmounts

BOILING, QUIET, GASSING, FOAMING = 0.67, 0.7, 0.6, 0.4
MUCH_GAS = 20.0  # litres of gas per litre of liquid
MOLAR_VOLUME_L = 24.0  # 20 degC, 1 atm
BULK_G_ML = 0.6
SOLID_G_ML = 2.0
CRUCIBLE_FILL = 2 / 3
FURNACE_FILL = 0.3


@dataclass(frozen=True)
class Filling:
    """What stands in a vessel at one moment of a step, as (what, mL), and the part to use of it."""

    when: str
    parts: tuple[tuple[str, float], ...]
    use: float

    @property
    def volume_mL(self) -> float:  # noqa: N802
        """All together, taken as additive."""
        return sum(v for _, v in self.parts)


@dataclass(frozen=True)
class BatchLimit:
    """One thing that limits a batch: how much it holds, and the batches that follow."""

    what: str
    filling: Filling
    holds_mL: float
    use: float

    @property
    def count(self) -> int:
        """Equal batches, at least one."""
        return max(1, math.ceil(self.filling.volume_mL / (self.holds_mL * self.use) - 1e-9))


@dataclass(frozen=True)
class Batches:
    """The batches of one step.

    ``vessel`` is the one that decides ("" when the bench names none whose size is known: then
    ``count`` is 1 and ``known`` False); ``vessels`` names the one for each vessel that the record
    asks for, in its order ("" where nothing on the bench does). ``at_once`` batches can wait side
    by side. ``note`` is what may spare a batch. ``portions`` are (what, how many) that one batch is
    weighed or filtered in.
    """

    step: str
    count: int
    known: bool
    vessel: str
    at_once: int
    fillings: tuple[Filling, ...]
    limits: tuple[BatchLimit, ...]
    hands_on_min: float
    waiting_min: float
    note: str = ""
    portions: tuple[tuple[str, int], ...] = ()
    vessels: tuple[str, ...] = ()

    @property
    def limit(self) -> BatchLimit | None:
        """What decides the number of batches."""
        return max(self.limits, key=lambda x: x.count, default=None)

    @property
    def peak_mL(self) -> float:  # noqa: N802
        """The greatest volume of all batches together."""
        return max((f.volume_mL for f in self.fillings), default=0.0)


@dataclass(frozen=True)
class Firings:
    """Crucibles and kiln loads for a dry charge."""

    per_crucible_g: float
    crucibles: int
    loads: int
    firings: int


def firings(
    mass_g: float,
    crucible_mL: float,
    at_once: int,
    *,
    bulk_g_mL: float = BULK_G_ML,
    cycles: int = 1,
    fill: float = CRUCIBLE_FILL,
) -> Firings:
    """How many crucibles a charge fills, and how often the kiln is fired.

    ``at_once`` crucibles go into the kiln; ``cycles`` grind-and-fire rounds each take all loads.
    """
    full = crucible_mL * fill * bulk_g_mL
    crucibles = max(1, math.ceil(mass_g / full - 1e-9))
    loads = math.ceil(crucibles / at_once)
    return Firings(full, crucibles, loads, loads * cycles)


def batches(
    library: Library,
    found: Amounts,
    bench: Bench,
    *,
    bulk_g_mL: float = BULK_G_ML,
    use: Mapping[str, float] | None = None,
) -> tuple[Batches, ...]:
    """The batches of every step of a route; ``use`` overrides the part of a vessel by step id."""
    carried: dict[str, float] = {}  # step id -> mL of the solution it makes
    out = []
    for amount in found.steps:
        wet = _fillings(library, found, amount, carried)
        setting = set_up(library, amount.step, bench)
        own = (use or {}).get(amount.step.id)
        if wet:
            if own is not None:
                wet = tuple(Filling(f.when, f.parts, own) for f in wet)
            carried[amount.step.id] = wet[-1].volume_mL
            out.append(_wet(amount, wet, bench, setting))
        else:
            out.append(_dry(library, amount, setting, bulk_g_mL, own or CRUCIBLE_FILL))
        out[-1] = replace(
            out[-1], portions=_portions(amount, out[-1].count, bench, bulk_g_mL),
            vessels=_named(setting, dry=not wet),
        )  # fmt: skip
    return tuple(out)


def _volume(library: Library, feed: Feed, found: Amounts, carried: Mapping[str, float]) -> float:
    """mL of one feed as it goes in; gases have none."""
    if isinstance(feed.origin, str):
        maker = next(s for s in found.steps if s.step.id == feed.origin)
        dissolved = feed.origin in carried and any(
            p.substance == feed.form and p.state == "aq" for p in maker.step.products
        )
        if dissolved:
            taken = sum(f.moles for s in found.steps for f in s.feeds
                        if f.origin == feed.origin and f.form == feed.form)  # fmt: skip
            return carried[feed.origin] * feed.moles / taken
        return feed.as_weighed_g / (library.substances[feed.form].density_g_mL or SOLID_G_ML)
    supply = feed.origin
    if supply.form == "gas":
        return 0.0
    own = library.substances[supply.main].density_g_mL
    if supply.form in {"solution", "liquid"}:
        pure = own if supply.form == "liquid" else None
        return feed.drawn_g / (supply.density_g_mL or pure or 1.0)
    return feed.as_weighed_g / (own or SOLID_G_ML)


def _is_liquid(feed: Feed, found: Amounts) -> bool:
    if isinstance(feed.origin, str):
        maker = next(s for s in found.steps if s.step.id == feed.origin)
        return any(p.substance == feed.form and p.state in {"aq", "l"} for p in maker.step.products)
    return feed.origin.form in {"solution", "liquid"}


def _fillings(
    library: Library, found: Amounts, amount: StepAmounts, carried: Mapping[str, float]
) -> tuple[Filling, ...]:
    """What stands in the vessel of a wet step; empty for a dry one."""
    numbers = {s.step.id: i for i, s in enumerate(found.steps, start=1)}
    mixed: dict[str, float] = {}
    washes: dict[str, float] = {}
    liquid = 0.0
    for feed in amount.feeds:
        if feed.from_solution_g and feed.drawn_g <= 1e-9:
            continue
        volume = _volume(library, feed, found, carried)
        name = (
            f"from step {numbers[feed.origin]}"
            if isinstance(feed.origin, str)
            else feed.origin.name
        )
        if feed.role == "wash":
            washes[f"{name} to wash"] = washes.get(f"{name} to wash", 0.0) + volume
            continue
        if volume:
            mixed[name] = mixed.get(name, 0.0) + volume
        if _is_liquid(feed, found):
            liquid += volume
    dry_heat = any(n.name in {"heat-dry", "open-flame"} for n in amount.step.record.equipment)
    solids = sum(mixed.values()) - liquid
    if not liquid or (dry_heat and liquid < solids):  # a moist charge is still a charge
        return ()
    gas = sum(o.moles for o in amount.outcomes if o.fate == "gas") * MOLAR_VOLUME_L
    boils = any(n.name in {"evaporate", "distil", "reflux"} for n in amount.step.record.equipment)
    use = QUIET
    if boils:
        use = BOILING
    if gas > 0:
        use = min(use, GASSING)
    if gas * 1000 > MUCH_GAS * liquid or amount.step.record.kind == "saponification":
        use = FOAMING
    fillings = [Filling("in the vessel", tuple(mixed.items()), use)]
    if washes and amount.step.main.state == "aq":
        fillings.append(Filling("filtrate and washings", (*mixed.items(), *washes.items()), QUIET))
    return tuple(fillings)


def _vessels(found: SetUp) -> list[list[tuple[Tool, float]]]:
    """For each vessel that a step needs, those of the bench that last, of known volume."""
    return [
        [(f.tool, volume) for f in place.best if (volume := f.offer.limit("volume")) is not None]
        for place in found.places
    ]


def _largest(choices: list[tuple[Tool, float]], *, dry: bool) -> tuple[Tool, float]:
    """The vessel taken: the largest; for a dry charge the kind that holds most in all."""
    return max(choices, key=lambda x: x[1] * (x[0].count if dry else 1))


def _named(found: SetUp, *, dry: bool) -> tuple[str, ...]:
    """The vessel taken for each that the record asks for; one of unknown size where none is."""
    out = []
    for place, choices in zip(found.places, _vessels(found), strict=True):
        if choices:
            out.append(_largest(choices, dry=dry)[0].name)
        else:
            out.append(place.best[0].tool.name if place.fits else "")
    return tuple(out)


def _heaters(found: SetUp) -> int | None:
    """How many of its heater there are for a heated step; None for a step without heat."""
    return (found.heater.count if found.heater else 1) if found.heaters else None


def _wet(
    amount: StepAmounts, fillings: tuple[Filling, ...], bench: Bench, setting: SetUp
) -> Batches:
    limits: list[BatchLimit] = []
    vessel, parallel, most = "", 1, 0
    for choices in _vessels(setting):
        if not choices:
            continue
        tool, volume = _largest(choices, dry=False)
        own = [BatchLimit(tool.name, f, volume, f.use) for f in fillings]
        limits += own
        if max(x.count for x in own) > most:  # the vessel named is the one that decides
            vessel, parallel, most = tool.name, tool.count, max(x.count for x in own)
    known = bool(limits)
    if any(n.name == "stir" for n in amount.step.record.equipment):
        stirred = [
            v for t in bench.tools for o in t.offers
            if o.name == "stir" and (v := o.limit("volume")) is not None
        ]  # fmt: skip
        plain = any(o.name == "stir" and o.limit("volume") is None for t in bench.tools
                    for o in t.offers)  # fmt: skip
        if stirred and not plain:
            limits.append(BatchLimit("what the stirrer moves", fillings[0], max(stirred), 1.0))
    count = max((x.count for x in limits), default=1)
    heaters = _heaters(setting)
    at_once = max(1, min(parallel, count, heaters if heaters is not None else count))
    note = ""
    decides = max(limits, key=lambda x: x.count, default=None)
    if count > 1 and decides is not None:
        boils = any(n.name == "evaporate" for n in amount.step.record.equipment)
        if boils:
            note = "one batch, if the liquor is topped up as it boils down"
        elif decides.use in (GASSING, FOAMING) and (
            decides.filling.volume_mL <= 0.85 * decides.holds_mL
        ):
            note = "one batch, if it is added in portions, each when the foam has fallen"
    return _timed(amount, count, known, vessel, at_once, fillings, tuple(limits), note)


def _dry(
    library: Library, amount: StepAmounts, setting: SetUp, bulk_g_mL: float, fill: float
) -> Batches:
    bulk: dict[str, float] = {}
    for feed in amount.feeds:
        gas = not isinstance(feed.origin, str) and feed.origin.form == "gas"
        if gas or feed.role == "wash":  # washes come when the charge is out and cold
            continue
        name = library.name(feed.form)
        bulk[name] = bulk.get(name, 0.0) + feed.as_weighed_g / bulk_g_mL
    filling = Filling(f"loose at {bulk_g_mL:g} g/mL", tuple(bulk.items()), fill)
    limits: list[BatchLimit] = []
    vessel = ""
    for choices in _vessels(setting):
        if choices:
            tool, volume = _largest(choices, dry=True)
            many = f"{tool.count} × " if tool.count > 1 else ""
            limits.append(BatchLimit(f"{many}{tool.name}", filling, volume * tool.count, fill))
            vessel = tool.name
    for need, furnace in setting.heaters:
        if need.name != "heat-dry" or furnace is None:
            continue
        rooms = [o.limit("volume") for o in furnace.offers if o.serves(need)]
        if (room := max((r for r in rooms if r is not None), default=None)) is not None:
            limits.append(BatchLimit(furnace.name, filling, room, FURNACE_FILL))
    count = max((x.count for x in limits), default=1)
    return _timed(amount, count, bool(limits), vessel, 1, (filling,), tuple(limits), "")


def _timed(
    amount: StepAmounts, count: int, known: bool, vessel: str, at_once: int,
    fillings: tuple[Filling, ...], limits: tuple[BatchLimit, ...], note: str,
) -> Batches:  # fmt: skip
    time = amount.times.shared(count)
    return Batches(
        amount.step.id, count, known, vessel, at_once, fillings, limits,
        time.hands_on_min * count, time.waiting_min * math.ceil(count / at_once), note,
    )  # fmt: skip


def _portions(
    amount: StepAmounts, count: int, bench: Bench, bulk_g_mL: float
) -> tuple[tuple[str, int], ...]:
    """What of one batch is weighed or filtered in several goes."""
    out = []
    offers = [o for t in bench.tools for o in t.offers]
    capacity = max((c for o in offers if o.name == "weigh" and (c := o.limit("capacity"))),
                   default=None)  # fmt: skip
    if capacity is not None:
        for feed in amount.feeds:
            if isinstance(feed.origin, str) or feed.origin.form not in {"solid", "metal"}:
                continue
            goes = math.ceil(feed.as_weighed_g / count / capacity - 1e-9)
            if goes > 1:
                out.append((f"weigh {feed.origin.name}", goes))
    if any(n.name in {"filter", "filter-vacuum"} for n in amount.step.record.equipment):
        cakes = [v for o in offers if o.name in {"filter", "filter-vacuum"}
                 and (v := o.limit("volume")) is not None]  # fmt: skip
        solids = {p.substance for p in amount.step.products if p.state == "s"}
        solid_g = sum(o.mass_g for o in amount.outcomes if o.substance in solids)
        if cakes and solid_g:
            goes = math.ceil(solid_g / bulk_g_mL / count / max(cakes) - 1e-9)
            if goes > 1:
                out.append(("filter", goes))
    return tuple(out)


def reasons(every: tuple[Batches, ...], found: Amounts) -> tuple[Reason, ...]:
    """The arithmetic behind the number of batches of each step."""
    titles = {s.step.id: s.step for s in found.steps}
    out = []
    for batch in every:
        step = titles[batch.step]
        lines: list[str] = []
        for filling in batch.fillings:
            if not filling.parts:
                continue
            terms = " + ".join(f"{number(v)} mL" for _, v in filling.parts)
            what = ", ".join(n for n, _ in filling.parts)
            lines.append(f"{filling.when} ({what}): {terms} = {number(filling.volume_mL)} mL")
        for x in batch.limits:
            room = x.holds_mL * x.use
            lines.append(f"usable, {x.what}: {number(x.holds_mL)} mL × {number(x.use)} = "
                         f"{number(room)} mL")  # fmt: skip
            lines.append(f"batches, {x.what}: ceil({number(x.filling.volume_mL)} mL / "
                         f"{number(room)} mL) = {x.count}")  # fmt: skip
        if not batch.known:
            lines.append("no vessel of known size on the bench: taken as one batch")
        by_hand = step.record.time.hands_on_min
        each = batch.waiting_min / math.ceil(batch.count / batch.at_once)
        lines.append(f"work: {batch.count} × {number(by_hand)} min = "
                     f"{number(batch.hands_on_min)} min")  # fmt: skip
        lines.append(
            f"waiting, {batch.at_once} at once: ceil({batch.count} / {batch.at_once}) × "
            f"{number(each)} min = {number(batch.waiting_min)} min"
        )
        if batch.note:
            lines.append(batch.note)
        out.append(Reason(f"batches:{batch.step}", f"Batches of: {step.title}", tuple(lines)))
    return tuple(out)
