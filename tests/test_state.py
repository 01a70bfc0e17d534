"""In what state a target is wanted and ends: a solution is never passed off as a solid."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.assessment.ending import KINDS
from routefinder.errors import FieldError, Refused
from routefinder.library.state import usual_state
from routefinder.records.question import STATES, State
from routefinder.view import state_words


@pytest.fixture(scope="module")
def lye(shipped):
    """100 g of lithium hydroxide, nothing said of its state: no step takes it out of its lye."""
    return rf.find("lithium hydroxide", "100 g", library=shipped)


def test_lye_is_no_solid(lye, call):
    """The first question of a person at the bench: is that a solid? Said once, with the strength."""
    assert not lye.state.met
    assert lye.state.asked == State("solid")
    words = state_words.sentence(lye)
    assert words.startswith("No route as a dry solid, for no step in the library takes it there")
    assert words.endswith(".")
    assert ". " not in words  # one sentence
    out = call("find", "lithium hydroxide")[1]
    assert " ".join(out.split()).count("No route as a dry solid") == 1
    assert "Ends in solution, 2.0 %, about 0.84 mol/L: 5.04 kg in all." in out


def test_the_strength_is_that_of_the_last_vessel(lye):
    """One account: grams of the target in all that goes on."""
    for route in lye.routes:
        found = route.assessment
        made = found.ends.liquor
        product = found.amounts.steps[-1].course.product
        assert made.total_g == pytest.approx(float(product.liquor_g), rel=1e-9)
        assert made.strength == pytest.approx(100.0 / float(product.liquor_g), rel=1e-9)


def test_a_solution_asked_for_is_a_solution(shipped):
    """Of what is usually crystals, the route stops before they grow."""
    crystals = rf.find("copper(II) acetate monohydrate", "250 g", library=shipped)
    liquor = rf.find("copper(II) acetate monohydrate", "250 g", library=shipped, state="solution")
    assert crystals.state.met
    assert {r.assessment.ends.kind for r in crystals.routes} == {"solid"}
    assert liquor.state.met
    assert {r.assessment.ends.kind for r in liquor.routes} == {"solution"}
    for route in liquor.routes:  # as much copper acetate as the crystals hold
        grams = route.assessment.ends.liquor.mass_g
        assert grams == pytest.approx(250.0 * 181.63 / 199.65, rel=1e-3)


def test_a_strength_is_a_least_one(shipped):
    """Weaker solutions are left out; where all are weaker they are shown and it is said."""
    thin = rf.find("sodium hydroxide", "100 g", library=shipped, state="solution, 4 %")
    assert thin.state.met
    assert state_words.sentence(thin) == ""
    strong = rf.find(
        "sodium hydroxide", "100 g", library=shipped, state="solution, 10 %", seconds=3
    )
    assert strong.routes
    assert not strong.state.met
    assert "of 10 % or more" in state_words.sentence(strong)
    ends = strong.routes[0].assessment.ends
    assert ends.water_to_g(0.10) == pytest.approx(1000.0 - ends.liquor.total_g, abs=0.1)
    some = rf.find("sodium dihydrogen phosphate", "100 g", library=shipped, state="solution, 30 %")
    strengths = [r.assessment.ends.liquor.strength for r in some.routes]
    assert some.state.met
    assert min(strengths) >= 0.30


@pytest.mark.parametrize(
    ("said", "meant"),
    [("solid", State("solid")), ("Dry Solid", State("solid")), ("solution", State("solution")),
     ("solution, 10 %", State("solution", 0.10)), ("10 % solution", State("solution", 0.10)),
     ("2 mol/L solution", State("solution", pytest.approx(0.0741, abs=0.0005)))],
)  # fmt: skip
def test_states_in_words(shipped, said, meant):
    """2 mol/L of lye: 1.0796 g/mL at 7.41 % (CRC Handbook, concentrative properties)."""
    from routefinder.asking.states import read_state

    assert read_state(shipped, shipped.substances["sodium-hydroxide"], said) == meant


@pytest.mark.parametrize("said", ["wet", "solid, 3 %", "solution, lots", "solution, 120 %"])
def test_what_is_no_state(shipped, said):
    """One sentence that names the field."""
    with pytest.raises(FieldError, match=r"^state"):
        rf.find("sodium hydroxide", "100 g", library=shipped, state=said)


def test_every_target_has_a_usual_state_that_is_looked_for(shipped):
    """All that the library makes: the search goes for the wanted state where a step makes it."""
    from routefinder.asking import states

    class Asked:
        state = None

    for target, made in shipped.made.items():
        asked = Asked()
        asked.target = target
        usual = usual_state(shipped, target)
        kind = states.looked_for(shipped, asked)
        assert usual in STATES
        assert kind == "solution" if made == {"aq"} else kind != "solution" or "s" not in made
        if usual in {KINDS[s] for s in made}:
            assert (kind == "solution") == (usual == "solution"), target


def test_no_answer_passes_a_solution_off_as_a_solid(shipped):
    """Every target made only dissolved, and every tenth other: it ends as wanted, or that is said."""
    only = [t for t, made in shipped.made.items() if made == {"aq"}]
    others = sorted(set(shipped.made) - set(only))[::10]
    said = 0
    for target in (*only, *others):
        try:
            found = rf.find(target, "100 g", library=shipped, top=2)
        except Refused:
            continue
        kinds = {r.assessment.ends.kind for r in found.routes}
        assert bool(state_words.sentence(found)) == (
            bool(found.routes) and kinds != {found.state.asked.kind}
        ), target
        said += not found.state.met
    assert said >= 30
