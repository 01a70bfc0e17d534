"""Gas of steps and the air of a room: volumes by hand, the balance against small steps in time."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

import routefinder
from routefinder.assessment import gas, room_air
from routefinder.assessment.gas import gases
from routefinder.assessment.room_air import Room, air_of, fraction, mean
from routefinder.errors import InputError
from routefinder.view import gas_words


def test_litres_of_the_demo(demo, demo_routes):
    """S1 by hand: 18.0 and 18.0 L of CO2 in R1, 36.3 L in R2 (24.0 L/mol)."""
    r1 = gases(demo.library, demo_routes["precipitate-basic-copper-carbonate"].assessment.amounts)
    assert sum(g.total_L for g in r1.values()) == pytest.approx(36, rel=0.01)
    r2 = gases(demo.library, demo_routes["dissolve-chalk-in-acetic-acid"].assessment.amounts)
    assert [g.total_L for g in r2.values() if g.gases] == pytest.approx([36.3], rel=0.01)
    (one,) = r2["dissolve-chalk-in-acetic-acid"].gases
    assert one.formula == "CO2"
    assert one.even_L_min == pytest.approx(one.room_L / 60)  # one hour's adding
    assert one.worst_L_min == pytest.approx(one.even_L_min * math.log(20))


def test_copperas_gives_off_sulfur_oxides():
    """500 g of red from copperas: 201 g SO2 (75 L) and 251 g SO3, at 24.0 L/mol (by hand, at full
    yield); never for a room."""
    found = routefinder.find("red iron oxide", "500 g", top=60, use=["green vitriol"])
    for route in found.routes:
        for amount in route.assessment.amounts.steps:
            if amount.step.id != "roast-green-vitriol-to-red-oxide":
                continue
            one = gas.gas_of_step(found.library, amount, Room(1000, 10))
            by = {g.formula: g for g in one.gases}
            kept = amount.course.behaviour.kept  # what is spilt was roasted too
            assert by["SO2"].room_L * kept == pytest.approx(75.3, rel=0.01)
            assert by["SO3"].moles == pytest.approx(by["SO2"].moles)
            assert by["SO2"].air.verdict == "not here"
            assert (
                "extraction, or outdoors: sulfur dioxide, sulfur trioxide"
                in gas_words.notes(one)[0]
            )
            return
    raise AssertionError("no such route")


def test_hydrogen_from_aluminium():
    """89 L of H2 for 1 kg of alum from scrap and lye (by hand): not in a closet, fine in a hall."""
    found = routefinder.find("potassium aluminate", "200 g", top=40)
    for route in found.routes:
        for amount in route.assessment.amounts.steps:
            small = gas.gas_of_step(found.library, amount, Room(2, 0), over_min=30)
            if small is None or small.gases[0].formula != "H2":
                continue
            litres = small.gases[0].room_L
            assert small.gases[0].air.peak == pytest.approx(litres / 2000)
            assert any("closed vessel" in note for note in gas_words.notes(small))
            hall = gas.gas_of_step(found.library, amount, Room(2000, 5), over_min=30)
            assert hall.gases[0].air.verdict == "draw it off"  # the record asks for it
            assert hall.gases[0].air.peak < 0.004
            return
    raise AssertionError("no hydrogen")


@pytest.mark.parametrize(
    ("litres", "over", "room", "verdict"),
    [
        (89, 60, Room(2, 0), "not here"), (89, 60, Room(5, 0), "air it"),
        (89, 60, Room(30, 0.5), "fine"), (89, 60, Room(2.2, 0), "not here"),
        (89, 60, Room(5, 1), "air it"), (89, 600, Room(5, 20), "fine"),
    ],
)  # fmt: skip
def test_hydrogen_against_four_percent(litres, over, room, verdict):
    """4 % burns (at once or at the end), a tenth of it wants air."""
    assert air_of("H2", litres, over, room).verdict == verdict


def test_carbon_dioxide_limits():
    """17 L in 10 minutes in 30 m3 is fine (worked example of the trade); 5000 ppm, 30 000 ppm."""
    assert air_of("CO2", 17, 10, Room(30, 0.5)).verdict == "fine"
    assert air_of("CO2", 200, 60, Room(30, 0)).verdict == "air it"
    assert air_of("CO2", 1000, 60, Room(30, 0)).verdict == "not here"
    brief = air_of("CO2", 160, 60, Room(30, 4))
    assert brief.shift < 5000e-6
    assert air_of("CO", 1, 60, Room(30, 4)).verdict == "not here"
    assert air_of("O2", 100, 60, Room(30, 4)).verdict == "fine"
    # the fresh air it asks for really keeps it at half the limit: G / Q = 2500 - 420 ppm
    asked = air_of("CO2", 200, 60, Room(30, 0)).needed_m3_h
    assert 0.2 / asked == pytest.approx(2080e-6)


litres_ = st.floats(0.1, 1e4)
minutes_ = st.floats(0, 2000)
rooms = st.builds(Room, st.floats(1, 500), st.floats(0, 20))


@given(litres_, minutes_, rooms, st.floats(0, 3000))
def test_room_keeps_gas(litres, over, room, at):
    """Never more than has come in, never below 0, and exactly that without air changes."""
    found = fraction(litres, over, room, at)
    came = (
        litres
        / room.volume_m3
        / 1000
        * (min(at / over, 1.0) if over > room_air.AT_ONCE_MIN else 1.0)
    )
    assert -1e-12 <= found <= came * (1 + 1e-9) + 1e-15
    still = fraction(litres, over, Room(room.volume_m3, 0), at)
    assert still == pytest.approx(came, rel=1e-9)


@given(st.floats(1, 500), st.integers(1, 480), st.floats(1, 200), st.floats(0, 12))
@few(40)
def test_room_against_small_steps(litres, over, volume, changes):
    """The formula against the balance followed by small steps in time (trapezoids)."""
    room, steps, until = Room(volume, changes), 4800, 480.0
    dt, c, area = until / steps, 0.0, 0.0
    for i in range(steps):
        t = (i + 0.5) * dt
        rate = litres / over / (volume * 1000) if t < over else 0.0
        new = (c + dt * (rate - c * changes / 120)) / (1 + dt * changes / 120)
        area += (c + new) / 2 * dt
        c = new
    peak = litres / volume / 1000
    assert fraction(litres, over, room, until) == pytest.approx(c, abs=peak * 2e-3)
    assert mean(litres, over, room, until) == pytest.approx(area / until, abs=peak * 2e-3)


def test_steady_state():
    """After long, G / (a V): 10 L/min into 50 m3 with 2 changes an hour is 0.6 %."""
    assert fraction(1e5, 1e4, Room(50, 2), 1e4) == pytest.approx(0.006, rel=1e-6)


def test_air_for_oxidation():
    """6.26 mol Fe(II) take 1.57 mol O2: 179 L of air at least (by hand, 24.0 L/mol, 21 %)."""
    assert pytest.approx(179, rel=0.01) == 1.57 * room_air.LITRES_PER_MOLE / gas.OXYGEN_IN_AIR
    found = routefinder.find("red iron oxide", "500 g", top=60)
    lines = [
        line
        for route in found.routes
        for one in gases(found.library, route.assessment.amounts).values()
        for line in gas_words.reason(one, found.library.steps[one.step]).lines
        if one.air_taken_L > 0
    ]
    assert any("oxygen taken up" in line and "of air" in line for line in lines)


def test_batches_share_the_gas(demo, demo_routes):
    """Two batches: half the rate and half the air, the same litres in all."""
    amounts = demo_routes["dissolve-chalk-in-acetic-acid"].assessment.amounts
    step = "dissolve-chalk-in-acetic-acid"
    one = gases(demo.library, amounts, Room(10, 0))[step].gases[0]
    two = gases(demo.library, amounts, Room(10, 0), batches={step: 2})[step].gases[0]
    assert two.room_L == one.room_L
    assert two.even_L_min == pytest.approx(one.even_L_min / 2)
    assert two.air.peak - room_air.CO2_OUTDOORS == pytest.approx(
        (one.air.peak - room_air.CO2_OUTDOORS) / 2
    )


@pytest.mark.parametrize(("volume", "changes"), [(0, 1), (-3, 1), (10, -1), (math.nan, 1)])
def test_senseless_rooms(volume, changes):
    """A room has a volume and a number of air changes."""
    with pytest.raises(InputError):
        Room(volume, changes)


def test_senseless_time(demo, demo_routes):
    """Gas takes time, not less than none."""
    amounts = demo_routes["dissolve-chalk-in-acetic-acid"].assessment.amounts
    with pytest.raises(InputError, match="below 0"):
        gases(demo.library, amounts, over_min={"dissolve-chalk-in-acetic-acid": -1})
