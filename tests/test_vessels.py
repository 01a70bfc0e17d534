"""Vessels against their contents and the heat."""

from __future__ import annotations

from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.asking import answering
from routefinder.asking.library import load_library
from routefinder.asking.question import read_question
from routefinder.hazards import vessels
from routefinder.hazards.set_up import set_up
from routefinder.records.capability import VESSEL_MATERIALS, Capability
from routefinder.records.shelf import Bench, Tool


@pytest.fixture(scope="module")
def lib():
    return load_library()


def with_vessel(step, *made_of, to=None):
    """The step with one vessel of these materials and nothing else."""
    limits = (("to", to),) if to is not None else ()
    need = Capability(name="vessel", limits=limits, made_of=made_of)
    return replace(step, record=step.record.model_copy(update={"equipment": (need,)}))


def pot(name, *made_of, to=1200.0):
    return Tool(name, (Capability(name="vessel", limits=(("to", to),), made_of=made_of),))


@pytest.mark.parametrize(
    ("step", "material", "verdict", "agent"),
    [
        ("dissolve-iron-in-sulfuric-acid", "aluminium", "attacked", "sulfuric-acid"),
        ("dissolve-iron-in-sulfuric-acid", "zinc-plated steel", "attacked", "sulfuric-acid"),
        ("dissolve-iron-in-sulfuric-acid", "carbon steel", "attacked", "sulfuric-acid"),
        ("neutralise-hydrochloric-acid-with-soda", "stainless steel", "attacked",
         "hydrogen-chloride"),
        ("causticise-soda-with-quicklime", "aluminium", "attacked", None),
        ("causticise-soda-with-quicklime", "borosilicate", "slowly attacked", "sodium-hydroxide"),
        ("causticise-soda-with-quicklime", "stainless steel", "nothing known against it", None),
        ("causticise-soda-with-quicklime", "nickel", "nothing known against it", None),
        ("cement-copper-with-iron", "zinc-plated steel", "attacked", None),
        ("burn-basic-copper-carbonate", "PP", "too hot", ""),
        ("burn-basic-copper-carbonate", "porcelain", "with care", ""),
        ("fuse-quartz-and-soda-to-water-glass", "fused silica", "attacked", None),
        ("precipitate-magnesium-trisilicate", "PP", "nothing known against it", None),
    ],
)  # fmt: skip
def test_verdict(lib, step, material, verdict, agent):
    if step not in lib.steps:
        pytest.skip(f"{step} is not in this library")
    found = vessels.verdict(lib, lib.steps[step], material)
    assert found.verdict == verdict
    if agent is not None:
        assert found.reasons[0].agent == agent


def test_cold_alkali_in_glass_is_quiet(lib):
    """Only hot alkali counts against glass."""
    step = lib.steps["precipitate-magnesium-hydroxide-with-caustic-soda"]
    cold = with_vessel(step, "borosilicate", to=30.0)
    window = step.record.temperature.model_copy(update={"low_C": 15.0, "high_C": 30.0})
    cold = replace(cold, record=cold.record.model_copy(update={"temperature": window}))
    assert vessels.verdict(lib, cold, "borosilicate").verdict == "nothing known against it"


def test_every_material_has_a_heat_limit():
    assert set(vessels.heat_limits()) == set(VESSEL_MATERIALS)
    for limit in vessels.heat_limits().values():
        assert limit.routine_C <= limit.highest_C
    for row in vessels.rows():
        assert row.vessels <= set(VESSEL_MATERIALS)


def test_bench(lib):
    """A bench whose only pot would be eaten is told so, with what would do."""
    step = with_vessel(lib.steps["dissolve-iron-in-sulfuric-acid"])
    (why,) = set_up(lib, step, Bench((pot("jam pan", "aluminium"),))).barred
    assert "jam pan (aluminium): sulfuric acid" in why
    assert "borosilicate" in why
    two = set_up(lib, step, Bench((pot("jam pan", "aluminium"), pot("jar", "PP"))))
    assert two.barred == ()
    assert [f.tool.name for f in two.places[0].fits] == ["jar"]
    unsaid = set_up(lib, step, Bench((pot("pot of something"),)))
    assert unsaid.barred == ()
    assert unsaid.places[0].fits[0].verdict is None
    assert set_up(lib, step, Bench(())).barred == ()  # that there is none is another reason


def test_a_route_that_would_eat_its_vessel_is_set_aside(lib):
    """Through the search: with an aluminium pan only, the acid step is set aside as 'vessel'."""
    name = "dissolve-iron-in-sulfuric-acid"
    small = replace(lib, steps={name: with_vessel(lib.steps[name])})
    question = read_question(
        small, "iron(II) sulfate, anhydrous", "10 g",
        shelf=["iron filings", "battery acid, 37 %"], bench=Bench((pot("jam pan", "aluminium"),)),
    )  # fmt: skip
    found = answering.answer(small, question)
    assert not found.routes
    assert [(a.limit, a.step) for a in found.aside] == [("vessel", name)]
    good = read_question(
        small, "iron(II) sulfate, anhydrous", "10 g",
        shelf=["iron filings", "battery acid, 37 %"], bench=Bench((pot("jar", "PP"),)),
    )  # fmt: skip
    assert answering.answer(small, good).routes


def test_the_demo_is_not_set_aside():
    from routefinder.library.where import examples

    studio = examples() / "studio"
    found = rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / "shelf.csv",
        bench=studio / "bench-with-kiln.yaml", libraries=[studio / "reactions"],
    )  # fmt: skip
    assert found.routes
    used = {s for r in found.routes for s in r.assessment.ids}
    assert len(used) > 8
    assert not used & {a.step for a in found.aside if a.limit == "vessel"}


def test_shipped_steps_keep_a_vessel(lib):
    """Every shipped step has an allowed material that lasts, but for one."""
    without = {
        s.id
        for s in lib.steps.values()
        for n in vessels.verdicts(lib, s)
        if all(v.verdict in vessels.EATEN for v in n.allowed)
    }
    assert without <= {"disproportionate-benzaldehyde-with-lye"}  # distils to 206 °C over lye
