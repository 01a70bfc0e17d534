"""Batches by the bench: the demo's pots, crucibles in a kiln, and the laws of equal batches."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_demo import R1, R2, R3C, ask, route
from test_reasoning import check

from routefinder.assessment import batches as b
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool
from routefinder.vessel.amounts import amounts
from routefinder.vessel.volume import volume_mL


@pytest.fixture(scope="module")
def answer(request):
    from routefinder.library.where import examples

    return ask(examples() / "studio")


@pytest.fixture(scope="module")
def with_kiln(request):
    from routefinder.library.where import examples

    return ask(examples() / "studio", bench="bench-with-kiln.yaml")


def found_for(answer, ids, bench=None, **more):
    found = route(answer, ids).assessment.amounts
    every = b.batches(answer.library, found, bench or answer.question.bench, **more)
    return {x.step: x for x in every}, every, found


def test_demo_by_hand(answer):
    """S1: dissolving 3.8 L with foam in a 5 L pot at 0.6 takes 2 batches, precipitating in the
    10 L bucket 1."""
    by_id, every, found = found_for(answer, R1)
    dissolve = by_id["dissolve-basic-copper-carbonate-in-acetic-acid"]
    assert dissolve.vessel == "enamelled pot, 5 L"  # no bucket on the plate
    assert dissolve.peak_mL == pytest.approx(3800, rel=0.01)
    assert dissolve.limit.holds_mL * dissolve.limit.use == pytest.approx(3000)
    assert dissolve.count == 2
    assert "portions" in dissolve.note
    precipitate = by_id["precipitate-basic-copper-carbonate"]
    assert precipitate.vessel == "PP bucket, 10 L"
    assert precipitate.count == 1
    assert check(b.reasons(every, found)) > 10


def test_hands_and_waiting_of_two_batches(answer):
    """Two batches: twice the work; twice the waiting in one pot, once in two on two plates."""
    by_id, _, _ = found_for(answer, R1)
    dissolve = by_id["dissolve-basic-copper-carbonate-in-acetic-acid"]
    assert (dissolve.hands_on_min, dissolve.waiting_min) == (120, 120)
    tools = answer.question.bench.tools
    twice = Bench(tuple(Tool(t.name, t.offers, 2) for t in tools))
    by_id, _, _ = found_for(answer, R1, twice)
    dissolve = by_id["dissolve-basic-copper-carbonate-in-acetic-acid"]
    assert dissolve.at_once == 2
    assert (dissolve.hands_on_min, dissolve.waiting_min) == (120, 60)
    two_pots_one_plate = Bench(tuple(
        Tool(t.name, t.offers, 2 if any(o.name == "vessel" for o in t.offers) else 1) for t in tools
    ))  # fmt: skip
    by_id, _, _ = found_for(answer, R1, two_pots_one_plate)
    assert by_id["dissolve-basic-copper-carbonate-in-acetic-acid"].waiting_min == 120


def test_the_liquor_of_an_earlier_step_counts(answer):
    """4.5 L of liquor and washings do not go into a 5 L pot that boils: by the volume that comes in,
    not by what is left at the end. S1 by hand counts 3.74 L vinegar and 1.2 L water for the
    vitriol; here the vitriol has its half of the water that the
    record calls for (1.513 mol x 836 g x 0.502 = 0.64 L), less its own crystal water, 0.14 L. What
    is dissolved makes it more by what solutions of that strength are known to take up."""
    by_id, _, found = found_for(answer, R2)
    mix = by_id["copper-ii-acetate-from-calcium-acetate"]
    boil = by_id["crystallise-copper-ii-acetate"]
    assert mix.fillings[0].volume_mL == pytest.approx(3740 + 500 + 140, rel=0.02)
    handed_on = found.steps[-2].course.product  # less what the gypsum holds
    assert boil.peak_mL == pytest.approx(volume_mL(answer.library, handed_on))
    assert boil.peak_mL > 4300
    assert boil.count == 2
    assert "boils down" in boil.note


def test_firings():
    """240 g of raw mix at 0.81 g/mL in 100 mL crucibles at two thirds: 54 g each, 5 crucibles; a
    kiln that takes 4 is loaded twice, and two grind-fire rounds are 4 firings."""
    found = b.firings(240, 100, 4, bulk_g_mL=0.81, cycles=2)
    assert found.per_crucible_g == pytest.approx(54)
    assert (found.crucibles, found.loads, found.firings) == (5, 2, 4)


def test_furnace_and_crucibles(with_kiln):
    """Roasting 116 g of wire: one dish of 0.5 L, or by the furnace when that is the smaller."""
    by_id, every, found = found_for(with_kiln, R3C)
    roast = by_id["roast-copper-to-copper-ii-oxide"]
    copper_g = found.steps[0].feeds[0].as_weighed_g
    assert roast.peak_g == pytest.approx(copper_g * 79.545 / 63.546, rel=0.01)  # it takes up oxygen
    assert roast.peak_mL == pytest.approx(roast.peak_g / 0.6)
    assert roast.count == 1
    tools = [t for t in with_kiln.question.bench.tools if "kiln" not in t.name]
    small = Capability.model_validate({"heat-dry": {"to": "970 degC", "volume": "0.2 L"}})
    by_id, every, found = found_for(
        with_kiln, R3C, Bench((*tools, Tool("test kiln, 0.2 L", (small,))))
    )
    roast = by_id["roast-copper-to-copper-ii-oxide"]
    assert roast.count == math.ceil(roast.peak_g / 0.6 / (200 * 0.3))
    assert roast.limit.what == "test kiln, 0.2 L"
    check(b.reasons(every, found))
    by_id, _, _ = found_for(with_kiln, R3C, bulk_g_mL=0.1)
    assert by_id["roast-copper-to-copper-ii-oxide"].count == math.ceil(
        roast.peak_g / 0.1 / (500 * 2 / 3)
    )


def test_batches_hold_what_the_course_holds(shipped, studio):
    """Every step, 5 kg of it: no batch holds more than its vessels bear at any stage, the card says
    what the course weighs, and washes go neither into the furnace nor onto the card's weight."""
    from routefinder.assessment.one_step import one_step_route
    from routefinder.library.shelf import read_bench

    bench = read_bench(studio / "bench-with-kiln.yaml", shipped)
    judged = dry_washed = 0
    for step in shipped.steps.values():
        found = one_step_route(shipped, step, 5000.0)
        (one,) = b.batches(shipped, found, bench)
        course = found.steps[0].course
        heavy = [course.charge.contents]
        for point in course.points:
            if point.stage.kind in {"filter", "decant", "press", "wash"}:
                break
            heavy.append(point.contents)
        most = max(float(c.in_phases("s", "l", "aq")) for c in heavy)
        filling = one.fillings[0]
        loose = filling.when.startswith("loose")
        fullest = max(heavy, key=lambda c: volume_mL(shipped, c))
        expected = most if loose else fullest.in_phases("s", "l", "aq")
        assert filling.mass_g == pytest.approx(float(expected), rel=1e-9), step.id
        for later in one.fillings[1:]:
            says = {"aq": "filtrate and washings", "l": "at the washing"}[step.main.state]
            assert later.when == says, step.id
        dry_washed += loose and float(course.charge.wash.mass_g) > 0
        contents = [course.charge.contents, *(p.contents for p in course.points)]
        room = most / b.BULK_G_ML if loose else max(volume_mL(shipped, c) for c in (
            contents if len(one.fillings) > 1 else heavy
        ))  # fmt: skip
        assert one.peak_mL >= room * (1 - 1e-9), step.id
        for limit in one.limits:
            judged += 1
            holds = limit.holds_mL * limit.use * one.count
            assert holds >= limit.filling.volume_mL * (1 - 1e-9), step.id
        put_in = sum(g for _, g in filling.put_in)
        weighed = course.charge.contents.mass_g + course.charge.after.mass_g
        assert put_in == pytest.approx(float(weighed), rel=1e-9), step.id
    assert judged > 800
    assert dry_washed >= 10


def test_portions(answer):
    """A balance of 100 g and a funnel of 150 mL: weigh and filter in several goes."""
    scale = Capability.model_validate({"weigh": {"readability": "0.1 g", "capacity": "100 g"}})
    funnel = Capability.model_validate({"filter": {"grade": "fine", "volume": "150 mL"}})
    plain = [t for t in answer.question.bench.tools
             if not any(o.name in {"weigh", "filter"} for o in t.offers)]  # fmt: skip
    bench = Bench((*plain, Tool("scale", (scale,)), Tool("funnel", (funnel,))))
    by_id, _, found = found_for(answer, R1, bench)
    portions = dict(by_id["precipitate-basic-copper-carbonate"].portions)
    assert portions["weigh blue vitriol root killer"] == 5  # 402 g
    assert portions["weigh soda ash"] == 2  # 186 g
    solid = sum(
        o.mass_g for o in found.steps[0].outcomes if o.substance == "basic-copper-carbonate"
    )
    assert portions["filter"] == math.ceil(solid / 0.6 / 150)


def test_a_small_stirrer_limits_the_batch(answer):
    """A step that must be stirred is limited by what the stirrer moves."""
    found = route(answer, R1).assessment.amounts
    step = found.steps[0].step
    record = step.record.model_copy(
        update={"equipment": (*step.record.equipment, Capability(name="stir"))}
    )
    from dataclasses import replace

    changed = replace(found.steps[0], step=replace(step, record=record))
    found = replace(found, steps=(changed, *found.steps[1:]))
    small = Capability.model_validate({"stir": {"volume": "1 L"}})
    tools = [t for t in answer.question.bench.tools if t.name != "stirring rod"]
    every = b.batches(answer.library, found, Bench((*tools, Tool("stirrer", (small,)))))
    assert every[0].count == 3  # 2.5 L
    assert every[0].limit.what == "what the stirrer moves"


def test_nothing_known_about_vessels(answer):
    """Without a vessel of known size the count is 1 and says that it is not known."""
    found = route(answer, R1).assessment.amounts
    every = b.batches(answer.library, found, Bench(()))
    assert [x.count for x in every] == [1, 1, 1]
    assert not any(x.known for x in every)
    assert all("no vessel of known size" in " ".join(r.lines) for r in b.reasons(every, found))


def test_much_gas_takes_more_room(answer):
    """A gas that leaves 20 times the liquid's volume: only 0.4 of the pot; half of it: 0.6."""
    from dataclasses import replace

    found = route(answer, R1).assessment.amounts
    dissolve = found.steps[1]
    liquid_L = 3.778

    def with_gas(times):
        outcomes = tuple(
            replace(o, moles=liquid_L * times / 24.0) if o.fate == "gas" else o
            for o in dissolve.outcomes
        )
        steps = (found.steps[0], replace(dissolve, outcomes=outcomes), found.steps[2])
        changed = replace(found, steps=steps)
        return b.batches(answer.library, changed, answer.question.bench)[1]

    assert with_gas(19.0).limit.use == 0.6
    assert with_gas(21.0).limit.use == 0.4
    assert with_gas(21.0).count == math.ceil(3820 / 2000)
    assert with_gas(0.0).limit.use == 0.7


def test_the_part_of_a_vessel_can_be_told(answer):
    """Less foam than usual, by the user's word."""
    name = "dissolve-basic-copper-carbonate-in-acetic-acid"
    by_id, _, _ = found_for(answer, R1, use={name: 0.8})
    assert by_id[name].count == 1


@given(st.floats(1, 5000), st.floats(1.01, 4))
def test_laws(answer, grams, more):
    """A batch fits its vessel; one batch fewer would not; more target never takes fewer."""
    r = route(answer, R1)
    counts = []
    for amount in (grams, grams * more):
        found = amounts(answer.library, r.assessment.steps, answer.question.shelf.supplies,
                        r.assessment.amounts.target, amount)  # fmt: skip
        every = b.batches(answer.library, found, answer.question.bench)
        counts.append([x.count for x in every])
        for x in every:
            for limit in x.limits:
                room = limit.holds_mL * limit.use
                assert limit.filling.volume_mL / x.count <= room * (1 + 1e-6)
            assert x.limit.filling.volume_mL > (x.count - 1) * x.limit.holds_mL * x.limit.use
            assert x.hands_on_min >= x.count
    assert all(a <= c for a, c in zip(*counts, strict=True))


def test_times_count_batches(answer):
    """find's hours are those of the batches: 2 + 2 × 1 + 2 × 3 h by hand; without a bench 6 h."""
    from routefinder.assessment.time import times_min

    _, every, found = found_for(answer, R1)
    a = route(answer, R1).assessment
    assert (a.hands_on_min, a.elapsed_min) == times_min(found, every)
    assert a.hands_on_min == 600
    assert a.elapsed_min == 600 + 840 + 2 * 60 + 2 * 1440
    assert times_min(found)[0] == 360
