"""What ``print`` shows of a result: the whole in a few lines."""

from __future__ import annotations

from io import StringIO
from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view import compare_text, plan_text, text, unlock_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

    from routefinder.results.answer import Answer, Route
    from routefinder.results.comparison import Comparison
    from routefinder.results.unlocked import Unlocked
    from routefinder.worksheet.plan import Plan

MOST = 10  # routes listed


def route(found: Route) -> str:
    """A route in two lines."""
    return f"{found.number}. {found.name}\n   {unlock_text.route_line(found)}"


def answer(found: Answer) -> str:
    """Its routes, or why there are none."""
    wanted = f"{digits.mass(found.question.amount_g)} of {found.target.name}"
    if not found.routes:
        why = f" {found.why_none.sentence}" if found.why_none is not None else ""
        return f"No route to {wanted} within the limits.{why}"
    lines = [f"{digits.count(len(found.routes), 'route')} to {wanted}, by {found.question.order}:"]
    lines += [route(each) for each in found.routes[:MOST]]
    if len(found.routes) > MOST:
        lines.append(f"... and {len(found.routes) - MOST} more")
    lines.append(DISCLAIMER)
    return "\n".join(lines)


def plan(found: Plan) -> str:
    """The plan as the terminal shows it."""
    return _printed(lambda out: plan_text.print_plan(found, out))


def comparison(found: Comparison) -> str:
    """The comparison as the terminal shows it."""
    return _printed(lambda out: compare_text.print_comparison(found, out))


def unlocked(found: Unlocked) -> str:
    """What would open more, as the terminal shows it."""
    return _printed(lambda out: unlock_text.print_unlocked(found, out))


def _printed(show: Callable[[Console], None]) -> str:
    held = StringIO()
    show(text.console(width=110, file=held))
    return held.getvalue().rstrip()
