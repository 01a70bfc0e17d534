"""What is weighed in for a step: the vessel's contents, its wash and what comes along.

A feed of the shelf brings its material's other contents in proportion: named ones by their fate or
by what the library knows dissolved; the rest of a solution or liquid counts as water, the rest of
a solid as something unnamed that stays in a dry heat and dissolves in a wet step (unknown). A feed
of an earlier step brings its share of all that went on there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.course import (
    BURNS,
    DISSOLVES,
    STAYS,
    Charge,
    Course,
    dissolves,
)
from routefinder.vessel.feed import Feed
from routefinder.vessel.stages import stages_of
from routefinder.vessel.stream import NOTHING, OTHER, WATER, Number, Part, Stream


def charge_of(
    library: Library,
    step: ResolvedStep,
    feeds: Sequence[Feed],
    turns: float,
    made: Mapping[str, Course],
) -> Charge:
    """The charge of one step of a route; ``made`` holds the courses of the earlier steps."""
    contents, wash, after = NOTHING, NOTHING, NOTHING
    reacts = stages_of(library, step).reacts
    later: dict[int, Stream] = {}  # in time for the reaction; else it is counted from the start
    fates: dict[str, str] = {}
    by_feed: list[Stream] = []
    for feed in feeds:
        by_feed.append(NOTHING)
        if feed.drawn_g <= 1e-9:
            continue
        if isinstance(feed.origin, str):
            stream = onward(library, feed, made[feed.origin])
            fates.update(made[feed.origin].charge.fates)
        elif feed.origin.form == "gas":
            continue  # it comes in as it reacts
        else:
            stream = _of_supply(library, step, feed, feed.origin)
            fates.update(feed.origin.fates)
        by_feed[-1] = stream
        if feed.role == "wash":
            wash = wash + stream
        elif feed.after:
            after = after + stream
        else:
            contents = contents + stream
            for place, share in step.charges_of(feed.substance):
                if 0 < place < reacts:
                    later[place] = later.get(place, NOTHING) + stream * share
        if feed.role == "fuel":
            fates[feed.form] = BURNS
    names = {k: v for k, v in fates.items() if k in library.substances}
    words = {OTHER + k: v for k, v in fates.items() if k not in library.substances}
    own = {step.main.substance, *(p.substance for p in step.reactants)}
    kept = {k: v for k, v in {**names, **words}.items() if k not in own}
    return Charge(contents, turns, wash, kept, tuple(by_feed), later, after)


def onward(library: Library, feed: Feed, maker: Course) -> Stream:
    """The share of an earlier step's product (or by-product) that holds the moles asked for."""
    source = maker.recovered.get(feed.form, maker.product)
    root = library.root(feed.form)
    keys = [(feed.form, p) for p in ("s", "l", "g")] + [(root, "aq")]
    key = next((k for k in keys if k in source.parts), (feed.form, "s"))
    grams = source.parts.get(key, 0.0)
    wanted = feed.moles * library.substances[key[0]].molar_mass_g
    if grams <= 0:
        raise AssertionError(f"{maker.product} holds no {feed.form}")
    return source * (wanted / grams)


def _of_supply(library: Library, step: ResolvedStep, feed: Feed, supply: Supply) -> Stream:
    grams = feed.drawn_g
    dry = stages_of(library, step).dry
    parts: dict[Part, Number] = {}

    def add(key: Part, value: float) -> None:
        if value:
            parts[key] = parts.get(key, 0.0) + value

    rest = 1.0
    for name, share in supply.fractions.items():
        rest -= share
        phase = _phase(library, step, feed, supply, name, dry)
        key = (library.root(name), "aq") if phase == "aq" else (name, phase)
        if phase == "aq" and key[0] != name:  # a hydrate sold dissolved
            dry_g = library.substances[key[0]].molar_mass_g / library.substances[name].molar_mass_g
            add(key, grams * share * dry_g)
            add(WATER, grams * share * (1 - dry_g))
        else:
            add(key, grams * share)
    for words, share in supply.others.items():
        rest -= share
        add((OTHER + words, _loose(supply.fates.get(words, ""), dry)), grams * share)
    rest = max(rest, 0.0)
    if rest > 1e-9:
        if supply.form in {"solution", "liquid"}:
            add(WATER, grams * rest)
        else:
            add((f"{OTHER}what else is in {supply.name}", _loose("", dry)), grams * rest)
    return Stream(parts)


def _loose(fate: str, dry: bool) -> str:
    if fate == STAYS or (dry and fate != DISSOLVES):
        return "s"
    return "aq"


def _phase(
    library: Library, step: ResolvedStep, feed: Feed, supply: Supply, name: str, dry: bool
) -> str:
    record = library.substances[name]
    if name == WATER[0]:
        return "l"
    if name != feed.form:
        fate = supply.fates.get(name, "")
        if fate == STAYS or dry:
            return "s"
        return "aq" if fate == DISSOLVES or dissolves(library, name) else "s"
    if feed.role == "reactant":
        states = {p.substance: p.state for p in step.reactants}
        state = states.get(feed.substance, "s")
        if state == "aq":
            return "aq" if supply.form in {"solution", "liquid"} else "s"
        return state
    if supply.form == "solution":
        return "aq"
    if supply.form == "liquid" or (record.melting_C is not None and record.melting_C < 20.0):
        return "l"
    gas = record.boiling_C is not None and record.boiling_C < 20.0  # it is used dissolved
    role = gas or feed.role in {"catalyst", "medium"}
    soluble = not dry and role and dissolves(library, name)
    return "aq" if soluble else "s"


def pure(library: Library, substance: str, moles: float, role: str) -> Feed:
    """Moles of a substance put in pure, as a feed."""
    record = library.substances[substance]
    supply = Supply(substance, record.name, "solid", {substance: 1.0}, substance)
    return Feed(substance, substance, moles, moles * record.molar_mass_g, 0.0, supply, role)
