"""What a route needs at the bench, what serves it there, and what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from routefinder.hazards.makeshift import finishes
from routefinder.hazards.set_up import chosen, set_up
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import CAPABILITIES, Capability
from routefinder.records.shelf import Bench


@dataclass(frozen=True)
class Needed:
    """One need of a route: the capability, the steps that have it, and the tool that serves."""

    capability: Capability
    steps: tuple[str, ...]
    tool: str | None


def tools(
    library: Library, step: ResolvedStep, bench: Bench, vessels: Sequence[str] = ()
) -> tuple[str | None, ...]:
    """What serves each need of a step on a bench, in the record's order; None where nothing does.

    Heaters and vessels are those of ``hazards.set_up``; ``vessels`` names the ones that the batches
    took, one for each that the record asks for.
    """
    found = set_up(library, step, bench)
    heats = [(need, tool.name if tool else None) for need, tool in found.heaters]
    named = [p.best[0].tool.name if p.fits else None for p in found.places]
    named = [own or name for own, name in zip(vessels, named, strict=True)] if vessels else named
    left = iter(named)
    out: list[str | None] = []
    for need in step.needs:
        heat = next((name for n, name in heats if n == need), None)
        if need.name == "vessel":
            out.append(next(left))
        elif any(n == need for n, _ in heats):
            out.append(heat)
        else:
            tool = chosen(bench, step, need) or bench.serving(need)
            free = need.anywhere or finishes(step, need)
            out.append(tool.name if tool else "any bench" if free else None)
    return tuple(out)


def needed(
    library: Library,
    steps: Sequence[ResolvedStep],
    bench: Bench | None,
    vessels: Mapping[str, Sequence[str]] | None = None,
) -> tuple[Needed, ...]:
    """All needs of a route; the strictest of each capability, vessels each for itself.

    ``vessels`` are the names that the batches took, by step id.
    """
    found: dict[tuple[Capability, str | None], list[str]] = {}
    for step in steps:
        served: Sequence[str | None] = [None] * len(step.needs)
        if bench is not None:
            served = tools(library, step, bench, (vessels or {}).get(step.id, ()))
        for need, tool in zip(step.needs, served, strict=True):
            found.setdefault((need, tool), []).append(step.id)
    kept = [
        (need, tool)
        for need, tool in found
        if not any(
            o.name == need.name and t == tool and o != need and _covers(o, need) for o, t in found
        )
    ]
    kept.sort(key=lambda pair: list(CAPABILITIES).index(pair[0].name))
    return tuple(Needed(need, tuple(found[need, tool]), tool) for need, tool in kept)


def _covers(strict: Capability, loose: Capability) -> bool:
    """Whether whatever meets ``strict`` also meets ``loose`` (vessels are never merged)."""
    if strict.name != loose.name or strict.name == "vessel":
        return False
    return strict.serves(loose)
