"""A short route on A4 lying: cards side by side on one straight line.

What goes in comes from above, gas leaves at the upper right corner, what is kept or left over goes
down; under the cards temperature and time on common scales, and the table of streams. For routes
whose steps each feed the next one (``fits``).
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder import digits
from routefinder.view.picture import table
from routefinder.view.picture.parts import (
    Scale,
    arrow,
    badge,
    breadth,
    danger,
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
    BAND,
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

WIDE, HIGH = 842.0, 595.0  # A4 in points
X0, X1 = 30.0, 812.0
TARGET = 100.0  # column of what is made
MOST_STEPS, MOST_FEEDS, MOST_OUT = 3, 3, 2
SIZE, TITLE = 9.0, 10.5
LINE = SIZE * LEAD
THICK = 22.0
ARROW = 20.0
STRIP = 34.0


@dataclass(frozen=True)
class _Place:
    """Where the cards stand: ``left`` edges, their width, the gap behind each."""

    left: tuple[float, ...]
    card: float
    gap: float


def fits(said: DrawnRoute) -> bool:
    """Whether the route has room lying: few steps, each feeding the next one only."""
    if len(said.cards) > MOST_STEPS or said.back:
        return False
    for card in said.cards:
        ends = {f.end for f in card.onward if f.kind == "on"}
        if ends - {card.number + 1} or len(card.onward) != 1:
            return False
        gases = [f for f in card.out if f.kind == "gas"]
        if len(card.into) > MOST_FEEDS or len(card.out) - len(gases) > MOST_OUT or len(gases) > 2:
            return False
    return True


def sheet(said: DrawnRoute) -> DrawnSheet:
    """The sheet; words may run out of it where ``fits`` says no."""
    p = DrawnSheet(WIDE, HIGH, said.alt)
    k = scale(said.cards, THICK)
    top = head(p, said, X0, X1, 22, big=19, small=9, each=100)
    n = len(said.cards)
    pitch = (X1 - X0 - TARGET) / n
    gap = min(70.0, pitch * 0.36)
    place = _Place(tuple(X0 + i * pitch for i in range(n)), pitch - gap, gap)
    above = max(len(_feed_lines(f, place, c)) for c in said.cards for f in c.into or (said.goal,))
    above = max(above, max((_gas_lines(c, place) for c in said.cards), default=0))
    card_y = top + 8 + above * LINE + ARROW
    card_h = max(_height(c, place) for c in said.cards)
    axis = card_y + 44
    for i, card in enumerate(said.cards):
        _above(p, card, place, i, card_y, k)
        _onward(p, said, card, place, i, axis, k)
        _below(p, card, place, i, card_y + card_h, k)
    for i, card in enumerate(said.cards):
        _card(p, card, Box(place.left[i], card_y, place.card, card_h))
    below = max((len(_out_lines(f, place, c)) for c in said.cards for f in c.out
                 if f.kind != "gas"), default=0)  # fmt: skip
    y = _strip(p, said, place, card_y + card_h + (ARROW + 22 + below * LINE if below else 12) + 4)
    y = table.columns(p, said.flows, X0, X1, y + 8)
    under = HIGH - 12 - foot_height(said, X0, X1)
    p.h = max(HIGH, y + (HIGH - under) + 6)  # too tall: ``faults`` of the caller's check sees it
    key(p, X0, p.h - 14 - foot_height(said, X0, X1), X1 - X0)
    foot(p, said, X0, X1, p.h - 12)
    return p


def _feed_lines(flow: DrawnFlow, place: _Place, card: Card) -> list[tuple[str, bool, str]]:
    """What is said above an arrow."""
    if flow.kind == "goal":
        return []
    room = _room(place, card)
    lines = [(t, True, INK) for t in cut(wrap(flow.name, room, SIZE, True), room, SIZE, 3, True)]
    lines += [(t, False, INK) for t in (wrap(flow.formula, room, SIZE) if flow.formula else [])]
    lines += [(t, False, INK) for t in wrap(flow.amount, room, SIZE)]
    return lines + [(t, False, GREY) for t in (wrap(flow.note, room, SIZE) if flow.note else [])]


def _room(place: _Place, card: Card) -> float:
    return min(place.card / max(len(card.into), 1), 96.0) - 4


def _gas_room(place: _Place) -> float:
    return place.gap + 10


def _gas_lines(card: Card, place: _Place) -> int:
    return sum(
        len(wrap(f.name, _gas_room(place), SIZE, True)) + 1 for f in card.out if f.kind == "gas"
    )


def _above(p: DrawnSheet, card: Card, place: _Place, i: int, y: float, k: Scale) -> None:
    left = place.left[i]
    each = place.card / max(len(card.into), 1)
    for j, f in enumerate(card.into):
        x = left + (j + 0.5) * each
        if card.into and any(g.kind == "gas" for g in card.out):
            x = left + 8 + (j + 0.5) * (place.card - 34) / len(card.into)
        thick = breadth(f, k)
        lines = _feed_lines(f, place, card)
        at = y - ARROW - 4 - (len(lines) - 1) * LINE
        for line, (words, bold, colour) in enumerate(lines):
            p.text(x, at + line * LINE, words, SIZE, bold, colour, "middle")
        arrow(p, f, k, [(x, y - ARROW), (x, y)])
        tag(p, f.number, x if thick >= 15 else x + max(thick, 8) / 2 + 10, y - ARROW / 2 - 2)
    gases = [f for f in card.out if f.kind == "gas"]
    x = left + place.card - 12
    at = y - ARROW - 4
    for f in reversed(gases):
        thick = max(breadth(f, k), 6.0)
        x = min(x, left + place.card - thick / 2 - 3)
        if f is gases[-1]:
            arrow(p, f, k, [(x, y), (x, y - ARROW)])
        name = wrap(f.name, _gas_room(place), SIZE, True)
        at -= len(name) * LINE
        p.lines(x + 14, at, name, SIZE, True)
        p.text(x + 14, at + len(name) * LINE, f.amount, SIZE)
        tag(p, f.number, x + 3 if len(gases) > 1 and f is not gases[-1] else x + thick / 2 + 11,
            at + 2 if len(gases) > 1 and f is not gases[-1] else y - ARROW / 2 - 1)  # fmt: skip
        at -= LINE + 3


def _onward(
    p: DrawnSheet, said: DrawnRoute, card: Card, place: _Place, i: int, axis: float, k: Scale
) -> None:
    f = card.onward[0]
    a = place.left[i] + place.card
    b = a + place.gap - (6 if f.kind == "goal" else 0)
    arrow(p, f, k, [(a, axis), (b, axis)])
    middle, off = (a + b) / 2 - 3, max(breadth(f, k), 8) / 2
    tag(p, f.number, middle, axis - off - 11)
    if f.kind == "goal":
        goal(p, said, b + 8, axis - 4, X1 - b - 8, 11.5, 9)
        return
    room = place.gap - 6
    y = p.lines(middle, axis + off + 13, wrap(f.amount, room, 9.5, True), 9.5, True, INK, "middle")
    y = p.lines(middle, y, wrap(f.formula or f.name, room, SIZE), SIZE, False, INK, "middle")
    if f.note:
        p.lines(middle, y, wrap(f.note, room, 8.5), 8.5, False, GREY, "middle")


def _out_room(place: _Place, card: Card) -> float:
    count = sum(f.kind != "gas" for f in card.out)
    return min((place.card + place.gap) / max(count, 1), 130.0) - 6


def _out_lines(flow: DrawnFlow, place: _Place, card: Card) -> list[tuple[str, bool, str]]:
    room = _out_room(place, card)
    strong = flow.kind == "kept"
    lines = [(t, strong, INK) for t in cut(wrap(flow.title, room, SIZE, strong), room, SIZE, 3)]
    words = f"{flow.amount} {flow.note}".strip()
    return lines + [(t, False, INK) for t in wrap(words, room, SIZE)]


def _below(p: DrawnSheet, card: Card, place: _Place, i: int, y: float, k: Scale) -> None:
    down = [f for f in card.out if f.kind != "gas"]
    each = _out_room(place, card) + 6
    for j, f in enumerate(down):
        x = place.left[i] + place.card / 2 + (j - (len(down) - 1) / 2) * each
        x = max(x, place.left[i] + each / 2) if i == 0 else x
        arrow(p, f, k, [(x, y), (x, y + ARROW)])
        tag(p, f.number, x, y + ARROW + 9)
        for line, (words, bold, colour) in enumerate(_out_lines(f, place, card)):
            p.text(x, y + ARROW + 28 + line * LINE, words, SIZE, bold, colour, "middle")


def _title(card: Card, place: _Place) -> list[str]:
    return wrap(card.title, place.card - 34, TITLE, True)


def _notes(card: Card, place: _Place) -> list[str]:
    room = place.card - 16
    tools = cut(wrap(card.tools, room, 8.5), room, 8.5, 2) if card.tools else []
    return [*(t for r in card.remarks for t in wrap(r, room, 8.5)), *tools]


def _danger_lines(card: Card, place: _Place) -> list[str]:
    if card.risk is None:
        return [""]
    return shortest(card.risk.texts, place.card - 16 - 32, 8.5, 4)


def _height(card: Card, place: _Place) -> float:
    head_h = max(len(_title(card, place)) * TITLE * LEAD + 10, 54.0)
    danger_h = max((len(_danger_lines(card, place)) + 1.6) * 8.5 * LEAD, 32.0)
    return head_h + 18 + danger_h + len(_notes(card, place)) * 8.5 * LEAD + 6


def _card(p: DrawnSheet, card: Card, box: Box) -> None:
    place = _Place((), box.w, 0.0)
    p.rect(box.x, box.y, box.w, box.h, WHITE, INK, 1.3, dashed=bool(card.missing))
    badge(p, card.number, box.x, box.y, 22, 13)
    y = p.lines(box.x + 28, box.y + 14, _title(card, place), TITLE, True, within=box)
    y = max(y, box.y + 52)
    yield_bar(p, card.yield_, box.x + 8, y - 5, box.w - 78, 9)
    p.text(box.right - 8, y + 1, digits.percent(card.yield_[1]), 11, True, BLUE, "end", box)
    p.text(box.right - 8, y + 11, card.span, 8.5, False, GREY, "end", box)
    y += 18
    p.line((box.x + 8, y - 3), (box.right - 8, y - 3), stroke=RULE, sw=0.6)
    danger(p, card.risk, box, box.x + 8, y + 1, box.w - 16, 8.5, 28, 4)
    notes = _notes(card, place)
    p.lines(box.x + 8, box.bottom - 6 - (len(notes) - 1) * 8.5 * LEAD, notes, 8.5, False, GREY,
            within=box)  # fmt: skip


def _strip(p: DrawnSheet, said: DrawnRoute, place: _Place, y: float) -> float:
    """Temperature and time under the cards, on one scale for all; gives the y under it."""
    peak = max(60.0, *(c.high_C for c in said.cards))
    low = min(0.0, *(c.low_C for c in said.cards))
    right = place.left[-1] + place.card
    longest = max(c.total_min for c in said.cards) or 1.0

    def at(celsius: float) -> float:
        return y + STRIP - (celsius - low) / (peak - low) * (STRIP - 10)

    p.line((X0, at(low)), (right, at(low)), sw=0.8)
    for i, card in enumerate(said.cards):
        left = place.left[i]
        p.line((left, y), (left, y + STRIP + 28), stroke=RULE, sw=0.6)
        deep = at(card.low_C) - at(card.high_C)
        p.rect(left, at(card.high_C), place.card, max(deep, 2), BAND)
        p.line((left, at(card.high_C)), (left + place.card, at(card.high_C)), sw=1.4)
        middle = at((card.low_C + card.high_C) / 2) + 3.8
        p.text(left + 6, middle if deep > 14 else at(card.high_C) - 4, card.window, 9.5, True)
        time_bar(p, card, longest, left + 6, y + STRIP + 8, place.card - 6, 7)
        words = f"{digits.duration(card.work_min)} work"
        if card.wait_min:
            words += f", {digits.duration(card.wait_min)} waiting"
        p.text(left + 6, y + STRIP + 26, words, SIZE)
    x = right + 8
    p.text(x, y + 12, "temperature", 8.5, True)
    p.text(x, y + STRIP + 15, "time", 8.5, True)
    p.rect(x, y + STRIP + 20, 10, 6, INK)
    p.text(x + 13, y + STRIP + 26, "work", 8.5)
    after = x + 13 + width("work", 8.5) + 8
    p.rect(after, y + STRIP + 20, 10, 6, WHITE, INK, 0.7)
    p.text(after + 13, y + STRIP + 26, "waiting", 8.5)
    return y + STRIP + 30
