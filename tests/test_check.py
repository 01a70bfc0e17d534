"""`check` finds every fault in one pass; each rule has a case that trips it, with its place."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from routefinder.cli.main import app
from routefinder.library.check import check

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, sources: from memory}
- {id: lime, name: calcium oxide, formula: CaO, sources: from memory}
- {id: slaked-lime, name: calcium hydroxide, formula: Ca(OH)2, sources: from memory}
"""
STEP = """\
- id: slake
  title: Slake lime
  kind: hydration
  equation: CaO(s) + H2O(l) -> Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 50 degC}
  time: {hands_on: 1 h}
  sources: common practice
"""


def run(make_library, step=STEP, substances=SUBSTANCES, **more):
    return check([make_library(steps=step, substances=substances, **more)])


def test_a_good_library_has_no_faults(make_library):
    """An empty list when all is well."""
    assert run(make_library) == []


@pytest.mark.parametrize(
    ("old", "new", "line", "says", "remedy"),
    [
        ("CaO(s) + H2O(l)", "2 CaO(s) + H2O(l)", 4, "does not balance: Ca 1 too many on the left",
         "CaO(s) + H2O(l) -> Ca(OH)2(s)"),
        ("+ H2O(l)", "+ H3O(l)", 4, "no substance has the id or formula 'H3O'", ""),
        ("product: Ca(OH)2", "product: MgO", 5, "does not stand in the equation", ""),
        ("sources: common practice", "notes: none", 1, "has no source", "honesty mark"),
        ("low: 90 %", "low: 190 %", 7, "above 0 and up to 1", ""),
        ("low: 90 %", "low: 97 %", 7, "out of order", ""),
        ("low: 20 degC", "low: 20", 8, "has no unit", ""),
        ("low: 20 degC", "low: 20 g", 8, "not a temperature unit", ""),
        ("low: 20 degC", "low: 90 degC", 8, "above high", ""),
        ("hands_on: 1 h", "hands_on: 1 h, waitng: 2 h", 9, "unknown field 'waitng'", "'waiting'"),
        ("  title: Slake lime\n", "", 1, "'title' is missing", ""),
        ("kind: hydration", "kind: magic", 3, "'magic' is not one of", ""),
        ("  sources:", "  equipment: [flter]\n  sources:", 10, "unknown capability 'flter'", ""),
        ("  sources:", "  equipment: [vessel: {made_of: [wood]}]\n  sources:", 10,
         "unknown vessel material 'wood'", ""),
        ("  limiting: CaO", "  limiting: CaO\n  limiting: H2O", 7,
         "'limiting' stands twice (first at line 6)", "Keep one"),
        ("sources: common practice", "sources: invented", 1, "invented data", "examples/"),
        ("sources: common practice", "sources: a book", 10, "not an honesty mark", ""),
        ("sources: common practice", "sources: published", 10, "must say which", ""),
        ("Ca(OH)2(s)\n", "Ca(OH)2\n", 4, "has no state", ""),
        ("low: 20 degC, high: 50 degC", "low: 200 degC, high: 500 degC", 1, "names no heat", ""),
        ("  sources:", "  excess: {CaO: 10 %}\n  sources:", 10, "limiting reactant has an excess",
         ""),
        ("  sources:", "  recovered: {Ca(OH)2: 50 %}\n  sources:", 10,
         "main product is listed as recovered", ""),
        ("- id: slake", "- id: Slake It", 1, "is not an id", "Correct"),
    ],
)  # fmt: skip
def test_each_fault_with_its_place(make_library, old, new, line, says, remedy):
    """File, line, what is wrong, what to do."""
    assert old in STEP
    faults = run(make_library, STEP.replace(old, new, 1))
    assert faults, "no fault was found"
    hit = [f for f in faults if says in f.what]
    assert hit, [str(f) for f in faults]
    assert hit[0].line == line, hit[0]
    assert hit[0].path.endswith("steps/test.yaml")
    assert remedy in hit[0].remedy


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("- {id: zinc, name: zinc, formula: Zn, sources: from memory}", "no step and no material"),
        ("- {id: water, name: water again, formula: H2O, sources: from memory}", "used twice"),
        ("- {id: ice, name: ice, formula: H2O, cas: 7732-81-5, sources: from memory}", "CAS number"),
        ("- {id: zn, name: zinc, formula: Zx, sources: from memory}", "no element 'Zx'"),
        ("- {id: limehydrate, name: x, formula: CaO·H2O, hydrate_of: water, sources: from memory}",
         "is not H2O with crystal water"),
        ("- {id: limehydrate, name: x, formula: CaO·H2O, hydrate_of: lme, sources: from memory}",
         "no substance 'lme'"),
        ("- {id: zn, name: zinc, formula: Zn, hazards: {statements: [H31]}, sources: from memory}",
         "not a GHS statement"),
        ("- {id: zn, name: zinc, formula: Zn, hazards: {statements: [H314]}, sources: from memory}",
         "have no source"),
        ("- {id: a, name: &x alias, sources: from memory}\n- {id: b, name: *x, sources: from memory}",
         ""),
    ],
)  # fmt: skip
def test_substance_faults(make_library, extra, says):
    """Faults of substances, orphans and repeated ids included."""
    faults = run(make_library, substances=SUBSTANCES + extra + "\n")
    assert any(says in f.what for f in faults), [str(f) for f in faults]


def test_yaml_traps(make_library):
    """NO stays text, a broken file is one fault with its line, and the others are still checked."""
    folder = make_library(steps=STEP, substances=SUBSTANCES)
    (folder / "substances" / "bad.yaml").write_text("- id: x\n  name: [oops\n", encoding="utf-8")
    (folder / "stray.yaml").write_text("[]", encoding="utf-8")
    faults = check([folder])
    assert any("not valid YAML" in f.what and f.line for f in faults)
    assert any("not read" in f.what for f in faults)
    nitric = (
        SUBSTANCES
        + "- {id: nitric-oxide, name: NO, names: [off, yes, 1e3], formula: NO, sources: from memory}\n"
    )
    from routefinder.library.load import load

    loaded = load([make_library("other", steps=STEP, substances=nitric)])
    record = loaded.library.substances["nitric-oxide"]
    assert record.name == "NO"
    assert record.names == ("off", "yes", "1e3")
    assert record.formula == "NO"


def test_all_faults_in_one_pass(make_library):
    """Three faults in one entry and one in another are all reported."""
    bad = STEP.replace("low: 90 %", "low: 190 %").replace("kind: hydration", "kind: magic")
    bad += STEP.replace("id: slake", "id: other").replace("H2O(l)", "H4O(l)")
    assert len(run(make_library, bad)) >= 2


def test_own_reactant_is_a_fault(make_library):
    """A step may not make what it takes in the same form."""
    bad = STEP.replace(
        "CaO(s) + H2O(l) -> Ca(OH)2(s)", "CaO(s) + H2O(l) -> CaO(s) + H2O(l)"
    ).replace("product: Ca(OH)2", "product: CaO")
    assert any("makes its own reactant" in f.what for f in run(make_library, bad))


def test_replacing_must_be_said(make_library):
    """A personal record replaces a shipped one only by saying so."""
    first = make_library("first", steps=STEP, substances=SUBSTANCES)
    second = make_library("second", steps=STEP.replace("typical: 95 %", "typical: 94 %"))
    faults = check([first, second])
    assert any("used twice" in f.what and "replaces: true" in f.remedy for f in faults)
    (second / "steps" / "test.yaml").write_text(
        STEP.replace("typical: 95 %", "typical: 94 %") + "  replaces: true\n", encoding="utf-8"
    )
    assert check([first, second]) == []


def test_command_exit_codes_and_json(make_library):
    """Exit 0 when clean, 1 with faults; --json gives every part of a fault."""
    good = make_library("good", steps=STEP, substances=SUBSTANCES)
    runner = CliRunner()
    faulty = make_library("bad", steps=STEP.replace("2O(l)", "9O(l)"), substances=SUBSTANCES)
    # ids clash with the shipped library, so check the folder's own faults only
    done = runner.invoke(app, ["check", str(faulty), "--json"])
    assert done.exit_code == 1
    rows = json.loads(done.stdout)["faults"]
    assert {"path", "line", "column", "field", "what", "remedy", "rule"} <= set(rows[0])
    assert good.is_dir()


def test_shipped_library_has_no_faults():
    """The library that ships passes its own check."""
    from routefinder.library.where import shipped_library

    assert [str(f) for f in check([shipped_library()])] == []
