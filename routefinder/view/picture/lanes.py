"""All routes in one drawing: a lane each, read from left to right.

A step that routes in neighbouring lanes share stands once, as a tall card across them. The order of
the lanes keeps routes together that end or begin alike; columns are steps still to come. Many
routes go on sheets of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder import digits
from routefinder.assessment.assess import Assessment
from routefinder.disclaimer import DISCLAIMER
from routefinder.hazards.danger import Danger
from routefinder.library.library import Library
from routefinder.records.substance import Substance
from routefinder.view.picture.parts import badge, sign, squares, yield_bar
from routefinder.view.picture.pen import (
    BLUE,
    GREY,
    INK,
    LANE,
    LEAD,
    RULE,
    WHITE,
    Box,
    DrawnSheet,
    cut,
    width,
    wrap,
)
from routefinder.view.picture.said import Card, DrawnRoute, said

WIDE, HIGH = 842.0, 595.0  # A4 in points
X0, X1 = 26.0, 816.0
HEAD, TARGET = 184.0, 88.0
TOP = 82.0
LEAST_LANE, MOST_LANE = 58.0, 96.0
SIZE = 8.5
LINE = SIZE * 1.15
GRAVE = 3  # points from which a card bears a sign
LEAST_CARD = 62.0  # narrower cards have no room for words


@dataclass(frozen=True)
class Lane:
    """A route in the overview."""

    said: DrawnRoute
    found: Assessment

    @property
    def ids(self) -> tuple[str, ...]:
        """Its steps in order."""
        return tuple(c.id for c in self.said.cards)

    @property
    def starts(self) -> str:
        """What it begins with."""
        names = [d.supply.name for d in self.found.amounts.draws
                 if d.reactant and not d.supply.everywhere]  # fmt: skip
        return "from " + (", ".join(dict.fromkeys(names)) or "water and air")

    @property
    def facts(self) -> str:
        """Time, work, heat, money."""
        cost = self.found.cost
        money = "" if cost.typical is None else digits.money(cost.typical, cost.unit, cost.at_least)
        words = [digits.duration(self.found.elapsed_min),
                 f"{digits.duration(self.found.hands_on_min)} work",
                 digits.temperature(round(self.found.peak_C)), money]  # fmt: skip
        return " · ".join(w for w in words if w)

    @property
    def worst(self) -> Danger | None:
        """Its worst danger."""
        return self.found.worst_danger

    @property
    def yield_(self) -> tuple[float, float, float]:
        """Overall yield: low, typical, high."""
        y = self.found.limiting_yield
        return (y.low, y.typical, y.high) if y is not None else (self.found.chain_yield,) * 3


def lanes_of(library: Library, routes: Sequence[tuple[int, Assessment]]) -> list[Lane]:
    """The lanes in their order."""
    lanes = {n: Lane(said(library, found, n), found) for n, found in routes}
    return [lanes[n] for n in order({n: lane.ids for n, lane in lanes.items()})]


def order(routes: dict[int, tuple[str, ...]]) -> list[int]:
    """Routes that end alike together, then those that begin alike; the lowest number leads."""
    out: list[int] = []

    def down(group: list[int], depth: int) -> None:
        out.extend(sorted(n for n in group if len(routes[n]) == depth))
        rest: dict[str, list[int]] = {}
        for n in group:
            if len(routes[n]) > depth:
                rest.setdefault(routes[n][-1 - depth], []).append(n)
        for part in sorted(rest.values(), key=min):
            down(part, depth + 1)

    down(sorted(routes), 0)
    found: list[int] = []
    for n in out:
        if n not in found:
            found.append(n)
            alike = (m for m in out if m not in found and routes[m][:1] == routes[n][:1])
            found.extend(alike)
    return found


def places(routes: Sequence[tuple[str, ...]]) -> tuple[dict[str, int], int]:
    """The column of every step, and how many there are: the longest way that it still has to go."""
    height: dict[str, int] = {}
    rounds = sum(map(len, routes)) + 1  # routes over one another may close a circle
    for _ in range(min(rounds, 60)):
        moved = False
        for ids in routes:
            behind = -1
            for sid in reversed(ids):
                behind = max(height.get(sid, 0), behind + 1)
                moved = moved or height.get(sid) != behind
                height[sid] = behind
        if not moved:
            break
    else:  # a circle: each step by its place from the end of its longest route
        height = {}
        for ids in routes:
            for i, sid in enumerate(reversed(ids)):
                height[sid] = max(height.get(sid, 0), i)
    last = max(height.values(), default=0)
    return {sid: last - h for sid, h in height.items()}, last + 1


def sheets(
    library: Library, target: Substance, routes: Sequence[tuple[int, Assessment]], date: str = ""
) -> list[DrawnSheet]:
    """The overview on as many sheets as it needs."""
    lanes = lanes_of(library, routes)
    room = HIGH - TOP - 36
    count = -(-len(lanes) * LEAST_LANE // room)
    share = -(-len(lanes) // max(int(count), 1))
    pages = [lanes[i : i + int(share)] for i in range(0, len(lanes), int(share))]
    return [_sheet(page, target, len(lanes), n, len(pages), date) for n, page in enumerate(pages)]


def _head(
    p: DrawnSheet, lanes: Sequence[Lane], target: Substance, many: int, at: str, date: str
) -> None:
    name = f"{digits.count(many, 'route')} to {lanes[0].said.amount} {target.name}"
    size = 19.0
    while width(name, size, True) > X1 - X0 and size > 11:
        size -= 0.5
    p.text(X0, 44, name, size, True)
    words = f"{target.label} · a lane is a route, read from left to right; a step that several "
    words += f"share stands once, across their lanes{at}{f' · drawn {date}' if date else ''}"
    p.text(X0, 62, cut(wrap(words, X1 - X0, 9), X1 - X0, 9, 1)[0], 9, False, GREY)
    p.line((X0, 72), (X1, 72), sw=1.4)


def _sheet(
    lanes: Sequence[Lane], target: Substance, many: int, page: int, pages: int, date: str
) -> DrawnSheet:
    more = f", sheet {page + 1} of {pages}" if pages > 1 else ""
    steps = {sid for lane in lanes for sid in lane.ids}
    alt = (
        f"{digits.count(many, 'route')} to {target.name}, a lane each{more}: "
        f"{digits.count(len(steps), 'step')}, shared ones once. "
        + " ".join(
            f"Route {lane.said.number}: {lane.starts}; "
            + "; ".join(c.title for c in lane.said.cards) + "."
            for lane in lanes
        )
    )  # fmt: skip
    columns, count = places([lane.ids for lane in lanes])
    each = (X1 - X0 - HEAD - TARGET) / count
    wide = WIDE + max(0.0, LEAST_CARD + 12 - each) * count
    lane_h = min(MOST_LANE, (HIGH - TOP - 36) / len(lanes))
    lane_h = max(lane_h, LEAST_LANE, *(_lane_need(lane) for lane in lanes))
    cards = _spans(lanes)
    right = X1 + wide - WIDE
    card_w = (right - X0 - HEAD - TARGET) / count - 12
    lane_h = max(lane_h, *(_card_need(c, card_w) / len(run) for c, run in cards))
    p = DrawnSheet(wide, max(HIGH, TOP + lane_h * len(lanes) + 34), alt)
    _head(p, lanes, target, many, more, date)
    bottom = TOP + lane_h * len(lanes)
    for i in range(len(lanes)):
        if i % 2 == 0:
            p.rect(X0, TOP + i * lane_h, right - X0 - TARGET + 8, lane_h, LANE)
        y = TOP + (i + 0.5) * lane_h
        p.line((X0 + HEAD - 2, y), (right - TARGET + 8, y), stroke=BLUE, sw=3.2)
        p.poly([(right - TARGET + 14, y), (right - TARGET + 6, y - 5), (right - TARGET + 6, y + 5)],
               BLUE)  # fmt: skip
    for card, run in cards:
        x = X0 + HEAD + 12 + columns[card.id] * (card_w + 12)
        box = Box(x, TOP + run[0] * lane_h + 5, card_w, len(run) * lane_h - 10)
        _card(p, card, box, len(run) > 1)
    for i, lane in enumerate(lanes):
        _lane_head(p, lane, TOP + i * lane_h, lane_h)
    x = right - TARGET + 18
    for side in (0, 3):
        p.line((x + side, TOP + 4), (x + side, bottom - 4), sw=1.2)
    _target(p, lanes[0].said, x + 8, right, (TOP + bottom) / 2)
    words = "Bar: overall yield on the limiting material, bracket from low to high. Squares: "
    words += f"worst danger, 0 to 4. DrawnSign on a card: danger {GRAVE} or 4. {DISCLAIMER}"
    lines = wrap(words, right - X0, 8)
    p.lines(X0, p.h - 10 - (len(lines) - 1) * 8 * LEAD, lines, 8, False, GREY)
    return p


def _spans(lanes: Sequence[Lane]) -> list[tuple[Card, list[int]]]:
    """Every card with the neighbouring lanes that it crosses."""
    cards = {c.id: c for lane in lanes for c in lane.said.cards}
    out = []
    for sid, card in cards.items():
        run: list[int] = []
        for i, lane in enumerate(lanes):
            if sid not in lane.ids:
                continue
            if run and run[-1] != i - 1:
                out.append((card, run))
                run = []
            run.append(i)
        out.append((card, run))
    return out


def _lane_words(lane: Lane) -> tuple[list[str], list[str]]:
    return wrap(lane.facts, HEAD - 38, SIZE), wrap(lane.starts, HEAD - 16, SIZE)


def _lane_need(lane: Lane) -> float:
    facts, starts = _lane_words(lane)
    return 26 + (len(facts) + min(len(starts), 3)) * LINE + 6


def _lane_head(p: DrawnSheet, lane: Lane, y: float, high: float) -> None:
    badge(p, lane.said.number, X0, y + 6, 22, 13)
    yield_bar(p, lane.yield_, X0 + 30, y + 8, 50, 8)
    p.text(X0 + 86, y + 16.5, digits.percent(lane.found.chain_yield), 11, True, BLUE)
    worst = lane.worst
    if worst is not None:
        behind = squares(p, worst.points, X0 + 124, y + 9.5, 5.4)
        p.text(behind, y + 15.5, f"{worst.points} of 4", SIZE, True)
    facts, starts = _lane_words(lane)
    at = p.lines(X0 + 30, y + 30, facts, SIZE, lead=1.15)
    most = max(1, int((y + high - at) / LINE + 0.7))
    p.lines(X0 + 6, at + 1, cut(starts, HEAD - 16, SIZE, most), SIZE, lead=1.15)


def _card_lines(card: Card, wide: float) -> list[str]:
    return wrap(card.title, wide - 10, SIZE, True)


def _card_need(card: Card, wide: float) -> float:
    lacks = sum(len(wrap(f"missing: {m}", wide - 10, 8)) for m in card.missing)
    return len(_card_lines(card, wide)) * SIZE * 1.13 + lacks * 9 + 28


def _card(p: DrawnSheet, card: Card, box: Box, shared: bool) -> None:
    p.rect(box.x, box.y, box.w, box.h, WHITE, INK, 1.2, dashed=bool(card.missing))
    if shared:
        p.rect(box.x, box.y, 3.5, box.h, BLUE)
    lines = _card_lines(card, box.w)
    y = box.y + 11 if not shared else box.y + max((box.h - len(lines) * 9.8 - 12) / 2 + 8, 11)
    y = p.lines(box.x + 6.5, y, lines, SIZE, True, within=box, lead=1.13)
    for lack in card.missing:
        y = p.lines(box.x + 6.5, y, wrap(f"missing: {lack}", box.w - 10, 8), 8, within=box)
    room = box.w - 12
    if card.risk is not None and card.risk.points >= GRAVE:
        sign(p, card.risk, box.right - 18, box.bottom - 18, 15)
        room -= 16
    made = next((f for f in card.onward if f.kind != "goal"), None)
    if made is not None:
        for words in (f"gives {made.formula}", made.formula):
            if made.formula and width(words, 8) <= room:
                p.text(box.x + 6.5, box.bottom - 5, words, 8, False, BLUE, within=box)
                break


def _target(p: DrawnSheet, one: DrawnRoute, x: float, right: float, y: float) -> None:
    room = right - x
    size = 9.5
    while size > 8 and any(width(w, size, True) > room for w in one.formula.split()):
        size -= 0.5
    y = p.lines(x, y - 24, wrap(one.formula, room, size, True), size, True)
    y = p.lines(x, y + 2, wrap(one.name, room, 8), 8)
    p.lines(x, y + 5, wrap(one.amount, room, 11, True), 11, True, BLUE)


# --- narrow ------------------------------------------------------------------------------------


def narrow(
    library: Library, target: Substance, routes: Sequence[tuple[int, Assessment]], date: str = ""
) -> DrawnSheet:
    """The routes one under another, 390 pixels wide."""
    lanes = sorted(lanes_of(library, routes), key=lambda lane: lane.said.number)
    p = DrawnSheet(390.0, 100.0, f"{digits.count(len(lanes), 'route')} to {target.name}.", "px")
    x0, x1 = 14.0, 378.0
    name = f"{digits.count(len(lanes), 'route')} to {lanes[0].said.amount} {target.name}"
    y = p.lines(x0, 32, wrap(name, x1 - x0, 20, True), 20, True)
    drawn = f" · drawn {date}" if date else ""
    y = p.lines(x0, y, wrap(f"{target.label}{drawn}", x1 - x0, 13), 13, False, GREY) + 2
    seen: dict[str, int] = {}
    for lane in lanes:
        p.line((x0, y - 6), (x1, y - 6), sw=1.4)
        y += 4
        badge(p, lane.said.number, x0, y, 34, 19)
        yield_bar(p, lane.yield_, x0 + 46, y + 3, 120, 11)
        p.text(x0 + 176, y + 14, digits.percent(lane.found.chain_yield), 16, True, BLUE)
        if lane.worst is not None:
            p.text(x1, y + 13, f"danger {lane.worst.points} of 4", 13, True, INK, "end")
        y = p.lines(x0 + 46, y + 34, wrap(lane.facts, x1 - x0 - 46, 13), 13)
        y = p.lines(x0 + 46, y, wrap(lane.starts, x1 - x0 - 46, 13), 13, False, GREY) + 2
        cards = lane.said.cards
        for card in cards:
            old = seen.get(card.id)
            p.disc(x0 + 17, y - 5, 5, WHITE if old else BLUE, BLUE, 2)
            words = card.title + (f" (as in route {old})" if old else "")
            end = p.lines(x0 + 46, y, wrap(words, x1 - x0 - 46, 13), 13, False,
                          GREY if old else INK)  # fmt: skip
            if card is not cards[-1]:
                p.line((x0 + 17, y), (x0 + 17, end - 10), stroke=BLUE, sw=3)
            y = end + 1
            seen.setdefault(card.id, lane.said.number)
        y += 12
    lines = wrap(DISCLAIMER, x1 - x0, 12)
    p.line((x0, y - 6), (x1, y - 6), stroke=RULE)
    p.h = p.lines(x0, y + 10, lines, 12, False, GREY) + 6
    return p
