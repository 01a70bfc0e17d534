"""What a step makes as a solution can be one: by its record's water, and by its vessel's course."""

from __future__ import annotations

from dataclasses import replace

import pytest

from routefinder.graph import needs
from routefinder.library import pot
from routefinder.library.load import load
from routefinder.library.shelf import supply
from routefinder.library.solubility_lints import RULE, above_solubility, held, made
from routefinder.library.where import shipped_library
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.stream import WATER


def test_the_water_of_a_record_by_hand(shipped):
    """Glauber's salt liquor from soda and acid: the acid of the shops and the water called for are
    one vessel of 730 mL a mole; 18 g are formed, nothing is bound."""
    step = shipped.steps["neutralise-sulfuric-acid-with-soda"]
    sold = pot.strongest_sold(shipped)
    assert pot.ends_with_g(shipped, step, sold) == pytest.approx(730 + 18.015, rel=0.002)
    grams = step.main.moles * 142.04
    assert made(shipped, step, sold) == pytest.approx(100 * grams / 748, rel=0.003)
    assert held(shipped, step, 20.0) == pytest.approx(
        19.5, rel=0.02
    )  # 19.4 g, as handbooks have it


@pytest.mark.parametrize("change", ["water", "low"])
def test_a_solution_above_its_solubility_is_a_fault(shipped, change):
    """The same step with its old water, or worked colder, trips the lint."""
    loaded = load([shipped_library()])
    assert not list(above_solubility(loaded))
    name = "neutralise-sulfuric-acid-with-soda"
    step = loaded.library.steps[name]
    if change == "water":
        thin = tuple(replace(a, mass_g=500.0) if pot.is_water(loaded.library, a.substance) else a
                     for a in step.aids)  # fmt: skip
        loaded.library.steps[name] = replace(step, aids=thin)
    else:
        cold = step.record.temperature.model_copy(update={"low_C": 5.0})
        record = step.record.model_copy(update={"temperature": cold})
        loaded.library.steps[name] = replace(step, record=record)
    (fault,) = above_solubility(loaded)
    assert fault.rule == RULE
    assert "100 g of water" in fault.what
    assert "the low end of the window" in fault.what


def test_the_shipped_library_is_clean_and_says_where_it_is_not(shipped):
    judged = [
        s for s in shipped.steps.values()
        if s.main.state == "aq" and held(shipped, s, s.record.temperature.low_C) is not None
    ]  # fmt: skip
    assert len(judged) > 180
    excepted = [s for s in judged if RULE in s.record.exceptions]
    assert len(excepted) <= 9
    sold = pot.strongest_sold(shipped)
    for step in excepted:  # an exception that is none is taken out
        low = step.record.temperature.low_C
        assert made(shipped, step, sold) > held(shipped, step, low), step.id
        assert made(shipped, step, sold) <= held(shipped, step, step.record.temperature.high_C)


def test_solutions_of_the_course_can_be(shipped):
    """Every step that makes a solution, fed from the shops: its course's liquor holds no more than
    water does at the low end of the window."""
    shops = [supply(m) for m in shipped.materials.values()]
    judged, above = 0, []
    for step in shipped.steps.values():
        low = step.record.temperature.low_C
        most = held(shipped, step, low) if step.main.state == "aq" else None
        if most is None or RULE in step.record.exceptions:
            continue
        pure = [
            Supply(f"pure {n}", n, "solid", {n: 1.0}, n)
            for n in dict.fromkeys(need[1] for need in needs.needs(shipped, step))
        ]
        found = amounts(shipped.alone(step), [step], [*shops, *pure], step.main.substance, 100.0)
        product = found.steps[0].course.product
        water = float(product.grams(*WATER))
        if water <= 0:
            continue
        judged += 1
        here = 100 * float(product.grams(shipped.root(step.main.substance), "aq")) / water
        if here > most * 1.03:  # a cake holds liquor and washings back in other shares
            above.append((step.id, round(here, 1), round(most, 1)))
    assert judged > 170
    assert above == []
