"""What heats a step: the tools of the bench that could, and what each way of heating means.

A vessel on a hotplate or in a flame meets something far hotter than what is in it; in a water bath
it meets 100 degC at most. Which material stands on a plate or in a flame is in
``data/vessel_limits.csv``; what eats the inside of a furnace in ``data/furnaces.csv``. A heater
that does not say how it heats is taken at its worst: a plate for liquids, open elements for what is
dry.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from routefinder.hazards.kinds import DATA, kinds
from routefinder.library import fumes
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool

HEATS = ("heat-liquid", "heat-dry", "open-flame")
OVEN_TO_C = 300.0  # what heats dry things no further is an oven
FURNACE_MARGIN = 30.0  # K between what a heater reaches and what a step needs; common practice


@dataclass(frozen=True)
class Way:
    """A way of heating: what the vessel meets.

    ``direct`` is "plate" or "flame" where the vessel stands on what is hotter than its contents.
    Otherwise the vessel is as hot as the contents and ``over_K``, in a bath ``bath_C`` at most.
    ``fire``: gas or a flame burns; ``furnace``: the charge's gases meet its lining or elements.
    """

    name: str
    words: str
    direct: str = ""
    over_K: float = 0.0
    bath_C: float | None = None
    fire: bool = False
    furnace: bool = False


WAYS = {
    w.name: w
    for w in (
        Way("plate", "a hotplate", direct="plate"),
        Way("flame", "a flame", direct="flame", fire=True),
        Way("water bath", "a water bath", bath_C=100.0),
        Way("oil bath", "an oil or sand bath", over_K=20.0),  # common practice
        Way("mantle", "a heating mantle", direct="plate"),
        Way("oven", "an oven", over_K=30.0, furnace=True),  # 10 to 30 K off the dial
        Way("kiln", "a kiln with open elements", furnace=True),
        Way("muffle", "a muffle furnace", furnace=True),
        Way("tube", "a tube furnace", furnace=True),
        Way("gas kiln", "a gas kiln", fire=True, furnace=True),
        Way("microwave kiln", "a microwave kiln", furnace=True),
    )
}  # fmt: skip


def way(tool: Tool | None, need: Capability) -> Way | None:
    """How a tool heats; the worst where it does not say. None without a tool."""
    if tool is None:
        return None
    if tool.heats_by:
        return WAYS[tool.heats_by]
    if need.name == "heat-liquid":
        return WAYS["plate"]
    if need.name == "open-flame":
        return WAYS["flame"]
    reach = max((o.limit("to") or 0.0 for o in tool.offers if o.name == need.name), default=0.0)
    return WAYS["oven" if 0 < reach <= OVEN_TO_C else "kiln"]


def heat_needs(step: ResolvedStep) -> tuple[Capability, ...]:
    """The heats that a step asks for, the hottest first."""
    found = [n for n in step.needs if n.name in HEATS]
    return tuple(sorted(found, key=lambda n: -(n.limit("to") or 0.0)))


def heating_tools(bench: Bench, need: Capability) -> tuple[Tool, ...]:
    """The tools that meet a heat."""
    return tuple(t for t in bench.tools if any(o.serves(need) for o in t.offers))


def heat_offers(tool: Tool, need: Capability) -> list[Capability]:
    """What a tool offers that meets a heat."""
    return [o for o in tool.offers if o.serves(need)]


def flammable(library: Library, step: ResolvedStep) -> tuple[str, ...]:
    """Names of the flammable liquids that a step handles: no flame is lit near these."""
    liquids = [p.substance for p in (*step.reactants, *step.products) if p.state == "l"]
    liquids += [a.substance for a in step.aids if a.role in {"solvent", "medium", "wash"}]
    found = (library.substances[i] for i in dict.fromkeys(liquids))
    return tuple(s.name for s in found if "flammable liquid" in kinds(s))


@dataclass(frozen=True)
class Wear:
    """What a charge gives off that eats a furnace: agent (a name), words, source."""

    agent: str
    words: str
    source: str


@dataclass(frozen=True)
class _Row:
    ways: frozenset[str]
    agents: frozenset[str]
    by: str
    above_C: float
    words: str
    source: str


@lru_cache(maxsize=1)
def _rows() -> tuple[_Row, ...]:
    with (DATA / "furnaces.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            _Row(
                frozenset(r["heats_by"].split(";")), frozenset(r["agent"].split(";")), r["by"],
                float(r["above_C"]), r["words"], r["source"],
            )
            for r in csv.DictReader(file)
        )  # fmt: skip


def wear(library: Library, step: ResolvedStep, found: Way) -> tuple[Wear, ...]:
    """What a step gives off that eats the elements or the lining of what heats it.

    A gas counts wherever it is made; a salt that leaves as vapour from the temperature of its row.
    """
    if not found.furnace:
        return ()
    hottest = step.heat_C
    out: dict[str, Wear] = {}
    for row in _rows():
        if found.name not in row.ways or hottest <= row.above_C:
            continue
        for name in _agents(library, step, row):
            out.setdefault(name, Wear(name, row.words, row.source))
    return tuple(out.values())


def _agents(library: Library, step: ResolvedStep, row: _Row) -> Iterable[str]:
    if row.by == "gas":
        for part in step.products:
            substance = library.substances[part.substance]
            if part.state == "g" and substance.formula in row.agents:
                yield substance.name
        for fume in fumes.fumes(library, step):
            if fume.formula in row.agents and not fume.traces:
                yield fume.name
        return
    inside = [p.substance for p in (*step.reactants, *step.products) if p.state != "g"]
    inside += [a.substance for a in step.aids if a.role not in {"wash", "drying agent"}]
    for name in dict.fromkeys(inside):
        substance = library.substances[name]
        if kinds(substance).names & row.agents:
            yield substance.name
