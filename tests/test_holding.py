"""A window has an upper end, and decides what a kiln must reach: laws over all dry heats."""

from __future__ import annotations

from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.assessment import equipment
from routefinder.hazards.holding import BY_HAND_K, MARGIN_K, held
from routefinder.hazards.set_up import set_up
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool

ORDER = {"yes": 0, "marginal": 1, "no": 2}


def kiln(to, within=None, overshoot=None, name="a kiln"):
    heat = {"to": f"{to} degC"} | ({"overshoot": f"{overshoot} K"} if overshoot else {})
    offers = [Capability.model_validate({"heat-dry": heat})]
    if within is not None:
        offers.append(Capability.model_validate({"hold-temperature": {"within": f"{within} K"}}))
    return Tool(name, tuple(offers), 1, "kiln", True)


@pytest.fixture(scope="module")
def dry(shipped):
    """Every dry heat with its need of a furnace."""
    found = [s for s in shipped.steps.values() if s.dry_heat]
    return [(s, n) for s in found for n in s.needs if n.name == "heat-dry"]


def verdicts(dry, tool):
    bench = Bench((tool,))
    return [held(s, n, tool, bench) for s, n in dry if any(o.serves(n) for o in tool.offers)]


def test_what_is_held_well_serves_all_it_reaches(dry):
    """A kiln with a controller (15 K) sets no dry heat of the library aside.

    Molten lye under current alone has so narrow a window (20 K) that it is at the edge.
    """
    assert len(dry) > 150
    tight = [p for p in dry if p[0].id == "electrolyse-molten-caustic-soda"]
    assert {h.verdict for h in verdicts(tight, kiln(1200, 15))} == {"marginal"}
    wide = [pair for pair in dry if pair not in tight]
    assert {h.verdict for h in verdicts(wide, kiln(1200, 15))} == {"yes"}


@pytest.mark.parametrize("tool", [kiln(1200), kiln(1200, 15, 80), kiln(1200, 180)])
def test_what_does_not_hold_is_set_aside_or_marginal(dry, tool):
    """Without a controller, running over by 80 K, or within 180 K; always with the reason."""
    found = verdicts(dry, tool)
    assert {h.verdict for h in found} == {"yes", "marginal", "no"}
    assert all(bool(h.why) == (h.verdict != "yes") for h in found)
    assert all("its window is" in h.why for h in found if h.why)


def test_the_rule_itself(dry):
    """The swing against the room between the lowest heat that does and the upper end."""
    for within, over in ((15, 0), (15, 80), (50, 0), (180, 0)):
        tool = kiln(1500, within, over)
        bench = Bench((tool,))
        for step, need in dry:
            if (
                not any(o.serves(need) for o in tool.offers)
                or step.record.temperature.high_C > 1500
            ):
                continue
            room = step.record.temperature.high_C - step.least_C
            if room < 0:
                continue
            swing = within + max(within, over)
            expected = "yes" if swing <= room else "marginal" if swing <= room + MARGIN_K else "no"
            assert held(step, need, tool, bench).verdict == expected, step.id


def test_holding_better_never_serves_less(dry):
    """Over all dry heats: a tighter hold, less running over, a controller beside a kiln."""
    for worse, better in (
        (kiln(1200, 180), kiln(1200, 60)), (kiln(1200, 15, 80), kiln(1200, 15, 30)),
        (kiln(1200), kiln(1200, BY_HAND_K)),
    ):  # fmt: skip
        pairs = zip(verdicts(dry, worse), verdicts(dry, better), strict=True)
        assert all(ORDER[b.verdict] <= ORDER[a.verdict] for a, b in pairs)
    controller = Tool("a controller", kiln(0, 10).offers[1:])
    plain = kiln(1200)
    alone, both = Bench((plain,)), Bench((plain, controller))
    for step, need in dry:
        if any(o.serves(need) for o in plain.offers):
            assert (
                ORDER[held(step, need, plain, both).verdict]
                <= ORDER[held(step, need, plain, alone).verdict]
            )


def test_the_window_decides_not_the_usual_heat(shipped, dry):
    """A kiln to 930 degC serves 900 to 1100 degC, though 950 degC are usual."""
    step = shipped.steps["fire-rinmanns-green-from-coprecipitate"]
    assert (step.record.temperature.low_C, step.record.temperature.high_C) == (900, 1100)
    assert step.heat_C == 950
    assert step.least_C == 900
    crucible = Capability.model_validate(
        {"vessel": {"made_of": "alumina", "to": "1200 degC", "volume": "1 L"}}
    )
    bench = Bench((kiln(930, 15), Tool("crucibles", (crucible,))))
    assert set_up(shipped, step, bench).heater.name == "a kiln"
    assert sum(s.least_C < s.heat_C for s, _ in dry) > 150
    for each, need in dry:  # never hotter than the record asked for, never outside the window
        low, high = each.record.temperature.low_C, each.record.temperature.high_C
        assert need.limit("to") <= each.heat_C
        assert need.limit("to") == low or need.limit("to") > high or each.heat_C == low


def test_unlock_asks_for_the_k_that_lack(shipped, studio):
    """A kiln to 730 degC for a window from 750 degC: 20 K more."""
    from routefinder.graph.acquire import Change
    from routefinder.library.shelf import read_bench

    bench = read_bench(studio / "bench-with-kiln.yaml", shipped)
    sieve = Capability.model_validate({"sieve": {"opening": "0.1 mm"}})
    tools = tuple(
        replace(t, offers=kiln(730, 15).offers) if "kiln" in t.name else t for t in bench.tools
    )
    tools = (*tools, Tool("sieve", (sieve,)))
    found = rf.unlock(
        "copper(II) oxide", "50 g", library=shipped, shelf=["copper wire, bare"],
        bench=Bench(tools, "mine"), most=1, by="steps", seconds=20,
    )  # fmt: skip
    changes = [p.change for o in found.openings for p in o.pieces if p.change is not None]
    assert Change("bench", "electric kiln, 1000 °C", "heat-dry", "to", 730.0, 750.0) in changes


def test_the_least_that_serves_is_taken(shipped):
    """Over all steps: no tool that serves as well reaches less far beyond what is needed."""
    oven = replace(kiln(250, 5, name="oven"), heats_by="oven")
    tools = (kiln(1270, 5, name="big"), kiln(1000, 5, name="small"), oven)
    bench = Bench(tools)
    seen = set()
    for step in shipped.steps.values():
        found = set_up(shipped, step, bench)
        if found.heater is None or found.heaters[0][0].name != "heat-dry":
            continue
        need = found.heaters[0][0]
        reach = {t.name: t.offers[0].limit("to") for t in tools}
        spare = {n: r - need.limit("to") for n, r in reach.items() if r >= need.limit("to")}
        roomy = {n: s for n, s in spare.items() if s >= 30} or spare
        if not found.wear:  # a furnace that is eaten gives way to another
            assert found.heater.name == min(roomy, key=roomy.get), step.id
        seen.add(found.heater.name)
    assert seen == {"big", "small", "oven"}
    dry = Capability.model_validate({"dry": {"to": "80 degC"}})
    hot = Tool("kiln", (Capability.model_validate({"dry": {"to": "300 degC"}}),))
    mild = Tool("oven", (Capability.model_validate({"dry": {"to": "120 degC"}}),))
    assert Bench((hot, mild)).serving(dry) is mild


def test_every_room_names_the_same_tool(shipped, dry):
    """Equipment lists and set-up agree, need for need, in the record's order."""
    bench = Bench((kiln(1270, 5, name="big"), kiln(1000, 5, name="small")))
    for step, need in dry[::5]:
        names = dict(zip(step.needs, equipment.tools(shipped, step, bench), strict=True))
        heater = set_up(shipped, step, bench).heater
        assert names[need] == (heater.name if heater else None)
