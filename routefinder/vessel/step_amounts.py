"""The amounts of a route as data: what goes into each step, comes out, and is drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from routefinder.graph.needs import Need
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.course import Course
from routefinder.vessel.durations import StepTimes
from routefinder.vessel.feed import Feed
from routefinder.vessel.stream import Stream, total


@dataclass(frozen=True)
class Outcome:
    """One thing that comes out of a step: kept for the route, surplus, gas, or leavings.

    ``fate`` is "product", "along" (goes on with the product), "used" (feeds a later step),
    "surplus" (recovered, not used), "gas", "steam", "waste", "lost" (of the main product) or
    "unreacted".
    """

    substance: str
    state: str
    moles: float
    mass_g: float
    fate: str


@dataclass(frozen=True)
class StepAmounts:
    """One step of a route with its amounts.

    ``turns`` is moles of the equation as written; ``over_mol`` is main product beyond what later
    steps take, where a step is run for what it makes beside it. ``course`` is what its vessel
    holds, stage by stage; ``brought`` what comes with the solution of an earlier step besides the
    species that is fed, by that; ``unnamed_g`` and ``unnamed_onward_g`` what is left over, and what
    goes on with the product, of what the library has no substance for. ``times`` are those of all
    in one batch, in a usual furnace; with the bench's own heater: ``assessment.heat``.
    """

    step: ResolvedStep
    turns: float
    yield_: float
    feeds: tuple[Feed, ...]
    outcomes: tuple[Outcome, ...]
    unnamed_g: float
    course: Course
    brought: Mapping[str, Stream] = field(default_factory=dict)
    unnamed_onward_g: float = 0.0
    over_mol: float = 0.0
    unnamed_used_g: float = 0.0
    times: StepTimes = field(kw_only=True)

    def __repr__(self) -> str:
        return (
            f"<StepAmounts {self.step.id}: {self.product.mass_g:g} g of {self.product.substance}>"
        )

    @property
    def along(self) -> Stream:
        """All that comes with solutions of earlier steps besides the species themselves."""
        return total(self.brought.values())

    @property
    def over_share(self) -> float:
        """The part of the main product that nothing takes."""
        return self.over_mol / self.product.moles if self.over_mol else 0.0

    @property
    def over_g(self) -> float:
        """Main product that nothing takes."""
        return self.over_share * self.product.mass_g

    @property
    def kept(self) -> tuple[Outcome, ...]:
        """What is recovered and not used, main product beyond what is taken first."""
        made = self.product
        over = Outcome(made.substance, made.state, self.over_mol, self.over_g, "surplus")
        rest = tuple(o for o in self.outcomes if o.fate == "surplus")
        return (over, *rest) if self.over_mol else rest

    @property
    def mass_in_g(self) -> float:
        """Everything that goes in; of air and bought gases what reacts."""
        taken = sum(float(point.taken.in_phases("g")) for point in self.course.points)
        charged = self.course.charge
        put_in = charged.contents.mass_g + charged.after.mass_g + charged.wash.mass_g
        return float(put_in) + taken

    @property
    def mass_out_g(self) -> float:
        """Everything that comes out."""
        return (
            sum(o.mass_g for o in self.outcomes)
            + self.unnamed_g
            + self.unnamed_onward_g
            + self.unnamed_used_g
        )

    @property
    def product(self) -> Outcome:
        """The main product as isolated."""
        return next(o for o in self.outcomes if o.fate == "product")

    @property
    def theoretical_g(self) -> float:
        """The most that the main product can weigh: all of the limiting reactant turned."""
        return self.product.mass_g / self.yield_


@dataclass(frozen=True)
class Draw:
    """A material taken from the shelf for the whole route."""

    supply: Supply
    moles: float
    mass_g: float
    as_weighed_g: float
    reactant: bool

    @property
    def volume_mL(self) -> float | None:  # noqa: N802
        """Volume of a liquid as measured, when its density is known."""
        if self.supply.form in {"solution", "liquid"} and self.supply.density_g_mL:
            return self.as_weighed_g / self.supply.density_g_mL
        return None


@dataclass(frozen=True)
class Amounts:
    """All amounts of a route for one target amount.

    ``last`` is the step that makes the target, ``form`` what it makes it as (dissolved, another
    hydrate may stand for it), ``goal`` the need that this meets. ``supplies`` are all that could be
    taken.
    """

    target: str
    target_g: float
    last: str
    form: str
    goal: Need
    steps: tuple[StepAmounts, ...]
    draws: tuple[Draw, ...]
    limits: str = ""
    providers: dict[tuple[str, Need], Supply | str] = field(default_factory=dict)
    supplies: tuple[Supply, ...] = ()

    def __repr__(self) -> str:
        return f"<Amounts: {self.target_g:g} g of {self.target} in {len(self.steps)} steps>"
