"""What the terminal shows. Computed elsewhere; nothing is worked out here."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.asking.fields import FIELDS
from routefinder.assessment.carried import Carried
from routefinder.assessment.purity import Purity
from routefinder.choice import measures
from routefinder.disclaimer import DISCLAIMER
from routefinder.hazards.score import unknown_in
from routefinder.hidden import visible
from routefinder.library import where
from routefinder.library.library import Library
from routefinder.library.value import NAMES
from routefinder.listing import listed
from routefinder.search.route import Ending
from routefinder.vessel.feed import Feed
from routefinder.vessel.linked import Handover
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.water import Liquor, liquors
from routefinder.view import compare_words, danger_words, state_words, surprise_words
from routefinder.view.state_words import strength_words
from routefinder.view.words import poured_or_weighed
from routefinder.view.yield_words import yield_words

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.assessment.assess import Assessment
    from routefinder.hazards.controls import Controlled
    from routefinder.results.answer import Answer, Lack, NetworkAnswer, Route
    from routefinder.results.unlocked import Unlocked


NARROWEST = 40  # columns; a terminal may say 0


def console(width: int | None = None, **options: Any) -> Console:
    """A rich console without its own idea of highlighting numbers.

    What nobody sees in a text (a name from a file, a note) is spelled out. At least NARROWEST wide.
    """
    import os

    from rich.console import Console
    from rich.segment import Segment

    class Plain(Console):
        def render(self, *given: Any, **named: Any) -> Iterable[Segment]:
            for part in super().render(*given, **named):
                yield part if part.control else Segment(visible(part.text), part.style)

    if width is None and not os.isatty(1) and "COLUMNS" not in os.environ:
        width = 110
    out = Plain(highlight=False, width=width, emoji=False, markup=False, **options)
    if out.width < NARROWEST:
        out.width = NARROWEST
    return out


def say(out: Console, text: str, indent: int = 0, hang: int = 0, style: str | None = None) -> None:
    """Print a paragraph, wrapped at the console's width with a hanging indent."""
    filled = textwrap.fill(
        text,
        width=out.width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_long_words=False,
        break_on_hyphens=False,
    )
    out.print(filled, style=style, soft_wrap=True)


def print_answer(answer: Answer, out: Console, route: int = 1) -> None:
    """The ranked table, how the search ended, what was set aside, and one route in short."""
    print_head(answer, out)
    if answer.routes:
        _print_state(answer, out)
        print_routes(answer.routes, out)
        out.print(ending_sentence(answer), style="italic")
        print_notes(answer, out)
        out.print()
        asked = answer.question.state
        print_route(answer.routes[route - 1], out, asked.strength if asked else None)
        licensed = [str(r.number) for r in answer.routes if r.assessment.licensed]
        print_controls([answer.routes[route - 1]], out)
        if licensed:
            one = len(licensed) == 1
            say(
                out,
                f"Route{'' if one else 's'} {', '.join(licensed)} need{'s' if one else ''} a "
                "licensed material in some country; --no-licence sets such routes aside.",
                0,
                2,
            )
    else:
        print_none(answer, out)
        print_notes(answer, out)
    if answer.question.reuse:
        print_reuse(answer.routes, out)
    print_lost(answer, out)
    print_disclaimer(out)


def print_network_answer(answer: NetworkAnswer, out: Console) -> None:
    """Routes in a plain network: cost and steps in order."""
    found = answer.found
    say(out, f"{answer.target} from {answer.source}", style="bold")
    say(out, f"at hand: {', '.join(answer.shelf)}", 0, 2)
    out.print()
    for i, route in enumerate(found.routes, start=1):
        mark = "" if route.proven else "?"
        say(out, f"{i:>3}{mark}  cost {route.cost:g}: {' → '.join(route.steps)}", 0, 6)
    n = len(found.routes)
    if found.ending is Ending.ALL:
        out.print(f"No more routes exist than {'this one' if n == 1 else f'these {n}'} (proven).")
    elif found.ending is Ending.PROVEN:
        out.print(f"The best {n}, in this order (proven); more may exist.")
    elif found.ending is Ending.STOPPED:
        out.print(f"Stopped after {found.seconds:.1f} s; gap {found.gap:.0%}.")
    else:
        out.print("No route.")
        if answer.nearest is not None:
            say(out, f"Nearest: it lacks {', '.join(answer.nearest.lacking)}.", 0, 2)
    for refused in answer.refused[:8]:
        say(
            out,
            f"Step {refused.step} is left out: {refused.node} is on a list that routefinder does "
            f"not plan for ({refused.hit.title}).",
            0,
            2,
        )
    if len(answer.refused) > 8:
        out.print(f"{len(answer.refused) - 8} more steps are left out so; --json names all.")
    print_disclaimer(out)


def of_your_runs(notes: Sequence[str], titles: Sequence[str]) -> list[str]:
    """The notes that say where your own runs sharpened the yields of these steps."""
    return [n for n in notes if any(n.startswith(f"{title}: ") for title in titles)]


def print_disclaimer(out: Console) -> None:
    """Information, not permission."""
    out.print()
    say(out, DISCLAIMER, style="italic")


def print_head(answer: Answer | Unlocked, out: Console) -> None:
    """What was asked."""
    target, q = answer.target, answer.question
    formula = f"  {target.label}" if target.formula else ""
    out.print(f"{target.name}{formula}", style="bold")
    wanted = digits.mass(q.amount_g)
    if target.formula:
        wanted += f" = {digits.significant(q.amount_g / target.molar_mass_g, 4)} mol"
    given = [f"wanted: {wanted}", f"shelf: {short_path(q.shelf.name)}"]
    bench = short_path(q.bench.name) if q.bench else "none given (needs are listed)"
    given.append(f"bench: {bench}")
    charged = f" (materials and {q.step_cost:g} a step for heat, filters, gloves)"
    given.append(f"order: {q.order}" + charged * (q.order == "cost"))
    given += _limit_words(answer)
    say(out, " · ".join(given))
    out.print()


def short_path(name: str) -> str:
    """A path as a person would say it: below the shipped examples, or below this folder."""
    path = Path(name)
    for folder in (where.examples().parent, Path.cwd()):
        if path.is_absolute() and path.is_relative_to(folder):
            return str(path.relative_to(folder))
    return name


def _limit_words(answer: Answer | Unlocked) -> list[str]:
    q = answer.question
    words = []
    for field in FIELDS:
        value = field.kept(q) if field.words else None
        if field.words and value not in (None, False, 0, (), "no"):
            words.append(field.words(value, answer.library))
    for key, worst in q.limits.measures:
        side = measures.side(key)
        words.append(f"{measures.word(key)} at {side} {compare_words.value(key, worst)}")
    return words


NARROW = 100  # columns below which the figures of a route stand under its name


def _yield_words(a: Assessment, between: str) -> str:
    found = a.overall_yield
    y = digits.percent((found.typical or 0.0) / 100)
    if found.low is not None and found.high is not None:
        low, high = found.low / 100, found.high / 100
        y += between.format(f"{digits.percent(low)[:-2]}–{digits.percent(high)}")
    return y


def _name(route: Route, variants: Mapping[int, Sequence[Route]]) -> str:
    return route.name + _and_variants(route, variants)


def table(routes: Sequence[Route], variants: Mapping[int, Sequence[Route]]) -> Any:
    """The ranked table of routes; ``variants`` stand folded under the number of their leader.

    The worst danger stands under the name of each.
    """
    from rich import box
    from rich.table import Table

    out = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), expand=False)
    out.add_column("#", justify="right", no_wrap=True)
    out.add_column("route, and its worst danger", min_width=30, ratio=1)
    for heading in ("steps", "yield", "peak", "work", "elapsed", "materials"):
        out.add_column(heading, justify="right", no_wrap=True)
    if any(r.assessment.missing for r in routes):
        out.add_column("missing", justify="right")
    for route in routes:
        a = route.assessment
        danger = danger_words.in_line(a.worst_danger)
        cells = [
            str(route.number) + ("" if route.proven else "?"),
            f"{_name(route, variants)}\n{danger}",
            str(len(a.steps)),
            _yield_words(a, "\n{}"),
            digits.temperature(a.peak_C),
            digits.duration(a.hands_on_min),
            digits.duration(a.elapsed_min),
            digits.money(a.cost.typical or 0.0, a.cost.unit, a.cost.at_least),
        ]
        if any(r.assessment.missing for r in routes):
            cells.append(str(len(a.missing)))
        out.add_row(*cells)
    return out


def print_stacked(
    routes: Sequence[Route], variants: Mapping[int, Sequence[Route]], out: Console
) -> None:
    """The routes with the figures of the table under their names, for a narrow terminal."""
    for route in routes:
        a = route.assessment
        mark = "" if route.proven else "?"
        say(out, f"{route.number:>3}{mark}  {_name(route, variants)}", 0, 5)
        figures = [
            digits.count(len(a.steps), "step"),
            f"yield {_yield_words(a, ' ({})')}",
            f"peak {digits.temperature(a.peak_C)}",
            f"work {digits.duration(a.hands_on_min)}",
            f"elapsed {digits.duration(a.elapsed_min)}",
            f"materials {digits.money(a.cost.typical or 0.0, a.cost.unit, a.cost.at_least)}",
        ]
        if a.missing:
            figures.append(f"missing {len(a.missing)}")
        say(out, ", ".join(figures), 5)
        say(out, f"worst danger: {danger_words.in_line(a.worst_danger)}", 5, 2)
    out.print()


def print_routes(routes: Sequence[Route], out: Console) -> None:
    """The table of ways, near-duplicates folded under the first of their way, then the rest."""
    leaders = [r for r in routes if r.variant_of is None]
    variants: dict[int, list[Route]] = {}
    for route in routes:
        if route.variant_of is not None:
            variants.setdefault(route.variant_of, []).append(route)
    shown = [r for r in leaders if r.dominated is None]
    if out.width < NARROW:
        print_stacked(shown, variants, out)
    else:
        out.print(table(shown, variants))
    print_dominated(leaders, variants, out)
    if variants:
        out.print("Variants, the same way with other side work (in full with --route N):")
        for number, others in sorted(variants.items()):
            for route in others:
                say(out, f"{route.number:>3} of {number}: {route.name}", 0, 4)
        out.print()


def _and_variants(route: Route, variants: Mapping[int, Sequence[Route]]) -> str:
    n = len(variants.get(route.number, ()))
    return f" (and {n} variant{'s' * (n > 1)})" if n else ""


def print_dominated(
    routes: Sequence[Route], variants: Mapping[int, Sequence[Route]], out: Console
) -> None:
    """Routes that another is no worse than in anything, a line each."""
    worse = [r for r in routes if r.dominated is not None]
    if not worse:
        return
    out.print("Dominated, that is, no better in anything than the route named:")
    for route in worse:
        verdict = route.dominated
        if verdict is None:
            continue
        a = route.assessment
        where = ", ".join(_measure_name(n) for n in verdict.where[:3])
        say(
            out,
            f"{route.number:>3} by {verdict.by} (better in {where}): {route.name}"
            f"{_and_variants(route, variants)}; "
            f"{digits.count(len(a.steps), 'step')}, yield {_yield_words(a, '')}",
            0,
            4,
        )
    out.print()


def _measure_name(name: str) -> str:
    return name.replace("_", " ").replace("e factor", "waste").replace("hands on", "work")


def ending_sentence(answer: Answer) -> str:
    """How the search ended, in a sentence."""
    if answer.front is not None and answer.routes:
        return compare_words.front_sentence(answer)
    n = len(answer.routes)
    are = "This is the one best route" if n == 1 else f"These are the {n} best routes"
    if answer.ending is Ending.ALL:
        return ("This is the only route" if n == 1 else f"These are all {n} routes") + (
            " within the limits (proven)."
        )
    if answer.ending is Ending.PROVEN:
        order = "" if answer.question.use_up else " in this order"
        return f"{are}{order} (proven); more exist."
    if answer.ending is Ending.STOPPED:
        return (
            f"Stopped after {answer.seconds:.1f} s: routes without '?' are proven; an unseen route "
            f"could undercut the last by up to {answer.gap:.0%}."
        )
    return "There is no route."


def print_notes(answer: Answer, out: Console) -> None:
    """Remarks on the shelf and the narrowing."""
    for note in answer.notes:
        say(out, f"Note: {note}.", 0, 2)


def _print_state(answer: Answer, out: Console) -> None:
    """In what state the routes end, where it is not the one that is wanted."""
    words = state_words.sentence(answer)
    if words:
        say(out, words, 0, 2, "bold")


def print_route(route: Route, out: Console, strength: float | None = None) -> None:
    """One route in short: per step what goes in, what comes out, how.

    ``strength`` is the mass fraction that was asked for.
    """
    a = route.assessment
    say(out, f"Route {route.number}: {route.name}", 0, 2, "bold")
    numbers = {s.id: i for i, s in enumerate(a.steps, start=1)}
    made = liquors(route.library, a.amounts)
    for amount in a.amounts.steps:
        _print_step(route, amount, numbers, made.get(amount.step.id), out)
    for line in (
        surprise_words.surprise_line(route.library, a.surprises, numbers),
        surprise_words.chosen_line(route.library, a.amounts),
    ):
        if line:
            say(out, line, 0, 2)
    limit = a.limiting_yield
    if limit is not None:
        say(
            out,
            f"Overall yield on {limit.supply.name} (the limiting starting material): "
            f"{digits.percent(limit.typical)} ({digits.percent(limit.low)} to "
            f"{digits.percent(limit.high)}).",
            0,
            2,
        )
    others = [
        f"{y.supply.name} {digits.percent(y.typical)} ({digits.percent(y.low)} to "
        f"{digits.percent(y.high)})"
        for y in a.overall
        if not y.limits
    ]
    if others:
        say(out, f"On the others: {', '.join(others)}.", 0, 2)
    if a.carried is not None:
        say(out, carried_words(a.carried), 0, 2)
    for x in a.links:
        say(out, link_words(x, numbers), 0, 2)
    ends = state_words.ends_words(a.ends, strength)
    if ends:
        say(out, ends, 0, 2)
    say(out, purity_words(route.library, a.purity), 0, 2)
    _print_leavings(route, out)
    first = a.runs_out_first
    if first is not None:
        draw, share = first
        if share < 1:
            out.print(
                f"Not enough on the shelf: {draw.supply.name} covers {digits.percent(share)} of "
                f"this plan."
            )
        else:
            out.print(f"{draw.supply.name} would run out first, at {share:.1f} times this plan.")
    for step_id, why in a.marginal:
        say(out, f"Marginal, step {numbers[step_id]}: {why}.", 0, 2)
    print_dangers(a, numbers, out)
    unknown = list(dict.fromkeys(n for s in a.steps for n in unknown_in(route.library, s)))
    if unknown:
        say(out, f"No hazard data, counted cautiously: {', '.join(unknown)}.", 0, 2)


LINKS = {"wet": "goes on as a wet cake, not dried", "slurry": "goes on as a slurry, not filtered"}


def link_words(link: Handover, numbers: Mapping[str, int]) -> str:
    """How a solid goes from one step into the next."""
    text = f"Step {numbers[link.maker]} to {numbers[link.taker]}: "
    if link.how == "isolated":
        return text + "isolated as its step says" + (f" ({link.why})." if link.why else ".")
    saved = f" ({digits.duration(link.saved_min)} less waiting)" if link.saved_min else ""
    return text + LINKS[link.how] + saved + "."


def print_dangers(a: Assessment, numbers: Mapping[str, int], out: Console) -> None:
    """What is dangerous in a route, the greatest first, each with its cause and step."""
    if not a.dangers:
        out.print(f"Dangers: {danger_words.NONE}, which is no proof that there is none.")
        return
    out.print("Dangers, in our own order from 1 to 4:")
    for each in a.dangers:
        say(out, danger_words.with_cause(each, f", step {numbers[each.step]}"), 2, 4)


def print_controls(routes: Sequence[Route], out: Console) -> None:
    """Controlled substances of routes: each list once a substance, and who needs a licence."""
    lines: dict[str, list[int]] = {}
    for route in routes:
        for c in route.assessment.controlled:
            if c.matters:
                lines.setdefault(control_words(c), []).append(route.number)
    if not lines:
        return
    out.print("Controlled substances; check your country:", style="bold")
    for line, numbers in lines.items():
        who = ""
        if len(routes) > 1:
            numbers = list(dict.fromkeys(numbers))
            every = len(numbers) == len(routes)
            listed = ", ".join(map(str, numbers))
            who = "all routes: " if every else f"route{'s' * (len(numbers) > 1)} {listed}: "
        say(out, who + line, 2, 2)


def control_words(c: Controlled) -> str:
    """One controlled substance: where it stands, on which list, and what follows."""
    hit = c.hit
    what = c.name if c.material is None else c.material
    if c.material is None:
        what += " (made on the way)"
    elif c.name not in c.material:
        what += f" ({c.name})"
    text = f"{what}: {hit.title}"
    if c.licence and c.strength is not None and hit.limit is not None:
        text += f", {digits.percent(c.strength)} is above the limit of {digits.percent(hit.limit)}"
        return text + "; needs a licence there"
    if hit.limit is not None and c.over is None:
        return text + f", limit {digits.percent(hit.limit)}; its strength is not known"
    if hit.limit is not None:
        return text + f", above the limit of {digits.percent(hit.limit)}"
    return text + (f", {hit.threshold}" if hit.threshold not in ("", "any", "none") else "")


def _print_step(
    route: Route,
    amount: StepAmounts,
    numbers: dict[str, int],
    liquor: Liquor | None,
    out: Console,
) -> None:
    step = amount.step
    window = step.record.temperature
    where = digits.window(window.low_C, window.high_C)
    time = amount.times
    out.print(f"{numbers[step.id]:>3}. {step.title}", style="bold")
    out.print(
        f"     {where}; {digits.duration(time.hands_on_min)} work"
        + (f", {digits.duration(time.waiting_min)} waiting" if time.waiting_min else "")
        + f"; yield {yield_words(step.record.yield_)}"
    )
    takes = [feed_words(f, numbers) for f in amount.feeds if f.drawn_g > 1e-9]
    say(out, f"take  {'; '.join(takes)}", 5, 6)
    product = amount.product
    substance = route.library.substances[product.substance]
    made = f"{digits.mass(product.mass_g)} {substance.label}"
    if product.state == "aq":
        made += " in solution" + strength_words(liquor)
    gases = [
        f"{digits.gas(o.moles)} {route.library.substances[o.substance].label} gas"
        for o in amount.outcomes
        if o.fate == "gas"
    ]
    if not step.is_recipe:
        made += f" (at most {digits.mass(amount.theoretical_g)})"
    say(out, "gives " + "; ".join([made, *gases]), 5, 6)


def feed_words(feed: Feed, numbers: dict[str, int]) -> str:
    """One thing to weigh or measure out."""
    if isinstance(feed.origin, str):
        return f"{digits.mass(feed.as_weighed_g)} from step {numbers[feed.origin]}"
    supply = feed.origin
    if supply.form == "gas":
        return f"{supply.name}"
    role = "" if feed.role == "reactant" else f" ({feed.role})"
    if feed.spared_g > 0:
        role = f" ({feed.role}, to make up what the others bring)"
    if feed.after:
        role = f" ({feed.role}, when the reaction is over)"
    return f"{poured_or_weighed(supply, feed.drawn_g)} {supply.name}{role}"


def carried_words(found: Carried) -> str:
    """The yield on what is carried, by which ways are compared."""
    what = NAMES[found.value]
    share = digits.percent(found.share)
    return (
        f"Of the {what} taken ({listed([s.name for s, _ in found.supplies])}), {share} is in the "
        "product: the yield by which ways are compared."
    )


def purity_words(library: Library, found: Purity) -> str:
    """How pure the product is, as computed, and what else is in it."""
    besides = [
        f"{digits.percent(share)} {library.substances[w].label if w in library.substances else w}"
        for w, share in found.besides[:4]
    ]
    if not besides:
        return "Purity, as computed: nothing else in it worth naming."
    return f"Purity, as computed: about {digits.percent(found.share)} ({listed(besides)} besides)."


def _print_leavings(route: Route, out: Console) -> None:
    w = route.assessment.waste
    solids = _by_mass(route, {"waste", "unreacted", "lost"})
    line = (
        f"Left over per gram of product: {digits.significant(w.e_factor_without_water, 2)} g "
        f"besides {digits.significant(w.water_g / route.assessment.amounts.target_g, 2)} g of water"
    )
    if solids:
        line += f" ({', '.join(solids[:5])})"
    say(out, line + ".", 0, 2)
    kept = _by_mass(route, {"surplus"})
    if kept:
        say(out, f"Kept, not used: {', '.join(kept[:5])}.", 0, 2)


def _by_mass(route: Route, kinds: set[str]) -> list[str]:
    """What is left over of these kinds, the most first; water and traces not named."""
    sums: dict[str, float] = {}
    for x in route.assessment.waste.leavings:
        if x.kind in kinds and x.substance != "water":
            label = route.library.substances[x.substance].label
            sums[label] = sums.get(label, 0.0) + x.mass_g
    return [
        f"{digits.mass(mass)} {label}"
        for label, mass in sorted(sums.items(), key=lambda item: -item[1])
        if mass > 0.5
    ]


def print_lost(answer: Answer, out: Console) -> None:
    """Routes that the limits set aside, and the reasons."""
    if not answer.lost:
        return
    out.print()
    out.print("Set aside by your limits:", style="bold")
    shown: dict[str, dict[str, None]] = {}
    for lost in answer.lost:
        for reason in lost.reasons:
            by = "" if reason.limit == "bench" else f" ({reason.limit})"  # the sentence names it
            shown.setdefault(reason.step, {})[f"{reason.reason}{by}"] = None
    for step, reasons in list(shown.items())[:8]:
        out.print(f"  {answer.library.steps[step].title}")
        for why in reasons:
            say(out, why, 6, 2)
    if len(shown) > 8:
        out.print(f"  and {len(shown) - 8} more steps; --json lists all")


def print_reuse(routes: Sequence[Route], out: Console) -> None:
    """What feeding by-products back saves on each route, and the starting charges."""
    out.print()
    out.print("Reuse, batch after batch:", style="bold")
    for route in routes:
        found = route.reuse
        if found.refused:
            say(out, f"{route.number:>3}: not reckoned: {found.refused}", 0, 5)
            continue
        if not found.savings:
            say(out, f"{route.number:>3}: nothing that is recovered saves anything", 0, 5)
            continue
        saved = [
            f"{digits.mass(s.plain_g - s.reused_g)} of {digits.mass(s.plain_g)} {s.supply.name} "
            f"({digits.percent(s.share)})"
            for s in found.savings
        ]
        currency = route.assessment.cost.unit
        money = f", {digits.money(found.money, currency)}" if found.money >= 0.005 else ""
        say(out, f"{route.number:>3}: saves {'; '.join(saved)}{money}", 0, 5)
        numbers = {s.id: i for i, s in enumerate(route.assessment.steps, start=1)}
        for flow in found.fed_back:
            label = route.library.substances[flow.substance].label
            where = f"from step {numbers[flow.maker]} to step {numbers[flow.taker]}"
            start = "; the first batch needs as much as a starting charge" if flow.back else ""
            say(out, f"{digits.mass(flow.mass_g)} {label} {where}{start}", 5, 2)


def print_none(answer: Answer, out: Console) -> None:
    """Why there is no route."""
    why = answer.why_none
    if why is None:
        return
    out.print(f"No route. {why.sentence}", style="bold")
    for name in why.lacking if not why.near else ():
        out.print(f"  lacking: {name}")
    for lack in why.near[0].lacks if why.near else ():
        say(out, f"lacking: {lack_words(lack)}", 2, 4)
    for aside in why.aside:
        title = answer.library.steps[aside.step].title
        out.print(f"  set aside ({aside.limit}): {title}: {aside.reason}")
    if why.nearest:
        out.print("The nearest route:")
        for i, step_id in enumerate(why.nearest, start=1):
            out.print(f"  {i}. {answer.library.steps[step_id].title}")
    for other in why.near[1:]:
        lacks = "; ".join(lack_words(x) for x in other.lacks)
        last = answer.library.steps[other.steps[-1]].title
        say(out, f"Or as near, ending with '{last}': {lacks}", 0, 2)


def does_words(words: str) -> str:
    """What equipment is needed for, after "to"."""
    return f"have {words}" if words.startswith("a vessel") else words


OR_ELSE = 3  # things accepted instead that are named; the rest is counted


def lack_words(lack: Lack) -> str:
    """One thing that a route lacks, and what would be accepted instead."""
    text = lack.name
    if lack.does:
        text += f", to {'; to '.join(map(does_words, lack.does))}"
    shown = list(lack.or_else[:OR_ELSE])
    more = len(lack.or_else) - len(shown)
    if shown:
        rest = f"; or {more} more" if more else ""
        text += f" (or instead: {'; '.join(shown)}{rest})"
    return text


def answer_html(answer: Answer) -> str:
    """The ranked table for a notebook."""
    import io

    out = console(width=120, record=True, file=io.StringIO())
    print_head(answer, out)
    if answer.routes:
        _print_state(answer, out)
        print_routes(answer.routes, out)
        out.print(ending_sentence(answer))
    else:
        print_none(answer, out)
    print_disclaimer(out)
    return out.export_html(inline_styles=True, code_format="<pre>{code}</pre>")
