"""Amounts along a route: back from the target, mass balance closed at every step.

Definitions as in the documentation: going back from the target, what the steps recover
(stoichiometry x yield of the limiting reactant x recovery of the product) covers what later steps
take (stoichiometry x excess, plus auxiliaries). All amounts scale linearly with the target.

The water a step calls for is what its vessel is made up to (``library.pot``): water that solutions,
acids, lyes and crystals bring counts, for the equation first, and only the rest is added.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from routefinder.graph.needs import (
    Need,
    meets,
    need_of,
    need_of_aid,
    offers_of_step,
    offers_of_supply,
    target_need,
)
from routefinder.library import pot
from routefinder.library.library import Library
from routefinder.library.pot import is_water
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.step_amounts import Amounts, Draw, Feed, Outcome, StepAmounts
from routefinder.vessel.water import WaterOfStep, carried_g, water_of_step

Yields = Callable[[ResolvedStep], float]


def typical(step: ResolvedStep) -> float:
    """A step's typical yield."""
    return step.record.yield_.typical


def providers(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
) -> dict[tuple[str, Need], Supply | str]:
    """Who provides each need of each step.

    The cheapest fitting supply at hand, else the first earlier step that makes it, else the
    cheapest that is in a shop.
    """
    at_hand = [s for s in supplies if not s.in_shop]
    shops = [s for s in supplies if s.in_shop]
    out: dict[tuple[str, Need], Supply | str] = {}
    made: list[ResolvedStep] = []
    for step in steps:
        wanted = [need_of(library, part, step) for part in step.reactants]
        wanted += [need_of_aid(library, aid) for aid in step.aids]
        for need in dict.fromkeys(wanted):
            maker = next(
                (e.id for e in made if any(meets(library, o, need) for o in offers_of_step(e))),
                None,
            )
            found = (
                _best_supply(library, at_hand, need) or maker or _best_supply(library, shops, need)
            )
            if found is None:
                raise AssertionError(f"nothing provides {need} for {step.id}")
            out[step.id, need] = found
        made.append(step)
    return out


def _best_supply(library: Library, supplies: Sequence[Supply], need: Need) -> Supply | None:
    fitting: list[tuple[float, int, Supply]] = []
    for i, supply in enumerate(supplies):
        for offer in offers_of_supply(supply):
            if not meets(library, offer, need):
                continue
            substance = library.substances[offer[0]]
            per_mole = substance.molar_mass_g / supply.fractions[offer[0]]
            price = supply.price_per_g * per_mole if supply.price_per_g is not None else 1e12
            if supply.amount_g == 0:
                price += 1e15
            fitting.append((price, i, supply))
    return min(fitting, key=lambda item: item[:2])[2] if fitting else None


def _form_in(library: Library, supply: Supply, need: Need) -> str:
    """Which of the supply's substances meets the need."""
    for offer in offers_of_supply(supply):
        if meets(library, offer, need):
            return offer[0]
    raise AssertionError(f"{supply.id} does not meet {need}")


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
    goal = target_need(library, target)
    last = next(s for s in steps if any(meets(library, o, goal) for o in offers_of_step(s)))
    form = _form_from(library, last, goal)
    demand[last.id, form] = target_g / substances[target].molar_mass_g
    results: list[StepAmounts] = []
    by_id = {s.id: s for s in steps}
    for step in reversed(steps):
        y = 1.0 if ideal else yields(step)
        turns = 0.0
        for part in step.kept():
            share = y if part.substance == step.main.substance else step.recovered[part.substance]
            share = 1.0 if ideal else share
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
        results.append(_finish(library, step, turns, y, feeds, demand, ideal))
    results.reverse()
    _make_up(library, results, demand, ideal)
    limits = _limit_chain(steps, provide, last, library)
    return Amounts(
        target, target_g, last.id, tuple(results), _draws(results), limits,
        provide,
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
        form = _form_in(library, origin, need)
        pure = moles * library.substances[form].molar_mass_g
        weighed = pure / origin.fractions[form]
        water = pure - mass  # crystal water; of a solution, all that is not named
        if origin.dissolved:
            water += weighed * (1 - sum(origin.fractions.values()))
    return Feed(
        species, form, moles, mass, weighed - mass, origin, role, excess_mol, mass * recovered,
        water, after=after,
    )  # fmt: skip


def _make_up(
    library: Library,
    results: list[StepAmounts],
    demand: dict[tuple[str, str], float],
    ideal: bool,
) -> None:
    """Take off water that solutions, acids, lyes and crystals bring to a step, in place."""
    made: dict[str, StepAmounts] = {}
    done: dict[str, WaterOfStep] = {}
    for i, found in enumerate(results):
        water = water_of_step(library, found, made, done)
        feeds = _spared(library, found, carried_g(library, found, made, done))
        if feeds is not None:
            found = _finish(library, found.step, found.turns, found.yield_, feeds, demand, ideal)
            water = water_of_step(library, found, made, done)
            results[i] = found
        made[found.step.id], done[found.step.id] = found, water


def _spared(
    library: Library, found: StepAmounts, carried: Mapping[str, float]
) -> list[Feed] | None:
    """The feeds of a step without the water that others bring; None when nothing is brought.

    ``carried`` is the water that comes with each reactant from an earlier step, in grams.
    """
    parts = pot.weights(library, found.step)
    dissolved: list[tuple[float, float]] = []
    loose = 0.0
    for f in found.feeds:
        if f.role == "wash" or is_water(library, f.substance):
            continue
        if f.role == "reactant" and f.substance in parts:
            own = f.water_g + carried.get(f.substance, 0.0)
            dissolved.append((parts.get(f.substance, 0.0), own))
        else:
            loose += f.water_g
    brought = loose + sum(water for _, water in dissolved)
    if brought <= 0 or not any(_plain_water(library, f) for f in found.feeds):
        return None
    call = pot.called(library, found.step)
    wanted = (call.bound_g + call.start_g) * found.turns
    spared = pot.spared_g(wanted, dissolved, loose)
    added = pot.made_up(call, spared / found.turns, (brought - spared) / found.turns)
    share = {
        "bound": 1 - added.bound_g / call.bound_g if call.bound_g else 0.0,
        "start": 1 - added.start_g / call.start_g if call.start_g else 0.0,
        "after": 1 - added.after_g / call.after_g if call.after_g else 0.0,
    }
    return [
        _less(f, share["bound" if f.role == "reactant" else "after" if f.after else "start"])
        if _plain_water(library, f)
        else f
        for f in found.feeds
    ]


def _plain_water(library: Library, feed: Feed) -> bool:
    """Whether a feed is water from the shelf that a step calls for, not to wash with."""
    called = feed.role == "reactant" or feed.role in pot.MADE_UP
    return called and not isinstance(feed.origin, str) and is_water(library, feed.substance)


def _less(feed: Feed, share: float) -> Feed:
    """A feed of water, ``share`` of which something else brings."""
    if feed.role == "reactant":  # it stays in the balance: the equation takes it
        return replace(feed, from_solution_g=feed.mass_g * share)
    left = 1 - share
    return replace(
        feed, moles=feed.moles * left, mass_g=feed.mass_g * left,
        companions_g=feed.companions_g * left, recovered_g=feed.recovered_g * left,
        water_g=feed.water_g * left, spared_g=feed.mass_g * share,
    )  # fmt: skip


def _finish(
    library: Library,
    step: ResolvedStep,
    turns: float,
    y: float,
    feeds: list[Feed],
    demand: dict[tuple[str, str], float],
    ideal: bool,
) -> StepAmounts:
    outcomes: list[Outcome] = []

    def add(substance: str, state: str, moles: float, fate: str) -> None:
        if moles > 1e-15 or fate == "product":
            mass = moles * library.substances[substance].molar_mass_g
            outcomes.append(Outcome(substance, state, moles, mass, fate))

    for part in step.products:
        made = part.moles * turns
        if part.substance == step.main.substance:
            add(part.substance, part.state, made * y, "product")
            add(part.substance, part.state, made * (1 - y), "lost")
            continue
        share = step.recovered.get(part.substance, 0.0)
        share = 1.0 if ideal and share > 0 else share
        used = min(demand.get((step.id, part.substance), 0.0), made * share)
        if part.state == "g" and made:
            share = used / made  # nobody catches a gas that no step takes
        add(part.substance, part.state, used, "used")
        add(part.substance, part.state, made * share - used, "surplus")
        rest = made * (1 - share)
        if part.state == "g":
            stays = rest * step.dissolved.get(part.substance, 0.0)
            add(part.substance, "aq", stays, "waste")
            add(part.substance, "g", rest - stays, "gas")
        else:
            add(part.substance, part.state, rest, "waste")
    for feed in feeds:
        if feed.role == "reactant":
            state = next(p.state for p in step.reactants if p.substance == feed.substance)
            add(feed.substance, state, feed.excess_mol, "unreacted")
        else:
            kept = feed.recovered_g / feed.mass_g if feed.mass_g else 0.0
            add(feed.substance, "l", feed.moles * kept, "surplus")
            add(feed.substance, "l", feed.moles * (1 - kept), "waste")
    companions = sum(f.companions_g for f in feeds)
    residue = sum(f.mass_g for f in feeds) - sum(o.mass_g for o in outcomes)
    if step.is_recipe:
        companions += residue  # a recipe names what is kept; the rest is leavings
    water = sum(f.water_g for f in feeds)
    made = step.main.moles * turns * y
    over = made - demand.get((step.id, step.main.substance), 0.0)
    if over < 1e-9 * made or step.main.state == "g":
        over = 0.0
    return StepAmounts(step, turns, y, tuple(feeds), tuple(outcomes), companions, water, over)


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
