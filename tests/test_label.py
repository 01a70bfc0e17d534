"""Labels, pictograms and cautions."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder.asking.library import load_library
from routefinder.hazards import cautions as advice
from routefinder.hazards import label
from routefinder.hazards.phrases import phrase
from routefinder.view import pictograms


@pytest.fixture(scope="module")
def lib():
    return load_library()


@pytest.mark.parametrize(
    ("codes", "signal", "shown", "pictures"),
    [
        # copper(II) sulfate pentahydrate, CLP Annex VI 029-023-00-4
        (["H302", "H318", "H400", "H410"], "Danger", ["H302", "H318", "H410"],
         ["GHS05", "GHS07", "GHS09"]),
        (["H314", "H318"], "Danger", ["H314"], ["GHS05"]),
        (["H314", "H335"], "Danger", ["H314", "H335"], ["GHS05", "GHS07"]),
        (["H315", "H318"], "Danger", ["H315", "H318"], ["GHS05"]),
        (["H290", "H315"], "Warning", ["H290", "H315"], ["GHS05", "GHS07"]),  # metals only
        (["H301", "H312"], "Danger", ["H301", "H312"], ["GHS06"]),
        (["H301", "H319"], "Danger", ["H301", "H319"], ["GHS06", "GHS07"]),
        (["H334", "H317"], "Danger", ["H317", "H334"], ["GHS08"]),
        (["H351", "H317"], "Warning", ["H317", "H351"], ["GHS07", "GHS08"]),
        (["H225", "H319", "H336"], "Danger", ["H225", "H319", "H336"], ["GHS02", "GHS07"]),
        (["H412"], "", ["H412"], []),
        ([], "", [], []),
        (["H350i"], "Danger", ["H350i"], ["GHS08"]),
        (["EUH031", "H302"], "Warning", ["H302", "EUH031"], ["GHS07"]),
    ],
)  # fmt: skip
def test_omission_and_precedence(codes, signal, shown, pictures):
    found = label.make("x", codes)
    assert found.signal == signal
    assert list(found.statements) == shown
    assert list(found.pictograms) == pictures


@given(st.sets(st.sampled_from(sorted(label.classes()))))
def test_laws_of_a_label(codes):
    """One signal word; nothing shown that was not given; what is left out is covered."""
    found = label.make("x", codes)
    assert set(found.statements) | {c for c, _ in found.omitted} == codes
    for code, _ in found.omitted:
        assert label.OMITS[code][0] in found.statements
    if any(label.classes()[c].signal == "Danger" for c in codes):
        assert found.signal == "Danger"
    assert ("GHS07" in found.pictograms) <= any(
        "GHS07" in label.classes()[c].pictograms for c in codes
    )


def test_label_of_a_solution(lib):
    assert label.label(lib, "acetic-acid", 0.05).signal == ""
    assert label.label(lib, "acetic-acid", 0.05).pictograms == ()
    strong = label.label(lib, "acetic-acid", 0.5)
    assert "H314" in strong.statements
    assert strong.name == "acetic acid, 50 %"
    with pytest.raises(ValueError, match="above 0"):
        label.label(lib, "acetic-acid", 0.0)


def test_caution_is_not_printed_as_classification(lib):
    found = label.label(lib, "copper-ii-acetate-monohydrate")
    assert "H314" in found.for_caution
    assert "H314" not in found.statements


def test_unknown_is_said(lib):
    assert label.label(lib, "prussian-blue").unknown
    assert label.step_label(lib, lib.steps["oxidise-berlin-white-to-prussian-blue"]).unknown


def test_material_label(lib):
    vinegar = lib.materials["distilled-white-vinegar"]
    found = label.material_label(lib, "vinegar", vinegar.fractions, "solution")
    assert found.signal == ""
    bleach = lib.materials["chlorine-bleach"]
    assert label.material_label(lib, "bleach", bleach.fractions, "solution").signal == "Danger"


def test_every_statement_of_the_library_has_class_and_wording(lib):
    codes = {c for s in lib.substances.values() for h in (s.hazards, *s.solutions)
             for c in h.scored}  # fmt: skip
    for code in codes:
        assert phrase(code), code
        if code.startswith(("H2", "H3", "H4")):
            assert code in label.classes() or code[:4] in label.classes(), code


# --- pictograms ---------------------------------------------------------------------------------

PATH = re.compile(r"[A-Za-z]|-?\d+(?:\.\d+)?")


@pytest.mark.parametrize("code", sorted(label.NAMES))
def test_pictogram(code):
    """Well-formed, a red diamond, alt text, and a black symbol within the field."""
    text = pictograms.svg(code, 48)
    root = ET.fromstring(text)
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == space + "svg"
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == f"{code}, {label.NAMES[code]}"
    assert root.find(space + "title").text == pictograms.alt(code)
    diamond = root.find(space + "path")
    assert diamond.attrib["stroke"] == "#d40000"
    assert diamond.attrib["d"] == "M50 3 L97 50 L50 97 L3 50 Z"
    symbol = root.find(space + "g")
    assert symbol.attrib["fill"] == "#000"
    assert len(list(symbol.iter())) > 1
    for path in symbol.iter(space + "path"):
        for number in (float(n) for n in PATH.findall(path.attrib["d"]) if not n.isalpha()):
            assert -60 <= number <= 100


def test_no_other_pictogram():
    with pytest.raises(KeyError):
        pictograms.svg("GHS10")
    assert len({pictograms.svg(c) for c in label.NAMES}) == 9


# --- cautions -----------------------------------------------------------------------------------


def texts(found):
    return " | ".join(a.text for a in found)


def test_cautions_fit_the_step(lib):
    acid = advice.cautions(lib, lib.steps["dissolve-iron-in-sulfuric-acid"])
    assert "close-fitting goggles" in texts(acid.wear)
    assert "butyl" in texts(acid.wear)
    assert "no flame" in texts(acid.wear)  # hydrogen
    assert "acid into water" in texts(acid.never)
    assert "closed vessel" in texts(acid.never)
    assert acid.label.signal == "Danger"

    vinegar = advice.cautions(
        lib, lib.steps["dissolve-chalk-in-acetic-acid"], {"acetic-acid": 0.05}
    )
    # hot liquid, and the vapour the record tells of; nothing else
    assert texts(vinegar.wear) == (
        "safety glasses or goggles | air the room well, do not breathe what rises"
    )
    assert vinegar.label.signal == ""
    assert "closed vessel" in texts(vinegar.never)

    solvent = advice.cautions(lib, lib.steps["esterify-salicylic-acid-with-methanol"])
    assert "water bath" in texts(solvent.wear)
    assert "CO₂" in texts(solvent.if_wrong)

    roast = advice.cautions(lib, lib.steps["roast-green-vitriol-to-red-oxide"])
    assert "outdoors upwind, never in a room" in texts(roast.wear)
    assert "heat-proof" in texts(roast.wear)
    assert "fresh air" in texts(roast.if_wrong)
    assert "crystal water" in texts(roast.never)

    lime = advice.cautions(lib, lib.steps["slake-quicklime"])
    assert "dry first" in texts(lime.if_wrong)


def test_keep_apart(lib):
    bleach = texts(advice.keep_apart(lib.substances["sodium-hypochlorite"]))
    assert "acids" in bleach
    assert "chlorine" in bleach
    assert "ammonia" in bleach
    assert advice.keep_apart(lib.substances["calcium-sulfate-dihydrate"]) == ()


def test_missing_extraction_is_named(lib):
    from dataclasses import replace

    step = lib.steps["roast-green-vitriol-to-red-oxide"]
    bare = replace(step, record=step.record.model_copy(update={"equipment": ()}))
    assert "no fume extraction" in texts(advice.cautions(lib, bare).lacks)
    assert "no fume extraction" not in texts(advice.cautions(lib, step).lacks)


def test_every_advice_has_a_source(lib):
    marks = {"published", "common practice", "from memory", "cautious", "computed"}
    for step in lib.steps.values():
        found = advice.cautions(lib, step)
        for a in (*found.wear, *found.if_wrong, *found.never, *found.lacks):
            assert a.source.split(":")[0] in marks, a
            assert a.why
        assert len(found.wear) <= 7
