"""Hazard aspects of a step, 0 to 4 each: a profile to compare routes, never an assurance.

The rule, reproducible by hand (tables below; worked through in reactions/HAZARDS.md):

1. Every substance present (reactants, products, auxiliaries, gases) counts with its GHS statements
   and the stricter ones added for caution. No data (said to be unknown, or neither statement nor
   source given): the cautious values in ``UNKNOWN``. Oxygen, nitrogen and water taken from the air
   or the tap do not count.
2. What is dissolved counts at its strength (``hazards.mixture``), as the strictest of its hydrates,
   whichever is weighed in: a feed poured from a solution on
   the shelf at that solution's strength (the weakest there, but never below what the step asks
   for), a product at its share of the liquor. What is weighed in
   dry, or boiled down in the step, counts as pure; a gas in water of no given strength as its
   strongest solution on record.
3. Each statement gives the points in ``STATEMENTS`` to its aspect, and for a solid those in
   ``DUST`` to "dust"; one that is not in the table gives those of ``UNLISTED``, except those in
   ``WITHOUT_POINTS``.
4. A gas that leaves gives the points in ``GASES`` to "gas". One that is not in the table gives
   those of its statements in ``GAS_STATEMENTS``, at least 2; without data, ``UNKNOWN_GAS``.
   CO2, O2 and N2 at least 2 when there are ``FOAMS`` litres or more to a kilogram of what is in the
   vessel. What the record says is given off besides (``library.fumes``) counts like a gas of the
   equation; a mist or smoke the points of its row in ``fumes.csv``; traces one less, at least 1.
5. The lower end of the temperature window gives the points in ``TEMPERATURES``.
6. The rise in temperature if the heat of the equation stayed in what is in the vessel (water 4.18,
   all else 1.0 J/(g K)) gives the points in ``RISES`` to "heat", 2 at most where a gas is taken up
   or where the charge is dry and holds no metal (gas or grains set the pace), 1 for a
   crystallisation. Where no heat can
   be computed, the kind of step gives those in ``HEAT_KINDS``. Pouring in concentrated sulfuric
   acid gives at least 2.
7. An aspect is the greatest of its points; what gave it is named.

After the search two things may add points, never take one: the materials that are really charged,
each as it is (``charged``), and the amounts, to "gas" and "heat" (``raised``).

The points are our own ordering of GHS categories (common practice: category 1 above 2 above 3);
they are no part of the GHS.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from routefinder.chem import thermo
from routefinder.hazards.kinds import kinds
from routefinder.hazards.mixture import (
    dissolved_hazards,
    material_hazards,
    stricter,
    vessel_fractions,
)
from routefinder.library import fumes
from routefinder.library.contents import contents
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Hazards, Substance

MOST = 4  # points of an aspect
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
    "EUH209": ("fire", 2), "H031": ("gas", 3), "H032": ("gas", 4),
}  # fmt: skip

DUST: dict[str, int] = {
    "H330": 4, "H350i": 4, "H350": 3, "H331": 3, "H334": 3, "H372": 3, "H332": 2, "H335": 2,
    "H373": 2, "H302": 1, "H301": 2, "H317": 1,
}  # fmt: skip

GASES: dict[str, int] = {
    "CO2": 1, "O2": 1, "N2": 0, "H2O": 0, "H2": 3, "CO": 4, "SO2": 4, "SO3": 4, "HCl": 3, "NH3": 3,
    "NO": 4, "NO2": 4, "Cl2": 4, "H2S": 4, "PH3": 4, "AsH3": 4, "C3H4O": 4,
    "CH4": 3, "C2H4O2": 2, "C2H6O": 2, "C3H6O": 2,
}  # fmt: skip

FOAMS = 20.0  # litres of harmless gas per kilogram of contents (common practice)
HARMLESS = frozenset({"CO2", "O2", "N2"})
AMBIENT = frozenset({"O2", "N2", "H2O"})  # taken in from air or tap, they are no hazard of the step

TEMPERATURES = ((1100.0, 4), (400.0, 3), (150.0, 2), (60.0, 1))

HEAT_KINDS: dict[str, int] = {
    "neutralisation": 1, "displacement": 2, "oxidation": 2, "reduction": 2, "hydration": 2,
    "burning": 1, "roasting": 1, "combination": 1, "dissolution": 1, "esterification": 1,
    "saponification": 1,
}  # fmt: skip

# K of adiabatic rise; 50, 200 and 400 K from memory: Stoessel, Thermal Safety of Chemical Processes
RISES = ((400.0, 4), (200.0, 3), (50.0, 2), (10.0, 1))
SLOW = frozenset({"crystallisation", "recrystallisation"})
WATER_HEAT, OTHER_HEAT = 4.18, 1.0  # J/(g K); OpenStax Chemistry 2e, Table 5.1; common practice
CONCENTRATED = 0.75  # sulfuric acid from here on heats water as it is poured in
# litres (25 degC, 1 atm) in one batch that add one point, in a room of 30 m3
GAS_LITRES: dict[str, tuple[float, str]] = {
    "CO2": (150.0, "0.5 % of 30 m3, the 8 h limit of 5000 ppm"),
    "N2": (300.0, "1 % of 30 m3"),
    "O2": (300.0, "1 % of 30 m3"),
    "H2": (120.0, "a tenth of the lower explosion limit, 4 %, in 30 m3"),
    "NH3": (9.0, "300 ppm of 30 m3; from memory: NIOSH IDLH"),
    "HCl": (1.5, "50 ppm of 30 m3; from memory: NIOSH IDLH"),
}
HEAT_KJ = 2000.0  # given off in one batch; adds one point (10 kg of water warm by 48 K)

UNKNOWN = {"toxic": 3, "corrosive": 2, "fire": 1, "environment": 2, "dust": 2}
UNKNOWN_GAS = 3
UNLISTED = ("toxic", 2)
WITHOUT_POINTS = {"H280": "gas in a cylinder", "H281": "cold gas in a cylinder"}
GAS_STATEMENTS = {"H330": 4, "H331": 3, "H220": 3, "H221": 3, "H332": 2, "H314": 3}


@dataclass(frozen=True)
class Score:
    """One aspect of one step: points 0 to ``MOST``, what gave them, and as what sort of danger.

    ``sign`` is a row of ``data/danger_words.csv`` (see ``hazards.danger``): a hazard statement,
    "unknown", or "gas" with the formula.
    """

    points: int
    cause: str
    sign: str = ""


Profile = dict[str, Score]


def hazards_of(library: Library, substance_id: str, state: str, strength: float | None) -> Hazards:
    """The hazards that apply: of the solution when it is dissolved, at its strength if known.

    Dissolved, whatever hydrate was weighed in for it counts (``mixture.dissolved_hazards``).
    """
    if state != "aq":
        return library.substances[substance_id].hazards
    return dissolved_hazards(library, substance_id, None if strength is None else _up(strength))


def _up(fraction: float) -> float:
    """Rounded up to a tenth of a percent: never milder than it is, and the same for near values."""
    return min(ceil(fraction * 1000 - 1e-6) / 1000, 1.0)


def profile(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    charged: Sequence[Supply] = (),
    inside: Mapping[str, float] | None = None,
) -> Profile:
    """The hazard profile of a step.

    ``strengths`` gives, per family root, the mass fraction of the solution that will be used,
    ``charged`` the materials weighed or poured in, as far as they are known: each counts as it is
    charged. ``inside`` is how strong what is dissolved stands in the vessel, where its course is
    known (per substance; None: by the record alone). What neither bears on is worked out once and
    kept with the library: do not change it.
    """
    found = _as_poured(library, step, strengths, inside)
    if not charged:
        return found
    best = dict(found)
    for supply in charged:
        hazards = material_hazards(library, supply.fractions, supply.form, supply.hazards)
        solid = supply.form in {"solid", "metal"}
        _statement_points(hazards, supply.name, solid, _giving(best))
    return best


def _as_poured(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None,
    inside: Mapping[str, float] | None,
) -> Profile:
    poured = strengths or {}
    kept: tuple[frozenset[str], Profile] | None = library.kept("points", step)
    if kept is None:
        names = [p.substance for p in step.reactants if p.state == "aq"]
        names += [a.substance for a in step.aids]
        solutes = frozenset(
            library.root(i) for i in names if library.substances[i].formula != "H2O"
        )
        kept = library.keep("points", step, (solutes, _profile(library, step, {}, None)))
    judged = inside is not None and any(
        p.state == "aq" and library.substances[p.substance].hazards.scored for p in step.products
    )
    if kept[0].isdisjoint(poured) and not judged:
        return kept[1]
    return _profile(library, step, poured, inside)


_NONE = Score(0, "")


def _profile(
    library: Library,
    step: ResolvedStep,
    poured: Mapping[str, float],
    inside: Mapping[str, float] | None,
) -> Profile:
    best: Profile = dict.fromkeys(ASPECTS, _NONE)
    poured = as_asked(library, step, poured)
    give = _giving(best)
    for substance_id, state, strength in present(library, step, poured, inside):
        found = hazards_of(library, substance_id, state, strength)
        if not found.no_data and not found.scored:
            continue
        name = library.substances[substance_id].name
        if strength is not None and state == "aq":
            name = f"{name} {100 * _up(strength):.3g} %"
        _statement_points(found, name, state == "s", give)
    for part in step.products:
        if part.state == "g" and step.dissolved.get(part.substance, 0.0) < 1:
            substance = library.substances[part.substance]
            points, why, sign = _gas_points(substance)
            give("gas", points, f"{substance.name} is given off{why}", sign)
            if substance.formula in HARMLESS and not step.is_recipe:
                litres = gas_per_kg(library, step, part.moles, poured)
                if litres is not None and litres >= FOAMS:
                    give("gas", 2, *_much_gas(step, substance, litres))
    for fume in fumes.fumes(library, step):
        cause = f"{fume_words(fume)} given off besides"
        give("gas", fume_points(library, fume), cause, fume_sign(library, fume))
    for limit, points in TEMPERATURES:
        if step.record.temperature.low_C >= limit:
            give("temperature", points, f"{step.record.temperature.low_C:g} °C", "temperature")
            break
    give("heat", *_heat(library, step, poured), "heat")
    return best


_Give = Callable[[str, int, str, str], None]


def _giving(best: Profile) -> _Give:
    """What raises an aspect of ``best`` to more points, in place."""

    def give(aspect: str, points: int, cause: str, sign: str) -> None:
        if points > best[aspect].points:
            best[aspect] = Score(points, cause, sign)

    return give


def _statement_points(found: Hazards, name: str, solid: bool, give: _Give) -> None:
    """The points of one thing's statements; a solid's also to "dust"."""
    if found.no_data:
        for aspect, points in UNKNOWN.items():
            if aspect != "dust" or solid:
                give(aspect, points, f"{name}: no hazard data, counted cautiously", "unknown")
    for code in sorted(found.scored, key=_lasting_first):
        if code not in WITHOUT_POINTS:
            known = STATEMENTS.get(code) or STATEMENTS.get(code[:4]) or UNLISTED
            give(known[0], known[1], f"{name} {code}", code)
        if solid and (code in DUST or code[:4] in DUST):
            give("dust", DUST.get(code, DUST.get(code[:4], 0)), f"{name} {code}", code)


def _lasting_first(code: str) -> bool:
    """H410 before H400: of harm to life in water the lasting one is named."""
    return code == "H400"


def _much_gas(step: ResolvedStep, substance: Substance, litres: float) -> tuple[str, str]:
    """(cause, sign) of a harmless gas of which much comes from a kilogram."""
    amount = f"{litres:.0f} L {substance.name} per kg"
    if any(p.state in {"aq", "l"} for p in step.reactants):
        return f"{amount}: foams over", "gas foams"
    if substance.formula == "O2":
        return f"{amount}: feeds a fire", "gas O2"
    return f"{amount}: drives out the air", "gas airless"


def _gas_points(substance: Substance) -> tuple[int, str, str]:
    """(points, what to say besides, the sign) of a gas that leaves."""
    if substance.formula in GASES:
        return GASES[substance.formula], "", f"gas {substance.formula}"
    if substance.hazards.no_data:
        return UNKNOWN_GAS, "; no hazard data, counted cautiously", "gas unknown"
    worst = max(substance.hazards.scored, key=lambda c: GAS_STATEMENTS.get(c[:4], 0), default="gas")
    points = GAS_STATEMENTS.get(worst[:4], 0)
    return (points, "", worst) if points >= 2 else (2, "", f"gas {substance.formula}")


def fume_points(library: Library, fume: fumes.Fume) -> int:
    """Points of what the record says is given off besides; traces one less, at least 1."""
    if fume.points is not None:
        points = fume.points
    elif fume.substance:
        points = _gas_points(library.substances[fume.substance])[0]
    else:
        points = GASES.get(fume.formula, UNKNOWN_GAS)
    return max(points - 1, 1) if fume.traces else points


def fume_sign(library: Library, fume: fumes.Fume) -> str:
    """The sign of what is given off besides (a row of ``data/danger_words.csv``)."""
    if fume.points is not None:
        return f"gas {fume.name}"
    if fume.substance:
        return _gas_points(library.substances[fume.substance])[2]
    return f"gas {fume.formula}" if fume.formula in GASES else "gas unknown"


def fume_words(fume: fumes.Fume) -> str:
    """The name, with "traces of" and when it comes."""
    return ("traces of " if fume.traces else "") + fume.name + (f" ({fume.when})" * bool(fume.when))


def as_asked(
    library: Library, step: ResolvedStep, strengths: Mapping[str, float]
) -> dict[str, float]:
    """The strengths poured in a step, per family root, never below what the step asks for."""
    out = dict(strengths)
    asked = [*step.strength.items(), *((a.substance, a.at_least) for a in step.aids)]
    for name, least in asked:
        root = library.root(name)
        if root in out:
            out[root] = max(out[root], least)
    return out


def unknown_in(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of what is present in a step without hazard data."""
    names = [p.substance for p in (*step.reactants, *step.products)]
    names += [a.substance for a in step.aids]
    found = [library.name(i) for i in names if library.substances[i].hazards.no_data]
    return tuple(dict.fromkeys(found))


def present(
    library: Library,
    step: ResolvedStep,
    poured: Mapping[str, float],
    inside: Mapping[str, float] | None = None,
) -> list[tuple[str, str, float | None]]:
    """(substance, state, mass fraction when it is dissolved and that is known), each once.

    ``inside`` as for ``profile``.
    """
    out: dict[tuple[str, str, float | None], None] = {}
    substances = library.substances
    for part in step.reactants:
        if part.state == "g" and substances[part.substance].formula in AMBIENT:
            continue
        strength = poured.get(library.root(part.substance)) if part.state == "aq" else None
        out[part.substance, part.state, strength] = None
    for part in step.products:
        strength = None
        if part.state == "aq" and substances[part.substance].hazards.scored:
            if inside is None:
                inside = vessel_fractions(library, step, poured)
            strength = inside.get(part.substance)
        out[part.substance, part.state, strength] = None
    for aid in step.aids:
        if aid.role not in {"seed", "flux", "drying agent"}:
            out[aid.substance, "aq", poured.get(library.root(aid.substance))] = None
            continue
        out[aid.substance, "s", None] = None
        if aid.role == "drying agent":
            continue  # exactly this form, a hydrate dries nothing
        mine = substances[aid.substance].hazards
        for form in library.families[library.root(aid.substance)]:  # any of them may be taken
            other = substances[form].hazards
            if not other.no_data and stricter(mine, other) is not mine:
                out[form, "s", None] = None
    return list(out)


def gas_per_kg(
    library: Library, step: ResolvedStep, moles: float, strengths: Mapping[str, float] | None = None
) -> float | None:
    """Litres (25 degC, 1 atm) of a gas per kilogram in the vessel; None when nothing is weighed."""
    grams = sum(contents(library, step).water_and_rest_g(strengths or {}))
    return thermo.gas_volume_L(moles) / grams * 1000 if grams else None


def rise_K(  # noqa: N802
    library: Library, step: ResolvedStep, strengths: Mapping[str, float] | None = None
) -> float | None:
    """K by which the heat of the equation would warm what is in the vessel; None when not known."""
    found = contents(library, step)
    water, other = found.water_and_rest_g(strengths or {})
    if water == 0 and any(p.state == "aq" for p in step.reactants):
        return None  # something is dissolved, but nobody says in how much water
    return thermo.adiabatic_rise_K(found.heat_kJ, [(water, WATER_HEAT), (other, OTHER_HEAT)])


def _heat(library: Library, step: ResolvedStep, poured: Mapping[str, float]) -> tuple[int, str]:
    points, cause = 0, ""
    rise = rise_K(library, step, poured)
    if rise is None:
        kind = step.record.kind
        points = HEAT_KINDS.get(kind, 0)
        cause = f"{kind} gives heat (not computed)"
    else:
        for limit, value in RISES:
            if rise >= limit:
                points, cause = value, f"would warm by {rise:.0f} K if no heat were lost"
                break
        if points > 1 and step.record.kind in SLOW:
            points, cause = 1, "comes as slowly as crystals grow"
        elif points > 2 and any(p.state == "g" for p in step.reactants):
            points, cause = 2, "takes up a gas: runs at the pace of the gas that reaches it"
        elif points > 2 and all(p.state == "s" for p in step.reactants):
            parts = [library.substances[p.substance] for p in step.reactants]
            if not any("base metal" in kinds(s) for s in parts):
                points, cause = 2, "a dry charge: runs at the pace of its grains"
    if points < 2:
        names = [p.substance for p in step.reactants] + [a.substance for a in step.aids]
        for substance in (library.substances[name] for name in names):
            strength = poured.get(library.root(substance.id), 0.0)
            if substance.formula == "H2SO4" and strength >= CONCENTRATED:
                return 2, f"{substance.name} {100 * strength:.0f} % heats the water it goes into"
    return points, cause


def raised(
    found: Profile, gases_L: Mapping[str, tuple[str, float]], heat_kJ: float | None
) -> Profile:
    """The profile of one batch: amounts add a point to "gas" and to "heat", never take one.

    ``gases_L``: formula -> (name, litres given off at 25 degC and 1 atm); ``heat_kJ`` given off in
    the batch (above 0), or None when not known.
    """
    out = dict(found)
    for formula, (name, litres) in gases_L.items():
        least = GAS_LITRES.get(formula)
        if least is not None and litres >= least[0]:
            points = min(GASES.get(formula, 2) + 1, 4)
            if points > out["gas"].points:
                sign = "gas much" if formula in HARMLESS else f"gas {formula}"
                out["gas"] = Score(points, f"{litres:.3g} L {name} in one batch", sign)
    heat = out["heat"]
    if heat_kJ is not None and heat_kJ >= HEAT_KJ and 1 <= heat.points < 4:
        out["heat"] = Score(
            heat.points + 1, f"{heat.cause}; {heat_kJ:.3g} kJ in one batch", heat.sign
        )
    return out


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
