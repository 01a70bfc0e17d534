"""What the shipped library makes of 80 wished-for substances on an ordinary bench.

The list (tests/reference/targets.csv) carries its sources row by row. The bench is
examples/ordinary/bench.yaml, with a 1000 degC kiln; ordinary shops are open to anyone, without a
laboratory supplier.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from routefinder.asking.coverage import coverage, read_targets
from routefinder.library import shelf as shelves
from routefinder.library.where import examples
from routefinder.results.covered import Coverage

LIST = Path(__file__).parent / "reference" / "targets.csv"
SHOPS = (
    "art", "brewing", "dye shop", "garden", "grocery", "hardware", "kitchen waste",
    "leather supply", "pharmacy", "photo", "pool", "pottery", "soap supply",
)  # fmt: skip
LACKING = {"Isoamyl acetate", "n-Butyl acetate", "Octyl acetate", "Ethyl butyrate",
           "Dibenzalacetone"}  # fmt: skip
WHY = "its starting alcohol, acid or aldehyde comes from a laboratory supplier"


@pytest.fixture(scope="module")
def found(shipped) -> Coverage:
    """Every target of the list from ordinary shops on the ordinary bench."""
    bench = examples() / "ordinary" / "bench.yaml"
    return coverage(shipped, read_targets(LIST), places=SHOPS, bench=bench, top=8)


def test_the_list_is_whole_and_known():
    """80 targets, none twice."""
    with LIST.open(encoding="utf-8", newline="") as lines:
        names = [row["name"] for row in csv.DictReader(lines)]
    assert len(names) == len(set(names)) == 80


def test_enough_have_a_route(found):
    """At least 72 of 80 can be made, all of them named so in the library."""
    assert found.known == 80
    assert found.with_route >= 72
    assert {row.target.name for row in found.rows if not row.routes} <= LACKING, WHY


def test_enough_have_really_different_routes(found):
    """At least 60 of 80 can be made in two or more really different ways."""
    assert found.with_two >= 60


def test_what_lacks_is_said(found):
    """A target without a route names what would have to be bought."""
    for row in found.rows:
        if not row.routes:
            assert "lacks" in row.why, row.target.name


def test_the_bench_matters(shipped, found):
    """The kiln of 1000 degC is needed: without dry heat above an oven's, pigments fall out."""
    bench = shelves.read_bench(examples() / "ordinary" / "bench.yaml", shipped)
    reach = max(
        offer.limit("to") or 0.0
        for tool in bench.tools
        for offer in tool.offers
        if offer.name == "heat-dry"
    )
    assert 900 < reach <= 1000
    blue = next(row for row in found.rows if row.target.name == "Egyptian blue")
    assert blue.routes
