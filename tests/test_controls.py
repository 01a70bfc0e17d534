"""Lawful but controlled: flagged with list and limit, by strength; --no-licence keeps its reasons."""

from __future__ import annotations

import json

import pytest

import routefinder as rf
from routefinder.hazards import controls
from routefinder.library import shelf as shelves

TARGET = "copper(II) sulfate pentahydrate"


@pytest.mark.parametrize(
    ("substance", "limit", "list_"),
    # Regulation (EU) 2019/1148 Annex I; Poisons Act 1972 as amended by SI 2023/63 reg. 8
    [("hydrogen-peroxide", 0.12, "Regulation (EU)"), ("sulfuric-acid", 0.15, "Regulation (EU)"),
     ("hydrogen-chloride", 0.10, "UK Poisons"), ("phosphoric-acid", 0.30, "UK Poisons")],
)  # fmt: skip
def test_limits_apply_to_the_strength(shipped, substance, limit, list_):
    """At the limit it is lawful, above it is not, without a strength nobody knows."""

    def over(strength):
        found = controls.flags(shipped, substance, strength)
        return [o for hit, o in found if hit.list.startswith(list_)]

    assert over(limit) == [False]
    assert over(limit + 1e-4) == [True]
    assert over(None) == [None]


def test_a_limit_by_element():
    """16 % of nitrogen from ammonium nitrate is 45.7 % of the salt (N is 35.0 % of NH4NO3)."""
    from routefinder.library import regulated

    hits = [h for h in regulated.verdict("ammonium nitrate").flags if h.limit is not None]
    assert {h.list[:2] for h in hits} == {"Re", "UK"}
    assert all(h.limit == pytest.approx(0.457, abs=5e-4) for h in hits)


def test_flags_without_a_limit_are_shown(shipped):
    """A drug precursor of Table II: no strength below which it does not matter."""
    found = controls.flags(shipped, "acetone", 0.01)
    assert [over for hit, over in found if hit.part == "Table II"] == [None]


def test_materials_that_need_a_licence(shipped):
    """By the strength on the label, whatever the material is called."""
    needing = {
        m.id for m in shipped.materials.values() if controls.licence_for(shipped, shelves.supply(m))
    }
    for m in shipped.materials.values():
        strong = (
            m.fractions.get("sulfuric-acid", 0) > 0.15
            or m.fractions.get("hydrogen-peroxide", 0) > 0.12
        )
        strong = strong or m.fractions.get("hydrogen-chloride", 0) > 0.10
        strong = strong or m.fractions.get("phosphoric-acid", 0) > 0.30
        assert (m.id in needing) == strong, m.id
    assert needing


@pytest.fixture(scope="module")
def free():
    return rf.find(TARGET, "100 g", top=10)


def test_routes_say_what_is_controlled(free):
    """List, limit, strength, date and source; the steps that meet it; every node is looked at."""
    licensed = [r for r in free.routes if r.assessment.licensed]
    assert licensed
    for route in licensed:
        for c in route.assessment.licensed:
            assert c.strength > c.hit.limit
            assert c.steps
            assert c.hit.date
            assert c.hit.source
    for route in free.routes:
        nodes = {p.substance for s in route.assessment.steps for p in (*s.reactants, *s.products)}
        seen = {c.substance for c in route.assessment.controlled}
        if "sulfuric-acid" in nodes:
            assert "sulfuric-acid" in seen


def test_no_licence_sets_aside_with_the_reason(free):
    """No route takes a licensed material; the note and the reasons name them."""
    found = rf.find(TARGET, "100 g", top=10, no_licence=True)
    assert found.question.limits.no_licence
    assert found.routes
    assert not any(r.assessment.licensed for r in found.routes)
    assert any("--no-licence" in note and "battery acid" in note for note in found.notes)
    kept = {frozenset(r.ids) for r in free.routes if not r.assessment.licensed}
    assert kept <= {frozenset(r.ids) for r in found.routes}


def test_a_step_that_only_licensed_materials_serve(tmp_path):
    """Then the step is set aside, with material, strength, limit and list."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text('material\nblack copper oxide\n"sulfuric acid, 96 %"\n', encoding="utf-8")
    free = rf.find(TARGET, "100 g", shelf=shelf)
    assert free.routes
    found = rf.find(TARGET, "100 g", shelf=shelf, no_licence=True)
    assert found.routes == ()
    reasons = [a for a in found.aside if a.limit == "no-licence"]
    assert found.why_none.aside
    assert all(
        a.reason == "takes sulfuric acid, 96 %: sulfuric acid of 96 % is above the limit of 15 % "
        "(Regulation (EU) 2019/1148, Annex I), so it needs a licence"
        for a in reasons
    )  # fmt: skip


@pytest.fixture
def said(call):
    """The command line: exit code, and the output in one line."""

    def run(*words):
        code, out, _ = call(*words)
        return code, " ".join(out.split())

    return run


def test_text_and_json(said, tmp_path):
    """find, draw and look say it; --no-licence goes with find and draw."""
    code, out = said("find", TARGET)
    assert code == 0
    assert "Controlled substances; check your country:" in out
    assert (
        "Regulation (EU) 2019/1148, Annex I, 96 % is above the limit of 15 %; needs a licence"
        in out
    )
    assert "need a licensed material in some country" in out
    code, out = said("find", TARGET, "--no-licence")
    assert "without licensed materials" in out
    assert "need a licensed material in some country" not in out
    code, out = said("find", TARGET, "--json", "--no-licence")
    data = json.loads(out)
    assert data["question"]["limits"]["no_licence"] is True
    assert not any(c["needs_licence"] for r in data["routes"] for c in r["controlled"])
    pytest.importorskip("graphviz")
    code, out = said("draw", TARGET, "-o", tmp_path / "x.dot", "--route", "1")
    assert code == 0
    assert "Controlled substances" in out
    code, out = said("draw", TARGET, "-o", tmp_path / "y.dot", "--no-licence")
    assert code == 0
    assert "needs a licence" not in out
    code, out = said("look", "battery acid, 37 %")
    assert "above the limit of 15 %, needs a licence there; check your country" in out
    code, out = said("look", "acetone", "--json")
    rows = json.loads(out)["control_lists"]
    assert {r["part"] for r in rows} == {"Annex II", "Table II"}
    assert all(r["date"] and r["source"] for r in rows)


def test_below_the_limit_is_not_shouted(said, studio):
    """Peroxide of 3 % is lawful everywhere in the lists: the first route of the demo has no such line."""
    found = rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"],
    )  # fmt: skip
    rows = [c for r in found.routes for c in r.assessment.controlled]
    assert any(c.substance == "hydrogen-peroxide" and c.over is False for c in rows)
    assert not any(c.matters for c in rows if c.substance == "hydrogen-peroxide")
    first = found.routes[0].assessment
    assert not any(c.matters for c in first.controlled)
