"""In what state the product of a route is when the route is over, read off the last vessel.

A solution has a strength and a mass; a solid holds the free water that its last stage leaves.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.vessel.step_amounts import Amounts
from routefinder.vessel.stream import WATER, Stream
from routefinder.vessel.water import Liquor, liquor

KINDS = {"s": "solid", "l": "liquid", "aq": "solution", "g": "gas"}
MOIST = 0.02  # free water above which a solid is not called dry; our choice


@dataclass(frozen=True)
class EndState:
    """``kind`` is one of ``records.question.STATES``.

    ``water_share`` is grams of free water per gram of a solid as it lies there. ``liquor`` is the
    solution, None when it is none (or when the target is a by-product that is caught).
    """

    kind: str
    water_share: float = 0.0
    liquor: Liquor | None = None

    @property
    def moist(self) -> bool:
        """Whether a solid is still wet."""
        return self.kind == "solid" and self.water_share > MOIST

    def water_to_g(self, strength: float) -> float | None:
        """Grams of water that bring the solution to a mass fraction; below 0: to boil off."""
        made = self.liquor
        return None if made is None else made.mass_g / strength - made.total_g


def final_stream(found: Amounts) -> Stream:
    """What a route makes as it lies there: the product of its last step, or what that collects."""
    last = next(a for a in found.steps if a.step.id == found.last)
    if found.form == last.step.main.substance:
        return last.course.product
    return last.course.recovered.get(found.form, last.course.product)


def end_state(library: Library, found: Amounts) -> EndState:
    """The state in which a route leaves its target."""
    last = next(a for a in found.steps if a.step.id == found.last)
    part = next(p for p in last.step.kept() if p.substance == found.form)
    kind = KINDS[part.state]
    if kind == "solution":
        main = found.form == last.step.main.substance
        return EndState(kind, liquor=liquor(library, last) if main else None)
    if kind != "solid":
        return EndState(kind)
    stream = final_stream(found)
    mass = float(stream.mass_g)
    return EndState(kind, float(stream.grams(*WATER)) / mass if mass else 0.0)
