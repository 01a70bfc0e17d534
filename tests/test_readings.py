"""The readings of the shipped library speak of what is in it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from routefinder.library.load import load

REACTIONS = Path(__file__).parents[1] / "reactions"
READINGS = sorted(  # pages*.csv: test_second_reading; third.csv: test_third_reading
    p for p in (REACTIONS / "readings").glob("*.csv")
    if not p.stem.startswith(("pages", "third"))
)  # fmt: skip
COLUMNS = ["step", "reader", "date", "verdict", "field", "was", "now", "why"]


@pytest.mark.parametrize("path", READINGS, ids=lambda path: path.stem)
def test_every_line_names_a_record_and_says_why(path: Path) -> None:
    library = load([REACTIONS]).library
    with path.open(encoding="utf-8", newline="") as text:
        reader = csv.DictReader(text)
        lines = list(reader)
    assert reader.fieldnames == COLUMNS
    assert lines
    fine = set()
    told = set()
    for line in lines:
        name = line["step"]
        kind, _, record = name.rpartition(":")
        known = {
            "": library.steps, "substance": library.substances, "material": library.materials,
            "equipment": library.equipment,
        }  # fmt: skip
        assert record in known[kind], name
        assert line["verdict"] in {"ok", "corrected", "doubt"}, name
        if line["verdict"] == "ok":
            assert not any(line[column] for column in ("field", "was", "now", "why")), name
            assert name not in fine, name
            fine.add(name)
        else:
            assert line["field"], name
            assert line["why"], name
            told.add(name)
    assert not fine & told
