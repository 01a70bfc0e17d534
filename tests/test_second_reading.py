"""What a second reader of whole plan pages found, held as laws over every shipped step."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

import routefinder as rf
from routefinder.asking.library import load_library
from routefinder.assessment import hazards as points_of
from routefinder.assessment.one_step import one_step
from routefinder.assessment.room_air import release_min
from routefinder.hazards import vessels
from routefinder.hazards.attendance import attendance
from routefinder.hazards.cautions import cautions
from routefinder.hazards.kinds import kinds
from routefinder.vessel import water
from routefinder.vessel.stages import is_dry_heat, stages_of
from routefinder.view import bench_words
from routefinder.view.words import under_never
from routefinder.worksheet.bench_work import bench_work, in_order

READINGS = Path(__file__).parent.parent / "reactions" / "readings"
ACIDS = ("H2SO4", "HCl", "HNO3", "H3PO4", "C2H4O2", "C2H2O4")


@pytest.fixture(scope="module")
def lib():
    return load_library()


@pytest.fixture(scope="module")
def answer(lib):
    """Copper chloride through copper dissolved with peroxide and acid."""
    return rf.find("copper(II) chloride dihydrate", "100 g", library=lib, top=30, seconds=20)


@pytest.fixture(scope="module")
def plan(answer):
    step = "dissolve-copper-in-peroxide-and-hydrochloric-acid"
    number = next(i for i, r in enumerate(answer.routes, 1) if step in r.ids)
    return rf.plan(answer, number)


def order_of(lib, step):
    """Substances in the order they go in, of a step by itself."""
    amount = one_step(lib, step, 100.0)
    feeds = [f for f in amount.feeds if f.role != "wash" and not f.after]
    return [lib.substances[f.substance] for f in in_order(lib, amount, feeds)]


def bears(step, lib, formula):
    return any(lib.substances[p.substance].formula == formula for p in step.reactants)


# --- order of addition -------------------------------------------------------------------------


def test_peroxide_goes_in_last(lib):
    """Nothing that it acts on is thrown into the peroxide; only a base comes after it."""
    found = [s for s in lib.steps.values() if bears(s, lib, "H2O2")]
    assert len(found) >= 14
    for step in found:
        names = order_of(lib, step)
        place = next(i for i, s in enumerate(names) if s.formula == "H2O2")
        for later in names[place + 1 :]:
            assert {"carbonate", "ammonia", "strong alkali"} & kinds(later).names, step.id
        assert place > 0, step.id


def test_acid_goes_in_after_cyanoferrate(lib):
    found = 0
    for step in lib.steps.values():
        names = order_of(lib, step) if any(
            "cyanoferrate" in kinds(lib.substances[p.substance]) for p in step.reactants
        ) else []  # fmt: skip
        acids = [i for i, s in enumerate(names) if s.formula in ACIDS]
        salts = [i for i, s in enumerate(names) if "cyanoferrate" in kinds(s)]
        if acids and salts:
            found += 1
            assert min(acids) > max(salts), step.id
    assert found >= 1


def test_lye_is_melted_before_what_goes_into_it(lib):
    """Of a dry melt with an alkali hydroxide the hydroxide comes first."""
    found = 0
    for step in lib.steps.values():
        lyes = [p for p in step.reactants if lib.substances[p.substance].formula in {"NaOH", "KOH"}]
        if lyes and is_dry_heat(step) and len(step.reactants) > 1:
            found += 1
            assert order_of(lib, step)[0].formula in {"NaOH", "KOH"}, step.id
    assert found >= 1


def test_peroxide_is_added_little_by_little(plan):
    for work in bench_work(plan):
        for text in bench_words.doing(work):
            if "hydrogen peroxide" in text and text.startswith(("Add", "Pour")):
                assert "little by little" in text
                return
    pytest.fail("no step adds peroxide")


# --- being away --------------------------------------------------------------------------------


def test_no_step_is_left_while_it_reacts_briskly(lib):
    """Hydrogen from metal in acid, and what would warm by 50 K by itself, is watched at first."""
    found = []
    for step in lib.steps.values():
        if step.record.kind == "electrolysis":
            continue
        hydrogen = any(
            p.state == "g" and lib.substances[p.substance].formula == "H2" for p in step.products
        )
        air = any(p.state == "g" for p in step.reactants)
        if not hydrogen or air:
            continue
        stays = attendance(step, library=lib)
        assert stays.stay or stays.calms, step.id
        found.append(stays.calms)
    assert sum(found) >= 5
    for name in ("slake-quicklime", "dissolve-zinc-oxide-in-hydrochloric-acid"):
        stays = attendance(lib.steps[name], library=lib)
        assert stays.stay or stays.calms
    assert not attendance(lib.steps["grow-verdigris-on-copper"], library=lib).calms


def test_the_calendar_watches_what_has_not_calmed_down(lib):
    answer = rf.find("zinc sulfate heptahydrate", "100 g", library=lib, top=20, seconds=20)
    names = ("dissolve-zinc-in-sulfuric-acid", "dissolve-zinc-oxide-in-sulfuric-acid")
    step, number = next((n, i) for i, r in enumerate(answer.routes, 1) for n in names if n in r.ids)
    made = rf.plan(answer, number)
    waits = [t for t in made.timed.tasks if t.step == step and t.kind == "waiting"]
    assert waits[0].present
    assert waits[0].end_min - waits[0].start_min == pytest.approx(
        min(60.0, sum(t.end_min - t.start_min for t in waits))
    )


# --- gas ---------------------------------------------------------------------------------------


def test_outdoors_only_is_not_softened(lib):
    """Where a caution says outdoors only, "fume extraction, or outdoors" is not said beside it."""
    words = re.compile(r"outdoors only|only outdoors|never indoors|never in a (closed )?room", re.I)
    found = 0
    for step in lib.steps.values():
        if any(words.search(t) for t in step.record.cautions):
            found += 1
            wear = " | ".join(a.text for a in cautions(lib, step).wear)
            assert "outdoors upwind, never in a room" in wear, step.id
            assert "fume extraction, or" not in wear, step.id
            assert "air the room" not in wear, step.id
    assert found >= 6


def test_a_firing_gives_its_gas_while_it_is_hot(lib):
    """Not over the hours in which the kiln cools."""
    found = 0
    for step in lib.steps.values():
        gas = any(p.state == "g" for p in step.products)
        held = [s.for_min for s in stages_of(lib, step).having("hold") if s.for_min]
        dry = not any(p.state in {"aq", "l"} for p in step.reactants)
        if gas and dry and held and step.record.kind != "electrolysis":
            found += 1
            minutes = release_min(lib, one_step(lib, step, 100.0))
            assert minutes == pytest.approx(max(sum(held), 15.0)), step.id
    assert found >= 100


def test_what_frees_a_poisonous_gas_has_first_aid_for_breathing(lib):
    """Ferrocyanide with acid, sulfide, bleach: by the statement, though no gas is in the equation."""
    frees = {"EUH029", "EUH031", "EUH032"}
    found = 0
    for step in lib.steps.values():
        parts = (*step.reactants, *step.products)
        if any(frees & set(lib.substances[p.substance].hazards.scored) for p in parts):
            here = cautions(lib, step)
            if frees & {*here.label.statements, *here.label.for_caution}:
                found += 1
                assert any(a.text.startswith("breathed in") for a in here.if_wrong), step.id
    assert found >= 5


# --- strengths ---------------------------------------------------------------------------------


def test_points_are_of_the_liquor_that_is_there(lib):
    """A solution made earlier counts at its strength, not at that of the record's own water."""
    answer = rf.find("copper(II) acetate monohydrate", "250 g", library=lib, top=30, seconds=20)
    found = 0
    for route in answer.routes:
        amounts = route.assessment.amounts
        made = water.liquors(lib, amounts)
        for amount in amounts.steps:
            for feed in amount.feeds:
                if not isinstance(feed.origin, str) or feed.origin not in made:
                    continue
                got = points_of.strengths(lib, amount, made)
                names = {n.name for n in amount.step.record.equipment}
                if names & {"evaporate", "distil"}:
                    assert lib.root(feed.substance) not in got
                else:
                    found += 1
                    assert got[lib.root(feed.substance)] == made[feed.origin].strength
    assert found >= 1


# --- the page ----------------------------------------------------------------------------------


def test_the_markdown_page_has_label_first_aid_and_tools(answer, plan):
    """What the other pages say in need, the Markdown page says too."""
    from routefinder.view.plan_files import markdown

    text = markdown(plan).replace("\\", "")
    for work in bench_work(plan):
        safety = work.plan.safety
        assert f"**{safety.signal}**" in text
        for advice in (*safety.if_wrong, *safety.wear, *safety.never):
            assert under_never(advice.text) in text
        for need, _ in work.tools:
            assert f"- [ ] {need}" in text


# --- vessels -----------------------------------------------------------------------------------


def test_what_is_taken_out_red_hot_stands_it(lib):
    words = re.compile(r"take the (?:closed |hot |red-hot )*(?:crucible|pot|dish) out", re.I)
    found = 0
    limits = vessels.heat_limits()
    for step in lib.steps.values():
        record = step.record
        if record.temperature.low_C > 200 and any(words.search(t) for t in record.watch):
            found += 1
            for need in vessels.verdicts(lib, step):
                for v in need.allowed:
                    shock = limits[v.material].shock_K
                    assert shock is None or shock > 500, (step.id, v.material)
    assert found >= 1


# --- the reading -------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "steps"), [("pages.csv", 60), ("pages-b.csv", 40)])
def test_every_finding_is_of_a_shipped_step(lib, name, steps):
    with (READINGS / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {r["grade"] for r in rows} <= {"dangerous", "wrong", "minor"}
    assert {r["mended"] for r in rows} <= {"yes", "decided"}  # nothing is left open
    assert not any(r["grade"] == "dangerous" and r["mended"] != "yes" for r in rows)
    for row in rows:
        assert row["step"] in lib.steps, row["step"]
        assert row["finding"]
        assert row["done"]
    assert len(Counter(r["step"] for r in rows)) >= steps
