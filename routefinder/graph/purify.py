"""Steps that purify a target which is made already: its own crystallisation, once more.

A step serves when it takes the target's own substance dissolved, with nothing else to react but
water, and gives the target as a solid. In the network it comes a second time, under an id of its
own: it takes the target as made and gives it finished; what is pure enough as made is finished
without it (``AS_MADE``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

AGAIN = "@again"
AS_MADE = "as made|"
FINISHED = "finished|"
NEXT_TO_NOTHING = 1e-6  # what AS_MADE costs: a step of the search has to cost something
_KINDS = frozenset({"crystallisation", "recrystallisation"})


def purifies(library: Library, step: ResolvedStep) -> bool:
    """Whether a step takes its product dissolved and gives it as crystals."""
    root = library.root(step.main.substance)
    own = [p for p in step.reactants if library.root(p.substance) == root]
    others = [p for p in step.reactants if p not in own and p.substance != "water"]
    dissolved = len(own) == 1 and own[0].state == "aq" and not others
    return step.main.state == "s" and dissolved and step.record.kind in _KINDS


def with_purifiers(library: Library, target: str) -> Library:
    """The library with each step that purifies ``target`` a second time, as ``AGAIN``."""
    more = {}
    for step in library.steps.values():
        if step.main.substance == target and purifies(library, step):
            record = step.record.model_copy(
                update={"id": step.id + AGAIN, "title": f"{step.title}, once more"}
            )
            more[record.id] = replace(step, record=record)
    return replace(library, steps={**library.steps, **more}) if more else library


def is_again(step_id: str) -> bool:
    """Whether a step is there to purify what another has made."""
    return step_id.endswith(AGAIN)


def without_again(ids: Iterable[str]) -> tuple[str, ...]:
    """A route without its purifying step."""
    return tuple(i for i in ids if not is_again(i))
