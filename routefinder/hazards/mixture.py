"""GHS statements of solutions and mixtures, and how strong what is in a step's vessel is.

The generic rules are those of CLP Annex I (Regulation (EC) 1272/2008; UN GHS part 3 is the same):
sums of percent over a limit. Where Annex VI gives a substance its own limit, ATE or M factor
(``data/concentration_limits.csv``), that goes first (CLP Article 10); a hydrate without a row of
its own has the limits and M factors of its family, since an entry for a salt covers its hydrous
forms (from memory: CLP Annex VI, 1.1.1.5). ``RULES`` names paragraph and honesty of each. A
record's band for a strength may be stricter than these rules, never milder. Physical hazards are
not additive: flammability and oxidising power of a solution stay those of the pure substance unless
it has its own limit or its record has a band for the strength (cautious). Extreme pH is not judged.

What the source states and what stricter sources add are classified apart (``statements``): nothing
added for caution takes the place of an official statement.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import cast

from routefinder.hazards.kinds import DATA
from routefinder.library.contents import contents
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Hazards, Substance

RULES: dict[str, str] = {
    "skin": "published: CLP Annex I Table 3.2.3 (sum of Skin Corr. 1 from 5 %: H314; from 1 %: "
    "H315; 10 x Corr. 1 + Irrit. 2 from 10 %: H315)",
    "eye": "published: CLP Annex I Table 3.3.3 (sum of Skin Corr. 1 and Eye Dam. 1 from 3 %: H318; "
    "from 1 %, or 10 x category 1 + category 2 from 10 %: H319)",
    "acute": "published: CLP Annex I 3.1.3.6.1 (100 / ATEmix = sum(Ci / ATEi)), Tables "
    "3.1.1, 3.1.2",
    "cmr": "published: CLP Annex I Tables 3.5.2, 3.6.2, 3.7.2 (1A, 1B: 0.1 %, reproductive 0.3 %; "
    "category 2: 1 %, reproductive 3 %)",
    "sensitiser": "from memory: CLP Annex I Table 3.4.5 (1 %)",
    "organ": "from memory: CLP Annex I Tables 3.8.3, 3.9.4 (category 1: 10 %, as category 2 from "
    "1 %; category 2: 10 %; H335, H336: 20 %)",
    "aspiration": "from memory: CLP Annex I 3.10.3.3 (10 %)",
    "aquatic": "published: CLP Annex I Tables 4.1.1, 4.1.2 (M x category 1 from 25 %; "
    "10 M x chronic 1 + chronic 2 from 25 %); chronic 3 from memory",
    "physical": "cautious: kept as of the pure substance",
    "own": "published: CLP Annex VI, the substance's own limit",
    "euh": "from memory: EUH statements kept from 1 %",
}
_ACUTE = {
    "oral": (("H300", 5.0), ("H301", 100.0), ("H302", 500.0)),
    "dermal": (("H310", 50.0), ("H311", 300.0), ("H312", 1100.0)),
    "dust": (("H330", 0.05), ("H331", 0.5), ("H332", 1.5)),
}  # fmt: skip
# ^ converted point estimates of categories 2, 3, 4, CLP Annex I Table 3.1.2 (mg/kg; mg/L dust)
_BANDS = {
    "oral": (("H300", 50.0), ("H301", 300.0), ("H302", 2000.0)),
    "dermal": (("H310", 200.0), ("H311", 1000.0), ("H312", 2000.0)),
    "dust": (("H330", 0.5), ("H331", 1.0), ("H332", 5.0)),
}  # upper bounds, CLP Annex I Table 3.1.1
_SINGLE = {
    "H340": (0.1, "cmr"), "H350": (0.1, "cmr"), "H360": (0.3, "cmr"), "H362": (0.3, "cmr"),
    "H341": (1.0, "cmr"), "H351": (1.0, "cmr"), "H361": (3.0, "cmr"),
    "H317": (1.0, "sensitiser"), "H334": (1.0, "sensitiser"), "H371": (10.0, "organ"),
    "H373": (10.0, "organ"),
}  # fmt: skip
LADDERS: tuple[tuple[str, ...], ...] = (
    ("H314", "H315"), ("H314", "H318", "H319"), ("H300", "H301", "H302", "H303"),
    ("H310", "H311", "H312", "H313"), ("H330", "H331", "H332", "H333"), ("H370", "H371"),
    ("H372", "H373"), ("H340", "H341"), ("H350", "H351"), ("H360", "H361"),
    ("H400", "H401", "H402"), ("H410", "H411", "H412", "H413"), ("H271", "H272"),
    ("H224", "H225", "H226", "H227"), ("H220", "H221"), ("H260", "H261"),
)  # fmt: skip
# ^ of one hazard, the graver statement first (UN GHS part 3: categories in order)


def covers(graver: str, code: str) -> bool:
    """Whether one statement says all that another says: the same, or a graver one of its ladder.

    Letters narrow a statement down (H360F: fertility); one that lacks a letter covers any.
    """
    above, below = graver[:4], code[:4]
    if not code.startswith("H") or not graver.startswith("H"):
        return graver == code
    if above != below:
        found = (x for x in LADDERS if above in x and below in x)
        if not any(x.index(above) < x.index(below) for x in found):
            return False
    letters, narrow = graver[4:].lower(), code[4:].lower()
    return not letters or (narrow != "" and set(narrow) <= set(letters))


def strictest(codes: Iterable[str]) -> tuple[str, ...]:
    """The statements, each once, without those that a graver one among them covers."""
    every = tuple(dict.fromkeys(codes))
    return tuple(c for c in every if not any(o != c and covers(o, c) for o in every))


def stricter(a: Hazards, b: Hazards) -> Hazards:
    """``a`` with whatever ``b`` states or adds for caution that ``a`` does not cover."""
    new = [c for c in b.statements if not any(covers(o, c) for o in a.statements)]
    known = (*a.statements, *new)
    care = [c for c in b.caution if not any(covers(o, c) for o in (*known, *a.caution))]
    if not new and not care:
        return a
    printed = strictest(known)
    return Hazards.model_construct(
        statements=printed,
        caution=tuple(
            c for c in strictest((*a.caution, *care)) if not any(covers(o, c) for o in printed)
        ),
        unknown=a.unknown, source=tuple(dict.fromkeys((*a.source, *b.source))),
        note="; ".join(dict.fromkeys(x.note for x in (a, b) if x.note)),
    )  # fmt: skip


@dataclass(frozen=True)
class StrengthLimit:
    """One specific limit: the code counts from ``low`` to below ``high`` (percent by mass)."""

    code: str
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class Own:
    """What Annex VI says of one substance: limits, M factors, acute toxicity estimates."""

    limits: tuple[StrengthLimit, ...] = ()
    m_acute: float = 1.0
    m_chronic: float = 1.0
    ate: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Classed:
    """One statement of a mixture: why it applies, and by which rule."""

    code: str
    why: str
    rule: str


@lru_cache(maxsize=1)
def own_limits() -> dict[str, Own]:
    """CAS number -> what Annex VI says of it."""
    limits: dict[str, list[StrengthLimit]] = {}
    m: dict[str, dict[str, float]] = {}
    ate: dict[str, dict[str, float]] = {}
    with (DATA / "concentration_limits.csv").open(encoding="utf-8", newline="") as file:
        for r in csv.DictReader(file):
            cas = r["cas"]
            if r["kind"] == "specific concentration limit":
                high = float(r["upper_pct"]) if r["upper_pct"] else 100.1
                row = StrengthLimit(r["h_code"], float(r["lower_pct"]), high, r["source"])
                limits.setdefault(cas, []).append(row)
            elif r["kind"] == "M factor":
                m.setdefault(cas, {})["acute" if "Acute" in r["hazard_class"] else "chronic"] = (
                    float(r["value"])
                )
            elif r["hazard_class"].startswith("Acute"):
                route = {"mg/kg bw": "oral", "mg/L dusts or mists": "dust"}.get(r["unit"])
                if route:
                    ate.setdefault(cas, {})[route] = float(r["value"])
    return {
        cas: Own(
            tuple(limits.get(cas, ())), m.get(cas, {}).get("acute", 1.0),
            m.get(cas, {}).get("chronic", 1.0), tuple(sorted(ate.get(cas, {}).items())),
        )
        for cas in {*limits, *m, *ate}
    }  # fmt: skip


_GENERIC = {
    "H314": 5.0, "H315": 1.0, "H318": 3.0, "H319": 1.0, "H335": 20.0, "H340": 0.1, "H341": 1.0,
    "H350": 0.1, "H351": 1.0, "H360": 0.3, "H361": 3.0, "H317": 1.0, "H334": 1.0, "H370": 10.0,
    "H371": 10.0, "H372": 10.0, "H373": 10.0,
}  # fmt: skip
# ^ percent, the generic limits that ``RULES`` names


def _own(substance: Substance, library: Library | None) -> Own:
    """The limits that hold for a substance: its own, else those of its hydrates.

    Of theirs only what is stricter than the generic limit: it is another record's.
    """
    table = own_limits()
    mine = table.get(substance.cas or "", Own())
    if library is None or substance.id not in library.substances:
        return mine
    family = library.families[library.root(substance.id)]
    others = [
        table[cas]
        for i in family
        if (cas := library.substances[i].cas) in table and cas is not None
    ]
    theirs = (x for o in others for x in o.limits if x.low < _GENERIC.get(x.code[:4], 0.0))
    return Own(
        mine.limits or tuple(dict.fromkeys(theirs)),
        max([mine.m_acute, *(o.m_acute for o in others)]),
        max([mine.m_chronic, *(o.m_chronic for o in others)]), mine.ate,
    )  # fmt: skip


Components = Sequence[tuple[Substance, float]]


def classify(components: Components, library: Library | None = None) -> tuple[Classed, ...]:
    """The GHS statements of a mixture of substances (mass fractions), with the rule of each.

    What is not named is taken as water. A substance without hazard data adds nothing here: ask
    ``unknown_share``. Stricter statements of other sources count. ``library`` gives a hydrate the
    limits of its family.
    """
    return _classify([(s, f, _own(s, library)) for s, f in components], _scored)


def statements(
    components: Components, library: Library | None = None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(what the sources state, what stricter sources add for caution) of a mixture.

    The two are classified apart, so that no caution swallows an official statement.
    """
    stated, care = _apart([(s, f, _own(s, library)) for s, f in components])
    return tuple(f.code for f in stated), tuple(f.code for f in care)


_With = Sequence[tuple[Substance, float, Own]]


def _scored(found: Hazards) -> tuple[str, ...]:
    return found.scored


def _stated(found: Hazards) -> tuple[str, ...]:
    return found.statements


def _apart(components: _With) -> tuple[tuple[Classed, ...], tuple[Classed, ...]]:
    stated = _classify(components, _stated)
    care = (
        f for f in _classify(components, _scored) if not any(covers(o.code, f.code) for o in stated)
    )
    return stated, tuple(care)


def _classify(components: _With, read: Callable[[Hazards], tuple[str, ...]]) -> tuple[Classed, ...]:
    out: dict[str, Classed] = {}

    def give(code: str, why: str, rule: str) -> None:
        out.setdefault(code, Classed(code, why, RULES[rule]))

    parts: _Parts = []
    for s, f, own in components:
        codes = frozenset(read(s.hazards))
        if f > 0 and codes:  # a limit of its own speaks whether or not the record has the statement
            codes |= {limit.code for limit in own.limits}
        if f > 0:
            parts.append((s, 100 * f, codes, own))
    _skin_and_eye(parts, give)
    _acute(parts, give)
    _aquatic(parts, give)
    _single(parts, give)
    irritant = sum(
        percent / (_low(own, "H335") or 20.0) for _, percent, codes, own in parts if "H335" in codes
    )
    if irritant >= 1:
        give("H335", _names(parts, {"H335"}), "organ")
    if sum(p for _, p, codes, _ in parts if "H336" in codes) >= 20:
        give("H336", _names(parts, {"H336"}), "organ")
    if "H314" not in out:
        out.pop("EUH071", None)  # corrosive to the airways: only what is corrosive
    return tuple(out[code] for code in strictest(sorted(out)))


_Parts = list[tuple[Substance, float, frozenset[str], Own]]
_Give = Callable[[str, str, str], None]


def _low(own: Own, code: str) -> float | None:
    found = [limit.low for limit in own.limits if limit.code == code]
    return min(found) if found else None


def _names(parts: _Parts, codes: set[str]) -> str:
    return " and ".join(
        f"{s.name} {percent:.3g} %" for s, percent, found, _ in parts if found & codes
    )


def _skin_and_eye(parts: _Parts, give: _Give) -> None:
    burns = irritates = damages = stings = 0.0
    for _, percent, codes, own in parts:
        corrodes = "H314" in codes
        burn = _low(own, "H314")
        if corrodes:
            burns += percent / (burn or 5.0)
            irritates += percent / (_low(own, "H315") or burn or 1.0)
        elif "H315" in codes:
            irritates += percent / (_low(own, "H315") or 10.0)
        if corrodes or "H318" in codes:
            damages += percent / (_low(own, "H318") or (burn if corrodes else None) or 3.0)
            stings += percent / (_low(own, "H319") or (burn if corrodes else None) or 1.0)
        elif "H319" in codes:
            stings += percent / (_low(own, "H319") or 10.0)
    corrosive = {"H314"}
    if burns >= 1:
        give("H314", _names(parts, corrosive), "skin")
    elif irritates >= 1:
        give("H315", _names(parts, {"H314", "H315"}), "skin")
    if burns < 1 and damages >= 1:
        give("H318", _names(parts, {"H314", "H318"}), "eye")
    elif burns < 1 and stings >= 1:
        give("H319", _names(parts, {"H314", "H318", "H319"}), "eye")


def _acute(parts: _Parts, give: _Give) -> None:
    for route, points in _ACUTE.items():
        total, worst = 0.0, len(points)
        for _, percent, codes, own in parts:
            if percent < 1:
                continue
            rank = next((i for i, (code, _) in enumerate(points) if code in codes), None)
            if rank is None:
                continue
            worst = min(worst, rank)
            total += percent / dict(own.ate).get(route, points[rank][1])
        if total <= 0:
            continue
        mixed = 100 / total
        for i, (code, upper) in enumerate(_BANDS[route]):
            if mixed <= upper:
                code = code if i >= worst else points[worst][0]  # no worse than what is in it
                give(code, _names(parts, {c for c, _ in points}), "acute")
                break


def _aquatic(parts: _Parts, give: _Give) -> None:
    acute = sum(p * own.m_acute for _, p, codes, own in parts if "H400" in codes)
    one = sum(p * own.m_chronic for _, p, codes, own in parts if "H410" in codes)
    two = sum(p for _, p, codes, _ in parts if "H411" in codes)
    three = sum(p for _, p, codes, _ in parts if "H412" in codes)
    if acute >= 25:
        give("H400", _names(parts, {"H400"}), "aquatic")
    for code, total in (
        ("H410", one), ("H411", 10 * one + two), ("H412", 100 * one + 10 * two + three),
    ):  # fmt: skip
        if total >= 25:
            give(code, _names(parts, {"H410", "H411", "H412"}), "aquatic")
            return


def _single(parts: _Parts, give: _Give) -> None:
    for substance, percent, codes, own in parts:
        why = f"{substance.name} {percent:.3g} %"
        for code in sorted(codes):
            base = code[:4]
            if base in _SINGLE:
                generic, rule = _SINGLE[base]
                low = _low(own, code)
                if percent >= (generic if low is None else low):
                    give(code, why, rule)
            elif base in {"H370", "H372"}:
                low, lesser = _low(own, code), {"H370": "H371", "H372": "H373"}[base]
                if percent >= (10.0 if low is None else low):
                    give(code, why, "organ")
                else:
                    low = _low(own, lesser)
                    if percent >= (1.0 if low is None else low):
                        give(lesser, why, "organ")
            elif base == "H304":
                if percent >= 10:
                    give(code, why, "aspiration")
            elif code.startswith("EUH"):
                low = _low(own, code)
                if percent >= (1.0 if low is None else low):
                    give(code, why, "euh")
            elif base.startswith("H2"):
                low = _low(own, code)
                if percent >= (1.0 if low is None else low):
                    give(code, why, "physical" if low is None else "own")


def unknown_share(components: Sequence[tuple[Substance, float]]) -> float:
    """The mass fraction of which nobody knows the hazards."""
    return sum(f for s, f in components if s.hazards.no_data)


def solution_hazards(
    substance: Substance, fraction: float, library: Library | None = None
) -> Hazards:
    """The hazards of a substance dissolved in water at a mass fraction.

    A band of its record, made stricter wherever the limits or the generic rules are; without a band
    the rules alone. A band has its own source for physical hazards: of those only the substance's
    own limits are added. A substance without hazard data stays unknown at every strength.
    """
    if fraction >= 1 - 1e-9:
        return substance.hazards
    return _at(_Solute(substance, _own(substance, library)), fraction)


def dissolved_hazards(library: Library, substance_id: str, fraction: float | None) -> Hazards:
    """The hazards of what is dissolved at a mass fraction, or (None) at any strength.

    Dissolved, the hydrates of a salt are one thing: the strictest of their records holds, each at
    the mass that makes the same solution. A gas dissolved at a strength that nobody gives counts as
    its strongest solution on record.
    """
    substance = library.substances[substance_id]
    kept = library.dissolved.get((substance_id, fraction))
    if kept is not None and kept[0] is substance:
        return cast("Hazards", kept[1])
    out = _pure_or_at(library, substance, fraction)
    for name in library.families[library.root(substance_id)]:
        other = library.substances[name]
        if name != substance_id and not other.hazards.no_data:
            more = other.molar_mass_g / substance.molar_mass_g
            share = None if fraction is None else min(fraction * more, 1.0)
            out = stricter(out, _pure_or_at(library, other, share))
    library.dissolved[substance_id, fraction] = (substance, out)
    return out


def _pure_or_at(library: Library, substance: Substance, fraction: float | None) -> Hazards:
    if fraction is not None:
        return solution_hazards(substance, fraction, library)
    return solute(substance).hazards


def solute(substance: Substance) -> Substance:
    """A substance as its solutions are judged: a gas in water has an entry of its own in Annex VI.

    A gas with bands on record counts with the statements of the strongest; all else as it stands.
    """
    if not substance.solutions or "H280" not in substance.hazards.statements:
        return substance
    strongest = max(substance.solutions, key=lambda band: band.at_least)
    return substance.model_copy(update={"hazards": strongest})


def material_hazards(
    library: Library, fractions: Mapping[str, float], form: str, as_sold: Hazards | None = None
) -> Hazards:
    """The hazards of a material as it is weighed or poured: of its one substance, or as a mixture.

    ``fractions`` are mass fractions per substance id, ``form`` that of the material, ``as_sold``
    what its form adds (a powder of what is no danger in the lump). Water does not count. Unknown
    when nobody knows the hazards of 1 % of it or more.
    """
    found = _of_contents(library, fractions, form)
    return found if as_sold is None else stricter(found, as_sold)


def _of_contents(library: Library, fractions: Mapping[str, float], form: str) -> Hazards:
    parts = [(library.substances[i], f) for i, f in fractions.items() if f > 0]
    parts = [(s, f) for s, f in parts if s.formula != "H2O"] or parts
    if len(parts) == 1:
        substance, fraction = parts[0]
        if form in {"solution", "liquid"} and fraction < 0.995:
            return dissolved_hazards(library, substance.id, fraction)
        return substance.hazards
    if form == "solution":
        parts = [(solute(s), f) for s, f in parts]
    stated, care = statements(parts, library)
    return Hazards.model_construct(
        statements=stated, caution=care, unknown=unknown_share(parts) >= UNKNOWN_FROM,
        source=tuple(dict.fromkeys(x for s, _ in parts for x in s.hazards.source)),
        note="computed from the statements of its parts",
    )  # fmt: skip


UNKNOWN_FROM = 0.01  # common practice: as the generic limit of most classes


class _Solute:
    """Carries a substance and its limits past the cache key: equal if their hazards are."""

    def __init__(self, substance: Substance, own: Own) -> None:
        self.substance, self.own = substance, own
        bands = tuple((b.at_least, b.below, b.statements, b.caution) for b in substance.solutions)
        found = substance.hazards
        self.key = (substance.id, found.statements, found.caution, found.no_data, bands, own)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Solute) and self.key == other.key


@lru_cache(maxsize=8192)
def _at(of: _Solute, fraction: float) -> Hazards:
    substance = of.substance
    band = next((b for b in substance.solutions if b.at_least <= fraction < b.below), None)
    if band is None and not substance.hazards.scored:
        return substance.hazards
    stated, care = _apart([(solute(substance), fraction, of.own)])
    if band is not None:  # what is physical at any strength, the band's own source knows better
        stated = tuple(f for f in stated if f.rule != RULES["physical"])
        care = tuple(f for f in care if f.rule != RULES["physical"])
    computed = Hazards.model_construct(
        statements=tuple(f.code for f in stated), caution=tuple(f.code for f in care),
        unknown=substance.hazards.no_data,
        source=substance.hazards.source,
        note=f"computed for {100 * fraction:.3g} % from the statements of the pure substance",
    )  # fmt: skip
    return computed if band is None else stricter(band, computed)


BOILS_DOWN = frozenset({"evaporate", "distil"})
_CONCENTRATES = frozenset({"concentration", "crystallisation", "recrystallisation", "drying"})


def concentrates(step: ResolvedStep) -> bool:
    """Whether a step boils down, dries or crystallises: nothing in it stays as dilute as it was."""
    return step.record.kind in _CONCENTRATES or any(
        n.name in BOILS_DOWN for n in step.record.equipment
    )


def vessel_fractions(
    library: Library, step: ResolvedStep, strengths: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Mass fraction of each dissolved reactant, product and auxiliary in the liquor of a step.

    By the record: reactants with their excess, poured in as the solutions of ``strengths`` (per
    family root) where known, auxiliaries except washes, fuels and drying agents. A reactant counts
    before anything has turned, a product when all has; solids and gases that form are taken off
    the liquor, so the figures err to the strong side. Empty for a step that boils down or without
    a liquor: nothing is diluted there.
    """
    if concentrates(step):
        return {}
    found = contents(library, step)
    liquor = sum(found.water_and_rest_g(strengths or {})) - found.gone_g
    if liquor <= 0:
        return {}
    mass: dict[str, float] = {}
    for feed in found.feeds:
        if feed.poured and not feed.water:
            mass[feed.substance] = mass.get(feed.substance, 0.0) + feed.mass_g
    for name, grams in found.dissolved:
        mass[name] = max(mass.get(name, 0.0), grams)
    return {name: min(grams / liquor, 1.0) for name, grams in mass.items()}
