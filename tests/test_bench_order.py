"""The bench sheet: in which order things are put together, and what is worn for it."""

from __future__ import annotations

import re

import pytest

import routefinder as rf
from routefinder.hazards.cautions import cautions
from routefinder.library import shelf
from routefinder.library.pot import is_water
from routefinder.library.strength_lints import burns_as
from routefinder.vessel.amounts import amounts
from routefinder.view import bench_words, plan_files
from routefinder.worksheet.bench_work import bench_work, in_order

LIQUID = {"solution", "liquid"}


def by_itself(library, supplies, step):
    """A step alone, fed from the shops; None where only another step can feed it."""
    try:
        found = amounts(library.alone(step), [step], supplies, step.main.substance, 100.0)
    except AssertionError:
        return None
    return found.steps[0]


def planned(library, step, target):
    """The bench work of one step, on a route to ``target`` that uses it."""
    others = [
        s.id
        for s in library.steps.values()
        if s.id != step and any(p.substance == target for p in s.products)
    ]
    plan = rf.find(target, library=library, avoid=others, top=1).plan(1)
    return plan, next(w for w in bench_work(plan) if w.plan.amount.step.id == step)


def test_acid_goes_into_the_plain_water_before_anything_else(shipped):
    """All steps fed from the shops: nothing stands between the water and the acid it thins."""
    supplies = shelf.shops(shipped).supplies
    wrong, seen, fed = [], 0, 0
    for step in shipped.steps.values():
        amount = by_itself(shipped, supplies, step)
        if amount is None:
            continue
        fed += 1
        charge = [f for f in amount.feeds if f.role not in {"wash", "drying agent"}
                  and not f.after and f.drawn_g > 1e-9
                  and not isinstance(f.origin, str) and f.origin.form in LIQUID]  # fmt: skip
        order = in_order(shipped, amount, charge)
        plain = [is_water(shipped, f.substance) or f.role == "solvent" for f in order]
        burns = [burns_as(shipped, f.substance, f.origin.fractions.get(f.form)) for f in order]
        if "acid" not in burns:
            continue
        last = max(i for i, b in enumerate(burns) if b == "acid")
        if any(is_water(shipped, f.substance) for f in order):
            seen += 1
            if not all(p or b == "acid" for p, b in zip(plain[:last], burns[:last], strict=True)):
                wrong.append(step.id)
        elif not all(
            b or p or shipped.substances[f.substance].formula == "H2O2"  # it comes last of all
            for p, b, f in zip(plain[last:], burns[last:], order[last:], strict=True)
        ):
            wrong.append(step.id)  # without water it goes into the other liquids, not they into it
    assert fed > 500
    assert seen > 60
    assert wrong == []


def test_wear_says_what_the_record_and_the_label_ask_for(shipped):
    """Eyes at every step; a mask where its cautions name one; no flame by a flammable liquid."""
    mask = re.compile(r"(?<!gas )\bmask\b", re.IGNORECASE)
    flammable = {"H224", "H225", "H226"}
    bare, masks, fires = [], 0, 0
    for step in shipped.steps.values():
        found = cautions(shipped, step)
        worn = " ".join(a.text for a in found.wear)
        if "glasses" not in worn and "goggles" not in worn:
            bare.append((step.id, "eyes"))
        if any(mask.search(text) for text in step.record.cautions):
            masks += 1
            if "dust mask" not in worn:
                bare.append((step.id, "mask"))
        if flammable & {*found.label.statements, *found.label.for_caution}:
            fires += 1
            if "no flame" not in worn:
                bare.append((step.id, "flame"))
    assert masks > 150
    assert fires > 100
    assert bare == []


def test_an_ester_is_washed_with_solutions_and_dried_after_them(shipped):
    """No solid on the ester, its drying agent not in the flask, and the gas is let out."""
    plan, work = planned(shipped, "esterify-isopropanol-and-distil-off", "isopropyl-acetate")
    assert [p.role for p in work.agents] == ["drying agent"]
    assert not any(p.role in {"drying agent", "wash"} for p in work.charge)
    words = bench_words.doing(work)
    washes = [t for t in words if t.startswith("Wash with")]
    assert sum("dissolved in part of" in t for t in washes) == 2
    assert ["vent often" in t for t in washes] == ["bicarbonate" in t for t in washes]
    stand = next(i for i, t in enumerate(words) if t.startswith("Let the product stand over"))
    assert stand > max(words.index(t) for t in washes)
    page = plan_files.markdown(plan)
    for heading in ("**Danger**", "### Wear", "### Never", "### If it goes wrong"):
        assert heading in page


def test_what_warms_itself_is_not_heated_on(shipped):
    """Aluminium in lye: the warning stands before the work, the heat is only to start it."""
    _, work = planned(shipped, "dissolve-aluminium-in-sodium-hydroxide", "sodium-aluminate")
    words = bench_words.doing(work)
    assert words[1].startswith("Mind: boils when mixed at once")
    assert any(t.startswith("It warms itself") for t in words)
    assert not any(t.startswith("Heat with") for t in words)


def test_a_gas_is_led_in(shipped):
    """Carbon dioxide of a cylinder stands in the work; the oxygen of the air does not."""
    step = "precipitate-baking-soda-with-ammonia-and-carbon-dioxide"
    _, work = planned(shipped, step, "sodium-hydrogen-carbonate")
    assert [p.name for p in work.led_in] == ["carbon dioxide"]
    assert sum(t.startswith("Lead in ") for t in bench_words.doing(work)) == 1


@pytest.mark.parametrize(
    ("step", "first", "then"),
    [
        ("disproportionate-benzaldehyde-with-lye", "below 40", "distil"),
        ("roast-green-ultramarine-blue", "3 times", "wash"),
    ],
)
def test_written_stages_are_told_in_order(shipped, step, first, then):
    """A window by itself would have the mash of lye heated to the boiling point of its oil."""
    said = bench_words.stages(shipped.steps[step])
    assert 0 < said.index(first) < said.index(then)


def test_what_throws_a_solid_down_is_poured_as_a_solution(shipped):
    """Two dissolved salts weighed in dry: the second is dissolved apart and poured in."""
    plan = rf.find("strontium sulfate", "100 g", library=shipped, top=1).plan(1)
    (work, *_) = [w for w in bench_work(plan) if w.plan.amount.step.main.state == "s"]
    poured = [p for p in work.charge if p.to_dissolve]
    assert poured
    assert any("in the water kept back" in line for line in bench_words.doing(work))


def test_spare_water_is_taken_off_before_crystals_grow(shipped):
    """Iron alum from weak peroxide liquor: the sheet says what water is too much."""
    answer = rf.find("ammonium iron(III) sulfate dodecahydrate", library=shipped, top=8)
    weak = "oxidise-iron-ii-sulfate-with-peroxide"
    number = next(r.number for r in answer.routes if weak in r.ids)
    work = bench_work(answer.plan(number))[-1]
    assert work.spare_mL > 50
    assert any("more water than the crystals want" in line for line in bench_words.doing(work))
