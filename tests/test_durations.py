"""One account of what is in the vessel and one of how long it stays there, over the whole library."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import routefinder
from routefinder.assessment import gas, heat, schedule
from routefinder.assessment.one_step import one_step, one_step_route
from routefinder.records.stage import Stage
from routefinder.vessel.course import mixed
from routefinder.vessel.durations import Heating, fired, times_of, usual_times
from routefinder.vessel.stages import stages_of
from routefinder.vessel.stream import WATER, total
from routefinder.vessel.water import water_of_step

PACKAGE = Path(routefinder.__file__).parent


@pytest.fixture(scope="module")
def alone(shipped):
    """Every step by itself for 100 g of its product: (step, amounts, heat in two batches)."""
    out = []
    for step in shipped.steps.values():
        found = one_step_route(shipped, step, 100.0)
        heats = heat.heats(shipped, found, batches={step.id: 2})
        out.append((step, found, heats))
    return out


# --- contents ----------------------------------------------------------------------------------


def test_heat_weighs_what_the_vessel_holds(shipped, alone):
    """What is heated is what is charged, water and all; 1e-9, every step."""
    assert len(alone) >= 926
    for step, found, heats in alone:
        (amount,) = found.steps
        charged = amount.course.charge.contents
        wet = mixed(shipped, step, amount.course)
        assert wet.mass_g == pytest.approx(charged.mass_g, rel=1e-9), step.id
        held = sum(p.mass_g for p in heats[step.id].warming.portions)
        assert held == pytest.approx(wet.mass_g - wet.in_phases("g"), rel=1e-9), step.id
        water = water_of_step(shipped, amount)
        assert water.charged_g == pytest.approx(wet.grams(*WATER), rel=1e-9), step.id
        assert water.wash_g == amount.course.charge.wash.grams(*WATER), step.id


def test_what_boils_off_is_the_steam_of_the_course(alone):
    """A heater drives off what leaves as steam in the stages it heats; or says how far, or most."""
    read = at_most = 0
    for step, found, heats in alone:
        (amount,) = found.steps
        off = heats[step.id].boil_off
        if off.at_most:
            at_most += 1
            continue
        steam = total(
            p.left.get("steam", total(()))
            for p in amount.course.points
            if p.stage.kind in heat.BOILED or (off.leave_g and p.stage.kind == "crystallise")
        )
        assert off.grams == pytest.approx(steam.grams(*WATER), rel=1e-9), step.id
        read += off.grams > 0
    assert read >= 45  # crops included
    assert at_most <= 103  # as counted: a liquor boiled down to a strength, not to dryness


def test_gas_weighs_what_leaves_the_vessel(shipped, alone):
    """Every gas of a step, in grams, is what its course lets off, keeps and collects."""
    tried = 0
    for step, found, _ in alone:
        (amount,) = found.steps
        one = gas.gas_of_step(shipped, amount)
        course = amount.course
        streams = (course.product, *course.leavings.values(), *course.recovered.values())
        fed = {name for name, phase in course.charge.contents.parts if phase == "g"}
        off = sum(
            grams
            for stream in streams
            for (name, phase), grams in stream.parts.items()
            if phase == "g" and name not in fed
        )
        told = 0.0
        if one is not None:
            told = sum(g.moles * shipped.substances[g.substance].molar_mass_g
                       for g in one.gases if g.substance not in fed)  # fmt: skip
        assert told == pytest.approx(off, rel=1e-9, abs=1e-12), step.id
        tried += off > 0
    assert tried > 150


# --- time --------------------------------------------------------------------------------------


def test_the_calendar_is_the_sum_of_the_stages(alone):
    """Every bar of a step's chart, over both batches: its handwork and its stages, no more."""
    for step, found, heats in alone:
        one = heats[step.id]
        got = schedule.plan(found, None, heats, {step.id: 2})
        for kind in ("heating", "waiting", "cooling"):
            bars = sum(t.end_min - t.start_min for t in got.tasks if t.kind == kind)
            stages = sum(t.minutes for t in one.times.stages if t.kind == kind)
            assert bars == pytest.approx(2 * stages, rel=1e-9, abs=1e-6), (step.id, kind)
        spent = sum(t.end_min - t.start_min for t in got.tasks)
        assert spent == pytest.approx(2 * one.times.total_min, rel=1e-9), step.id
        assert one.times.hands_on_min == step.record.time.hands_on_min


def test_a_stage_takes_what_is_written_of_it(shipped):
    """Each stage's own minutes, round by round; heating and cooling besides. Derived: the record's."""
    for step in shipped.steps.values():
        plan, times = stages_of(shipped, step), usual_times(shipped, step)
        for place, stage in enumerate(plan.listed):
            own = sum(t.minutes for t in times.stages if t.place == place and t.kind == "waiting")
            heats = sum(t.minutes for t in times.stages if t.place == place and t.kind != "waiting")
            written = stage.total_min or 0.0
            if stage.kind in {"heat", "cool"}:
                assert own + heats >= written - 1e-9, (step.id, stage.kind)
            else:
                assert own == pytest.approx(written), (step.id, stage.kind)
        if plan.derived and not fired(step):
            assert times.waiting_min == pytest.approx(step.record.time.waiting_min), step.id
        assert times.least_waiting_min <= times.waiting_min + 1e-9
        assert 0 <= times.reacting_min <= times.waiting_min + 1e-9


def test_gas_comes_in_the_stage_that_makes_it(shipped, alone):
    """No gas takes longer than the work and the stage it comes in, or than a quarter of an hour."""
    for step, found, _ in alone:
        one = gas.gas_of_step(shipped, found.steps[0])
        for each in one.gases if one is not None else ():
            if each.over_min is not None:
                times = found.steps[0].times
                most = times.hands_on_min + max(times.waiting_min, 15.0)
                assert each.over_min <= most + 1e-9, step.id


def test_fired_again_is_up_held_and_down_again(shipped):
    """Egyptian blue by hand: twice 16 h, 900 degC and its record's own kiln."""
    step = shipped.steps["fire-egyptian-blue-from-copper-carbonate"]
    times = times_of(shipped, step, Heating(300.0, 0.0, 600.0))
    assert times.rounds == 2
    assert times.soak_min == 16 * 60
    kinds = [(t.kind, t.minutes, t.round) for t in times.stages]
    assert kinds == [
        ("heating", 300.0, 1), ("waiting", 960.0, 1), ("cooling", 600.0, 1),
        ("heating", 300.0, 2), ("waiting", 960.0, 2), ("cooling", 600.0, 2),
    ]  # fmt: skip
    stirred = shipped.steps["roast-green-ultramarine-blue"]  # stirred between: one firing
    assert usual_times(shipped, stirred).rounds == 1
    assert usual_times(shipped, stirred).soak_min == 3 * 60


def test_boiling_takes_what_the_heater_takes_where_that_is_longer(shipped):
    """Written 3 h of boiling down, on a heater that takes 5 h: 5 h; on one that takes 1 h: 3 h."""
    step = next(
        s for s in shipped.steps.values()
        if any(x.kind == "boil down" and x.for_min == 180 and x.times == 1
               for x in s.record.stages) and not fired(s)
    )  # fmt: skip
    rest = usual_times(shipped, step).waiting_min - 180
    for boil, taken in ((300.0, 300.0), (60.0, 180.0)):
        times = times_of(shipped, step, Heating(20.0, boil))
        assert times.waiting_min == pytest.approx(rest + 20 + taken)


def test_a_cell_takes_what_its_charge_takes(shipped):
    """z n F / I by hand: a mole of hydrogen at 3 A is 2 x 96485 / 3 s = 17.9 h; half in each of 2."""
    step = shipped.steps["dissolve-copper-anodically-in-acetic-acid"]
    amount = one_step(shipped, step, 100.0)
    hydrogen = next(o.moles for o in amount.outcomes if o.state == "g")
    by_hand = 2 * hydrogen * 96485.332 / 3 / 60
    (cell,) = [t for t in amount.times.stages if t.cell]
    assert cell.minutes == pytest.approx(by_hand)
    assert amount.times.shared(2).waiting_min == pytest.approx(
        amount.times.waiting_min - by_hand / 2
    )


# --- one place ---------------------------------------------------------------------------------

RECORDS_OWN = {
    "vessel/stages.py",  # the stages that it is made into
    "graph/build.py",  # the record's attributes, as they stand, left of the vessel
    "vessel/linked.py",  # the record of a step that ends earlier, made from the record's own
}


def readers_of_waiting(tree: ast.Module) -> int:
    """How often a record's own waiting time is read: ``x.time.waiting_min``, or by a name for it."""
    nodes = list(ast.walk(tree))
    names = {
        target.id
        for node in nodes
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Attribute)
        and node.value.attr == "time"
        for target in node.targets if isinstance(target, ast.Name)
    }  # fmt: skip
    return sum(
        (isinstance(node.value, ast.Attribute) and node.value.attr == "time")
        or (isinstance(node.value, ast.Name) and node.value.id in names)
        for node in nodes
        if isinstance(node, ast.Attribute) and node.attr == "waiting_min"
    )


def test_a_step_waits_as_long_as_its_stages_say():
    """Nobody but the stages reads a record's waiting time."""
    found = {
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        if path.parent.name != "records"
        and readers_of_waiting(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == RECORDS_OWN
    assert readers_of_waiting(ast.parse("x = step.record.time.waiting_min")) == 1
    assert readers_of_waiting(ast.parse("time = step.record.time\nx = time.waiting_min")) == 1


def test_a_stage_without_a_time_takes_none():
    assert Stage.model_validate("settle").total_min is None
