"""Long drawings: rows and chains as laws, and that what is drawn can be read on a sheet of A4."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.hazards.label import OMITS
from routefinder.view import diagram, folding, overview, route_diagram

LONG_PT, SHORT_PT = 277 / 25.4 * 72, 190 / 25.4 * 72  # A4 within margins of 10 mm
LEAST_PT = 5.5  # of the smallest letters, on paper: the least that can be read (common practice)


@st.composite
def plans(draw):
    """Steps numbered in a workable order, each with the steps it takes from."""
    size = draw(st.integers(1, 14))
    return {
        str(i): draw(st.lists(st.sampled_from([str(j) for j in range(i)]), unique=True, max_size=3))
        if i
        else []
        for i in range(size)
    }


@given(plans(), st.integers(1, 5))
def test_rows_hold_every_step_once_and_none_is_too_wide(sources, across):
    """A maker never stands in a lower row than its taker, nor in the same column."""
    found = folding.rows(sources, across)
    assert sorted(s for row in found for s in row) == sorted(sources)
    assert all(found)
    column = folding.columns(sources)
    place = {s: i for i, row in enumerate(found) for s in row}
    for step, makers in sources.items():
        for maker in makers:
            assert column[maker] < column[step]
            assert place[maker] <= place[step]
    for row in found:
        assert max(column[s] for s in row) - min(column[s] for s in row) < across


@given(plans(), st.integers(1, 3))
def test_chains_hold_every_step_once_and_never_branch(sources, kinds):
    """Within a chain each step has one maker, the one before it, and that has no other taker."""
    kind = {s: int(s) % kinds for s in sources}
    found = folding.chains(sources, kind)
    assert sorted(s for chain in found for s in chain) == sorted(sources)
    takers = {s: {t for t, m in sources.items() if s in m} for s in sources}
    for chain in found:
        assert len({kind[s] for s in chain}) == 1
        for before, step in itertools.pairwise(chain):
            assert set(sources[step]) == {before}
            assert takers[before] == {step}
    heads = {chain[0] for chain in found}  # and none that could be longer
    for step, makers in sources.items():
        if step in heads and len(set(makers)) == 1:
            assert takers[makers[0]] != {step} or kind[makers[0]] != kind[step]


def test_a_circle_of_makers_breaks_the_chain():
    """Routes over one another may close a circle; nothing is lost and nothing hangs."""
    found = folding.chains({"a": ["b"], "b": ["a"], "c": ["b"]}, dict.fromkeys("abc", 0))
    assert sorted(s for chain in found for s in chain) == ["a", "b", "c"]


def smallest_pt(dot: str) -> float:
    """The smallest letters when the drawing is fitted onto A4, upright or lying."""
    svg = diagram.render(dot, "svg").decode()
    w, h = map(float, re.search(r'viewBox="\S+ \S+ (\S+) (\S+)"', svg).groups())
    fit = max(min(LONG_PT / w, SHORT_PT / h), min(SHORT_PT / w, LONG_PT / h))
    return min(1.0, fit) * min(float(x) for x in re.findall(r'font-size="([\d.]+)"', svg))


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


def test_a_long_route_is_folded_and_can_be_read(chain):
    """Twelve steps: rows of three, and what goes from row to row is said at both ends."""
    route = chain.routes[0]
    assert len(route.ids) == 12
    assert smallest_pt(route.dot()) >= LEAST_PT
    svg = diagram.render(route.dot(), "svg").decode()
    heights = {}
    for number in range(1, 13):  # each card's number, in bold
        found = re.search(
            rf'x="([-\d.]+)" y="([-\d.]+)"[^>]*font-weight="bold"[^>]*>{number}<', svg
        )
        heights[number] = (float(found[2]), float(found[1]))
    assert heights[1][0] == heights[3][0] < heights[4][0] == heights[6][0] < heights[7][0]
    assert heights[1][1] < heights[2][1] < heights[3][1]
    words = re.sub(r"<[^>]+>", " ", svg)
    for here, there in ((3, 4), (6, 7), (9, 10)):
        assert f"from step {here}" in words
        assert f"to step {there}" in words
    assert "from step 4" not in words


def test_rows_by_themselves_say_what_they_are(chain):
    """For a page: a drawing a row, the first with the whole story, the last with the target."""
    route = chain.routes[0]
    rows = route_diagram.route_rows(chain.library, route.assessment)
    assert len(rows) == 4
    assert rows[0].alt.startswith("Row 1 of 4, steps 1, 2, 3. From 1")
    assert rows[3].alt == "Row 4 of 4, steps 10, 11, 12."
    assert ["target [" in r.dot for r in rows] == [False, False, False, True]
    for row in rows:
        assert smallest_pt(row.dot) >= LEAST_PT


def test_an_overview_folds_what_all_routes_take_in_a_row(chain):
    """Twelve steps of one route are one card that names them all."""
    dot = chain.dot()
    assert dot.count("<TABLE BORDER") == 2  # the card and the target
    svg = re.sub(r"<[^>]+>|\s+", " ", diagram.render(dot, "svg").decode())
    for i in range(12):
        assert f"chalk form {i} " in svg


@pytest.mark.parametrize(
    "target",
    ["chrome alum", "sodium thiosulfate pentahydrate", "magnesium acetate tetrahydrate",
     "potassium tris(oxalato)ferrate(III) trihydrate", "manganese(II) acetate tetrahydrate"],
)  # fmt: skip
def test_drawings_of_the_library_can_be_read_on_a4(target):
    """The widest routes and overviews of the shipped library."""
    found = rf.find(target, "100 g", top=10)
    assert smallest_pt(found.dot()) >= LEAST_PT
    for route in found.routes:
        assert smallest_pt(route.dot()) >= LEAST_PT


def test_overviews_of_many_routes_name_every_step_once(demo):
    """Folded or not, every step's title is drawn once."""
    svg = re.sub(r"<[^>]+>|\s+", " ", diagram.render(demo.dot(), "svg").decode())
    words = re.sub(r"\s+", " ", svg)
    titles = {s.record.title for r in demo.routes for s in r.assessment.steps}
    assert len(titles) > overview.PLAIN
    for title in titles:
        assert words.count(diagram.wrap(title, 12)[0]) >= 1
    assert words.count("two crops") == 1


def test_what_is_lacking_is_hatched(tmp_path, studio):
    """A step the bench cannot do: a dashed frame, a hatched band, and the word."""
    found = rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"], may_lack=2,
    )  # fmt: skip
    lacking = next(r for r in found.routes if r.assessment.missing)
    whole = next(r for r in found.routes if not r.assessment.missing)
    assert 'STYLE="DASHED"' in lacking.dot()
    assert "missing:" in lacking.dot()
    assert lacking.dot().count('BGCOLOR="black"') > 14
    assert "missing:" not in whole.dot()
    assert "missing:" in found.dot()


def test_codes_the_score_goes_by_stand_on_the_card(demo_routes):
    """Those of stricter sources too, named as such; only what another code covers is left out."""
    cautious = 0
    for route in demo_routes.values():
        dot = route.dot()
        cautious += "for caution" in dot
        for _, _, why in route.assessment.hazards.values():
            for code in re.findall(r"\bH\d{3}", why):
                assert code in dot or OMITS[code][0] in dot, (route.name, why)
    assert cautious == len(demo_routes)  # copper acetate is in all of them
