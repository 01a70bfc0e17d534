"""What purchases and moved limits would open: for a terminal, and as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.assessment.measure import MEASURES
from routefinder.disclaimer import DISCLAIMER
from routefinder.search.route import Ending
from routefinder.view import danger_words
from routefinder.view.text import does_words

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.assessment.shopping import Chosen
    from routefinder.results.answer import Route
    from routefinder.results.unlocked import Opening, Piece, Unlocked

NUMBERS = ("nothing", "one thing", "two things", "three things", "four things", "five things")


def piece_words(piece: Piece) -> str:
    """One thing to acquire, in a line."""
    currency = piece.currency
    if piece.kind == "limit":
        return piece.name
    text = f"{'buy' if piece.kind == 'material' else 'get'} {piece.name}"
    if piece.kind == "material" and piece.grams:
        text += f": {digits.mass(piece.grams)}"
        text += f", {digits.money(piece.money, currency)}" if piece.money is not None else (
            ", price not known")  # fmt: skip
        if piece.packs is not None and piece.packs.packs:
            text += f" ({_packs(piece.packs, currency)})"
    if piece.does:
        text += f", to {'; to '.join(does_words(d) for d in piece.does)}"
    return text


def _packs(chosen: Chosen, currency: str) -> str:
    listed = " + ".join(f"{n} × {p.label}" for p, n in chosen.packs)
    if chosen.price is None:
        return f"in packs: {listed}"
    return f"in packs: {listed}, {digits.money(chosen.price, currency)}"


def _currency(route: Route) -> str:
    return route.assessment.cost.unit


def route_line(route: Route) -> str:
    """Steps, yield, money, work, time, heat and hazard of a route in a line."""
    a = route.assessment
    n = len(a.steps)
    worst = f"worst danger: {danger_words.in_line(a.worst_danger)}"
    return (
        f"{digits.count(n, 'step')}, yield {digits.percent(a.chain_yield)}, materials "
        f"{digits.money(a.cost.typical or 0.0, a.cost.unit, a.cost.at_least)}, work "
        f"{digits.duration(a.hands_on_min)}, elapsed {digits.duration(a.elapsed_min)}, up to "
        f"{digits.temperature(a.peak_C)}, {worst}"
    )


SEEN = {"share": 0.5, "money": 0.005, "time": 1 / 120}  # smaller gains are not told


def gains_words(opening: Opening) -> str:
    """What an opening brings against today's best route, better and worse said apart."""
    unit = _currency(opening.route)
    better: list[str] = []
    worse: list[str] = []
    for name, by in opening.gains.items():
        kind, size = MEASURES[name], abs(by)
        if size < SEEN.get(kind.quantity, 1e-9):
            continue
        n = f"{size:.0f}"
        if kind.quantity == "money":
            n = digits.money(size, unit)
        elif kind.quantity == "time":
            n = digits.duration(size * 60)
        words = kind.gain[by < 0].format(n=n, s="s" if f"{size:.0f}" != "1" else "")
        (better if (by > 0) == (kind.better == "more") else worse).append(words)
    parts = []
    if better:
        parts.append("better: " + ", ".join(better))
    if worse:
        parts.append("worse: " + ", ".join(worse))
    return "; ".join(parts) or "the same in all that is compared"


def print_unlocked(found: Unlocked, out: Console) -> None:
    """The purchases and limits that open a route or a better one, by number of things."""
    from routefinder.view import text

    text.print_head(found, out)
    if found.today is None:
        out.print("Today there is no route within the limits.", style="bold")
    else:
        text.say(out, f"Today's best: {found.today.name}", 0, 2, "bold")
        text.say(out, route_line(found.today), 2, 2)
        _print_lacks(found.today, out, 2)
    sizes = [len(o.pieces) for o in found.openings]
    first = min(sizes, default=1)
    if found.today is None and first > 1:
        out.print()
        text.say(out, f"It takes at least {_things(first)}; no smaller set opens a route (proven).")
    for size, ended in found.levels.items():
        if size >= first:
            out.print()
            _print_level(found, size, ended, out)
    if found.wider:
        out.print()
        out.print("With a limit on whole routes moved instead:", style="bold")
        for each in found.wider:
            _print_opening(each, out)
    out.print()
    text.print_controls([o.route for o in (*found.openings, *found.wider)], out)
    for note in found.notes:
        text.say(out, f"Note: {note}.", 0, 2)
    text.print_disclaimer(out)


def _things(size: int) -> str:
    return NUMBERS[size] if size < len(NUMBERS) else f"{size} things"


def _print_level(found: Unlocked, size: int, ended: Ending, out: Console) -> None:
    from routefinder.view import text

    mine = [o for o in found.openings if len(o.pieces) == size]
    better = "a better route" if found.today is not None else "a route"
    words = _things(size)
    if not mine:
        if ended is Ending.STOPPED:
            text.say(out, f"With {words} more: stopped by the time limit (--seconds) before an "
                     "answer.", 0, 2)  # fmt: skip
        elif size > 1 and any(len(o.pieces) < size for o in found.openings):
            text.say(out, f"With {words} more: nothing better than with fewer (proven).", 0, 2)
        else:
            text.say(out, f"With {words} more: nothing opens {better} (proven).", 0, 2)
        return
    out.print(f"With {words} more:", style="bold")
    for each in mine:
        _print_opening(each, out)
    if ended is Ending.ALL:
        text.say(out, "Nothing else opens a better route than fewer things do (proven).", 2, 2,
                 "italic")  # fmt: skip
    elif ended is Ending.PROVEN and size > found.most:
        text.say(out, "One such set, the best in this order (proven); there are more.", 2, 2,
                 "italic")  # fmt: skip
    elif ended is Ending.PROVEN:
        text.say(out, "These are the best (proven); more open a better route than fewer things "
                 "do: --top lists more.", 2, 2, "italic")  # fmt: skip
    else:
        text.say(out, "Stopped by the time limit (--seconds); those shown are the best.", 2, 2,
                 "italic")  # fmt: skip


def _print_opening(opening: Opening, out: Console) -> None:
    from routefinder.view import text

    for i, piece in enumerate(opening.pieces):
        mark = f"{opening.number:>3}. " if i == 0 else "   + "
        text.say(out, mark + piece_words(piece), 0, 7)
        if piece.or_else:
            listed = list(piece.or_else[:5])
            more = len(piece.or_else) - len(listed)
            listed += [f"{more} more (--json lists all)"] if more else []
            text.say(out, "or: " + "; ".join(listed), 5, 4)
    text.say(out, f"opens: {opening.route.name}", 5, 7)
    text.say(out, route_line(opening.route), 12)
    _print_lacks(opening.route, out, 12)
    if opening.gains:
        text.say(out, gains_words(opening), 12)


def _print_lacks(route: Route, out: Console, indent: int) -> None:
    """What ``may_lack`` lets the route do without."""
    from routefinder.view import text

    if route.assessment.missing:
        lacks = "; ".join(n.capability.in_words() for n in route.assessment.missing)
        text.say(out, f"still lacks: {lacks}", indent, 2)


def as_data(found: Unlocked) -> dict[str, Any]:
    """The answer as plain data."""
    from routefinder.view import as_json

    q = found.question
    return {
        "schema": "routefinder/unlock/1",
        "disclaimer": DISCLAIMER,
        "target": q.target,
        "amount_g": q.amount_g,
        "shelf": q.shelf.name,
        "bench": q.bench.name if q.bench else None,
        "order": q.order,
        "today": as_json.route(found.today) if found.today is not None else None,
        "levels": {str(size): str(ended) for size, ended in found.levels.items() if size},
        "openings": [_opening_data(o) for o in found.openings],
        "limits_on_whole_routes": [_opening_data(o) for o in found.wider],
        "seconds": found.seconds,
        "notes": list(found.notes),
    }


def _opening_data(opening: Opening) -> dict[str, Any]:
    from routefinder.view import as_json

    measures = opening.route.assessment.measures()
    return {
        "number": opening.number,
        "acquire": [
            {
                "kind": p.kind,
                "name": p.name,
                "does": list(p.does),
                "or_else": list(p.or_else),
                "grams": p.grams,
                "money": p.money,
                "currency": p.currency,
                "packs": [{"pack": k.label, "count": n} for k, n in p.packs.packs]
                if p.packs
                else None,
                "packs_money": p.packs.price if p.packs else None,
                "change": vars(p.change) if p.change else None,
            }
            for p in opening.pieces
        ],
        "order_cost": opening.cost,
        "gains": {n: {"by": by, "unit": measures[n].unit, "better": measures[n].better}
                  for n, by in opening.gains.items()},
        "route": as_json.route(opening.route),
    }  # fmt: skip
