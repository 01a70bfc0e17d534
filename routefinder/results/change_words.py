"""A limit moved, in words: the name of what `unlock` offers instead of a purchase."""

from __future__ import annotations

from routefinder import digits, units
from routefinder.graph.acquire import Change
from routefinder.library import steering
from routefinder.library.library import Library
from routefinder.records.capability import CAPABILITIES


def change_words(library: Library, change: Change) -> str:
    """A limit moved, in words: "drying oven to 290 °C instead of 250 °C (40 K more)"."""
    now, then = change.now, change.then
    if change.limit == "avoid":
        return f"--avoid {steering.in_words(library, change.what)} given up"
    if change.limit == "no-licence":
        return "--no-licence given up (licensed materials allowed)"
    if now is None or then is None:
        return f"{change.limit} given up"
    if change.limit == "bench":
        words, known = CAPABILITIES[change.capability]
        return f"{change.what}: {words}, {change.key} {_moved(now, then, known[change.key].kind)}"
    if change.limit == "max-temperature":
        return f"--max-temperature {_moved(now, then, 'temperature')}"
    if change.limit == "max-hazard":
        return f"--max-hazard {change.what} {then:g} instead of {now:g}"
    if change.limit == "max-steps":
        return f"--max-steps {then:g} instead of {now:g}"
    if change.limit == "max-time":
        return (
            f"--max-time {digits.duration(then)} instead of {digits.duration(now)} "
            f"({digits.duration(then - now)} more)"
        )
    return f"--budget {then:.2f} instead of {now:.2f} ({then - now:.2f} more)"


def _moved(now: float, then: float, kind: str) -> str:
    more = "more" if then > now else "less"
    if kind in {"temperature", "temperature_step"}:
        unit = "°C" if kind == "temperature" else "K"
        return f"{then:g} {unit} instead of {now:g} {unit} ({abs(then - now):g} K {more})"
    unit = units.CANONICAL.get(kind, "")
    factor = 1.0
    if kind == "volume" and max(now, then) >= 1000:
        unit, factor = "L", 0.001
    return f"{then * factor:g} {unit} instead of {now * factor:g} {unit}".replace("  ", " ")
