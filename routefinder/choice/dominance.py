"""Which of the found routes are worse than another in everything that counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.assessment.assess import Assessment
from routefinder.assessment.measure import COMPARED
from routefinder.choice.measures import losses
from routefinder.search.front import dominates


@dataclass(frozen=True)
class Dominated:
    """Route ``by`` (number from 1) is at least as good in all measures and better in ``where``."""

    by: int
    where: tuple[str, ...]


def dominated(
    routes: Sequence[Assessment], keys: Sequence[str] = COMPARED
) -> list[Dominated | None]:
    """For each route the first route that dominates it in the measures ``keys``, or None."""
    rows = [losses(r, keys) for r in routes]
    out: list[Dominated | None] = []
    for mine in rows:
        by = next((j for j, other in enumerate(rows) if dominates(other, mine)), None)
        if by is None:
            out.append(None)
            continue
        where = tuple(k for k, a, b in zip(keys, mine, rows[by], strict=True) if b < a)
        out.append(Dominated(by + 1, where))
    return out
