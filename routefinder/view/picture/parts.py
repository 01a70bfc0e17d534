"""What every shape of picture is made of: flows, numbers, bars, dangers, head and foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view import danger_words
from routefinder.view.picture.pen import (
    BLUE,
    GREY,
    INK,
    LEAD,
    MID,
    NONE,
    PALE,
    RULE,
    WHITE,
    Box,
    DrawnSheet,
    cut,
    shortest,
    width,
    wrap,
)
from routefinder.view.picture.said import Card, DrawnFlow, DrawnRoute, Risk

HEAD = 7.0  # length of an arrow's head
THREAD = 1.6  # the least width of a flow
GRAVE = 2  # points from which a pictogram is drawn
POINTS = 4
Scale = Callable[[float], float]


def scale(cards: Sequence[Card], most: float) -> Scale:
    """Width of a flow: linear in its mass, the heaviest is ``most`` wide."""
    top = max((f.total_g for c in cards for f in (*c.into, *c.brought, *c.onward)), default=1.0)
    return lambda grams: max(grams / (top or 1.0) * most, 0.0)


def halves(flow: DrawnFlow, k: Scale) -> tuple[float, float]:
    """Widths of the substance and of the water with it; a thread at least."""
    dry = max(k(flow.dry_g), THREAD) if flow.dry_g > 1e-9 else 0.0
    wet = max(k(flow.water_g), THREAD * 0.75) if flow.water_g > 0.5 else 0.0
    return (dry, wet) if dry or wet else (THREAD, 0.0)


def breadth(flow: DrawnFlow, k: Scale) -> float:
    """The whole width of a flow."""
    return sum(halves(flow, k))


def arrow(
    p: DrawnSheet,
    flow: DrawnFlow,
    k: Scale,
    points: Sequence[tuple[float, float]],
    head: bool = True,
) -> None:
    """A flow along points at right angles: dark the substance, pale the water, an arrowhead."""
    dry, wet = halves(flow, k)
    w = dry + wet
    (x0, y0), (x1, y1) = points[-2], points[-1]
    dx, dy = (x1 > x0) - (x1 < x0), (y1 > y0) - (y1 < y0)
    long = HEAD if head else 0.0
    path = [*points[:-1], (x1 - dx * long, y1 - dy * long)]
    gas = flow.kind in {"gas", "air"}
    colour = MID if flow.kind == "left" else BLUE
    if gas and w < 4:
        p.line(*path, sw=1.1, dashed=True)
    elif gas:
        (ax, ay), (bx, by) = path[0], path[-1]
        nx, ny = -dy * w / 2, dx * w / 2
        for side in (1, -1):
            p.line((ax + side * nx, ay + side * ny), (bx + side * nx, by + side * ny), sw=1.1,
                   dashed=True)  # fmt: skip
    else:
        if wet:
            _band(p, path, w, 0.0, PALE)
        if dry:
            _band(p, path, dry, (dry - w) / 2 if wet else 0.0, colour)
    if head:
        half = max(w / 2 + 2.5, 4.0)
        nx, ny = -dy, dx
        fill = (WHITE if w >= 4 else INK) if gas else PALE if wet > 1.5 * dry else colour
        back = (x1 - dx * long, y1 - dy * long)
        p.poly(
            [(x1, y1), (back[0] + nx * half, back[1] + ny * half),
             (back[0] - nx * half, back[1] - ny * half)],
            fill, INK if fill in (PALE, WHITE) else NONE, 0.7,
        )  # fmt: skip


def _band(
    p: DrawnSheet, points: Sequence[tuple[float, float]], w: float, off: float, fill: str
) -> None:
    """A line of that width as rectangles that overlap at the corners (right angles only)."""
    for i, ((x0, y0), (x1, y1)) in enumerate(pairwise(points)):
        dx, dy = (x1 > x0) - (x1 < x0), (y1 > y0) - (y1 < y0)
        first = w / 2 if i else 0.0
        last = w / 2 if i < len(points) - 2 else 0.0
        ox, oy = -dy * off, dx * off
        ax, ay = x0 - dx * first + ox, y0 - dy * first + oy
        bx, by = x1 + dx * last + ox, y1 + dy * last + oy
        nx, ny = -dy * w / 2, dx * w / 2
        p.poly([(ax + nx, ay + ny), (bx + nx, by + ny), (bx - nx, by - ny), (ax - nx, ay - ny)],
               fill)  # fmt: skip


def tag(p: DrawnSheet, number: int, x: float, y: float, r: float = 7.2, size: float = 8.5) -> None:
    """The number of a stream in its circle."""
    size = size if number < 100 else min(size, 8.0)
    p.disc(x, y, r, WHITE, INK, 0.9)
    p.text(x, y + size * 0.36, str(number), size, True, INK, "middle")


def badge(p: DrawnSheet, number: int, x: float, y: float, side: float, size: float) -> None:
    """The number of a step or a route: white on its square."""
    p.rect(x, y, side, side, BLUE)
    small = size if number < 10 else size * 0.85
    p.text(x + side / 2, y + side * 0.5 + small * 0.36, str(number), small, True, WHITE, "middle")


def yield_bar(
    p: DrawnSheet, found: tuple[float, float, float], x: float, y: float, w: float, h: float
) -> None:
    """A bar filled to the typical yield, a bracket under it from low to high."""
    low, typical, high = (min(v, 1.0) for v in found)
    p.rect(x, y, w, h, WHITE, INK, 0.7)
    p.rect(x, y, w * typical, h, BLUE)
    under = y + h + 2.6
    p.line((x + w * low, under), (x + w * max(high, low + 0.01), under), sw=1.6)
    for v in (low, high):
        p.line((x + w * v, under - 1.8), (x + w * v, under + 1.8), sw=1)


def time_bar(
    p: DrawnSheet, card: Card, longest: float, x: float, y: float, w: float, h: float
) -> None:
    """Work black, waiting white, on one scale for all steps."""
    work = max(card.work_min / longest * w, 0.8)
    p.rect(x, y, work, h, INK)
    if card.wait_min:
        p.rect(x + work, y, card.wait_min / longest * w, h, WHITE, INK, 0.6)


def squares(p: DrawnSheet, points: int, x: float, y: float, side: float) -> float:
    """Four squares, black for points; gives the x behind them."""
    for i in range(POINTS):
        p.rect(x + i * side * 1.3, y, side, side, INK if i < points else WHITE, INK, 0.7)
    return x + POINTS * side * 1.3 + side * 0.4


def sign(p: DrawnSheet, risk: Risk, x: float, y: float, size: float) -> None:
    """The pictogram; where GHS has none (heat, a hot furnace) a triangle with "!"."""
    if risk.pictogram:
        p.sign(risk.pictogram, x, y, size)
        return
    p.poly([(x + size / 2, y + size * 0.08), (x + size * 0.97, y + size * 0.9),
            (x + size * 0.03, y + size * 0.9)], WHITE, INK, 1.6)  # fmt: skip
    p.text(x + size / 2, y + size * 0.8, "!", size * 0.62, True, INK, "middle")


def danger(
    p: DrawnSheet, risk: Risk | None, card: Box, x: float, y: float, w: float, size: float,
    pictogram: float, most: int,
) -> float:  # fmt: skip
    """The worst danger at (x, top y): pictogram, squares, words in at most ``most`` lines."""
    if risk is None:
        p.text(x, y + size, danger_words.NONE, size, False, GREY, within=card)
        return y + size * 1.3
    left = x
    if risk.points >= GRAVE:
        sign(p, risk, x - 1, y - 1, pictogram)
        left = x + pictogram + 4
    behind = squares(p, risk.points, left, y + size * 0.18, size * 0.62)
    p.text(behind, y + size * 0.8, f"{risk.points} of {POINTS}", size, True, within=card)
    lines = shortest(risk.texts, w - (left - x), size, most)
    end = p.lines(left, y + size * 1.98, lines, size, within=card)
    return max(end - size * 0.6, y + (pictogram if left > x else 0)) + 2


def head(
    p: DrawnSheet, said: DrawnRoute, x0: float, x1: float, y: float, *, big: float, small: float,
    each: float, below: bool = False, what: str = "",
) -> float:  # fmt: skip
    """The title block: amount and name, four figures; gives the y of the rule under it."""
    name = f"{said.amount} {said.name}"
    room = (x1 - x0) - (0 if below else each * len(said.figures) + 8)
    size = big
    while width(name, size, True) > room and size > 13:
        size -= 0.5
    lines = cut(wrap(name, room, size, True), room, size, 3, True)
    at = p.lines(x0, y + size * 0.8, lines, size, True)
    of = " · ".join(t for t in (said.formula, said.comes_to) if t)
    at = p.lines(x0, at + 1, wrap(of, room, small + 1.5), small + 1.5)
    drawn = f" · drawn {said.date}" if said.date else ""
    count = digits.count(len(said.cards), "step")
    at = p.lines(x0, at, wrap(f"Route {said.number}, {count}{what}{drawn}", room, small), small,
                 False, GREY)  # fmt: skip
    left, top = (x0, at + 6) if below else (x1 - each * len(said.figures), y)
    wide = (x1 - x0) / len(said.figures) if below else each
    deep = top
    for i, (value, words) in enumerate(said.figures):
        x = left + i * wide
        p.line((x, top), (x, top + 38), stroke=RULE, sw=0.8)
        p.text(x + 7, top + 15, value, 17, True, BLUE if i == 0 else INK)
        deep = max(
            deep, p.lines(x + 7, top + 28, wrap(words, wide - 10, small), small, False, GREY)
        )
    bottom = max(at + 2, deep - small * LEAD + 8, top + 44)
    p.line((x0, bottom), (x1, bottom), sw=1.4)
    return bottom


def foot(p: DrawnSheet, said: DrawnRoute, x0: float, x1: float, y: float, size: float = 8) -> None:
    """What it is and is not, and what the dagger means; its last line stands at ``y``."""
    text = DISCLAIMER
    if said.stricter:
        text += " † by a stricter source than the label."
    lines = wrap(text, x1 - x0, size)
    p.lines(x0, y - (len(lines) - 1) * size * LEAD, lines, size, False, GREY)


def foot_height(said: DrawnRoute, x0: float, x1: float, size: float = 8) -> float:
    """How much room ``foot`` takes."""
    text = DISCLAIMER + (" † by a stricter source than the label." if said.stricter else "")
    return len(wrap(text, x1 - x0, size)) * size * LEAD


def key(p: DrawnSheet, x: float, y: float, room: float, size: float = 8) -> float:
    """What width and tone of a flow mean; gives the y under it."""
    p.rect(x, y - 6, 14, 3.4, BLUE)
    p.rect(x, y - 2.6, 14, 5, PALE)
    text = "width = mass: dark the substance, pale the water with it; dashed: gas"
    return p.lines(x + 18, y + 1, wrap(text, room - 18, size), size, False, GREY)


def flag(p: DrawnSheet, number: int, x: float, y: float, words: str = "step") -> float:
    """What does not go to the next step: the same flag at either end; gives its width."""
    text = f"{words} {number}"
    w = width(text, 8.5, True) + 14
    p.poly([(x, y - 8), (x + w - 7, y - 8), (x + w, y), (x + w - 7, y + 8), (x, y + 8)], PALE,
           BLUE, 1)  # fmt: skip
    p.text(x + 4, y + 3, text, 8.5, True, BLUE)
    return w


def goal(
    p: DrawnSheet, said: DrawnRoute, x: float, y: float, room: float, big: float, small: float
) -> float:
    """Formula, name, amount, a double rule under them; gives the y under it."""
    size = big
    while size > 8 and any(width(w, size, True) > room for w in said.formula.split()):
        size -= 0.5
    y = p.lines(x, y, wrap(said.formula, room, size, True), size, True)
    y = p.lines(x, y - 2, wrap(said.name, room, small), small)
    amount = big * 1.1
    y = p.lines(x, y + (amount - small) * 0.8, wrap(said.amount, room, amount, True), amount, True,
                BLUE)  # fmt: skip
    y -= amount * LEAD
    if said.goal.note:
        lines = wrap(said.goal.note, room, small)
        y = p.lines(x, y + small * LEAD + 2, lines, small, False, GREY) - small * LEAD
    texts = [said.formula, said.name, said.amount]
    wide = min(room, max(width(t, s, True) for t, s in zip(texts, (size, small, amount),
                                                           strict=True)))  # fmt: skip
    for down in (6, 9):
        p.line((x, y + down), (x + wide, y + down), sw=1)
    return y + 12


def mass_or_dash(grams: float) -> str:
    """A mass, or a dash for none."""
    return digits.mass(grams) if grams >= 0.05 else "–"
