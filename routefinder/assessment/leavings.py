"""What is left over, stream by stream, with the usual handling: local rules decide.

What leaves a step is grouped by where it is: the liquor (all that is dissolved, and liquids mixed
with water), the solids, a liquid without water, or one sludge where solids that burn with water or
in air lie in oil. A stream is one thing and is judged by its worst partners: an oxidiser in a sour
liquor is not treated as an oxidiser and as an acid, and what has no treatment together is handed
in. A metal is thrown out of solution only where it is dissolved and nothing holds it there.

The streams are read off the states of the equation; which liquor of a step something goes with is
not known yet, so all liquors of a step count as one. What a recipe does not name is told too: in a
wet one it is judged as the gravest of what went in; what is washed out of a fired one is unknown.
The handling is common practice of small laboratories and potteries; it is no permission to pour
anything away. What must not be poured onto what comes from ``hazards.meets``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from routefinder.hazards import meets
from routefinder.hazards.kinds import Kinds, kinds
from routefinder.hazards.meets import NeverAdd, Present
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed
from routefinder.records.substance import Substance
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.stream import NOTHING, REST

RULE = "local rules decide"
SOURCE = "common practice"
METALS = {
    "Cr": "chromium", "Co": "cobalt", "Ni": "nickel", "Cd": "cadmium", "Pb": "lead",
    "Ag": "silver", "Ba": "barium", "Cu": "copper", "Zn": "zinc", "Mn": "manganese", "Sn": "tin",
    "Bi": "bismuth",
}  # fmt: skip
HAND_IN = "collect by itself, labelled with all that is in it, and hand in"
DRAIN = "never down the drain"
REACTIVE = "reactive"
SCRAP = "scrap metal"
MIXED = "mixed"
# kind -> (dissolved or liquid, solid); None: the other one serves both
HOW: dict[str, tuple[str, str]] = {
    REACTIVE: (
        "one thing, not to be taken apart: keep it covered as the record says, in a jar of "
        "metal or plastic that is not sealed tight, no water, no acid, no rag, away from all "
        "that burns; label it with all that is in it and ask who may take it", "",
    ),
    "cyanoferrate": ("collect by itself; keep cold, away from acids and sunlight; hand in", ""),
    "oxidiser": (
        "cold and dilute, take the strength out with a little thiosulfate or sulfite, in small "
        "lots; then as salts",
        "keep away from all that burns, " + HAND_IN,
    ),
    "solvent": (
        "collect in a closed, labelled can away from flames; use again or hand in; " + DRAIN, "",
    ),
    "borate": ("collect (harmful to unborn children, and to plants) and hand in; never onto soil",
               ""),
    "acid": (
        "pour into much water, add chalk or soda until it no longer fizzes and pH is 6 to 9",
        "dissolve in much water, add chalk or soda until it no longer fizzes and pH is 6 to 9",
    ),
    "alkali": (
        "pour into much water, add vinegar or citric acid until pH is 6 to 9",
        "little by little into much cold water, add vinegar or citric acid until pH is 6 to 9",
    ),
    "oxalate": (
        "throw out with calcium chloride as calcium oxalate, filter, hand the solid in", HAND_IN,
    ),
    "ammonia": ("dilute, bring to pH 6 to 9 with citric acid; outdoors; never with bleach", ""),
    "sulfite": (
        "dilute; let it stand open outdoors or use it up with a little peroxide; never sour",
        HAND_IN,
    ),
    "low hazard": ("drain with much water", "household waste"),
    "organic": ("drain with much water, in small lots",
                "household waste or compost, dried; oily rags under water in a closed tin"),
    "oil": ("", "in a closed bottle into household waste; never down the drain; oily rags under "
            "water in a closed tin"),
    SCRAP: ("", "rinse it, use it again or give it to scrap metal; no jar with acid or lye"),
    "hazardous": ("collect, labelled with its statements, and hand in", ""),
    "unknown": ("collect, labelled with all that went in, and hand in", ""),
    MIXED: (HAND_IN + "; no treatment is known that fits all of it (the "
            "liquors of a step are taken as one)",
            HAND_IN + "; no treatment is known that fits all of it"),
}  # fmt: skip
_METAL_SOLID = "collect in a jar of its own, labelled, and hand in; " + DRAIN
_METAL_OUT = (
    "collect in a jar of its own, labelled; throw the metal out of solution with {by}, settle, "
    "hand the sludge in; " + DRAIN
)
_BY = {
    "barium": "Glauber salt (as sulfate; soda would leave the poisonous carbonate)",
    "silver": "table salt (as chloride)",
}
_SODA = "soda to pH 8 to 9"
_SOUR_SODA = "soda to pH 8 to 9, in small lots (it foams)"
_ORDER = (REACTIVE, *(f"metal: {m}" for m in METALS.values()), *(k for k in HOW if k != REACTIVE))


@dataclass(frozen=True)
class Left:
    """One thing left over: grams, and its state (solid, dissolved, liquid) by letter.

    ``substance`` is "" for what a recipe does not name; then ``like`` says which kind of waste it
    is judged as, and 0 g that its mass is not known.
    """

    substance: str
    name: str
    state: str
    mass_g: float
    like: str = ""


@dataclass(frozen=True)
class Handling:
    """One stream of waste: what it holds, the usual handling, what must never go in with it.

    ``kind`` names its families of hazard ("metal: copper; acid"), ``where`` is "liquor", "solids",
    "liquid" (without water) or "sludge"; ``steps`` are the ids of the steps it leaves.
    """

    kind: str
    what: tuple[Left, ...]
    how: str
    never: tuple[NeverAdd, ...]
    where: str = "liquor"
    steps: tuple[str, ...] = ()
    source: str = SOURCE
    rule: str = RULE

    @property
    def mass_g(self) -> float:
        """Grams of all that is named, water left out."""
        return sum(w.mass_g for w in self.what)


BURNS = frozenset({"H250", "H251", "H252", "H260", "H261", "EUH014"})


def kind_of(substance: Substance, state: str) -> str:
    """The kind of waste one leftover is: "metal: copper", "acid", "solvent", "low hazard"..."""
    known = kinds(substance)
    parsed = substance.parsed
    codes = set(substance.hazards.scored)
    if "alkali metal" in known or (state != "aq" and codes & BURNS):
        return REACTIVE
    if "cyanoferrate" in known or "cyanide" in known:
        return "cyanoferrate"
    if (
        {"base metal", "noble metal"} & known.names
        and state != "aq"
        and not ({"H301", "H330", "H350", "H360"} & {c[:4] for c in codes})
    ):
        return SCRAP
    if parsed is not None and substance.formula != "BaSO4":
        metal = next((name for el, name in METALS.items() if el in parsed.counts), None)
        if metal is not None:
            return f"metal: {metal}"
    if {"hypochlorite", "peroxide", "strong oxidiser"} & known.names:
        return "oxidiser"
    return _by_kind(substance, state, known)


GRAVE = frozenset({
    "H228", "H250", "H251", "H252", "H260", "H261", "H300", "H301", "H310", "H311", "H330", "H331",
    "H334", "H340", "H341", "H350", "H351", "H360", "H361", "H370", "H372", "H400", "H410", "H411",
})  # fmt: skip
_KINDS: tuple[tuple[str, frozenset[str]], ...] = (
    ("solvent", frozenset({"ester", "ketone", "hydrocarbon", "aldehyde", "amine"})),
    ("ammonia", frozenset({"ammonia"})),
    ("sulfite", frozenset({"sulfite"})),
    ("acid", frozenset({"strong acid", "mineral acid", "oxidising acid", "organic acid",
                        "acid salt"})),
    ("alkali", frozenset({"strong alkali"})),
)  # fmt: skip
_BURNS = frozenset({"organic matter", "fatty acid", "drying oil", "sugar or starch"})


def _by_kind(substance: Substance, state: str, known: Kinds) -> str:
    codes = {c[:4] for c in substance.hazards.scored}
    formula = substance.formula or ""
    if "alcohol" in known and codes & {"H225", "H226"}:
        return "solvent"
    if substance.parsed is not None and "B" in substance.parsed.counts:
        return "borate"
    if "C2O4" in formula:
        return "oxalate"
    for kind, names in _KINDS:
        if names & known.names and (kind != "solvent" or state != "s"):
            return kind
    if substance.hazards.no_data:
        return "unknown"
    if codes & GRAVE:
        return "hazardous"
    if state == "l" and ("fatty acid" in known or "drying oil" in known or "-oil" in substance.id):
        return "oil"
    solid = state == "s" and _KINDS[0][1] & known.names  # a wax or a crystal
    return "organic" if solid or _BURNS & known.names else "low hazard"


def leavings(library: Library, steps: Sequence[StepAmounts]) -> tuple[Handling, ...]:
    """What a route leaves over, stream by stream, the gravest first; gases and water left out.

    Streams of several steps that are of the same kind, in the same place, and handled alike stand
    together. "lost" product counts too: it sits in filters, washes and pots.
    """
    found: dict[tuple[str, str, str], tuple[list[Left], list[NeverAdd], list[str]]] = {}
    for amount in steps:
        found_here = streams(library, amount)
        spirit = _spirit(library, found_here)
        for where, what in found_here.items():
            kind, how, never = judge(library, where, what, metals_of(library, amount.step))
            if where == "solids" and spirit:
                how = f"let the {spirit} go off outdoors first, no flame near; then {how}"
            rows, nevers, ids = found.setdefault((kind, where, how), ([], [], []))
            rows += what
            nevers += never
            ids.append(amount.step.id)
    out = [
        Handling(kind, _summed(rows), how, _each_once(nevers), where, tuple(ids))
        for (kind, where, how), (rows, nevers, ids) in found.items()
    ]
    return tuple(sorted(out, key=lambda h: (_rank(h.kind), h.where)))


def _spirit(library: Library, found: dict[str, tuple[Left, ...]]) -> str:
    """Names of flammable liquids that the solids of a step are wet with, or ""."""
    names = [
        w.name
        for where, what in found.items()
        for w in what
        if where != "solids" and w.substance and w.state == "l"
        and "flammable liquid" in kinds(library.substances[w.substance])
    ]  # fmt: skip
    return listed(dict.fromkeys(names))


def _rank(kind: str) -> int:
    return min(_ORDER.index(part) for part in kind.split("; "))


def _summed(rows: Sequence[Left]) -> tuple[Left, ...]:
    """The same thing in the same state counted together, the most first."""
    sums: dict[Left, float] = {}
    for w in rows:
        key = replace(w, mass_g=0.0)
        sums[key] = sums.get(key, 0.0) + w.mass_g
    summed = (replace(w, mass_g=g) for w, g in sums.items())
    return tuple(sorted(summed, key=lambda w: -w.mass_g))


def streams(library: Library, amount: StepAmounts) -> dict[str, tuple[Left, ...]]:
    """What a step leaves over by where it is: "liquor", "solids", "liquid" or "sludge"."""
    step = amount.step
    watery = any(p.state == "aq" for p in (*step.reactants, *step.products)) or any(
        library.substances[p].formula == "H2O"
        for p in (*(a.substance for a in step.aids), *(q.substance for q in step.reactants))
    )
    out: dict[str, list[Left]] = {}
    for outcome in amount.outcomes:
        if outcome.fate not in {"waste", "unreacted", "lost"} or outcome.state == "g":
            continue
        substance = library.substances[outcome.substance]
        if substance.formula == "H2O" or outcome.mass_g < 1e-6:
            continue
        state = _state(substance, outcome.state, outcome.fate, step, watery)
        where = "solids" if state == "s" else "liquor" if watery else "liquid"
        out.setdefault(where, []).append(
            Left(outcome.substance, substance.name, state, outcome.mass_g)
        )
    for rest in _unnamed(library, amount):
        out.setdefault("solids" if rest.state == "s" else "liquor", []).append(rest)
    every = [w for rows in out.values() for w in rows]
    wet = out.get("liquor", []) + out.get("liquid", [])
    if wet and any(_kind(library, w) == REACTIVE for w in every):
        return {"sludge": tuple(every)}
    return {where: tuple(rows) for where, rows in out.items()}


UNNAMED = "what the recipe does not name"
WASHED_OUT = "what washes out of the fired cake, not reckoned"


def _unnamed(library: Library, amount: StepAmounts) -> list[Left]:
    """What leaves a recipe with its liquors and solids besides what it names."""
    step, course = amount.step, amount.course
    if not step.is_recipe:
        return []
    if course.stages.dry:
        washed = any(a.role == "wash" for a in step.aids)
        return [Left("", WASHED_OUT, "aq", 0.0, "unknown")] if washed else []
    grams = {"aq": 0.0, "s": 0.0}
    for way in ("filtrate", "washings", "residue", "spilt"):
        for (what, phase), mass in course.leavings.get(way, NOTHING).parts.items():
            if what == REST[0]:
                grams[phase] += float(mass)
    put_in = [kind_of(library.substances[p.substance], p.state) for p in step.reactants]
    like = min(put_in, key=_ORDER.index)
    return [Left("", UNNAMED, phase, g, like) for phase, g in grams.items() if g >= 1e-6]


def _kind(library: Library, what: Left) -> str:
    """The kind of waste of a thing left over."""
    return what.like or kind_of(library.substances[what.substance], what.state)


_DISSOLVES = frozenset({"crystallisation", "recrystallisation", "concentration"})


def _state(substance: Substance, state: str, fate: str, step: ResolvedStep, watery: bool) -> str:
    """The letter of the state a leftover is in; auxiliaries count as liquids in the amounts."""
    if state == "s" and fate == "lost" and step.record.kind in _DISSOLVES:
        return "aq"  # what did not crystallise is in the mother liquor
    if state == "l" and fate == "waste" and substance.id in {a.substance for a in step.aids}:
        role = next(a.role for a in step.aids if a.substance == substance.id)
        liquid = (
            substance.melting_C < LIQUID_C
            if substance.melting_C is not None
            else bool({"flammable liquid", "hydrocarbon", "drying oil"} & kinds(substance).names)
            or "-oil" in substance.id
        )
        stays = role in {"flux", "seed", "drying agent", "fuel"} or not watery
        if not liquid:
            return "s" if stays or "metal oxide" in kinds(substance) else "aq"
    return state


LIQUID_C = 25.0  # what melts below is a liquid at the bench


@dataclass(frozen=True)
class _Stream:
    """A stream as its judge sees it.

    ``families`` are kinds of waste with the names of what is of them, ``known`` kinds of
    substance; ``holds`` says that something keeps metals in solution (ammonia, citrate, oxalate).
    """

    where: str
    families: dict[str, list[str]]
    known: frozenset[str]
    holds: bool

    def has(self, *names: str) -> bool:
        return bool(self.known & set(names))

    @property
    def sour(self) -> bool:
        return self.has(*_SOUR)

    @property
    def metals(self) -> list[str]:
        return [f.removeprefix("metal: ") for f in self.families if f.startswith("metal: ")]

    @property
    def grave(self) -> list[str]:
        """Families that ask for more than a drain or a bin, the gravest first."""
        quiet = {"low hazard", "organic", "oil", SCRAP}
        return sorted((f for f in self.families if f not in quiet), key=_ORDER.index)

    def named(self, family: str) -> str:
        return listed(dict.fromkeys(self.families.get(family, [])))


_SOUR = ("strong acid", "mineral acid", "oxidising acid", "organic acid", "acid salt")
_HOLDS = ("ammonia", "ammonium salt", "thiosulfate")
_SULFITE = NeverAdd(
    "", "sulfite or thiosulfate", "sulfur dioxide from the acid, and much heat",
    "published: CLP Annex VI, sodium metabisulfite: EUH031",
)  # fmt: skip


def metals_of(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of the poisonous metals of a step, of which every liquor holds traces at least."""
    kinds_of = [
        kind_of(library.substances[p.substance], "aq")
        for p in (*step.reactants, *step.products)
        if p.state != "g"
    ]
    return tuple(
        dict.fromkeys(k.removeprefix("metal: ") for k in kinds_of if k.startswith("metal: "))
    )


def judge(
    library: Library, where: str, what: Sequence[Left], traces: Sequence[str] = ()
) -> tuple[str, str, tuple[NeverAdd, ...]]:
    """(kind, usual handling, what must never go in) of one stream, by its worst partners.

    ``traces`` are metals of the step: a liquor that names none of them holds a little of them.
    """
    stream = _stream(library, where, what)
    trace = ""
    if where in {"liquor", "liquid"} and traces and not stream.metals:
        trace = f"it holds traces of {' and '.join(traces)}: "
        stream.families.update({f"metal: {m}": [] for m in traces})
    named = [w for w in what if w.substance]
    things = [Present(library.substances[w.substance], w.state, None, "product") for w in named]
    never = list(meets.never_add(library, things))
    if "oxidiser" in stream.families and stream.sour:
        never.append(_SULFITE)
    if REACTIVE in stream.families:
        return REACTIVE, f"{HOW[REACTIVE][0]} (it holds {stream.named(REACTIVE)})", tuple(never)
    if not stream.grave:
        return *_quiet(stream), tuple(never)
    kind = "; ".join(stream.grave)
    how = _solid(stream) if where == "solids" else trace + _together(stream)
    return kind, how, tuple(never)


def _each_once(never: Sequence[NeverAdd]) -> tuple[NeverAdd, ...]:
    """What must never go in, each agent and reason once, whatever it meets there."""
    seen = {(n.agent, n.words): n for n in reversed(never)}
    return tuple(reversed(seen.values()))


def _stream(library: Library, where: str, what: Sequence[Left]) -> _Stream:
    families: dict[str, list[str]] = {}
    known: set[str] = set()
    holds = False
    for w in what:
        families.setdefault(_kind(library, w), []).append(w.name)
        if not w.substance:
            continue
        substance = library.substances[w.substance]
        own = kinds(substance).names
        known |= own
        formula = substance.formula or ""
        holds |= bool(set(_HOLDS) & own) or "NH3" in formula
        holds |= any(ion in formula for ion in ("C2O4", "C6H5O7", "C4H4O6")) and w.state == "aq"
        holds |= "organic acid" in own and substance.cas in _CHELATES
    return _Stream(where, families, frozenset(known), holds)


_CHELATES = frozenset({"77-92-9", "5949-29-1", "87-69-4", "144-62-7", "6153-56-6", "526-95-4"})


def _quiet(s: _Stream) -> tuple[str, str]:
    """(kind, handling) of a stream that holds nothing grave."""
    kind = next(k for k in ("oil", "organic", "low hazard", SCRAP) if k in s.families)
    wet, dry = HOW[kind]
    return kind, (wet or dry) if s.where != "solids" else (dry or wet)


def _together(s: _Stream) -> str:
    """How a liquor is handled as the one thing it is."""
    grave, rest = s.grave, [f for f in s.grave if not f.startswith("metal: ")]
    if s.has("hypochlorite") and (s.sour or s.holds):
        gas = "chlorine" if s.sour else "chloramines"
        return f"it may give off {gas}: outdoors, open, add nothing; {HAND_IN}"
    if "oxidiser" in grave and s.sour:
        if not s.has("peroxide") or set(rest) - {"oxidiser", "acid"}:
            return f"sour and oxidising: cool, in a vessel that vents; {HAND_IN}"
        then = _metals(s) if s.metals else HOW["acid"][0]
        return (
            "sour and oxidising: cold and diluted with water, in an open vessel outdoors, until no "
            f"more bubbles come (days); then {then}"
        )
    if s.sour and s.has("sulfite", "thiosulfate", "sulfide"):
        what, gas = "sulfite or thiosulfate", "sulfur dioxide"
        if s.has("sulfide"):
            what, gas = "sulfide", "hydrogen sulfide"
        return (
            f"sour with {what}, it gives off {gas}: open, outdoors or under extraction, soda in "
            f"small lots to pH 8 to 9; then {HAND_IN}"
        )
    if "oxidiser" in grave and len(grave) > 1:
        return f"it holds an oxidiser: cool, in a vessel that vents; {HAND_IN}"
    if "solvent" in grave and s.sour and s.has("carbonate"):
        return (
            "collect in a labelled can whose cap vents (acid and carbonate in it give gas), away "
            f"from flames; hand in; {DRAIN}"
        )
    if "solvent" in grave and s.sour:
        return (
            "keep what washed or distilled with the solvent apart from the sour liquor; each in "
            "its own labelled can whose cap vents (acid and solvent warm each other), away from "
            f"flames; do not neutralise in the can; hand in; {DRAIN}"
        )
    if "solvent" in grave and len(grave) > 1:
        return f"{HOW['solvent'][0]}; do not neutralise in the can, label it with all that is in it"
    if s.metals and set(rest) <= {"acid"}:
        return _metals(s)
    if s.metals and rest == ["alkali"] and not s.holds:
        return _METAL_OUT.format(by="vinegar to pH 8 to 9")
    if "oxalate" in grave and set(grave) <= {"oxalate", "acid"} and s.sour:
        return (
            "chalk in small lots (it foams) to pH 5 to 7, then calcium chloride; filter the "
            "calcium oxalate, hand the solid in"
        )
    if grave == ["alkali"] and s.has("ammonium salt", "ammonia"):
        return f"outdoors (ammonia): {HOW['alkali'][0]}"
    if len(grave) == 1:
        return HOW[grave[0]][0]
    if "borate" in grave and set(grave) <= {"borate", "acid", "alkali"}:
        return HOW["borate"][0]
    return HOW[MIXED][0]


def _metals(s: _Stream) -> str:
    """How dissolved metals are thrown out, where nothing holds them in solution."""
    if s.holds:
        return (
            "collect in a jar of its own, labelled, and hand in as it is (what is in it holds the "
            f"metal in solution, soda does not throw it out); {DRAIN}"
        )
    special = [m for m in s.metals if m in _BY]
    if special and len(s.metals) > 1:
        return _METAL_SOLID
    by = _BY[special[0]] if special else _SOUR_SODA if s.sour else _SODA
    return _METAL_OUT.format(by=by)


def _solid(s: _Stream) -> str:
    """How solids are handled together: nothing is thrown out of a solution here."""
    first = s.grave[0]
    if s.metals:
        return _METAL_SOLID
    if len(s.grave) > 1 or (first in {"acid", "alkali"} and len(s.families) > 1):
        return HOW[MIXED][1]
    wet, dry = HOW[first]
    return dry or wet


@dataclass(frozen=True)
class Trapped:
    """A gas, the liquid that takes it up, and what that liquor then holds (common practice)."""

    gas: str
    liquid: str
    holds: str


def trapped(library: Library, steps: Sequence[StepAmounts]) -> tuple[Trapped, ...]:
    """What the traps of a route leave over, each gas once."""
    out: dict[str, Trapped] = {}
    for amount in steps:
        for gas, liquid in meets.trap(library, amount.step).absorbents:
            name = meets.gas_name(library, gas)
            out.setdefault(name, Trapped(name, liquid, meets.spent(library, gas)))
    return tuple(out.values())


def jars(library: Library, steps: Sequence[StepAmounts]) -> tuple[meets.Meeting, ...]:
    """What would meet if the leavings of all steps went into one jar."""
    return meets.jar(library, [amount.step for amount in steps])
