"""One question on its way: the network it can use, the search, and what it makes of a route."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

from routefinder.asking import states
from routefinder.assessment.assess import Assessment, assess
from routefinder.choice import bounds, measures, variety
from routefinder.choice import limits as whole
from routefinder.choice import order as orders
from routefinder.graph import narrow as narrowing
from routefinder.graph import needs, prices, purify
from routefinder.graph.pack import (
    BUY,
    Packed,
    node_name,
    pack,
    real_steps,
)
from routefinder.library import excess, steering
from routefinder.library import value as values
from routefinder.library.library import Library
from routefinder.records.question import Question
from routefinder.search import best, front, priced
from routefinder.search.route import Ending, StepSet

SEED_ORDERS = ("yield", "time", "hazard", "steps", "cost")
SEEDS = 3  # best routes of each of these orders, to begin a front with
VARIANTS = 3  # of a way that are listed under its first route
MANY = 50  # whoever asks for more ways gets every variant met
PATIENCE = 300  # variants met in a row without a new way, before the search is content


class Inquiry:
    """One question on its way through the stages."""

    def __init__(self, lib: Library, question: Question) -> None:
        self.finish = question.limits.purity is not None and not question.front
        lib = excess.with_excess(lib, question.excess)
        self.lib = purify.with_purifiers(lib, question.target) if self.finish else lib
        self.question = question
        self.narrowed = narrowing.narrow(self.lib, question)
        self.charges: dict[str, dict[str, float]] = {}
        self.impure: dict[tuple[str, ...], Assessment] = {}  # routes below the purity asked for

    @property
    def goal(self) -> needs.Need:
        """The node of the target, in the state that is wanted."""
        return needs.target_need(
            self.lib, self.question.target, states.looked_for(self.lib, self.question)
        )

    def pack(self, steps: Iterable[Any], more: Sequence[Any] = ()) -> Packed:
        return pack(
            self.lib, steps, (*self.supplies, *more), self.goal,
            self.charge(self.question.order), orders.ERRANDS[self.question.order], self.finish,
            self.side, self.dear if self.question.order == "balanced" else None,
        )  # fmt: skip

    def charge(self, order: str) -> Callable[[Any], float]:
        """What a step costs under an order; worked out once a step."""
        q = self.question
        cost = orders.step_cost(order, self.lib, q.target, self.narrowed.profiles, q.step_cost)
        known = self.charges.setdefault(order, {})

        def charged(step: Any) -> float:
            if step.id not in known:
                known[step.id] = cost(step)
            return known[step.id]

        return charged

    @cached_property
    def side(self) -> Callable[[str], bool] | None:
        """Which substances are side work, bought where they can be had; None: all may be made.

        By cost, and in several measures, making is weighed against buying; what must be used may
        be wanted for side work.
        """
        q = self.question
        if q.make_reagents or q.order == "cost" or q.front:
            return None
        carry = self.carry
        if any(self.lib.root(steering.substance_of(self.lib, u)) not in carry
               for u in q.limits.use):  # fmt: skip
            return None
        return lambda substance: self.lib.root(substance) not in carry

    @cached_property
    def carry(self) -> frozenset[str]:
        """Roots of what may carry the target's value."""
        return values.chain(self.lib, self.question.target)

    @cached_property
    def dear(self) -> Callable[[Any, str], float]:
        """What the price of what carries the value adds to an errand in the balanced order."""
        weights = orders.settled()
        value = values.value_of(self.lib, self.question.target)

        def price(supply: Any, substance: str) -> float | None:
            """Money for a mole of the value in a supply."""
            if supply.price_per_g is None or self.lib.root(substance) not in self.carry:
                return None
            atoms = values.holds(self.lib, substance, value)
            if not atoms:
                return None
            molar = self.lib.substances[substance].molar_mass_g
            return float(supply.price_per_g * molar / supply.fractions[substance] / atoms)

        prices = [price(s, o) for s in self.supplies if s.in_shop for o in s.offered]
        cheapest = min((p for p in prices if p), default=None)
        return lambda supply, substance: orders.dear(price(supply, substance), cheapest, weights)

    @cached_property
    def packed(self) -> Packed:
        """The network of the steps that the limits leave."""
        return self.pack(self.narrowed.steps)

    @cached_property
    def supplies(self) -> tuple[Any, ...]:
        """What may be used; a material under "must use" pushes its rivals aside."""
        must = self.question.limits.use
        return tuple(
            s for s in self.narrowed.supplies if not steering.pushed_aside(self.lib, must, s)
        )

    def assess(self, ids: Sequence[str]) -> Assessment:
        q = self.question
        return assess(
            self.lib, [self.lib.steps[i] for i in real_steps(ids)], self.supplies, q.target,
            q.amount_g, q.bench, self.narrowed.strengths, q.carry,
        )  # fmt: skip

    def accepts(self, ids: tuple[str, ...]) -> bool:
        """Limits on whole routes that are no sums over steps."""
        if self.packed.roundabout(ids):
            return False
        if not whole.judged(self.question):
            return True
        found = self.assess(ids)
        least = self.question.limits.purity
        if least is not None and found.purity.share < least:
            self.impure[real_steps(ids)] = found
            return False
        if least is not None and self._pure_as_made(ids, least):
            return False
        return whole.keeps(self.lib, self.question, found)

    def _pure_as_made(self, ids: Sequence[str], least: float) -> bool:
        """Whether a route is pure enough without the purifying step it has."""
        shorter = purify.without_again(ids)
        return len(shorter) < len(ids) and self.assess(shorter).purity.share >= least

    def way(self, ids: Sequence[str]) -> variety.Way:
        """The way of a route; see ``choice.variety``."""
        return variety.way(self.lib, self.assess(ids))

    def way_found(self, packed: Packed, ids: Sequence[str]) -> variety.Way:
        """The same from the ids of a search, errands and all, without working the route out."""
        had = {*packed.at_hand, *(i.removeprefix(BUY) for i in ids if i.startswith(BUY))}
        steps = [self.lib.steps[i] for i in real_steps(ids)]
        makers: dict[tuple[str, str], str] = {}
        root = self.lib.root(self.question.target)
        for i, step in enumerate(steps):
            for part in step.reactants:
                need = needs.need_of(self.lib, part, step)
                if purify.is_again(step.id) and self.lib.root(part.substance) == root:
                    need = self.goal
                if node_name(need) not in had:
                    makers[step.id, part.substance] = next(
                        s.id for s in steps[:i]
                        if any(needs.meets(self.lib, o, need) for o in needs.offers_of_step(s))
                    )  # fmt: skip
        return variety.way_of(self.lib, self.question.target, steps, steps[-1].id, makers)

    def caps(self, packed: Packed) -> list[best.Cap]:
        """The limits on whole routes that are sums over steps."""
        steps = {i: self.lib.steps[i] for i in real_steps(packed.network.steps)}
        return whole.caps(self.question.limits, steps)

    def priced(
        self, packed: Packed, charge: Callable[[Any], float]
    ) -> tuple[list[priced.PricedStep], dict[str, float], float]:
        """The steps with amounts, errands included, the shelf's prices, and moles of target."""
        steps = [self.lib.steps[i] for i in real_steps(packed.network.steps)]
        target = self.question.target
        turns = prices.turns(self.lib, steps, self.goal, charge, packed.target)
        shelf, errands = prices.shelf_prices(self.lib, self.supplies, steps, orders.ERRANDS["cost"])
        shelf.pop(packed.target, None)
        turns += [turn for turn in errands if turn[2][0][1] != (packed.target,)]
        moles = self.question.amount_g / self.lib.substances[target].molar_mass_g
        return [priced.PricedStep(*turn) for turn in turns], shelf, moles

    def front(self, keys: Sequence[str]) -> front.Front:
        """The routes that no other dominates in these measures."""
        q, packed = self.question, self.packed
        if packed.network.number(packed.target) is None:
            return front.Front((), (), Ending.NONE, float("inf"), 0, 0.0)
        steps, shelf, moles = self.priced(packed, lambda _: 0.0)
        facts = bounds.Facts(
            self.lib, packed.network, packed.at_hand, packed.target, q.amount_g, moles,
            self.narrowed.strengths, q.bench, steps, shelf,
        )  # fmt: skip
        seeds = []
        for order in SEED_ORDERS:
            asked = Inquiry(self.lib, replace(q, order=order, seconds=q.seconds / 20, front=()))
            seeds += [r.steps for r in asked.search(asked.packed, SEEDS).routes]
        return front.front(
            packed.network, packed.at_hand, packed.target,
            lambda ids: measures.losses(self.assess(ids), keys),
            lower=bounds.lower_bounds(facts, keys), seeds=seeds, accept=self.accepts,
            caps=self.caps(packed), seconds=q.seconds,
        )  # fmt: skip

    def search(self, packed: Packed, top: int, fold: bool = True) -> best.Found:
        """The search by the order asked for, within the limits on whole routes.

        With ``fold``, the best ``top`` ways; the first variants met of each come along, unless
        only ``different`` routes are wanted. Without, the best ``top`` routes.
        """
        caps = self.caps(packed)
        seconds = self.question.seconds
        beside = 0 if self.question.different else (VARIANTS if top <= MANY else 10**9)
        patience = PATIENCE if top <= MANY else 10**9
        ways: dict[frozenset[str], variety.Way] = {}

        def way(ids: tuple[str, ...]) -> variety.Way:
            key = frozenset(ids)
            if key not in ways:
                ways[key] = self.way_found(packed, ids)
            return ways[key]

        if self.question.order == "cost":
            charge = self.charge("cost")
            steps, shelf, moles = self.priced(packed, charge)
            return priced.cheapest_routes(
                steps, shelf, packed.target, moles, top,
                lambda ids: self.total_cost(ids, charge), seconds=seconds, caps=caps,
                accept=self.accepts, group=way if fold else None, beside=beside,
            )  # fmt: skip
        first: dict[variety.Way, frozenset[str]] = {}
        variants: dict[variety.Way, dict[frozenset[str], tuple[str, ...]]] = {}
        since: set[frozenset[str]] = set()  # variants since the last new way

        def accepts(ids: tuple[str, ...]) -> bool:
            """The limits, and only the first route of its way."""
            if not self.accepts(ids):
                return False
            if not fold:
                return True
            key, mine = frozenset(ids), way(ids)
            if mine not in first:
                first[mine] = key
                since.clear()
            if first[mine] == key:
                return True
            since.add(key)
            variants.setdefault(mine, {}).setdefault(key, ids)
            return False

        found = best.search(
            packed.network, packed.at_hand, packed.target, top, seconds=seconds, caps=caps,
            accept=accepts, worth=lambda: 0.0 if len(since) > patience else float("inf"),
        )  # fmt: skip
        if not fold:
            return found
        cost = dict(zip(packed.network.steps, packed.network.costs, strict=True))
        more = [
            StepSet(ids, sum(cost[i] for i in ids))
            for route in found.routes
            for ids in list(variants.get(way(route.steps), {}).values())[:beside]
        ]
        left_out = any(len(v) > beside for v in variants.values()) and beside
        ending = Ending.PROVEN if found.ending is Ending.ALL and left_out else found.ending
        routes = tuple(sorted((*found.routes, *more), key=lambda r: r.cost))
        return replace(found, routes=routes, ending=ending)

    def total_cost(self, ids: Sequence[str], charge: Callable[[Any], float]) -> float:
        """Materials of a route at the asked amount, plus its step charges."""
        found = self.assess(ids)
        errands = (len(ids) - len(found.steps)) * orders.ERRANDS["cost"]
        return (found.cost.typical or 0.0) + sum(charge(s) for s in found.steps) + errands
