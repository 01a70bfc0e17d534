"""Vessels: what their contents and the heat do to them, and which would do.

Rows: the short table of ``library/vessel_attack.py`` (which the lint uses too) and those of
``data/vessels.csv``, by kind of agent; heat limits in ``data/vessel_limits.csv``. "Nothing known
against it" is the best that this can say: a pair without a row is not known to be safe.

A vessel is judged at the hottest that its contents and its heater make it (``hazards.heaters``): on
a hotplate or in a flame only a material that bears it will do, however cool the contents.

A dissolved reactant that another solution uses up (no excess) does not count for the rows that ask
for heat, as in the lint: it is gone before the liquor is hot. A catalyst is too little to do more
than attack slowly, and lye that only boils etches glass and glaze slowly.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from routefinder.hazards.heaters import Way, heat_needs
from routefinder.hazards.kinds import DATA, Kinds, kinds
from routefinder.hazards.score import profile
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.vessel_attack import attack_on
from routefinder.records.capability import VESSEL_MATERIALS, Capability
from routefinder.records.substance import Substance

NOTHING, CAUTION, SLOWLY, ATTACKED, TOO_HOT = (
    "nothing known against it", "with care", "slowly attacked", "attacked", "too hot",
)  # fmt: skip
EATEN = frozenset({ATTACKED, TOO_HOT})
_ORDER = (TOO_HOT, ATTACKED, SLOWLY, CAUTION, NOTHING)
BOILS = 110.0  # degrees C: boiling lye etches glass over hours (slowly), hotter lye eats it
GLASSY = frozenset({"borosilicate", "soda-lime glass", "porcelain", "alumina", "earthenware"})


@dataclass(frozen=True)
class Resistance:
    """Kinds of agents that attack kinds of vessels above a temperature."""

    vessels: frozenset[str]
    agents: frozenset[str]
    state: str
    above_C: float
    slowly: bool
    words: str
    source: str


@dataclass(frozen=True)
class HeatLimit:
    """Degrees C a vessel stands every day and at most; the sudden change it stands (K or None).

    ``plate`` and ``flame``: whether it stands there, "yes", "no" or "care" (gauze, slowly).
    """

    routine_C: float
    highest_C: float
    shock_K: float | None
    plate: str
    flame: str
    source: str


@dataclass(frozen=True)
class Reason:
    """One thing said against a vessel, with its source; ``agent`` is a substance id or ""."""

    verdict: str
    words: str
    agent: str
    source: str


@dataclass(frozen=True)
class Verdict:
    """What is known of one vessel material for one step; the worst reason gives the verdict."""

    material: str
    verdict: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True)
class VesselNeed:
    """Verdicts on the materials a step's record allows, and what would do besides."""

    need: Capability
    allowed: tuple[Verdict, ...]
    would_do: tuple[str, ...]


@lru_cache(maxsize=1)
def rows() -> tuple[Resistance, ...]:
    """All rows of data/vessels.csv."""
    with (DATA / "vessels.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Resistance(
                frozenset(r["vessel"].split(";")), frozenset(r["agent"].split(";")), r["state"],
                float(r["above_C"]), r["verdict"] == "slowly", r["words"], r["source"],
            )
            for r in csv.DictReader(file)
        )  # fmt: skip


@lru_cache(maxsize=1)
def heat_limits() -> dict[str, HeatLimit]:
    """Vessel material -> what heat it stands."""
    with (DATA / "vessel_limits.csv").open(encoding="utf-8", newline="") as file:
        return {
            r["vessel"]: HeatLimit(
                float(r["routine_C"]), float(r["highest_C"]),
                float(r["shock_K"]) if r["shock_K"] else None, r["plate"], r["flame"],
                r["source"],
            )
            for r in csv.DictReader(file)
        }  # fmt: skip


def _spent(step: ResolvedStep) -> frozenset[str]:
    dissolved = [p.substance for p in step.reactants if p.state == "aq"]
    made = {p.substance for p in step.products}
    if len(dissolved) < 2:
        return frozenset()
    return frozenset(i for i in dissolved if i not in made and not step.excess.get(i))


class _Contents:
    """What is in the vessel of a step, worked out once for all materials."""

    def __init__(self, library: Library, step: ResolvedStep) -> None:
        self.step = step
        self.spent = _spent(step)
        parts = [(p.substance, p.state) for p in (*step.reactants, *step.products)]
        wet = any(state in {"aq", "l"} for _, state in parts)
        parts += [
            (a.substance, "aq" if wet or library.substances[a.substance].formula == "H2O" else "s")
            for a in step.aids
            if a.role not in {"wash", "fuel", "drying agent"}
        ]
        self.parts: list[tuple[Substance, str]] = [
            (library.substances[i], state) for i, state in dict.fromkeys(parts)
        ]
        self.kinds: list[tuple[Substance, str, Kinds]] = [
            (s, state, kinds(s)) for s, state in self.parts
        ]
        self.carbon = any("carbon" in known for _, _, known in self.kinds)
        self.catalysts = frozenset(a.substance for a in step.aids if a.role == "catalyst")
        self.wet = any(state in {"aq", "l"} for _, state in self.parts)


def is_heated(step: ResolvedStep, need: Capability) -> bool:
    """Whether a vessel of a step stands on its heater: all, or of several those meant for it."""
    wanted = heat_needs(step)
    if not wanted:
        return False
    to = need.limit("to")
    return to is None or len(needs(step)) == 1 or to >= (wanted[0].limit("to") or 0.0)


def hottest(step: ResolvedStep, need: Capability) -> float:
    """The hottest that a vessel and its contents get, degrees C, its heater apart.

    A liquid may reach the upper end of its window; a kiln goes to what the record asks of it.
    """
    to = need.limit("to")
    high = step.record.temperature.high_C
    if to is None:
        return high
    if len(needs(step)) > 1 and not is_heated(step, need):
        return to
    wanted = heat_needs(step)
    if any(n.name != "heat-liquid" for n in wanted):
        return max([to, *(n.limit("to") or 0.0 for n in wanted)])
    return max(to, high)


def _heat(step: ResolvedStep, need: Capability) -> tuple[float, float]:
    """(what the vessel must stand, what its contents reach), degrees C."""
    heat = hottest(step, need)
    return heat, min(heat, step.record.temperature.high_C)


def _judge(contents: _Contents, need: Capability, material: str) -> Verdict:
    step = contents.step
    heat, inside = _heat(step, need)
    out: list[Reason] = []
    limit = heat_limits().get(material)
    if limit is not None:
        if heat > limit.highest_C:
            out.append(
                Reason(TOO_HOT, f"stands {limit.highest_C:g} °C, the step goes to {heat:g} °C", "",
                       limit.source)
            )  # fmt: skip
        elif heat > limit.routine_C:
            out.append(
                Reason(CAUTION, f"{heat:g} °C is above its everyday {limit.routine_C:g} °C: warm "
                       "and cool it slowly", "", limit.source)
            )  # fmt: skip
        elif limit.shock_K is not None and heat - 20 > limit.shock_K and material in GLASSY:
            out.append(
                Reason(CAUTION, f"cracks on a sudden change of {limit.shock_K:g} K: warm and cool "
                       "it slowly", "", limit.source)
            )  # fmt: skip
    old = attack_on(material, contents.parts, inside, contents.spent)
    if old is not None:
        row, agent = old
        etches = row.above_C > -200 and inside <= BOILS and material in GLASSY
        slow = etches or agent.id in contents.catalysts
        out.append(
            Reason(SLOWLY if slow else ATTACKED, f"{agent.name}: {row.words}", agent.id, row.source)
        )
    for found in rows():
        if material not in found.vessels or inside <= found.above_C:
            continue
        if "water" in found.agents:  # porous: any liquor, but no melt
            if contents.wet and inside < 300:
                out.append(Reason(ATTACKED, found.words, "", found.source))
            continue
        if "reducible oxide" in found.agents and contents.carbon:
            continue  # it is meant to be reduced
        for substance, state, known in contents.kinds:
            if not found.agents & known.names or not _in_state(found.state, state):
                continue
            if found.above_C > -200 and substance.id in contents.spent:
                continue
            slow = found.slowly or substance.id in contents.catalysts
            verdict = SLOWLY if slow else ATTACKED
            out.append(
                Reason(verdict, f"{substance.name}: {found.words}", substance.id, found.source)
            )
            break
    out.sort(key=lambda r: _ORDER.index(r.verdict))
    worst = out[0].verdict if out else NOTHING
    return Verdict(material, worst, tuple(_one_an_agent(out)))


PRACTICE = "common practice"
BATH_TO_C = 98.0  # what a water bath brings its contents to


def on_heater(
    material: str, hottest_C: float, way: Way | None, works_C: float | None = None
) -> Reason | None:
    """What is said against a vessel of a material because of how it is heated; None if nothing.

    ``way`` None: the heater is not known. What no plate bears may then stand in a water bath, where
    one brings it to ``works_C`` (that of the record; ``hottest_C`` when None).
    """
    limit = heat_limits()[material]
    if way is None:
        if limit.plate != "no":
            return None
        works = hottest_C if works_C is None else works_C
        if works > BATH_TO_C or max(hottest_C, 100.0) > limit.highest_C:
            return Reason(TOO_HOT, f"stands on no hotplate and in no flame, and in no water bath "
                          f"that goes to {works:g} °C", "", limit.source)  # fmt: skip
        return Reason(CAUTION, "in a water bath only: it stands on no hotplate and in no flame", "",
                      limit.source)  # fmt: skip
    if way.direct:
        bears = limit.plate if way.direct == "plate" else limit.flame
        if bears == "no":
            return Reason(TOO_HOT, f"does not bear {way.words}, which is far hotter than what is "
                          "in it", "", limit.source)  # fmt: skip
        if bears == "care":
            how = "dry outside, warmed slowly" if way.direct == "plate" else "on a gauze"
            return Reason(CAUTION, f"on {way.words} {how}", "", limit.source)
        return None
    heat = hottest_C + way.over_K if way.bath_C is None else max(way.bath_C, hottest_C)
    if heat > limit.highest_C or (limit.plate == "no" and heat > limit.routine_C):
        return Reason(TOO_HOT, f"stands {limit.routine_C:g} °C, in {way.words} it may meet "
                      f"{heat:g} °C", "", limit.source)  # fmt: skip
    return None


def on_plate(step: ResolvedStep, need: Capability, material: str) -> bool:
    """Whether a vessel of a material may stand on the plate or flame that heats the step's liquid.

    True as well where nothing heats it so.
    """
    liquid = any(n.name == "heat-liquid" for n in heat_needs(step))
    return heat_limits()[material].plate != "no" or not (liquid and is_heated(step, need))


def worse(found: Verdict, reason: Reason | None) -> Verdict:
    """A verdict with one more reason."""
    if reason is None:
        return found
    reasons = sorted((*found.reasons, reason), key=lambda r: _ORDER.index(r.verdict))
    return Verdict(found.material, reasons[0].verdict, tuple(reasons))


def _one_an_agent(reasons: Iterable[Reason]) -> list[Reason]:
    seen: dict[str, Reason] = {}
    for reason in reasons:
        seen.setdefault(reason.agent or reason.words, reason)
    return list(seen.values())


def _in_state(wanted: str, state: str) -> bool:
    return {
        "any": state != "g", "dissolved": state in {"aq", "l"}, "liquid": state == "l",
        "melt": state in {"s", "l"},
    }[wanted]  # fmt: skip


def needs(step: ResolvedStep) -> list[Capability]:
    """The vessels a step needs."""
    return [need for need in step.record.equipment if need.name == "vessel"]


def judged(library: Library, step: ResolvedStep) -> tuple[dict[str, Verdict], ...]:
    """For each vessel of a step: verdicts on the materials it may be of, its heater apart; kept."""
    kept: tuple[dict[str, Verdict], ...] | None = library.kept("vessels", step)
    if kept is not None:
        return kept
    contents = _Contents(library, step)
    found = tuple(
        {m: _judge(contents, need, m) for m in VESSEL_MATERIALS if m not in need.not_of}
        for need in needs(step)
    )
    library.keep("vessels", step, found)
    return found


def prepare(library: Library) -> None:
    """Work out, for every step, its points and what vessels it would eat; kept with the library."""
    for step in library.steps.values():
        judged(library, step)
        profile(library, step)


def verdict(library: Library, step: ResolvedStep, material: str) -> Verdict:
    """What is known of one vessel material for a step (its hottest vessel), its heater apart."""
    every = needs(step) or [Capability(name="vessel")]
    hottest_need = max(every, key=lambda need: hottest(step, need))
    return _judge(_Contents(library, step), hottest_need, material)


def verdicts(library: Library, step: ResolvedStep) -> tuple[VesselNeed, ...]:
    """For each vessel of a step: verdicts on the allowed materials, and what else would do.

    The heater is not known: what stands on no plate is told to be for a water bath.
    """
    out = []
    for need, found in zip(needs(step), judged(library, step), strict=True):
        every = dict(found)
        if {n.name for n in heat_needs(step)} == {"heat-liquid"} and is_heated(step, need):
            heat = hottest(step, need)
            works = max(n.limit("to") or heat for n in heat_needs(step))
            every = {m: worse(v, on_heater(m, heat, None, works)) for m, v in found.items()}
        allowed = need.made_of or tuple(every)
        out.append(
            VesselNeed(
                need, tuple(every[m] for m in allowed if m in every),
                tuple(m for m, v in every.items() if v.verdict in {NOTHING, CAUTION}),
            )
        )  # fmt: skip
    return tuple(out)
