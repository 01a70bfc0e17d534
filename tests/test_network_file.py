"""Networks that are not ours: CSV, JSON, SBML; and what is wrong with bad ones."""

from __future__ import annotations

import json

import pytest

from routefinder.asking.network import find_in_network
from routefinder.errors import InputError, RoutefinderError
from routefinder.graph.network_file import read_network, steps_of_model
from routefinder.library.where import examples
from routefinder.search.best import best_routes
from routefinder.search.route import Ending


def test_the_shipped_example():
    """The lime cycle: the gas of burning carbonates the lime (8), or grind and wash (12)."""
    found = find_in_network(
        examples() / "lime.csv", "precipitated chalk", ["limestone", "fuel", "water"]
    )
    assert [r.cost for r in found.found.routes] == [8.0, 12.0]
    assert found.found.ending is Ending.ALL
    assert found.json()["routes"][0]["steps"] == ["burn", "slake", "carbonate"]


def test_json_is_the_same_network(tmp_path):
    """JSON with lists or amounts, and its own shelf."""
    steps, _ = read_network(examples() / "lime.csv")
    path = tmp_path / "lime.json"
    path.write_text(json.dumps({
        "steps": [{"id": s.id, "reactants": dict(s.reactants), "products": list(s.products),
                   "cost": s.cost} for s in steps],
        "shelf": ["limestone", "fuel", "water"],
    }))  # fmt: skip
    found = find_in_network(path, "precipitated chalk")
    assert [r.cost for r in found.found.routes] == [8.0, 12.0]


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("a.csv", "x,y\n1,2\n", "no column 'id'"), ("a.csv", "id,reactants,products\n", "no steps"),
        ("a.csv", "id,reactants,products,cost\ns,a,b,-1\n", "a.csv:2"),
        ("a.csv", "id,reactants,products,cost\ns,a,b,cheap\n", "not a number"),
        ("a.csv", "id,reactants,products\ns,a,a\n", "makes nothing"),
        ("a.csv", "id,reactants,products\ns,a,b\ns,b,c\n", "used twice"),
        ("a.csv", "id,reactants,products\ns,0 a,b\n", "above 0"),
        ("a.json", "{", "not valid JSON"), ("a.json", "[]", "no list 'steps'"),
        ("a.json", '{"steps": [{}]}', "has no id"),
        ("a.json", '{"steps": [{"id": "s", "reactants": 3, "products": ["b"]}]}', "neither a list"),
        ("a.json", '{"steps": [{"id": "s", "reactants": ["a"], "products": {"b": "NaN"}}]}', "above 0"),
        ("a.txt", "", "cannot end in"),
    ],
)  # fmt: skip
def test_bad_networks(tmp_path, name, text, says):
    """File, line and what to do."""
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(RoutefinderError, match=says):
        find_in_network(path, "b", ["a"])


def test_names_that_are_not_there():
    """A slip in a name lists the closest; nothing at hand is said."""
    path = examples() / "lime.csv"
    with pytest.raises(InputError, match="closest names are slaked lime"):
        find_in_network(path, "slaked lim", ["limestone"])
    with pytest.raises(InputError, match="nothing is at hand"):
        find_in_network(path, "slaked lime")
    with pytest.raises(InputError, match="already at hand"):
        find_in_network(path, "limestone", ["limestone"])


def test_no_route_says_what_is_lacking():
    """The nearest route and what it lacks."""
    found = find_in_network(examples() / "lime.csv", "slaked lime", ["limestone", "water"])
    assert found.found.ending is Ending.NONE
    assert found.nearest.lacking in {("fuel",), ("quicklime",)}  # either one thing would do


def test_a_cobra_model_splits_its_reversible_reactions():
    """The textbook E. coli core model that ships with cobra (Orth et al. 2010)."""
    cobra = pytest.importorskip("cobra")
    steps, medium = steps_of_model(cobra.io.load_model("textbook"))
    assert any(s.id.endswith(" (back)") for s in steps)
    found = best_routes(steps, {*medium, "pep_c", "adp_c", "h_c"}, "pyr_c", 3)
    # pyruvate kinase (pep + adp + h -> pyr + atp), or the sugar uptake that spends pep
    assert {r.steps for r in found.routes} == {("PYK",), ("GLCpts",)}


def test_what_is_no_sbml_is_refused_before_its_reader_is_loaded(tmp_path):
    """No XML, another document, a document type with entities: at once, and cobra stays away."""
    import subprocess
    import sys

    path = tmp_path / "n.xml"
    bomb = "<!DOCTYPE sbml [" + "".join(
        f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 12)
    ) + "]><sbml>&e11;</sbml>"  # fmt: skip
    code = (
        "import sys\nfrom pathlib import Path\nfrom routefinder.graph import network_file as n\n"
        "try: n.read_network(Path(sys.argv[1]))\n"
        "except ValueError as error: print(error, 'cobra' in sys.modules)\n"
    )
    for text, said in (
        ("nonsense", "not XML"), ("<html/>", "outermost element is 'html'"), (bomb, "document type"),
        ("<sbml>", "not XML"), ("<sbml>" + "<a>" * 10_000, "not XML"),
    ):  # fmt: skip
        path.write_text(text, encoding="utf-8")
        done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True)
        assert said in done.stdout, (text[:40], done)
        assert done.stdout.strip().endswith("False")
