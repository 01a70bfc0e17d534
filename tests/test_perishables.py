"""How long intermediates keep, read from words, and what a plan says of those that wait."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder
from routefinder.assessment import calendar, heat, perishables, schedule
from routefinder.assessment.keeping import keeps_min, oxidises, takes_up
from routefinder.library.library import Library
from routefinder.records.substance import Drift, Storage

HOUR, DAY, WEEK = 60, 1440, 10080
WEEKEND = calendar.read("Saturday and Sunday, 9 to 17", "2026-11-25")


@pytest.mark.parametrize(
    ("words", "minutes"),
    [
        ("years", 2 * 525600), ("a year, losing strength", 525600), ("half a year", 262800),
        ("2 to 4 weeks", 2 * WEEK), ("a week or two", WEEK), ("paste weeks, dry years", 2 * WEEK),
        ("hours to a day", 2 * HOUR), ("a few days; spoils like milk", 2 * DAY), ("1 day", DAY),
        ("3 d", 3 * DAY), ("12 h", 12 * HOUR), ("days", 2 * DAY), ("for ever", math.inf),
        ("stable, dry", math.inf), ("use at once", 0), ("use fresh; plastic", 0),
        ("draws water", None), ("closed jar", None), ("heat with water", None), ("", None),
        ("years; deliquesces at once in air", 2 * 525600), ("dust conducts", None),
    ],
)  # fmt: skip
def test_words_are_read_cautiously(words, minutes):
    """The shortest time that the words allow; None when they give none."""
    assert keeps_min(words) == minutes


@given(st.integers(1, 50), st.sampled_from(["hour", "day", "week", "month", "year"]))
def test_figures_scale(number, unit):
    """Twice as many units keep twice as long."""
    one = keeps_min(f"{number} {unit}s")
    assert keeps_min(f"{2 * number} {unit}s") == pytest.approx(2 * one)


def test_every_stated_time_of_the_library_is_read(shipped):
    """Every ``keeps`` of the shipped library but "draws water" gives a time."""
    words = {s.storage.keeps for s in shipped.substances.values() if s.storage}
    words |= {s.record.storage.keeps for s in shipped.steps.values() if s.record.storage}
    unread = {w for w in words if w and keeps_min(w) is None}
    assert unread <= {"draws water"}
    assert len(words) > 60


def test_what_air_does():
    """Water, carbon dioxide and oxygen are told from loss of water."""
    assert takes_up("takes up CO2; keep closed")
    assert takes_up("hygroscopic")
    assert not takes_up("efflorescent in dry warmth")
    assert oxidises("browns in air")
    assert not oxidises("closed jar")


def test_drift_ends():
    """0.5 % a day is 3.5 % after a week, and no more than its end."""
    assert perishables.drifted(0.005, 7, None) == pytest.approx(0.035)
    assert perishables.drifted(0.1, 30, 0.351) == 0.351
    assert perishables.drifted(0.1, 30, None) == 1.0


# --- plans -------------------------------------------------------------------------------------

R1 = "precipitate-basic-copper-carbonate"
DISSOLVE = "dissolve-basic-copper-carbonate-in-acetic-acid"
CROP = "crystallise-copper-ii-acetate"


def with_storage(library, amounts, step, storage):
    """The amounts with another storage on one step."""
    from dataclasses import replace

    steps = []
    for a in amounts.steps:
        resolved = a.step
        if resolved.id == step:
            record = resolved.record.model_copy(update={"storage": storage})
            resolved = replace(resolved, record=record)
        steps.append(replace(a, step=resolved))
    return replace(amounts, steps=tuple(steps))


def judged(demo, route, storage, calendar_=WEEKEND):
    amounts = with_storage(demo.library, route.assessment.amounts, DISSOLVE, storage)
    heats = heat.heats(demo.library, amounts, demo.question.bench)
    plan = schedule.plan(amounts, demo.question.bench, heats, calendar=calendar_)
    found = perishables.perishables(demo.library, amounts, plan)
    (one,) = [w for w in found.waits if w.maker == DISSOLVE]
    return found, one, plan


@pytest.mark.parametrize(
    ("storage", "verdict", "says"),
    [
        (None, "unknown", "unknown: use it at once"),
        (Storage(how="closed bottle", keeps="2 days"), "too long", "keeps 48 h|keeps 2.0 days"),
        (Storage(how="closed bottle", keeps="months"), "fine", "it keeps"),
        (Storage(how="takes up carbon dioxide", keeps="months"), "close it", "not open to the air"),
        (Storage(how="bottle", keeps="hours"), "too long", "same day"),
    ],
)
def test_a_week_between_weekends(demo, demo_routes, storage, verdict, says):
    """The solution made on Sunday is boiled down on the next Saturday: is that known to be fine?"""
    found, one, _ = judged(demo, demo_routes[R1], storage)
    assert one.waits_min > 5 * DAY
    assert one.overnight
    assert one.verdict == verdict
    assert any(part in one.sentence for part in says.split("|"))
    assert (one.sentence in found.problems) == (verdict in {"unknown", "too long"})
    assert any(one.sentence in r.lines for r in found.reasons)


def test_without_hours_nothing_waits(demo, demo_routes):
    """In one go the solution goes on at once: fine, whatever is known of it."""
    found, one, _ = judged(demo, demo_routes[R1], None, None)
    assert one.waits_min == pytest.approx(0)
    assert one.verdict == "fine"
    assert "goes on at once" in one.sentence
    assert found.problems == ()
    assert "copper(II) acetate solution" in found.not_overnight


def test_a_stated_drift_is_reckoned(demo, demo_routes):
    """Invented for the test: 1 % a day, 4 % at most; after almost six days it is at its end."""
    drift = Drift(what="loses acetic acid", per_day=0.01, at_most=0.04)
    storage = Storage(how="bottle", keeps="months", drift=drift)
    _, one, _ = judged(demo, demo_routes[R1], storage)
    assert one.change == pytest.approx(0.04)
    assert "loses acetic acid" in one.sentence
    storage = Storage(how="bottle", drift=Drift(what="loses acetic acid", per_day=0.001))
    _, one, _ = judged(demo, demo_routes[R1], storage)
    assert one.verdict == "unknown"
    assert one.change == pytest.approx(0.001 * one.waits_min / DAY)


@pytest.mark.parametrize("figures", [{"per_day": 0.0}, {"per_day": 0.01, "at_most": 0.0}])
def test_a_drift_has_a_size(figures):
    """A drift of nothing is refused."""
    with pytest.raises(ValueError, match="above 0"):
        Drift(what="gains water", **figures)


def test_drift_in_a_file(make_library):
    """The field is read from a library file, with its fraction."""
    from routefinder.library.load import load

    text = (
        "- {id: lime, name: lime, formula: Ca(OH)2, sources: from memory,\n"
        "   storage: {how: closed, drift: {what: gains carbon dioxide, per_day: 1 %,"
        " at_most: 35.1 %}}}\n"
    )
    loaded = load([make_library(substances=text)])
    assert loaded.faults == []
    drift = loaded.library.substances["lime"].storage.drift
    assert (drift.per_day, drift.at_most) == pytest.approx((0.01, 0.351))


def test_solution_does_not_keep_like_its_crystals(shipped):
    """A solution's keeping is its own step's word; the solid's storage does not speak for it."""
    assert isinstance(shipped, Library)
    step = shipped.steps[DISSOLVE]
    found = perishables.keeping_of(shipped, step, step.main.substance, "aq")
    assert found.name.endswith("solution")
    assert "anhydrous" not in found.name
    if step.record.storage is None:
        assert found.keeps_min is None
    crystals = shipped.steps[CROP]
    kept = perishables.keeping_of(shipped, crystals, crystals.main.substance, "s")
    assert kept.keeps_min is not None


def test_two_branches_each_wait(shipped):
    """Every intermediate of a longer route has its wait, none below 0."""
    found = routefinder.find("cobalt blue", "100 g", top=10)
    tried = 0
    for route in found.routes:
        amounts = route.assessment.amounts
        plan = schedule.plan(amounts, calendar=WEEKEND)
        got = perishables.perishables(found.library, amounts, plan)
        feeds = [f for a in amounts.steps for f in a.feeds if isinstance(f.origin, str)]
        assert len(got.waits) == len(feeds)
        assert all(w.needed_min >= w.made_min for w in got.waits)
        tried += len(feeds)
    assert tried > 3


def test_what_wants_a_tight_lid_is_told_so(shipped):
    """Quicklime slakes, lye takes up carbon dioxide: not to be left open; what must vent is not shut.

    Every product of the library whose record asks for a tight jar, or says that it takes up, gives
    off or turns; 264 of them when it was written (169 by the words known before).
    """
    from routefinder.assessment.perishables import keeping_of

    shut = 0
    for step in shipped.steps.values():
        keeping = keeping_of(shipped, step, step.main.substance, step.main.state)
        if "cap loose" in keeping.words or "airlock" in keeping.words:
            assert not keeping.not_open, step.id
            continue
        if any(w in keeping.words for w in ("airtight", "slakes", "takes up", "deliquesc")):
            assert keeping.not_open, step.id
        shut += keeping.not_open
    assert shut >= 250
    burnt = shipped.steps["burn-whiting-to-quicklime"]
    assert keeping_of(shipped, burnt, burnt.main.substance, "s").not_open
    lye = shipped.steps["causticise-soda-with-quicklime"]
    assert keeping_of(shipped, lye, lye.main.substance, "aq").not_open
