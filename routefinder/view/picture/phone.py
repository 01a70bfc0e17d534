"""A route for a narrow page: 390 pixels wide, as long as it must, one trunk on the left."""

from __future__ import annotations

from routefinder import digits
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
    yield_bar,
)
from routefinder.view.picture.pen import (
    BLUE,
    GREY,
    INK,
    LEAD,
    WHITE,
    Box,
    DrawnSheet,
    shortest,
    width,
    wrap,
)
from routefinder.view.picture.said import Card, DrawnFlow, DrawnRoute

WIDE = 390.0  # pixels
X0, X1 = 14.0, 378.0
TRUNK, CARD = 30.0, 56.0
SIZE, SMALL = 13.0, 12.0
LINE = SIZE * LEAD
THICK = 24.0
REACH = 48.0  # from the card's edge to words beside a number


def sheet(said: DrawnRoute) -> DrawnSheet:
    """The drawing."""
    p = DrawnSheet(WIDE, 100.0, said.alt, "px")
    k = scale(said.cards, THICK)
    y = head(p, said, X0, X1, 16, big=20, small=SMALL, each=0, below=True) + 16
    places: list[tuple[Card, float, float]] = []  # a card's top and height
    flows: list[tuple[DrawnFlow, float]] = []  # a stream of the trunk and where it begins
    begin = len(p.items)
    for card in said.cards:
        for f in (*said.from_afar(card), *said.fed_back_to(card), *card.into):
            y = _row(p, f, y, True, k)
        top = y + 2
        y = top + _height(card)
        places.append((card, top, y - top))
        y += 8
        main = card.main
        for f in (*card.out, *(f for f in card.onward if f is not main), *said.fed_back_from(card)):
            y = _row(p, f, y, False, k)
        if main is not None:
            flows.append((main, top + 20))
            y = _handed_on(p, main, y)
        else:
            y += 12
    y = goal(p, said, CARD - 4, y + 12, X1 - CARD, 17, 13) + 12
    words, p.items = p.items[begin:], p.items[:begin]
    for main, start in flows:
        below = [top + 16 for _, top, _ in places if top > start]
        end = min(below, default=y - 70)
        arrow(p, main, k, [(TRUNK, start), (TRUNK, end)], main.kind == "goal")
    for card, top, high in places:
        p.line((TRUNK, top + 16), (CARD, top + 16), sw=1.4)
        _card(p, card, Box(CARD, top, X1 - CARD, high))
        p.disc(TRUNK, top + 16, 7, INK, INK, 2)
    p.items += words
    y = key(p, X0, y + 6, X1 - X0, SMALL) + 8
    p.h = y + foot_height(said, X0, X1, SMALL) + 12
    foot(p, said, X0, X1, p.h - 12, SMALL)
    return p


def _row(p: DrawnSheet, f: DrawnFlow, y: float, into: bool, k: Scale) -> float:
    """A stream beside the trunk; gives the y under it."""
    made = f.kind in {"on", "back"}
    name = f.title
    if made:
        name = f"from step {f.start}: {f.name}" if into else f"{f.name}, to step {f.end}"
    words = f"{f.amount} {name}"
    if f.note:
        words += f" {f.note}" if f.note.startswith("in ") else f" ({f.note})"
    if f.kind == "gas":
        words = f"{f.name}, {f.amount}"
    lines = wrap(words, X1 - CARD - REACH, SIZE, f.kind == "kept")
    deep = max(len(lines) * LINE, 19.0, breadth(f, k))
    middle = y + deep / 2
    ends = [(CARD + 22, middle), (TRUNK + 8, middle)]
    arrow(p, f, k, ends if into else ends[::-1])
    if f.number:
        tag(p, f.number, CARD + 33, middle, 9, 12)
    first = middle - len(lines) * LINE / 2 + SIZE * 0.88
    p.lines(CARD + REACH, first, lines, SIZE, f.kind == "kept", GREY if f.kind == "left" else INK)
    return y + deep + 7


def _handed_on(p: DrawnSheet, f: DrawnFlow, y: float) -> float:
    tag(p, f.number, TRUNK, y + 10, 9, 12)
    if f.kind == "goal":
        return y + 20
    lines = wrap(f"{f.amount} {f.formula or f.name}", X1 - CARD - 10, 14, True)
    end = p.lines(CARD + 10, y + 15, lines, 14, True, BLUE)
    if f.note:
        end = p.lines(CARD + 10, end, wrap(f.note, X1 - CARD - 10, SMALL), SMALL, False, GREY)
    return end + 4


def _title(card: Card) -> list[str]:
    return wrap(card.title, X1 - CARD - 44, 15, True)


def _remarks(card: Card) -> list[str]:
    return [t for r in card.remarks for t in wrap(r, X1 - CARD - 20, SIZE)]


def _danger_lines(card: Card) -> int:
    if card.risk is None:
        return 0
    room = X1 - CARD - 20 - (40 if card.risk.points >= 2 else 0)
    return len(shortest(card.risk.texts, room, 12.5, 5))


def _top_lines(card: Card) -> float:
    return max(20 + len(_title(card)) * 15 * LEAD, 43.0)


def _height(card: Card) -> float:
    words = _danger_lines(card)
    return (
        _top_lines(card) + len(_remarks(card)) * LINE + 14 + 24
        + max((words + 1.0) * 12.5 * LEAD, 42.0)
    )  # fmt: skip


def _card(p: DrawnSheet, card: Card, box: Box) -> None:
    p.rect(box.x, box.y, box.w, box.h, WHITE, INK, 1.3, dashed=bool(card.missing))
    badge(p, card.number, box.x, box.y, 30, 17)
    p.lines(box.x + 38, box.y + 20, _title(card), 15, True, within=box)
    y = box.y + _top_lines(card)
    y = p.lines(box.x + 10, y, _remarks(card), SIZE, within=box)
    p.text(box.x + 10, y, card.window, SIZE, True, within=box)
    room = box.w - 28 - width(card.window, SIZE, True)
    times = card.times if width(card.times, SIZE) <= room else card.times.replace(" wait", "")
    p.text(box.right - 8, y, times, SIZE, False, INK, "end", box)
    y += 12
    yield_bar(p, card.yield_, box.x + 10, y, 130, 10)
    p.text(box.x + 148, y + 10, digits.percent(card.yield_[1]), 15, True, BLUE, within=box)
    p.text(box.right - 8, y + 10, f"yield {card.span}", SMALL, False, GREY, "end", box)
    danger(p, card.risk, box, box.x + 10, y + 22, box.w - 20, 12.5, 36, 5)
