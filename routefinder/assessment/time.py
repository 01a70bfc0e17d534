"""Hands-on and elapsed time of a route, with the batches that the bench makes of each step.

Steps wait for what feeds them; independent branches run side by side. Elapsed time is the longest
chain of (hands-on + waiting), and never less than all hands-on time together (one pair of hands).
A step in batches takes its handwork for each, and its waiting as often as vessels and heaters ask
(``batches``); without a bench every step is one batch. How long a batch waits, its stages say
(``vessel.durations``); how long a heater takes for a liquid, only the plan reckons. Working
hours and shared equipment are not in it: ``schedule`` counts those.
"""

from __future__ import annotations

from collections.abc import Iterable

from routefinder.assessment.batches import Batches
from routefinder.vessel.step_amounts import Amounts


def times_min(found: Amounts, batches: Iterable[Batches] = ()) -> tuple[float, float]:
    """(hands-on, elapsed) in minutes; a step that ``batches`` leaves out is one batch."""
    own = {b.step: (b.hands_on_min, b.waiting_min) for b in batches}
    finish: dict[str, float] = {}
    hands_on = 0.0
    for amount in found.steps:
        time = amount.times
        work, wait = own.get(amount.step.id, (time.hands_on_min, time.waiting_min))
        start = max(
            (finish[f.origin] for f in amount.feeds if isinstance(f.origin, str)), default=0.0
        )
        finish[amount.step.id] = start + work + wait
        hands_on += work
    return hands_on, max(max(finish.values(), default=0.0), hands_on)
