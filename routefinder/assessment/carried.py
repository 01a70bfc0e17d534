"""The overall yield on what is carried: atoms of the target's value in it, by atoms taken.

The value is the target's metal, its acid or its skeleton (``library.value``), the same for every
way to it, so that ways can be compared: cream of tartar with chalk alone leaves half the tartrate
behind, which the yield on the limiting starting material (its equation's half) does not show.
What is kept and not used counts as taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from routefinder.library import value as values
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.step_amounts import Amounts


@dataclass(frozen=True)
class Carried:
    """Atoms of ``value`` in the target per atom of it in what is taken from the shelf.

    ``value`` is a symbol or "organic carbon"; ``made_mol`` and ``taken_mol`` are moles of it for
    the asked amount; ``supplies`` is what brings it, the most first, with moles.
    """

    value: str
    made_mol: float
    taken_mol: float
    supplies: tuple[tuple[Supply, float], ...]

    @property
    def share(self) -> float:
        """The overall yield on what is carried."""
        return self.made_mol / self.taken_mol

    def at(self, typical: Mapping[str, float], other: Mapping[str, Any]) -> Any:
        """The yield where the overall yields by supply id are ``other`` instead of ``typical``."""
        taken = sum(
            moles * typical[s.id] / other[s.id] if s.id in typical and s.id in other else moles
            for s, moles in self.supplies
        )
        return self.made_mol / taken


def carried(library: Library, found: Amounts) -> Carried | None:
    """The overall yield on what is carried; None for a target without formula or value.

    None too where something that carries it has no formula, so that its atoms are not known.
    """
    value = values.value_of(library, found.target)
    if not value:
        return None
    feeds = {
        (a.step.id, f.substance): f for a in found.steps for f in a.feeds if f.role == "reactant"
    }

    def maker(step: ResolvedStep, part: Part) -> str | None:
        origin = feeds[step.id, part.substance].origin
        return origin if isinstance(origin, str) else None

    steps = {a.step.id: a.step for a in found.steps}
    taken: dict[str, tuple[Supply, float]] = {}
    molar = library.substances[found.target].molar_mass_g
    made = found.target_g / molar * values.holds(library, found.target, value)
    for step, product in values.makers(library, found.target, steps, found.last, maker):
        made *= values.brought(library, step, product, value)
    for step, part, origin in values.path(library, found.target, steps, found.last, maker):
        feed = feeds[step.id, part.substance]
        atoms = values.holds(library, feed.form, value)
        if not atoms or step.is_recipe:
            return None
        if origin is None and isinstance(feed.origin, Supply):
            supply, so_far = taken.get(feed.origin.id, (feed.origin, 0.0))
            taken[feed.origin.id] = (supply, so_far + feed.moles * atoms)
    total = sum(moles for _, moles in taken.values())
    ranked = sorted(taken.values(), key=lambda pair: -pair[1])
    return Carried(value, made, total, tuple(ranked)) if total else None
