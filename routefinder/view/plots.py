"""Charts of a plan as small SVGs that read in black and white, by matplotlib.

Each chart has its alt text, which says what it shows. matplotlib is an extra: without it there are
no charts, and the pages say so.
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass
from typing import Any

from routefinder import digits
from routefinder.errors import OutOfReach
from routefinder.worksheet.plan import Plan

HATCHES = {"hands-on": "", "heating": "////", "waiting": "", "cooling": "\\\\\\\\"}
FILLS = {"hands-on": "black", "heating": "#bbbbbb", "waiting": "white", "cooling": "white"}
WORDS = {"hands-on": "by hand", "heating": "heating", "waiting": "waiting", "cooling": "cooling"}


@dataclass(frozen=True)
class Chart:
    """A chart: its name, its SVG, and what it says in words."""

    name: str
    title: str
    svg: str
    alt: str


def charts(plan: Plan) -> tuple[Chart, ...]:
    """All charts of a plan; raises OutOfReach without matplotlib."""
    return (_gantt(plan), _yields(plan), _masses(plan), _costs(plan))


def _figure(height: float) -> tuple[Any, Any, Any]:
    try:
        import matplotlib
    except ImportError:
        raise OutOfReach(
            "charts need matplotlib; install it with: pip install 'routefinder[plots]'"
        ) from None
    matplotlib.use("svg")
    settings: Any = {
        "svg.fonttype": "none", "svg.hashsalt": "routefinder", "font.size": 9,
        "font.family": "sans-serif", "font.sans-serif": ["Helvetica", "Arial", "DejaVu Sans"],
        "axes.spines.top": False, "axes.spines.right": False, "hatch.linewidth": 0.6,
    }  # fmt: skip
    from matplotlib.figure import Figure

    context = matplotlib.rc_context(settings)
    with context:
        figure = Figure(figsize=(7.0, height), layout="constrained")
        axes = figure.add_subplot()
    return figure, axes, settings


def _svg(figure: Any, settings: Any) -> str:
    import logging

    import matplotlib

    logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)  # a font not installed
    out = io.StringIO()
    with matplotlib.rc_context(settings):
        figure.savefig(out, format="svg", metadata={"Date": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    return re.sub(r'(<svg[^>]*?) width="[^"]*pt"', r"\1", re.sub(
        r'(<svg[^>]*?) height="[^"]*pt"', r"\1", text, count=1), count=1)  # fmt: skip


def _gantt(plan: Plan) -> Chart:
    """Every batch a row: by hand, heating, waiting, cooling."""
    timed = plan.timed
    counts = {s.amount.step.id: s for s in plan.steps}
    rows = sorted(timed.spans, key=lambda n: (timed.spans[n][0], counts[n[0]].number, n[1]))
    figure, axes, settings = _figure(0.9 + 0.32 * len(rows))
    for i, (name, batch) in enumerate(rows):
        for t in timed.tasks:
            if (t.step, t.batch) == (name, batch):
                axes.broken_barh(
                    [(t.start_min / 60, (t.end_min - t.start_min) / 60)], (i - 0.32, 0.64),
                    facecolor=FILLS[t.kind], hatch=HATCHES[t.kind], edgecolor="black",
                    linewidth=0.6,
                )  # fmt: skip
    labels = [
        f"step {counts[n].number}" + (f", batch {b}" if counts[n].count > 1 else "")
        for n, b in rows
    ]
    axes.set_yticks(range(len(rows)), labels)
    axes.invert_yaxis()
    axes.set_xlabel("hours from the start" if timed.calendar is None else "")
    if timed.calendar is not None:
        days = range(int(timed.elapsed_min // 1440) + 2)
        every = max(1, math.ceil(len(days) / 6))
        shown = [d for d in days if d % every == 0]
        axes.set_xticks([d * 24 for d in shown],
                        [f"{timed.calendar.when(d * 1440):%a %d %b}" for d in shown])  # fmt: skip
    from matplotlib.patches import Patch

    kinds = [k for k in HATCHES if any(t.kind == k for t in timed.tasks)]
    axes.legend(
        handles=[Patch(facecolor=FILLS[k], hatch=HATCHES[k], edgecolor="black", label=WORDS[k])
                 for k in kinds],
        loc="upper center", bbox_to_anchor=(0.5, -0.18 if len(rows) > 3 else -0.3),
        ncols=len(kinds), frameon=False,
    )  # fmt: skip
    alt = (
        f"Time plan: {digits.count(len(rows), 'batch')} over {digits.duration(timed.elapsed_min)}, "
        f"{digits.duration(timed.hands_on_min)} of it by hand. "
        + "; ".join(
            f"{label} from hour {timed.spans[row][0] / 60:.0f} to {timed.spans[row][1] / 60:.0f}"
            for label, row in zip(labels, rows, strict=True)
        )
    )
    return Chart("time", "Time plan", _svg(figure, settings), alt)


def _yields(plan: Plan) -> Chart:
    """Each step's yield with its range, and all of them together."""
    rows = [
        (f"step {s.number}", s.amount.step.record.yield_.low, s.amount.step.record.yield_.typical,
         s.amount.step.record.yield_.high)
        for s in plan.steps
    ]  # fmt: skip
    if plan.sure.starts:
        whole = plan.sure.starts[0].overall
        rows.append(("whole route", whole.p10, whole.p50, whole.p90))
    figure, axes, settings = _figure(0.7 + 0.3 * len(rows))
    for i, (_, low, typical, high) in enumerate(rows):
        axes.barh(i, typical * 100, height=0.5, color="#dddddd", edgecolor="black", linewidth=0.6)
        axes.errorbar(typical * 100, i, xerr=[[(typical - low) * 100], [(high - typical) * 100]],
                      color="black", capsize=4, linewidth=1.2)  # fmt: skip
    axes.set_yticks(range(len(rows)), [name for name, *_ in rows])
    axes.invert_yaxis()
    axes.set_xlim(0, 105)
    axes.set_xlabel("yield, %")
    alt = "Yields: " + "; ".join(
        f"{name} {digits.percent(typical)} ({digits.percent(low)} to {digits.percent(high)})"
        for name, low, typical, high in rows
    )
    return Chart("yield", "Yield along the route", _svg(figure, settings), alt)


def _bars(name: str, title: str, rows: list[tuple[str, float]], label: str, said: str) -> Chart:
    figure, axes, settings = _figure(0.7 + 0.3 * max(len(rows), 1))
    axes.barh(range(len(rows)), [v for _, v in rows], height=0.55, color="#cccccc",
              edgecolor="black", linewidth=0.6)  # fmt: skip
    axes.set_yticks(range(len(rows)), [_short(n) for n, _ in rows])
    axes.invert_yaxis()
    axes.set_xlabel(label)
    return Chart(name, title, _svg(figure, settings), said)


def _short(name: str) -> str:
    name = name if len(name) <= 34 else name[:33] + "…"
    return name.replace("$", r"\$")  # a dollar sign begins a formula for matplotlib


def _masses(plan: Plan) -> Chart:
    """Where the mass goes, water left out."""
    sums: dict[str, float] = {}
    for x in plan.left.leavings:
        if x.substance != "water":
            mark = " (gas)" if x.state == "g" else " (lost)" if x.kind == "lost" else ""
            key = plan.library.name(x.substance) + mark
            sums[key] = sums.get(key, 0.0) + x.mass_g
    rows = [(f"product: {plan.library.name(plan.amounts.target)}", plan.planned_g)]
    rest = sorted(sums.items(), key=lambda r: -r[1])
    rows += rest[:7]
    if rest[7:]:
        rows.append(("all else", sum(v for _, v in rest[7:])))
    said = "Where the mass goes, without water: " + "; ".join(
        f"{name} {digits.mass(v)}" for name, v in rows
    )
    return _bars("mass", "Where the mass goes (without water)", rows, "g", said)


def _costs(plan: Plan) -> Chart:
    """Money by material and for energy."""
    spent = plan.spent
    rows = [(p.name, p.money) for p in spent.parts if p.money is not None]
    if spent.energy is not None:
        rows.append(("energy", spent.energy))
    said = "Money: " + "; ".join(f"{n} {digits.money(v, spent.currency)}" for n, v in rows)
    return _bars("cost", "What it costs", rows, spent.currency, said)
