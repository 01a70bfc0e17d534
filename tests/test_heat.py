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
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry}
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


def test_missing_is_named_and_never_zero(library):
    """What is not known is listed by name and state; a recipe says that it is one."""
    found = heat.step_heat(library, library.steps["unknown"])
    assert found.enthalpy_kJ is None
    assert "nickel tungstate, solid" in found.missing
    assert heat.step_heat(library, library.steps["wash"]).missing[0].startswith("an equation")


def test_coverage_counts(library):
    """One of two steps with an equation, of three."""
    found = heat.coverage(library)
    assert (found.computed, found.equations, found.steps) == (1, 2, 3)
    assert found.share == 0.5
    assert found.missing["nickel tungstate, solid"] == 1


def test_known_heats_of_the_shipped_library(shipped):
    """Lime burning takes 179 kJ (B01); crystals of Glauber's salt give 79 kJ on forming.

    The heat of solution of Na2SO4·10H2O, +78.5 kJ/mol, is from memory (CRC).
    """
    lime = heat.step_heat(shipped, shipped.steps["burn-whiting-to-quicklime"])
    assert lime.enthalpy_kJ == pytest.approx(179.2, abs=0.2)
    glauber = heat.step_heat(shipped, shipped.steps["crystallise-glauber-salt"])
    assert glauber.enthalpy_kJ == pytest.approx(-78.5, abs=2.0)


def test_share_of_the_shipped_library(shipped):
    """At least half of the equations have a heat (the aim is 70 %)."""
    assert heat.coverage(shipped).share > 0.5
