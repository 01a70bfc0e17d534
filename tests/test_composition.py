"""Solid solutions by parameter: amounts of the composition, and the doubt of an assay on x."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.chem import equation as equations
from routefinder.chem import formula as formulas
from routefinder.errors import InputError
from routefinder.library import composition
from routefinder.library.shelf import supply
from routefinder.library.strengths import at_strength

SHELF = ["zinc-oxide-pottery", "cobalt-carbonate-pottery"]


def test_formula_in_x():
    """Numbers in braces are worked out; a one is left out."""
    assert composition.formula_at("Zn{1-x}Co{x}O", 0.1) == "Zn0.9Co0.1O"
    assert composition.formula_at("Zn{100-100x}Co{100x}(OH)120(CO3)40", 0.25) == (
        "Zn75Co25(OH)120(CO3)40")  # fmt: skip
    assert composition.formula_at("Zn{20-20x}Co{20x}Si10O40", 0.11) == "Zn89/5Co11/5Si10O40"
    assert composition.asked("Rinmann's green, x = 0.1") == ("Rinmann's green", 0.1)
    assert composition.asked("Rinmann's green with x = 10 %") == ("Rinmann's green", 0.1)
    assert composition.asked("Rinmann's green") is None


def test_every_varying_formula_gives_the_library_s_own(shipped):
    """At some x within its range the pattern is the formula that the record has."""
    varying = [s for s in shipped.substances.values() if s.varies]
    assert len(varying) >= 5
    for s in varying:
        hits = [
            k / 1000
            for k in range(1, 1000)
            if formulas.parse(composition.formula_at(s.varies.formula, k / 1000)).counts
            == s.parsed.counts
        ]
        assert len(hits) == 1, s.id
        assert s.varies.low <= hits[0] <= s.varies.high, s.id


@pytest.mark.parametrize("name", ["rinmanns-green", "cobalt-zinc-aluminate", "cobalt-willemite",
                                  "cobalt-magnesia-pink"])  # fmt: skip
def test_steps_balance_at_another_x(shipped, name):
    """Every step of every such pigment, at another composition; the rest is untouched."""
    found = composition.at(shipped, name, 0.11)
    changed = {i for i, s in found.library.steps.items() if s is not shipped.steps[i]}
    assert changed
    for i in changed:
        step = found.library.steps[i]
        ids = {t.species: found.library.substances[found.library.substance(t.species).id]
               for t in (*step.record.parsed.left, *step.record.parsed.right)}  # fmt: skip
        parsed = {k: v.parsed for k, v in ids.items()}
        assert equations.balances(step.record.parsed, parsed), i
    assert shipped.substances[name].parsed != found.substance.parsed


def test_amounts_are_of_the_composition(shipped):
    """At x = 0.1 a mole of zinc oxide takes 0.1/0.9 mol of cobalt; the answer says x's doubt."""
    found = rf.find("Rinmann's green, x = 0.1", "100 g", library=shipped, shelf=SHELF)
    assert found.routes
    assert "x = 0.1: Zn₀.₉Co₀.₁O; amounts are for this composition" in found.notes
    assert any("with cobalt carbonate" in n and "x lies between 0.096 and 0.104" in n
               for n in found.notes)  # fmt: skip
    step = composition.at(shipped, "rinmanns-green", 0.1).library.steps["fire-rinmanns-green-dry"]
    moles = {p.substance: p.moles for p in step.reactants}
    assert moles["cobalt-ii-carbonate-basic"] / moles["zinc-oxide"] == pytest.approx(0.1 / 0.9)


def test_doubt_of_an_assay_is_doubt_of_x(shipped):
    """Cobalt 46 % within 4 % of it: x 0.067 to 0.073 where 0.07 is meant."""
    found = composition.at(shipped, "rinmanns-green", 0.07)
    base = supply(shipped.material("cobalt-carbonate-pottery"))
    labelled = at_strength(shipped, base, "44.16 to 47.84 % Co")  # 46 % ± 4 % of it
    ((_, low, high),) = composition.doubts(found, [labelled])
    assert (round(low, 3), round(high, 3)) == (0.067, 0.073)
    assert composition.doubts(found, [supply(shipped.material("zinc-oxide-pottery"))]) == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Rinmann's green, x = 0.6", "outside 0.01 to 0.3"),
        ("copper(II) oxide, x = 0.1", "one composition; an x is known of"),
        ("Rinmann's green, x = 7", "outside"),
    ],
)
def test_what_cannot_be_is_said(shipped, text, says):
    """One sentence."""
    with pytest.raises(InputError, match=says):
        rf.find(text, library=shipped, shelf=SHELF)
