"""How steps are set up on a bench: heaters, vessels, what may be left, what eats a furnace.

The laws go over every shipped step on several benches.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.asking.library import load_library
from routefinder.assessment import equipment, schedule
from routefinder.hazards import attendance, heaters, vessels
from routefinder.hazards.set_up import attended, set_up, unfit
from routefinder.records.capability import Capability
from routefinder.records.equipment import HEATS_BY
from routefinder.records.shelf import Bench, Tool

NO_PLATE = {m for m, limit in vessels.heat_limits().items() if limit.plate == "no"}
NO_FLAME = {m for m, limit in vessels.heat_limits().items() if limit.flame == "no"}
PLASTICS = {"HDPE", "LDPE", "PP", "PTFE", "PFA", "PC", "PMP"}


@pytest.fixture(scope="module")
def lib():
    return load_library()


def tool_of(library, name):
    kind = library.equipment[name]
    return Tool(
        kind.name, kind.offers, 1, kind.heats_by, kind.may_be_left, kind.outdoors, kind.cautions
    )


def bench_of(library, *names):
    return Bench(tuple(tool_of(library, n) for n in names))


WARES = (
    "borosilicate-beakers", "borosilicate-beaker-5l", "soda-lime-jars", "hdpe-buckets",
    "pp-buckets", "enamel-pot", "stainless-pot-304", "stainless-beaker-316", "carbon-steel-pot",
    "aluminium-pot", "copper-pot", "ptfe-beaker", "porcelain-dishes", "alumina-crucibles",
    "clay-graphite-crucibles", "fireclay-saggars", "nickel-crucible", "fused-silica-crucible",
)  # fmt: skip
KILNS = ("test-kiln-1000", "pottery-kiln-cone-6-controller", "raku-kiln", "muffle-furnace")


@pytest.fixture(scope="module")
def benches(lib):
    """Benches with every vessel and one way of heating liquids each."""
    out = {}
    for name in ("hotplate", "induction-cooker", "water-bath", "oil-bath", "sous-vide-circulator"):
        out[name] = bench_of(lib, *WARES, name, "drying-oven", "spirit-burner", *KILNS)
    return out


def materials(place):
    return {f.verdict.material for f in place.fits if f.verdict is not None}


# --- vessels and heaters ------------------------------------------------------------------------


def test_no_vessel_stands_on_what_it_does_not_bear(lib, benches):
    """On no bench does a step get a vessel that its contents and its heater would spoil."""
    looked = 0
    for bench in benches.values():
        for step in lib.steps.values():
            found = set_up(lib, step, bench)
            liquid = [(n, t) for n, t in found.heaters if n.name == "heat-liquid" and t is not None]
            kiln = found.heaters and found.heaters[0][0].name == "heat-dry"
            for place in found.places:
                heat = vessels.hottest(step, place.need)
                for fit in place.fits:
                    looked += 1
                    assert fit.verdict.verdict not in vessels.EATEN
                    own = fit.offer.limit("to")
                    assert own is None or own >= heat
                    limit = vessels.heat_limits()[fit.verdict.material]
                    assert heat <= limit.highest_C
                    if not vessels.is_heated(step, place.need) or kiln:
                        continue
                    for need, tool in liquid:
                        way = heaters.way(tool, need)
                        if way.direct == "plate":
                            assert fit.verdict.material not in NO_PLATE, step.id
                        if way.direct == "flame":
                            assert fit.verdict.material not in NO_FLAME, step.id
    assert looked > 5000


def test_a_lacking_vessel_is_named(lib, benches):
    """Where vessels of the bench would serve by their record, but none lasts, it is said why."""
    told = 0
    plastic = bench_of(lib, "pp-buckets", "hdpe-buckets", "soda-lime-jars", "hotplate")
    for bench in (*benches.values(), plastic):
        for step in lib.steps.values():
            for place in set_up(lib, step, bench).places:
                serves = any(o.serves(place.need) for t in bench.tools for o in t.offers)
                assert bool(place.lacking) == (serves and not place.fits)
                if place.lacking:
                    told += 1
                    assert place.lacking.startswith("no vessel on the bench lasts at ")
    assert told > 20


def test_records_allow_no_vessel_that_its_step_spoils(lib):
    """Every allowed material lasts: what bears no hotplate only where a water bath will do."""
    spoilt = {
        (step.id, v.material)
        for step in lib.steps.values()
        for need in vessels.verdicts(lib, step)
        for v in need.allowed
        if v.verdict in vessels.EATEN
    }
    # it distils to 206 degC over lye, which no vessel at hand stands
    assert {s for s, _ in spoilt} <= {"disproportionate-benzaldehyde-with-lye"}
    only_bath = {
        step.id
        for step in lib.steps.values()
        for need in vessels.needs(step)
        if need.made_of and set(need.made_of) <= NO_PLATE and vessels.is_heated(step, need)
        and heaters.heat_needs(step)[0].name == "heat-liquid"
    }  # fmt: skip
    assert only_bath <= ONLY_BATH


ONLY_BATH: set[str] = set()  # none: an ordinary bench has no water bath


def test_plastic_on_a_hotplate(lib):
    """The same step: PP on a plate is refused, in a water bath it serves."""
    step = lib.steps["dissolve-basic-copper-carbonate-in-acetic-acid"]
    assert "PP" in vessels.needs(step)[0].made_of
    plate = bench_of(lib, "hotplate", "pp-buckets")
    assert "does not bear a hotplate" in set_up(lib, step, plate).barred[0]
    assert "lacking is one of" in set_up(lib, step, plate).barred[0]
    bath = bench_of(lib, "water-bath", "pp-buckets")
    assert set_up(lib, step, bath).barred == ()
    both = bench_of(lib, "hotplate", "water-bath", "pp-buckets")
    assert set_up(lib, step, both).heater.name == "water bath"
    unsaid = Bench((Tool("thing", (Capability(name="heat-liquid", limits=(("to", 250.0),)),)),
                    tool_of(lib, "pp-buckets")))  # fmt: skip
    assert set_up(lib, step, unsaid).barred  # a heater that does not say how it heats is a plate
    assert {m for _, bad in unfit(lib, step, plate) for m in bad} >= PLASTICS


def molten(lib, material, to=400.0):
    """A step that melts lye in a vessel of one material."""
    step = lib.steps["fuse-quartz-with-caustic-soda"]
    need = Capability(name="vessel", limits=(("to", to),), made_of=(material,))
    others = tuple(n for n in step.record.equipment if n.name != "vessel")
    return replace(step, record=step.record.model_copy(update={"equipment": (*others, need)}))


@pytest.mark.parametrize(
    ("material", "verdict"),
    [
        ("borosilicate", vessels.ATTACKED), ("clay-graphite", vessels.ATTACKED),
        ("fused silica", vessels.ATTACKED), ("porcelain", vessels.ATTACKED),
        ("earthenware", vessels.ATTACKED), ("stainless steel", vessels.ATTACKED),
        ("aluminium", vessels.ATTACKED), ("platinum", vessels.ATTACKED),
        ("alumina", vessels.SLOWLY), ("carbon steel", vessels.SLOWLY),
    ],
)  # fmt: skip
def test_molten_lye(lib, material, verdict):
    """Known attack by molten alkali decides the set-up, not only the card."""
    step = molten(lib, material)
    found = vessels.judged(lib, step)[0][material]
    assert verdict in {r.verdict for r in found.reasons}
    pot = Tool("pot", (Capability(name="vessel", limits=(("to", 900.0),), made_of=(material,)),))
    bench = Bench((*bench_of(lib, "muffle-furnace").tools, pot))
    setting = set_up(lib, step, bench)
    if verdict == vessels.ATTACKED:
        assert setting.barred
        assert material in setting.barred[0]
    else:
        assert any("slowly attacked" in why for why in setting.marginal)


def test_a_vessel_that_lasts_is_taken_before_one_that_does_not(lib):
    """Hot lye: a larger stainless pot is passed over for the nickel crucible."""
    step = lib.steps["fuse-quartz-with-caustic-soda"]
    record = step.record.model_copy(update={"equipment": tuple(
        n if n.name != "vessel" else n.model_copy(update={"made_of": ()})
        for n in step.record.equipment)})  # fmt: skip
    step = replace(step, record=record)
    big = Tool("drum", (Capability(name="vessel", limits=(("to", 900.0), ("volume", 9000.0)),
                                   made_of=("stainless steel",)),))  # fmt: skip
    bench = Bench((big, *bench_of(lib, "nickel-crucible", "muffle-furnace").tools))
    assert [f.tool.name for f in set_up(lib, step, bench).places[0].fits] == ["nickel crucible"]


def test_a_kettle_heats_no_liquor(lib):
    kettle = bench_of(lib, "kettle-electric")
    for step in lib.steps.values():
        assert all(tool is None for _, tool in set_up(lib, step, kettle).heaters)


def test_no_flame_under_a_flammable_liquid(lib):
    """A gas ring never heats what burns; with a plate besides, the plate does."""
    ring = bench_of(lib, "camp-stove-outdoors", *WARES)
    both = bench_of(lib, "camp-stove-outdoors", "hotplate", "heating-mantle-500", *WARES)
    told = 0
    for step in lib.steps.values():
        if not any(n.name == "heat-liquid" for n in heaters.heat_needs(step)):
            continue
        if not heaters.flammable(lib, step):
            continue
        serves = any(
            heaters.heating_tools(ring, n) for n in heaters.heat_needs(step)
            if n.name == "heat-liquid"
        )  # fmt: skip
        found = set_up(lib, step, ring)
        assert bool(found.refused) == serves
        told += serves
        for need, tool in set_up(lib, step, both).heaters:
            if need.name == "heat-liquid" and tool is not None:
                assert not heaters.way(tool, need).fire
    assert told > 20


# --- what may be left ---------------------------------------------------------------------------


def all_heaters(lib):
    return [tool_of(lib, e.id) for e in lib.equipment.values() if e.heats_by]


def test_what_may_be_left(lib):
    """Over every step and every heater: the law of the record, the heater and what is in it."""
    left = watched = 0
    for step in lib.steps.values():
        record = step.record
        names = {n.name for n in record.equipment}
        text = " ".join((*record.cautions, *record.watch, *record.done_when, *record.notes)).lower()
        for tool in (None, *all_heaters(lib)):
            way = heaters.WAYS[tool.heats_by] if tool else None
            found = attendance.attendance(step, tool, lib, way)
            if found.stay:
                watched += 1
                assert found.why
                continue
            left += 1
            assert record.time.unattended is not False
            assert not any(s.attended for s in record.stages)
            assert not re.search(r"(do not|never) leave it|stay with it|unattended", text)
            assert not any(a.role == "fuel" for a in step.aids)
            if not found.hot:
                continue
            assert tool is not None
            assert tool.may_be_left
            assert not way.fire
            assert "open-flame" not in names
            if "heat-liquid" in names:
                assert not names & {"evaporate", "aerate", "lead-in-gas", "reflux", "distil"}
    assert left > 500
    assert watched > 5000


def test_a_hot_liquor_blown_with_air_is_never_left(lib):
    """Five days at 70 degC with air through it: the record's word does not count."""
    step = lib.steps["dissolve-copper-in-sulfuric-acid-with-air"]
    assert step.record.time.unattended
    tool = replace(tool_of(lib, "sous-vide-circulator"), may_be_left=True)
    found = attendance.attendance(step, tool, lib, heaters.WAYS["water bath"])
    assert found.stay
    assert "dry" in found.why


def test_a_stage_called_attended_is_watched_and_the_rest_left(lib):
    """A day of slow evaporation is stayed with; two of crystallising and one of drying are not."""
    step = lib.steps["crystallise-sodium-alum"]
    found = attendance.attendance(step, tool_of(lib, "sous-vide-circulator"), lib)
    assert found.stay
    assert found.by_stage
    assert "'boil down'" in found.why
    amounts = rf.find("sodium alum", "100 g", library=lib).routes[0].assessment.amounts
    assert amounts.steps[-1].step.id == step.id
    tasks = schedule.plan(amounts, stays={step.id: found}).tasks
    waits = [t for t in tasks if t.step == step.id and t.kind == "waiting"]
    hours = {p: sum(t.end_min - t.start_min for t in waits if t.present is p) / 60
             for p in (True, False)}  # fmt: skip
    assert hours == pytest.approx({True: 24.0, False: 72.0}, abs=1.0)


@pytest.mark.parametrize(
    ("kiln", "stay"),
    [("pottery-kiln-cone-6-controller", False), ("pottery-kiln-cone-6", True),
     ("raku-kiln", True), ("muffle-furnace", False)],
)  # fmt: skip
def test_a_firing_is_left_to_a_kiln_that_may_be(lib, kiln, stay):
    step = lib.steps["burn-whiting-to-quicklime"]
    assert step.record.time.unattended
    assert attended(lib, step, bench_of(lib, kiln, *WARES)).stay is stay
    assert attended(lib, step, None).stay


@pytest.mark.parametrize(
    ("text", "stays"),
    [
        ("Do not leave it: it boils over.", True), ("Never leave the pot.", True),
        ("Stay with it until the foam falls.", True), ("Stir to the end.", True),
        ("Watch it near the end.", True), ("Not to be left while hot.", True),
        ("Constant stirring, or it burns on.", True), ("Keep an eye on the wick.", True),
        ("100 g leave 56 g.", False), ("Some sulfate stays in the liquor.", False),
        ("Let it stand a day.", False), ("Weigh the watch glass.", False),
        ("Stir often.", False), ("Carbon and rust stay with the copper.", False),
    ],
)  # fmt: skip
def test_words_that_say_to_stay(lib, text, stays):
    """What a record says in words counts like its field."""
    step = lib.steps["precipitate-alumina-from-potassium-alum-with-soda"]
    assert not attendance.attendance(step).stay
    record = step.record.model_copy(update={"watch": (*step.record.watch, text)})
    found = attendance.attendance(replace(step, record=record))
    assert found.stay is stays
    if stays:
        assert text in found.why


# --- equipment ----------------------------------------------------------------------------------


def test_every_shipped_heater_says_how_it_heats_and_whether_it_may_be_left(lib):
    for kind in lib.equipment.values():
        heats = {o.name for o in kind.offers} & set(heaters.HEATS)
        if heats:
            assert kind.heats_by in HEATS_BY, kind.id
            assert kind.may_be_left is not None, kind.id
        if kind.heats_by and heaters.WAYS[kind.heats_by].fire:
            assert kind.may_be_left is False, kind.id
        if any("outdoors only" in c.lower() for c in kind.cautions):
            assert kind.outdoors, kind.id
    assert set(heaters.WAYS) == set(HEATS_BY)


EATS = {"HCl", "Cl2", "SO2", "SO3"}


def test_gases_that_eat_elements_are_told_of_every_firing(lib):
    """Every dry step that makes such a gas wears a kiln with elements; a water bath never."""
    told = 0
    for step in lib.steps.values():
        if not any(n.name == "heat-dry" for n in heaters.heat_needs(step)):
            continue
        gases = {
            lib.substances[p.substance].formula for p in step.products if p.state == "g"
        } & EATS
        found = {w.agent for w in heaters.wear(lib, step, heaters.WAYS["kiln"])}
        if gases and step.heat_C > 100:
            told += 1
            assert len(found) >= len(gases), step.id
        assert heaters.wear(lib, step, heaters.WAYS["plate"]) == ()
    assert told >= 5


def test_wear_reaches_the_set_up(lib):
    step = lib.steps["roast-green-vitriol-to-red-oxide"]
    bench = bench_of(lib, "test-kiln-1000", *WARES)
    assert any("sulfur trioxide" in why for why in set_up(lib, step, bench).marginal)
    gas = bench_of(lib, "test-kiln-1000", "raku-kiln", *WARES)
    assert set_up(lib, step, gas).heater.name == "raku or propane kiln"  # no elements to eat


def test_what_sees_food_again_is_told(shipped):
    """The kitchen oven that dries a poisonous salt: said as grave, and another oven goes before it."""
    from routefinder.hazards.cautions import NEVER_WITH_FOOD
    from routefinder.worksheet.safety import gear

    def tool(kind):
        found = shipped.equipment[kind]
        return Tool(found.name, found.offers, 1, found.heats_by, found.may_be_left,
                    found.outdoors, found.cautions, found.food)  # fmt: skip

    kitchen, own = tool("kitchen-oven"), tool("drying-oven")
    assert kitchen.food
    assert not own.food
    told = quiet = 0
    for step in shipped.steps.values():
        if not any(n.name in {"dry", "heat-dry"} for n in step.record.equipment):
            continue
        grave = {g.kind for g in gear(shipped, step, Bench((kitchen,))) if g.grave}
        parts = (*step.reactants, *step.products)
        codes = {c[:4] for p in parts for c in shipped.substances[p.substance].hazards.scored}
        used = any(
            kitchen.name == name
            for name in equipment.tools(shipped, step, Bench((kitchen,)))
        )  # fmt: skip
        assert ("food" in grave) == bool(used and codes & set(NEVER_WITH_FOOD)), step.id
        told += "food" in grave
        quiet += used and "food" not in grave
        both = set_up(shipped, step, Bench((kitchen, own)))
        if both.heater is not None and "heat-dry" in {n.name for n, _ in both.heaters}:
            serves = any(o.serves(n) for n, _ in both.heaters for o in own.offers)
            assert not (serves and both.heater.food), step.id
    assert told > 50
    assert quiet > 50
