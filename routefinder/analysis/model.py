"""The forward model of a step for what was weighed in: unknowns in, streams out.

The vessel's course (``vessel.course``) is the one account; here its unknowns are put in as numbers
or as arrays over trials: how far the reaction went, what was kept, how much of what was weighed in
was what its name says, how much water came with it, how wet the product is, and how far it went on
to the next thing in the heat.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from routefinder.analysis.ignition import heated_alone
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel import charge as vessel_charge
from routefinder.vessel import course
from routefinder.vessel.stages import stages_of
from routefinder.vessel.stream import OTHER, WATER, Number, Part, Stream

BESIDE = OTHER + "what is not what its name says"
PRODUCT, VESSEL = "product", "vessel"  # what goes on; what is in the vessel before it is washed


@dataclass(frozen=True)
class Unknowns:
    """What nobody sees, as numbers or arrays of one shape.

    ``conversion`` of the limiting reactant; ``kept`` of what is made; ``true`` grams of what was
    weighed in that are what they were taken for, per gram; ``damp`` water per gram of the start;
    ``moisture`` water per gram of wet product; ``went_on`` share of the product that went on;
    ``dilution`` what the mass of a liquor is over what its recipe makes.
    """

    conversion: Number
    kept: Number
    true: Number = 1.0
    damp: Number = 0.0
    moisture: Number = 0.0
    went_on: Number = 0.0
    dilution: Number = 1.0


@dataclass(frozen=True)
class Vessel:
    """A step and what was weighed in for it: ``charge`` in g, ``limiting`` its part in it.

    ``rival`` is another solid that may lie on the filter instead, with its weight over the
    product's.
    """

    library: Library
    step: ResolvedStep
    charge: course.Charge
    limiting: Part
    rival: tuple[str, float] | None = None

    def run(self, at: Unknowns) -> course.Course:
        """The course of the step at these unknowns."""
        contents = dict(self.charge.contents.parts)
        grams = contents[self.limiting]
        held = grams * at.true * (1 - at.damp)
        contents[self.limiting] = held
        phase = "s" if stages_of(self.library, self.step).dry else "aq"
        contents[BESIDE, phase] = grams * (1 - at.true) * (1 - at.damp)
        contents[WATER] = contents.get(WATER, 0.0) + grams * at.damp
        turns = self.charge.turns * at.true * (1 - at.damp)
        charge = replace(self.charge, contents=Stream(contents), turns=turns)
        how = course.Behaviour(at.conversion, at.kept, True)
        return course.run(self.library, self.step, charge, how)

    def streams(self, at: Unknowns) -> Mapping[str, Stream]:
        """What can be weighed or sampled: the product, the vessel before its wash, what is left."""
        found = self.run(at)
        out: dict[str, Stream] = {PRODUCT: self._product(found.product, at)}
        before = self._before_wash(found)
        if before is not None:
            out[VESSEL] = before
        out.update(found.leavings)
        return out

    def _product(self, made: Stream, at: Unknowns) -> Stream:
        main = self.step.main
        if main.state == "aq":
            parts = dict(made.parts)
            more = made.mass_g * (at.dilution - 1.0)
            parts[WATER] = _not_below_0(parts.get(WATER, 0.0) + more)
            return Stream(parts)
        if main.state != "s":
            return made
        parts = dict(made.parts)
        key = (main.substance, "s")
        grams = parts.get(key, 0.0)
        if self.rival is not None:
            name, ratio = self.rival
            del parts[key]
            parts[name, "s"] = parts.get((name, "s"), 0.0) + grams * ratio
            grams = 0.0
        onward = self.next_step
        if onward is not None and key in parts:
            step, gone = onward
            parts[key] = grams * (1 - at.went_on)
            into = (step.main.substance, "s")
            parts[into] = parts.get(into, 0.0) + grams * at.went_on * (1 - gone)
        dry = Stream(parts)
        return dry + Stream({WATER: dry.mass_g * at.moisture / (1 - at.moisture)})

    @property
    def next_step(self) -> tuple[ResolvedStep, float] | None:
        """What a dry heat that is overdone makes of the product, with the share that leaves."""
        if not stages_of(self.library, self.step).dry:
            return None
        for step, gone in heated_alone(self.library, self.step.main.substance):
            if step.main.state == "s":
                return step, gone
        return None

    def _before_wash(self, found: course.Course) -> Stream | None:
        plan = found.stages
        if not plan.dry:
            return None
        wet = ("wash", "filter", "decant", "press")
        place = next((i for i, s in enumerate(plan.listed) if s.kind in wet), None)
        if place is None or not place:
            return None
        return found.points[place - 1].contents

    def solids_only(self, name: str) -> bool:
        """Whether a weight of this is of solids alone."""
        return name == PRODUCT and self.step.main.state == "s"


def vessel_of(library: Library, step: ResolvedStep, grams: float | None = None) -> Vessel:
    """A vessel for ``grams`` of the limiting reactant, pure, the rest as the step asks for it.

    Without ``grams`` one turn of the equation is charged.
    """
    feeds = []
    for part in step.reactants:
        if part.state != "g":
            own = part.substance == step.limiting.substance
            extra = 0.0 if own else step.excess.get(part.substance, 0.0)
            moles = part.moles * (1 + extra)
            feeds.append(vessel_charge.pure(library, part.substance, moles, "reactant"))
    for aid in step.aids:
        moles = aid.mass_g * step.limiting.moles / library.substances[aid.substance].molar_mass_g
        feeds.append(vessel_charge.pure(library, aid.substance, moles, aid.role))
    one = vessel_charge.charge_of(library, step, feeds, 1.0, {})
    scale = 1.0
    if grams is not None:
        molar = library.substances[step.limiting.substance].molar_mass_g
        scale = grams / (step.limiting.moles * molar)
    charge = replace(one, contents=one.contents * scale, turns=scale, wash=one.wash * scale)
    return charged(library, step, charge)


def charged(library: Library, step: ResolvedStep, charge: course.Charge) -> Vessel:
    """A vessel for what was really weighed in (``journal.mass_model.vessel``).

    Raises InputError when nothing of the limiting reactant is in it.
    """
    return Vessel(library, step, charge, _limiting(library, step, charge, step.limiting.substance))


def _limiting(library: Library, step: ResolvedStep, charge: course.Charge, form: str) -> Part:
    """The part of the charge that is the limiting reactant, in whatever form it was weighed in.

    Raises InputError when none of it is there.
    """
    root = library.root(form)
    for key in charge.contents.parts:
        if key[0] in library.substances and library.root(key[0]) == root:
            return key
    raise InputError(f"no {library.name(form)} went into {step.id}, and it is what limits the step")


def _not_below_0(value: Number) -> Number:
    if isinstance(value, float | int):
        return max(value, 0.0)
    import numpy as np

    return np.maximum(value, 0.0)


def typical(library: Library, step: ResolvedStep, yield_: Number | None = None) -> Unknowns:
    """The unknowns of a usual run, or of one with this yield."""
    how = course.behaviour_of(library, step, yield_)
    return Unknowns(how.conversion, how.kept)
