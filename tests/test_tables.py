"""The one reader of tables, shelves that would mislead, and cells that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routefinder import tables
from routefinder.asking.coverage import read_targets
from routefinder.errors import FileFault, InputError, LibraryFaults
from routefinder.graph.network_file import read_network
from routefinder.hidden import HIDDEN
from routefinder.journal import shelf_books
from routefinder.library.shelf import read_shelf

CELL = st.text(st.characters(exclude_categories=("Cs",)), max_size=12).filter(
    lambda t: not HIDDEN.search(t) and not any(c in t for c in "\r\n")
)


@given(st.lists(st.tuples(CELL, CELL, CELL), max_size=6))
def test_what_csv_writes_is_read_back(rows):
    """Python's csv writer, our own writer, and the reader agree on every table."""
    stripped = [tuple(c.strip() for c in row) for row in rows]
    wanted = [r for r in stripped if any(c.strip(",") for c in r)]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([("a", "b", "c"), *stripped])
    ours = "a,b,c\n" + "".join(map(tables.line_of, stripped))
    for text in (out.getvalue(), ours):
        table = tables.read(text, "t.csv", ("a", "b", "c"), remarks=False)
        assert not table.faults
        read = [tuple(row.cells.values()) for row in table.rows]
        assert [r for r in read if any(c.strip(",") for c in r)] == wanted
        assert all(text[row.start : row.end].count("\n") == 1 for row in table.rows)


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ('material,note\nx,"open\ny,\n', "t.csv:2:3", "not closed on its line"),
        ('material,note\nx,"a" b\n', "t.csv:2:6", "behind the closing quote"),
        ("material,colour\n", "t.csv:1:10", "unknown column 'colour'"),
        ("material,pric\n", "t.csv:1:10", "Is 'price' meant"),
        ("material,note,note\n", "t.csv:1:15", "stands twice"),
        ("material;amount\nx;1 g\n", "t.csv:1", "semicolons"),
        ("material,note\nx,a\u202eb\n", "t.csv:2:4", r"U\+202E"),
        ("material,note\nx,\x1b]0;title\x07\n", "t.csv:2:3", r"U\+001B"),
        ("material,note\nx,y,z\n", "t.csv:2:5", "more cells"),
        ("material\n" + "x" * 200_000 + "\n", "t.csv:2:1", "200,000 characters"),
        ("\n", "t.csv:1", "no column 'material'"),
    ],
)
def test_line_and_column(text, place, says):
    """Every fault has its place; nothing is swallowed."""
    known = ("material", "amount", "price", "note")
    try:
        faults = tables.read(text, "t.csv", known[:1], known).faults
    except FileFault as error:
        faults = (error.fault,)
    (fault,) = faults
    assert str(fault).startswith(place + ":")
    assert re.search(says, str(fault))


@pytest.mark.parametrize("kind", ["shelf", "network", "targets"])
def test_every_table_is_read_by_it(shipped, tmp_path, kind):
    """An unclosed quote is a fault of shelf, network and list of targets alike."""
    texts = {
        "shelf": 'material,note\nsugar,"open\nwhite vinegar,\n',
        "network": 'id,reactants,products\ns,a,"b\nt,b,c\n',
        "targets": 'name,formula,cas\n"sugar,,\nchalk,,\n',
    }
    path = tmp_path / f"{kind}.csv"
    path.write_text(texts[kind])
    readers = {
        "shelf": lambda: read_shelf(path, shipped),
        "network": lambda: read_network(path),
        "targets": lambda: read_targets(path),
    }
    with pytest.raises(InputError, match=rf"{kind}.csv:2:\d+: a quote is opened"):
        readers[kind]()


def shelf(shipped, tmp_path, *lines: str, begin: str = ""):
    path = tmp_path / "shelf.csv"
    text = begin + "material,amount,strength,price,note\n" + "\n".join(lines) + "\n"
    path.write_bytes(text.encode())
    return path, read_shelf(path, shipped)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (["sugar,\"1,500 g\",,,"], "may mean 1500 g or 1.500 g"),
        (["sugar,1 kg,,nan USD/kg,"], "not a number"),
        (["sugar,1 kg,,inf USD/kg,"], "not a number"),
        (["sugar,1 kg,,1e400 USD/kg,"], "not a finite number"),
        (["sugar,1 kg,,1e300 USD/kg,"], "more than any bench"),
        (["sugar,1e300 g,,,"], "more than any bench"),
        (["white vinegar,1 L,5,,"], "strength '5' has no unit"),
        (["white vinegar,1 L,0.05,,"], "has no unit"),
        (["sugar,1 kg,,,", "sugar,,,,"], "shelf.csv:3: .*in line 2 too.*none in the other"),
        (["sugar,1 kg,,2 USD/kg,", "sugar,1 kg,,3 USD/kg,"], "two prices"),
    ],
)  # fmt: skip
def test_shelves_that_would_mislead(shipped, tmp_path, lines, says):
    """Refused with the line, never taken for something else."""
    with pytest.raises(LibraryFaults, match=says):
        shelf(shipped, tmp_path, *lines)


def test_lines_of_one_material_are_added(shipped, tmp_path):
    """Amounts add, and the user is told; two strengths stay two things, three lines of them too."""
    _, found = shelf(shipped, tmp_path, "sugar,1 kg,,,old", "sugar,500 g,,,new")
    (sugar,) = [s for s in found.supplies if s.name == "sugar"]
    assert sugar.amount_g == pytest.approx(1500)
    assert sugar.note == "old; new"
    assert any("sugar" in n and "lines 2 and 3" in n for n in found.notes)
    _, found = shelf(
        shipped, tmp_path, "white vinegar,1 kg,5 %,,", "white vinegar,2 kg,2 %,,",
        "white vinegar,3 kg,2 %,,",
    )  # fmt: skip
    amounts = [s.amount_g for s in found.supplies if s.name.startswith("white vinegar")]
    assert amounts == [pytest.approx(1000), pytest.approx(5000)]


def test_taking_goes_from_bottle_to_bottle(shipped, tmp_path):
    """Book-keeping with a byte order mark and two lines of one thing; other bytes stay."""
    path, found = shelf(shipped, tmp_path, "sugar,300 g,,,old", "# kept", "sugar,500 g,,,new",
                        begin="\ufeff")  # fmt: skip
    sugar = next(s for s in found.supplies if s.name == "sugar")
    change = shelf_books.taking(path, shipped, sugar.id, 400.0)
    assert change.new == (
        "\ufeffmaterial,amount,strength,price,note\nsugar,0 g,,,old\n# kept\nsugar,400 g,,,new\n"
    )
    shelf_books.carry_out(change, shipped)
    again = next(s for s in read_shelf(path, shipped).supplies if s.name == "sugar")
    assert again.amount_g == pytest.approx(400)
    assert "short by" in shelf_books.taking(path, shipped, sugar.id, 1000.0).words


@pytest.mark.parametrize("begin", list("=+-@\t\r"))
def test_no_cell_is_a_formula(begin):
    """What a spreadsheet would run has an apostrophe before it; a number stays one."""
    assert tables.defused(f"{begin}cmd|' /C calc'!A0").startswith("'")
    assert tables.defused("-1.5") == "-1.5"
    assert tables.defused("sugar") == "sugar"
