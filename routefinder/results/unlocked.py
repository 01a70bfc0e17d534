"""What one purchase, or the smallest set of purchases, would open: as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder import digits
from routefinder.assessment.shopping import Chosen
from routefinder.graph.acquire import Change
from routefinder.library.library import Library
from routefinder.records.question import Question
from routefinder.records.substance import Substance
from routefinder.results.answer import Route
from routefinder.search.route import Ending

MOST = 2  # things acquired together, unless asked otherwise


@dataclass(frozen=True)
class Piece:
    """One thing to acquire for a route.

    ``kind`` is "material", "equipment" or "limit". ``does`` says, for equipment, what the route
    needs of it. ``or_else`` names what would serve this route as well. Of a material the route
    takes ``grams``, worth ``money`` in ``currency`` by the gram (None: no price), ``packs`` in
    whole packs.
    """

    kind: str
    name: str
    does: tuple[str, ...] = ()
    or_else: tuple[str, ...] = ()
    grams: float | None = None
    money: float | None = None
    packs: Chosen | None = None
    change: Change | None = None
    currency: str = ""


@dataclass(frozen=True)
class Opening:
    """What to acquire, the best route that it opens, and what that gains on today's best.

    ``gains`` holds, per measure, the typical value then less that of today's best route (empty when
    there is none today). ``cost`` is the route's under the order asked for.
    """

    number: int
    pieces: tuple[Piece, ...]
    route: Route
    cost: float
    gains: Mapping[str, float]


@dataclass(frozen=True)
class Unlocked:
    """What ``unlock`` gives back.

    ``levels`` says how the search over sets of 1, 2, ... ended; ``wider`` are limits on whole
    routes that, moved alone, open a better one (looked for among the 25 best without the limit).
    """

    question: Question
    library: Library
    today: Route | None
    openings: tuple[Opening, ...]
    wider: tuple[Opening, ...]
    levels: Mapping[int, Ending]
    seconds: float
    notes: tuple[str, ...] = ()
    most: int = MOST

    def __repr__(self) -> str:
        openings = digits.count(len(self.openings), "opening")
        return f"<Unlocked: {openings} to {self.target.name}>"

    @property
    def target(self) -> Substance:
        """What is wanted."""
        return self.library.substances[self.question.target]
