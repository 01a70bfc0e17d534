"""Schedules: against brute force, laws of resources and hours, the calendar, the demo."""

from __future__ import annotations

import itertools
import math
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

import routefinder
from routefinder.assessment import calendar, heat, schedule
from routefinder.assessment import list_schedule as ls
from routefinder.errors import InputError
from routefinder.hazards import heaters
from routefinder.hazards.attendance import attendance
from routefinder.records.shelf import Tool
from routefinder.vessel.durations import usual_times
from routefinder.view import time_words

WEEKEND = calendar.read("Saturday and Sunday, 9 to 17", "2026-11-25")  # a Wednesday


# --- calendar ----------------------------------------------------------------------------------


def test_weekend_by_hand():
    """From Wednesday 25 November 2026 the first hours are Saturday the 28th, 9:00 to 17:00."""
    opened, closed = WEEKEND.stretch(0)
    assert WEEKEND.when(opened) == datetime(2026, 11, 28, 9)
    assert WEEKEND.when(closed) == datetime(2026, 11, 28, 17)
    assert WEEKEND.longest_min == 480
    assert WEEKEND.when(WEEKEND.next_fit(opened + 60, 480)) == datetime(2026, 11, 29, 9)
    assert WEEKEND.next_fit(0, 481) is None
    late = WEEKEND.next_fit(closed + 480, 480)  # Sunday
    assert WEEKEND.when(WEEKEND.next_fit(late + 1, 480)) == datetime(2026, 12, 5, 9)


@pytest.mark.parametrize(
    ("text", "weekdays", "opened", "closed"),
    [
        ("Saturday and Sunday, 9 to 17", {5, 6}, 540, 1020),
        ("weekdays, 18 to 22", {0, 1, 2, 3, 4}, 1080, 1320),
        ("Mon-Fri 8:30-12:15", {0, 1, 2, 3, 4}, 510, 735),
        ("Friday to Monday, 9 to 5 pm", {4, 5, 6, 0}, 540, 1020),
        ("every day, 0 to 24", set(range(7)), 0, 1440),
        ("10am to 4pm", set(range(7)), 600, 960),
        ("weekend 1 to 5 pm", {5, 6}, 780, 1020),
        ("Tuesdays & Thursdays, 19 to 21", {1, 3}, 1140, 1260),
    ],
)
def test_reading_hours(text, weekdays, opened, closed):
    """Days and hours in the ways people write them."""
    found = calendar.read(text, date(2026, 11, 25))
    assert {d for d, _, _ in found.hours} == weekdays
    assert {(a, b) for _, a, b in found.hours} == {(opened, closed)}


def test_hours_that_meet_are_one():
    """Friday to midnight and Saturday from midnight are one stretch; always open has no end."""
    found = calendar.read("Friday, 18 to 24; Saturday, 0 to 2", "2026-11-25")
    opened, closed = found.stretch(0)
    assert closed - opened == 8 * 60
    assert found.longest_min == 480
    assert calendar.read("every day, 0 to 24", "2026-11-25").longest_min == math.inf


@pytest.mark.parametrize(
    ("text", "start", "says"),
    [
        ("", "2026-11-25", "no working hours"),
        ("Saturday", "2026-11-25", "no hours in 'Saturday'"),
        ("Caturday, 9 to 17", "2026-11-25", "'caturday' is no day"),
        ("T, 9 to 17", "2026-11-25", "'t' is no day"),
        ("Saturday, 17 to 9", "2026-11-25", "ends before it begins"),
        ("Saturday, 9 to 25", "2026-11-25", "25:00 is no time"),
        ("Saturday, 9 to 17:99", "2026-11-25", "17:99 is no time"),
        ("Saturday, 9 to 17", "soon", "'soon' is not a date"),
        ("Saturday, 9 to 17", "2026-02-30", "is not a date"),
        ("Saturday, 13 am to 3 pm", "2026-11-25", "no time of day"),
    ],
)
def test_nonsense_hours(text, start, says):
    """Every nonsense is one sentence with an example."""
    with pytest.raises(InputError, match=says):
        calendar.read(text, start)


# --- the scheduler against brute force ---------------------------------------------------------


def brute(blocks, capacities, opening=None):
    """The earliest end of single-segment blocks with whole minutes, by trying every start time."""
    horizon = 40

    def ok(starts):
        for b in blocks:
            s = starts[b.id]
            for a in b.after:
                if s < starts[a] + by[a].minutes:
                    return False
        for t in range(horizon):
            load = {}
            for b in blocks:
                s, e = starts[b.id], starts[b.id] + int(b.minutes)
                if s <= t < e:
                    for r in b.groups[0][0].resources:
                        load[r] = load.get(r, 0) + 1
            if any(n > capacities.get(r, 1) for r, n in load.items()):
                return False
        return True

    by = {b.id: b for b in blocks}
    allowed = {}
    for b in blocks:
        m, present = int(b.minutes), b.groups[0][0].present
        allowed[b.id] = [
            s for s in range(horizon - m)
            if opening is None or not present or all(t in opening for t in range(s, s + m))
        ]  # fmt: skip
    for end in range(1, horizon):
        choices = [[s for s in allowed[b.id] if s + b.minutes <= end] for b in blocks]
        if all(choices):
            for starts in itertools.product(*choices):
                if ok({b.id: s for b, s in zip(blocks, starts, strict=True)}):
                    return end
    return None


@st.composite
def small_cases(draw):
    """Up to four blocks of one segment with order, two resources, some watched."""
    blocks = []
    for i in range(draw(st.integers(1, 4))):
        resources = draw(st.sets(st.sampled_from([ls.HANDS, "kiln", "pot"]), max_size=2))
        after = draw(st.sets(st.sampled_from(range(i)), max_size=2)) if i else set()
        seg = ls.Segment(
            "x", draw(st.integers(1, 4)), draw(st.booleans()), tuple(sorted(resources))
        )
        blocks.append(ls.Block(f"b{i}", ((seg,),), (), tuple(f"b{a}" for a in sorted(after))))
    return blocks, {"pot": draw(st.integers(1, 2))}


@given(small_cases())
def test_as_early_as_brute_force(case):
    """Four blocks without hours: the end is the earliest there is."""
    blocks, capacities = case
    found = ls.schedule(blocks, capacities)
    assert found.exact
    assert found.makespan == pytest.approx(brute(blocks, capacities))


class Minutes(calendar.Calendar):
    """A calendar in which minutes 0-5, 10-15, 20-25 ... are working hours, for brute force."""

    longest_min = 5.0

    def stretch(self, at):
        n = math.floor(at / 10)
        return (n * 10.0, n * 10.0 + 5) if at < n * 10 + 5 else (n * 10.0 + 10, n * 10.0 + 15)


@given(small_cases())
@few(80)
def test_as_early_as_brute_force_with_hours(case):
    """The same with working hours for what is watched."""
    blocks, capacities = case
    opening = {t for t in range(100) if t % 10 < 5}
    found = ls.schedule(blocks, capacities, Minutes(datetime(2026, 1, 1), ()))
    assert found.makespan == pytest.approx(brute(blocks, capacities, opening))


@st.composite
def cases(draw, most=12):
    """Blocks of several groups and segments, with vessels held."""
    blocks = []
    for i in range(draw(st.integers(1, most))):
        groups = []
        for _ in range(draw(st.integers(1, 3))):
            groups.append(tuple(
                ls.Segment(
                    "x", draw(st.floats(0, 300)), draw(st.booleans()),
                    tuple(sorted(draw(st.sets(st.sampled_from([ls.HANDS, "kiln"]), max_size=1)))),
                )
                for _ in range(draw(st.integers(1, 3)))
            ))  # fmt: skip
        after = draw(st.sets(st.sampled_from(range(i)), max_size=2)) if i else set()
        holds = tuple(sorted(draw(st.sets(st.sampled_from(["pot", "jar"]), max_size=1))))
        blocks.append(
            ls.Block(f"b{i}", tuple(groups), holds, tuple(f"b{a}" for a in sorted(after)))
        )
    return blocks


@given(cases(), st.booleans(), st.integers(1, 3))
@few(40)
def test_laws_of_a_plan(blocks, hours, pots):
    """Order kept, no gap in a group, no resource twice, the watched in hours, nothing lost."""
    capacities = {"pot": pots}
    found = ls.schedule(blocks, capacities, WEEKEND if hours else None)
    by = {b.id: [p for p in found.placed if p.block == b.id] for b in blocks}
    for block in blocks:
        placed = by[block.id]
        assert sum(p.segment.minutes for p in placed) == pytest.approx(block.minutes)
        for before in block.after:
            assert found.spans[before][1] <= found.spans[block.id][0] + 1e-6
    for resource, room in ((ls.HANDS, 1), ("kiln", 1)):
        spans = [(p.start, p.end) for p in found.placed if resource in p.segment.resources]
        _never_more(spans, room)
    for resource in ("pot", "jar"):
        _never_more([found.spans[b.id] for b in blocks if resource in b.holds],
                    capacities.get(resource, 1))  # fmt: skip
    if hours:
        for p in found.placed:
            if p.segment.present and not p.segment.outside and p.segment.minutes > 1e-6:
                fits = WEEKEND.next_fit(p.start, p.segment.minutes)
                assert fits == pytest.approx(p.start, abs=1e-4)
    assert found.makespan >= max(b.minutes for b in blocks) - 1e-6


def _never_more(spans, room):
    spans = [(a, b) for a, b in spans if b - a > 1e-4]
    for start, _ in spans:
        assert sum(a <= start + 1e-6 and b > start + 1e-4 for a, b in spans) <= room


@given(cases(most=8), st.booleans())
@few(30)
def test_later_keeps_the_laws(blocks, hours):
    """As late as it goes: same end, order and resources kept, nothing earlier than before."""
    calendar_ = WEEKEND if hours else None
    early = ls.schedule(blocks, {"pot": 2}, calendar_)
    late = ls.later(blocks, early, {"pot": 2}, calendar_)
    assert late.makespan == pytest.approx(early.makespan)
    for block in blocks:
        assert late.spans[block.id][0] >= early.spans[block.id][0] - 1e-6
        for before in block.after:
            assert late.spans[before][1] <= late.spans[block.id][0] + 1e-6
    for resource in (ls.HANDS, "kiln"):
        spans = [(p.start, p.end) for p in late.placed if resource in p.segment.resources]
        _never_more(spans, 1)
    for resource, room in (("pot", 2), ("jar", 1)):
        _never_more([late.spans[b.id] for b in blocks if resource in b.holds], room)


@given(cases(most=8))
@few(30)
def test_more_equipment_is_never_slower(blocks):
    """A second pot, kiln and jar: the end is no later (exact cases)."""
    blocks = blocks[: ls.EXACT]
    one = ls.schedule(blocks)
    two = ls.schedule(blocks, {"pot": 2, "kiln": 2, "jar": 2})
    assert two.makespan <= one.makespan + 1e-6


def test_groups_do_not_break_and_pauses_do():
    """What must not be interrupted waits for the next day; a pause between groups may last."""
    firing = ls.Block("fire", ((ls.Segment("load", 60, True, (ls.HANDS,)),
                                ls.Segment("watch", 420, True)),
                               (ls.Segment("empty", 30, True, (ls.HANDS,)),)))  # fmt: skip
    early = ls.Block("early", ((ls.Segment("stir", 10, True, (ls.HANDS,)),),))
    found = ls.schedule([early, firing], {}, WEEKEND)
    starts = {p.segment.label: WEEKEND.when(p.start) for p in found.placed}
    assert starts["load"].hour == 9
    assert starts["watch"] == starts["load"].replace(hour=10)
    assert starts["empty"] > starts["watch"]


def test_watch_longer_than_hours_is_told():
    """30 h that must be watched do not fit 8 h: told, and watched outside them all the same."""
    block = ls.Block("b", ((ls.Segment("watch", 1800, True),),))
    found = ls.schedule([block], {}, WEEKEND)
    assert [s.label for _, s in found.unwatched] == ["watch"]
    assert found.makespan == 1800
    assert [(p.segment.present, p.segment.outside) for p in found.placed] == [(True, True)]
    assert ls.schedule([block]).unwatched == ()


@pytest.mark.parametrize(
    ("blocks", "says"),
    [
        ([ls.Block("a", ()), ls.Block("a", ())], "same name"),
        ([ls.Block("a", (), (), ("b",))], "not there"),
        ([ls.Block("a", (), (), ("b",)), ls.Block("b", (), (), ("a",))], "after itself"),
    ],
)
def test_senseless_blocks(blocks, says):
    """Names that are missing, double or in a ring."""
    with pytest.raises(InputError, match=says):
        ls.schedule(blocks)


def test_nothing_takes_no_time():
    """No blocks, or blocks of no length."""
    assert ls.schedule([]).makespan == 0
    assert ls.schedule([ls.Block("a", ()), ls.Block("b", (), (), ("a",))]).makespan == 0


# --- routes ------------------------------------------------------------------------------------

R1 = "precipitate-basic-copper-carbonate"
DISSOLVE = "dissolve-basic-copper-carbonate-in-acetic-acid"
CROP = "crystallise-copper-ii-acetate"


def plan(demo, route, **more):
    amounts = route.assessment.amounts
    heats = heat.heats(demo.library, amounts, demo.question.bench, batches=more.get("batches"))
    return schedule.plan(amounts, demo.question.bench, heats, **more)


def test_demo_route_in_a_row(demo, demo_routes):
    """R1 is a chain: 2 + 14, 1 + 1, 3 + 24 h of the records make 45 h, all on the critical path."""
    found = plan(demo, demo_routes[R1])
    assert found.elapsed_min == pytest.approx(45 * 60)
    assert found.hands_on_min == pytest.approx(6 * 60)
    assert found.least_min == pytest.approx(found.elapsed_min)
    assert [link.step for link in found.critical] == [R1, DISSOLVE, CROP]
    assert [link.waited_for for link in found.critical] == ["", "step", "step"]
    assert found.exact
    assert found.unwatched == ()
    by_kind = {k: sum(t.end_min - t.start_min for t in found.tasks if t.kind == k and t.step == CROP)
               for k in ("heating", "waiting", "hands-on")}  # fmt: skip
    assert by_kind["heating"] + by_kind["waiting"] == pytest.approx(24 * 60)
    assert by_kind["heating"] == pytest.approx(4.7 * 60, rel=0.05)  # the boiling down
    vessel = [r for r in time_words.reasons(found) if r.figure == f"time:{CROP}"]
    assert "enamelled pot, 5 L" in vessel[0].lines[-1]  # 3.9 kg do not go into the beakers


def test_demo_at_weekends(demo, demo_routes):
    """Handwork and boiling lie within Saturday and Sunday, 9 to 17; standing does not mind."""
    found = plan(demo, demo_routes[R1], calendar=WEEKEND)
    for task in found.tasks:
        begins, ends = found.when(task.start_min), found.when(task.end_min)
        if task.present:
            assert begins.weekday() in {5, 6}
            assert begins.hour >= 9
            assert ends <= begins.replace(hour=17, minute=0, second=0)
    assert found.elapsed_min > 45 * 60
    assert found.unwatched == ()
    assert found.critical[0].waited_for == "working hours"
    night = [t for t in found.tasks if t.kind == "waiting" and t.step == CROP]
    assert found.when(night[0].end_min).date() > found.when(night[0].start_min).date()


def test_just_in_time_shortens_the_wait(demo, demo_routes):
    """The solution is done as Sunday's hours end and not before; the end stays the same."""
    soon = plan(demo, demo_routes[R1], calendar=WEEKEND)
    late = plan(demo, demo_routes[R1], calendar=WEEKEND, just_in_time=True)
    assert late.elapsed_min == pytest.approx(soon.elapsed_min)
    waits = [p.spans[CROP, 1][0] - p.spans[DISSOLVE, 1][1] for p in (soon, late)]
    assert waits[1] < waits[0]
    assert late.when(late.spans[DISSOLVE, 1][1]) == datetime(2026, 11, 29, 17)


def test_an_evening_is_too_short_to_watch(demo, demo_routes):
    """Hours of current that nobody said may be left: watched all the same, and told once.

    By hand: 2 F / I for each mole of copper, at the 3 A of the record.
    """
    route = demo_routes["dissolve-copper-anodically-in-acetic-acid"]
    cell = route.assessment.amounts.steps[0]
    hours = 2 * 96485.332 * cell.turns / 3 / 3600
    found = plan(demo, route, calendar=WEEKEND)
    (one,) = found.unwatched
    assert one.minutes == pytest.approx(60 * hours)
    assert f"{hours:.1f} h of waiting must be watched" in time_words.unwatched(one)
    long = max(found.tasks, key=lambda t: t.end_min - t.start_min)
    assert long.present
    assert long.outside


def test_batches_follow_one_another(demo, demo_routes):
    """Two batches of the middle step: half an hour more handwork each, both before the crop."""
    found = plan(demo, demo_routes[R1], batches={DISSOLVE: 2})
    assert found.hands_on_min == pytest.approx(7 * 60)
    assert {b for s, b in found.spans if s == DISSOLVE} == {1, 2}
    assert found.spans[CROP, 1][0] >= max(found.spans[DISSOLVE, b][1] for b in (1, 2)) - 1e-6
    with pytest.raises(InputError, match="0 batches"):
        plan(demo, demo_routes[R1], batches={DISSOLVE: 0})


def test_convergent_branches_overlap():
    """A route with two branches takes less than the sum of its steps and no less than its chain.

    Branches meet where reagents are made too, not bought. Of two steps that feed a third, one that
    also feeds the other is no branch.
    """
    found = routefinder.find("verdigris", "100 g", top=40, make_reagents=True)
    tried = 0
    for route in found.routes:
        amounts = route.assessment.amounts
        before: dict[str, set[str]] = {}  # all that lies upstream of a step
        for a in amounts.steps:  # in the order of work
            feeders = {f.origin for f in a.feeds if isinstance(f.origin, str)}
            before[a.step.id] = feeders.union(*(before[f] for f in feeders))
        pairs = itertools.combinations(before, 2)
        if all(a in before[b] or b in before[a] for a, b in pairs):
            continue
        got = schedule.plan(amounts)
        total = sum(a.times.total_min for a in amounts.steps)
        assert got.least_min - 1e-6 <= got.elapsed_min < total
        tried += 1
    assert tried >= 5


def test_kiln_is_taken_until_cold(shipped):
    """Lime by kiln: heating, hold and cooling fill the waiting; the kiln is taken throughout."""
    from routefinder.records.capability import Capability
    from routefinder.records.shelf import Bench, Tool

    found = routefinder.find("calcium oxide", "1 kg", top=20)
    amounts = next(
        r.assessment.amounts for r in found.routes
        if r.assessment.ids == ("burn-whiting-to-quicklime",)
    )  # fmt: skip
    offer = Capability.model_validate({"heat-dry": {"to": "1000 degC"}})
    bench = Bench((Tool("kiln", (offer,)),))
    heats = heat.heats(found.library, amounts, bench)
    got = schedule.plan(amounts, bench, heats)
    kinds = [t.kind for t in got.tasks]
    assert kinds[0] == kinds[-1] == "hands-on"
    assert "heating" in kinds
    assert "cooling" in kinds
    # 6.2 h up and 12 h down, and between them the 3 h that its stages hold it
    one = heats["burn-whiting-to-quicklime"]
    assert one.soak_min == pytest.approx(3 * 60)
    assert got.elapsed_min == pytest.approx(
        45 + math.ceil(one.heating_min) + math.ceil(one.cooling_min) + one.soak_min
    )
    assert any("held 3.00 h" in line for line in time_words.reasons(got)[0].lines)
    twice = schedule.plan(amounts, bench, heats, {"burn-whiting-to-quicklime": 2})
    first, second = (twice.spans["burn-whiting-to-quicklime", b] for b in (1, 2))
    hot = one.heating_min + one.cooling_min
    assert second[1] - first[0] >= 2 * hot


def test_the_calendar_never_lets_go_of_what_is_watched():
    """Every step with several heaters, in short hours: watched as attendance says, and told so."""
    library = routefinder.load_library()
    names = ("hotplate", "sous-vide-circulator", "pottery-kiln-cone-6-controller", "raku-kiln")
    tools = [None, *(library.equipment[n] for n in names)]
    beyond = 0
    for step in library.steps.values():
        for kind in tools:
            tool = kind and Tool(kind.name, kind.offers, 1, kind.heats_by, kind.may_be_left)
            way = heaters.WAYS[kind.heats_by] if kind else None
            stay = attendance(step, tool, library, way)
            gear = schedule._Gear((), (), ())
            times = usual_times(library, step)
            block = schedule._block(step, 1, times, None, gear, WEEKEND.longest_min, (), stay)
            said = time_words._staying(stay)
            found = ls.schedule([block], {}, WEEKEND)
            waiting = [p.segment for p in found.placed if p.segment.label == "waiting"]
            if stay.calms and waiting:  # watched until it has calmed down
                assert waiting[0].present
                waiting = waiting[1:]
            if stay.by_stage:  # of the stages that the record calls attended, every minute
                asked = [t.minutes for t in times.stages if t.attended and t.kind == "waiting"]
                watched = sum(s.minutes for s in waiting if s.present)
                assert asked
                assert watched == pytest.approx(sum(asked))
            else:
                assert all(s.present == stay.stay for s in waiting)
            assert said.startswith("the waiting may be left") == (not stay.stay)
            beyond += any(s.outside for s in waiting)
    assert beyond > 100
