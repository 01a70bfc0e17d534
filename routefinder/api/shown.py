"""Results that show themselves: drawn, written, as plain data, and in a notebook."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from html import escape
from pathlib import Path
from typing import Any

from routefinder import files
from routefinder.assessment.assess import Assessment
from routefinder.choice import measures as named
from routefinder.errors import FieldError
from routefinder.results.answer import Answer, Route
from routefinder.results.comparison import Comparison
from routefinder.results.unlocked import Opening, Unlocked
from routefinder.view import (
    as_json,
    choice_plots,
    compare_html,
    compare_json,
    diagram,
    overview,
    plan_files,
    plan_json,
    route_diagram,
    short_text,
    text,
    unlock_text,
)
from routefinder.view.choice_plots import Picture
from routefinder.view.picture import pictures
from routefinder.view.picture.pen import DrawnSheet
from routefinder.worksheet.plan import Plan


@dataclass(frozen=True, repr=False)
class ShownPlan(Plan):
    """A plan that shows itself and can be written."""

    answer: Answer

    def json(self) -> dict[str, Any]:
        """The plan as plain data (see view/plan.schema.json)."""
        return plan_json.plan(self)

    def write(self, path: str | Path, force: bool = False) -> Path:
        """Write it to ``path`` (.html, .pdf, .md, .csv or .json).

        Raises InputError for another ending, a folder that is not there or a file that is (unless
        ``force``), OutOfReach when no browser prints the PDF.
        """
        return plan_files.write(self, self.answer, _path(path), force)

    def __str__(self) -> str:
        return short_text.plan(self)

    def _repr_html_(self) -> str:
        return f"<pre>{escape(str(self))}</pre>"


@dataclass(frozen=True, repr=False)
class ShownRoute(Route):
    """A route that draws itself."""

    def dot(self, reuse: bool = False) -> str:
        """The route as Graphviz DOT source; with ``reuse`` what is fed back returns in arrows."""
        back = self.reuse.fed_back if reuse else ()
        return route_diagram.route_dot(self.library, self.assessment, self.number, back)

    def sheets(
        self, shape: str = "fitting", reuse: bool = False, date: str = ""
    ) -> list[DrawnSheet]:
        """The route drawn; ``shape`` is one of ``view.picture.pictures.SHAPES`` but "graph"."""
        back = self.reuse.fed_back if reuse else ()
        return pictures.route(self.library, self.assessment, self.number, back, shape, date)

    def diagram(
        self, path: str | Path, reuse: bool = False, force: bool = False, shape: str = "fitting",
        date: str = "",
    ) -> tuple[Path, ...]:  # fmt: skip
        """Draw the route to ``path`` (.svg, .png or .dot); gives the files, a second sheet too.

        A .dot file and ``shape`` "graph" are the plain graph. A file that is there is written over
        with ``force`` only. ``date`` stands under its name. Raises InputError for a shape that the
        route has no room for, and where the file cannot be written.
        """
        place = _path(path)
        if shape == "graph" or place.suffix.lower() == ".dot":
            return (diagram.write(self.dot(reuse), place, force),)
        return pictures.write(self.sheets(shape, reuse, date), place, force)

    def __str__(self) -> str:
        return short_text.route(self)

    def _repr_svg_(self) -> str:
        return self.sheets()[0].svg(f"r{self.number}-")


@dataclass(frozen=True, repr=False)
class ShownAnswer(Answer):
    """An answer whose routes, and which itself, can be drawn and written."""

    routes: tuple[ShownRoute, ...]

    def dot(self) -> str:
        """The ways over one another as Graphviz DOT source; a variant is drawn with its way."""
        return overview.overview_dot(self.library, self.target, self._ways)

    @property
    def _ways(self) -> list[tuple[int, Assessment]]:
        return [(r.number, r.assessment) for r in self.routes if r.variant_of is None]

    def diagram(
        self, path: str | Path, force: bool = False, shape: str = "fitting", date: str = ""
    ) -> tuple[Path, ...]:
        """Draw all ways to ``path`` (.svg, .png or .dot), a lane each; gives the files.

        As ``ShownRoute.diagram``; "phone" has them one under another.
        """
        place = _path(path)
        if shape == "graph" or place.suffix.lower() == ".dot":
            return (diagram.write(self.dot(), place, force),)
        drawn = pictures.overview(self.library, self.target, self._ways, shape, date)
        return pictures.write(drawn, place, force)

    def plan(self, number: int = 1, **terms: Any) -> ShownPlan:
        """The plan of one route; ``terms`` as in ``worksheet.terms.read`` (all optional).

        Raises InputError for a number that no route has, and for terms that cannot be used.
        """
        return ShownPlan(**_fields(super().plan(number, **terms)), answer=self)

    def __str__(self) -> str:
        return short_text.answer(self)

    def write_plan(self, plan: Plan, path: str | Path, force: bool = False) -> Path:
        """Write a plan of this answer to ``path`` (.html, .pdf, .md, .csv or .json)."""
        return plan_files.write(plan, self, _path(path), force)

    def json(self) -> dict[str, Any]:
        """The answer as plain data (see view/routes.schema.json)."""
        return as_json.answer(self)

    def _repr_html_(self) -> str:
        return text.answer_html(self)


@dataclass(frozen=True, repr=False)
class ShownComparison(Comparison):
    """A comparison that can be drawn and written."""

    def json(self) -> dict[str, Any]:
        """The comparison as plain data."""
        return compare_json.comparison(self)

    def html(self) -> str:
        """One HTML page that stands by itself."""
        return compare_html.page(self)

    def dot(self) -> str:
        """The routes over one another as Graphviz DOT source."""
        return overview.overview_dot(
            self.answer.library, self.answer.target,
            [(r.number, r.assessment) for r in self.routes],
        )  # fmt: skip

    def diagram(
        self, path: str | Path, force: bool = False, shape: str = "fitting", date: str = ""
    ) -> tuple[Path, ...]:
        """Draw the routes to ``path`` (.svg, .png or .dot), a lane each; gives the files.

        As ``ShownAnswer.diagram``.
        """
        place = _path(path)
        if shape == "graph" or place.suffix.lower() == ".dot":
            return (diagram.write(self.dot(), place, force),)
        routes = [(r.number, r.assessment) for r in self.routes]
        answer = self.answer
        drawn = pictures.overview(answer.library, answer.target, routes, shape, date)
        return pictures.write(drawn, place, force)

    def write(self, path: str | Path, force: bool = False) -> Path:
        """Write to ``path``: .html the whole page; .svg, .png or .dot the routes drawn.

        Raises InputError for another ending or a file that is there (unless ``force``).
        """
        path = _path(path)
        if path.suffix.lower() != ".html":
            return self.diagram(path, force)[0]
        files.check(path, force)
        return files.write_page(path, self.html(), force=force)

    def tradeoff(self, x: str = "cost", y: str = "yield") -> Picture:
        """Two measures against each other, with intervals; the non-dominated joined."""
        return choice_plots.tradeoff(self, named.key_of(x), named.key_of(y))

    def waterfall(self) -> Picture:
        """How the yield falls from step to step, a panel a route."""
        return choice_plots.waterfall([(r.number, r.assessment) for r in self.routes])

    def bars(self) -> Picture:
        """Money for materials and time by step, a panel a route."""
        return choice_plots.bars([(r.number, r.assessment) for r in self.routes])

    def masses(self) -> Picture:
        """Where the mass that goes in ends up, a bar a route."""
        return choice_plots.masses([(r.number, r.assessment) for r in self.routes])

    def __str__(self) -> str:
        return short_text.comparison(self)

    def _repr_html_(self) -> str:
        return compare_html.fragment(self) + compare_html.SAID


@dataclass(frozen=True, repr=False)
class ShownUnlocked(Unlocked):
    """What would open more, as plain data too."""

    def json(self) -> dict[str, Any]:
        """The answer as plain data."""
        return unlock_text.as_data(self)

    def __str__(self) -> str:
        return short_text.unlocked(self)

    def _repr_html_(self) -> str:
        return f"<pre>{escape(str(self))}</pre>"


def _path(path: Any) -> Path:
    if not isinstance(path, str | Path):
        raise FieldError("{f} is {value!r}; give the path of a file", f="path", value=path)
    return Path(path)


def _fields(thing: Any) -> dict[str, Any]:
    return {f.name: getattr(thing, f.name) for f in fields(thing)}


def show_route(route: Route) -> ShownRoute:
    """The route, able to draw itself."""
    return ShownRoute(**_fields(route))


def show_answer(answer: Answer) -> ShownAnswer:
    """The answer, able to draw and write itself and each of its routes."""
    kept = _fields(answer)
    return ShownAnswer(**{**kept, "routes": tuple(map(show_route, answer.routes))})


def show_comparison(found: Comparison) -> ShownComparison:
    """The comparison, able to draw and write itself."""
    return ShownComparison(**_fields(found))


def show_unlocked(found: Unlocked) -> ShownUnlocked:
    """What would open more, each of its routes able to draw itself."""

    def opened(opening: Opening) -> Opening:
        return replace(opening, route=show_route(opening.route))

    kept = _fields(found)
    kept["today"] = None if found.today is None else show_route(found.today)
    kept["openings"] = tuple(map(opened, found.openings))
    kept["wider"] = tuple(map(opened, found.wider))
    return ShownUnlocked(**kept)
