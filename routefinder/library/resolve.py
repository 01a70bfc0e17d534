"""Steps and materials with every name resolved to a substance and every amount a number."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from routefinder.records.capability import ROOM_C, Capability
from routefinder.records.material import Material
from routefinder.records.step import Step


@dataclass(frozen=True, slots=True)
class Part:
    """One reactant or product: moles per turn of the equation (grams for mixtures)."""

    substance: str
    moles: float
    state: str


@dataclass(frozen=True, slots=True)
class Aid:
    """An auxiliary: grams per mole of the limiting reactant; ``after``: once it has reacted."""

    substance: str
    role: str
    mass_g: float
    recovered: float
    at_least: float
    after: bool = False


@dataclass(frozen=True)
class ResolvedStep:
    """A step as the engine uses it; ``record`` is the step as written.

    ``strength`` is the least mass fraction at which a dissolved reactant does, ``at_most`` the
    greatest, both in the vessel before the reaction (``library.pot``). ``charged`` is, of what does
    not all go in with the first charge, the places of the stages in which it does, with its share.
    ``fineness`` is how finely divided a bought reactant should be (``records.material.FINENESS``),
    ``pure`` its least mass fraction.
    """

    record: Step
    reactants: tuple[Part, ...]
    products: tuple[Part, ...]
    main: Part
    limiting: Part
    excess: dict[str, float]
    strength: dict[str, float]
    recovered: dict[str, float]
    dissolved: dict[str, float]
    aids: tuple[Aid, ...]
    at_most: dict[str, float] = field(default_factory=dict)
    charged: dict[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)
    fineness: dict[str, tuple[str, ...]] = field(default_factory=dict)
    pure: dict[str, float] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<Step {self.record.id}: {self.record.title}>"

    @property
    def id(self) -> str:
        return self.record.id

    @property
    def title(self) -> str:
        return self.record.title

    def charges_of(self, substance: str) -> tuple[tuple[int, float], ...]:
        """(place of the stage, share) of each time something goes in; 0 is the first charge."""
        return self.charged.get(substance, ((0, 1.0),))

    @property
    def heat_C(self) -> float:  # noqa: N802
        """The usual working heat: the window's lower end, or the heat that the record names.

        What may stand at room temperature is there before it is cooled.
        """
        heats = [
            limit
            for need in self.record.equipment
            if need.name in {"heat-liquid", "heat-dry", "open-flame"}
            and (limit := need.limit("to")) is not None
        ]
        window = self.record.temperature
        return max([window.low_C, min(window.high_C, ROOM_C), *heats])

    @cached_property
    def evaporates_C(self) -> float:  # noqa: N802
        """How hot the liquor may be while its water is taken off: as its stage says, else as hot
        as the window and the named heats allow.
        """
        stages = [s for s in self.record.stages if s.kind == "boil down"]
        said = [s.hottest_C for s in stages if s.hottest_C is not None]
        return max(said, default=max(self.heat_C, self.record.temperature.high_C))

    @cached_property
    def dry_heat(self) -> bool:
        """Whether a solid charge is heated dry: no solution or liquid reacts, and nothing wets."""
        heated = any(n.name in {"heat-dry", "open-flame"} for n in self.record.equipment)
        damp = any(p.state == "aq" for p in (*self.reactants, self.main))
        wetted = any(a.role in {"solvent", "medium"} for a in self.aids)
        return heated and not damp and not wetted

    @cached_property
    def needs(self) -> tuple[Capability, ...]:
        """What the bench must meet. Of a dry heat the window decides, not the heat that is usual:
        where the record's figure lies within it, its lower end is enough.
        """
        low, high = self.record.temperature.low_C, self.record.temperature.high_C
        out = []
        for need in self.record.equipment:
            to = need.limit("to")
            if need.name == "heat-dry" and self.dry_heat and to is not None and low < to <= high:
                limits = tuple((k, low if k == "to" else v) for k, v in need.limits)
                need = need.model_copy(update={"limits": limits})
            out.append(need)
        return tuple(out)

    @property
    def least_C(self) -> float:  # noqa: N802
        """The lowest heat that will do: ``heat_C`` by the needs as the window has them."""
        heats = [
            limit
            for need in self.needs
            if need.name in {"heat-liquid", "heat-dry", "open-flame"}
            and (limit := need.limit("to")) is not None
        ]
        window = self.record.temperature
        return max([window.low_C, min(window.high_C, ROOM_C), *heats])

    @property
    def is_recipe(self) -> bool:
        """Whether amounts are by mass, without a theoretical yield."""
        return self.record.recipe is not None

    def kept(self) -> tuple[Part, ...]:
        """The products that can feed another step: the main one and those recovered."""
        return self._kept

    @cached_property
    def _kept(self) -> tuple[Part, ...]:
        return tuple(
            p
            for p in self.products
            if p.substance == self.main.substance or self.recovered.get(p.substance, 0.0) > 0
        )


@dataclass(frozen=True)
class ResolvedMaterial:
    """A material with its contents as mass fractions (g of substance per g of material).

    ``others`` are mass fractions of what is no substance of the library, by its words; ``fates``
    what becomes of what comes along, by substance id or words.
    """

    record: Material
    fractions: dict[str, float]
    low: dict[str, float]
    high: dict[str, float]
    others: dict[str, float] = field(default_factory=dict)
    fates: dict[str, str] = field(default_factory=dict)

    @property
    def id(self) -> str:
        return self.record.id

    @property
    def dissolved(self) -> bool:
        """Whether the contents are in solution (they then serve dissolved reactants only)."""
        return self.record.form == "solution"

    @property
    def main(self) -> str:
        """The substance that counts: the first that is named."""
        return self.record.contains[0].substance
