"""`look` shows every field of a record, finds what makes and uses it, and refuses unclear names."""

from __future__ import annotations

import json

import pytest

from routefinder.hazards import phrases
from routefinder.library.load import load
from routefinder.library.lookup import Meaning, look_up
from routefinder.view import card, card_text

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, cas: 7732-18-5, density: 1 g/mL, hazards: {statements: [], source: from memory}, sources: from memory}
- id: vitriol
  name: copper(II) sulfate pentahydrate
  names: [blue vitriol, bluestone]
  formula: CuSO4·5H2O
  cas: 7758-99-8
  hydrate_of: dry-vitriol
  hazards: {statements: [H302], caution: [H314], source: "published: sheet A", note: eyes first}
  solutions: [{at_least: 1 %, below: 25 %, statements: [H315], source: "published: sheet B"}]
  density: 2.286 g/mL
  melting: 110 degC
  boiling: 650 degC
  solubility: [{at: [[0 degC, 14.3], [20 degC, 20.7], [100 degC, 75.4]], source: from memory}]
  storage: {how: closed jar, keeps: years, spoils_by: [dry air], source: common practice}
  notes: [turns white when heated]
  sources: ["published: Handbook, page 9", from memory]
- {id: dry-vitriol, name: copper(II) sulfate anhydrous, formula: CuSO4, sources: from memory}
- {id: chalk, name: calcium carbonate, names: [lime], formula: CaCO3, sources: from memory}
- {id: slaked-lime, name: calcium hydroxide, names: [lime], formula: Ca(OH)2, cas: 1305-62-0, sources: from memory}
- {id: hydroxide, name: copper(II) hydroxide, formula: Cu(OH)2, sources: from memory}
- {id: gypsum, name: gypsum, formula: CaSO4·2H2O, sources: from memory}
- {id: acid, name: sulfuric acid, formula: H2SO4, sources: from memory}
- {id: madder, name: madder root, mixture: true, sources: from memory}
- {id: lake, name: madder lake, mixture: true, sources: from memory}
"""
MATERIALS = """\
- {id: tap, name: tap water, form: liquid, everywhere: true, contains: [{substance: water, strength: 100 %}], density: 1 g/mL, sources: from memory}
- id: root-killer
  name: root killer
  names: [blue vitriol]
  form: solid
  contains: [{substance: vitriol, strength: 98 %, low: 97 %, high: 99.5 %}]
  price: 8 USD/kg
  price_source: from memory
  packs: [500 g]
  where: [garden]
  keeps: 520 weeks
  pitfalls: [may be diluted]
  sources: from memory
"""
STEPS = """\
- id: precipitate
  title: Precipitate copper hydroxide with lime
  kind: precipitation
  equation: CuSO4(aq) + Ca(OH)2(s) + 2 H2O(l) -> Cu(OH)2(s) + CaSO4·2H2O(s)
  product: Cu(OH)2
  limiting: CuSO4
  excess: {Ca(OH)2: 5 %}
  strength: {CuSO4: 3 %}
  recovered: {CaSO4·2H2O: 40 %}
  yield:
    basis: dried, on copper
    parts:
      - {what: reaction, low: 90 %, typical: 95 %, high: 99 %, source: "published: B, page 2"}
      - {what: washing, low: 97 %, typical: 98 %, high: 99 %, reading: triangular}
  temperature: {low: 5 degC, high: 25 degC, source: common practice}
  time: {hands_on: 90 min, waiting: 12 h, unattended: true}
  auxiliaries: [{substance: water, role: solvent, amount: 1.5 L/mol, recovered: 20 %}]
  equipment: [filter: {grade: fine}, weigh: {readability: 1 g}]
  done_when: [the liquor is colourless]
  watch: [stay below 25 degC]
  cautions: [blue sludge stains]
  storage: {how: damp}
  notes: [slow]
  sources: ["published: Trade Journal 1901", from memory]
- id: recrystallise
  title: Grow clean crystals of vitriol
  kind: recrystallisation
  equation: CuSO4(s) + 5 H2O(l) -> CuSO4·5H2O(s)
  product: CuSO4·5H2O
  limiting: CuSO4
  yield: {low: 80 %, typical: 85 %, high: 90 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 20 degC}
  time: {hands_on: 1 h}
  sources: common practice
- id: dissolve
  title: Dissolve copper hydroxide in acid
  kind: neutralisation
  equation: Cu(OH)2(s) + H2SO4(l) -> CuSO4(aq) + 2 H2O(l)
  product: CuSO4
  limiting: Cu(OH)2
  yield: {low: 80 %, typical: 85 %, high: 90 %, basis: in solution, source: common practice}
  temperature: {low: 20 degC, high: 20 degC}
  time: {hands_on: 1 h}
  sources: common practice
- id: dye
  title: Lay madder on lime
  kind: laking
  recipe: 100 madder(s) + 20 Ca(OH)2(s) -> 30 lake(s)
  product: lake
  limiting: madder
  yield: {low: 80 %, typical: 85 %, high: 90 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 60 degC}
  time: {hands_on: 1 h}
  auxiliaries: [{substance: water, role: wash, amount: 20 g/g}]
  sources: common practice
"""
EQUIPMENT = """\
- {id: funnel, name: suction funnel, names: [filter flask], offers: [filter: {grade: fine}, dry: {to: 60 degC}], size: 1 L, cautions: [may implode], sources: from memory}
"""


@pytest.fixture
def folder(make_library):
    return make_library(
        substances=SUBSTANCES, materials=MATERIALS, steps=STEPS, equipment=EQUIPMENT
    )


@pytest.fixture
def library(folder):
    loaded = load([folder])
    assert [str(f) for f in loaded.faults] == []
    return loaded.library


@pytest.fixture
def look(call, folder):
    """Run `look`; returns (exit code, stdout, stderr)."""
    return lambda *words: call("look", *words, "--library", folder, "--only-library")


def shown(look, *words):
    code, out, err = look(*words)
    assert (code, err) == (0, "")
    return out


def data(look, *words):
    return json.loads(shown(look, *words, "--json"))


def squeezed(text):
    return " ".join(text.split())


def test_substance_text(look):
    """Every field of a substance stands in its card."""
    text = squeezed(shown(look, "CuSO4.5H2O"))
    for part in (
        "copper(II) sulfate pentahydrate CuSO₄·5H₂O", "blue vitriol, bluestone", "249.68 g/mol",
        "7758-99-8", "copper(II) sulfate anhydrous", "pentahydrate (this one)", "2.286 g/mL",
        "melting 110 °C", "boiling 650 °C", "g CuSO₄ per 100 g water", "0 20 100",
        "14.3 20.7 75.4", "H302 Harmful if swallowed",
        "added for caution, from stricter sources: H314 Causes severe skin burns",
        "[published] sheet A", "eyes first", "from 1.0 % to below 25 %: H315", "closed jar; keeps years",
        "spoils by dry air", "Grow clean crystals of vitriol (recrystallise)",
        "Precipitate copper hydroxide with lime (precipitate)",
        "root killer (root-killer, solid): 98 % (97 to 99.5 %)", "turns white when heated",
        "[published] Handbook, page 9", "[from memory]", "not permission",
    ):  # fmt: skip
        assert part in text, part


def test_caution_is_kept_apart_from_the_source(look):
    """What was added for caution never stands among the source's own statements."""
    found = data(look, "vitriol")["hazards"]
    assert [c["code"] for c in found["statements"]] == ["H302"]
    assert [c["code"] for c in found["added_for_caution"]] == ["H314"]


def test_unknown_and_harmless_are_told_apart(look):
    """No data is said to be unknown; a source without a statement is not."""
    assert "unknown: no source was found" in shown(look, "chalk")
    water = shown(look, "water")
    assert "the source gives no statement" in water
    assert "unknown" not in water


def test_makers_and_users(look):
    """Forms count: what makes it, what takes it dissolved or as it is, and in which role."""
    vitriol = data(look, "vitriol")
    made = [(row["step"], row["state"]) for row in vitriol["made_by"]]
    assert made == [("recrystallise", "solid"), ("dissolve", "in solution")]
    assert [row["step"] for row in data(look, "dry-vitriol")["made_by"]] == ["dissolve"]
    assert [row["step"] for row in vitriol["used_by"]] == ["precipitate"]  # not the dry form's
    dry = data(look, "dry-vitriol")
    assert [row["step"] for row in dry["used_by"]] == ["precipitate", "recrystallise"]
    assert dry["materials"][0]["substance"] == "vitriol"
    gypsum = data(look, "gypsum")["made_by"]
    assert [(row["step"], row["recovered"]) for row in gypsum] == [("precipitate", 0.4)]
    roles = {row["step"]: row["roles"] for row in data(look, "water")["used_by"]}
    assert roles["precipitate"] == ["reactant", "solvent"]
    assert roles["dye"] == ["wash"]
    text = shown(look, "lake")
    assert "no step of the library takes it" in text
    assert "none of the library" in text
    assert "no step of the library makes it" in shown(look, "chalk")
    assert "by-product, 40 % recovered" in shown(look, "gypsum")


def test_long_lists_are_cut_in_text_only(look, monkeypatch):
    """The text names how many more there are; the data have all."""
    monkeypatch.setattr(card_text, "SHOWN", 2)
    assert "... and 1 more; --json lists all" in shown(look, "water")
    assert len(data(look, "water")["used_by"]) == 3


def test_mixture(look):
    """A substance without a formula has no molar mass."""
    assert "none fixed; counted by mass" in shown(look, "madder root")
    assert data(look, "madder")["molar_mass_g_mol"] is None


def test_step_text(look):
    """Every field of a step stands in its card, numbers with their units and sources."""
    text = squeezed(shown(look, "precipitate"))
    for part in (
        "Precipitate copper hydroxide with lime step precipitate (precipitation)",
        "CuSO₄(aq) + Ca(OH)₂(s) + 2 H₂O(l) → Cu(OH)₂(s) + CaSO₄·2H₂O(s)",
        "counted on copper(II) sulfate anhydrous", "5 to 25 °C [common practice]",
        "kJ per mol CuSO₄ at 25 °C, in much water [from memory: the worst mark of its data]",
        "[from memory] enthalpy CRC Handbook; Gibbs energy",
        "1.5 h work, 12 h waiting (may be left alone)", "93 % (87 to 98 %), one book: dried, on copper",
        "reaction: 95 % (90 to 99 %) [published] B, page 2",
        "washing: 98 % (97 to 99 %), triangular", "Ca(OH)₂ 5.0 % over the equation",
        "CuSO₄ at least 3.0 % by mass", "CaSO₄·2H₂O 40 %",
        "water as solvent: 1.50 L per mol CuSO₄, 20 % recovered", "filter (fine)", "weigh to 1 g",
        "the liquor is colourless", "stay below 25 degC", "blue sludge stains", "damp", "slow",
        "unknown for calcium hydroxide", "[published] Trade Journal 1901", "[from memory]",
    ):  # fmt: skip
        assert part in text, part


def test_step_by_title_and_recipe(look):
    """A title names its step; a recipe is in grams with names for what has no formula."""
    text = squeezed(shown(look, "lay madder on lime"))
    assert "100 g madder root + 20 g Ca(OH)₂ → 30 g madder lake" in text
    assert "water as wash: 20.0 g per g madder root" in text


def test_heat_of_a_step(look, shipped):
    """The heat per mole of the limiting reactant with its marks, what is missing, or a recipe.

    Vitriol and lime to copper hydroxide and gypsum, from the rows of CRC and NBS in data.py:
    -449.8 - 2022.69 - (64.8 - 909.3 - 985.2 - 2 x 285.8) kJ.
    """
    from routefinder.library.lookup import Meaning
    from routefinder.view.card import card

    found = data(look, "precipitate")["heat"]
    by_hand = -449.8 - 2022.69 - (64.8 - 909.3 - 985.2 - 2 * 285.8)
    assert found["kJ_per_equation"] == pytest.approx(by_hand, abs=0.05)
    assert found["kJ_per_mol_limiting"] == found["kJ_per_equation"]
    assert found["mark"] == "from memory"
    assert {row["mark"] for row in found["sources"]} == {"from memory", "published"}
    assert "not known: a recipe by weight has no equation" in squeezed(shown(look, "dye"))
    blue = next(s for s in shipped.steps.values() if "CaCuSi4O10" in (s.record.equation or ""))
    heat = card(shipped, Meaning("step", blue.id, ()))["heat"]
    assert heat["kJ_per_mol_limiting"] is None
    assert heat["mark"] is None
    assert any("Egyptian blue" in name for name in heat["missing"])


def test_material(look):
    """A material by its own name: contents, price with its source, keeping, hazards, uses."""
    text = squeezed(shown(look, "root killer"))
    for part in (
        "98 % (97 to 99.5 %) copper(II) sulfate pentahydrate, CuSO₄·5H₂O",
        "8.00 USD per kg [from memory]", "500 g", "garden", "10 years", "may be diluted",
        "H302 Harmful", "(precipitate)",
    ):  # fmt: skip
        assert part in text, part


def test_equipment(look):
    """A kind of equipment: what it can do, and how many steps that serves."""
    text = squeezed(shown(look, "filter flask"))
    assert "filter (fine) (serves 1 step)" in text
    assert "dry a solid to 60 °C (serves 0 steps)" in text
    assert "may implode" in text
    assert data(look, "funnel")["offers"][0]["steps"] == ["precipitate"]


def test_one_name_of_several_kinds(look):
    """The substance goes first, the others are named, and --kind picks one."""
    out = squeezed(shown(look, "blue vitriol"))
    assert "substance vitriol" in out
    assert "routefinder look root-killer --kind material" in out
    assert data(look, "blue vitriol", "--kind", "material")["id"] == "root-killer"
    assert data(look, "vitriol")["also"] == []


def test_an_id_means_itself(make_library):
    """An id goes before another kind's name."""
    materials = MATERIALS.replace("name: tap water", "name: chalk").replace("id: tap", "id: stone")
    substances = SUBSTANCES.replace(
        "names: [lime], formula: CaCO3", "names: [stone], formula: CaCO3"
    )
    folder = make_library(substances=substances, materials=materials, steps=STEPS)
    library = load([folder]).library
    found = look_up(library, "stone")
    assert (found.kind, found.id, found.also) == ("material", "stone", (("substance", "chalk"),))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["lime"], ["'lime' may mean several things", "chalk  (calcium carbonate, CaCO₃)",
                    "slaked-lime  (calcium hydroxide, Ca(OH)₂)"]),
        (["copper hydroxyde"], ["nothing is called 'copper hydroxyde'", "copper(II) hydroxide"]),
        (["suction funel"], ["nothing is called", "suction funnel"]),
        (["precipitat"], ["nothing is called", "Precipitate copper hydroxide"]),
        (["vitriol", "--kind", "step"], ["no step is called 'vitriol'"]),
        (["vitriol", "--kind", "spell"], ["unknown kind 'spell'; choose one of substance"]),
        ([""], ["nothing is called ''"]),
        (["7647-14-5"], ["nothing is called '7647-14-5'"]),
    ],
)  # fmt: skip
def test_names_that_do_not_do(look, words, says):
    """Exit code 2 with the choices or the closest names, and nothing on the output."""
    code, out, err = look(*words)
    assert (code, out) == (2, "")
    for text in says:
        assert text in err, err


def test_every_choice_can_be_written(look, library):
    """What an ambiguous name offers leads to one record each."""
    with pytest.raises(LookupError) as caught:
        look_up(library, "lime")
    assert len(caught.value.choices) == 2
    for choice in caught.value.choices:
        assert data(look, choice)["id"] == choice


def test_every_shipped_record_has_a_card(shipped):
    """All records of the shipped library have their data; every ninth is drawn as text too."""
    import io

    from routefinder.view import text

    kinds = {
        "substance": shipped.substances, "material": shipped.materials, "step": shipped.steps,
        "equipment": shipped.equipment,
    }  # fmt: skip
    for kind, records in kinds.items():
        assert records
        for i, name in enumerate(records):
            found = card.card(shipped, Meaning(kind, name))
            assert found["id"] == name
            json.dumps(found)
            if i % 9 == 0:
                out = io.StringIO()
                card_text.print_card(found, text.console(width=100, file=out))
                assert found["name"][:40] in out.getvalue()


def test_every_scored_statement_has_its_wording():
    """A code that counts for a score can be read out; the two tables do not overlap."""
    from routefinder.hazards.score import STATEMENTS

    assert not set(phrases.READ) & set(phrases.REMEMBERED)
    silent = [code for code in STATEMENTS if code[0] == "H" and not phrases.phrase(code)]
    assert silent == []
    assert phrases.phrase("H350i") == f"{phrases.phrase('H350')} by inhalation"
    assert phrases.phrase("EUH999") == ""
    assert "acids" in phrases.phrase("EUH031")


def test_step_safety_in_text_and_data(look):
    """A step's card says what it asks for: label, points, cautions, vessels."""
    text = squeezed(shown(look, "dissolve"))
    for part in (
        "hazards partly unknown: treat as hazardous", "dangers", "■■■□ 3 of 4",
        "no hazard data, counted cautiously",
        "wear and use", "acid into water",
    ):  # fmt: skip
        assert part in text, part
    found = data(look, "dissolve")["safety"]
    assert set(found["points"]) == {
        "toxic", "corrosive", "fire", "heat", "gas", "temperature", "dust", "environment",
    }  # fmt: skip
    assert found["label"]["unknown"]
    # unknown counts toxic 3, corrosive 2; the dissolved salt as its stricter hydrate, H314: 3
    assert {a: found["points"][a]["points"] for a in ("toxic", "corrosive")} == {
        "toxic": 3, "corrosive": 3,
    }  # fmt: skip
    assert all(a["source"] for a in found["wear"])


def test_batch_of_a_step(look):
    """--amount adds the air and the leavings; nonsense is one sentence."""
    found = data(look, "precipitate", "--amount", "100 g", "--room", "20 m3")
    assert found["batch"]["product_g"] == pytest.approx(100.0)
    assert found["batch"]["room"]["volume_m3"] == pytest.approx(20.0)
    assert {h["rule"] for h in found["batch"]["leavings"]} == {"local rules decide"}
    text = squeezed(shown(look, "precipitate", "--amount", "100 g"))
    assert "room of 30 m³, 0.5 air changes an hour" in text
    assert "local rules decide" in text
    for words, part in (
        (("CuSO4.5H2O", "--amount", "1 g"), "belongs to a step"),
        (("precipitate", "--amount", "0 g"), "above 0"),
        (("precipitate", "--amount", "1 g", "--room", "0 L"), "above 0 m³"),
        (("precipitate", "--amount", "1 g", "--air-changes", "-1"), "below 0"),
        (("precipitate", "--amount", "lots"), "lots"),
    ):
        code, _, err = look(*words)
        assert (code, err.count("\n")) == (2, 1), words
        assert part in err


def test_shelf_check(tmp_path, call):
    """look --shelf names what must stand apart, in text and as data."""
    path = tmp_path / "shelf.csv"
    path.write_text(
        "material,amount\nchlorine bleach,1 L\nmuriatic acid 30 %,1 L\naluminium foil,1 kg\n"
        '"citric acid, anhydrous",1 kg\n',
        encoding="utf-8",
    )

    code, text, err = call("look", "--shelf", str(path))
    assert (code, err) == (0, "")
    text = squeezed(text)
    assert "Never side by side" in text
    assert "chlorine gas" in text
    assert "not permission" in text
    found = json.loads(call("look", "--shelf", str(path), "--json")[1])
    assert found["schema"] == "routefinder/shelf-check/1"
    assert {"acid-hypochlorite", "acid-metal"} <= {a["rule"] for a in found["apart"]}
    assert len(found["labels"]) == 4
    assert call("look")[0] == 2
    assert call("look", "slake-quicklime", "--shelf", str(path))[0] == 2


def test_a_name_needs_no_quotes(look):
    """Several words are one name, as in the other commands."""
    code, out, _ = look("root", "killer")
    assert code == 0
    assert out == look("root killer")[1]
