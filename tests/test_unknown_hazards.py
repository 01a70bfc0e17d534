"""Nothing weakens by accident: without data a substance counts as the cautious value."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.hazards import phrases, score
from routefinder.library.load import load
from routefinder.records.substance import Hazards
from routefinder.view import text

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, density: 1 g/mL, hazards: {statements: [], source: from memory}, sources: from memory}
- {id: lime, name: burnt lime, formula: CaO, HAZARDS sources: from memory}
- {id: slaked, name: slaked lime, formula: Ca(OH)2, hazards: {statements: [], source: from memory}, sources: from memory}
- {id: gas, name: strange gas, formula: N2H4O, GAS sources: from memory}
"""
MATERIALS = """\
- {id: tap, name: tap water, form: liquid, everywhere: true, contains: [{substance: water, strength: 100 %}], density: 1 g/mL, sources: from memory}
- {id: bag, name: bag of lime, form: solid, contains: [{substance: lime, strength: 90 %}], sources: from memory}
"""
STEP = """\
- id: slake
  title: Slake lime
  kind: grinding
  equation: CaO(s) + H2O(l) -> Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 60 degC}
  time: {hands_on: 1 h}
  sources: from memory
- id: puff
  title: Let off strange gas
  kind: grinding
  recipe: 10 lime(s) + 10 water(l) -> 5 slaked(s) + 5 gas(g)
  product: slaked
  limiting: lime
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 60 degC}
  time: {hands_on: 1 h}
  sources: from memory
"""
KNOWN = "hazards: {statements: [], source: from memory},"


@pytest.fixture
def library(make_library):
    def make(hazards="", gas=KNOWN):
        folder = make_library(
            substances=SUBSTANCES.replace("HAZARDS", hazards).replace("GAS", gas),
            materials=MATERIALS, steps=STEP,
        )  # fmt: skip
        loaded = load([folder])
        assert [str(f) for f in loaded.faults] == []
        return folder, loaded.library

    return make


@pytest.mark.parametrize(
    "hazards",
    ["", "hazards: {unknown: true},", "hazards: {},", "hazards: {statements: []},",
     "hazards: {note: asked nobody},", "hazards: {unknown: true, source: from memory},"],
)  # fmt: skip
def test_no_data_is_never_harmless(library, hazards):
    """Left out, said to be unknown, or empty without a source: the cautious values."""
    _, lib = library(hazards)
    found = score.profile(lib, lib.steps["slake"])
    for aspect, points in score.UNKNOWN.items():
        assert found[aspect].points >= points, aspect
    assert "no hazard data, counted cautiously" in found["toxic"].cause
    assert score.unknown_in(lib, lib.steps["slake"]) == ("burnt lime",)


def test_a_source_without_statements_is_harmless(library):
    """Somebody looked and found none: no points, not unknown."""
    _, lib = library(KNOWN)
    found = score.profile(lib, lib.steps["slake"])
    assert all(found[aspect].points == 0 for aspect in score.UNKNOWN)
    assert score.unknown_in(lib, lib.steps["slake"]) == ()


def test_unknown_is_not_below_any_single_known_harmless_reading(library):
    """Losing the data of a harmless substance never lowers a point."""
    _, known = library(KNOWN)
    _, lost = library("")
    before, after = (score.profile(x, x.steps["slake"]) for x in (known, lost))
    assert all(after[a].points >= before[a].points for a in score.ASPECTS)


@pytest.mark.parametrize(
    ("gas", "points"),
    [("", score.UNKNOWN_GAS), (KNOWN, 2),
     ("hazards: {statements: [H330], source: from memory},", 4),
     ("hazards: {statements: [H331], source: from memory},", 3),
     ("hazards: {statements: [H220], source: from memory},", 3)],
)  # fmt: skip
def test_gases(library, gas, points):
    """A gas that is not in the table: by its statements, at least 2; without data, cautious."""
    _, lib = library(KNOWN, gas)
    assert score.profile(lib, lib.steps["puff"])["gas"].points == points


def test_a_personal_library_without_data_says_so(library, capsys):
    """find names what has no data, in text and JSON, and the route carries the points."""
    folder, _ = library("")
    found = rf.find("slaked lime", "10 g", libraries=[folder], only_library=True)
    route = found.routes[0]
    assert route.assessment.hazards["toxic"][0] == score.UNKNOWN["toxic"]
    text.print_answer(found, text.console())
    assert "No hazard data, counted cautiously: burnt lime" in capsys.readouterr().out
    assert "burnt lime" in found.json()["routes"][0]["hazards_unknown"]
    assert "no hazard data: burnt lime" in route.dot().replace("<BR/>", " ").replace(
        '<BR ALIGN="LEFT"/>', " "
    )
    strict = rf.find(
        "slaked lime", "10 g", libraries=[folder], only_library=True, max_hazard={"toxic": 2}
    )
    assert strict.routes == ()


@given(st.from_regex(r"\A(H[2-4]\d\d|EUH[0-4]\d\d)\Z"))
def test_every_code_counts(code):
    """A statement that no table knows still counts; none is dropped in silence."""
    points = score.STATEMENTS.get(code) or score.STATEMENTS.get(code[:4]) or score.UNLISTED
    assert points[1] >= 1
    assert Hazards(statements=[code]).no_data is False


def test_every_worded_statement_is_in_the_table():
    """What can be read out has points of its own, or stands in the list without, with a reason."""
    for code in {**phrases.READ, **phrases.REMEMBERED}:
        known = code in score.STATEMENTS or code in score.WITHOUT_POINTS
        assert known or code[:4] in score.STATEMENTS, code
    assert all(score.WITHOUT_POINTS.values())


def test_strength_is_never_below_what_the_step_asks(shipped):
    """A weak bottle on the shelf does not make a strong acid mild."""
    for step in shipped.steps.values():
        for part in step.reactants:
            asked = step.strength.get(part.substance)
            if asked and part.state == "aq":
                root = shipped.root(part.substance)
                weak = score.profile(shipped, step, {root: 0.001})
                right = score.profile(shipped, step, {root: asked})
                assert weak == right, step.id


def test_a_product_is_not_diluted_by_the_shelf(shipped):
    """What a step makes counts as the pure substance, whatever weak bottle stands on the shelf."""
    for step in shipped.steps.values():
        taken = {shipped.root(p.substance) for p in step.reactants}
        taken |= {shipped.root(a.substance) for a in step.aids}
        roots = [
            shipped.root(p.substance)
            for p in step.products
            if shipped.root(p.substance) not in taken
        ]
        weak = score.profile(shipped, step, dict.fromkeys(roots, 0.001))
        assert weak == score.profile(shipped, step), step.id
