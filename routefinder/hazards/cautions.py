"""What to wear, what to do when it goes wrong, what never to do, how to keep it: per step.

The advice follows from what is present (GHS statements at their strengths, kinds of substances),
from the conditions of the step and from what meets what. Each piece says why it is there and where
it comes from; P statements are those of UN GHS Annex 3 (from memory), the rest is common practice
unless it says otherwise. It replaces no data sheet and no supervision.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from routefinder.hazards import meets
from routefinder.hazards.kinds import DATA, Kinds, kinds
from routefinder.hazards.label import Label, step_label
from routefinder.hazards.mixture import material_hazards
from routefinder.hazards.score import (
    Profile,
    as_asked,
    fume_points,
    hazards_of,
    present,
    profile,
)
from routefinder.library import fumes
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed
from routefinder.records.shelf import Supply
from routefinder.records.substance import Hazards, Substance

PRACTICE = "common practice"
GHS = "from memory: UN GHS Annex 3, {}"


@dataclass(frozen=True)
class Advice:
    """One piece of advice: what, why (what in the step asks for it), and its source."""

    text: str
    why: str
    source: str


@dataclass(frozen=True)
class Cautions:
    """All advice of one step, with its label and its points.

    ``lacks`` are protections that the step's record does not name among its equipment.
    """

    label: Label
    profile: Profile
    wear: tuple[Advice, ...]
    if_wrong: tuple[Advice, ...]
    never: tuple[Advice, ...]
    keep: tuple[Advice, ...]
    lacks: tuple[Advice, ...]


@dataclass(frozen=True)
class _Here:
    """What the advice looks at: codes with the names that bear them, kinds, states.

    ``touched`` leaves out what is a gas.
    """

    library: Library
    step: ResolvedStep
    codes: dict[str, tuple[str, ...]]
    touched: dict[str, tuple[str, ...]]
    things: tuple[tuple[Substance, str, float | None, Kinds], ...]
    points: Profile

    def bearing(self, *codes: str) -> str:
        """Names of what bears any of these statements, or ""."""
        names = [n for c in codes for n in self.codes.get(c, ())]
        return _some(dict.fromkeys(names))

    def touching(self, *codes: str) -> str:
        """As ``bearing``, gases left out."""
        return _some(dict.fromkeys(n for c in codes for n in self.touched.get(c, ())))

    def of_kind(self, *names: str, states: str = "") -> str:
        """Names of what is of any of these kinds (in any of these states), or ""."""
        found = [
            s.name
            for s, state, _, known in self.things
            if known.names & set(names) and (not states or state in states.split())
        ]
        return _some(dict.fromkeys(found))

    def needs(self, *names: str) -> bool:
        """Whether the record names any of these capabilities."""
        return any(need.name in names for need in self.step.record.equipment)

    @property
    def gases(self) -> list[Substance]:
        """Gases that leave."""
        return [
            self.library.substances[p.substance]
            for p in self.step.products
            if p.state == "g" and self.step.dissolved.get(p.substance, 0.0) < 1
        ]

    def besides(self, least: int = 1, *, traces: bool = False) -> list[str]:
        """Names of what the record says is given off, of so many points or more.

        Traces only when asked for; they then count as if they were not.
        """
        return [
            f.name
            for f in fumes.fumes(self.library, self.step)
            if (traces or not f.traces)
            and fume_points(self.library, replace(f, traces=False)) >= least
            and f.formula not in _CLEAN
        ]


def _some(names: Iterable[str], most: int = 3) -> str:
    return listed(names, "", most)


def _look(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float],
    charged: Sequence[Supply],
    inside: Mapping[str, float] | None,
) -> _Here:
    codes: dict[str, list[str]] = {}
    touched: dict[str, list[str]] = {}
    things = []

    def bears(found: Hazards, name: str, gas: bool) -> None:
        short = [code[:4] if code.startswith("H") else code for code in found.scored]
        for code in (*short, *(["unknown"] if found.no_data else [])):
            codes.setdefault(code, []).append(name)
            if not gas:
                touched.setdefault(code, []).append(name)

    for name, state, strength in present(library, step, strengths, inside):
        substance = library.substances[name]
        things.append((substance, state, strength, kinds(substance)))
        bears(hazards_of(library, name, state, strength), substance.name, state == "g")
    for supply in charged:  # only what its substance alone would not say
        found = material_hazards(library, supply.fractions, supply.form, supply.hazards)
        new = tuple(c for c in found.scored if (c[:4] if c.startswith("H") else c) not in codes)
        if new:
            only = found.model_copy(update={"statements": new, "caution": ()})
            bears(only, supply.name, supply.form == "gas")
    return _Here(
        library, step, _once(codes), _once(touched), tuple(things),
        profile(library, step, strengths, charged, inside),
    )  # fmt: skip


def _once(table: Mapping[str, Iterable[str]]) -> dict[str, tuple[str, ...]]:
    return {code: tuple(dict.fromkeys(names)) for code, names in table.items()}


@lru_cache(maxsize=1)
def _gloves() -> tuple[tuple[str, str, str, str], ...]:
    with (DATA / "gloves.csv").open(encoding="utf-8", newline="") as file:
        return tuple((r["by"], r["what"], r["gloves"], r["source"]) for r in csv.DictReader(file))


def glove(substance: Substance) -> tuple[str, str] | None:
    """(glove material, source) that stands up to a substance, or None when no row knows it."""
    known = kinds(substance)
    for by, what, gloves, source in _gloves():
        if (by == "cas" and substance.cas == what) or (by == "kind" and what in known):
            return gloves, source
    return None


_MASK = re.compile(r"(?<!gas )\bmask\b", re.IGNORECASE)  # of dust, in a record's own cautions
# statements of what must never touch a thing that sees food again
NEVER_WITH_FOOD = (
    "H300", "H301", "H330", "H340", "H341", "H350", "H351", "H360", "H361", "H410",
)  # fmt: skip
OUTDOORS = "outdoors upwind, never in a room"
_OUTDOORS = re.compile(
    r"\boutdoors only\b|\bonly outdoors\b|\bnever (?:indoors|in a (?:closed )?room)\b|"
    r"\boutdoors with a lime scrubber only\b|: outdoors(?:[,;.]|$)|, and outdoors\b",
    re.IGNORECASE,
)


def outdoors_words(step: ResolvedStep) -> str:
    """The caution of a record that allows a step outdoors only, or ""."""
    return next((t for t in step.record.cautions if _OUTDOORS.search(t)), "")


# harms as it is breathed, or frees a gas that does
LUNGS = ("H330", "H331", "EUH029", "EUH031", "EUH032")
SKIN = ("H310", "H311", "H312", "H314", "H315", "H317")


def _wear(here: _Here) -> list[Advice]:
    out: list[Advice] = []
    corrosive = here.bearing("H314", "H318")
    low = here.step.record.temperature.low_C
    high = here.step.record.temperature.high_C
    wet = any(state in {"aq", "l"} for _, state, _, _ in here.things)
    if corrosive:
        out.append(Advice("close-fitting goggles", corrosive, GHS.format("P280")))
    elif here.bearing("H319", "H315", "unknown") or (wet and high >= 60):
        why = here.bearing("H319", "H315", "unknown") or f"hot liquid, to {high:g} °C"
        out.append(Advice("safety glasses or goggles", why, GHS.format("P280")))
    else:
        out.append(Advice("safety glasses", "at every bench", PRACTICE))
    fast = here.points["heat"].points >= 2 and not any(p.state == "g" for p in here.step.reactants)
    spits = corrosive and wet and (fast or 80 <= low < 300)
    if spits or here.points["heat"].points >= 3:
        out.append(
            Advice("face shield, or a screen between you and the vessel",
                   here.points["heat"].cause if fast
                   else f"hot corrosive liquid, from {low:g} °C", PRACTICE)
        )  # fmt: skip
    out += _hands(here)
    if here.points["dust"].points >= 2:
        mask = "P3" if here.points["dust"].points >= 3 else "P2"
        out.append(
            Advice(f"dust mask {mask}, weigh and sieve gently, wipe up damp",
                   here.points["dust"].cause, PRACTICE)
        )  # fmt: skip
    elif any(_MASK.search(text) for text in here.step.record.cautions):
        out.append(Advice("dust mask P2, weigh and sieve gently, wipe up damp",
                          "its cautions ask for a mask", PRACTICE))  # fmt: skip
    bad = [s.name for s in here.gases if s.formula not in _CLEAN] + here.besides(3)
    asked = fumes.why_asked(here.library, here.step)
    outdoors = outdoors_words(here.step)
    if outdoors:
        out.append(Advice(OUTDOORS, outdoors, PRACTICE))
    elif bad or asked:
        why = asked or f"{_some(dict.fromkeys(bad))} given off"
        out.append(Advice("fume extraction, or outdoors upwind", why, PRACTICE))
    elif warm := _warm_and_poisonous(here):
        out.append(Advice("fume extraction, or outdoors upwind", f"{warm}, warm", PRACTICE))
    elif some := here.besides(traces=True):
        out.append(Advice("air the room well, do not breathe what rises", _some(some), PRACTICE))
    elif breathing := here.bearing("H330", "H331", "H334", "H335"):
        # a powder that does not dust from a solution needs air, not a fume cupboard
        out.append(Advice("good ventilation, breathe no dust or mist", breathing, PRACTICE))
    fire = here.of_kind("flammable liquid", states="l") or here.bearing("H224", "H225", "H226")
    hydrogen = [s.name for s in here.gases if s.formula in {"H2", "CO", "CH4"}]
    hydrogen += [f.name for f in fumes.fumes(here.library, here.step) if f.formula == "H2"]
    if fire or hydrogen:
        rest = "heat with water bath or mantle" if fire else "air the room"
        if outdoors and not fire:
            rest = "none upwind either"
        out.append(
            Advice(f"no flame, no spark, no smoking; {rest}", fire or _some(hydrogen),
                   GHS.format("P210"))
        )  # fmt: skip
    return out


def _warm_and_poisonous(here: _Here) -> str:
    """Names of liquids with H330 or H331 that are warmed to 50 degC or more, or ""."""
    if here.step.record.temperature.high_C < 50:
        return ""
    bad = [
        s.name
        for s, state, strength, _ in here.things
        if state == "l"
        and {"H330", "H331"} & set(hazards_of(here.library, s.id, state, strength).scored)
    ]
    return _some(dict.fromkeys(bad))


_CLEAN = fumes.CLEAN | {"H2"}
_PRESSURE = frozenset({"CO", "CO2", "SO2", "Cl2", "H2"})


def _hands(here: _Here) -> list[Advice]:
    wanted: dict[str, list[str]] = {}
    sources: dict[str, str] = {}
    for substance, state, strength, _ in here.things:
        if state == "g":
            continue
        found = hazards_of(here.library, substance.id, state, strength)
        codes = {c[:4] for c in found.scored}
        if not (codes & set(SKIN) or found.no_data or codes & {"H350", "H360", "H341", "H361"}):
            continue
        gloves, source = glove(substance) or ("nitrile", "common practice: salts and solutions")
        wanted.setdefault(gloves, []).append(substance.name)
        sources[gloves] = source
    for best in ("butyl", "nitrile"):  # one pair that stands up to all of it
        if best in wanted:
            for other in [g for g in wanted if g != best]:
                wanted[best] += wanted.pop(other)
            break
    out = [
        Advice(f"gloves of {gloves} rubber", _some(dict.fromkeys(names)), sources[gloves])
        for gloves, names in wanted.items()
    ]
    low = here.step.record.temperature.low_C
    if low >= 150:
        out.append(
            Advice("heat-proof gloves, tongs, no synthetic clothes", f"{low:g} °C", PRACTICE)
        )
    return out


BURNS_WITH_WATER = frozenset({"H260", "H261", "EUH014"})


def takes_fire_with_water(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of what is in a step and takes fire with water (H260, H261, alkali metals)."""
    found = []
    for name, state, strength in present(library, step, {}):
        substance = library.substances[name]
        codes = set(hazards_of(library, name, state, strength).scored)
        burns = codes & BURNS_WITH_WATER or "alkali metal" in kinds(substance)
        if state in {"s", "l"} and burns:
            found.append(substance.name)
    return tuple(dict.fromkeys(found))


def _off_first(here: _Here) -> str:
    """Names of what takes fire, or heats and burns the skin, with water; "" when nothing does."""
    fire = takes_fire_with_water(here.library, here.step)
    heats = [s.name for s, state, _, known in here.things
             if state in {"s", "l"} and "water-reactive" in known]  # fmt: skip
    return _some(dict.fromkeys([*fire, *heats]))


def _if_wrong(here: _Here) -> list[Advice]:
    out: list[Advice] = []
    quick = _off_first(here)
    metal = here.of_kind("metal powder", "light metal", "alkali metal")
    off = f"brush and pick every bit of {quick} off dry first, then " if quick else ""
    if why := here.bearing("H314", "H318", "H319", "unknown"):
        first = f"wipe every grain of {quick} out dry first, then " if quick else ""
        grave = here.bearing("H314", "H318", "unknown")
        then = "then to an eye doctor at once" if grave else "to an eye doctor if it still stings"
        out.append(
            Advice(f"in the eyes: {first}rinse with running water for 15 minutes, lenses out, lids "
                   f"held open, {then}", grave or why, GHS.format("P305+P351+P338"))
        )  # fmt: skip
    if why := here.touching("H314", "H310", "H311", "H312", "H315"):
        burn = ", then a doctor" if here.touching("H314", "H310", "H311") else ""
        out.append(
            Advice(f"on the skin: off with wet clothes, {off}rinse long with "
                   f"{'a flood of ' if quick else ''}water{burn}", why,
                   GHS.format("P302+P335+P334" if quick else "P303+P361+P353"))
        )  # fmt: skip
    elif quick:
        out.append(
            Advice(f"on the skin: {off}rinse long with a flood of water", quick,
                   GHS.format("P302+P335+P334"))
        )  # fmt: skip
    if why := here.of_kind("fluoride acid"):
        out.append(
            Advice("fluoride on the skin: rinse at once, rub calcium gluconate gel in, to a "
                   "hospital even if it does not hurt yet", why, PRACTICE)
        )  # fmt: skip
    if why := here.of_kind("alkali metal"):
        out.append(
            Advice("swallowed: give nothing to drink, call the poison centre at once with the "
                   "label in hand", why, PRACTICE)
        )  # fmt: skip
    elif why := here.touching("H300", "H301", "H302", "H304", "H314"):
        out.append(
            Advice("swallowed: rinse the mouth, do not make sick, call the poison centre with the "
                   "label in hand", why, GHS.format("P301+P330+P331"))
        )  # fmt: skip
    bad = [s.name for s in here.gases if s.formula not in _CLEAN] + here.besides(3, traces=True)
    if why := _some(dict.fromkeys(bad)) or here.bearing(*LUNGS):
        out.append(
            Advice("breathed in: out into fresh air, sit up, call a doctor; lungs may fail hours "
                   "later", why, GHS.format("P304+P340"))
        )  # fmt: skip
    if metal:
        out.append(
            Advice("burning metal: dry sand or salt, never water, foam or carbon dioxide", metal,
                   PRACTICE)
        )  # fmt: skip
    if why := here.of_kind("sulfur", states="s"):
        with_ = "dry sand" if metal or quick else "sand, or water as a fine spray"
        out.append(
            Advice(f"burning sulfur: {with_}; stay out of the fumes (sulfur dioxide)", why,
                   PRACTICE)
        )  # fmt: skip
    if why := here.of_kind("flammable liquid", states="l"):
        then = "dry sand" if metal or quick else "powder or CO₂"
        out.append(
            Advice(f"burning solvent: lid or fire blanket, then {then}; gas and plugs off", why,
                   PRACTICE)
        )  # fmt: skip
    if why := here.of_kind("strong oxidiser", "peroxide", "hypochlorite"):
        with_ = "sweep it up dry" if quick else "much water"
        out.append(Advice(f"spilt oxidiser: {with_}, no sawdust, no cloth", why, PRACTICE))
    if why := here.bearing("H314") and here.of_kind("strong acid", "organic acid", "mineral acid"):
        out.append(Advice("spilt acid: chalk or soda till it stops fizzing, then water", why,
                          PRACTICE))  # fmt: skip
    if why := here.bearing("H314") and here.of_kind("caustic"):
        first = f"lift {quick} out dry first, then " if quick else ""
        out.append(
            Advice(f"spilt lye: {first}much water, then vinegar or citric acid", why, PRACTICE)
        )
    low = here.step.record.temperature.low_C
    if low >= 60:
        out.append(
            Advice(f"burnt: {off}cool under running tepid water for 20 minutes, no ice, no "
                   "ointment", f"{low:g} °C", PRACTICE)
        )  # fmt: skip
    return out


def _never(
    here: _Here, strengths: Mapping[str, float], inside: Mapping[str, float] | None
) -> list[Advice]:
    out: list[Advice] = []
    library, step = here.library, here.step
    strong = [
        s.name
        for s, state, strength, known in here.things
        if "strong acid" in known and s.formula in {"H2SO4", "HCl", "HNO3"}
        and state in {"aq", "l"} and (strength is None or strength >= 0.2)
    ]  # fmt: skip
    if strong:
        out.append(
            Advice("never pour water into the acid to dilute it: acid into water, thinly",
                   _some(strong), PRACTICE)
        )  # fmt: skip
    lye = [
        library.name(i)
        for i in (*(p.substance for p in step.reactants), *(a.substance for a in step.aids))
        if "caustic" in kinds(library.substances[i]) and library.root(i) not in strengths
    ]
    if why := _some(dict.fromkeys(lye)):
        watery = any(p.state == "aq" for p in step.reactants) or any(
            library.substances[a.substance].formula == "H2O" and a.role != "wash" for a in step.aids
        )  # else the lye goes into spirit, oil or a melt
        text = "never water onto solid lye"
        if watery:
            text += " to dissolve it: lye into cold water, little by little"
        out.append(Advice(text, why, PRACTICE))
    gases = [s.name for s in here.gases if s.formula != "H2O"]
    gases += [
        f.name
        for f in fumes.fumes(library, step)
        if f.formula in _PRESSURE
        and not f.traces
        and f.name not in gases
        and any(p.state in {"aq", "l"} for p in step.reactants)  # a lid on a crucible is loose
    ]
    if gases:
        out.append(Advice("never in a closed vessel", f"{_some(gases)} given off", PRACTICE))
    if why := here.of_kind("flammable liquid", states="l"):
        out.append(Advice("never over a flame or to dryness", why, PRACTICE))
    watery = any(s.formula == "H2O" for s, _, _, _ in here.things) or any(
        p.state == "aq" for p in (*step.reactants, *step.products)
    )
    if not watery and (why := _some(takes_fire_with_water(library, step))):
        out.append(
            Advice(f"never water or damp tools near {why}, not even to put it out", why,
                   GHS.format("P223"))
        )  # fmt: skip
    elif not watery and (why := here.of_kind("water-reactive", states="s l")):
        out.append(
            Advice(f"never water or damp tools onto {why}: it heats and spits", why, PRACTICE)
        )
    for m in meets.surprises(library, step, strengths, inside):
        if m.grave:  # the step itself brings them together, so "never" is about how
            out.append(
                Advice(f"never unvented and unwatched where {library.name(m.a)} and "
                       f"{library.name(m.b)} are together: {m.words}", m.where, m.source)
            )  # fmt: skip
    low = step.record.temperature.low_C
    wet = [
        library.name(p.substance)
        for p in step.reactants
        if p.state == "s" and "H2O" in (library.substances[p.substance].formula or "")
    ]
    if low >= 200 and wet:
        out.append(
            Advice("never into the hot kiln at once: crystal water spits and bursts; warm slowly",
                   _some(wet), PRACTICE)
        )  # fmt: skip
    if why := here.touching(*NEVER_WITH_FOOD):
        out.append(
            Advice("never with pots, spoons or ovens that see food again; no eating or drinking",
                   why, PRACTICE)
        )  # fmt: skip
    return out


def _keep(here: _Here) -> list[Advice]:
    """How the main product is kept: its own words first, then what it must stand apart from."""
    product = here.library.substances[here.step.main.substance]
    dissolved = here.step.main.state == "aq"
    storage = here.step.record.storage or (None if dissolved else product.storage)
    out = []
    if storage is not None:
        source = "; ".join(f"{s.mark}: {s.cite}".rstrip(": ") for s in storage.source)
        out.append(Advice(storage.how, product.name, source or "as the record's own sources"))
    return [*out, *keep_apart(product, dissolved=dissolved)]


_OTHER = {
    "strong acid": "acids", "mineral acid": "acids", "organic acid": "acids",
    "acid salt": "sour salts", "strong alkali": "lye and lime", "mild alkali": "soda and potash",
    "caustic": "lye", "hypochlorite": "bleach", "peroxide": "peroxide",
    "strong oxidiser": "oxidisers", "nitrate": "nitrates", "ammonia": "ammonia",
    "ammonium salt": "ammonium salts", "base metal": "metals", "light metal": "aluminium and "
    "magnesium", "amphoteric metal": "aluminium and zinc", "metal powder": "metal powders",
    "oxidising acid": "nitric acid", "conc sulfuric acid": "concentrated sulfuric acid",
    "alkali metal": "alkali metals", "water": "water", "carbon": "charcoal", "sulfur": "sulfur",
    "organic matter": "anything that burns", "sugar or starch": "anything that burns",
    "flammable liquid": "solvents", "hydrocarbon": "solvents", "alcohol": "solvents",
    "ketone": "solvents", "ester": "solvents", "aldehyde": "solvents", "amine": "amines",
    "sulfite": "sulfites", "thiosulfate": "thiosulfate", "sulfide": "sulfides",
    "cyanide": "cyanides", "silver salt": "silver salts", "amide": "urea",
    "metal oxide": "metal oxides", "chlorine-making oxide": "manganese dioxide",
    "acid frees toxic gas": "what frees gas with acid", "cyanoferrate": "hexacyanoferrates",
    "formate or oxalate": "formates and oxalates", "chloride": "chlorides",
}  # fmt: skip
_NOT_STORED = frozenset({"hydrogen-oxygen", "acid-gas-ammonia", "thermite"})


_NOT_DISSOLVED = frozenset({"undissolved", "dry", "powder"})


def keep_apart(substance: Substance, *, dissolved: bool = False) -> tuple[Advice, ...]:
    """What a substance must stand apart from on the shelf, by the grave rules of ``meets``.

    ``dissolved``: as its solution in water, of which what is only so dry or in powder is not said.
    """
    known = kinds(substance)
    out: dict[str, Advice] = {}
    for rule in meets.rules():
        if dissolved and _NOT_DISSOLVED & set(rule.when.replace("dry or strong", "").split()):
            continue
        if rule.id in _NOT_STORED or not meets.GRAVE & set(rule.effects):
            continue
        for mine, others in ((rule.a, rule.b), (rule.b, rule.a)):
            if known.names & set(mine):
                names = dict.fromkeys(_OTHER.get(o, o) for o in others)
                apart = f"apart from {_some(names, 5)}: "
                if rule.id.endswith("-slow") and any(t.startswith(apart) for t in out):
                    continue  # the quick rule has said it
                out.setdefault(
                    apart + rule.words, Advice(apart + rule.words, substance.name, rule.source)
                )
    if known.unknown:
        out["unknown"] = Advice(
            "by itself: no rule knows what it may meet", substance.name, "cautious"
        )
    return tuple(out.values())


def _lacks(here: _Here) -> list[Advice]:
    out = []
    bad = [s.name for s in here.gases if s.formula not in _CLEAN] + here.besides(3)
    if bad and not here.needs("fume-extraction"):
        why = f"{_some(dict.fromkeys(bad))} given off"
        out.append(Advice("the record names no fume extraction", why, PRACTICE))
    if here.points["dust"].points >= 3 and not here.needs("protect-from-dust", "fume-extraction"):
        out.append(
            Advice("the record names no protection from dust", here.points["dust"].cause, PRACTICE)
        )
    if (why := here.bearing("H314")) and not here.needs("protect-from-splash", "fume-extraction"):
        out.append(Advice("the record names no goggles and gloves", why, PRACTICE))
    return out


def cautions(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    charged: Sequence[Supply] = (),
    inside: Mapping[str, float] | None = None,
) -> Cautions:
    """All cautions of a step.

    ``strengths`` gives, per family root, the mass fraction of the solution that will be used; what
    is not given counts as pure. ``charged`` are the materials weighed or poured in, if known;
    ``inside`` how strong what is dissolved stands in the vessel, where its course is known.
    """
    poured = as_asked(library, step, strengths or {})
    here = _look(library, step, poured, charged, inside)
    return Cautions(
        step_label(library, step, poured, charged, inside), here.points, tuple(_wear(here)),
        tuple(_if_wrong(here)),
        tuple(_never(here, poured, inside)), tuple(_keep(here)), tuple(_lacks(here)),
    )  # fmt: skip
