"""What is really in the vessel: three cases worked by hand, and laws over the whole library.

The conversions, losses and impurities of the three cases are invented for the arithmetic; atomic
weights are IUPAC 2021.
"""

from __future__ import annotations

import numpy as np
import pytest

from routefinder.assessment.one_step import one_step
from routefinder.library.cache import load_cached
from routefinder.library.shelf import supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.course import Behaviour, Charge, balance_g, behaviour_of, run, total
from routefinder.vessel.stream import WATER, Stream

LIME = """
- id: limestone-flour-crude
  name: limestone flour, crude
  form: solid
  contains:
    - {substance: CaCO3, strength: 92 %}
    - {substance: quartz, strength: 6 %, fate: stays}
    - {substance: H2O, strength: 1.5 %, fate: leaves when heated}
    - {what: organic matter, strength: 0.5 %, fate: burns off}
  sources: "invented: worked by hand"
"""
STEPS = """
- id: burn-limestone
  title: Burn limestone flour to lime
  kind: burning
  equation: CaCO3(s) -> CaO(s) + CO2(g)
  product: CaO
  limiting: CaCO3
  yield:
    basis: "lime in the jar, on calcium"
    parts:
      - {what: conversion, low: 94 %, typical: 98 %, high: 99.5 %}
      - {what: handling, low: 98 %, typical: 99 %, high: 100 %}
  temperature: {low: 850 degC, high: 1050 degC}
  time: {hands_on: 30 min, waiting: 16 h}
  equipment: [{heat-dry: {to: 900 degC}}]
  stages:
    - charge: {what: [CaCO3]}
    - heat: {to: 900 degC}
    - hold: {at: 850 degC, to: 1050 degC, within: 40 K, for: 2 h, attended: no}
    - cool: {to: 60 degC, closed: yes}
  sources: "invented: worked by hand"
- id: causticise-with-crude-lime
  title: Causticise soda with lime
  kind: causticising
  equation: Na2CO3(aq) + Ca(OH)2(s) -> 2 NaOH(aq) + CaCO3(s)
  product: NaOH
  limiting: Na2CO3
  yield: {low: 80 %, typical: 88 %, high: 92 %, basis: "in the liquor and washings", source: common practice}
  temperature: {low: 80 degC, high: 100 degC}
  time: {hands_on: 1 h, waiting: 2 h}
  equipment: [{heat-liquid: {to: 90 degC}}, filter]
  stages:
    - charge: {what: [H2O, Na2CO3, CaO], also: ["CaO(s) + H2O(l) -> Ca(OH)2(s)"]}
    - stir: {at: 80 degC, to: 100 degC, for: 2 h}
    - filter: {holds: 100 %}
    - wash: {what: [H2O], pushes_out: 80 %}
  sources: "invented: worked by hand"
- id: fire-calcium-silicate
  title: Fire calcium silicate with a soda flux
  kind: combination
  equation: CaO(s) + quartz(s) -> wollastonite-made(s)
  product: wollastonite-made
  limiting: CaO
  yield: {low: 70 %, typical: 80 %, high: 95 %, basis: "cake as it comes from the kiln", source: common practice}
  temperature: {low: 1000 degC, high: 1150 degC}
  time: {hands_on: 1 h, waiting: 20 h}
  equipment: [{heat-dry: {to: 1050 degC}}]
  stages:
    - charge
    - hold:
        at: 1000 degC
        to: 1150 degC
        for: 4 h
        also: ["CaCO3(s) -> CaO(s) + CO2(g)", "Na2CO3(s) -> sodium-oxide(s) + CO2(g)"]
    - cool: {to: 60 degC}
  sources: "invented: worked by hand"
"""
SUBSTANCES = """
- {id: sodium-oxide, name: sodium oxide, formula: Na2O, sources: from memory}
- {id: wollastonite-made, name: calcium silicate as fired, formula: CaSiO3, sources: from memory}
"""


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """The shipped library with the steps and the material worked by hand."""
    folder = tmp_path_factory.mktemp("worked")
    for kind, text in {"steps": STEPS, "materials": LIME, "substances": SUBSTANCES}.items():
        (folder / kind).mkdir()
        (folder / kind / "worked.yaml").write_text(text, encoding="utf-8")
    return load_cached([folder])


def ids(library):
    """Ids by formula, for reading the cases."""
    names = ("CaCO3", "CaO", "Ca(OH)2", "Na2CO3", "NaOH")
    return {f: library.substance_names.by_formula(f)[0] for f in names}


# --- crude lime --------------------------------------------------------------------------------


def crude(library, conversion=0.98):
    step = library.steps["burn-limestone"]
    flour = supply(library.materials["limestone-flour-crude"])
    want_g = 736.0 / library.substances[ids(library)["CaCO3"]].molar_mass_g
    made = want_g * library.substances[step.main.substance].molar_mass_g
    found = amounts(library, [step], [flour], step.main.substance, made, lambda _: 1.0)
    return run(library, step, found.steps[0].course.charge, Behaviour(conversion, 0.99, False))


def test_crude_lime(worked):
    """800 g of flour: 736 g CaCO3, 48 g SiO2, 12 g water, 4 g organic; 98 % converted."""
    name = ids(worked)
    course = crude(worked)
    assert course.charge.contents.mass_g == pytest.approx(800.0, abs=0.05)
    hold = course.after("hold")
    assert hold.contents.grams(name["CaO"]) == pytest.approx(404.1, abs=0.05)
    assert hold.contents.grams(name["CaCO3"]) == pytest.approx(14.7, abs=0.05)
    assert hold.contents.mass_g == pytest.approx(466.8, abs=0.05)
    carbon_dioxide = course.leavings["gas"].mass_g
    assert carbon_dioxide == pytest.approx(317.2, abs=0.05)
    assert carbon_dioxide / 44.009 * 24.055 == pytest.approx(173, abs=0.5)  # 20 degC, 1 atm
    assert course.leavings["steam"].mass_g == pytest.approx(12.0, abs=0.05)
    assert course.leavings["burnt"].mass_g == pytest.approx(4.0, abs=0.05)
    jar = course.product
    assert jar.grams(name["CaO"]) == pytest.approx(400.1, abs=0.05)
    assert jar.grams(name["CaCO3"]) == pytest.approx(14.6, abs=0.05)
    assert jar.grams("quartz") == pytest.approx(47.5, abs=0.05)
    assert jar.mass_g == pytest.approx(462.2, abs=0.05)
    assert course.leavings["spilt"].mass_g == pytest.approx(4.7, abs=0.05)
    assert jar.share(name["CaO"]) == pytest.approx(0.866, abs=0.0005)
    whole = 736.0 / 100.086 * 56.077  # CaO of all the carbonate
    assert jar.grams(name["CaO"]) / whole == pytest.approx(0.970, abs=0.0005)
    # 100 g of CaO are 115.5 g of what lies in the jar
    share = 100 / jar.grams(name["CaO"])
    assert (jar * share).mass_g == pytest.approx(115.5, abs=0.05)
    assert (jar * share).grams("quartz") == pytest.approx(11.9, abs=0.05)
    assert (jar * share).grams(name["CaCO3"]) == pytest.approx(3.6, abs=0.06)


@pytest.mark.parametrize(("conversion", "weight"), [(1.0, 460.4), (0.816, 520.0), (0.75, 541.3)])
def test_weights_of_crude_lime(worked, conversion, weight):
    assert crude(worked, conversion).after("hold").contents.mass_g == pytest.approx(weight, abs=0.1)


# --- carried on as it is -----------------------------------------------------------------------


def causticised(library):
    name, step = ids(library), library.steps["causticise-with-crude-lime"]
    lime = crude(library).product
    lime = lime * (70.0 / lime.mass_g)
    soda = 1.000 * library.substances[name["Na2CO3"]].molar_mass_g
    pot = lime + Stream({(name["Na2CO3"], "s"): soda, WATER: 1000.0})
    charge = Charge(pot, 1.0, Stream({WATER: 150.0}))
    return run(library, step, charge, Behaviour(0.90, 1.0, False)), lime


def test_carried_on_as_a_slurry_to_lye(worked):
    """1 mol of soda in 1000 g of water with 70.0 g of the crude lime; 90 % at equilibrium."""
    name = ids(worked)
    course, lime = causticised(worked)
    assert lime.grams(name["CaO"]) == pytest.approx(60.60, abs=0.01)
    assert lime.grams(name["CaO"]) / 56.077 == pytest.approx(1.0806, abs=1e-4)
    assert lime.grams("quartz") == pytest.approx(7.20, abs=0.01)
    assert lime.grams(name["CaCO3"]) == pytest.approx(2.21, abs=0.02)
    stirred = course.after("stir").contents
    assert stirred.grams(name["NaOH"]) == pytest.approx(71.99, abs=0.01)
    assert stirred.grams(name["Na2CO3"], "aq") == pytest.approx(10.60, abs=0.01)
    assert stirred.grams(*WATER) == pytest.approx(980.5, abs=0.05)
    assert stirred.grams(name["Ca(OH)2"]) == pytest.approx(13.38, abs=0.01)
    new = stirred.grams(name["CaCO3"]) - lime.grams(name["CaCO3"])
    assert new == pytest.approx(90.08, abs=0.01)
    assert stirred.solids_g == pytest.approx(112.9, abs=0.05)
    assert stirred.mass_g == pytest.approx(1176.0, abs=0.05)
    assert stirred.liquor_g == pytest.approx(1063.1, abs=0.06)
    assert stirred.grams(name["NaOH"]) / stirred.liquor_g == pytest.approx(0.0677, abs=5e-5)
    # the product after the wash: filtrate and washings together
    lye, theory = course.product, 2 * 39.997
    assert lye.mass_g == pytest.approx(1100.3, abs=0.1)
    assert lye.grams(name["NaOH"]) == pytest.approx(70.47, abs=0.01)
    assert lye.share(name["NaOH"]) == pytest.approx(0.0640, abs=5e-5)
    assert lye.grams(name["NaOH"]) / theory == pytest.approx(0.881, abs=5e-4)
    mud = course.leavings["residue"]
    assert mud.mass_g == pytest.approx(225.7, abs=0.1)
    assert mud.grams(name["NaOH"]) == pytest.approx(1.53, abs=0.01)
    # 10.00 g of the lye to the second end point with 0.500 mol/L acid
    hydroxide = 10 * lye.share(name["NaOH"]) / 39.997
    alkali = hydroxide + 2 * 10 * lye.share(name["Na2CO3"]) / 105.988
    assert hydroxide * 1000 == pytest.approx(16.01, abs=0.01)
    assert alkali * 1000 == pytest.approx(17.79, abs=0.01)
    assert alkali / 0.500 * 1000 == pytest.approx(35.6, abs=0.05)


def test_before_the_wash(worked):
    """The mud holds its own weight of liquor: 950.3 g of filtrate with 80.4 % of the lye."""
    name = ids(worked)
    course, _ = causticised(worked)
    stirred = course.after("stir").contents
    held = stirred.solids_g
    passing = stirred.only("l", "aq") * (1 - held / stirred.liquor_g)
    assert passing.mass_g == pytest.approx(950.3, abs=0.1)
    assert passing.grams(name["NaOH"]) == pytest.approx(64.35, abs=0.02)
    assert passing.grams(name["NaOH"]) / (2 * 39.997) == pytest.approx(0.804, abs=5e-4)
    assert held / stirred.liquor_g * stirred.grams(name["NaOH"]) == pytest.approx(7.64, abs=0.01)


# --- a weight that sees nothing ----------------------------------------------------------------


def fired(library, conversion):
    name = ids(library)
    charge = Charge(
        Stream({
            (name["CaCO3"], "s"): 100.09, ("quartz", "s"): 60.08, (name["Na2CO3"], "s"): 5.00,
        }),
        100.09 / 100.086,
    )  # fmt: skip
    return run(
        library, library.steps["fire-calcium-silicate"], charge, Behaviour(conversion, 1.0, False)
    )


def test_a_weight_that_sees_nothing(worked):
    """165.17 g go in and 119.08 g come out, whether silicate was made or not."""
    name = ids(worked)
    assert fired(worked, 0.5).charge.contents.mass_g == pytest.approx(165.17, abs=0.005)
    for conversion in (0.0, 0.8, 1.0):
        course = fired(worked, conversion)
        assert course.after("hold").contents.mass_g == pytest.approx(119.08, abs=0.02)
        assert course.leavings["gas"].mass_g == pytest.approx(46.09, abs=0.01)
        assert course.product.grams("sodium-oxide") == pytest.approx(2.92, abs=0.005)
    whole = fired(worked, 1.0).product
    assert whole.grams("wollastonite-made") == pytest.approx(116.16, abs=0.02)
    cake = fired(worked, 0.8).product
    assert cake.grams(name["CaO"]) == pytest.approx(11.22, abs=0.01)
    assert cake.share(name["CaO"]) == pytest.approx(0.0942, abs=1e-4)
    # free lime and the flux's soda both take acid; the cold acid finds the lime first
    assert cake.share(name["CaO"]) / 56.077 * 2 * 1000 == pytest.approx(3.36, abs=0.01)


# --- laws over the whole library ---------------------------------------------------------------


@pytest.fixture(scope="module")
def alone(shipped):
    """Every step by itself, pure, for 100 g of its product: (step, amounts, course)."""
    out = []
    for step in shipped.steps.values():
        amount = one_step(shipped, step, 100.0)
        out.append((step, amount, amount.course))
    return out


def test_mass_and_elements_are_conserved_at_every_stage(shipped, alone):
    """What was there and came in is what is there and left: 1e-9, every stage of every step."""
    assert len(alone) == len(shipped.steps) >= 926
    stages = 0
    for step, _, course in alone:
        whole = course.charge.contents.mass_g + course.charge.wash.mass_g
        before = course.charge.at_first
        for point in course.points:
            stages += 1
            into = before + point.taken
            out = point.contents + total(point.left.values())
            assert out.mass_g == pytest.approx(into.mass_g, rel=1e-9), (step.id, point.stage.kind)
            if not step.is_recipe:
                have, had = out.elements(shipped), into.elements(shipped)
                for element in had:
                    assert have.get(element, 0.0) == pytest.approx(
                        had[element], rel=1e-9, abs=1e-9 * whole
                    ), (step.id, point.stage.kind, element)
            before = point.contents
        assert abs(balance_g(course)) <= 1e-9 * whole, step.id
    assert stages > 3 * len(alone)


def test_nothing_is_less_than_nothing(alone):
    for step, _, course in alone:
        whole = course.charge.contents.mass_g + course.charge.wash.mass_g
        for point in course.points:
            for part, grams in point.contents.parts.items():
                assert grams > -1e-9 * whole, (step.id, point.stage.kind, part)


def test_the_course_ends_at_the_yield(shipped, alone):
    """At the typical yield the vessel gives the product that the amounts promise, seed besides."""
    for step, amount, course in alone:
        main = step.main
        name = shipped.root(main.substance) if main.state == "aq" else main.substance
        moles = course.product.grams(name) / shipped.substances[name].molar_mass_g
        seed = sum(
            f.moles for f in amount.feeds if f.role == "seed" and f.substance == main.substance
        )
        assert amount.product.moles - 1e-9 <= moles <= (amount.product.moles + seed) * (1 + 1e-9), (
            step.id
        )


def test_arrays_say_what_numbers_say(shipped):
    """One text serves numbers and arrays of trials."""
    for name in list(shipped.steps)[::9]:
        step = shipped.steps[name]
        charge = one_step(shipped, step, 100.0).course.charge
        y = step.record.yield_
        ends = np.array([y.low, y.typical, y.high])
        together = run(shipped, step, charge, behaviour_of(shipped, step, ends))
        for i, value in enumerate(ends):
            single = run(shipped, step, charge, behaviour_of(shipped, step, float(value)))
            mass = np.broadcast_to(together.product.mass_g, ends.shape)[i]
            assert mass == pytest.approx(single.product.mass_g, rel=1e-9), name


def test_a_route_hands_on_what_it_made(demo_routes, demo):
    """What a step charges of an earlier one is a share of all that went on there."""
    for route in demo.routes:
        found = route.assessment.amounts
        for amount in found.steps:
            course = amount.course
            whole = course.charge.contents.mass_g
            assert abs(balance_g(course)) <= 1e-9 * whole


def test_plan_checkpoint_and_weigh_say_one_thing(worked, tmp_path):
    """Crude lime burnt for a plan: what the plan, its checkpoint and a weighing expect agree."""
    import routefinder as rf
    from routefinder.journal import weight
    from routefinder.journal.mass_model import model
    from routefinder.worksheet.bench_work import bench_work

    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material,amount\nlimestone flour crude,5 kg\n".replace(" crude", ", crude").replace(
        "limestone flour, crude,", '"limestone flour, crude",'), encoding="utf-8")  # fmt: skip
    answer = rf.find("calcium oxide", "400.1 g", shelf=shelf, library=worked, top=20)
    route = next(r for r in answer.routes if r.assessment.ids == ("burn-limestone",))
    plan = answer.plan(route.number)
    (work,) = bench_work(plan)
    (amount,) = route.assessment.amounts.steps
    weighed = sum(f.drawn_g for f in amount.feeds)
    assert weighed == pytest.approx(800.0, abs=0.5)
    step = worked.steps["burn-limestone"]
    reading = weight.Reading(weighed, 0.1)
    charge = weight.charge(worked, step, reading, "limestone flour, crude")
    reached = float(amount.course.behaviour.conversion)
    assert reached == pytest.approx(0.98)
    in_kiln = model(worked, step, charge).weight_at(weighed, reached)
    assert work.checkpoint.contents_g == pytest.approx(in_kiln, abs=0.1)
    assert work.checkpoint.contents_g == pytest.approx(466.8, abs=0.3)
    assert work.checkpoint.expected_g == pytest.approx(
        float(amount.course.product.mass_g), abs=1e-6
    )
    assert work.checkpoint.expected_g == pytest.approx(462.2, abs=0.3)


def test_the_purity_of_a_route(demo, demo_routes, shipped):
    """Salts that the last wash leaves, what has not turned and what came in besides are told."""
    from routefinder.assessment.purity import purity

    found = demo_routes["precipitate-basic-copper-carbonate"].assessment.amounts
    assert purity(shipped, found).share == pytest.approx(1.0, abs=0.01)
    seen = 0
    for step in shipped.steps.values():
        if step.main.state != "s" or step.is_recipe:
            continue
        amount = one_step(shipped, step, 100.0)
        stream = amount.course.product
        share = stream.grams(step.main.substance) / (stream.mass_g - stream.grams(*WATER))
        assert 0 < share <= 1 + 1e-9, step.id
        seen += share < 0.95
    assert 20 < seen < 200  # cakes with what has not combined, salts that are not washed


def test_purity_can_be_asked_for(demo, studio):
    """A must-have on the computed purity sets routes aside."""
    import routefinder as rf

    kept = rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"],
        prefer="yield, purity at least 99.99 %",
    )  # fmt: skip
    whole = {r.assessment.ids for r in demo.routes if r.assessment.purity.share >= 0.9999}
    assert {r.assessment.ids for r in kept.routes} == whole


def test_routes_hand_on_what_their_amounts_promise(shipped):
    """Whatever a step is fed with, of all steps that can feed it: its yield and its mass balance."""
    import routefinder as rf
    from routefinder.errors import RoutefinderError

    tried = 0
    for name in list(shipped.made)[::11]:
        try:
            answer = rf.find(shipped.name(name), "100 g", library=shipped, top=4)
        except RoutefinderError:
            continue  # a name that several things share
        for route in answer.routes:
            for amount in route.assessment.amounts.steps:
                tried += 1
                made = amount.product.moles / (amount.step.main.moles * amount.turns)
                seed = any(f.role == "seed" for f in amount.feeds)
                assert seed or made == pytest.approx(amount.yield_, rel=1e-6), amount.step.id
                assert amount.mass_in_g == pytest.approx(amount.mass_out_g, rel=1e-8)
    assert tried > 150
