"""Diagrams of routes, made for a bench printout; the only door to graphviz.

A route reads left to right like a day's work. Materials stand on a thin line as plain text; a step
is a card with its number, title, conditions, a bar filled to its typical yield with a bracket from
low to high, equipment and GHS statements; intermediates are written on the arrows, whose width
grows with the logarithm of the mass. Gases leave upwards, leavings downwards. The target has a
double rule under it. Colour carries nothing alone.
"""

from __future__ import annotations

import math
import shutil
import sys
import textwrap
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from routefinder.assessment.amounts import Feed, StepAmounts
from routefinder.assessment.assess import Assessment
from routefinder.assessment.reuse import FedBack
from routefinder.errors import InputError, OutOfReach
from routefinder.hazards.score import statements, unknown_in
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Substance
from routefinder.view import digits

FORMATS = ("svg", "png", "dot")
_GREY = "#666666"
_HEAD = """digraph {name} {{
  graph [rankdir=LR, nodesep=0.22, ranksep=0.55, pad=0.2, bgcolor=white, fontname="Helvetica",
         forcelabels=true, outputorder=edgesfirst];
  node [shape=plain, fontname="Helvetica", fontsize=11, margin="0.05,0.03"];
  edge [fontname="Helvetica", fontsize=10, arrowsize=0.7, color=black];
"""


def quote(text: str) -> str:
    """A DOT string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) or [text]


def _lines(text: str, width: int) -> str:
    return '<BR ALIGN="LEFT"/>'.join(escape(line) for line in _wrap(text, width))


def _pen(grams: float) -> float:
    """Arrow width in points: grows with the logarithm of the mass."""
    return round(0.8 + 1.1 * max(0.0, math.log10(max(grams, 0.1)) + 1), 2)


def _strip(widths: Sequence[tuple[float, str | None]], height: int) -> str:
    """A strip of coloured cells, 100 points wide; shares of no width are left out."""
    cells = "".join(
        f'<TD FIXEDSIZE="TRUE" WIDTH="{max(1, round(share * 100))}" HEIGHT="{height}"'
        + (f' BGCOLOR="{colour}"' if colour else "")
        + "></TD>"
        for share, colour in widths
        if share >= 0.03
    )
    return (
        f'<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="0" CELLPADDING="0"><TR>{cells}</TR></TABLE>'
    )


def _bar(step: ResolvedStep) -> str:
    """A yield bar: filled to typical, a bracket under it from low to high."""
    y = step.record.yield_
    bar = _strip([(y.typical, "black"), (1 - y.typical, "#d9d9d9")], 7)
    bracket = _strip([(y.low, None), (max(y.high - y.low, 0.01), "black"), (1 - y.high, None)], 2)
    text = f"{digits.percent(y.typical)} ({y.low * 100:.0f}–{y.high * 100:.0f})"
    return (
        '<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="1" CELLPADDING="0">'
        f'<TR><TD ALIGN="LEFT">{bar}</TD>'
        f'<TD ROWSPAN="2"><FONT POINT-SIZE="9"> {text}</FONT></TD></TR>'
        f'<TR><TD ALIGN="LEFT">{bracket}</TD></TR></TABLE>'
    )


def conditions(step: ResolvedStep) -> str:
    """One line: temperature and time."""
    window, time = step.record.temperature, step.record.time
    where = (
        f"{window.low_C:g} °C"
        if window.low_C == window.high_C
        else f"{window.low_C:g}–{window.high_C:g} °C"
    )
    total = digits.duration(time.hands_on_min)
    if time.waiting_min:
        total += f" + {digits.duration(time.waiting_min)} wait"
    return f"{where} · {total}"


def _equipment_words(step: ResolvedStep) -> str:
    short = {
        "heat-liquid": "heat", "heat-dry": "furnace or oven", "evaporate": "boil down",
        "fume-extraction": "fume extraction", "crystallise": "stand", "filter": "filter",
    }  # fmt: skip
    words: list[str] = []
    for need in step.record.equipment:
        if need.name in {"weigh", "protect-from-splash", "vessel"}:
            continue
        word = short.get(need.name, need.in_words())
        if word not in words:
            words.append(word)
    vessel = next((n for n in step.record.equipment if n.name == "vessel"), None)
    if vessel is not None and vessel.made_of:
        words.append("vessel: " + " or ".join(vessel.made_of[:3]))
    return ", ".join(words)


def _card(
    library: Library,
    step: ResolvedStep,
    number: str,
    missing: Sequence[str] = (),
    strengths: Mapping[str, float] | None = None,
    full: bool = True,
) -> str:
    """The card of a step as an HTML-like label."""
    rows = [
        f'<TR><TD ALIGN="LEFT" BALIGN="LEFT"><B>{escape(number)}</B>'
        f"  {_lines(step.title, 30)}</TD></TR>",
    ]
    small = '<TR><TD ALIGN="LEFT" BALIGN="LEFT"><FONT POINT-SIZE="9">{}</FONT></TD></TR>'
    rows.append(small.format(escape(conditions(step))))
    if full:
        rows.append(f'<TR><TD ALIGN="LEFT">{_bar(step)}</TD></TR>')
        words = _equipment_words(step)
        if words:
            rows.append(small.format(_lines(words, 42)))
        codes = statements(library, step, strengths)
        words = " ".join(codes)
        unknown = unknown_in(library, step)
        if unknown:
            words += f" no hazard data: {', '.join(unknown)}"
        if words:
            rows.append(
                small.format('<FONT COLOR="#b00000"><B>◊</B></FONT> ' + _lines(words.strip(), 42))
            )
    for word in missing:
        rows.append(small.format("<B>/// missing:</B> " + _lines(word, 40)))
    style = ' STYLE="DASHED"' if missing else ' STYLE="ROUNDED"'
    return (
        f'<<TABLE BORDER="1" CELLBORDER="0" CELLSPACING="0" CELLPADDING="3"{style}>'
        + "".join(rows)
        + "</TABLE>>"
    )


def _supply_text(library: Library, supply: Supply, substance: str, grams: float | None) -> str:
    label = library.substances[substance].label
    lines = [*_wrap(supply.name, 24)]
    if label != supply.name:
        lines.append(label)
    if grams is not None:
        if supply.form in {"solution", "liquid"} and supply.density_g_mL:
            lines.append(digits.volume(grams / supply.density_g_mL))
        else:
            lines.append(digits.mass(grams))
    return "\n".join(lines)


def _target_label(substance: Substance, lines: Sequence[str]) -> str:
    rows = "".join(f"<TR><TD>{escape(line)}</TD></TR>" for line in lines)
    rule = '<TR><TD BORDER="1" SIDES="B" HEIGHT="3" FIXEDSIZE="FALSE"></TD></TR>'
    return (
        '<<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="0" CELLPADDING="2">'
        f"<TR><TD><B>{escape(substance.label)}</B></TD></TR>{rows}{rule}{rule}</TABLE>>"
    )


def alt_text(library: Library, found: Assessment) -> str:
    """The diagram in a sentence."""
    starts = [
        f"{digits.mass(d.as_weighed_g)} {d.supply.name}"
        for d in found.amounts.draws
        if d.reactant and not d.supply.everywhere
    ]
    titles = [s.title for s in found.steps]
    return (
        f"From {', '.join(starts) or 'water and air'} in {len(titles)} "
        f"step{'s' if len(titles) != 1 else ''} ({'; '.join(titles)}) to "
        f"{digits.mass(found.amounts.target_g)} {library.name(found.amounts.target)}."
    )


def route_dot(
    library: Library, found: Assessment, number: int = 1, fed_back: Sequence[FedBack] = ()
) -> str:
    """DOT source of one route; what is fed back returns in double arrows."""
    numbers = {s.id: i for i, s in enumerate(found.steps, start=1)}
    missing: dict[str, list[str]] = {}
    for need in found.missing:
        for step_id in need.steps:
            missing.setdefault(step_id, []).append(need.capability.in_words())
    out = [_HEAD.format(name=quote(f"Route {number}. {alt_text(library, found)}"))]
    for amount in found.amounts.steps:
        sid = amount.step.id
        card = _card(library, amount.step, str(numbers[sid]), missing.get(sid, ()), found.strengths)
        out.append(f"  {quote(sid)} [label={card}];\n")
        for i, feed in enumerate(amount.feeds):
            out.append(_feed_dot(library, amount, feed, i))
        out.append(_leavings_dot(library, amount))
    target = library.substances[found.amounts.target]
    grams = found.amounts.target_g
    y = found.limiting_yield
    lines = [target.name, digits.mass(grams)]
    if y is not None:
        lines[1] += f" ({digits.mass(grams * y.low / y.typical)} to "
        lines[1] += f"{digits.mass(grams * min(y.high / y.typical, 1 / y.typical))})"
    out.append(f"  target [label={_target_label(target, lines)}];\n")
    for flow in fed_back:
        label = f"{library.substances[flow.substance].label}\n{digits.mass(flow.mass_g)} back"
        label = label if flow.back else label.removesuffix(" back")
        out.append(
            f"  {quote(flow.maker)} -> {quote(flow.taker)} [label={quote(label)}, "
            f'color="black:white:black", constraint=false];\n'
        )
    out.append(f"  {quote(found.amounts.last)} -> target [penwidth={_pen(grams)}];\n}}\n")
    return "".join(out)


def _feed_dot(library: Library, amount: StepAmounts, feed: Feed, i: int) -> str:
    sid = quote(amount.step.id)
    if isinstance(feed.origin, str):
        label = f"{library.substances[feed.form].label}\n{digits.mass(feed.as_weighed_g)}\n "
        return (
            f"  {quote(feed.origin)} -> {sid} [label={quote(label)}, "
            f"penwidth={_pen(feed.as_weighed_g)}];\n"
        )
    supply = feed.origin
    if supply.everywhere and supply.form != "gas":
        return ""  # tap water
    grams = None if supply.form == "gas" and supply.everywhere else feed.as_weighed_g
    node = quote(f"{amount.step.id}/{supply.id}/{i}")
    text = _supply_text(library, supply, feed.form, grams)
    style = "" if feed.role == "reactant" else ", style=dotted"
    if feed.role != "reactant":
        text += f"\n({feed.role})"
    return (
        f"  {node} [label={quote(text)}];\n"
        f"  {node} -> {sid} [arrowhead=none, penwidth=0.7{style}];\n"
    )


def _leavings_dot(library: Library, amount: StepAmounts) -> str:
    sid = quote(amount.step.id)
    up, down = [], []
    for o in amount.outcomes:
        label = library.substances[o.substance].label
        if o.fate == "gas" and o.mass_g >= 0.005:
            up.append(f"{label} {digits.gas(o.moles)}")
        elif o.fate == "surplus" and o.mass_g >= 0.05 and o.substance != "water":
            down.append(f"kept: {label} {digits.mass(o.mass_g)}")
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
            f"  {node} [label={quote(chr(10).join(down[:4]))}, fontcolor={quote(_GREY)}];\n"
            f"  {sid} -> {node} [color={quote(_GREY)}, penwidth=0.9];\n"
        )
        same.append(node)
    if len(same) > 1:
        out.append(f"  {{ rank=same; {'; '.join(same)}; }}\n")
    return "".join(out)


def overview_dot(
    library: Library, target: Substance, routes: Sequence[tuple[int, Assessment]]
) -> str:
    """DOT source of several routes over one another: common steps once, route numbers on arrows."""
    steps: dict[str, ResolvedStep] = {}
    uses: dict[str, list[int]] = {}
    edges: dict[tuple[str, str, str], list[int]] = {}
    supplies: dict[str, tuple[Supply, str]] = {}
    for number, found in routes:
        for amount in found.amounts.steps:
            sid = amount.step.id
            steps[sid] = amount.step
            uses.setdefault(sid, []).append(number)
            for feed in amount.feeds:
                if isinstance(feed.origin, str):
                    label = library.substances[feed.form].label
                    edges.setdefault((feed.origin, sid, label), []).append(number)
                elif feed.role == "reactant" and not feed.origin.everywhere:
                    name = f"shelf/{feed.origin.id}"
                    supplies[name] = (feed.origin, feed.form)
                    edges.setdefault((name, sid, ""), []).append(number)
            if sid == found.amounts.last:
                edges.setdefault((sid, "target", ""), []).append(number)
    numbers = [number for number, _ in routes]
    title = (
        f"{len(routes)} routes to {target.name} over one another: {len(steps)} steps, common "
        "steps once, route numbers on the arrows."
    )
    out = [_HEAD.format(name=quote(title))]
    for name, (supply, form) in supplies.items():
        out.append(f"  {quote(name)} [label={quote(_supply_text(library, supply, form, None))}];\n")
    for sid, step in steps.items():
        shown = _numbers(uses[sid], numbers)
        out.append(f"  {quote(sid)} [label={_card(library, step, shown, full=False)}];\n")
    out.append(f"  target [label={_target_label(target, [target.name])}];\n")
    for (tail, head, label), found_in in edges.items():
        shown = _numbers(found_in, numbers)
        text = f"{label}\n{shown}" if label else shown
        head_style = ", arrowhead=none" if tail.startswith("shelf/") else ""
        width = round(0.7 + 0.5 * (len(set(found_in)) - 1), 2)
        out.append(
            f"  {quote(tail)} -> {quote(head)} [label={quote(text)}, "
            f"penwidth={width}{head_style}];\n"
        )
    out.append("}\n")
    return "".join(out)


def _numbers(found: Sequence[int], every: Sequence[int]) -> str:
    """Route numbers: "1 2 5", or "all"."""
    unique = sorted(set(found))
    if len(every) > 1 and unique == sorted(set(every)):
        return "all"
    return " ".join(map(str, unique))


def _engine() -> Path | str:
    """The dot command: a Graphviz on the PATH, else the pip-installed engine."""
    own = shutil.which("dot")
    if own:
        return own
    beside = Path(sys.executable).parent
    for folder in (None, str(beside)):
        found = shutil.which("graphviz-pure", path=folder)
        if found:
            return found
    raise OutOfReach(
        "no Graphviz engine was found; run `pip install graphviz-pure`, or write .dot instead"
    )


def render(dot: str, form: str) -> bytes:
    """Draw DOT source as svg or png; raises OutOfReach when there is no engine."""
    import graphviz
    from graphviz.backend import dot_command

    dot_command.DOT_BINARY = Path(_engine())
    if form == "png":  # sharp enough for A4
        dot = dot.replace("graph [", "graph [dpi=160, ", 1)
    try:
        data: bytes = graphviz.Source(dot).pipe(format=form, quiet=True)
    except Exception as error:
        raise OutOfReach(f"the diagram could not be drawn ({error})") from None
    return data


def write(dot: str, path: Path) -> Path:
    """Write a diagram; the file's ending chooses the form."""
    form = path.suffix.lower().lstrip(".")
    if form not in FORMATS:
        raise InputError(f"{path.name!r} must end in .svg, .png or .dot")
    data = dot.encode() if form == "dot" else render(dot, form)
    temporary = path.with_name(f".{path.name}.part")
    try:
        temporary.write_bytes(data)
        temporary.replace(path)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise InputError(f"{path} cannot be written ({error.strerror})") from None
    return path
