"""One route drawn with its amounts.

It reads left to right like a day's work. Materials stand on a thin line; intermediates are written
on the arrows, whose width grows with the logarithm of the mass. Gases leave upwards, leavings
downwards. A long route is folded into rows as a text is into lines, so that it can be read on a
sheet of A4: what goes from row to row says where it comes from and where it goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routefinder import digits
from routefinder.assessment import hazards as points_of
from routefinder.assessment.assess import Assessment
from routefinder.assessment.reuse import FedBack
from routefinder.hazards.danger import dangers
from routefinder.library.library import Library
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.water import liquors
from routefinder.view import folding
from routefinder.view.diagram import GREY, card, heading, pen, quote, supply_text, target_label
from routefinder.view.words import poured_or_weighed

ACROSS = 3  # steps side by side: three fill the width of A4 lying down at a size one can read


@dataclass(frozen=True)
class CardRow:
    """A row of a drawing, by itself: what it says, and its DOT source."""

    alt: str
    dot: str


def alt_text(library: Library, found: Assessment) -> str:
    """The diagram in a sentence."""
    starts = [
        f"{poured_or_weighed(d.supply, d.as_weighed_g)} {d.supply.name}"
        for d in found.amounts.draws
        if d.reactant and not d.supply.everywhere
    ]
    titles = [s.title for s in found.steps]
    return (
        f"From {', '.join(starts) or 'water and air'} in {digits.count(len(titles), 'step')} "
        f"({'; '.join(titles)}) to "
        f"{digits.mass(found.amounts.target_g)} {library.name(found.amounts.target)}."
    )


def route_dot(
    library: Library,
    found: Assessment,
    number: int = 1,
    fed_back: Sequence[FedBack] = (),
    foot: bool = True,
) -> str:
    """DOT source of one route; what is fed back returns in double arrows.

    Under it stands the disclaimer, unless it goes into a page that says it (``foot`` False).
    """
    drawing = _Drawing(library, found, fed_back)
    out = [heading(f"Route {number}. {alt_text(library, found)}", foot)]
    if len(drawing.rows) == 1:
        return "".join([*out, *drawing.row(0), "}\n"])
    heads = []  # the rows stand in order, one under another: a chain of unseen nodes
    for place, steps in enumerate(drawing.rows):
        heads.append(quote(f"row {place + 1}"))
        out += drawing.row(place)
        out.append(f'  {heads[-1]} [label="", width=0, height=0, fixedsize=true, style=invis];\n')
        out.append(f"  {heads[-1]} -> {quote(steps[0])} [style=invis];\n")
    out.append(f"  {{ rank=same; {' -> '.join(heads)} [style=invis]; }}\n}}\n")
    return "".join(out)


def route_rows(
    library: Library, found: Assessment, number: int = 1, fed_back: Sequence[FedBack] = ()
) -> list[CardRow]:
    """The rows of the drawing, each by itself, for pages that may break between them."""
    drawing = _Drawing(library, found, fed_back)
    whole = alt_text(library, found)
    if len(drawing.rows) == 1:
        return [CardRow(whole, route_dot(library, found, number, fed_back, False))]
    out = []
    for place, steps in enumerate(drawing.rows):
        shown = ", ".join(str(drawing.number[s]) for s in steps)
        alt = f"Row {place + 1} of {len(drawing.rows)}, step{'s' if len(steps) > 1 else ''} {shown}"
        alt = f"{alt}. {whole}" if place == 0 else f"{alt}."
        first = heading(f"Route {number}. {alt}", foot=False)
        out.append(CardRow(alt, "".join([first, *drawing.row(place), "}\n"])))
    return out


class _Drawing:
    """A route with its rows."""

    def __init__(self, library: Library, found: Assessment, fed_back: Sequence[FedBack]) -> None:
        self.library = library
        self.found = found
        self.fed_back = fed_back
        self.number = {s.id: i for i, s in enumerate(found.steps, start=1)}
        self.amounts = {a.step.id: a for a in found.amounts.steps}
        self.liquors = liquors(library, found.amounts)
        sources = {
            sid: [f.origin for f in amount.feeds if isinstance(f.origin, str)]
            for sid, amount in self.amounts.items()
        }
        self.rows = folding.rows(sources, ACROSS)
        self.row_of = {sid: place for place, row in enumerate(self.rows) for sid in row}
        self.missing: dict[str, list[str]] = {}
        for need in found.missing:
            for sid in need.steps:
                self.missing.setdefault(sid, []).append(need.capability.in_words())

    def row(self, place: int) -> list[str]:
        """The DOT statements of a row."""
        out = []
        for sid in self.rows[place]:
            amount = self.amounts[sid]
            label = card(
                self.library, amount.step, str(self.number[sid]), self.missing.get(sid, ()),
                points_of.strengths(self.library, amount, self.liquors), points_of.charged(amount),
                next(iter(dangers(self.found.profiles[sid])), None),
                points_of.inside(self.library, amount), amount.times,
            )  # fmt: skip
            out.append(f"  {quote(sid)} [label={label}];\n")
            for i, feed in enumerate(amount.feeds):
                out.append(
                    self._made(feed, sid)
                    if isinstance(feed.origin, str)
                    else self._taken(feed, sid, i)
                )
            out.append(self._leavings(amount))
        for amount in self.amounts.values():  # what this row hands on
            for feed in amount.feeds:
                if isinstance(feed.origin, str) and self.row_of[feed.origin] == place:
                    out.append(self._handed_on(feed, amount.step.id))
        out += [self._back(flow, place) for flow in self.fed_back]
        if self.row_of[self.found.amounts.last] == place:
            out.append(self._target())
        return out

    def _flow_label(self, feed: Feed) -> str:
        label = self.library.substances[feed.form].label
        return f"{label}\n{digits.mass(feed.as_weighed_g)}"

    def _made(self, feed: Feed, sid: str) -> str:
        """An arrow from the step that made it, or from the edge of the row."""
        maker = str(feed.origin)
        style = f"penwidth={pen(feed.as_weighed_g)}"
        label = self._flow_label(feed)
        if self.row_of[maker] == self.row_of[sid]:
            over = quote(f"{label}\n ")  # an empty line keeps the words off the arrow
            return f"  {quote(maker)} -> {quote(sid)} [label={over}, {style}];\n"
        node = quote(f"{sid}/from/{maker}/{feed.form}")
        text = quote(f"{label}\nfrom step {self.number[maker]}")
        return f"  {node} [label={text}];\n  {node} -> {quote(sid)} [{style}];\n"

    def _handed_on(self, feed: Feed, sid: str) -> str:
        maker = str(feed.origin)
        if self.row_of[maker] == self.row_of[sid]:
            return ""
        node = quote(f"{maker}/to/{sid}/{feed.form}")
        text = quote(f"{self._flow_label(feed)}\nto step {self.number[sid]}")
        return (
            f"  {node} [label={text}];\n"
            f"  {quote(maker)} -> {node} [penwidth={pen(feed.as_weighed_g)}];\n"
        )

    def _taken(self, feed: Feed, sid: str, i: int) -> str:
        """A material from the shelf on its thin line."""
        supply = feed.origin
        assert not isinstance(supply, str)
        if supply.everywhere and supply.form != "gas":
            return ""  # tap water
        grams = None if supply.form == "gas" and supply.everywhere else feed.as_weighed_g
        node = quote(f"{sid}/{supply.id}/{i}")
        text = supply_text(self.library, supply, feed.form, grams)
        style = "" if feed.role == "reactant" else ", style=dotted"
        if feed.role != "reactant":
            text += f"\n({feed.role})"
        return (
            f"  {node} [label={quote(text)}];\n"
            f"  {node} -> {quote(sid)} [arrowhead=none, penwidth=0.7{style}];\n"
        )

    def _leavings(self, amount: StepAmounts) -> str:
        sid = quote(amount.step.id)
        up, down = [], []
        for o in amount.kept:
            label = self.library.substances[o.substance].label
            if o.mass_g >= 0.05 and o.substance != "water":
                down.append(f"kept: {label} {digits.mass(o.mass_g)}")
        for o in amount.outcomes:
            label = self.library.substances[o.substance].label
            if o.fate == "gas" and o.mass_g >= 0.005:
                up.append(f"{label} {digits.gas(o.moles)}")
            elif o.fate in {"waste", "unreacted"} and o.substance != "water" and o.mass_g >= 0.5:
                down.append(f"{label} {digits.mass(o.mass_g)}")
        out, same = [], []
        if up:
            node = quote(f"{amount.step.id}/gas")
            out.append(f"  {node} [label={quote(chr(10).join(up))}];\n")
            out.append(f"  {node} -> {sid} [dir=back, style=dashed, penwidth=0.9];\n")
            same.append(node)
        same.append(sid)
        if down:
            node = quote(f"{amount.step.id}/leavings")
            out.append(
                f"  {node} [label={quote(chr(10).join(down[:4]))}, fontcolor={quote(GREY)}];\n"
                f"  {sid} -> {node} [color={quote(GREY)}, penwidth=0.9];\n"
            )
            same.append(node)
        if len(same) > 1:
            out.append(f"  {{ rank=same; {'; '.join(same)}; }}\n")
        return "".join(out)

    def _back(self, flow: FedBack, place: int) -> str:
        """What is fed back: a double arrow, or its half in this row."""
        label = f"{self.library.substances[flow.substance].label}\n{digits.mass(flow.mass_g)}"
        label += " back" if flow.back else ""
        double = 'color="black:white:black"'
        maker, taker = quote(flow.maker), quote(flow.taker)
        if self.row_of[flow.maker] == self.row_of[flow.taker] == place:
            return f"  {maker} -> {taker} [label={quote(label)}, {double}, constraint=false];\n"
        if self.row_of[flow.maker] == place:
            node = quote(f"{flow.maker}/back/{flow.taker}/{flow.substance}")
            text = quote(f"{label}\nto step {self.number[flow.taker]}")
            return f"  {node} [label={text}];\n  {maker} -> {node} [{double}];\n"
        if self.row_of[flow.taker] == place:
            node = quote(f"{flow.taker}/back from/{flow.maker}/{flow.substance}")
            text = quote(f"{label}\nfrom step {self.number[flow.maker]}")
            return f"  {node} [label={text}];\n  {node} -> {taker} [{double}];\n"
        return ""

    def _target(self) -> str:
        amounts, y = self.found.amounts, self.found.limiting_yield
        grams = amounts.target_g
        words = digits.mass(grams)
        if y is not None:
            words += f" ({digits.mass(grams * y.low / y.typical)} to "
            words += f"{digits.mass(grams * min(y.high / y.typical, 1 / y.typical))})"
        label = target_label(self.library.substances[amounts.target], words)
        return (
            f"  target [label={label}];\n"
            f"  {quote(amounts.last)} -> target [penwidth={pen(grams)}];\n"
        )
