"""The limits on whole routes, in one table: what a route comes to, and the least of each step."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.choice import prefer
from routefinder.hazards.score import ASPECTS
from routefinder.library import steering
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.question import Limits, Question, State
from routefinder.search.best import Cap


@dataclass(frozen=True)
class RouteLimit:
    """A limit by its field of ``records.question.Limits``.

    ``value`` is what a route comes to, ``least`` what each step adds at the least (None: no sum
    over steps), by which the search leaves out what cannot hold. ``at_least``: a route may come to
    no less than the limit, else to no more.
    """

    name: str
    value: Callable[[Assessment], float]
    least: Callable[[ResolvedStep], float] | None = None
    at_least: bool = False

    def holds(self, figure: float, found: Assessment) -> bool:
        """Whether a route keeps it."""
        value = self.value(found)
        return value >= figure if self.at_least else value <= figure


LITTLE = 1e-9
ROUTE_LIMITS = (
    RouteLimit("max_steps", lambda a: float(len(a.steps)), lambda s: 1.0),
    RouteLimit("max_time_min", lambda a: a.elapsed_min, lambda s: s.record.time.hands_on_min),
    RouteLimit("budget", lambda a: a.cost.typical or 0.0),
    RouteLimit("purity", lambda a: a.purity.share, at_least=True),
)


def caps(limits: Limits, steps: Mapping[str, ResolvedStep]) -> list[Cap]:
    """The limits on whole routes that are sums over steps; ``steps`` by their id in the search."""
    out = []
    for limit in ROUTE_LIMITS:
        most = getattr(limits, limit.name)
        if most is not None and limit.least is not None:
            out.append(Cap({i: limit.least(step) for i, step in steps.items()}, most))
    return out


def judged(question: Question) -> bool:
    """Whether a route has to be assessed before one knows that it keeps the limits."""
    limits = question.limits
    return bool(
        (question.state and question.state.strength)
        or limits.use or limits.max_hazard or limits.measures or question.may_lack
        or any(
            getattr(limits, each.name) is not None
            for each in ROUTE_LIMITS
            if each.name != "max_steps"  # the cap is the limit itself
        )
    )  # fmt: skip


def strong_enough(wanted: State, found: Assessment) -> bool:
    """Whether a route ends in a solution at least as strong as is asked for, if that is asked."""
    if wanted.strength is None:
        return True
    made = found.ends.liquor
    return made is not None and made.strength >= wanted.strength - LITTLE


def keeps(library: Library, question: Question, found: Assessment) -> bool:
    """Whether a route keeps every limit on whole routes."""
    limits = question.limits
    if question.may_lack and len(found.missing) > question.may_lack:
        return False
    if question.state is not None and not strong_enough(question.state, found):
        return False
    if limits.measures and not prefer.keeps(limits.measures, found):
        return False
    for limit in ROUTE_LIMITS:
        most = getattr(limits, limit.name)
        if most is not None and not limit.holds(most, found):
            return False
    for aspect, points in limits.max_hazard:  # amounts and the solutions drawn may add points
        aspects: Sequence[str] = ASPECTS if aspect == "any" else (aspect,)
        if any(found.hazards[each][0] > points for each in aspects):
            return False
    return all(
        any(steering.covers(library, name, d.supply) for d in found.amounts.draws)
        for name in limits.use
    )
