"""One thing that goes into a step, as data."""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.records.shelf import Supply


@dataclass(frozen=True)
class Feed:
    """One thing that goes into a step.

    ``moles`` and ``mass_g`` are of the species in the equation; ``companions_g`` is what comes
    with it (crystal water, solvent, impurities), ``water_g`` the water in that. ``origin`` is a
    supply or an earlier step. ``role`` is "reactant" or the role of an auxiliary. ``excess_mol`` is
    fed beyond the equation. ``spared_g`` is solvent water that need not be added, because
    something brings it (below 0: water that is added beyond what the step calls for, so that an
    acid or a lye is no stronger than it allows); ``from_solution_g`` is water of the equation that
    something brings: it is not drawn from the shelf. ``after`` goes in when the reaction is over.
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
