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

**What was weighed in**: everything that was, each as it was; of several reactants the scarcest
limits. What nobody weighed counts as the step's equation and excesses ask for it, pure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routefinder.journal.weight import BURNS, WATER, Charge, Reading, goes_through, several_solids
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel import charge as vessel_charge
from routefinder.vessel import course
from routefinder.vessel.feed import Feed
from routefinder.vessel.make_up import spared
from routefinder.vessel.stages import stages_of

LEAST = 1e-6  # a smaller change per gram than this is none


@dataclass(frozen=True)
class MassModel:
    """``way`` is "through", "isolated" or "blind"; ``why`` says why it is blind.

    Through: ``share`` is s above, ``start`` what is left of a gram when nothing has turned, and
    ``held`` the grams of product in the vessel per gram weighed in, at no and at full conversion.
    Isolated: ``ceiling_g`` is the most of the pure dry product, None for a recipe, whose product
    has no theoretical amount; ``full_g`` is what a yield of 1 means (less than the ceiling where
    the strength of what came from a step before is only reckoned). ``turns`` are moles of the
    equation that the charge allows; ``weighed`` all that was weighed of it, as one reading.
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
    held: tuple[float, float] = (0.0, 1.0)
    weighed: Reading = Reading(1.0, 1.0)  # noqa: RUF009  (frozen)

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

    def product_at(self, extent: float) -> float:
        """Grams of the product in a gram of what the vessel holds at this extent (0 to 1)."""
        if self.way != "through":
            return 1.0
        none, full = self.held
        return (none + (full - none) * extent) / (self.start - self.share * extent)


def model(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    others: tuple[Charge, ...] = (),
) -> MassModel:
    """How the weight of this step depends on its extent, for what was weighed in.

    ``charge`` and ``others`` are what was weighed in, each alone; or ``charge`` stands for the
    whole charge in the step's proportions (``Charge.whole``).
    """
    substances = library.substances
    turns, most, limited_by = _turns(library, step, (charge, *others))
    weighed = charge.reading
    main_g = step.main.moles * substances[step.main.substance].molar_mass_g
    if step.main.state == "aq" or step.main.state == "g":
        made = "stays in solution" if step.main.state == "aq" else "is a gas"
        return MassModel(
            "blind", 0.0, turns, main_g * turns, None if step.is_recipe else main_g * most,
            f"the product {made}", limited_by, weighed=weighed,
        )  # fmt: skip
    if goes_through(library, step):
        return _through(library, step, (charge, *others), turns, main_g, limited_by)
    ceiling = None if step.is_recipe else main_g * most
    return MassModel(
        "isolated", 0.0, turns, main_g * turns, ceiling, "", limited_by, weighed=weighed
    )


def _of(library: Library, part: Part, charges: tuple[Charge, ...]) -> list[Charge]:
    """What was weighed in of a reactant."""
    root = library.root(part.substance)
    return [
        c
        for c in charges
        if not c.whole and c.role == "reactant" and c.form in library.substances
        and library.root(c.form) == root
    ]  # fmt: skip


def _turns(
    library: Library, step: ResolvedStep, charges: tuple[Charge, ...]
) -> tuple[float, float, str]:
    """(turns that what was weighed in allows, turns at its greatest strength, what limits)."""
    found: list[tuple[float, float, str]] = []
    limiting = bool(_of(library, step.limiting, charges))
    for part in step.reactants:
        mine = _of(library, part, charges)
        if not mine:
            continue
        per = part.moles
        if not limiting:  # then the step's proportions say how much of the limiting one went in
            per *= 1 + step.excess.get(part.substance, 0.0)
        moles = sum(c.moles(library) for c in mine)
        most = sum(c.moles(library) * ((c.most or c.purity) / c.purity) for c in mine)
        found.append((moles / per, most / per, mine[0].name))
    if found:
        return (*min(f[:2] for f in found), min(found)[2])
    one = charges[0]
    turns = one.moles(library) / step.limiting.moles
    return turns, turns, one.name


def _is_solid(library: Library, step: ResolvedStep, charge: Charge) -> bool:
    """Whether a charge is weighed with what comes out: no water, no fuel."""
    if charge.role in BURNS or library.substances[charge.form].formula == WATER:
        return False
    states = {library.root(p.substance): p.state for p in step.reactants}
    return states.get(library.root(charge.form), "s") == "s"


def _feeds(
    library: Library, step: ResolvedStep, charges: tuple[Charge, ...], turns: float
) -> tuple[list[Feed], list[str]]:
    """What goes into the vessel, and the names of the solids that nobody weighed."""
    feeds: list[Feed] = []
    lacking = []
    for part in step.reactants:
        if part.state == "g":
            continue
        mine = _of(library, part, charges)
        feeds += [_weighed(library, part.substance, c) for c in mine]
        if not mine:
            extra = step.excess.get(part.substance, 0.0)
            extra = 0.0 if part.substance == step.limiting.substance else extra
            feeds.append(
                vessel_charge.pure(
                    library, part.substance, part.moles * turns * (1 + extra), "reactant"
                )
            )
            if part.state == "s":
                lacking.append(library.name(part.substance))
    for aid in step.aids:
        mine = [
            c for c in charges if not c.whole and c.role == aid.role and c.form == aid.substance
        ]
        feeds += [_weighed(library, aid.substance, c) for c in mine]
        if not mine:
            moles = aid.mass_g * step.limiting.moles * turns
            moles /= library.substances[aid.substance].molar_mass_g
            feeds.append(vessel_charge.pure(library, aid.substance, moles, aid.role))
            if aid.role not in BURNS:
                lacking.append(library.name(aid.substance))
    return feeds, lacking


def _weighed(library: Library, substance: str, charge: Charge) -> Feed:
    material = charge.supply or Supply("", charge.name, "solid", {}, charge.form)
    shares = {k: v for k, v in material.fractions.items() if k != charge.form}
    room = 1.0 - charge.purity
    rest = sum(shares.values())
    if rest > room > 0 or (rest and room <= 0):  # measured purer than the material is sold
        shares = {k: v * room / rest for k, v in shares.items()}
    supply = Supply(
        material.id, material.name, material.form, {charge.form: charge.purity, **shares},
        charge.form, others=material.others if rest <= room else {}, fates=material.fates,
    )  # fmt: skip
    moles = charge.moles(library)
    pure = moles * library.substances[substance].molar_mass_g
    crystal = moles * library.substances[charge.form].molar_mass_g - pure
    loose = 0.0
    if supply.form in {"solution", "liquid"}:
        named = sum(supply.fractions.values()) + sum(supply.others.values())
        loose = charge.reading.grams * max(1 - named, 0.0)
    return Feed(
        substance, charge.form, moles, pure, charge.reading.grams - pure, supply, charge.role,
        water_g=crystal + loose,
    )  # fmt: skip


def _through(
    library: Library,
    step: ResolvedStep,
    charges: tuple[Charge, ...],
    turns: float,
    main_g: float,
    limited_by: str,
) -> MassModel:
    notes: tuple[str, ...] = ()
    whole = next((c for c in charges if c.whole), None)
    if whole is not None:
        turns = whole.reading.grams / _whole_g(library, step)
        charges = tuple(c for c in charges if not c.whole)
        weighed = whole.reading
    else:
        solid = [c.reading for c in charges if _is_solid(library, step, c)]
        solid = solid or [charges[0].reading]
        weighed = Reading(sum(r.grams for r in solid), math.sqrt(sum(r.reads_g**2 for r in solid)))
    feeds, lacking = _feeds(library, step, () if whole else charges, turns)
    if whole is not None and several_solids(library, step):
        names = [library.name(p.substance) for p in step.reactants if p.state == "s"]
        names += [library.name(a.substance) for a in step.aids if a.role not in BURNS]
        notes = (
            f"what was weighed in counts as the whole charge: {', '.join(names)} in the step's "
            "proportions",
        )
    elif lacking:
        notes = (f"nobody weighed {', '.join(lacking)}: taken as the step asks for it",)
    put_in = vessel_charge.charge_of(library, step, feeds, turns, {})
    products = [
        course.run(library, step, put_in, course.Behaviour(x, 1.0, False)).product
        for x in (0.0, 1.0)
    ]
    none, full = (float(p.solids_g) for p in products)
    held = tuple(float(p.grams(step.main.substance)) / weighed.grams for p in products)
    share = (none - full) / weighed.grams
    if abs(share) < LEAST:
        alone = stages_of(library, step).alone
        why = "nothing leaves or joins, so the charge weighs the same before and after"
        if alone:
            gone = " and ".join(library.substances[s.limiting.substance].name for s in alone)
            why = (
                f"{gone} loses its gas in this heat whether it combines or not, so the charge "
                "weighs the same either way"
            )
        return MassModel(
            "blind", 0.0, turns, main_g * turns, None, why, limited_by, notes,
            none / weighed.grams, (held[0], held[1]), weighed,
        )  # fmt: skip
    return MassModel(
        "through", share, turns, main_g * turns, main_g * turns, "", limited_by, notes,
        none / weighed.grams, (held[0], held[1]), weighed,
    )  # fmt: skip


def vessel(
    library: Library, step: ResolvedStep, charges: tuple[Charge, ...], turns: float
) -> course.Charge:
    """What goes into the vessel: what was weighed in, and the rest as the step asks for it.

    Water that solutions bring is not added again.
    """
    feeds, _ = _feeds(library, step, charges, turns)
    feeds = [f for f in feeds if f.moles > 0]
    made_up = spared(library, step, turns, feeds, {})
    return vessel_charge.charge_of(library, step, made_up, turns, {})


def _whole_g(library: Library, step: ResolvedStep) -> float:
    """What one turn's solids weigh together, pure, in the step's proportions."""
    out = sum(
        p.moles
        * (1 + (step.excess.get(p.substance, 0.0) if p != step.limiting else 0.0))
        * library.substances[p.substance].molar_mass_g
        for p in step.reactants
        if p.state == "s"
    )
    return out + sum(a.mass_g * step.limiting.moles for a in step.aids if a.role not in BURNS)
