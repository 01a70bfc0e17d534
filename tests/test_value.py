"""What carries a target's value: laws over the whole library, and cases worked by hand."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.choice import variety
from routefinder.library import value


def test_values_by_hand(shipped):
    """The metal, the acid, else what is dearest in it."""
    of = {
        "copper-ii-acetate-monohydrate": "Cu", "zinc-stearate": "Zn", "tartaric-acid": value.ORGANIC,
        "calcium-tartrate-tetrahydrate": value.ORGANIC, "potassium-alum-dodecahydrate": "Al",
        "calcium-carbonate": "Ca", "basic-copper-carbonate": "Cu", "sodium-thiosulfate-pentahydrate":
        "S", "magnesium-ammonium-phosphate": "P", "prussian-blue": "Fe", "casein": "",
    }  # fmt: skip
    assert {name: value.value_of(shipped, name) for name in of} == of


def test_every_step_keeps_a_share(shipped):
    """Of its own product's value: above 0 and at most 1, and what carries it is a reactant."""
    for step in shipped.steps.values():
        mine = value.value_of(shipped, step.main.substance)
        assert 0 < value.kept_share(shipped, step, mine) <= 1, step.id
        carry = value.carriers(shipped, step, step.main.substance, mine)
        assert carry, step.id
        assert set(carry) <= set(step.reactants), step.id


def test_half_the_tartrate_stays_behind(shipped):
    """2 KHT + CaCO3 -> CaT + K2T: half, though chalk could take no more."""
    step = shipped.steps["precipitate-calcium-tartrate-with-chalk"]
    assert value.kept_share(shipped, step, value.ORGANIC) == pytest.approx(0.5)


@pytest.fixture(scope="module")
def tartaric(shipped):
    """Ways to tartaric acid, and those with chalk alone."""
    return rf.find("tartaric acid", "100 g", library=shipped, top=4)


def test_the_yield_on_what_is_carried(tartaric, shipped):
    """Grams by hand: tartrate in 100 g of acid (150.09) by tartrate in the cream of tartar (188.18)."""
    chalk = next(
        r for r in tartaric.routes if r.ids[0] == "precipitate-calcium-tartrate-with-chalk"
    )
    a = chalk.assessment
    (draw,) = [d for d in a.amounts.draws if d.supply.main == "potassium-hydrogen-tartrate"]
    by_hand = (100 / 150.087) / (draw.mass_g / 188.177)
    assert a.carried is not None
    assert a.carried.share == pytest.approx(by_hand, rel=1e-4)
    assert a.carried.share == pytest.approx(0.31, abs=0.005)
    assert a.overall_yield.typical == pytest.approx(100 * a.carried.share)
    assert a.overall_yield.low < a.overall_yield.typical < a.overall_yield.high
    assert a.chain_yield == pytest.approx(2 * a.carried.share, rel=1e-3)  # on its equation


def test_no_more_is_in_it_than_was_taken(tartaric):
    """Of every route."""
    for route in tartaric.routes:
        assert 0 < route.assessment.overall_yield.typical <= 100


def test_where_chalk_or_lime_comes_from_is_no_other_way(tartaric, shipped):
    """The second carbonate, alkali or wash is side work; the list has a way a number."""
    ways = [variety.way(shipped, r.assessment) for r in tartaric.routes if r.variant_of is None]
    assert len(set(ways)) == len(ways) == 4
    by_first = {r.ids[0]: r.number if r.variant_of is None else r.variant_of
                for r in tartaric.routes}  # fmt: skip
    assert (
        by_first["precipitate-calcium-tartrate-with-lime"]
        == by_first["precipitate-calcium-tartrate-with-chalk"]
    )


@pytest.mark.parametrize("target", ["methyl-salicylate", "n-butyl-acetate", "logwood-lake"])
def test_what_can_be_bought_is_not_made_unless_asked(shipped, target):
    """No washing soda, drying agent or acid is made that is on sale; with the wish they are."""
    carry = value.chain(shipped, target)
    plain = rf.find(target, "100 g", library=shipped, top=5)
    sold = {shipped.root(next(iter(m.fractions))) for m in shipped.materials.values()}
    for route in plain.routes:
        for step in route.assessment.steps:
            root = shipped.root(step.main.substance)
            assert root in carry or root not in sold, (route.ids, step.id)


def test_reagents_are_made_when_asked(shipped):
    """Washing soda and its like are then made on the way."""
    asked = rf.find("methyl-salicylate", "100 g", library=shipped, top=5, make_reagents=True)
    carry = value.chain(shipped, "methyl-salicylate")
    made = {shipped.root(s.main.substance) for r in asked.routes for s in r.assessment.steps}
    assert made - carry


def test_a_price_of_0_never_decides_alone(shipped):
    """Eggshells cost nothing, whiting little and is purer: whiting is taken."""
    found = rf.find("calcium-acetate-monohydrate", "100 g", library=shipped, top=1).routes[0]
    taken = {d.supply.id for d in found.assessment.amounts.draws}
    assert not any("eggshell" in name for name in taken), taken
