"""How many equal batches each step takes on a bench: vessels, crucibles, furnace, stirrer.

**Wet steps.** What stands in the vessel, in grams and mL, is the course's (``vessel.volume``): its
fullest moment counts. Of a vessel only a part is used:

    0.67  boiling: a flask between one half and two thirds full (published: Organic chemistry
          laboratory, Boulder, technique page "Liquid Level in the Distillation Flask")
    0.7   mixing without gas                                                 common practice
    0.6   gas is given off                                                   common practice
    0.4   more than 20 times the liquid's volume of gas, or soap             common practice

Washes go through the filter and are counted with the filtrate, where the product is in it; layers
are washed in their vessel. Which vessels serve a step, with the heater they would stand on, is
decided in ``hazards.set_up``; of those that last the largest is taken.

**Dry steps** (no liquid but washes, which come after the fire; or damp and heated dry). Bulk volume
= the course's greatest mass before any wash / bulk density, 0.6 g/mL unless told: loose powders
have about 0.6 to 0.9 (common practice; the cautious end). Crucibles are filled to two thirds, and a
furnace takes charge for 0.3 of its volume, because crucibles, shelves and air take the rest (common
practice).

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
from routefinder.records.stage import SEPARATES
from routefinder.vessel import volume
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.volume import Fill

BOILING, QUIET, GASSING, FOAMING = 0.67, 0.7, 0.6, 0.4
MUCH_GAS = 20.0  # litres of gas per litre of liquid
MOLAR_VOLUME_L = 24.0  # 20 degC, 1 atm
BULK_G_ML = 0.6
CRUCIBLE_FILL = 2 / 3
FURNACE_FILL = 0.3


@dataclass(frozen=True)
class Filling:
    """What stands in a vessel at the fullest moment, all batches together, and the part of it used.

    ``put_in`` are (what, g) as weighed; ``mass_g`` and ``volume_mL`` the course's at that moment,
    which may be more (oxygen taken up) or less (gas that has left).
    """

    when: str
    put_in: tuple[tuple[str, float], ...]
    mass_g: float
    volume_mL: float
    use: float


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

    @property
    def peak_g(self) -> float:
        """What all batches together weigh in their vessels at the most, in g."""
        return max((f.mass_g for f in self.fillings), default=0.0)


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
    out = []
    numbers = {s.step.id: i for i, s in enumerate(found.steps, start=1)}
    for amount in found.steps:
        filled = volume.fills(library, amount.course)
        setting = set_up(library, amount.step, bench)
        own = (use or {}).get(amount.step.id)
        wet = _is_wet(library, amount)
        if wet:
            fillings = _fillings(amount, filled, numbers)
            if own is not None:
                fillings = tuple(replace(f, use=own) for f in fillings)
            made = _wet(amount, fillings, bench, setting)
        else:
            filling = _loose(amount, filled, numbers, bulk_g_mL, own or CRUCIBLE_FILL)
            made = _dry(amount, setting, filling)
        out.append(
            replace(
                made, portions=_portions(amount, made.count, bench, bulk_g_mL),
                vessels=_named(setting, dry=not wet),
            )
        )  # fmt: skip
    return tuple(out)


def _is_wet(library: Library, amount: StepAmounts) -> bool:
    """Whether the charge is a liquid with what is in it; a moist one in the fire is a dry one."""
    charged = amount.course.charge.contents
    liquid = volume.volume_mL(library, charged.only("l", "aq"))
    if liquid <= 0:
        return False
    names = {n.name for n in amount.step.record.equipment}
    solid = volume.volume_mL(library, charged.only("s"))
    return not names & {"heat-dry", "open-flame"} or liquid >= solid


def _put_in(
    amount: StepAmounts, numbers: Mapping[str, int], washes: bool
) -> tuple[tuple[str, float], ...]:
    """(what, g) of what goes into the vessel, by name."""
    out: dict[str, float] = {}
    for feed, stream in zip(amount.feeds, amount.course.charge.by_feed, strict=True):
        grams = float(stream.mass_g)
        if grams <= 0 or (feed.role == "wash" and not washes):
            continue
        name = feed.origin.name if not isinstance(feed.origin, str) else (
            f"from step {numbers[feed.origin]}"
        )  # fmt: skip
        name += " to wash" * (feed.role == "wash")
        out[name] = out.get(name, 0.0) + grams
    return tuple(out.items())


def _fillings(
    amount: StepAmounts, filled: tuple[Fill, ...], numbers: Mapping[str, int]
) -> tuple[Filling, ...]:
    """What stands in the vessel of a wet step, and in the jar of its filtrate."""
    in_vessel = volume.before_parting(filled)
    full = volume.fullest(in_vessel)
    charged = amount.course.charge.contents
    liquid = float(charged.liquor_g)
    gas = sum(o.moles for o in amount.outcomes if o.fate == "gas") * MOLAR_VOLUME_L
    boils = any(n.name in {"evaporate", "distil", "reflux"} for n in amount.step.record.equipment)
    use = QUIET
    if boils:
        use = BOILING
    if gas > 0:
        use = min(use, GASSING)
    if gas * 1000 > MUCH_GAS * liquid or amount.step.record.kind == "saponification":
        use = FOAMING
    fillings = [
        Filling("in the vessel", _put_in(amount, numbers, washes=False), full.mass_g,
                full.volume_mL, use)
    ]  # fmt: skip
    later = filled[len(in_vessel) :]
    if later and amount.step.main.state in {"aq", "l"}:
        most = volume.fullest(later)
        when = "filtrate and washings" if amount.step.main.state == "aq" else "at the washing"
        fillings.append(
            Filling(when, _put_in(amount, numbers, washes=True), most.mass_g, most.volume_mL, QUIET)
        )  # fmt: skip
    return tuple(fillings)


def _loose(
    amount: StepAmounts,
    filled: tuple[Fill, ...],
    numbers: Mapping[str, int],
    bulk_g_mL: float,
    fill: float,
) -> Filling:
    """The charge of a dry step, loose, at its heaviest before any wash."""
    heaviest = max(f.mass_g for f in volume.before_parting(filled))
    return Filling(
        f"loose at {bulk_g_mL:g} g/mL", _put_in(amount, numbers, washes=False), heaviest,
        heaviest / bulk_g_mL, fill,
    )  # fmt: skip


def _vessels(found: SetUp) -> list[list[tuple[Tool, float]]]:
    """For each vessel that a step needs, those of the bench that last, of known volume."""
    return [
        [(f.tool, holds) for f in place.best if (holds := f.offer.limit("volume")) is not None]
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
        tool, holds = _largest(choices, dry=False)
        own = [BatchLimit(tool.name, f, holds, f.use) for f in fillings]
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


def _dry(amount: StepAmounts, setting: SetUp, filling: Filling) -> Batches:
    limits: list[BatchLimit] = []
    vessel = ""
    for choices in _vessels(setting):
        if choices:
            tool, holds = _largest(choices, dry=True)
            many = f"{tool.count} × " if tool.count > 1 else ""
            all_mL = holds * tool.count
            limits.append(BatchLimit(f"{many}{tool.name}", filling, all_mL, filling.use))
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
        cakes_g = [float(p.contents.solids_g) for p in amount.course.points
                   if p.stage.kind in SEPARATES]  # fmt: skip
        solid_g = max(cakes_g, default=float(amount.course.product.solids_g))
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
            if not filling.put_in:
                continue
            terms = " + ".join(f"{number(g)} g" for _, g in filling.put_in)
            what = ", ".join(n for n, _ in filling.put_in)
            put_in = sum(g for _, g in filling.put_in)
            lines.append(f"put in ({what}): {terms} = {number(put_in)} g")
            if abs(put_in - filling.mass_g) > 1e-9 * put_in:
                lines.append(f"{filling.when} at the fullest, the course of the step: "
                             f"{number(filling.mass_g)} g")  # fmt: skip
            per_mL = filling.mass_g / filling.volume_mL if filling.volume_mL else 1.0
            lines.append(f"{filling.when}: {number(filling.mass_g)} g / {number(per_mL)} g/mL = "
                         f"{number(filling.volume_mL)} mL")  # fmt: skip
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
