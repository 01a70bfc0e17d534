"""Sentences on a step's page that contradict each other: what the page says as data, and a check.

Every sentence of a page (the record's own and the advice made for it) is read for what it asks:
keep under something, never let it meet something, closed or vented, water or no water, a
temperature to dry at, to work at, to stay below, a flame or none. Two that cannot both be followed
are a contradiction. Words are read by patterns, so silence is no proof that a page agrees with
itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from routefinder.assessment.drying import drying
from routefinder.hazards.cautions import Cautions, takes_fire_with_water
from routefinder.hazards.kinds import kinds
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep


@dataclass(frozen=True)
class Said:
    """What one sentence asks: ``asks`` of ``thing`` (may be ""), with its figure in degC if any.

    ``asks`` is one of: "keep under", "never meet", "closed", "gas", "water", "no water", "dry at",
    "melts at", "dry", "keep wet", "work from", "work to", "stay below", "stay above", "flame",
    "no flame", "quench with", "never quench with", "never twice".
    """

    asks: str
    thing: str
    figure_C: float | None
    text: str


@dataclass(frozen=True)
class Contradiction:
    """Two things that a page asks and that cannot both be followed."""

    step: str
    one: Said
    other: Said

    @property
    def sentence(self) -> str:
        """Both, as the page has them."""
        return f"the record and the advice contradict each other: '{self.one.text}' and " \
               f"'{self.other.text}'; ask before you begin"  # fmt: skip


_UNDER = re.compile(
    r"under (?:boiled |a layer of |light )?(water|(?:mineral |paraffin )?oil|kerosene)", re.I
)
_APART = re.compile(r"apart from ([^:]+):", re.I)
_MEET = re.compile(r"never let (.+?) meet (.+?)(?: unawares)?(?::|$)", re.I)
_TIGHT = re.compile(r"\b(?:air)?tight\b|\bsealed\b|\bstoppered\b|\bclosed\b", re.I)
_VENTS = re.compile(r"\bloose\b|airlock|\bvent", re.I)
_METAL_IN = re.compile(r"\b(?:nail|iron|tin|zinc|metal)\b(?: \w+)? in it", re.I)
_WATER = re.compile(
    r"\brinse (?!the mouth)|\bmuch water\b|\brunning (?:tepid )?water\b|flood of water", re.I
)
_FIRST = re.compile(r"dry first", re.I)
_STAY = re.compile(
    r"\b(?:keep|stay|hold|work)\b(?![^.;:(]*\babove\b)[^.;:(]{0,40}?\b(?:below|under) (?:about )?"
    r"(\d+) degC|\b(?:never|not)\b(?! open)[^.;:(]{0,40}?\b(?:above|over|hotter than) (?:about )?"
    r"(\d+) degC",
    re.I,
)
_ABOVE = re.compile(r"\b(?:keep|stay|hold|work)\b[^.;:(]{0,40}?\babove (?:about )?(\d+) degC", re.I)
_COLD = re.compile(r"\b(?:keep|stay) (?:it )?(?:ice[- ])?cold\b", re.I)
COLD_C = 35.0  # nothing that is worked from warmer than this is kept cold: our choice
_NEVER_TWICE = re.compile(r"\bnever,? never\b", re.I)
_NO_DRYING = re.compile(r"do not dry|never let [\w ]*dry|must not dry", re.I)


def page(library: Library, step: ResolvedStep, found: Cautions) -> tuple[Said, ...]:
    """All that the page of a step asks, as data."""
    return (*_of_record(library, step), *_of_advice(library, step, found))


def _of_record(library: Library, step: ResolvedStep) -> Iterator[Said]:
    record = step.record
    window = record.temperature
    product = library.substances[step.main.substance]
    yield Said("work from", "", window.low_C, f"work from {window.low_C:g} °C")
    yield Said("work to", "", window.high_C, f"work to {window.high_C:g} °C")
    if product.melting_C is not None and step.main.state == "s":
        yield Said("melts at", product.id, product.melting_C,
                   f"{product.name} melts at {product.melting_C:g} °C")  # fmt: skip
    needs = {n.name: n for n in record.equipment}
    for name in ("dry", "dry-in-vacuum"):
        limit = needs[name].limit("to") if name in needs else None
        if limit is not None:
            yield Said("dry at", product.id, limit, needs[name].in_words())
    fired = {"heat-dry", "open-flame"} & set(needs)
    if "keep-airtight" in needs and not fired and not ({"dry", "keep-dry"} & set(needs)):
        yield Said("closed", "vessel", None, needs["keep-airtight"].in_words())
    if "open-flame" in needs:
        yield Said("flame", "", None, needs["open-flame"].in_words())
    for part in step.products:
        if part.state == "g" and step.dissolved.get(part.substance, 0.0) < 1:
            yield Said("gas", "vessel", None, f"{library.name(part.substance)} leaves")
    for text in (*record.cautions, *record.watch):
        if re.search(r"carbon dioxide: add|\bfoam|hydrogen (?:comes|leaves)|the gas", text, re.I):
            yield Said("gas", "vessel", None, text)
        for match in _STAY.finditer(text):
            yield Said("stay below", "", float(match[1] or match[2]), text)
        for match in _ABOVE.finditer(text):
            yield Said("stay above", "", float(match[1]), text)
        if _COLD.search(text):
            yield Said("stay below", "", COLD_C, text)
    storage = record.storage or (product.storage if step.main.state != "aq" else None)
    if storage is not None:
        yield from _of_storage(library, step, storage.how)


def _of_storage(library: Library, step: ResolvedStep, how: str) -> Iterator[Said]:
    for match in _UNDER.finditer(how):
        yield Said("keep under", match[1].lower(), None, how)
    if _NO_DRYING.search(how):
        yield Said("keep wet", step.main.substance, None, how)
    if _TIGHT.search(how) and not _VENTS.search(how):
        yield Said("closed", "store", None, how)
    known = kinds(library.substances[step.main.substance]).names
    if _METAL_IN.search(how):
        yield Said("gas", "store", None, how)
    if {"peroxide", "hypochlorite"} & known and step.main.state == "aq":
        yield Said("gas", "store", None, "it gives off gas while it stands")
    for part in step.reactants:
        left = step.main.state == "aq" and step.excess.get(part.substance, 0.0) > 0
        if left and "peroxide" in kinds(library.substances[part.substance]):
            yield Said("gas", "store", None, f"{library.name(part.substance)} is left in it")


def _of_advice(library: Library, step: ResolvedStep, found: Cautions) -> Iterator[Said]:
    for name in takes_fire_with_water(library, step):
        yield Said("no water", name, None, f"{name} takes fire with water")
    for a in (*found.wear, *found.if_wrong, *found.never, *found.keep, *found.lacks):
        if _NEVER_TWICE.search(a.text):
            yield Said("never twice", "", None, a.text)
        if _WATER.search(a.text) and not _FIRST.search(a.text) and "never" not in a.text:
            yield Said("water", "", None, a.text)
        if "no flame" in a.text or "never over a flame" in a.text:
            yield Said("no flame", "", None, a.text)
        if match := _APART.match(a.text):
            for thing in match[1].split(", "):
                yield Said("never meet", thing, None, a.text)
        if match := _MEET.search(a.text):
            yield Said("never meet", match[1], None, a.text)
            yield Said("never meet", match[2], None, a.text)
        if a.text.startswith("burning"):
            head, _, never = a.text.partition("never")
            for agent in ("water", "CO₂", "carbon dioxide", "foam"):
                plain = agent.replace("carbon dioxide", "CO₂")
                if agent in head:
                    yield Said("quench with", plain, None, a.text)
                if agent in never:
                    yield Said("never quench with", plain, None, a.text)
        if "closed vessel" in a.text and a.text.startswith("never"):
            yield Said("gas", "vessel", None, a.text)
    how = drying(library, step.main.substance, step.main.state, step)
    if how.may:
        yield Said("dry", step.main.substance, None, f"dry it ({how.way})")
    if how.at_most_C is not None:
        yield Said("dry at", step.main.substance, how.at_most_C, f"dry it at {how.at_most_C:g} °C")


def contradictions(
    library: Library, step: ResolvedStep, found: Cautions
) -> tuple[Contradiction, ...]:
    """All pairs on a step's page that cannot both be followed."""
    said = page(library, step, found)
    by: dict[str, list[Said]] = {}
    for s in said:
        by.setdefault(s.asks, []).append(s)
    out = [Contradiction(step.id, a, b) for a, b in _clashes(by)]
    out += [Contradiction(step.id, s, s) for s in by.get("never twice", [])]
    return tuple(out)


def _clashes(by: dict[str, list[Said]]) -> Iterator[tuple[Said, Said]]:
    for one, other in (
        ("keep under", "never meet"), ("closed", "gas"), ("quench with", "never quench with"),
    ):  # fmt: skip
        for a in by.get(one, []):
            for b in by.get(other, []):
                if a.thing == b.thing or (one == "keep under" and a.thing in b.thing.lower()):
                    yield a, b
    for one, other in (("no water", "water"), ("flame", "no flame"), ("keep wet", "dry")):
        for a in by.get(one, []):
            for b in by.get(other, []):
                yield a, b
    for a in by.get("dry at", []):
        for b in by.get("melts at", []):
            if a.figure_C is not None and b.figure_C is not None and a.figure_C >= b.figure_C:
                yield a, b
    for a in by.get("stay below", []):
        for b in by.get("work from", []):
            if a.figure_C is not None and b.figure_C is not None and b.figure_C > a.figure_C:
                yield a, b
    for a in by.get("stay above", []):
        for b in by.get("work to", []):
            if a.figure_C is not None and b.figure_C is not None and b.figure_C < a.figure_C:
                yield a, b
