"""The material can be steered: --from, --use-up and --avoid take one material or a substance."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.asking.question import read_question
from routefinder.errors import AmbiguousName, FieldError
from routefinder.graph.narrow import narrow
from routefinder.library import steering
from routefinder.library.shelf import supply

CHALKS = {
    "whiting", "eggshells", "marble-chips", "coral-sand", "chalk-brewing",
    "garden-lime-limestone", "calcium-carbonate-precipitated",
}  # fmt: skip
TARGET = "calcium acetate"


def left(library, **given):
    """The calcium carbonates that a question may still use."""
    question = read_question(library, TARGET, "10 g", **given)
    return {s.id for s in narrow(library, question).supplies} & CHALKS


@pytest.mark.parametrize("name", ["eggshells", "whiting", "marble chips", "coral sand"])
def test_avoiding_a_material_leaves_its_siblings(shipped, name):
    material = shipped.material(name).record.id
    assert left(shipped, avoid=[name]) == CHALKS - {material}


@pytest.mark.parametrize("name", ["calcium carbonate", "CaCO3", "chalk", "471-34-1"])
def test_a_substance_means_all_its_materials(shipped, name):
    assert not left(shipped, avoid=[name])
    assert steering.meant(shipped, name) == "calcium-carbonate"


def test_every_material_can_be_steered_by_its_own_name(shipped):
    """Or its name is the substance's own; what is avoided is then never drawn."""
    alone = 0
    for material in shipped.materials.values():
        record = material.record
        try:
            meant = steering.meant(shipped, record.name)
        except AmbiguousName:
            pytest.fail(f"{record.name} is ambiguous")
        mine = supply(material)
        if record.id == "silica-gel-desiccant":  # "silica gel" is a substance of its own, the gel
            assert meant == "silica-gel"
            continue
        assert steering.covers(shipped, meant, mine), record.id
        if steering.is_material(shipped, meant):
            alone += 1
            assert meant == record.id
            others = [supply(m) for m in shipped.materials.values() if m is not material]
            assert not any(steering.covers(shipped, meant, s) for s in others), record.id
    assert alone > 200


def test_the_first_name_of_a_substance_is_never_a_material(shipped):
    for substance in shipped.substances.values():
        if len(shipped.substance_names.find(substance.name)) == 1:
            assert steering.meant(shipped, substance.name) == substance.id


@pytest.mark.parametrize("name", ["whiting", "eggshells"])
def test_from_a_material_takes_that_one(shipped, name):
    answer = rf.find(TARGET, library=shipped, use=[name], top=2, seconds=4)
    assert answer.routes
    for route in answer.routes:
        drawn = {d.supply.id for d in route.assessment.amounts.draws}
        assert drawn & CHALKS == {shipped.material(name).record.id}


def test_what_cannot_hold_together(shipped, tmp_path):
    for use, avoid in (
        ("whiting", "whiting"), ("whiting", "chalk"), ("calcium carbonate", "CaCO3"),
    ):  # fmt: skip
        with pytest.raises(FieldError, match="drop one"):
            read_question(shipped, TARGET, "10 g", use=[use], avoid=[avoid])
    read_question(shipped, TARGET, "10 g", use=["calcium carbonate"], avoid=["whiting"])
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material\neggshells\nvinegar\n", encoding="utf-8")
    with pytest.raises(FieldError, match="not on the shelf"):
        read_question(shipped, TARGET, "10 g", use=["whiting"], shelf=shelf)
    read_question(shipped, TARGET, "10 g", use=["calcium carbonate"], shelf=shelf)


def test_unlock_does_not_sell_what_is_avoided_and_offers_to_take_it_after_all(shipped, tmp_path):
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material\neggshells\nvinegar\n", encoding="utf-8")
    found = rf.unlock(TARGET, library=shipped, shelf=shelf, avoid=["eggshells"], seconds=5)
    pieces = [p for o in found.openings for p in o.pieces]
    named = {n for p in pieces for n in (p.name, *p.or_else)}
    assert "eggshells, boiled and dried" not in named
    assert "--avoid eggshells, boiled and dried given up" in named
