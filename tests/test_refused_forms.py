"""Refusals: formulas in every writing, numbers that belong, names in other languages, neighbours."""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.asking.coverage import coverage
from routefinder.asking.network import find_in_network
from routefinder.asking.question import read_question
from routefinder.chem import identifiers
from routefinder.chem.formula import parse
from routefinder.errors import Refused
from routefinder.library import control_names, regulated
from routefinder.library import refused_forms as forms
from routefinder.library.check import check
from routefinder.library.load import load
from routefinder.library.spelling import squash
from routefinder.records.substance import Substance, cas_check_digit_ok
from routefinder.results.covered import Target

HERE = Path(__file__).parent / "reference"
# formulas of the lists that decide by themselves, and one member of every family with a formula rule
DISTINCT = sorted({c.formula for c in control_names.listed() if c.formula and c.alone
                   and c.verdict == "refuse" and len(parse(c.formula).counts) > 1})  # fmt: skip
OF_FAMILIES = ["NaN3", "Hg(CNO)2", "KClO4", "C3H5N3O9", "NI3", "Ag2C2", "C4H10FO2P", "C2H2AsCl3",
               "NaH2PO2", "KCN", "As2O3"]  # fmt: skip
WRITINGS = ["{}", "{}(g)", "{} (aq)", "{}(s)", "2 {}", "2{}", "1/2 {}", "n {}", "{} gas", "{}, dry",
            "{} dry, 99 %", "pure {}", "{}·H2O", "{}·nH2O", "my {} stuff", "thing ({})", "({})",
            "{}/H2O", "[{}]", "5 g {}", "{}-gas", "{}_l"]  # fmt: skip
NUMBERS_OF_OTHERS = ["50-71-5", "16672-87-0", "3315-16-0", "64-17-5", "7732-18-5"]


def wide(text: str) -> str:
    """Full-width letters and digits."""
    return "".join(chr(ord(c) + 0xFEE0) if "!" <= c <= "~" else c for c in text)


def record(**fields) -> Substance:
    return Substance.model_validate({"id": "my-oil", "name": "my oil", **fields})


# --- 14: a number clears only what it is the number of --------------------------------------------


@pytest.mark.parametrize("number", NUMBERS_OF_OTHERS)
def test_a_foreign_number_clears_nothing(number):
    """Every distinctive or doubtful listed formula, with the number of something else."""
    role = {"any": "taken", "made": "made", "target": "target"}
    for row in control_names.listed():
        if row.formula is None or row.verdict != "refuse":
            continue
        if number in {row.cas, *row.also_cas} or regulated.belongs(number, row.formula):
            continue
        judged = regulated.verdict(record(formula=row.formula, cas=number))
        assert judged.refusal(role[row.where]) is not None, (row.name, number)


def test_a_number_belongs_only_to_its_formula():
    """Known as itself, right check digit, same atoms; crystal water does not count."""
    assert regulated.belongs("118-58-1", "C14H12O3")
    assert regulated.belongs("118-58-1", "C14H12O3·H2O")
    assert not regulated.belongs("118-58-1", "C8H8O2")
    assert not regulated.belongs("118-58-2", "C14H12O3")  # check digit
    assert not regulated.belongs("1000000-00-0", "C14H12O3")  # unknown
    made_up = next(c for c in (f"999998-{i:02}-{d}" for i in range(100) for d in range(10))
                   if cas_check_digit_ok(c))  # fmt: skip
    judged = regulated.verdict(record(formula="C14H12O3", cas=made_up)).refusal("taken")
    assert judged is not None
    assert made_up in regulated.sentence("my oil", judged)


@pytest.mark.parametrize(("number", "formula"), [("50-71-5", "C4H2N2O4"),
                         ("16672-87-0", "C2H6ClO3P"), ("3315-16-0", "AgOCN")])  # fmt: skip
def test_the_cleared_number_clears_its_family_only(number, formula):
    """Its own formula is clear; a formula of any other family is not, nor a name."""
    assert regulated.verdict(record(formula=formula, cas=number)).refusal("taken") is None
    assert regulated.verdict(record(formula=formula, cas=number, names=["sarin"])).refusal("taken")
    for other in OF_FAMILIES:
        assert regulated.verdict(record(formula=other, cas=number)).refusal("made"), other


# --- 15: new records ------------------------------------------------------------------------------


@pytest.fixture
def new(tmp_path, call, monkeypatch):
    monkeypatch.setenv("ROUTEFINDER_LIBRARY", "")

    def go(kind, text):
        path = tmp_path / "answers.yaml"
        path.write_text(text, encoding="utf-8")
        monkeypatch.setattr(sys, "stdin", io.StringIO(""))
        code, out, err = call("new", kind, "--answers", path, "--library", tmp_path / "own",
                              "--dry-run")  # fmt: skip
        return code, out, err

    return go


STEP = "yield: 80\ntemperature: 900 to 1000 degC\n"


def test_a_formula_alone_suggests_nothing(new):
    """Neither name nor number: an isomer's would clear a listed one."""
    code, out, err = new("step", f"equation: C14H10O2 + H2O -> C14H12O3\n{STEP}"
                         "C14H10O2.name: benzil\nC14H12O3.name: my oil\n")  # fmt: skip
    assert code == 3, err
    assert "its CAS number must say" in err
    assert "cas:" not in out
    code, _, err = new("step", f"equation: NiCO3 -> NiO + CO2\n{STEP}")
    assert code == 2  # the name is asked for, never taken from the formula
    assert "NiCO3.name" in err or "NiO.name" in err


def test_a_gas_beside_the_product_is_no_target(new):
    """Tin from its oxide and charcoal leaves carbon monoxide; as the product it is refused."""
    code, out, err = new("step", f"equation: SnO2 + 2 C -> Sn + 2 CO\n{STEP}"
                         "states: s s s g\n")  # fmt: skip
    assert code == 0, err
    assert "CO(g)" in out
    code, out, err = new("step", f"equation: SnO2 + 2 C -> Sn + 2 CO\n{STEP}product: CO\n")
    assert (code, out) == (3, "")


def test_no_shipped_step_is_for_a_refused_target(shipped):
    """What is refused as a target leaves 3 shipped steps as a gas, and none is for it."""
    left = [
        (step.id, part.state) for step in shipped.steps.values() for part in step.products
        if regulated.of(shipped, part.substance).refusal("target")
    ]  # fmt: skip
    assert {state for _, state in left} == {"g"}
    assert len(left) >= 3
    for step in shipped.steps.values():
        assert regulated.of(shipped, step.main.substance).refusal("target") is None, step.id


# --- 16: one formula in every writing, at every door ----------------------------------------------


@pytest.mark.parametrize("writing", WRITINGS)
def test_a_formula_is_judged_in_every_writing(writing):
    """As the bare formula is."""
    for formula in (*DISTINCT, *OF_FAMILIES):
        bare = regulated.verdict(formula).refusal("target")
        assert bare is not None, formula
        assert regulated.verdict(writing.format(formula)).refusal("target"), (writing, formula)


def test_other_letters_and_small_ones():
    """Full-width, Cyrillic and Greek capitals, unseen marks, no capitals where that is clear."""
    for formula in (*DISTINCT, *OF_FAMILIES):
        assert regulated.verdict(wide(formula)).refusal("target"), formula
        assert regulated.verdict("\u200b".join(formula)).refusal("target"), formula
    for text in ("НСN", "ΗCΝ", "hcn", "nan3", "kclo4", "2 hcn", "hcn (g)", "N3-", "ClO4-"):
        assert regulated.verdict(text).refusal("target"), text
    assert regulated.verdict("cocl2").refusal("target") is None  # also cobalt chloride


@pytest.mark.parametrize("text", [
    "C6H2KN3O7", "NaC6H2N3O7", "Ba(C6H2N3O7)2", "C6H3N2NaO5", "PbC6HN3O8", "C6H6N4O7",
    "NaCH4O3P", "C4H7NaO3", "Ca(C4H7O3)2", "C18H28N2O4S", "(C9H13N)2·H2SO4", "C9H13N·0.5H2SO4",
    "C10H15NO·HCl", "C10H16ClNO", "K4C8", "C8H7NaO2",
])  # fmt: skip
def test_salts_are_judged_by_their_acid_or_base(text, shipped):
    """Metal salts of nitrophenols and listed acids, sulfates of amines: refused, or in doubt."""
    judged = regulated.verdict(text)
    known = text in {"K4C8"}  # a carbide of potassium is on no list
    assert bool(judged.refusal("target") or judged.doubts) is not known
    if judged.doubts and not judged.refusal("target"):
        assert regulated.verdict(record(formula=text)).refusal("taken"), "no number: refused"


@given(st.sampled_from(DISTINCT), st.sampled_from(WRITINGS))
def test_at_the_door_of_networks(formula, writing):
    """Names of a plain network are judged as any other."""
    name = writing.format(formula)
    steps = [rf.PlainStep("a", ["stone"], [name])]
    with pytest.raises(Refused):
        rf.best_routes(steps, ["stone"], name)


def test_at_the_other_doors(shipped, tmp_path, make_library):
    """`find`, a network file, the names of an own library, a list of targets, `look`."""
    for text in ("HCN(g)", "NaN3 dry", "2 HCN", "ＨＣＮ"):
        with pytest.raises(Refused):
            read_question(shipped, text, "1 g")
        path = tmp_path / "net.json"
        step = {"id": "a", "reactants": ["x"], "products": [text]}
        path.write_text(json.dumps({"steps": [step, {**step, "id": "b", "products": ["y"]}]}))
        found = find_in_network(path, "y", ["x"])
        assert [r.step for r in found.refused] == ["a"]
        folder = make_library(
            substances=f"- {{id: my-oil, name: my oil, names: ['{text}'], mixture: true,"
            " sources: from memory}\n"
        )
        assert any(f.rule == "refused" for f in check([folder]))
        assert list(regulated.refused_records(load([folder]).library))
    with pytest.raises(Refused):  # a name that looks like a node of our own opens nothing
        rf.best_routes([rf.PlainStep("a", ["x"], ["form|sarin|HCN"])], ["x"], "form|sarin|HCN")


def test_coverage_says_refused(shipped):
    """Whether the library has it or not; a harmless isomer of a listed one is made as before."""
    targets = [Target("sarin"), Target("my gas", "HCN(g)"),
               Target("my oil", "", "76-93-7"), Target("water", "H2O"),
               Target("methyl benzoate", "C8H8O2", "93-58-3")]  # fmt: skip
    found = coverage(shipped, targets, top=1)
    assert [row.refused for row in found.rows] == [True, True, True, False, False]
    assert all(row.why.startswith("refused") for row in found.rows[:3])
    assert found.json()["totals"]["refused"] == 3


def test_each_name_of_a_network_is_judged_once(monkeypatch):
    """However often it stands there."""
    seen: list[str] = []
    real = regulated.verdict
    monkeypatch.setattr(regulated, "verdict", lambda name, *a: seen.append(name) or real(name, *a))
    steps = [(f"s{i}", ["stone", f"n{i % 7}"], [f"n{(i + 1) % 7}"]) for i in range(200)]
    assert list(regulated.refused_steps(steps)) == []
    assert len(seen) == len(set(seen)) == 8


# --- 17: other names ------------------------------------------------------------------------------


def test_every_name_that_chemicals_carries():
    """Of every listed number and its salts and isomers: refused, or borne by another too."""
    lines = list(csv.DictReader((control_names.where.shipped_library() / control_names.FILE)
                                .read_text(encoding="utf-8").splitlines()))  # fmt: skip
    both = {(x["listed"], squash(x["name"])) for x in lines if x["also"]}
    role = {"any": "taken", "made": "made", "target": "target"}
    judged = 0
    for row in control_names.listed():
        if row.verdict != "refuse":
            continue
        for number in control_names.numbers(row):
            assert regulated.verdict(number).refusal(role[row.where]), (row.name, number)
            for name in map(control_names.cleaned, identifiers.names(number)):
                if not control_names.worth(str(row.cas), name):
                    continue
                judged += 1
                if not regulated.verdict(name).refusal(role[row.where]):
                    short = squash(name)
                    assert (row.cas, short) in both or any(s == short for _, s in both), name
    assert judged > 5000
    assert 20 < len(both) < 100


@pytest.mark.parametrize("text", [
    "Phosphonofluoridic acid, methyl-, 1-methylethyl ester", "Blausäure", "blauwzuur",
    "acide cyanhydrique", "Cyanwasserstoff", "fosgeen", "Pikrinsäure", "kyselina pikrova",
    "trinitrotoluol", "Knallquecksilber", "natriumazid", "Schwefelwasserstoff", "kohlenmonoxid",
    "Distickstofftetroxid", "chlorpikrin", "ethane, 1,1'-thiobis(2-chloro-", "Zyankali",
    "1,2,3-propanetriol, trinitrate", "2-methyl-1,3,5-trinitrobenzene", "morfina", "pseudoefedrina",
    "cocaïne", "lysergide", "tetrodotoxin", "T-2 toxin", "botulinum toxin", "CS gas", "triphosgene",
    "trichloromethyl chloroformate", "arsenic trioxide", "arsenous oxide", "osmium tetroxide",
    "hydrazine hydrate", "dimethyl sulfate", "potassium cyanide", "sodium cyanide, 98 %",
    "zinc cyanide", "chloramine gas", "levomethamphetamine", "dl-amphetamine sulfate",
])  # fmt: skip
def test_names_as_other_people_write_them(text):
    """Systematic, inverted, German, Dutch, French, Czech, Spanish."""
    assert regulated.verdict(text).refusal("target") is not None


def test_what_may_be_at_hand_but_is_not_made():
    """Cyanides, arsenic, hydrazine, dimethyl sulfate, osmium tetroxide: not as a product."""
    for text in ("KCN", "As2O3", "N2H4", "77-78-1", "OsO4", "sodium arsenite"):
        assert regulated.verdict(text).refusal("taken") is None, text
        assert regulated.verdict(text).refusal("made") is not None, text


# --- 18: neighbours -------------------------------------------------------------------------------

with (HERE / "harmless.csv").open(encoding="utf-8", newline="") as file:
    HARMLESS = list(csv.DictReader(file))
# a formula that a family's rule takes in; the number clears a record of it
SHARED = {"alloxan", "ethephon", "silver cyanate"}


def test_harmless_neighbours_stay_harmless():
    """Name, formula and number of 610 everyday and look-alike substances, each and together."""
    assert len(HARMLESS) >= 342
    wrong = []
    for row in HARMLESS:
        texts = [row["name"], row["cas"]] + [row["formula"]] * (row["name"] not in SHARED)
        for text in filter(None, texts):
            hit = regulated.verdict(text).refusal("target")
            wrong += [(row["name"], text, hit.name)] if hit else []
        if row["cas"]:
            whole = regulated.verdict_of((row["name"],), row["formula"] or None, row["cas"])
            hit = whole.refusal("target")
            wrong += [(row["name"], "record", hit.name)] if hit else []
    assert wrong == []


def test_the_whole_library_is_harmless(shipped):
    """Names, formulas and numbers of substances, names of materials: none but the gases beside."""
    beside = {"carbon-monoxide", "sulfur-dioxide"}
    for s in shipped.substances.values():
        for text in filter(None, (s.name, *s.names, s.formula, s.cas)):
            assert s.id in beside or regulated.verdict(text).refusal("target") is None, text
        assert regulated.verdict(s, shipped).refusal("made") is None, s.id
    for m in shipped.materials.values():
        for text in (m.record.name, *m.record.names):
            assert regulated.verdict(text).refusal("target") is None, text


@given(st.text(max_size=60))
def test_any_text_can_be_read(text):
    """No text breaks the reading, and capitals elsewhere do not make formulas of words."""
    list(forms.readings(text, frozenset()))
    forms.small_readings(text.lower(), frozenset())
