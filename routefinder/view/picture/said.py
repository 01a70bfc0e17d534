"""What a picture says of a route, its steps and its streams, in words; no places."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from routefinder import digits
from routefinder.assessment import hazards as points_of
from routefinder.assessment.assess import Assessment
from routefinder.assessment.reuse import FedBack
from routefinder.hazards.danger import Danger, dangers
from routefinder.hazards.label import classes, step_label
from routefinder.library.library import Library
from routefinder.vessel.route_streams import NUMBERED_G, RouteStream, route_streams
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.stream import OTHER, WATER
from routefinder.vessel.water import Liquor, liquors
from routefinder.view.words import poured_or_weighed

WET_G = 0.5  # water that is worth a word
UNNAMED = f"{OTHER}what else is in"  # as ``vessel.charge`` calls it
MOST_LEFT = 3  # substances named of what is left over
TOOLS = {
    "heat-liquid": "heat", "heat-dry": "oven or kiln", "evaporate": "boil down",
    "fume-extraction": "fume extraction", "crystallise": "let stand", "filter": "filter",
    "protect-from-dust": "dust mask", "collect-waste": "waste jar", "stir": "stir",
    "decant": "decant",
}  # fmt: skip
UNSAID = {"weigh", "protect-from-splash", "vessel"}
_CODE = re.compile(r"\b(EUH\d+|H\d{3}\w*)$")


@dataclass(frozen=True)
class Risk:
    """The worst danger of a step: points of 4, in words, what gives it; GHS pictogram or "".

    ``stricter``: by a stricter source than the label.
    """

    points: int
    words: str
    cause: str
    pictogram: str
    stricter: bool

    @property
    def texts(self) -> tuple[str, ...]:
        """Words with cause and without, the longest first."""
        mark = "\u00a0†" if self.stricter else ""
        return tuple(f"{t}{mark}" for t in (f"{self.words}: {self.cause}", self.words) if t)


@dataclass(frozen=True)
class DrawnFlow:
    """A stream as it is said: ``dry_g`` and ``water_g`` are its widths.

    ``kind`` as of ``RouteStream``, or "back" for what is fed back. ``start`` and ``end`` are step
    numbers, 0 for none. ``of`` says what is in it, in formulas.
    """

    kind: str
    number: int
    start: int
    end: int
    dry_g: float
    water_g: float
    name: str
    formula: str
    amount: str
    note: str = ""
    of: str = ""

    @property
    def total_g(self) -> float:
        """All of it."""
        return self.dry_g + self.water_g

    @property
    def title(self) -> str:
        """What it is, in a table or beside its arrow."""
        return f"kept: {self.name}" if self.kind == "kept" else self.name

    def goes_to(self) -> str:
        """Where it ends, in a word."""
        where = {"gas": "air", "kept": "jar", "left": "waste", "goal": "goal"}
        return where.get(self.kind, str(self.end))

    def comes_from(self) -> str:
        """Where it begins, in a word."""
        return str(self.start) if self.start else {"air": "air"}.get(self.kind, "shelf")


@dataclass(frozen=True)
class Card:
    """A step as it is said."""

    number: int
    id: str
    title: str
    low_C: float
    high_C: float
    work_min: float
    wait_min: float
    yield_: tuple[float, float, float]
    tools: str
    risk: Risk | None
    missing: tuple[str, ...]
    batches: int
    into: tuple[DrawnFlow, ...]  # of the shelf and the air
    brought: tuple[DrawnFlow, ...]  # of earlier steps
    out: tuple[DrawnFlow, ...]  # gas, kept, left over
    onward: tuple[DrawnFlow, ...]  # to later steps, and the goal

    @property
    def main(self) -> DrawnFlow | None:
        """What goes straight on to the next card, or is the goal; None where nothing does."""
        for f in self.onward:
            if f.kind == "goal" or f.end == self.number + 1:
                return f
        return None

    @property
    def window(self) -> str:
        """Its temperatures."""
        return digits.window(self.low_C, self.high_C)

    @property
    def total_min(self) -> float:
        """Work and waiting."""
        return self.work_min + self.wait_min

    @property
    def times(self) -> str:
        """Work and waiting in words."""
        work = digits.duration(self.work_min)
        return (
            f"{work} + {digits.duration(self.wait_min)} wait" if self.wait_min else f"{work} work"
        )

    @property
    def span(self) -> str:
        """Yield from low to high."""
        low, _, high = self.yield_
        if f"{low * 100:.0f}" == f"{high * 100:.0f}":
            return f"{low * 100:.1f}–{high * 100:.1f} %"
        return f"{low * 100:.0f}–{high * 100:.0f} %"

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the bench lacks, and how many batches it takes."""
        lacks = tuple(f"missing: {m}" for m in self.missing)
        return (*lacks, f"in {self.batches} batches") if self.batches > 1 else lacks


@dataclass(frozen=True)
class DrawnRoute:
    """A route as it is said: head, cards, goal."""

    number: int
    name: str
    formula: str
    amount: str
    comes_to: str
    figures: tuple[tuple[str, str], ...]
    date: str
    cards: tuple[Card, ...]
    goal: DrawnFlow
    back: tuple[DrawnFlow, ...]
    alt: str

    @property
    def flows(self) -> tuple[DrawnFlow, ...]:
        """Every numbered stream once, in order."""
        found = {f.number: f for c in self.cards for f in (*c.brought, *c.into, *c.out, *c.onward)}
        return tuple(found[n] for n in sorted(found))

    def from_afar(self, card: Card) -> tuple[DrawnFlow, ...]:
        """What a card takes of steps, without what comes straight from the card before it."""
        before = next((c for c in self.cards if c.number == card.number - 1), None)
        main = before.main if before is not None else None
        return tuple(f for f in card.brought if main is None or f.number != main.number)

    def fed_back_to(self, card: Card) -> tuple[DrawnFlow, ...]:
        """What later steps feed back to a card."""
        return tuple(f for f in self.back if f.end == card.number)

    def fed_back_from(self, card: Card) -> tuple[DrawnFlow, ...]:
        """What a card feeds back."""
        return tuple(f for f in self.back if f.start == card.number)

    @property
    def stricter(self) -> bool:
        """Whether a danger is by a stricter source than the label."""
        return any(c.risk is not None and c.risk.stricter for c in self.cards)


def said(
    library: Library,
    found: Assessment,
    number: int,
    fed_back: Sequence[FedBack] = (),
    date: str = "",
    alt: str = "",
) -> DrawnRoute:
    """A route in the words of its picture; ``date`` is the day on which it is drawn."""
    number_of = {s.id: i for i, s in enumerate(found.steps, start=1)}
    made = liquors(library, found.amounts)
    streams = {s.step: s for s in route_streams(found.amounts)}
    lacks: dict[str, list[str]] = {}
    for need in found.missing:
        for sid in need.steps:
            lacks.setdefault(sid, []).append(need.capability.in_words())
    counts = {b.step: b.count for b in found.batched}
    cards = []
    for amount in found.amounts.steps:
        sid = amount.step.id
        here = streams[sid]

        def flows(
            given: Sequence[RouteStream], owner: StepAmounts = amount
        ) -> tuple[DrawnFlow, ...]:
            return tuple(_flow(library, s, number_of, owner) for s in given if s.number)

        record = amount.step.record
        y = record.yield_
        cards.append(
            Card(
                number_of[sid], sid, amount.step.title, record.temperature.low_C,
                record.temperature.high_C, amount.times.hands_on_min, amount.times.waiting_min,
                (y.low, y.typical, y.high), _tools(amount), _risk(library, found, amount, made),
                tuple(lacks.get(sid, ())), counts.get(sid, 1), flows(here.from_outside),
                flows(here.from_steps), flows(here.of("gas", "kept", "left")),
                flows(here.of("on", "goal")),
            )
        )  # fmt: skip
    goal = next(f for c in cards for f in c.onward if f.kind == "goal")
    back = tuple(
        DrawnFlow("back", 0, number_of[b.maker], number_of[b.taker], b.mass_g, 0.0,
             library.name(b.substance), library.substances[b.substance].label,
             digits.mass(b.mass_g))
        for b in fed_back
    )  # fmt: skip
    target = library.substances[found.amounts.target]
    return DrawnRoute(
        number, target.name, target.label, digits.mass(found.amounts.target_g), _comes_to(found),
        _figures(found), date, tuple(cards), goal, back, alt,
    )  # fmt: skip


def _figures(found: Assessment) -> tuple[tuple[str, str], ...]:
    y = found.limiting_yield
    words = "overall yield"
    if y is not None:
        words += f", {y.low * 100:.0f}\u00a0to\u00a0{y.high * 100:.0f}\u00a0%"
    return (
        (digits.percent(found.chain_yield), words),
        (digits.duration(found.elapsed_min), "start to end"),
        (digits.duration(found.hands_on_min), "of it work"),
        (digits.temperature(round(found.peak_C)), "hottest"),
    )


def _comes_to(found: Assessment) -> str:
    y, grams = found.limiting_yield, found.amounts.target_g
    if y is None:
        return ""
    low, high = grams * y.low / y.typical, grams * min(y.high / y.typical, 1 / y.typical)
    return f"may come to {digits.mass(low)} to {digits.mass(high)}"


def _tools(amount: StepAmounts) -> str:
    words = [TOOLS.get(n.name, n.in_words()) for n in amount.step.record.equipment
             if n.name not in UNSAID]  # fmt: skip
    return ", ".join(dict.fromkeys(words))


def _risk(
    library: Library, found: Assessment, amount: StepAmounts, made: dict[str, Liquor]
) -> Risk | None:
    worst: Danger | None = next(iter(dangers(found.profiles[amount.step.id])), None)
    if worst is None:
        return None
    cause, pictogram, stricter = worst.cause, "", False
    if code := _CODE.search(worst.cause):
        cause = _plain(worst.cause[: code.start()].strip())
        known = classes().get(code[0]) or classes().get(code[0][:4])
        pictogram = next(iter(known.pictograms), "") if known is not None else ""
        label = step_label(
            library, amount.step, points_of.strengths(library, amount, made),
            points_of.charged(amount), points_of.inside(library, amount),
        )  # fmt: skip
        stricter = code[0] in label.for_caution and code[0] not in label.statements
    words = worst.words[0].upper() + worst.words[1:]
    return Risk(worst.points, words, cause, pictogram, stricter)


def _flow(
    library: Library, stream: RouteStream, number_of: dict[str, int], owner: StepAmounts
) -> DrawnFlow:
    start, end = number_of.get(stream.start, 0), number_of.get(stream.end, 0)
    name, formula, amount, note, of = _words(library, stream, owner)
    return DrawnFlow(stream.kind, stream.number, start, end, stream.dry_g, stream.water_g, name,
                formula, amount, note, of)  # fmt: skip


def _words(
    library: Library, stream: RouteStream, owner: StepAmounts
) -> tuple[str, str, str, str, str]:
    """Name, formula, amount, a note, and what is in it."""
    known = library.substances.get(stream.what)
    label = known.label if known is not None else ""
    name = _plain(library.name(stream.what)) if known is not None else stream.what.lstrip(OTHER)
    if stream.kind == "feed":
        return _feed(stream, label)
    if stream.kind == "air":
        bought = stream.supply is not None and not stream.supply.everywhere
        where = "" if bought else " of the air"
        return f"{name}{where}", label, digits.mass(stream.mass_g), "reacts", label
    if stream.kind == "gas":
        if stream.what == WATER[0]:
            return "steam", "", f"{digits.volume(stream.water_g)} as water", "", label
        if known is not None and known.parsed is not None:
            litres = digits.gas(stream.mass_g / known.molar_mass_g)
            return name, label, litres, "", label
        return name, "", digits.mass(stream.mass_g), "", name
    wet = f"in {digits.volume(stream.water_g)} water" if stream.water_g > WET_G else ""
    if stream.kind == "left":
        return _left(library, stream, owner)
    own = float(stream.contents.grams(stream.what))
    own = own or float(stream.contents.grams(library.root(stream.what)))
    return name, label, digits.mass(own or stream.dry_g), wet, label


def _feed(stream: RouteStream, label: str) -> tuple[str, str, str, str, str]:
    supply = stream.supply
    assert supply is not None
    if supply.everywhere and stream.what == WATER[0]:
        parts = [f"{digits.volume(g)} {_role(r)}" for r, g in stream.roles]
        only = stream.roles[0][0]
        note = ", ".join(parts) if len(parts) > 1 else "" if only == "reactant" else _role(only)
        return "water", "", digits.volume(stream.mass_g), note, label
    share = supply.fractions.get(stream.what, 1.0)
    strength = f" {digits.percent(share)}" if supply.dissolved and "%" not in supply.name else ""
    roles = [_role(r) for r, _ in stream.roles if r != "reactant"]
    return (
        supply.name, "" if label == supply.name else f"{label}{strength}",
        poured_or_weighed(supply, stream.mass_g), ", ".join(roles), label,
    )  # fmt: skip


def _left(
    library: Library, stream: RouteStream, owner: StepAmounts
) -> tuple[str, str, str, str, str]:
    """What is left over, with what there is most of; what is boiled off is not told apart yet."""
    named = []
    for what in stream.contents.named():
        grams = float(stream.contents.grams(what))
        if what != WATER[0] and grams >= NUMBERED_G:
            known = library.substances.get(what)
            word = "impurities" if what.startswith(UNNAMED) else what.lstrip(OTHER)
            named.append(known.label if known is not None else word)
    named = list(dict.fromkeys(named))
    of = ", ".join(named[:MOST_LEFT]) + (" …" if len(named) > MOST_LEFT else "")
    kinds = {p.stage.kind for p in owner.course.points}
    steam = any("steam" in p.left for p in owner.course.points if p.stage.kind == "boil down")
    boiled = "boil down" in kinds and not steam and stream.water_g > WET_G
    name = "left over or boiled off" if boiled else "left over"
    if stream.dry_g < NUMBERED_G:
        return name, "", digits.volume(stream.water_g), "water", of
    wet = f"in {digits.volume(stream.water_g)} water" if stream.water_g > WET_G else ""
    return name, "", digits.mass(stream.dry_g), wet, of


def _role(role: str) -> str:
    return "reacts" if role == "reactant" else role


def _plain(name: str) -> str:
    return re.sub(r",? anhydrous\b", "", name)
