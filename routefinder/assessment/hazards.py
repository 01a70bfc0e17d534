"""Hazard points of a step as it will be done: with the materials charged, the gas and the heat.

The search knows no amounts and takes, of several solutions on the shelf, the weakest. Here each
material counts as it is charged, a feed at the strength of what it is drawn from or of the liquor
that an earlier step made (pure where the step boils it down), what the step makes dissolved as
strong as its course has it, and the litres of
gas and kilojoules of the whole amount, done as one batch, may add a point
(``hazards.score.raised``). A limit on an aspect is held against these points too, so that no route
passes that exceeds it.
"""

from __future__ import annotations

from collections.abc import Mapping

from routefinder.chem.thermo import gas_volume_L
from routefinder.hazards import score
from routefinder.hazards.mixture import concentrates
from routefinder.library import fumes
from routefinder.library.contents import contents
from routefinder.library.crops import boils_down
from routefinder.library.library import Library
from routefinder.records.shelf import Supply
from routefinder.vessel import volume
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.water import Liquor


def strengths(
    library: Library, amount: StepAmounts, made: Mapping[str, Liquor]
) -> dict[str, float]:
    """Per family root, the mass fraction of the solution a feed is drawn from.

    ``made`` are the liquors of the route by step (``vessel.water.liquors``).
    """
    out: dict[str, float] = {}
    for feed in amount.feeds:
        supply = feed.origin
        if isinstance(supply, str):
            if supply in made and not boils_down(amount.step):
                root = library.root(feed.substance)
                out[root] = max(out.get(root, 0.0), made[supply].strength)
            continue
        if supply.form not in {"solution", "liquid"}:
            continue
        root = library.root(feed.form)
        out[root] = max(out.get(root, 0.0), supply.fractions[feed.form])
    return out


def inside(library: Library, amount: StepAmounts) -> dict[str, float]:
    """How strong each dissolved substance stands in the vessel at the most, by the course."""
    step = amount.step
    if concentrates(step):
        return {}
    found = volume.strengths(step, amount.course)
    names = [p.substance for p in (*step.reactants, *step.products) if p.state == "aq"]
    names += [aid.substance for aid in step.aids]
    out = {}
    for name in names:
        root = library.root(name)
        if root in found:
            more = library.substances[name].molar_mass_g / library.substances[root].molar_mass_g
            out[name] = min(found[root] * more, 1.0)
    return out


def charged(amount: StepAmounts) -> tuple[Supply, ...]:
    """The materials that are weighed or poured in, each once; water and air left out."""
    found = (f.origin for f in amount.feeds if not isinstance(f.origin, str))
    return tuple({s.id: s for s in found if not s.everywhere}.values())


def gases_L(library: Library, amount: StepAmounts) -> dict[str, tuple[str, float]]:  # noqa: N802
    """Formula -> (name, litres at 25 degC, 1 atm) of each gas; the record's own at its worst."""
    out: dict[str, tuple[str, float]] = {}
    for outcome in amount.outcomes:
        substance = library.substances[outcome.substance]
        if outcome.state == "g" and outcome.fate == "gas" and substance.formula:
            _, before = out.get(substance.formula, ("", 0.0))
            litres = before + gas_volume_L(outcome.moles)
            out[substance.formula] = (substance.name, litres)
    limiting_mol = amount.step.limiting.moles * amount.turns
    for fume in fumes.fumes(library, amount.step):
        mass = fume.molar_mass_g
        if fume.worst_g is not None and mass:
            name, before = out.get(fume.formula, (fume.name, 0.0))
            out[fume.formula] = (name, before + gas_volume_L(fume.worst_g * limiting_mol / mass))
    return out


def heat_kJ(library: Library, amount: StepAmounts) -> float | None:  # noqa: N802
    """Heat given off (above 0) or taken up by the whole amount, or None when not known."""
    found = contents(library, amount.step).heat_kJ
    return None if found is None else -found * amount.turns


def points(library: Library, amount: StepAmounts, made: Mapping[str, Liquor]) -> score.Profile:
    """The hazard profile of a step with its amounts; ``made`` as for ``strengths``."""
    found = score.profile(
        library, amount.step, strengths(library, amount, made), charged(amount),
        inside(library, amount),
    )  # fmt: skip
    return score.raised(found, gases_L(library, amount), heat_kJ(library, amount))
