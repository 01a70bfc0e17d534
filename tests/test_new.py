"""`new`: asks, balances, looks up, checks, refuses, and writes all or nothing."""

from __future__ import annotations

import io
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.chem import lookup
from routefinder.cli import new_commands as new
from routefinder.errors import InputError, Refused
from routefinder.library import author
from routefinder.library.check import check
from routefinder.library.where import shipped_library
from routefinder.records.base import ID

ANSWERS = """\
equation: NiCO3 + C2H4O2 -> Ni(C2H3O2)2 + H2O + CO2
yield: 70 80 90 %
temperature: 20 to 60 degC
waiting: 12 h
unattended: yes
water: 1 L/mol
strength: "C2H4O2: up to 15 %"
NiCO3.name: nickel carbonate
NiCO3.hazards: H350i H334
Ni(C2H3O2)2.name: nickel(II) acetate
"""


@pytest.fixture
def run(monkeypatch, call):
    """The command line in this process, with what is piped in and one's own library."""

    def go(*words, stdin="", own=""):
        monkeypatch.setenv("ROUTEFINDER_LIBRARY", str(own))
        monkeypatch.setattr(sys, "stdin", io.StringIO(stdin))
        code, out, err = call(*words)
        return SimpleNamespace(returncode=code, stdout=out, stderr=err)

    return go


def files(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


@pytest.fixture
def answered(tmp_path, run):
    """`new step --answers`, with more answers set; returns (the process, the folder)."""

    def go(text=ANSWERS, *more, folder="own", kind="step"):
        path = tmp_path / "answers.yaml"
        path.write_text(text, encoding="utf-8")
        words = [w for pair in more for w in ("--set", pair)]
        done = run("new", kind, "--answers", path, "--library", tmp_path / folder, *words)
        return done, tmp_path / folder

    return go


def test_a_step_with_new_substances(answered):
    """Balanced, looked up, written as three files that pass `check` and are found."""
    done, folder = answered()
    assert done.returncode == 0, done.stderr
    assert "balanced: NiCO₃ + 2 C₂H₄O₂ → Ni(C₂H₃O₂)₂ + H₂O + CO₂" in done.stderr
    assert files(folder) == [
        "steps/make-nickel-ii-acetate-from-nickel-carbonate-and-acetic-acid.yaml",
        "substances/nickel-carbonate.yaml", "substances/nickel-ii-acetate.yaml",
    ]  # fmt: skip
    assert [str(f) for f in check([shipped_library(), folder], [folder])] == []
    library = rf.load_library([folder])
    step = library.steps["make-nickel-ii-acetate-from-nickel-carbonate-and-acetic-acid"]
    assert [p.moles for p in step.reactants] == [1.0, 2.0]
    assert step.record.yield_.typical == pytest.approx(0.8)
    assert step.record.time.waiting_min == 720
    carbonate = library.substances["nickel-carbonate"]
    assert carbonate.cas == "3333-67-3"  # PyPI package chemicals
    assert carbonate.hazards.statements == ("H350i", "H334")
    assert library.substances["nickel-ii-acetate"].hazards.no_data  # not asked means not known


def test_piped_answers_and_questions_asked_again(tmp_path, run):
    """Line by line: '?' explains, a bad answer from a pipe is an error, a short pipe too."""
    folder = tmp_path / "own"
    lines = "nickel(II) oxide\n\n\n\n\n\n?\nH350i\n\n\n\n\n"
    done = run("new", "substance", "--library", folder, stdin=lines)
    assert done.returncode == 0, done.stderr
    assert "safety data sheet" in done.stderr
    assert files(folder) == ["substances/nickel-ii-oxide.yaml"]
    for stdin, says in (
        ("nickel sulfide\n", "the answers end before 'formula'; nothing was written"),
        ("nickel sulfide\nNixS\n", "cannot stand in a formula"),
        ("nickel sulfide\nNiS\n123-45-6\n", "not a CAS number"),
    ):
        done = run("new", "substance", "--library", folder, stdin=stdin)
        assert done.returncode == 2
        assert says in done.stderr
        assert "Traceback" not in done.stderr
        assert files(folder) == ["substances/nickel-ii-oxide.yaml"]


def test_a_material(answered):
    """Contents by name and strength, a price with its source."""
    done, folder = answered(
        "name: soda from the corner shop\ncontains: sodium carbonate anhydrous 97 %; water 3 %\n"
        "price: 3 USD/kg\n", kind="material",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = rf.load_library([folder]).materials["soda-from-the-corner-shop"]
    assert found.fractions == {"sodium-carbonate-anhydrous": 0.97, "water": 0.03}
    assert [str(f) for f in check([shipped_library(), folder], [folder])] == []


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("step", "equation: C14H10O2 + H2O -> C14H12O3\nC14H10O2.name: benzil\nC14H12O3.name: benzilic acid\nyield: 90\n"),
        ("step", "equation: Na + N2 -> NaN3\nyield: 90\n"),
        ("step", "equation: KCl + O2 -> KClO4\nyield: 90\n"),
        ("substance", "name: sarin\n"), ("substance", "name: my oil\nformula: C4H10FO2P\n"),
        ("substance", "name: my oil\nformula: C4H6O3\ncas: 108-24-7\n"),
        ("substance", "name: my oil\nformula: ''\nnames: benzilic acid\n"),
        ("substance", "name: my oil\nformula: C10H15N\ncas: ''\n"),
        ("material", "name: acetic anhydride, tin\ncontains: water 5 %\n"),
        ("material", "name: tin\ncontains: phosgene 5 %\n"),
    ],
)  # fmt: skip
def test_refused_ones_are_not_written(answered, kind, text):
    """By name, formula, number, alias: a sentence, exit code 3, nothing written."""
    done, folder = answered(text, kind=kind)
    assert done.returncode == 3, done.stderr
    assert "routefinder: " in done.stderr
    assert done.stdout == ""
    assert not folder.exists()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("equation: ", "equation: CuO ->"), "one arrow"),
        (("equation: ", "equation: NiCO3 -> MgO + CO2 #"), "balance"),
        (("yield: 70 80 90 %", "yield: 90 80 70"), "must rise"),
        (("yield: 70 80 90 %", "yield: 80 90 120"), "at most 100 %"),
        (("20 to 60 degC", "60 to 20 degC"), "above"),
        (("waiting: 12 h", "waiting: later"), "not a number"),
        (("unattended: yes", "unattended: maybe"), "neither yes nor no"),
        (("unattended: yes", "equipment: sitr"), "did you mean 'stir'"),
        (("unattended: yes", "colour: green"), "no question is called colour"),
        (("H350i H334", "H9999"), "not a GHS statement"),
        (("yield: 70 80 90 %\n", ""), "the answers end before 'yield'"),
    ],
)  # fmt: skip
def test_bad_answers(answered, change, says):
    """One sentence that names the question; exit code 2; nothing written."""
    done, folder = answered(ANSWERS.replace(*change))
    assert done.returncode == 2, done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not folder.exists()


def test_faults_that_the_check_finds(answered):
    """A lint is shown; without 'anyway' nothing is written."""
    hot = ANSWERS.replace("20 to 60 degC", "80 to 90 degC") + "equipment: stir\n"
    done, folder = answered(hot)
    assert done.returncode == 2
    assert "names no heat" in done.stderr
    assert not folder.exists()
    done, folder = answered(hot, "anyway=yes")
    assert done.returncode == 0, done.stderr
    assert len(files(folder)) == 3


def test_replacing_must_be_said(answered):
    """An id of the shipped library: refused, or replaced by saying so; one's own: written over."""
    text = "equation: CuO + H2SO4 -> CuSO4 + H2O\nyield: 50 60 70\nid: roast-copper-carbonate\n"
    text += "water: 1 L/mol\nstrength: 'H2SO4: up to 20 %'\n"
    shipped = next(iter(rf.load_library().steps))
    text = text.replace("roast-copper-carbonate", shipped)
    done, folder = answered(text)
    assert done.returncode == 2
    assert "is taken" in done.stderr
    done, folder = answered(text, "replaces=yes")
    assert done.returncode == 0, done.stderr
    record = rf.load_library([folder]).steps[shipped].record
    assert record.replaces
    assert record.yield_.typical == pytest.approx(0.6)
    done, folder = answered(text, "replaces=yes", "yield=10 20 30")
    assert done.returncode == 0, done.stderr
    record = rf.load_library([folder]).steps[shipped].record
    assert record.replaces
    assert record.yield_.typical == pytest.approx(0.2)
    assert len(files(folder)) == 1


def test_dry_run_and_no(answered, tmp_path, run):
    """Shown, not written."""
    path = tmp_path / "a.yaml"
    path.write_text(ANSWERS, encoding="utf-8")
    done = run("new", "step", "--answers", path, "--library", tmp_path / "own", "--dry-run")
    assert done.returncode == 0
    assert "equation: NiCO3(s) + 2 C2H4O2(aq)" in done.stdout
    done, folder = answered(ANSWERS, "write=no")
    assert done.returncode == 1
    assert not folder.exists()


def test_ctrl_c_at_the_keyboard_leaves_nothing(tmp_path):
    """On a terminal: a bad answer is asked again, Ctrl-C ends with 130 and no file."""
    master, slave = pty.openpty()
    environment = {**os.environ, "ROUTEFINDER_LIBRARY": str(tmp_path / "own")}
    process = subprocess.Popen(
        [sys.executable, "-m", "routefinder", "new", "substance"], stdin=slave, stdout=slave,
        stderr=slave, env=environment, close_fds=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # heard, whoever began us
    )  # fmt: skip
    os.close(slave)
    seen = b""

    def until(text: bytes) -> None:
        nonlocal seen
        while text not in seen:
            seen += os.read(master, 4096)

    until(b"Name")
    os.write(master, b"nickel sulfide\n")
    until(b"Formula")
    seen = b""
    os.write(master, b"NixS\n")
    until(b"Formula")  # asked again
    os.write(master, b"NiS\n")
    until(b"CAS number")
    process.send_signal(signal.SIGINT)
    assert process.wait(timeout=60) in {130, -signal.SIGINT}  # a shell says 130 of both
    os.close(master)
    assert not (tmp_path / "own").exists()


def test_saving_is_all_or_nothing(tmp_path, monkeypatch):
    """A second file that cannot be renamed takes the first one back; nothing half-written stays."""
    drafts = [
        author.draft("substances", {"id": i, "name": i, "sources": "from memory"})
        for i in ("a", "b")
    ]
    real, link = os.replace, os.link

    def failing(source, target):
        if str(target).endswith("b.yaml"):
            raise OSError(28, "No space left on device")
        (real if os.path.exists(target) else link)(source, target)

    monkeypatch.setattr(os, "link", failing)
    with pytest.raises(InputError, match="No space left"):
        author.save(drafts, tmp_path)
    assert files(tmp_path) == []
    monkeypatch.setattr(os, "link", link)
    assert len(author.save(drafts, tmp_path)) == 2
    with pytest.raises(InputError, match="exists already"):
        author.save(drafts, tmp_path)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*.yaml")}
    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(InputError):
        author.save([author.draft("substances", {"id": i, "name": "other"}) for i in ("a", "b")],
                    tmp_path, replace=True)  # fmt: skip
    assert {p: p.read_bytes() for p in tmp_path.rglob("*.yaml")} == before


def test_your_own_library_is_used_and_said(answered, tmp_path, run):
    """find, look and check take it without being told, and say so; --only-library does not."""
    done, folder = answered()
    assert done.returncode == 0
    for words in (("find", "nickel(II) acetate"), ("look", "nickel(II) acetate"), ("check",)):
        done = run(*words, own=folder)
        assert f"With your own library {folder}." in done.stderr
        assert done.returncode in {0, 1}
        assert "closest" not in done.stderr
    assert "No faults in" in run("check", own=folder).stdout
    other = run("look", "nickel(II) acetate", "--library", folder, "--only-library", own=folder)
    assert "With your own" not in other.stderr
    assert run("look", "nickel(II) acetate", own="").returncode == 2
    assert run("look", "nickel(II) acetate", own=tmp_path / "nowhere").returncode == 2
    done = run("new", "substance", own="", stdin="x\n")
    assert done.returncode == 2
    assert "switched off" in done.stderr


def test_written_to_your_own_folder(tmp_path, run):
    """Without --library, into the user's folder, which is made."""
    own = tmp_path / "data" / "library"
    done = run("new", "substance", "--set", "name=nickel(II) oxide", own=own)
    assert done.returncode == 0, done.stderr
    assert files(own) == ["substances/nickel-ii-oxide.yaml"]
    assert "use this library from now on" in done.stderr


def test_what_chemicals_knows():
    """Name and formula; a hydrate comes with a warning; unknown is None."""
    oxide = lookup.known("nickel(II) oxide")
    assert (oxide.formula, oxide.cas, oxide.warning) == ("NiO", "1313-99-1", "")
    assert "hydrates" in lookup.known("nickel sulfate hexahydrate").warning
    assert lookup.known("zzzz") is None


@given(st.text(max_size=40))
def test_every_name_gives_an_id(text):
    """An id made of any name is an id."""
    assert ID.match(author.slug(text))


@pytest.mark.parametrize(
    ("text", "found"),
    [("80 90 95 %", ("80 %", "90 %", "95 %")), ("80", ("80 %", "80 %", "80 %")),
     ("0.8 0.9 0.95", ("80 %", "90 %", "95 %")), ("80 to 90 to 95 %", ("80 %", "90 %", "95 %"))],
)  # fmt: skip
def test_yields_as_people_write_them(text, found):
    """Percent or fractions, one number or three."""
    assert new._three(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [("20 to 60 degC", (20, 60)), ("100 degC", (100, 100)), ("293.15 K to 333.15 K", (20, 60)),
     ("-10 to 5", (-10, 5)), ("20 .. 60 degC", (20, 60))],
)  # fmt: skip
def test_windows_as_people_write_them(text, found):
    """One or two temperatures, the unit at the end or on both."""
    assert new._window(text) == pytest.approx(found)


def test_a_refused_draft_in_python(tmp_path):
    """The checking stage refuses too, without the questions."""
    bad = author.draft(
        "substances", {"id": "oil", "name": "oil", "cas": "76-93-7", "sources": "from memory"}
    )
    with pytest.raises(Refused):
        author.faults([bad], tmp_path, [shipped_library()])


FULL = """\
equation: NaOH + C2H4O2 -> NaC2H3O2 + H2O
states: aq aq aq l
yield: 90 95 99 %
temperature: 20 to 90 degC
water: 1200 mL/mol
strength: "NaOH: up to 10 %; C2H4O2: up to 10 %"
auxiliaries: "ethanol: wash 20 g/mol"
stages: "charge; stir: {at: 20 degC, to: 90 degC, for: 1 h, source: from memory}"
tests: pH
cautions: none
done_when: "pH 8"
id: my-acetate
"""


def test_a_step_with_all_its_fields(answered):
    """Auxiliaries, stages, tests and the sign of the end are kept; `none` is nothing."""
    done, folder = answered(FULL)
    assert done.returncode == 0, done.stderr
    record = rf.load_library([folder]).steps["my-acetate"].record
    assert [s.kind for s in record.stages] == ["charge", "stir"]
    assert [t.method for t in record.tests] == ["pH"]
    assert ("ethanol", "wash") in [(a.substance, a.role) for a in record.auxiliaries]
    assert record.done_when == ("pH 8",)
    assert record.cautions == ()


def test_no_vessel_is_offered_that_the_charge_attacks(answered):
    """Hot lye: no glass; the suggestion names what stands it."""
    done, folder = answered(FULL)
    assert done.returncode == 0, done.stderr
    step = rf.load_library([folder]).steps["my-acetate"]
    made_of = next(n.made_of for n in step.record.equipment if n.name == "vessel")
    assert "borosilicate" not in made_of
    assert made_of


@pytest.mark.parametrize("text", ["850 1000", "850 1000 degC", "850-1000 degC", "850 100 degC"])
def test_two_figures_are_asked_back(text):
    """Never 850100 degC."""
    with pytest.raises(InputError, match=r"'850 to 1000? degC'"):
        new._window(text)


def test_what_was_typed_is_kept_when_it_fails(tmp_path, run):
    """A slip late in the questions costs nothing: the answers lie in a file that serves again."""
    folder = tmp_path / "own"
    done = run("new", "substance", "--library", folder, stdin="nickel sulfide\nNiS\n123-45-6\n")
    assert done.returncode == 2
    kept = tmp_path / "new-substance-answers-1.yaml"
    assert str(kept) in done.stderr
    assert '"name": "nickel sulfide"' in kept.read_text(encoding="utf-8")
    done = run("new", "substance", "--library", folder, "--answers", kept)
    assert done.returncode == 0, done.stderr
    assert files(folder) == ["substances/nickel-sulfide.yaml"]
