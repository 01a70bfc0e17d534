"""The outlines of a small SVG symbol as polygons, for engines that draw no SVG inside a drawing.

Knows what ``view.pictograms`` uses: paths with M L H V C Q Z, circles, groups, translate, scale,
rotate (W3C, SVG 1.1, chapters 7 and 8). Curves become eight straight pieces.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

Matrix = tuple[float, float, float, float, float, float]
Point = tuple[float, float]
SAME: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
PIECES, CORNERS = 8, 24  # of a curve, of a circle
_TOKEN = re.compile(r"[MLHVCQZmlhvcqz]|-?\d*\.?\d+")
_COLOURS = {"#fff": "#ffffff", "#000": "#000000"}


@dataclass(frozen=True)
class Outline:
    """A polygon, or a line when ``open_``."""

    points: tuple[Point, ...]
    fill: str
    stroke: str
    width: float
    open_: bool


def outlines(svg: str) -> tuple[Outline, ...]:
    """All shapes of a symbol, placed."""
    return tuple(_walk(ET.fromstring(svg), SAME, "#000", "none", 1.0))


def _walk(
    element: ET.Element, at: Matrix, fill: str, stroke: str, width: float
) -> Iterator[Outline]:
    at = _times(at, _transform(element.get("transform", "")))
    fill, stroke = element.get("fill", fill), element.get("stroke", stroke)
    width = float(element.get("stroke-width", width))
    tag = element.tag.split("}")[-1]
    drawn: list[tuple[list[Point], bool]] = []
    if tag == "path":
        drawn = list(_path(element.get("d", "")))
    elif tag == "circle":
        drawn = [(_circle(*(float(element.get(a, "0")) for a in ("cx", "cy", "r"))), True)]
    pen = width * math.hypot(at[0], at[1]) if stroke != "none" else 0.1
    for points, closed in drawn:
        placed = [(at[0] * x + at[2] * y + at[4], at[1] * x + at[3] * y + at[5]) for x, y in points]
        if fill == "none" and closed:
            placed.append(placed[0])
        yield Outline(
            tuple(placed), _COLOURS.get(fill, fill), _COLOURS.get(stroke, stroke), pen,
            fill == "none",
        )  # fmt: skip
    for child in element:
        yield from _walk(child, at, fill, stroke, width)


def _circle(cx: float, cy: float, r: float) -> list[Point]:
    turn = 2 * math.pi / CORNERS
    return [(cx + r * math.cos(i * turn), cy + r * math.sin(i * turn)) for i in range(CORNERS + 1)]


def _times(m: Matrix, n: Matrix) -> Matrix:
    a, b, c, d, e, f = m
    g, h, i, j, k, l_ = n
    return (a * g + c * h, b * g + d * h, a * i + c * j, b * i + d * j,
            a * k + c * l_ + e, b * k + d * l_ + f)  # fmt: skip


def _transform(text: str) -> Matrix:
    out = SAME
    for name, words in re.findall(r"(\w+)\(([^)]*)\)", text):
        v = [float(x) for x in re.split(r"[ ,]+", words.strip())]
        if name == "translate":
            step: Matrix = (1.0, 0.0, 0.0, 1.0, v[0], v[1] if len(v) > 1 else 0.0)
        elif name == "scale":
            step = (v[0], 0.0, 0.0, v[-1], 0.0, 0.0)
        else:
            c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
            step = (c, s, -s, c, 0.0, 0.0)
            if len(v) == 3:
                there: Matrix = (1.0, 0.0, 0.0, 1.0, v[1], v[2])
                back: Matrix = (1.0, 0.0, 0.0, 1.0, -v[1], -v[2])
                step = _times(_times(there, step), back)
        out = _times(out, step)
    return out


def _path(text: str) -> Iterator[tuple[list[Point], bool]]:
    """The parts of a path, and whether each is closed."""
    tokens = _TOKEN.findall(text)
    place = 0
    here: Point = (0.0, 0.0)
    part: list[Point] = []
    command = "L"

    def number() -> float:
        nonlocal place
        place += 1
        return float(tokens[place - 1])

    while place < len(tokens):
        if tokens[place].isalpha():
            command = tokens[place]
            place += 1
        ox, oy = here if command.islower() else (0.0, 0.0)
        kind = command.upper()
        if kind == "Z":
            if part:
                yield part, True
                here, part = part[0], []
        elif kind == "M":
            if part:
                yield part, False
            here = (ox + number(), oy + number())
            part, command = [here], "l" if command.islower() else "L"
        elif kind in "LHV":
            x = ox + number() if kind in "LH" else here[0]
            y = oy + number() if kind in "LV" else here[1]
            here = (x, y)
            part.append(here)
        else:
            ends = [here] + [(ox + number(), oy + number()) for _ in range(3 if kind == "C" else 2)]
            part = part or [here]
            part += [_on_curve(ends, i / PIECES) for i in range(1, PIECES + 1)]
            here = ends[-1]
    if part:
        yield part, False


def _on_curve(ends: list[Point], t: float) -> Point:
    """A point of a Bezier curve (de Casteljau)."""
    while len(ends) > 1:
        ends = [((1 - t) * a[0] + t * b[0], (1 - t) * a[1] + t * b[1]) for a, b in pairwise(ends)]
    return ends[0]
