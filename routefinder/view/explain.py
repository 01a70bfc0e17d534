"""The chain of arithmetic behind every figure of a plan, found by its name.

A figure is a kind and what it belongs to: ``mass:STEP``, ``start:MATERIAL``. A step may be named by
its number or its id, a material by its id or any unmistakable beginning; a kind alone asks for all
of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from routefinder.assessment import (
    batches,
    forward,
    money,
    reasoning,
    shopping,
    uncertainty,
    waste,
)
from routefinder.assessment.reasoning import Reason, number
from routefinder.units import is_whole
from routefinder.view import gas_words, heat_words, time_words
from routefinder.worksheet.plan import Plan


def reasons(plan: Plan) -> tuple[Reason, ...]:
    """All reasons of a plan.

    Kinds: mass, yield, batches, heat, gas, water, crystals, time, keeps (by step), start, sure,
    buy, cost (by material), and for the route cost, energy, most, waste, confidence.
    """
    library, found = plan.library, plan.amounts
    out = [*reasoning.reasons(library, found)]
    made = tuple(s.batches for s in plan.steps if s.batches is not None)
    out += batches.reasons(made, found)
    out += [heat_words.reason(s.heat, s.amount.step) for s in plan.steps]
    out += [gas_words.reason(s.gas, s.amount.step) for s in plan.steps if s.gas is not None]
    out += reasoning.water(library, found)
    out += [s.crops.reason for s in plan.steps if s.crops is not None]
    out += time_words.reasons(plan.timed)
    out += plan.keeps.reasons
    asked = replace(found, target_g=plan.asked_g)  # what the trials are held against
    out += uncertainty.reasons(asked, plan.sure)
    out.append(_confidence(plan))
    out += shopping.reasons(plan.buying)
    out += money.reasons(found, plan.spent)
    out.append(_energy(plan))
    out += forward.reasons(found)
    out += waste.reasons(library, found)
    return tuple(dict.fromkeys(out))


def explain(plan: Plan, figure: str) -> tuple[Reason, ...]:
    """The reasons for one figure, or for all of a kind.

    Raises InputError with the nearest names when there is no such figure.
    """
    every = reasons(plan)
    names = [r.figure for r in every]
    kind, _, of = figure.strip().partition(":")
    kind, of = kind.strip().lower(), of.strip()
    if not of:
        found = tuple(r for r in every if r.figure == kind) or tuple(
            r for r in every if r.figure.startswith(f"{kind}:")
        )
        return found or (reasoning.reason(every, figure),)
    if is_whole(of) and 1 <= int(of) <= len(plan.steps):
        of = plan.steps[int(of) - 1].amount.step.id
    wanted = f"{kind}:{of}"
    if wanted not in names:
        begins = [n for n in names if n.startswith(wanted)] or [
            n for n in names if n.startswith(f"{kind}:") and of.lower() in _words(plan, n)
        ]
        wanted = begins[0] if len(begins) == 1 else wanted
    return (reasoning.reason(every, wanted),)


def _words(plan: Plan, figure: str) -> str:
    """What a figure's material or step is called."""
    of = figure.partition(":")[2]
    for draw in plan.amounts.draws:
        if draw.supply.id == of:
            return draw.supply.name.lower()
    return next((s.amount.step.title.lower() for s in plan.steps if s.amount.step.id == of), "")


def kinds(every: Sequence[Reason]) -> tuple[str, ...]:
    """The kinds of figures that can be asked for, in the order of the plan."""
    return tuple(dict.fromkeys(r.figure.partition(":")[0] for r in every))


def _confidence(plan: Plan) -> Reason:
    """How the amount to start with follows from the asked confidence."""
    sure = plan.sure
    limiting = sure.starts[0] if sure.starts else None
    if limiting is None:
        return Reason("confidence", "How sure the amounts are", ("nothing on the shelf limits it",))
    name = limiting.supply.name
    lines = [
        f"at typical yields {number(limiting.start_g)} g of {name} are weighed in; "
        f"{number(limiting.chance * 100)} % of {sure.draws} trials reach "
        f"{number(plan.asked_g)} g from it"
    ]
    if plan.start.confidence is not None:
        enough = plan.start.enough_g[0][1]
        lines += [
            f"{number(plan.start.confidence * 100)} % of trials reach it from {number(enough)} g",
            f"scale of the plan: {number(enough)} g / {number(limiting.start_g)} g = "
            f"{number(plan.start.scale)}",
            f"planned for, at typical yields: {number(plan.asked_g)} g × "
            f"{number(plan.start.scale)} = {number(plan.planned_g)} g",
        ]
    return Reason("confidence", "How sure the amounts are", tuple(lines))


def _energy(plan: Plan) -> Reason:
    lines = [
        f"step {s.number}: {number(s.heat.energy_kWh)} kWh"
        if s.heat.energy_kWh is not None
        else f"step {s.number}: not known"
        for s in plan.steps
    ]
    known = [s.heat.energy_kWh for s in plan.steps if s.heat.energy_kWh]
    if known:
        terms = " + ".join(f"{number(x)} kWh" for x in known)
        lines.append(f"together: {terms} = {number(plan.energy.known_kWh)} kWh")
    return Reason("energy", "Energy from the mains", tuple(lines))
