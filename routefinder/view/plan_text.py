"""A plan in the terminal; its sentences come from ``view.plan_words``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.assessment.ending import end_state
from routefinder.assessment.purity import purity
from routefinder.assessment.reasoning import Reason
from routefinder.view import air_words, bench_words, danger_words, state_words
from routefinder.view.doubt_words import doubts
from routefinder.view.plan_words import (
    KINDS,
    amount,
    batch_words,
    codes,
    expect,
    expect_words,
    given_words,
    gives,
    keeping_words,
    measured,
    moment,
    money_words,
    packs,
    paid,
    part_paid,
    percent,
    shopping_words,
    sure_words,
    take,
    there,
    time_words,
    trap_words,
    waste_words,
)
from routefinder.view.text import link_words, print_disclaimer, purity_words, say
from routefinder.view.words import things_left, under_never
from routefinder.worksheet.bench_work import StepWork, bench_work
from routefinder.worksheet.plan import Plan

if TYPE_CHECKING:
    from rich.console import Console


def print_plan(plan: Plan, out: Console) -> None:
    """The whole plan, section after section."""
    _head(plan, out)
    _how_sure(plan, out)
    _shopping(plan, out)
    _steps(plan, out)
    _time(plan, out)
    _keeping(plan, out)
    _money(plan, out)
    _leavings(plan, out)
    _doubts(plan, out)
    _title("Where the figures come from", out)
    say(
        out,
        "--explain FIGURE prints the arithmetic: mass:1, yield:1, batches:1, heat:1, gas:1, "
        "water:1, crystals:1, time:1, keeps:1 (number or id of a step); start:, sure:, buy:, cost: "
        "and a material; cost, energy, most, waste, confidence.",
    )
    print_disclaimer(out)


def print_reasons(reasons: Sequence[Reason], out: Console) -> None:
    """The arithmetic behind some figures, line by line."""
    for i, reason in enumerate(reasons):
        if i:
            out.print()
        say(out, f"{reason.title}  [{reason.figure}]", 0, 2, "bold")
        for line in reason.lines:
            say(out, line, 2 + len(line) - len(line.lstrip()), 4)
    print_disclaimer(out)


def _title(words: str, out: Console) -> None:
    out.print()
    out.print(words.upper(), style="bold")


def _table(*columns: tuple[str, str]) -> Any:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), expand=False)
    for name, justify in columns:
        table.add_column(name, justify=justify, no_wrap=justify == "right")  # type: ignore[arg-type]
    return table


def _head(plan: Plan, out: Console) -> None:
    target = plan.library.substances[plan.amounts.target]
    out.print(f"Plan: {digits.mass(plan.asked_g)} {target.name}", style="bold")
    say(out, f"route {plan.number}: {plan.name}", 0, 2)
    say(out, " · ".join(given_words(plan)), 0, 2)
    expected = expect_words(plan)
    if expected:
        say(out, expected, 0, 2)
    for words in plan.terms.assumed:
        say(out, f"Note: {words}.", 0, 2)


def _how_sure(plan: Plan, out: Console) -> None:
    _title("How sure", out)
    first, rest = sure_words(plan)
    for text in first:
        say(out, text, 0, 2)
    sure = plan.sure
    if not sure.starts:
        return
    table = _table(
        ("start from", "left"), ("typical", "right"), ("chance", "right"),
        *((f"for {percent(c)}", "right") for c, _ in sure.starts[0].enough_g),
    )  # fmt: skip
    for s in sure.starts:
        cells = [measured(plan, s.supply.id, g) for _, g in s.enough_g]
        table.add_row(
            s.supply.name + (" (limits)" if s.limits else ""),
            measured(plan, s.supply.id, s.start_g), digits.percent(s.chance), *cells,
        )  # fmt: skip
    out.print(table)
    for text in rest:
        say(out, text, 0, 2)


def _shopping(plan: Plan, out: Console) -> None:
    _title("Shopping", out)
    bought = plan.buying
    table = _table(
        ("material", "left"), ("needed", "right"), ("at hand", "right"), ("lacking", "right"),
        ("buy", "left"), ("stays over", "right"), ("used up", "right"), ("to pay", "right"),
    )  # fmt: skip
    for p in bought.purchases:
        table.add_row(
            p.name, amount(p, p.need_g), amount(p, p.have_g) if p.have_g else "–",
            amount(p, p.short_g) if p.short_g else "–", packs(p),
            amount(p, p.left_g) if p.short_g and p.chosen else "–",
            paid(p.consumed, p.currency), paid(p.packets, p.currency),
        )  # fmt: skip
    out.print(table)
    for text in shopping_words(plan):
        say(out, text, 0, 2)


def _steps(plan: Plan, out: Console) -> None:
    _title("Steps", out)
    numbers = {s.amount.step.id: s.number for s in plan.steps}
    for work in bench_work(plan):
        _step(plan, work, numbers, out)


def _step(plan: Plan, work: StepWork, numbers: dict[str, int], out: Console) -> None:
    s = work.plan
    step = s.amount.step
    say(out, f"{s.number}. {step.title}", 0, 3, "bold")
    many = f" in {s.count} equal batches" if s.count > 1 else ""
    feeds = [f for f in s.amount.feeds if f.drawn_g > 1e-9]
    rows = [("take", "; ".join(take(f, s, numbers) for f in feeds))]
    if s.count > 1:
        rows.append(("a batch", "; ".join(take(f, s, numbers, s.count) for f in feeds)))
    rows.append(("gives", gives(plan, s)))
    rows += [
        ("goes on", link_words(x, numbers).rstrip("."))
        for x in plan.links if x.maker == s.amount.step.id and x.how != "isolated"
    ]  # fmt: skip
    if s.amount.step.id == plan.amounts.last:
        asked = plan.question.state
        ends = state_words.ends_words(
            end_state(plan.library, plan.amounts), asked.strength if asked else None
        )
        rows += [("ends", ends.removeprefix("Ends ").rstrip("."))] if ends else []
        rows.append(("purity", purity_words(plan.library, purity(plan.library, plan.amounts))))
    rows.append(("batches", batch_words(s, many)))
    rows += [("danger", danger_words.with_cause(d)) for d in s.safety.dangers]
    rows += expect(plan, s)
    rows += [("watch", text) for text in s.safety.watch]
    rows += [("caution", text) for text in s.safety.cautions]
    rows += [("wear", a.text) for a in s.safety.wear]
    rows += [("never", under_never(a.text)) for a in s.safety.never]
    rows += [("if wrong", a.text) for a in s.safety.if_wrong]
    rows += [("tools", text) for text in bench_words.minding(work)]
    if s.safety.statements:
        signal = f"{s.safety.signal}: " if s.safety.signal else ""
        rows.append(("hazards", signal + codes(s.safety.statements)))
    if s.safety.for_caution:
        rows.append(("hazards", f"stricter sources add: {codes(s.safety.for_caution)}"))
    rows += [("air", air_words.loose(e)) for e in s.safety.air if e.kind in {"vapour", "dust"}]
    rows += [("done", text) for text in step.record.done_when]
    rows += [("check", text) for text in bench_words.checkpoint(work)]
    rows.append(("rest", bench_words.resting(work)))
    for name, words in rows:
        say(out, f"{name:<8}  {words}", 3, 10)


def _time(plan: Plan, out: Console) -> None:
    timed = plan.timed
    _title("Time", out)
    first, *rest = time_words(plan)
    say(out, first, 0, 2)
    table = _table(("when", "left"), ("step", "right"), ("what", "left"), ("how long", "right"),
                   ("there?", "left"), ("takes", "left"))  # fmt: skip
    counts = {s.amount.step.id: s for s in plan.steps}
    day = ""
    for t in sorted(timed.tasks, key=lambda t: (t.start_min, t.end_min)):
        s = counts[t.step]
        when = timed.when(t.start_min)
        ends = timed.when(t.end_min)
        today = "" if when is None else f"{when:%a %d %b}"
        batch = f" batch {t.batch}" if s.count > 1 else ""
        table.add_row(
            moment(when, ends, today if today != day else "", t),
            f"{s.number}{batch}", KINDS.get(t.kind, t.kind),
            digits.duration(t.end_min - t.start_min), there(t),
            ", ".join(r for r in t.resources if r != "hands"),
        )  # fmt: skip
        day = today
    out.print(table)
    for text in rest:
        say(out, text, 0, 2)


def _keeping(plan: Plan, out: Console) -> None:
    waits = plan.keeps.waits
    if not waits:
        return
    _title("What lies meanwhile", out)
    for text in keeping_words(plan):
        say(out, text, 0, 2)


def _money(plan: Plan, out: Console) -> None:
    _title("Money", out)
    spent = plan.spent
    table = _table(("material", "left"), ("used", "right"), ("money", "right"), ("share", "right"))
    for p in spent.parts:
        table.add_row(
            p.name, measured(plan, p.material, p.grams), part_paid(p, spent),
            digits.percent(p.share) if p.share is not None else "?",
        )  # fmt: skip
    out.print(table)
    for text in money_words(plan):
        say(out, text, 0, 2)


def _leavings(plan: Plan, out: Console) -> None:
    _title("What is left over", out)
    left = plan.left
    say(out, waste_words(plan), 0, 2)
    kinds = {"gas": "gas", "waste": "leavings", "lost": "product lost", "unreacted": "unreacted",
             "surplus": "kept, not used", "along": "in the product",
             "steam": "dried or boiled off"}  # fmt: skip
    table = _table(("what", "left"), ("grams", "right"), ("as", "left"))
    states = {"s": "solid", "l": "liquid", "aq": "in solution", "g": "gas"}
    for x in sorted(left.leavings, key=lambda x: -x.mass_g):
        if x.mass_g >= 0.05:
            table.add_row(
                plan.library.name(x.substance), digits.mass(x.mass_g),
                f"{states.get(x.state, x.state)}, {kinds.get(x.kind, x.kind)}"
                if x.kind != "gas" else "gas",
            )  # fmt: skip
    out.print(table)
    out.print("Usual handling (local rules decide):")
    for h in plan.handling.kinds:
        what = things_left(h)
        say(out, f"• {h.where}, {h.kind} ({what}): {h.how}.", 0, 2)
        for n in h.never:
            say(out, f"never add {n.agent}: {n.words}", 4, 2)
    for t in plan.handling.traps:
        say(out, trap_words(t), 0, 2)
    for words in plan.handling.never_together:
        say(out, f"Not into one jar: {words}.", 0, 2)


def _doubts(plan: Plan, out: Console) -> None:
    found = doubts(plan)
    if not found:
        return
    _title("Mind before you begin", out)
    for text in found:
        say(out, f"• {text}.", 0, 2)
