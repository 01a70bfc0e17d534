"""From a question to its answer: the network it can use, the search, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

from routefinder import digits
from routefinder.asking import states
from routefinder.assessment.assess import Assessment, assess
from routefinder.assessment.measure import COMPARED
from routefinder.choice import bounds, measures, variety
from routefinder.choice import limits as whole
from routefinder.choice import order as orders
from routefinder.choice.dominance import Dominated, dominated
from routefinder.errors import InputError
from routefinder.graph import narrow as narrowing
from routefinder.graph import needs, prices, purify
from routefinder.graph.pack import (
    BUY,
    Packed,
    node_name,
    pack,
    real_steps,
)
from routefinder.library import excess, regulated, steering
from routefinder.library import shelf as shelves
from routefinder.library import value as values
from routefinder.library.library import Library
from routefinder.listing import listed
from routefinder.records.question import Question, State
from routefinder.results.answer import (
    Answer,
    Beaten,
    EndsAs,
    Fronted,
    Lost,
    NoRoute,
    Route,
    route_name,
)
from routefinder.search import best, explain, front, priced
from routefinder.search.route import Ending, StepSet

STRONG_ENOUGH_FOR = 0.4  # of the time, to look for the strength or purity asked for
SEED_ORDERS = ("yield", "time", "hazard", "steps", "cost")
SEEDS = 3  # best routes of each of these orders, to begin a front with
BEATEN_SHOWN = 8
USE_UP_AMONG = 25  # how many of the best routes are looked through for those that take most
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


def answer(lib: Library, question: Question) -> Answer:
    """Search, assess and order the routes for a question.

    Raises Refused for a target, or a library, that routefinder does not plan for.
    """
    regulated.refuse_library(lib)
    regulated.refuse(lib.substances[question.target], "target", lib)
    asked = states.wanted(lib, question)
    if asked.strength is None and question.limits.purity is None:
        found = _in_any_order(lib, question)
    else:  # no bound tells beforehand that no route is strong or pure enough
        short = replace(question, seconds=question.seconds * STRONG_ENOUGH_FOR)
        found = replace(_in_any_order(lib, short), question=question)
    stopped = found.ending is Ending.STOPPED
    if not found.routes and asked.strength is not None:  # then weaker ones
        weaker = _in_any_order(lib, replace(question, state=State(asked.kind)))
        found = replace(weaker, question=question) if weaker.routes else found
    return replace(found, state=_state(lib, found, asked, stopped))


def _in_any_order(lib: Library, question: Question) -> Answer:
    if question.front:
        return _front(lib, question)
    if question.use_up is not None:
        return _using_up(lib, question, question.use_up)
    return _answer(lib, question)


def _state(lib: Library, found: Answer, asked: State, stopped: bool) -> EndsAs:
    """What was wanted, and whether the routes end so."""
    target = found.question.target
    met = all(
        r.assessment.ends.kind == asked.kind and whole.strong_enough(asked, r.assessment)
        for r in found.routes
    )
    forms = lib.families.get(lib.root(target), ())
    solids = tuple(f for f in forms if f != target and "s" in lib.made.get(f, ()))
    return EndsAs(
        asked, found.question.state is not None, met, solids,
        states.can_be(lib, target, asked.kind),
        stopped,
    )  # fmt: skip


def _using_up(lib: Library, question: Question, material: str) -> Answer:
    """The best routes that use the material, most of it first (dominated ones last).

    The best of all, with a note, if none uses it.
    """
    limits = replace(question.limits, use=(*question.limits.use, material))
    found = _answer(lib, replace(question, limits=limits), material)
    name = steering.in_words(lib, material)
    if found.routes:
        note = (
            f"only routes that use {name} are listed; of the {max(question.top, USE_UP_AMONG)} "
            "best, those that take most of it first (dominated routes last)"
        )
    else:
        found = _answer(lib, question)
        note = f"no route within the limits uses {name}; these are without it"
    return replace(found, question=question, notes=(*found.notes, note))


def _front(lib: Library, question: Question) -> Answer:
    """The non-dominated routes, in the order asked for, and what they dominate."""
    asked = Inquiry(lib, question)
    keys = question.front
    found = asked.front(keys)
    members = list(found.routes)
    if question.order == "cost":
        charge = asked.charge("cost")
        members.sort(key=lambda m: asked.total_cost(m.steps, charge))
    shown = members[: question.top]
    routes = _routes(asked, [StepSet(m.steps, m.cost, found.complete) for m in shown], keys)
    beaten = []
    for member in found.beaten:
        by = next(
            (i for i, m in enumerate(shown) if front.dominates(m.vector, member.vector)), None
        )
        if by is not None:
            pairs = zip(keys, shown[by].vector, member.vector, strict=True)
            verdict = Dominated(by + 1, tuple(k for k, a, b in pairs if a < b))
            beaten.append(Beaten(real_steps(member.steps), asked.assess(member.steps), verdict))
        if len(beaten) == BEATEN_SHOWN:
            break
    why = None if routes else _why_none(asked)
    return Answer(
        question, lib.substances[question.target], lib, routes, found.ending, 0.0, found.seconds,
        _lost(asked, {frozenset(r.ids) for r in routes}), asked.narrowed.aside,
        (*question.shelf.notes, *asked.narrowed.notes), why,
        Fronted(keys, len(members), len(found.beaten), tuple(beaten), found.complete, found.below,
                found.cut),
    )  # fmt: skip


def grams_used(lib: Library, found: Assessment, material: str) -> float:
    """Grams, as weighed, of what a route draws of a material, or of a substance in any form."""
    return sum(
        d.as_weighed_g for d in found.amounts.draws if steering.covers(lib, material, d.supply)
    )


def _answer(lib: Library, question: Question, use_up: str | None = None) -> Answer:
    asked = Inquiry(lib, question)
    wide = question.top if use_up is None else max(question.top, USE_UP_AMONG)
    found = asked.search(asked.packed, wide, fold=use_up is None)
    sets, ending = found.routes, found.ending
    if use_up is not None:
        assessed = [asked.assess(r.steps) for r in sets]
        # what is merely wasteful of it does not come first
        rows = zip(dominated(assessed), assessed, sets, strict=True)
        ranked = sorted(
            rows, key=lambda row: (row[0] is not None, -grams_used(lib, row[1], use_up))
        )
        sets = tuple(row[2] for row in ranked)[: question.top]
        if len(sets) < len(found.routes) and ending is Ending.ALL:
            ending = Ending.PROVEN
    routes = _routes(asked, sets)
    lost = (*_impure(asked), *_lost(asked, {frozenset(r.ids) for r in routes}))
    why = None if routes else _why_none(asked)
    return Answer(
        question,
        lib.substances[question.target],
        asked.lib,
        routes,
        ending,
        found.gap,
        found.seconds,
        lost,
        asked.narrowed.aside,
        (*question.shelf.notes, *asked.narrowed.notes),
        why,
    )


def _impure(asked: Inquiry) -> list[Lost]:
    """Routes that come out below the purity asked for, together by the step they end in."""
    least = asked.question.limits.purity or 0.0
    by_last: dict[str, list[Assessment]] = {}
    for found in asked.impure.values():
        by_last.setdefault(found.amounts.last, []).append(found)
    out = []
    for last, routes in by_last.items():
        shares = sorted(r.purity.share for r in routes)
        low, high = digits.percent(shares[0]), digits.percent(shares[-1])
        how = f"about {low}" if low == high else f"{low[:-2]} to {high}"
        reason = (
            f"{digits.count(len(routes), 'route')} through it would come out at {how}, below the "
            f"{digits.percent(least)} asked for"
        )
        best = max(routes, key=lambda r: r.purity.share)
        out.append(Lost(best.ids, (narrowing.SetAside(last, "purity", reason),)))
    return out


def _routes(
    asked: Inquiry, found: Sequence[StepSet], keys: Sequence[str] = COMPARED
) -> tuple[Route, ...]:
    assessed = [asked.assess(r.steps) for r in found]
    names = [route_name(asked.lib, a) for a in assessed]
    for i, name in enumerate(list(names)):
        if names.count(name) > 1:  # the same things another way: say which
            others = [a for a in assessed if a.ids != assessed[i].ids]
            names[i] = f"{name} ({_way(assessed[i], others)})"
    leads = [None if i is None else i + 1 for i in variety.leaders(asked.lib, assessed)]
    rows = zip(names, found, assessed, dominated(assessed, keys), leads, strict=True)
    return tuple(
        Route(i, name, r.cost, r.proven, a, a.library, verdict, leader)
        for i, (name, r, a, verdict, leader) in enumerate(rows, start=1)
    )


def _way(route: Assessment, others: Sequence[Assessment]) -> str:
    """The title of the step that the fewest other routes share."""
    rarest = min(route.steps, key=lambda s: sum(s.id in o.ids for o in others))
    return rarest.title[0].lower() + rarest.title[1:]


def _lost(asked: Inquiry, kept: set[frozenset[str]]) -> tuple[Lost, ...]:
    """Routes among the best without step limits that the limits set aside."""
    if not asked.narrowed.aside:
        return ()
    packed = asked.pack(asked.lib.steps.values(), asked.narrowed.withheld)
    found = best.search(
        packed.network, packed.at_hand, packed.target, max(25, asked.question.top),
        seconds=min(2.0, asked.question.seconds),
    )  # fmt: skip
    out = []
    for route in found.routes:
        ids = real_steps(route.steps)
        if frozenset(ids) in kept:
            continue
        reasons = tuple(a for a in asked.narrowed.aside if a.step in ids)
        if reasons:
            out.append(Lost(ids, reasons))
    return tuple(out)


def _why_none(asked: Inquiry) -> NoRoute:
    """Say what stands in the way, nearest first."""
    lib, question = asked.lib, asked.question
    name = lib.name(question.target)
    allowed = asked.pack(asked.narrowed.steps)
    everything = asked.pack(lib.steps.values(), asked.narrowed.withheld)
    _refuse_closed_circle(lib)
    if everything.network.number(everything.target) is None:
        return NoRoute((), (), (), f"No step in the library makes {name}.")
    free = asked.search(allowed, 1) if allowed.network.number(allowed.target) is not None else None
    if asked.impure:
        purest = max(r.purity.share for r in asked.impure.values())
        return NoRoute(
            (), (), (),
            f"Of {digits.count(len(asked.impure), 'route')} looked at none comes out as pure as "
            f"that; the purest has about {digits.percent(purest)}.",
        )  # fmt: skip
    if free is not None and free.ending is Ending.STOPPED:
        return NoRoute(
            (), (), (), "The search was stopped before it found a route; give it longer."
        )
    unlimited = best.search(
        everything.network, everything.at_hand, everything.target, 1, seconds=question.seconds
    )
    if unlimited.routes:
        ids = real_steps(unlimited.routes[0].steps)
        reasons = tuple(a for a in asked.narrowed.aside if a.step in ids)
        if reasons:
            return NoRoute(
                (), ids, reasons,
                "There are routes from this shelf, but the limits set steps of all of them aside.",
            )  # fmt: skip
        return NoRoute(
            (), ids, (),
            "There are routes from this shelf, but none within the limits on whole routes "
            "(--max-steps, --max-time, --budget, --from, --prefer, --max-hazard with amounts).",
        )  # fmt: skip
    prices = _acquisition_prices(asked, everything)
    near = explain.nearest(
        explain.plain_steps(everything.network), everything.at_hand, everything.target, prices
    )
    if near is None:
        return NoRoute((), (), (), f"No step in the library leads to {name}.")
    lacking = tuple(_node_words(lib, node) for node in near.lacking)
    reasons = tuple(a for a in asked.narrowed.aside if a.step in near.steps)
    return NoRoute(
        lacking, real_steps(near.steps), reasons,
        f"{name} cannot be made from this shelf. Nearest: a route that lacks "
        f"{listed(lacking, none='nothing')}.",
    )  # fmt: skip


def _refuse_closed_circle(lib: Library) -> None:
    """Refuse a library in which no step could run though every material were bought."""
    wanted = {s.id: needs.needs(lib, s) for s in lib.steps.values()}
    index = needs.NeedIndex(lib, [n for ns in wanted.values() for n in ns])
    have = {
        n
        for material in lib.materials.values()
        for offer in needs.offers_of_supply(shelves.supply(material))
        for n in index.met_by(offer)
    }
    if wanted and not any(have.issuperset(ns) for ns in wanted.values()):
        raise InputError(
            f"no step of this library can begin: {listed(sorted(wanted)[:4])} only feed one "
            "another in a circle, or take what no material holds; add a material that a step can "
            "start from"
        )


def _acquisition_prices(asked: Inquiry, packed: Packed) -> dict[str, float]:
    """What can be bought is nearer than what cannot."""
    out: dict[str, float] = {}
    lib = asked.lib
    wanted = [n for s in lib.steps.values() for n in needs.needs(lib, s)]
    index = needs.NeedIndex(lib, wanted)
    for material in lib.materials.values():
        for offer in needs.offers_of_supply(shelves.supply(material)):
            for need in index.met_by(offer):
                out[node_name(need)] = 50.0
    return out


def _node_words(lib: Library, node: str) -> str:
    kind, name, strength = node.split("|")
    return needs.in_words(lib, (kind, name, float(strength)))
