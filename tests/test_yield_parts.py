"""Computed factors of yields, worked out again from the records' own water and tables."""

from __future__ import annotations

import re

import pytest

from routefinder.chem.solutions import interpolate
from routefinder.graph import needs
from routefinder.library import evidence, solubility
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.water import water_of_steps

DISSOLVED = "what stays dissolved in liquor and wash water"
CAKE = "what the cake holds of the liquor"


def _water(library, step):
    """Liquor and wash water, g a mole of the limiting reactant, everything taken dry."""
    names = dict.fromkeys(need[1] for need in needs.needs(library, step))
    supplies = [Supply(n, library.substances[n].name, "solid", {n: 1.0}, n) for n in names]
    found = amounts(library.alone(step), [step], supplies, step.main.substance, 100.0)
    water = water_of_steps(library, found)[step.id]
    moles = step.limiting.moles * found.steps[0].turns
    return water.left_g / moles, water.wash_g / moles


def _parts(library, what):
    for step in library.steps.values():
        for part in step.record.yield_.parts:
            if part.what == what:
                yield step, part


def test_every_such_factor_says_how_it_was_computed(shipped):
    found = [*_parts(shipped, DISSOLVED), *_parts(shipped, CAKE)]
    assert len(found) > 120
    for step, part in found:
        assert evidence.of_part(part).kind == evidence.COMPUTED, step.id
        assert re.search(r"Ksp|solubility table|1 bar of carbon|cake holds", part.source[0].cite)
        assert part.low <= part.typical <= part.high < 1


def test_losses_by_table_are_the_tables(shipped):
    """By hand for gypsum: 14 mmol a litre, 1.8 L a mole: 2.5 %."""
    seen = 0
    for step, part in _parts(shipped, DISSOLVED):
        if "by the solubility table of the product" not in part.source[0].cite:
            continue
        seen += 1
        main = step.main
        root = shipped.substances[shipped.root(main.substance)]
        least = step.record.temperature.low_C
        grams = max(
            interpolate(t.at, max(least, min(a for a, _ in t.at)))
            for t in solubility.tables_of(shipped, main.substance)
        )
        liquor, wash = _water(shipped, step)
        per = main.moles / step.limiting.moles
        loss = grams * 10 / root.molar_mass_g * (liquor + wash) / 1000 / per
        assert 1 - part.typical == pytest.approx(loss, rel=0.05, abs=6e-4), step.id
    assert seen >= 8


def test_losses_in_the_cake_are_the_records(shipped):
    """A drained cake holds its own weight of liquor; a wash thins what it holds."""
    seen = 0
    for step, part in _parts(shipped, CAKE):
        seen += 1
        liquor, wash = _water(shipped, step)
        cake = sum(
            p.moles * shipped.substances[p.substance].molar_mass_g
            for p in step.products if p.state == "s"
        ) / step.limiting.moles  # fmt: skip
        loss = cake / liquor
        if wash and "two washes" in part.source[0].cite:
            loss *= (cake / (cake + wash / 2)) ** 2
        elif wash:
            loss *= cake / (cake + wash)
        assert 1 - part.typical == pytest.approx(loss, rel=0.02, abs=6e-4), step.id
    assert seen >= 25
