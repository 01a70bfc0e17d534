"""Amounts per turn and shelf prices, for the search by material cost."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from routefinder.graph.needs import (
    Need,
    NeedIndex,
    meets,
    need_of,
    need_of_aid,
    needs,
    offers_of_supply,
)
from routefinder.graph.pack import BUY, node_name
from routefinder.graph.purify import AS_MADE, FINISHED, NEXT_TO_NOTHING, is_again
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply

Turn = tuple[str, tuple[tuple[str, float], ...], tuple[tuple[float, tuple[str, ...]], ...], float]


def turns(
    library: Library,
    steps: Iterable[ResolvedStep],
    goal: Need,
    cost: Callable[[ResolvedStep], float],
    end: str = "",
) -> list[Turn]:
    """(id, takes, gives, cost) of every step, in moles per turn, typical yields.

    ``end`` is the node of the network's target: another than the goal's where it is finished
    (``graph.pack``).
    """
    allowed = list(steps)
    as_made = node_name(goal)
    wanted = {s.id: needs(library, s) for s in allowed}
    index = NeedIndex(library, [n for ns in wanted.values() for n in ns] + [goal])
    out: list[Turn] = []
    for step in allowed:
        takes: dict[str, float] = {}
        for part in step.reactants:
            name = node_name(need_of(library, part, step))
            moles = part.moles * (1 + step.excess.get(part.substance, 0.0))
            takes[name] = takes.get(name, 0.0) + moles
        for aid in step.aids:
            name = node_name(need_of_aid(library, aid))
            mass = library.substances[aid.substance].molar_mass_g
            takes[name] = takes.get(name, 0.0) + aid.mass_g * step.limiting.moles / mass
        gives: list[tuple[float, tuple[str, ...]]] = []
        for part in step.kept():
            main = part.substance == step.main.substance
            share = step.record.yield_.typical if main else step.recovered[part.substance]
            offer = (part.substance, part.state == "aq", 0.0 if part.state == "aq" else 1.0)
            nodes = tuple(node_name(n) for n in index.met_by(offer) if n not in wanted[step.id])
            if is_again(step.id):
                nodes = (end,) if main else ()
            if nodes:
                entry = (part.moles * share, nodes)
                gives.insert(0, entry) if main else gives.append(entry)
        if gives:
            if is_again(step.id):
                own = node_name(("dissolved", library.root(step.main.substance), 0.0))
                takes = {as_made if n == own else n: moles for n, moles in takes.items()}
            out.append((step.id, tuple(takes.items()), tuple(gives), cost(step)))
    if end.startswith(FINISHED):
        out.append((AS_MADE, ((as_made, 1.0),), ((1.0, (end,)),), NEXT_TO_NOTHING))
    return out


def shelf_prices(
    library: Library, supplies: Iterable[Supply], steps: Iterable[ResolvedStep], errand: float
) -> tuple[dict[str, float], list[Turn]]:
    """Price per mole of every need at hand, by the cheapest fitting supply (0 when unknown).

    What is in a shop comes as a market node with that price, and a turn that buys from it.
    """
    out: dict[str, float] = {}
    market: dict[str, float] = {}
    every = dict.fromkeys(n for s in steps for n in needs(library, s))
    for supply in supplies:
        for offer in offers_of_supply(supply):
            substance = library.substances[offer[0]]
            per_mole = substance.molar_mass_g / supply.fractions[offer[0]]
            price = (supply.price_per_g or 0.0) * per_mole
            for need in every:
                if need[1] in {offer[0], library.root(offer[0])} and meets(library, offer, need):
                    name = node_name(need)
                    table = market if supply.in_shop else out
                    table[name] = min(table.get(name, float("inf")), price)
    errands: list[Turn] = []
    for name, price in market.items():
        if name not in out:
            out[f"market|{name}"] = price
            errands.append((BUY + name, ((f"market|{name}", 1.0),), ((1.0, (name,)),), errand))
    return out, errands
