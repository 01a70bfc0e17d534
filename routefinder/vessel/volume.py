"""How much room a stream takes, and how full the vessel of a step stands, stage by stage.

Solids and pure liquids have the density of their substance (2 g/mL, 1 g/mL where none is known:
common practice); water 0.9982 g/mL. What is dissolved takes the room by which it makes the water of
the vessel more, alone in all of it (``library.densities``: apparent volumes of several solutes are
taken to add up, common practice); without any density, that of its solid. Gases take none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.chem.solutions import WATER_G_ML
from routefinder.library.densities import curve
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.stage import SEPARATES, Stage
from routefinder.vessel.course import Course
from routefinder.vessel.stream import OTHER, WATER, Stream

SOLID_G_ML = 2.0
LIQUID_G_ML = 1.0
_PARTS = (*SEPARATES, "wash")


@dataclass(frozen=True)
class Fill:
    """What stands in the vessel at one moment of a stage (or in it and the jar of its filtrate)."""

    stage: Stage
    contents: Stream
    volume_mL: float

    @property
    def mass_g(self) -> float:
        """All that has weight in a vessel; a gas leaves it."""
        return float(self.contents.in_phases("s", "l", "aq"))


def volume_mL(library: Library, stream: Stream) -> float:  # noqa: N802
    """The room that the solids and liquids of a stream take, in mL."""
    water = float(stream.grams(*WATER))
    total = water / WATER_G_ML
    for (what, phase), value in stream.parts.items():
        grams = float(value)
        if (what, phase) == WATER or phase == "g" or grams <= 0:
            continue
        if phase == "aq":
            total += _dissolved_mL(library, what, grams, water)
        else:
            total += grams / _density(library, what, phase)
    return total


def _density(library: Library, what: str, phase: str) -> float:
    record = library.substances.get(what)
    known = None if record is None else record.density_g_mL
    return known or (SOLID_G_ML if phase == "s" else LIQUID_G_ML)


def _dissolved_mL(  # noqa: N802
    library: Library, what: str, grams: float, water_g: float
) -> float:
    if what.startswith(OTHER):
        return grams / LIQUID_G_ML
    if water_g > 0:
        strength = grams / (grams + water_g)
        found = curve(library, what).at(strength)
        if found is not None and found.g_mL > 0:
            return (grams + water_g) / found.g_mL - water_g / WATER_G_ML
    return grams / _density(library, what, "s")


def fills(library: Library, course: Course) -> tuple[Fill, ...]:
    """How full the vessel stands: as charged, and at the fullest moment of every stage.

    A wash goes through a cake that lies on its filter; only layers are washed in their vessel.
    """
    first = course.points[0].stage
    begun = course.charge.contents
    out = [Fill(first, begun, volume_mL(library, begun))]
    before = begun
    layered = course.layered
    for point in course.points:
        moments = [point.contents]
        if layered and point.stage.kind == "wash":
            moments.append(before + point.taken * (1 / max(point.stage.times, 1)))
        full = [(volume_mL(library, m), m) for m in moments]
        room, contents = max(full, key=lambda x: x[0])
        out.append(Fill(point.stage, contents, room))
        before = point.contents
    return tuple(out)


def before_parting(found: tuple[Fill, ...]) -> tuple[Fill, ...]:
    """The moments until solids and liquor are parted: what one vessel holds."""
    for i, fill in enumerate(found):
        if fill.stage.kind in _PARTS:
            return found[:i]
    return found


def strengths(step: ResolvedStep, course: Course) -> Mapping[str, float]:
    """The greatest mass fraction of each dissolved substance in the liquor, at any moment.

    Of what is dissolved, without crystal water, by family root; as the reaction begins and at the
    end of each stage. Oils and other liquids do not dilute it, solvents do (``library.pot``).
    Water that boils off is not followed.
    """
    dilutes = {a.substance for a in step.aids if a.role in {"solvent", "medium"}}
    out: dict[str, float] = {}
    for stream in (course.begun, *(p.contents for p in course.points)):
        liquor = sum(
            float(grams) for (what, phase), grams in stream.parts.items()
            if phase == "aq" or (what, phase) == WATER or (phase == "l" and what in dilutes)
        )  # fmt: skip
        for (what, phase), grams in stream.parts.items():
            if phase == "aq" and liquor > 0 and not what.startswith(OTHER):
                out[what] = max(out.get(what, 0.0), float(grams) / liquor)
    return out


def fullest(found: tuple[Fill, ...]) -> Fill:
    """The moment at which most room is taken."""
    return max(found, key=lambda f: f.volume_mL)
