"""What a route needs at the bench, and what is missing there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import CAPABILITIES, Capability
from routefinder.records.shelf import Bench


@dataclass(frozen=True)
class Needed:
    """One need of a route: the capability, the steps that have it, and the tool that serves."""

    capability: Capability
    steps: tuple[str, ...]
    tool: str | None


def needed(steps: Sequence[ResolvedStep], bench: Bench | None) -> tuple[Needed, ...]:
    """All needs of a route; the strictest of each capability, vessels each for itself."""
    found: dict[Capability, list[str]] = {}
    for step in steps:
        for need in step.record.equipment:
            found.setdefault(need, []).append(step.id)
    kept = [
        need for need in found if not any(other != need and _covers(other, need) for other in found)
    ]
    kept.sort(key=lambda need: list(CAPABILITIES).index(need.name))
    out = []
    for need in kept:
        tool = bench.serving(need) if bench is not None else None
        name = tool.name if tool else "any bench" if need.anywhere and bench else None
        out.append(Needed(need, tuple(found[need]), name))
    return tuple(out)


def _covers(strict: Capability, loose: Capability) -> bool:
    """Whether whatever meets ``strict`` also meets ``loose`` (vessels are never merged)."""
    if strict.name != loose.name or strict.name == "vessel":
        return False
    return strict.serves(loose)
