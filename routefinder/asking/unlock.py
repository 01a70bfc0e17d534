"""From a question to what one purchase, or the smallest set of purchases, would open."""

from __future__ import annotations

import time
from collections.abc import Hashable
from dataclasses import replace
from typing import Any

from routefinder.asking import answering
from routefinder.asking.inquiry import Inquiry
from routefinder.asking.lacking import Lacking
from routefinder.assessment.assess import assess
from routefinder.assessment.measure import MEASURES
from routefinder.assessment.shopping import cover, packs_of
from routefinder.choice import limits as whole
from routefinder.choice import order as orders
from routefinder.graph import acquire, prices
from routefinder.graph.acquire import Change
from routefinder.graph.network import FREE
from routefinder.library import regulated
from routefinder.library.library import Library
from routefinder.records.question import Question
from routefinder.results.answer import Route, route_name
from routefinder.results.change_words import change_words
from routefinder.results.unlocked import MOST, Opening, Piece, Unlocked
from routefinder.search import best, priced
from routefinder.search import smallest_sets as search
from routefinder.search.route import Found

INF = float("inf")
AMONG = 25  # of the best routes without a limit on whole routes, those looked through


def unlocked(lib: Library, question: Question, most: int = MOST) -> Unlocked:
    """The same for a question already asked."""
    regulated.refuse_library(lib)
    regulated.refuse(lib.substances[question.target], "target", lib)
    if question.use_up is not None:  # what is opened has to use it
        limits = question.limits
        limits = replace(limits, use=(*limits.use, question.use_up))
        question = replace(question, limits=limits, use_up=None)
    return _Unlocking(lib, question).run(most)


class _Unlocking(Lacking):
    """One question on its way."""

    def __init__(self, lib: Library, question: Question) -> None:
        super().__init__(Inquiry(lib, question))
        self.started = time.monotonic()

    def left(self) -> float:
        return max(1e-3, self.question.seconds - (time.monotonic() - self.started))

    def run(self, most: int) -> Unlocked:
        found = self.by_price(most) if self.question.order == "cost" else self.plain(most)
        today = self.today(found)
        openings: list[Opening] = []
        for size in found.levels:
            mine = [o for o in found.opened if len(o.acquired) == size]
            mine = [o for o in mine if size]
            listed = 0
            steps_listed: set[Hashable] = set()
            for each in mine:
                key = self.route_of(each)
                if key in steps_listed or listed == self.question.top:
                    continue  # the same route by other means, which stand under "or"
                steps_listed.add(key)
                listed += 1
                openings.append(self.opening(len(openings) + 1, each, today))
        wider = self.wider(found.now, today, len(openings))
        return Unlocked(
            self.question, self.lib, today, tuple(openings), wider, found.levels,
            time.monotonic() - self.started,
            (*self.question.shelf.notes, *self.asked.narrowed.notes), most,
        )  # fmt: skip

    # --- searching ---

    def plain(self, most: int) -> search.Openings:
        """The search by a sum over steps."""
        return self.smallest(most, self.question.top, self.left())

    def by_price(self, most: int) -> search.Openings:
        """The search by the cost of materials at the asked amount."""
        q, market = self.question, self.market
        charge = self.asked.charge("cost")
        every = list(self.lib.steps.values())
        turns = {t[0]: t for t in prices.turns(self.lib, every, self.asked.goal, charge)}
        at_hand = [s for s in self.asked.supplies if not s.in_shop]
        shelf, _ = prices.shelf_prices(self.lib, at_hand, every, 0.0)
        shelf.pop(market.target, None)
        shelf = {n: p for n, p in shelf.items() if n in set(market.at_hand)}
        errand = orders.ERRANDS["cost"]
        steps = []
        for step in market.steps:
            if step.id in market.of:
                _, takes, gives, cost = turns[market.of[step.id]]
                extra = tuple((n, 1.0) for n in sorted(market.lacks[step.id]))
                steps.append(priced.PricedStep(step.id, (*takes, *extra), gives, cost))
            elif step.id.startswith(acquire.WITHOUT):
                served = tuple((1.0, (n,)) for n in step.products)
                steps.append(priced.PricedStep(step.id, ((FREE, 1.0),), served, step.cost))
        for supply in self.asked.supplies:
            if supply.in_shop:
                nodes = frozenset(
                    n for s in market.steps if s.id == acquire.SHOP + supply.id for n in s.products
                )
                if nodes:
                    steps.append(self.purchase(acquire.SHOP + supply.id, supply, nodes, (),
                                               errand, shelf))  # fmt: skip
        buying: dict[str, priced.PricedStep] = {}
        for a in market.acquisitions:
            each = search.trifle(a.gives)
            if a.supplies:
                buying[a.id] = self.purchase(a.id, a.supplies[0], a.gives, a.takes, each, shelf)
            else:
                served = tuple((1.0, (n,)) for n in sorted(a.gives))
                buying[a.id] = priced.PricedStep(a.id, ((FREE, 1.0),), served, each)
        moles = q.amount_g / self.lib.substances[q.target].molar_mass_g
        accept = self.accept()

        def true_cost(ids: tuple[str, ...]) -> float:
            bought = [s for i in ids if i in self.acquisitions
                      for s in self.acquisitions[i].supplies[:1]]  # fmt: skip
            own = [self.lib.steps[i] for i in self.real(ids)]
            found = assess(
                self.lib, own, (*self.asked.supplies, *bought), q.target, q.amount_g, None,
                self.asked.narrowed.strengths,
            )  # fmt: skip
            trifles = sum(buying[i].cost for i in ids if i in buying)
            errands = errand * sum(i.startswith(acquire.SHOP) for i in ids)
            return (found.cost.typical or 0.0) + sum(map(charge, own)) + trifles + errands

        def solve(left_out: frozenset[str], limit: int | None, each: float, bar: float) -> Found:
            ones = dict.fromkeys(buying, 1.0)
            chosen = [s for name, s in buying.items() if name not in left_out]
            return priced.cheapest_routes(
                [*steps, *chosen], shelf, market.target, moles, 1, true_cost, seconds=self.left(),
                caps=[*self.caps(), *([] if limit is None else [best.Cap(ones, limit)])],
                accept=accept,
            )  # fmt: skip

        nodes_of = {a.id: a.gives for a in market.acquisitions}
        needed = {a.id: a.takes for a in market.acquisitions if a.takes}
        few = self.plain_fewest(most)
        return search.levels(
            solve, nodes_of, needed, most=most, k=q.top, fewest=few, same=self.route_of,
            left=lambda: self.question.seconds - (time.monotonic() - self.started),
        )  # fmt: skip

    def plain_fewest(self, most: int) -> int:
        """How many acquisitions a route takes at the least, money apart."""
        found = search.unlock(
            self.market.steps, self.market.at_hand, self.market.target,
            {a.id: a.gives for a in self.market.acquisitions}, most=most, k=1, seconds=self.left(),
            caps=self.caps(), accept=self.accept(),
            takes={a.id: a.takes for a in self.market.acquisitions if a.takes},
        )  # fmt: skip
        return min((len(o.acquired) for o in found.opened), default=most + 1)

    def purchase(
        self, name: str, supply: Any, nodes: frozenset[str], takes: tuple[str, ...], cost: float,
        shelf: dict[str, float],
    ) -> priced.PricedStep:  # fmt: skip
        """A purchase by the gram: what it gives of each substance offered, in moles."""
        from_shop = f"market|{supply.id}"
        shelf[from_shop] = supply.price_per_g or 0.0
        gives = []
        known: set[str] = set()
        for substance in supply.offered:
            roots = {substance, self.lib.root(substance)}
            served = tuple(sorted(n for n in nodes if n.split("|")[1] in roots))
            moles = supply.fractions[substance] / self.lib.substances[substance].molar_mass_g
            known.update(served)
            if served:
                gives.append((moles, served))
        gives += [(1.0, (n,)) for n in sorted(nodes - known)]
        return priced.PricedStep(
            name, ((from_shop, 1.0), *((t, 1.0) for t in takes)), tuple(gives), cost
        )

    # --- telling ---

    def today(self, found: search.Openings) -> Route | None:
        if found.now == INF:
            return None
        answer = answering.answer(self.lib, replace(self.question, top=1))
        return answer.routes[0] if answer.routes else None

    def opening(self, number: int, opened: search.Opened, today: Route | None) -> Opening:
        after = self.after(opened.acquired)
        found = after.assess(self.real(opened.steps))
        name = route_name(self.lib, found)
        route = Route(number, name, opened.cost, True, found, found.library)
        pieces = tuple(self.piece(a, opened, route) for a in opened.acquired)
        return Opening(number, pieces, route, opened.cost, _gains(route, today))

    def piece(self, acquired: str, opened: search.Opened, route: Route) -> Piece:
        mine = self.acquisitions[acquired]
        same, does = self.or_else(acquired, opened)
        grams = money = packs = None
        currency = self.question.shelf.purse.currency
        if mine.supplies:
            supply = mine.supplies[0]
            draws = [d for d in route.assessment.amounts.draws if d.supply.id == supply.id]
            grams = sum(d.as_weighed_g for d in draws)
            if supply.price_per_g is not None:
                money = grams * supply.price_per_g
            elif supply.elsewhere is not None:
                money, currency = grams * supply.elsewhere[0], supply.elsewhere[1]
            sizes = packs_of(self.lib, supply)
            packs = cover(grams, sizes) if sizes and grams else None
        return Piece(
            mine.kind, self.names(mine)[0], does, same, grams, money, packs,
            mine.change, currency,
        )  # fmt: skip

    def wider(self, now: float, today: Route | None, count: int) -> tuple[Opening, ...]:
        """Limits on whole routes, each moved alone as little as opens a better route."""
        limits = self.question.limits
        out: list[Opening] = []
        for limit in whole.ROUTE_LIMITS:
            figure = getattr(limits, limit.name)
            if figure is None or limit.at_least:
                continue
            dropped: dict[str, Any] = {limit.name: None}
            free = replace(limits, **dropped)
            asked = Inquiry(self.lib, replace(self.question, limits=free))
            found = asked.search(asked.packed, AMONG)
            routes = []
            for each in found.routes:
                if each.cost < now - search.SAME * max(1.0, abs(now)) or now == INF:
                    a = asked.assess(each.steps)
                    routes.append((limit.value(a), each.cost, a))
            cheapest = INF
            for then, cost, a in sorted(routes, key=lambda r: r[:2]):
                if then <= figure or cost >= cheapest:
                    continue  # a longer way that is no better
                cheapest = cost
                name = limit.name.removesuffix("_min").replace("_", "-")
                change = Change(name, now=float(figure), then=then)
                number = count + len(out) + 1
                route = Route(number, route_name(self.lib, a), cost, True, a, a.library)
                piece = Piece("limit", change_words(self.lib, change), change=change)
                out.append(Opening(number, (piece,), route, cost, _gains(route, today)))
        return tuple(out)


def _gains(route: Route, today: Route | None) -> dict[str, float]:
    if today is None:
        return {}
    then, now = route.assessment.measures(), today.assessment.measures()
    out = {}
    prices = [m["cost"].at_least for m in (then, now)]
    for name in (key for key, kind in MEASURES.items() if kind.gain):
        a, b = then[name].typical, now[name].typical
        if name == "cost" and any(prices):
            continue  # a sum that lacks a price is not compared
        if a is not None and b is not None:
            out[name] = a - b
    return out
