"""The streams of a route, numbered: what goes into each step, on, into the air, what is left over.

Read off the courses of the vessels, so that what is drawn is what is weighed: of every step the
streams in and out have the same mass (to rounding).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from routefinder.records.shelf import Supply
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.stream import NOTHING, WATER, Stream, total

LEAST_G = 1e-9  # rounding
NUMBERED_G = 0.05  # what weighs less has no number: no balance of the bench sees it
GASES = ("gas", "steam", "burnt")  # ways that go into the air


@dataclass(frozen=True)
class RouteStream:
    """One stream of a route.

    ``kind``: "feed" (from the shelf), "air" (a gas that is taken up), "on" (to a later step), "gas"
    (into the air), "kept" (recovered or over), "left" (left over), "goal". ``start`` and ``end``
    are step ids, "" where there is none. ``what`` is the substance that it is named after, "" where
    it is a mixture; ``supply`` the material of a feed, ``roles`` what it is for, with the grams of
    each. ``number`` counts them in the order of the steps (0: too little to be
    weighed).
    """

    kind: str
    start: str
    end: str
    contents: Stream
    what: str = ""
    supply: Supply | None = None
    roles: tuple[tuple[str, float], ...] = ()
    number: int = 0

    @property
    def mass_g(self) -> float:
        """All of it."""
        return float(self.contents.mass_g)

    @property
    def water_g(self) -> float:
        """The water in it that is no crystal water, steam too."""
        return float(self.contents.grams(WATER[0]))

    @property
    def dry_g(self) -> float:
        """The rest."""
        return self.mass_g - self.water_g


@dataclass(frozen=True)
class StepStreams:
    """The streams of one step."""

    step: str
    into: tuple[RouteStream, ...]
    out: tuple[RouteStream, ...]

    def of(self, *kinds: str) -> tuple[RouteStream, ...]:
        """What comes out of these kinds."""
        return tuple(s for s in self.out if s.kind in kinds)

    @property
    def from_outside(self) -> tuple[RouteStream, ...]:
        """What goes in and was not made before."""
        return tuple(s for s in self.into if s.kind != "on")

    @property
    def from_steps(self) -> tuple[RouteStream, ...]:
        """What goes in and was made before."""
        return tuple(s for s in self.into if s.kind == "on")


def route_streams(found: Amounts) -> tuple[StepStreams, ...]:
    """The streams of every step of a route, in the order of the steps."""
    onward = [_onward(amount) for amount in found.steps]
    handed = [stream for streams in onward for stream in streams]
    links: dict[tuple[str, str, str], RouteStream] = {}  # with their numbers
    number = 0

    def numbered(streams: Iterable[RouteStream]) -> tuple[RouteStream, ...]:
        nonlocal number
        out = []
        for stream in streams:
            counts = stream.mass_g >= NUMBERED_G
            number += counts
            out.append(replace(stream, number=number if counts else 0))
        return tuple(out)

    steps = []
    for amount in found.steps:
        sid = amount.step.id
        given = [s for s in handed if s.start == sid]
        goal = [_goal(found, amount, given)] if sid == found.last else []
        brought = tuple(s for key, s in links.items() if key[1] == sid)
        taken = numbered([*_from_shelf(amount), *_from_air(amount)])
        leaving = numbered([*_gases(amount), *_kept(found, amount, given), *_left(amount)])
        going = numbered([*given, *goal])
        links |= {(s.start, s.end, s.what): s for s in going if s.kind == "on"}
        steps.append(StepStreams(sid, (*brought, *taken), (*leaving, *going)))
    return tuple(steps)


def _each(amount: StepAmounts) -> Iterable[tuple[Feed, Stream]]:
    return zip(amount.feeds, amount.course.charge.by_feed, strict=True)


def _from_shelf(amount: StepAmounts) -> list[RouteStream]:
    """The feeds of the shelf, one stream a material; water from the tap is one stream."""
    found: dict[str, list[tuple[Feed, Stream]]] = {}
    for feed, stream in _each(amount):
        if isinstance(feed.origin, str) or float(stream.mass_g) < LEAST_G:
            continue
        found.setdefault(feed.origin.id, []).append((feed, stream))
    out = []
    for fed in found.values():
        feed = next((f for f, _ in fed if f.role == "reactant"), fed[0][0])
        roles: dict[str, float] = {}
        for each, stream in fed:
            roles[each.role] = roles.get(each.role, 0.0) + float(stream.mass_g)
        assert not isinstance(feed.origin, str)
        out.append(
            RouteStream("feed", "", amount.step.id, total(s for _, s in fed), feed.form,
                        feed.origin, tuple(roles.items()))
        )  # fmt: skip
    # what is weighed first, tap water last
    return sorted(out, key=lambda s: s.supply is not None and s.supply.everywhere)


def _from_air(amount: StepAmounts) -> list[RouteStream]:
    """Gases that come in as they react: oxygen of the air, carbon dioxide of a bottle."""
    taken = total(p.taken.only("g") for p in amount.course.points)
    supplies = {f.form: f.origin for f in amount.feeds if not isinstance(f.origin, str)}
    return [
        RouteStream("air", "", amount.step.id, Stream({part: grams}), part[0],
                    supplies.get(part[0]))
        for part, grams in taken.parts.items()
        if float(grams) >= LEAST_G
    ]  # fmt: skip


def _onward(amount: StepAmounts) -> list[RouteStream]:
    """What this step takes of earlier ones, one stream a maker and form."""
    found: dict[tuple[str, str], Stream] = {}
    for feed, stream in _each(amount):
        if isinstance(feed.origin, str) and float(stream.mass_g) >= LEAST_G:
            key = (feed.origin, feed.form)
            found[key] = found.get(key, NOTHING) + stream
    return [
        RouteStream("on", maker, amount.step.id, stream, form)
        for (maker, form), stream in found.items()
    ]


def _gases(amount: StepAmounts) -> list[RouteStream]:
    """What goes into the air, one stream a substance; all steam is one."""
    course = amount.course
    away = total(s for way, s in course.leavings.items() if way in GASES)
    found: dict[str, Stream] = {}
    for (what, phase), grams in away.parts.items():
        found[what] = found.get(what, NOTHING) + Stream({(what, phase): grams})
    return [
        RouteStream("gas", amount.step.id, "", stream, what)
        for what, stream in sorted(found.items(), key=lambda f: -float(f[1].mass_g))
        if float(stream.mass_g) >= LEAST_G
    ]


def _source(amount: StepAmounts, what: str) -> Stream:
    """The stream that holds what is made: a recovered by-product, or the product."""
    return amount.course.recovered.get(what, amount.course.product)


def _used(given: Iterable[RouteStream], what: str | None) -> float:
    return sum(s.mass_g for s in given if what is None or s.what == what)


def _is_recovered(amount: StepAmounts, what: str) -> bool:
    return what in amount.course.recovered


def _kept(found: Amounts, amount: StepAmounts, given: list[RouteStream]) -> list[RouteStream]:
    """What nothing takes of the product and of what is recovered."""
    sid, course = amount.step.id, amount.course
    goal = found.form if sid == found.last else ""
    out = []
    for what, stream in course.recovered.items():
        if what == goal:
            continue
        rest = float(stream.mass_g) - _used(given, what)
        if rest >= LEAST_G:
            share = rest / float(stream.mass_g)
            out.append(RouteStream("kept", sid, "", stream * share, what))
    whole = float(course.product.mass_g)
    if not goal or _is_recovered(amount, goal):
        used = sum(s.mass_g for s in given if not _is_recovered(amount, s.what))
        rest = whole - used
        if rest >= max(LEAST_G, 1e-9 * whole):
            out.append(
                RouteStream("kept", sid, "", course.product * (rest / whole),
                            amount.product.substance)
            )  # fmt: skip
    return out


def _goal(found: Amounts, amount: StepAmounts, given: list[RouteStream]) -> RouteStream:
    """What the route is run for: all of what the last step makes that no other step takes."""
    stream = _source(amount, found.form)
    used = sum(
        s.mass_g
        for s in given
        if (s.what == found.form or not _is_recovered(amount, s.what))
        and _source(amount, s.what) is stream
    )
    whole = float(stream.mass_g)
    return RouteStream(
        "goal", amount.step.id, "", stream * ((whole - used) / whole if whole else 0.0), found.form
    )


def _left(amount: StepAmounts) -> list[RouteStream]:
    """What is left over in the vessel, on the filter and in the liquors, as one stream."""
    rest = total(s for way, s in amount.course.leavings.items() if way not in GASES)
    if float(rest.mass_g) < LEAST_G:
        return []
    return [RouteStream("left", amount.step.id, "", rest)]
