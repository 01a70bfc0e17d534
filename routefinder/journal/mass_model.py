"""How the weight of a step's charge depends on its conversion.

**Weighed through**: everything solid stays in the vessel and only gas or water leaves or joins
(heating, drying, roasting, slaking). Per gram weighed in, a share ``s`` leaves at full conversion
(below 0: is gained), so that

    out(x) = in (1 - s x),      x = (in - out) / (in s)

with s = (mass of gas and water out - mass of gas and water in, per turn) / (mass charged per turn,
impurities included).

**Isolated**: the product is filtered off or crystallises; then the weight over the ceiling (all of
the limiting reactant turned and caught) is the yield, and conversion and loss cannot be told apart.

**Blind**: the product stays in solution, or nothing leaves: the weight says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.journal.weight import Charge
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

WATER = "H2O"
STAYS = ("flux", "catalyst")  # auxiliaries that stay in the charge
BURNS = ("fuel",)  # auxiliaries that are gone when it is weighed
LEAST = 1e-6  # a smaller change per gram than this is none


@dataclass(frozen=True)
class MassModel:
    """``way`` is "through", "isolated" or "blind"; ``why`` says why it is blind.

    Through: ``share`` is s above. Isolated: ``ceiling_g`` is the most of the pure dry product, None
    for a recipe, whose product has no theoretical amount; ``full_g`` is what a yield of 1 means.
    ``turns`` are moles of the equation that the charge allows.
    """

    way: str
    share: float
    turns: float
    full_g: float
    ceiling_g: float | None
    why: str = ""
    limited_by: str = ""
    notes: tuple[str, ...] = ()

    def weight_at(self, in_g: float, extent: float) -> float:
        """The weight to see at this extent (0 to 1), in g."""
        if self.way == "through":
            return in_g * (1 - self.share * extent)
        return self.full_g * extent

    def extent_at(self, in_g: float, out_g: float) -> float:
        """The extent that this weight means; the inverse of ``weight_at``."""
        if self.way == "through":
            return (in_g - out_g) / (in_g * self.share)
        return out_g / self.full_g


def _is_water(library: Library, substance: str) -> bool:
    return library.substances[substance].formula == WATER


def goes_through(library: Library, step: ResolvedStep) -> bool:
    """Whether all solids stay together and only gas or water leaves or joins."""
    if step.is_recipe or step.main.state != "s":
        return False
    for part in (*step.reactants, *step.products):
        if part.state not in {"s", "g"} and not (
            part.state == "l" and _is_water(library, part.substance)
        ):
            return False
    if step.limiting.state != "s":
        return False
    return all(aid.role in (*STAYS, *BURNS) for aid in step.aids)


def model(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    others: tuple[Charge, ...] = (),
) -> MassModel:
    """How the weight of this step depends on its extent, for what was weighed in.

    ``charge`` is the limiting reactant; for a step of several solids that are weighed together it
    is the whole charge in the equation's proportions (and excesses). ``others`` are further weighed
    reactants: the ceiling is what the scarcest of all allows.
    """
    substances = library.substances
    turns = charge.moles(library) / step.limiting.moles
    limited_by = charge.name
    for other in others:
        for part in step.reactants:
            if library.root(part.substance) == library.root(other.form):
                allows = other.moles(library) / part.moles
                if allows < turns:
                    turns, limited_by = allows, other.name
    if step.main.state == "aq" or step.main.state == "g":
        made = "stays in solution" if step.main.state == "aq" else "is a gas"
        return MassModel("blind", 0.0, turns, 0.0, None, f"the product {made}", limited_by)
    main_g = step.main.moles * substances[step.main.substance].molar_mass_g
    if goes_through(library, step):
        return _through(library, step, charge, turns, main_g, limited_by)
    full = main_g * turns
    return MassModel("isolated", 0.0, turns, full, None if step.is_recipe else full, "", limited_by)


def _through(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    turns: float,
    main_g: float,
    limited_by: str,
) -> MassModel:
    substances = library.substances
    leaves = sum(p.moles * substances[p.substance].molar_mass_g
                 for p in step.products if p.state != "s")  # fmt: skip
    leaves -= sum(p.moles * substances[p.substance].molar_mass_g
                  for p in step.reactants if p.state != "s")  # fmt: skip
    own = step.limiting.moles * substances[charge.form].molar_mass_g / charge.purity
    rest = 0.0
    names = []
    for part in step.reactants:
        if part.state == "s" and part.substance != step.limiting.substance:
            excess = 1 + step.excess.get(part.substance, 0.0)
            rest += part.moles * excess * substances[part.substance].molar_mass_g
            names.append(substances[part.substance].name)
    for aid in step.aids:
        if aid.role in STAYS:
            rest += aid.mass_g * step.limiting.moles
            names.append(substances[aid.substance].name)
    per_turn = own + rest
    notes: tuple[str, ...] = ()
    if rest:
        turns = charge.reading.grams / per_turn
        notes = (
            f"what was weighed in counts as the whole charge, {charge.name} with "
            f"{', '.join(names)} in the step's proportions",
        )
    share = leaves / per_turn
    if abs(share) < LEAST:
        return MassModel(
            "blind", 0.0, turns, main_g * turns, None,
            "nothing leaves or joins, so the charge weighs the same before and after",
            limited_by, notes,
        )  # fmt: skip
    return MassModel("through", share, turns, main_g * turns, main_g * turns, "", limited_by, notes)
