"""Laws over the shipped records: done-tests that can pass, vessels that stand the heat."""

from __future__ import annotations

import re

from routefinder.assessment import heat
from routefinder.assessment.one_step import one_step
from routefinder.chem.formula import parse
from routefinder.library.crops import boils_down
from routefinder.library.lookup import Meaning
from routefinder.vessel.water import water_of_step
from routefinder.view import card

STRONG = ("H2SO4", "HCl", "NaHSO4", "HNO3")
SPENT = re.compile(r"spare|left over|stop the acid|washed|until|milk of lime", re.IGNORECASE)
DROP = re.compile(r"no (?:more )?cloud with (?:a drop of )?(phosphate|soda|oxalate|carbonate)")


def _done(step):
    return " ".join(step.record.done_when)


def test_no_fizz_is_awaited_where_no_gas_comes(shipped):
    """'No more fizz' ends only what makes a gas, or what a carbonate goes into."""
    wrong = []
    for step in shipped.steps.values():
        gas = any(p.state == "g" for p in step.products)
        carbonate = any("carbonate" in shipped.substances[p.substance].name for p in step.reactants)
        if "no more fizz" in _done(step).lower() and not gas and not carbonate:
            wrong.append(step.id)
    assert set(wrong) <= {"make-marigold-lake"}  # a recipe: its alum and soda are in the bath


def test_no_mild_ph_is_awaited_under_spare_acid(shipped):
    """A strong acid in excess holds the pH far below 3: then the record says what to do."""
    wrong = []
    for step in shipped.steps.values():
        spare = any(k in STRONG and v >= 0.02 for k, v in step.record.excess.items())
        high = [float(n) for n in re.findall(r"pH[^.;,]*?(\d+(?:\.\d)?)", _done(step))]
        mild = bool(high) and max(high) >= 2.5
        if spare and mild and not SPENT.search(_done(step)):
            wrong.append(step.id)
    assert wrong == []


def test_no_done_test_finds_the_excess(shipped):
    """A drop of an anion's salt tells of metal left; a metal in excess would always answer."""
    wrong = []
    for step in shipped.steps.values():
        if not DROP.search(_done(step)) or step.main.state != "s":
            continue
        product = shipped.substances[step.main.substance].parsed
        metals = {e for e in product.amounts if e not in {"H", "C", "N", "O", "P", "S"}}
        for name in step.record.excess:
            try:
                spare = set(parse(name).amounts)
            except Exception:
                continue
            if spare & metals:
                wrong.append(step.id)
    assert wrong == []


def test_no_earthenware_above_its_limit(shipped):
    """The bench's earthenware stands 1100 degC (equipment.yaml): no record asks it for more."""
    wrong = [
        step.id
        for step in shipped.steps.values()
        for need in step.record.equipment
        if need.name == "vessel"
        and "earthenware" in need.made_of
        and dict(need.limits).get("to", 0) > 1100
    ]
    assert wrong == []


def test_a_distilled_liquid_boils_no_water_off(shipped):
    """What distils over as the product is not water that is boiled off."""
    liquid = [s for s in shipped.steps.values() if s.main.state == "l"]
    assert len(liquid) > 40
    assert not any(boils_down(step) for step in liquid if step.record.kind != "concentration")


def test_every_material_has_a_card(shipped):
    """Also those that hold something the library has no substance for."""
    for name in shipped.materials:
        found = card.card(shipped, Meaning("material", name))
        record = shipped.materials[name].record
        assert len(found["contains"]) + len(found["besides"]) == len(record.contains)


def test_a_cell_has_no_rise_of_its_own(shipped):
    """The current sets the pace of an electrolysis: no adiabatic rise, no temperature of 1 bar."""
    cells = [s for s in shipped.steps.values() if s.record.kind == "electrolysis"]
    assert cells
    for step in cells[:4]:
        amount = one_step(shipped, step, 100.0)
        one = heat.heat_of_step(shipped, amount, water_of_step(shipped, amount))
        assert one.warming.rise_K is None
        assert one.decomposition is None
