"""What comes back for a question: routes, or why there are none; data only."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.assessment.assess import Assessment
from routefinder.choice.dominance import Dominated
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import FieldError, InputError
from routefinder.graph import narrow as narrowing
from routefinder.library import regulated
from routefinder.library.library import Library
from routefinder.records.question import Question, State
from routefinder.records.substance import Substance
from routefinder.search import explain
from routefinder.search.route import Ending, Found
from routefinder.worksheet import plan as planning
from routefinder.worksheet import terms as reading

if TYPE_CHECKING:
    from routefinder.assessment.exposure import Exposure
    from routefinder.assessment.leavings import Handling
    from routefinder.assessment.reuse import Reuse
    from routefinder.assessment.room_air import Room
    from routefinder.worksheet.plan import Plan


@dataclass(frozen=True)
class Route:
    """One route found: its place in the order, its cost under that order, and its assessment.

    ``name`` says in a few words what it starts from and what it goes through.
    """

    number: int
    name: str
    cost: float
    proven: bool
    assessment: Assessment
    library: Library
    dominated: Dominated | None = None
    variant_of: int | None = None

    def __repr__(self) -> str:
        return f"<Route {self.number}: {self.name}>"

    @property
    def ids(self) -> tuple[str, ...]:
        """Step ids in a workable order."""
        return self.assessment.ids

    def exposure(self, room: Room | None = None) -> dict[str, list[Exposure]]:
        """Step id -> what the step puts into the air of a room (30 m3, half a change an hour)."""
        from routefinder.assessment.exposure import exposure

        return {a.step.id: exposure(self.library, a, room) for a in self.assessment.amounts.steps}

    def leavings(self) -> tuple[Handling, ...]:
        """What the route leaves over, by stream, with the usual handling: local rules decide."""
        from routefinder.assessment.leavings import leavings

        return leavings(self.library, self.assessment.amounts.steps)

    @cached_property
    def reuse(self) -> Reuse:
        """What feeding its by-products back saves."""
        from routefinder.assessment.reuse import reuse

        return reuse(self.library, self.assessment.amounts)


@dataclass(frozen=True)
class Lost:
    """A route that exists but breaks limits, with the steps and reasons."""

    steps: tuple[str, ...]
    reasons: tuple[narrowing.SetAside, ...]


@dataclass(frozen=True)
class Lack:
    """One thing that a route lacks: ``kind`` is "material", "equipment" or "limit".

    ``or_else`` names what would be accepted instead, ``does`` what equipment is needed for.
    """

    kind: str
    name: str
    or_else: tuple[str, ...] = ()
    does: tuple[str, ...] = ()


@dataclass(frozen=True)
class Near:
    """A route that is not far: what it lacks, and its steps."""

    lacks: tuple[Lack, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True)
class NoRoute:
    """Why there is no route within the limits: what is lacking, and which steps are set aside.

    ``near`` are the nearest routes: the fewest things lacking first (materials, equipment and
    limits count alike, no smaller set opens any), of equals the better route; ``lacking`` and
    ``nearest`` are those of the first.
    """

    lacking: tuple[str, ...]
    nearest: tuple[str, ...]
    aside: tuple[narrowing.SetAside, ...]
    sentence: str
    near: tuple[Near, ...] = ()


@dataclass(frozen=True)
class Beaten:
    """A route that was looked at and is dominated."""

    steps: tuple[str, ...]
    assessment: Assessment
    dominated: Dominated

    def __repr__(self) -> str:
        return f"<Beaten by route {self.dominated.by}: {', '.join(self.steps)}>"


@dataclass(frozen=True)
class Fronted:
    """What is known of the non-dominated set when it was asked for.

    ``size`` routes are in it (``Answer.routes`` may list fewer), ``beaten`` were looked at and are
    dominated; ``examples`` are some of them. When not ``complete`` it is so among the routes whose
    cost in the search's order is below ``below``.
    """

    keys: tuple[str, ...]
    size: int
    beaten: int
    examples: tuple[Beaten, ...]
    complete: bool
    below: float
    cut: int = 0


@dataclass(frozen=True)
class EndsAs:
    """In what state the target was wanted (``said`` by the user, else as it is usual).

    ``met`` says that every route ends so; ``solids`` are other forms of it that the library makes
    as solids; ``possible`` that some step of the library makes it in the wanted state, ``stopped``
    that the search for that was stopped before its end.
    """

    asked: State
    said: bool
    met: bool
    solids: tuple[str, ...]
    possible: bool
    stopped: bool = False


@dataclass(frozen=True)
class Answer:
    """What ``find`` gives back."""

    question: Question
    target: Substance
    library: Library
    routes: tuple[Route, ...]
    ending: Ending
    gap: float
    seconds: float
    lost: tuple[Lost, ...]
    aside: tuple[narrowing.SetAside, ...]
    notes: tuple[str, ...]
    why_none: NoRoute | None = None
    front: Fronted | None = None
    state: EndsAs | None = None

    def __repr__(self) -> str:
        routes = digits.count(len(self.routes), "route")
        return f"<Answer: {routes} to {digits.mass(self.question.amount_g)} of {self.target.name}>"

    def plan(self, number: int = 1, **terms: Any) -> Plan:
        """The plan of one route; ``terms`` as in ``worksheet.terms.read`` (all optional).

        Raises InputError for a number that no route has, and for terms that cannot be used.
        """
        if isinstance(number, bool) or not isinstance(number, int):
            raise FieldError("{f} is {value!r}, not the number of a route", f="number",
                             value=number)  # fmt: skip
        if not 1 <= number <= len(self.routes):
            raise InputError(f"there is no route {number}; {len(self.routes)} were found")
        route = self.routes[number - 1]
        reading.known(terms)
        return planning.make(
            route.library, self.question, route.assessment, number, route.name,
            reading.read(**terms),
        )  # fmt: skip


@dataclass(frozen=True)
class NetworkAnswer:
    """What ``find_in_network`` gives back."""

    source: str
    target: str
    shelf: tuple[str, ...]
    found: Found
    nearest: explain.Nearest | None
    refused: tuple[regulated.NetworkRefusal, ...] = ()

    def __repr__(self) -> str:
        routes = digits.count(len(self.found.routes), "route")
        return f"<NetworkAnswer: {routes} to {self.target} in {self.source}>"

    def json(self) -> dict[str, Any]:
        """The answer as plain data."""
        return {
            "schema": "routefinder/network-routes/1",
            "disclaimer": DISCLAIMER,
            "network": self.source,
            "target": self.target,
            "shelf": list(self.shelf),
            "ending": str(self.found.ending),
            "gap": self.found.gap,
            "routes": [
                {"steps": list(r.steps), "cost": r.cost, "proven": r.proven}
                for r in self.found.routes
            ],
            "lacking": list(self.nearest.lacking) if self.nearest else [],
            "refused_steps": [
                {"step": r.step, "name": r.node, "list": r.hit.title} for r in self.refused
            ],
        }


def route_name(library: Library, found: Assessment) -> str:
    """ "blue vitriol, soda ash → basic copper carbonate → copper acetate solution"."""
    starts = [d.supply.name for d in found.amounts.draws if d.reactant and not d.supply.everywhere]
    through = []
    for amount in found.amounts.steps[:-1]:
        name = re.sub(",? anhydrous$", "", library.name(amount.step.main.substance))
        if amount.step.main.state == "aq":
            name += " solution"
        if amount.step.record.kind == "electrolysis":
            name += " by electrolysis"
        if name not in through:
            through.append(name)
    return " → ".join([" + ".join(starts) or "water and air", *through])
