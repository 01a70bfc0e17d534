"""What can hurt eyes, skin or lungs in a shipped step asks for protection by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from routefinder.hazards.score import profile
from routefinder.library.load import load


@pytest.fixture(scope="module")
def library():
    """The shipped library alone."""
    return load([Path(__file__).parents[1] / "reactions"]).library


def test_corrosive_steps_ask_for_goggles_and_gloves(library):
    """Corrosive 3 or 4 (H314, or worse): ``protect-from-splash`` stands in the equipment."""
    bare = [
        s.id
        for s in library.steps.values()
        if profile(library, s)["corrosive"].points >= 3
        and "protect-from-splash" not in {c.name for c in s.record.equipment}
    ]
    assert bare == []


def test_harmful_dust_asks_for_a_mask_or_extraction(library):
    """Dust 3 or 4: a mask, enclosed handling or extraction stands in the equipment."""
    bare = [
        s.id
        for s in library.steps.values()
        if profile(library, s)["dust"].points >= 3
        and not {"protect-from-dust", "fume-extraction"} & {c.name for c in s.record.equipment}
    ]
    assert bare == []
