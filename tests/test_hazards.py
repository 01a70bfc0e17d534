"""Hazard points: strengths, heat, gas, amounts, limits, and what nobody knows."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.asking.library import load_library
from routefinder.assessment import hazards as batch
from routefinder.hazards import mixture, score
from routefinder.library.contents import contents
from routefinder.records.substance import Hazards, Substance

DOC = Path(__file__).parent.parent / "reactions" / "HAZARDS.md"


@pytest.fixture(scope="module")
def lib():
    return load_library()


def codes(lib, name, fraction):
    return set(mixture.solution_hazards(lib.substances[name], fraction).scored)


def pure(*statements, cas=None, name="x"):
    return Substance(
        id=name, name=name, cas=cas, hazards=Hazards(statements=statements, source="from memory")
    )


# --- mixtures: CLP Annex I, by hand -------------------------------------------------------------


def test_vinegar_is_not_corrosive(lib):
    """5 % vinegar: below the 10 % of CLP Annex VI, 607-002-00-6; 10 %: H315 H319; 25 %: H314."""
    assert codes(lib, "acetic-acid", 0.05) == set()
    assert codes(lib, "acetic-acid", 0.10) == {"H315", "H319"}
    assert "H314" in codes(lib, "acetic-acid", 0.25)


@pytest.mark.parametrize(
    ("components", "expected"),
    [
        # Annex VI limits without a band in any record (bare CAS numbers)
        ([(("H314",), "64-19-7", 0.05)], set()),
        ([(("H314",), "64-19-7", 0.12)], {"H315", "H319"}),
        ([(("H314",), "64-19-7", 0.30)], {"H314"}),
        ([(("H314",), "1310-73-2", 0.01)], {"H315", "H319"}),
        ([(("H314",), "1310-73-2", 0.02)], {"H314"}),
        ([(("H318", "H302"), "7722-84-1", 0.06)], {"H319"}),
        ([(("H318",), "7722-84-1", 0.08)], {"H318"}),
        # generic: 5 % corrosive; 1 to 5 % irritant; 3 % serious eye damage (Tables 3.2.3, 3.3.3)
        ([(("H314",), None, 0.05)], {"H314"}),
        ([(("H314",), None, 0.03)], {"H315", "H318"}),
        ([(("H314",), None, 0.02)], {"H315", "H319"}),
        ([(("H314",), None, 0.005)], set()),
        ([(("H318",), None, 0.03)], {"H318"}),
        ([(("H315",), None, 0.09)], set()),
        ([(("H315",), None, 0.06), (("H314",), None, 0.004)], {"H315"}),  # 6 + 10 x 0.4 = 10
        # two corrosives add: 3/5 + 2/5 = 1
        ([(("H314",), None, 0.03), (("H314",), None, 0.02)], {"H314"}),
        # acute: 500 mg/kg at 25 % is 2000 mg/kg, still category 4; at 24 % above it
        ([(("H302",), None, 0.25)], {"H302"}),
        ([(("H302",), None, 0.24)], set()),
        ([(("H301",), None, 0.20)], {"H302"}),  # 100 / 0.2 = 500
        # CMR and the own limit of cobalt chloride, 0.01 % (027-004-00-5)
        ([(("H350",), None, 0.001)], {"H350"}),
        ([(("H350",), None, 0.0009)], set()),
        ([(("H350i",), "7646-79-9", 0.0001)], {"H350i"}),
        ([(("H360",), None, 0.003)], {"H360"}),
        ([(("H361",), None, 0.029)], set()),
        # organ, category 1 diluted to category 2
        ([(("H372",), None, 0.05)], {"H373"}),
        # aquatic with M = 10 (copper sulfate pentahydrate): 2.5 % x 10 = 25 %
        ([(("H400", "H410"), "7758-99-8", 0.025)], {"H400", "H411"}),
        ([(("H400", "H410"), None, 0.25)], {"H400", "H410"}),
        ([(("H410",), None, 0.025)], {"H411"}),
        ([(("H410",), None, 0.0025)], {"H412"}),
    ],
)
def test_mixture_rules(components, expected):
    parts = [(pure(*c, cas=cas, name=f"x{i}"), f) for i, (c, cas, f) in enumerate(components)]
    assert {f.code for f in mixture.classify(parts)} == expected


GRAVITY = {"H314": 3, "H318": 2, "H315": 1, "H319": 1}


@given(
    st.lists(
        st.tuples(
            st.sets(st.sampled_from(["H302", "H314", "H315", "H318", "H319", "H410", "H350"])),
            st.floats(0.0, 0.5),
        ),
        min_size=1, max_size=2,
    ),
    st.floats(0.0, 1.0),
)  # fmt: skip
def test_dilution_never_makes_worse(parts, share):
    """Points of a mixture never rise when everything in it is diluted by the same factor."""

    def points(factor):
        found = mixture.classify(
            [(pure(*c, name=f"x{i}"), f * factor) for i, (c, f) in enumerate(parts)]
        )
        return {
            aspect: max((score.STATEMENTS[f.code][1] for f in found
                         if score.STATEMENTS[f.code][0] == aspect), default=0)
            for aspect in score.ASPECTS
        }  # fmt: skip

    strong, weak = points(1.0), points(share)
    assert all(weak[a] <= strong[a] for a in strong)


def test_no_data_stays_unknown_at_any_strength():
    nobody = Substance(id="n", name="n", formula="K2SO4")
    assert mixture.solution_hazards(nobody, 0.001).unknown
    assert mixture.unknown_share([(nobody, 0.2)]) == 0.2


# --- the rule -----------------------------------------------------------------------------------


def test_worked_example(lib):
    """The example of reactions/HAZARDS.md, by hand."""
    step = lib.steps["dissolve-chalk-in-acetic-acid"]
    weak = score.profile(lib, step, {"acetic-acid": 0.05})
    assert {a: s.points for a, s in weak.items() if s.points} == {"gas": 1}
    water, other = contents(lib, step).water_and_rest_g({"acetic-acid": 0.05})
    assert water == pytest.approx(max(600, 2282), rel=1e-3)
    assert other == pytest.approx(228.2, rel=1e-3)
    assert score.gas_per_kg(lib, step, 1.0, {"acetic-acid": 0.05}) == pytest.approx(9.75, abs=0.05)
    assert score.rise_K(lib, step, {"acetic-acid": 0.05}) == pytest.approx(1.5, abs=0.05)
    strong = score.profile(lib, step, {"acetic-acid": 1.0})
    assert (strong["corrosive"].points, strong["fire"].points) == (3, 2)
    assert strong["corrosive"].cause == "acetic acid 100 % H314"


def test_the_table_in_the_documentation_is_the_one_in_the_code():
    """Statement for statement, in both directions."""
    rows = {}
    for line in DOC.read_text(encoding="utf-8").splitlines():
        cells = [c.strip() for c in line.strip("|").split("|")]
        if len(cells) == 5 and cells[0].split(" ")[0] in score.ASPECTS:
            for points, cell in zip((4, 3, 2, 1), cells[1:], strict=True):
                for code in re.findall(r"\b(?:EU)?H\d{3}i?\b", cell):
                    rows.setdefault(cells[0].split(" ")[0], {})[code] = points
    dust = rows.pop("dust")
    assert dust == score.DUST
    written = {code: (a, p) for a, found in rows.items() for code, p in found.items()}
    ours = {c: v for c, v in score.STATEMENTS.items() if c not in {"H350i", "H031", "H032"}}
    assert written == ours


def test_heat_is_computed(lib):
    step = lib.steps["dissolve-iron-in-sulfuric-acid"]
    # Fe + 2 H+ -> Fe2+ + H2: -111.1 kJ; 450 g water, 162.3 g of the rest
    assert score.rise_K(lib, step) == pytest.approx(111100 / (4.18 * 450 + 162.3), rel=1e-3)
    assert score.profile(lib, step)["heat"].points == 2
    fired = score.profile(lib, lib.steps["fire-forsterite"])["heat"]
    assert (fired.points, fired.cause) == (2, "a dry charge: runs at the pace of its grains")
    strong = score.profile(lib, step, {"sulfuric-acid": 0.96})
    assert strong["heat"].points >= 2


def test_air_is_no_hazard(lib):
    assert not any(
        "oxygen" in s.cause
        for s in score.profile(lib, lib.steps["oxidise-copper-i-oxide"]).values()
    )


def test_unknown_counts_cautiously(lib):
    base = lib.steps["precipitate-magnesium-hydroxide-with-caustic-soda"]
    name = "magnesium-hydroxide"
    blank = lib.substances[name].model_copy(update={"hazards": Hazards(unknown=True)})
    changed = replace(lib, substances={**lib.substances, name: blank})
    found = score.profile(changed, base)
    for aspect, points in score.UNKNOWN.items():
        assert found[aspect].points >= points
    assert "no hazard data" in found["toxic"].cause


# --- amounts and limits -------------------------------------------------------------------------


@given(st.floats(1.0, 1e6), st.floats(1.0, 1e6))
def test_amounts_only_add(litres, heat):
    base = {a: score.Score(1, "so") for a in score.ASPECTS}
    more = score.raised(base, {"CO2": ("carbon dioxide", litres)}, heat)
    for aspect in score.ASPECTS:
        assert base[aspect].points <= more[aspect].points <= base[aspect].points + 1
    assert (more["gas"].points == 2) == (litres >= 150)
    assert (more["heat"].points == 2) == (heat >= 2000)


def calcium(amount, **more):
    return rf.find(
        "calcium acetate, anhydrous", amount,
        shelf=["white vinegar, 5 %", "whiting"], top=3, **more,
    )  # fmt: skip


def test_a_limit_holds_with_amounts():
    """A limit that the small batch keeps and the large one breaks: the route is not passed."""
    small, large = calcium("100 g"), calcium("10 kg")
    assert small.routes
    assert small.routes[0].assessment.hazards["gas"][0] == 1
    assert large.routes[0].assessment.hazards["gas"][0] == 2
    assert "in one batch" in large.routes[0].assessment.hazards["gas"][2]
    assert calcium("100 g", max_hazard={"gas": 1}).routes
    refused = calcium("10 kg", max_hazard={"gas": 1})
    assert refused.routes == ()
    assert "--max-hazard" in refused.why_none.sentence
    for aspect in score.ASPECTS:
        for most in (0, 1, 2):
            for route in calcium("10 kg", max_hazard={aspect: most}).routes:
                assert route.assessment.hazards[aspect][0] <= most


def test_the_solution_drawn_counts(lib):
    """Weak vinegar on the shelf does not hide the glacial acid that is drawn."""
    found = rf.find(
        "calcium acetate, anhydrous", "100 g", shelf=["glacial acetic acid", "whiting"], top=1
    )
    assert found.routes[0].assessment.hazards["corrosive"][0] == 3
    weak = calcium("100 g")
    assert weak.routes[0].assessment.hazards["corrosive"][0] <= 2
    amount = weak.routes[0].assessment.amounts.steps[0]
    assert batch.strengths(lib, amount, {})["acetic-acid"] == pytest.approx(0.05, abs=0.003)


def test_heats_are_kept_by_equation(tmp_path, monkeypatch, lib):
    """A changed library takes known heats from the cache and computes only new equations."""
    from routefinder.library import contents as vessel

    base = lib.steps["slake-quicklime"]
    heats = {}
    fresh = replace(lib, worked_out={})
    assert contents(fresh, base, heats).heat_kJ == pytest.approx(-65.2, abs=1.0)  # CRC: -65.2 kJ
    assert list(heats.values()) == [contents(fresh, base).heat_kJ]
    monkeypatch.setattr(vessel, "step_heat", lambda *a: pytest.fail("computed again"))
    again = replace(lib, worked_out={})
    assert contents(again, base, heats).heat_kJ == contents(fresh, base).heat_kJ
    double = tuple(replace(p, moles=2 * p.moles) for p in base.reactants)
    with pytest.raises(pytest.fail.Exception):
        contents(again, replace(base, reactants=double), heats)
