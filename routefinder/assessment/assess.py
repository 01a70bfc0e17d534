"""All measures of one route together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from routefinder.assessment import (
    batches,
    controls,
    cost,
    equipment,
    forward,
    hazards,
    time,
    waste,
    yields,
)
from routefinder.assessment.carried import Carried, carried
from routefinder.assessment.ending import EndState, end_state
from routefinder.assessment.measure import MEASURES, Measure
from routefinder.assessment.purity import Purity, purity
from routefinder.assessment.surprises import Surprise, surprises
from routefinder.hazards import danger, score
from routefinder.hazards.controls import Controlled
from routefinder.hazards.set_up import set_up
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench, Supply
from routefinder.vessel import linked, water
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts, Draw


@dataclass(frozen=True)
class Assessment:
    """A route with everything that is known about it for one target amount.

    ``marginal`` are (step id, sentence): what wears a vessel or a furnace of the bench. ``links``
    say of each solid between two steps how it goes on, where that was asked.
    """

    library: Library
    steps: tuple[ResolvedStep, ...]
    amounts: Amounts
    overall: tuple[yields.OverallYield, ...]
    hands_on_min: float
    elapsed_min: float
    peak_C: float
    cost: Measure
    needed: tuple[equipment.Needed, ...]
    bench_given: bool
    profiles: Mapping[str, score.Profile]
    hazards: Mapping[str, tuple[int, str, str]]
    waste: waste.Waste
    strengths: Mapping[str, float]
    controlled: tuple[Controlled, ...] = ()
    batched: tuple[batches.Batches, ...] = ()
    marginal: tuple[tuple[str, str], ...] = ()
    links: tuple[linked.Handover, ...] = ()
    carried: Carried | None = None

    def __repr__(self) -> str:
        return f"<Assessment of {', '.join(self.ids)}>"

    @property
    def ids(self) -> tuple[str, ...]:
        """Step ids in order."""
        return tuple(s.id for s in self.steps)

    @property
    def limiting_yield(self) -> yields.OverallYield | None:
        """The overall yield on the limiting starting material."""
        return next((y for y in self.overall if y.limits), None)

    @property
    def chain_yield(self) -> float:
        """Overall yield on the limiting starting material (product of its branch when free)."""
        found = self.limiting_yield
        if found is not None:
            return found.typical
        total = 1.0
        for s in self.steps:
            total *= s.record.yield_.typical
        return total

    @cached_property
    def purity(self) -> Purity:
        """How pure what it makes is, as computed."""
        return purity(self.library, self.amounts)

    @cached_property
    def surprises(self) -> tuple[Surprise, ...]:
        """What work it holds that its titles do not tell."""
        return surprises(self.library, self.amounts)

    @cached_property
    def ends(self) -> EndState:
        """In what state the route leaves its target."""
        return end_state(self.library, self.amounts)

    @cached_property
    def dangers(self) -> tuple[danger.Danger, ...]:
        """What is dangerous in it, in words, the greatest first; of each aspect the worst step."""
        return danger.of_route(self.profiles)

    @property
    def worst_danger(self) -> danger.Danger | None:
        """The first of ``dangers``; None when nothing has points."""
        return next(iter(self.dangers), None)

    @property
    def missing(self) -> tuple[equipment.Needed, ...]:
        """Needs that the bench does not meet."""
        return tuple(n for n in self.needed if n.tool is None) if self.bench_given else ()

    @property
    def licensed(self) -> tuple[Controlled, ...]:
        """Materials above a limit: who takes them needs a licence."""
        return tuple(c for c in self.controlled if c.licence)

    @property
    def runs_out_first(self) -> tuple[Draw, float] | None:
        """The material that covers the least of the plan, and how many times it covers it."""
        return forward.runs_out_first(self.amounts)

    @property
    def overall_yield(self) -> Measure:
        """The overall yield in per cent, on what is carried (``assessment.carried``).

        Where the target has no formula, on the limiting starting material.
        """
        if self.carried is not None:
            ends = {
                name: {y.supply.id: getattr(y, name) for y in self.overall}
                for name in ("low", "typical", "high")
            }
            low, typical, high = (
                100 * self.carried.at(ends["typical"], ends[name])
                for name in ("low", "typical", "high")
            )
            return Measure("yield", "%", "more", typical, low, high)
        found = self.limiting_yield
        low = found.low * 100 if found is not None and found.low else None
        high = found.high * 100 if found is not None and found.high else None
        return Measure("yield", "%", "more", self.chain_yield * 100, low, high)

    def measures(self) -> dict[str, Measure]:
        """The measures to compare by, each with its unit and which way is better."""
        return {key: kind.measure(self) for key, kind in MEASURES.items()}

    @property
    def hazard_sum(self) -> int:
        """Points of all aspects of the route's profile, for ordering only."""
        return sum(points for points, _, _ in self.hazards.values())


def assess(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
    target: str,
    target_g: float,
    bench: Bench | None,
    strengths: Mapping[str, float] | None = None,
    carry: str = "no",
) -> Assessment:
    """Assess one route; ``steps`` in a workable order.

    ``carry`` is one of ``records.question.CARRY``: the library and steps of the assessment are then
    those with the stages that are left (``vessel.linked``).

    ``strengths`` are the mass fractions of the solutions used, per family root.
    """
    links: tuple[linked.Handover, ...] = ()
    if carry != "no":
        library, steps, links = linked.carried(library, steps, supplies, target, target_g, carry)
    found = amounts(library, steps, supplies, target, target_g)
    made = () if bench is None else batches.batches(library, found, bench)
    hands_on, elapsed = time.times_min(found, made)
    liquors = water.liquors(library, found)
    own = {a.step.id: hazards.points(library, a, liquors) for a in found.steps}
    return Assessment(
        library,
        tuple(steps),
        found,
        yields.overall(library, found),
        hands_on,
        elapsed,
        max(s.heat_C for s in steps),
        cost.material_cost(found),
        equipment.needed(library, steps, bench, {b.step: b.vessels for b in made}),
        bench is not None,
        own,
        score.worst(own),
        waste.waste(found),
        strengths or {},
        controls.controlled(library, found),
        tuple(made),
        ()
        if bench is None
        else tuple((s.id, why) for s in steps for why in set_up(library, s, bench).marginal),
        links,
        carried(library, found),
    )
