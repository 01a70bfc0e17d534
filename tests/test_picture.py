"""Pictures of routes: streams that balance, words that stand in their places, every shape."""

from __future__ import annotations

import itertools
import random
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder import digits
from routefinder.assessment.reuse import FedBack
from routefinder.errors import InputError
from routefinder.hazards.label import NAMES
from routefinder.vessel.route_streams import route_streams
from routefinder.view import pictograms
from routefinder.view.picture import lanes, phone, pictures, upright
from routefinder.view.picture.outline import outlines
from routefinder.view.picture.pen import DrawnSheet, cut, width, wrap
from routefinder.view.picture.said import said

A4 = {(842.0, 595.0), (595.0, 842.0)}
LEAST_PT, LEAST_PX = 8.0, 12.0  # letters on A4, on a phone
DRAWN = 200  # routes at random


@pytest.fixture(scope="module")
def many(shipped):
    """Routes of the shipped library to targets drawn at random: (answer, route)."""
    rng = random.Random(20)
    targets = sorted(shipped.made)
    rng.shuffle(targets)
    out = []
    for target in targets:
        found = rf.find(target, "100 g", library=shipped, top=3)
        out += [(found, r) for r in found.routes]
        if len(out) >= DRAWN:
            break
    return out


def words_of(found, route):
    return said(found.library, route.assessment, route.number, date="30 Nov 2026", alt="x")


# --- streams -----------------------------------------------------------------------------------


def test_streams_in_and_out_weigh_the_same(many):
    """Every step of 200 routes, to 1e-9 of what is in it; numbers count up, each once."""
    for _, route in many:
        steps = route_streams(route.assessment.amounts)
        numbers = []
        for s in steps:
            into, out = sum(x.mass_g for x in s.into), sum(x.mass_g for x in s.out)
            assert into == pytest.approx(out, rel=1e-9), (route.ids, s.step)
            numbers += [x.number for x in (*s.from_outside, *s.out) if x.number]
        assert numbers == list(range(1, len(numbers) + 1)), route.ids


def test_streams_of_the_demo_by_hand(demo, demo_routes):
    """402 g of vitriol and 186 g of soda in; 166 g go on; the goal is what was asked for."""
    route = demo_routes["precipitate-basic-copper-carbonate"]
    first, *_, last = route_streams(route.assessment.amounts)
    named = {s.supply.name: s.mass_g for s in first.from_outside}
    assert named["blue vitriol root killer"] == pytest.approx(401.7, abs=0.1)
    assert named["soda ash"] == pytest.approx(185.7, abs=0.1)
    (on,) = first.of("on")
    assert float(on.contents.grams("basic-copper-carbonate")) == pytest.approx(165.6, abs=0.1)
    (goal,) = last.of("goal")
    assert goal.dry_g == pytest.approx(250.0, abs=0.01)
    assert [s.what for s in first.of("gas")] == ["water", "carbon-dioxide"]


def test_the_picture_says_the_masses_of_the_plan(many):
    """What goes on, and the goal, weigh what the amounts of the step say: one figure."""
    for found, route in many:
        words = words_of(found, route)
        made = {a.step.id: a.product for a in route.assessment.amounts.steps}
        for card in words.cards:
            product = made[card.id]
            sole = [f for f in card.onward if f.kind == "on"]
            takers = [
                f for f in sole if f.formula == found.library.substances[product.substance].label
            ]
            if len(card.onward) == len(takers) == 1 and not any(f.kind == "kept" for f in card.out):
                assert takers[0].amount == digits.mass(product.mass_g), (route.ids, card.id)


# --- places ------------------------------------------------------------------------------------


def test_no_words_over_one_another_on_any_sheet(many):
    """200 routes in every shape that fits: on their sheet, in their card, apart, big enough."""
    shapes = set()
    for found, route in many:
        drawn = pictures.route(found.library, route.assessment, route.number, date="30 Nov 2026")
        shapes.add("lying" if drawn[0].w > drawn[0].h else "upright")
        for sheet in (*drawn, *upright.sheets(words_of(found, route))):
            assert (sheet.w, sheet.h) in A4, route.ids
            assert sheet.faults() == [], route.ids
            assert sheet.smallest >= LEAST_PT
        narrow = phone.sheet(words_of(found, route))
        assert narrow.w == 390
        assert narrow.faults() == [], route.ids
        assert narrow.smallest >= LEAST_PX
    assert shapes == {"lying", "upright"}


def test_every_stream_and_step_is_said(many):
    """Each number of a stream, each title and amount stands in the picture and in its table."""
    for found, route in many[::5]:
        words = words_of(found, route)
        text = " ".join(w.text for s in upright.sheets(words) for w in s.words).replace("\xa0", " ")
        for card in words.cards:
            assert all(part in text for part in wrap(card.title, 121, 9.5, True)), card.title
            assert card.window in text
        for flow in words.flows:
            assert re.search(rf"(?<!\d){flow.number}(?!\d)", text)
            if flow.kind in {"feed", "on"} and not flow.note:
                assert flow.amount in text, (route.ids, flow)


def test_lanes_of_many_routes(shipped):
    """Thirty routes: lanes on sheets, words in their cards, every route and step once or more."""
    found = rf.find("zinc-oxide", "100 g", library=shipped, top=30)
    assert len(found.routes) >= 20
    routes = [(r.number, r.assessment) for r in found.routes]
    for sheets in (
        pictures.overview(shipped, found.target, routes, date="30 Nov 2026"),
        pictures.overview(shipped, found.target, routes, "phone"),
    ):
        for sheet in sheets:
            assert sheet.faults() == []
            assert sheet.smallest >= (LEAST_PT if sheet.unit == "pt" else LEAST_PX)
    text = " ".join(
        w.text for s in pictures.overview(shipped, found.target, routes) for w in s.words
    )
    for number, _ in routes:
        assert re.search(rf"(?<!\d){number}(?!\d)", text)


@given(st.lists(st.lists(st.sampled_from("abcdef"), unique=True, min_size=1, max_size=5), min_size=1,
                max_size=8))  # fmt: skip
def test_lanes_hold_every_route_once_and_steps_go_right(drawn):
    """Any routes: each is a lane; no step stands left of the one before, circles aside."""
    routes = {i: tuple(r) for i, r in enumerate(drawn, start=1)}
    assert sorted(lanes.order(routes)) == sorted(routes)
    columns, count = lanes.places(list(routes.values()))
    assert set(columns) == {s for r in routes.values() for s in r}
    assert all(0 <= c < count for c in columns.values())
    pairs = {(a, b) for r in routes.values() for a, b in itertools.pairwise(r)}
    reach = dict.fromkeys(columns, frozenset())
    for _ in columns:
        reach = {
            s: reach[s] | {b for a, b in pairs if a == s} | {c for a, b in pairs if a == s for c in reach[b]}
            for s in columns
        }  # fmt: skip
    if not any(s in reach[s] for s in columns):
        assert all(columns[a] < columns[b] for a, b in pairs)


@given(st.text(st.characters(codec="ascii", categories=["L", "N", "P", "Zs"]), min_size=1, max_size=80),
       st.floats(20, 300), st.booleans())  # fmt: skip
def test_lines_fit_and_lose_nothing(text, room, bold):
    """Any words: nothing lost, no line wider than its room where a letter fits at all."""
    lines = wrap(text, room, 9, bold)
    assert "".join(lines).replace(" ", "").replace("\xa0", "") == text.replace(" ", "").replace(
        "\xa0", ""
    )
    assert all(width(line, 9, bold) <= room for line in lines)
    assert len(cut(lines, room, 9, 2, bold)) <= 2


# --- shapes and files --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chain(tmp_path_factory):
    """A route of twelve steps in a row, from an invented library."""
    folder = tmp_path_factory.mktemp("chain")
    source = 'source: "invented: x"'
    substances = "\n".join(
        f"- {{id: chalk-{i}, name: chalk form {i}, formula: CaCO3, hazards: {{statements: [], {source}}}}}"
        for i in range(13)
    )
    materials = (
        "- {id: rock, name: rock, form: solid, contains: [{substance: chalk-0, strength: 98 %}], "
        'price: 2 USD/kg, sources: ["invented: x"]}'
    )
    steps = "\n".join(
        f"""- id: turn-{i}
  title: Turn chalk form {i} into chalk form {i + 1}
  kind: decomposition
  equation: chalk-{i}(s) -> chalk-{i + 1}(s)
  product: chalk-{i + 1}
  limiting: chalk-{i}
  yield: {{low: 90 %, typical: 95 %, high: 98 %, basis: invented, source: "invented: x"}}
  temperature: {{low: 20 degC, high: 40 degC}}
  time: {{hands_on: 1 h, waiting: 2 h}}
  done_when: [it has turned]
  sources: ["invented: x"]"""
        for i in range(12)
    )
    for kind, text in (("substances", substances), ("materials", materials), ("steps", steps)):
        (folder / kind).mkdir()
        (folder / kind / "x.yaml").write_text(text + "\n", encoding="utf-8")
    return rf.find("chalk form 12", "100 g", libraries=[folder], only_library=True)


def test_a_long_route_goes_on_on_a_second_sheet(chain):
    """Twelve steps: every card once, in order, and a flag where it goes on."""
    route = chain.routes[0]
    assert len(route.ids) == 12
    sheets = route.sheets("upright")
    assert 2 <= len(sheets) <= 3
    numbers = []
    for sheet in sheets:
        assert (sheet.w, sheet.h) in A4
        assert sheet.faults() == []
        numbers.append([int(w.text) for w in sheet.words if w.fill == "#ffffff"])
    assert [n for page in numbers for n in page] == list(range(1, 13))
    for page, sheet in zip(numbers, sheets, strict=True):
        on = [w.text for w in sheet.words if re.fullmatch(r"step \d+", w.text)]
        assert f"step {page[-1] + 1}" in on if page and page[-1] < 12 else not on, on
    assert "sheet 2 of" in " ".join(w.text for w in sheets[1].words)


def test_what_is_fed_back_is_a_flag_at_both_ends(demo, demo_routes):
    """Fed back from step 3 to step 1: it leaves there and comes in here, by the number."""
    route = demo_routes["precipitate-basic-copper-carbonate"]
    ids = route.assessment.ids
    back = FedBack("acetic-acid", 12.0, ids[2], ids[0], True)
    for shape in ("upright", "phone"):
        (sheet, *_) = pictures.route(demo.library, route.assessment, 1, [back], shape)
        text = [w.text for w in sheet.words]
        assert sheet.faults() == []
        assert sum("step 3" in t for t in text) == 1
        assert sum("step 1" in t for t in text) >= 1
    with pytest.raises(InputError, match="no room on a lying sheet"):
        pictures.route(demo.library, route.assessment, 1, [back], "lying")


def test_missing_equipment_and_batches_are_said(studio, tmp_path):
    """Without a filter the card is dashed and says so in words."""
    bench = tmp_path / "bench.yaml"
    bench.write_text("- {name: scale, offers: [weigh: {readability: 1 g}]}\n", encoding="utf-8")
    found = rf.find("copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
                    bench=bench, libraries=[studio / "reactions"], may_lack=9)  # fmt: skip
    route = next(r for r in found.routes if r.assessment.missing)
    (sheet, *_) = route.sheets("upright")
    text = " ".join(w.text for w in sheet.words)
    assert "missing:" in text
    assert sheet.faults() == []
    dashed = [i for i in sheet.items if getattr(i, "dashed", False) and len(i.points) == 4]
    assert dashed


def test_files_of_every_shape(demo, tmp_path, call, studio):
    """SVG that is XML with its words as words, PNG that Graphviz draws, the plain graph as .dot."""
    route = demo.routes[0]
    for shape in ("fitting", "lying", "upright", "phone"):
        (path, *_) = route.diagram(tmp_path / f"{shape}.svg", shape=shape)
        root = ET.fromstring(path.read_text("utf-8"))
        assert root.find("{http://www.w3.org/2000/svg}title").text.startswith("Route 1. From ")
        assert "".join(root.itertext()).count("monohydrate") >= 1
        assert re.findall(r'id="([^"]+)"', path.read_text("utf-8"))
    (png,) = route.diagram(tmp_path / "a.png")
    assert png.read_bytes().startswith(b"\x89PNG")
    (dot,) = route.diagram(tmp_path / "a.dot")
    (graph,) = route.diagram(tmp_path / "graph.svg", shape="graph")
    assert dot.read_text("utf-8").startswith("digraph")
    assert "<svg" in graph.read_text("utf-8")
    ask = ["copper(II) acetate monohydrate", "--amount", "250 g", "--shelf", studio / "shelf.csv",
           "--library", studio / "reactions", "--bench", studio / "bench.yaml"]  # fmt: skip
    code, out, _ = call(
        "draw", *ask, "--route", "1", "--shape", "phone", "--to", tmp_path / "p.svg"
    )
    assert (code, "p.svg" in out) == (0, True)
    code, _, err = call("draw", *ask, "--shape", "round", "--to", tmp_path / "q.svg")
    assert (code, err.count("\n")) == (2, 1)
    assert "lying, upright" in err


def test_the_png_shows_what_the_svg_says(demo, tmp_path):
    """The card's frame is dark and the paper white where the places say so."""
    from PIL import Image

    (sheet,) = demo.routes[0].sheets("lying")
    (path,) = pictures.write([sheet], tmp_path / "a.png")
    image = Image.open(path).convert("L")
    k = image.width / sheet.w
    assert image.height == pytest.approx(sheet.h * k, abs=3)
    frames = [i for i in sheet.items if getattr(i, "width", 0) == 1.3 and len(i.points) == 4]
    assert frames
    for frame in frames:
        (x, y), (right, _), (_, bottom), _ = frame.points
        left = [image.getpixel((round(x * k) + d, round((y + bottom) / 2 * k))) for d in (-1, 0, 1)]
        assert min(left) < 90
        assert image.getpixel((round((right - 2) * k), round((y + 2) * k))) > 200


def test_pictograms_are_flattened():
    """Every GHS sign as polygons: in its field, and not empty."""
    for code in NAMES:
        shapes = outlines(pictograms.svg(code))
        assert len(shapes) >= 2, code
        for shape in shapes:
            assert all(-1 <= v <= 101 for point in shape.points for v in point), code


def test_faults_are_seen():
    """Words over one another, off the sheet or out of their card are faults."""
    from routefinder.view.picture.pen import Box

    p = DrawnSheet(200, 100, "x")
    p.text(20, 20, "one", 10)
    assert p.faults() == []
    p.text(25, 22, "two", 10)
    p.text(190, 50, "beyond", 10)
    p.text(50, 80, "out of it", 10, within=Box(50, 70, 20, 12))
    said_ = " ".join(p.faults())
    assert "'one' and 'two'" in said_
    assert "off the sheet: 'beyond'" in said_
    assert "out of its card: 'out of it'" in said_
