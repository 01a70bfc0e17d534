"""Whether what heats a dry charge keeps it within the step's window, whose upper end counts too.

A heater that holds within w and runs over by o (its ``overshoot``) swings by w below and by the
greater of the two above what it is set to; the window must have room for that between the lowest
heat that does (its lower end) and its upper end. Where the swing is greater than the room by up to
30 K it is marginal, by more it will not do.

How well a heater holds is what its ``hold-temperature`` says, or that of a controller by itself on
the bench; an oven that says nothing has a thermostat and holds within 15 K (10 to 30 K off the
dial; common practice). Any other that says nothing is led by hand, by pyrometer or cones: taken as
within 50 K, and always marginal (our choice). A heater that at full power stays below the upper end
needs no holding.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.hazards.heaters import OVEN_TO_C, heat_offers
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool

BY_HAND_K = 50.0
OVEN_K = 15.0
MARGIN_K = 30.0
HEATS = frozenset({"heat-liquid", "heat-dry", "open-flame"})


@dataclass(frozen=True)
class Held:
    """``verdict`` is "yes", "marginal" or "no"; ``why`` says so in a sentence without its end."""

    verdict: str
    why: str = ""


YES = Held("yes")


def held(step: ResolvedStep, need: Capability, tool: Tool, bench: Bench) -> Held:
    """Whether a tool keeps a dry heat within the step's window."""
    if need.name != "heat-dry" or not step.dry_heat:
        return YES
    offers = heat_offers(tool, need)
    reach = max((o.limit("to") or 0.0 for o in offers), default=0.0)
    high, low = step.record.temperature.high_C, step.least_C
    if high < low or reach <= high:
        return YES
    over = max((o.limit("overshoot") or 0.0 for o in offers), default=0.0)
    within = _within(tool, bench, reach)
    by_hand = within is None
    w = BY_HAND_K if within is None else within
    swing, room = w + max(w, over), high - low
    window = f"its window is {low:g} to {high:g} °C"
    if by_hand:
        how = f"nothing holds {tool.name}, which goes on to {reach:g} °C (by hand within {w:g} K)"
    else:
        how = f"{tool.name} holds within {w:g} K"
    if over > w:
        how += f" and runs over by {over:g} K"
    if swing > room + MARGIN_K:
        return Held("no", f"{how}; {window}, too narrow for that")
    if swing > room:
        return Held("marginal", f"{how}; {window}, up to {swing - room:g} K too narrow for that")
    if by_hand:
        return Held("marginal", f"{how}; {window}: watch it with a pyrometer or cones")
    return YES


def _within(tool: Tool, bench: Bench, reach_C: float) -> float | None:
    """Within how many K a tool is held; None where nothing does it."""
    own = _holds(tool)
    if own is not None:
        return own
    apart = [
        w
        for other in bench.tools
        if not any(o.name in HEATS or o.name == "dry" for o in other.offers)
        if (w := _holds(other)) is not None
    ]
    if apart:
        return min(apart)
    oven = tool.heats_by == "oven" or (not tool.heats_by and reach_C <= OVEN_TO_C)
    return OVEN_K if oven else None


def _holds(tool: Tool) -> float | None:
    found = [
        w for o in tool.offers if o.name == "hold-temperature"
        if (w := o.limit("within")) is not None
    ]  # fmt: skip
    return min(found, default=None)
