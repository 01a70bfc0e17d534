"""Substances against the package `chemicals`: what differs is found, and must be justified."""

from __future__ import annotations

import dataclasses

import pytest

from routefinder.chem import identifiers
from routefinder.errors import FileFault
from routefinder.library import crosscheck, where

SUBSTANCES = """\
- {id: lime, name: calcium oxide, formula: CaO, cas: 1305-78-8, melting: 2600 degC, density: 3.3 g/mL, sources: from memory}
- {id: soda, name: sodium carbonate, formula: K2CO3, cas: 497-19-8, sources: from memory}
- {id: salt, name: sodium chloride, formula: NaCl, cas: 7647-14-5, melting: 701 degC, boiling: 1465 degC, density: 2.3 g/mL, sources: from memory}
- {id: tartar, name: cream of tartar, formula: KHC4H4O6, cas: 868-14-4, sources: from memory}
- {id: rare, name: no number of the package, formula: NaF, cas: 15491-86-8, sources: from memory}
- {id: none, name: no number at all, formula: NaF, sources: from memory}
"""


@pytest.fixture
def library(make_library):
    from routefinder.library.load import load

    loaded = load([make_library(substances=SUBSTANCES, steps="")])
    assert loaded.faults == []
    return loaded.library


def test_what_differs_is_found(library):
    """A wrong formula, a number that leads elsewhere, a melting point and a density far off.

    The package has CRC values: CaO melts at 2613 degC (13 K are within 1 %) and NaCl at 800.7 degC,
    boils at 1465 degC and has 2.17 g/mL.
    """
    found = crosscheck.report(library, {})
    assert [(d.key, d.ours) for d in found.disagreements] == [
        (("soda", "formula"), "K2CO3 138.20 g/mol"),
        (("salt", "melting"), "701 degC"),
        (("salt", "density"), "2.3 g/mL"),
        (("tartar", "cas"), "868-14-4"),
    ]
    assert found.unjustified == found.disagreements
    assert (found.compared, found.unknown) == (4, 1)


def test_a_justification_answers_only_the_figures_it_was_written_for(library):
    """A row answers its disagreement; with another figure, or without need, it is stale."""
    found = crosscheck.report(library, {})
    answers = {
        d.key: crosscheck.Compared(d.ours, d.theirs, "ours", "from memory: so it is")
        for d in found.disagreements
    }
    assert crosscheck.report(library, answers).unjustified == ()
    assert crosscheck.report(library, answers).stale == ()
    key = ("salt", "melting")
    answers[key] = dataclasses.replace(answers[key], ours="702 degC")
    answers["lime", "melting"] = answers[key]
    assert crosscheck.report(library, answers).stale == (key, ("lime", "melting"))
    del answers["tartar", "cas"]
    assert [d.key for d in crosscheck.report(library, answers).unjustified] == [("tartar", "cas")]


def test_written_file_keeps_justifications(library, tmp_path):
    """--write keeps what is justified and leaves empty rows, which then count as not justified."""
    path = tmp_path / crosscheck.FILE
    found = crosscheck.report(library, {}).disagreements
    answers = {
        ("tartar", "cas"): crosscheck.Compared("", "", "ours", "from memory: a salt, no acid")
    }
    crosscheck.write(path, found, answers)
    again = crosscheck.read(path)
    assert list(again) == [("tartar", "cas")]
    assert again["tartar", "cas"].why == "from memory: a salt, no acid"
    rest = crosscheck.report(library, again)
    assert (len(rest.unjustified), rest.stale) == (3, ())


HEAD = ",".join(crosscheck.COLUMNS) + "\n"


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("substance,what\n", 1, "the columns are not those"),
        (HEAD + "a,cas,1,2,mine,from memory: x\n", 2, "has 'mine' under right"),
        (HEAD + "a,cas,1,2,ours,because\n", 2, "does not begin its why with an honesty mark"),
        (HEAD + "a,cas,1,2,ours,from memory: x\n" * 2, 3, "justifies cas of a a second time"),
        (HEAD + "a,cas,1,2\n", 2, "too few or too many fields"),
        (HEAD + "a,cas,1,2,ours,from memory: x,y\n", 2, "too few or too many fields"),
    ],
)
def test_bad_files(tmp_path, text, line, message):
    """A row that justifies nothing is a fault with its place."""
    path = tmp_path / "crosscheck.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileFault, match=message) as caught:
        crosscheck.read(path)
    assert caught.value.fault.line == line


def test_every_disagreement_of_the_shipped_library_is_justified(shipped):
    """Nothing unjustified, nothing stale; run the command with --write, then fill in the reasons.

    Another version of the package may have other data: then only numbers and formulas must be
    justified, and rows may be stale.
    """
    answers = crosscheck.read(where.shipped_library() / crosscheck.FILE)
    found = crosscheck.report(shipped, answers)
    assert found.compared > 350
    unjustified = [d.key for d in found.unjustified]
    if identifiers.version() == crosscheck.WRITTEN_FOR:
        assert unjustified == []
        assert found.stale == ()
    else:
        assert [key for key in unjustified if key[1] in {"cas", "formula"}] == []


def test_command(capsys):
    """It lists each disagreement with its justification; an unknown word is refused."""
    code = crosscheck.main([])
    out = capsys.readouterr().out
    assert "magnesium-chloride-hexahydrate, formula\n  ours      MgCl2·6H2O" in out
    assert "right: ours." in out
    if identifiers.version() == crosscheck.WRITTEN_FOR:
        assert code == 0
        assert "0 not justified, 0 stale rows" in out
    assert crosscheck.main(["--wrote"]) == 2
    assert "usage" in capsys.readouterr().err
