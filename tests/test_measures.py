"""One table of the measures: every reader and writer of them knows every one."""

from __future__ import annotations

import pytest

from routefinder.assessment.measure import COMPARED, MEASURES, Measure
from routefinder.choice import bounds, measures, prefer
from routefinder.view import compare_words

QUANTITIES = {"share": "40 %", "money": "12 USD", "time": "3 days", "temperature": "250 degC",
              "ratio": "1.5", "count": "2"}  # fmt: skip


@pytest.mark.parametrize("key", MEASURES)
def test_every_measure_is_read_written_and_bounded(key):
    """A must-have in the user's words, a cell, a lower bound for the search of the best."""
    kind = MEASURES[key]
    assert measures.key_of(kind.word) == measures.key_of(key) == key
    at = QUANTITIES[kind.quantity]
    (wish,) = prefer.read(f"{kind.word} at {measures.side(key)} {at}")
    assert wish.key == key
    text = compare_words.value(key, wish.limit, "USD")
    assert any(c.isdigit() for c in text)
    assert (kind.noun != "") == (kind.quantity == "count")
    bound = "yield_" if key == "yield" else key
    assert callable(getattr(bounds._Known, bound))


def test_the_demo_has_every_measure(demo_routes):
    """By its key, in its unit, and better the way the table says."""
    for route in demo_routes.values():
        found = route.assessment.measures()
        assert list(found) == list(MEASURES)
        for key, m in found.items():
            assert isinstance(m, Measure)
            assert (m.name, m.better) == (key, MEASURES[key].better)
            assert m.unit == (MEASURES[key].unit or "USD")
    assert set(COMPARED) == set(MEASURES) - {"missing", "purity"}


def test_yield_and_purity_are_better_when_more():
    """Must-haves lie on the right side."""
    assert [key for key in MEASURES if measures.side(key) == "least"] == ["yield", "purity"]
    with pytest.raises(ValueError, match="at most"):
        prefer.read("cost at least 4")
