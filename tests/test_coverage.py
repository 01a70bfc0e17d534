"""`check --coverage`: targets are matched, routes counted, really different ones told apart."""

from __future__ import annotations

import io
import json

import pytest

from routefinder.asking import answering
from routefinder.asking.coverage import coverage, match, read_targets
from routefinder.asking.question import read_question
from routefinder.choice import variety
from routefinder.choice.variety import Way
from routefinder.cli.progress import Ticker
from routefinder.errors import FileFault, InputError, LibraryFaults, Refused
from routefinder.library.load import load
from routefinder.results.covered import Target

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, density: 1 g/mL, sources: from memory}
- {id: chalk, name: calcium carbonate, formula: CaCO3, cas: 471-34-1, sources: from memory}
- {id: burnt-lime, name: calcium oxide, formula: CaO, sources: from memory}
- {id: slaked-lime, name: calcium hydroxide, names: [lime], formula: Ca(OH)2, cas: 1305-62-0, sources: from memory}
- {id: chloride, name: calcium chloride, names: [lime], formula: CaCl2, sources: from memory}
- {id: chloride-dihydrate, name: calcium chloride dihydrate, formula: CaCl2·2H2O, hydrate_of: chloride, sources: from memory}
- {id: lye, name: sodium hydroxide, formula: NaOH, sources: from memory}
- {id: salt, name: sodium chloride, formula: NaCl, sources: from memory}
- {id: carbon-dioxide, name: carbon dioxide, formula: CO2, sources: from memory}
- {id: butyl-acetate, name: butyl acetate, formula: C6H12O2, cas: 123-86-4, sources: from memory}
- {id: gold, name: gold, formula: Au, sources: from memory}
"""
MATERIALS = """\
- {id: tap, name: tap water, form: liquid, everywhere: true, contains: [{substance: water, strength: 100 %}], density: 1 g/mL, sources: from memory}
- {id: whiting, name: whiting, form: solid, contains: [{substance: chalk, strength: 95 %}], sources: from memory}
- {id: quicklime, name: quicklime, form: solid, contains: [{substance: burnt-lime, strength: 90 %}], sources: from memory}
- {id: prill, name: prill, form: solid, contains: [{substance: chloride, strength: 95 %}], sources: from memory}
- {id: flakes, name: flakes, form: solid, contains: [{substance: chloride-dihydrate, strength: 95 %}], sources: from memory}
- {id: drain, name: drain opener, form: solid, contains: [{substance: lye, strength: 98 %}], sources: from memory}
"""
STEP = """\
- id: {id}
  title: {title}
  kind: {kind}
  equation: {equation}
  product: {product}
  limiting: {limiting}
  yield: {{low: 80 %, typical: 90 %, high: 95 %, basis: dry, source: common practice}}
  temperature: {{low: {low} degC, high: {high} degC}}
  time: {{hands_on: 1 h}}
  equipment: [{equipment}]
  sources: common practice
"""


def step(id, title, kind, equation, product, limiting, window="20 50", equipment="stir"):
    low, high = window.split()
    return STEP.format(id=id, title=title, kind=kind, equation=equation, product=product,
                       limiting=limiting, low=low, high=high, equipment=equipment)  # fmt: skip


STEPS = "".join(
    [
        step("burn", "Burn chalk", "burning", "CaCO3(s) -> CaO(s) + CO2(g)", "CaO", "CaCO3",
             "850 950", "{heat-dry: {to: 900 degC}}"),
        step("slake", "Slake", "hydration", "CaO(s) + H2O(l) -> Ca(OH)2(s)", "Ca(OH)2", "CaO"),
        step("slake-slowly", "Slake in the cold", "hydration", "CaO(s) + H2O(l) -> Ca(OH)2(s)",
             "Ca(OH)2", "CaO", "20 20"),
        step("throw-down", "Throw down with lye", "precipitation",
             "CaCl2(aq) + 2 NaOH(aq) -> Ca(OH)2(s) + 2 NaCl(aq)", "Ca(OH)2", "CaCl2"),
        step("throw-down-flakes", "Stir flakes into lye", "precipitation",
             "CaCl2·2H2O(s) + 2 NaOH(aq) -> Ca(OH)2(s) + 2 NaCl(aq) + 2 H2O(l)", "Ca(OH)2",
             "CaCl2·2H2O"),
    ]
)  # fmt: skip
TARGETS = """\
no,name,formula,cas,why
1,Slaked lime,Ca(OH)2,1305-62-0,mortar
2,calcium oxide (quicklime),CaO,,
3,Nugget,Au,,wealth
4,Ethyl butyrate,C6H12O2,105-54-4,"a smell, of pineapple"

5,Phlogiston,,none,
"""
BENCH = "- {name: stick, offers: [stir]}\n- {name: hotplate, offers: [heat-dry: {to: 300 degC}]}\n"


@pytest.fixture
def folder(make_library):
    return make_library(substances=SUBSTANCES, materials=MATERIALS, steps=STEPS)


@pytest.fixture
def library(folder):
    loaded = load([folder])
    assert [str(f) for f in loaded.faults] == []
    return loaded.library


@pytest.fixture
def files(tmp_path):
    """The list of targets and a bench without a kiln."""
    (tmp_path / "targets.csv").write_text(TARGETS, encoding="utf-8")
    (tmp_path / "bench.yaml").write_text(BENCH, encoding="utf-8")
    return tmp_path


@pytest.fixture
def check(call):
    """Run `check`; returns (exit code, stdout, stderr)."""
    return lambda *words: call("check", *words)


def test_counts_worked_by_hand(library, files):
    """Slaked lime: six step sets, of which three are really different.

    Quicklime slaked (two ways of slaking: one), chalk burnt and slaked (again one), and calcium
    chloride thrown down, whatever its crystal water.
    """
    found = coverage(library, read_targets(files / "targets.csv"))
    lime, oxide, gold, butyrate, phlogiston = found.rows
    assert (lime.substance, lime.matched_by) == ("slaked-lime", "cas")
    assert (lime.routes, lime.different, lime.more) == (6, 3, False)
    assert lime.steps == 1
    assert (lime.yield_low, lime.yield_typical, lime.yield_high) == pytest.approx((0.8, 0.9, 0.95))
    assert lime.why == ""
    assert (oxide.substance, oxide.matched_by) == ("burnt-lime", "name")
    assert (oxide.routes, oxide.different) == (1, 1)
    assert (gold.substance, gold.matched_by, gold.routes) == ("gold", "formula", 0)
    assert gold.steps is gold.yield_typical is None
    assert "No step in the library makes gold" in gold.why
    assert butyrate.substance is None
    assert "its formula is that of butyl acetate, its CAS number is not" in butyrate.why
    assert "no substance of the library" in phlogiston.why
    assert (found.known, found.with_route, found.with_two) == (3, 2, 1)


def test_ways(library):
    """Forms of one substance and ways of one change do not tell routes apart; a start does."""
    answer = answering.answer(library, read_question(library, "slaked-lime", "100 g", top=25))
    found = {frozenset(r.ids): variety.way(library, r.assessment) for r in answer.routes}
    empty = frozenset()
    assert found == {
        frozenset({"slake"}): Way(empty, frozenset({"burnt-lime"}), False),
        frozenset({"slake-slowly"}): Way(empty, frozenset({"burnt-lime"}), False),
        frozenset({"burn", "slake"}): Way(frozenset({"burnt-lime"}), frozenset({"chalk"}), False),
        frozenset({"burn", "slake-slowly"}): Way(
            frozenset({"burnt-lime"}), frozenset({"chalk"}), False
        ),
        frozenset({"throw-down"}): Way(empty, frozenset({"chloride"}), False),
        frozenset({"throw-down-flakes"}): Way(empty, frozenset({"chloride"}), False),
    }
    leads = {r.number: r.variant_of for r in answer.routes}
    for route in answer.routes:
        same = [
            r.number
            for r in answer.routes
            if found[frozenset(r.ids)] == found[frozenset(route.ids)]
        ]
        assert leads[route.number] == (None if route.number == same[0] else same[0])


@pytest.mark.parametrize("order", ["balanced", "cost"])
def test_different_gives_the_best_of_each_way(library, order):
    """``--different``: exactly the first route of every way, by any order."""
    every = answering.answer(
        library, read_question(library, "slaked-lime", "100 g", top=25, by=order)
    )
    few = answering.answer(
        library, read_question(library, "slaked-lime", "100 g", top=25, by=order, different=True)
    )
    expected = [r for r in every.routes if r.variant_of is None]
    assert [r.cost for r in few.routes] == pytest.approx([r.cost for r in expected])
    ways = [variety.way(library, r.assessment) for r in few.routes]
    assert set(ways) == {variety.way(library, r.assessment) for r in every.routes}
    assert len(ways) == len(set(ways)) == 3


def test_top_cuts_and_says_so(library):
    """A count that was cut says that more exist."""
    row = coverage(library, [Target("slaked-lime")], top=2).rows[0]
    assert (row.different, row.more) == (2, True)
    assert row.routes == 3  # a variant was met on the way
    with pytest.raises(InputError, match="at least one route"):
        coverage(library, [Target("slaked-lime")], top=0)


def test_bench_sets_routes_aside_and_says_why(library, files):
    """Without a kiln no chalk is burnt."""
    found = coverage(library, read_targets(files / "targets.csv"), bench=files / "bench.yaml")
    lime, oxide = found.rows[:2]
    assert (lime.routes, lime.different) == (4, 2)
    assert oxide.routes == 0
    assert "Burn chalk: needs to heat a dry solid to 850 °C; hotplate can" in oxide.why


def test_from_a_shelf(library, files):
    """What is at hand is not made: only chalk on the shelf, only burning it is left."""
    (files / "shelf.csv").write_text("material\nwhiting\n", encoding="utf-8")
    found = coverage(library, read_targets(files / "targets.csv"), shelf=files / "shelf.csv")
    lime, oxide = found.rows[:2]
    assert (lime.routes, lime.different) == (2, 1)
    assert oxide.routes == 1
    assert found.shelf == f"the shelf {files / 'shelf.csv'}"


def test_from_some_shops(make_library, files):
    """Only what the named places sell can be bought; an unknown place is refused with a list."""
    sold = MATERIALS.replace("{id: quicklime,", "{id: quicklime, where: [Builder],")
    sold = sold.replace("{id: drain,", "{id: drain, where: [grocery, builder],")
    loaded = load([make_library(substances=SUBSTANCES, materials=sold, steps=STEPS)])
    targets = read_targets(files / "targets.csv")
    found = coverage(loaded.library, targets, places=["builder "])
    assert [(row.routes, row.different) for row in found.rows[:2]] == [(2, 1), (0, 0)]
    assert found.shelf == "these shops: builder"
    with pytest.raises(InputError, match=r"sold at 'moon'; places are: builder, grocery$"):
        coverage(loaded.library, targets, places=["moon"])
    with pytest.raises(InputError, match="shelf and shop do not go together"):
        coverage(loaded.library, targets, places=["builder"], shelf=files / "shelf.csv")


def test_shop_and_shelf_in_a_terminal(check, folder, files):
    """The totals say where the materials come from; both options need --coverage."""
    (files / "shelf.csv").write_text("material\nwhiting\n", encoding="utf-8")
    given = (folder, "--only-library", "--coverage", files / "targets.csv")
    code, out, _ = check(*given, "--shelf", files / "shelf.csv")
    assert code == 0
    assert "have a route from the shelf " in " ".join(out.split())
    code, _, err = check(*given, "--shop", "moon")
    assert code == 2
    assert "nothing in the library is sold at 'moon'" in err
    for option in ("--shelf", "--shop"):
        code, _, err = check(folder, option, files / "shelf.csv")
        assert code == 2
        assert "go with --coverage FILE" in err


def test_a_refused_target_is_a_row(library, monkeypatch):
    """A target that is refused is reported, and the others are still counted."""
    real = read_question

    def refuse(lib, name, *rest, **more):
        if name == "gold":
            raise Refused("not this one")
        return real(lib, name, *rest, **more)

    monkeypatch.setattr("routefinder.asking.coverage.read_question", refuse)
    gold, oxide = coverage(library, [Target("gold"), Target("calcium oxide")]).rows
    assert (gold.substance, gold.why) == ("gold", "not this one")
    assert oxide.routes == 1


@pytest.mark.parametrize(
    ("target", "id_", "by", "remark"),
    [
        (Target("what I call it", "NaCl", "471-34-1"), "chalk", "cas", "formula CaCO₃"),
        (Target("gold", "CaO", ""), "gold", "name", "formula Au"),
        (Target("calcium carbonate", "CaCO3", "1305-62-0"), "slaked-lime", "cas", "Ca(OH)₂"),
        (Target("calcium carbonate", "", "7440-57-5"), "chalk", "name", "CAS number 471-34-1"),
        (Target("Calcium  Carbonate (chalk)", "CaCO3", "no number"), "chalk", "name", ""),
        (Target("table salt", "NaCl", ""), "salt", "formula", ""),
        (Target("table salt", "NaCl", "7647-14-5"), "salt", "formula", ""),
        (Target("lime", "CaCl2", ""), "chloride", "name", ""),
        (Target("lime", "", ""), None, "name", "may mean several substances"),
        (Target("x", "CaCl2·2H2O", ""), "chloride-dihydrate", "formula", ""),
        (Target("x", "not a formula", ""), None, "", "no substance of the library"),
    ],
)  # fmt: skip
def test_match(library, target, id_, by, remark):
    """CAS number before name before formula; what disagrees is remarked."""
    found = match(library, target)
    assert (found.id, found.by) == (id_, by)
    assert remark in found.remark
    if not remark:
        assert found.remark == ""


def test_table_and_totals(check, folder, files):
    """The table, the totals, silence on stderr, exit code 0."""
    code, out, err = check(
        folder, "--only-library", "--coverage", files / "targets.csv", "--bench",
        files / "bench.yaml", "--top", 2,
    )  # fmt: skip
    assert (code, err) == (0, "")
    flat = " ".join(out.split())
    assert "1 Slaked lime Ca(OH)₂ 3+ 2+ " in flat
    assert "2 calcium oxide (quicklime) CaO 0 0 - - There are routes from this shelf" in flat
    assert "3 of 5 are in the library." in flat
    assert "1 of 5 has a route from every shop on the bench" in flat
    assert "the best 2 ways are counted" in flat


def test_json(check, folder, files):
    """The same for machines."""
    code, out, _ = check(folder, "--only-library", "--coverage", files / "targets.csv", "--json")
    assert code == 0
    found = json.loads(out)
    assert found["schema"] == "routefinder/coverage/1"
    assert found["totals"] == {
        "targets": 5, "in_library": 3, "with_route": 2, "with_two_really_different": 1,
        "refused": 0,
    }  # fmt: skip
    assert found["targets"][0]["target"]["name"] == "Slaked lime"
    assert found["targets"][0]["different"] == 3


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("", FileFault, "names no column 'name' and no column 'formula' and no column 'cas'"),
        ("name,cas\nx,y\n", FileFault, "targets.csv:1: the heading line names no column 'formula'"),
        ("name,formula,cas\n\n , ,\n", FileFault, "the list is empty"),
        ("name,formula,cas\nx,y,z,more\n", LibraryFaults, "targets.csv:2:7: the line has more cells"),
        ("name,formula,cas\na,,\n,CaO,\n", LibraryFaults, "targets.csv:3:1: name: the target has no name"),
    ],
)  # fmt: skip
def test_faults_of_the_list(tmp_path, text, error, says):
    """A list that cannot be used is refused with line and reason."""
    path = tmp_path / "targets.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(error) as caught:
        read_targets(path)
    assert says in str(caught.value)


def test_list_as_spreadsheets_write_it(tmp_path):
    """A byte order mark, capitals, another order of columns, quoted commas."""
    path = tmp_path / "targets.csv"
    path.write_text(
        '\ufeffCAS, Formula ,NAME\r\n471-34-1,CaCO3,"chalk, soft"\r\n', encoding="utf-8"
    )
    assert read_targets(path) == (Target("chalk, soft", "CaCO3", "471-34-1"),)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--coverage", "nowhere.csv"], "there is no such file"),
        (["--bench", "bench.yaml"], "go with --coverage FILE"),
        (["--top", "3"], "go with --coverage FILE"),
        (["--only-library"], "go with --coverage FILE"),
        (["--only-library", "--coverage", "targets.csv"], "leaves no library"),
    ],
)
def test_bad_options(check, words, says):
    """One sentence, exit code 2."""
    code, out, err = check(*words)
    assert (code, out) == (2, "")
    assert says in err


class Tty(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        return True


@pytest.mark.parametrize("kind", [io.StringIO, Tty])
def test_progress(kind):
    """Silent within the first second; then a line a second; a terminal is wiped at the end."""
    now = [0.0]
    out = kind()
    ticker = Ticker(out, lambda: now[0])

    def report(done, total, name):
        ticker.say(f"{done} of {total} done; now {name}")

    for i, at in enumerate((0.0, 0.5, 0.9)):
        now[0] = at
        report(i, 9, "early")
    assert out.getvalue() == ""
    for i, at in enumerate((1.2, 1.4, 1.9, 2.5), start=3):
        now[0] = at
        report(i, 9, f"target {at}")
    text = out.getvalue()
    assert "3 of 9 done; now target 1.2" in text
    assert "1.4" not in text
    assert "1.9" not in text
    assert "6 of 9 done; now target 2.5" in text
    ticker.wipe()
    end = out.getvalue()[len(text) :]
    assert end.strip() == ""
    assert (end != "") == out.isatty()


def test_every_target_is_reported(library):
    """The progress is told of each target."""
    told = []
    coverage(library, [Target("gold"), Target("x")], progress=lambda *now: told.append(now))
    assert told == [(0, 2, "gold"), (1, 2, "x")]
