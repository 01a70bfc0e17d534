"""The water a step calls for is what its vessel is made up to.

Water that solutions, acids, lyes and crystals bring counts, for the equation first, and only the
rest is added (``library.pot``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from routefinder.library import pot
from routefinder.library.library import Library
from routefinder.library.pot import is_water
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.feed import Feed
from routefinder.vessel.stream import WATER, Stream


def spared(
    library: Library,
    step: ResolvedStep,
    turns: float,
    feeds: Sequence[Feed],
    carried: Mapping[str, Stream],
) -> tuple[Feed, ...]:
    """The feeds of a step without the water that others bring, and none too strong.

    ``carried`` is what each reactant brings from an earlier step, by substance.
    """
    water = {name: float(stream.grams(*WATER)) for name, stream in carried.items()}
    return _diluted(library, step, turns, _brought(library, step, turns, feeds, water), water)


def _brought(
    library: Library,
    step: ResolvedStep,
    turns: float,
    feeds: Sequence[Feed],
    carried: Mapping[str, float],
) -> tuple[Feed, ...]:
    parts = pot.weights(library, step)
    dissolved: list[tuple[float, float]] = []
    loose = 0.0
    for f in feeds:
        if f.role == "wash" or is_water(library, f.substance):
            continue
        own = f.water_g + (carried.get(f.substance, 0.0) if isinstance(f.origin, str) else 0.0)
        if f.role == "reactant" and f.substance in parts:
            dissolved.append((parts.get(f.substance, 0.0), own))
        else:
            loose += own
    brought = loose + sum(water for _, water in dissolved)
    if brought <= 0 or not turns or not any(_plain_water(library, f) for f in feeds):
        return tuple(feeds)
    call = pot.called(library, step)
    wanted = (call.bound_g + call.start_g) * turns
    taken = pot.spared_g(wanted, dissolved, loose)
    added = pot.made_up(call, taken / turns, (brought - taken) / turns)
    share = {
        "bound": 1 - added.bound_g / call.bound_g if call.bound_g else 0.0,
        "start": 1 - added.start_g / call.start_g if call.start_g else 0.0,
        "after": 1 - added.after_g / call.after_g if call.after_g else 0.0,
    }
    return tuple(
        _less(f, share["bound" if f.role == "reactant" else "after" if f.after else "start"])
        if _plain_water(library, f)
        else f
        for f in feeds
    )


def _diluted(
    library: Library,
    step: ResolvedStep,
    turns: float,
    feeds: tuple[Feed, ...],
    carried: Mapping[str, float],
) -> tuple[Feed, ...]:
    """The feeds with so much more water that nothing is stronger than its step allows.

    Only where the step calls for water to work in; a record that calls for none says with its
    upper end how strong a bottle may be.
    """
    now = list(feeds)
    place = next(
        (i for i, f in enumerate(now)
         if _plain_water(library, f) and f.role in pot.MADE_UP and not f.after), None
    )  # fmt: skip
    if place is None:
        return feeds
    others = pot.called(library, step).other_g * turns
    poured = sum(f.mass_g - f.from_solution_g for f in now
                 if _plain_water(library, f) and not f.after)  # fmt: skip
    short = 0.0
    for name, most in step.at_most.items():
        own = [f for f in now if f.role == "reactant" and f.substance == name]
        mass = sum(f.mass_g for f in own)
        around = others + sum(f.water_g for f in own) + carried.get(name, 0.0)
        short = max(short, mass * (1 / most - 1) - around - poured)
    if short <= 1e-9 * poured or short <= 0:
        return feeds
    water = now[place]
    molar = library.substances[water.substance].molar_mass_g
    now[place] = replace(
        water, moles=water.moles + short / molar, mass_g=water.mass_g + short,
        spared_g=water.spared_g - short,
    )  # fmt: skip
    return tuple(now)


def _plain_water(library: Library, feed: Feed) -> bool:
    """Whether a feed is water from the shelf that a step calls for, not to wash with."""
    called = feed.role == "reactant" or feed.role in pot.MADE_UP
    return called and not isinstance(feed.origin, str) and is_water(library, feed.substance)


def _less(feed: Feed, share: float) -> Feed:
    """A feed of water, ``share`` of which something else brings."""
    if feed.role == "reactant":  # it stays in the balance: the equation takes it
        return replace(feed, from_solution_g=feed.mass_g * share)
    left = 1 - share
    return replace(
        feed, moles=feed.moles * left, mass_g=feed.mass_g * left,
        companions_g=feed.companions_g * left, recovered_g=feed.recovered_g * left,
        water_g=feed.water_g * left, spared_g=feed.mass_g * share,
    )  # fmt: skip
