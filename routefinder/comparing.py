"""Routes side by side: the Python API of comparisons; wires, decides nothing.

import routefinder as rf
answer = rf.find("copper(II) acetate monohydrate", "250 g", shelf="shelf.csv")
rf.compare(answer, [1, 2, 3], prefer="yield 3, hazard 2")   # shows itself in a notebook
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder.answers import Answer, Route
from routefinder.choice import measures as named
from routefinder.choice import prefer as preferring
from routefinder.choice import reasons, robust
from routefinder.choice.dominance import Dominated, dominated
from routefinder.choice.shared import Shared, shared
from routefinder.errors import InputError

if TYPE_CHECKING:
    from routefinder.view.choice_plots import Picture


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
    scores: tuple[preferring.Score, ...]
    robust: robust.Robustness | None

    @cached_property
    def ranking(self) -> tuple[int, ...]:
        """Places in ``routes`` by score, best first."""
        return preferring.ranking(self.scores)

    def json(self) -> dict[str, Any]:
        """The comparison as plain data."""
        from routefinder.view import compare_json

        return compare_json.comparison(self)

    def html(self) -> str:
        """One HTML page that stands by itself."""
        from routefinder.view import compare_html

        return compare_html.page(self)

    def dot(self, foot: bool = True) -> str:
        """The routes over one another as Graphviz DOT source; ``foot``: the disclaimer under it."""
        from routefinder.view import overview

        return overview.overview_dot(
            self.answer.library, self.answer.target,
            [(r.number, r.assessment) for r in self.routes], foot,
        )  # fmt: skip

    def diagram(self, path: str | Path) -> Path:
        """Draw the routes over one another to ``path`` (.svg, .png or .dot)."""
        from routefinder.view import diagram

        return diagram.write(self.dot(), Path(path))

    def tradeoff(self, x: str = "cost", y: str = "yield") -> Picture:
        """Two measures against each other, with intervals; the non-dominated joined."""
        from routefinder.view import choice_plots

        return choice_plots.tradeoff(self, named.key_of(x), named.key_of(y))

    def waterfall(self) -> Picture:
        """How the yield falls from step to step, a panel a route."""
        from routefinder.view import choice_plots

        return choice_plots.waterfall([(r.number, r.assessment) for r in self.routes])

    def bars(self) -> Picture:
        """Money for materials and time by step, a panel a route."""
        from routefinder.view import choice_plots

        return choice_plots.bars([(r.number, r.assessment) for r in self.routes])

    def masses(self) -> Picture:
        """Where the mass that goes in ends up, a bar a route."""
        from routefinder.view import choice_plots

        return choice_plots.masses([(r.number, r.assessment) for r in self.routes])

    def _repr_html_(self) -> str:
        from routefinder.view import compare_html

        return compare_html.fragment(self) + compare_html.SAID


def chosen(answer: Answer, routes: Sequence[int] | None) -> tuple[Route, ...]:
    """Routes of an answer by number, all when None; raises InputError for a number not there."""
    if routes is None:
        return answer.routes
    out = []
    for number in dict.fromkeys(routes):
        if not 1 <= number <= len(answer.routes):
            raise InputError(
                f"there is no route {number} to compare; {len(answer.routes)} were found"
            )
        out.append(answer.routes[number - 1])
    return tuple(out)


def compare(
    answer: Answer,
    routes: Sequence[int] | None = None,
    *,
    measures: str | None = None,
    prefer: str | None = None,
    draws: int = robust.DRAWS,
    price_factor: float = robust.PRICE_FACTOR,
    time_factor: float = robust.TIME_FACTOR,
) -> Comparison:
    """Compare routes of an answer, all of them or those numbered.

    ``measures`` names what counts ("yield, cost, time"; the default is yield, cost, time, hazard,
    missing, waste, or those of a non-dominated search). ``prefer`` is read by ``choice.prefer``
    (None: as in the question);
    ``draws`` and the two factors are those of ``choice.robust``. Raises InputError for a route that
    is not there, fewer than one, or words that cannot be read.
    """
    some = chosen(answer, routes)
    if not some:
        raise InputError("there is no route to compare")
    prefer = answer.question.prefer if prefer is None else prefer
    wishes = () if prefer is None else preferring.read(prefer)
    keys = answer.front.keys if answer.front is not None else named.DEFAULT
    if measures is not None:
        keys = named.read_names(measures)
    keys = tuple(dict.fromkeys((*keys, *(w.key for w in wishes))))
    counted = preferring.weighed(wishes, keys)
    found = [r.assessment for r in some]
    lib = answer.library
    return Comparison(
        answer, some, keys, counted, any(w.weight for w in wishes), tuple(dominated(found, keys)),
        shared(lib, found), reasons.groups(lib, found), preferring.scores(counted, found),
        robust.robustness(
            lib, found, counted, draws=draws, price_factor=price_factor, time_factor=time_factor
        ) if len(some) > 1 else None,
    )  # fmt: skip
