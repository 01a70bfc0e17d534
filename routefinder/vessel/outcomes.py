"""What comes out of each step of a route, read off the vessel's course.

Amounts go backwards from the target; here the route is run forwards through its vessels, so that
the water that is brought, what is left over, what has not reacted and what goes along with a
product are one account with what the vessel holds at every stage.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.charge import charge_of, onward
from routefinder.vessel.course import Behaviour, Course, behaviour_of, run
from routefinder.vessel.durations import amount_times
from routefinder.vessel.feed import Feed
from routefinder.vessel.make_up import spared
from routefinder.vessel.step_amounts import Outcome, StepAmounts
from routefinder.vessel.stream import NOTHING, OTHER, WATER, Number, Stream, least

Demand = Mapping[tuple[str, str], float]


@dataclass(frozen=True)
class Wanted:
    """One step as the way back from the target has it: its feeds, and moles of its equation."""

    step: ResolvedStep
    turns: float
    yield_: float
    feeds: tuple[Feed, ...]


def forwards(
    library: Library, steps: Sequence[Wanted], demand: Demand, ideal: bool = False
) -> list[StepAmounts]:
    """The steps of a route run through their vessels, in order.

    ``demand`` is what later steps and the target take: (step, substance) -> moles. ``ideal``:
    everything turns and is caught.
    """
    courses: dict[str, Course] = {}
    out = []
    for wanted in steps:
        step = wanted.step
        carried = {f.substance: onward(library, f, courses[f.origin])
                   for f in wanted.feeds if isinstance(f.origin, str) and f.moles}  # fmt: skip
        feeds = spared(library, step, wanted.turns, wanted.feeds, carried)
        charge = charge_of(library, step, feeds, wanted.turns, courses)
        how = Behaviour(1.0, 1.0, True) if ideal else behaviour_of(library, step, wanted.yield_)
        collected = _collected(library, wanted, feeds, demand, ideal)
        course = run(library, step, charge, how, collected)
        brought = _brought(library, feeds, courses)
        feeds = tuple(_with_companions(library, f, courses) for f in feeds)
        outcomes, unnamed, onward_unnamed, used_unnamed = _outcomes(library, step, course, demand)
        courses[step.id] = course
        out.append(
            StepAmounts(
                step, wanted.turns, wanted.yield_, feeds, outcomes, unnamed, course, brought,
                onward_unnamed, _over_mol(wanted, demand), unnamed_used_g=used_unnamed,
                times=amount_times(library, step, course),
            )
        )  # fmt: skip
    return out


def recovery(
    library: Library, step: ResolvedStep, substance: str, yield_: Number, ideal: bool = False
) -> Number:
    """The part of a by-product that is collected, of all the equation can give of it.

    A record's share holds at the typical yield; a run that goes better or worse with its main
    product goes so with its by-products too (our rule), up to all that has turned.
    """
    if ideal:
        return 1.0
    usual = step.record.yield_.typical
    how = behaviour_of(library, step, usual)
    kept = float(how.kept) if float(how.conversion) < 1 else 0.0
    return collected_share(step.recovered[substance], yield_, usual, kept)


def collected_share(share: float, yield_: Number, usual: float, kept: float) -> Number:
    """``recovery`` in numbers; ``kept`` is r of a step that stops short, else 0."""
    whole = 1.0 + 0.0 * yield_
    turned = least([yield_ / kept, whole]) if kept else whole
    return least([share * yield_ / usual, turned])


def _over_mol(wanted: Wanted, demand: Demand) -> float:
    """Main product beyond what is taken, where a step is run for what it makes beside it."""
    step = wanted.step
    made = step.main.moles * wanted.turns * wanted.yield_
    over = made - demand.get((step.id, step.main.substance), 0.0)
    return 0.0 if over < 1e-9 * made or step.main.state == "g" else over


def _collected(
    library: Library, wanted: Wanted, feeds: Sequence[Feed], demand: Demand, ideal: bool
) -> dict[str, Number]:
    """Grams of what is collected: by-products, gases that a step takes, what is used again."""
    step = wanted.step
    out: dict[str, Number] = {}
    for part in step.kept():
        if part.substance == step.main.substance:
            continue
        molar = library.substances[part.substance].molar_mass_g
        all_g = part.moles * wanted.turns * molar
        got = all_g * recovery(library, step, part.substance, wanted.yield_, ideal)
        if part.state == "g":  # nobody catches a gas that no step takes
            got = min(float(got), demand.get((step.id, part.substance), 0.0) * molar)
        if part.state == "aq":  # reckoned without crystal water, as it is dissolved
            root = library.root(part.substance)
            got = got * library.substances[root].molar_mass_g / molar
        out[part.substance] = got
    for feed in feeds:
        if feed.recovered_g:
            out[feed.substance] = out.get(feed.substance, 0.0) + feed.recovered_g
    return out


def _dissolved(library: Library, feed: Feed, maker: Course) -> bool:
    """Whether what goes on is in solution, and no solid that has some of itself in its liquor."""
    source = maker.recovered.get(feed.form, maker.product)
    undissolved = any((feed.form, phase) in source.parts for phase in "slg")
    return (library.root(feed.form), "aq") in source.parts and not undissolved


def _with_companions(library: Library, feed: Feed, courses: Mapping[str, Course]) -> Feed:
    """A solid or liquid of an earlier step weighs what lies in its jar, companions and all."""
    if not isinstance(feed.origin, str) or not feed.moles:
        return feed
    maker = courses[feed.origin]
    if _dissolved(library, feed, maker):
        return feed
    stream = onward(library, feed, maker)
    crystal = feed.moles * library.substances[feed.form].molar_mass_g - feed.mass_g
    water = crystal + float(stream.grams(*WATER))
    return replace(feed, companions_g=float(stream.mass_g) - feed.mass_g, water_g=water)


def _brought(
    library: Library, feeds: Sequence[Feed], courses: Mapping[str, Course]
) -> dict[str, Stream]:
    """What comes with solutions of earlier steps besides the dissolved species themselves."""
    out: dict[str, Stream] = {}
    for feed in feeds:
        if not isinstance(feed.origin, str) or not feed.moles:
            continue
        maker = courses[feed.origin]
        if _dissolved(library, feed, maker):
            own = (library.root(feed.form), "aq")
            stream = onward(library, feed, maker)
            rest = Stream({k: v for k, v in stream.parts.items() if k != own})
            out[feed.substance] = out.get(feed.substance, NOTHING) + rest
    return out


def _outcomes(
    library: Library, step: ResolvedStep, course: Course, demand: Demand
) -> tuple[tuple[Outcome, ...], float, float, float]:
    """What comes out; of what has no substance the grams left over, that go on with the product,
    and with what is recovered and used.
    """
    main = step.main
    root = library.root(main.substance)
    sums: dict[tuple[str, str, str], float] = {}
    unnamed = onward_unnamed = used_unnamed = product = 0.0

    def add(what: str, phase: str, grams: float, fate: str) -> None:
        nonlocal unnamed, onward_unnamed, used_unnamed
        if what.startswith(OTHER) and fate == "along":
            onward_unnamed += grams
        elif what.startswith(OTHER) and fate == "used":
            used_unnamed += grams
        elif what.startswith(OTHER):
            unnamed += grams
        elif abs(grams) > 1e-12:
            sums[what, phase, fate] = sums.get((what, phase, fate), 0.0) + grams

    def is_main(what: str, phase: str) -> bool:
        return phase == main.state and what == (root if phase == "aq" else main.substance)

    for (what, phase), grams in course.product.parts.items():
        if is_main(what, phase):
            product += float(grams)
        else:
            add(what, phase, float(grams), "along")
    for what, stream in course.recovered.items():
        names = {what, library.root(what)}
        own = next((k, float(g)) for k, g in stream.parts.items() if k[0] in names)
        wanted = demand.get((step.id, what), 0.0) * library.substances[own[0][0]].molar_mass_g
        share = min(wanted / own[1], 1.0) if own[1] > 0 else 0.0
        for (key, phase), grams in stream.parts.items():  # what is dissolved with it goes along
            add(key, phase, float(grams) * share, "used")
            add(key, phase, float(grams) * (1 - share), "surplus")
    fed = {name for p in step.reactants for name in (p.substance, library.root(p.substance))}
    for way, stream in course.leavings.items():
        for (what, phase), grams in stream.parts.items():
            if way == "steam":
                fate = "steam"
            elif phase == "g":
                fate = "gas"
            elif is_main(what, phase):
                fate = "lost"
            else:
                fate = "unreacted" if what in fed and what != WATER[0] else "waste"
            add(what, phase, float(grams), fate)
    made = library.substances[root if main.state == "aq" else main.substance].molar_mass_g
    rows = [Outcome(main.substance, main.state, product / made, product, "product")]
    for (what, phase, fate), grams in sums.items():
        moles = grams / library.substances[what].molar_mass_g
        rows.append(Outcome(what, phase, moles, grams, fate))
    return tuple(rows), unnamed, onward_unnamed, used_unnamed
