"""In what order things go into the vessel, and how hot it is then: stages that charge again."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import routefinder as rf
from routefinder.assessment.one_step import one_step
from routefinder.errors import LibraryFaults
from routefinder.library.cache import load_cached
from routefinder.records.stage import SEPARATES
from routefinder.view import bench_words
from routefinder.worksheet.bench_work import bench_work

# words by which a record gives an order of addition
ORDER = re.compile(
    r"\b(pour|add|run|stir|put|drop|mix|dissolve|make)\w*\b[^.;:]{0,60}\b(in)?to the\b|"
    r"not the other way|never the (reverse|other)|\bfirst, then\b|\bfirst, pour\b|\bonly after\b|"
    r"\blast\b[^.]{0,20}(slowly|drop)|, then (the|run|add|pour|slowly)\b",
    re.IGNORECASE,
)
LEAVINGS = re.compile("waste jar|drain")


def charges(step):
    """Places of the stages that put something in."""
    return [i for i, s in enumerate(step.record.stages) if s.kind == "charge"]


def again(shipped):
    """Steps that charge more than once."""
    return [s for s in shipped.steps.values() if len(charges(s)) > 1]


def test_a_record_that_speaks_of_an_order_writes_it(shipped):
    """Or it stands in the list of those that were read and that the usual order serves."""
    rows = (Path(__file__).parent / "reference" / "default_order.csv").read_text().splitlines()
    read = {row["step"] for row in csv.DictReader(rows[1:])}
    silent = []
    for step in shipped.steps.values():
        r = step.record
        said = [t for t in (r.title, *r.watch, *r.cautions, *r.notes) if ORDER.search(t)]
        if [t for t in said if not LEAVINGS.search(t)] and len(charges(step)) < 2:
            silent.append(step.id)
    assert set(silent) - read == set()
    assert read - set(silent) == set()  # the list holds nothing that is written by now
    assert len(again(shipped)) >= 130


def test_all_of_everything_goes_in(shipped):
    """Shares make a whole; what goes in later adds up, with the first charge, to all there is."""
    for step in again(shipped):
        for name, parts in step.charged.items():
            assert sum(share for _, share in parts) == pytest.approx(1.0, abs=1e-9), (step.id, name)
            places = {place for place, _ in parts} - {0}
            assert places <= set(charges(step)), step.id
        charge = one_step(shipped, step, 100.0).course.charge
        whole = charge.at_first.mass_g + sum(s.mass_g for s in charge.later.values())
        assert whole == pytest.approx(charge.contents.mass_g, rel=1e-12), step.id


def test_what_goes_in_later_is_not_there_before(shipped):
    """The course holds it from its stage on; what comes after a filter is counted from the start."""
    met = late = 0
    for step in again(shipped):
        course = one_step(shipped, step, 100.0).course
        places = {i for parts in step.charged.values() for i, _ in parts} - {0}
        for place in places:
            before = [s.kind for s in course.stages.listed[:place]]
            if place > course.stages.reacts:
                late += 1
                assert set(before) & {*SEPARATES, "hold", "stand"}, step.id
                assert place not in course.charge.later
            else:
                met += 1
                gain = (
                    course.points[place].contents.mass_g - course.points[place - 1].contents.mass_g
                )
                assert gain == pytest.approx(course.charge.later[place].mass_g, rel=1e-9), step.id
    assert met > 100
    assert late > 10


def test_a_charge_that_cannot_be_is_refused(make_library):
    """An unknown thing, one charged twice, one not all charged, a charge of nothing."""
    step = """
- id: mix
  title: Mix
  kind: precipitation
  equation: "CaCl2(aq) + Na2CO3(aq) -> CaCO3(s) + 2 NaCl(aq)"
  product: CaCO3
  limiting: CaCl2
  yield: {low: 90 %, typical: 95 %, high: 98 %, basis: dry chalk, source: from memory}
  temperature: {low: 20 degC, high: 30 degC}
  time: {hands_on: 1 h, waiting: 1 h}
  stages:
    - charge
    - charge: {what: [WHAT]}
  equipment: [{vessel: {made_of: [borosilicate]}}]
  sources: from memory
"""
    for what, words in {
        "NaOH": "does not stand in the equation|no substance has the id",
        "50 % of CaCl2": "do not make 100 %",
        "CaCl2, CaCl2": "more than is left of it",
        "": "nothing says what goes in here",
    }.items():
        text = step.replace("WHAT", what)
        with pytest.raises(LibraryFaults, match=words):
            load_cached([make_library(steps=text)])


@pytest.mark.parametrize(
    ("step", "target", "words"),
    [
        (
            "esterify-ethanol-by-dropping-into-hot-acid", "ethyl-acetate",
            ["bioethanol", "sulfuric acid", "Bring to 130 °C", "bioethanol", "acetic acid",
             "stage by stage: distil at 130"],
        ),
        ("make-castile-soap-cold", "castile-soap",
         ["caustic soda", "Let cool to 40 °C", "olive", "stage by stage: bring to 50"]),
        ("make-ammonium-iron-citrate", "ammonium-iron-iii-citrate",
         ["citric acid", "Bring to 60 °C", "what step", "Filter", "ammonia", "evaporate"]),
        ("melt-zinc-stearate", "zinc-stearate", ["stearic acid", "Bring to 125 °C", "zinc oxide"]),
    ],
)  # fmt: skip
def test_the_sheet_tells_it_in_order(shipped, step, target, words):
    """Nothing goes in before it is as hot as its record says; acid never waits for spirit."""
    makers = [
        s.id for s in shipped.steps.values()
        if s.id != step and any(p.substance == target for p in s.products)
    ]  # fmt: skip
    plan = rf.find(target, library=shipped, avoid=makers, top=1).plan(1)
    work = next(w for w in bench_work(plan) if w.plan.amount.step.id == step)
    text = "\n".join(bench_words.doing(work))
    place = 0
    for word in words:
        found = text.find(word, place)
        assert found >= 0, (word, text)
        place = found + len(word)
    per_batch = sum(p.grams for p in work.charge)
    fed = [f for f in work.plan.amount.feeds if f.role not in {"wash", "drying agent"}]
    drawn = sum(f.drawn_g for f in fed if not f.after) / work.plan.count
    assert per_batch == pytest.approx(drawn, rel=0.02)  # as the balance reads
