"""The journal from the bench's side: logging, learning, re-planning, today, the shelf, the report."""

from __future__ import annotations

import json
import shutil
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder
from routefinder.assessment.distribution import Distribution
from routefinder.errors import InputError, JournalFault
from routefinder.journal import learn, report, shelf_books, student
from routefinder.journal import replan as replans
from routefinder.journal.account import verdict
from routefinder.journal.book import open_book, plan_data
from routefinder.journal.learn import Result
from routefinder.journal.results import results
from routefinder.journal.store import Store, moment
from routefinder.journal.today import today
from routefinder.library.cache import load_cached
from routefinder.library.shelf import read_bench, read_shelf
from routefinder.view import run_report

FIRST = "precipitate-basic-copper-carbonate"


@pytest.fixture
def bench_place(tmp_path, studio):
    """A shelf, a bench and a journal of one's own."""
    shutil.copy(studio / "shelf.csv", tmp_path / "shelf.csv")
    shutil.copy(studio / "bench.yaml", tmp_path / "bench.yaml")
    return tmp_path


@pytest.fixture
def run1(bench_place, demo, demo_routes, studio):
    """A run of the demo's route through basic carbonate, planned."""
    with Store(bench_place / "j.sqlite") as store:
        found = demo_routes[FIRST].assessment
        data = plan_data(
            demo.library, found, "vitriol", shelf=str(bench_place / "shelf.csv"),
            bench=str(bench_place / "bench.yaml"), libraries=(str(studio / "reactions"),),
        )  # fmt: skip
        store.start(data)
        yield store


def put_in(store, grams, name="blue vitriol root killer", step=FIRST):
    feeds = next(s for s in store.run(1).data["steps"] if s["id"] == step)["feeds"]
    feed = next(f for f in feeds if f.get("name") == name)
    data = {"name": name, "form": feed["form"], "role": feed["role"], "grams": grams,
            "reads_g": 0.1, "purity": feed["purity"], "low": feed["low"], "high": feed["high"],
            "material": feed["material"]}  # fmt: skip
    return store.add(1, "in", step, data)


def put_out(store, grams, step=FIRST, **more):
    return store.add(1, "out", step, {"grams": grams, "reads_g": 0.1, **more})


# --- book


def test_weights_of_a_run(run1, demo):
    """Latest weight counts, crops add up, a wet weight gives way to a dry one, failed is undone."""
    put_in(run1, 401.7)
    put_out(run1, 330.0, wet=True)
    step = open_book(run1, 1).steps[0]
    assert step.wet
    assert not step.done
    run1.add(1, "failed", FIRST, {"words": "spilt"})
    assert open_book(run1, 1).steps[0].failed == "spilt"
    put_out(run1, 100.0)
    put_out(run1, 51.0, more=True)
    book = open_book(run1, 1)
    assert book.steps[0].out_g == pytest.approx(151)
    assert book.steps[0].failed is None
    found, whence = verdict(demo.library, book, book.steps[0])
    assert whence == "weighed"
    assert found.extent == pytest.approx(0.866, abs=1e-3)
    with pytest.raises(InputError, match="has no step '9'"):
        book.step("9")


# --- re-plan


def test_replan_after_a_poor_step(run1, demo, bench_place):
    """151 g instead of 165.6 g: 228 g of 250 g on the expected path; +9.7 % of the start makes it up.

    Own hand calculation: 250 x 151 / 165.6 = 228; (165.6 - 151) / 151 = 9.67 %.
    """
    put_in(run1, 401.7)
    put_out(run1, 151.0)
    book = open_book(run1, 1)
    shelf = read_shelf(bench_place / "shelf.csv", demo.library)
    bench = read_bench(bench_place / "bench.yaml", demo.library)
    routes = [(r.name, r.assessment) for r in demo.routes]
    found = replans.replan(demo.library, book, shelf, bench, lambda q: routes)
    assert found.expected_g == pytest.approx(228, abs=0.5)
    assert found.chance < 0.01
    by = {o.kind: o for o in found.options}
    assert "38.9 g blue vitriol root killer" in by["repeat"].sentence
    assert "+9.7 %" in by["repeat"].sentence
    assert by["repeat"].chance > found.chance
    assert found.output_g.p10 < found.expected_g
    assert "settle for" in by["smaller target"].sentence
    assert "another route" in by
    assert "buy" in by
    # what lies behind is certain: the spread is that of the two steps still to come
    rest = replans.rest_of(demo.library, book, replans.made_supplies(demo.library, book))
    assert [s.id for s in rest] == [
        s.id for s in book.steps[1:] for s in [demo.library.steps[s.id]]
    ]
    left = replans.left_on_shelf(book, shelf.supplies)
    vitriol = next(s for s in left if s.id == "copper-sulfate-root-killer" or "vitriol" in s.name)
    assert vitriol.amount_g == pytest.approx(1000 - 401.7)
    broken = replans.replan(demo.library, book, shelf, bench, lambda q: [], ["hotplate"])
    assert any("98" in words for words in broken.missing)
    assert not any(o.kind == "carry on" for o in broken.options)
    with pytest.raises(InputError, match="nothing on the bench is called so"):
        replans.replan(demo.library, book, shelf, bench, lambda q: [], ["cyclotron"])
    assert open_book(run1, 1).run.data["target_g"] == 250  # the plan stays


def test_replan_by_hand_of_nothing_made(run1, demo, bench_place):
    """Before anything is made the forecast is the plan's, not all that the shelf would give."""
    shelf = read_shelf(bench_place / "shelf.csv", demo.library)
    found = replans.replan(demo.library, open_book(run1, 1), shelf, None, lambda q: [])
    assert found.expected_g == pytest.approx(250)
    assert found.chance < 0.5  # at typical yields, as the plan says


# --- learning

PRIORS = st.lists(st.floats(0.05, 0.97), min_size=3, max_size=3).map(sorted).map(
    lambda v: Distribution(*v)
)  # fmt: skip


def outcomes(*values):
    return [Result(i, "s", y, 0.0) for i, y in enumerate(values)]


@given(PRIORS, st.floats(0.001, 0.999))
def test_score_and_yield_are_inverse(prior, y):
    """z(y) and y(z) undo each other."""
    assert learn.yield_at(prior, learn.score(prior, y)) == pytest.approx(y, abs=1e-6)


@given(PRIORS)
def test_without_results_nothing_changes(prior):
    """No own run: the library's value."""
    assert learn.update(prior, []) is prior


@given(PRIORS, st.lists(st.floats(0.02, 0.98), min_size=1, max_size=6))
def test_update_keeps_order_and_bounds(prior, values):
    """Low, typical and high stay in order inside (0, 1], and the median lies between both sources."""
    after = learn.update(prior, outcomes(*values))
    assert 0 < after.low <= after.typical <= after.high <= 1
    assert min(*values, prior.typical) - 1e-9 <= after.typical <= max(*values, prior.typical) + 1e-9


def test_update_against_monte_carlo():
    """The predictive percentiles against draws of (mu, sigma) weighted by the likelihood."""
    prior = Distribution(0.80, 0.90, 0.95)
    values = (0.84, 0.80, 0.86, 0.83)
    after = learn.update(prior, outcomes(*values))
    worth = learn.PRIOR_RUNS
    rng = np.random.default_rng(5)
    n = 2_000_000
    scale0 = (learn.Z90 / student.quantile(0.9, worth)) ** 2 / (1 + 1 / worth)
    variance = worth * scale0 / rng.chisquare(worth, n)
    mu = rng.standard_normal(n) * np.sqrt(variance / worth)
    z = np.array([learn.score(prior, y) for y in values])
    log = -0.5 * ((z[:, None] - mu) ** 2 / variance + np.log(variance)).sum(axis=0)
    weight = np.exp(log - log.max())
    drawn = mu + np.sqrt(variance) * rng.standard_normal(n)
    order = np.argsort(drawn)
    total = np.cumsum(weight[order]) / weight.sum()
    for p, got in zip((0.1, 0.5, 0.9), (after.low, after.typical, after.high), strict=True):
        expected = learn.yield_at(prior, float(drawn[order][np.searchsorted(total, p)]))
        assert got == pytest.approx(expected, abs=0.004)


def test_prior_predictive_is_the_library():
    """The same draws without results give back the library's 10th and 90th percentile."""
    worth = learn.PRIOR_RUNS
    rng = np.random.default_rng(6)
    scale0 = (learn.Z90 / student.quantile(0.9, worth)) ** 2 / (1 + 1 / worth)
    variance = worth * scale0 / rng.chisquare(worth, 1_000_000)
    mu = rng.standard_normal(len(variance)) * np.sqrt(variance / worth)
    drawn = mu + np.sqrt(variance) * rng.standard_normal(len(variance))
    assert np.quantile(drawn, 0.9) == pytest.approx(learn.Z90, abs=0.01)


def test_many_runs_overrule_the_library():
    """Sixty runs at 70 % leave little of the library's 95 %."""
    values = [0.70 + 0.01 * (i % 5 - 2) for i in range(60)]
    after = learn.update(Distribution(0.90, 0.95, 0.98), outcomes(*values))
    assert after.typical == pytest.approx(0.70, abs=0.03)
    assert 0.55 < after.low < 0.69  # the quarrel with the library widens it
    more = learn.update(Distribution(0.90, 0.95, 0.98), outcomes(*values * 10))
    assert more.high - more.low < (after.high - after.low) / 2


def test_an_uncertain_weight_counts_less():
    """A result with a wide error moves the yield less."""
    prior = Distribution(0.80, 0.90, 0.95)
    sharp = learn.update(prior, [Result(1, "s", 0.7, 0.001)])
    vague = learn.update(prior, [Result(1, "s", 0.7, 0.2)])
    assert sharp.typical < vague.typical < prior.typical


def test_failures_and_outliers(demo):
    """A failure is a chance of its own; an outlier is shown and counts."""
    rows = [Result(i, FIRST, y) for i, y in enumerate((0.95, 0.94, 0.96, 0.95, 0.30))]
    rows += [Result(9, FIRST, None, failed=True, why="dropped")]
    rows += [Result(10, FIRST, None, why="only weighed wet")]
    one = learn.learn(demo.library, rows)[FIRST]
    assert one.failures == 1
    assert one.failure == pytest.approx(1 / (learn.PRIOR_RUNS + 6))
    assert [r.yield_ for r in one.outliers] == [0.30]
    assert len(one.results) == 5
    assert one.without > one.after.typical
    assert [r.why for r in one.left_out] == ["only weighed wet"]


def test_what_cannot_be_a_yield_is_left_out(run1, demo):
    """Above the ceiling, wet, or a start nobody weighed: shown, not learned."""
    put_out(run1, 160.0)
    assert "nobody weighed" in results(run1, demo.library)[0].why
    put_in(run1, 401.7)
    put_out(run1, 330.0, wet=True)
    assert results(run1, demo.library)[0].why == "only weighed wet"
    put_out(run1, 200.0)
    assert "above the ceiling" in results(run1, demo.library)[0].why
    put_out(run1, 160.0)
    good = results(run1, demo.library)[0]
    assert good.yield_ == pytest.approx(160 / 174.3, abs=1e-3)
    run1.add(1, "failed", FIRST, {"words": "dropped"})
    assert results(run1, demo.library)[0].failed


def test_calibration():
    """Results drawn from the estimate: 80 % inside, even over 0 to 1; too sure estimates show."""
    rng = np.random.default_rng(2)
    prior = Distribution(0.80, 0.90, 0.95)
    drawn = prior.draw(rng, 4000)
    rows = [Result(i, "s", float(y), low=0.80, median=0.90, high=0.95) for i, y in enumerate(drawn)]
    held = learn.calibration(rows)
    assert held.share == pytest.approx(0.8, abs=0.02)
    assert all(abs(n - 800) < 110 for n in held.bins())
    sure = [Result(i, "s", float(y), low=0.89, median=0.90, high=0.91) for i, y in enumerate(drawn)]
    assert learn.calibration(sure).share < 0.5
    assert learn.calibration([]).share is None


def test_own_yields_in_find(run1, demo, studio, bench_place):
    """find with the journal uses the sharpened yield, says so, and leaves the library alone."""
    put_in(run1, 401.7)
    put_out(run1, 140.0)
    before = demo.library.steps[FIRST].record.yield_.typical
    asked = dict(shelf=studio / "shelf.csv", bench=studio / "bench.yaml",
                 libraries=[studio / "reactions"])  # fmt: skip
    found = routefinder.find("copper(II) acetate monohydrate", "250 g", **asked, journal=run1.path)
    note = next(n for n in found.notes if "of yours" in n)
    assert "instead of 9" in note
    step = found.library.steps[FIRST]
    assert step.record.yield_.typical < before
    assert load_cached([studio / "reactions"]).steps[FIRST].record.yield_.typical == before
    plain = routefinder.find("copper(II) acetate monohydrate", "250 g", **asked)
    assert not any("of yours" in n for n in plain.notes)
    with pytest.raises(JournalFault):
        routefinder.find("copper(II) acetate monohydrate", "250 g", **asked,
                         journal=bench_place / "none")  # fmt: skip


# --- today


def test_today(run1, demo):
    """What can begin, what is waiting, what lies; a finished run asks for nothing."""
    put_in(run1, 401.7)
    at = moment(run1.entries(1)[-1].at)
    found = today(demo.library, [open_book(run1, 1)], at + timedelta(hours=1))
    assert found.due[0].when == at + timedelta(hours=16)  # 2 h work, 14 h waiting
    put_out(run1, 160.0)
    made = moment(run1.entries(1)[-1].at)
    found = today(demo.library, [open_book(run1, 1)], made + timedelta(days=1))
    assert [d.step for d in found.due] == [2]
    assert [x.verdict for x in found.lying] == ["rests"]  # dry carbonate keeps years
    late = today(demo.library, [open_book(run1, 1)], made + timedelta(days=3000))
    assert late.lying[0].verdict == "spoilt"
    run1.add(1, "end", "dissolve-basic-copper-carbonate-in-acetic-acid")
    found = today(demo.library, [open_book(run1, 1)], made + timedelta(days=1))
    assert [(x.step, x.verdict) for x in found.lying] == [(2, "unknown")]
    run1.add(1, "finished")
    found = today(demo.library, [open_book(run1, 1)], made)
    assert found.due == ()
    assert found.lying == ()


# --- shelf books


def test_taking_from_the_shelf(bench_place, demo):
    """Only the amount changes, the old file stays, the new one reads back."""
    path = bench_place / "shelf.csv"
    before = path.read_text()
    shelf = read_shelf(path, demo.library)
    vinegar = next(s for s in shelf.supplies if "vinegar" in s.name)
    change = shelf_books.taking(path, demo.library, vinegar.id, 1000.0)
    assert path.read_text() == before
    backup = shelf_books.carry_out(change, demo.library)
    assert backup.read_text() == before
    after = read_shelf(path, demo.library)
    left = next(s for s in after.supplies if s.id == vinegar.id).amount_g
    assert left == pytest.approx(vinegar.amount_g - 1000, abs=0.01)
    changed = [
        a for a, b in zip(before.splitlines(), path.read_text().splitlines(), strict=True) if a != b
    ]
    assert len(changed) == 1
    short = shelf_books.taking(path, demo.library, vinegar.id, 1e6)
    assert "short by" in short.words
    with pytest.raises(InputError, match="not on this shelf"):
        shelf_books.taking(path, demo.library, "nonsense", 1.0)


def test_adding_to_the_shelf(bench_place, demo):
    """What was made is a line of its own, then more of it; find can start from it."""
    path = bench_place / "shelf.csv"
    made = demo.library.steps[FIRST].main.substance
    for total in (151.0, 302.0):
        shelf_books.carry_out(
            shelf_books.adding(path, demo.library, made, 151.0, "run 1"), demo.library
        )
        own = next(s for s in read_shelf(path, demo.library).supplies if s.main == made)
        assert own.amount_g == pytest.approx(total)
    assert len(list(bench_place.glob("shelf.csv.*.bak"))) == 1  # one copy a day


def test_shelf_guards(bench_place, demo):
    """Changed meanwhile, no CSV, no amount: nothing is written."""
    path = bench_place / "shelf.csv"
    shelf = read_shelf(path, demo.library)
    change = shelf_books.taking(path, demo.library, shelf.supplies[0].id, 1.0)
    path.write_text(path.read_text() + "\n")
    with pytest.raises(InputError, match="changed by somebody else"):
        shelf_books.carry_out(change, demo.library)
    assert list(bench_place.glob("*.bak")) == []
    with pytest.raises(InputError, match="only a CSV"):
        shelf_books.taking(bench_place / "bench.yaml", demo.library, "x", 1.0)
    path.write_text("material,amount\nwhiting,\n")
    whiting = read_shelf(path, demo.library).supplies[0].id
    with pytest.raises(InputError, match="has no amount"):
        shelf_books.taking(path, demo.library, whiting, 1.0)


def test_every_other_byte_of_the_shelf_stays(tmp_path, demo):
    """Quotes, spaces, line ends, remarks and digits: only the figure of the amount changes."""
    path = tmp_path / "shelf.csv"
    text = (
        '# mine, "as it is"\r\n'
        'material , amount,"note" ,price\r\n'
        '  whiting ,  "1234567.89 g" , "chalk, ""fine""" , \r\n'
        "\r\n"
        "soda ash,500.00 g ,  spare  ,\r\n"
    )
    path.write_bytes(text.encode())
    shelf = read_shelf(path, demo.library)
    ids = [s.id for s in shelf.supplies]
    one = shelf_books.taking(path, demo.library, ids[0], 1.0).new
    assert one == text.replace("1234567.89 g", "1234566.89 g")
    two = shelf_books.taking(path, demo.library, ids[1], 100.0).new
    assert two == text.replace("500.00 g", "400.00 g")
    path.chmod(0o444)
    change = shelf_books.taking(path, demo.library, ids[1], 100.0)
    with pytest.raises(InputError, match="write-protected"):
        shelf_books.carry_out(change, demo.library)
    assert path.read_bytes() == text.encode()
    assert path.stat().st_mode & 0o777 == 0o444


# --- report


def test_report(run1, demo, tmp_path):
    """Planned against actual, overall yield by hand; what a note says cannot become markup."""
    put_in(run1, 401.7)
    put_in(run1, 185.7, "soda ash")
    put_out(run1, 151.0)
    run1.add(1, "note", FIRST, {"words": "<script>alert(1)</script> | *blue*"})
    run1.add(1, "photo", FIRST, {"path": str(tmp_path / 'gone".png')})
    last = open_book(run1, 1).steps[-1].id
    put_out(run1, 225.0, last)
    book = open_book(run1, 1)
    rows = {n: (p, a) for n, p, a in report.overall_actual(book)}
    # 225 g / 199.65 g/mol over 401.7 g x 0.98 / 249.68 g/mol = 0.7148 (by hand)
    assert rows["blue vitriol root killer"][1] == pytest.approx(0.7148, abs=5e-4)
    assert rows["blue vitriol root killer"][0] == pytest.approx(0.794, abs=1e-3)
    found = report.report(demo.library, book, ["an entry"])
    html, text = run_report.to_html(found), run_report.to_markdown(found)
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert" in html
    assert "is not there any more" in html
    assert "\\<script\\>" in text
    for page in (html, text):
        assert "166 g" in page
        assert "151 g" in page
        assert "71 %" in page


# --- the commands


@pytest.fixture
def bench(monkeypatch, call, bench_place):
    """Run a command of the journal and see its exit code; returns what was said."""

    def run(*words, code=0):
        monkeypatch.setenv("ROUTEFINDER_JOURNAL", str(bench_place / "own.sqlite"))
        got, out, err = call(*words)
        assert got == code, (out, err)
        return out + err

    return run


def number_of(shelf, bench_file, studio):
    """The number under which a shelf and a bench are offered the route that begins with ``FIRST``."""
    found = routefinder.find(
        "copper(II) acetate monohydrate", "250 g", shelf=shelf, bench=bench_file,
        libraries=[studio / "reactions"],
    )  # fmt: skip
    return next(i for i, r in enumerate(found.routes, start=1) if r.assessment.ids[0] == FIRST)


def test_a_day_at_the_bench(bench, bench_place, studio):
    """Start, weigh, correct, end, look, write up, export: each says what it understood."""
    number = number_of(bench_place / "shelf.csv", bench_place / "bench.yaml", studio)
    said = bench("log", "start", "copper(II) acetate monohydrate", "--amount", "250 g", "--shelf",
                 bench_place / "shelf.csv", "--bench", bench_place / "bench.yaml", "--library",
                 studio / "reactions", "--route", number)  # fmt: skip
    assert f"run 1: 250 g copper(II) acetate monohydrate by route {number} (3 steps)" in said
    said = bench("log", "weigh", "1", "--in", "401.7 g", "--of", "root killer")
    assert "run 1, step 1, in 401.7 g blue vitriol root killer" in said
    assert "shelf left as it is" in said  # nobody to ask: nothing is written
    said = bench("log", "weigh", "1", "--in", "185.7g", "--of", "soda ash", "--yes")
    assert "leaves 1.8143 kg" in said
    said = bench("log", "weigh", "1", "--out", "15.1 g")
    entry = said.split("[entry ")[1].split("]")[0]
    said = bench("log", "correct", entry, "--out", "151.0 g")
    assert "out 151 g (was: out 15.1 g)" in said
    assert "87 % of theory" in bench("log", "show", "1")
    assert "87 %" in bench("log", "yields")
    assert json.loads(bench("log", "yields", "--json"))["calibration"]["inside_80"] == 0
    assert "228 g instead of 250 g" in bench("log", "replan")
    assert "can begin" in bench("log", "today")
    bench("log", "begin", "2")
    bench("log", "temp", "2", "65 degC")
    bench("log", "note", "blue", "all", "through", "--step", "2")
    bench("log", "end", "2")
    bench("log", "weigh", "3", "--out", "225 g")
    assert "put on the shelf" in bench("log", "keep", "3", "--yes")
    bench("log", "finish")
    assert "finished" in bench("log", "show")
    page = bench_place / "report.html"
    bench("log", "report", "1", "--to", page)
    assert "blue all through" in page.read_text()
    assert "65 °C" in bench("log", "report", "1")
    bench("log", "export", bench_place / "x.csv")
    assert "already here: 1" in bench("log", "import", bench_place / "x.csv")
    assert json.loads(bench("log", "show", "--json"))["schema"] == "routefinder/journal/1"


def test_nonsense_at_the_bench(bench, bench_place, studio):
    """One sentence and exit code 2, and nothing is entered."""
    assert "no journal here" in bench("log", "show", code=2)
    bench("log", "start", "copper(II) acetate monohydrate", "--shelf", studio / "shelf.csv",
          "--library", studio / "reactions")  # fmt: skip
    tomorrow = (datetime.now() + timedelta(days=1)).isoformat(timespec="minutes")
    for words in (
        ("weigh", "1"), ("weigh", "9", "--in", "1 g"), ("weigh", "1", "--in", "much"),
        ("weigh", "1", "--in", "5 g", "--of", "sand"), ("weigh", "1", "--in", "1 g", "--run", "7"),
        ("weigh", "1", "--in", "1 g", "--at", "25:99"), ("note", ""), ("correct", "99", "--void"),
        ("weigh", "1", "--in", "1 g", "--at", tomorrow), ("photo", bench_place / "none.png"),
        ("temp", "1", "hot"), ("export", bench_place / "x.txt"), ("import", bench_place / "no.json"),
        ("report", "9"), ("report", "1", "--to", bench_place / "x.doc"), ("keep", "1"),
        ("weigh", "1", "--in", "5 g", "--strength", "300 %"), ("replan", "--without", "hotplate"),
    ):  # fmt: skip
        said = bench("log", *words, code=2)
        assert said.startswith("routefinder: "), words
    with Store(bench_place / "own.sqlite") as store:
        assert store.entries() == []


def test_going_on_by_another_route(bench, bench_place, studio):
    """--take ends the run and begins one from what is there; what was made is taken, not bought.

    On a shelf without copper wire or whiting, where no way from the start comes before it.
    """
    shelf, kiln = bench_place / "shelf.csv", studio / "bench-with-kiln.yaml"
    rows = shelf.read_text().splitlines()
    shelf.write_text("\n".join(r for r in rows if not r.startswith(("copper scrap", "whiting"))))
    bench("log", "start", "copper(II) acetate monohydrate", "--amount", "250 g", "--shelf", shelf,
          "--bench", kiln, "--library", studio / "reactions", "--route",
          number_of(shelf, kiln, studio))  # fmt: skip
    bench("log", "weigh", "1", "--in", "401.7 g", "--of", "root killer")
    bench("log", "weigh", "1", "--out", "151.0 g")
    assert "goes on in the same run" in bench("log", "replan", "--take", "1", code=2)
    assert "there are" in bench("log", "replan", "--take", "99", code=2)
    options = json.loads(bench("log", "replan", "--json"))["options"]
    ways = [(i, o) for i, o in enumerate(options, start=1) if o["kind"] == "another route"]
    number, way = next((i, o) for i, o in ways if "made in step 1" in o["sentence"])
    said = bench("log", "replan", "--take", number)
    assert "run 2, from what run 1 made" in said
    assert f"step {len(way['steps'])}: " in said
    assert "goes on as run 2" in bench("log", "show", "1")
    assert "goes on from what run 1 made" in bench("log", "show", "2")
    said = bench("log", "weigh", "1", "--in", "150 g")  # of what was made: nothing else goes in
    assert "run 2, step 1, in 150.0 g basic copper carbonate made in step 1" in said
    assert "shelf" not in said
