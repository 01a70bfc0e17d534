"""The amounts of a route as data: what goes into each step, comes out, and is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field

from routefinder.graph.needs import Need
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply


@dataclass(frozen=True)
class Feed:
    """One thing that goes into a step.

    ``moles`` and ``mass_g`` are of the species in the equation; ``companions_g`` is what comes
    with it (crystal water, solvent, impurities), ``water_g`` the water in that. ``origin`` is a
    supply or an earlier step. ``role`` is "reactant" or the role of an auxiliary. ``excess_mol`` is
    fed beyond the equation. ``spared_g`` is solvent water that need not be added, because
    something brings it; ``from_solution_g`` is water of the equation that something brings: it is
    not drawn from the shelf. ``after`` goes in when the reaction is over.
    """

    substance: str
    form: str
    moles: float
    mass_g: float
    companions_g: float
    origin: Supply | str
    role: str
    excess_mol: float = 0.0
    recovered_g: float = 0.0
    water_g: float = 0.0
    spared_g: float = 0.0
    from_solution_g: float = 0.0
    after: bool = False

    @property
    def as_weighed_g(self) -> float:
        """What the balance shows: species, crystal water and impurities together."""
        return self.mass_g + self.companions_g

    @property
    def drawn_g(self) -> float:
        """What is really put in, as weighed: without what something else brings."""
        return self.as_weighed_g - self.from_solution_g


@dataclass(frozen=True)
class Outcome:
    """One thing that comes out of a step: kept for the route, surplus, gas, or leavings.

    ``fate`` is "product", "used" (feeds a later step), "surplus" (recovered, not used), "gas",
    "waste", "lost" (of the main product) or "unreacted".
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
    steps take, where a step is run for what it makes beside it.
    """

    step: ResolvedStep
    turns: float
    yield_: float
    feeds: tuple[Feed, ...]
    outcomes: tuple[Outcome, ...]
    companions_g: float
    companion_water_g: float
    over_mol: float = 0.0

    @property
    def over_g(self) -> float:
        """Main product that nothing takes."""
        return self.over_mol / self.product.moles * self.product.mass_g if self.over_mol else 0.0

    @property
    def kept(self) -> tuple[Outcome, ...]:
        """What is recovered and not used, main product beyond what is taken first."""
        made = self.product
        over = Outcome(made.substance, made.state, self.over_mol, self.over_g, "surplus")
        rest = tuple(o for o in self.outcomes if o.fate == "surplus")
        return (over, *rest) if self.over_mol else rest

    @property
    def mass_in_g(self) -> float:
        """Everything that goes in."""
        return sum(f.as_weighed_g for f in self.feeds)

    @property
    def mass_out_g(self) -> float:
        """Everything that comes out."""
        return sum(o.mass_g for o in self.outcomes) + self.companions_g

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
    """All amounts of a route for one target amount; ``last`` is the step that makes the target."""

    target: str
    target_g: float
    last: str
    steps: tuple[StepAmounts, ...]
    draws: tuple[Draw, ...]
    limits: str = ""
    providers: dict[tuple[str, Need], Supply | str] = field(default_factory=dict)
