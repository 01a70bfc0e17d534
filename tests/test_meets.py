"""What meets what: kinds of substances, surprises of steps, traps, waste jars, shelves."""

from __future__ import annotations

import csv

import pytest

from routefinder.asking.library import load_library
from routefinder.hazards import kinds as kinds_of
from routefinder.hazards import meets
from routefinder.library import shelf as shelves
from routefinder.records.substance import Substance


@pytest.fixture(scope="module")
def lib():
    return load_library()


def step(lib, name):
    return lib.steps[name]


def rules_of(found):
    return {m.rule for m in found}


def supplies(lib, *names):
    return [shelves.supply(lib.materials[n]) for n in names]


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("acetic-acid", {"organic acid"}),
        ("sodium-hydroxide", {"strong alkali", "caustic"}),
        ("sodium-hypochlorite", {"hypochlorite"}),
        ("basic-copper-carbonate", {"carbonate"}),
        ("sodium-hydrogen-carbonate", {"carbonate"}),
        ("ammonium-chloride", {"ammonium salt"}),
        ("sodium-sulfite", {"sulfite"}),
        ("sodium-thiosulfate-pentahydrate", {"thiosulfate"}),
        ("sodium-percarbonate", {"peroxide", "carbonate"}),
        ("aluminium", {"base metal", "amphoteric metal", "light metal"}),
        ("zinc-powder-dust", {"metal powder"}),
        ("copper-ii-sulfate-pentahydrate", {"salt of a nobler metal"}),
        ("propan-2-ol", {"alcohol", "flammable liquid", "peroxide former"}),
        ("copper-i-oxide", {"metal oxide"}),
    ],
)
def test_kinds(lib, name, wanted):
    assert wanted <= kinds_of.kinds(lib.substances[name]).names


@pytest.mark.parametrize(
    ("name", "unwanted"),
    [
        ("sulfamic-acid", "sulfite"),  # H3NSO3
        ("sulfur-trioxide", "sulfite"),
        ("bismuth-oxychloride", "hypochlorite"),  # BiOCl
        ("methyl-acetate", "organic acid"),  # C3H6O2, as propionic acid
        ("ethyl-formate", "organic acid"),
        ("calcium-oxalate-monohydrate", "carbonate"),
        ("zinc-powder-dust", "flammable liquid"),
        ("zinc-oxide", "metal powder"),
    ],
)
def test_what_a_substance_is_not(lib, name, unwanted):
    assert unwanted not in kinds_of.kinds(lib.substances[name])


def test_unknown_says_unknown():
    """A formula that no row knows, and no formula at all, are unknown, never harmless."""
    assert kinds_of.kinds(Substance(id="x", name="x", formula="C9H14N2O3")).unknown
    assert kinds_of.kinds(Substance(id="mud", name="mud", mixture=True)).unknown
    assert not kinds_of.kinds(Substance(id="y", name="y", formula="K2SO4")).unknown


def test_intended_reactions_are_no_surprise(lib):
    for name in (
        "precipitate-basic-copper-carbonate-with-soda", "neutralise-hydrochloric-acid-with-soda",
        "dissolve-iron-in-sulfuric-acid", "slake-quicklime", "give-back-ammonia-with-lime",
        "dissolve-aluminium-in-potassium-hydroxide",
    ):  # fmt: skip
        if name in lib.steps:
            assert meets.surprises(lib, step(lib, name)) == (), name
    # and each is known all the same
    for name, gas in (
        ("neutralise-hydrochloric-acid-with-soda", "CO2"),
        ("dissolve-iron-in-sulfuric-acid", "H2"),
        ("give-back-ammonia-with-lime", "NH3"),
    ):
        assert any(m.gas == gas and m.intended for m in meets.meetings(lib, step(lib, name)))


@pytest.mark.parametrize(
    ("name", "rule", "gas"),
    [
        ("precipitate-copper-i-chloride-with-sulfite", "acid-sulfite", "SO2"),
        ("esterify-salicylic-acid-with-methanol", "acid-carbonate", "CO2"),  # the soda wash
        ("precipitate-alumina-from-ammonium-alum-with-soda", "ammonium-mild-alkali", "NH3"),
        ("dissolve-copper-in-peroxide-and-acetic-acid", "peroxide-metal", "O2"),
        ("plate-zinc-from-zinc-sulfate", "acid-metal", "H2"),
    ],
)
def test_surprises(lib, name, rule, gas):
    found = [m for m in meets.surprises(lib, step(lib, name)) if m.rule == rule]
    assert found
    assert {m.gas for m in found} == {gas}
    assert all(m.source.split(":")[0] in {"published", "common practice", "from memory"}
               for m in found)  # fmt: skip


def test_a_step_that_hides_its_gas_is_caught(lib):
    """Bleach and acid in one vessel: the equation says nothing, the check does."""
    from dataclasses import replace

    from routefinder.library.resolve import Part

    base = step(lib, "neutralise-hydrochloric-acid-with-soda")
    bad = replace(base, reactants=(*base.reactants, Part("sodium-hypochlorite", 1.0, "aq")))
    found = meets.surprises(lib, bad)
    assert found[0].rule == "acid-hypochlorite"
    assert found[0].gas == "Cl2"
    assert found[0].grave


def test_no_alarm_fatigue(lib):
    """Of the shipped steps fewer than one in ten has a surprise, and none more than five."""
    counts = [len(meets.surprises(lib, s)) for s in lib.steps.values()]
    assert 0 < sum(n > 0 for n in counts) < len(counts) / 10
    assert max(counts) <= 5


def test_traps(lib):
    found = meets.trap(lib, step(lib, "calcine-ammonium-alum-to-polishing-alumina"))
    assert dict(found.absorbents) == {
        "ammonia": "dilute citric or sulfuric acid",
        "sulfur-trioxide": "soda or dilute caustic solution",
    }
    assert found.sucks_back == ("ammonia",)
    assert len(found.conflicts) == 1
    hydrogen = meets.trap(lib, step(lib, "dissolve-iron-in-sulfuric-acid"))
    assert hydrogen.absorbents == ()
    assert hydrogen.outdoors == ("hydrogen", "phosphine")  # of the equation, and of the record


def test_waste_jar(lib):
    """Leavings of two steps in one jar: ammonium sulfate liquor and a lime sludge give ammonia."""
    salty = next(
        s for s in lib.steps.values()
        if "ammonium-sulfate" in {p.substance.id for p in meets.left(lib, s)}
    )  # fmt: skip
    limy = next(
        s for s in lib.steps.values()
        if {"calcium-hydroxide", "sodium-hydroxide"} & {p.substance.id for p in meets.left(lib, s)}
    )  # fmt: skip
    assert "NH3" in {m.gas for m in meets.jar(lib, [salty, limy])}
    assert meets.jar(lib, [salty]) == ()
    never = meets.never_add(lib, meets.left(lib, salty))
    assert any(n.agent.startswith("caustic") and "ammonia" in n.words for n in never)
    assert any(n.agent == "bleach" for n in never)


def test_shelf(lib):
    found = meets.apart(
        lib,
        supplies(lib, "chlorine-bleach", "muriatic-acid-30", "ammonia-household",
                 "aluminium-foil", "sodium-hydroxide-50", "acetone-hardware"),
    )  # fmt: skip
    by_rule = {a.rule: a for a in found}
    assert by_rule["acid-hypochlorite"].these == ("muriatic acid, 30 %",)
    assert by_rule["acid-hypochlorite"].those == ("chlorine bleach",)
    assert by_rule["alkali-amphoteric-metal"].grave
    assert "ammonia-hypochlorite" in by_rule
    assert [a.grave for a in found] == sorted((a.grave for a in found), reverse=True)
    quiet = supplies(lib, "citric-acid-anhydrous-food", "zinc-oxide-pottery")
    assert meets.apart(lib, quiet) == ()


def test_alone(lib):
    words = dict(meets.alone(lib, supplies(lib, "isopropyl-alcohol-99", "raw-linseed-oil")))
    assert "peroxides" in words["isopropyl alcohol, 99 %"]
    assert "rags" in words["linseed oil"]


def test_every_rule_has_a_marked_source_and_known_kinds():
    known = {row.kind for row in kinds_of.rows()}
    marks = {"published", "common practice", "from memory", "cautious"}
    for rule in meets.rules():
        assert {*rule.a, *rule.b} <= known, rule.id
        assert set(rule.effects) <= set(meets.EFFECTS), rule.id
        assert rule.source.split(":")[0] in marks, rule.id
    for row in kinds_of.rows():
        assert row.source.split(":")[0] in marks, row


def test_chart_is_whole():
    """The EPA chart as copied: pairs are unique, groups are named."""
    with (kinds_of.DATA / "epa_pairs.csv").open(encoding="utf-8") as file:
        pairs = [frozenset((r["group_a"], r["group_b"])) for r in csv.DictReader(file)]
    with (kinds_of.DATA / "epa_groups.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    groups = {r["group"] for r in rows if r["name"]}
    assert {r["read_in"] for r in rows} == {"public copy", "one transcription"}
    assert len(pairs) == len(set(pairs)) > 250
    assert {g for pair in pairs for g in pair} <= groups


def test_what_meets_does_not_hang_on_the_seed_of_the_hash():
    """Rules come in the order of their table, whatever order a set has."""
    from routefinder.hazards import meets

    names = sorted({k for rule in meets.rules() for k in (*rule.a, *rule.b)})
    place = {rule.id: i for i, rule in enumerate(meets.rules())}
    both = meets.Kinds(frozenset(names), frozenset(), False)
    found = [place[rule.id] for rule, _ in meets._candidates(both, both)]
    assert found == sorted(found)
    assert len(found) == len(place)
