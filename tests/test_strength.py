"""Strength in the pot: what is charged makes it as strong as the step says, and no stronger."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from routefinder.asking.library import load_library
from routefinder.assessment.one_step import from_shops
from routefinder.library import pot, shelf
from routefinder.library import strength_lints as lints
from routefinder.library.densities import curve
from routefinder.library.load import load
from routefinder.records.shelf import Supply
from routefinder.records.step import Step
from routefinder.vessel import water
from routefinder.vessel.amounts import amounts
from routefinder.view.state_words import strength_words

H2O = 18.015


@pytest.fixture(scope="module")
def library():
    return load_library()


@pytest.fixture(scope="module")
def every_shop(library):
    return shelf.shops(library).supplies


def alone(library, supplies, step, grams=100.0):
    """A step by itself, fed from the shelf; None where only another step can feed it."""
    by_itself = library.alone(step)
    try:
        return amounts(by_itself, [step], supplies, step.main.substance, grams)
    except AssertionError:
        return None


# --- amounts by weight --------------------------------------------------------------------------


def test_grams_per_gram_are_by_weight(library):
    """``g/g`` is per gram of the limiting reactant, whether it has a formula or none."""
    seen = with_formula = 0
    for step in library.steps.values():
        limiting = library.substances[step.limiting.substance]
        for written, aid in zip(step.record.auxiliaries, step.aids, strict=True):
            value, unit = written.amount
            if unit != "ratio":
                continue
            seen += 1
            with_formula += limiting.formula is not None
            grams = aid.mass_g * step.limiting.moles  # of one turn
            assert grams / (step.limiting.moles * limiting.molar_mass_g) == pytest.approx(value)
    assert seen >= 69
    assert with_formula >= 4


def test_wash_of_ultramarine_by_hand(library):
    """20 g of water to a gram of kaolin: 2 kg for the 100 g of the recipe, not 7.7 g."""
    step = library.steps["fire-ultramarine-blue"]
    (wash,) = [a for a in step.aids if a.role == "wash"]
    assert wash.mass_g * step.limiting.moles == pytest.approx(2000)


# --- the law over the records -------------------------------------------------------------------


def by_hand(library, step):
    """(grams of each dissolved reactant, water called for at the start, other solvents) a turn."""
    substances = library.substances
    masses, called, other = {}, 0.0, 0.0
    for part in step.reactants:
        s = substances[part.substance]
        if s.formula == "H2O":
            called += part.moles * H2O if part.state != "g" else 0.0
        elif part.state == "aq":
            over = 1 + step.record.excess.get(s.formula or s.id, step.excess.get(s.id, 0.0))
            masses[s.id] = part.moles * s.molar_mass_g * over
    for aid in step.aids:
        grams = aid.mass_g * step.limiting.moles
        if aid.after or aid.role not in {"solvent", "medium"}:
            continue
        if substances[aid.substance].formula == "H2O":
            called += grams
        elif aid.role == "solvent":
            other += grams
    return masses, called, other


def test_every_strong_reactant_stands_within_its_stated_range(library):
    """All steps: acid, lye, ammonia and peroxide at the strongest that is sold.

    Alone in the water called for (all of it where nothing else is dissolved, else its share) at
    most the upper end; among all the water at least the lower one. Where a solution burns, an
    upper end stands.
    """
    sold = pot.strongest_sold(library)
    strong = ranges = 0
    for step in library.steps.values():
        masses, called, other = by_hand(library, step)
        ends = step.at_most
        full = all(ends.get(name, 1.0) < 1 for name in masses)
        shares = {n: m * (1 / ends[n] - 1) if full else m for n, m in masses.items()}
        for name, mass in masses.items():
            fraction = sold.get(library.root(name), 1.0)
            own = mass * (1 / fraction - 1)
            part = called * shares[name] / sum(shares.values())
            first = mass / (mass + max(part, own) + other)
            formula = library.substances[name].formula
            if formula in lints.BURNS and "H314" in library.substances[name].hazards.scored:
                strong += 1
                assert name in ends or first <= lints.BURNS[formula][0] + 1e-3, (step.id, name)
            if name in ends:
                ranges += 1
                assert first <= ends[name] + 1e-3, (step.id, name, first)
            if step.strength.get(name):
                total = mass / (mass + max(called, own) + other)
                assert total >= step.strength[name] - 1e-3, (step.id, name, total)
    assert strong > 300
    assert ranges > 230


def test_no_solution_without_water(library, every_shop):
    """A dissolved main product has water to be in, whatever feeds its step."""
    dry = []
    for step in library.steps.values():
        if step.main.state != "aq":
            continue
        found = alone(library, every_shop, step)
        if found is None:
            continue
        left = water.water_of_steps(library, found)[step.id].onward_g
        if left <= 0.2 * found.steps[0].product.mass_g:
            dry.append((step.id, left, found.steps[0].product.mass_g))
    assert not dry


def test_steps_alone_stand_within_their_ranges(library, every_shop):
    """Amounts and records agree: fed from the shops, nothing is stronger than its step allows."""
    checked = 0
    for step in library.steps.values():
        if not step.at_most and not step.strength:
            continue
        found = alone(library, every_shop, step)
        if found is None:
            continue
        for here in water.pots_of_steps(library, found)[step.id]:
            assert not here.too_strong, (step.id, here)
            checked += 1
    assert checked > 150


_STATED = re.compile(
    r"[Tt]he (?:weak )?(?:lye|acid)(?: is)? \(?(?:about )?(\d+)(?: to (\d+))? %(?: \w+)? with the"
)


def test_what_a_note_says_of_a_solution_is_what_its_water_makes(library, every_shop):
    """ "The lye is 5 to 6 % with the washings": half a percent either side."""
    seen = 0
    for step in library.steps.values():
        for note in step.record.notes:
            match = _STATED.search(note)
            if match is None:
                continue
            seen += 1
            found = alone(library, every_shop, step)
            strength = 100 * water.liquors(library, found)[step.id].strength
            low, high = float(match[1]), float(match[2] or match[1])
            assert low - 0.5 <= strength <= high + 0.5, (step.id, strength)
    assert seen >= 5


# --- what is made up to -------------------------------------------------------------------------


def bottle(name, substance, fraction):
    return Supply(name, name, "solution", {substance: fraction}, substance, price_per_g=0.0)


def tap():
    return Supply("water", "tap water", "liquid", {"water": 1.0}, "water", everywhere=True,
                  density_g_mL=1.0)  # fmt: skip


def solid(name):
    return Supply(name, name, "solid", {name: 1.0}, name, price_per_g=0.0)


def test_ammonium_sulfate_by_hand(library):
    """96 % acid and 25 % ammonia: the acid is diluted below 30 % before the ammonia comes.

    98.08 g of acid to at most 30 % takes 228.9 g of water; the bottle brings 4.1 g.
    """
    step = library.steps["neutralise-sulfuric-acid-with-ammonia"]
    supplies = [bottle("acid", "sulfuric-acid", 0.96), bottle("ammonia", "ammonia", 0.25), tap()]
    found = alone(library, supplies, step, 132.14)
    (charge,) = found.steps
    acid = next(f for f in charge.feeds if f.substance == "sulfuric-acid")
    poured = next(f for f in charge.feeds if f.substance == "water")
    assert acid.mass_g / (acid.as_weighed_g + poured.drawn_g) <= 0.30 + 1e-9
    assert acid.mass_g / (acid.as_weighed_g + poured.drawn_g) > 0.27
    (one,) = [p for p in water.pots_of_steps(library, found)[step.id]
              if p.substance == "sulfuric-acid"]  # fmt: skip
    assert one.alone == pytest.approx(acid.mass_g / (acid.as_weighed_g + poured.drawn_g))
    assert one.among < one.alone
    assert found.steps[0].mass_in_g == pytest.approx(found.steps[0].mass_out_g, rel=1e-9)


@pytest.mark.parametrize("lye", [0.30, 0.50, None])
def test_lye_of_bar_soap_is_as_strong_as_the_record_says(library, lye):
    """The lye's own water counts: 30 % lye gets none besides, and never falls below 25 %."""
    step = library.steps["make-coconut-soap"]
    soda = solid("sodium-hydroxide") if lye is None else bottle("lye", "sodium-hydroxide", lye)
    oil = next(p.substance for p in step.reactants if p.substance.endswith("oil"))
    found = alone(library, [soda, solid(oil), tap()], step, 100.0)
    (here,) = water.pots_of_steps(library, found)[step.id]
    assert not here.too_weak
    assert not here.too_strong
    assert here.among == pytest.approx(0.335 if lye != 0.30 else 0.30, abs=0.002)


def test_diluted_before_and_after(library):
    """Alumina hydrate: acid of 57 % before, water for the syrup after; both in the end."""
    step = library.steps["dissolve-alumina-hydrate-in-sulfuric-acid"]
    supplies = [bottle("acid", "sulfuric-acid", 0.96), solid("aluminium-hydroxide"), tap()]
    found = alone(library, supplies, step, 342.15)
    (here,) = water.pots_of_steps(library, found)[step.id]
    assert here.among == pytest.approx(here.alone)
    assert 0.5 <= here.among <= 0.65
    own = water.water_of_steps(library, found)[step.id]
    assert own.after_g == pytest.approx(2 * 185 / 0.92 * 0.998, rel=0.01)
    assert own.left_g == pytest.approx(own.charged_g + own.formed_g + own.after_g)
    # weaker acid, still strong enough: its own water counts, also for what goes in afterwards
    weak = [bottle("acid", "sulfuric-acid", 0.52), solid("aluminium-hydroxide"), tap()]
    thin = alone(library, weak, step, 342.15)
    (here,) = water.pots_of_steps(library, thin)[step.id]
    assert here.among == pytest.approx(0.52)
    later = water.water_of_steps(library, thin)[step.id]
    assert later.left_g == pytest.approx(own.left_g, rel=1e-6)


def test_more_water_than_called_for_where_something_is_too_strong(library):
    """A step that allows less than its own water makes is diluted to what it allows."""
    step = library.steps["dissolve-iron-in-sulfuric-acid"]
    strict = replace(step, at_most={"sulfuric-acid": 0.10})
    supplies = [bottle("acid", "sulfuric-acid", 0.96), tap()]
    supplies += [solid(p.substance) for p in step.reactants if p.state == "s"]
    found = alone(library, supplies, strict, 100.0)
    (here,) = water.pots_of_steps(library, found)[step.id]
    assert here.alone == pytest.approx(0.10)
    assert any(f.spared_g < 0 for f in found.steps[0].feeds)
    assert found.steps[0].mass_in_g == pytest.approx(found.steps[0].mass_out_g, rel=1e-9)


def test_dry_salt_keeps_its_share_of_the_water():
    """Half of what is called for is its own; a solution's surplus does not spare it."""
    assert pot.spared_g(1000, [(50, 5000), (50, 0)], 0) == 500
    assert pot.spared_g(1000, [(50, 5000)], 0) == 1000
    assert pot.spared_g(1000, [(50, 100), (50, 700)], 50) == 650
    call = pot.Called(100, 400, 300, 0)
    assert pot.made_up(call, 250, 100) == pot.Added(0, 250, 200)


def test_moles_per_litre_of_a_solution_made(library):
    """Ammonium sulfate of 29 %: 1.167 g/mL (handbook, from memory) x 290 g/kg / 132.14 = 2.56."""
    step = library.steps["neutralise-sulfuric-acid-with-ammonia"]
    supplies = [bottle("acid", "sulfuric-acid", 0.96), bottle("ammonia", "ammonia", 0.28), tap()]
    made = water.liquors(library, alone(library, supplies, step, 132.14))[step.id]
    assert made.mol_per_L == pytest.approx(
        made.strength * (1 + 0.576 * made.strength) * 1000 / 132.14, rel=0.01
    )


def test_every_solution_shows_its_strength(library):
    """All steps that make something dissolved: percent and moles a litre, by the vessel's course, in
    words and for `look`; with a table of densities and nothing besides, c = 10 w rho / M."""
    judged = exact = 0
    for step in library.steps.values():
        if step.main.state != "aq":
            continue
        judged += 1
        amount = from_shops(library, step, 100.0)
        made = water.liquor(library, amount)
        assert made is not None, step.id
        course = amount.course.product
        liquid = float(course.in_phases("l", "aq"))
        assert made.total_g == pytest.approx(liquid, rel=1e-9), step.id
        assert made.strength == pytest.approx(made.mass_g / liquid, rel=1e-9)
        assert 0 < made.mol_per_L < 60, step.id
        root = library.root(made.substance)
        molar = library.substances[root].molar_mass_g
        if not made.about and made.others_g < 1e-9:
            exact += 1
            found = curve(library, root).at(made.strength)
            by_hand = 1000 * made.strength * found.g_mL / molar
            assert made.mol_per_L == pytest.approx(by_hand, rel=1e-6), step.id
        words = strength_words(made)
        assert "%" in words
        assert "mol/L" in words
    assert judged > 250
    assert exact > 5


# --- the lints ----------------------------------------------------------------------------------

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, cas: 7732-18-5, density: 1 g/mL, sources: from memory}
- {id: chalk, name: chalk, formula: CaCO3, cas: 471-34-1, sources: from memory}
- {id: carbon-dioxide, name: carbon dioxide, formula: CO2, cas: 124-38-9, sources: from memory}
- {id: acid, name: hydrogen chloride, formula: HCl, cas: 7647-01-0, sources: from memory,
   hazards: {statements: [H314], source: from memory}}
- {id: calcium-chloride, name: calcium chloride, formula: CaCl2, cas: 10043-52-4,
   sources: from memory}
"""
MATERIALS = """\
- id: muriatic
  name: muriatic acid
  form: solution
  contains: [{substance: HCl, strength: 36 %}]
  density: 1.18 g/mL
  sources: from memory
"""


def tried(strength="", solvent="", title="Dissolve chalk", watch=""):
    return (
        f"- id: tried\n  title: {title}\n  kind: dissolution\n"
        '  equation: "CaCO3(s) + 2 HCl(aq) -> CaCl2(aq) + H2O(l) + CO2(g)"\n'
        "  product: CaCl2\n  limiting: HCl\n"
        + (f"  strength: {{HCl: {strength}}}\n" if strength else "")
        + "  yield: {low: 70 %, typical: 75 %, high: 80 %, basis: dry, source: common practice}\n"
        "  temperature: {low: 20 degC, high: 30 degC}\n  time: {hands_on: 1 h}\n"
        + (f"  auxiliaries: [{solvent}]\n" if solvent else "")
        + (f'  watch: "{watch}"\n' if watch else "")
        + "  sources: common practice\n"
    )


def solvent(amount, after=False):
    later = ", after: true" if after else ""
    return f"{{substance: H2O, role: solvent, amount: {amount}{later}}}"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (tried(), "is charged at 36 % (CLP Annex VI, 017-002-01-X: H314 from 25 %)"),
        (tried(solvent=solvent("60 mL/mol", after=True)), "is charged at 36 %"),
        (tried("up to 38 %"), ""),
        (tried("up to 15 %", solvent("210 mL/mol")), ""),
        (tried(solvent=solvent("210 mL/mol")), ""),
        (tried("up to 15 %", solvent("100 mL/mol")),
         "stands at 26.7 % in its share of the water, but the step allows 15 % at most"),
        (tried("20 % to 38 %", solvent("210 mL/mol")),
         "stands at 14.8 % in all the water that is called for, but the step asks for 20 %"),
        (tried("20 % to 38 %", solvent("210 mL/mol", after=True)), ""),
        (tried("up to 20 %", solvent("210 mL/mol"), watch="Foams: acid of 15 % at most."),
         "the record says 'acid of 15 %', but hydrogen chloride may stand at 20 %"),
        (tried("up to 15 %", solvent("210 mL/mol"), watch="Foams: acid of 15 % at most."), ""),
        (tried("up to 38 %", title="Dissolve chalk in dilute hydrochloric acid"),
         "the record says 'dilute hydrochloric acid'"),
        (tried("up to 38 %", watch="Dilute it below 15 % first."), "says 'Dilute it below 15 %'"),
    ],
)  # fmt: skip
def test_lint_trips_and_passes(make_library, text, says):
    folder = make_library(steps=text, substances=SUBSTANCES, materials=MATERIALS)
    loaded = load([folder])
    assert not loaded.faults
    found = [f for rule in lints.RULES for f in rule(loaded)]
    if not says:
        assert not found
        return
    assert found
    assert says in found[0].what
    assert found[0].line
    assert found[0].remedy
    excused = text.replace("  sources:", "  exceptions: {strength: it is so}\n  sources:")
    loaded = load([make_library("excused", steps=excused, substances=SUBSTANCES,
                                materials=MATERIALS)])  # fmt: skip
    assert not [f for rule in lints.RULES for f in rule(loaded)]


@pytest.mark.parametrize(
    ("written", "read", "again"),
    [
        ("20 %", (0.2, None), "20.0 %"),
        ("10 % to 40 %", (0.1, 0.4), "10.0 % to 40.0 %"),
        ("up to 40 %", (0.0, 0.4), "0.0 % to 40.0 %"),
    ],
)
def test_strength_as_written(library, written, read, again):
    record = library.steps["dissolve-iron-in-sulfuric-acid"].record
    data = {**record.model_dump(mode="json", by_alias=True), "strength": {"H2SO4": written}}
    step = Step.model_validate(data)
    assert step.strength["H2SO4"] == pytest.approx(read)
    assert step.model_dump(mode="json")["strength"]["H2SO4"] == again
    assert Step.model_validate(step.model_dump(mode="json", by_alias=True)) == step


@pytest.mark.parametrize("written", ["40 % to 10 %", "120 %", "up to 0 %", "strong"])
def test_strength_that_cannot_be(library, written):
    record = library.steps["dissolve-iron-in-sulfuric-acid"].record
    data = {**record.model_dump(mode="json", by_alias=True), "strength": {"H2SO4": written}}
    with pytest.raises(ValueError, match=r"strength|fraction|number"):
        Step.model_validate(data)
