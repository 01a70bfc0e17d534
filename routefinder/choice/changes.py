"""What is different between two answers to one question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from routefinder.assessment.assess import Assessment

SAME = 1e-6  # relative: figures nearer than this are the same


@dataclass(frozen=True)
class KeptRoute:
    """A route in both answers: its numbers then and now, and the measures that differ."""

    name: str
    before: int
    now: int
    measures: Mapping[str, tuple[float | None, float | None]]


@dataclass(frozen=True)
class Changes:
    """Routes that are new (number, name) or gone, and those that moved or measure otherwise.

    ``library`` says whether the library changed, ``question`` which keys of the question did.
    """

    new: tuple[tuple[int, str], ...]
    gone: tuple[tuple[int, str], ...]
    kept: tuple[KeptRoute, ...]
    library: bool
    question: tuple[str, ...] = ()

    @property
    def none(self) -> bool:
        """Whether nothing is different in the routes."""
        return not (self.new or self.gone or self.kept)


def row(name: str, found: Assessment) -> dict[str, Any]:
    """What is kept of a route: its name, its steps and its measures."""
    return {
        "name": name,
        "steps": list(found.ids),
        "measures": {key: m.typical for key, m in found.measures().items()},
    }


def changes(
    before: Mapping[str, Any], now: Mapping[str, Any], question: Sequence[str] = ()
) -> Changes:
    """Compare two answers as kept: ``fingerprint`` of the library, ``routes`` best first.

    A route is the same when its set of steps is.
    """
    then = {frozenset(r["steps"]): (i, r) for i, r in enumerate(before["routes"], start=1)}
    mine = {frozenset(r["steps"]): (i, r) for i, r in enumerate(now["routes"], start=1)}
    kept = []
    for key, (i, found) in mine.items():
        if key not in then:
            continue
        j, old = then[key]
        names = [*found["measures"], *(n for n in old["measures"] if n not in found["measures"])]
        pairs = {n: (old["measures"].get(n), found["measures"].get(n)) for n in names}
        moved = {n: pair for n, pair in pairs.items() if not _same(*pair)}
        if i != j or moved:
            kept.append(KeptRoute(found["name"], j, i, moved))
    return Changes(
        tuple((i, r["name"]) for key, (i, r) in mine.items() if key not in then),
        tuple((i, r["name"]) for key, (i, r) in then.items() if key not in mine),
        tuple(kept),
        before["fingerprint"] != now["fingerprint"],
        tuple(question),
    )


def _same(a: float | None, b: float | None) -> bool:
    if a is None or b is None:
        return a is b
    return abs(a - b) <= SAME * max(1.0, abs(a), abs(b))
