"""Which of the found routes are worse than another in everything that counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment

COMPARED = ("yield", "cost", "hands_on", "time", "peak_temperature", "hazard", "steps", "e_factor")


@dataclass(frozen=True)
class Dominated:
    """Route ``by`` (number from 1) is at least as good in all measures and better in ``where``."""

    by: int
    where: tuple[str, ...]


def dominated(routes: Sequence[Assessment]) -> list[Dominated | None]:
    """For each route the first route that dominates it, or None."""
    rows = [r.measures() for r in routes]
    out: list[Dominated | None] = []
    for i, mine in enumerate(rows):
        verdict = None
        for j, other in enumerate(rows):
            if i == j:
                continue
            better = []
            for name in COMPARED:
                a, b = mine[name].typical, other[name].typical
                if a is None or b is None:
                    continue
                gain = (b - a) if mine[name].better == "more" else (a - b)
                if gain < -1e-9 * max(1.0, abs(a)):
                    break
                if gain > 1e-9 * max(1.0, abs(a)):
                    better.append(name)
            else:
                if better:
                    verdict = Dominated(j + 1, tuple(better))
                    break
        out.append(verdict)
    return out
