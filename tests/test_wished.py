"""A step done with the tool that the user names, everywhere in the plan; or refused, and why."""

from __future__ import annotations

import pytest

from routefinder.errors import FieldError
from routefinder.worksheet.wished import read


def test_the_named_vessel_is_used_everywhere(demo):
    """Batches, equipment and the calendar's page follow; other steps keep theirs."""
    plain, made = demo.plan(1), demo.plan(1, tools=["step 3 = glass beakers"])
    assert plain.steps[2].batches.vessels == ("enamelled pot, 5 L",)
    assert made.steps[2].batches.vessels == ("glass beakers, 1 L",)
    assert made.steps[2].count > plain.steps[2].count
    assert made.steps[1].batches.vessels == plain.steps[1].batches.vessels
    needed = {n.tool for n in made.needed if "crystallise-copper-ii-acetate" in n.steps}
    assert "glass beakers, 1 L" in needed
    assert made.json()["terms"]["with"] == [{"step": "3", "tool": "glass beakers"}]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("step 3 = drying oven", "does not serve step 3: what it needs is: heat a liquid"),
        ("step 9 = hotplate", "names step '9'; this route has the steps 1 to 3"),
        ("step 3 = kiln", "'kiln' is not on the bench; there are"),
        ("3 hotplate", "write a step and a tool of the bench"),
    ],
)
def test_what_does_not_serve_is_refused(demo, said, why):
    """In one sentence that says why."""
    with pytest.raises(FieldError) as caught:
        demo.plan(1, tools=[said])
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)


def test_it_needs_a_bench(shipped):
    """And says so."""
    import routefinder as rf

    found = rf.find("calcium oxide", "10 g", library=shipped, top=1)
    with pytest.raises(FieldError, match="tools needs a bench; give bench"):
        found.plan(1, tools="1 = kiln")


def test_reading():
    """With and without the word."""
    assert read("step 2 = drying oven") == read("2=drying  oven") == ("2", "drying oven")
