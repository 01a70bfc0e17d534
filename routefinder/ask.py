"""The Python API: wires the stages, decides nothing.

import routefinder as rf
answer = rf.find("copper(II) acetate monohydrate", "250 g", shelf="shelf.csv")
answer.routes[0]            # shows itself in a notebook
answer.routes[0].diagram("route.svg")
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder import units
from routefinder.assessment.assess import Assessment, assess
from routefinder.choice import bounds, measures, variety
from routefinder.choice import order as orders
from routefinder.choice import prefer as preferring
from routefinder.choice.dominance import COMPARED, Dominated, dominated
from routefinder.errors import InputError, NameNotFound
from routefinder.graph import narrow as narrowing
from routefinder.graph import needs, prices
from routefinder.graph.pack import Packed, node_name, pack, real_steps
from routefinder.hazards import vessels
from routefinder.hazards.score import ASPECTS
from routefinder.library import cache, regulated
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.records.question import ORDERS, STEP_COST, Limits, Question
from routefinder.records.shelf import Bench, Shelf
from routefinder.records.substance import Substance
from routefinder.search import best, explain, front, priced
from routefinder.search.route import Ending, Found, StepSet

if TYPE_CHECKING:
    from routefinder.assessment.exposure import Exposure, Room
    from routefinder.assessment.leavings import Handling
    from routefinder.assessment.reuse import Reuse
    from routefinder.worksheet.plan import Plan


@dataclass(frozen=True)
class Route:
    """One route found: its place in the order, its cost under that order, and its assessment.

    ``name`` says in a few words what it starts from and what it goes through.
    """

    number: int
    name: str
    cost: float
    proven: bool
    assessment: Assessment
    library: Library
    dominated: Dominated | None = None
    variant_of: int | None = None

    @property
    def ids(self) -> tuple[str, ...]:
        """Step ids in a workable order."""
        return self.assessment.ids

    def exposure(self, room: Room | None = None) -> dict[str, list[Exposure]]:
        """Step id -> what the step puts into the air of a room (30 m3, one change an hour)."""
        from routefinder.assessment.exposure import exposure

        return {a.step.id: exposure(self.library, a, room) for a in self.assessment.amounts.steps}

    def leavings(self) -> tuple[Handling, ...]:
        """What the route leaves over, by kind, with the usual handling: local rules decide."""
        from routefinder.assessment.leavings import leavings

        return leavings(self.library, self.assessment.amounts.steps)

    @cached_property
    def reuse(self) -> Reuse:
        """What feeding its by-products back saves."""
        from routefinder.assessment.reuse import reuse

        return reuse(self.library, self.assessment.amounts)

    def dot(self, reuse: bool = False) -> str:
        """The route as Graphviz DOT source; with ``reuse`` what is fed back returns in arrows."""
        from routefinder.view import route_diagram

        back = self.reuse.fed_back if reuse else ()
        return route_diagram.route_dot(self.library, self.assessment, self.number, back)

    def diagram(self, path: str | Path, reuse: bool = False) -> Path:
        """Draw the route to ``path`` (.svg, .png or .dot)."""
        from routefinder.view import diagram

        return diagram.write(self.dot(reuse), Path(path))

    def _repr_svg_(self) -> str:
        from routefinder.view import diagram

        return diagram.render(self.dot(), "svg").decode()


@dataclass(frozen=True)
class Lost:
    """A route that exists but breaks limits, with the steps and reasons."""

    steps: tuple[str, ...]
    reasons: tuple[narrowing.SetAside, ...]


@dataclass(frozen=True)
class NoRoute:
    """Why there is no route within the limits: what is lacking, and which steps are set aside."""

    lacking: tuple[str, ...]
    nearest: tuple[str, ...]
    aside: tuple[narrowing.SetAside, ...]
    sentence: str


@dataclass(frozen=True)
class Beaten:
    """A route that was looked at and is dominated."""

    steps: tuple[str, ...]
    assessment: Assessment
    dominated: Dominated


@dataclass(frozen=True)
class Fronted:
    """What is known of the non-dominated set when it was asked for.

    ``size`` routes are in it (``Answer.routes`` may list fewer), ``beaten`` were looked at and are
    dominated; ``examples`` are some of them. When not ``complete`` it is so among the routes whose
    cost in the search's order is below ``below``.
    """

    keys: tuple[str, ...]
    size: int
    beaten: int
    examples: tuple[Beaten, ...]
    complete: bool
    below: float
    cut: int = 0


@dataclass(frozen=True)
class Answer:
    """What ``find`` gives back."""

    question: Question
    target: Substance
    library: Library
    routes: tuple[Route, ...]
    ending: Ending
    gap: float
    seconds: float
    lost: tuple[Lost, ...]
    aside: tuple[narrowing.SetAside, ...]
    notes: tuple[str, ...]
    why_none: NoRoute | None = None
    front: Fronted | None = None

    def dot(self) -> str:
        """All routes over one another as Graphviz DOT source."""
        from routefinder.view import overview

        return overview.overview_dot(
            self.library, self.target, [(r.number, r.assessment) for r in self.routes]
        )

    def diagram(self, path: str | Path) -> Path:
        """Draw all routes over one another to ``path`` (.svg, .png or .dot)."""
        from routefinder.view import diagram

        return diagram.write(self.dot(), Path(path))

    def plan(self, number: int = 1, **terms: Any) -> Plan:
        """The plan of one route; ``terms`` as in ``worksheet.terms.read`` (all optional).

        Raises InputError for a number that no route has, and for terms that cannot be used.
        """
        if not 1 <= number <= len(self.routes):
            raise InputError(f"there is no route {number}; {len(self.routes)} were found")
        route = self.routes[number - 1]
        from routefinder.worksheet.plan import make as make_plan
        from routefinder.worksheet.terms import read as read_terms

        return make_plan(
            self.library, self.question, route.assessment, number, route.name, read_terms(**terms)
        )

    def write_plan(self, plan: Plan, path: str | Path, force: bool = False) -> Path:
        """Write a plan of this answer to ``path`` (.html, .pdf, .md, .csv or .json)."""
        from routefinder.view import plan_files

        return plan_files.write(plan, self, Path(path), force)

    def json(self) -> dict[str, Any]:
        """The answer as plain data (see view/routes.schema.json)."""
        from routefinder.view import as_json

        return as_json.answer(self)

    def _repr_html_(self) -> str:
        from routefinder.view import text

        return text.answer_html(self)


SEED_ORDERS = ("yield", "time", "hazard", "steps", "cost")
SEEDS = 3  # best routes of each of these orders, to begin a front with
BEATEN_SHOWN = 8
USE_UP_AMONG = 25  # how many of the best routes are looked through for those that take most


def route_name(library: Library, found: Assessment) -> str:
    """ "blue vitriol, soda ash → basic copper carbonate → copper acetate solution"."""
    starts = [d.supply.name for d in found.amounts.draws if d.reactant and not d.supply.everywhere]
    through = []
    for amount in found.amounts.steps[:-1]:
        name = re.sub(",? anhydrous$", "", library.name(amount.step.main.substance))
        if amount.step.main.state == "aq":
            name += " solution"
        if amount.step.record.kind == "electrolysis":
            name += " by electrolysis"
        if name not in through:
            through.append(name)
    return " → ".join([" + ".join(starts) or "water and air", *through])


def load_library(folders: Sequence[str | Path] = (), only: bool = False) -> Library:
    """The shipped library (unless ``only``) with further library folders on top."""
    return cache.load_cached([Path(f) for f in folders], only, vessels.prepare)


def find(
    target: str,
    amount: Any = "100 g",
    *,
    shelf: str | Path | Shelf | Sequence[str] | None = None,
    bench: str | Path | Bench | None = None,
    libraries: Sequence[str | Path] = (),
    only_library: bool = False,
    by: str = "balanced",
    top: int = 10,
    max_temperature: Any = None,
    avoid: Sequence[str] = (),
    use: Sequence[str] = (),
    use_up: str | None = None,
    max_hazard: Mapping[str, int] | None = None,
    max_steps: int | None = None,
    max_time: Any = None,
    budget: float | None = None,
    no_licence: bool = False,
    step_cost: float = STEP_COST,
    different: bool = False,
    reuse: bool = False,
    non_dominated: str | None = None,
    may_lack: int = 0,
    prefer: str | None = None,
    seconds: float = 10.0,
    journal: str | Path | None = None,
) -> Answer:
    """Find the best routes from a shelf to ``amount`` of ``target``.

    ``target`` is a name, trade name, formula or CAS number. ``shelf`` is a file, a list of material
    names, or None (everything in the library can be bought); ``bench`` a file or None (needs are
    listed, nothing is set aside). Limits as in the command line; ``no_licence`` sets aside what
    needs a licensed material, ``use_up`` names a material on the shelf, and the routes that take
    most of it come first. ``non_dominated`` names measures ("yield, cost, time"): the routes that
    no other dominates in these are wanted. ``may_lack``: needs the bench may leave unmet, counted
    over a route. ``prefer`` are wishes (``choice.prefer``), whose must-haves are limits. Raises
    InputError (or one of its children) with one sentence when the
    question cannot be used, Refused for what routefinder does not plan for.
    """
    lib = load_library(libraries, only_library)
    own: dict[str, str] = {}
    if journal is not None:
        lib, own = with_own_yields(lib, journal)
    question = ask(
        lib, target, amount, shelf=shelf, bench=bench, by=by, top=top,
        max_temperature=max_temperature, avoid=avoid, use=use, use_up=use_up, max_hazard=max_hazard,
        max_steps=max_steps, max_time=max_time, budget=budget, step_cost=step_cost,
        different=different, reuse=reuse, no_licence=no_licence,
        non_dominated=non_dominated, may_lack=may_lack, prefer=prefer,
        seconds=seconds,
    )  # fmt: skip
    found = answer(lib, question)
    used = {step for route in found.routes for step in route.ids}
    notes = [words for step, words in own.items() if step in used]
    return replace(found, notes=(*found.notes, *notes)) if notes else found


def with_own_yields(lib: Library, journal: str | Path) -> tuple[Library, dict[str, str]]:
    """The library with the yields that the journal's runs taught, and a note a step.

    Raises JournalFault when the journal cannot be read.
    """
    from routefinder.journal.learn import learn
    from routefinder.journal.learn import with_own_yields as taught
    from routefinder.journal.results import results
    from routefinder.journal.store import Store
    from routefinder.view import digits

    with Store(journal, create=False) as store:
        learned = learn(lib, results(store, lib))
    notes = {}
    for name, one in learned.items():
        words = []
        if one.results:
            n = len(one.results)
            words.append(
                f"the yield counts as {digits.percent(one.after.typical)} instead of "
                f"{digits.percent(one.before.typical)}, "
                f"by {n} run{'s' if n > 1 else ''} of yours (--no-my-yields leaves them out)"
            )
        if one.failures:
            words.append(f"it failed {one.failures} times in your runs")
        if words:
            notes[name] = f"{lib.steps[name].title}: {'; '.join(words)}"
    return taught(lib, learned), notes


def ask(
    lib: Library,
    target: str,
    amount: Any,
    *,
    shelf: str | Path | Shelf | Sequence[str] | None = None,
    bench: str | Path | Bench | None = None,
    by: str = "balanced",
    top: int = 10,
    max_temperature: Any = None,
    avoid: Sequence[str] = (),
    use: Sequence[str] = (),
    use_up: str | None = None,
    max_hazard: Mapping[str, int] | None = None,
    max_steps: int | None = None,
    max_time: Any = None,
    budget: float | None = None,
    no_licence: bool = False,
    step_cost: float = STEP_COST,
    different: bool = False,
    reuse: bool = False,
    non_dominated: str | None = None,
    may_lack: int = 0,
    prefer: str | None = None,
    seconds: float = 10.0,
) -> Question:
    """Turn what the user wrote into a question.

    Raises InputError for anything unusable, Refused for what routefinder does not plan for.
    """
    judged = regulated.refuse(target, "target", lib)
    for name in (*use, *([use_up] if use_up is not None else ())):
        regulated.refuse(name, "taken", lib)
    try:
        substance = lib.substance(target)
    except NameNotFound:
        regulated.refuse_doubt(judged)
        raise
    regulated.refuse(substance, "target", lib)
    grams = _amount(amount, substance)
    if by not in ORDERS:
        raise InputError(f"unknown order {by!r}; choose one of {', '.join(ORDERS)}")
    if top < 1:
        raise InputError(f"--top is {top}; ask for at least one route")
    if max_steps is not None and max_steps < 1:
        raise InputError(f"--max-steps is {max_steps}; a route has at least one step")
    if budget is not None and not budget >= 0:
        raise InputError(f"--budget is {budget}; give an amount of money from 0 up")
    if not 0 <= step_cost < float("inf"):
        raise InputError(f"--step-cost is {step_cost}; give an amount of money from 0 up")
    if may_lack < 0:
        raise InputError(f"--may-lack is {may_lack}; give a number from 0 up")
    if non_dominated is not None and (use_up is not None or different):
        rival = "--use-up" if use_up is not None else "--different"
        raise InputError(f"--non-dominated and {rival} are two different wishes; drop one")
    if not seconds > 0:
        raise InputError(f"--seconds is {seconds}; give a time above 0")
    max_t = None if max_temperature is None else units.canonical(max_temperature, "temperature")
    minutes = None if max_time is None else units.canonical(max_time, "time")
    if minutes is not None and minutes <= 0:
        raise InputError("--max-time must be above 0")
    hazards = []
    for aspect, points in (max_hazard or {}).items():
        if aspect != "any" and aspect not in ASPECTS:
            raise InputError(
                f"unknown hazard aspect {aspect!r}; the aspects are {', '.join(ASPECTS)} (or 'any')"
            )
        if not 0 <= points <= 4:
            raise InputError(f"the hazard limit {points} for {aspect!r} must lie between 0 and 4")
        hazards.append((aspect, points))
    avoided = tuple(_avoidable(lib, name) for name in avoid)
    shunned = {lib.root(a) for a in avoided if a in lib.substances}
    wanted = tuple(lib.substance(name).id for name in use)
    for name in wanted:
        if lib.root(name) in shunned:
            raise InputError(f"{lib.name(name)} stands under both --from and --avoid; drop one")
    if substance.id in avoided:
        raise InputError(f"{substance.name} is both the target and under --avoid; drop one")
    found_shelf = _shelf(lib, shelf)
    finish = None if use_up is None else lib.substance(use_up).id
    if finish is not None and lib.root(finish) in shunned:
        raise InputError(f"{lib.name(finish)} stands under both --use-up and --avoid; drop one")
    named = [("--from", name) for name in wanted]
    if finish is not None:
        named.append(("--use-up", finish))
    for option, name in named:
        if not any(lib.root(name) in {lib.root(s) for s in supply.offered}
                   for supply in found_shelf.supplies):  # fmt: skip
            raise InputError(
                f"{option} {lib.name(name)}: it is not on the shelf ({found_shelf.name})"
            )
    found_bench = shelves.read_bench(Path(bench), lib) if isinstance(bench, str | Path) else bench
    wishes = () if prefer is None else preferring.read(prefer)
    musts = tuple((w.key, w.limit) for w in wishes if w.limit is not None)
    limits = Limits(
        max_t, avoided, wanted, tuple(hazards), max_steps, minutes, budget, no_licence, musts
    )
    return Question(
        substance.id, grams, found_shelf, found_bench, limits, by, top, step_cost, different, reuse,
        seconds, finish,
        front=() if non_dominated is None else measures.read_names(non_dominated),
        may_lack=may_lack, prefer=prefer,
    )  # fmt: skip


def _amount(amount: Any, substance: Substance) -> float:
    if isinstance(amount, str):
        number, kind = units.read_any(amount, ("mass", "amount"))
    else:
        try:
            number, kind = units.canonical(amount, "mass"), "mass"
        except InputError:
            number, kind = units.canonical(amount, "amount"), "amount"
    if kind == "amount":
        if substance.formula is None:
            raise InputError(f"{substance.name} has no formula; give the amount in grams")
        number *= substance.molar_mass_g
    if not number > 0:
        raise InputError(f"the amount {amount!r} must be above 0; write for example '250 g'")
    return number


def _avoidable(lib: Library, name: str) -> str:
    return name if name in lib.steps else lib.substance(name).id


def _shelf(lib: Library, shelf: str | Path | Shelf | Sequence[str] | None) -> Shelf:
    if shelf is None:
        return shelves.shops(lib)
    if isinstance(shelf, Shelf):
        return shelf
    if isinstance(shelf, str | Path):
        return shelves.read_shelf(Path(shelf), lib)
    for name in shelf:
        regulated.refuse(name, "taken", lib)
    named = tuple(shelves.supply(lib.material(name)) for name in shelf)
    return Shelf((*named, *shelves.everywhere(lib)), "the materials named")


@dataclass(frozen=True)
class NetworkAnswer:
    """What ``find_in_network`` gives back."""

    source: str
    target: str
    shelf: tuple[str, ...]
    found: Found
    nearest: explain.Nearest | None
    refused: tuple[regulated.NetworkRefusal, ...] = ()

    def json(self) -> dict[str, Any]:
        """The answer as plain data."""
        return {
            "schema": "routefinder/network-routes/1",
            "network": self.source,
            "target": self.target,
            "shelf": list(self.shelf),
            "ending": str(self.found.ending),
            "gap": self.found.gap,
            "routes": [
                {"steps": list(r.steps), "cost": r.cost, "proven": r.proven}
                for r in self.found.routes
            ],
            "lacking": list(self.nearest.lacking) if self.nearest else [],
            "refused_steps": [
                {"step": r.step, "name": r.node, "list": r.hit.title} for r in self.refused
            ],
        }


def find_in_network(
    path: str | Path,
    target: str,
    shelf: Sequence[str] = (),
    *,
    top: int = 10,
    seconds: float = 10.0,
) -> NetworkAnswer:
    """The best routes in a plain network file (``graph.network_file``) by the sum of step costs.

    Steps that take or make what routefinder refuses are left out and named in the answer. Raises
    InputError for a bad file or a target or shelf name that the network does not have, Refused for
    a refused one.
    """
    from difflib import get_close_matches

    from routefinder.graph.network_file import read_network

    regulated.refuse(target, "target")
    steps, own = read_network(Path(path))
    for name in (*own, *shelf):
        regulated.refuse(name, "taken")
    names = dict.fromkeys(n for s in steps for n in (*s.reactants, *s.products))
    for name in (target, *shelf):
        if name not in names:
            near = get_close_matches(name, names, n=3)
            hint = f"; the closest names are {', '.join(near)}" if near else ""
            raise InputError(f"{name!r} stands in no step of {path}{hint}")
    at_hand = tuple(dict.fromkeys((*own, *shelf)))
    if not at_hand:
        raise InputError("nothing is at hand; name what is with --have (repeat)")
    if target in at_hand:
        raise InputError(f"{target!r} is already at hand")
    refused = tuple(regulated.refused_steps((s.id, s.reactants, s.products) for s in steps))
    out = {r.step for r in refused}
    steps = [s for s in steps if s.id not in out]
    found = best.best_routes(steps, at_hand, target, top, seconds=seconds)
    near_route = None
    if found.ending is Ending.NONE:
        near_route = explain.nearest(steps, at_hand, target, {})
    return NetworkAnswer(str(path), target, at_hand, found, near_route, refused)


class _Asked:
    """One question on its way through the stages."""

    def __init__(self, lib: Library, question: Question) -> None:
        self.lib = lib
        self.question = question
        self.narrowed = narrowing.narrow(lib, question)

    def pack(self, steps: Iterable[Any], more: Sequence[Any] = ()) -> Packed:
        return pack(
            self.lib, steps, (*self.supplies, *more), self.question.target,
            orders.step_cost(self.question.order, self.narrowed.profiles, self.question.step_cost),
            orders.ERRANDS[self.question.order],
        )  # fmt: skip

    @cached_property
    def packed(self) -> Packed:
        """The network of the steps that the limits leave."""
        return self.pack(self.narrowed.steps)

    @cached_property
    def supplies(self) -> tuple[Any, ...]:
        """What may be used; a material under "must use" pushes its rivals aside."""
        must = {self.lib.root(u) for u in self.question.limits.use}
        out = []
        for supply in self.narrowed.supplies:
            roots = {self.lib.root(s) for s in supply.offered}
            rival = roots & must and not set(supply.offered) & set(self.question.limits.use)
            if not rival:
                out.append(supply)
        return tuple(out)

    def assess(self, ids: Sequence[str]) -> Assessment:
        q = self.question
        return assess(
            self.lib, [self.lib.steps[i] for i in real_steps(ids)], self.supplies, q.target,
            q.amount_g, q.bench, self.narrowed.strengths,
        )  # fmt: skip

    def accepts(self, ids: tuple[str, ...]) -> bool:
        """Limits on whole routes that are no sums over steps."""
        if self.packed.roundabout(ids):
            return False
        limits = self.question.limits
        lack = self.question.may_lack
        if not (
            limits.budget is not None or limits.use or limits.max_time_min is not None
            or limits.max_hazard or limits.measures or lack
        ):  # fmt: skip
            return True
        found = self.assess(ids)
        if lack and len(found.missing) > lack:
            return False
        if limits.measures and not preferring.keeps(limits.measures, found):
            return False
        if limits.budget is not None and (found.cost.typical or 0.0) > limits.budget:
            return False
        if limits.max_time_min is not None and found.elapsed_min > limits.max_time_min:
            return False
        for aspect, most in limits.max_hazard:  # amounts and the solutions drawn may add points
            aspects = ASPECTS if aspect == "any" else (aspect,)
            if any(found.hazards[each][0] > most for each in aspects):
                return False
        used = {self.lib.root(s) for d in found.amounts.draws for s in d.supply.offered}
        return all(self.lib.root(u) in used for u in limits.use)

    def way(self, ids: Sequence[str]) -> variety.Way:
        """The way of a route; see ``choice.variety``."""
        return variety.way(self.lib, self.assess(ids))

    def caps(self, packed: Packed) -> list[best.Cap]:
        """The limits on whole routes that are sums over steps."""
        limits = self.question.limits
        caps = []
        if limits.max_steps is not None:
            ones = dict.fromkeys(real_steps(packed.network.steps), 1.0)
            caps.append(best.Cap(ones, limits.max_steps))
        if limits.max_time_min is not None:
            hands = {
                i: self.lib.steps[i].record.time.hands_on_min
                for i in real_steps(packed.network.steps)
            }
            caps.append(best.Cap(hands, limits.max_time_min))
        return caps

    def priced(
        self, packed: Packed, charge: Callable[[Any], float]
    ) -> tuple[list[priced.PricedStep], dict[str, float], float]:
        """The steps with amounts, errands included, the shelf's prices, and moles of target."""
        steps = [self.lib.steps[i] for i in real_steps(packed.network.steps)]
        target = self.question.target
        turns = prices.turns(self.lib, steps, target, charge)
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
            asked = _Asked(self.lib, replace(q, order=order, seconds=q.seconds / 20, front=()))
            seeds += [r.steps for r in asked.search(asked.packed, SEEDS).routes]
        return front.front(
            packed.network, packed.at_hand, packed.target,
            lambda ids: measures.losses(self.assess(ids), keys),
            lower=bounds.lower_bounds(facts, keys), seeds=seeds, accept=self.accepts,
            caps=self.caps(packed), seconds=q.seconds,
        )  # fmt: skip

    def search(self, packed: Packed, top: int) -> best.Found:
        """The search by the order asked for, within the limits on whole routes."""
        caps = self.caps(packed)
        seconds = self.question.seconds
        if self.question.order == "cost":
            charge = orders.step_cost("cost", self.narrowed.profiles, self.question.step_cost)
            steps, shelf, moles = self.priced(packed, charge)
            return priced.cheapest_routes(
                steps, shelf, packed.target, moles, top,
                lambda ids: self.total_cost(ids, charge), seconds=seconds, caps=caps,
                accept=self.accepts, group=self.way if self.question.different else None,
            )  # fmt: skip
        first: dict[variety.Way, frozenset[str]] = {}

        def accepts(ids: tuple[str, ...]) -> bool:
            """The limits, and with ``different`` only the first route of its way."""
            if not self.accepts(ids):
                return False
            if not self.question.different:
                return True
            key = frozenset(ids)
            return first.setdefault(self.way(ids), key) == key

        return best.best_routes(
            packed.network, packed.at_hand, packed.target, top, seconds=seconds, caps=caps,
            accept=accepts,
        )  # fmt: skip

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
    if question.front:
        return _front(lib, question)
    if question.use_up is not None:
        return _using_up(lib, question, question.use_up)
    return _answer(lib, question)


def _using_up(lib: Library, question: Question, material: str) -> Answer:
    """The best routes that use the material, most of it first (dominated ones last).

    The best of all, with a note, if none uses it.
    """
    limits = replace(question.limits, use=(*question.limits.use, material))
    found = _answer(lib, replace(question, limits=limits), material)
    name = lib.name(material)
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
    asked = _Asked(lib, question)
    keys = question.front
    found = asked.front(keys)
    members = list(found.routes)
    if question.order == "cost":
        charge = orders.step_cost("cost", asked.narrowed.profiles, question.step_cost)
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
    """Grams, as weighed, of what a route draws that holds this substance in any form."""
    return sum(
        d.as_weighed_g
        for d in found.amounts.draws
        if lib.root(material) in {lib.root(s) for s in d.supply.offered}
    )


def _answer(lib: Library, question: Question, use_up: str | None = None) -> Answer:
    asked = _Asked(lib, question)
    wide = question.top if use_up is None else max(question.top, USE_UP_AMONG)
    found = asked.search(asked.packed, wide)
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
    lost = _lost(asked, {frozenset(r.ids) for r in routes})
    why = None if routes else _why_none(asked)
    return Answer(
        question,
        lib.substances[question.target],
        lib,
        routes,
        ending,
        found.gap,
        found.seconds,
        lost,
        asked.narrowed.aside,
        (*question.shelf.notes, *asked.narrowed.notes),
        why,
    )


def _routes(
    asked: _Asked, found: Sequence[StepSet], keys: Sequence[str] = COMPARED
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
        Route(i, name, r.cost, r.proven, a, asked.lib, verdict, leader)
        for i, (name, r, a, verdict, leader) in enumerate(rows, start=1)
    )


def _way(route: Assessment, others: Sequence[Assessment]) -> str:
    """The title of the step that the fewest other routes share."""
    rarest = min(route.steps, key=lambda s: sum(s.id in o.ids for o in others))
    return rarest.title[0].lower() + rarest.title[1:]


def _lost(asked: _Asked, kept: set[frozenset[str]]) -> tuple[Lost, ...]:
    """Routes among the best without step limits that the limits set aside."""
    if not asked.narrowed.aside:
        return ()
    packed = asked.pack(asked.lib.steps.values(), asked.narrowed.withheld)
    found = best.best_routes(
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


def _why_none(asked: _Asked) -> NoRoute:
    """Say what stands in the way, nearest first."""
    lib, question = asked.lib, asked.question
    name = lib.name(question.target)
    allowed = asked.pack(asked.narrowed.steps)
    everything = asked.pack(lib.steps.values(), asked.narrowed.withheld)
    _refuse_closed_circle(lib)
    if everything.network.number(everything.target) is None:
        return NoRoute((), (), (), f"No step in the library makes {name}.")
    free = asked.search(allowed, 1) if allowed.network.number(allowed.target) is not None else None
    if free is not None and free.ending is Ending.STOPPED:
        return NoRoute(
            (), (), (), "The search was stopped before it found a route; give it longer."
        )
    unlimited = best.best_routes(
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
        f"{_listed(lacking)}.",
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
            f"no step of this library can begin: {_listed(sorted(wanted)[:4])} only feed one "
            "another in a circle, or take what no material holds; add a material that a step can "
            "start from"
        )


def _acquisition_prices(asked: _Asked, packed: Packed) -> dict[str, float]:
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


def _listed(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words) or "nothing"
    return ", ".join(words[:-1]) + " and " + words[-1]
