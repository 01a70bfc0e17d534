"""A plan as one self-contained page: the only door to jinja2.

Nothing in the page comes from the network, and it holds no script. Everything that is text is
escaped by the template, so that markup in a record shows as text; the drawings are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import OutOfReach
from routefinder.hidden import visible
from routefinder.view import (
    bench_words,
    danger_words,
    explain,
    pictograms,
    plan_tables,
    plan_words,
    plots,
)
from routefinder.view.doubt_words import doubts
from routefinder.view.picture import pictures
from routefinder.view.plan_tables import PlanTable
from routefinder.view.words import under_never
from routefinder.worksheet.bench_work import StepWork, bench_work
from routefinder.worksheet.plan import Plan

if TYPE_CHECKING:
    from routefinder.results.answer import Answer, Route


@dataclass(frozen=True)
class _Plots:
    charts: tuple[plots.Chart, ...]
    missing: str


def title(plan: Plan) -> str:
    """ "250 g copper(II) acetate monohydrate"."""
    return f"{digits.mass(plan.asked_g)} {plan.library.name(plan.amounts.target)}"


def html(plan: Plan, answer: Answer, paper: str = "") -> str:
    """The page; ``answer`` is where the plan comes from (the other routes stand in it).

    ``paper`` fixes the size it prints on ("A4", "letter"); without it the printer's counts.
    """
    from jinja2 import Environment, StrictUndefined

    source = (files("routefinder.view") / "templates" / "dossier.html").read_text("utf-8")
    page = Environment(autoescape=True, undefined=StrictUndefined).from_string(source)
    return visible(page.render(paper=paper, **_context(plan, answer)))


def _context(plan: Plan, answer: Answer) -> dict[str, Any]:
    from markupsafe import Markup

    before, after = plan_words.sure_words(plan)
    drawn = _diagram(plan, answer)
    shown = _charts(plan)
    works = bench_work(plan)
    steps = [_step(plan, w) for w in works]
    contents = [
        ("sure", "How sure it is"), ("route", "The route"),
        ("why", "Why this route, and what else there was"),
        ("shopping", "Shopping and equipment"), ("time", "Time"),
        *((f"step-{s['number']}", f"Step {s['number']}: {s['title']}") for s in steps),
        ("money", "Money"), ("left", "What is left over"), ("sums", "Calculations"),
        ("sources", "Sources"),
    ]  # fmt: skip
    return {
        "title": title(plan),
        "plan": plan,
        "given": plan_words.given_words(plan) + list(plan.terms.assumed),
        "expect": plan_words.expect_words(plan),
        "disclaimer": DISCLAIMER,
        "contents": contents,
        "sure": before + after,
        "starts": plan_tables.starts(plan),
        "doubts": doubts(plan),
        "drawn": drawn,
        "why": _why(plan, answer),
        "others": _others(answer),
        "shopping": plan_tables.shopping(plan),
        "shopping_words": plan_words.shopping_words(plan),
        "equipment": [(n.capability.in_words(), n.tool or _no_tool(plan)) for n in plan.needed],
        "time_words": plan_words.time_words(plan),
        "calendar": plan_tables.calendar(plan),
        "keeping": plan_words.keeping_words(plan),
        "steps": steps,
        "money": plan_tables.money(plan),
        "money_words": plan_words.money_words(plan),
        "waste_words": plan_words.waste_words(plan),
        "handling": plan_tables.handling(plan),
        "never": [plan_words.trap_words(t) for t in plan.handling.traps]
        + [f"Not into one jar: {w}." for w in plan.handling.never_together],
        "reasons": explain.reasons(plan),
        "sources": _sources(plan),
        "charts": [
            {"name": c.name, "title": c.title, "alt": c.alt, "svg": Markup(c.svg)}
            for c in shown.charts
        ],
        "no_charts": shown.missing,
    }


def _charts(plan: Plan) -> _Plots:
    try:
        return _Plots(plots.charts(plan), "")
    except OutOfReach as error:
        return _Plots((), f"No charts: {error}.")


def _diagram(plan: Plan, answer: Answer) -> list[dict[str, Any]]:
    """The route's sheets with the amounts of the plan, and one for a narrow page."""
    from markupsafe import Markup

    found = replace(answer.routes[plan.number - 1].assessment, amounts=plan.amounts)
    out = []
    for shape in ("fitting", "phone"):
        for n, sheet in enumerate(pictures.route(plan.library, found, plan.number, (), shape)):
            svg = sheet.svg(f"{shape}-{n}-")
            out.append({"svg": Markup(svg), "alt": sheet.alt, "narrow": shape == "phone"})
    return out


def _no_tool(plan: Plan) -> str:
    return "no bench was given" if plan.bench is None else "nothing on the bench does it"


def _why(plan: Plan, answer: Answer) -> list[str]:
    route = answer.routes[plan.number - 1]
    order = answer.question.order
    place = "first" if plan.number == 1 else f"number {plan.number}"
    out = [
        f"Of {digits.count(len(answer.routes), 'route')} it is {place} in the order “{order}”. "
        + _ending(answer)
    ]
    if route.dominated is not None:
        out.append(
            f"Route {route.dominated.by} is no worse in anything and better in "
            f"{', '.join(route.dominated.where[:3])}."
        )
    return out


def _ending(answer: Answer) -> str:
    """How the search ended, in a sentence."""
    from routefinder.view.text import ending_sentence

    return ending_sentence(answer)


def _others(answer: Answer) -> PlanTable:
    def row(r: Route) -> tuple[str, ...]:
        a = r.assessment
        verdict = f"no better than route {r.dominated.by}" if r.dominated else ""
        return (
            str(r.number), r.name, str(len(a.steps)), digits.percent(a.chain_yield),
            digits.temperature(a.peak_C), digits.duration(a.hands_on_min),
            digits.duration(a.elapsed_min),
            digits.money(a.cost.typical or 0.0, a.cost.unit, a.cost.at_least),
            danger_words.in_line(a.worst_danger), verdict,
        )  # fmt: skip

    return PlanTable(
        "All routes found",
        (("number", "t"), ("route", "w"), ("steps", "n"), ("yield", "n"), ("peak", "n"),
         ("work", "n"), ("elapsed", "n"), ("materials", "n"), ("worst danger", "w"),
         ("besides", "t")),
        tuple(row(r) for r in answer.routes),
    )  # fmt: skip


def ready(plan: Plan, w: StepWork) -> list[tuple[str, str]]:
    """What a step needs, and the tool that serves it."""
    return [(need, tool or _no_tool(plan)) for need, tool in w.tools]


def _step(plan: Plan, w: StepWork) -> dict[str, Any]:
    from markupsafe import Markup

    s = w.plan
    texts = s.safety
    return {
        "number": s.number,
        "title": s.amount.step.title,
        "count": s.count,
        "pictograms": [Markup(pictograms.svg(code)) for code, _ in texts.pictograms],
        "dangers": [
            (d.words, f"{danger_words.level(d.points)} ({d.aspect}: {d.cause})")
            for d in texts.dangers
        ],
        "signal": texts.signal,
        "statements": texts.statements,
        "for_caution": texts.for_caution,
        "unknown": texts.unknown,
        "advice": [
            ("Cautions", list(texts.cautions)),
            ("Wear", [a.text for a in texts.wear]),
            ("Never", [under_never(a.text) for a in texts.never]),
            ("If it goes wrong", [a.text for a in texts.if_wrong]),
            ("Vessel, heater and tools", bench_words.minding(w)),
        ],
        "gives": f"Gives {plan_words.gives(plan, s)}.",
        "tools": ready(plan, w),
        "portions": plan_tables.weigh_outs(w).rows,
        "doing": bench_words.doing(w),
        "checks": bench_words.checkpoint(w),
        "rest": bench_words.resting(w),
        "left_over": bench_words.left_over(w),
        "expect": plan_words.expect(plan, s),
    }


def _sources(plan: Plan) -> list[tuple[str, Sequence[str]]]:
    out: list[tuple[str, Sequence[str]]] = []
    for s in plan.steps:
        record = s.amount.step.record
        found = [*record.sources, *(x for p in record.yield_.parts for x in p.source),
                 *record.temperature.source, *record.time.source]  # fmt: skip
        out.append((f"Step {s.number}", list(dict.fromkeys(str(x) for x in found))))
        heats = list(dict.fromkeys(s.heat.reaction.sources))
        if heats:
            out.append((f"Heat of step {s.number}", heats))
        if s.crops is not None and s.crops.answers:
            out.append((f"Solubility, step {s.number}", [a.source for a in s.crops.answers]))
    for d in plan.amounts.draws:
        material = plan.library.materials.get(d.supply.record)
        if material is not None and not d.supply.everywhere:
            named = [str(x) for x in (*material.record.sources, *material.record.price_source)]
            out.append((d.supply.name, list(dict.fromkeys(named))))
    return [(name, texts or ("not stated",)) for name, texts in out]
