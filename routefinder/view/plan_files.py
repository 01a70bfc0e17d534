"""A plan as a file (page, Markdown, CSV, JSON or PDF), written whole or not at all."""

from __future__ import annotations

import csv
import io
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from routefinder import digits, files, tables
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import InputError, OutOfReach
from routefinder.hidden import visible
from routefinder.view import bench_words, danger_words, dossier, plan_json, plan_tables, plan_words
from routefinder.view.doubt_words import doubts
from routefinder.view.plan_tables import PlanTable
from routefinder.view.words import under_never
from routefinder.worksheet.bench_work import bench_work
from routefinder.worksheet.plan import Plan
from routefinder.worksheet.safety import Safety

if TYPE_CHECKING:
    from routefinder.results.answer import Answer

ENDINGS = (".html", ".md", ".csv", ".json", ".pdf")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
PRINT_SECONDS = 120


def write(plan: Plan, answer: Answer, path: Path, force: bool = False) -> Path:
    """Write a plan to ``path``; the ending says as what.

    Raises InputError for another ending, a folder that is not there, or a file that is (unless
    ``force``); OutOfReach when a PDF is wanted and no browser prints it.
    """
    check(path, force)
    kinds: dict[str, Callable[[Plan, Answer], bytes]] = {
        ".html": lambda p, a: dossier.html(p, a).encode(),
        ".md": lambda p, a: markdown(p).encode(),
        ".csv": lambda p, a: table(p).encode(),
        ".json": _json,
        ".pdf": pdf,
    }
    put = files.write if path.suffix.lower() == ".pdf" else files.write_page
    return put(path, kinds[path.suffix.lower()](plan, answer), force=force)


def check(path: Path, force: bool) -> None:
    """Raise InputError when ``path`` cannot be written."""
    if path.suffix.lower() not in ENDINGS and not path.is_dir():
        raise InputError(f"{path.name!r} must end in {', '.join(ENDINGS)}")
    files.check(path, force)


def _json(plan: Plan, _: Answer) -> bytes:
    import json

    return (json.dumps(plan_json.plan(plan), indent=2, ensure_ascii=False) + "\n").encode()


# --- Markdown ----------------------------------------------------------------------------------

_SPECIAL = str.maketrans({c: f"\\{c}" for c in "\\`*_[]<>|#~"})


def _plain(text: str) -> str:
    """Text that Markdown shows as it stands."""
    return visible(text).translate(_SPECIAL).replace("\n", " ")


def _md_table(found: PlanTable) -> list[str]:
    heads = [_plain(h) for h, _ in found.heads]
    marks = ["---:" if kind == "n" else "---" for _, kind in found.heads]
    rows = ["| " + " | ".join(_plain(c) for c in row) + " |" for row in found.rows]
    return [f"**{_plain(found.caption)}**", "", "| " + " | ".join(heads) + " |",
            "| " + " | ".join(marks) + " |", *rows, ""]  # fmt: skip


def markdown(plan: Plan) -> str:
    """The worksheet and its lists for a notebook kept elsewhere."""
    before, after = plan_words.sure_words(plan)
    out = [f"# {_plain(dossier.title(plan))}", "",
           f"Route {plan.number}: {_plain(plan.name)}", "",
           _plain(" · ".join(plan_words.given_words(plan))), "", f"*{DISCLAIMER}*", "",
           "## How sure it is", "", *(_plain(t) + "  " for t in (*before, *after)), "",
           *_md_table(plan_tables.starts(plan))]  # fmt: skip
    if mind := doubts(plan):
        out += ["### Mind before you begin", "", *(f"- {_plain(t)}." for t in mind), ""]
    out += ["## Shopping", "", *_md_table(plan_tables.shopping(plan)),
            *(f"- {_plain(t)}" for t in plan_words.shopping_words(plan)), "",
            "## Time", "", *(f"- {_plain(t)}" for t in plan_words.time_words(plan)), "",
            *_md_table(plan_tables.calendar(plan)),
            *(f"- {_plain(t)}" for t in plan_words.keeping_words(plan)), ""]  # fmt: skip
    for w in bench_work(plan):
        s = w.plan
        many = f", {s.count} batches" if s.count > 1 else ""
        out += [f"## Step {s.number}: {_plain(s.amount.step.title)}{many}", ""]
        out += _safety(s.safety)
        ready = [n if plan.bench is None else f"{n}: {tool}" for n, tool in dossier.ready(plan, w)]
        out += ["### Get ready", "", *(f"- [ ] {_plain(t)}" for t in ready), ""]
        out += _md_list("### Vessel, heater and tools", bench_words.minding(w))
        found = plan_tables.weigh_outs(w)
        out += [*_md_table(PlanTable(found.caption, (*found.heads, ("really", "t")),
                                 tuple((*row, "") for row in found.rows))),
                *(f"{i}. {_plain(t)}" for i, t in enumerate(bench_words.doing(w), start=1)), "",
                "### Checkpoint", "", *(f"- [ ] {_plain(t)}" for t in bench_words.checkpoint(w)),
                f"- {_plain(bench_words.resting(w))}", "",
                *_md_list("### Left over (local rules decide)", bench_words.left_over(w)),
                "### What to expect", "",
                *(f"- {name}: {_plain(t)}" for name, t in plan_words.expect(plan, s)),
                ""]  # fmt: skip
    traps = [plan_words.trap_words(t) for t in plan.handling.traps]
    out += ["## Money", "", *_md_table(plan_tables.money(plan)),
            *(f"- {_plain(t)}" for t in plan_words.money_words(plan)), "",
            "## What is left over", "", _plain(plan_words.waste_words(plan)), "",
            *_md_table(plan_tables.handling(plan)),
            *_md_list("### Of gas traps", traps)]  # fmt: skip
    return "\n".join(out)


def _safety(s: Safety) -> list[str]:
    """The same safety as the page has: label, cautions, what to wear, never to do, to do then."""
    out = []
    if s.dangers or s.signal or s.statements or s.for_caution:
        out = ["### Label and dangers", "", *([f"**{s.signal}**", ""] if s.signal else []),
               *(f"- {_plain(danger_words.with_cause(d))}" for d in s.dangers),
               *(f"- {c} {_plain(t)}" for c, t in s.statements),
               *(f"- {c} {_plain(t)} (stricter sources)" for c, t in s.for_caution)]  # fmt: skip
        if s.unknown:
            out.append("- the hazards of something in it are not known: treat it as hazardous")
        out.append("")
    return out + [
        line
        for heading, texts in (
            ("### Cautions", [*s.cautions, *s.contradictions]),
            ("### Wear", [a.text for a in s.wear]),
            ("### Never", [under_never(a.text) for a in s.never]),
            ("### If it goes wrong", [a.text for a in s.if_wrong]),
        )
        for line in _md_list(heading, texts)
    ]


def _md_list(heading: str, texts: list[str]) -> list[str]:
    return [heading, "", *(f"- {_plain(t)}" for t in texts), ""] if texts else []


# --- CSV ---------------------------------------------------------------------------------------


def table(plan: Plan) -> str:
    """Everything to weigh, buy and check as one table, numbers in g, mL and min.

    A cell that a spreadsheet would take for a formula has an apostrophe before it.
    """
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["kind", "step", "batches", "what", "g", "mL", "low_g", "high_g", "min", "words"])

    def write(*cells: object) -> None:
        rows.writerow([visible(tables.defused(c)) for c in cells])

    for p in plan.buying.purchases:
        write("buy" if p.short_g else "at hand", None, None, p.name, _number(p.need_g),
              _number(p.need_g / p.density_g_mL) if p.density_g_mL else None, None, None, None,
              plan_words.packs(p))  # fmt: skip
    for w in bench_work(plan):
        s = w.plan
        for x in (*w.charge, *w.led_in, *w.after, *w.washes, *w.agents):
            name = x.name if x.from_step is None else f"from step {x.from_step}"
            write("weigh", s.number, s.count, name, _number(x.grams), _number(x.volume_mL), None,
                  None, None, x.role)  # fmt: skip
        for text in bench_words.minding(w):
            write("mind", s.number, None, text, None, None, None, None, None, "")
        c = w.checkpoint
        if c.expected_g is not None:
            write("checkpoint", s.number, s.count, plan.library.name(s.amount.product.substance),
                  _number(c.expected_g), None, _number(c.low_g), _number(c.high_g), None,
                  "dry product of a batch")  # fmt: skip
        if c.gas_g > 0:
            write("gas", s.number, s.count, "gas that leaves a batch", _number(c.gas_g), None,
                  None, None, None, "")  # fmt: skip
    for t in sorted(plan.timed.tasks, key=lambda t: (t.start_min, t.end_min)):
        when = plan.timed.when(t.start_min)
        write("time", plan.step(t.step).number, t.batch, t.kind, None, None, None, None,
              _number(t.end_min - t.start_min),
              when.isoformat(timespec="minutes") if when
              else f"from minute {t.start_min:.0f}")  # fmt: skip
    write("note", *[None] * 8, DISCLAIMER)
    return out.getvalue()


def _number(value: float | None) -> str | None:
    return None if value is None else f"{value:.6g}"


# --- PDF ---------------------------------------------------------------------------------------


def pdf(plan: Plan, answer: Answer) -> bytes:
    """The page printed by a browser on the machine, without a network and without a script.

    Raises OutOfReach when no browser prints it.
    """
    browser = next((b for b in map(shutil.which, BROWSERS) if b), None)
    if browser is None:
        raise OutOfReach(
            "a PDF is printed by Chromium, and none is on this machine; install it (Debian: apt "
            "install chromium), or write .html and print that from any browser"
        )
    with tempfile.TemporaryDirectory() as folder:
        page, out = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(dossier.html(plan, answer, paper=digits.paper()), encoding="utf-8")
        command = [
            browser, "--headless", "--disable-gpu", "--no-first-run", "--disable-extensions",
            "--disable-background-networking", f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri(),
        ]  # fmt: skip
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # Chromium's sandbox refuses root
        try:
            done = subprocess.run(command, capture_output=True, timeout=PRINT_SECONDS, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise OutOfReach(f"Chromium did not print the page ({error}); write .html") from None
        if done.returncode or not out.is_file():
            said = done.stderr.decode(errors="replace").strip().splitlines()[-1:]
            raise OutOfReach(f"Chromium did not print the page ({' '.join(said)}); write .html")
        return out.read_bytes()
