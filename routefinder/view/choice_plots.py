"""Pictures of measures, by matplotlib (the extra ``plots``).

They read in black and white: routes and kinds differ by number, marker and hatching, and the greys
differ in lightness; no meaning hangs on colour. Drawn on a figure of their own, without pyplot, so
that nothing global is touched.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder import digits, files
from routefinder.assessment.assess import Assessment
from routefinder.assessment.measure import MEASURES
from routefinder.choice import measures as named
from routefinder.choice.dominance import dominated
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError, OutOfReach

if TYPE_CHECKING:
    from routefinder.results.comparison import Comparison

Rows = Sequence[tuple[int, Assessment]]
MARKERS = "os^Xv<>Ph*"  # no diamond: that shape is the GHS pictograms'
# light enough for black hatching, and apart from one another in lightness
FILLS = (
    ("#1b3a57", ""), ("#7aa6c2", "//"), ("#f0c27b", ".."), ("#d9d9d9", "xx"), ("#ffffff", "\\\\"),
    ("#a3a3a3", "++"), ("#5f7f3f", "oo"), ("#ececec", "--"),
)  # fmt: skip
PANEL_WIDTH, PANEL_HEIGHT = 7.0, 2.6  # inches
STYLE: Any = {"font.family": "sans-serif", "font.size": 10, "axes.spines.top": False,
         "axes.spines.right": False, "svg.fonttype": "none", "svg.hashsalt": "routefinder",
         "hatch.linewidth": 0.6}  # fmt: skip


@dataclass(frozen=True)
class Picture:
    """A drawn figure with its title; ``alt`` says in a sentence what it shows."""

    title: str
    alt: str
    figure: Any

    def data(self, form: str, foot: bool = True) -> bytes:
        """The picture as "svg" or "png", the disclaimer under it.

        Without ``foot`` for a page that says it itself.
        """
        import matplotlib

        out = io.BytesIO()
        about = {"Title": self.title, "Description": f"{self.alt} {DISCLAIMER}"}
        under = self.figure.text(
            0.01, -0.01, "\n".join(textwrap.wrap(DISCLAIMER, 90)) if foot else "",
            ha="left", va="top", fontsize=8,
        )  # fmt: skip
        try:
            with matplotlib.rc_context(STYLE):
                if form == "svg":
                    self.figure.savefig(
                        out, format="svg", bbox_inches="tight", metadata={"Date": None, **about}
                    )
                else:
                    self.figure.savefig(
                        out, format="png", dpi=160, bbox_inches="tight", metadata=about
                    )
        finally:
            under.remove()
        return out.getvalue()

    def svg(self, foot: bool = True) -> str:
        """The picture as SVG text; ``foot`` as in ``data``."""
        return self.data("svg", foot).decode()

    def write(self, path: str | Path, force: bool = False) -> Path:
        """Write to ``path`` (.svg or .png).

        Raises InputError for another ending, no access, or a file that is there (unless ``force``).
        """
        path = Path(path)
        form = path.suffix.lower().lstrip(".")
        if form not in {"svg", "png"}:
            raise InputError(f"{path.name!r} must end in .svg or .png")
        files.check(path, force)
        put = files.write_page if form == "svg" else files.write
        return put(path, self.data(form), force=force)

    def _repr_svg_(self) -> str:
        return self.svg()


def _figure(panels: int, height: float = PANEL_HEIGHT, width: float = PANEL_WIDTH) -> Any:
    """A figure with its panels under one another; raises OutOfReach without matplotlib."""
    try:
        import matplotlib
        from matplotlib.figure import Figure
    except ImportError:
        raise OutOfReach(
            "pictures need matplotlib; run `pip install 'routefinder[plots]'`"
        ) from None
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(width, height * panels), layout="constrained")
        axes = [figure.add_subplot(panels, 1, i + 1) for i in range(panels)]
    return figure, axes


def _done(title: str, alt: str, figure: Any) -> Picture:
    """The picture with its layout settled, so that every file of it is the same."""
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure.draw_without_rendering()
    figure.set_layout_engine("none")
    return Picture(title, alt, figure)


def _wrap(text: str, width: int = 34, lines: int = 2) -> str:
    rows = textwrap.wrap(text, width)
    if len(rows) > lines:
        rows = rows[:lines]
        rows[-1] += " …"
    return "\n".join(rows)


def _axis(key: str, unit: str) -> str:
    better = f"{MEASURES[key].better} is better"
    return f"{named.title(key)}, {unit} ({better})"


def tradeoff(found: Comparison, x: str, y: str) -> Picture:
    """Two measures of the routes with their intervals; the non-dominated in these two are joined.

    Intervals of the yield are low to high; of money and times the middle 80 % of draws as in
    ``choice.robust`` (its assumed spread of prices and times).

    Raises InputError for twice the same measure.
    """
    if x == y:
        raise InputError("a trade-off needs two different measures")
    figure, (ax,) = _figure(1, 4.8)
    routes = [r.assessment for r in found.routes]
    verdicts = dominated(routes, (x, y))
    rows = [r.measures() for r in routes]
    points = [(row[x].typical or 0.0, row[y].typical or 0.0) for row in rows]
    spreads = _spreads(found, (x, y))
    for i, route in enumerate(found.routes):
        px, py = points[i]
        low_x, high_x = spreads[i][0]
        low_y, high_y = spreads[i][1]
        free = verdicts[i] is None
        ax.errorbar(
            [px], [py],
            xerr=[[max(0.0, px - low_x)], [max(0.0, high_x - px)]],
            yerr=[[max(0.0, py - low_y)], [max(0.0, high_y - py)]],
            fmt=MARKERS[i % len(MARKERS)], color="black", ecolor="#8c8c8c", elinewidth=1,
            capsize=3, markersize=9, markerfacecolor="black" if free else "white", zorder=3,
        )  # fmt: skip
        ax.annotate(
            str(route.number), (px, py), xytext=(9, 7), textcoords="offset points",
            fontsize=12, fontweight="bold", zorder=4,
            bbox={"boxstyle": "round,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.8},
        )  # fmt: skip
    joined = sorted(points[i] for i, v in enumerate(verdicts) if v is None)
    if len(joined) > 1:
        ax.plot(*zip(*joined, strict=True), color="black", linewidth=1.2, linestyle="--", zorder=2)
    ax.set_xlabel(_axis(x, rows[0][x].unit))
    ax.set_ylabel(_axis(y, rows[0][y].unit))
    ax.margins(0.12)
    target = found.answer.target.name
    title = f"{named.title(y).capitalize()} against {named.title(x)}, {target}"
    ax.set_title(_wrap(title, 70), loc="left", fontsize=11)
    figure.supxlabel(
        "Filled: no other is better in one of these two without being worse in the other "
        "(joined). Open: dominated.\nBars: yield low to high; money and times 8 of 10 draws.",
        fontsize=8, x=0.01, ha="left",
    )  # fmt: skip
    free_ones = ", ".join(
        str(r.number) for r, v in zip(found.routes, verdicts, strict=True) if v is None
    )
    return _done(title, f"{title}. Not dominated in these two: route {free_ones}.", figure)


def _spreads(found: Comparison, keys: tuple[str, str]) -> list[list[tuple[float, float]]]:
    """Per route and key, the two ends of the interval."""
    import numpy as np

    from routefinder.choice import robust
    from routefinder.choice.model import RouteModel

    r = found.robust
    price, time = (
        (r.price_factor, r.time_factor) if r else (robust.PRICE_FACTOR, robust.TIME_FACTOR)
    )
    out = []
    for route in found.routes:
        values = robust.drawn(
            RouteModel(found.answer.library, route.assessment), robust.DRAWS, robust.SEED, price,
            time,
        )  # fmt: skip
        row = []
        for key in keys:
            m = route.assessment.measures()[key]
            if m.low is not None and m.high is not None:
                row.append((m.low, m.high))
                continue
            low, high = np.quantile(values[key], (0.1, 0.9))
            row.append((float(low), float(high)))
        out.append(row)
    return out


def _chain(found: Assessment) -> list[Any]:
    """The steps along the limiting chain, in order."""
    at = {a.step.id: a for a in found.amounts.steps}
    chain = []
    step: str | None = found.amounts.last
    while step is not None:
        amount = at[step]
        chain.append(amount.step)
        step = next(
            (
                f.origin
                for f in amount.feeds
                if f.role == "reactant"
                and f.substance == amount.step.limiting.substance
                and isinstance(f.origin, str)
            ),
            None,
        )
    return chain[::-1]


def waterfall(rows: Rows) -> Picture:
    """Yield step by step along the chain from the limiting starting material, a panel a route.

    A bar is what is lost in a step; the whisker at its foot is low to high of that step's yield.
    """
    figure, panels = _figure(len(rows), 2.9)
    for ax, (number, found) in zip(panels, rows, strict=True):
        chain = _chain(found)
        left = 100.0
        start = found.limiting_yield
        labels = [_wrap(start.supply.name if start else "start", 20, 3)]
        ax.bar(0, 100, color="#d9d9d9", edgecolor="black", width=0.6)
        ax.annotate("100 %", (0, 100), ha="center", va="bottom", xytext=(0, 2),
                    textcoords="offset points", fontsize=9)  # fmt: skip
        for i, step in enumerate(chain, start=1):
            y = step.record.yield_
            after = left * y.typical
            ax.plot([i - 0.7, i + 0.3], [left, left], color="black", linewidth=0.7)
            ax.bar(i, left - after, bottom=after, color="white", edgecolor="black", hatch="//",
                   width=0.6)  # fmt: skip
            ax.errorbar(
                [i], [after], yerr=[[left * (y.typical - y.low)], [left * (y.high - y.typical)]],
                color="black", capsize=3, linewidth=1,
            )  # fmt: skip
            ax.annotate(
                f"× {digits.percent(y.typical)}", (i, left), ha="center", va="bottom",
                xytext=(0, 2), textcoords="offset points", fontsize=9,
            )  # fmt: skip
            labels.append(_wrap(step.title, 20, 3))
            left = after
        n = len(chain) + 1
        ax.plot([n - 0.7, n + 0.3], [left, left], color="black", linewidth=0.7)
        overall = found.chain_yield * 100
        ax.bar(n, overall, color="#5a5a5a", edgecolor="black", width=0.6)
        ax.annotate(digits.percent(overall / 100), (n, overall), ha="center", va="bottom",
                    xytext=(0, 2), textcoords="offset points", fontsize=9,
                    fontweight="bold")  # fmt: skip
        # where the material comes in by several branches, the chain alone is not the overall yield
        alone = abs(overall - left) < 0.05
        labels.append("overall" if alone else "overall, all its branches")
        ax.set_xticks(range(n + 1), labels, fontsize=8)
        ax.set_xlim(-0.6, max(n, 4) + 0.6)
        ax.set_ylim(0, 116)
        ax.set_ylabel("% of the start")
        ax.set_title(f"Route {number}", loc="left", fontsize=11, fontweight="bold")
    title = "Yield step by step, on the limiting starting material"
    numbers = ", ".join(
        f"route {n} {digits.percent(found.chain_yield)}" for n, found in rows
    )  # fmt: skip
    return _done(title, f"{title}: {numbers}.", figure)


def bars(rows: Rows) -> Picture:
    """Money for materials (left) and time (right) by step, a panel a route."""
    figure, _ = _figure(1, 0.1)
    figure.clear()
    heights = [max(1.6, 0.55 * len(found.steps) + 0.9) for _, found in rows]
    figure.set_size_inches(PANEL_WIDTH + 2, sum(heights))
    grid = figure.add_gridspec(len(rows), 2, height_ratios=heights)
    longest = (
        max((max(_paid(f)) for _, f in rows), default=1.0),
        max(sum(pair) for _, f in rows for pair in zip(*_hours(f), strict=True)),
    )  # one scale for all routes
    for k, (number, found) in enumerate(rows):
        money, hours = figure.add_subplot(grid[k, 0]), figure.add_subplot(grid[k, 1])
        steps = found.amounts.steps
        names = [f"{i}. {_wrap(a.step.title, 30)}" for i, a in enumerate(steps, start=1)]
        places = list(range(len(steps)))[::-1]
        paid = _paid(found)
        money.barh(places, paid, color="#7aa6c2", edgecolor="black", height=0.6)
        money.set_yticks(places, names, fontsize=8)
        money.set_xlabel(f"materials, {found.cost.unit}" + " at least" * found.cost.at_least)
        hands, waits = _hours(found)
        hours.barh(places, hands, color="#1b3a57", edgecolor="black", height=0.6, label="work")
        hours.barh(
            places, waits, left=hands, color="white", edgecolor="black", hatch="//", height=0.6,
            label="waiting",
        )  # fmt: skip
        hours.set_yticks(places, [str(i) for i in range(1, len(steps) + 1)], fontsize=8)
        hours.set_xlabel("hours")
        for ax, values in (
            (money, paid),
            (hours, [a + b for a, b in zip(hands, waits, strict=True)]),
        ):
            for place, v in zip(places, values, strict=True):
                text = digits.significant(v, 2) if v else "0"
                ax.annotate(text, (v, place), xytext=(3, 0), textcoords="offset points",
                            va="center", fontsize=8)  # fmt: skip
            ax.set_xlim(0, 1.15 * longest[ax is hours] or 1.0)
            for side in ("top", "right"):
                ax.spines[side].set_visible(False)
        money.set_title(f"Route {number}", loc="left", fontsize=11, fontweight="bold")
        if k == 0:
            hours.legend(
                fontsize=8, frameon=False, loc="lower right", bbox_to_anchor=(1, 1), ncols=2
            )
    title = "Money for materials and time, by step"
    totals = ", ".join(
        f"route {n} {digits.money(f.cost.typical or 0.0, f.cost.unit)}, "
        f"{digits.duration(f.elapsed_min)}"
        for n, f in rows
    )
    return _done(title, f"{title}: {totals}.", figure)


def _hours(found: Assessment) -> tuple[list[float], list[float]]:
    """Hours of work and of waiting of each step, with its batches."""
    own = {b.step: (b.hands_on_min, b.waiting_min) for b in found.batched}
    spent = [
        own.get(a.step.id, (a.times.hands_on_min, a.times.waiting_min)) for a in found.amounts.steps
    ]
    return [work / 60 for work, _ in spent], [wait / 60 for _, wait in spent]


def _paid(found: Assessment) -> list[float]:
    """Money for the materials of each step."""
    return [
        sum(
            f.as_weighed_g * (f.origin.price_per_g or 0.0)
            for f in a.feeds
            if not isinstance(f.origin, str)
        )
        for a in found.amounts.steps
    ]


def masses(rows: Rows) -> Picture:
    """Where the mass that goes in ends up, in grams per gram of target, a bar a route.

    Water is told apart; the parts add up to what goes in (mass is conserved at every step).
    """
    figure, (ax,) = _figure(1, max(2.2, 0.75 * len(rows) + 1.7))
    kinds = ("product", "recovered, not used", "lost or unreacted", "gas", "other leavings")
    at = 0.0
    tops = []
    for k, (_, found) in enumerate(rows):
        parts = _ends(found)
        at = 0.0
        for (fill, hatch), kind in zip(FILLS, kinds, strict=False):
            grams = parts[kind] / found.amounts.target_g
            ax.barh(-k, grams, left=at, color=fill, hatch=hatch, edgecolor="black", height=0.55,
                    label=kind if k == 0 else None)  # fmt: skip
            at += grams
        water = parts["water"] / found.amounts.target_g
        tops.append(at)
        ax.annotate(
            f"{digits.significant(at, 2)} g/g, and {digits.significant(water, 2)} g/g water",
            (at, -k), xytext=(4, 0), textcoords="offset points", va="center", fontsize=8,
        )  # fmt: skip
    ax.set_yticks([-k for k in range(len(rows))], [f"route {n}" for n, _ in rows])
    ax.set_xlim(0, max(tops) * 1.45)
    ax.set_xlabel("grams per gram of target, without water")
    ax.legend(fontsize=8, frameon=False, ncols=3, loc="lower left", bbox_to_anchor=(0, 1))
    title = "Where the mass goes"
    said = ", ".join(
        f"route {n} {digits.significant(t, 2)} g/g" for (n, _), t in zip(rows, tops, strict=True)
    )
    return _done(title, f"{title}, per gram of target without water: {said}.", figure)


def _ends(found: Assessment) -> dict[str, float]:
    """Grams by where they end; "water" besides, whatever became of it. Of air only what reacts."""
    names = {
        "lost": "lost or unreacted", "unreacted": "lost or unreacted",
        "surplus": "recovered, not used", "gas": "gas", "steam": "other leavings",
        "along": "other leavings",
        "waste": "other leavings",
    }  # fmt: skip
    kinds = (
        "product",
        "recovered, not used",
        "lost or unreacted",
        "gas",
        "other leavings",
        "water",
    )
    out = dict.fromkeys(kinds, 0.0)
    out["product"] = found.amounts.target_g
    for leaving in found.waste.leavings:
        kind = "water" if leaving.substance == "water" else names[leaving.kind]
        out[kind] += leaving.mass_g
    for amount in found.amounts.steps:
        out["other leavings"] += amount.unnamed_g
        over = 1.0 if amount.step.id == found.amounts.last else amount.over_share
        out["other leavings"] += amount.unnamed_onward_g * over
    return out
