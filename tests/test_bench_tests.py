"""Bench tests: what each must read, what a reading means, and the calculator."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from routefinder.analysis import assay, methods, step_tests
from routefinder.analysis.ignition import left
from routefinder.analysis.methods import METHODS
from routefinder.analysis.model import Unknowns, typical, vessel_of
from routefinder.analysis.reading import read_test
from routefinder.analysis.reckon import reckon
from routefinder.chem.responses import response
from routefinder.cli.main import app
from routefinder.errors import InputError, Refused
from routefinder.records import bench_test
from routefinder.vessel.stream import Stream
from routefinder.view.bench_test_words import HOW

# what a mole gives: textbook stoichiometry (own hand reckoning)
KNOWN = [
    ("NaOH", "alkali", 1, 1), ("Ca(OH)2", "alkali", 2, 2), ("CaO", "alkali", 2, 2),
    ("Na2CO3·10H2O", "alkali", 1, 2), ("NaHCO3", "alkali", 0, 1), ("CaCO3", "alkali", 0, 2),
    ("Mg5(CO3)4(OH)2·4H2O", "alkali", 2, 10), ("Na2O·3.2SiO2", "alkali", 2, 2),
    ("NH3", "alkali", 0, 1), ("Na2B4O7·10H2O", "alkali", 0, 2), ("NaCl", "alkali", 0, 0),
    ("CuSO4·5H2O", "iodine", None, 1), ("H2O2", "iodine", None, 2), ("Cu2O", "iodine", None, 0),
    ("Cu2(OH)2CO3", "iodine", None, 2), ("CaCuSi4O10", "iodine", None, 0),
    ("CaCl2·2H2O", "chloride", None, 2), ("NaOCl", "chloride", None, 0),
    ("Cu2(OH)2CO3", "carbonate", None, 1), ("CaMg(CO3)2", "carbonate", None, 2),
    ("H2SO4", "acid", None, 2), ("NaHSO4", "acid", None, 1),
]  # fmt: skip


@pytest.mark.parametrize(("formula", "field", "first", "last"), KNOWN)
def test_what_a_mole_gives(formula, field, first, last):
    """Equivalents, carbon dioxide, chloride and iodine of a mole."""
    found = response(formula)
    assert getattr(found, field) == pytest.approx(last)
    if first is not None:
        assert found.alkali_first == pytest.approx(first)


def test_words_records_and_methods_are_one_list():
    """The names in records, in the table of methods and in the words are the same."""
    assert tuple(METHODS) == bench_test.METHODS
    assert set(HOW) == set(METHODS)


def test_lye_by_two_end_points():
    """Lime-burner's lye, worked by hand: 17.79 mmol of alkali in 10 g, 16.01 of it hydroxide.

    10.00 g takes 35.58 mL of 0.500 mol/L to the last end point, 33.80 mL to the first.
    """
    last = read_test("alkali, 10.00 g, 35.58 mL, 0.500 mol/L")
    first = read_test("alkali, 10.00 g, 33.80 mL, 0.500 mol/L, first end point")
    both = assay.two_ends(first, last)
    assert both.hydroxide * 10_000 == pytest.approx(16.01, abs=0.01)
    assert both.carbonate * 10_000 == pytest.approx(0.89, abs=0.01)
    with pytest.raises(InputError, match="cannot take more"):
        assay.two_ends(last, first)


def test_lye_by_titration_and_by_hydrometer(shipped):
    """6.77 % lye: both readings, made of it, mean it; vinegar by volume finds its own density."""
    lye = shipped.substance("sodium hydroxide").id
    stream = Stream({(lye, "aq"): 6.77, ("water", "l"): 93.23})
    took = methods.reading(shipped, "alkali", stream, 10.0, 0.5)
    found = assay.strength(shipped, lye, read_test(f"alkali, 10.00 g, {took:.2f} mL, 0.500 mol/L"))
    assert found.fraction == pytest.approx(0.0677, rel=1e-3)
    assert found.low < 0.0677 < found.high
    floats = methods.density(shipped, stream)
    by_density = assay.strength(shipped, lye, read_test(f"hydrometer, {floats:.4f} g/mL"))
    assert by_density.fraction == pytest.approx(0.0677, rel=2e-3)
    vinegar = shipped.substance("acetic acid").id
    by_volume = assay.strength(shipped, vinegar, read_test("acid, 5.0 mL, 8.33 mL, 0.500 mol/L"))
    grams_per_litre = 8.33 * 0.5 / 1000 * 60.052 / 5.0 * 1000
    assert by_volume.grams_per_litre == pytest.approx(grams_per_litre, rel=2e-3)


def test_readings_and_strengths_are_inverse(shipped):
    """Over the library: what a pure substance must read means a pure substance, to 1e-9."""
    count = 0
    for substance in shipped.substances.values():
        for method in assay.answers(shipped, substance.id):
            if method == "hydrometer":
                continue
            stream = Stream({(substance.id, "s"): 1.0})
            sample, molar = 1.2345678, 0.5
            read = methods.reading(shipped, method, stream, sample, molar)
            unit = "g" if method == "ignition" else "mL"
            titrant = f", {molar} mol/L" if METHODS[method].titrant else ""
            done = read_test(f"{method}, {sample} g, {read:.12f} {unit}{titrant}")
            found = assay.strength(shipped, substance.id, done)
            assert found.fraction == pytest.approx(1.0, rel=1e-8), (substance.id, method)
            count += 1
    assert count > 150


def test_loss_on_ignition_by_the_library(shipped):
    """Chalk leaves 56.03 % as lime; vitriol loses its water; salt nothing (atomic weights)."""
    assert left(shipped, shipped.substance("calcium carbonate").id) == pytest.approx(
        0.5603, abs=2e-4
    )
    assert left(shipped, shipped.substance("sodium chloride").id) == 1.0
    pentahydrate = shipped.substance("CuSO4·5H2O").id
    assert left(shipped, pentahydrate, 300.0) == pytest.approx(0.6393, abs=2e-4)


def test_every_step_has_tests_that_are_sound(shipped):
    """Whole library: figures finite, at or above 0, uncertainty above 0, arithmetic works again."""
    telling = lines = 0
    for step in shipped.steps.values():
        figures, _ = step_tests.figures_and_signs(shipped, step)
        telling += any(p.tells for p in figures)
        for p in figures:
            assert p.sample_g > 0
            assert p.u > 0
            assert 0 <= p.usual < 1e6
            assert 0 <= p.short < 1e6
            assert 0 <= p.nothing < 1e6
            if p.counted:
                assert sum(share for _, share in p.counted) == pytest.approx(1.0)
            for line in p.reason.lines:
                if line.startswith("it must"):
                    assert_works(line)
                    lines += 1
    assert telling > 500
    assert lines > 500


def assert_works(line: str) -> None:
    """Work a line of arithmetic again."""
    text, value = line.split(": ", 1)[1].rsplit(" = ", 1)
    text = re.sub(r"(?<=[\d )])(mol/g|g/mol|g/mL|mol|mL|g|L)\b", "", text).replace("×", "*")
    assert re.fullmatch(r"[\d.+*/()\- ]+", text), line
    again = eval(text, {"__builtins__": {}})
    assert again == pytest.approx(float(value.split()[0]), rel=3e-5), line


@pytest.mark.parametrize(
    ("substance", "line"),
    [("sodium hydroxide", "alkali, 10.00 g, 35.6 mL, 0.500 mol/L"),
     ("sodium hydroxide", "hydrometer, 1.081 g/mL"),
     ("calcium carbonate", "acid gas, 1.00 g, 205 mL"),
     ("calcium carbonate", "ignition, 2.00 g, 1.31 g"),
     ("hydrogen peroxide", "iodometry, 1.00 g, 17.6 mL, 0.100 mol/L"),
     ("acetic acid", "acid, 5.0 mL, 8.33 mL, 0.500 mol/L"),
     ("sodium chloride", "chloride, 0.100 g, 17.1 mL, 0.100 mol/L"),
     ("sodium carbonate", "residue, 2.00 g, 0.05 g")],
)  # fmt: skip
def test_arithmetic_of_a_reading(shipped, substance, line):
    """Every line behind a strength can be worked again, and its last is the strength."""
    found = assay.strength(shipped, shipped.substance(substance).id, read_test(line))
    worked = [row for row in found.reason.lines if re.search(r" = [\d.]+", row)]
    for row in worked:
        assert_works(row)
    assert float(worked[-1].rsplit(" = ", 1)[1].split()[0]) == pytest.approx(
        found.fraction, rel=1e-5
    )


def test_the_test_that_decides(shipped):
    """A fired blue: weight sees nothing, cold acid on the cake does; and it names itself."""
    step = shipped.step("fire-egyptian-blue-from-copper-carbonate")
    found = step_tests.deciding(shipped, step)
    assert found is not None
    assert (found.method.name, found.on) == ("alkali", "vessel")
    assert found.power > 10
    lye = step_tests.figures_and_signs(shipped, shipped.step("causticise-soda-with-slaked-lime"))[0]
    assert [p.first for p in lye[:2]] == [True, False]
    assert lye[0].power > 2 * lye[1].power  # all alkali does not see how far it went


@pytest.mark.parametrize("x", [0.0, 0.3, 0.8, 1.0])
def test_readings_follow_the_vessel(shipped, x):
    """A titration of a vessel's contents counts moles: scaling and additivity over its parts."""
    step = shipped.step("causticise-soda-with-slaked-lime")
    vessel = vessel_of(shipped, step, grams=105.99)
    stream = vessel.streams(Unknowns(x, typical(shipped, step).kept))["product"]
    whole = float(methods.equivalents(shipped, stream, "alkali") * stream.mass_g)
    by_hand = float(
        stream.grams("sodium-hydroxide") / 39.997 + 2 * stream.grams("sodium-carbonate-anhydrous") / 105.988
        + 2 * stream.grams("calcium-hydroxide", "aq") / 74.092
    )  # fmt: skip
    assert whole == pytest.approx(by_hand, rel=1e-4)
    twice = methods.reading(shipped, "alkali", stream, 20.0, 0.5)
    assert twice == pytest.approx(2 * methods.reading(shipped, "alkali", stream, 10.0, 0.5))


@pytest.mark.parametrize(
    ("text", "said"),
    [("", "is written so"), ("litmus, 1 g", "no bench test"), ("titration, 1 g", "which titration"),
     ("alkali, 10 g, 0.5 mol/L", "35.6 mL"), ("alkali, 10 g, 35.6 mL", "strength of the acid"),
     ("alkali, 0 g, 35.6 mL, 0.5 mol/L", "above 0"), ("hydrometer", "density read"),
     ("acid, 5 g, 3 mL, 0.5 mol/L, first", "first end point"), ("pH, 7 g", "sign to look at"),
     ("alkali, 5 g, 3 mL, 0.5 mol/L, 4 mL", "too many"), ("alkali, five g", "cannot be read"),
     ("alkali, 5 g, 3 mL, 0 mol/L", "at 0")],
)  # fmt: skip
def test_what_cannot_be_read_is_said(text, said):
    """One sentence for what is missing or wrong."""
    with pytest.raises(InputError, match=re.escape(said)):
        read_test(text)


def test_a_blind_test_is_a_fault(make_library):
    """A record whose test sees nothing of its substances is refused by check."""
    from routefinder.library.check import check

    steps = """\
- id: tried
  title: Dissolve salt
  kind: dissolution
  equation: "NaCl(s) -> NaCl(aq)"
  product: NaCl
  limiting: NaCl
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: all, source: common practice}
  temperature: {low: 20 degC, high: 30 degC}
  time: {hands_on: 1 h}
  tests: [{method: METHOD}]
  sources: common practice
"""
    salt = "- {id: salt, name: salt, formula: NaCl, cas: 7647-14-5, sources: from memory}\n"
    for method, faulty in (("alkali", True), ("chloride", False)):
        folder = make_library(steps=steps.replace("METHOD", method), substances=salt)
        faults = [f for f in check([folder]) if f.rule == "blind-test"]
        assert bool(faults) == faulty


# --- the calculator


@pytest.mark.parametrize(
    ("line", "name", "value"),
    [("CuSO4·5H2O", "molar_mass_g_mol", 249.68), ("Cu in CuSO4.5H2O", "fraction", 0.2545),
     ("25 g NaOH", "mol", 0.62505), ("0.5 mol of NaOH", "g", 19.999),
     ("250 mL of 0.5 mol/L NaOH", "g", 4.9996), ("gas from 10 g CO2", "L", 5.466),
     ("dilute 37 % HCl to 10 %, 500 g", "strong_g", 135.14),
     ("10 g CaCO3 + 8 g HCl -> CaCl2 + H2O + CO2", "gives CaCl2 g", 11.088),
     ("soda ash", "molar_mass_g_mol", 105.99)],
)  # fmt: skip
def test_calculator(shipped, line, name, value):
    """Own hand reckoning with IUPAC 2021 weights; lines of arithmetic work again."""
    found = reckon(line, shipped)
    assert found.figures[name] == pytest.approx(value, rel=2e-4)


HOSTILE = ["__import__('os').system('ls')", "1+1", "(lambda: 0)()", "Cu in ", "dilute 5 % HCl to 10 %",
           "0 g NaOH", "Xx", "", "a" * 501, "10 g CaCO3 -> ", "CaCO3 + HCl -> CaCl2", "9" * 400,
           "10 g H2 + O2 -> H2O2 + H2O", "5 mL NaOH"]  # fmt: skip


@pytest.mark.parametrize("line", HOSTILE)
def test_calculator_says_what_it_takes(shipped, line):
    """Nothing is evaluated; whatever is no sum of ours is one clear sentence."""
    with pytest.raises(InputError):
        reckon(line, shipped)


@given(st.text(max_size=60))
def test_calculator_never_falls(text):
    """Any text gives an answer or an InputError."""
    try:
        found = reckon(text)
    except (InputError, Refused):
        return
    assert found.answer


@given(st.floats(0.01, 1e4), st.floats(0.01, 0.6), st.floats(0.05, 1.0))
def test_dilution_keeps_mass(mass, strong, share):
    """Solute and water in equal what comes out, for any strengths."""
    found = reckon(
        f"dilute {100 * strong:.6f} % NaOH to {100 * strong * share:.6f} %, {mass:.6f} g"
    )
    assert found.figures["strong_g"] + found.figures["water_g"] == pytest.approx(mass, rel=1e-4)
    assert found.figures["strong_g"] == pytest.approx(mass * share, rel=1e-3)


# --- the commands


def run(*words):
    return CliRunner().invoke(app, list(words))


def test_command_test():
    """Lists, tells how, gives a strength; JSON as data; nonsense in one sentence."""
    out = run("test", "causticise-soda-with-slaked-lime")
    assert out.exit_code == 0
    assert "first end point" in out.stdout
    out = run("test", "causticise-soda-with-slaked-lime", "titration", "--why")
    assert "Must read" in out.stdout
    assert "it must take" in out.stdout
    assert "Care:" in out.stdout
    out = run("test", "caustic soda", "alkali", "--read", "10.00 g, 35.6 mL, 0.500 mol/L", "--json")
    data = json.loads(out.stdout)
    assert data["fraction"] == pytest.approx(0.0712, abs=1e-4)
    assert data["disclaimer"]
    assert isinstance(run("test", "nothing-of-ours").exception, Exception)


def test_command_reckon():
    """A line of words needs no quotes; arithmetic on demand."""
    out = run("reckon", "Cu", "in", "CuSO4.5H2O", "--why")
    assert out.exit_code == 0
    assert "25.4" in out.stdout or "25.5" in out.stdout
