"""What could be had besides shelf, bench and limits, as acquisitions on the reaction graph.

A step that the question sets aside comes back with nodes for what it lacks: one for each need that
the bench does not meet (``can|``), one for each limit it breaks, at the figure it would take
(``limit|``). An acquisition gives such nodes, or those of a material that is not on the shelf:

* a *material* of the library (those with the same uses together, the cheapest first);
* a kind of *equipment* of the library (those that serve the same needs together), once for all;
* a *limit* moved to a figure: the question's own, or one of a tool at hand ("150 K more"; up to
  ``FAR_K``).

A bought solution can make a step less hazardous than the pure substance counted before: such a
step comes a second time (``@`` in its id), with a node for the weaker solution (``weak|``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from routefinder.graph.narrow import Narrowed
from routefinder.graph.needs import Need, NeedIndex, needs, offers_of_step, offers_of_supply
from routefinder.graph.network import PlainStep
from routefinder.graph.pack import node_name, spared
from routefinder.hazards import heaters, score
from routefinder.hazards.controls import licence_for
from routefinder.hazards.makeshift import finishes
from routefinder.hazards.set_up import unfit
from routefinder.library import shelf as shelves
from routefinder.library import steering
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import CAPABILITIES, Capability
from routefinder.records.question import Limits, Question
from routefinder.records.shelf import Bench, Supply, Tool

FAR_K = 200.0  # a tool that would have to reach further than this is another tool (our choice)
SHOP = "shop|"
LICENCE = "limit|no-licence"
WITHOUT = "without|"  # a need left unmet, as ``may_lack`` allows
NEXT_TO_NOTHING = 1e-9  # what that costs: a step of the search has to cost something
Cost = Callable[[ResolvedStep, score.Profile], float]


@dataclass(frozen=True)
class Change:
    """A limit moved: the question's (``limit`` as in ``SetAside``) or, "bench", that of a tool.

    ``what`` is the hazard aspect, the thing avoided, or the tool; ``capability`` and ``key`` say
    which figure of the tool. ``now`` and ``then`` are canonical units, None where there is no
    figure.
    """

    limit: str
    what: str = ""
    capability: str = ""
    key: str = ""
    now: float | None = None
    then: float | None = None


@dataclass(frozen=True)
class Acquisition:
    """One thing to acquire: ``kind`` is "material", "equipment" or "limit".

    ``gives`` are nodes of the graph, ``takes`` nodes that it needs itself (a licence). ``supplies``
    and ``tools`` are alternatives of equal use.
    """

    id: str
    kind: str
    gives: frozenset[str]
    takes: tuple[str, ...] = ()
    supplies: tuple[Supply, ...] = ()
    tools: tuple[Tool, ...] = ()
    change: Change | None = None


@dataclass(frozen=True)
class Market:
    """The reaction graph with all steps, and what could be acquired.

    ``steps`` are the steps and, where everything can be bought anyway, errands, and where the bench
    may lack something, needs left unmet; ``of`` says which step of the library stands behind an id;
    ``lacks`` are its nodes beyond chemistry.
    """

    steps: tuple[PlainStep, ...]
    at_hand: tuple[str, ...]
    target: str
    acquisitions: tuple[Acquisition, ...]
    of: dict[str, str]
    lacks: dict[str, frozenset[str]]


def market(
    library: Library,
    question: Question,
    narrowed: Narrowed,
    supplies: Sequence[Supply],
    cost: Cost,
    errand: float,
    goal: Need,
    together: bool = True,
    side: Callable[[str], bool] | None = None,
    dear: Callable[[Supply, str], float] | None = None,
) -> Market:
    """The graph of everything, with what is lacking as nodes.

    ``supplies`` are those that may be used now. With ``together`` materials of equal use become
    one acquisition (not for an order by price). ``side`` and ``dear`` as in ``graph.pack``: what is
    side work is bought where it can be, and an errand for what carries the value has its price.
    """
    every = list(library.steps.values())
    wanted = {s.id: needs(library, s) for s in every}
    index = NeedIndex(library, [n for ns in wanted.values() for n in ns] + [goal])

    def nodes(supply: Supply) -> frozenset[str]:
        met = (n for o in offers_of_supply(supply) for n in index.met_by(o))
        return frozenset(node_name(n) for n in met if n != goal)

    at_hand = frozenset(n for s in supplies if not s.in_shop for n in nodes(s))
    shop = [s for s in supplies if s.in_shop]
    had = {*at_hand, *(n for s in shop for n in nodes(s))}
    kept = spared(library, every, goal, had, side)
    lacking, lacked_by = _lacking(library, question.bench, every)
    sold = _sold(library, question, narrowed, supplies)
    weaker = _weaker(library, narrowed, sold)
    plain: list[PlainStep] = []
    of: dict[str, str] = {}
    lacks: dict[str, frozenset[str]] = {}
    figures: dict[str, Change] = {}
    for step in every:
        made = dict.fromkeys(n for o in offers_of_step(step) for n in index.met_by(o))
        heads = [node_name(n) for n in made if n not in wanted[step.id] and n not in kept]
        if not heads:
            continue
        tails = [node_name(n) for n in wanted[step.id]]
        tools = lacked_by.get(step.id, frozenset())
        mine = narrowed.profiles[step.id]
        barred = _barred(library, step, question.limits, mine, figures)
        versions = [(step.id, mine, frozenset[str](), barred)]
        base = cost(step, mine)
        for i, (weak, profile) in enumerate(_variants(library, step, narrowed, weaker)):
            other = _barred(library, step, question.limits, profile, figures)
            if cost(step, profile) < base or other != barred:
                versions.append((f"{step.id}@{i}", profile, weak, other))
        for name, profile, weak, limits in versions:
            lacks[name] = frozenset(tools | weak | limits)
            of[name] = step.id
            plain.append(
                PlainStep(name, [*tails, *sorted(lacks[name])], heads, cost(step, profile))
            )
    used = frozenset(n for s in plain for n in s.reactants)
    found: list[Acquisition] = []
    withheld = {s.id for s in narrowed.withheld}
    for supply in sold:
        gives = (nodes(supply) - at_hand) | _weak_nodes(library, supply, narrowed)
        gives &= used
        if supply.in_shop and supply.id not in withheld:
            if gives:
                more = 0.0 if dear is None else min(dear(supply, s) for s in supply.offered)
                plain.append(PlainStep(SHOP + supply.id, (), sorted(gives), errand + more))
        elif gives:
            licensed = question.limits.no_licence and licence_for(library, supply) is not None
            takes = (LICENCE,) if licensed else ()
            found.append(
                Acquisition(f"buy|{supply.id}", "material", gives, takes, supplies=(supply,))
            )
    if together:
        found = _merged(found)
    if question.limits.no_licence:
        change = Change("no-licence")
        found.append(Acquisition(LICENCE, "limit", frozenset({LICENCE}), change=change))
    found += _limits(figures)
    found += _left_there(library, question, lambda supply: (nodes(supply) - at_hand) & used)
    if question.may_lack:  # how many a route leaves unmet is judged with the whole route
        for node in lacking.values():
            plain.append(PlainStep(WITHOUT + node, (), (node,), NEXT_TO_NOTHING))
    if question.bench is not None:
        found += _merged(_equipment(library, lacking))
        found += _stretches(question.bench, lacking)
    return Market(tuple(plain), tuple(sorted(at_hand)), node_name(goal), tuple(found), of, lacks)


Lack = tuple[Capability, frozenset[str]]  # a need, and the materials that would not last
NO_FLAME = frozenset({"a flame"})  # of a heat: what is flammable in the step bars it


def _lacking(
    library: Library, bench: Bench | None, steps: Iterable[ResolvedStep]
) -> tuple[dict[Lack, str], dict[str, frozenset[str]]]:
    """What the bench lacks, with its nodes; and the nodes that each step lacks."""
    if bench is None:
        return {}, {}
    met: dict[Lack, bool] = {}
    nodes: dict[Lack, str] = {}
    by_step: dict[str, frozenset[str]] = {}
    for step in steps:
        burns = NO_FLAME if heaters.flammable(library, step) else frozenset()
        wanted: list[Lack] = [
            (c, burns if c.name == "heat-liquid" else frozenset())
            for c in step.needs
            if c.name != "vessel" and not c.anywhere and not finishes(step, c)
        ]
        wanted += unfit(library, step, bench)
        mine = set()
        for lack in wanted:
            if lack not in met:
                met[lack] = any(
                    _serves(o, lack, tool.heats_by) for tool in bench.tools for o in tool.offers
                )
            if not met[lack]:
                nodes.setdefault(lack, f"can|{len(nodes)}|{_lack_words(lack)}")
                mine.add(nodes[lack])
        by_step[step.id] = frozenset(mine)
    return nodes, by_step


def _serves(offer: Capability, lack: Lack, heats_by: str) -> bool:
    need, eaten = lack
    if eaten == NO_FLAME and heats_by and heaters.WAYS[heats_by].fire:
        return False
    if need.name != "vessel" or not offer.serves(need):
        return offer.serves(need)
    materials = set(offer.made_of) & set(need.made_of or offer.made_of)
    return not (materials and materials <= eaten)


def _lack_words(lack: Lack) -> str:
    need, eaten = lack
    bad = sorted(eaten & set(need.made_of))
    text = need.in_words() + (f" ({', '.join(bad)} would not last)" if bad else "")
    return text + (" without a flame" if eaten == NO_FLAME else "")


def _sold(
    library: Library, question: Question, narrowed: Narrowed, supplies: Sequence[Supply]
) -> list[Supply]:
    """What can be bought and would help the question: not the target, no rival of a must."""
    shop = [s for s in supplies if s.in_shop]
    if shop:
        return [*shop, *narrowed.withheld]
    at_hand = {s.id for s in question.shelf.supplies}
    limits = question.limits
    out = []
    for material in library.materials.values():
        supply = question.shelf.purse.priced(shelves.supply(material))
        if (
            supply.id not in at_hand
            and question.target not in supply.offered
            and supply.id not in limits.avoid
            and not steering.pushed_aside(library, limits.use, supply)
        ):
            out.append(supply)
    return [*out, *narrowed.withheld]


def _barred(
    library: Library,
    step: ResolvedStep,
    limits: Limits,
    profile: score.Profile,
    figures: dict[str, Change],
) -> frozenset[str]:
    """The nodes of the limits that a step breaks; what each would take goes into ``figures``."""
    out = set()

    def breaks(change: Change) -> None:
        name = f"limit|{change.limit}|{change.what}|{change.then}"
        figures[name] = change
        out.add(name)

    if limits.max_temperature_C is not None and step.heat_C > limits.max_temperature_C:
        breaks(Change("max-temperature", now=limits.max_temperature_C, then=step.heat_C))
    for name in limits.avoid:
        root = library.root(name) if name in library.substances else None
        parts = [p.substance for p in (*step.reactants, *step.products)]
        parts += [a.substance for a in step.aids]
        if name == step.id or (root and any(library.root(p) == root for p in parts)):
            breaks(Change("avoid", name))
    for aspect, points in limits.max_hazard:
        aspects = score.ASPECTS if aspect == "any" else (aspect,)
        most = max(profile[each].points for each in aspects)
        if most > points:
            breaks(Change("max-hazard", aspect, now=points, then=most))
    return frozenset(out)


def _limits(figures: dict[str, Change]) -> Iterator[Acquisition]:
    """Each limit moved to each figure that some step would take."""
    for name, change in figures.items():
        gives = frozenset(
            other
            for other, c in figures.items()
            if (c.limit, c.what) == (change.limit, change.what)
            and (c.then is None or change.then is None or c.then <= change.then)
        )
        yield Acquisition(name, "limit", gives, change=change)


def _left_there(
    library: Library, question: Question, gives: Callable[[Supply], frozenset[str]]
) -> Iterator[Acquisition]:
    """Materials on the shelf that are to be avoided, each taken after all."""
    for name in question.limits.avoid:
        if not steering.is_material(library, name):
            continue
        mine = [s for s in question.shelf.supplies if steering.covers(library, name, s)]
        nodes = frozenset(n for s in mine for n in gives(s))
        if nodes:
            change = Change("avoid", name)
            yield Acquisition(f"limit|avoid|{name}|None", "limit", nodes, change=change)


def _equipment(library: Library, lacking: dict[Lack, str]) -> list[Acquisition]:
    out = []
    for kind in library.equipment.values():
        gives = frozenset(
            node
            for lack, node in lacking.items()
            if any(_serves(o, lack, kind.heats_by) for o in kind.offers)
        )
        if gives:
            tool = Tool(
                kind.name, kind.offers, 1, kind.heats_by, kind.may_be_left, kind.outdoors,
                kind.cautions,
            )  # fmt: skip
            out.append(Acquisition(f"get|{kind.id}", "equipment", gives, tools=(tool,)))
    return out


def _stretches(bench: Bench, lacking: dict[Lack, str]) -> Iterator[Acquisition]:
    """Each figure of a tool at hand moved so far that it serves a need it now just fails."""
    for tool in bench.tools:
        for offer in tool.offers:
            if offer.name == "vessel":  # another vessel is a purchase
                continue
            reached: dict[tuple[str, float], None] = {}
            for need, _ in lacking:
                if need.name == offer.name:
                    reached.update(dict.fromkeys(_short(offer, need)))
            for key, then in reached:
                now = offer.limit(key)
                hot = CAPABILITIES[offer.name][1][key].kind == "temperature"
                if hot and now is not None and abs(then - now) > FAR_K:
                    continue
                change = Change("bench", tool.name, offer.name, key, offer.limit(key), then)
                better = _moved(offer, key, then)
                gives = frozenset(
                    node for (need, _), node in lacking.items() if better.serves(need)
                )
                yield Acquisition(
                    f"more|{tool.name}|{offer.name}|{key}|{then:g}", "limit", gives, change=change
                )


def _short(offer: Capability, need: Capability) -> list[tuple[str, float]]:
    """The one figure that keeps an offer from serving a need; empty when it is more than that."""
    known = CAPABILITIES[offer.name][1]
    for key, then in need.limits:
        figure = known[key].sense in {"reach", "stay"} and offer.limit(key) is not None
        if figure and _moved(offer, key, then).serves(need):
            return [(key, then)]
    return []


def _moved(offer: Capability, key: str, then: float) -> Capability:
    limits = tuple((k, then if k == key else v) for k, v in offer.limits)
    return Capability(name=offer.name, limits=limits, made_of=offer.made_of, not_of=offer.not_of)


def _merged(found: Iterable[Acquisition]) -> list[Acquisition]:
    """Acquisitions of equal use as one: materials cheapest first, then as they came."""
    groups: dict[tuple[frozenset[str], tuple[str, ...]], list[Acquisition]] = {}
    for each in found:
        groups.setdefault((each.gives, each.takes), []).append(each)
    out = []
    for same in groups.values():
        supplies = sorted((s for a in same for s in a.supplies), key=_per_gram)
        tools = tuple(t for a in same for t in a.tools)
        first = f"buy|{supplies[0].id}" if supplies else same[0].id
        out.append(replace(same[0], id=first, supplies=tuple(supplies), tools=tools))
    return out


def _per_gram(supply: Supply) -> float:
    """Price per gram of what it is used for; what has no price comes last."""
    if supply.price_per_g is None:
        return float("inf")
    return supply.price_per_g / supply.fractions[supply.main]


# --- weaker solutions ----------------------------------------------------------------------------


def _strength(library: Library, supply: Supply, narrowed: Narrowed) -> tuple[str, float] | None:
    """(root, mass fraction) when a supply would be the weakest solution of its kind."""
    if supply.form not in {"solution", "liquid"}:
        return None
    root, fraction = library.root(supply.main), supply.fractions[supply.main]
    return (root, fraction) if fraction < narrowed.strengths.get(root, 2.0) else None


def _weak_nodes(library: Library, supply: Supply, narrowed: Narrowed) -> frozenset[str]:
    found = _strength(library, supply, narrowed)
    return frozenset() if found is None else frozenset({f"weak|{found[0]}|{found[1]!r}"})


def _weaker(
    library: Library, narrowed: Narrowed, sold: Iterable[Supply]
) -> dict[str, tuple[float, ...]]:
    """Per root, the strengths below today's at which a solution is sold."""
    out: dict[str, set[float]] = {}
    for supply in sold:
        found = _strength(library, supply, narrowed)
        if found is not None and not supply.in_shop:
            out.setdefault(found[0], set()).add(found[1])
    return {root: tuple(sorted(values)) for root, values in out.items()}


def _variants(
    library: Library, step: ResolvedStep, narrowed: Narrowed, weaker: dict[str, tuple[float, ...]]
) -> Iterator[tuple[frozenset[str], score.Profile]]:
    """(nodes, profile) of a step with weaker solutions than today's, where that changes it."""
    taken = [p.substance for p in step.reactants if p.state == "aq"]
    taken += [a.substance for a in step.aids]
    roots = [r for r in dict.fromkeys(map(library.root, taken)) if r in weaker]
    seen = [narrowed.profiles[step.id]]
    choices = [(None, *weaker[root]) for root in roots]
    for chosen in sorted(product(*choices), key=lambda c: sum(w is not None for w in c)):
        used = {r: w for r, w in zip(roots, chosen, strict=True) if w is not None}
        if not used:
            continue
        profile = score.profile(library, step, {**narrowed.strengths, **used})
        if profile not in seen:
            seen.append(profile)
            yield frozenset(f"weak|{r}|{w!r}" for r, w in used.items()), profile


# --- the question afterwards ------------------------------------------------------------


def applied(question: Question, acquired: Iterable[Acquisition]) -> Question:
    """The question as it would stand with the acquisitions (the first of equal alternatives)."""
    shelf, bench, limits = question.shelf, question.bench, question.limits
    for each in acquired:
        if each.supplies and each.supplies[0].id not in {s.id for s in shelf.supplies}:
            shelf = replace(shelf, supplies=(*shelf.supplies, each.supplies[0]))
        if each.tools and bench is not None:
            bench = Bench((*bench.tools, each.tools[0]), bench.name)
        if each.change is not None:
            if each.change.limit == "bench" and bench is not None:
                bench = _stretched(bench, each.change)
            else:
                limits = _moved_limits(limits, each.change)
    return replace(question, shelf=shelf, bench=bench, limits=limits)


def _stretched(bench: Bench, change: Change) -> Bench:
    tools = []
    for tool in bench.tools:
        offers = tuple(
            _moved(o, change.key, change.then)
            if tool.name == change.what
            and o.name == change.capability
            and o.limit(change.key) == change.now
            and change.then is not None
            else o
            for o in tool.offers
        )
        tools.append(replace(tool, offers=offers))
    return Bench(tuple(tools), bench.name)


def _moved_limits(limits: Limits, change: Change) -> Limits:
    if change.limit == "max-temperature":
        return replace(limits, max_temperature_C=change.then)
    if change.limit == "no-licence":
        return replace(limits, no_licence=False)
    if change.limit == "avoid":
        return replace(limits, avoid=tuple(a for a in limits.avoid if a != change.what))
    hazards = tuple(
        (aspect, int(change.then or 0) if aspect == change.what else points)
        for aspect, points in limits.max_hazard
    )
    return replace(limits, max_hazard=hazards)
