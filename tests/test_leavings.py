"""Leavings by stream: laws over every step, judged by other code than the one that writes them."""

from __future__ import annotations

import re

import pytest

from routefinder.assessment import leavings as left
from routefinder.assessment.leavings import Left
from routefinder.assessment.one_step import one_step
from routefinder.hazards.kinds import kinds
from routefinder.library.cache import load_cached
from routefinder.vessel.stages import is_dry_heat

SOUR = {"strong acid", "mineral acid", "oxidising acid", "organic acid", "acid salt"}
OXIDISERS = {"hypochlorite", "peroxide", "strong oxidiser"}
REDUCERS = {"sulfite", "thiosulfate"}
HOLDS = {"ammonia", "ammonium salt", "thiosulfate"}
OIL = """
- id: mineral-oil
  name: mineral oil
  cas: 8042-47-5
  mixture: true
  hazards: {statements: [H304], source: "from memory"}
  sources: "from memory"
"""
MELT = """
- id: melt-sodium-together
  title: Melt scraps of sodium together under mineral oil
  kind: melting
  equation: Na(s) -> Na(l)
  product: sodium
  limiting: sodium
  yield: {low: 80 %, typical: 90 %, high: 95 %, basis: "clean metal", source: common practice}
  temperature: {low: 110 degC, high: 130 degC}
  time: {hands_on: 1 h}
  auxiliaries:
    - {substance: mineral-oil, role: medium, amount: 100 g/mol}
  equipment:
    - heat-liquid: {to: 130 degC}
  sources: "invented: for a test"
"""


@pytest.fixture(scope="module")
def every(shipped):
    """(step, handling) of all steps, 100 g of product each."""
    return [
        (step, handling)
        for step in shipped.steps.values()
        for handling in left.leavings(shipped, [one_step(shipped, step, 100.0)])
    ]


def names(library, handling):
    """Kinds of all that is in a stream."""
    named = (w.substance for w in handling.what if w.substance)
    return set().union(*(kinds(library.substances[name]).names for name in named))


def test_nothing_solid_is_thrown_out_of_solution(every):
    """An insoluble glass, oxide or soap is handed in as it is; solids and liquors stand apart."""
    solids = [h for _, h in every if h.where == "solids"]
    assert len(solids) > 500
    for h in solids:
        assert all(w.state == "s" for w in h.what)
        assert "out of solution" not in h.how
        assert "calcium chloride" not in h.how
    assert all(w.state != "s" for _, h in every if h.where == "liquor" for w in h.what)


def test_no_sulfite_into_a_sour_oxidiser(shipped, every):
    """Oxidiser with acid in one liquor: no sulfite, no thiosulfate, and the sheet says never."""
    met = 0
    for step, h in every:
        known = names(shipped, h)
        if h.where == "liquor" and known & OXIDISERS and known & SOUR:
            met += 1
            assert not re.search("sulfite", h.how), step.id
            assert any("sulfite" in n.agent for n in h.never), step.id
            assert "open" in h.how or "vents" in h.how
    assert met >= 10


def test_acid_and_sulfite_are_told_as_one(shipped, every):
    """Acid and sulfite in one liquor give sulfur dioxide: said, and made alkaline first."""
    met = 0
    for step, h in every:
        known = names(shipped, h)
        if h.where == "liquor" and known & REDUCERS and known & SOUR and not known & OXIDISERS:
            met += 1
            assert "sulfur dioxide" in h.how, step.id
            assert "peroxide" not in h.how
    assert met >= 2


def test_soda_only_where_it_can_do_it(shipped, every):
    """No soda for a metal that ammonia, citrate, tartrate or oxalate holds; foam is told."""
    thrown = held = 0
    for step, h in every:
        if "out of solution with soda" in h.how:
            thrown += 1
            assert not names(shipped, h) & HOLDS, step.id
            formulas = " ".join(
                shipped.substances[w.substance].formula or "" for w in h.what if w.substance
            )
            assert not re.search("NH3|C2O4|C6H5O7|C4H4O6", formulas), step.id
            assert ("it foams" in h.how) == bool(names(shipped, h) & SOUR), step.id
        held += "holds the metal" in h.how
    assert thrown > 60
    assert held >= 3


def test_household_waste_holds_nothing_grave(shipped, every):
    """Household waste or a drain only where every single thing is of low hazard."""
    for step, h in every:
        if "household" in h.how or h.how.startswith("drain"):
            for w in h.what:
                kind = w.like or left.kind_of(shipped.substances[w.substance], w.state)
                assert kind in {"low hazard", "organic", "oil", left.SCRAP}, (step.id, w.name)


def test_no_liquor_of_a_poisonous_metal_goes_down_the_drain(shipped, every):
    """A liquor from which copper, cobalt, zinc... was thrown out still holds some of it."""
    poisons = set(left.METALS)
    met = 0
    for step, h in every:
        formulas = [
            shipped.substances[p.substance] for p in (*step.reactants, *step.products)
            if p.state != "g" and shipped.substances[p.substance].formula != "BaSO4"
        ]  # fmt: skip
        if h.where != "liquor" or not any(
            s.parsed is not None and poisons & set(s.parsed.counts)
            and "cyanoferrate" not in kinds(s)
            for s in formulas
        ):  # fmt: skip
            continue
        met += 1
        assert "metal: " in h.kind, (step.id, h.kind)
        assert "drain with much water" not in h.how
        assert "pour into much water" not in h.how.split("then ")[0], (step.id, h.how)
    assert met > 180


def test_records_do_not_tell_soda_where_it_fails(shipped, every):
    """Where ammonia, tartrate, citrate or oxalate holds the metal, the record's words agree."""
    soda = re.compile(r"(precipitate|strip|throw)\b.{0,60}\bwith soda", re.IGNORECASE)
    told = 0
    for step, h in every:
        texts = [t for t in (*step.record.cautions, *step.record.watch) if soda.search(t)]
        told += bool(texts)
        formulas = " ".join(
            shipped.substances[w.substance].formula or "" for w in h.what if w.substance
        )
        if h.where == "liquor" and (
            names(shipped, h) & HOLDS or re.search("NH3|C2O4|C6H5O7|C4H4O6", formulas)
        ):
            assert not texts, (step.id, texts)
    assert told > 50


def test_what_is_told_is_not_forbidden(every):
    """The handling adds nothing that its own "never add" names."""
    gives = {
        "acid": r"add [\w ]*(vinegar|acid)|with citric acid",
        "peroxide": r"(with|add) a little peroxide",
        "sulfite": r"take the strength out with",
    }
    for step, h in every:
        for n in h.never:
            for word, pattern in gives.items():
                if word in n.agent:
                    assert not re.search(pattern, h.how), (step.id, h.how, n.agent)


def test_every_stream_is_whole(shipped, every):
    """All grams of waste, unreacted and lost matter are in exactly one stream."""
    sums = {}
    for step, h in every:
        sums[step.id] = sums.get(step.id, 0.0) + h.mass_g
        assert h.how
        assert h.where in {"liquor", "solids", "liquid", "sludge"}
    for step in shipped.steps.values():
        waste = sum(
            o.mass_g for o in one_step(shipped, step, 100.0).outcomes
            if o.fate in {"waste", "unreacted", "lost"} and o.state != "g"
            and shipped.substances[o.substance].formula != "H2O" and o.mass_g >= 1e-6
        )  # fmt: skip
        if step.is_recipe:  # with what it does not name
            parts = [
                (key, float(grams))
                for way, stream in one_step(shipped, step, 100.0).course.leavings.items()
                if way in {"filtrate", "washings", "residue", "spilt"}
                for key, grams in stream.parts.items()
            ]
            waste += sum(g for (what, _), g in parts if what == "~the rest of the recipe")
        assert sums.get(step.id, 0.0) == pytest.approx(waste, rel=1e-9), step.id


def test_metal_in_oil_is_one_sludge(make_library, shipped):
    """Oil, oxide and metal that burns with water are one thing, never household waste."""
    library = load_cached([make_library(substances=OIL, steps=MELT)])
    amount = one_step(library, library.steps["melt-sodium-together"], 100.0)
    found = left.leavings(library, [amount])
    assert [(h.where, h.kind) for h in found] == [("sludge", "reactive")]
    assert {w.substance for w in found[0].what} == {"sodium", "mineral-oil"}
    what = [Left("sodium", "sodium", "s", 2.0), Left("mineral-oil", "mineral oil", "l", 50.0),
            Left("magnesium-oxide", "magnesium oxide", "s", 10.0)]  # fmt: skip
    kind, how, _ = left.judge(library, "sludge", what)
    assert kind == "reactive"
    assert "household" not in how
    assert "no water" in how


def test_nothing_that_gives_gas_is_closed(shipped, every):
    """Acid with carbonate, or a peroxide, in one stream: the can vents; each "never" once.

    What is over in a solution that goes on is no longer left over, so they are few.
    """
    met = 0
    for step, h in every:
        known = names(shipped, h)
        gas = (known & SOUR and "carbonate" in known) or "peroxide" in known
        if gas and h.where != "solids":
            met += "vents" in h.how or "open" in h.how
            assert "closed" not in h.how, step.id
        lines = [(n.agent, n.words) for n in h.never]
        assert len(lines) == len(set(lines)), step.id
    assert met >= 10


def test_hypochlorite_with_acid(shipped):
    """Bleach in a sour liquor may give chlorine: nothing is added."""
    what = [Left("sodium-hypochlorite", "sodium hypochlorite", "aq", 1.0),
            Left("citric-acid-anhydrous", "citric acid", "aq", 1.0)]  # fmt: skip
    _, how, never = left.judge(shipped, "liquor", what)
    assert "chlorine" in how
    assert any("sulfite" in n.agent for n in never)


def test_barium_and_silver(shipped):
    """Soda leaves poisonous barium carbonate: barium goes as sulfate."""
    salt = next(s for s in shipped.substances.values() if s.formula == "BaCl2·2H2O")
    _, how, _ = left.judge(shipped, "liquor", [Left(salt.id, salt.name, "aq", 1.0)])
    assert "Glauber salt" in how


def test_what_a_recipe_does_not_name_is_told(shipped, every):
    """Wash water of a fired recipe is never silent; a dye bath is no worse than what went in."""
    fired = [
        s for s in shipped.steps.values()
        if s.is_recipe and is_dry_heat(s) and any(a.role == "wash" for a in s.aids)
    ]  # fmt: skip
    told = {s.id: [h for i, h in every if i is s] for s in fired}
    for step in fired:
        words = [w.name for h in told[step.id] for w in h.what]
        assert left.WASHED_OUT in words, step.id
        assert any("unknown" in h.kind and "hand in" in h.how for h in told[step.id]), step.id
    assert {"fire-ultramarine-blue", "roast-green-ultramarine-blue"} <= set(told)
    wet = [(s, h) for s, h in every if any(w.name == left.UNNAMED for w in h.what)]
    assert len(wet) > 25
    for step, handling in wet:
        put_in = {left.kind_of(shipped.substances[p.substance], p.state) for p in step.reactants}
        rests = [w for w in handling.what if w.name == left.UNNAMED]
        assert {w.like for w in rests} <= put_in, step.id


def test_no_gas_is_left_as_a_solid(shipped, studio):
    """Carbon dioxide or ammonia that was dissolved goes off on drying: it is in no bin."""
    from routefinder.api.find import find

    assert {"carbon-dioxide", "ammonia"} <= shipped.gases

    def cold(name):
        boils = shipped.substances[name].boiling_C
        return name in shipped.gases and (boils is None or boils < 20)

    gases = {name for name in shipped.gases if cold(name)}
    for step in shipped.steps.values():
        outcomes = one_step(shipped, step, 100.0).outcomes
        assert not [o for o in outcomes if o.state == "s" and o.substance in gases], step.id
    demo = find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench.yaml", libraries=[studio / "reactions"],
    )  # fmt: skip
    for route in demo.routes:
        for amount in route.assessment.amounts.steps:
            left_solid = [o for o in amount.outcomes if o.state == "s" and o.substance in gases]
            assert not left_solid, (route.number, amount.step.id)
