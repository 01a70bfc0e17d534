"""From what is really there: the best way on, with the new chance of reaching the amount.

What was weighed dry is certain; only what lies downstream of it stays random. A step that has begun
goes on with its charge, and a solution that nobody measured is reckoned from what went into it
(``account``, ``forecast``). The options: carry on, make up what is missing by repeating a step, buy
the intermediate, another route, a smaller target; when a step failed or the run is at its end, make
the rest from what is left over. The old plan stays in the journal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from typing import Any

from routefinder import digits, listing
from routefinder.assessment import equipment
from routefinder.assessment.assess import Assessment, assess
from routefinder.assessment.uncertainty import Range, simulate
from routefinder.errors import FieldError, InputError
from routefinder.graph.needs import meets, need_of, offers_of_supply
from routefinder.journal.account import Account, Lot, StepState, account, takers
from routefinder.journal.book import MADE, Book, StepBook
from routefinder.journal.forecast import Forecast, forecast, plan_amounts, plan_supplies
from routefinder.journal.spoiling import lain, usables, warning
from routefinder.journal.today import LEAST_LEFT, left_words
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import everywhere, supply
from routefinder.records.question import Question
from routefinder.records.shelf import Bench, Shelf, Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts

Search = Callable[[Question], Sequence[tuple[str, Assessment]]]
LEAST_OTHER = 0.5  # another route that gives less than half is none: our choice
ENOUGH = 0.99  # a run that reaches so much of its amount has reached it: our choice


@dataclass(frozen=True)
class Option:
    """One way on: ``chance`` of reaching the amount, ``output_g`` to expect (P10, P50, P90).

    ``route`` is what begins as a run of its own, where it does: its name and its assessment.
    """

    kind: str
    sentence: str
    chance: float | None = None
    output_g: Range | None = None
    route: tuple[str, Assessment] | None = None


@dataclass(frozen=True)
class Replan:
    """Where a run stands. ``expected_g`` is reached when the rest goes at typical yields.

    ``limited_by`` says what decides it; ``left`` are sentences on what lies there unused;
    ``minds`` on what was weighed or has lain so that it cannot be relied on.
    """

    target_g: float
    expected_g: float | None
    chance: float | None
    output_g: Range | None
    missing: tuple[str, ...]
    options: tuple[Option, ...]
    limited_by: str = ""
    left: tuple[str, ...] = ()
    minds: tuple[str, ...] = ()
    at_end: bool = False


def made_supplies(library: Library, book: Book) -> list[Supply]:
    """What was made and taken by no later step yet, as supplies at no price."""
    return [made for made, _ in _lots(library, account(library, book))]


def _lots(library: Library, standing: Account) -> list[tuple[Supply, StepState]]:
    out = []
    for state in standing.states:
        lot = state.lot
        if lot is None or not takers(standing.book, state.step):
            continue
        if lot.left_share < LEAST_LEFT or lot.strength is None or not state.step.made:
            continue
        out.append((_as_supply(library, state, lot), state))
    return out


def _as_supply(library: Library, state: StepState, lot: Lot) -> Supply:
    name = f"{library.name(state.step.plan['product']['substance'])} made in step "
    name += str(state.step.number)
    form = {"aq": "solution", "l": "liquid"}.get(lot.state, "solid")
    share = min(lot.strength or 1.0, 1.0)
    room = 1.0 - share
    beside = {k: v for k, v in lot.beside.items() if k in library.substances and k != "water"}
    total = sum(beside.values())
    if total > room:
        beside = {k: v * room / total for k, v in beside.items()} if room > 0 else {}
    return Supply(
        f"{MADE}{state.step.number}", name, form, {lot.what: share, **beside}, lot.what,
        amount_g=lot.left_total_g, price_per_g=0.0,
    )  # fmt: skip


def left_on_shelf(book: Book, shelf: Sequence[Supply]) -> list[Supply]:
    """The shelf less what was weighed in and not yet taken off the shelf's file."""
    booked: dict[int, float] = {}
    for e in book.entries:
        if e.kind == "shelf" and e.data.get("of_entry") is not None:
            n = e.data["of_entry"]
            booked[n] = booked.get(n, 0.0) + float(e.data.get("grams", 1e15))
    out = []
    for one in shelf:
        used = 0.0
        for step in book.steps:
            for row in step.ins.values():
                if row.get("material") == one.id:
                    used += sum(g - min(booked.get(n, 0.0), g) for n, g in row["parts"])
        if used and one.amount_g is not None:
            one = replace(one, amount_g=max(one.amount_g - used, 0.0))
        out.append(one)
    return out


def without_tools(bench: Bench | None, names: Sequence[str]) -> Bench | None:
    """The bench without the tools whose names hold these words.

    Raises InputError for a word that fits no tool.
    """
    if bench is None:
        if names:
            raise FieldError("{f} needs a bench; the run was begun with none", f="without")
        return None
    tools = bench.tools
    for name in names:
        kept = tuple(t for t in tools if name.casefold() not in t.name.casefold())
        if len(kept) == len(tools):
            known = ", ".join(t.name for t in tools)
            raise FieldError(
                "{f} {name!r}: nothing on the bench is called so; it has {known}", f="without",
                name=name, known=known,
            )  # fmt: skip
        tools = kept
    return replace(bench, tools=tools)


def rest_of(library: Library, book: Book, made: Sequence[Supply]) -> list[ResolvedStep]:
    """The steps that are still needed, in order, when what was made is taken as it is.

    Raises InputError for steps that have left the library.
    """
    steps = {s.id: library.steps[s.id] for s in book.steps if s.id in library.steps}
    lacking = [s.id for s in book.steps if s.id not in steps]
    if lacking:
        raise InputError(f"steps of the run are not in the library: {', '.join(lacking)}")
    numbers = {f"{MADE}{s.number}": s.id for s in book.steps}
    stop = {numbers[m.id] for m in made}
    wanted: set[str] = set()
    left = [book.steps[-1]]
    while left:
        step = left.pop()
        if step.id in wanted or step.id in stop:
            continue
        wanted.add(step.id)
        left += [book.step(f["from_step"]) for f in step.plan["feeds"] if "from_step" in f]
    return [steps[s.id] for s in book.steps if s.id in wanted]


def _still_to_do(library: Library, standing: Account) -> list[ResolvedStep]:
    """The steps of the run that are not through yet, in order, without those nobody needs."""
    stop = [
        Supply(f"{MADE}{s.step.number}", "", "solid", {}, "")
        for s in standing.states
        if s.phase == "made" and s is not standing.last
    ]
    return rest_of(library, standing.book, stop)


@dataclass(frozen=True)
class _Reach:
    """What materials at hand give of a route that begins from them."""

    expected_g: float
    chance: float
    output_g: Range


def _reach(library: Library, found: Amounts, have: dict[str, float]) -> _Reach:
    """From these grams; never more than the route was reckoned for."""
    import numpy as np

    needed = {d.supply.id: d.as_weighed_g for d in found.draws}
    counted = {k: v for k, v in have.items() if needed.get(k, 0.0) > 0}
    if not counted:
        counted = {d.supply.id: d.as_weighed_g for d in found.draws if not d.supply.everywhere
                   and d.as_weighed_g > 0}  # fmt: skip
    share = min((v / needed[k] for k, v in counted.items()), default=1.0)
    trial = simulate(library, found)
    known = {k: v for k, v in counted.items() if k in trial.need_g}
    if not known:
        return _Reach(found.target_g * min(share, 1.0), 1.0, Range(*[found.target_g] * 3))
    output = np.minimum(trial.output_g(known), found.target_g)
    low, middle, high = (float(v) for v in np.quantile(output, (0.1, 0.5, 0.9)))
    return _Reach(found.target_g * min(share, 1.0), trial.chance(known), Range(low, middle, high))


def replan(
    library: Library,
    book: Book,
    shelf: Shelf,
    bench: Bench | None,
    search: Search,
    without: Sequence[str] = (),
    at: datetime | None = None,
) -> Replan:
    """The ways on from where a run stands at the moment ``at`` (now unless said)."""
    at = at or datetime.now().astimezone()
    target, target_g = book.run.data["target"], float(book.run.data["target_g"])
    bench = without_tools(bench, without)
    standing = account(library, book)
    left = left_on_shelf(book, shelf.supplies)
    stock = {s.id: s.amount_g for s in left if s.amount_g is not None and not s.in_shop}
    found = plan_amounts(library, standing, left)
    good = usables(library, standing.states, at)
    now = forecast(library, standing, found, stock, good)
    lots = _lots(library, standing)
    minds = _minds(library, standing, at)
    over = [_leftover(library, s, at) for m, s in lots if _is_over(standing, s)]
    shown = Replan(
        target_g, now.expected_g, now.chance, now.output_g, (), (), now.limited_by, tuple(over),
        minds, standing.at_end,
    )  # fmt: skip
    rest = _rest(library, standing, left, bench, lots, target_g - now.expected_g)
    if standing.at_end:
        options = list(rest)
        if options:
            words = f"take the {digits.mass(now.expected_g)} that were made, and be done"
            options.insert(0, Option("smaller target", words, None))
        return replace(shown, options=tuple(options))
    todo = _still_to_do(library, standing)
    missing = tuple(
        f"{n.capability.in_words()} for {', '.join(library.steps[i].title for i in n.steps)}"
        for n in equipment.needed(library, todo, bench)
        if n.tool is None
    ) if bench is not None else ()  # fmt: skip
    options = []
    if not missing and now.expected_g > 0:
        words = (
            f"carry on: {digits.mass(now.expected_g)} on the expected path, "
            f"{digits.mass(now.output_g.p10)} to {digits.mass(now.output_g.p90)} in 8 runs of 10"
        )
        options.append(Option("carry on", words, now.chance, now.output_g))
    if not missing:
        made_up = _make_up(library, standing, found, now, lots, stock, good)
        options += made_up
        if not made_up:
            options += rest
        if now.chance < 0.9 and now.output_g.p10 > 0:
            options.append(
                Option("smaller target",
                       f"settle for {digits.mass(now.output_g.p10)}: reached in 9 runs of 10", 0.9)
            )  # fmt: skip
    supplies = [m for m, _ in lots] + left
    ids = {s.id for s in supplies}
    supplies += [s for s in everywhere(library) if s.id not in ids]
    stand = replace(shelf, supplies=tuple(supplies), notes=())
    question = Question(target, target_g, stand, bench, top=5)
    own = {s.step.id for s in standing.states}, {s.id for s in todo}
    options += _others(library, search(question), own, [m for m, _ in lots], stock)
    return replace(shown, missing=missing, options=tuple(options))


def _others(
    library: Library,
    found: Sequence[tuple[str, Assessment]],
    own: tuple[set[str], set[str]],
    made: Sequence[Supply],
    stock: dict[str, float],
) -> list[Option]:
    out: list[Option] = []
    for name, other in found:
        if set(other.ids) in own:
            continue
        drawn = {d.supply.id for d in other.amounts.draws}
        have = {m.id: m.amount_g for m in made if m.amount_g is not None and m.id in drawn}
        reach = _reach(library, other.amounts, {**stock, **have})
        if reach.expected_g < LEAST_OTHER * other.amounts.target_g:
            continue
        n = len(other.steps)
        out.append(
            Option("another route", f"another route, {digits.count(n, 'step')} ({name}): "
                   f"what is there gives {digits.mass(reach.expected_g)}", reach.chance,
                   reach.output_g, (name, other))
        )  # fmt: skip
        if len(out) == 3:
            break
    return out


def _is_over(standing: Account, state: StepState) -> bool:
    """Whether no step to come asks for what is left of a lot."""
    after = [standing.of(t.id) for t in takers(standing.book, state.step)]
    return standing.at_end or all(s.phase in {"made", "failed"} for s in after)


def _leftover(library: Library, state: StepState, at: datetime) -> str:
    lot = state.lot
    if lot is None:
        raise AssertionError("a lot is left over")
    name = library.name(state.step.plan["product"]["substance"])
    dissolved = " solution" if lot.state == "aq" else ""
    found = lain(library, state, at)
    age = f", {digits.duration(found.lain_min)} old" if found is not None else ""
    return f"{left_words(lot)} {name}{dissolved} from step {state.step.number}{age}"


def _minds(library: Library, standing: Account, at: datetime) -> tuple[str, ...]:
    """What was weighed or has lain so that its figure is not relied on."""
    out = []
    for state in standing.states:
        said, step = state.verdict, state.step
        if said is not None and state.phase in {"going", "made"}:
            grams = digits.mass(said.out_g)
            if state.phase == "going" and not step.wet and said.way == "through":
                words = f"the {grams} of step {step.number} are {said.short}"
                out.append(f"{words}, not finished: the charge counts, not that weight")
            elif not said.sure and said.says in {"something else", "cannot tell"}:
                name = library.name(step.plan["product"]["substance"])
                counted = digits.mass(said.product_g or 0.0)
                out.append(
                    f"the {grams} of step {step.number} are not relied on ({said.says}): "
                    f"{counted} {name} are counted, what a usual run gives"
                )
        if state.lot is not None and state.lot.left_share >= LEAST_LEFT and step.made:
            out.append(warning(library, state, at))
    return tuple(w for w in out if w)


def _rest(
    library: Library,
    standing: Account,
    shelf: Sequence[Supply],
    bench: Bench | None,
    lots: Sequence[tuple[Supply, StepState]],
    lacking_g: float,
) -> list[Option]:
    """Making what is missing: from what is left over, by the steps it needs, or from the shelf."""
    target_g = float(standing.book.run.data["target_g"])
    if lacking_g <= (1 - ENOUGH) * target_g:
        return []
    target = standing.book.run.data["target"]
    over = [m for m, s in lots if _is_over(standing, s)]
    plain = plan_supplies(library, standing, shelf)
    stock = {s.id: s.amount_g for s in shelf if s.amount_g is not None and not s.in_shop}
    out = []
    for made in ([over] if over else []) + [[]]:
        steps = rest_of(library, standing.book, made)
        used = [*made, *plain]
        try:
            found = amounts(library, steps, used, target, lacking_g)
        except AssertionError:  # something the steps need is not there at all
            continue
        assessment = assess(library, steps, used, target, lacking_g, bench)
        have = {m.id: m.amount_g for m in made if m.amount_g is not None}
        short = listing.listed(
            f"{digits.mass(d.as_weighed_g - stock[d.supply.id])} {d.supply.name}"
            for d in found.draws
            if d.supply.id in stock and d.as_weighed_g > stock[d.supply.id] * 1.001
        )  # fmt: skip
        needed = {d.supply.id: d.as_weighed_g for d in found.draws}
        enough = {k: max(v, needed.get(k, 0.0)) for k, v in stock.items()} if short else stock
        if not made and found.limits in needed:  # afresh: from what the sentence names
            enough = {**enough, found.limits: needed[found.limits]}
        reach = _reach(library, found, {**enough, **have})
        numbers = [s.step.number for s in standing.states if s.step.id in {x.id for x in steps}]
        again = f"step{'s' if len(numbers) > 1 else ''} {listing.listed(map(str, numbers))}"
        start = listing.listed(
            f"{digits.mass(d.as_weighed_g)} {d.supply.name}"
            for d in found.draws
            if d.reactant and not d.supply.everywhere and d.supply.id == found.limits
        ) or "the same materials"  # fmt: skip
        words = f"make the missing {digits.mass(lacking_g)} by {again} again, from {start}"
        if made:
            what = listing.listed(m.name for m in made)
            words = f"make the rest from what is left over ({what}), by {again}: "
            words += f"{digits.mass(reach.expected_g)} of the missing {digits.mass(lacking_g)}"
        if short:
            words += f"; the shelf is short of {short}"
        kind = "make the rest" if made else "repeat"
        name = f"the rest of run {standing.book.run.run}"
        out.append(Option(kind, words, reach.chance, reach.output_g, (name, assessment)))
    return out


def _make_up(
    library: Library,
    standing: Account,
    found: Amounts,
    now: Forecast,
    lots: Sequence[tuple[Supply, StepState]],
    stock: dict[str, float],
    good: Any,
) -> list[Option]:
    """Repeating a step for what is missing of a lot that waits, or buying that."""
    out = []
    for one, state in lots:
        lot = state.lot
        if lot is None or _is_over(standing, state):
            continue
        usable = good[state.step.id].typical if state.step.id in good else 1.0
        have = lot.left_g * usable
        lacking = now.needs.get(state.step.id, 0.0) - have
        if have <= 0 or lacking <= 1e-3 * have:
            continue
        more = {state.step.id: lacking}
        after = forecast(library, standing, found, stock, good, more)
        maker = state.step
        made = maker.plan["product"]["mass_g"]
        starts = _more(standing, maker, lacking / lot.pure_g, lacking / made)
        out.append(
            Option(
                "repeat",
                f"make up {digits.mass(lacking)} of {library.name(lot.what)} by repeating step "
                f"{maker.number}: {starts}", after.chance, after.output_g,
            )
        )  # fmt: skip
        bought = _bought(library, standing, one, found, lacking)
        if bought:
            out.append(Option("buy", bought, after.chance, after.output_g))
    return out


def _more(standing: Account, maker: StepBook, share: float, planned: float) -> str:
    words = []
    for feed in maker.plan["feeds"]:
        if feed.get("everywhere"):
            continue
        if "from_step" in feed:
            before = standing.of(feed["from_step"])
            logged = maker.ins.get(f"from step {before.step.number}")
            grams = (logged["grams"] if logged else feed["as_weighed_g"]) * share
            left = before.lot.left_total_g if before.lot is not None else None
            there = f"{digits.mass(left)} are left" if left else "nothing is left"
            words.append(f"{digits.mass(grams)} from step {before.step.number} ({there})")
            continue
        logged = maker.ins.get(feed["name"])
        start = logged["grams"] if logged else feed["as_weighed_g"]
        words.append(
            f"{digits.mass(start * share)} {feed['name']} at the yield it gave "
            f"(+{share * 100:.1f} %; {digits.mass(feed['as_weighed_g'] * planned)} at the planned)"
        )
    return ", ".join(words) or "its start as before"


def _bought(
    library: Library, standing: Account, one: Supply, found: Amounts, lacking: float
) -> str:
    maker = standing.book.step(one.id.removeprefix(MADE)).id
    needs = [
        need_of(library, part, amount.step)
        for amount in found.steps
        for part, feed in zip(amount.step.reactants, amount.feeds, strict=False)
        if feed.origin == maker
    ]
    for material in library.materials.values():
        sold = supply(material)
        if sold.dissolved or sold.price_per_g is None:
            continue
        for offer in offers_of_supply(sold):
            if any(meets(library, offer, need) for need in needs) and offer[0] == one.main:
                grams = lacking / sold.fractions[offer[0]]
                price = digits.money(grams * sold.price_per_g, sold.currency)
                return f"buy {digits.mass(grams)} of {sold.name} (about {price})"
    return ""


def data(found: Replan) -> dict[str, Any]:
    """The ways on as plain data (grams, chances from 0 to 1)."""
    return {
        **{f.name: getattr(found, f.name) for f in fields(found)},
        "output_g": asdict(found.output_g) if found.output_g else None,
        "options": [
            {"kind": o.kind, "sentence": o.sentence, "chance": o.chance,
             "output_g": asdict(o.output_g) if o.output_g else None,
             "steps": list(o.route[1].ids) if o.route else None}
            for o in found.options
        ],
    }  # fmt: skip


def taken(found: Replan, number: int) -> tuple[str, Assessment]:
    """The route of a way on, by its number; raises InputError where there is none to begin."""
    if not 1 <= number <= len(found.options):
        raise FieldError("{f} {number}: there are {n} ways on", f="take", number=number,
                         n=len(found.options))  # fmt: skip
    option = found.options[number - 1]
    if option.route is None:
        raise FieldError(
            "{f} {number}: this way ({kind}) goes on in the same run; enter what is done",
            f="take", number=number, kind=option.kind,
        )  # fmt: skip
    return option.route
