"""The plan of a route: S1 reads right, figures agree with one another, every one can be asked."""

from __future__ import annotations

import io
import json
import re
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator
from test_demo import R1, R2, ask, route
from test_reasoning import worked
from typer.testing import CliRunner

import routefinder as rf
from routefinder.cli.main import app
from routefinder.errors import InputError
from routefinder.view import explain, plan_json, plan_text, text, time_words
from routefinder.worksheet import terms

RUN = CliRunner()
WEEKEND = {"start": "2026-11-28", "hours": "Saturday and Sunday, 9 to 17"}
PRECIPITATE = "precipitate-basic-copper-carbonate"
DISSOLVE = "dissolve-basic-copper-carbonate-in-acetic-acid"
CROP = "crystallise-copper-ii-acetate"


@pytest.fixture(scope="module")
def answer():
    from routefinder.library.where import examples

    return ask(examples() / "studio")


@pytest.fixture(scope="module")
def plan(answer):
    return answer.plan(route(answer, R1).number, room="30 m3", air_changes=2,
                       energy_price="0.30 USD/kWh", **WEEKEND)  # fmt: skip


@pytest.fixture(scope="module")
def sure(answer):
    return answer.plan(route(answer, R1).number, confidence=90)


def printed(plan) -> str:
    """What the terminal shows, on one line (wrapping undone)."""
    out = text.console(width=200, record=True, file=io.StringIO())
    plan_text.print_plan(plan, out)
    return re.sub(r"\s+", " ", out.export_text())


def test_the_demo_reads_right(plan):
    """The hand calculation (examples/studio/README.md), as a person reads it off the sheet."""
    words = printed(plan)
    for figure in (
        "401.7 g blue vitriol root killer", "185.7 g soda ash", "3.78 L white vinegar",
        "166 g basic copper carbonate", "never more than 174 g", "median 77 %",
        "between 74 % and 80 %", "18.0 L carbon dioxide", "428.9 g", "PP bucket, 10 L takes 6.00 L",
        "enamelled pot, 5 L takes 3.00 L", "boil down to 1.47 L of water, cool: 188 g",
        "then boil down to 528 mL of water, cool: 67.5 g", "38.0 g stay in the liquor",
        "(87 % crystallise)", "limit 5000 ppm", "sodium sulfate, anhydrous 224 g",
    ):  # fmt: skip
        assert figure in words, figure
    assert "22 % of trials" in words  # typical yields reach the amount in one trial of five


def test_the_parts_agree(plan):
    """Batches are the same in time, heat and gas; the energy is in the money; gas is 36 L."""
    counts = {s.amount.step.id: s.count for s in plan.steps}
    assert counts == {PRECIPITATE: 1, DISSOLVE: 2, CROP: 2}
    for s in plan.steps:
        assert s.heat.batches == s.count == s.batches.count
        assert s.gas is None or s.gas.batches == s.count
        spans = [b for name, b in plan.timed.spans if name == s.amount.step.id]
        assert sorted(spans) == list(range(1, s.count + 1))
        assert s.batches.vessel in " ".join(
            line for r in time_words.reasons(plan.timed) if r.figure == f"time:{s.amount.step.id}"
            for line in r.lines
        )  # fmt: skip
    assert plan.timed.hands_on_min == pytest.approx(600)  # 2 h, 2 × 1 h, 2 × 3 h
    assert sum(g.room_L for s in plan.steps if s.gas for g in s.gas.gases) == pytest.approx(
        36, rel=0.01
    )
    assert plan.energy.known_kWh == pytest.approx(sum(s.heat.energy_kWh for s in plan.steps))
    assert plan.spent.energy == pytest.approx(0.30 * plan.energy.known_kWh)
    assert plan.spent.total == pytest.approx(plan.spent.materials + plan.spent.energy)
    # by hand 3.25 L of liquor, acid (0.19 L) counted and nothing lost (2 %), take 4.8 kWh at 50 %
    assert plan.step(CROP).heat.energy_kWh == pytest.approx(4.8 * 0.98 * 3.06 / 3.25, rel=0.05)


def test_confidence_scales_everything(plan, sure):
    """For 90 % the hand calculation takes 429 g vitriol and scales all."""
    start = next(d for d in sure.amounts.draws if d.supply.name == "blue vitriol root killer")
    assert start.as_weighed_g == pytest.approx(429, rel=0.01)
    assert sure.start.chance == pytest.approx(0.9, abs=0.002)
    assert sure.asked_g == 250
    assert sure.planned_g == pytest.approx(250 * sure.start.scale)
    for a, b in zip(plan.amounts.draws, sure.amounts.draws, strict=True):
        assert b.as_weighed_g == pytest.approx(a.as_weighed_g * sure.start.scale)
    assert sure.buying.consumed == pytest.approx(plan.buying.consumed * sure.start.scale)
    assert "90 % of trials reach 250 g" in printed(sure)
    more = [
        sure.start.scale,
        *(plan.sure.starts[0].enough_g[i][1] / plan.sure.starts[0].start_g for i in (0, 1, 3)),
    ]
    assert more[1] < more[2] < more[0] < more[3]


def test_the_plan_keeps_to_the_calendar(plan):
    """Work lies on Saturdays and Sundays between 9 and 17, and the end is told."""
    for task in plan.timed.tasks:
        if task.present:
            when, ends = plan.timed.when(task.start_min), plan.timed.when(task.end_min)
            assert when.weekday() in {5, 6}
            assert (when.hour, ends.hour) >= (9, 9)
            assert ends.hour * 60 + ends.minute <= 17 * 60
    assert "Sat 28 Nov 09:00" in printed(plan)


def test_a_batch_goes_on_with_its_own(plan):
    """Each batch of solution is crystallised at once: nothing is said to lie between weekends."""
    (one,) = [w for w in plan.keeps.waits if w.maker == DISSOLVE]
    spans = plan.timed.spans
    own = [max(spans[CROP, i][0] - spans[DISSOLVE, i][1], 0) for i in (1, 2)]
    assert one.waits_min >= max(own) - 1e-6
    assert one.waits_min < 1440


def test_fewer_batches_on_request(answer):
    """Added in portions, step 2 goes in one batch: the pot filled to 80 %."""
    number = route(answer, R1).number
    made = answer.plan(number, fill=["2=80 %", f"{CROP}=0.8"])
    assert [s.count for s in made.steps] == [1, 1, 1]
    assert made.timed.hands_on_min == pytest.approx(6 * 60)
    with pytest.raises(InputError, match="fill names '7'"):
        answer.plan(number, fill=["7=80 %"])


def test_a_stronger_heater(answer, plan):
    """Twice the power, half the heating time; the energy stays."""
    made = answer.plan(route(answer, R1).number, heater="2 kW at 50 %")
    slow, fast = plan.step(CROP).heat, made.step(CROP).heat
    assert fast.heating_min == pytest.approx(slow.heating_min / 2)
    assert fast.energy_kWh == pytest.approx(slow.energy_kWh)
    weak = answer.plan(route(answer, R1).number, heater="1 kW at 25 %").step(CROP).heat
    assert weak.energy_kWh == pytest.approx(2 * slow.energy_kWh)


# --- asking for the arithmetic -----------------------------------------------------------------


def test_every_figure_can_be_asked(plan):
    """Each reason is found by its own name, and its steps also by number."""
    every = explain.reasons(plan)
    assert {r.figure.split(":")[0] for r in every} >= {
        "mass", "yield", "batches", "heat", "gas", "water", "crystals", "time", "keeps", "start",
        "sure", "buy", "cost", "most", "waste", "energy", "confidence",
    }  # fmt: skip
    assert len({r.figure for r in every}) == len(every)
    for r in every:
        assert explain.explain(plan, r.figure) == (r,)
        assert r.lines
    assert explain.explain(plan, "mass:1")[0].figure == f"mass:{PRECIPITATE}"
    assert explain.explain(plan, "start:soda")[0].title == "How much soda ash"
    assert len(explain.explain(plan, "batches")) == 3


def test_the_new_arithmetic_works_again(plan, sure):
    """Water, energy and confidence: every printed line of arithmetic is worked again."""
    count = 0
    for made in (plan, sure):
        for kind in ("water", "energy", "confidence"):
            for reason in explain.explain(made, kind):
                for line in reason.lines:
                    found = worked(line)
                    if found is not None:
                        assert found[0] == pytest.approx(found[1], rel=1e-4, abs=0.02), line
                        count += 1
    assert count >= 14


@pytest.mark.parametrize("figure", ["", "mas:1", "gas:9", "start:unobtainium", "nonsense"])
def test_an_unknown_figure_names_the_nearest(plan, figure):
    with pytest.raises(InputError, match="the closest figures are"):
        explain.explain(plan, figure)


# --- other benches, shelves, routes ------------------------------------------------------------


def test_a_convergent_route(answer):
    """R2 by the hand calculation: vitriol 385.6 g, whiting 154.6 g, 36.3 L of gas."""
    made = answer.plan(route(answer, R2).number)
    grams = {d.supply.name: d.as_weighed_g for d in made.amounts.draws}
    assert grams["blue vitriol root killer"] == pytest.approx(385.6, rel=0.01)
    assert grams["whiting"] == pytest.approx(154.6, rel=0.01)
    assert "385.6 g blue vitriol root killer" in printed(made)


def test_without_a_bench_the_plan_says_so():
    """Everything from shops and no bench: packs to buy, one batch a step, and the doubt is told."""
    found = rf.find("potassium alum", "1 kg", top=2)
    made = found.plan(1)
    words = printed(made)
    assert "no bench is given" in words
    assert all(s.count == 1 and s.batches is None for s in made.steps)
    assert made.buying.packets > 0
    with pytest.raises(InputError, match="fill needs a bench"):
        found.plan(1, fill=["1=50 %"])
    with pytest.raises(InputError, match="there is no route 3"):
        found.plan(3)


def test_energy_that_is_not_known_is_not_nought():
    """A kiln without a stated power: its energy is unknown, the money is at least."""
    found = rf.find("quicklime", "500 g", top=1)
    made = found.plan(1, energy_price=0.3)
    assert made.energy.unknown
    words = printed(made)
    assert "and an unknown amount for step" in words
    assert "≥" in words


# --- JSON --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def schema():
    return Draft202012Validator(
        json.loads((files("routefinder.view") / "plan.schema.json").read_text("utf-8"))
    )


def test_json_keeps_to_the_schema(plan, sure, schema):
    """Plans of several kinds of route, all fields known to the schema."""
    made = [plan, sure, *(rf.find(t, "500 g", top=1).plan(1)
                          for t in ("quicklime", "potassium alum", "soft-soap"))]  # fmt: skip
    for one in made:
        data = json.loads(json.dumps(plan_json.plan(one), allow_nan=False))
        assert [e.message for e in schema.iter_errors(data)] == []
    data = plan_json.plan(plan)
    first = data["steps"][0]["weigh_outs"][0]
    assert (first["rounded_g"], first["readability_g"]) == (pytest.approx(401.7), 0.1)
    assert f"mass:{PRECIPITATE}" in data["reasons"]


def test_the_schema_trips(plan, schema):
    """A missing figure, a wrong type, an unknown field."""
    for change in (lambda d: d.pop("money"), lambda d: d["money"].update(total="much"),
                   lambda d: d.update(more=1)):  # fmt: skip
        data = json.loads(json.dumps(plan_json.plan(plan)))
        change(data)
        assert list(schema.iter_errors(data))


# --- terms and the command line ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"confidence": "often"}, "the confidence 'often' is no number"),
        ({"confidence": 100}, "does not lie between 1 and 99.9 %"),
        ({"confidence": 0}, "does not lie between"),
        ({"confidence": "-5"}, "does not lie between"),
        ({"start": "soon"}, "is not a date"),
        ({"start": "2026-11-28", "hours": "whenever"}, "no hours in"),
        ({"room": "30"}, "write for example '30 m3'"),
        ({"room": "0 m3"}, "above 0"),
        ({"air_changes": 2}, "goes with room"),
        ({"room": "30 m3", "air_changes": -1}, "cannot be below 0"),
        ({"heater": "hot"}, "has no power"),
        ({"heater": "1 kW at 150 %"}, "efficiency"),
        ({"energy_price": "dear"}, "is no price of energy"),
        ({"energy_price": "-1"}, "is no price of energy"),
        ({"hourly": -1}, "an hour is worth -1"),
        ({"fill": ["2"]}, "write a step and a share"),
        ({"fill": ["2=95 %"]}, "up to 90 %"),
    ],
)
def test_bad_terms(given, sentence):
    """One sentence for each thing that cannot be used."""
    with pytest.raises(InputError, match=sentence):
        terms.read(**given)


@pytest.mark.parametrize(
    ("text_", "share"), [("90", 0.9), (90, 0.9), ("90 %", 0.9), ("0.9", 0.9), (0.95, 0.95)]
)
def test_confidence_is_read(text_, share):
    assert terms.read(confidence=text_).confidence == pytest.approx(share)


def test_what_is_taken_for_granted_is_said():
    """Hours, date and air changes that nobody gave stand in the plan."""
    read = terms.read(start="2026-11-28", room="30 m3")
    assert len(read.assumed) == 2
    assert "no start" in terms.read(hours="every day, 9 to 17").assumed[0]


def test_another_currency_is_refused(answer):
    with pytest.raises(InputError, match="give energy_price in USD"):
        answer.plan(1, energy_price="0.3 EUR/kWh")


def command(studio, number, *more):
    return RUN.invoke(app, [
        "plan", "copper(II) acetate monohydrate", "--amount", "250 g", "--route", str(number),
        "--shelf", str(studio / "shelf.csv"), "--bench", str(studio / "bench.yaml"),
        "--library", str(studio / "reactions"), *more,
    ])  # fmt: skip


def test_the_command(studio, answer):
    """The sheet, one figure, and the same as data."""
    n = route(answer, R1).number
    done = command(studio, n, "--start", "2026-11-28", "--hours", "Saturday and Sunday, 9 to 17")
    assert done.exit_code == 0, done.output
    assert "401.7 g" in done.stdout
    assert "local rules" in done.stdout
    done = command(studio, n, "--explain", "mass:1")
    assert "401.727 g" in done.stdout
    assert "WHAT IS LEFT OVER" not in done.stdout
    data = json.loads(command(studio, n, "--json", "--explain", "cost").stdout)
    assert list(data) == ["disclaimer", "reasons"]
    data = json.loads(command(studio, n, "--json").stdout)
    assert data["steps"][0]["theoretical_g"] == pytest.approx(174.3, rel=0.01)


def test_the_command_without_a_route(studio):
    """Impossible limits: the reasons, and exit code 1; a number beyond: one sentence."""
    n = 1
    assert command(studio, n, "--max-steps", "1").exit_code == 1
    done = command(studio, 40, "--top", "1", "--max-steps", "2")
    assert isinstance(done.exception, InputError)
    assert "there is no route 40" in str(done.exception)


def test_what_lies_there_is_told_beside_what_is_counted(shipped):
    """A soap that keeps its glycerol is counted pure, and the page says what lies there: by the
    course of its vessel, under "gives" and at the checkpoint alike."""
    from routefinder.worksheet.bench_work import bench_work

    found = rf.find("castile soap", "500 g", library=shipped, top=8)
    number = next(
        r.number for r in found.routes if r.assessment.ids[-1] == "make-castile-soap-cold"
    )
    plan = found.plan(number)
    work = bench_work(plan)[-1]
    made = work.plan.amount.course.product
    lies = float(made.in_phases("s", "l", "aq"))
    dry = lies - float(made.grams("water", "l"))
    assert work.checkpoint.lies_g == pytest.approx(dry / work.plan.count, rel=1e-9)
    assert dry > 1.02 * work.checkpoint.expected_g
    words = printed(plan)
    assert f"as it lies there {text.digits.mass(lies)}" in words
    assert "that is the product by itself: with what goes along" in words
