"""The measures of a route, in one table; what each is called, counted in and better when.

Their order, lower bounds (``choice.bounds``) and how they vary (``choice.model``) are found by key.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Any


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


@dataclass(frozen=True)
class MeasureKind:
    """What one measure is.

    ``word`` is what a user writes, ``title`` its name in a table. ``quantity`` says how a value is
    read and written: "share" (per cent), "money", "time" (hours), "temperature", "ratio" or
    "count" (of ``noun``). ``of`` takes an ``Assessment`` and gives the value in ``unit``, or a
    whole ``Measure``. ``compared``: a route worse in these all is dominated. ``gain`` holds the
    words for more and for less of it, with {n} the size and {s} the plural (empty: not told).
    """

    key: str
    word: str
    title: str
    unit: str
    quantity: str
    of: Callable[[Any], float | Measure]
    better: str = "less"
    noun: str = ""
    compared: bool = True
    gain: tuple[str, str] | tuple[()] = ()

    def measure(self, assessment: Any) -> Measure:
        """The measure of a route."""
        found = self.of(assessment)
        if isinstance(found, Measure):
            return found
        return Measure(self.key, self.unit, self.better, found)


MEASURES = {
    kind.key: kind
    for kind in (
        MeasureKind("yield", "yield", "overall yield", "%", "share", lambda a: a.overall_yield,
                    "more", gain=("yield {n} point{s} more", "yield {n} point{s} less")),
        MeasureKind("cost", "cost", "materials", "", "money", lambda a: a.cost,
                    gain=("{n} more", "{n} less")),
        MeasureKind("hands_on", "work", "hands-on work", "h", "time",
                    lambda a: a.hands_on_min / 60, gain=("{n} more work", "{n} less work")),
        MeasureKind("time", "time", "elapsed time", "h", "time", lambda a: a.elapsed_min / 60,
                    gain=("{n} later done", "{n} sooner done")),
        MeasureKind("peak_temperature", "peak", "highest temperature", "°C", "temperature",
                    lambda a: a.peak_C, gain=("{n} K hotter", "{n} K cooler")),
        MeasureKind("hazard", "hazard", "hazard points", "points", "count",
                    lambda a: float(a.hazard_sum), noun="points",
                    gain=("{n} hazard point{s} more", "{n} hazard point{s} less")),
        MeasureKind("steps", "steps", "steps", "steps", "count", lambda a: float(len(a.steps)),
                    noun="steps", gain=("{n} step{s} more", "{n} step{s} less")),
        MeasureKind("e_factor", "waste", "waste (E-factor)", "g/g", "ratio",
                    lambda a: a.waste.e_factor),
        MeasureKind("purity", "purity", "computed purity", "%", "share",
                    lambda a: a.purity.share * 100, "more", compared=False),
        MeasureKind("missing", "missing", "equipment missing", "items", "count",
                    lambda a: float(len(a.missing)), noun="missing", compared=False),
    )
}  # fmt: skip
COMPARED = tuple(key for key, kind in MEASURES.items() if kind.compared)
