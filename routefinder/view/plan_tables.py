"""The tables of a plan as rows of text, shared by the page, Markdown and CSV."""

from __future__ import annotations

from dataclasses import dataclass

from routefinder import digits
from routefinder.view import bench_words, plan_words
from routefinder.view.plan_words import KINDS, measured, packs, paid, percent, weight
from routefinder.view.words import things_left
from routefinder.worksheet.bench_work import StepWork
from routefinder.worksheet.plan import Plan


@dataclass(frozen=True)
class PlanTable:
    """A caption, heads and rows of cells.

    A head is (words, kind): "n" for numbers, "t" for text, "w" for much of it.
    """

    caption: str
    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]


def starts(plan: Plan) -> PlanTable:
    """What to start with for how much confidence."""
    sure = plan.sure
    shown = [percent(c) for c, _ in sure.starts[0].enough_g] if sure.starts else []
    return PlanTable(
        f"To reach {digits.mass(plan.asked_g)}, start from",
        (("material", "t"), ("at typical yields", "n"), ("reaches it in", "n"),
         *((f"for {c}", "n") for c in shown)),
        tuple(
            (s.supply.name + (" (limits)" if s.limits else ""),
             measured(plan, s.supply.id, s.start_g), digits.percent(s.chance),
             *(measured(plan, s.supply.id, g) for _, g in s.enough_g))
            for s in sure.starts
        ),
    )  # fmt: skip


def shopping(plan: Plan) -> PlanTable:
    """The shopping list with what stays over."""
    bought = plan.buying
    return PlanTable(
        "Shopping list",
        (("material", "t"), ("needed", "n"), ("at hand", "n"), ("lacking", "n"), ("buy", "t"),
         ("stays over", "n"), ("used up", "n"), ("to pay", "n")),
        tuple(
            (p.name, plan_words.amount(p, p.need_g),
             plan_words.amount(p, p.have_g) if p.have_g else "–",
             plan_words.amount(p, p.short_g) if p.short_g else "–", packs(p),
             plan_words.amount(p, p.left_g) if p.short_g and p.chosen else "–",
             paid(p.consumed, p.currency), paid(p.packets, p.currency))
            for p in bought.purchases
        ),
    )  # fmt: skip


def calendar(plan: Plan) -> PlanTable:
    """Every task in the order of time."""
    timed = plan.timed
    steps = {s.amount.step.id: s for s in plan.steps}
    rows = []
    for t in sorted(timed.tasks, key=lambda t: (t.start_min, t.end_min)):
        s = steps[t.step]
        when = timed.when(t.start_min)
        day = "" if when is None else f"{when:%a %d %b}"
        rows.append((
            plan_words.moment(when, timed.when(t.end_min), day, t),
            f"{s.number}" + (f", batch {t.batch}" if s.count > 1 else ""),
            KINDS.get(t.kind, t.kind), digits.duration(t.end_min - t.start_min),
            plan_words.there(t),
            ", ".join(r for r in t.resources if r != "hands"),
        ))  # fmt: skip
    return PlanTable(
        "Calendar",
        (("when", "t"), ("step", "t"), ("what", "t"), ("how long", "n"), ("somebody there", "t"),
         ("takes", "t")),
        tuple(rows),
    )  # fmt: skip


def money(plan: Plan) -> PlanTable:
    """What each material costs."""
    spent = plan.spent
    return PlanTable(
        "Money for materials",
        (("material", "t"), ("used", "n"), ("money", "n"), ("share", "n")),
        tuple(
            (p.name, measured(plan, p.material, p.grams), plan_words.part_paid(p, spent),
             digits.percent(p.share) if p.share is not None else "?")
            for p in spent.parts
        ),
    )  # fmt: skip


def handling(plan: Plan) -> PlanTable:
    """What is left over, stream by stream, with the usual handling."""
    return PlanTable(
        "Leavings by stream, and the usual handling (local rules decide)",
        (("where, kind", "t"), ("what", "t"), ("usual handling", "t"), ("never add", "t")),
        tuple(
            (f"{h.where}, {h.kind}",
             things_left(h), h.how,
             "; ".join(f"{n.agent}: {n.words}" for n in h.never))
            for h in plan.handling.kinds
        ),
    )  # fmt: skip


def weigh_outs(work: StepWork) -> PlanTable:
    """What goes into one batch of a step."""
    n = work.plan.number
    return PlanTable(
        f"Weigh-outs of step {n}" + (", for one batch" if work.plan.count > 1 else ""),
        (("what", "t"), ("as", "t")),
        tuple(
            (bench_words.portion(p), p.role if p.role != "reactant" else "reactant")
            for p in (*work.charge, *work.led_in, *work.after, *work.washes, *work.agents)
        ),
    )


__all__ = [
    "PlanTable",
    "calendar",
    "handling",
    "money",
    "shopping",
    "starts",
    "weigh_outs",
    "weight",
]
