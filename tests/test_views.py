"""Graph, diagrams and JSON: what a person and a machine see."""

from __future__ import annotations

import json
import re
import shutil
import xml.etree.ElementTree as ET

import pytest

import routefinder as rf
from routefinder import digits
from routefinder.errors import InputError, OutOfReach
from routefinder.view import diagram, route_diagram


@pytest.fixture(scope="module")
def answer():
    from routefinder.library.where import examples

    studio = examples() / "studio"
    return rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"],
    )  # fmt: skip


def test_reaction_graph_is_networkx(shipped, tmp_path):
    """A MultiDiGraph keyed by step, with plain attributes; networkx and GraphML work on it."""
    networkx = pytest.importorskip("networkx")
    graph = rf.reaction_graph(shipped)
    assert isinstance(graph, networkx.MultiDiGraph)
    step = shipped.steps["precipitate-basic-copper-carbonate"]
    for reactant in step.reactants:
        for product in step.products:
            data = graph.edges[reactant.substance, product.substance, step.id]
            assert data["yield_typical"] == step.record.yield_.typical
            assert data["temperature_low_C"] == step.record.temperature.low_C
            assert 0 <= data["hazard_toxic"] <= 4
    assert networkx.has_path(graph, "copper", "copper-ii-acetate-monohydrate")
    networkx.write_graphml(graph, tmp_path / "graph.graphml")
    again = networkx.read_graphml(tmp_path / "graph.graphml", force_multigraph=True)
    assert again.number_of_edges() == graph.number_of_edges()
    json.dumps(networkx.node_link_data(graph, edges="edges"))


def test_graph_is_built_anew(shipped):
    """Changing a graph does not change the library or the next graph."""
    graph = rf.reaction_graph(shipped)
    size = graph.number_of_nodes()
    graph.clear()
    assert rf.reaction_graph(shipped).number_of_nodes() == size


def test_route_diagram_shows_the_route(answer):
    """Cards with numbers and titles, masses on arrows, gases, leavings, subscripts, alt text."""
    route = answer.routes[0]
    svg = diagram.render(route.dot(), "svg").decode()
    ET.fromstring(svg)
    text = re.sub(r"<[^>]+>", " ", svg)
    for i, step in enumerate(route.assessment.steps, start=1):
        assert step.title.split()[0] in text
        assert str(i) in text
    assert "CO₂" in text
    assert "Cu(C₂H₃O₂)₂·H₂O" in text
    assert "250 g" in text
    title = re.search(r"<title>(.*?)</title>", svg).group(1)
    assert title.startswith("Route 1. From")
    assert title.endswith("copper(II) acetate monohydrate.")


def test_overview_draws_common_steps_once(answer):
    """All routes over one another: one card a step, route numbers on arrows."""
    dot = answer.dot()
    shown = re.findall(r'^ *"([^"/]+)" \[label=<<TABLE', dot, re.MULTILINE)
    every = {s for r in answer.routes for s in r.ids}
    assert len(shown) == len(set(shown))
    assert set(shown) == every
    ET.fromstring(diagram.render(dot, "svg"))


def test_markup_in_a_record_is_text(answer):
    """A title full of markup cannot break the drawing."""
    import dataclasses

    route = answer.routes[0]
    step = route.assessment.steps[0]
    evil = dataclasses.replace(
        step, record=step.record.model_copy(update={"title": '<B>x</B> & "y" \\N <script>'})
    )
    steps = [dataclasses.replace(route.assessment.amounts.steps[0], step=evil),
             *route.assessment.amounts.steps[1:]]  # fmt: skip
    amounts = dataclasses.replace(route.assessment.amounts, steps=tuple(steps))
    found = dataclasses.replace(
        route.assessment, steps=(evil, *route.assessment.steps[1:]), amounts=amounts
    )
    svg = diagram.render(route_diagram.route_dot(answer.library, found), "svg").decode()
    ET.fromstring(svg)
    assert "<script>" not in svg


def test_files_by_ending(answer, tmp_path):
    """.svg, .png and .dot; anything else is refused and nothing is left behind."""
    (png,) = answer.diagram(tmp_path / "a.png")
    (dot,) = answer.routes[0].diagram(tmp_path / "b.dot")
    assert png.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert dot.read_text().startswith("digraph")
    with pytest.raises(InputError, match=r"\.svg, \.png or \.dot"):
        answer.diagram(tmp_path / "c.bmp")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.png", "b.dot"]


def test_no_engine_is_said(answer, monkeypatch, tmp_path):
    """Without any Graphviz the message says what to install."""
    monkeypatch.setattr(shutil, "which", lambda *a, **k: None)
    with pytest.raises(OutOfReach, match="pip install graphviz-pure"):
        answer.diagram(tmp_path / "x.png")
    assert answer.diagram(tmp_path / "x.svg")  # needs none


def test_json_follows_its_schema(answer):
    """The documented, versioned schema accepts the answer; amounts are the assessment's."""
    jsonschema = pytest.importorskip("jsonschema")
    from importlib.resources import files

    schema = json.loads((files("routefinder.view") / "routes.schema.json").read_text("utf-8"))
    data = json.loads(json.dumps(answer.json()))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(data, schema)
    first = data["routes"][0]
    assert [s["id"] for s in first["steps"]] == list(answer.routes[0].ids)
    assert data["ending"] in {"proven", "all"}
    del data["routes"][0]["steps"][0]["turns_mol"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)


def test_json_of_no_route_follows_the_schema(tmp_path):
    """An answer without routes has its reasons in the same schema."""
    jsonschema = pytest.importorskip("jsonschema")
    from importlib.resources import files

    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material\nwhite vinegar\n", encoding="utf-8")
    found = rf.find("copper(II) acetate monohydrate", "250 g", shelf=shelf)
    data = json.loads(json.dumps(found.json()))
    schema = json.loads((files("routefinder.view") / "routes.schema.json").read_text("utf-8"))
    jsonschema.validate(data, schema)
    assert data["no_route"]["lacking"]


def test_routes_show_themselves_in_a_notebook(answer):
    """A route as SVG, an answer as HTML."""
    assert "<svg" in answer.routes[0]._repr_svg_()
    assert "copper(II) acetate" in answer._repr_html_()


@pytest.mark.parametrize(
    ("value", "shown"),
    [(401.7, "402 g"), (1741.2, "1.74 kg"), (0.0352, "35 mg"), (9.999, "10.0 g"), (999.6, "1.00 kg"),
     (0.5, "0.500 g"), (0, "0 g")],
)  # fmt: skip
def test_masses_bear_three_digits(value, shown):
    """Sensible digits, unit always."""
    assert digits.mass(value) == shown


@pytest.mark.parametrize(
    ("share", "shown"), [(0.0, "under 1 %"), (0.214, "21 %"), (0.9, "90 %"), (0.9999, "over 99 %")]
)
def test_chances_are_never_certain(share, shown):
    """Ten thousand trials tell no more."""
    assert digits.chance(share) == shown
