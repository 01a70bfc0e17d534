"""What is left over, by kind, with the usual handling: local rules decide.

One entry a kind and, for metals, one a metal: sludges are handed in apart. The handling is common
practice of small laboratories and potteries; it is no permission to pour anything away. What must
not be poured onto what comes from ``hazards.meets``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.hazards import meets
from routefinder.hazards.kinds import Kinds, kinds
from routefinder.hazards.meets import NeverAdd, Present
from routefinder.library.library import Library
from routefinder.records.substance import Substance
from routefinder.vessel.step_amounts import StepAmounts

RULE = "local rules decide"
SOURCE = "common practice"
METALS = {
    "Cr": "chromium", "Co": "cobalt", "Ni": "nickel", "Cd": "cadmium", "Pb": "lead",
    "Ag": "silver", "Ba": "barium", "Cu": "copper", "Zn": "zinc", "Mn": "manganese", "Sn": "tin",
    "Bi": "bismuth",
}  # fmt: skip
_SLUDGE = (
    "collect in a jar of its own, labelled; throw the metal out of solution with soda to pH 8 to "
    "9, settle, hand the sludge in; never down the drain"
)
HOW: dict[str, str] = {
    "cyanoferrate": "collect by itself; keep cold, away from acids and sunlight",
    "oxidiser": "use up or take the strength out with a little thiosulfate or sulfite, cold and "
    "dilute; then as salts",
    "solvent": "collect in a closed, labelled can away from flames; use again or hand in; never "
    "down the drain",
    "borate": "collect (harmful to unborn children, and to plants); never onto soil",
    "acid": "pour into much water, add chalk or soda until it no longer fizzes and pH is 6 to 9",
    "alkali": "pour into much water, add vinegar or citric acid until pH is 6 to 9",
    "oxalate": "throw out with calcium chloride as calcium oxalate, filter, hand the solid in",
    "ammonia": "dilute, bring to pH 6 to 9 with citric acid; outdoors; never with bleach",
    "sulfite": "dilute; let it stand open outdoors or use it up with a little peroxide; never sour",
    "low hazard": "dissolved: drain with much water; solid: household waste",
    "organic": "household waste or compost, dried; oily rags under water in a closed tin",
    "hazardous": "collect, labelled with its statements, and hand in",
    "unknown": "collect, labelled with all that went in, and hand in",
}
_ORDER = (*(f"metal: {m}" for m in METALS.values()), *HOW)


@dataclass(frozen=True)
class Left:
    """One thing left over: grams, and its state (solid, dissolved, liquid) by letter."""

    substance: str
    name: str
    state: str
    mass_g: float


@dataclass(frozen=True)
class Handling:
    """One kind of waste: what it holds, the usual handling, what must never go in with it."""

    kind: str
    what: tuple[Left, ...]
    how: str
    never: tuple[NeverAdd, ...]
    source: str = SOURCE
    rule: str = RULE

    @property
    def mass_g(self) -> float:
        """Grams of all that is named, water left out."""
        return sum(w.mass_g for w in self.what)


def kind_of(substance: Substance, state: str) -> str:
    """The kind of waste a leftover is: "metal: copper", "acid", "solvent", "low hazard"..."""
    known = kinds(substance)
    parsed = substance.parsed
    if "cyanoferrate" in known or "cyanide" in known:
        return "cyanoferrate"
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
        if names & known.names:
            return kind
    if substance.hazards.no_data:
        return "unknown"
    if codes & GRAVE:
        return "hazardous"
    return "organic" if _BURNS & known.names else "low hazard"


def leavings(library: Library, steps: Sequence[StepAmounts]) -> tuple[Handling, ...]:
    """What a route leaves over, by kind, the gravest first; gases and water left out.

    "lost" product counts too: it sits in filters, washes and pots.
    """
    sums: dict[tuple[str, str], float] = {}
    for amount in steps:
        for outcome in amount.outcomes:
            if outcome.fate not in {"waste", "unreacted", "lost"} or outcome.state == "g":
                continue
            if library.substances[outcome.substance].formula == "H2O":
                continue
            key = (outcome.substance, outcome.state)
            sums[key] = sums.get(key, 0.0) + outcome.mass_g
    by_kind: dict[str, list[Left]] = {}
    for (name, state), mass in sums.items():
        if mass < 1e-6:
            continue
        substance = library.substances[name]
        found = Left(name, substance.name, state, mass)
        by_kind.setdefault(kind_of(substance, state), []).append(found)
    out = []
    for kind in sorted(by_kind, key=_ORDER.index):
        what = tuple(sorted(by_kind[kind], key=lambda w: -w.mass_g))
        things = [Present(library.substances[w.substance], w.state, None, "product") for w in what]
        how = _SLUDGE if kind.startswith("metal") else HOW[kind]
        out.append(Handling(kind, what, how, meets.never_add(library, things)))
    return tuple(out)


def jars(library: Library, steps: Sequence[StepAmounts]) -> tuple[meets.Meeting, ...]:
    """What would meet if the leavings of all steps went into one jar."""
    return meets.jar(library, [amount.step for amount in steps])
