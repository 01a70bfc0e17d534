"""What feeding by-products back saves on a route, and what starting charge it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.errors import Refused
from routefinder.graph.needs import (
    Need,
    NeedIndex,
    need_of,
    need_of_aid,
    offers_of_step,
)
from routefinder.graph.pack import node_name
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.search.balance import SteadyFlow, balance
from routefinder.search.priced import PricedStep
from routefinder.vessel.step_amounts import Amounts

WORTH_TELLING = 0.005  # of what the plain plan draws


@dataclass(frozen=True)
class FedBack:
    """A by-product that saves something: grams a batch of what, from which step to which.

    ``back`` is true where the taker comes before the maker: the first batch then needs ``mass_g``
    from the shelf as its starting charge.
    """

    substance: str
    mass_g: float
    maker: str
    taker: str
    back: bool


@dataclass(frozen=True)
class Saving:
    """A material with what the plain plan draws and what it draws with reuse, as weighed."""

    supply: Supply
    plain_g: float
    reused_g: float

    @property
    def share(self) -> float:
        """Part of the plain draw that is saved."""
        return 1 - self.reused_g / self.plain_g if self.plain_g else 0.0

    @property
    def money(self) -> float | None:
        """Saved in the currency of the price; None without a price."""
        if self.supply.price_per_g is None:
            return None
        return (self.plain_g - self.reused_g) * self.supply.price_per_g


@dataclass(frozen=True)
class Reuse:
    """The savings of a route in steady state, and why there are none where ``refused`` says so."""

    fed_back: tuple[FedBack, ...]
    savings: tuple[Saving, ...]
    refused: str = ""

    @property
    def money(self) -> float:
        """All that is saved a batch, of what has a price."""
        return sum(s.money or 0.0 for s in self.savings)


def reuse(library: Library, found: Amounts) -> Reuse:
    """The balance of a route with its recovered by-products and solvents fed back."""
    steps = [s.step for s in found.steps]
    wanted: dict[str, list[tuple[Need, float]]] = {s.id: _takes(library, s) for s in steps}
    goal = found.goal
    index = NeedIndex(library, [n for rows in wanted.values() for n, _ in rows] + [goal])
    priced: list[PricedStep] = []
    names: dict[tuple[str, int], str] = {}
    for result in found.steps:
        step = result.step
        gives: list[tuple[float, tuple[str, ...]]] = []
        for part, offer in zip(step.kept(), offers_of_step(step), strict=True):
            main = part.substance == step.main.substance
            share = result.yield_ if main else step.recovered[part.substance]
            names[step.id, len(gives)] = part.substance
            met = tuple(node_name(n) for n in index.met_by(offer))
            gives.append((part.moles * share, met))
        for aid in step.aids:
            if aid.recovered > 0:  # a solvent that is got back serves as before
                names[step.id, len(gives)] = aid.substance
                moles = aid.mass_g * step.limiting.moles / _molar(library, aid.substance)
                gives.append((moles * aid.recovered, (node_name(need_of_aid(library, aid)),)))
        takes = tuple((node_name(n), amount) for n, amount in wanted[step.id])
        priced.append(PricedStep(step.id, takes, tuple(gives), 0.0))
    supply_of: dict[str, Supply] = {}
    form_of: dict[str, str] = {}
    for result in found.steps:
        for feed, (need, _) in zip(result.feeds, wanted[result.step.id], strict=True):
            if isinstance(feed.origin, Supply):
                supply_of[node_name(need)] = feed.origin
                form_of[node_name(need)] = feed.form
    prices = {node: _price(library, supply, form_of[node]) for node, supply in supply_of.items()}
    every = [goal, *(need for rows in wanted.values() for need, _ in rows)]
    mass = {node_name(need): _molar(library, need[1]) for need in every}
    amount = found.target_g / _molar(library, found.target)
    most = {s.step.id: s.turns for s in found.steps}
    try:
        steady = balance(priced, prices, node_name(goal), amount, mass, most)
    except Refused as error:
        return Reuse((), (), str(error))
    if steady is None:
        return Reuse((), ())
    drawn: dict[str, float] = {}
    for node, moles in steady.bought.items():
        supply = supply_of[node]
        weighed = moles * _molar(library, form_of[node]) / supply.fractions[form_of[node]]
        drawn[supply.id] = drawn.get(supply.id, 0.0) + weighed
    savings = tuple(
        Saving(d.supply, d.as_weighed_g, drawn.get(d.supply.id, 0.0))
        for d in found.draws
        if drawn.get(d.supply.id, 0.0) < d.as_weighed_g * (1 - WORTH_TELLING)
    )
    if not savings:
        return Reuse((), ())
    return Reuse(_fed_back(library, found, steady.flows, names), savings)


def _takes(library: Library, step: ResolvedStep) -> list[tuple[Need, float]]:
    """(need, moles a turn) in the order of the feeds of ``amounts``."""
    out: list[tuple[Need, float]] = []
    for part in step.reactants:
        moles = part.moles * (1 + step.excess.get(part.substance, 0.0))
        out.append((need_of(library, part, step), moles))
    for aid in step.aids:
        moles = aid.mass_g * step.limiting.moles / _molar(library, aid.substance)
        out.append((need_of_aid(library, aid), moles))
    return out


def _molar(library: Library, substance: str) -> float:
    return library.substances[substance].molar_mass_g


def _price(library: Library, supply: Supply, form: str) -> float:
    per_mole = _molar(library, form) / supply.fractions[form]
    return (supply.price_per_g or 0.0) * per_mole


def _fed_back(
    library: Library, found: Amounts, flows: Sequence[SteadyFlow], names: dict[tuple[str, int], str]
) -> tuple[FedBack, ...]:
    """The flows that take the place of something drawn from the shelf."""
    from_shelf = {
        (step, node_name(need))
        for (step, need), origin in found.providers.items()
        if isinstance(origin, Supply)
    }
    return tuple(
        FedBack(
            names[f.maker, f.product],
            f.amount * _molar(library, names[f.maker, f.product]),
            f.maker,
            f.taker,
            f.back,
        )
        for f in flows
        if (f.taker, f.node) in from_shelf
    )
