"""The shape that every measure of a route shares."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """One figure of a route.

    ``low`` and ``high`` are the unfavourable and favourable ends where there are any. ``better``
    is "more" or "less". ``at_least`` marks a sum with unknown terms (``unknown`` names them).
    """

    name: str
    unit: str
    better: str
    typical: float | None
    low: float | None = None
    high: float | None = None
    at_least: bool = False
    unknown: tuple[str, ...] = ()
