"""Assays as on labels: taken as what they are, or asked back; never a silent double dose."""

from __future__ import annotations

from pathlib import Path

import pytest

import routefinder as rf
from routefinder.chem.formula import parse
from routefinder.errors import InputError, LibraryFaults
from routefinder.library import assays
from routefinder.library.shelf import read_shelf, supply
from routefinder.library.strengths import at_strength


def on_shelf(library, tmp_path: Path, name: str, strength: str):
    path = tmp_path / "shelf.csv"
    path.write_text(f'material,amount,strength\n"{name}",500 g,{strength}\n', encoding="utf-8")
    return read_shelf(path, library).supplies[0]


@pytest.mark.parametrize(
    ("name", "strength", "share"),
    [  # computed from the formulas with IUPAC 2021 atomic weights
        ("copper carbonate", "56 % Cu", 0.9743), ("copper carbonate", "56 % copper", 0.9743),
        ("copper carbonate", "55 to 57 % Cu", 0.9743), ("cobalt carbonate", "46 % Co", 0.9284),
        ("copper carbonate", "56 % Cu2(OH)2CO3", 0.56), ("potassium sulfate", "50 % K2O", 0.925),
        ("aluminium sulfate, 17 % alumina", "17 % as Al2O3", 0.9910),
    ],
)  # fmt: skip
def test_an_assay_is_taken_as_what_it_is(shipped, tmp_path, name, strength, share):
    """The figure of the element or oxide, turned into the substance's."""
    found = on_shelf(shipped, tmp_path, name, strength)
    assert found.fractions[found.main] == pytest.approx(share, abs=2e-4)
    assert found.low[found.main] <= found.fractions[found.main] <= found.high[found.main]


@pytest.mark.parametrize(
    ("name", "strength", "says"),
    [
        ("copper carbonate", "56 %", ["far from the usual", "'56 % Cu'", "'56 % Cu2(OH)2CO3'"]),
        ("cobalt carbonate", "46 %", ["'46 % Co'", "really 46 %"]),
        ("potassium sulfate", "50 %", ["'50 % K2O'"]),
        ("copper carbonate", "99 % Cu", ["more than pure", "57 %"]),
        ("copper carbonate", "46 % Co", ["no element in common"]),
        ("copper carbonate", "56 % frog", ["'frog' is no formula"]),
        ("copper carbonate", "60 to 50 % Cu", ["must rise"]),
    ],
)
def test_what_is_doubtful_is_asked_back(shipped, tmp_path, name, strength, says):
    """A sentence with what to write, and nothing taken."""
    with pytest.raises(LibraryFaults) as caught:
        on_shelf(shipped, tmp_path, name, strength)
    for words in says:
        assert words in str(caught.value)


def test_every_assay_of_the_library_is_safe_on_a_shelf_line(shipped):
    """Each material sold by an assay: its own figure bare is asked back or right, never silent."""
    tried = asked = 0
    for material in shipped.materials.values():
        content = material.record.contains[0]
        if content.as_formula is None:
            continue
        tried += 1
        base = supply(material)
        figure = f"{100 * content.strength[0]:g} %"
        by_label = at_strength(shipped, base, f"{figure} {content.as_formula}")
        assert by_label.fractions[base.main] == pytest.approx(base.fractions[base.main], rel=1e-3)
        if content.strength[0] >= assays.FAR * base.low[base.main]:
            continue  # a stretch that changes the dose little
        asked += 1
        with pytest.raises(InputError, match=f"'{figure} {content.as_formula}' if the label"):
            at_strength(shipped, base, figure)
    assert tried >= 11
    assert asked >= 9


def test_every_solid_bears_its_own_figure(shipped):
    """The usual strength of a solid, its least and its most are never asked back."""
    for material in shipped.materials.values():
        base = supply(material)
        if base.form not in {"solid", "metal"}:
            continue
        for share in (base.fractions[base.main], base.low[base.main]):
            at_strength(shipped, base, f"{100 * share!r} %")


def test_factor_by_what_tells():
    """Oxygen in common says nothing; a hydrate's salt does, whichever element is taken."""
    assert assays.factor(parse("Cu"), parse("CuO")) == pytest.approx(1.2518, abs=1e-4)
    assert assays.factor(parse("CuSO4"), parse("CuSO4·5H2O")) == pytest.approx(1.5643, abs=1e-4)
    for stated, held in (("Al2O3", "CuO"), ("K2O", "Cu2(OH)2CO3")):
        with pytest.raises(InputError, match="no element in common"):
            assays.factor(parse(stated), parse(held))


def test_new_material_takes_a_label_and_asks_back(tmp_path, call, monkeypatch):
    """`new material`: "56 % Cu" is kept as an assay; "56 %" alone is asked back, nothing written."""
    monkeypatch.setenv("ROUTEFINDER_LIBRARY", "")
    folder = tmp_path / "own"
    words = ("new", "material", "--library", folder, "--set", "name=potter's copper carb")
    code, _, err = call(*words, "--set", "contains=basic copper carbonate 56 %")
    assert code == 2
    assert "'56 % Cu'" in err
    assert not folder.exists()
    code, _, err = call(*words, "--set", "contains=basic copper carbonate 55 to 57 % Cu")
    assert code == 0, err
    found = rf.load_library([folder]).materials["potter-s-copper-carb"]
    assert found.fractions["basic-copper-carbonate"] == pytest.approx(0.9743, abs=2e-4)
    assert found.low["basic-copper-carbonate"] == pytest.approx(0.9569, abs=2e-4)
