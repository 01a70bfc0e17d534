"""A route on A4 standing: cards under one another, what goes in left, what comes out right.

What does not go to the next card leaves as a flag and comes in as the same flag. Where the cards
do not fit, a second sheet goes on; the table of streams stands under them, or on its own sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder import digits
from routefinder.view.picture import table
from routefinder.view.picture.parts import (
    Scale,
    arrow,
    badge,
    breadth,
    danger,
    flag,
    foot,
    foot_height,
    goal,
    head,
    key,
    scale,
    tag,
    time_bar,
    yield_bar,
)
from routefinder.view.picture.pen import (
    BLUE,
    GREY,
    INK,
    LEAD,
    RULE,
    WHITE,
    Box,
    DrawnSheet,
    cut,
    shortest,
    width,
    wrap,
)
from routefinder.view.picture.said import Card, DrawnFlow, DrawnRoute

WIDE, HIGH = 595.0, 842.0  # A4 in points
X0, X1 = 26.0, 569.0
LEFT, RIGHT = 166.0, 440.0  # of the cards
HALF = 150.0  # of a card, for title and times
AXIS = LEFT + 30.0
SIZE, TITLE = 8.5, 9.5
LINE = SIZE * LEAD
CONNECT = 24.0  # between two cards
GOAL = 74.0  # room for what the route makes
THICK = 18.0
ARM = 27.0  # an arrow at the side of a card
TAG = 36.0  # from a card to the number of a stream
REACH = TAG + 10.0


@dataclass(frozen=True)
class _Side:
    """A stream beside a card in lines; ``other`` is the step of its flag, 0 for none."""

    flow: DrawnFlow
    lines: tuple[tuple[str, bool, str], ...]  # words, bold, colour
    other: int

    def height(self, thick: float) -> float:
        return max(len(self.lines) * LINE + 5.0, thick + 4.0, 18.0)


def sheets(said: DrawnRoute) -> list[DrawnSheet]:
    """The sheets of a route."""
    k = scale(said.cards, THICK)
    pages = _pages(said)
    out = []
    for n, cards in enumerate(pages):
        more = f", sheet {n + 1} of {len(pages)}" if len(pages) > 1 else ""
        alt = said.alt if not n else f"Steps {cards[0].number} to {cards[-1].number}. {said.alt}"
        p = DrawnSheet(WIDE, HIGH, alt)
        top = head(p, said, X0, X1, 24, big=17, small=8.5, each=80, what=more)
        p.text(X0, top + 11, "goes in", SIZE, True, GREY)
        p.text(X1, top + 11, "comes out", SIZE, True, GREY, "end")
        y = _cards(p, said, cards, k, top + 18)
        last = n == len(pages) - 1
        bottom = HIGH - 14 - foot_height(said, X0, X1) - 12
        if last and bottom - y - 14 >= table.height(said.flows):
            table.rows(p, said.flows, X0, X1, y + 14)
        elif last:
            out.append(p)
            _feet(p, said)
            out += _tables(said)
            return out
        _feet(p, said)
        out.append(p)
    return out


def _feet(p: DrawnSheet, said: DrawnRoute) -> None:
    key(p, X0, HIGH - 14 - foot_height(said, X0, X1), X1 - X0)
    foot(p, said, X0, X1, HIGH - 12)


def _tables(said: DrawnRoute) -> list[DrawnSheet]:
    """The table of streams on sheets of its own."""
    out: list[DrawnSheet] = []
    flows = list(said.flows)
    while flows:
        p = DrawnSheet(
            WIDE, HIGH, f"The streams of route {said.number} to {said.amount} {said.name}."
        )
        y = head(p, said, X0, X1, 24, big=17, small=8.5, each=80, what=", streams") + 18
        room = HIGH - 14 - foot_height(said, X0, X1) - 16 - y
        count = len(flows)
        while count > 1 and table.height(flows[:count]) > room:
            count -= 1
        table.rows(p, flows[:count], X0, X1, y)
        foot(p, said, X0, X1, HIGH - 12)
        out.append(p)
        flows = flows[count:]
    return out


def _pages(said: DrawnRoute) -> list[tuple[Card, ...]]:
    """The cards of each sheet: as many as fit, evenly."""
    k = scale(said.cards, THICK)
    room = HIGH - 100 - 30 - foot_height(said, X0, X1) - 16
    heights = [_height(said, c, k) + CONNECT for c in said.cards]
    heights[-1] += GOAL - CONNECT
    count = 1
    while True:
        share = sum(heights) / count
        pages: list[list[Card]] = [[]]
        used = 0.0
        for card, h in zip(said.cards, heights, strict=True):
            past = used + h > room or (used + h / 2 > share and len(pages) < count)
            if pages[-1] and past:
                pages.append([])
                used = 0.0
            pages[-1].append(card)
            used += h
        if len(pages) <= count:
            return [tuple(page) for page in pages]
        count += 1


def _sides(said: DrawnRoute, card: Card) -> tuple[list[_Side], list[_Side]]:
    """What stands left and right of a card."""
    into = [_side(f, f.start) for f in said.from_afar(card)]
    into += [_side(f, 0) for f in card.into]
    into += [_side(f, f.start) for f in said.fed_back_to(card)]
    out = [_side(f, 0) for f in card.out]
    out += [_side(f, f.end) for f in card.onward if f is not card.main]
    out += [_side(f, f.end) for f in said.fed_back_from(card)]
    return into, out


def _side(flow: DrawnFlow, other: int) -> _Side:
    room = min(LEFT - REACH - X0, X1 - RIGHT - REACH) - (46 if other else 0)
    strong = flow.kind in {"feed", "kept", "on"}
    colour = BLUE if other else INK
    if other:
        word = flow.formula if flow.formula and width(flow.formula, SIZE) <= room else flow.name
        lines = [(flow.amount, True, colour)]
        lines += [(t, False, INK) for t in cut(wrap(word, room, SIZE), room, SIZE, 2)]
    else:
        lines = [(t, strong, INK) for t in cut(wrap(flow.title, room, SIZE, strong), room, SIZE, 3,
                                               strong)]  # fmt: skip
        amount = f"{flow.amount} {flow.formula}".strip() if flow.kind == "feed" else flow.amount
        if width(amount, SIZE) > room:
            lines += [(t, False, INK) for t in (flow.amount, *wrap(flow.formula, room, SIZE)) if t]
        else:
            lines.append((amount, False, INK))
    if flow.note:
        lines += [(t, False, GREY) for t in cut(wrap(flow.note, room, SIZE), room, SIZE, 2)]
    if flow.kind == "back":
        lines.append(("back", False, GREY))
    return _Side(flow, tuple(lines), other)


def _title(card: Card) -> list[str]:
    return wrap(card.title, HALF - 29, TITLE, True)


def _remarks(card: Card) -> list[str]:
    return [t for r in card.remarks for t in wrap(r, HALF - 12, SIZE)]


def _height(said: DrawnRoute, card: Card, k: Scale) -> float:
    """How high a card is, with what stands beside it."""
    left = max(24.0, 8 + len(_title(card)) * TITLE * 1.15) + len(_remarks(card)) * LINE + 24
    right = 22 + 14 + (len(_danger_lines(card)) + 0.4) * SIZE * LEAD
    into, out = _sides(said, card)
    beside = max(
        sum(s.height(breadth(s.flow, k)) for s in into),
        sum(s.height(breadth(s.flow, k)) for s in out),
    )
    return max(left, right, beside, 62.0)


def _danger_lines(card: Card) -> list[str]:
    if card.risk is None:
        return []
    room = RIGHT - (LEFT + HALF) - 10 - (28 if card.risk.points >= 2 else 0)
    return shortest(card.risk.texts, room, SIZE, 4)


def _cards(p: DrawnSheet, said: DrawnRoute, cards: Sequence[Card], k: Scale, y: float) -> float:
    longest = max(c.total_min for c in said.cards) or 1.0
    for card in cards:
        h = _height(said, card, k)
        into, out = _sides(said, card)
        for sides, left in ((into, True), (out, False)):
            heights = [s.height(breadth(s.flow, k)) for s in sides]
            at = y + max(0.0, (h - sum(heights)) / 2)
            for s, deep in zip(sides, heights, strict=True):
                _beside(p, s, at + deep / 2, left, breadth(s.flow, k), k)
                at += deep
        middle = card.main
        last_here = card is cards[-1]
        if middle is not None:
            ends = middle.kind == "goal"
            p_end = y + h + (14 if ends or last_here else CONNECT)
            arrow(p, middle, k, [(AXIS, y + h), (AXIS, p_end)])
            _on_axis(p, said, middle, y + h, breadth(middle, k), last_here)
        _card(p, card, Box(LEFT, y, RIGHT - LEFT, h), longest)
        y += h + CONNECT
    if cards[-1].number == said.cards[-1].number:
        y = goal(p, said, AXIS - 8, y - CONNECT + 28, X1 - AXIS, 12, 9)
    return y


def _on_axis(
    p: DrawnSheet, said: DrawnRoute, flow: DrawnFlow, y: float, thick: float, off: bool
) -> None:
    """Number and words beside the main line; a flag where it goes on on the next sheet."""
    x = AXIS + max(thick, 8) / 2 + 11
    tag(p, flow.number, x, y + CONNECT / 2 - 1, 6.6, 8)
    if flow.kind == "goal":
        return
    x += 11
    words = f"{flow.amount} {flow.formula or flow.name}"
    p.text(x, y + CONNECT / 2 + 2, words, 9, True)
    x += width(f"{words}  ", 9, True)
    if flow.note and x + width(flow.note, SIZE) < X1 - 70:
        p.text(x, y + CONNECT / 2 + 2, flow.note, SIZE, False, GREY)
        x += width(f"{flow.note}  ", SIZE)
    if off:
        flag(p, flow.end, x + 4, y + CONNECT / 2)


def _beside(p: DrawnSheet, side: _Side, y: float, left: bool, thick: float, k: Scale) -> None:
    flow = side.flow
    if left:
        arrow(p, flow, k, [(LEFT - ARM, y), (LEFT, y)])
    else:
        arrow(p, flow, k, [(RIGHT, y), (RIGHT + ARM, y)])
    edge, way = (LEFT, -1) if left else (RIGHT, 1)
    if flow.number:
        tag(p, flow.number, edge + way * TAG, y, 6.6, 8)
    x, anchor = edge + way * REACH, "end" if left else "start"
    top = y - (len(side.lines) * LINE) / 2 + SIZE * 0.86
    for i, (words, bold, colour) in enumerate(side.lines):
        p.text(x, top + i * LINE, words, SIZE, bold, colour, anchor)
    if side.other:
        words = f"step {side.other}"
        flag(p, side.other, X0 if left else X1 - width(words, SIZE, True) - 14, y)


def _card(p: DrawnSheet, card: Card, box: Box, longest: float) -> None:
    p.rect(box.x, box.y, box.w, box.h, WHITE, INK, 1.2, dashed=bool(card.missing))
    badge(p, card.number, box.x, box.y, 20, 12)
    y = p.lines(box.x + 25, box.y + 12, _title(card), TITLE, True, within=box, lead=1.15)
    p.lines(box.x + 6, max(y, box.y + 30), _remarks(card), SIZE, False, INK, within=box)
    half, base = box.x + HALF, box.bottom - 12
    p.text(box.x + 6, base, card.window, SIZE, True, within=box)
    room = HALF - 14 - width(card.window, SIZE, True)
    short = card.times if width(card.times, SIZE) <= room else card.times.replace(" wait", "")
    p.text(half - 6, base, short, SIZE, False, INK, "end", within=box)
    time_bar(p, card, longest, box.x + 6, base + 4, HALF - 12, 4)
    p.line((half, box.y + 5), (half, box.bottom - 5), stroke=RULE, sw=0.6)
    yield_bar(p, card.yield_, half + 7, box.y + 6, 34, 7)
    typical = card.yield_[1]
    words = digits.percent(typical)
    p.text(half + 46, box.y + 13.5, words, 10, True, BLUE, within=box)
    room = box.right - 8 - (half + 46 + width(words, 10, True))
    span = card.span if width(card.span, 8) <= room else card.span.removesuffix(" %")
    p.text(box.right - 4, box.y + 13.5, span, 8, False, GREY, "end", within=box)
    danger(p, card.risk, box, half + 7, box.y + 24, box.right - half - 10, SIZE, 24, 4)
