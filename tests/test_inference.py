"""One inference from weights and tests: calibration, laws, and what the bench is told."""

from __future__ import annotations

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from routefinder.analysis.inference import (
    Priors,
    Weighed,
    infer,
    intervals,
    prior_yield,
    simulate,
)
from routefinder.analysis.model import Unknowns, vessel_of
from routefinder.analysis.reading import read_test
from routefinder.assessment.distribution import Distribution
from routefinder.cli.main import app
from routefinder.errors import InputError
from routefinder.journal import decide, learn, senses, trial, weight

LIME = "burn-whiting-to-quicklime"
LYE = "causticise-soda-with-slaked-lime"
COPPER = "precipitate-basic-copper-carbonate"
BLUE = "fire-egyptian-blue-from-copper-carbonate"
CHECKED = ("product_g", "share", "yield")


def found(library, step, grams, readings, **priors):
    record = library.step(step)
    vessel = vessel_of(library, record, grams=grams)
    return infer(vessel, Priors(prior_yield(record), **priors), readings)


def covered(library, step, grams, readings, count, draws, seed=11):
    """(share of simulated truth inside the 80 % interval, mean width) by figure."""
    record = library.step(step)
    vessel = vessel_of(library, record, grams=grams)
    priors = Priors(prior_yield(record))
    seen, truth = simulate(vessel, priors, readings, count, seed)
    inside = dict.fromkeys(CHECKED, 0)
    width = dict.fromkeys(CHECKED, 0.0)
    for i in range(0, count, 250):
        part = intervals(vessel, priors, readings, seen[i : i + 250], draws)
        for name in CHECKED:
            low, high = part[name]
            true = truth[name][i : i + 250]
            inside[name] += int(((true >= low - 1e-9) & (true <= high + 1e-9)).sum())
            width[name] += float((high - low).sum())
    return {k: v / count for k, v in inside.items()}, {k: v / count for k, v in width.items()}


def test_calibration_on_two_thousand_vessels(shipped):
    """Truth drawn from the prior lies in the 80 % interval 80 % of the time.

    2,000 lyes, each titrated once; four standard deviations of the count are 3.6 %.
    """
    titrated = read_test("alkali, 10.00 g, 30.0 mL, 0.500 mol/L")
    inside, _ = covered(shipped, LYE, 105.99, [titrated], 2000, 250)
    for name in CHECKED:
        assert inside[name] == pytest.approx(0.8, abs=0.036), (name, inside)


def test_more_readings_narrow_on_average(shipped):
    """A second end point, read of the same 250 lyes, never widens the interval on average."""
    last = read_test("alkali, 10.00 g, 30.0 mL, 0.500 mol/L")
    first = read_test("alkali, 10.00 g, 29.0 mL, 0.500 mol/L, first end point")
    one, wide = covered(shipped, LYE, 105.99, [last], 250, 300)
    both, narrow = covered(shipped, LYE, 105.99, [last, first], 250, 300)
    for name in CHECKED:
        assert narrow[name] < wide[name]
        assert both[name] > 0.7
        assert one[name] > 0.7
    assert narrow["share"] < 0.5 * wide["share"]


def test_two_tests_fix_two_unknowns(shipped):
    """An impure start and an unfinished burn weigh the same; the gas of a sample parts them."""
    weighed = Weighed(214.0, 0.03)
    alone = found(shipped, LIME, 320.0, [weighed])
    assert alone.says == "cannot tell"
    assert {o.what for o in alone.explanations if o.share > 0.2} == {"unfinished", "impure start"}
    chalk = found(shipped, LIME, 320.0, [weighed, read_test("acid gas, 0.500 g, 40 mL")])
    assert chalk.says == "go on"
    assert chalk.share_of("unfinished") > 0.95
    # by hand: 40 mL of gas are 1.663 mmol in 0.5 g, 33.3 % chalk: 71.2 of 320 g, 77.7 % burnt
    assert chalk.figures["conversion"].middle == pytest.approx(0.77, abs=0.02)
    sand = found(shipped, LIME, 320.0, [weighed, read_test("acid gas, 0.500 g, 4 mL")])
    assert sand.share_of("impure start") > 0.7
    assert sand.figures["true"].middle < 0.85
    spread = {k: alone.figures[k].high - alone.figures[k].low for k in ("conversion", "true")}
    for name, width in spread.items():
        assert chalk.figures[name].high - chalk.figures[name].low < 0.5 * width


def test_a_weight_that_sees_nothing(shipped):
    """A fired blue before its wash weighs the same reacted or not; cold acid decides."""
    record = shipped.step(BLUE)
    vessel = vessel_of(shipped, record, grams=100.0)
    ends = [float(vessel.streams(Unknowns(x, 0.99))["vessel"].mass_g) for x in (0.0, 0.5, 1.0)]
    assert max(ends) - min(ends) < 1e-6 * ends[0]
    priors = Priors(prior_yield(record))
    by_weight = infer(vessel, priors, [Weighed(ends[0], 0.1, "vessel")])
    assert by_weight.says == "cannot tell"
    acid = infer(
        vessel, priors,
        [Weighed(ends[0], 0.1, "vessel"),
         read_test("alkali, 1.00 g, 6.0 mL, 0.500 mol/L, on vessel")],
    )  # fmt: skip
    assert acid.says == "go on"
    assert acid.figures["conversion"].high < 0.75


def test_contradicting_readings_are_told(shipped):
    """A weight of pure lime and a sample full of chalk cannot both be."""
    step = shipped.step(LIME)
    charge = weight.charge(shipped, step, weight.read_mass("320.0 g"))
    tests = [read_test("acid gas, 0.500 g, 90 mL"), read_test("ignition, 5.00 g, 4.95 g")]
    out = weight.read_mass("179.5 g")
    told = senses.sense(shipped, step, charge, tests, out)
    assert told.odd == "acid gas, 0.500 g, 90 mL"
    agree = senses.sense(shipped, step, charge, [tests[1]], out)
    assert agree.odd == ""
    assert agree.says == "done"


@pytest.mark.parametrize("factor", [0.01, 1.0, 100.0])
def test_scaling(shipped, factor):
    """A hundred times as much of everything means the same; grams scale."""
    base = found(shipped, LIME, 320.0, [Weighed(190.0, 0.1)])
    other = found(shipped, LIME, 320.0 * factor, [Weighed(190.0 * factor, 0.1 * factor)])
    for name in ("conversion", "share", "yield"):
        assert other.figures[name].middle == pytest.approx(base.figures[name].middle, rel=1e-9)
    assert other.figures["product_g"].middle == pytest.approx(
        factor * base.figures["product_g"].middle, rel=1e-9
    )


def test_units_and_order_make_no_difference(shipped):
    """Milligrams and litres, and readings the other way round."""
    one = read_test("alkali, 10.00 g, 35.6 mL, 0.500 mol/L")
    same = read_test("alkali, 10000 mg, 0.0356 L, 500 mmol/L")
    assert (one.reading, one.sample_g, one.molar) == pytest.approx(
        (same.reading, same.sample_g, same.molar)
    )
    first = read_test("alkali, 10.00 g, 33.8 mL, 0.500 mol/L, first end point")
    a = found(shipped, LYE, 106.0, [one, first])
    b = found(shipped, LYE, 106.0, [first, one])
    assert a.figures["share"].middle == pytest.approx(b.figures["share"].middle, rel=1e-6)


def test_without_readings_it_is_what_was_thought(shipped):
    """Nothing read: the prior, whose 80 % interval holds the record's own yield."""
    record = shipped.step(LYE)
    vessel = vessel_of(shipped, record, grams=106.0)
    thought = infer(vessel, Priors(prior_yield(record)), [])
    drawn, truth = simulate(vessel, Priors(prior_yield(record)), [], 4000, 3)
    assert drawn.shape == (4000, 0)
    low, high = np.quantile(truth["yield"], (0.1, 0.9))
    assert thought.figures["yield"].low == pytest.approx(low, abs=0.02)
    assert thought.figures["yield"].high == pytest.approx(high, abs=0.02)


@pytest.mark.parametrize("x", [0.3, 0.6, 0.9, 1.0])
def test_agrees_with_the_weight_alone(shipped, x):
    """Where one weight decides, the inference's conversion is the verdict's, and not another."""
    step = shipped.step("calcine-goethite-to-red-oxide")
    grams = 100 * (1 - 0.10138 * x)
    charge = weight.charge(shipped, step, weight.read_mass("100.00 g"))
    out = weight.read_mass(f"{grams:.2f} g")
    said = decide.weigh(shipped, step, charge, out)
    meant = senses.sense(shipped, step, charge, [], out)
    unfinished = next(o for o in meant.found.explanations if o.what == "unfinished")
    if x < 0.95:
        assert unfinished.figures["conversion"].middle == pytest.approx(said.extent, abs=0.06)
    else:
        assert meant.says == said.says == "done"


def test_what_to_measure_next_is_what_tells(shipped):
    """After all alkali is known the first end point tells most for its work; the rest is named."""
    step = shipped.step(LYE)
    charge = weight.charge(shipped, step, weight.read_mass("106.0 g"), "Na2CO3")
    one = senses.sense(shipped, step, charge, [read_test("alkali, 10.0 g, 35.6 mL, 0.500 mol/L")])
    assert one.says == "cannot tell"
    assert one.worth[0].test.method.name == "alkali"
    assert one.worth[0].test.first
    assert one.worth[0].cut > 0.5
    with pytest.raises(InputError, match="no 'moon'"):
        senses.sense(shipped, step, charge, [read_test("acid gas, 1 g, 3 mL, on moon")])
    with pytest.raises(InputError, match="nothing was read"):
        senses.sense(shipped, step, charge, [])


def run(*words):
    return CliRunner().invoke(app, list(words))


def test_command_weigh_with_tests(shipped):
    """Titrate a lye twice and see what to dose by; JSON; a kiln cake before its wash."""
    words = (
        "weigh",
        LYE,
        "--in",
        "106.0 g",
        "--of",
        "Na2CO3",
        "--test",
        "titration, 10.00 g, 35.6 mL, 0.500 mol/L, first",
    )
    out = run(*words)
    assert out.exit_code == 0, out.output
    assert "Dose by" in out.stdout
    data = json.loads(run(*words, "--json").stdout)
    assert data["dose_by"]["share"]["low"] < data["dose_by"]["share"]["high"]
    assert data["disclaimer"]
    cake = vessel_of(shipped, shipped.step(BLUE), grams=100.0).streams(Unknowns(0.9, 0.99))
    weight_g = f"{float(cake['vessel'].mass_g):.1f} g"
    out = run("weigh", BLUE, "--in", "100.0 g", "--out", weight_g, "--before-wash")
    assert "CANNOT TELL" in out.stdout
    out = run(
        "weigh", LYE, "--in", "106.0 g", "--of", "Na2CO3", "--out", "1050 g", "--holds", "6.4 %"
    )
    assert "DONE" in out.stdout
    assert isinstance(run("weigh", LYE, "--in", "106.0 g", "--of", "Na2CO3").exception, InputError)


def test_titrate_a_lye_in_the_journal(tmp_path):
    """Weigh in, weigh out, titrate twice: the strength is told, kept, dosed by, and reported."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material,amount\nsoda ash,500 g\nslaked lime,500 g\ntap water,20 L\n")
    journal = ("--journal", str(tmp_path / "j.sqlite"))

    def log(*words):
        out = run("log", *words, *journal)
        assert out.exit_code == 0, (words, out.output, out.exception)
        return out.stdout

    log("start", "sodium hydroxide", "--amount", "50 g", "--shelf", str(shelf))
    log("weigh", "1", "--in", "78.6 g", "--of", "soda ash", "--no-shelf", "--yes")
    log("weigh", "1", "--in", "63.1 g", "--of", "slaked lime", "--no-shelf", "--yes")
    assert "what decides: titration" in log("weigh", "1", "--out", "940 g", "--yes").replace(
        "\n", " "
    )
    one = json.loads(log("test", "1", "titration, 10.00 g, 30.1 mL, 0.500 mol/L", "--json"))
    both = json.loads(
        log("test", "1", "alkali, 10.00 g, 28.6 mL, 0.500 mol/L, first end point", "--json")
    )
    assert (one["says"], both["says"]) == ("cannot tell", "done")
    widths = [d["dose_by"]["share"]["high"] - d["dose_by"]["share"]["low"] for d in (one, both)]
    assert widths[1] < 0.5 * widths[0]
    # by hand: 2 x 28.6 - 30.1 = 27.1 mL of hydroxide, 13.55 mmol in 10 g, 5.42 %
    assert both["dose_by"]["share"]["middle"] == pytest.approx(0.0542, abs=0.001)
    shown = log("show", "1")
    assert "measured: 5.4 %" in shown
    assert "86 % of theory" in shown
    report = tmp_path / "run.html"
    log("report", "1", "--to", str(report))
    assert "<li>alkali, 10.00 g, 28.6 mL" in report.read_text(encoding="utf-8")
    picture = tmp_path / "cal.svg"
    log("yields", "--plot", str(picture))
    svg = picture.read_text(encoding="utf-8")
    assert "fell into the interval that holds 80 %" in svg
    assert "local rules" in svg
    out = run("log", "test", "1", "flame, 1 g", *journal)
    assert isinstance(out.exception, InputError)


# --- learning between like steps, and trials


def test_kin_beat_learning_each_by_itself():
    """On simulated benches a step's next run is foreseen better when like steps share strength."""
    prior = Distribution(0.75, 0.85, 0.92)
    dice = np.random.default_rng(5)
    alone = shared = 0.0
    for _ in range(300):
        kind = dice.normal(0, np.sqrt(1 / 6))
        means = kind + dice.normal(0, np.sqrt(1 / 6), 6)
        seen = [[learn.Result(1, str(j), learn.yield_at(prior, dice.normal(m, 1)))
                 for _ in range(2)] for j, m in enumerate(means)]  # fmt: skip
        own = seen[0]
        like = learn.kin([(prior, rows) for rows in seen[1:]])
        for with_kin in (False, True):
            found = learn.update(prior, own, like=like if with_kin else None)
            miss = (learn.score(prior, found.typical) - means[0]) ** 2
            shared += miss * with_kin
            alone += miss * (not with_kin)
    assert shared < 0.93 * alone


def test_kin_without_siblings_change_nothing():
    """No like step, or like steps without results: the same as by itself, to the last digit."""
    prior = Distribution(0.75, 0.85, 0.92)
    own = [learn.Result(1, "a", 0.8), learn.Result(2, "a", 0.7)]
    alone = learn.update(prior, own)
    assert learn.update(prior, own, like=learn.kin([])) == alone
    assert learn.kin([(prior, [])]).runs == pytest.approx(learn.PRIOR_RUNS)
    good = learn.kin([(prior, [learn.Result(1, "b", 0.95)] * 4)])
    assert good.centre > 0
    assert learn.PRIOR_RUNS < good.runs < 2 * learn.PRIOR_RUNS
    assert learn.update(prior, own, like=good).typical > alone.typical


def test_trials_save_little_or_much_but_never_cost_start(demo_routes, demo):
    """An expected start after a trial is none greater; the demo's trials are priced and timed."""
    found = demo_routes["precipitate-basic-copper-carbonate"].assessment
    rows = trial.trials(demo.library, found.amounts, "USD")
    assert len(rows) >= 2
    for row in rows:
        assert row.after_g <= row.before_g * 1.001
        assert row.in_g > 0
        assert row.minutes > 0
        assert row.money >= 0
    assert rows[0].cut >= rows[-1].cut
    assert rows[0].cut > 0.001
    with pytest.raises(InputError):
        trial.trials(demo.library, found.amounts, "USD", 1.5)
