"""GHS statements of solutions and mixtures, and how strong what is in a step's vessel is.

The generic rules are those of CLP Annex I (Regulation (EC) 1272/2008; UN GHS part 3 is the same):
sums of percent over a limit. Where Annex VI gives a substance its own limit, ATE or M factor
(``data/concentration_limits.csv``), that goes first (CLP Article 10). ``RULES`` names paragraph and
honesty of each. Physical hazards are not additive: flammability and oxidising power of a solution
stay those of the pure substance unless it has its own limit or its record has a band for the
strength (cautious). Extreme pH is not judged.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

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
_AQUATIC = frozenset({"H400", "H401", "H402", "H410", "H411", "H412", "H413"})


@dataclass(frozen=True)
class Limit:
    """One specific limit: the code counts from ``low`` to below ``high`` (percent by mass)."""

    code: str
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class Own:
    """What Annex VI says of one substance: limits, M factors, acute toxicity estimates."""

    limits: tuple[Limit, ...] = ()
    m_acute: float = 1.0
    m_chronic: float = 1.0
    ate: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Found:
    """One statement of a mixture: why it applies, and by which rule."""

    code: str
    why: str
    rule: str


@lru_cache(maxsize=1)
def own_limits() -> dict[str, Own]:
    """CAS number -> what Annex VI says of it."""
    limits: dict[str, list[Limit]] = {}
    m: dict[str, dict[str, float]] = {}
    ate: dict[str, dict[str, float]] = {}
    with (DATA / "concentration_limits.csv").open(encoding="utf-8", newline="") as file:
        for r in csv.DictReader(file):
            cas = r["cas"]
            if r["kind"] == "specific concentration limit":
                high = float(r["upper_pct"]) if r["upper_pct"] else 100.1
                row = Limit(r["h_code"], float(r["lower_pct"]), high, r["source"])
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


def _own(substance: Substance) -> Own:
    return own_limits().get(substance.cas or "", Own())


def classify(components: Sequence[tuple[Substance, float]]) -> tuple[Found, ...]:
    """The GHS statements of a mixture of substances (mass fractions), with the rule of each.

    What is not named is taken as water. A substance without hazard data adds nothing here: ask
    ``unknown_share``.
    """
    out: dict[str, Found] = {}

    def give(code: str, why: str, rule: str) -> None:
        out.setdefault(code, Found(code, why, RULES[rule]))

    parts = [(s, 100 * f, _codes(s.hazards), _own(s)) for s, f in components if f > 0]
    _skin_and_eye(parts, give)
    _acute(parts, give)
    _aquatic(parts, give)
    _single(parts, give)
    irritant = sum(
        percent / (_low(own, "H335") or 20.0)
        for _, percent, codes, own in parts
        if "H335" in codes or _low(own, "H335") is not None
    )
    if irritant >= 1:
        give("H335", _names(parts, {"H335"}), "organ")
    if sum(p for _, p, codes, _ in parts if "H336" in codes) >= 20:
        give("H336", _names(parts, {"H336"}), "organ")
    return tuple(out[code] for code in sorted(out))


_Parts = list[tuple[Substance, float, frozenset[str], Own]]
_Give = Callable[[str, str, str], None]


def _codes(hazards: Hazards) -> frozenset[str]:
    return frozenset(hazards.scored)


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
                    give(code, why, "physical")


def unknown_share(components: Sequence[tuple[Substance, float]]) -> float:
    """The mass fraction of which nobody knows the hazards."""
    return sum(f for s, f in components if s.hazards.no_data)


def solution_hazards(substance: Substance, fraction: float) -> Hazards:
    """The hazards of a substance dissolved in water at a mass fraction.

    A band of its record goes first (it has its own source), then the rules of ``classify``. A
    substance without hazard data stays unknown at every strength.
    """
    for band in substance.solutions:
        if band.at_least <= fraction < band.below:
            return band
    if fraction >= 1 - 1e-9:
        return substance.hazards
    return _diluted(substance.id, fraction, _Box(substance))


class _Box:
    """Carries a substance past the cache key: two of the same id are the same here."""

    def __init__(self, substance: Substance) -> None:
        self.substance = substance
        self.key = (substance.id, substance.hazards.scored, substance.hazards.no_data)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Box) and self.key == other.key


@lru_cache(maxsize=4096)
def _diluted(name: str, fraction: float, box: _Box) -> Hazards:
    substance = box.substance
    if not substance.hazards.scored and not substance.hazards.no_data:
        return substance.hazards
    found = tuple(f.code for f in classify([(substance, fraction)]))
    printed = tuple(
        c for c in found if c in substance.hazards.statements or c not in _all(substance)
    )
    added = tuple(c for c in found if c not in printed)
    return Hazards.model_construct(
        statements=printed, caution=added, unknown=substance.hazards.no_data,
        source=substance.hazards.source,
        note=f"computed for {100 * fraction:.3g} % from the statements of the pure substance",
    )  # fmt: skip


def _all(substance: Substance) -> frozenset[str]:
    return frozenset(substance.hazards.caution)


BOILS_DOWN = frozenset({"evaporate", "distil"})
_CONCENTRATES = frozenset({"concentration", "crystallisation", "recrystallisation", "drying"})


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
    if step.record.kind in _CONCENTRATES or any(
        n.name in BOILS_DOWN for n in step.record.equipment
    ):
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
