"""How something may be dried, from what it is and what its record says: the one place that knows.

A figure comes only from a record that dries this very substance (its tool ``dry``, or "dried at 60
degC" in what its yield is counted on), never from the window of a step that heats it on. It is
lowered to stay below the melting point and below what the storage words name ("loses CO2 above 50
degC"). What burns with water or in air, explodes when heated, or must not dry in air is not dried;
a liquid is not dried in an oven; what came out of a kiln and binds water or carbon dioxide is fired
again; crystals with water are dried in the air of the room. Where nothing is known, ``way`` is
"unknown" and nothing is advised.

Which statements forbid an oven follows from their wording (UN GHS Annex 3, from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from routefinder.hazards.kinds import kinds
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Substance

ROOM_C = 25.0  # what melts below is a liquid on a warm day
LESS = 5.0  # K to stay below a melting point or what the storage words name: our choice
OVEN_C = 110.0  # the usual drying oven: common practice
FIRED_C = 200.0  # what has been that hot in open air stands a drying oven
BURNS = frozenset({"H250", "H251", "H252", "H260", "H261", "EUH014"})
EXPLODES = frozenset({
    "H200", "H201", "H202", "H203", "H204", "H205", "H206", "H207", "H208", "H209", "H210", "H211",
    "H240", "H241", "H242", "EUH001", "EUH006", "EUH019", "EUH044",
})  # fmt: skip
TAKES_FIRE = frozenset({"H224", "H225", "H226", "H228"})
_BINDS = frozenset({"CaO", "SrO", "BaO", "MgO", "CaO·MgO", "CaCO3·MgO", "SO3", "P2O5", "B2O3"})
_WET = re.compile(
    r"do not dry|never (?:let [\w ]*)?dry|must not dry|not kept|under (?:boiled )?water|"
    r"(?:wet|moist) paste|\bpaste under\b|^wet under",
    re.IGNORECASE,
)
_OR_DRY = re.compile(r"\bor dry\b|\bor quickly dried\b", re.IGNORECASE)
_HUNGRY = re.compile(
    r"deliquesc|hygroscopic|draws? (?:water|damp)|drying agent|takes? up (?:moisture|water)|"
    r"damp air|turns blue",
    re.IGNORECASE,
)
_EFFLORESCES = re.compile(r"effloresc|(?:warm )?dry air|or loses water", re.IGNORECASE)
_RUNS = re.compile(r"deliquesc", re.IGNORECASE)
_CHANGES = re.compile(
    r"(?:above|from|below|near)(?: about)? (\d+) degC|melts[^;,]*? at (\d+) degC", re.IGNORECASE
)
_DRIED = re.compile(
    r"\bdried\b[^,;]*?\b(?:at|below)(?: about)? (\d+)(?: to (\d+))? degC", re.IGNORECASE
)
_DRY_WORDS = re.compile(r"\bdried\b|\bblotted\b|\bpressed dry\b|\bair-dry\b", re.IGNORECASE)
_IN_AIR = re.compile(r"\bair[- ]dr(?:y|ied)\b|\bdried in (?:the )?air\b", re.IGNORECASE)
_AIR_CHANGES = re.compile(
    r"oxidis|\bbrowns\b|blacken|\bgreens\b|turns green|\bblues\b|oxygen|\bgreys\b", re.IGNORECASE
)
_SAYS_NOTHING = re.compile(
    r"(?:(?:washed|rinsed|drained|ground|and|then|the|dried|white|blue|green|fine|mass|powder|"
    r"crystals|metal|wax|ester|oil|pigment)\b\s*)+$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Drying:
    """How a substance may be dried.

    ``way`` is one of: "oven" (up to ``at_most_C``), "room" (in the air of the room, at most
    ``at_most_C`` where it is known), "agent" (over a drying agent), "out of air" (under inert
    gas), "as said" (the record's own words ``says``, without a figure), "fire again" (it
    binds what it takes up), "keep wet" (it must not dry, or is kept as a paste), "liquid" (over
    ``agent``, a drying agent the step names, or not at all), "solution", "never" (``why`` says why)
    and "unknown". ``spirit`` names flammable liquids that it is wet with: they go first, without a
    flame. ``effloresces``: crystals that lose their water in dry air, so that their weight never
    stands still. ``fired``: it comes dry out of the kiln. ``why`` gives the reasons in words,
    ``source`` whose they are.
    """

    way: str
    at_most_C: float | None = None
    why: tuple[str, ...] = ()
    says: str = ""
    agent: str = ""
    spirit: tuple[str, ...] = ()
    effloresces: bool = False
    fired: bool = False
    source: str = "common practice"

    @property
    def may(self) -> bool:
        """Whether it may be dried to constant weight by anybody at a bench."""
        return self.way in {"oven", "room", "agent", "out of air", "as said"}


def drying(
    library: Library, substance: str, state: str = "s", step: ResolvedStep | None = None
) -> Drying:
    """How a substance in a state ("s", "l", "aq", "g") may be dried.

    ``step`` is the step that made it, whose own words count before all others; without it the steps
    of the library that make it are asked and the most cautious answer is taken.
    """
    record = library.substances[substance]
    if state in {"aq", "g"}:
        return Drying("solution")
    never = _never(record)
    if never is not None:
        return never
    if state == "l" or (record.melting_C is not None and record.melting_C < ROOM_C):
        return _liquid(library, record, step)
    if step is not None and step.main.substance == substance and step.main.state == "s":
        own = _cooled(library, record, _made(library, record, step), step)
        if own.way != "unknown" or _from_melt(step):
            return own
        others = drying(library, substance)
        return replace(others, spirit=_flammable(library, step) if others.may else ())
    made = [
        _cooled(library, record, _made(library, record, s), s)
        for s in library.steps.values()
        if s.main.substance == substance and s.main.state == "s"
    ]
    if made:
        return replace(min(made, key=_caution), spirit=())
    return _cooled(library, record, _by_itself(record, _stored(record, None)), None)


def _from_melt(step: ResolvedStep) -> bool:
    """Whether it never met water but what left as steam: nothing wets it."""
    names = {n.name for n in step.record.equipment}
    wet = any(p.state == "aq" for p in (*step.reactants, *step.products)) or bool(step.aids)
    return not wet and not {"filter", "filter-vacuum", "decant"} & names


_RANK = ("keep wet", "out of air", "agent", "room", "oven", "as said", "fire again", "unknown")


def _caution(found: Drying) -> tuple[int, float]:
    limit = found.at_most_C if found.at_most_C is not None else 1e9
    return _RANK.index(found.way), limit


def _never(record: Substance) -> Drying | None:
    codes = {code[:4] for code in record.hazards.scored} | set(record.hazards.scored)
    known = kinds(record)
    if codes & BURNS or "alkali metal" in known:
        return Drying("never", why=("it takes fire with water or in air",), source="GHS statements")
    if codes & EXPLODES:
        return Drying("never", why=("it may explode when heated",), source="GHS statements")
    return None


def _liquid(library: Library, record: Substance, step: ResolvedStep | None) -> Drying:
    agents = [a.substance for a in step.aids if a.role == "drying agent"] if step else []
    agent = library.name(agents[0]) if agents else ""
    codes = {code[:4] for code in record.hazards.scored}
    why = ("it is flammable",) if codes & TAKES_FIRE else ()
    return Drying("liquid", why=why, agent=agent)


def _stored(record: Substance, step: ResolvedStep | None) -> str:
    found = [step.record.storage if step is not None else None, record.storage]
    return "; ".join(w for s in found if s is not None for w in (s.how, s.keeps, *s.spoils_by) if w)


def _made(library: Library, record: Substance, step: ResolvedStep) -> Drying:
    """As the step that makes it says: its own words first, then what it is."""
    needs = {n.name: n for n in step.record.equipment}
    basis = step.record.yield_.basis
    own = step.record.storage.how if step.record.storage else ""
    stored = _stored(record, step)
    closed = bool({"keep-airtight", "exclude-air", "inert-gas"} & set(needs))
    fired = bool({"heat-dry", "open-flame"} & set(needs))
    source = f"the record of {step.id}"
    wet_words = own if own else (record.storage.how if record.storage else "")
    tool = needs.get("dry") or needs.get("dry-in-vacuum")
    if _WET.search(wet_words) and not (tool or _OR_DRY.search(wet_words)):
        return Drying("keep wet", why=(wet_words,), source=source)
    named = [float(m[2] or m[1]) for m in _DRIED.finditer(basis)]
    if tool is not None:
        limit = tool.limit("to")
        figures = [t for t in (limit, *named) if t is not None]
        if closed and not fired and _AIR_CHANGES.search(stored):
            return Drying("out of air", min(figures, default=None), (stored,), source=source)
        if figures:
            return Drying("oven", min(figures), source=source)
        return Drying("room", why=_crystal_water(record), source=source)
    if "keep-dry" in needs and not fired:
        return Drying("agent", why=(stored,) if stored else (), source=source)
    if fired:
        return _fired(library, record, step, stored, source)
    if closed and _AIR_CHANGES.search(stored):
        return Drying("out of air", why=(stored,), source=source)
    if named:
        return Drying("oven", min(named), source=source)
    if _IN_AIR.search(basis):
        return Drying("room", why=_crystal_water(record), source=source)
    if record.parsed is not None and record.parsed.waters > 0:
        return replace(_by_itself(record, stored), source=source)
    return _as_said(basis, source)


def _fired(
    library: Library, record: Substance, step: ResolvedStep, stored: str, source: str
) -> Drying:
    names = {n.name for n in step.record.equipment}
    binds = (record.formula or "") in _BINDS or _HUNGRY.search(stored) or _hydrates(library, record)
    if binds or "keep-airtight" in names or "inert-gas" in names or _AIR_CHANGES.search(stored):
        return Drying("fire again", why=(stored,) if stored else (), source=source)
    element = record.parsed is not None and len(record.parsed.counts) == 1
    if element:
        return _as_said(step.record.yield_.basis, source)
    washed = {"filter", "filter-vacuum"} & names or any(a.role == "wash" for a in step.aids)
    if not washed and any(p.state == "g" for p in step.products):
        return Drying("fire again", why=("too heavy, it is not burnt through",))
    if step.record.temperature.low_C >= FIRED_C:
        return Drying("oven", OVEN_C, ("it has been in the fire",), fired=True)
    return Drying("unknown")


def _hydrates(library: Library, record: Substance) -> bool:
    """Whether it binds water as a hydrate: then an oven does not bring it back."""
    forms = library.families.get(library.root(record.id), ())
    return any((p := library.substances[f].parsed) is not None and p.waters > 0 for f in forms)


def _as_said(basis: str, source: str) -> Drying:
    """The parts of a sentence that say how it was dried, as they stand."""
    said = [c.strip() for c in re.split(r"[,;]", basis) if _DRY_WORDS.search(c)]
    said = [c for c in said if not _SAYS_NOTHING.match(c)]
    return Drying("as said", says=", ".join(said), source=source) if said else Drying("unknown")


def _crystal_water(record: Substance) -> tuple[str, ...]:
    wet = record.parsed is not None and record.parsed.waters > 0
    return ("warmth takes its crystal water",) if wet else ()


def _by_itself(record: Substance, stored: str) -> Drying:
    """By what it is, when no record says how it is dried."""
    if _WET.search(stored) and not _OR_DRY.search(stored):
        return Drying("keep wet", why=(stored,), source="its record")
    if _AIR_CHANGES.search(stored):
        return Drying("out of air", why=(stored,), source="its record")
    if _HUNGRY.search(stored):
        return Drying("agent", why=(stored,), source="its record")
    why = _crystal_water(record)
    return Drying("room", why=why) if why else Drying("unknown")


def _cooled(
    library: Library, record: Substance, found: Drying, step: ResolvedStep | None
) -> Drying:
    """No warmer than the substance stands; flammable washes named."""
    if found.way == "room" and _RUNS.search(_stored(record, step)):
        found = replace(found, way="agent", why=("it deliquesces",))
    caps = []
    if record.melting_C is not None:
        caps.append(record.melting_C - LESS)
    for m in _CHANGES.finditer(_stored(record, step)):
        caps.append(float(m[1] or m[2]) - LESS)
    spirit = _flammable(library, step) if step is not None else ()
    if found.way in {"room", "as said"} and _EFFLORESCES.search(_stored(record, step)):
        found = replace(found, effloresces=True)
    if found.way == "oven" and {code[:4] for code in record.hazards.scored} & TAKES_FIRE:
        found = replace(found, way="room", at_most_C=None, why=("it takes fire easily",))
    if found.way not in {"oven", "room", "out of air"}:
        return replace(found, spirit=spirit if found.may else ())
    cap = min(caps, default=None)
    limit = found.at_most_C
    if cap is not None and cap < (60.0 if limit is None else limit):
        limit = cap
    if limit is not None and limit < 15:
        return Drying("unknown", why=found.why)
    hot = limit is not None and limit > ROOM_C + 5
    way = found.way if found.way != "oven" or hot else "room"
    return replace(found, way=way, at_most_C=limit, spirit=spirit)


def _flammable(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of flammable liquids that a step washes with or works in."""
    out = []
    for aid in step.aids:
        substance = library.substances[aid.substance]
        codes = {code[:4] for code in substance.hazards.scored}
        if aid.role in {"wash", "solvent"} and codes & {"H224", "H225", "H226"}:
            out.append(substance.name)
    return tuple(dict.fromkeys(out))
