"""What a search gives back: routes as step sets, and how the search ended."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Ending(StrEnum):
    """How a search ended.

    ``proven``: these are the k best. ``all``: no more exist. ``stopped``: time or size limit;
    ``Found.gap`` says how far from proven. ``none``: there is no route.
    """

    PROVEN = "proven"
    ALL = "all"
    STOPPED = "stopped"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class StepSet:
    """A minimal set of steps that makes the target; ``steps`` is in a workable order."""

    steps: tuple[str, ...]
    cost: float
    proven: bool = True


@dataclass(frozen=True)
class Found:
    """The routes found, best first, and the ending.

    ``bound`` is a proven lower bound on the cost of every route not listed; ``gap`` is
    1 - bound / (cost of the last route), 0 when proven.
    """

    routes: tuple[StepSet, ...]
    ending: Ending
    bound: float = 0.0
    nodes: int = 0
    seconds: float = 0.0
    notes: tuple[str, ...] = field(default=())

    @property
    def gap(self) -> float:
        """How much cheaper than the last listed route an unseen one could still be (0 to 1)."""
        if self.ending is not Ending.STOPPED or not self.routes:
            return 0.0
        worst = self.routes[-1].cost
        return max(0.0, 1 - self.bound / worst) if worst > 0 else 0.0
