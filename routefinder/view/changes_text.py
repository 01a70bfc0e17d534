"""What is different from the last answer to a question, in lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.assessment.measure import MEASURES

if TYPE_CHECKING:
    from routefinder.assessment.measure import Measure
    from routefinder.choice.changes import Changes, KeptRoute


def lines(found: Changes, units: dict[str, Measure]) -> list[str]:
    """The changes, a line each; ``units`` are the measures of any route of today."""
    out = []
    if found.library:
        out.append("The library, or the program that reads it, has changed.")
    if found.question:
        keys = ", ".join(k.replace("_", "-") for k in found.question)
        out.append(f"Asked otherwise than last time in: {keys}.")
    out += [f"Newly listed: route {number}, {name}" for number, name in found.new]
    out += [f"No longer listed: it was route {number}, {name}" for number, name in found.gone]
    out += [_kept(each, units) for each in found.kept]
    if found.none:
        out.append("The routes are the same as last time, with the same figures.")
    return out


def _kept(each: KeptRoute, units: dict[str, Measure]) -> str:
    where = f"Route {each.now}"
    if each.before != each.now:
        where += f" (it was {each.before})"
    parts = []
    for name, (before, now) in each.measures.items():
        unit = units[name].unit if name in units else ""
        then, this = _figure(before, unit), _figure(now, unit)
        title = MEASURES[name].title if name in MEASURES else name
        parts.append(f"{title} {this} instead of {then}")
    return f"{where}, {each.name}" + (f": {', '.join(parts)}" if parts else "")


def _figure(value: float | None, unit: str) -> str:
    if value is None:
        return "unknown"
    if unit in {"steps", "items", "points"}:
        return f"{value:g}"
    return f"{digits.significant(value, 4)} {unit}".strip()
