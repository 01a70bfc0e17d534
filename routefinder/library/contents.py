"""What is in the vessel of a step in grams, and its heat: worked out once, kept with the library.

One turn of the equation counts. Washes, fuels and drying agents are not in the vessel, gases that
are taken up weigh nothing there. Solutions that are poured in bring their water along: that is
added by those who know the strength (``poured`` water), and counts for the water that the step
calls for, as in ``library.pot``. What goes in when the reaction is over is left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.library.heat import step_heat
from routefinder.library.library import Library
from routefinder.library.pot import spared_g, weights
from routefinder.library.resolve import ResolvedStep

OUTSIDE = frozenset({"wash", "fuel", "drying agent"})


@dataclass(frozen=True, slots=True)
class Fed:
    """Grams of one reactant or auxiliary; ``poured`` says that it may come as a solution.

    ``share`` is by what a dissolved reactant shares the water (``pot.weights``), None of others.
    """

    substance: str
    root: str
    mass_g: float
    poured: bool
    water: bool
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Contents:
    """Feeds and products of one turn in grams, and the heat of the equation (None: not known).

    ``dissolved`` are the products in solution; ``gone_g`` solids and gases that form.
    """

    feeds: tuple[Fed, ...]
    dissolved: tuple[tuple[str, float], ...]
    gone_g: float
    heat_kJ: float | None

    def water_and_rest_g(self, strengths: Mapping[str, float]) -> tuple[float, float]:
        """(water, all else) in grams; ``strengths`` are mass fractions poured, per family root."""
        called = loose = rest = 0.0
        dissolved: list[tuple[float, float]] = []
        for feed in self.feeds:
            if feed.water:
                called += feed.mass_g
                continue
            rest += feed.mass_g
            strength = strengths.get(feed.root) if feed.poured else None
            brought = feed.mass_g * (1 / strength - 1) if strength else 0.0
            if feed.share is not None:
                dissolved.append((feed.share, brought))
            else:
                loose += brought
        water = called - spared_g(called, dissolved, loose)
        return water + loose + sum(brought for _, brought in dissolved), rest


Heats = dict[str, float | None]


def contents(library: Library, step: ResolvedStep, heats: Heats | None = None) -> Contents:
    """The contents of a step, worked out once and kept with the library.

    ``heats`` remembers heats by what the equation says (``equation_key``), for a library that was
    changed elsewhere; new ones are added to it.
    """
    kept: Contents | None = library.kept("contents", step)
    heats = {} if heats is None else heats
    return kept or library.keep("contents", step, _work_out(library, step, heats))


def equation_key(library: Library, step: ResolvedStep) -> str:
    """All that the heat of a step depends on: moles, formulas, states, CAS numbers."""
    words = ["recipe" if step.is_recipe else "equation"]
    for parts in (step.reactants, step.products):
        for part in parts:
            s = library.substances[part.substance]
            root = library.substances[s.hydrate_of].cas if s.hydrate_of else ""
            words.append(f"{part.moles!r} {s.formula} {part.state} {s.cas} {root}")
        words.append("->")
    return "; ".join(words)


def _heat(library: Library, step: ResolvedStep, heats: Heats) -> float | None:
    key = equation_key(library, step)
    if key not in heats:
        heats[key] = step_heat(library, step).enthalpy_kJ
    return heats[key]


def _work_out(library: Library, step: ResolvedStep, heats: Heats) -> Contents:
    substances = library.substances
    feeds = []
    parts = weights(library, step)
    for part in step.reactants:
        if part.state == "g":
            continue
        s = substances[part.substance]
        grams = part.moles * s.molar_mass_g * (1 + step.excess.get(part.substance, 0.0))
        water = s.formula == "H2O"
        feeds.append(
            Fed(s.id, library.root(s.id), grams, part.state == "aq", water, parts.get(s.id))
        )
    for aid in step.aids:
        if aid.role in OUTSIDE or aid.after:
            continue
        s = substances[aid.substance]
        grams = aid.mass_g * step.limiting.moles
        feeds.append(Fed(s.id, library.root(s.id), grams, True, s.formula == "H2O"))
    dissolved, gone = [], 0.0
    for part in step.products:
        grams = part.moles * substances[part.substance].molar_mass_g
        if part.state == "aq":
            dissolved.append((part.substance, grams))
        elif part.state in {"s", "g"}:
            gone += grams
    return Contents(tuple(feeds), tuple(dissolved), gone, _heat(library, step, heats))
