"""From what is really there: the best way on, with the new chance of reaching the amount.

What was weighed dry is certain; only what lies downstream of it stays random. A step whose product
nobody could weigh (a solution) stays random too, fed from what was weighed before it. The options:
carry on, make up what is missing by repeating a step, buy the intermediate, another route, a
smaller target. The old plan stays in the journal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from routefinder import digits
from routefinder.assessment import equipment
from routefinder.assessment.assess import Assessment
from routefinder.assessment.uncertainty import Range, simulate
from routefinder.errors import FieldError, InputError
from routefinder.graph.needs import meets, need_of, offers_of_supply
from routefinder.journal.book import MADE, Book, StepBook
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import everywhere, supply
from routefinder.records.question import Question
from routefinder.records.shelf import Bench, Shelf, Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts

Search = Callable[[Question], Sequence[tuple[str, Assessment]]]


@dataclass(frozen=True)
class Option:
    """One way on: ``chance`` of reaching the amount, ``output_g`` to expect (P10, P50, P90).

    ``route`` is the other route, where it is one: its name and its assessment.
    """

    kind: str
    sentence: str
    chance: float | None = None
    output_g: Range | None = None
    route: tuple[str, Assessment] | None = None


@dataclass(frozen=True)
class Replan:
    """Where a run stands. ``expected_g`` is reached when the rest goes at typical yields."""

    target_g: float
    expected_g: float | None
    chance: float | None
    output_g: Range | None
    missing: tuple[str, ...]
    options: tuple[Option, ...]


def made_supplies(library: Library, book: Book) -> list[Supply]:
    """What was made, weighed dry, and taken by no later step yet, as supplies at no price."""
    out = []
    for step in book.steps:
        product = step.plan["product"]
        takers = [
            s for s in book.steps if any(f.get("from_step") == step.id for f in s.plan["feeds"])
        ]
        if step.out_g is None or step.wet or product["state"] != "s" or not takers:
            continue
        if any(s.done and s.out_g is not None for s in takers):
            continue
        name = f"{library.name(product['substance'])} made in step {step.number}"
        out.append(
            Supply(f"{MADE}{step.number}", name, "solid", {product["substance"]: 1.0},
                   product["substance"], amount_g=step.out_g, price_per_g=0.0)
        )  # fmt: skip
    return out


def left_on_shelf(book: Book, shelf: Sequence[Supply]) -> list[Supply]:
    """The shelf less what was weighed in and not yet taken off the shelf's file."""
    booked = {e.data.get("of_entry") for e in book.entries if e.kind == "shelf"}
    out = []
    for one in shelf:
        used = sum(
            row["grams"]
            for step in book.steps
            for row in step.ins.values()
            if row.get("material") == one.id and row["entry"] not in booked
        )
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


def _forecast(
    library: Library, found: Amounts, made: Sequence[Supply], shelf: Sequence[Supply]
) -> tuple[float, float, Range]:
    """(expected g, chance of the target, P10 to P90) from what is there."""
    import numpy as np

    stock = {s.id: s.amount_g for s in (*made, *shelf) if s.amount_g is not None}
    needed = {d.supply.id: d.as_weighed_g for d in found.draws}
    have = {k: v for k, v in stock.items() if needed.get(k, 0.0) > 0}
    if not have:
        have = {k: v for k, v in needed.items() if v > 0 and not _everywhere(found, k)}
    expected = found.target_g * min((v / needed[k] for k, v in have.items()), default=0.0)
    trial = simulate(library, found)
    counted = {k: v for k, v in have.items() if k in trial.need_g}
    output = trial.output_g(counted)
    low, middle, high = (float(v) for v in np.quantile(output, (0.1, 0.5, 0.9)))
    return expected, trial.chance(counted), Range(low, middle, high)


def _everywhere(found: Amounts, name: str) -> bool:
    return any(d.supply.id == name and d.supply.everywhere for d in found.draws)


def replan(
    library: Library,
    book: Book,
    shelf: Shelf,
    bench: Bench | None,
    search: Search,
    without: Sequence[str] = (),
) -> Replan:
    """The ways on from where a run stands. Raises InputError when the run is at its end."""
    target, target_g = book.run.data["target"], float(book.run.data["target_g"])
    last = book.steps[-1]
    if last.out_g is not None and not last.wet:
        raise InputError(f"run {book.run.run} is at its end: {digits.mass(last.out_g)} were made")
    bench = without_tools(bench, without)
    made = made_supplies(library, book)
    left = left_on_shelf(book, shelf.supplies)
    ids = {s.id for s in left}
    supplies = [*made, *left, *(s for s in everywhere(library) if s.id not in ids)]
    rest = rest_of(library, book, made)
    missing = tuple(
        f"{n.capability.in_words()} for {', '.join(library.steps[i].title for i in n.steps)}"
        for n in equipment.needed(library, rest, bench)
        if n.tool is None
    ) if bench is not None else ()  # fmt: skip
    options: list[Option] = []
    expected: float | None = None
    chance: float | None = None
    output: Range | None = None
    found: Amounts | None = None
    try:
        found = amounts(library, rest, supplies, target, target_g)
    except AssertionError as error:  # something the rest needs is not there at all
        missing = (*missing, str(error))
    if found is not None:
        stock = [s for s in left if not s.in_shop]
        expected, chance, output = _forecast(library, found, made, stock)
        if not missing:
            words = (
                f"carry on: {digits.mass(expected)} on the expected path, "
                f"{digits.mass(output.p10)} to {digits.mass(output.p90)} in 8 runs of 10"
            )
            options.append(Option("carry on", words, chance, output))
            options += _make_up(library, book, found, made, stock)
        if chance < 0.9 and output.p10 > 0 and not missing:
            options.append(
                Option("smaller target",
                       f"settle for {digits.mass(output.p10)}: reached in 9 runs of 10", 0.9)
            )  # fmt: skip
    now = replace(shelf, supplies=tuple(supplies), notes=())
    question = Question(target, target_g, now, bench, top=5)
    own = {s.id for s in rest}
    for name, other in search(question):
        if set(other.ids) == own:
            continue
        trial_made = [m for m in made if any(d.supply.id == m.id for d in other.amounts.draws)]
        likely, odds, spread = _forecast(
            library, other.amounts, trial_made, [s for s in left if not s.in_shop]
        )
        n = len(other.steps)
        options.append(
            Option("another route", f"another route, {digits.count(n, 'step')} ({name}): "
                   f"what is there gives up to {digits.mass(likely)}", odds, spread, (name, other))
        )  # fmt: skip
        if sum(o.kind == "another route" for o in options) == 3:
            break
    return Replan(target_g, expected, chance, output, missing, tuple(options))


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


def _make_up(
    library: Library,
    book: Book,
    found: Amounts,
    made: Sequence[Supply],
    stock: Sequence[Supply],
) -> list[Option]:
    """Repeating a step for what is missing, or buying that."""
    out = []
    for one in made:
        draw = next((d for d in found.draws if d.supply.id == one.id), None)
        have = one.amount_g or 0.0
        if draw is None or have <= 0 or draw.as_weighed_g <= have * (1 + 1e-9):
            continue
        lacking = draw.as_weighed_g - have
        maker = book.step(one.id.removeprefix(MADE))
        full = replace(one, amount_g=draw.as_weighed_g)
        _, chance, output = _forecast(
            library, found, [full if m.id == one.id else m for m in made], stock
        )
        starts = _more(maker, lacking / have, lacking / maker.plan["product"]["mass_g"])
        out.append(
            Option(
                "repeat",
                f"make up {digits.mass(lacking)} of {library.name(one.main)} by repeating step "
                f"{maker.number}: {starts}", chance, output,
            )
        )  # fmt: skip
        bought = _bought(library, one, found, lacking)
        if bought:
            out.append(Option("buy", bought, chance, output))
    return out


def _more(maker: StepBook, share: float, planned: float) -> str:
    words = []
    for feed in maker.plan["feeds"]:
        if feed.get("everywhere") or "from_step" in feed:
            continue
        logged = maker.ins.get(feed["name"])
        start = logged["grams"] if logged else feed["as_weighed_g"]
        words.append(
            f"{digits.mass(start * share)} {feed['name']} at the yield it gave "
            f"(+{share * 100:.1f} %; {digits.mass(feed['as_weighed_g'] * planned)} at the planned)"
        )
    return ", ".join(words) or "its start as before"


def _bought(library: Library, one: Supply, found: Amounts, lacking: float) -> str:
    needs = [
        need_of(library, part, amount.step)
        for amount in found.steps
        for part, feed in zip(amount.step.reactants, amount.feeds, strict=False)
        if isinstance(feed.origin, Supply) and feed.origin.id == one.id
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
