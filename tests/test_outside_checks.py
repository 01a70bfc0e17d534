"""The engine against figures from outside: published sequences of steps, and rules of the trade."""

from __future__ import annotations

import dataclasses
import json

import pytest
from cases.published import STEP
from test_worked_examples import ROWS

import routefinder as rf
from routefinder.chem.equation import parse
from routefinder.vessel.amounts import amounts

# isomers of listed substances say which they are (numbers as the package chemicals has them)
NUMBERS = {"C2H5HSO4": "540-82-9"}  # ethyl hydrogen sulfate, not dimethyl sulfate


def sequence(tmp_path, equations, yields, target, bought):
    """A small library of a chain of equations; returns the one route to 1 kg of the target."""
    species = {t.species for e in equations for t in (*parse(e).left, *parse(e).right)}
    ids = {f: f"x{i}" for i, f in enumerate(sorted(species))}
    steps = ""
    for i, (equation, y) in enumerate(zip(equations, yields, strict=True)):
        done = parse(equation)
        text = (
            " + ".join(f"{t}(l)" for t in done.left)
            + " -> "
            + " + ".join(f"{t}(l)" for t in done.right)
        )
        steps += STEP.format(
            id=f"s{i}", equation=text, product=done.right[0].species, limiting=done.left[0].species,
            low=y * 100, typical=y * 100, high=y * 100, excess="", source="OpenStax Chemistry 2e",
        ).replace("time:", "recovered: {" + ", ".join(
            f"{t.species}: 100 %" for t in done.right[1:]) + "}\n  time:")  # fmt: skip
    files = {
        "substances": "".join(
            f'- id: {ids[f]}\n  name: "{f}"\n  formula: "{f}"\n  sources: from memory\n'
            + (f"  cas: {NUMBERS[f]}\n" if f in NUMBERS else "")
            for f in ids
        ),
        "steps": steps,
        "materials": "".join(
            f"- id: bought-{ids[f]}\n  name: bought {ids[f]}\n  form: liquid\n"
            f"  contains: [{{substance: {ids[f]}, strength: 100 %}}]\n  sources: from memory\n"
            for f in bought
        ),
    }
    for kind, text in files.items():
        (tmp_path / kind).mkdir()
        (tmp_path / kind / "case.yaml").write_text(text, encoding="utf-8")
    found = rf.find(target, "1 kg", libraries=[tmp_path], only_library=True)
    (route,) = found.routes
    return found.library, route.assessment


def test_urea_through_an_intermediate(tmp_path):
    """A26, OpenStax Chemistry 2e section 4.3 exercise 12: 1000 kg of carbon give 5000 kg of urea."""
    given = json.loads(ROWS["A26"]["inputs"])
    library, found = sequence(
        tmp_path, given["steps"], given["yields"], "CO(NH2)2", ["C", "O2", "NH3"]
    )
    carbon = next(
        d for d in found.amounts.draws if library.substances[d.supply.main].formula == "C"
    )
    assert 1000 / carbon.mass_g * 1000 == pytest.approx(
        float(ROWS["A26"]["recomputed_IUPAC2021"]), rel=1e-5
    )


def test_ethylene_for_ethanol_planned_backwards(tmp_path):
    """A35, OpenStax Chemistry 2e section 9.3 exercise 30: 90.1 % overall over two steps."""
    given = json.loads(ROWS["A35"]["inputs"])
    library, found = sequence(
        tmp_path, given["steps"], [given["overall_yield"], 1.0], "C2H5OH", ["C2H4", "H2SO4", "H2O"]
    )
    ethylene = next(
        d for d in found.amounts.draws if library.substances[d.supply.main].formula == "C2H4"
    )
    litres = ethylene.moles * 22.414 * 1000  # 0 °C and 1 atm, for 1000 kg
    assert litres == pytest.approx(float(ROWS["A35"]["recomputed_IUPAC2021"]), rel=1e-3)


@pytest.mark.parametrize("row_id", ["A27", "A28", "A30"])
def test_what_runs_out_first(tmp_path, row_id):
    """Limiting reactants, OpenStax Chemistry 2e, Example 4.12 and section 4.4 exercise 2."""
    row = ROWS[row_id]
    given = json.loads(row["inputs"])
    left = [t.species for t in parse(given["eq"]).left]
    product = parse(given["eq"]).right[0].species
    library, found = sequence(tmp_path, [given["eq"]], [1.0], product, left)
    on_shelf = {f: given[f"{f}_g"] for f in left}
    draws = tuple(
        dataclasses.replace(
            d,
            supply=dataclasses.replace(
                d.supply, amount_g=on_shelf[library.substances[d.supply.main].formula]
            ),
        )
        for d in found.amounts.draws
    )
    found = dataclasses.replace(found, amounts=dataclasses.replace(found.amounts, draws=draws))
    draw, share = found.runs_out_first
    assert library.substances[draw.supply.main].formula == row["expected"].split(";")[0]
    if row_id == "A27":
        grams = share * found.amounts.target_g
        moles = grams / library.substances[found.amounts.target].molar_mass_g
        assert moles == pytest.approx(0.0237, abs=5e-5)


def test_percent_yield_of_copper_by_cementation(tmp_path):
    """A31, OpenStax Chemistry 2e Example 4.13: 0.392 of 0.5072 g is 77.3 %."""
    given = json.loads(ROWS["A31"]["inputs"])
    equation = "CuSO4 + Zn -> Cu + ZnSO4"
    library, found = sequence(tmp_path, [equation], [0.773], "Cu", ["CuSO4", "Zn"])
    (step,) = found.amounts.steps
    vitriol = next(f for f in step.feeds if library.substances[f.substance].formula == "CuSO4")
    scale = given["CuSO4_g"] / vitriol.mass_g
    assert step.theoretical_g * scale == pytest.approx(0.5072, abs=1e-4)
    assert step.product.mass_g * scale == pytest.approx(given["actual_Cu_g"], abs=5e-4)


def step_in(shipped, reactant, product):
    """Steps of the shipped library from one substance to another as main product."""
    return [
        s for s in shipped.steps.values()
        if s.main.substance == product and s.limiting.substance == reactant
    ]  # fmt: skip


def test_a_kilogram_of_carbonate_burns_to_560_g(shipped):
    """Common practice; and the furnace wants about 900 to 1000 degC."""
    burns = step_in(shipped, "calcium-carbonate", "calcium-oxide")
    assert burns
    for step in burns:
        ratio = step.main.moles * shipped.substances["calcium-oxide"].molar_mass_g
        ratio /= step.limiting.moles * shipped.substances["calcium-carbonate"].molar_mass_g
        assert ratio == pytest.approx(0.560, abs=0.002)
        assert 850 <= step.heat_C <= 1000
        assert step.record.temperature.high_C >= 900


def test_160_ml_of_water_slakes_half_a_kilogram_of_quicklime(shipped):
    """Common practice: the equation's water for 500 g of CaO is about 160 mL."""
    slakes = step_in(shipped, "calcium-oxide", "calcium-hydroxide")
    assert slakes
    step = slakes[0]
    water = next(p for p in step.reactants if p.substance == "water")
    grams = 500 / shipped.substances["calcium-oxide"].molar_mass_g * water.moles * 18.015
    assert grams / step.limiting.moles == pytest.approx(160, rel=0.02)


def test_rochelle_salt_from_cream_of_tartar(shipped):
    """Worked by hand in the project: 340 g of KHT give at most 509.9 g of Rochelle salt."""
    found = rf.find("potassium sodium tartrate tetrahydrate", "509.9 g", top=25)
    routes = [
        r for r in found.routes
        if len(r.ids) == 2
        and any(d.supply.main == "potassium-hydrogen-tartrate" for d in r.assessment.amounts.draws)
    ]  # fmt: skip
    assert routes
    steps, supplies = (
        routes[0].assessment.steps,
        [d.supply for d in routes[0].assessment.amounts.draws],
    )
    ideal = amounts(found.library, steps, supplies, found.target.id, 509.9, ideal=True)
    tartar = next(d for d in ideal.draws if d.supply.main == "potassium-hydrogen-tartrate")
    assert tartar.mass_g == pytest.approx(340, rel=1e-3)
