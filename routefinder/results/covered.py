"""What a library has for a list of wished-for substances: as data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from routefinder.disclaimer import DISCLAIMER

SCHEMA = "routefinder/coverage/1"
COLUMNS = ("name", "formula", "cas")
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Target:
    """One line of the list."""

    name: str
    formula: str = ""
    cas: str = ""


@dataclass(frozen=True)
class Match:
    """Which substance a target is, and by what; ``id`` is None when it is none of the library."""

    id: str | None
    by: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Covered:
    """What the library has for one target.

    ``more`` says that more routes exist than were counted. The figures of the best route are None
    when there is none; ``why`` then says why. ``refused`` says that routefinder plans for no such
    target, whether the library knows it or not.
    """

    target: Target
    substance: str | None
    matched_by: str
    remark: str
    routes: int = 0
    more: bool = False
    different: int = 0
    best: str = ""
    steps: int | None = None
    yield_low: float | None = None
    yield_typical: float | None = None
    yield_high: float | None = None
    why: str = ""
    refused: bool = False


@dataclass(frozen=True)
class Coverage:
    """All targets of a list with what the library has for them; ``shelf`` says from where."""

    rows: tuple[Covered, ...]
    top: int
    bench: str | None = None
    shelf: str = "every shop"

    @property
    def known(self) -> int:
        """Targets that are substances of the library."""
        return sum(row.substance is not None for row in self.rows)

    @property
    def with_route(self) -> int:
        """Targets with at least one route."""
        return sum(row.routes > 0 for row in self.rows)

    @property
    def refused(self) -> int:
        """Targets that routefinder does not plan for."""
        return sum(row.refused for row in self.rows)

    @property
    def with_two(self) -> int:
        """Targets with at least two really different routes."""
        return sum(row.different > 1 for row in self.rows)

    def json(self) -> dict[str, Any]:
        """The report as plain data."""
        return {
            "schema": SCHEMA,
            "disclaimer": DISCLAIMER,
            "bench": self.bench,
            "shelf": self.shelf,
            "top": self.top,
            "totals": {
                "targets": len(self.rows),
                "in_library": self.known,
                "with_route": self.with_route,
                "with_two_really_different": self.with_two,
                "refused": self.refused,
            },
            "targets": [asdict(row) for row in self.rows],
        }
