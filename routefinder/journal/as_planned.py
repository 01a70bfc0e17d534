"""The library as a run was planned with it: what a question changed of its steps, changed again.

A question may add a purifying step (``graph.purify``), choose an excess, and let solids go straight
on (``vessel.linked``). A run keeps what it needs of that beside its steps, so that what is weighed
is judged by the vessel that was planned.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from routefinder.assessment.assess import Assessment
from routefinder.graph import purify
from routefinder.library.library import Library
from routefinder.vessel import linked


def changed(found: Assessment) -> dict[str, Any]:
    """What a run keeps of the changes: plain data."""
    return {
        "links": [
            {"from": x.maker, "to": x.taker, "how": x.how}
            for x in found.links if x.how != "isolated"
        ],
        "excess": {s.id: dict(s.excess) for s in found.steps if s.excess},
    }  # fmt: skip


def as_planned(library: Library, data: Mapping[str, Any]) -> Library:
    """The library with these changes; what an older run does not say stands as in the library."""
    target = data.get("target")
    if target in library.substances and any(purify.is_again(s["id"]) for s in data["steps"]):
        library = purify.with_purifiers(library, target)
    steps = {}
    for name, excess in (data.get("excess") or {}).items():
        step = library.steps.get(name)
        if step is not None and dict(step.excess) != excess:
            steps[name] = replace(step, excess=dict(excess))
    if steps:
        library = replace(
            library, steps={**library.steps, **steps}, worked_out=dict(library.worked_out)
        )
    for link in data.get("links") or ():
        library = linked.handed_on(library, link["from"], link["how"])
    return library
