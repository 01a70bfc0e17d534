"""What a question lacks: shelf, bench and limits against everything, as sets of acquisitions."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import replace
from functools import cached_property

from routefinder.asking.inquiry import Inquiry
from routefinder.choice import limits as whole
from routefinder.choice import order as orders
from routefinder.graph import acquire
from routefinder.graph.acquire import Acquisition, Market
from routefinder.hazards.score import Profile
from routefinder.library.resolve import ResolvedStep
from routefinder.results.change_words import change_words
from routefinder.search import best
from routefinder.search import smallest_sets as search


class Lacking:
    """A question with its market: what could be had besides, and what a set of that opens."""

    def __init__(self, asked: Inquiry) -> None:
        self.asked = asked
        self.lib = asked.lib
        self.question = asked.question
        self.after_known: dict[tuple[str, ...], Inquiry] = {}

    @cached_property
    def cost(self) -> Callable[[ResolvedStep, Profile], float]:
        """The cost of a step under the order, at a hazard profile."""
        q = self.question
        return orders.cost_at(q.order, self.lib, q.target, q.step_cost)

    @cached_property
    def market(self) -> Market:
        return acquire.market(
            self.lib, self.question, self.asked.narrowed, self.asked.supplies, self.cost,
            orders.ERRANDS[self.question.order], self.asked.goal,
            together=self.question.order != "cost", side=self.asked.side,
            dear=self.asked.dear if self.question.order == "balanced" else None,
        )  # fmt: skip

    @cached_property
    def acquisitions(self) -> dict[str, Acquisition]:
        return {a.id: a for a in self.market.acquisitions}

    def real(self, ids: Iterable[str]) -> tuple[str, ...]:
        """The library's steps behind those of a route."""
        of = self.market.of
        return tuple(of[i] for i in ids if i in of)

    def after(self, acquired: Iterable[str]) -> Inquiry:
        """The question with the acquisitions."""
        key = tuple(sorted(acquired))
        if key not in self.after_known:
            wanted = acquire.applied(self.question, [self.acquisitions[a] for a in key])
            self.after_known[key] = Inquiry(self.lib, wanted)
        return self.after_known[key]

    def caps(self) -> list[best.Cap]:
        """The limits on whole routes that are sums over steps."""
        steps = {i: self.lib.steps[s] for i, s in self.market.of.items()}
        return whole.caps(self.question.limits, steps)

    def accept(self) -> Callable[[tuple[str, ...]], bool] | None:
        """The other limits on whole routes, judged with what is acquired."""
        if not whole.judged(self.question):
            return None

        def judge(ids: tuple[str, ...]) -> bool:
            after = self.after(i for i in ids if i in self.acquisitions)
            return after.accepts(self.real(ids))

        return judge

    def route_of(self, opened: search.Opened) -> Hashable:
        """What tells routes apart: the library's steps, or with ``different`` the way."""
        steps = self.real(opened.steps)
        return self.after(opened.acquired).way(steps) if self.question.different else (
            frozenset(steps))  # fmt: skip

    def used(self, acquired: str, opened: search.Opened) -> frozenset[str]:
        """The nodes that a route needs of one acquisition and of no other."""
        by_id = {s.id: s for s in self.market.steps}
        mine = [by_id[i] for i in opened.steps]
        made = {n for s in mine for n in s.products} | set(self.market.at_hand)
        needed = {n for s in mine for n in s.reactants} - made
        needed |= {t for a in opened.acquired for t in self.acquisitions[a].takes}
        others = {n for a in opened.acquired if a != acquired for n in self.acquisitions[a].gives}
        return frozenset(needed & self.acquisitions[acquired].gives) - others

    def smallest(self, most: int, k: int, seconds: float) -> search.Openings:
        """The smallest sets of acquisitions that open a route, by a sum over steps."""
        return search.unlock(
            self.market.steps, self.market.at_hand, self.market.target,
            {a.id: a.gives for a in self.market.acquisitions},
            takes={a.id: a.takes for a in self.market.acquisitions if a.takes},
            most=most, k=k, seconds=seconds, caps=self.caps(), accept=self.accept(),
            same=self.route_of,
        )  # fmt: skip

    def or_else(
        self, acquired: str, opened: search.Opened
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What would serve a route as well as one acquisition, and what equipment is for."""
        used = self.used(acquired, opened)
        takes = {t for a in opened.acquired for t in self.acquisitions[a].takes}
        same = [*self.names(self.acquisitions[acquired])[1:]]
        for other in self.market.acquisitions:
            if other.id in opened.acquired or not used <= other.gives:
                continue
            if set(other.takes) <= takes and not self.covered(other, used):
                same += self.names(other)
        does = tuple(n.split("|", 2)[2] for n in sorted(used) if n.startswith("can|"))
        return tuple(dict.fromkeys(same)), does

    def covered(self, other: Acquisition, used: frozenset[str]) -> bool:
        """Whether a smaller move of the same limit serves as well."""
        if other.change is None:
            return False
        group = replace(other.change, then=None)
        return any(
            a.change is not None
            and replace(a.change, then=None) == group
            and used <= a.gives < other.gives
            for a in self.market.acquisitions
        )

    def names(self, acquisition: Acquisition) -> list[str]:
        if acquisition.change is not None:
            return [change_words(self.lib, acquisition.change)]
        return [s.name for s in acquisition.supplies] + [t.name for t in acquisition.tools]
