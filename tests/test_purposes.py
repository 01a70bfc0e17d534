"""Found by what it is for, and equipment by the names that people say."""

from __future__ import annotations

import json

import pytest

from routefinder.library.purposes import makings, named_for
from routefinder.library.shelf import read_bench


def ids(library, text, kind="substance"):
    return {t.id for t in named_for(library, text) if t.kind == kind}


@pytest.mark.parametrize(
    ("asked", "has", "lacks"),
    [
        ("soap", {"castile-soap", "soft-soap", "tallow-soap"}, {"potassium-hydroxide", "olive-oil"}),
        ("blue pigment without cobalt", {"egyptian-blue", "prussian-blue", "ultramarine"},
         {"cobalt-ii-aluminate", "smalt", "rinmanns-green"}),
        ("blue pigments", {"cobalt-ii-aluminate", "smalt", "egyptian-blue"}, {"madder-lake"}),
        ("mordant", {"potassium-alum-dodecahydrate", "tannin"}, {"madder-lake"}),
        ("fertilizer", {"ammonium-sulfate", "magnesium-ammonium-phosphate"}, {"gypsum"}),
        ("glaze oxide", {"copper-ii-oxide", "cobalt-ii-iii-oxide"}, {"clear-glaze-batch"}),
        ("cleaner", {"sodium-carbonate-decahydrate", "citric-acid-monohydrate"}, {"quartz"}),
        ("drying agent", {"calcium-chloride", "silica-gel"}, {"water"}),
        ("red lake", {"madder-lake", "carmine"}, {"weld-lake"}),
    ],
)  # fmt: skip
def test_substances_by_use(shipped, asked, has, lacks):
    """All of the kind, none of what only serves it."""
    found = ids(shipped, asked)
    assert has <= found
    assert not found & lacks


def test_every_use_finds_its_substance(shipped):
    """Law: asked by its colour and any of its uses, a substance is among what is listed."""
    with_uses = [s for s in shipped.substances.values() if s.uses]
    assert len(with_uses) >= 280
    for s in with_uses:
        for use in s.uses:
            assert s.id in ids(shipped, use), (s.id, use)
            if s.colour:
                assert s.id in ids(shipped, f"{s.colour} {use}"), (s.id, use)


def test_what_is_listed_can_be_had(shipped):
    """A way or a shop for nearly all that bears a use."""
    bare = [s.id for s in shipped.substances.values() if s.uses and not (
        makings(shipped, s.id).ways or makings(shipped, s.id).sold)]  # fmt: skip
    assert len(bare) <= 3, bare


SAID = [
    "goggles", "thermometer", "balance", "sieve", "oven", "beaker", "burner", "funnel",
    "measuring cylinder", "stirring rod", "bucket", "kitchen scale", "jar", "pottery kiln",
    "beakers", "buckets", "jars", "Bunsen burner", "hot plate", "pH paper", "dust mask", "saucepan",
    "fume hood", "mortar", "thermometers", "measuring cylinders", "kitchen scales", "pH meter",
]  # fmt: skip


def test_equipment_as_people_say_it(shipped, tmp_path):
    """Each line of a bench is understood; plural kinds are several, one kiln is one."""
    path = tmp_path / "bench.yaml"
    path.write_text("".join(f"- {name}\n" for name in SAID), encoding="utf-8")
    tools = read_bench(path, shipped).tools
    assert len(tools) == len(SAID)
    count = {name: tool.count for name, tool in zip(SAID, tools, strict=True)}
    assert count["beakers"] == count["jars"] == count["buckets"] == 2
    assert count["pottery kiln"] == count["oven"] == 1
    path.write_text("- {equipment: beakers, count: 5}\n", encoding="utf-8")
    assert read_bench(path, shipped).tools[0].count == 5


def test_no_name_of_equipment_is_anothers(shipped):
    """A name, its singular and its plural mean one kind."""
    for e in shipped.equipment.values():
        for name in (e.id, e.name, *e.names):
            assert shipped.equipment_names.find(name) == [e.id], name


def test_look_and_find_list_what_fits(call):
    """`look kiln`, `find soap`: a list with needs; JSON too; a stranger points to `new`."""
    code, out, _ = call("look", "kiln")
    assert code == 0
    assert "pottery kiln, electric, cone 6" in out
    assert "heat a dry solid to 1200 °C" in out
    code, out, _ = call("find", "soap", "--json")
    assert code == 1  # nothing was searched yet
    found = {row["id"]: row for row in json.loads(out)["candidates"]}
    assert found["castile-soap"]["gentlest"]["from"] == ["olive oil", "sodium hydroxide"]
    assert found["castile-soap"]["sold_as"]
    code, out, _ = call("look", "--kind", "equipment", "--json")
    assert code == 0
    assert len(json.loads(out)["candidates"]) >= 100
    for command in ("look", "find"):
        code, _, err = call(command, "frobnium")
        assert code == 2
        assert "routefinder new substance" in err
