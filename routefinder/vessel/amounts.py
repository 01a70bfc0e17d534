"""Amounts along a route: back from the target, mass balance closed at every step.

Definitions as in the documentation: going back from the target, what the steps recover
(stoichiometry x yield of the limiting reactant x recovery of the product) covers what later steps
take (stoichiometry x excess, plus auxiliaries). All amounts scale linearly with the target.

The water a step calls for is what its vessel is made up to (``library.pot``): water that solutions,
acids, lyes and crystals bring counts, for the equation first, and only the rest is added.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from routefinder.graph.needs import (
    Need,
    end_of,
    meets,
    need_of,
    need_of_aid,
    offers_of_step,
)
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.feed import Feed
from routefinder.vessel.outcomes import Wanted, forwards, recovery
from routefinder.vessel.step_amounts import Amounts, Draw, StepAmounts
from routefinder.vessel.supplied import form_in, providers

Yields = Callable[[ResolvedStep], float]


def typical(step: ResolvedStep) -> float:
    """A step's typical yield."""
    return step.record.yield_.typical


def _form_from(library: Library, step: ResolvedStep, need: Need) -> str:
    """Which of the step's products meets the need."""
    for offer in offers_of_step(step):
        if meets(library, offer, need):
            return offer[0]
    raise AssertionError(f"{step.id} does not meet {need}")


def amounts(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
    target: str,
    target_g: float,
    yields: Yields = typical,
    *,
    ideal: bool = False,
) -> Amounts:
    """Amounts of a route, worked back from the target.

    ``steps`` is in a workable order; ``yields`` gives each step's yield. ``ideal`` sets every
    yield and recovery to 1 and every excess to 0 (for the overall yield).
    """
    provide = providers(library, steps, supplies)
    substances = library.substances
    demand: dict[tuple[str, str], float] = {}  # (step id, product substance) -> moles
    last_id, form, goal = end_of(library, steps, target)
    last = next(s for s in steps if s.id == last_id)
    demand[last.id, form] = target_g / substances[target].molar_mass_g
    back: list[Wanted] = []
    by_id = {s.id: s for s in steps}
    for step in reversed(steps):
        y = 1.0 if ideal else yields(step)
        turns = 0.0
        for part in step.kept():
            main = part.substance == step.main.substance
            share = y if main else float(recovery(library, step, part.substance, y, ideal))
            wanted = demand.get((step.id, part.substance), 0.0)
            turns = max(turns, wanted / (part.moles * share))
        feeds: list[Feed] = []
        for part in step.reactants:
            need = need_of(library, part, step)
            excess = 0.0 if ideal else step.excess.get(part.substance, 0.0)
            moles = part.moles * turns * (1 + excess)
            feeds.append(
                _feed(library, by_id, provide[step.id, need], need, part.substance, moles,
                      "reactant", part.moles * turns * excess, demand)
            )  # fmt: skip
        limiting_mol = step.limiting.moles * turns
        for aid in step.aids:
            need = need_of_aid(library, aid)
            moles = aid.mass_g * limiting_mol / substances[aid.substance].molar_mass_g
            feeds.append(
                _feed(library, by_id, provide[step.id, need], need, aid.substance, moles,
                      aid.role, 0.0, demand, aid.recovered, aid.after)
            )  # fmt: skip
        back.append(Wanted(step, turns, y, tuple(feeds)))
    results = forwards(library, back[::-1], demand, ideal)
    limits = _limit_chain(steps, provide, last, library)
    return Amounts(
        target, target_g, last.id, form, goal, tuple(results), _draws(results), limits,
        provide, tuple(supplies),
    )  # fmt: skip


def _feed(
    library: Library,
    by_id: dict[str, ResolvedStep],
    origin: Supply | str,
    need: Need,
    species: str,
    moles: float,
    role: str,
    excess_mol: float,
    demand: dict[tuple[str, str], float],
    recovered: float = 0.0,
    after: bool = False,
) -> Feed:
    mass = moles * library.substances[species].molar_mass_g
    if isinstance(origin, str):
        form = _form_from(library, by_id[origin], need)
        weighed = moles * library.substances[form].molar_mass_g
        water = weighed - mass
        demand[origin, form] = demand.get((origin, form), 0.0) + moles
    else:
        form = form_in(library, origin, need)
        pure = moles * library.substances[form].molar_mass_g
        weighed = pure / origin.fractions[form]
        water = pure - mass  # crystal water; of a solution, all that is not named
        watery = need[0] == "dissolved" and role in {"reactant", "catalyst"}
        if origin.dissolved or (origin.form == "liquid" and watery):  # 85 % acid, sold as a liquid
            water += weighed * max(
                1 - sum(origin.fractions.values()) - sum(origin.others.values()), 0.0
            )
    return Feed(
        species, form, moles, mass, weighed - mass, origin, role, excess_mol, mass * recovered,
        water, after=after,
    )  # fmt: skip


def _draws(results: Sequence[StepAmounts]) -> tuple[Draw, ...]:
    sums: dict[str, list[float]] = {}
    kinds: dict[str, tuple[Supply, bool]] = {}
    for result in results:
        for feed in result.feeds:
            if isinstance(feed.origin, str) or (feed.from_solution_g and feed.drawn_g <= 1e-9):
                continue
            supply = feed.origin
            drawn = 1 - feed.from_solution_g / feed.mass_g if feed.from_solution_g else 1.0
            entry = sums.setdefault(supply.id, [0.0, 0.0, 0.0])
            entry[0] += feed.moles * drawn
            entry[1] += feed.mass_g * drawn
            entry[2] += feed.drawn_g
            reactant = feed.role == "reactant" or kinds.get(supply.id, (supply, False))[1]
            kinds[supply.id] = (supply, reactant)
    return tuple(
        Draw(kinds[name][0], moles, mass, weighed, kinds[name][1])
        for name, (moles, mass, weighed) in sums.items()
    )


def _limit_chain(
    steps: Sequence[ResolvedStep],
    provide: dict[tuple[str, Need], Supply | str],
    last: ResolvedStep,
    library: Library,
) -> str:
    """The starting material found by following each step's limiting reactant to the shelf."""
    by_id = {s.id: s for s in steps}
    step = last
    while True:
        origin = provide[step.id, need_of(library, step.limiting, step)]
        if not isinstance(origin, str):
            return origin.id
        step = by_id[origin]
