"""What is not known of a plan or does not work out, in sentences without a stop."""

from __future__ import annotations

from collections.abc import Iterator

from routefinder.view import heat_words, time_words
from routefinder.worksheet.plan import Plan, StepPlan


def doubts(plan: Plan) -> tuple[str, ...]:
    """All doubts of a plan, those of its steps first."""
    numbers = {s.amount.step.id: s.number for s in plan.steps}
    out = [f"step {s.number}: {words}" for s in plan.steps for words in _of_step(plan, s)]
    out += [f"step {numbers[u.step]}: {time_words.unwatched(u)}" for u in plan.timed.unwatched]
    out += plan.keeps.problems
    if plan.question.reuse:
        out.append("this is a first batch: nothing is fed back yet (find --reuse counts that)")
    if plan.bench is None:
        out.append("no bench is given: one batch a step, a heater of 1 kW, nothing rounded to a "
                   "balance")  # fmt: skip
    return tuple(dict.fromkeys(out))


def _of_step(plan: Plan, s: StepPlan) -> Iterator[str]:
    if s.batches is not None and not s.batches.known:
        yield "the bench names no vessel of known size for it, so it is taken as one batch"
    if plan.bench is not None:
        yield from (f"{g.tool}: {g.words.rstrip('.')}" for g in s.safety.gear if g.grave)
    furnace = s.heat.furnace
    if furnace is not None and furnace.verdict in {"marginal", "no"}:
        yield f"the heat is {furnace.verdict}: {heat_words.furnace(furnace)}"
    if s.crops is not None and s.crops.why:
        yield f"crop {s.crops.why}"
    yield from s.safety.contradictions
    if s.safety.unknown:
        yield "the hazards of something in it are not known"
    yield from _of_weighing(s)


def _of_weighing(s: StepPlan) -> Iterator[str]:
    for w in s.weigh_outs:
        if w.coarse:
            yield (
                f"{w.balance} reads {w.readability_g:g} g, too coarse for {w.exact_g:.3g} g of "
                f"{w.material}"
            )
        elif not w.balance:
            yield (f"no balance on the bench bears {w.exact_g:.3g} g of {w.material} at once")
