"""From a question to its answer: the network it can use, the search, and what is said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from routefinder import digits
from routefinder.asking import states
from routefinder.asking.inquiry import Inquiry
from routefinder.asking.lacking import Lacking
from routefinder.assessment.assess import Assessment
from routefinder.assessment.measure import COMPARED
from routefinder.choice import limits as whole
from routefinder.choice import variety
from routefinder.choice.dominance import Dominated, dominated
from routefinder.errors import InputError
from routefinder.graph import narrow as narrowing
from routefinder.graph import needs
from routefinder.graph.pack import (
    Packed,
    node_name,
    real_steps,
)
from routefinder.library import regulated, steering
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.listing import listed
from routefinder.records.question import Question, State
from routefinder.results.answer import (
    Answer,
    Beaten,
    EndsAs,
    Fronted,
    Lack,
    Lost,
    Near,
    NoRoute,
    Route,
    route_name,
)
from routefinder.search import best, explain, front
from routefinder.search.route import Ending, StepSet

STRONG_ENOUGH_FOR = 0.4  # of the time, to look for the strength or purity asked for
BEATEN_SHOWN = 8
NEAREST = 3  # routes that are named where there is none
NEAREST_SECONDS = 5.0  # to look for them
USE_UP_AMONG = 25  # how many of the best routes are looked through for those that take most


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
    near = _near(asked)
    first = near[0] if near else None
    lacking = tuple(x.name for x in first.lacks) if first else ()
    if unlimited.routes:
        ids = first.steps if first else real_steps(unlimited.routes[0].steps)
        reasons = tuple(a for a in asked.narrowed.aside if a.step in ids)
        if not _left_by_steps(allowed) and (first or reasons):
            return NoRoute(
                lacking, ids, reasons,
                "There are routes from this shelf, but the limits set steps of all of them aside."
                + _nearest_words(near), near,
            )  # fmt: skip
        return NoRoute(
            (), ids, (),
            "There are routes from this shelf, but none within the limits on whole routes "
            "(--max-steps, --max-time, --budget, --from, --prefer, --max-hazard with amounts)."
            + _nearest_words(near), near,
        )  # fmt: skip
    if first is None:
        return _nowhere_near(asked, everything)
    reasons = tuple(a for a in asked.narrowed.aside if a.step in first.steps)
    return NoRoute(
        lacking, first.steps, reasons,
        f"{name} cannot be made from this shelf.{_nearest_words(near)}", near,
    )  # fmt: skip


def _left_by_steps(allowed: Packed) -> bool:
    """Whether the limits on single steps leave a route, so that one on whole routes bites."""
    if allowed.network.number(allowed.target) is None:
        return False
    return bool(best.search(allowed.network, allowed.at_hand, allowed.target, 1).routes)


def _near(asked: Inquiry) -> tuple[Near, ...]:
    """The nearest routes by what they lack: the smallest sets, of equal sets the better route."""
    lack = Lacking(asked)
    found = lack.smallest(1, NEAREST, min(NEAREST_SECONDS, asked.question.seconds))
    out: dict[tuple[str, ...], Near] = {}
    for opened in found.opened:
        steps = lack.real(opened.steps)
        lacks = []
        for acquired in opened.acquired:
            thing = lack.acquisitions[acquired]
            or_else, does = lack.or_else(acquired, opened)
            lacks.append(Lack(thing.kind, lack.names(thing)[0], or_else, does))
        out.setdefault(steps, Near(tuple(lacks), steps))
    fewest = min((len(n.lacks) for n in out.values()), default=0)
    return tuple(n for n in out.values() if len(n.lacks) == fewest)


def _nearest_words(near: Sequence[Near]) -> str:
    """Of the nearest route, how many things it lacks and which."""
    if not near:
        return ""
    names = [x.name for x in near[0].lacks]
    n = digits.count(len(names), "thing")
    return f" Nearest: a route that lacks {n}: {listed(names)}."


def _nowhere_near(asked: Inquiry, everything: Packed) -> NoRoute:
    """Where no set of things that can be had opens a route (or none was found in time)."""
    lib = asked.lib
    name = lib.name(asked.question.target)
    near = explain.nearest(
        explain.plain_steps(everything.network), everything.at_hand, everything.target,
        _acquisition_prices(asked, everything),
    )  # fmt: skip
    if near is None:
        return NoRoute((), (), (), f"No step in the library leads to {name}.")
    lacking = tuple(_node_words(lib, node) for node in near.lacking)
    reasons = tuple(a for a in asked.narrowed.aside if a.step in near.steps)
    return NoRoute(
        lacking, real_steps(near.steps), reasons,
        f"{name} cannot be made from this shelf, and nothing on sale opens a route that was found. "
        f"Nearest: a route that lacks {listed(lacking, none='nothing')}.",
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
