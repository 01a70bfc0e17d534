"""The table of a picture's streams: as columns under a lying one, else as rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from routefinder.view.picture.parts import mass_or_dash
from routefinder.view.picture.pen import INK, LEAD, RULE, DrawnSheet, cut, wrap
from routefinder.view.picture.said import DrawnFlow

ROW_SIZE, ROW_PAD = 8.5, 3.0
LABELS = 62.0  # the heading of the columns
MASSES: tuple[tuple[str, Callable[[DrawnFlow], float]], ...] = (
    ("of it dry", lambda f: f.dry_g), ("water", lambda f: f.water_g),
    ("together", lambda f: f.total_g),
)  # fmt: skip


def columns(p: DrawnSheet, flows: Sequence[DrawnFlow], x0: float, x1: float, y: float) -> float:
    """A column a stream; gives the y under it."""
    wide = (x1 - x0 - LABELS) / len(flows)
    size = 8.5 if wide > 46 else 8.0
    p.line((x0, y), (x1, y), sw=1)
    p.text(x0, y + 13, "stream", size, True)
    most = 1
    for i, f in enumerate(flows):
        x = x0 + LABELS + (i + 0.5) * wide
        p.text(x, y + 13, str(f.number), size + 1, True, INK, "middle")
        lines = wrap(f.name, wide - 4, size)
        if len(lines) > 3 and f.formula:
            lines = wrap(f.formula, wide - 4, size)
        lines = cut(lines, wide - 4, size, 3)
        most = max(most, len(lines))
        p.lines(x, y + 25, lines, size, False, INK, "middle")
    y += 25 + most * size * LEAD + 2
    for name, grams in MASSES:
        last = name == "together"
        p.line((x0, y - 9), (x1, y - 9), stroke=RULE, sw=0.5)
        p.text(x0, y, name, size, last)
        for i, f in enumerate(flows):
            x = x0 + LABELS + (i + 0.5) * wide
            p.text(x, y, mass_or_dash(grams(f)), size, last, INK, "middle")
        y += 12.5
    p.line((x0, y - 9), (x1, y - 9), sw=1)
    return y


def _cells(x0: float, x1: float) -> list[tuple[float, str, str]]:
    return [
        (x0 + 14, "end", "no."), (x0 + 24, "start", "stream"), (x0 + 176, "start", "what is in it"),
        (x0 + 322, "middle", "from"), (x0 + 358, "middle", "to"), (x0 + 424, "end", "dry"),
        (x0 + 482, "end", "water"), (x1, "end", "together"),
    ]  # fmt: skip


def _lines(flow: DrawnFlow) -> tuple[list[str], list[str]]:
    of = "" if flow.of == flow.name else flow.of
    return (
        cut(wrap(flow.title, 146, ROW_SIZE), 146, ROW_SIZE, 2),
        cut(wrap(of, 124, ROW_SIZE), 124, ROW_SIZE, 2) if of else [],
    )


def row_height(flow: DrawnFlow) -> float:
    """The height of a stream's row."""
    return max(map(len, _lines(flow)), default=1) * ROW_SIZE * LEAD + ROW_PAD


def height(flows: Sequence[DrawnFlow]) -> float:
    """The height of a table of rows with its heading."""
    return 22 + sum(map(row_height, flows))


def rows(p: DrawnSheet, flows: Sequence[DrawnFlow], x0: float, x1: float, y: float) -> float:
    """A row a stream; gives the y under the table."""
    cells = _cells(x0, x1)
    for x, anchor, words in cells:
        p.text(x, y, words, ROW_SIZE, True, INK, anchor)
    p.line((x0, y + 4), (x1, y + 4), sw=1)
    y += 15
    for f in flows:
        name, of = _lines(f)
        values = (
            [str(f.number)], name, of, [f.comes_from()], [f.goes_to()], [mass_or_dash(f.dry_g)],
            [mass_or_dash(f.water_g)], [mass_or_dash(f.total_g)],
        )  # fmt: skip
        for i, ((x, anchor, _), lines) in enumerate(zip(cells, values, strict=True)):
            p.lines(x, y, lines, ROW_SIZE, i in (0, 7), INK, anchor)
        y += row_height(f)
        p.line((x0, y - ROW_SIZE), (x1, y - ROW_SIZE), stroke=RULE, sw=0.4)
    return y
