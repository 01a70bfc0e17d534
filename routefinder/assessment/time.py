"""Hands-on and elapsed time of a route, one batch a step.

Steps wait for what feeds them; independent branches run side by side. Elapsed time is the longest
chain of (hands-on + waiting), and never less than all hands-on time together (one pair of hands).
"""

from __future__ import annotations

from routefinder.assessment.amounts import Amounts


def times_min(found: Amounts) -> tuple[float, float]:
    """(hands-on, elapsed) in minutes."""
    finish: dict[str, float] = {}
    hands_on = 0.0
    for amount in found.steps:
        time = amount.step.record.time
        start = max(
            (finish[f.origin] for f in amount.feeds if isinstance(f.origin, str)), default=0.0
        )
        finish[amount.step.id] = start + time.hands_on_min + time.waiting_min
        hands_on += time.hands_on_min
    return hands_on, max(max(finish.values(), default=0.0), hands_on)
