"""The write-up of a run as an HTML page or Markdown. Worked out in ``journal.report``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from routefinder.disclaimer import DISCLAIMER
from routefinder.hidden import visible

if TYPE_CHECKING:
    from routefinder.journal.report import Report

_HTML = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ r.title }}</title><style>
body { font: 11pt/1.4 serif; max-width: 48em; margin: 2em auto; padding: 0 1em; }
table { border-collapse: collapse; width: 100%; margin: .5em 0; }
th, td { text-align: left; border-bottom: 1px solid #999; padding: .15em .5em; }
td + td, th + th { text-align: right; } img { max-width: 100%; }
</style></head><body>
<h1>{{ r.title }}</h1>
{% for line in r.head %}<p>{{ line }}</p>
{% endfor %}<table><tr><th></th><th>planned</th><th>actual</th></tr>
{% for a, b, c in r.totals %}<tr><td>{{ a }}</td><td>{{ b }}</td><td>{{ c }}</td></tr>
{% endfor %}</table>
{% for s in r.steps %}<h2>{{ s.number }}. {{ s.title }}</h2>
<table><tr><th></th><th>planned</th><th>actual</th></tr>
{% for a, b, c in s.rows %}<tr><td>{{ a }}</td><td>{{ b }}</td><td>{{ c }}</td></tr>
{% endfor %}<tr><td>yield</td><td>{{ s.yield }}</td><td>{{ s.actual }}</td></tr>
<tr><td>time</td><td>{{ s.time }}</td><td>{{ s.spent }}</td></tr></table>
{% if s.temperatures %}<p>Temperatures: {{ s.temperatures }}</p>
{% endif %}{% if s.tests %}<p>Tests:</p><ul>
{% for t in s.tests %}<li>{{ t }}</li>
{% endfor %}</ul>
{% endif %}{% for n in s.notes %}<p>{{ n }}</p>
{% endfor %}{% for p, there in s.photos %}{{ picture(p, there) }}
{% endfor %}{% endfor %}{% for n in r.notes %}<p>{{ n }}</p>
{% endfor %}{% for p, there in r.photos %}{{ picture(p, there) }}
{% endfor %}<h2>Entries</h2><ol style="list-style: none">
{% for e in r.entries %}<li>{{ e }}</li>
{% endfor %}</ol><p><em>{{ disclaimer }}</em></p></body></html>
"""


def to_html(found: Report) -> str:
    """The report as one HTML page; everything from the journal is escaped."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    def picture(path: str, there: bool) -> Markup:
        if not there:
            return Markup("<p>Photo {} is not there any more, or is no picture.</p>").format(
                visible(path)
            )
        return Markup('<p><img src="{}" alt="photo {}"></p>').format(
            Path(path).resolve().as_uri(), Path(path).name
        )

    page = Environment(autoescape=True, undefined=StrictUndefined).from_string(_HTML)
    return visible(page.render(r=found, picture=picture, disclaimer=DISCLAIMER))


def _plain(text: str) -> str:
    """Text that Markdown shows as it stands."""
    out = visible(" ".join(text.split()))
    for sign in "\\`*_[]<>|#":
        out = out.replace(sign, f"\\{sign}")
    return out


def to_markdown(found: Report) -> str:
    """The report as Markdown."""
    lines = [f"# {_plain(found.title)}", ""]
    for words in found.head:
        lines += [_plain(words), ""]
    lines += _table(found.totals)
    for s in found.steps:
        lines += [f"## {s['number']}. {_plain(s['title'])}", ""]
        lines += _table([*s["rows"], ("yield", s["yield"], s["actual"]),
                         ("time", s["time"], s["spent"])])  # fmt: skip
        if s["temperatures"]:
            lines += [f"Temperatures: {_plain(s['temperatures'])}", ""]
        if s["tests"]:
            lines += ["Tests:", "", *(f"- {_plain(t)}" for t in s["tests"]), ""]
        for words in s["notes"]:
            lines += [_plain(words), ""]
        lines += _pictures(s["photos"])
    for words in found.notes:
        lines += [_plain(words), ""]
    lines += _pictures(found.photos)
    lines += [
        "## Entries",
        "",
        *(f"- {_plain(e)}" for e in found.entries),
        "",
        f"*{DISCLAIMER}*",
        "",
    ]
    return "\n".join(lines)


def _table(rows: Any) -> list[str]:
    out = ["| | planned | actual |", "|---|---:|---:|"]
    out += [f"| {_plain(a)} | {_plain(b)} | {_plain(c)} |" for a, b, c in rows]
    return [*out, ""]


def _pictures(photos: Any) -> list[str]:
    out = []
    for path, there in photos:
        out += [
            f"![photo](<{quote(path)}>)"
            if there
            else f"Photo {_plain(path)} is not there any more, or is no picture.",
            "",
        ]
    return out
