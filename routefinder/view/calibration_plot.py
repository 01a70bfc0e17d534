"""How well past estimates held, as a picture: where each result fell in what was expected of it.

Good estimates leave the bars even; the dashed line is where they would stand. Bars crowded at both
ends: estimates too sure; in the middle: too timid; to one side: too high or too low.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view.plots import _figure, _svg

if TYPE_CHECKING:
    from routefinder.journal.learn import Calibration

BINS = 5


def said(found: Calibration) -> str:
    """The picture in a sentence."""
    if found.share is None:
        return "No result can be held against an estimate yet."
    counts = ", ".join(str(n) for n in found.bins(BINS))
    return (
        f"Of {digits.count(len(found.pit), 'result')}, {digits.percent(found.share)} fell into the "
        f"interval that holds 80 %; from lowest to highest fifth: {counts}."
    )


def page(found: Calibration) -> str:
    """The picture as an SVG; raises OutOfReach without matplotlib."""
    figure, axes, settings = _figure(3.2)
    counts, total = found.bins(BINS), len(found.pit)
    axes.bar([(i + 0.5) / BINS for i in range(BINS)], counts, width=0.9 / BINS, color="#dddddd",
             edgecolor="black", linewidth=0.6)  # fmt: skip
    if total:
        axes.axhline(total / BINS, linestyle="--", color="black", linewidth=0.8)
        axes.plot(found.pit, [-0.04 * max(*counts, 1)] * total, linestyle="", marker="|",
                  color="black", markersize=8, clip_on=False)  # fmt: skip
    axes.set_xlim(0, 1)
    axes.set_ylim(0, max(*counts, 1) * 1.15)
    axes.set_xticks([0, 0.1, 0.5, 0.9, 1], ["below all", "10 %", "half", "90 %", "above all"])
    axes.set_xlabel("where the result fell in what was expected")
    axes.set_ylabel("results")
    axes.set_title(said(found), fontsize=9, loc="left", wrap=True)
    figure.supxlabel(DISCLAIMER, fontsize=6)
    svg = _svg(figure, settings)
    title = said(found).replace("&", "&amp;").replace("<", "&lt;")
    start = svg.index(">") + 1
    return svg[:start] + f"<title>{title}</title>" + svg[start:]
