"""What meets what: in the vessel of a step, in its trap, in the waste jar, and on the shelf.

Every pair is held against ``data/meets.csv`` (own rules, each with its source: the gaps of the EPA
chart, such as acid with carbonate or with hypochlorite) and, where those are silent, against the
chart of EPA-600/2-80-076 (Hatayama et al., 1980; ``data/epa_pairs.csv``). Of the chart only fire,
poisonous or flammable gas and explosion count: it was made for mixed wastes, and its "heat" would
speak on nearly every bench. A pair that no rule names is not known to be safe.

A step's own reaction is no surprise: a pair counts as intended when the equation writes the gas the
rule names, or when both are reactants and the rule names no gas.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from routefinder.hazards.kinds import DATA, Kinds, kinds
from routefinder.hazards.mixture import vessel_fractions
from routefinder.library import fumes
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Substance

EFFECTS = {
    "H": "heat", "F": "fire", "G": "gas", "GT": "poisonous gas", "GF": "flammable gas",
    "E": "explosion", "P": "violent polymerisation", "V": "spits and boils over",
}  # fmt: skip
MISCELLANEOUS = 101  # the chart's group "combustible and flammable materials, misc."
GRAVE = frozenset({"F", "GT", "GF", "E", "V"})
CONCENTRATED = 0.75  # of sulfuric acid: it dries and chars from about here (common practice)
EPA = "published: EPA-600/2-80-076 (Hatayama et al., 1980), compatibility chart, groups {} and {}"


@dataclass(frozen=True)
class Rule:
    """One row of data/meets.csv: kinds that meet, what comes of it, and when."""

    id: str
    a: tuple[str, ...]
    b: tuple[str, ...]
    effects: tuple[str, ...]
    gas: str
    when: str
    words: str
    source: str


@dataclass(frozen=True)
class Meeting:
    """Two substances (ids) that meet, what comes of it, and whether the step means it.

    ``effects`` are keys of EFFECTS; ``gas`` a formula or ""; ``where`` is "vessel", "wash", "trap",
    "waste" or "shelf".
    """

    a: str
    b: str
    where: str
    effects: tuple[str, ...]
    gas: str
    words: str
    rule: str
    source: str
    intended: bool = False

    @property
    def grave(self) -> bool:
        """Fire, explosion, spitting, a poisonous or a flammable gas."""
        return bool(GRAVE & set(self.effects))


@dataclass(frozen=True)
class Present:
    """A substance in one place: its state, its mass fraction there (None: not known), its part.

    ``part`` is "reactant", "product" or the role of an auxiliary.
    """

    substance: Substance
    state: str
    strength: float | None
    part: str


@lru_cache(maxsize=1)
def rules() -> tuple[Rule, ...]:
    """All rows of data/meets.csv."""
    with (DATA / "meets.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Rule(
                r["rule"], tuple(r["a"].split(";")), tuple(r["b"].split(";")),
                tuple(r["effects"].split()), r["gas"], r["when"], r["words"], r["source"],
            )
            for r in csv.DictReader(file)
        )  # fmt: skip


@lru_cache(maxsize=1)
def _chart() -> dict[frozenset[int], tuple[str, ...]]:
    with (DATA / "epa_pairs.csv").open(encoding="utf-8", newline="") as file:
        return {
            frozenset((int(r["group_a"]), int(r["group_b"]))): tuple(r["codes"].split())
            for r in csv.DictReader(file)
        }


@lru_cache(maxsize=1)
def _by_kinds() -> dict[tuple[str, str], tuple[Rule, ...]]:
    out: dict[tuple[str, str], list[Rule]] = {}
    for rule in rules():
        for a in rule.a:
            for b in rule.b:
                out.setdefault((a, b), []).append(rule)
    return {key: tuple(value) for key, value in out.items()}


@lru_cache(maxsize=65536)
def _candidates(a: Kinds, b: Kinds) -> tuple[tuple[Rule, bool], ...]:
    """Rules between two sets of kinds, in the order of the table: never in that of a set.

    The flag says that they stand the other way round.
    """
    table = _by_kinds()
    found = {rule.id for x in a.names for y in b.names for rule in table.get((x, y), ())}
    turned = {rule.id for x in a.names for y in b.names for rule in table.get((y, x), ())}
    return tuple((r, r.id not in found) for r in rules() if r.id in found or r.id in turned)


def _holds(rule: Rule, a: Present, b: Present, high_C: float, chloride: bool) -> bool:
    """Whether the condition of a rule is met; what is not known counts as met."""
    for word in rule.when.replace("dry or strong", "dry-or-strong").split():
        if word.startswith("hot:") and high_C < float(word[4:]):
            return False
        if word == "gas" and not a.state == b.state == "g":
            return False
        if word == "concentrated" and not _concentrated(a):
            return False
        if word == "dry-or-strong" and not (_dry_or_strong(a) and _dry_or_strong(b)):
            return False
        if word == "undissolved" and a.state not in {"s", "l"}:
            return False
        if word == "poured" and b.part == "product":
            return False
        if word == "dry" and "aq" in (a.state, b.state):
            return False
        if word == "powder" and "metal powder" not in kinds(a.substance):
            return False
        if word == "chloride" and not chloride:
            return False
        if word.startswith("strong:"):
            strength = a.strength if rule.a[0] != "ketone" else b.strength
            if strength is not None and strength < float(word[7:]):
                return False
    return True


def _concentrated(p: Present) -> bool:
    return p.strength >= CONCENTRATED if p.strength is not None else p.state == "l"


def _dry_or_strong(p: Present) -> bool:
    return p.state != "aq" or (p.strength is not None and p.strength >= 0.3)


def between(
    a: Present, b: Present, where: str, high_C: float = 20.0, chloride: bool = False
) -> list[Meeting]:
    """All that comes of two things meeting in one place, the gravest rule first.

    ``high_C`` is the highest temperature there; ``chloride`` says that chloride ions are present.
    """
    out: list[Meeting] = []
    ka, kb = kinds(a.substance), kinds(b.substance)
    for rule, swapped in _candidates(ka, kb):
        first, second = (b, a) if swapped else (a, b)
        if _holds(rule, first, second, high_C, chloride):
            out.append(
                Meeting(
                    first.substance.id, second.substance.id, where, rule.effects, rule.gas,
                    rule.words, rule.id, rule.source,
                )
            )  # fmt: skip
    if not _candidates(ka, kb):
        out += _from_chart(a, b, where, ka, kb)
    if any(m.gas and "GT" in m.effects for m in out):
        out = [m for m in out if m.rule != "acid-frees-gas"]  # a rule names the gas
    return sorted(out, key=lambda m: (-len(GRAVE & set(m.effects)), m.rule))


def _from_chart(a: Present, b: Present, where: str, ka: Kinds, kb: Kinds) -> list[Meeting]:
    for x in _own_groups(ka):
        for y in _own_groups(kb):
            codes = _chart().get(frozenset((x, y)), ())
            if {"F", "GT", "GF", "E"} & set(codes):
                words = ", ".join(EFFECTS[c] for c in codes if c in EFFECTS)
                gas = "H2" if "GF" in codes and {x, y} & {21, 22, 23} else ""
                return [
                    Meeting(a.substance.id, b.substance.id, where, codes, gas, words,
                            f"epa-{x}-{y}", EPA.format(x, y))
                ]  # fmt: skip
    return []


def _own_groups(known: Kinds) -> list[int]:
    """The chart's groups of a substance; "combustible, miscellaneous" only where it has no other.

    That group is the chart's rest: paraffin oil, under which alkali metals are kept, stands with
    the saturated hydrocarbons, of which the chart names nothing with them.
    """
    own = {g for g in known.epa if g < MISCELLANEOUS}
    return sorted(known.epa - {MISCELLANEOUS} if own else known.epa)


def present(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    inside: Mapping[str, float] | None = None,
) -> list[Present]:
    """All that a step's vessel sees, with mass fractions where they are known.

    ``strengths`` gives, per family root, the mass fraction of the solution that is poured in,
    ``inside`` how strong what is dissolved stands in the vessel (None: by the record alone).
    """
    poured = strengths or {}
    if inside is None:
        inside = vessel_fractions(library, step, poured)
    watery = any(p.state == "aq" for p in (*step.reactants, *step.products)) or any(
        library.substances[a.substance].formula == "H2O" and a.role != "wash" for a in step.aids
    )
    out: list[Present] = []
    for part, kind in [(p, "reactant") for p in step.reactants] + [
        (p, "product") for p in step.products
    ]:
        strength = None
        if part.state == "aq":
            given = poured.get(library.root(part.substance)) if kind == "reactant" else None
            least = step.strength.get(part.substance)
            strength = given or least or inside.get(part.substance)
        out.append(Present(library.substances[part.substance], part.state, strength, kind))
    for aid in step.aids:
        substance = library.substances[aid.substance]
        strength = poured.get(library.root(aid.substance)) or aid.at_least or None
        state = "l" if substance.formula == "H2O" or not watery else "aq"
        if strength is None and state == "aq":
            strength = inside.get(aid.substance)
        out.append(Present(substance, state, strength, aid.role))
    return out


def meetings(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    inside: Mapping[str, float] | None = None,
) -> tuple[Meeting, ...]:
    """All that meets in a step, intended or not: in the vessel, at washing, and among its gases."""
    here = [p for p in present(library, step, strengths, inside) if p.part != "fuel"]
    written = {library.substances[p.substance].formula for p in (*step.reactants, *step.products)}
    if any("carbonate" in kinds(library.substances[p.substance]) for p in step.products):
        written.add("CO2")  # taken up again
    high = step.record.temperature.high_C
    chloride = any("Cl" in (p.substance.formula or "") for p in here)
    out: list[Meeting] = []
    for a, b in combinations(here, 2):
        if a.substance.id == b.substance.id:
            continue
        where = _where(a, b)
        if where is None:
            continue
        hot = high if where == "vessel" else 20.0
        for m in between(a, b, where, hot, chloride):
            if where == "wash" and m.rule.startswith("conc-"):
                continue  # what is washed out is no longer strong
            both = {a.part, b.part} <= {"reactant", "catalyst", "medium"}
            written_gas = m.gas in written or (step.is_recipe and both and not m.grave)
            meant = written_gas if m.gas else both
            out.append(Meeting(m.a, m.b, where, m.effects, m.gas, m.words, m.rule, m.source, meant))
    return tuple(_once(out))


def _where(a: Present, b: Present) -> str | None:
    """Where two things of one step meet; None when they do not."""
    if a.state == b.state == "g" and {a.part, b.part} == {"product"}:
        return "trap"
    if "g" in (a.state, b.state) and "product" in (a.part, b.part):
        return None  # it leaves
    parts = {a.part, b.part}
    if "wash" in parts:
        return None if parts == {"wash"} or "solvent" in parts else "wash"
    if "drying agent" in parts:
        return None if parts & {"reactant", "solvent", "catalyst"} else "vessel"
    return "vessel"


def _once(found: Iterable[Meeting]) -> list[Meeting]:
    seen: dict[tuple[str, frozenset[str]], Meeting] = {}
    for m in found:
        seen.setdefault((m.rule, frozenset((m.a, m.b))), m)
    return list(seen.values())


def surprises(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    inside: Mapping[str, float] | None = None,
) -> tuple[Meeting, ...]:
    """What meets in a step that its equation does not say, gravest first.

    Plain heat between things that are no reactants, and gas that only foams, stay out, except
    where something is washed with a carbonate (the funnel must be vented).
    """
    found = [
        m
        for m in meetings(library, step, strengths, inside)
        if not m.intended and (m.grave or "G" in m.effects)
    ]
    return tuple(sorted(found, key=lambda m: (not m.grave, m.where, m.rule, m.a, m.b)))


def unknown_kinds(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Ids of what is present and of which no rule knows the kind: not known to be safe."""
    return tuple(
        dict.fromkeys(p.substance.id for p in present(library, step) if kinds(p.substance).unknown)
    )


# --- traps and waste ---------------------------------------------------------------------------

SOUR = ("soda or dilute caustic solution", "alkali")
ABSORBENTS: dict[str, tuple[str, str]] = {
    "HCl": SOUR, "SO2": SOUR, "SO3": SOUR, "Cl2": SOUR, "NO2": SOUR, "H2S": SOUR, "C2H4O2": SOUR,
    "NH3": ("dilute citric or sulfuric acid", "acid"),
}  # fmt: skip
SUCKS_BACK = frozenset({"HCl", "NH3"})
GASEOUS = frozenset(ABSORBENTS) | {"CO", "H2", "PH3", "AsH3", "C3H4O"}  # no vapour of a liquid
# what a trap's liquor then holds (common practice)
SPENT: dict[str, str] = {
    "HCl": "a salt of hydrochloric acid; neutralise it",
    "SO2": "sulfite: never with acid, never with bleach",
    "SO3": "a sulfate; neutralise it",
    "Cl2": "bleach: never with acid or ammonia",
    "NO2": "nitrite and nitrate: never with acid or ammonium salts",
    "H2S": "sulfide: never with acid",
    "C2H4O2": "an acetate; neutralise it",
    "NH3": "an ammonium salt: never with bleach or lye",
}


def spent(library: Library, gas: str) -> str:
    """What the liquor holds that has taken up a gas of a ``Trap``."""
    row = fumes.known(library, gas)
    return SPENT.get(row.formula if row is not None else "", "what it took up; hand it in")


def gas_name(library: Library, gas: str) -> str:
    """The name of a gas of a ``Trap``: of a substance, or as it stands."""
    return library.name(gas) if gas in library.substances else gas


@dataclass(frozen=True)
class Trap:
    """What takes up the gases of a step (common practice), what cannot be trapped, and conflicts.

    Gases are ids, or names of ``fumes.csv`` where the library has no such substance. ``absorbents``
    are (gas, liquid); ``outdoors`` gases that no simple trap takes; ``sucks_back`` gases so soluble
    that the trap may run back into the vessel.
    """

    absorbents: tuple[tuple[str, str], ...]
    outdoors: tuple[str, ...]
    sucks_back: tuple[str, ...]
    conflicts: tuple[str, ...]


def trap(library: Library, step: ResolvedStep) -> Trap:
    """The usual trap for the gases of a step; two gases that need opposite traps are a conflict."""
    liquids: list[tuple[str, str]] = []
    sides: dict[str, str] = {}
    outdoors: list[str] = []
    back: list[str] = []
    leaving = [(i, library.substances[i].formula or "") for i in fumes.of_equation(library, step)]
    leaving += [
        (f.substance or f.name, f.formula)
        for f in fumes.fumes(library, step)
        if f.formula in GASEOUS and not (f.traces and f.formula in ABSORBENTS)
    ]
    for gas, formula in dict.fromkeys(leaving):
        if formula in fumes.CLEAN:
            continue
        if formula not in ABSORBENTS:
            outdoors.append(gas)
            continue
        liquid, side = ABSORBENTS[formula]
        liquids.append((gas, liquid))
        sides[gas] = side
        if formula in SUCKS_BACK:
            back.append(gas)
    conflicts = []
    if len(set(sides.values())) > 1:
        names = " and ".join(gas_name(library, i) for i in sides)
        conflicts.append(f"{names} need opposite traps, one after the other; together they smoke")
    return Trap(tuple(liquids), tuple(outdoors), tuple(back), tuple(conflicts))


def left(library: Library, step: ResolvedStep) -> list[Present]:
    """What a step leaves for the waste jar: by-products, excess, aids; no gases, no water."""
    kept = {p.substance for p in step.kept()}
    inside = vessel_fractions(library, step, {})
    out = [
        Present(library.substances[p.substance], p.state, inside.get(p.substance), "product")
        for p in step.products
        if p.substance not in kept and p.state != "g"
    ]
    out += [
        Present(library.substances[p.substance], p.state, inside.get(p.substance), "reactant")
        for p in step.reactants
        if step.excess.get(p.substance, 0.0) > 0 and p.state != "g"
    ]
    out += [
        Present(library.substances[a.substance], "aq", inside.get(a.substance), a.role)
        for a in step.aids
        if a.role != "fuel" and a.recovered < 1
    ]
    return [p for p in out if p.substance.formula != "H2O"]


def jar(library: Library, steps: Sequence[ResolvedStep]) -> tuple[Meeting, ...]:
    """What would come of pouring the leavings of all steps of a route into one jar."""
    every = [(step.id, p) for step in steps for p in left(library, step)]
    out: list[Meeting] = []
    for (one, a), (other, b) in combinations(every, 2):
        if one != other and a.substance.id != b.substance.id:
            out += between(a, b, "waste")
    return tuple(sorted(_once(out), key=lambda m: (not m.grave, m.rule)))


NEVER_ADD = (
    ("strong acid", "acid"), ("caustic", "caustic soda or lime"), ("hypochlorite", "bleach"),
    ("peroxide", "peroxide"),
)  # fmt: skip


@dataclass(frozen=True)
class NeverAdd:
    """What must never be poured onto a leaving, and what would come of it."""

    leaving: str
    agent: str
    words: str
    source: str


def never_add(library: Library, leavings: Iterable[Present]) -> tuple[NeverAdd, ...]:
    """What must not go into a jar with these leavings: acid, alkali, bleach, peroxide."""
    out: list[NeverAdd] = []
    for p in leavings:
        known = kinds(p.substance)
        for kind, words in NEVER_ADD:
            agent = Kinds(frozenset({kind, *_WITH.get(kind, ())}), frozenset(), False)
            bad = [r for r, _ in _candidates(known, agent) if _spoils(r, p, known)]
            if bad:  # what may explode is told before what is only breathed
                rule = min(bad, key=lambda r: "E" not in r.effects)
                out.append(NeverAdd(p.substance.id, words, rule.words, rule.source))
    return tuple(dict.fromkeys(out))


def _spoils(rule: Rule, p: Present, known: Kinds) -> bool:
    """Whether a rule speaks against adding something to a leaving, as it lies in a jar."""
    if p.state == "aq" and ("strong" in rule.when or "dry" in rule.when):
        return False
    bad = {"GT", "E", "F"} & set(rule.effects) or ("GF" in rule.effects and "metal powder" in known)
    return bool(bad) and "concentrated" not in rule.when


_WITH = {"caustic": ("strong alkali",)}


# --- the shelf ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Apart:
    """Materials (names) that must not stand together, by one rule."""

    these: tuple[str, ...]
    those: tuple[str, ...]
    grave: bool
    words: str
    rule: str
    source: str


def _on_shelf(library: Library, supply: Supply) -> list[Present]:
    state = {"solution": "aq", "liquid": "l", "gas": "g"}.get(supply.form, "s")
    out = []
    for name, fraction in supply.fractions.items():
        substance = library.substances[name]
        if fraction >= 0.01 and substance.formula != "H2O":
            strength = fraction if state in {"aq", "l"} else None
            out.append(Present(substance, state, strength, "supply"))
    return out


def apart(library: Library, supplies: Sequence[Supply]) -> tuple[Apart, ...]:
    """Which materials of a shelf must stand apart, gravest first, one entry a rule."""
    rows = [(s, _on_shelf(library, s)) for s in supplies if not s.everywhere]
    found: dict[str, tuple[Meeting, dict[str, None], dict[str, None]]] = {}
    for (one, parts), (other, others) in combinations(rows, 2):
        for a in parts:
            for b in others:
                for m in between(a, b, "shelf", chloride=_chloride(a) or _chloride(b)):
                    entry = found.setdefault(m.rule, (m, {}, {}))
                    left_name, right = (
                        (one.name, other.name) if m.a == a.substance.id else (other.name, one.name)
                    )
                    entry[1][left_name] = None
                    entry[2][right] = None
    out = [
        Apart(tuple(a), tuple(b), m.grave, m.words, m.rule, m.source)
        for m, a, b in found.values()
        if m.rule not in _NOT_ON_A_SHELF
    ]
    return tuple(sorted(out, key=lambda x: (not x.grave, x.rule)))


_NOT_ON_A_SHELF = frozenset({"displacement", "acid-salt-metal", "peroxide-organic-acid"})


def _chloride(p: Present) -> bool:
    return p.substance.formula == "HCl"


def alone(library: Library, supplies: Sequence[Supply]) -> tuple[tuple[str, str], ...]:
    """Materials that need care even by themselves: (name, what to do)."""
    out = []
    for supply in supplies:
        for p in _on_shelf(library, supply):
            known = kinds(p.substance)
            for kind, words in _ALONE:
                if kind in known:
                    out.append((supply.name, words))
            if known.unknown:
                out.append((supply.name, "no rule knows what it may meet: keep it by itself"))
    return tuple(dict.fromkeys(out))


_ALONE = (
    ("peroxide former", "forms peroxides with air over the years: date the bottle, keep it dark "
     "and full, never distil an old bottle to dryness"),
    ("drying oil", "rags and paper with it heat themselves and may take fire: spread them to dry "
     "outdoors or keep them under water in a closed tin"),
    ("water-reactive", "keep dry, in a tight jar, away from taps; it heats with water"),
    ("peroxide", "cap that vents, cool and dark; never a tight cap"),
    ("hypochlorite", "cap that vents, cool and dark, away from everything sour"),
    ("silver salt", "dark; stains skin"),
)  # fmt: skip
