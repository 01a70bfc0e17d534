"""Hazard aspects of a step, 0 to 4 each: a profile to compare routes, never an assurance.

The rule, reproducible by hand (tables below; the issue on safety refines them):

1. Every substance present (reactants, products, auxiliaries, gases) counts with its GHS statements
   and the stricter ones added for caution. A dissolved reactant or auxiliary counts with the
   statements of the weakest solution on the shelf, or of the least strength that the step asks for
   when that is more; a product, whose strength nobody knows, as the pure substance. No data (said
   to be unknown, or neither statement nor source given): the cautious values in ``UNKNOWN``.
2. Each statement gives the points in ``STATEMENTS`` to its aspect; one that is not in the table
   gives those of ``UNLISTED``, except those in ``WITHOUT_POINTS``.
3. A gas that leaves gives the points in ``GASES`` to "gas". One that is not in the table gives
   those of its statements in ``GAS_STATEMENTS``, at least 2; without data, ``UNKNOWN_GAS``.
4. The lower end of the temperature window gives the points in ``TEMPERATURES``.
5. The kind of step gives the points in ``HEAT_KINDS`` to "heat" (computed heats come with the
   estimates).
6. An aspect is the greatest of its points; what gave it is named.

The points are our own ordering of GHS categories (common practice: category 1 above 2 above 3);
they are no part of the GHS.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Hazards

ASPECTS = ("toxic", "corrosive", "fire", "heat", "gas", "temperature", "dust", "environment")

STATEMENTS: dict[str, tuple[str, int]] = {
    "H300": ("toxic", 4), "H310": ("toxic", 4), "H330": ("toxic", 4),
    "H301": ("toxic", 3), "H311": ("toxic", 3), "H331": ("toxic", 3), "H304": ("toxic", 3),
    "H340": ("toxic", 4), "H350": ("toxic", 4), "H350i": ("toxic", 4), "H360": ("toxic", 3),
    "H334": ("toxic", 3), "H370": ("toxic", 3), "H372": ("toxic", 3), "H362": ("toxic", 3),
    "H302": ("toxic", 2), "H312": ("toxic", 2), "H332": ("toxic", 2), "H341": ("toxic", 2),
    "H351": ("toxic", 2), "H361": ("toxic", 2), "H371": ("toxic", 2), "H373": ("toxic", 2),
    "H317": ("toxic", 2), "H335": ("toxic", 1), "H336": ("toxic", 1),
    "H314": ("corrosive", 3), "H318": ("corrosive", 2), "H315": ("corrosive", 1),
    "H319": ("corrosive", 1), "H290": ("corrosive", 1),
    "H220": ("fire", 4), "H224": ("fire", 4), "H250": ("fire", 4), "H260": ("fire", 4),
    "H271": ("fire", 4), "H221": ("fire", 3), "H225": ("fire", 3), "H228": ("fire", 3),
    "H261": ("fire", 3), "H270": ("fire", 3), "H226": ("fire", 2), "H251": ("fire", 2),
    "H252": ("fire", 2), "H272": ("fire", 2), "H227": ("fire", 1),
    "H400": ("environment", 3), "H410": ("environment", 3), "H411": ("environment", 2),
    "H401": ("environment", 2), "H402": ("environment", 1), "H412": ("environment", 1),
    "H413": ("environment", 1), "H420": ("environment", 2), "EUH059": ("environment", 2),
    "H200": ("fire", 4), "H201": ("fire", 4), "H202": ("fire", 4), "H203": ("fire", 4),
    "H204": ("fire", 4), "H205": ("fire", 4), "H206": ("fire", 4), "H207": ("fire", 4),
    "H208": ("fire", 4), "H209": ("fire", 4), "H222": ("fire", 4),
    "H223": ("fire", 3), "H229": ("fire", 1), "H232": ("fire", 4), "H282": ("fire", 4),
    "H230": ("fire", 4), "H231": ("fire", 4), "H240": ("fire", 4), "H241": ("fire", 4),
    "H242": ("fire", 3), "H283": ("fire", 3), "H284": ("fire", 2), "EUH001": ("fire", 3),
    "EUH006": ("fire", 4), "EUH018": ("fire", 2),
    "EUH019": ("fire", 3), "EUH044": ("fire", 3), "EUH014": ("heat", 3), "EUH029": ("gas", 3),
    "EUH031": ("gas", 3), "EUH032": ("gas", 4), "H303": ("toxic", 1), "H313": ("toxic", 1),
    "H333": ("toxic", 1), "H305": ("toxic", 2), "EUH070": ("toxic", 3), "EUH071": ("corrosive", 3),
    "H316": ("corrosive", 1), "H320": ("corrosive", 1), "EUH066": ("corrosive", 1),
    "EUH209": ("fire", 2),
}  # fmt: skip

DUST: dict[str, int] = {
    "H330": 4, "H350i": 4, "H350": 3, "H331": 3, "H334": 3, "H372": 3, "H332": 2, "H335": 2,
    "H373": 2, "H302": 1, "H301": 2, "H317": 1,
}  # fmt: skip

GASES: dict[str, int] = {
    "CO2": 1, "O2": 1, "N2": 0, "H2O": 0, "H2": 3, "CO": 4, "SO2": 4, "SO3": 4, "HCl": 3, "NH3": 3,
    "NO": 4, "NO2": 4, "Cl2": 4, "CH4": 3, "C2H4O2": 2, "C2H6O": 2, "C3H6O": 2,
}  # fmt: skip

TEMPERATURES = ((1100.0, 4), (400.0, 3), (150.0, 2), (60.0, 1))

HEAT_KINDS: dict[str, int] = {
    "neutralisation": 1, "displacement": 2, "oxidation": 2, "reduction": 2, "hydration": 2,
    "burning": 1, "roasting": 1, "combination": 1, "dissolution": 1, "esterification": 1,
    "saponification": 1,
}  # fmt: skip

UNKNOWN = {"toxic": 3, "corrosive": 2, "fire": 1, "environment": 2, "dust": 2}
UNKNOWN_GAS = 3
UNLISTED = ("toxic", 2)
WITHOUT_POINTS = {"H280": "gas in a cylinder", "H281": "cold gas in a cylinder"}
GAS_STATEMENTS = {"H330": 4, "H331": 3, "H220": 3, "H221": 3, "H332": 2, "H314": 3}


@dataclass(frozen=True)
class Score:
    """One aspect of one step: points 0 to 4 and what gave them."""

    points: int
    cause: str


Profile = dict[str, Score]


def hazards_of(library: Library, substance_id: str, state: str, strength: float | None) -> Hazards:
    """The hazard record that applies: of the solution when its strength is known."""
    substance = library.substances[substance_id]
    if state == "aq" and strength is not None:
        for solution in substance.solutions:
            if solution.at_least <= strength < solution.below:
                return solution
    return substance.hazards


def profile(
    library: Library, step: ResolvedStep, strengths: Mapping[str, float] | None = None
) -> Profile:
    """The hazard profile of a step.

    ``strengths`` gives, per family root, the mass fraction of the solution that will be used.
    """
    best: Profile = {aspect: Score(0, "") for aspect in ASPECTS}
    strengths = strengths or {}

    def give(aspect: str, points: int, cause: str) -> None:
        if points > best[aspect].points:
            best[aspect] = Score(points, cause)

    present = [(p.substance, p.state) for p in (*step.reactants, *step.products)]
    present += [(a.substance, "aq") for a in step.aids]
    taken = {p.substance for p in step.reactants} | {a.substance for a in step.aids}
    for substance_id, state in dict.fromkeys(present):
        substance = library.substances[substance_id]
        strength = _strength(library, step, substance_id, strengths, substance_id in taken)
        found = hazards_of(library, substance_id, state, strength)
        name = substance.name
        if found.no_data:
            for aspect, points in UNKNOWN.items():
                if aspect != "dust" or state == "s":
                    give(aspect, points, f"{name}: no hazard data, counted cautiously")
        for code in found.scored:
            if code not in WITHOUT_POINTS:
                known = STATEMENTS.get(code) or STATEMENTS.get(code[:4]) or UNLISTED
                give(known[0], known[1], f"{name} {code}")
            if state == "s" and (code in DUST or code[:4] in DUST):
                give("dust", DUST.get(code, DUST.get(code[:4], 0)), f"{name} {code}")
    for part in step.products:
        if part.state == "g":
            substance = library.substances[part.substance]
            if substance.formula in GASES:
                points, why = GASES[substance.formula], ""
            elif substance.hazards.no_data:
                points, why = UNKNOWN_GAS, "; no hazard data, counted cautiously"
            else:
                codes = substance.hazards.scored
                points, why = max([2, *(GAS_STATEMENTS.get(c[:4], 0) for c in codes)]), ""
            give("gas", points, f"{substance.name} is given off{why}")
    for limit, points in TEMPERATURES:
        if step.record.temperature.low_C >= limit:
            give("temperature", points, f"{step.record.temperature.low_C:g} °C")
            break
    give("heat", HEAT_KINDS.get(step.record.kind, 0), f"{step.record.kind} gives heat")
    return best


def _strength(
    library: Library,
    step: ResolvedStep,
    substance_id: str,
    strengths: Mapping[str, float],
    taken: bool,
) -> float | None:
    """Mass fraction of a dissolved substance in a step, never below what the step asks for."""
    found = strengths.get(library.root(substance_id)) if taken else None
    if found is None:
        return None
    asked = [w for s, w in step.strength.items() if s == substance_id]
    asked += [a.at_least for a in step.aids if a.substance == substance_id]
    return max([found, *asked])


def unknown_in(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of what is present in a step without hazard data."""
    present = [p.substance for p in (*step.reactants, *step.products)]
    present += [a.substance for a in step.aids]
    names = [library.name(i) for i in present if library.substances[i].hazards.no_data]
    return tuple(dict.fromkeys(names))


def worst(profiles: Mapping[str, Profile]) -> dict[str, tuple[int, str, str]]:
    """Per aspect the greatest points of several steps: (points, step id, cause)."""
    out: dict[str, tuple[int, str, str]] = {}
    for aspect in ASPECTS:
        points, step_id, cause = 0, "", ""
        for name, found in profiles.items():
            if found[aspect].points > points:
                points, step_id, cause = found[aspect].points, name, found[aspect].cause
        out[aspect] = (points, step_id, cause)
    return out


def statements(
    library: Library, step: ResolvedStep, strengths: Mapping[str, float] | None = None
) -> tuple[str, ...]:
    """GHS statements of all that is present in a step, in order, as the sources give them."""
    strengths = strengths or {}
    codes: set[str] = set()
    taken = {p.substance for p in step.reactants}
    for part in (*step.reactants, *step.products):
        strength = _strength(library, step, part.substance, strengths, part.substance in taken)
        found = set(hazards_of(library, part.substance, part.state, strength).statements)
        codes |= found - {"H280"} if part.state == "g" else found  # no cylinder: it is given off
    for aid in step.aids:
        strength = _strength(library, step, aid.substance, strengths, True)
        codes |= set(hazards_of(library, aid.substance, "aq", strength).statements)
    return tuple(sorted(codes))
