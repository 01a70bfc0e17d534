"""Plans as files: the page stands alone and shows markup as text, the lists can be read again."""

from __future__ import annotations

import csv
import html
import io
import json
import os
import re
import shutil
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from test_demo import R1, ask, route
from typer.testing import CliRunner

from routefinder import digits, tables
from routefinder.cli.main import app
from routefinder.errors import InputError, OutOfReach
from routefinder.view import bench_words, diagram, dossier, plan_files
from routefinder.worksheet.bench_work import bench_work

RUN = CliRunner()
TERMS = {
    "start": "2026-11-28", "hours": "Saturday and Sunday, 9 to 17", "room": "30 m3",
    "energy_price": 0.3,
}  # fmt: skip
EVIL = '<script>alert("x")</script> & <b>bold</b> | `tick` {{ 7*7 }}'


@pytest.fixture(scope="module")
def answer():
    from routefinder.library.where import examples

    return ask(examples() / "studio")


@pytest.fixture(scope="module")
def plan(answer):
    return answer.plan(route(answer, R1).number, **TERMS)


@pytest.fixture(scope="module")
def page(plan, answer):
    return dossier.html(plan, answer)


class Reader(HTMLParser):
    """Tags with their attributes, headings in order, and whether every tag is closed."""

    VOID = frozenset({"meta", "br", "img", "link", "input", "hr"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.bad: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.bad.append(tag)

    def handle_data(self, data):
        if not self.open or self.open[-1] not in {"style", "script"}:
            self.words.append(data)


# --- the page ----------------------------------------------------------------------------------


def test_the_page_stands_alone(page):
    """No script, nothing from the network, every tag closed, every link inside the page."""
    found = Reader(page)
    assert found.bad == []
    assert found.open == []
    names = {tag for tag, _ in found.tags}
    assert not names & {"script", "link", "iframe", "img", "object", "embed", "form"}
    ids = {a["id"] for _, a in found.tags if "id" in a}
    for tag, attrs in found.tags:
        assert not [a for a in attrs if a.startswith("on")], (tag, attrs)
        for name in ("href", "src", "xlink:href"):
            if attrs.get(name):
                assert attrs[name].startswith("#"), attrs[name]
                assert tag != "a" or attrs[name][1:] in ids
    assert "url(http" not in page
    assert "@import" not in page


def test_the_page_can_be_heard(page):
    """Headings in order, one h1; tables with captions and scopes; drawings with alt text."""
    found = Reader(page)
    levels = [int(tag[1]) for tag, _ in found.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    count = [tag for tag, _ in found.tags]
    assert count.count("table") == count.count("caption") == count.count("thead")
    assert all("scope" in a for tag, a in found.tags if tag == "th")
    for tag, attrs in found.tags:
        if attrs.get("role") in {"img", "region"}:
            assert attrs.get("aria-label"), (tag, attrs)
    assert found.tags[0][0] == "html"
    assert found.tags[0][1]["lang"] == "en"


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1 (W3C, WCAG 2.2, definition of relative luminance)."""
    digits_ = colour.removeprefix("#")
    digits_ = "".join(d * 2 for d in digits_) if len(digits_) == 3 else digits_
    parts = [int(digits_[k : k + 2], 16) / 255 for k in (0, 2, 4)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_every_colour_of_text_can_be_read(page):
    """At least 4.5 to 1 on white and on the greys behind table heads (WCAG 2.2, 1.4.3)."""
    style = page.split("<style>")[1].split("</style>")[0]
    inks = set(re.findall(r"(?<![-\w])color: (#[0-9a-f]{3,6})", style)) | {diagram.GREY, "#b00000"}
    papers = set(re.findall(r"background: (#[0-9a-f]{3,6})", style))
    assert len(inks) >= 4
    assert "#fff" in papers
    for ink in inks:
        for paper in papers:
            light, dark = sorted((luminance(ink), luminance(paper)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, paper)


def test_the_page_says_it_all(page, plan):
    """The figures of the hand calculation, tick boxes, blanks, sums and sources."""
    words = re.sub(r"\s+", " ", " ".join(Reader(page).words))
    for figure in (
        "401.7 g blue vitriol root killer", "185.7 g soda ash", "1.89 L white vinegar",
        "165.6 g", "155.3 g", "174.3 g", "Really, batch 2", "Carbon dioxide is given off",
        "H410", "Of 6 routes", "invented: for the demo", "1.57681 mol", "local rules",
        "Sat 28 Nov 09:00–10:00", "Put the solution from step 2",
    ):  # fmt: skip
        assert figure in words, figure
    assert page.count('class="box"') >= 10
    for s in plan.steps:
        assert f'id="step-{s.number}"' in page


def test_markup_in_records_shows_as_text(make_library, tmp_path):
    """A library full of markup: nothing of it becomes a tag, a template or a table."""
    import routefinder as rf

    quoted = json.dumps(EVIL)
    folder = make_library(
        substances=f"""
- {{id: chalky, name: {quoted}, formula: CaCO3, hazards: {{statements: [], source: "invented: x"}}}}
- {{id: limey, name: lime <i>x</i>, formula: CaO, hazards: {{statements: [], source: "invented: x"}}}}
- {{id: airy, name: gas, formula: CO2, hazards: {{statements: [], source: "invented: x"}}}}
""",
        materials=f"""
- {{id: rock, name: {quoted}, form: solid, contains: [{{substance: chalky, strength: 98 %}}], price: 2 USD/kg, sources: [{quoted.replace('"<', '"invented: <', 1)}]}}
""",
        steps=f"""
- id: burn
  title: {quoted}
  kind: decomposition
  equation: chalky(s) -> limey(s) + airy(g)
  product: limey
  limiting: chalky
  yield: {{low: 90 %, typical: 95 %, high: 98 %, basis: {quoted}, source: common practice}}
  temperature: {{low: 900 degC, high: 1000 degC}}
  time: {{hands_on: 1 h, waiting: 5 h}}
  done_when: [{quoted}]
  watch: [{quoted}]
  cautions: [{quoted}]
  storage: {{how: {quoted}, keeps: days, source: "invented: x"}}
  sources: ["invented: x"]
""",
    )
    found = rf.find("limey", "100 g", libraries=[folder], only_library=True)
    made = found.plan(1)
    text = dossier.html(made, found)
    tags = Reader(text)
    assert tags.bad == []
    assert not {"script", "b", "i"} & {tag for tag, _ in tags.tags}
    assert "&lt;script&gt;" in text
    assert "{{ 7*7 }}" in text
    assert "49 |" not in text
    notes = plan_files.markdown(made)
    assert "<script>" not in notes.replace(r"\<", "")
    for line in notes.splitlines():
        if line.startswith("| "):
            assert not re.search(r"(?<!\\)<", line)


def test_charts_have_words(plan):
    """Each chart says in words what it shows; without matplotlib there are none, and a sentence."""
    pytest.importorskip("matplotlib")
    from routefinder.view import plots

    charts = plots.charts(plan)
    assert [c.name for c in charts] == ["time", "yield", "mass", "cost"]
    for c in charts:
        assert c.svg.startswith("<svg")
        assert len(c.svg) < 60_000
        assert "<script" not in c.svg
    assert "step 3 85 %" in charts[1].alt
    assert "white vinegar 4.53 USD" in charts[3].alt
    assert plots.charts(plan) == charts


def test_without_matplotlib_the_page_says_so(plan, answer, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "matplotlib", None)
    text = dossier.html(plan, answer)
    assert "charts need matplotlib" in text
    assert "Checkpoint" in text


# --- the work ----------------------------------------------------------------------------------


def test_checkpoints_by_hand(plan):
    """S1: carbonate 165.6 g, alarm below 155, never above 174.3; 18 L of carbon dioxide is 33 g."""
    first, second, third = bench_work(plan)
    c = first.checkpoint
    assert c.expected_g == pytest.approx(165.6, rel=0.01)
    assert c.low_g == pytest.approx(155, rel=0.01)
    assert c.ceiling_g == pytest.approx(174.3, rel=0.01)
    assert c.high_g <= c.ceiling_g
    assert c.gas_g == pytest.approx(0.749 * 44.01, rel=0.01)
    assert c.tells is False  # 2.8 kg of liquor are more than the balance bears
    assert second.checkpoint.tells is True
    assert second.checkpoint.expected_g is None
    assert third.checkpoint.expected_g == pytest.approx(125)
    assert sum(x.crystals_g for x in third.crops) == pytest.approx(255.1 / 2, rel=0.01)


def test_order_of_addition(plan):
    """Water first, soda last and in portions; the carbonate goes into the vinegar."""
    first, second, third = bench_work(plan)
    assert [p.name for p in first.charge] == ["tap water", "blue vitriol root killer", "soda ash"]
    assert [p.name for p in second.charge] == ["white vinegar", "basic copper carbonate"]
    assert second.in_portions
    assert [p.from_step for p in third.charge] == [2]  # the solution brings water enough
    words = bench_words.doing(second)
    assert words[0].startswith("Measure 1.89 L white vinegar into enamelled pot")
    assert "in portions" in words[1]


def test_leavings_stand_with_their_step(plan, page):
    """Each step says what it leaves over and where that goes; together they are the route's."""
    works = bench_work(plan)
    words = [bench_words.left_over(w) for w in works]
    assert any("Keep: " in t or "(metal: copper)" in t for found in words for t in found)
    for found in words:
        for text in found:
            assert html.escape(text) in page or text in html.unescape(page)
    by_step = sum(x.mass_g for w in works for h in w.leavings for x in h.what)
    whole = sum(x.mass_g for h in plan.handling.kinds for x in h.what)
    assert by_step == pytest.approx(whole)


def test_each_sentence_has_data(plan):
    """What a step's record does not hold is not said: no filter, no filtering."""
    for w in bench_work(plan):
        words = " ".join(bench_words.doing(w))
        has = {n.name for n in w.plan.amount.step.record.equipment}
        assert ("Filter." in words) == bool(has & {"filter", "filter-vacuum"})
        assert words.count("It is done when") == len(w.plan.amount.step.record.done_when)
        assert "None" not in words
        assert "nan" not in words


def test_vessel_contents_close(plan):
    """What a batch holds, and what has left it till then, is what went in."""
    for w in bench_work(plan):
        amount = w.plan.amount
        went_in = sum(f.drawn_g for f in amount.feeds if f.role != "wash") + amount.along.mass_g
        till = amount.course.points[: amount.course.stages.reacts + 1]
        left = sum(stream.mass_g for point in till for stream in point.left.values())
        assert w.checkpoint.contents_g * w.plan.count + left == pytest.approx(went_in)


# --- files -------------------------------------------------------------------------------------


def test_the_table_can_be_read_again(plan):
    """CSV: numbers as numbers, the weigh-outs of a batch, nothing that starts a formula."""
    rows = list(csv.DictReader(io.StringIO(plan_files.table(plan))))
    weighed = {(r["step"], r["what"]): float(r["g"]) for r in rows if r["kind"] == "weigh"}
    assert weighed["1", "blue vitriol root killer"] == 401.7
    assert weighed["2", "white vinegar"] == pytest.approx(3800.8 / 2, rel=1e-3)
    (check,) = [r for r in rows if r["kind"] == "checkpoint" and r["step"] == "1"]
    assert float(check["low_g"]) < float(check["g"]) < float(check["high_g"])
    assert all(not cell or cell[0] not in "=+-@'" for r in rows for cell in r.values())
    assert tables.defused("=1+1") == "'=1+1"


def test_markdown(plan):
    notes = plan_files.markdown(plan)
    assert notes.startswith("# 250 g copper(II) acetate")
    assert "| 401.7 g blue vitriol root killer | reactant |  |" in notes
    assert "- [ ] The dry product weighs about 165.6 g" in notes


def test_writing(plan, answer, tmp_path, monkeypatch):
    """By the ending; no overwriting without force; nothing half written; one sentence otherwise."""
    for name in ("p.html", "p.md", "p.csv", "p.json"):
        plan_files.write(plan, answer, tmp_path / name)
        assert (tmp_path / name).stat().st_size > 1000
    assert json.loads((tmp_path / "p.json").read_text())["schema"] == "routefinder/plan/1"
    assert sorted(os.listdir(tmp_path)) == ["p.csv", "p.html", "p.json", "p.md"]
    target = tmp_path / "p.md"
    target.write_text("mine")
    with pytest.raises(InputError, match="is there already; write over it with force"):
        plan_files.write(plan, answer, target)
    assert target.read_text() == "mine"
    answer.write_plan(plan, target, force=True)
    assert target.read_text() != "mine"
    with pytest.raises(InputError, match=r"must end in \.html"):
        plan_files.write(plan, answer, tmp_path / "p.doc")
    with pytest.raises(InputError, match="there is no folder"):
        plan_files.write(plan, answer, tmp_path / "no" / "p.md")
    with pytest.raises(InputError, match="is a folder"):
        plan_files.check(tmp_path, True)

    def broken(*_, **_more):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(plan_files.tempfile, "mkstemp", broken)
        with pytest.raises(InputError, match="cannot be written"):
            plan_files.write(plan, answer, tmp_path / "new.csv")
    monkeypatch.setattr(os, "link", broken)  # a new file is linked into its place
    with pytest.raises(InputError, match="No space left"):
        plan_files.write(plan, answer, tmp_path / "new.csv")
    assert sorted(os.listdir(tmp_path)) == ["p.csv", "p.html", "p.json", "p.md"]


def test_without_a_browser(plan, answer, tmp_path, monkeypatch):
    """No Chromium: a sentence that says what to do, and no file."""
    monkeypatch.setattr(shutil, "which", lambda *_args, **_more: None)
    with pytest.raises(OutOfReach, match=r"install it .* or write \.html"):
        plan_files.pdf(plan, answer)


def test_the_command_writes(studio, answer, tmp_path):
    file = tmp_path / "plan.md"
    given = [
        "plan", "copper(II) acetate monohydrate", "--amount", "250 g", "--route",
        str(route(answer, R1).number), "--shelf", str(studio / "shelf.csv"), "--bench",
        str(studio / "bench.yaml"), "--library", str(studio / "reactions"), "--to", str(file),
    ]  # fmt: skip
    done = RUN.invoke(app, given)
    assert done.exit_code == 0, done.output
    assert "Wrote the plan" in done.stdout
    again = RUN.invoke(app, given)
    assert isinstance(again.exception, InputError)
    assert RUN.invoke(app, [*given, "--force"]).exit_code == 0


# --- in a browser ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def browser():
    sync = pytest.importorskip("playwright.sync_api")
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("no Chromium on this machine")
    with sync.sync_playwright() as driver:
        root = hasattr(os, "geteuid") and os.geteuid() == 0
        found = driver.chromium.launch(executable_path=path, args=["--no-sandbox"] * root)
        yield found
        found.close()


@pytest.mark.parametrize("width", [360, 794, 1200])
def test_in_a_browser(browser, page, tmp_path, width):
    """No error, no request, no overflow at the width of a phone, of A4 and of a desk."""
    file = tmp_path / "page.html"
    file.write_text(page, encoding="utf-8")
    tab = browser.new_page(viewport={"width": width, "height": 900})
    said: list[str] = []
    tab.on("pageerror", lambda e: said.append(str(e)))
    tab.on("console", lambda m: said.append(m.text))
    tab.on("request", lambda r: said.append(r.url) if r.url != file.as_uri() else None)
    tab.goto(file.as_uri())
    assert said == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.close()


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_it_prints(plan, answer, page, paper, size):
    """A PDF on that paper, each step on a page of its own, no short table cut, all the words."""
    if shutil.which("chromium") is None:
        pytest.skip("no Chromium on this machine")
    pypdf = pytest.importorskip("pypdf")
    digits.use(digits.Shown(paper=paper))
    try:
        found = pypdf.PdfReader(io.BytesIO(plan_files.pdf(plan, answer)))
    finally:
        digits.use(digits.Shown())
    sizes = {tuple(sorted(round(float(x)) for x in p.mediabox[2:])) for p in found.pages}
    assert all(abs(a - size[0]) <= 1 and abs(b - size[1]) <= 1 for a, b in sizes)
    texts = [re.sub(r"\s+", " ", p.extract_text()).strip() for p in found.pages]
    heads = [f"Step {s.number}: {s.amount.step.title[:20]}" for s in plan.steps]
    starts = [i for i, t in enumerate(texts) if any(t.startswith(h) for h in heads)]
    assert len(starts) == 3
    assert 10 <= len(texts) <= 30
    assert any("401.7 g blue vitriol" in t for t in texts)
    tables = re.findall(r"<table><caption>(.*?)</caption>(.*?)</table>", page, re.DOTALL)
    assert len(tables) >= 8
    for caption, body in tables:
        rows = re.findall(r'<th scope="row">(.*?)</th>', body)
        if len(rows) <= 12:
            words = [html.unescape(re.sub(r"\s+", " ", w)).strip()[:24] for w in (caption, *rows)]
            assert any(all(w in t for w in words) for t in texts), (caption, rows)


def test_long_times_in_words():
    assert [digits.span(m) for m in (300, 4320, 20160, 131400, 1051200)] == [
        "5 h", "3 days", "2 weeks", "3 months", "2 years",
    ]  # fmt: skip
