"""Each chemistry lint has a case that trips it, one that passes, and is silenced by exceptions."""

from __future__ import annotations

import pytest

from routefinder.chem import solutions
from routefinder.library import chemistry_lints as lints
from routefinder.library import solubility
from routefinder.library.check import check
from routefinder.library.load import load

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, cas: 7732-18-5, sources: from memory}
- {id: chalk, name: chalk, formula: CaCO3, cas: 471-34-1, sources: from memory}
- {id: lime, name: lime, formula: CaO, cas: 1305-78-8, sources: from memory}
- {id: carbon-dioxide, name: carbon dioxide, formula: CO2, cas: 124-38-9, sources: from memory}
- {id: hydrogen, name: hydrogen, formula: H2, cas: 1333-74-0, sources: from memory}
- {id: ammonia, name: ammonia, formula: NH3, cas: 7664-41-7, sources: from memory}
- {id: salmiac, name: salmiac, formula: NH4Cl, cas: 12125-02-9, sources: from memory}
- {id: slaked, name: slaked lime, formula: Ca(OH)2, cas: 1305-62-0, sources: from memory}
- {id: acid, name: hydrochloric acid, formula: HCl, cas: 7647-01-0, sources: from memory}
- {id: vinegar, name: acetic acid, formula: C2H4O2, cas: 64-19-7, sources: from memory}
- {id: lye, name: caustic soda, formula: NaOH, cas: 1310-73-2, sources: from memory}
- {id: zinc, name: zinc, formula: Zn, cas: 7440-66-6, sources: from memory}
- {id: zinc-chloride, name: zinc chloride, formula: ZnCl2, cas: 7646-85-7, sources: from memory,
   notes: "Deliquescent."}
- {id: calcium-chloride, name: calcium chloride, formula: CaCl2, cas: 10043-52-4,
   sources: from memory, storage: {how: hygroscopic}}
- {id: calcium-acid, name: calcium acid thing, formula: CaCl2CO2, sources: from memory}
- {id: common-salt, name: common salt, formula: NaCl, cas: 7647-14-5, sources: from memory}
- {id: alum, name: alum anhydrous, formula: KAl(SO4)2, sources: from memory,
   solubility: {at: [[10 degC, 3.99], [20 degC, 5.90], [50 degC, 17.0], [60 degC, 24.8]], source: from memory}}
- {id: alum-crystals, name: alum, formula: KAl(SO4)2·12H2O, hydrate_of: alum, sources: from memory}
""".replace("solubility: {at", "solubility: [{at").replace(
    "source: from memory}}\n- {id: alum-", "source: from memory}]}\n- {id: alum-"
)


def step(
    equation, product, limiting, kind="dissolution", low=20, high=30, equipment="", extra="",
    yields="low: 70 %, typical: 75 %, high: 80 %", basis="air-dry",
):  # fmt: skip
    listed = f"  equipment: [{equipment}]\n" if equipment else ""
    return (
        f"- id: tried\n  title: Try it\n  kind: {kind}\n  equation: \"{equation}\"\n"
        f"  product: {product}\n  limiting: {limiting}\n"
        f"  yield: {{{yields}, basis: \"{basis}\", source: common practice}}\n"
        f"  temperature: {{low: {low} degC, high: {high} degC}}\n  time: {{hands_on: 1 h}}\n"
        f"{listed}{extra}  sources: common practice\n"
    )  # fmt: skip


@pytest.fixture
def hits(make_library):
    """The rules that a step trips, with their sentences."""

    def find(text):
        folder = make_library(steps=text, substances=SUBSTANCES)
        loaded = load([folder])
        assert [str(f) for f in loaded.faults] == []
        rules = {f.rule for rule in lints.RULES for f in rule(loaded)}
        assert {f.rule for f in check([folder])} >= rules  # the rules are part of `check`
        return {f.rule: f.what for rule in lints.RULES for f in rule(loaded)}

    return find


BURN = {"equation": "CaCO3(s) -> CaO(s) + CO2(g)", "product": "CaO", "limiting": "CaCO3",
        "kind": "burning"}  # fmt: skip
ZINC = {"equation": "Zn(s) + 2 HCl(aq) -> ZnCl2(aq) + H2(g)", "product": "ZnCl2", "limiting": "Zn"}
STRIP = {
    "equation": "2 NH4Cl(aq) + Ca(OH)2(s) -> CaCl2(aq) + 2 NH3(g) + 2 H2O(l)",
    "product": "CaCl2", "limiting": "Ca(OH)2",
}  # fmt: skip
ALUM = {
    "equation": "KAl(SO4)2(aq) + 12 H2O(l) -> KAl(SO4)2·12H2O(s)", "product": "KAl(SO4)2·12H2O",
    "limiting": "KAl(SO4)2", "kind": "crystallisation", "low": 10, "high": 60,
    "equipment": "cool, crystallise",
}  # fmt: skip
LYE = {"equation": "HCl(aq) + NaOH(aq) -> NaCl(aq) + H2O(l)", "product": "NaCl", "limiting": "HCl"}
SOLID = {"equation": "CaO(s) + 2 HCl(aq) -> CaCl2(s) + H2O(l)", "product": "CaCl2",
         "limiting": "CaO"}  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "bad", "good", "says"),
    [
        ("too-cold", {**BURN, "low": 600, "high": 780}, {**BURN, "low": 850, "high": 1000},
         "780 degC"),
        ("fumes", STRIP, {**STRIP, "equipment": "fume-extraction"}, "ammonia is given off"),
        ("fumes", {**LYE, "extra": "  gives_off: [ammonia]\n"},
         {**LYE, "extra": "  gives_off: [{what: ammonia, traces: true}]\n"}, "ammonia is given off"),
        ("fumes", {**LYE, "extra": "  gives_off: [bad air]\n"},
         {**LYE, "extra": "  gives_off: [acid mist]\n"}, "nobody knows what 'bad air' is"),
        ("hydrogen", ZINC, {**ZINC, "equipment": "ventilation"}, "hydrogen is given off"),
        ("hydrogen", ZINC, {**ZINC, "equipment": "fume-extraction"}, "changes the air"),
        ("great-crop", {**ALUM, "yields": "low: 70 %, typical: 75 %, high: 95 %"},
         {**ALUM, "yields": "low: 70 %, typical: 75 %, high: 86 %"}, "87% at most"),
        ("great-crop", {**ALUM, "yields": "low: 70 %, typical: 75 %, high: 95 %"},
         {**ALUM, "yields": "low: 70 %, typical: 75 %, high: 95 %", "basis": "dry, two crops"},
         "the high yield is 95%"),
        ("attacked-vessel", {**ZINC, "equipment": "ventilation, vessel: {made_of: [aluminium, PP]}"},
         {**ZINC, "equipment": "ventilation, vessel: {made_of: [PP]}"}, "aluminium"),
        ("attacked-vessel", {**ZINC, "equipment": "vessel: {made_of: [stainless steel]}"},
         {**ZINC, "equipment": "vessel: {made_of: [borosilicate]}"}, "stainless steel"),
        ("attacked-vessel", {**LYE, "high": 95, "equipment": "vessel: {made_of: [borosilicate]}", "extra": "  excess: {NaOH: 20 %}\n"},
         {**LYE, "high": 50, "extra": "  excess: {NaOH: 20 %}\n", "equipment": "vessel: {made_of: [borosilicate]}"}, "hot strong alkali"),
        ("attacked-vessel", {**BURN, "low": 850, "high": 1000,
                             "equipment": "vessel: {made_of: [PP], to: 1000 degC}"},
         {**BURN, "low": 850, "high": 1000, "equipment": "vessel: {made_of: [alumina], to: 1000 degC}"},
         "PP stands 135 degC"),
        ("silent-carbonate",
         {"equation": "CaCO3(s) + 2 HCl(aq) -> calcium-acid(aq) + H2O(l)",
          "product": "calcium-acid", "limiting": "CaCO3"},
         {"equation": "CaCO3(s) + 2 HCl(aq) -> CaCl2(aq) + H2O(l) + CO2(g)", "product": "CaCl2",
          "limiting": "CaCO3"}, "no carbon dioxide"),
        ("blind-test", {**LYE, "extra": "  tests: [{method: iodometry}]\n"},
         {**LYE, "extra": "  tests: [{method: alkali}]\n"}, "sees nothing"),
        ("damp-product", SOLID, {**SOLID, "extra": "  storage: {how: dry jar}\n"}, "hygroscopic"),
    ],
)  # fmt: skip
def test_rule_trips_passes_and_is_excused(hits, rule, bad, good, says):
    """The bad step trips the rule, the good one does not, an exception silences it."""
    found = hits(step(**bad))
    assert rule in found
    assert says in found[rule]
    assert rule not in hits(step(**good))
    extra = bad.get("extra", "") + f"  exceptions: {{{rule}: a reason}}\n"
    assert rule not in hits(step(**{**bad, "extra": extra}))


def test_every_rule_has_a_case():
    """Eight rules; each name appears in the table above."""
    names = {mark.args[1][i][0] for mark in test_rule_trips_passes_and_is_excused.pytestmark
             for i in range(len(mark.args[1]))}  # fmt: skip
    assert names == {f.__name__.replace("_", "-") for f in lints.RULES}


def test_lime_within_the_margin(hits):
    """864 degC is computed: a window that ends 50 K below is let pass, 70 K below is not."""
    assert "too-cold" not in hits(step(**{**BURN, "low": 700, "high": 800}))
    assert "too-cold" in hits(step(**{**BURN, "low": 700, "high": 775}))


def test_crops_of_alum_by_hand():
    """SCENARIOS S2: 7.58 g and 57.5 g of crystals per 100 g free water; 86.8 %; 68.7 % from 50."""
    ratio = 474.37 / 258.19
    cold, hot = (solutions.crystals_per_free_water(s, ratio) for s in (3.99, 24.8))
    assert cold == pytest.approx(7.58, abs=0.01)
    assert hot == pytest.approx(57.5, abs=0.1)
    assert solutions.crop(hot, cold) == pytest.approx(0.868, abs=0.001)
    ambient, warm = (solutions.crystals_per_free_water(s, ratio) for s in (5.90, 17.0))
    assert solutions.crop(warm, ambient) == pytest.approx(0.687, abs=0.001)
    # S1: two crops of copper acetate from 20 and 7.2 g: 87.0 %, three 95.3 %
    assert solutions.crop(20, 7.2, 2) == pytest.approx(0.870, abs=0.001)
    assert solutions.crop(20, 7.2, 3) == pytest.approx(0.953, abs=0.001)
    assert solutions.crystals_per_free_water(200, 1.8) is None  # melts in its own crystal water


@pytest.mark.parametrize(
    ("words", "crops"),
    [
        ("air-dry crystals", 1), ("one crop cooled to 10 degC", 1), ("two crops, on zinc", 2),
        ("one or two crops", 2), ("two to three crops", 3), ("liquor boiled down for a second crop", 2),
        ("liquor boiled down again", 2), ("boiled down to a quarter, then cooled", 1),
        ("low one crop 80 to 20 degC, high two crops", 2), ("liquor not used again", 1),
    ],
)  # fmt: skip
def test_crops_in_words(words, crops):
    """The number of crops a basis speaks of."""
    assert solubility.crops_in_words(words) == crops


def test_no_bound_outside_the_table_or_by_evaporation(hits):
    """No table, no bound: beyond its ends, and when crystals come by evaporation alone."""
    great = {**ALUM, "yields": "low: 70 %, typical: 75 %, high: 99 %"}
    assert "great-crop" in hits(step(**great))
    assert "great-crop" not in hits(step(**{**great, "high": 90}))
    assert "great-crop" not in hits(step(**{**great, "equipment": "evaporate"}))


def test_gas_that_stays_dissolved_is_not_given_off(hits):
    """Ammonia held back wholly in the liquor needs no fume extraction."""
    assert "fumes" not in hits(step(**{**STRIP, "extra": "  stays_dissolved: {NH3: 100 %}\n"}))
    assert "fumes" in hits(step(**{**STRIP, "extra": "  stays_dissolved: {NH3: 90 %}\n"}))


def test_vinegar_on_zinc_plate():
    """Organic acids attack zinc plate (below pH 5), but not stainless steel."""
    from routefinder.library.vessel_attack import attack_on
    from routefinder.records.substance import Substance

    vinegar = Substance(id="v", name="acetic acid", formula="C2H4O2")
    assert attack_on("zinc-plated steel", [(vinegar, "aq")], 20)
    assert attack_on("stainless steel", [(vinegar, "aq")], 20) is None
    assert attack_on("zinc-plated steel", [(vinegar, "s")], 20) is None


def test_lye_that_is_used_up_spares_the_glass(hits):
    """Hot lye without excess, run into acid, does not count against glass; aluminium minds it."""
    glass = {**LYE, "high": 95, "equipment": "vessel: {made_of: [borosilicate, porcelain]}"}
    assert "attacked-vessel" not in hits(step(**glass))
    assert "attacked-vessel" in hits(step(**{**glass, "extra": "  excess: {NaOH: 5 %}\n"}))
    metal = {**LYE, "equipment": "vessel: {made_of: [aluminium]}"}
    assert "attacked-vessel" in hits(step(**metal))
