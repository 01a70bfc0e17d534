"""How strong a thing stands in the vessel: the arithmetic of water, in one place.

    strength = m / (m + W)

``m`` is the dissolved substance as charged, without crystal water, excess counted; ``W`` all that
it is dissolved in before the reaction: water poured in, water that acids, lyes and solutions bring
along, the water of crystals, other solvents. Solids, oils and what else is dissolved do not count:
lye over fat is as strong as it was in the jug.

The water that a record calls for (solvent, medium, and the liquid water of its equation) is what
the vessel is **made up to**: what solutions and crystals bring is taken off, and only the rest is
added. Each dissolved reactant has its share of that water to be dissolved in (by the strengths
that the step allows, or by mass where it does not name them all): what one brings beyond its share
does not spare the water of another that is weighed in dry. What is marked ``after`` is added when
the reaction is over, and does not dilute what reacts. The same rules serve the record by itself
(``pots``, for lints and hazard points) and a route with its amounts (``vessel.water``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

WATER = "H2O"
MADE_UP = frozenset({"solvent", "medium"})  # roles whose water the vessel is made up to


@dataclass(frozen=True)
class Called:
    """What one turn of a step calls for, in grams.

    ``bound_g``: liquid water of the equation; ``start_g``: water to work in; ``after_g``: water
    when the reaction is over; ``other_g``: solvents besides water.
    """

    bound_g: float
    start_g: float
    after_g: float
    other_g: float


@dataclass(frozen=True)
class Added:
    """What is really poured in, in grams, when ``brought`` water is there already."""

    bound_g: float
    start_g: float
    after_g: float


def is_water(library: Library, substance: str) -> bool:
    """Whether a substance is water itself."""
    return library.substances[substance].formula == WATER


def called(library: Library, step: ResolvedStep) -> Called:
    """The water and the solvents that one turn of a step calls for."""
    bound = sum(
        p.moles * library.substances[p.substance].molar_mass_g
        for p in step.reactants
        if is_water(library, p.substance) and p.state != "g"
    )
    start = after = other = 0.0
    for aid in step.aids:
        grams = aid.mass_g * step.limiting.moles
        if not is_water(library, aid.substance):
            other += grams if aid.role == "solvent" and not aid.after else 0.0
        elif aid.role in MADE_UP:
            start += 0.0 if aid.after else grams
            after += grams if aid.after else 0.0
    return Called(bound, start, after, other)


def spared_g(called_g: float, dissolved: Sequence[tuple[float, float]], loose_g: float) -> float:
    """Water that need not be added, of ``called_g`` that is called for.

    ``dissolved`` pairs the weight of each dissolved reactant (``weights``) with the water it
    brings, in grams;
    ``loose_g`` is water that comes with anything else, and serves wherever it is wanted.
    """
    total = sum(weight for weight, _ in dissolved)
    own = sum(min(brought, called_g * part / total) for part, brought in dissolved if part > 0)
    return min(own + loose_g, called_g)


def made_up(call: Called, spared: float, surplus: float = 0.0) -> Added:
    """What is left to add: ``spared`` counts for the equation first, then for the pot.

    ``surplus`` is water brought beyond that; it counts for what would go in afterwards.
    """
    bound = min(call.bound_g, spared)
    start = min(call.start_g, spared - bound)
    after = min(call.after_g, max(surplus, 0.0))
    return Added(call.bound_g - bound, call.start_g - start, call.after_g - after)


def strength(mass_g: float, around_g: float) -> float:
    """Mass fraction of a substance in what it is dissolved in; 0 of nothing."""
    return mass_g / (mass_g + around_g) if mass_g > 0 else 0.0


def charged_g(library: Library, step: ResolvedStep, substance: str) -> float:
    """Grams of a dissolved reactant that go into one turn, excess counted, as its own formula."""
    part = next(p for p in step.reactants if p.substance == substance)
    excess = step.excess.get(substance, 0.0)
    return part.moles * (1 + excess) * library.substances[substance].molar_mass_g


def weights(library: Library, step: ResolvedStep) -> dict[str, float]:
    """By what the dissolved reactants of a turn share its water, in grams, by substance id.

    The water that each needs for the greatest strength it may have, ``m (1 / w - 1)``; where the
    step does not name that of all of them, their masses.
    """
    masses = {
        p.substance: charged_g(library, step, p.substance)
        for p in step.reactants
        if p.state == "aq" and not is_water(library, p.substance)
    }
    if all(step.at_most.get(name, 1.0) < 1 for name in masses):
        return {name: mass * (1 / step.at_most[name] - 1) for name, mass in masses.items()}
    return masses


@dataclass(frozen=True)
class InPot:
    """How strong a dissolved reactant stands, as mass fractions.

    ``alone``: in its share of the water and what it brings, before any other solution comes: so
    strong it meets what reacts. ``among``: with all the water there is. What a step calls its
    greatest strength bears on the first, its least on the second.
    """

    alone: float
    among: float


def pots(
    library: Library, step: ResolvedStep, poured: Mapping[str, float] | None = None
) -> dict[str, InPot]:
    """The strength of each dissolved reactant in the pot, as the record says, by substance id.

    ``poured`` gives mass fractions of the solutions that are used, per family root; what is not
    named is charged pure.
    """
    call = called(library, step)
    parts = weights(library, step)
    masses = {name: charged_g(library, step, name) for name in parts}
    brought = {}
    for name, mass in masses.items():
        fraction = (poured or {}).get(library.root(name))
        brought[name] = mass * (1 / fraction - 1) if fraction else 0.0
    wanted = call.bound_g + call.start_g
    total = sum(parts.values())
    spared = spared_g(wanted, [(parts[n], brought[n]) for n in masses], 0.0)
    everything = wanted - spared + sum(brought.values()) + call.other_g
    return {
        name: InPot(
            strength(mass, max(wanted * parts[name] / total, brought[name]) + call.other_g),
            strength(mass, everything),
        )
        for name, mass in masses.items()
    }


def ends_with_g(
    library: Library, step: ResolvedStep, poured: Mapping[str, float] | None = None
) -> float:
    """Grams of liquid water in the liquor that one turn of a step ends with.

    ``poured`` as for ``pots``. Washings come later, and water boiled off is not taken away.
    """
    call = called(library, step)
    parts = weights(library, step)
    brought = {}
    for name in parts:
        fraction = (poured or {}).get(library.root(name))
        mass = charged_g(library, step, name)
        brought[name] = mass * (1 / fraction - 1) if fraction else 0.0
    wanted = call.bound_g + call.start_g
    spared = spared_g(wanted, [(parts[n], brought[n]) for n in parts], 0.0)
    formed = sum(
        p.moles * library.substances[p.substance].molar_mass_g
        for p in step.products
        if is_water(library, p.substance) and p.state != "g"
    )
    there = wanted - spared + sum(brought.values()) + call.after_g
    return there + formed - call.bound_g


def strongest_sold(library: Library) -> dict[str, float]:
    """Per family root, the mass fraction at which it may come: what the shops' materials hold.

    A solid counts as pure, and so does what no shop sells: it may come dry from another step. A
    gas that only solutions hold is never stronger than these.
    """
    out: dict[str, float] = {}
    for material in library.materials.values():
        main = next(iter(material.fractions))
        root = library.root(main)
        wet = material.record.form in {"solution", "liquid"}
        fraction = material.fractions[main] if wet else 1.0
        out[root] = max(out.get(root, 0.0), fraction)
    return out
