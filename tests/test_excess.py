"""The excess of a reaction that stops at its equilibrium, chosen."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.assessment.one_step import one_step
from routefinder.chem.equilibrium import conversion
from routefinder.errors import FieldError
from routefinder.library.excess import constant, ratio, rival, with_excess


def test_the_constant_and_the_conversion_are_one_another():
    """K = 4.2 at r = 1, 2, 3: 0.672, 0.850, 0.907 (worked by hand), and back again."""
    for r, x in ((1.0, 0.672), (2.0, 0.850), (3.0, 0.907)):
        assert conversion(4.2, r) == pytest.approx(x, abs=5e-4)
        assert constant(conversion(4.2, r), r) == pytest.approx(4.2, rel=1e-9)


def test_every_such_step_of_the_library(shipped):
    """At its own ratio nothing changes; more in excess turns more of the limiting, never all of
    it; what has not turned is left over and mass is conserved."""
    found = [s for s in shipped.steps.values() if rival(s) is not None]
    assert len(found) >= 10
    for step in found:
        other = rival(step)
        name = other.substance
        same = with_excess(shipped, [(name, ratio(step))]).steps[step.id]
        assert same.record.yield_.typical == pytest.approx(step.record.yield_.typical, rel=1e-9)
        before = 0.0
        for r in (1.0, 1.5, 2.0, 3.0, 5.0):
            library = with_excess(shipped, [(name, r)])
            one = library.steps[step.id]
            y = one.record.yield_
            assert before < y.typical < 1
            assert y.low <= y.typical <= y.high
            before = y.typical
            amount = one_step(library, one, 100.0)
            fed = next(f for f in amount.feeds if f.substance == name)
            lead = next(f for f in amount.feeds if f.substance == one.limiting.substance)
            assert fed.moles == pytest.approx(r * lead.moles, rel=1e-9)
            assert amount.mass_in_g == pytest.approx(amount.mass_out_g, rel=1e-9)
            x = float(amount.course.behaviour.conversion)
            part = next(p for p in y.parts if "equilibrium" in p.what)
            assert x == pytest.approx(part.typical, rel=1e-9)
            assert f"at {r:g} mol" in part.what
            assert part.source[0].startswith("computed: from")


def test_it_is_asked_for(shipped):
    """More acid on isoamyl alcohol: more acid taken, less alcohol, a better yield; other steps
    are as they were."""
    few = rf.find("isoamyl acetate", "100 g", library=shipped, top=25)
    more = rf.find("isoamyl acetate", "100 g", library=shipped, top=25, excess="acetic acid = 4")
    name = "esterify-isoamyl-alcohol-with-excess-acetic-acid"

    def of(answer):
        return next(r.assessment for r in answer.routes if r.ids == (name,))

    assert of(more).chain_yield > of(few).chain_yield
    grams = [
        {f.substance: f.mass_g for s in of(a).amounts.steps for f in s.feeds} for a in (few, more)
    ]
    assert grams[1]["acetic-acid"] > grams[0]["acetic-acid"]
    assert grams[1]["isoamyl-alcohol"] < grams[0]["isoamyl-alcohol"]
    assert shipped.steps[name].excess == {"acetic-acid": 1.0}
    assert dict(more.question.excess) == {"acetic-acid": 4.0}


@pytest.mark.parametrize(
    ("said", "why"),
    [("ethanol", "write a reactant"), ("ethanol = many", "write a reactant"),
     ("ethanol = 0.5", "1 to 100"), ("copper(II) sulfate pentahydrate = 2", "there are acetic acid")],
)  # fmt: skip
def test_what_cannot_be_chosen(shipped, said, why):
    """One sentence."""
    with pytest.raises(FieldError, match=r"^excess") as caught:
        rf.find("isoamyl acetate", "100 g", library=shipped, excess=said)
    assert why in str(caught.value)
