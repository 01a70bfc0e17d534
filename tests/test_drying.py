"""How something may be dried: laws over every step and every substance of the library."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest

from routefinder.analysis.ignition import heated_alone
from routefinder.assessment import drying_words
from routefinder.assessment.drying import BURNS, EXPLODES, OVEN_C, drying
from routefinder.journal.decide import weigh
from routefinder.journal.weight import Charge, Reading
from routefinder.library.cache import load_cached
from routefinder.view import bench_words
from routefinder.worksheet.bench_work import Checkpoint

FLAMES = frozenset({"H224", "H225", "H226", "H228"})
FIGURE = re.compile(r"(-?\d+(?:\.\d+)?) °C")
SODIUM = """
- id: sodium
  name: sodium
  formula: Na
  cas: 7440-23-5
  hazards: {statements: [H260, H314], source: "published: CLP Annex VI"}
  melting: 98 degC
  storage: {how: "under mineral oil, closed", source: "common practice"}
  sources: "from memory"
- id: wax-with-spirit
  name: wax with spirit
  mixture: true
  hazards: {statements: [H228], source: "invented: for a test"}
  sources: "invented: for a test"
"""


def codes(library, substance):
    found = library.substances[substance].hazards.scored
    return set(found) | {c[:4] for c in found}


def own_figures(step):
    """Every temperature the record dries at: its tool, and the words its yield is counted on."""
    found = {n.limit("to") for n in step.record.equipment if n.name.startswith("dry")}
    found |= {float(x) for x in re.findall(r"(\d+) degC", step.record.yield_.basis)}
    return found - {None}


def said(found):
    """Every sentence that one fact can become."""
    return [drying_words.advice(found), drying_words.to_constant_weight(found),
            drying_words.again(found)]  # fmt: skip


def checkpoint(found):
    c = Checkpoint(10.0, 9.0, 11.0, 12.0, 30.0, 0.0, 0.01, None)
    return " ".join(bench_words.checkpoint(SimpleNamespace(checkpoint=c, drying=found)))


def test_every_figure_is_of_the_record(shipped):
    """926 steps: no drying temperature that the step's record (or a fire before) does not bear out.

    A figure is never above what the record says, the melting point, or the lowest temperature at
    which another step changes the substance by heat alone.
    """
    seen = 0
    for step in shipped.steps.values():
        name = step.main.substance
        found = drying(shipped, name, step.main.state, step)
        if found.at_most_C is None:
            continue
        seen += 1
        record = shipped.substances[name]
        if record.melting_C is not None:
            assert found.at_most_C < record.melting_C, step.id
        if found.fired:
            assert found.at_most_C == OVEN_C
            assert step.record.temperature.low_C > OVEN_C, step.id
        elif found.source.endswith(step.id) and own_figures(step):
            assert found.at_most_C <= max(own_figures(step)), step.id
        for other, _ in heated_alone(shipped, name):
            if found.effloresces:
                continue  # in open air it loses water at any warmth, and the words say so
            assert found.at_most_C < other.record.temperature.low_C, (step.id, other.id)
    assert seen > 300


def test_what_burns_or_is_a_liquid_goes_into_no_oven(shipped):
    """Every substance in every state: flammable, water-reactive, explosive, molten, dissolved."""
    for name, record in shipped.substances.items():
        for state in ("s", "l", "aq", "g"):
            found = drying(shipped, name, state)
            bad = codes(shipped, name) & (BURNS | EXPLODES)
            wet = state != "s" or (record.melting_C is not None and record.melting_C < 25)
            if bad or wet:
                assert not found.may, (name, state)
                assert not any(FIGURE.search(text) for text in said(found)), (name, state)


def test_liquid_products(shipped):
    """The 52 and more steps with a liquid product: none is told to be dried at a temperature."""
    liquids = [s for s in shipped.steps.values() if s.main.state == "l"]
    assert len(liquids) >= 52
    for step in liquids:
        found = drying(shipped, step.main.substance, "l", step)
        text = checkpoint(found)
        assert found.way == "liquid"
        assert "dry it" not in text
        assert "dry product" not in text
        assert not FIGURE.search(text), step.id


def test_hydrates_keep_their_water(shipped):
    """No crystal with water is dried above room temperature unless its own record does so."""
    for step in shipped.steps.values():
        parsed = shipped.substances[step.main.substance].parsed
        if step.main.state != "s" or parsed is None or not parsed.waters:
            continue
        found = drying(shipped, step.main.substance, "s", step)
        if found.way == "oven" and not found.fired:
            assert own_figures(step), step.id


def test_a_wet_paste_is_never_told_to_be_dried(shipped):
    """What its record keeps wet, or must not dry in air, is not told "dry it again"."""
    names = []
    for step in shipped.steps.values():
        storage = step.record.storage
        if storage is None or "dry" in {n.name for n in step.record.equipment}:
            continue
        if not re.search(r"do not dry|as wet paste|under (boiled )?water|not kept", storage.how):
            continue
        if "quickly dried" in storage.how:
            continue
        names.append(step.id)
        found = drying(shipped, step.main.substance, step.main.state, step)
        text = checkpoint(found)
        assert found.way == "keep wet", step.id
        assert "dry it" not in text.replace("do not dry it", "")
        assert "kept wet" in text
    assert len(names) >= 10
    assert "precipitate-iron-ii-hydroxide" in names


def test_a_spirit_goes_off_before_any_warmth(shipped):
    """Washed with something flammable: it is named, and no flame, before a figure is given."""
    met = 0
    for step in shipped.steps.values():
        found = drying(shipped, step.main.substance, step.main.state, step)
        washes = [
            a.substance for a in step.aids
            if a.role in {"wash", "solvent"} and codes(shipped, a.substance) & FLAMES
        ]  # fmt: skip
        if washes and found.may:
            met += 1
            assert "no flame" in drying_words.advice(found), step.id
    assert met >= 10


def test_a_metal_that_burns_with_water(make_library, shipped):
    """Sodium melts at 98 degC and burns with water: it is dried by nobody, in no state."""
    library = load_cached([make_library(substances=SODIUM)], only=True)
    for state in ("s", "l"):
        found = drying(library, "sodium", state)
        assert found.way in {"never", "liquid"}
        assert not found.may
    assert drying(library, "sodium").way == "never"
    assert "105" not in drying_words.again(drying(library, "sodium"))
    assert drying(library, "wax-with-spirit").way == "unknown"


@pytest.mark.parametrize("share", [0.7, 1.3])
def test_what_a_weight_is_told(shipped, share):
    """All steps weighed too light and too heavy: no sentence gives a temperature of its own.

    The only figures in drying advice are those of ``drying``; a liquid hears of no oven heat.
    """
    for step in shipped.steps.values():
        form = step.limiting.substance
        charge = Charge(form, shipped.name(form), Reading(100.0, 0.01))
        ratio = step.main.moles * shipped.substances[step.main.substance].molar_mass_g
        ratio /= step.limiting.moles * shipped.substances[form].molar_mass_g
        found = weigh(shipped, step, charge, Reading(100.0 * ratio * share, 0.01))
        texts = [t for t in (*found.next_checks, found.sentence) if "library says" not in t]
        allowed = {
            drying(shipped, step.main.substance, step.main.state, step).at_most_C,
            drying(shipped, form).at_most_C,
        }
        for text in texts:
            for figure in FIGURE.findall(text):
                assert any(a is not None and abs(a - float(figure)) < 0.5 for a in allowed), (
                    step.id, text,
                )  # fmt: skip
            if step.main.state == "l":
                assert "dry it" not in text, (step.id, text)
