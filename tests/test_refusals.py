"""Refusals hold: every listed substance, in every form, at every door."""

from __future__ import annotations

import csv
import inspect
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.api import find, own_yields
from routefinder.asking import answering, coverage, network
from routefinder.asking import library as of_library
from routefinder.asking import question as questions
from routefinder.asking.network import find_in_network
from routefinder.asking.question import read_question
from routefinder.chem.formula import parse
from routefinder.errors import LibraryFaults, NameNotFound, Refused
from routefinder.library import regulated
from routefinder.library.check import check
from routefinder.library.load import load
from routefinder.library.refused_families import FAMILIES
from routefinder.library.where import shipped_library
from routefinder.records.question import Question
from routefinder.records.shelf import Shelf
from routefinder.records.substance import Substance
from routefinder.results import answer as answers

# EU 2019/1148, CWC, UN 1988, US list I: each row carries its source
TABLE = Path(__file__).parent / "reference" / "regulated_substances.csv"
with TABLE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
# the table's own exception: "3A, 3B except triethanolamine: flag"
REFUSED = [r for r in ROWS if r["action"].startswith("refuse") and r["cas"] != "102-71-6"]
FLAGGED = [r for r in ROWS if r not in REFUSED]
SHIPPED = regulated.shipped()
FORMULAS = {row.cas: row.formula for row in SHIPPED if row.cas and row.formula}


def organic(formula):
    """Whether a formula has carbon."""
    return "C" in parse(formula).counts


# one member of each family that the table names without a CAS number
MEMBERS = {
    "(1)-(3)": ["O-ethyl methylphosphonofluoridate", "ethyl N,N-diethylphosphoramidocyanidate",
                "O-ethyl S-2-diethylaminoethyl methylphosphonothiolate"],
    "(14)-(16)": ["Novichok A-234"],
    "(2B4)": ["diethyl ethylphosphonate", "methylphosphonic acid", "propylphosphonic dichloride"],
    "(2B5)": ["N,N-dimethylphosphoramidic dichloride"],
    "(2B6)": ["diethyl N,N-dimethylphosphoramidate"],
    "(2B10)": ["2-(diisopropylamino)ethyl chloride", "2-chloro-N,N-diethylethanamine"],
    "(2B11)": ["2-(diisopropylamino)ethanol", "N,N-diisopropylethanolamine"],
    "(2B12)": ["2-(diisopropylamino)ethanethiol", "2-(dimethylamino)ethanethiol"],
    "esters": ["ethyl PMK glycidate"],
}  # fmt: skip


def ids(rows):
    return [f"{r['list'][:6]}-{r['name'][:30]}" for r in rows]


def spellings(name: str) -> list[str]:
    """The same name as people write it."""
    return [
        name, name.upper(), name.lower(), f"  {name} ", name.replace("-", " "),
        name.replace(" ", "-"), name.replace(" ", ""), name.replace("alpha", "α"),
        name.replace("-", "‑"), name.replace("a", "а", 1), "\u200b".join(name),  # Cyrillic, unseen
    ]  # fmt: skip


@cache
def the_library():
    return rf.load_library()


def refused_as_target(text: str) -> None:
    with pytest.raises(Refused) as caught:
        read_question(the_library(), text, "100 g")
    message = str(caught.value)
    assert message.startswith("refused:")
    assert "\n" not in message


@pytest.mark.parametrize("row", REFUSED, ids=ids(REFUSED))
def test_every_refused_row_in_every_form(row):
    """Name in all spellings, with state, hydrate and salt around it, CAS number in all forms."""
    name = row["name"]
    forms = [*spellings(name), f"{name} hydrate", f"{name} monohydrate", f"{name}, anhydrous",
             f"{name} (pure)", f"{name} solution"]  # fmt: skip
    forms += ["".join(f"{name} 99 %")]
    cas = row["cas"]
    if cas:
        digits = cas.replace("-", "")
        forms += [cas, digits, f"CAS {cas}", f"[{cas}]", cas.replace("-", "–"), f"stuff {cas}"]
    for text in forms:
        assert regulated.verdict(text).refusal("taken") is not None, text
        assert regulated.verdict(text).refusal("target") is not None, text
    formula = FORMULAS.get(cas)
    if cas and (formula is None or organic(formula)):
        for salt in ("hydrochloride", "sodium salt", "sulfate"):
            assert regulated.verdict(f"{name} {salt}").refusal("taken") is not None, salt


@pytest.mark.parametrize("row", REFUSED, ids=ids(REFUSED))
def test_every_refused_row_as_a_target(row):
    """`find` refuses it by name, CAS number and formula; the message names a list, no more."""
    refused_as_target(row["name"])
    if row["cas"]:
        refused_as_target(row["cas"])
        refused_as_target(row["cas"].replace("-", ""))
    formula = FORMULAS.get(row["cas"])
    if formula and regulated.verdict(formula).refusal("target"):
        refused_as_target(formula)
        refused_as_target(f"{formula}·H2O")


@pytest.mark.parametrize(
    ("key", "member"), [(k, m) for k, ms in MEMBERS.items() for m in ms], ids=lambda x: x
)
def test_members_of_the_families_without_a_number(key, member):
    """The table's family rows catch their members by name."""
    assert any(key in r["name"] or key == "(14)-(16)" for r in ROWS if not r["cas"])
    assert regulated.verdict(member).refusal("taken") is not None


def test_every_family_row_has_a_member():
    """No family row of the table goes untested."""
    families = [r["name"] for r in ROWS if not r["cas"]]
    assert all(any(key in name for key in MEMBERS) for name in families), families


@pytest.mark.parametrize("row", REFUSED, ids=ids(REFUSED))
def test_a_personal_library_hides_nothing(row, shipped):
    """Another id and name with the CAS number, the formula, or the name as an alias."""
    plain = {"id": "my-oil", "name": "my oil"}
    disguises = [{**plain, "names": [row["name"]]}, {"id": "my-oil", "name": row["name"]}]
    if row["cas"]:
        disguises.append({**plain, "cas": row["cas"]})
        disguises.append({**plain, "notes": ["x"], "names": [f"oil {row['cas']}"]})
    formula = FORMULAS.get(row["cas"])
    if formula:
        disguises.append({**plain, "formula": formula})
        if organic(formula):
            disguises.append({**plain, "formula": f"{formula}·0.5H2O"})
            disguises.append({**plain, "formula": f"{formula}·HCl"})
    for disguise in disguises:
        substance = Substance.model_validate(disguise)
        assert regulated.verdict(substance, shipped).refusal("taken") is not None, disguise
        with pytest.raises(Refused):
            regulated.refuse(substance, "target", shipped)


@pytest.mark.parametrize("row", FLAGGED, ids=ids(FLAGGED))
def test_every_lawful_row_is_flagged(row):
    """By name and CAS number: list, date and source stand there, and it is not refused."""
    for text in (row["name"], row["cas"], row["cas"].replace("-", "")):
        found = regulated.verdict(text)
        assert found.refusal("taken") is None, text
        hits = [h for h in found.flags if h.list == row["list"] and h.part == row["part"]]
        assert hits, text
        assert all(h.date and h.source for h in hits)
        assert hits[0].threshold == row["threshold"]


def test_the_table_is_in_the_shipped_lists_row_by_row():
    """Nothing of the table is lost or softened; every row has date and source."""
    for row in ROWS:
        found = [
            c
            for c in SHIPPED
            if (c.list_, c.part, c.name) == (row["list"], row["part"], row["name"])
        ]
        assert len(found) == 1, row
        assert found[0].cas == (row["cas"] or None)
        assert found[0].verdict == ("refuse" if row in REFUSED else "flag")
        mark = "published" if row["confirmed"] == "yes" else "from memory"
        assert found[0].source[0].mark == mark
    assert all(c.date and c.source for c in SHIPPED)


# --- explosives, drugs, gases: our own rows and families ------------------------------------------


@pytest.mark.parametrize(
    "row", [r for r in SHIPPED if r.verdict == "refuse"][132:], ids=lambda r: r.name[:40]
)
def test_own_rows(row):
    """Every alias and number of every refused row."""
    role = {"any": "taken", "made": "made", "target": "target"}[row.where]
    for text in (row.name, *row.names, *filter(None, (row.cas, *row.also_cas))):
        assert regulated.verdict(text).refusal(role) is not None, text


@pytest.mark.parametrize(
    "text",
    ["TNT", "RDX", "nitroglycerine", "Lead(II) azide", "Pb(N3)2", "N6Pb", "NaN3", "potassium azide",
     "Hg(CNO)2", "mercury fulminate", "acetone peroxide", "tert-butyl peroxide", "HMTD",
     "ethyl nitrate", "cellulose nitrate", "C3H5(ONO2)3", "1,3-dinitrobenzene", "C7H5N3O6",
     "2,4,6-trinitroresorcinol", "NI3", "NI3·NH3", "silver acetylide", "Ag2C2", "gunpowder",
     "perchloric acid", "KClO4", "barium perchlorate", "Mg(ClO4)2", "heroin", "LSD", "crystal meth",
     "3-methylfentanyl", "amphetamine sulfate", "chlorine gas", "Cl2", "CO", "H2S",
     "hydrofluoric acid", "VX", "C4H10FO2P", "sodium hypophosphite", "Ca(H2PO2)2",
     "ethyl phenylacetate", "red phosphorus", "P4", "COCl2"],
)  # fmt: skip
def test_explosives_drugs_and_poison_gases_as_targets(text):
    """What the lists and families are for."""
    refused_as_target(text)


@pytest.mark.parametrize(
    "text",
    ["copper oxide, azide-free", "azide free water", "copper(II) nitride", "Mg3N2", "Li3N",
     "sodium cyanate", "NaOCN", "KCNO", "hydrogen peroxide", "sodium percarbonate",
     "carbamide peroxide", "barium peroxide", "zinc peroxide", "uranyl nitrate", "copper nitrate",
     "bismuth nitrate", "potassium chlorate", "dinitrogen monoxide", "sodium cobaltinitrite",
     "sodium hexanitrocobaltate", "phenyl acetate", "benzyl salicylate", "cobalt chloride", "CoCl2",
     "cocl2", "urea", "EDTA", "C10H16N2O8", "C3H3N3O3", "ammonium oxalate", "(NH4)2C2O4",
     "calcium carbide", "CaC2", "sodium hypochlorite", "phosphoric acid", "Na3PO4", "CaHPO4",
     "sodium phosphite", "mustard seed", "mustard oil", "glyphosate", "aminomethylphosphonic acid",
     "tetrabutylammonium hexafluorophosphate", "C16H36F6NP", "2-(dimethylamino)ethanol",
     "cyclohexylamine hydrochloride", "C6H14ClN", "thiamine", "sucrose", "chlorine-free bleach",
     "benzoic hydrazide", "isoniazide", "Gd", "Ga", "gadolinium", "potassium ferrocyanide", "dimethylglyoxime", "phosphorus pentoxide", "silver nitrate",
     "triphenyl phosphate", "lactic acid", "iodine pentoxide", "malathion C10H19O6PS2"],
)  # fmt: skip
def test_harmless_neighbours_are_not_refused(text):
    """Names and formulas that look alike and are something else."""
    assert regulated.verdict(text).refusal("target") is None, regulated.verdict(text)


@given(st.text(min_size=0, max_size=60))
def test_any_text_is_judged(text):
    """No text breaks the judgement, and it does not depend on surrounding blanks."""
    first = regulated.verdict(text)
    assert {h.name for h in first.hits} == {h.name for h in regulated.verdict(f" {text}\t").hits}


@given(
    st.sampled_from([c for c in SHIPPED if c.formula and c.alone and c.verdict == "refuse"]),
    st.randoms(use_true_random=False),
)
def test_atoms_in_any_order(row, random):
    """A distinctive formula is recognised however its atoms are ordered."""
    atoms = [f"{el}{n if n != 1 else ''}" for el, n in parse(row.formula).counts.items()]
    random.shuffle(atoms)
    assert regulated.verdict("".join(atoms)).refusal("target") is not None


def test_an_isomer_is_cleared_by_its_cas_number(shipped):
    """The same formula: refused without a CAS number, free with another one, and look-up says why."""
    salicylate = {"id": "my-ester", "name": "benzyl salicylate", "formula": "C14H12O3"}
    unknown = regulated.verdict(Substance.model_validate(salicylate), shipped)
    assert unknown.refusal("taken") is not None
    assert "CAS number" in unknown.refusal("taken").differs
    known = regulated.verdict(
        Substance.model_validate({**salicylate, "cas": "118-58-1"}), shipped
    )  # CAS as in the PyPI package chemicals
    assert known.refusal("taken") is None
    assert [h.cas for h in known.doubts] == ["76-93-7"]
    wrong = regulated.verdict(
        Substance.model_validate({**salicylate, "cas": "118-58-2"}), shipped
    )  # a number with a false check digit clears nothing
    assert wrong.refusal("taken") is not None


@pytest.mark.parametrize("family", [f for f in FAMILIES if f.cleared], ids=lambda f: f.name)
def test_known_false_alarms_of_families_are_cleared_by_number(family, shipped):
    """Silver cyanate, alloxan, ethephon: CAS number and formula as in the PyPI package chemicals."""
    formulas = {"3315-16-0": "AgOCN", "50-71-5": "C4H2N2O4", "16672-87-0": "C2H6ClO3P"}
    for cas in family.cleared:
        record = {"id": "x", "name": "x", "formula": formulas[cas]}
        assert regulated.verdict(Substance.model_validate(record), shipped).refusal("taken")
        record["cas"] = cas
        assert not regulated.verdict(Substance.model_validate(record), shipped).refusal("taken")


def test_nothing_shipped_is_refused(shipped):
    """No record of the shipped library holds, takes or makes a refused substance; no name either."""
    assert list(regulated.refused_records(shipped)) == []
    assert [str(f) for f in check([shipped_library()])
            if f.rule == "refused"] == []  # fmt: skip
    for s in shipped.substances.values():
        for text in (s.name, *s.names):
            assert regulated.verdict(text).refusal("made") is None, text


# --- doors ----------------------------------------------------------------------------------------

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, cas: 7732-18-5, density: 1 g/mL, sources: from memory}
- {id: lime, name: burnt lime, formula: CaO, cas: 1305-78-8, sources: from memory}
- {id: slaked, name: slaked lime, formula: Ca(OH)2, cas: 1305-62-0, sources: from memory}
- {id: oil, name: my oil, EXTRA sources: from memory}
"""
MATERIALS = """\
- {id: tap, name: tap water, form: liquid, everywhere: true, contains: [{substance: water, strength: 100 %}], density: 1 g/mL, sources: from memory}
- {id: bag, name: bag of lime, form: solid, contains: [{substance: lime, strength: 90 %}], sources: from memory}
"""
STEP = """\
- id: slake
  title: Slake lime
  kind: hydration
  equation: CaO(s) + H2O(l) -> Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 60 degC}
  time: {hands_on: 1 h}
  sources: from memory
"""
BREW = """\
- id: brew
  title: Brew my oil
  kind: combination
  recipe: LEFT
  product: PRODUCT
  limiting: lime
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 60 degC}
  time: {hands_on: 1 h}
  sources: from memory
"""
BY_NUMBER = "cas: 76-93-7,"
DISGUISES = {
    "cas": BY_NUMBER,
    "alias": "names: [benzilic acid],",
    "formula": "formula: C14H12O3,",
    "hydrate": "formula: C14H12O3·H2O,",
}


@pytest.fixture(params=DISGUISES)
def hidden(request, make_library):
    """A personal library whose "my oil" is benzilic acid (CWC Schedule 2B), made in one step."""
    extra = DISGUISES[request.param]
    if "formula" not in extra:
        extra += " mixture: true,"
    return make_library(
        substances=SUBSTANCES.replace("EXTRA", extra),
        materials=MATERIALS,
        steps=STEP
        + BREW.replace("LEFT", "100 lime(s) + 20 water(l) -> 50 oil(s)").replace("PRODUCT", "oil"),
    )


def test_library_doors(hidden):
    """Loading, checking and asking: a library that makes a refused one is no library."""
    with pytest.raises(Refused, match="CWC Annex on Chemicals, Schedule 2B"):
        rf.load_library([hidden])
    with pytest.raises(Refused):
        rf.load_library([hidden], only=True)
    for target in ("my oil", "slaked lime"):
        with pytest.raises(Refused):
            rf.find(target, libraries=[hidden], only_library=True)
    faults = [f for f in check([hidden]) if f.rule == "refused"]
    assert {f.line for f in faults} == {4, 11} or {Path(f.path).name for f in faults} == {
        "test.yaml"
    }
    assert any("steps" in f.path for f in faults)
    assert any("substances" in f.path for f in faults)


def test_a_library_put_together_in_python(hidden):
    """The stages refuse it too, when nobody loaded it through the front door."""
    library = load([hidden]).library
    shelf = Shelf(())
    with pytest.raises(Refused):
        read_question(library, "my oil", "10 g")
    with pytest.raises(Refused):
        answering.answer(library, Question("oil", 10.0, shelf))
    with pytest.raises(Refused):
        answering.answer(library, Question("slaked", 10.0, shelf))
    with pytest.raises(Refused):
        rf.reaction_graph(library)
    rows = coverage.coverage(library, [coverage.Target("my oil")]).rows
    assert rows[0].routes == 0
    assert "refused" in rows[0].why


def test_a_passed_library_that_grows_is_judged_again(shipped):
    """A record added later to a library in memory is seen."""
    grown = replace(shipped, substances=dict(shipped.substances))
    regulated.refuse_library(grown)
    grown.substances["oil"] = Substance.model_validate(
        {"id": "oil", "name": "oil", "cas": "76-93-7"}
    )
    with pytest.raises(Refused):
        regulated.refuse_library(grown)


@pytest.mark.parametrize("where", ["taken", "aid", "by-product", "material"])
def test_every_node_counts(make_library, where):
    """A reactant, an auxiliary, a by-product, the contents of a material."""
    steps = STEP
    materials = MATERIALS
    if where == "taken":
        steps += BREW.replace("LEFT", "10 lime(s) + 20 oil(l) -> 5 slaked(s)").replace(
            "PRODUCT", "slaked"
        )
    elif where == "by-product":
        steps += BREW.replace("LEFT", "10 lime(s) + 20 water(l) -> 5 slaked(s) + 2 oil(l)").replace(
            "PRODUCT", "slaked"
        )
    elif where == "aid":
        steps = steps.replace(
            "  sources",
            "  auxiliaries: [{substance: oil, role: solvent, amount: 20 g/mol}]\n  sources",
        )
    else:
        materials += "- {id: tin, name: tin of oil, form: liquid, contains: [{substance: oil, strength: 5 %}], sources: from memory}\n"
    folder = make_library(
        substances=SUBSTANCES.replace("EXTRA", BY_NUMBER + " mixture: true,"),
        materials=materials, steps=steps,
    )  # fmt: skip
    kinds = {kind for kind, _, _ in regulated.refused_records(load([folder]).library)}
    assert ("materials" if where == "material" else "steps") in kinds
    with pytest.raises(Refused):
        rf.load_library([folder], only=True)


def test_only_library_keeps_the_lists(make_library):
    """Leaving the shipped library out leaves the lists in; a library's own rows only add."""
    own = (
        "- {list: House rule, name: burnt lime, verdict: flag, date: today, source: from memory}\n"
    )
    folder = make_library(
        substances=SUBSTANCES.replace("EXTRA", "mixture: true,"), materials=MATERIALS, steps=STEP,
        regulated=own,
    )  # fmt: skip
    library = rf.load_library([folder], only=True)
    with pytest.raises(Refused):
        read_question(library, "sarin", "1 g")
    assert [h.list for h in regulated.verdict(library.substance("lime"), library).flags] == [
        "House rule"
    ]
    strict = own.replace("flag", "refuse").replace("burnt lime", "slaked lime")
    (folder / "regulated.yaml").write_text(strict, encoding="utf-8")
    with pytest.raises(Refused, match="House rule"):
        rf.load_library([folder], only=True)
    (folder / "regulated.yaml").write_text(
        "- {list: x, name: sarin, verdict: free}\n", encoding="utf-8"
    )
    with pytest.raises(LibraryFaults, match=r"regulated\.yaml:1"):
        rf.load_library([folder], only=True)


def test_materials_given_by_name(shipped, tmp_path):
    """--from, a list of materials, a shelf file."""
    with pytest.raises(Refused):
        read_question(shipped, "CuSO4·5H2O", "10 g", use=["acetic anhydride"])
    with pytest.raises(Refused):
        read_question(shipped, "CuSO4·5H2O", "10 g", use_up="acetic anhydride")
    with pytest.raises(Refused):
        read_question(shipped, "CuSO4·5H2O", "10 g", shelf=["phosgene"])
    for name, text in (
        ("s.csv", "material,amount\nacetic anhydride,1 kg\n"),
        ("s.yaml", "- thionyl chloride\n"),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
        with pytest.raises(Refused):
            read_question(shipped, "CuSO4·5H2O", "10 g", shelf=tmp_path / name)


@pytest.mark.parametrize("text", ["sarin", "76-93-7", "C7H5N3O6", "ephedrine hydrochloride"])
def test_find_in_python(text):
    """The front door of the Python API."""
    for door in (rf.find, rf.unlock):
        with pytest.raises(Refused, match=r"^refused:"):
            door(text, "10 g")


def test_to_avoid_is_not_to_use(shipped):
    """--avoid may name anything; an unknown name is only unknown."""
    with pytest.raises(NameNotFound):
        read_question(shipped, "CuSO4·5H2O", "10 g", avoid=["phosgene"])


NETWORK = "id,reactants,products,cost\na,stone,lime,1\nb,stone + phosgene,lime,1\nc,lime,benzilic acid,1\nd,lime,slag + 107-44-8,1\n"


def test_networks_from_files(tmp_path):
    """A refused target or thing at hand ends it; steps with a refused node are left out and named."""
    path = tmp_path / "net.csv"
    path.write_text(NETWORK, encoding="utf-8")
    for target, have in (
        ("benzilic acid", ["stone"]),
        ("lime", ["stone", "phosgene"]),
        ("107-44-8", ["stone"]),
    ):
        with pytest.raises(Refused):
            find_in_network(path, target, have)
    found = find_in_network(path, "lime", ["stone"])
    assert [r.steps for r in found.found.routes] == [("a",)]
    assert [(r.step, r.node) for r in found.refused] == [
        ("b", "phosgene"),
        ("c", "benzilic acid"),
        ("d", "107-44-8"),
    ]
    assert [r["step"] for r in found.json()["refused_steps"]] == ["b", "c", "d"]
    none = find_in_network(path, "slag", ["stone"])
    assert none.found.routes == ()
    listed = tmp_path / "net.json"
    listed.write_text(
        json.dumps(
            {"steps": [{"id": "a", "reactants": ["x"], "products": ["y"]}], "shelf": ["x", "sarin"]}
        )
    )
    with pytest.raises(Refused):
        find_in_network(listed, "y")


def test_networks_in_python():
    """`best_routes` refuses names that it can know."""
    good = rf.PlainStep("a", ["stone"], ["lime"])
    assert rf.best_routes([good], ["stone"], "lime").routes
    for step in (rf.PlainStep("b", ["stone"], ["sarin"]), rf.PlainStep("b", ["505-60-2"], ["lime"]),
                 rf.PlainStep("b", ["stone"], ["KClO4"])):  # fmt: skip
        with pytest.raises(Refused):
            rf.best_routes([good, step], ["stone"], "lime")
    with pytest.raises(Refused):
        rf.best_routes([good], ["stone"], "Benzilic  Acid")
    taken = rf.PlainStep("b", ["KClO4"], ["KCl"])  # lawful to have, not to make
    assert rf.best_routes([taken], ["KClO4"], "KCl").routes


def test_no_public_door_is_forgotten():
    """Every public name either has a door test here or is a value that no question goes into."""
    # other modules' public entrances: coverage.coverage and the stages are tested above too
    tested = {"best_routes", "find", "unlock", "load_library", "reaction_graph"}
    values = {
        "Answer", "Bench", "Comparison", "Ending", "Found", "Library", "Limits", "PlainStep", "Plan",
        "Question", "Route", "Shelf", "StepSet", "Unlocked", "__version__", "errors",
    }  # fmt: skip
    of_answers = {"compare", "plan"}  # take an answer, which a refused question never gives
    assert set(rf.__all__) == tested | values | of_answers
    functions = {
        f"{home.__name__.rpartition('.')[2]}.{name}"
        for home in (find, network, of_library, own_yields, questions, answering, answers)
        for name, thing in vars(home).items()
        if inspect.isfunction(thing) and thing.__module__ == home.__name__ and name[0] != "_"
    }
    assert functions == {
        "find.find", "find.compare", "find.plan", "find.unlock", "question.read_question",
        "question.read_shelf", "question.read_amount", "question.hazard_limits",
        "network.find_in_network", "library.load_library", "own_yields.with_own_yields",
        "answering.answer", "answering.grams_used", "answer.route_name",
    }  # fmt: skip


COMMANDS = [
    ("find", "sarin"), ("find", "107448"), ("find", "C7H5N3O6", "--json"),
    ("find", "CuSO4·5H2O", "--from", "acetic anhydride"), ("draw", "picric acid", "-o", "x.svg"),
    ("find", "Ephedrine Hydrochloride", "--top", "1"), ("plan", "sarin"), ("compare", "TNT"), ("unlock", "sarin"),
]  # fmt: skip


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_commands_refuse(words, tmp_path, monkeypatch, call):
    """A sentence on stderr, exit code 3, nothing on stdout, nothing written."""
    monkeypatch.chdir(tmp_path)
    code, out, err = call(*words)
    assert code == 3
    assert out == ""
    assert err.startswith("routefinder: refused: ")
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("hidden", ["cas"], indirect=True)
def test_commands_refuse_networks_and_libraries(tmp_path, hidden, call):
    """`find --network` and `--library`, `check` with its fault and exit code 1."""
    path = tmp_path / "net.csv"
    path.write_text(NETWORK, encoding="utf-8")
    assert call("find", "benzilic acid", "--network", path, "--have", "stone")[0] == 3
    assert call("find", "lime", "--network", path, "--have", "stone", "--have", "phosgene")[0] == 3
    code, out, err = call("find", "lime", "--network", path, "--have", "stone")
    assert code == 0
    assert "Step b is left out: phosgene" in out
    for words in (
        ("find", "slaked lime"),
        ("draw", "slaked lime", "-o", tmp_path / "x.svg"),
        ("look", "slaked lime"),
    ):
        code, out, err = call(*words, "--library", hidden)
        assert (code, out) == (3, "")
        assert "CWC Annex on Chemicals" in err
    code, out, err = call("check", hidden)
    assert code == 1
    assert "Schedule 2B" in out


def test_look_says_why(call):
    """`look` is the place to look a false alarm up: list, date, source, how it was recognised."""

    code, out, _ = call("look", "benzilic acid", "--json")
    assert code == 0
    found = json.loads(out)
    assert found["refused"] is True
    (row,) = found["control_lists"]
    assert row["part"] == "Schedule 2B"
    assert row["matched_by"] == "name"
    assert row["cas"] == "76-93-7"
    assert row["date"]
    assert row["source"]
    text = " ".join(call("look", "C2H6ClO3P")[1].split())
    assert "recognised by formula 'C2H6ClO3P'" in text
    assert "Ethephon shares the formula rule" in text
    # an isomer of a listed acid, cleared by its CAS number
    text = " ".join(call("look", "methyl benzoate")[1].split())
    assert "not refused for its formula alone" in text
    assert "Phenylacetic acid, CAS 103-82-2" in text
    text = " ".join(call("look", "nitric acid")[1].split())
    assert "limit 3.0 %" in text
    assert "check your country" in text
