"""How the weight of a step's charge depends on its conversion, read off the vessel's course.

**Weighed through**: everything solid stays in the vessel and only gas or water leaves or joins
(heating, drying, roasting, slaking). The vessel is run at no conversion and at full conversion of
what was weighed in, companions and all (``vessel.course``); per gram weighed in, ``start`` is left
at no conversion and a further share ``s`` leaves at full conversion (below 0: is gained), so that

    out(x) = in (start - s x),      x = (start in - out) / (in s)

**Isolated**: the product is filtered off or crystallises; then the weight over the ceiling (all of
the limiting reactant turned and caught) is the yield, and conversion and loss cannot be told apart.

**Blind**: the product stays in solution, or the vessel weighs the same at no and at full
conversion: the weight says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.journal.weight import Charge
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel import charge as vessel_charge
from routefinder.vessel import course
from routefinder.vessel.stages import stages_of

WATER = "H2O"
STAYS = ("flux", "catalyst")  # auxiliaries that stay in the charge
BURNS = ("fuel",)  # auxiliaries that are gone when it is weighed
LEAST = 1e-6  # a smaller change per gram than this is none


@dataclass(frozen=True)
class MassModel:
    """``way`` is "through", "isolated" or "blind"; ``why`` says why it is blind.

    Through: ``share`` is s above, ``start`` what is left of a gram when nothing has turned.
    Isolated: ``ceiling_g`` is the most of the pure dry product, None for a recipe, whose product
    has no theoretical amount; ``full_g`` is what a yield of 1 means. ``turns`` are moles of the
    equation that the charge allows.
    """

    way: str
    share: float
    turns: float
    full_g: float
    ceiling_g: float | None
    why: str = ""
    limited_by: str = ""
    notes: tuple[str, ...] = ()
    start: float = 1.0

    def weight_at(self, in_g: float, extent: float) -> float:
        """The weight to see at this extent (0 to 1), in g."""
        if self.way == "through":
            return in_g * (self.start - self.share * extent)
        return self.full_g * extent

    def extent_at(self, in_g: float, out_g: float) -> float:
        """The extent that this weight means; the inverse of ``weight_at``."""
        if self.way == "through":
            return (in_g * self.start - out_g) / (in_g * self.share)
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
    material = charge.supply or Supply("", charge.name, "solid", {}, charge.form)
    pure = {**material.fractions, charge.form: charge.purity}
    weighed = vessel_charge.weighed(library, step, material, pure, charge.form)
    names = [
        substances[p.substance].name
        for p in step.reactants
        if p.state == "s" and p.substance != step.limiting.substance
    ]
    names += [substances[a.substance].name for a in step.aids if a.role in STAYS]
    apart = sum(a.mass_g * step.limiting.moles for a in step.aids if a.role in BURNS)
    apart += sum(
        p.moles * (1 + step.excess.get(p.substance, 0.0)) * substances[p.substance].molar_mass_g
        for p in step.reactants
        if p.state == "l"
    )
    per_turn = float(weighed.contents.mass_g) - apart  # what is weighed as the charge, for one turn
    notes: tuple[str, ...] = ()
    if names:
        turns = charge.reading.grams / per_turn
        notes = (
            f"what was weighed in counts as the whole charge, {charge.name} with "
            f"{', '.join(names)} in the step's proportions",
        )
    none, full = (
        float(course.run(library, step, weighed, course.Behaviour(x, 1.0, False)).product.solids_g)
        for x in (0.0, 1.0)
    )
    share = (none - full) / per_turn
    if abs(share) < LEAST:
        alone = stages_of(library, step).alone
        why = "nothing leaves or joins, so the charge weighs the same before and after"
        if alone:
            gone = " and ".join(substances[s.limiting.substance].name for s in alone)
            why = (
                f"{gone} loses its gas in this heat whether it combines or not, so the charge "
                "weighs the same either way"
            )
        return MassModel("blind", 0.0, turns, main_g * turns, None, why, limited_by, notes)
    return MassModel(
        "through", share, turns, main_g * turns, main_g * turns, "", limited_by, notes,
        none / per_turn,
    )  # fmt: skip
