"""What all diagrams are made of, and how they become files; the only door to graphviz.

Drawn for a bench printout. A step is a card with its number, title, conditions, a bar filled to its
typical yield with a bracket from low to high, equipment, the worst danger in words with its
squares, and GHS statements; materials are plain text; the target has a double rule under it.
Colour carries nothing alone.
"""

from __future__ import annotations

import math
import re
import shutil
import sys
import textwrap
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from routefinder import digits, files
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError, OutOfReach
from routefinder.hazards import vessels
from routefinder.hazards.danger import Danger
from routefinder.hazards.label import step_label
from routefinder.hazards.score import unknown_in
from routefinder.hidden import visible
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Substance
from routefinder.vessel.durations import StepTimes, usual_times
from routefinder.view import danger_words, heat_words
from routefinder.view.words import poured_or_weighed

FORMATS = ("svg", "png", "dot")
FOOT_WIDTH = 70  # characters of a line under a drawing: narrower than the narrowest of them
GREY = "#666666"
_UNIT = re.compile(r"(?<=\d) (?=%|°C|mm|m[gL]|[gLVA]\b)")
_HEAD = """digraph {name} {{
  graph [rankdir=LR, nodesep=0.18, ranksep=0.32, pad=0.1, bgcolor=white, fontname="Helvetica",
         forcelabels=true, outputorder=edgesfirst{foot}];
  node [shape=plain, fontname="Helvetica", fontsize=11, margin="0.05,0.03"];
  edge [fontname="Helvetica", fontsize=10, arrowsize=0.7, color=black];
"""


def heading(name: str, foot: bool = True, width: int = FOOT_WIDTH) -> str:
    """The first lines of a drawing: its alt text, and the disclaimer under it.

    Without ``foot`` for a page that says it itself; its lines have up to ``width`` characters.
    """
    lines = "\n".join(textwrap.wrap(DISCLAIMER, width))
    under = f", label={quote(lines)}, labelloc=b, labeljust=l, fontsize=10" if foot else ""
    return _HEAD.format(name=quote(name), foot=under)


def quote(text: str) -> str:
    """A DOT string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def wrap(text: str, width: int, room: str = "") -> list[str]:
    """Lines of about ``width`` characters, one at least; words and "3 %" stay whole.

    The first is shorter by ``room``.
    """
    whole = _UNIT.sub("\u00a0", text)
    lines = textwrap.wrap(whole, width, break_long_words=False, initial_indent=room) or [text]
    return [lines[0].removeprefix(room), *lines[1:]]


def _lines(text: str, width: int, room: str = "") -> str:
    return '<BR ALIGN="LEFT"/>'.join(escape(line) for line in wrap(text, width, room))


def pen(grams: float) -> float:
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


def conditions(step: ResolvedStep, times: StepTimes) -> str:
    """One line: temperature, work and waiting."""
    window = step.record.temperature
    where = digits.window(window.low_C, window.high_C).replace(" to ", "–")
    total = digits.duration(times.hands_on_min)
    if times.waiting_min:
        total += f" + {digits.duration(times.waiting_min)} wait"
    return f"{where} · {total}"


def _equipment_words(step: ResolvedStep) -> str:
    short = {
        "heat-liquid": "heat", "heat-dry": "furnace or oven",
        "evaporate": "evaporate" if heat_words.gently(step) else "boil down",
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
        bears = [m for m in vessel.made_of if vessels.on_plate(step, vessel, m)]
        words.append(
            "vessel: " + " or ".join(bears[:3] or [f"{vessel.made_of[0]} in a water bath"])
        )
    return ", ".join(words)


def _row(content: str, points: int = 9) -> str:
    """A row of a card, in small letters unless said otherwise."""
    font = f'<FONT POINT-SIZE="{points}">{content}</FONT>'
    return f'<TR><TD ALIGN="LEFT" BALIGN="LEFT">{font}</TD></TR>'


def _framed(rows: Sequence[str], dashed: bool) -> str:
    return (
        '<<TABLE BORDER="1" CELLBORDER="0" CELLSPACING="0" CELLPADDING="3" '
        f'STYLE="{"DASHED" if dashed else "ROUNDED"}">{"".join(rows)}</TABLE>>'
    )


def _title(number: str, title: str, width: int) -> str:
    room = " " * (len(number) + 1)  # the number takes its place in the first line
    return _row(f"<B>{escape(number)}</B>  {_lines(title, width, room)}", 11)


def _danger_rows(found: Danger | None, width: int) -> list[str]:
    """The worst danger in words, and its points as squares and in words."""
    if found is None:
        return []
    level = danger_words.level(found.points)
    text = f'<B>{_lines(found.words, width)}</B><BR ALIGN="LEFT"/>{level} ({found.aspect})'
    return [_row(text)]


def _lacking(words: Sequence[str], width: int) -> list[str]:
    """A hatched band, and under it what the bench lacks."""
    if not words:
        return []
    hatch = _strip([(0.04, colour) for _ in range(14) for colour in ("black", None)], 6)
    said = [_row("<B>missing:</B> " + _lines(word, width)) for word in words]
    return [f'<TR><TD ALIGN="LEFT">{hatch}</TD></TR>', *said]


def card(
    library: Library,
    step: ResolvedStep,
    number: str,
    missing: Sequence[str] = (),
    strengths: Mapping[str, float] | None = None,
    charged: Sequence[Supply] = (),
    danger: Danger | None = None,
    inside: Mapping[str, float] | None = None,
    times: StepTimes | None = None,
) -> str:
    """The card of a step as an HTML-like label; ``danger`` is the worst of it.

    ``times`` are those of its amounts, without which it takes its usual ones.
    """
    rows = [
        _title(number, step.title, 28),
        _row(escape(conditions(step, times or usual_times(library, step)))),
        f'<TR><TD ALIGN="LEFT">{_bar(step)}</TD></TR>',
    ]
    words = _equipment_words(step)
    if words:
        rows.append(_row(_lines(words, 36)))
    rows += _danger_rows(danger, 36)
    words = _hazard_words(library, step, strengths, charged, inside)
    if words:
        rows.append(_row(_lines(words, 36)))
    return _framed([*rows, *_lacking(missing, 34)], bool(missing))


def _hazard_words(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None,
    charged: Sequence[Supply],
    inside: Mapping[str, float] | None,
) -> str:
    """GHS codes of all that is present, those added for caution apart, what has no data."""
    label = step_label(library, step, strengths, charged, inside)
    words = [" ".join(label.statements)] if label.statements else []
    if label.for_caution:
        words.append(f"for caution {' '.join(label.for_caution)}")
    unknown = unknown_in(library, step)
    if unknown:
        words.append(f"no hazard data: {', '.join(unknown)}")
    return "; ".join(words)


def small_card(
    library: Library,
    step: ResolvedStep,
    number: str,
    missing: Sequence[str] = (),
    danger: Danger | None = None,
) -> str:
    """The card of a step in an overview."""
    rows = [
        _title(number, step.title, 24),
        _row(escape(conditions(step, usual_times(library, step))), 10),
    ]
    if danger is not None:
        level = danger_words.level(danger.points)
        rows.append(_row(f'{_lines(danger.words, 26)}<BR ALIGN="LEFT"/>{level}', 10))
    return _framed([*rows, *_lacking(missing, 30)], bool(missing))


def supply_text(library: Library, supply: Supply, substance: str, grams: float | None) -> str:
    """A material as it stands on its line: trade name, formula, amount."""
    label = library.substances[substance].label
    lines = [*wrap(supply.name, 20)]
    if label != supply.name:
        lines.append(label)
    if grams is not None:
        lines.append(poured_or_weighed(supply, grams))
    return "\n".join(lines)


def target_label(substance: Substance, amount: str = "") -> str:
    """The target with its double rule."""
    lines = [*wrap(substance.name, 24), *([amount] if amount else [])]
    rows = "".join(f"<TR><TD>{escape(line)}</TD></TR>" for line in lines)
    rule = '<TR><TD BORDER="1" SIDES="B" HEIGHT="3" FIXEDSIZE="FALSE"></TD></TR>'
    return (
        '<<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="0" CELLPADDING="2">'
        f"<TR><TD><B>{escape(substance.label)}</B></TD></TR>{rows}{rule}{rule}</TABLE>>"
    )


def _engine() -> Path | str:
    """The engine that was installed with the package, else a Graphviz on the PATH.

    In that order: a system's own Graphviz may stop at drawings that this one draws (2.43 does).
    """
    beside = Path(sys.executable).parent
    for name, folder in (("graphviz-pure", str(beside)), ("graphviz-pure", None), ("dot", None)):
        found = shutil.which(name, path=folder)
        if found:
            return found
    raise OutOfReach(
        "no Graphviz engine was found; run `pip install graphviz-pure`, or write .dot instead"
    )


def render(dot: str, form: str, placed: bool = False) -> bytes:
    """Draw DOT source as svg or png; ``placed``: everything has its place already.

    Raises OutOfReach when there is no engine.
    """
    import graphviz
    from graphviz.backend import dot_command

    dot_command.DOT_BINARY = Path(_engine())
    dot = visible(dot)
    if form == "png":  # sharp enough for A4
        dot = dot.replace("graph [", "graph [dpi=160, ", 1)
    source = graphviz.Source(dot, engine="neato" if placed else "dot")
    try:
        data: bytes = source.pipe(format=form, neato_no_op=2 if placed else None, quiet=True)
    except Exception as error:
        raise OutOfReach(f"the diagram could not be drawn ({error})") from None
    return data


def write(dot: str, path: Path, force: bool = False) -> Path:
    """Write a diagram; the file's ending chooses the form.

    Raises InputError for another ending, a place that cannot be written or a file that is there
    (unless ``force``), OutOfReach when nothing draws it.
    """
    form = path.suffix.lower().lstrip(".")
    if form not in FORMATS:
        raise InputError(f"{path.name!r} must end in .svg, .png or .dot")
    files.check(path, force)
    if form == "dot":
        return files.write_page(path, dot, force=force)
    return files.write(path, render(dot, form), force=force)
