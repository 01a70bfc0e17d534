"""One route as a plain graph, for Graphviz or whoever else lays out graphs.

Materials stand on a thin line; intermediates are written on the arrows, whose width grows with the
logarithm of the mass. What hangs on the wall is drawn by ``view.picture``.
"""

from __future__ import annotations

from collections.abc import Sequence

from routefinder import digits
from routefinder.assessment import hazards as points_of
from routefinder.assessment.assess import Assessment
from routefinder.assessment.reuse import FedBack
from routefinder.hazards.danger import dangers
from routefinder.library.library import Library
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.water import liquors
from routefinder.view.diagram import GREY, card, heading, pen, quote, supply_text, target_label
from routefinder.view.route_words import alt_text


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
    head = heading(f"Route {number}. {alt_text(library, found)}", foot)
    return "".join([head, *drawing.statements(), "}\n"])


class _Drawing:
    """A route as DOT statements."""

    def __init__(self, library: Library, found: Assessment, fed_back: Sequence[FedBack]) -> None:
        self.library = library
        self.found = found
        self.fed_back = fed_back
        self.number = {s.id: i for i, s in enumerate(found.steps, start=1)}
        self.amounts = {a.step.id: a for a in found.amounts.steps}
        self.liquors = liquors(library, found.amounts)
        self.missing: dict[str, list[str]] = {}
        for need in found.missing:
            for sid in need.steps:
                self.missing.setdefault(sid, []).append(need.capability.in_words())

    def statements(self) -> list[str]:
        """The DOT statements of the route."""
        out = []
        for sid, amount in self.amounts.items():
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
        out += [self._back(flow) for flow in self.fed_back]
        out.append(self._target())
        return out

    def _flow_label(self, feed: Feed) -> str:
        label = self.library.substances[feed.form].label
        return f"{label}\n{digits.mass(feed.as_weighed_g)}"

    def _made(self, feed: Feed, sid: str) -> str:
        """An arrow from the step that made it."""
        label = quote(f"{self._flow_label(feed)}\n ")  # an empty line keeps words off the arrow
        style = f"penwidth={pen(feed.as_weighed_g)}"
        return f"  {quote(str(feed.origin))} -> {quote(sid)} [label={label}, {style}];\n"

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

    def _back(self, flow: FedBack) -> str:
        """What is fed back: a double arrow."""
        label = f"{self.library.substances[flow.substance].label}\n{digits.mass(flow.mass_g)}"
        label += " back" if flow.back else ""
        double = 'color="black:white:black"'
        maker, taker = quote(flow.maker), quote(flow.taker)
        return f"  {maker} -> {taker} [label={quote(label)}, {double}, constraint=false];\n"

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
