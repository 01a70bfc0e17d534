"""Lawful but controlled substances: which list, which limit, and whether a strength is above it.

A limit is a mass fraction above which the general public needs a licence or is barred (Regulation
(EU) 2019/1148 Annex I, the British Poisons Act); other flags have none and mean "check your
country". The lists and their sources are in ``reactions/regulated.yaml``.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library import regulated
from routefinder.library.library import Library
from routefinder.library.regulated import Hit
from routefinder.records.shelf import Supply


@dataclass(frozen=True)
class Controlled:
    """A controlled substance where a route meets it.

    ``material`` is the name of what is taken from the shelf, or None for what a step makes.
    ``strength`` is its mass fraction there, None for a solution of no stated strength. ``over``
    says whether it is above the list's limit; None when there is no limit or no strength.
    """

    substance: str
    name: str
    material: str | None
    steps: tuple[str, ...]
    strength: float | None
    over: bool | None
    hit: Hit

    @property
    def licence(self) -> bool:
        """Whether the material itself is above a limit, so that a licence is needed."""
        return self.over is True and self.material is not None

    @property
    def matters(self) -> bool:
        """Whether to show it: not what is known to be below its limit."""
        return self.over is not False


def flags(
    library: Library, substance_id: str, strength: float | None
) -> list[tuple[Hit, bool | None]]:
    """(list entry, above its limit) of a substance at a mass fraction."""
    out: list[tuple[Hit, bool | None]] = []
    for hit in regulated.of(library, substance_id).flags:
        known = hit.limit is not None and strength is not None
        out.append((hit, strength > hit.limit + 1e-9 if known else None))  # type: ignore[operator]
    return out


def in_supply(library: Library, supply: Supply, steps: tuple[str, ...] = ()) -> list[Controlled]:
    """What is controlled in a material, at the strength it has."""
    return [
        Controlled(s, library.name(s), supply.name, steps, w, over, hit)
        for s, w in supply.fractions.items()
        for hit, over in flags(library, s, w)
    ]


def licence_for(library: Library, supply: Supply) -> Controlled | None:
    """Why a material needs a licence, or None."""
    return next((c for c in in_supply(library, supply) if c.licence), None)
