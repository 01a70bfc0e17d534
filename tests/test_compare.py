"""Routes side by side: API, terminal, JSON, HTML, pictures."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import jsonschema
import pytest
from typer.testing import CliRunner

import routefinder as rf
from routefinder.assessment.measure import MEASURES
from routefinder.choice import measures
from routefinder.choice.reasons import groups
from routefinder.choice.shared import shared
from routefinder.cli.main import app
from routefinder.errors import InputError, RoutefinderError
from routefinder.view import compare_words

TARGET = "copper(II) acetate monohydrate"


@pytest.fixture(scope="module")
def side(demo):
    return rf.compare(demo, prefer="yield 3 from 40 % to 90 %, hazard 2, time 1")


def run(studio, *more):
    return CliRunner().invoke(
        app,
        ["compare", TARGET, "-a", "250 g", "--shelf", str(studio / "shelf.csv"), "--bench",
         str(studio / "bench.yaml"), "--library", str(studio / "reactions"), *more],
    )  # fmt: skip


def test_every_measure_with_its_unit_and_marks(side):
    """All measures of all routes; the best and the worst are marked, and really are."""
    rows = compare_words.table(side)
    assert len(rows) == len(MEASURES) + 1
    titles = {measures.title(k): k for k in MEASURES}
    for name, cells in rows[:-1]:
        key = titles[name]
        losses = [measures.losses(r.assessment, (key,))[0] for r in side.routes]
        for cell, loss in zip(cells, losses, strict=True):
            assert re.search(r"\d", cell.text)
            assert re.search(r"%|USD|h|d|min|°C|point|missing|g/g|step", cell.text)
            best = loss == min(losses) < max(losses)
            assert (cell.mark == compare_words.BEST) == best
            assert (cell.mark == compare_words.WORST) == (loss == max(losses) > min(losses))


def test_shared_and_parting(demo):
    """The demo's routes all crystallise at the end, and part at what they crystallise from."""
    found = shared(demo.library, [r.assessment for r in demo.routes])
    ids = [set(r.ids) for r in demo.routes]
    assert set(found.steps) == set.intersection(*ids)
    assert found.steps
    parting = found.partings[0]
    assert sorted(i for _, places in parting.ways for i in places) == list(parting.routes)
    assert len(parting.ways) > 1
    for i, own in enumerate(found.own):
        assert set(own) == ids[i] - set().union(*(s for j, s in enumerate(ids) if j != i))
    alone = shared(demo.library, [demo.routes[0].assessment] * 2)
    assert alone.partings == ()
    assert alone.steps == demo.routes[0].ids


def test_groups_have_a_reason_each(demo):
    """Every route stands in one group; the reasons differ and name a step of the group."""
    routes = [r.assessment for r in demo.routes]
    found = groups(demo.library, routes)
    assert sorted(i for g in found for i in g.routes) == list(range(len(routes)))
    assert len({g.reason for g in found}) == len(found) > 1
    for group in found:
        titles = [s.title[0].lower() + s.title[1:] for s in routes[group.routes[0]].steps]
        quoted = re.search("“(.*?)”", group.reason)
        assert quoted is None or quoted[1] in titles


def test_dominance_with_figures(demo, side):
    """A dominated route says by which, in what, and both figures."""
    lines = [
        x
        for s in compare_words.sections(side)
        if s.heading.startswith("Dominated")
        for x in s.lines
    ]
    said = [d for d in side.dominated if d is not None]
    assert len(lines) == len(said) > 0
    assert all(" against " in line and "by route" in line for line in lines)


def test_score_lines_add_up(side):
    """The score shown is the arithmetic shown."""
    section = compare_words.scores_section(side)
    lines = [x for x in section.lines if x.startswith("Route ")]
    assert len(lines) == len(side.routes)
    for line in lines:
        total, terms, whole = re.fullmatch(
            r"Route \d+: ([\d.]+) = \((.*)\) / (\d+)\.?", line
        ).groups()
        pairs = re.findall(r"(\d+) × ([\d.]+)", terms)
        assert sum(float(a) * float(b) for a, b in pairs) / float(whole) == pytest.approx(
            float(total), abs=6e-3
        )
    assert sum("straight line" in x for x in section.lines) == 3


def test_json(demo, side):
    """Plain data: the answer by its schema, and figures that can be read back."""
    from pathlib import Path

    import routefinder.view.as_json as home

    data = json.loads(json.dumps(side.json()))
    schema = json.loads((Path(home.__file__).parent / "routes.schema.json").read_text("utf-8"))
    jsonschema.validate(data["answer"], schema)
    assert data["routes"] == [r.number for r in demo.routes]
    scores = [s["score"] for s in data["scores"]]
    assert scores == sorted(scores, reverse=True)
    assert sum(s["any_weights"] for s in data["robustness"]["first_in"]) == pytest.approx(1)


@pytest.mark.parametrize("kind", ["tradeoff", "waterfall", "bars", "masses"])
def test_pictures(side, tmp_path, kind):
    """SVG and PNG, with text as text, a title for those who cannot see, and the routes' numbers."""
    picture = getattr(side, kind)()
    root = ET.fromstring(picture.svg())
    words = " ".join("".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text"))
    for route in side.routes:
        assert str(route.number) in words
    assert picture.alt.startswith(picture.title)
    assert picture.write(tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")
    assert picture.write(tmp_path / "p.svg").read_text("utf-8") == picture.svg()
    assert picture._repr_svg_() == picture.svg()
    with pytest.raises(InputError, match=r"\.svg or \.png"):
        picture.write(tmp_path / "p.gif")


def test_where_the_mass_goes_adds_up(demo):
    """The parts of the picture are all that goes in, the nitrogen of air left out."""
    from routefinder.assessment.waste import mass_use
    from routefinder.view.choice_plots import _ends

    for route in demo.routes:
        ends = _ends(route.assessment)
        goes_in = mass_use(demo.library, route.assessment.amounts).mass_in_g
        assert sum(ends.values()) == pytest.approx(goes_in, rel=1e-6)


def test_terminal(studio, tmp_path):
    """Text, a page that stands by itself, and a diagram of the chosen routes."""
    page = tmp_path / "c.html"
    done = run(studio, "--routes", "1,3", "--to", str(page), "--prefer", "yield 2, time 1")
    assert done.exit_code == 0, done.output
    for words in ("route 1", "route 3", "By your preferences", "How robust", "Lahdelma",
                  "What would turn the order", "▲ best", "local rules"):  # fmt: skip
        assert words in done.stdout
    assert "route 2" not in done.stdout
    text = page.read_text("utf-8")
    assert text.count("<svg") == 5
    assert "http-equiv" not in text
    assert not re.search(r"<(script|link|img)", text)
    drawn = run(studio, "--routes", "1,3", "--to", str(tmp_path / "c.dot"), "--json")
    assert drawn.exit_code == 0
    assert json.loads(drawn.stdout)["routes"] == [1, 3]
    assert "all" in (tmp_path / "c.dot").read_text("utf-8")


def test_front_in_the_terminal(studio):
    """The statement of completeness, in find and in compare."""
    done = run(studio, "--non-dominated", "--measures", "yield, cost", "--top", "9")
    assert done.exit_code == 0, done.output
    flat = " ".join(done.stdout.split())
    assert "non-dominated in yield and cost" in flat
    assert "The set is complete" in flat
    assert "Left out:" in flat


def test_one_route_alone(studio):
    """Nothing to compare with: the table, without marks and without robustness."""
    done = run(studio, "--routes", "2")
    assert done.exit_code == 0
    assert "▲" not in done.stdout
    assert "How robust" not in done.stdout


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--routes", "1,x"], "no list of routes"),
        (["--routes", "0"], "no list of routes"),
        (["--routes", "99"], "there is no route 99"),
        (["--routes", ""], "no list of routes"),
        (["--measures", "beauty"], "unknown measure"),
        (["--measures", ","], "at least one measure"),
        (["--prefer", "yield lots"], "cannot be read"),
        (["--plot", "x.gif"], "must end in"),
        (["--to", "x.pdf"], "must end in"),
        (["--to", "no/such/folder/x.html"], "no folder"),
        (["--kind", "pie"], "unknown picture"),
        (["--axes", "cost"], "two measures"),
        (["--may-lack", "-2"], "may_lack is -2"),
    ],
)
def test_nonsense(studio, more, says):
    """One clear sentence each."""
    done = run(studio, *more)
    assert done.exit_code != 0
    assert isinstance(done.exception, RoutefinderError)
    assert says in str(done.exception)


def test_what_is_refused_is_refused_here_too():
    """The command goes through the same door as find."""
    from routefinder.errors import Refused

    for more in ((), ("--non-dominated",)):
        done = CliRunner().invoke(app, ["compare", "sarin", *more])
        assert isinstance(done.exception, Refused)
