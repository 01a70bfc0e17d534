"""Names: any case, unicode or plain, trade names, formulas, CAS; near misses and choices."""

from __future__ import annotations

import pytest

from routefinder.errors import AmbiguousName, NameNotFound
from routefinder.library.cache import load_cached

SUBSTANCES = """
- {id: soda, name: sodium carbonate, formula: Na2CO3, cas: 497-19-8, names: [carbonate of soda], sources: from memory}
- {id: soda-1, name: sodium carbonate monohydrate, formula: Na2CO3·H2O, hydrate_of: soda, names: [carbonate of soda], sources: from memory}
- {id: soda-10, name: sodium carbonate decahydrate, formula: Na2CO3·10H2O, hydrate_of: soda, sources: from memory}
- {id: vitriol, name: copper(II) sulfate pentahydrate, formula: CuSO4·5H2O, cas: 7758-99-8, sources: from memory}
- {id: propan-1-ol, name: propan-1-ol, formula: C3H8O, sources: from memory}
- {id: propan-2-ol, name: propan-2-ol, formula: C3H8O, sources: from memory}
"""
MATERIALS = """
- {id: root-killer, name: Root killer crystals, form: solid, contains: [{substance: vitriol, strength: 98 %}], sources: from memory}
"""


@pytest.fixture
def library(make_library):
    return load_cached([make_library(substances=SUBSTANCES, materials=MATERIALS)], only=True)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Sodium Carbonate", "soda"), ("SODIUM-CARBONATE", "soda"), ("Na2CO3", "soda"),
        ("Na₂CO₃", "soda"), ("497-19-8", "soda"), ("Na2CO3.10H2O", "soda-10"),
        ("Na₂CO₃·10H₂O", "soda-10"), ("copper(ii) sulphate pentahydrate", "vitriol"),
        ("CuSO4*5H2O", "vitriol"), ("7758-99-8", "vitriol"), ("root killer crystals", "vitriol"),
        ("propan-2-ol", "propan-2-ol"), ("soda", "soda"),
    ],
)  # fmt: skip
def test_finds(library, text, found):
    """Every spelling finds its one substance."""
    assert library.substance(text).id == found


def test_near_miss_lists_the_closest(library):
    """A typing slip gets suggestions, best first."""
    with pytest.raises(NameNotFound) as caught:
        library.substance("sodium carbonat")
    assert caught.value.closest[0] == "sodium carbonate"
    assert "sodium carbonate" in str(caught.value)


def test_ambiguous_names_list_the_choices(library):
    """A shared name or formula is asked about, not guessed."""
    with pytest.raises(AmbiguousName) as caught:
        library.substance("carbonate of soda")
    assert len(caught.value.choices) == 2
    assert "Na₂CO₃·H₂O" in str(caught.value)
    with pytest.raises(AmbiguousName):
        library.substance("C3H8O")


def test_hydrates_are_never_confused(library):
    """The anhydrous formula means the anhydrous salt, and an unknown hydrate is not found."""
    assert library.substance("Na2CO3·H2O").id == "soda-1"
    with pytest.raises(NameNotFound):
        library.substance("CuSO4")
    with pytest.raises(NameNotFound):
        library.substance("Na2CO3·7H2O")


def test_the_oxidation_state_may_be_left_out(shipped):
    """Where only one thing can be meant; else the choices are listed, none is guessed."""
    assert shipped.substance("copper acetate monohydrate").id == "copper-ii-acetate-monohydrate"
    assert shipped.substance("iron sulfate heptahydrate").id == "iron-ii-sulfate-heptahydrate"
    with pytest.raises(AmbiguousName) as caught:
        shipped.substance("iron chloride")
    assert "iron(II) chloride" in str(caught.value)
    assert "iron(III) chloride hexahydrate" in str(caught.value)


def test_closest_names_are_names(shipped):
    """Not ids, where the record has a name."""
    with pytest.raises(NameNotFound) as caught:
        shipped.substance("coper(II) acetate monohydrat")
    assert "  copper(II) acetate monohydrate" in str(caught.value)
    assert "copper-ii-" not in str(caught.value)
