"""No page of a step contradicts itself: every sentence as data, over the whole library."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from routefinder.hazards.cautions import Advice, cautions
from routefinder.hazards.meets import Present, between
from routefinder.library.cache import load_cached
from routefinder.records.capability import Capability
from routefinder.view.words import under_never
from routefinder.worksheet.contradictions import contradictions, page

OIL = """
- id: sodium
  replaces: true
  name: sodium
  formula: Na
  cas: 7440-23-5
  hazards: {statements: [H260, H314, EUH014], source: "published: CLP Annex VI"}
  melting: 98 degC
  storage: {how: "under mineral oil, closed", source: "common practice"}
  sources: "from memory"
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
    - {substance: mineral-oil, role: ROLE, amount: 100 g/mol}
  equipment:
    - heat-liquid: {to: 130 degC}
  sources: "invented: for a test"
"""


@pytest.fixture(scope="module")
def pages(shipped):
    """(step, its cautions) of the whole library."""
    return [(step, cautions(shipped, step)) for step in shipped.steps.values()]


def test_no_page_contradicts_itself(shipped, pages):
    """926 pages, no two sentences that cannot both be followed."""
    assert [c.sentence for step, found in pages for c in contradictions(shipped, step, found)] == []


def test_the_pages_are_read(shipped, pages):
    """The law above is not empty: each thing it reads is found on many pages."""
    counts: dict[str, int] = {}
    for step, found in pages:
        for said in page(shipped, step, found):
            counts[said.asks] = counts.get(said.asks, 0) + 1
    for asks, least in {
        "keep under": 20, "never meet": 1000, "closed": 100, "gas": 300, "water": 1000,
        "no flame": 40, "dry at": 400, "melts at": 100, "stay below": 15, "stay above": 5,
        "quench with": 40, "never quench with": 8, "keep wet": 2, "dry": 300,
    }.items():  # fmt: skip
        assert counts.get(asks, 0) >= least, (asks, counts.get(asks, 0))


def test_no_never_twice_and_no_meeting_that_the_step_asks_for(pages):
    """Under the heading "never" no sentence begins with it again; nothing charged is kept apart."""
    for step, found in pages:
        for a in found.never:
            assert a.text.startswith("never "), step.id
            assert "never" not in under_never(a.text).split(":")[0], (step.id, a.text)
            assert "never let" not in a.text


def altered(step, **fields):
    return replace(step, record=step.record.model_copy(update=fields))


def found_in(library, step, **advice):
    found = cautions(library, step)
    more = {k: (*getattr(found, k), Advice(text, "", "")) for k, text in advice.items()}
    return {(c.one.asks, c.other.asks)
            for c in contradictions(library, step, replace(found, **more))}  # fmt: skip


def test_each_pair_trips(shipped):
    """Pages spoilt on purpose: every pair of the checker speaks."""
    steps = shipped.steps
    carbonate = steps["precipitate-iron-ii-carbonate-with-bicarbonate"]
    shut = altered(carbonate, equipment=(Capability(name="keep-airtight"),))
    assert ("closed", "gas") in found_in(shipped, shut)
    dry = altered(carbonate, equipment=(Capability(name="dry", limits=(("to", 60.0),)),))
    storage = carbonate.record.storage.model_copy(update={"how": "do not dry in air"})
    dry = altered(dry, storage=storage)
    assert ("keep wet", "dry") in found_in(shipped, dry)
    assert ("keep under", "never meet") in found_in(
        shipped, carbonate, keep="apart from water: invented"
    )
    ester = steps["esterify-ethanol-with-acetic-acid-under-reflux"]
    flame = altered(ester, equipment=(Capability(name="open-flame"),))
    assert ("flame", "no flame") in found_in(shipped, flame)
    metal = steps["dissolve-magnesium-in-acetic-acid"]
    assert ("no water", "water") in found_in(shipped, metal, if_wrong="rinse long with water")
    assert ("quench with", "never quench with") in found_in(
        shipped, metal, if_wrong="burning solvent: powder or CO₂"
    )
    wax = steps["set-stearic-acid-free"]
    hot = altered(wax, equipment=(Capability(name="dry", limits=(("to", 105.0),)),))
    assert ("dry at", "melts at") in found_in(shipped, hot)
    warm = altered(wax, watch=("Keep it below 30 degC.",))
    assert ("stay below", "work from") in found_in(shipped, warm)
    cold = altered(wax, watch=("Keep it above 400 degC.",))
    assert ("stay above", "work to") in found_in(shipped, cold)
    assert ("never twice", "never twice") in found_in(shipped, wax, never="never never do it")
    tin = steps["dissolve-tin-in-hydrochloric-acid"]
    tight = tin.record.storage.model_copy(update={"how": "tight bottle with a nail in it"})
    assert ("closed", "gas") in found_in(shipped, altered(tin, storage=tight))
    copper = steps["dissolve-copper-in-peroxide-and-sulfuric-acid"]
    shut = copper.record.storage.model_copy(update={"how": "closed bottle, labelled"})
    assert ("closed", "gas") in found_in(shipped, altered(copper, storage=shut))


@pytest.mark.parametrize("role", ["medium", "solvent", "wash"])
def test_metal_under_oil(make_library, shipped, role):
    """Kept under mineral oil, and nothing says that it must never meet mineral oil."""
    library = load_cached([make_library(substances=OIL, steps=MELT.replace("ROLE", role))])
    step = library.steps["melt-sodium-together"]
    found = cautions(library, step)
    assert any("under mineral oil" in a.text for a in found.keep)
    texts = [a.text for a in (*found.never, *found.keep, *found.if_wrong)]
    assert not any(re.search("meet|mineral oil are together", t) for t in texts)
    assert contradictions(library, step, found) == ()
    pair = [Present(library.substances[n], s, None, "reactant")
            for n, s in (("sodium", "s"), ("mineral-oil", "l"))]  # fmt: skip
    assert between(*pair, "vessel", 130.0) == []


def test_first_aid_for_what_burns_with_water(make_library, shipped, pages):
    """Brush it off dry, then a flood: "rinse" is never the only word; nothing to drink."""
    library = load_cached([make_library(substances=OIL, steps=MELT.replace("ROLE", "medium"))])
    found = cautions(library, library.steps["melt-sodium-together"])
    aid = [a.text for a in found.if_wrong]
    skin = next(t for t in aid if t.startswith("on the skin"))
    eyes = next(t for t in aid if t.startswith("in the eyes"))
    assert skin.index("sodium off dry first") < skin.index("water")
    assert eyes.index("dry first") < eyes.index("rinse")
    assert any("nothing to drink" in t for t in aid)
    assert not any("CO₂" in t or "rinse the mouth" in t for t in aid)
    assert any(a.text.startswith("never water or damp tools near sodium") for a in found.never)
    quick = {"CaO", "SrO", "BaO", "CaO·MgO"}
    met = 0
    for step, said in pages:
        parts = (*step.reactants, *step.products)
        here = any(p.state == "s" and shipped.substances[p.substance].formula in quick
                   for p in parts)  # fmt: skip
        for a in said.if_wrong:
            if here and "rinse" in a.text and "mouth" not in a.text:
                met += 1
                assert "dry first" in a.text, (step.id, a.text)
    assert met >= 10


def test_a_solution_is_not_kept_like_its_dry_salt(shipped, pages):
    """Dissolved aluminium chloride is not kept apart from water, nor a solution "hygroscopic"."""
    for step, found in pages:
        if step.main.state != "aq":
            continue
        for a in found.keep:
            assert not a.text.startswith("apart from water"), step.id
            if step.record.storage is None:
                assert a.text.startswith(("apart from", "by itself")), (step.id, a.text)
