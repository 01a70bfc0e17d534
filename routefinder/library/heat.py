"""The heat of a step: dH at 298.15 K of one turn of its equation, or what is missing for it."""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.chem import data, thermo
from routefinder.errors import FormulaError
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep

_STATES = {"s": "solid", "l": "liquid", "g": "gas", "aq": "dissolved"}


@dataclass(frozen=True)
class StepHeat:
    """dH of one turn of the equation in kJ (below 0: gives heat), or None with what is missing.

    ``sources`` names the tables that were used, the worst honesty mark first, and ``mark`` is that
    worst mark: a heat is known no better than its worst term (None when the heat is not known).
    Every figure is for 298.15 K and dissolved salts count at infinite dilution, so heats of mixing
    with little water are not in it.
    """

    enthalpy_kJ: float | None
    missing: tuple[str, ...]
    sources: tuple[str, ...]
    change: thermo.Reaction | None = None
    mark: str | None = None


@dataclass(frozen=True)
class HeatCoverage:
    """How many steps have a computable heat, of those with an equation and of all.

    ``marks`` counts the computed ones by the worst mark of their data, ``missing`` the equations
    that a substance in a state keeps from being computed.
    """

    computed: int
    equations: int
    steps: int
    missing: dict[str, int]
    marks: dict[str, int]

    @property
    def share(self) -> float:
        """Share of the steps with an equation (recipes by weight have no formula to compute)."""
        return self.computed / self.equations if self.equations else 0.0


def formation_of(library: Library, part: Part) -> thermo.Formation | None:
    """Formation data of a reactant or product, None when not known."""
    substance = library.substances[part.substance]
    if substance.formula is None:
        return None
    cas = substance.cas
    if part.state == "aq" and substance.hydrate_of:
        cas = library.substances[substance.hydrate_of].cas
    try:
        return data.formation(substance.formula, part.state, cas)
    except FormulaError:
        return None


def step_heat(library: Library, step: ResolvedStep) -> StepHeat:
    """The heat of ``step`` per turn of its equation, as it is written."""
    if step.is_recipe:
        return StepHeat(None, ("an equation (the step is a recipe by weight)",), ())
    terms: list[tuple[float, thermo.Formation | None]] = []
    missing: list[str] = []
    known: list[thermo.Formation] = []
    for sign, parts in ((-1.0, step.reactants), (1.0, step.products)):
        for part in parts:
            found = formation_of(library, part)
            terms.append((sign * part.moles, found))
            if found is None:
                numbered = library.substances[part.substance].cas is not None
                missing.append(
                    f"{library.name(part.substance)}, {_STATES[part.state]}"
                    + ("" if numbered else " (it has no CAS number to be found by)")
                )
            else:
                known.append(found)
    change = thermo.reaction(terms)
    if change.enthalpy_kJ is None:
        return StepHeat(None, tuple(dict.fromkeys(missing)), (), change)
    sources = dict.fromkeys(text for f in known for text in f.sources)
    return StepHeat(
        change.enthalpy_kJ,
        (),
        tuple(sorted(sources, key=lambda text: -thermo.MARKS.index(text.partition(": ")[0]))),
        change,
        thermo.worst_mark(f.mark for f in known),
    )


def coverage(library: Library) -> HeatCoverage:
    """How much of a library has a computable heat, and which data are missing most often."""
    computed = equations = 0
    missing: dict[str, int] = {}
    marks = dict.fromkeys(thermo.MARKS, 0)
    for step in library.steps.values():
        if step.is_recipe:
            continue
        equations += 1
        found = step_heat(library, step)
        if found.mark is not None:
            computed += 1
            marks[found.mark] += 1
        for name in found.missing:
            missing[name] = missing.get(name, 0) + 1
    ordered = dict(sorted(missing.items(), key=lambda item: (-item[1], item[0])))
    return HeatCoverage(computed, equations, len(library.steps), ordered, marks)
