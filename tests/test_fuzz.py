"""Broken inputs at every door end in an answer or in an error of our own (``tests/fuzz``).

The longer runs: ``python tests/fuzz/fuzz.py --count 100000``, ``tests/fuzz/kills.py --kills 300``.
"""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent / "fuzz"))
import fuzz_cases
import kills

import routefinder
from routefinder import units
from routefinder.asking.network import find_in_network
from routefinder.chem import equation, formula
from routefinder.errors import InputError, RoutefinderError
from routefinder.graph.network import LEAST_COST, MOST_COST, PlainStep
from routefinder.search.best import best_routes
from routefinder.search.route import Ending

NAMES = (
    "quantity", "any quantity", "bench test", "calculator", "fraction", "formula", "equation", "name", "amount", "hazard", "table",
    "shelf", "yaml shelf", "bench", "yaml", "network", "json network", "targets", "journal",
)  # fmt: skip


@pytest.fixture(scope="module")
def doors(shipped, tmp_path_factory):
    """Every door, on the shipped library."""
    found = fuzz_cases.doors(shipped, tmp_path_factory.mktemp("fuzz"))
    assert set(found) == set(NAMES)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_a_few_cases_of_every_door(doors, name):
    """Forty of the cases of the longer run, always the same ones."""
    for number in range(40):
        said = ""
        try:
            doors[name](random.Random(f"{name} {number}"))
        except RoutefinderError as error:
            said = str(error)
        assert len(said) < 20_000, (name, number)


@given(st.text(max_size=60), st.sampled_from(sorted(units.CANONICAL)))
@settings(max_examples=300, derandomize=True)
def test_any_text_as_a_quantity(text, kind):
    """A finite number or a sentence of one line."""
    for read in (lambda: units.read(text, kind), lambda: units.read_any(text, (kind,))[0]):
        said, number = "", 0.0
        try:
            number = read()
        except RoutefinderError as error:
            said = str(error)
        assert abs(number) < float("inf")
        assert len(said) < 600


@pytest.mark.parametrize(
    "unit", ["g**9**9**9", "g^99", "g*" * 99 + "g", "g/0", "(g)", "g 2", "g;g", "1g"]
)
def test_no_unit_is_evaluated(unit, monkeypatch):
    """pint's evaluator is never asked, whatever is typed."""
    import pint

    def never(*_, **__):
        raise AssertionError("evaluated")

    units.registry()
    units._pint_factor.cache_clear()
    for name in ("parse_expression", "parse_units"):
        monkeypatch.setattr(pint.UnitRegistry, name, never)
    with pytest.raises(InputError):
        units.read_any(f"1 {unit}", ("mass", "volume"))


@pytest.mark.parametrize("text", ["²", "9" * 5000, "-1", "", "１"])
def test_whole_numbers(text):
    """What int cannot take, or nobody means, is none."""
    assert not units.is_whole(text)
    assert units.is_whole("12")


@given(
    st.lists(st.sampled_from([LEAST_COST, 1e-9, 1.0, 7.0, 1e12, MOST_COST]), min_size=4, max_size=4)
)
@settings(max_examples=60, derandomize=True)
def test_routes_of_any_cost_are_found(costs):
    """Two routes of two steps: both are found, whatever the costs."""
    a, b, c, d = costs
    steps = [PlainStep("a", ["x"], ["m"], a), PlainStep("b", ["m"], ["t"], b),
             PlainStep("c", ["x"], ["n"], c), PlainStep("d", ["n"], ["t"], d)]  # fmt: skip
    found = best_routes(steps, ["x"], "t", 5)
    assert {frozenset(r.steps) for r in found.routes} == {frozenset("ab"), frozenset("cd")}
    assert found.ending is Ending.ALL


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ({"steps": [{"id": "a", "reactants": ["x"], "products": ["t"], "cost": 1e307}]}, "must lie between"),
        ({"steps": [{"id": "a", "reactants": ["x"], "products": ["t"], "price": 3}]}, "unknown field 'price'"),
        ({"steps": [{"id": "a", "reactants": [{"name": "x"}], "products": ["t"]}]}, "is not a name"),
        ({"steps": [{"id": "a", "reactants": ["x"], "products": ["t"]}], "shelf": [{"x": 1}]}, r"shelf\[0\]"),
        ({"steps": [{"id": None, "reactants": ["x"], "products": ["t"]}]}, "is not a name"),
        ({"steps": [{"id": "a", "reactants": {"x": True}, "products": ["t"]}]}, "above 0"),
        ({"steps": [], "stesp": []}, "unknown field"),
    ],
)  # fmt: skip
def test_networks_that_would_mislead(tmp_path, content, says):
    """Refused, never read as something else."""
    path = tmp_path / "n.json"
    path.write_text(json.dumps(content))
    with pytest.raises(InputError, match=says):
        find_in_network(path, "t", ["x"])


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ('{"steps": [{"id": "a", "reactants": ["x"], "products": {"t": %s}}]}' % ("9" * 5000), "above 0"),
        ("[" * 100_000, "nested too deeply|no list 'steps'|not valid JSON"),
        ('{"steps": ' + "[" * 50_000 + "]" * 50_000 + "}", "nested too deeply"),
        ('{"steps": [], "steps": []}', "stands twice"),
    ],
    ids=["digits", "open", "deep", "twice"],
)  # fmt: skip
def test_json_that_would_break_a_reader(tmp_path, content, says):
    """5,000 digits, deep nesting, repeated keys."""
    path = tmp_path / "n.json"
    path.write_text(content)
    with pytest.raises(InputError, match=says) as caught:
        find_in_network(path, "t", ["x"])
    assert len(str(caught.value)) < 1500


@pytest.mark.parametrize(
    ("heading", "cost", "says"),
    [("id,reactants,products,price", "3", "unknown column 'price'"),
     ("id,reactants,products,cost", "1e307", "must lie between"),
     ("id,reactants,products,cost", "9" * 5000, "above 0")],
)  # fmt: skip
def test_csv_networks_that_would_mislead(tmp_path, heading, cost, says):
    """The same for CSV; a field over 128 kB is a fault with its place."""
    path = tmp_path / "n.csv"
    path.write_text(f"{heading}\na,x,t,{cost}\n")
    with pytest.raises(InputError, match=says):
        find_in_network(path, "t", ["x"])
    path.write_text(f"id,reactants,products\na,{'x' * 200_000},t\n")
    with pytest.raises(InputError, match=r"n\.csv:2:3: the cell has 200,000 characters"):
        find_in_network(path, "t", ["x"])


ENDLESS = "1 " + "x " * 100_000


@pytest.mark.parametrize(
    "read",
    [units.read_fraction, lambda t: units.read(t, "mass"),
     lambda t: units.read_any(t, ("mass", "volume")), equation.parse, formula.parse,
     lambda t: routefinder.find(t), lambda t: routefinder.find("CuO", t),
     lambda t: routefinder.find("CuO", shelf=[t]), lambda t: routefinder.find("CuO", by=t)],
)  # fmt: skip
def test_no_sentence_is_endless(read):
    """What was given is quoted in part, whoever calls; both ends of the sentence are there."""
    with pytest.raises(RoutefinderError) as caught:
        read(ENDLESS)
    assert 0 < len(str(caught.value)) < 3_000


def test_a_few_kills_between_journal_and_shelf(tmp_path, monkeypatch):
    """Three of the longer run's: nothing acknowledged is lost, journal and shelf agree."""
    monkeypatch.setenv("ROUTEFINDER_JOURNAL", "")  # the loop sets its own; put back afterwards
    found = kills.loop(tmp_path, 3)
    assert found.whole, found
    assert found.kept >= found.acknowledged
    assert found.kept > 1
