"""Laws of labels over the whole library: no band, solution, mixture or step is milder than it may be.

What each strength must say is worked out here by other code than the package's: straight from the
table of Annex VI limits and the generic limits of CLP Annex I, a substance at a time.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

import routefinder as rf
from routefinder.assessment import hazards as batch
from routefinder.assessment.one_step import one_step
from routefinder.graph import needs
from routefinder.hazards import kinds, label, mixture, score
from routefinder.hazards.cautions import cautions
from routefinder.library.shelf import supply
from routefinder.vessel import water
from routefinder.vessel.amounts import amounts
from routefinder.worksheet.safety import safety

# hazard -> its statements, the graver first (UN GHS part 3)
RANKS = (
    "H314 H315", "H314 H318 H319", "H300 H301 H302", "H310 H311 H312", "H330 H331 H332",
    "H370 H371", "H372 H373", "H340 H341", "H350 H351", "H360 H361", "H400 H401 H402",
    "H410 H411 H412 H413", "H271 H272", "H224 H225 H226", "H260 H261",
)  # fmt: skip
EDGES = (0.1, 0.3, 0.5, 1, 2, 2.5, 3, 5, 8, 10, 15, 20, 25, 30, 35, 50, 70, 75, 90, 99)


@pytest.fixture
def lib(shipped):
    return shipped


@pytest.fixture(scope="module")
def rows():
    with (Path(kinds.__file__).parent / "data" / "concentration_limits.csv").open() as file:
        return list(csv.DictReader(file))


def said(code, codes):
    """Whether ``codes`` hold a statement as grave as ``code`` or graver."""
    if code in codes or any(c[:4] == code[:4] for c in codes):
        return True
    for rank in RANKS:
        ladder = rank.split()
        if code[:4] in ladder:
            graver = ladder[: ladder.index(code[:4])]
            if any(c[:4] in graver for c in codes):
                return True
    return False


class Own:
    """The rows of one CAS number."""

    def __init__(self, rows, cas):
        mine = [r for r in rows if r["cas"] == cas]
        self.limits = [
            (r["h_code"], float(r["lower_pct"]), float(r["upper_pct"] or 100.1))
            for r in mine if r["kind"] == "specific concentration limit"
        ]  # fmt: skip
        self.codes = {code for code, _, _ in self.limits}
        self.m = {r["hazard_class"].split()[1]: float(r["value"])
                  for r in mine if r["kind"] == "M factor"}  # fmt: skip
        self.oral = [float(r["value"]) for r in mine if r["unit"] == "mg/kg bw"]


def owed(codes, own, percent):
    """The statements that a solution of one substance must bear at least (skin, eyes, swallowed,
    lungs, cancer and its kin, water), by Annex VI, then by CLP Annex I."""
    out = {code for code, low, high in own.limits if low <= percent < high}
    if "H314" in codes and "H314" not in own.codes:  # Table 3.2.3
        out |= {"H314"} if percent >= 5 else {"H315"} if percent >= 1 else set()
        if not own.codes & {"H318", "H319"}:  # Table 3.3.3
            out |= {"H318"} if percent >= 3 else {"H319"} if percent >= 1 else set()
    if "H315" in codes and not own.codes & {"H314", "H315"} and percent >= 10:
        out.add("H315")
    if "H318" in codes and not own.codes & {"H314", "H318", "H319"}:
        out |= {"H318"} if percent >= 3 else {"H319"} if percent >= 1 else set()
    if "H319" in codes and not own.codes & {"H314", "H318", "H319"} and percent >= 10:
        out.add("H319")
    for code, estimate in (("H302", 500.0), ("H301", 100.0), ("H300", 5.0)):  # Table 3.1.2
        if code in codes and percent >= 1:
            mixed = (own.oral or [estimate])[0] / percent * 100
            bands = [("H300", 50), ("H301", 300), ("H302", 2000)]
            found = next((c for c, most in bands if mixed <= most), None)
            if found:
                out.add(max(found, code))  # no graver than what is in it
    cmr = {"H340": 0.1, "H341": 1, "H350": 0.1, "H351": 1, "H360": 0.3, "H361": 3, "H317": 1,
           "H334": 1, "H373": 10}  # Tables 3.5.2, 3.6.2, 3.7.2, 3.4.5, 3.9.4  # fmt: skip
    for code in codes:
        if code not in own.codes and percent >= cmr.get(code[:4], 200):
            out.add(code)
    if "H400" in codes and percent * own.m.get("Acute", 1) >= 25:  # Table 4.1.1
        out.add("H400")
    if "H410" in codes:  # Table 4.1.2
        weight = percent * own.m.get("Chronic", 1)
        out |= {"H410"} if weight >= 25 else {"H411"} if weight >= 2.5 else set()
    return out


def strengths(substance, own):
    """Percents close about every edge of a band, a limit and the generic limits."""
    at = {*EDGES, *(low for _, low, _ in own.limits), *(high for _, _, high in own.limits)}
    at |= {100 * e for band in substance.solutions for e in (band.at_least, band.below)}
    near = {p * (1 + d) for p in at for d in (-1e-4, 1e-9, 1e-3, 0.1)}
    return sorted(p for p in near if 0 < p < 99.99)


def test_every_band_and_solution_is_as_strict_as_the_limits(lib, rows):
    """Every substance at every strength; a record's band by itself, and what is made of it."""
    milder, tried, seen = [], 0, set()
    for s in lib.substances.values():
        own = Own(rows, s.cas)
        key = (s.hazards.statements, s.hazards.caution)
        alike = key in seen and not (own.limits or own.m or own.oral or s.solutions)
        if alike and len(lib.families[lib.root(s.id)]) == 1:
            continue  # the same statements and nothing of its own: worked through already
        seen.add(key)
        dissolved = mixture.solute(s).hazards
        if not dissolved.scored:
            continue
        for percent in strengths(s, own):
            tried += 1
            found = mixture.solution_hazards(s, percent / 100, lib)
            bands = [b for b in s.solutions if b.at_least <= percent / 100 < b.below]
            for code in owed(dissolved.statements, own, percent):
                if not said(code, found.statements):
                    milder.append((s.id, percent, code, found.statements))
                if bands and not said(code, bands[0].statements):
                    milder.append((s.id, percent, code, "the record's band"))
            for code in owed(dissolved.scored, own, percent):
                if not said(code, found.scored):
                    milder.append((s.id, percent, code, found.scored))
                if bands and not said(code, bands[0].scored):
                    milder.append((s.id, percent, code, "the record's band, with its cautions"))
    assert tried > 5_000
    assert not milder, milder[:10]


def test_a_milder_band_of_an_own_library_does_not_win(lib):
    """A band that says nothing at 30 % leaves the limit of 15 % standing (016-020-00-8)."""
    acid = lib.substances["sulfuric-acid"]
    mild = acid.model_copy(update={"solutions": (
        acid.solutions[0].model_copy(update={"below": 1.0}),)})  # fmt: skip
    assert "H314" in mixture.solution_hazards(mild, 0.30, lib).statements
    assert mixture.solution_hazards(mild, 0.04, lib).statements == ()


@pytest.mark.parametrize(
    ("name", "percent", "signal", "codes"),
    [  # published: CLP Annex VI, the indices named in concentration_limits.csv
        ("sulfuric-acid", 4.9, "", set()),
        ("sulfuric-acid", 5, "Warning", {"H315", "H319"}),
        ("sulfuric-acid", 15, "Danger", {"H314"}),
        ("sulfuric-acid", 30, "Danger", {"H314"}),
        ("hydrogen-chloride", 25, "Danger", {"H314", "H335"}),
        ("hydrogen-chloride", 24.9, "Warning", {"H315", "H319", "H335"}),
        ("phosphoric-acid", 30, "Danger", {"H314"}),
        ("sodium-hypochlorite", 1, "Warning", {"H315", "H319", "H412"}),
        ("sodium-hypochlorite", 4, "Danger", {"H315", "H318", "H400", "H411"}),
        ("sodium-hypochlorite", 25, "Danger", {"H314", "H410", "EUH031"}),
        # 3 %: M = 10 of copper sulfate pentahydrate, 029-023-00-4
        ("copper-ii-sulfate-pentahydrate", 3, "Danger", {"H318", "H400", "H411"}),
        # M = 1000: supplier's sheet named in concentration_limits.csv
        ("silver-nitrate", 2, "Danger", {"H272", "H315", "H319", "H410"}),
    ],
)
def test_labels_at_a_strength(lib, name, percent, signal, codes):
    found = label.label(lib, name, percent / 100)
    assert (found.signal, set(found.statements)) == (signal, codes)


def test_a_caution_never_swallows_what_the_source_states(lib):
    """Without the stricter sources nothing that is printed would be graver: over all strengths."""
    swallowed, tried = [], 0
    for s in lib.substances.values():
        if not s.hazards.caution:
            continue
        bare = s.model_copy(update={"hazards": s.hazards.model_copy(update={"caution": ()})})
        for percent in EDGES:
            with_, without = (
                label.make("", h.statements, h.caution)
                for h in (mixture.solution_hazards(x, percent / 100, lib) for x in (s, bare))
            )
            tried += 1
            if without.signal == "Danger" != with_.signal or not all(
                said(c, with_.statements) for c in without.statements
            ):
                swallowed.append((s.id, percent, with_.statements, without.statements))
    assert tried > 1000
    assert not swallowed, swallowed[:10]


def test_etchant_is_a_danger(lib):
    """H318 of the salt (supplier's sheet) holds at 40 %, beside H314 of stricter sources."""
    found = lib.materials["ferric-chloride-etchant"]
    made = label.material_label(lib, "etchant", found.fractions, "solution")
    assert made.signal == "Danger"
    assert "H318" in made.statements
    assert made.for_caution[:1] == ("H290",)
    assert "H314" in made.for_caution


# --- steps --------------------------------------------------------------------------------------


def milder_than(found, other):
    """What another label says that this one does not, in words; no cylinder stands in a step."""
    if other.statements == ("H280",):
        return ""
    if other.unknown and not found.unknown:
        return "unknown"
    if other.signal == "Danger" != found.signal or (other.signal and not found.signal):
        return other.signal
    borne = {*found.statements, *(c for c, _ in found.omitted)}
    short = [c for c in other.statements if not said(c, borne) and c != "H280"]
    return " ".join(short)


def test_no_step_is_milder_than_what_is_weighed_in_or_made(lib):
    """All steps, each material that may serve each need as it is sold, and the main product."""
    supplies = [supply(m) for m in lib.materials.values() if not m.record.everywhere]
    offers = [(s, needs.offers_of_supply(s)) for s in supplies]
    milder, pairs, alone = [], 0, 0
    for step in lib.steps.values():
        bare = label.step_label(lib, step)
        if step.main.state != "aq":
            made = label.label(lib, step.main.substance)
            if step.main.state != "g" and (what := milder_than(bare, made)):
                milder.append((step.id, "its product", what))
        for need in needs.needs(lib, step):
            for item, offered in offers:
                if not any(needs.meets(lib, o, need) for o in offered):
                    continue
                pairs += 1
                own = label.material_label(lib, item.name, item.fractions, item.form, item.hazards)
                if what := milder_than(label.step_label(lib, step, {}, [item]), own):
                    milder.append((step.id, item.id, what))
                # crystals, whatever hydrate: the record alone must know
                if item.form == "solid" and len(item.fractions) == 1:
                    alone += 1
                    if what := milder_than(bare, own):
                        milder.append((step.id, item.id, what, "record alone"))
    assert len(lib.steps) >= 926
    assert pairs > 3000
    assert alone > 1500
    assert not milder, milder[:10]


def test_a_step_bears_what_its_own_solution_bears(lib):
    """All steps that make a solution: the label by the vessel's course is no milder than that of
    the solution as it goes on, at the strength that its course gives."""
    tried, milder = 0, []
    for step in lib.steps.values():
        amount = one_step(lib, step, 100.0)
        made = water.liquor(lib, amount)
        if made is None:
            continue
        tried += 1
        inside = batch.inside(lib, amount)
        if not mixture.concentrates(step):
            assert inside[made.substance] >= made.strength * (1 - 1e-9), step.id
        own = label.label(lib, made.substance, made.strength)
        if what := milder_than(label.step_label(lib, step, {}, (), inside), own):
            milder.append((step.id, what))
    assert tried > 250
    assert not milder, milder[:10]


def test_a_plan_labels_each_step_by_what_it_weighs_in(lib):
    """All steps fed from the shops: the plan's own label against each material's."""
    supplies = [supply(m) for m in lib.materials.values()]
    milder, tried = [], 0
    for step in lib.steps.values():
        wanted = needs.needs(lib, step)
        if not all(
            any(needs.meets(lib, o, n) for s in supplies for o in needs.offers_of_supply(s))
            for n in wanted
        ):
            continue
        alone = replace(lib, steps={step.id: step})
        amount = amounts(alone, [step], supplies, step.main.substance, 100.0).steps[0]
        found = safety(lib, amount, None, liquors={})
        codes = {c for c, _ in found.statements}
        for item in batch.charged(amount):
            own = label.material_label(lib, item.name, item.fractions, item.form, item.hazards)
            tried += 1
            if (own.signal == "Danger" != found.signal) or not all(
                said(c, codes) for c in own.statements
            ):
                milder.append((step.id, item.id, own.statements, sorted(codes)))
    assert tried > 500
    assert not milder, milder[:10]


def test_battery_acid_of_30_percent_is_no_corrosive_2(lib, tmp_path):
    """--max-hazard "corrosive 2" sets it aside; without the limit its plan says Danger."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text(
        "material,amount,strength\nbattery acid,5 L,30 %\niron nails,1 kg,\n", encoding="utf-8"
    )
    told = {"target": "green vitriol", "amount": "100 g", "shelf": shelf}
    free = rf.find(**told)
    assert free.routes
    plan = free.plan(1)
    worst = [s.safety for s in plan.steps if any(
        not isinstance(f.origin, str) and "battery acid" in f.origin.name
        for f in s.amount.feeds)]  # fmt: skip
    assert worst
    assert all(s.signal == "Danger" for s in worst)
    assert "H314" in {code for s in worst for code, _ in s.statements}
    assert not rf.find(**told, max_hazard={"corrosive": 2}).routes


def test_what_comes_along_in_a_material_counts(lib):
    """Chalk with a tenth of caustic soda in it burns, though the equation knows only chalk."""
    step = lib.steps["dissolve-chalk-in-acetic-acid"]
    chalk = next(
        supply(m) for m in lib.materials.values()
        if m.main == "calcium-carbonate" and m.record.form == "solid"
    )  # fmt: skip
    poured = {"acetic-acid": 0.05}
    mixed = replace(chalk, fractions={"calcium-carbonate": 0.9, "sodium-hydroxide": 0.1})
    assert label.step_label(lib, step, poured, [chalk]).signal == ""
    assert label.step_label(lib, step, poured, [mixed]).statements == ("H314",)
    points = {a: s.points for a, s in score.profile(lib, step, poured, [mixed]).items()}
    assert points["corrosive"] == 3
    assert score.profile(lib, step, poured, [chalk])["corrosive"].points == 0
    worn = {a.text for a in cautions(lib, step, poured, [mixed]).wear}
    assert worn > {a.text for a in cautions(lib, step, poured, [chalk]).wear} - {
        "safety glasses or goggles"
    }
    assert any("close-fitting goggles" in text for text in worn)


def test_a_powder_counts_as_powder(lib):
    """Copper in the lump bears nothing; below 1 mm H400 H410 (Annex VI 029-026-00-0)."""
    powder, wire = (supply(lib.materials[i]) for i in ("copper-powder", "copper-wire-scrap"))
    step = lib.steps["dissolve-copper-in-peroxide-and-acetic-acid"]
    own = label.material_label(lib, powder.name, powder.fractions, powder.form, powder.hazards)
    assert set(own.statements) == {"H410"}
    bare = label.step_label(lib, step, {}, [wire])
    with_powder = label.step_label(lib, step, {}, [powder])
    assert not milder_than(with_powder, own)
    assert "H410" in with_powder.statements or "H410" in bare.statements


def test_corrosive_to_the_airways_only_where_corrosive(lib):
    """EUH071 of formic acid: with H314 (from 10 %), not in 5 %."""
    assert "EUH071" in mixture.solution_hazards(lib.substances["formic-acid"], 0.10).statements
    assert "EUH071" not in mixture.solution_hazards(lib.substances["formic-acid"], 0.05).statements
