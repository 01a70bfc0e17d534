"""Records found by what they are for: "soap", "blue pigment without cobalt", "kiln".

A use ends with what it is: "lake pigment" is a pigment, "soap alkali" is no soap. Colours are told
apart from uses, "without X" leaves out what holds an element or a substance. Where no use fits, the
words are looked for in names as well.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.names import simplify
from routefinder.library.resolve import ResolvedStep
from routefinder.library.value import NAMES

_WITHOUT = re.compile(r"\b(?:without|free of|but no|with no|no)\b", re.IGNORECASE)
_IDLE = frozenset({"a", "an", "the", "for", "some", "of", "to", "any", "and", "or", "with", "my"})
_SAME = {
    "color": "colour", "fertilizer": "fertiliser", "cleaning": "cleaner", "detergent": "cleaner",
    "gray": "grey", "purple": "violet", "desiccant": "drying agent", "perfume": "fragrance",
    "scent": "fragrance", "flavor": "flavouring", "flavour": "flavouring", "manure": "fertiliser",
}  # fmt: skip
_NOT_PLURAL = frozenset({"glass", "gas", "brass", "moss"})


@dataclass(frozen=True)
class Thing:
    """A record that fits: its kind (substance, material, equipment) and id."""

    kind: str
    id: str


@dataclass(frozen=True)
class Makings:
    """How a substance can be had: ways to make it, the least hot of them, what is sold of it."""

    ways: int
    gentlest: ResolvedStep | None
    sold: tuple[str, ...]


def named_for(library: Library, text: str) -> tuple[Thing, ...]:
    """What fits all words of ``text``; () where nothing does."""
    asked, *rest = _WITHOUT.split(text)
    words = _words(" ".join(_SAME.get(w, w) for w in simplify(asked).split()))
    if not words:
        return ()
    without = [w for part in rest for w in _words(part)]
    found = _by_use(library, words) or _by_name(library, words)
    kept = [t for t in found if not any(_holds(library, t, w) for w in without)]
    return (*kept, *_equipment(library, words, without))


def makings(library: Library, substance_id: str) -> Makings:
    """The steps that have a substance for their product, and the materials sold for it.

    What only takes it from one form to another (salts out, dries) is no way to it.
    """
    root = library.root(substance_id)
    steps = [s for s in library.steps.values() if s.main.substance == substance_id
             and any(library.root(p.substance) not in {root, "water"} for p in s.reactants)] or [
        s for s in library.steps.values() if s.main.substance == substance_id]  # fmt: skip
    sold = [m.id for m in library.materials.values() if m.main == substance_id]
    least = min(steps, key=lambda s: (s.least_C, len(s.reactants), s.id), default=None)
    return Makings(len(steps), least, tuple(sold))


def _words(text: str) -> list[str]:
    found = re.findall(r"\w+", simplify(text))
    return [_one(w) for w in found if w not in _IDLE]


def _one(word: str) -> str:
    """The singular."""
    if word in _NOT_PLURAL or len(word) < 4 or not word.endswith("s") or word.endswith("ss"):
        return word
    return word[:-1]


def _by_use(library: Library, words: list[str]) -> list[Thing]:
    out = [
        Thing("substance", s.id)
        for s in library.substances.values()
        if any(_is(words, use, s.colour) for use in s.uses)
    ]
    known = {t.id for t in out}
    out += [
        Thing("material", m.id)
        for m in library.materials.values()
        if m.main not in known and any(_is(words, use, "") for use in m.record.uses)
    ]
    return out


def _is(words: list[str], use: str, colour: str) -> bool:
    """Whether a use of a thing of this colour is what the words say."""
    shades, kind = _words(colour), _words(use)
    asked = [w for w in words if w not in shades] if shades else list(words)
    return bool(asked) and kind[-len(asked) :] == asked


def _by_name(library: Library, words: list[str]) -> list[Thing]:
    out = []
    for s in library.substances.values():
        own = set(_words(" ".join((s.name, *s.names, *s.uses, s.colour))))
        if set(words) <= own:
            out.append(Thing("substance", s.id))
    known = {t.id for t in out}
    for m in library.materials.values():
        own = set(_words(" ".join((m.record.name, *m.record.names, *m.record.uses))))
        if set(words) <= own and m.main not in known:
            out.append(Thing("material", m.id))
    return out


def _equipment(library: Library, words: list[str], without: list[str]) -> list[Thing]:
    out = []
    for e in library.equipment.values():
        own = set(_words(" ".join((e.name, *e.names))))
        if set(words) <= own and not own & set(without):
            out.append(Thing("equipment", e.id))
    return out


_SYMBOLS = {word: symbol for symbol, word in NAMES.items() if len(symbol) <= 2}


def _holds(library: Library, thing: Thing, word: str) -> bool:
    """Whether a thing holds an element of this name, or bears the word in its name or uses."""
    record = library.substances[
        thing.id if thing.kind == "substance" else library.materials[thing.id].main
    ]
    symbol = _SYMBOLS.get(word)
    if symbol is not None and record.parsed is not None:
        return symbol in record.parsed.counts
    if symbol is not None and any(  # of no formula: what it is made of tells
        s.main.substance == record.id and any(
            (parsed := library.substances[p.substance].parsed) is not None
            and symbol in parsed.counts for p in s.reactants)
        for s in library.steps.values()
    ):  # fmt: skip
        return True
    return word in _words(" ".join((record.name, *record.names, *record.uses, record.colour)))
