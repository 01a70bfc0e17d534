"""A sheet and what stands on it, at places that others reckon; two ways out.

SVG keeps words as words (for screen readers, search and copying). For PNG the same primitives are
handed to Graphviz as the background of an empty graph (xdot operations, Graphviz's documentation of
the attribute ``_background``), which draws them where they are.

Letters are measured with the widths of Arimo, which has those of Helvetica and Arial.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from importlib.resources import files

from routefinder.hidden import visible
from routefinder.view import pictograms
from routefinder.view.picture.outline import Outline, outlines

INK, BLUE, PALE = "#111111", "#0b4f7d", "#c9dcea"
GREY, MID, RULE, BAND, LANE = "#555555", "#8c8c8c", "#b5b5b5", "#dddddd", "#f3f5f7"
WHITE, NONE = "#ffffff", "none"
FONT = "Arimo, 'Liberation Sans', Helvetica, Arial, sans-serif"
SUB_SIZE, SUB_DROP = 0.74, 0.20  # of the letters' size
LEAD = 1.18  # of the letters' size, from line to line
MARGIN = 4.0
_LOW = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_RUN = re.compile(r"[₀-₉]+|[^₀-₉]+")
_WHOLE = re.compile(r"(?<=\d) (?=%|°C|mm|m[gL]|[gLVAhd]\b|kg\b|min\b)")
_CUT_AFTER = "-·,/"
_LONGEST = 6000  # characters of one string: older Graphviz takes none over 16 KiB

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Box:
    """A rectangle: left, top, width, height."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """The x of its right side."""
        return self.x + self.w

    @property
    def bottom(self) -> float:
        """The y of its lower side."""
        return self.y + self.h


@dataclass(frozen=True)
class Shape:
    """A polygon, or a line when ``open_``."""

    points: tuple[tuple[float, float], ...]
    fill: str = NONE
    stroke: str = NONE
    width: float = 1.0
    dashed: bool = False
    open_: bool = False


@dataclass(frozen=True)
class Disc:
    """A circle."""

    x: float
    y: float
    r: float
    fill: str
    stroke: str
    width: float


@dataclass(frozen=True)
class Words:
    """One line of words; ``x`` is their left end, ``y`` their base line."""

    x: float
    y: float
    text: str
    size: float
    bold: bool
    fill: str
    within: Box | None

    @property
    def box(self) -> Box:
        """What they cover."""
        wide = width(self.text, self.size, self.bold)
        return Box(self.x, self.y - self.size * 0.72, wide, self.size * 0.8)


@dataclass(frozen=True)
class DrawnSign:
    """A pictogram."""

    code: str
    x: float
    y: float
    size: float


Item = Shape | Disc | Words | DrawnSign


@lru_cache(maxsize=1)
def _widths() -> dict[str, dict[str, int]]:
    data: dict[str, dict[str, int]] = json.loads(
        (files("routefinder.view.picture") / "widths.json").read_text("utf-8")
    )
    return data


def _runs(text: str) -> list[tuple[str, bool]]:
    """Pieces of a text, and whether they are subscripts."""
    return [(m.translate(_LOW), m[0] in "₀₁₂₃₄₅₆₇₈₉") for m in _RUN.findall(text)]


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide words are at a size, in the unit of the size."""
    table = _widths()["bold" if bold else "regular"]
    return (
        sum(
            sum(table.get(c, 600) for c in part) * (SUB_SIZE if low else 1)
            for part, low in _runs(text)
        )
        * size
        / 1000
    )


def wrap(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """Lines of words no wider than ``room`` where that can be; a number stays with its unit."""
    lines: list[str] = []
    for word in _WHOLE.sub("\u00a0", text).split(" "):
        if lines and width(f"{lines[-1]} {word}", size, bold) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return [piece for line in lines for piece in _pieces(line, room, size, bold)]


def _pieces(line: str, room: float, size: float, bold: bool) -> Iterator[str]:
    """A word wider than the room, cut at a hyphen, a bracket or a dot; else where it must be."""
    while width(line, size, bold) > room:
        fits = [i for i in range(1, len(line)) if width(line[:i], size, bold) <= room]
        if not fits:
            break
        good = [
            i
            for i in fits
            if line[i - 1] in _CUT_AFTER or (line[i - 1] == ")" and line[i] not in "₀₁₂₃₄₅₆₇₈₉)")
        ]
        at = good[-1] if good else fits[-1]
        yield line[:at]
        line = line[at:]
    yield line


def shortest(texts: Sequence[str], room: float, size: float, most: int) -> list[str]:
    """The first of ``texts`` that fits into ``most`` lines; else the last, cut with dots."""
    for text in texts:
        lines = wrap(text, room, size)
        if len(lines) <= most:
            return lines
    return cut(wrap(texts[-1], room, size), room, size, most)


def cut(lines: list[str], room: float, size: float, most: int, bold: bool = False) -> list[str]:
    """The first ``most`` lines, with dots where others are left out."""
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and width(f"{last} …", size, bold) > room:
        last = last.rpartition(" ")[0] or last[:-1]
    return [*lines[: most - 1], f"{last.rstrip(' ,:;')} …"]


@dataclass
class DrawnSheet:
    """A drawing of ``w`` by ``h`` points (``unit`` "pt") or pixels ("px"); ``alt`` says it all."""

    w: float
    h: float
    alt: str
    unit: str = "pt"
    items: list[Item] = field(default_factory=list)

    def poly(
        self, points: Points, fill: str = NONE, stroke: str = NONE, sw: float = 1.0,
        dashed: bool = False, open_: bool = False,
    ) -> None:  # fmt: skip
        """A polygon, or a line."""
        placed = tuple((float(x), float(y)) for x, y in points)
        self.items.append(Shape(placed, fill, stroke, sw, dashed, open_))

    def rect(
        self, x: float, y: float, w: float, h: float, fill: str = NONE, stroke: str = NONE,
        sw: float = 1.0, dashed: bool = False,
    ) -> None:  # fmt: skip
        """A rectangle."""
        self.poly([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], fill, stroke, sw, dashed)

    def line(
        self, *points: tuple[float, float], stroke: str = INK, sw: float = 1.0,
        dashed: bool = False,
    ) -> None:  # fmt: skip
        """A line through points."""
        self.poly(points, NONE, stroke, sw, dashed, True)

    def disc(
        self, x: float, y: float, r: float, fill: str = WHITE, stroke: str = INK, sw: float = 1.0
    ) -> None:
        """A circle."""
        self.items.append(Disc(x, y, r, fill, stroke, sw))

    def text(
        self, x: float, y: float, text: str, size: float, bold: bool = False, fill: str = INK,
        anchor: str = "start", within: Box | None = None,
    ) -> None:  # fmt: skip
        """A line of words at (``x``, base line), which must not leave the card ``within``."""
        text = visible(text)
        if text:
            back = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
            left = x - back * width(text, size, bold) if back else x
            self.items.append(Words(left, y, text, size, bold, fill, within))

    def lines(
        self, x: float, y: float, lines: Sequence[str], size: float, bold: bool = False,
        fill: str = INK, anchor: str = "start", within: Box | None = None, lead: float = LEAD,
    ) -> float:  # fmt: skip
        """Lines under one another; gives the base line of the next."""
        for i, line in enumerate(lines):
            self.text(x, y + i * size * lead, line, size, bold, fill, anchor, within)
        return y + len(lines) * size * lead

    def sign(self, code: str, x: float, y: float, size: float) -> None:
        """A GHS pictogram."""
        self.items.append(DrawnSign(code, x, y, size))

    @property
    def words(self) -> list[Words]:
        """All words."""
        return [i for i in self.items if isinstance(i, Words)]

    @property
    def smallest(self) -> float:
        """The size of the smallest letters, subscripts aside."""
        return min(w.size for w in self.words)

    def faults(self) -> list[str]:
        """Words that leave the sheet or their card, or run into other words."""
        out = []
        boxes = [(w, w.box) for w in self.words]
        for n, (w, box) in enumerate(boxes):
            if (
                min(box.x, box.y) < MARGIN
                or box.right > self.w - MARGIN
                or box.bottom > self.h - MARGIN / 2
            ):
                out.append(f"off the sheet: {w.text!r}")
            card = w.within
            if card is not None and (
                box.x < card.x - 0.5
                or box.right > card.right + 0.5
                or box.y < card.y - 0.5
                or box.bottom > card.bottom + 0.5
            ):
                out.append(f"out of its card: {w.text!r}")
            for other, held in boxes[:n]:
                over = min(box.right, held.right) - max(box.x, held.x)
                deep = min(box.bottom, held.bottom) - max(box.y, held.y)
                if over > 1 and deep > 1:
                    out.append(f"{other.text!r} and {w.text!r} run into one another")
        return out

    # --- SVG -----------------------------------------------------------------------------------

    def svg(self, name: str = "") -> str:
        """The drawing as SVG; what it says stands in its title for who cannot see it.

        ``name`` goes before every id, so that several may stand on one page.
        """
        used = sorted({i.code for i in self.items if isinstance(i, DrawnSign)})
        out = [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self._size(self.w)}" '
            f'height="{self._size(self.h)}" viewBox="0 0 {self.w:g} {self.h:g}" role="img" '
            f'aria-label="{escape(visible(self.alt))}" '
            f'font-family="{FONT}"><title>{escape(visible(self.alt))}</title>'
        ]
        if used:
            out.append("<defs>" + "".join(_symbol(c, name) for c in used) + "</defs>")
        out.append(f'<rect width="{self.w:g}" height="{self.h:g}" fill="white"/>')
        out += [_as_svg(item, name) for item in self.items]
        return "\n".join(out) + "\n</svg>\n"

    def _size(self, value: float) -> str:
        return f"{value * 25.4 / 72:.2f}mm" if self.unit == "pt" else f"{value:g}"

    # --- Graphviz ------------------------------------------------------------------------------

    def dot(self) -> str:
        """The same drawing as DOT: xdot operations in ``_background``, for ``neato -n2``."""
        operations = [op for item in self.items for op in _as_xdot(item, self.h)]
        strings, held = [], ""
        for op in operations:
            text = op.replace("\\", "\\\\").replace('"', '\\"')
            if len(held) + len(text) > _LONGEST:
                strings.append(held)
                held = ""
            held += text
        background = '"\n + "'.join([*strings, held])
        corners = f'a [pos="0,0!"]; b [pos="{self.w:g},{self.h:g}!"];'  # the graph's bounding box
        return (
            "graph { graph [pad=0, margin=0, bgcolor=white, outputorder=nodesfirst, "
            f'_background="{background}"];\n'
            ' node [shape=point, width=0.01, height=0.01, style=invis, label=""];\n'
            f" {corners} }}\n"
        )


def _symbol(code: str, name: str) -> str:
    inner = re.sub(r"<svg[^>]*>", "", pictograms.svg(code)).replace("</svg>", "")
    return f'<symbol id="{name}{code}" viewBox="0 0 100 100">{inner}</symbol>'


def _as_svg(item: Item, name: str) -> str:
    if isinstance(item, Shape):
        kind = "polyline" if item.open_ else "polygon"
        at = " ".join(f"{x:.2f},{y:.2f}" for x, y in item.points)
        dash = ' stroke-dasharray="3.5,2.5"' if item.dashed else ""
        return (
            f'<{kind} points="{at}" fill="{item.fill}" stroke="{item.stroke}" '
            f'stroke-width="{item.width:g}"{dash}/>'
        )
    if isinstance(item, Disc):
        return (
            f'<circle cx="{item.x:.2f}" cy="{item.y:.2f}" r="{item.r:.2f}" fill="{item.fill}" '
            f'stroke="{item.stroke}" stroke-width="{item.width:g}"/>'
        )
    if isinstance(item, DrawnSign):
        place = f'x="{item.x:.2f}" y="{item.y:.2f}" width="{item.size:.2f}"'
        return f'<use href="#{name}{item.code}" {place} height="{item.size:.2f}"/>'
    inner, down = "", False
    for part, low in _runs(item.text):
        drop = "" if low == down else f' dy="{item.size * SUB_DROP * (1 if low else -1):.2f}"'
        size = f' font-size="{item.size * SUB_SIZE:.2f}"' if low else ""
        words = escape(part)
        inner += f"<tspan{drop}{size}>{words}</tspan>" if drop or size else words
        down = low
    bold = ' font-weight="bold"' if item.bold else ""
    return (
        f'<text x="{item.x:.2f}" y="{item.y:.2f}" font-size="{item.size:g}"{bold} '
        f'fill="{item.fill}" xml:space="preserve">{inner}</text>'
    )


def _counted(text: str) -> str:
    return f"{len(text.encode())} -{text}"


def _colours(fill: str, stroke: str) -> str:
    clear = "#ffffff00"
    inside, edge = (clear if c == NONE else c for c in (fill, stroke))
    return f"C {_counted(inside)} c {_counted(edge)} "


def _pen(stroke_width: float, dashed: bool) -> str:
    return (
        f"S {_counted(f'setlinewidth({stroke_width:g})')} "
        f"S {_counted('dashed' if dashed else 'solid')} "
    )


def _as_xdot(item: Item, height: float) -> Iterator[str]:
    if isinstance(item, Shape):
        yield _polygon(item, height)
    elif isinstance(item, Disc):
        yield (
            _pen(item.width, False) + _colours(item.fill, item.stroke)
            + f"E {item.x:.2f} {height - item.y:.2f} {item.r:.2f} {item.r:.2f} "
        )  # fmt: skip
    elif isinstance(item, DrawnSign):
        for shape in _outlines(item.code):
            k = item.size / 100
            placed = tuple((item.x + x * k, item.y + y * k) for x, y in shape.points)
            yield _polygon(
                Shape(placed, shape.fill, shape.stroke, shape.width * k, open_=shape.open_), height
            )
    else:
        x = item.x
        face = "Helvetica-Bold" if item.bold else "Helvetica"
        for part, low in _runs(item.text):
            size = item.size * (SUB_SIZE if low else 1)
            wide = width(part, size, item.bold)
            y = height - item.y - (item.size * SUB_DROP if low else 0)
            yield (
                f"F {size:.2f} {_counted(face)} c {_counted(item.fill)} "
                f"T {x:.2f} {y:.2f} -1 {wide:.2f} {_counted(part)} "
            )
            x += wide


def _polygon(item: Shape, height: float) -> str:
    at = " ".join(f"{x:.2f} {height - y:.2f}" for x, y in item.points)
    kind = "L" if item.open_ else "p" if item.fill == NONE else "P"
    return (
        _pen(item.width, item.dashed) + _colours(item.fill, item.stroke)
        + f"{kind} {len(item.points)} {at} "
    )  # fmt: skip


@lru_cache(maxsize=16)
def _outlines(code: str) -> tuple[Outline, ...]:
    return outlines(pictograms.svg(code))
