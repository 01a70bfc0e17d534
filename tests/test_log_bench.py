"""The journal's commands as they are used: volumes, strengths, the shelf file, what is left over."""

from __future__ import annotations

import hashlib
import json

import pytest

from routefinder.journal import shelf_books
from routefinder.journal.book import open_book
from routefinder.journal.store import Store
from routefinder.library.shelf import read_shelf

SHELF = (
    "# mine, as it is\r\n"
    "material,amount,strength,price,note\r\n"
    'whiting,"2.00 kg",98 %,2 USD/kg,"chalk, ""fine"""\r\n'
    "soda ash,1 kg,99 %,3 USD/kg,\r\n"
    "oleic acid,2 L,,9 USD/L,  keep  \r\n"
)


@pytest.fixture
def bench(monkeypatch, call, tmp_path):
    """Run a journal command and see its exit code; returns what was said."""
    (tmp_path / "shelf.csv").write_bytes(SHELF.encode())
    monkeypatch.setenv("ROUTEFINDER_JOURNAL", str(tmp_path / "own.sqlite"))

    def run(*words, code=0):
        got, out, err = call("log", *words)
        assert got == code, (words, out, err)
        return " ".join((out + err).split())

    return run


@pytest.fixture
def soap(bench, tmp_path):
    """A run of soap from whiting, soda and oleic acid."""
    said = bench("start", "castile soap", "--amount", "1 kg", "--shelf", tmp_path / "shelf.csv",
                 "--top", "10", "--route", "2")  # fmt: skip
    assert "step 2: Causticise soda solution" in said
    return bench


def test_from_a_strength_to_the_next_steps_millilitres(soap, tmp_path):
    """Lye of 6.4 %, 1.068 g/mL: 137 g of sodium hydroxide are 2.14 kg or 2.0 L of it (by hand)."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf")
    soap("weigh", "1", "--out", "128.6 g")
    soap("weigh", "2", "--in", "215 g", "--of", "soda ash", "--no-shelf")
    said = soap("strength", "2", "6.4 %", "--density", "1.068 g/mL")
    assert "for step 3: 2.14 kg = 2.00 L of it hold the 137 g sodium hydroxide" in said
    assert "measured how much there is" in soap("keep", "2", "--yes", code=2)
    said = soap("weigh", "2", "--out", "2.10 L")
    assert "out 2.10 L (2243 g)" in said
    assert "2.24 kg of 6.4 % hold 144 g NaOH" in said
    said = soap("weigh", "3", "--in", "1100 mL", "--of", "oleic acid", "--no-shelf")
    assert "in 1100 mL (984" in said
    said = soap("weigh", "3", "--in", "1.90 L", "--of", "step 2")
    assert "in 1.90 L (2029 g) from step 2" in said
    assert "mean" not in soap("show", "1")
    soap("weigh", "3", "--out", "930 g")
    assert "left over: 214 g of 6.4 %" in soap("today")
    assert "Left over: 214 g of 6.4 % sodium hydroxide solution from step 2" in soap("replan")
    assert "sodium hydroxide: 214 g of 6.4 % put on the shelf" in soap("keep", "2", "--yes")
    assert "nothing is left" in soap("keep", "2", "--yes", code=2)
    library = open_library()
    kept = next(s for s in read_shelf(tmp_path / "shelf.csv", library).supplies
                if "sodium hydroxide" in s.name)  # fmt: skip
    assert kept.form == "solution"
    assert kept.fractions[kept.main] == pytest.approx(0.064)
    assert kept.amount_g == pytest.approx(213.6, abs=0.2)


def test_from_a_burette_to_the_next_steps_millilitres(soap):
    """10.00 g of lye take 32.0 mL of 0.500 mol/L acid: 16.0 mmol, 0.640 g, 6.40 % (by hand)."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf")
    soap("weigh", "1", "--out", "128.6 g")
    soap("weigh", "2", "--in", "215 g", "--of", "soda ash", "--no-shelf")
    said = soap("strength", "2", "--read", "alkali, 10.00 g, 32.0 mL, 0.500 mol/L")
    assert "sodium hydroxide: 6.4 %" in said
    assert "g/mL" in said
    assert "for step 3: 2.14 kg = 2.00 L of it hold the 137 g sodium hydroxide" in said
    assert "give a strength" in soap("strength", "2", code=2)
    assert "check it" in soap("strength", "2", "--read", "alkali, 1.00 g, 99 mL, 1.0 mol/L", code=2)


def open_library():
    from routefinder.library.cache import load_cached

    return load_cached([])


def test_what_cannot_be_is_asked_back(soap):
    """999 kg out of a step of 400 g, or a hundred times the plan: nothing is entered without yes."""
    soap("weigh", "1", "--in", "400 g", "--no-shelf")
    said = soap("weigh", "1", "--out", "999 kg", code=2)
    assert "times the most that can come out of step 1 (400 g)" in said
    assert "nothing was entered" in said
    assert "101 times the plan" in soap("weigh", "1", "--in", "23.5 kg", "--no-shelf", code=2)
    assert "entry 2" in soap("weigh", "1", "--out", "224 g")
    assert "entry 3" in soap("weigh", "1", "--out", "999 kg", "--yes")
    assert "taken back (was: out 999000 g)" in soap("undo")
    assert "came out 224 g" in soap("show", "1")


def test_looking_at_the_ways_on_writes_nothing(soap, tmp_path):
    """log replan leaves the file as it is, to the byte of its content."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf")

    def entries():
        with Store(tmp_path / "own.sqlite") as store:
            return [(e.entry, e.kind) for e in store.entries()]

    before = entries()
    soap("replan")
    soap("replan", "--json")
    soap("today", "--at", "in 3 weeks")
    soap("show", "1")
    soap("yields")
    assert entries() == before


def test_the_write_up_of_the_latest_run(soap):
    """log report without a number writes up the latest run."""
    assert "Run 1" in soap("report")


# --- the shelf file


def test_only_the_figure_changes_and_one_copy_a_day(soap, tmp_path):
    """Every other byte stays: quotes, spaces, line ends, remarks; three changes, one copy."""
    path = tmp_path / "shelf.csv"
    soap("weigh", "1", "--in", "233 g", "--yes")
    soap("weigh", "2", "--in", "215 g", "--of", "soda ash", "--yes")
    soap("weigh", "3", "--in", "1100 mL", "--of", "oleic acid", "--yes")
    expected = SHELF.replace("2.00 kg", "1.767 kg").replace(",1 kg,", ",0.785 kg,")
    assert path.read_bytes().decode() == expected.replace("2 L", "0.9 L")
    (copy,) = tmp_path.glob("*.bak")
    assert copy.read_bytes().decode() == SHELF


def test_a_correction_sets_the_shelf_right(soap, tmp_path):
    """Corrected to less, taken back: what was taken off too much is put back."""
    path = tmp_path / "shelf.csv"
    soap("weigh", "1", "--in", "400 g", "--yes")
    assert "1.600 kg" in path.read_text() or "1.60 kg" in path.read_text()
    said = soap("correct", "1", "--in", "300 g", "--yes")
    assert "put back make 1.70 kg" in said
    assert "1.70 kg" in path.read_text()
    assert "put back make 2.00 kg" in soap("undo", "--yes")
    assert path.read_bytes().decode() == SHELF


def test_what_goes_with_what_was_weighed_in(soap):
    """Half the quicklime: half the soda goes with it, not the plan's (by proportion)."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf")
    soap("weigh", "1", "--out", "128.6 g")
    said = soap("weigh", "2", "--in", "66.3 g", "--of", "step 1")
    assert "with it go: 111 g soda ash" in said  # 66.3 of the 128.6 g that came out; 215 g at most
    said = soap("weigh", "2", "--in", "111 g", "--of", "soda ash", "--no-shelf")
    assert "go with what else was weighed in" in said
    assert "slip" not in said


def test_what_another_run_took_is_gone(soap, tmp_path):
    """The rest of a run, begun from what it left over: taken once, not lying in both."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf")
    soap("weigh", "1", "--out", "128.6 g")
    soap("weigh", "2", "--in", "100 g", "--of", "step 1")
    soap("weigh", "2", "--in", "160 g", "--of", "soda ash", "--no-shelf")
    soap("end", "2")
    soap("weigh", "3", "--in", "730 g", "--of", "oleic acid", "--no-shelf")
    soap("weigh", "3", "--out", "740 g")
    said = soap("replan")
    assert "Made: 740 g instead of 1.00 kg" in said
    assert "Left over: 28.6 g calcium oxide" in said
    options = json.loads(soap("replan", "--json"))["options"]
    number = next(i for i, o in enumerate(options, 1) if o["kind"] == "make the rest")
    assert "run 2, from what run 1 made: the rest of run 1" in soap("replan", "--take", number)
    assert "left over: 28.6 g" in soap("today")
    assert "run 2, step 1" in soap(
        "weigh", "1", "--in", "28.6 g", "--run", "2", "--of", "made in step 1"
    )
    assert "left over: 28.6 g" not in soap("today")


def test_a_shelf_is_finished_after_a_kill(soap, tmp_path):
    """Killed before, or after, the file was written: the next command offers it, or enters it."""
    path = tmp_path / "shelf.csv"
    soap("weigh", "1", "--in", "233 g", "--no-shelf")
    library = open_library()
    with Store(tmp_path / "own.sqlite") as store:
        book = open_book(store, 1)
        data = {
            k: v for k, v in book.steps[0].ins["whiting"].items() if k not in {"entry", "parts"}
        }
        change = shelf_books.for_taking(book, data, library)
        data["shelf"] = change.mark
        assert data["shelf"]["old"] == hashlib.sha256(SHELF.encode()).hexdigest()
        store.add(1, "in", book.steps[0].id, {**data, "more": True})  # and killed here
        assert len(shelf_books.pending(open_book(store, 1))) == 1
    said = soap("weigh", "2", "--in", "215 g", "--of", "soda ash", "--yes")
    assert (
        "from before (whiting: 2.00 kg less 233 g leaves 1.767 kg): shelf shelf.csv: whiting"
        in said
    )
    assert "1.767 kg" in path.read_text()
    with Store(tmp_path / "own.sqlite") as store:
        book = open_book(store, 1)
        assert shelf_books.pending(book) == []
        change = shelf_books.for_taking(book, data, library)
        store.add(1, "in", book.steps[0].id, {**data, "shelf": change.mark, "more": True})
        path.write_bytes(change.new.encode())  # and killed here
    assert "was written before the program ended" in soap("weigh", "1", "--out", "260 g")
    assert "1.534 kg" in path.read_text()
    assert "before the program ended" not in soap("weigh", "1", "--out", "262 g")
    with Store(tmp_path / "own.sqlite") as store:
        left = shelf_books.pending(open_book(store, 1))
    assert left == []


# --- what was planned


def test_a_run_starts_on_the_plans_own_amounts(bench, call, tmp_path):
    """--confidence 90 weighs in what the plan for 90 % weighs in, and the chance is 90 %."""
    words = (
        "castile soap",
        "--amount",
        "1 kg",
        "--shelf",
        str(tmp_path / "shelf.csv"),
        "--top",
        "10",
    )
    code, out, _ = call("plan", *words, "--route", "2", "--confidence", "90", "--json")
    assert code == 0
    plan = json.loads(out)
    bench("start", *words, "--route", "2", "--confidence", "90")
    with Store(tmp_path / "own.sqlite") as store:
        data = store.run(1).data
    asked = {m["material"]: m for m in plan["amounts"]["draws"]} if "amounts" in plan else None
    assert data["target_g"] == pytest.approx(1000)
    assert data["planned_g"] > 1010
    if asked is not None:
        feed = data["steps"][0]["feeds"][0]
        assert feed["as_weighed_g"] == pytest.approx(asked[feed["material"]]["as_weighed_g"])
    found = json.loads(bench("replan", "--json"))
    assert found["chance"] == pytest.approx(0.9, abs=0.01)


def test_the_plan_says_where_own_runs_count(soap, call, tmp_path):
    """What the journal taught stands in the terminal's plan."""
    soap("weigh", "1", "--in", "233.0 g", "--no-shelf")
    soap("weigh", "1", "--out", "128.6 g")
    soap("finish")
    code, out, err = call(
        "plan", "castile soap", "--amount", "1 kg", "--shelf", tmp_path / "shelf.csv", "--top", "10",
        "--route", "2", "--journal", tmp_path / "own.sqlite",
    )  # fmt: skip
    assert code == 0, err
    assert "by 1 run of yours" in " ".join(out.split())


def test_amounts_in_millilitres(call):
    """--amount "250 mL" of a liquid by its density; of a solid it is asked for grams."""
    from routefinder.asking.question import read_amount

    spirit = open_library().substance("ethyl acetate")
    assert read_amount("250 mL", spirit) == pytest.approx(250 * spirit.density_g_mL)
    assert read_amount("0.25 L", spirit) == pytest.approx(225, rel=0.01)  # 0.90 g/mL, handbooks
    code, _, err = call("find", "sodium carbonate", "--amount", "250 mL")
    assert code == 2
    assert "is no liquid whose density is known; give it in g" in err


# --- dates and spoiling


def test_a_wait_is_told_and_lowers_the_chance(soap):
    """Quicklime that has lain longer than it keeps: told at weighing in, counted in the forecast."""
    soap("weigh", "1", "--in", "233 g", "--no-shelf", "--at", "200 days ago")
    soap("weigh", "1", "--out", "128.6 g", "--at", "199 days ago")
    now = json.loads(soap("replan", "--json"))
    then = json.loads(soap("replan", "--json", "--at", "198 days ago"))
    assert now["chance"] < then["chance"]
    assert now["expected_g"] < then["expected_g"]
    said = soap("weigh", "2", "--in", "133 g", "--of", "step 1")
    assert "Mind: calcium oxide from step 1 has lain 200 d" in said
    assert "it keeps by its record" in said


@pytest.mark.parametrize("text", ["in 3 days", "tomorrow", "2099-01-01"])
def test_what_was_done_lies_in_the_past(soap, text):
    """Nothing is weighed in the future; looking there is fine."""
    assert "ahead of now" in soap("weigh", "1", "--in", "1 g", "--at", text, code=2)
    soap("today", "--at", text)


def test_words_for_moments():
    """ "3 days ago", "yesterday 9:00", "in 2 weeks" and plain dates; nonsense is refused."""
    from datetime import datetime, timedelta

    from routefinder.cli.log_base import any_time
    from routefinder.errors import InputError

    now = datetime.now().astimezone()
    for text, days in (
        ("3 days ago", -3),
        ("in 2 weeks", 14),
        ("yesterday", -1),
        ("in an hour", 1 / 24),
    ):
        assert abs(any_time(text) - now - timedelta(days=days)) < timedelta(minutes=1), text
    assert any_time("yesterday 9:00").hour == 9
    assert any_time("2026-11-28 14:30").minute == 30
    for text in ("soon", "3 days", "in ago", "", "99:99", "in 9999999999 years"):
        with pytest.raises(InputError):
            any_time(text)
