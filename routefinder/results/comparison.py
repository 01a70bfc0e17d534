"""Routes side by side: as data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from routefinder.choice import prefer as preferring
from routefinder.choice import reasons, robust
from routefinder.choice.dominance import Dominated
from routefinder.choice.shared import Shared
from routefinder.results.answer import Answer, Route


@dataclass(frozen=True)
class Comparison:
    """Some routes of an answer, side by side, in the measures ``keys``.

    ``wishes`` are the preferences; when none were given every measure counts the same.
    ``dominated`` and the places in ``robust`` and ``groups`` refer to ``routes``.
    """

    answer: Answer
    routes: tuple[Route, ...]
    keys: tuple[str, ...]
    wishes: tuple[preferring.Wish, ...]
    preferred: bool
    dominated: tuple[Dominated | None, ...]
    shared: Shared
    groups: tuple[reasons.Group, ...]
    scores: tuple[preferring.WishScore, ...]
    robust: robust.Robustness | None

    def __repr__(self) -> str:
        numbers = ", ".join(str(r.number) for r in self.routes)
        return f"<Comparison of routes {numbers} to {self.answer.target.name}>"

    @cached_property
    def ranking(self) -> tuple[int, ...]:
        """Places in ``routes`` by score, best first."""
        return preferring.ranking(self.scores)
