"""The table of honesty marks: counted rightly, and fresh in reactions/README.md."""

from __future__ import annotations

import pytest

from routefinder.errors import FileFault, LibraryFaults
from routefinder.library import count, where
from routefinder.library.heat import HeatCoverage

SUBSTANCES = """\
- {id: a, name: a, formula: CaO, sources: [from memory, "published: book"]}
- {id: b, name: b, formula: H2O, sources: ["computed: sum", common practice]}
- {id: c, name: c, formula: Ca(OH)2, sources: common practice, solubility: [{at: [[20 degC, 0.16]], source: from memory}]}
- {id: d, name: d, formula: MgO, sources: from memory}
- {id: e, name: e, formula: ZnO, sources: "published: book"}
"""
STEP = """\
- id: slake
  title: Slake
  kind: hydration
  equation: CaO(s) + H2O(l) -> Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: from memory}
  temperature: {low: 20 degC, high: 50 degC}
  time: {hands_on: 1 h}
  sources: "published: book"
"""


def test_best_mark_and_memory(make_library):
    """The best of an entry's own sources counts; memory in any number of it is counted apart."""
    folder = make_library(substances=SUBSTANCES, steps=STEP)
    (folder / "steps" / "other.yaml").write_text(
        STEP.replace("slake", "again").replace(", source: from memory", "")
        .replace("high: 50 degC", "high: 60 degC"), encoding="utf-8",
    )  # fmt: skip
    found = {row.name: row for row in count.rows(folder)}
    assert found["substances"].best == (2, 1, 1, 1)
    assert found["substances"].some_from_memory == 3
    assert found["steps: test"].best == (1, 0, 0, 0)
    assert found["steps: test"].some_from_memory == 1
    assert found["steps: other"].some_from_memory == 0
    assert found["all steps"].best == (2, 0, 0, 0)
    assert found["materials"].total == 0
    lines = count.table(count.rows(folder)).splitlines()
    assert "| substances | 5 | 2 | 1 | 1 | 1 | 3 |" in lines


def test_faulty_library_is_not_counted(make_library):
    """A library with faults would be counted wrong."""
    with pytest.raises(LibraryFaults):
        count.rows(make_library(substances=SUBSTANCES.replace("ZnO", "Zz")))


def test_write_renews_the_block_only(tmp_path):
    """What stands outside the marker lines stays; a second write changes nothing."""
    path = tmp_path / "README.md"
    path.write_text(f"before\n{count.BEGIN}\nold\n{count.END}\nafter\n", encoding="utf-8")
    assert count.write(path, "new\n")
    assert path.read_text(encoding="utf-8") == (f"before\n{count.BEGIN}\nnew\n{count.END}\nafter\n")
    assert not count.write(path, "new\n")


@pytest.mark.parametrize("text", ["no markers\n", f"{count.END}\n{count.BEGIN}\n", count.BEGIN])
def test_missing_markers_are_a_fault(tmp_path, text):
    """Nothing is written where the marker lines are missing or out of order."""
    path = tmp_path / "README.md"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileFault, match="are missing"):
        count.write(path, "new\n")
    assert path.read_text(encoding="utf-8") == text


def test_command(capsys):
    """The command prints the table; an unknown word is exit code 2."""
    assert count.main(["--wrte"]) == 2
    assert "usage" in capsys.readouterr().err
    assert count.main([]) == 0
    out = capsys.readouterr().out
    assert "| all steps |" in out
    assert "The heat of reaction is computable for" in out


def test_heat_line():
    """Shares are of the equations; the marks add up to what is computed."""
    found = HeatCoverage(3, 4, 5, {}, {"published": 2, "computed": 0, "from memory": 1})
    assert count.heat_line(found) == (
        "The heat of reaction is computable for 3 of 4 equations (75 %):\n"
        "2 from published data alone, 0 with something computed by a stated rule,\n"
        "1 with something from memory.\n"
    )


def test_the_block_in_the_readme_is_fresh():
    """Renew it with: python -m routefinder.library.count --write"""
    folder = where.shipped_library()
    text = (folder / "README.md").read_text(encoding="utf-8")
    start, end = count.block(text, "README.md")
    assert text[start:end] == count.figures(folder), (
        "run: python -m routefinder.library.count --write"
    )


def test_heats_kept_with_the_package_are_what_the_data_give():
    """``heats.json`` is fresh: every equation of the shipped library, from the data again."""
    from routefinder.library.heats import shipped_heats, work_out
    from routefinder.library.load import load
    from routefinder.library.where import shipped_library

    again = work_out(load([shipped_library()]).library)
    kept = shipped_heats()
    assert kept.keys() == again.keys(), "run: python -m routefinder.library.heats --write"
    for key, heat in again.items():
        if heat is None:
            assert kept[key] is None, key
        else:
            assert kept[key] == pytest.approx(heat, abs=1e-3), key
