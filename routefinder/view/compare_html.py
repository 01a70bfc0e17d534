"""A comparison as one HTML page that stands by itself: table, sections, drawings."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import OutOfReach
from routefinder.view import compare_words

if TYPE_CHECKING:
    from routefinder.results.comparison import Comparison

SAID = f"<p><em>{escape(DISCLAIMER)}</em></p>"
STYLE = """
body { font-family: Helvetica, Arial, sans-serif; max-width: 70em; margin: 1.5em auto;
       padding: 0 1em; color: black; background: white; line-height: 1.4; }
table { border-collapse: collapse; }
th, td { padding: 0.25em 0.8em; border-bottom: 1px solid #bbb; text-align: right; }
th:first-child, td:first-child { text-align: left; }
td.best { font-weight: bold; }
td.worst { color: #555; }
.wide { overflow-x: auto; }
figure { margin: 1em 0; }
svg { max-width: 100%; height: auto; }
h2 { font-size: 1.1em; margin-bottom: 0.3em; }
@media print { body { margin: 0; } figure { break-inside: avoid; } }
"""


def fragment(found: Comparison) -> str:
    """Table and sections, without drawings (for a notebook)."""
    marks = {compare_words.BEST: "best", compare_words.WORST: "worst", "": ""}
    out = ["<ol>"]
    out += [f'<li value="{r.number}">{escape(r.name)}</li>' for r in found.routes]
    out.append('</ol><div class="wide"><table><thead><tr><th></th>')
    out += [f'<th scope="col">route {r.number}</th>' for r in found.routes]
    out.append("</tr></thead><tbody>")
    for name, cells in compare_words.table(found):
        out.append(f'<tr><th scope="row">{escape(name)}</th>')
        for c in cells:
            text = escape(c.text).replace("\n", "<br>")
            out.append(f'<td class="{marks[c.mark]}">{text} {c.mark}</td>')
        out.append("</tr>")
    out.append("</tbody></table></div>")
    if len(found.routes) > 1:
        out.append(f"<p>{compare_words.BEST} best, {compare_words.WORST} worst of these routes</p>")
    for section in compare_words.sections(found):
        lines = "".join(f"<li>{escape(line)}</li>" for line in section.lines)
        out.append(f"<h2>{escape(section.heading)}</h2><ul>{lines}</ul>")
    return "".join(out)


def page(found: Comparison) -> str:
    """The whole page; drawings that cannot be made here are said to be missing."""
    target = found.answer.target
    title = f"Routes to {digits.mass(found.answer.question.amount_g)} of {target.name}"
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style></head><body>"
        f"<h1>{escape(title)}</h1>{fragment(found)}{_drawings(found)}"
        f"{SAID}</body></html>\n"
    )


def _drawings(found: Comparison) -> str:
    from routefinder.view import choice_plots
    from routefinder.view.picture import pictures

    routes = [(r.number, r.assessment) for r in found.routes]
    answer = found.answer
    out = [
        _figure("The routes, a lane each" if not n else "", sheet.svg(f"lanes-{n}-"))
        for n, sheet in enumerate(pictures.overview(answer.library, answer.target, routes))
    ]
    try:
        drawn = [
            choice_plots.masses(routes), choice_plots.waterfall(routes), choice_plots.bars(routes)
        ]  # fmt: skip
        if len(found.routes) > 1:
            drawn.insert(0, choice_plots.tradeoff(found, "cost", "yield"))
        out += [_figure(p.title, p.svg(foot=False)) for p in drawn]
    except OutOfReach as error:
        out.append(f"<p>No pictures: {escape(str(error))}</p>")
    return "".join(out)


def _figure(title: str, svg: str) -> str:
    """An SVG without its XML head, with a caption."""
    head = f"<figcaption>{escape(title)}</figcaption>" if title else ""
    return f"<figure>{head}{svg[svg.index('<svg') :]}</figure>"
