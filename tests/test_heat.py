"""The heat of the library's steps, and how much of the library has one."""

from __future__ import annotations

import pytest

from routefinder.library import heat

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, cas: 7732-18-5, sources: from memory}
- {id: lime, name: calcium oxide, formula: CaO, cas: 1305-78-8, sources: from memory}
- {id: slaked, name: calcium hydroxide, formula: Ca(OH)2, cas: 1305-62-0, sources: from memory}
- {id: wool, name: wool fat, mixture: true, sources: from memory}
- {id: secret, name: nickel tungstate, formula: NiWO4, sources: from memory}
- {id: nio, name: nickel oxide, formula: NiO, sources: from memory}
- {id: wo3, name: tungsten oxide, formula: WO3, cas: 1314-35-8, sources: from memory}
"""
COMMON = """\
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 50 degC}
  time: {hands_on: 1 h}
  sources: common practice
"""
STEPS = f"""\
- id: slake
  title: Slake lime
  kind: hydration
  equation: 2 CaO(s) + 2 H2O(l) -> 2 Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
{COMMON}- id: unknown
  title: Burn tungstate
  kind: combination
  equation: NiO(s) + WO3(s) -> NiWO4(s)
  product: NiWO4
  limiting: NiO
{COMMON}- id: wash
  title: Wash wool fat
  kind: washing
  recipe: 10 wool(s) + 5 CaO(s) -> 12 Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
{COMMON}"""


@pytest.fixture
def library(make_library):
    from routefinder.library.load import load

    loaded = load([make_library(steps=STEPS, substances=SUBSTANCES)])
    assert loaded.faults == []
    return loaded.library


def test_slaking_per_turn_of_the_equation(library):
    """Row B02 of tests/reference/thermochemistry.csv: -64.5 kJ per CaO, twice for two."""
    found = heat.step_heat(library, library.steps["slake"])
    assert found.enthalpy_kJ == pytest.approx(2 * -64.5, abs=0.05)
    assert found.missing == ()
    assert all("CRC Handbook" in source for source in found.sources)
    assert found.mark == "published"


def test_missing_is_named_and_never_zero(library):
    """What is not known is listed by name and state; a recipe says that it is one."""
    found = heat.step_heat(library, library.steps["unknown"])
    assert found.enthalpy_kJ is None
    assert found.mark is None
    assert found.sources == ()
    without = " (it has no CAS number to be found by)"
    assert found.missing == ("nickel oxide, solid" + without, "nickel tungstate, solid" + without)
    assert heat.step_heat(library, library.steps["wash"]).missing[0].startswith("an equation")


def test_coverage_counts(library):
    """One of two steps with an equation, of three."""
    found = heat.coverage(library)
    assert (found.computed, found.equations, found.steps) == (1, 2, 3)
    assert found.share == 0.5
    assert found.missing["nickel tungstate, solid (it has no CAS number to be found by)"] == 1
    assert found.marks == {"published": 1, "computed": 0, "from memory": 0}


def test_known_heats_of_the_shipped_library(shipped):
    """Lime burning takes 179 kJ (B01); crystals of Glauber's salt give 79 kJ on forming.

    The heat of solution of Na2SO4·10H2O, +78.5 kJ/mol, is from memory (CRC).
    """
    lime = heat.step_heat(shipped, shipped.steps["burn-whiting-to-quicklime"])
    assert lime.enthalpy_kJ == pytest.approx(179.2, abs=0.2)
    glauber = heat.step_heat(shipped, shipped.steps["crystallise-glauber-salt"])
    assert glauber.enthalpy_kJ == pytest.approx(-78.5, abs=2.0)


def test_a_heat_bears_its_worst_mark(shipped):
    """Vitriol's trihydrate and the tartrates are from memory, stearate is computed, lime published;
    the source of the worst mark stands first."""
    marks = {
        "burn-whiting-to-quicklime": "published",
        "dissolve-stearic-acid-in-caustic-soda": "computed",
        "crystallise-tartaric-acid": "from memory",
    }
    for step, mark in marks.items():
        found = heat.step_heat(shipped, shipped.steps[step])
        assert found.mark == mark
        assert found.sources[0].startswith(f"{mark}: ")


def test_neutralisations_of_the_shipped_library(shipped):
    """Acids of one strength give much the same heat with one base, whichever table they are from.

    H+ + OH- gives 55.8 kJ (row B47 of thermochemistry.csv, CRC ions). Weak carboxylic acids ionise
    with a few kJ, so that 3 NaOH on citric acid give 3 x 52 to 58; benzoic acid and salicylic acid
    dissolve first, with about 26 to 30 kJ.
    """

    def of(step):
        return heat.step_heat(shipped, shipped.steps[step]).enthalpy_kJ

    assert of("neutralise-citric-acid-with-caustic-soda") / 3 == pytest.approx(-55, abs=3)
    assert of("neutralise-benzoic-acid-with-caustic-soda") == pytest.approx(-55.8 + 28, abs=3)
    assert of("precipitate-salicylic-acid-with-hydrochloric-acid") == pytest.approx(-28, abs=3)


def test_esterifications_give_little_heat(shipped):
    """Making an ester of liquids gives a few kJ (-3.2 ethyl acetate, -8.2 methyl acetate, CRC)."""
    known = [
        heat.step_heat(shipped, s).enthalpy_kJ
        for s in shipped.steps.values()
        if s.record.kind == "esterification"
        and not s.is_recipe
        and all(p.state == "l" for p in (*s.reactants, *s.products))
        and "oleic" not in s.id
    ]
    known = [value for value in known if value is not None]
    assert len(known) > 10
    assert all(-9 < value < 6 for value in known)


def test_share_of_the_shipped_library(shipped):
    """72 % of the equations have a heat, and most of those from published or computed data."""
    found = heat.coverage(shipped)
    assert found.share > 0.72
    assert sum(found.marks.values()) == found.computed
    assert found.marks["from memory"] < found.computed / 2
