"""What to do at a bench without the tool for drying or for keeping: drying is not making.

A step whose product is dried or kept in a certain way can be done without an oven, a desiccator or
a tight jar; how it is finished then is said, and the step counts as marginal. Where drying is the
work itself (a hydrate that loses its water) it is needed like any heat.

Rules of the bench, common practice: a tight jar with dried silica gel or fired calcium chloride in
it is a desiccator; what an oven dries below 60 degC the air of a room dries too, thinly spread, in
days; what stands more heat dries in its dish over a plate, stirred; a drying agent serves for a
vacuum.
"""

from __future__ import annotations

from routefinder.hazards import heaters
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench

FINISHING = frozenset({"dry", "dry-in-vacuum", "keep-dry", "keep-airtight"})
AIR_C = 60.0  # what is dried up to here, the air of a room dries as well
_DRIES = frozenset({"drying", "dehydration"})


def finishes(step: ResolvedStep, need: Capability) -> bool:
    """Whether a need only dries or keeps what the step has made, and so can be done without."""
    if need.name not in FINISHING:
        return False
    heats = any(n.name in {"heat-dry", "heat-liquid", "open-flame"} for n in step.record.equipment)
    return heats or step.record.kind not in _DRIES or need.name in {"keep-dry", "keep-airtight"}


def makeshift(library: Library, step: ResolvedStep, need: Capability, bench: Bench) -> str:
    """What to do instead, in a sentence without its end; "" where the bench has the tool."""
    if not finishes(step, need) or bench.serving(need) is not None:
        return ""
    jar = bench.serving(Capability(name="keep-airtight"))
    agent = "dried silica gel or fired calcium chloride"
    if need.name == "keep-dry":
        where = f"in one of the {jar.name}" if jar else "in a screw-top jar"
        return (
            f"nothing to keep it over a drying agent: {where}, with a dish of {agent}, it dries too"
        )
    if need.name == "keep-airtight":
        return "no airtight jar on the bench: a screw-top jar, sealed with tape, keeps it for weeks"
    if need.name == "dry-in-vacuum":
        return f"no vacuum to dry it in: in a closed jar with a dish of {agent} it takes days"
    to = need.limit("to")
    near = bench.nearest(need)
    lacks = (
        f"{near[0].name} only dries to {near[1].limit('to'):g} °C" if near else "nothing to dry in"
    )
    if to is None or to <= AIR_C:
        return f"{lacks}: spread thin in the air of the room, in days, to constant weight"
    plate = bench.serving(Capability(name="heat-liquid", limits=(("to", to),)))
    if plate is not None and not heaters.flammable(library, step):
        return f"{lacks}: dry it in its dish over the {plate.name}, stirred, not above {to:g} °C"
    return (
        f"{lacks}: dry it in the air of the room; it keeps a little water that {to:g} °C would take"
    )
