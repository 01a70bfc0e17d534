"""Changes of the code that once no test noticed: each has its test here (``tests/mutation``)."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from routefinder.assessment import exposure, gas, heat, perishables, room_air
from routefinder.assessment.one_step import one_step, one_step_route
from routefinder.assessment.room_air import LITRES_PER_MOLE, Room
from routefinder.choice import bounds
from routefinder.graph.network import PlainStep, network
from routefinder.hazards import score
from routefinder.hazards.mixture import solution_hazards
from routefinder.hazards.score import Score
from routefinder.journal import book
from routefinder.journal.store import Entry
from routefinder.library import pot
from routefinder.records.shelf import Supply
from routefinder.records.substance import Hazards
from routefinder.search.front import front
from routefinder.vessel import outcomes, supplied

HERE = Path(__file__).resolve().parent
FARADAY_C = 96485.33  # C/mol, CODATA 2018 (from memory)
ELECTRONS = {"H2": 2, "Cl2": 2, "O2": 4}  # for a molecule of the gas


def test_every_named_change_can_be_made():
    """The list follows the code: each text stands once in its module, each place can be changed."""
    sys.path.insert(0, str(HERE / "mutation"))
    try:
        import mutants
        import mutate
    finally:
        sys.path.remove(str(HERE / "mutation"))
    named = mutants.named()
    assert len(named) == 15
    for mutant in named:
        compile(mutants.source_of(mutant), mutant.module, "exec")
        assert mutant.module in mutate.ROOMS
    for files in mutate.ROOMS.values():
        assert all((HERE / f"test_{name}.py").exists() for name in files)
    for mutant in mutants.generated("choice/dominance"):
        assert mutants.source_of(mutant) != (mutants.PACKAGE / "choice/dominance.py").read_text()


def test_a_change_is_noticed(monkeypatch):
    """The instrument: a change put in place changes what the function gives."""
    monkeypatch.syspath_prepend(str(HERE / "mutation"))
    import mutants
    import mutate

    (mutant,) = mutants.named("library/pot")
    kept = pot.spared_g.__code__
    assert pot.spared_g(10.0, [], 4.0) == 4.0
    try:
        mutate.put_in_place(mutant)
        assert pot.spared_g(10.0, [], 4.0) == 0.0
    finally:
        pot.spared_g.__code__ = kept


def test_gas_of_an_electrolysis_comes_with_the_current(shipped):
    """As fast as the current lets it, t = z n F / (I x efficiency) for the batch at hand; neither
    over the hands' minutes nor over the hours that the record writes of its own batch."""
    seen = 0
    for step in shipped.steps.values():
        if step.record.kind != "electrolysis":
            continue
        amount = one_step(shipped, step, 100.0)
        charge = max(
            ELECTRONS.get(shipped.substances[o.substance].formula, 2) * o.moles * FARADAY_C
            for o in amount.outcomes
            if o.state == "g" and o.fate != "unreacted"
        )
        current = max(n.limit("current") for n in step.record.equipment if n.name == "electrolysis")
        (cell,) = (s for s in step.record.stages if s.kind == "electrolyse")
        minutes = charge / 60 / (current * (cell.efficiency or 1.0))
        found = room_air.release_min(shipped, amount)
        assert found == pytest.approx(max(minutes, room_air.LEAST_MIN), rel=1e-3), step.id
        assert found != pytest.approx(step.record.time.hands_on_min, rel=0.01), step.id
        seen += 1
    assert seen >= 9


def test_what_is_collected_does_not_fill_the_room(shipped):
    """A gas that is led into the next step: the room has what is left of it."""
    step = shipped.steps["burn-whiting-to-quicklime"]
    amount = one_step(shipped, step, 100.0)
    (loose,) = gas.gas_of_step(shipped, amount, Room(20, 0)).gases
    moles = loose.moles
    half = [
        replace(o, moles=o.moles / 2, fate=fate)
        for o in amount.outcomes if o.state == "g" and o.fate != "unreacted"
        for fate in (o.fate, "used")
    ]  # fmt: skip
    rest = [o for o in amount.outcomes if o.state != "g"]
    (led_on,) = gas.gas_of_step(
        shipped, replace(amount, outcomes=(*rest, *half)), Room(20, 0)
    ).gases
    assert loose.kept_mol == 0
    assert led_on.kept_mol == pytest.approx(moles / 2)
    outdoors = room_air.CO2_OUTDOORS
    assert loose.air.peak - outdoors == pytest.approx(moles * LITRES_PER_MOLE / 20_000)
    assert led_on.air.peak - outdoors == pytest.approx(moles / 2 * LITRES_PER_MOLE / 20_000)


def test_the_strictest_limit_counts(shipped):
    """Of a limit for a shift and one for a quarter of an hour, the lower: acetic acid, 10 and 20
    ppm (Directive (EU) 2017/164); a room of 24.06 m³ holds 1 mol at 1000 ppm, so 10 ppm in it."""
    acid = next(s for s in shipped.substances.values() if s.cas == "64-19-7")
    limits, _ = exposure.limits_of(acid)
    known = [v for v in (limits.eight_hours, limits.short, limits.ceiling) if v]
    assert len(set(known)) > 1
    step = next(iter(shipped.steps.values()))
    one = exposure._loose(acid, "vapour", 1000.0, step, Room(LITRES_PER_MOLE))
    assert limits.unit == "ppm"
    assert one.to_limit_g == pytest.approx(min(known) * 1e-6 * 1000 * acid.molar_mass_g)


def test_the_longest_wait_of_all_batches_counts():
    """One batch is made, two take from it: the second waits longer."""
    spans = {("make", 1): (0.0, 60.0), ("take", 1): (70.0, 100.0), ("take", 2): (500.0, 530.0)}
    tasks = [
        SimpleNamespace(step="take", batch=b, start_min=s, end_min=e, kind="hands-on")
        for (name, b), (s, e) in spans.items()
        if name == "take"
    ]
    plan = SimpleNamespace(spans=spans, tasks=tasks)
    assert perishables._longest(plan, "make", "take") == (60.0, 500.0)


def test_heat_that_a_reaction_gives_heats_nothing(shipped):
    """Nor takes up anything: only heat that it takes is to be brought in. What dissolves first
    counts to the rise. Over steps of the shipped library, until three of each are seen."""
    gives = dissolves = 0
    for step in shipped.steps.values():
        if gives >= 3 and dissolves >= 3:
            break
        found = heat.heats(shipped, one_step_route(shipped, step, 100.0))[step.id]
        known = found.reaction.enthalpy_kJ
        if known is not None and known < 0 and step.heat_C > heat.HOT_C:
            assert not found.take_up_kJ, step.id
            gives += 1
        warms, dissolving_kJ = found.warming, found.dissolving.heat_kJ
        if abs(dissolving_kJ) > 0.1 and warms.rise_K is not None:
            given_kJ = -(found.reaction.at_25_kJ + dissolving_kJ)
            assert warms.rise_K == pytest.approx(given_kJ * 1000 / warms.capacity_J_K), step.id
            dissolves += 1
    assert gives >= 3
    assert dissolves >= 3


def test_what_is_acutely_toxic_counts_from_1_percent(shipped):
    """CLP Annex I 3.1.3.3: components from 1 % on. 8 % of category 2 (ATE 5): 62.5, category 3."""
    salt = next(s for s in shipped.substances.values() if s.cas == "7647-14-5")
    toxic = salt.model_copy(
        update={"id": "toxic", "hazards": Hazards(statements=("H300",), source=("from memory",))}
    )
    assert "H301" in solution_hazards(toxic, 0.08).statements
    assert not {"H300", "H301", "H302"} & set(solution_hazards(toxic, 0.009).statements)


@pytest.mark.parametrize(
    ("code", "percent"),
    [("H300", 10.0), ("H301", 100 / 3), ("H302", 25.0), ("H310", 25.0), ("H311", 30.0),
     ("H312", 55.0), ("H330", 10.0), ("H331", 50.0), ("H332", 30.0)],
)  # fmt: skip
def test_where_an_acute_category_begins_in_a_mixture(shipped, code, percent):
    """By hand: 100 / ATE(mix) = sum of c / ATE, with the converted estimates and the bounds of CLP
    Annex I Tables 3.1.2 and 3.1.1 (from memory): 5 mg/kg at 10 % are 50, the bound of category 1/2.
    """
    salt = next(s for s in shipped.substances.values() if s.cas == "7647-14-5")
    toxic = salt.model_copy(
        update={"id": "toxic", "hazards": Hazards(statements=(code,), source=("from memory",))}
    )
    assert code in solution_hazards(toxic, (percent + 0.2) / 100).statements
    assert code not in solution_hazards(toxic, (percent - 0.2) / 100).statements


def test_no_heat_is_not_raised():
    """Amounts add a point to what gives heat; what gives none has none to add to."""
    none = dict.fromkeys(score.ASPECTS, Score(0, ""))
    assert score.raised(none, {}, 1e6)["heat"].points == 0
    some = {**none, "heat": Score(1, "warm", "heat")}
    assert score.raised(some, {}, 1e6)["heat"].points == 2


def test_recovered_co_products_are_not_lost(shipped):
    """The bound of a step's leavings leaves out what the record recovers of its other products."""
    seen = 0
    for step in shipped.steps.values():
        shares = {k: v for k, v in step.recovered.items() if k != step.main.substance and v > 0}
        solid = [p for p in step.products if p.substance in shares
                 and not pot.is_water(shipped, p.substance)]  # fmt: skip
        if not solid:
            continue
        saved = sum(
            p.moles * shipped.substances[p.substance].molar_mass_g * shares[p.substance]
            for p in solid
        )
        without = replace(step, recovered={})
        more = bounds._leaves_g(shipped, without) - bounds._leaves_g(shipped, step)
        assert more == pytest.approx(saved), step.id
        seen += 1
    assert seen


def test_a_further_weight_is_added():
    """``--more`` is a further batch: 100 g and 50 g are 150 g; without it the last one counts."""

    def weighed(*rows):
        step = book.StepBook(1, {})
        for i, data in enumerate(rows, 1):
            book._take(step, Entry(i, 1, "2026-01-01", "2026-01-01", "in", "s", data), i)
        return step.ins["soda"]["grams"]

    first, further = {"name": "soda", "grams": 100.0}, {"name": "soda", "grams": 50.0}
    assert weighed(first, {**further, "more": True}) == 150.0
    assert weighed(first, further) == 50.0


def test_auxiliaries_go_by_the_limiting_reactant(shipped):
    """Grams of an aid are for a mole of the limiting reactant, not for a turn of the equation."""
    seen = 0
    for step in shipped.steps.values():
        dry = [a for a in step.aids if not pot.is_water(shipped, a.substance)]
        if step.limiting.moles == 1 or len(dry) != 1 or dry[0].mass_g <= 0:
            continue
        amount = one_step(shipped, step, 100.0)
        feeds = [f for f in amount.feeds
                 if f.substance == dry[0].substance and f.role == dry[0].role]  # fmt: skip
        if len(feeds) != 1 or feeds[0].from_solution_g:
            continue
        wanted = dry[0].mass_g * step.limiting.moles * amount.turns
        assert feeds[0].mass_g == pytest.approx(wanted), step.id
        seen += 1
        if seen == 5:
            return
    assert seen


def test_what_is_used_up_serves_last(shipped):
    """0 g at a low price stand behind a full jar at a high one."""
    salt = next(s for s in shipped.substances.values() if s.cas == "7647-14-5")
    empty = Supply("a", "empty", "solid", {salt.id: 1.0}, salt.id, amount_g=0.0, price_per_g=0.01)
    full = Supply("b", "full", "solid", {salt.id: 1.0}, salt.id, amount_g=500.0, price_per_g=9.0)
    open_ = Supply("c", "some", "solid", {salt.id: 1.0}, salt.id, price_per_g=0.02)
    need = ("form", salt.id, 0.0)
    assert supplied.serving(shipped, [empty, full], need)[0] is full
    assert supplied.serving(shipped, [empty, full, open_], need)[0] is open_


def test_water_that_is_brought_is_spared():
    """By hand: 100 g called for, two dissolved parts of 30 and 10 g may have 75 and 25 g of it."""
    assert pot.spared_g(100.0, [(30.0, 50.0), (10.0, 60.0)], 0.0) == 75.0  # 50 + 25
    assert pot.spared_g(100.0, [(30.0, 90.0)], 0.0) == 90.0
    assert pot.spared_g(100.0, [], 40.0) == 40.0
    assert pot.spared_g(100.0, [(30.0, 90.0)], 40.0) == 100.0


def test_a_gas_is_made_as_it_is_wanted(shipped):
    """A main product that is a gas leaves nothing over: what is not led on is not made to keep."""
    solid = next(s for s in shipped.steps.values() if s.main.state == "s")
    gas_ = SimpleNamespace(id="gas", main=replace(solid.main, state="g"))
    for step, over in ((gas_, 0.0), (solid, solid.main.moles)):
        wanted = outcomes.Wanted(step, 2.0, 1.0, ())
        demand = {(step.id, step.main.substance): step.main.moles}
        assert outcomes._over_mol(wanted, demand) == pytest.approx(over)


def test_dominance_does_not_hang_on_the_order_of_a_sum():
    """0.1 + 0.2 is 0.3: neither of two equal routes beats the other."""
    steps = [PlainStep("one", ["s"], ["t"], 1.0), PlainStep("other", ["s"], ["t"], 1.0)]
    vectors = {("one",): (0.1 + 0.2,), ("other",): (0.3,)}
    assert vectors["one",] != vectors["other",]
    found = front(network(steps), ["s"], "t", lambda ids: vectors[ids])
    assert [m.steps for m in found.routes] == [("one",), ("other",)]
