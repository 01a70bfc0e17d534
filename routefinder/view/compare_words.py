"""A comparison in words: the table's cells and the sections under it, for text and HTML alike."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.assessment.measure import MEASURES, Measure
from routefinder.choice import measures
from routefinder.choice.dominance import Dominated
from routefinder.library.evidence import of_yield
from routefinder.library.library import Library
from routefinder.listing import listed
from routefinder.view import danger_words
from routefinder.view.yield_words import rests_on

if TYPE_CHECKING:
    from routefinder.assessment.assess import Assessment
    from routefinder.results.answer import Answer
    from routefinder.results.comparison import Comparison

BEST, WORST = "▲", "▽"


@dataclass(frozen=True)
class Cell:
    """One measure of one route: ``mark`` is BEST, WORST or empty."""

    text: str
    mark: str


@dataclass(frozen=True)
class Section:
    """A heading with lines under it."""

    heading: str
    lines: tuple[str, ...]


def value(key: str, number: float, unit: str = "") -> str:
    """A value of a measure with its unit: "83 %", "2.2 d", "7.89 USD"."""
    kind = MEASURES[key]
    if kind.quantity == "share":
        return digits.percent(number / 100)
    if kind.quantity == "time":
        return digits.duration(number * 60)
    if kind.quantity == "money":
        return digits.money(number, unit or "USD")
    if kind.quantity == "temperature":
        return digits.temperature(number)
    if kind.quantity == "ratio":
        return f"{digits.significant(number, 2)} {kind.unit}"
    return f"{number:g} {kind.noun.removesuffix('s') if number == 1 else kind.noun}"


def cell_text(key: str, m: Measure) -> str:
    """A measure as a cell: typical value, and low to high where there are."""
    if m.typical is None:
        return "not known"
    text = value(key, m.typical, m.unit)
    if m.at_least:
        text = f"≥ {text}"
    if m.low is not None and m.high is not None:
        text += f" ({m.low:.0f}–{m.high:.0f})"
    return text


def table(found: Comparison) -> list[tuple[str, list[Cell]]]:
    """Rows of (measure, a cell a route): those compared by first, the others after them."""
    rows = []
    for key in (*found.keys, *(k for k in MEASURES if k not in found.keys)):
        every = [r.assessment.measures()[key] for r in found.routes]
        losses = [measures.losses(r.assessment, (key,))[0] for r in found.routes]
        cells = []
        for m, loss in zip(every, losses, strict=True):
            mark = ""
            if max(losses) > min(losses):
                mark = BEST if loss == min(losses) else WORST if loss == max(losses) else ""
            cells.append(Cell(cell_text(key, m), mark))
        rows.append((measures.title(key), cells))
    worst = [Cell(_danger(r.assessment), "") for r in found.routes]
    rows.append(("worst danger", worst))
    return rows


def _danger(found: Assessment) -> str:
    """The worst danger in a narrow cell: its words in lines, then the squares."""
    worst = found.worst_danger
    if worst is None:
        return danger_words.NONE
    return "\n".join([*textwrap.wrap(worst.words, 16), danger_words.level(worst.points)])


def why_dominated(
    verdict: Dominated, mine: Assessment, other: Assessment, name: str, by: str
) -> str:
    """Which route dominates which, and in what, with both figures."""
    a, b = mine.measures(), other.measures()
    parts = [
        f"{measures.title(k)} {value(k, b[k].typical or 0.0, b[k].unit)} against "
        f"{value(k, a[k].typical or 0.0, a[k].unit)}"
        for k in verdict.where
    ]
    return f"{name} by {by}: no worse in anything compared, better in {listed(parts)}."


def _numbers(found: Comparison, places: Sequence[int]) -> str:
    word = "route" if len(places) == 1 else "routes"
    return f"{word} {listed([str(found.routes[i].number) for i in places])}"


def _title(library: Library, step: str) -> str:
    return f"“{library.steps[step].title}”"


def sections(found: Comparison) -> list[Section]:
    """Everything under the table."""
    out = [_dominance(found), *_front(found), *_shared(found), *_groups(found)]
    out.append(scores_section(found))
    if found.robust is not None:
        out += [_acceptability(found), _turns(found)]
    return [
        Section(s.heading, tuple(x if x[-1] in ".:" else f"{x}." for x in s.lines))
        for s in out
        if s.lines
    ]


def _dominance(found: Comparison) -> Section:
    words = listed([measures.word(k) for k in found.keys])
    lines = [
        why_dominated(
            verdict, route.assessment, found.routes[verdict.by - 1].assessment,
            f"Route {route.number}", f"route {found.routes[verdict.by - 1].number}",
        )
        for route, verdict in zip(found.routes, found.dominated, strict=True)
        if verdict is not None
    ]  # fmt: skip
    if not lines and len(found.routes) > 1:
        lines = ["None of these routes: each is better than each other one in something."]
    return Section(f"Dominated in {words}", tuple(lines))


def front_sentence(answer: Answer) -> str:
    """What the non-dominated search can vouch for."""
    front = answer.front
    if front is None:
        return ""
    words = listed([measures.word(k) for k in front.keys])
    shown = len(answer.routes)
    size = f"{front.size} routes are" if front.size != 1 else "1 route is"
    text = f"{size} non-dominated in {words}"
    if shown < front.size:
        text += f" (the first {shown} by {answer.question.order} are listed; --top for more)"
    text += f"; {front.beaten} dominated ones were looked at"
    if front.cut:
        text += f", and {front.cut} branches cut off in which every route is dominated"
    if front.complete:
        return (
            text + ". The set is complete: no other route within the limits belongs to it (proven)."
        )
    order = answer.question.order
    name = "step charges" if order == "cost" else f"the {order} order"
    return (
        f"{text}. The search was stopped after {answer.seconds:.0f} s: the set is complete "
        f"among the routes that cost less than {digits.significant(front.below, 4)} in {name} (the "
        f"dearest listed: {digits.significant(max(r.cost for r in answer.routes), 4)}); "
        "dearer ones were not all looked at. --seconds gives it longer."
    )


def _front(found: Comparison) -> list[Section]:
    front = found.answer.front
    if front is None:
        return []
    lines = [front_sentence(found.answer)]
    library = found.answer.library
    for beaten in front.examples:
        by = found.answer.routes[beaten.dominated.by - 1]
        name = listed([library.steps[s].title for s in beaten.steps])
        lines.append(
            why_dominated(
                beaten.dominated, beaten.assessment, by.assessment, f"Left out: {name}; dominated",
                f"route {by.number}",
            )
        )  # fmt: skip
    return [Section("Non-dominated routes", tuple(lines))]


def _shared(found: Comparison) -> list[Section]:
    if len(found.routes) < 2:
        return []
    library, both = found.answer.library, found.shared
    lines = []
    if both.steps:
        lines.append("Steps of all: " + listed([_title(library, s) for s in both.steps]) + ".")
    else:
        lines.append("They share no step.")
    if both.materials:
        lines.append(f"Materials of all: {listed(list(both.materials))}.")
    for parting in both.partings:
        ways = [
            f"{_numbers(found, places)}: "
            + (_title(library, origin) if origin in library.steps else origin)
            for origin, places in parting.ways
        ]
        all_of_them = len(parting.routes) == len(found.routes)
        who = "They" if all_of_them else _numbers(found, parting.routes).capitalize()
        lines.append(f"{who} part at {library.name(parting.substance)}: {'; '.join(ways)}.")
    return [Section("What they share, and where they part (from the target back)", tuple(lines))]


def _groups(found: Comparison) -> list[Section]:
    if len(found.routes) < 2:
        return []
    lines = [
        f"{_numbers(found, group.routes).capitalize()}: {group.reason}." for group in found.groups
    ]
    n = len(found.groups)
    head = "One way only" if n == 1 else f"{n} really different ways"
    return [Section(head, tuple(lines))]


def scores_section(found: Comparison) -> Section:
    """The value functions, and each route's score measure by measure."""
    if not found.preferred:
        return Section("", ())
    lines = []
    for part in found.scores[0].parts:
        unit = found.routes[0].assessment.measures()[part.key].unit
        whose = "as given" if part.given else "from the worst and the best of these routes"
        if part.worst == part.best:
            lines.append(
                f"{measures.title(part.key)}, weight {part.weight:g}: the same in all, worth 1"
            )
            continue
        lines.append(
            f"{measures.title(part.key)}, weight {part.weight:g}: worth 0 at "
            f"{value(part.key, part.worst, unit)}, 1 at {value(part.key, part.best, unit)}, a "
            f"straight line between ({whose})"
        )
    for i in found.ranking:
        score = found.scores[i]
        terms = [
            f"{measures.word(p.key)} {p.weight:g} × {digits.significant(p.worth, 3)}"
            for p in score.parts
        ]
        whole = sum(p.weight for p in score.parts)
        text = (
            f"Route {found.routes[i].number}: {digits.significant(score.total, 3)} = "
            f"({' + '.join(terms)}) / {whole:g}"
        )
        if score.broken:
            text += f"; breaks your must-have on {listed([measures.word(k) for k in score.broken])}"
        lines.append(text)
    lines += _must_haves(found)
    return Section("By your preferences", tuple(lines))


def _must_haves(found: Comparison) -> list[str]:
    out = []
    for wish in found.wishes:
        if wish.limit is not None:
            side = f"at {measures.side(wish.key)}"
            unit = found.routes[0].assessment.measures()[wish.key].unit
            limit = value(wish.key, wish.limit, unit)
            out.append(
                f"Must-have: {measures.word(wish.key)} {side} {limit} (what breaks it comes last)"
            )
    return out


def _share(fraction: float) -> str:
    """A share of draws; whole per cents are as good as thousands of draws tell."""
    percent = 100 * fraction
    if 0 < percent < 1:
        return "under 1 %"
    if 99 < percent < 100:
        return "over 99 %"
    return f"{percent:.0f} %"


def _acceptability(found: Comparison) -> Section:
    r = found.robust
    if r is None:
        return Section("", ())
    own = "your weights" if found.preferred else "equal weights"
    lines = []
    order = sorted(range(len(found.routes)), key=lambda i: -r.shares[i].any_weights)
    for i in order:
        share = r.shares[i]
        text = (
            f"Route {found.routes[i].number}: first in {_share(share.own_weights)} of the "
            f"draws with {own}, in {_share(share.any_weights)} with any weights"
        )
        if share.central is not None and share.confidence is not None and len(share.central) > 1:
            mean = [
                f"{measures.word(k)} {digits.significant(w, 2)}" for k, w in share.central.items()
            ]
            text += (
                f"; typical weights for it: {listed(mean)} (then first in "
                f"{_share(share.confidence)})"
            )
        lines.append(text)
    lines.append(
        f"Drawn {r.draws} times (seed {r.seed}): yields and purities from their ranges; prices "
        f"within a factor of {r.price_factor:g} and times within {r.time_factor:g} in 8 of 10 "
        "cases (our assumption); any weights: evenly over all that add up to 1. Method: stochastic "
        "multicriteria acceptability analysis (Lahdelma, Hokkanen and Salminen 1998)."
    )
    return Section("How robust: how often each comes first", tuple(lines))


def _turns(found: Comparison) -> Section:
    r = found.robust
    if r is None:
        return Section("", ())
    library, routes = found.answer.library, found.routes
    own = "your weights" if found.preferred else "equal weights"
    first = routes[r.first].number
    lines = [f"First with {own} and typical figures: route {first}."]
    if r.tied:
        lines.append(f"Level with it: {_numbers(found, r.tied)}.")
    for turn in r.weight_turns:
        if turn.other in r.tied:
            continue
        lines.append(
            f"Route {routes[turn.other].number} draws level if {measures.word(turn.key)} weighs "
            f"{digits.significant(turn.to, 3)} instead of {turn.now:g}"
        )
    for by_yield in r.yield_turns:
        if by_yield.other in r.tied:
            continue
        side = "under" if by_yield.under else "over"
        within = "within" if by_yield.likely else "outside"
        y = library.steps[by_yield.step].record.yield_
        known = rests_on(of_yield(y))
        lines.append(
            f"Route {routes[by_yield.other].number} overtakes if {_title(library, by_yield.step)} "
            f"gives {side} {digits.percent(by_yield.at)} (typically "
            f"{digits.percent(by_yield.typical)}; {within} its range of {digits.percent(y.low)} to "
            f"{digits.percent(y.high)}{known and f', {known}'})"
        )
    never = [i for i in r.never if i not in r.tied]
    if never:
        lines.append(
            f"No single weight and no single step's yield puts {_numbers(found, never)} first."
        )
    return Section("What would turn the order", tuple(lines))
