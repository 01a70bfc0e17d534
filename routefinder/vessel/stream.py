"""A stream: grams of matter at one point, by what it is and in which phase.

What a part is called is a substance id, or, for what the library has no substance for, free text
after ``~`` ("~organic matter"). Phases are those of equations: s, l, aq, g. Grams are floats, or
numpy arrays over trials; one text serves both.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from routefinder.library.library import Library

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Number = float | NDArray[np.float64]
else:
    Number = Any

Part = tuple[str, str]
WATER: Part = ("water", "l")
OTHER = "~"
REST: Part = (OTHER + "the rest of the recipe", "aq")  # what a recipe does not name


@dataclass(frozen=True)
class Stream:
    """Grams by (what, phase); parts that are not named are 0."""

    parts: Mapping[Part, Number] = field(default_factory=dict)

    @property
    def mass_g(self) -> Number:
        """Everything together."""
        return _sum(self.parts.values())

    @property
    def solids_g(self) -> Number:
        """All that is solid and not dissolved."""
        return self.in_phases("s")

    @property
    def liquor_g(self) -> Number:
        """All liquids with what is dissolved in them."""
        return self.in_phases("l", "aq")

    def in_phases(self, *phases: str) -> Number:
        """Grams in these phases."""
        return _sum(v for (_, phase), v in self.parts.items() if phase in phases)

    def grams(self, what: str, phase: str | None = None) -> Number:
        """Grams of one thing, in one phase or in all."""
        return _sum(v for (name, p), v in self.parts.items() if name == what and phase in (None, p))

    def share(self, what: str) -> Number:
        """Mass fraction of one thing in all phases: the purity of what is called after it."""
        total = self.mass_g
        return self.grams(what) / total if _positive(total) else 0.0

    def only(self, *phases: str) -> Stream:
        """The part of it in these phases."""
        return Stream({k: v for k, v in self.parts.items() if k[1] in phases})

    def named(self) -> tuple[str, ...]:
        """What is in it, the most first."""
        order = sorted({name for name, _ in self.parts}, key=lambda n: -_middle(self.grams(n)))
        return tuple(n for n in order if _middle(self.grams(n)) > 0)

    def __add__(self, other: Stream) -> Stream:
        out = dict(self.parts)
        for key, value in other.parts.items():
            out[key] = out[key] + value if key in out else value
        return Stream(out)

    def __sub__(self, other: Stream) -> Stream:
        out = dict(self.parts)
        for key, value in other.parts.items():
            out[key] = out.get(key, 0.0) - value
        return Stream(out)

    def __mul__(self, factor: Number) -> Stream:
        return Stream({k: v * factor for k, v in self.parts.items()})

    def elements(self, library: Library) -> dict[str, Number]:
        """Moles of each element; what has no formula is left out."""
        out: dict[str, Number] = {}
        for (name, _), grams in self.parts.items():
            record = library.substances.get(name)
            parsed = record.parsed if record is not None else None
            if parsed is None:
                continue
            for element, count in parsed.counts.items():
                out[element] = out.get(element, 0.0) + grams / parsed.molar_mass * float(count)
        return out

    def without_formula_g(self, library: Library) -> Number:
        """Grams of what has no formula."""
        return _sum(
            grams
            for (name, _), grams in self.parts.items()
            if (record := library.substances.get(name)) is None or record.parsed is None
        )


NOTHING = Stream()


def total(streams: Iterable[Stream]) -> Stream:
    """All of them together."""
    out = NOTHING
    for stream in streams:
        out = out + stream
    return out


def _sum(values: Iterable[Number]) -> Number:
    out: Number = 0.0
    for value in values:
        out = out + value
    return out


def _positive(value: Number) -> bool:
    return bool(value > 0) if isinstance(value, float | int) else bool((value > 0).all())


def _middle(value: Number) -> float:
    return float(value) if isinstance(value, float | int) else float(value.mean())


def least(values: Iterable[Number]) -> Number:
    """The least of several, element by element where they are arrays."""
    listed = list(values)
    if all(isinstance(v, float | int) for v in listed):
        return min(listed)
    import numpy as np

    out = listed[0]
    for value in listed[1:]:
        out = np.minimum(out, value)
    return out


def filled(mass: Number) -> Number:
    """A mass to divide by: 1 where there is none."""
    if isinstance(mass, float | int):
        return mass if mass > 0 else 1.0
    import numpy as np

    return np.where(mass > 0, mass, 1.0)
