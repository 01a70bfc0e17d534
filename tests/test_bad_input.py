"""Bad input: one clear message, exit code 2, no traceback, nothing half-written."""

from __future__ import annotations

import os
import sys

import pytest

from routefinder.asking import library

SUBSTANCES = """\
- {id: water, name: water, formula: H2O, density: 1 g/mL, sources: from memory}
- {id: burnt-lime, name: calcium oxide, formula: CaO, names: [quicklime], sources: from memory}
- {id: slaked-lime, name: calcium hydroxide, formula: Ca(OH)2, names: [lime], sources: from memory}
- {id: chalk, name: calcium carbonate, formula: CaCO3, names: [lime], sources: from memory}
- {id: gas, name: carbon dioxide, formula: CO2, sources: from memory}
"""
MATERIALS = """\
- {id: tap, name: tap water, form: liquid, everywhere: true, contains: [{substance: water, strength: 100 %}], density: 1 g/mL, sources: from memory}
- {id: bag, name: bag of lime, form: solid, contains: [{substance: burnt-lime, strength: 90 %}], price: 3 USD/kg, price_source: from memory, sources: from memory}
"""
STEPS = """\
- id: slake
  title: Slake lime
  kind: hydration
  equation: CaO(s) + H2O(l) -> Ca(OH)2(s)
  product: Ca(OH)2
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 100 degC}
  time: {hands_on: 1 h}
  equipment: [vessel: {made_of: [enamel, stainless steel], to: 100 degC}]
  sources: common practice
"""
CYCLE = """\
- id: there
  title: There
  kind: hydration
  equation: CaO(s) + CO2(g) -> CaCO3(s)
  product: CaCO3
  limiting: CaO
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 100 degC}
  time: {hands_on: 1 h}
  sources: common practice
- id: back
  title: And back
  kind: burning
  equation: CaCO3(s) -> CaO(s) + CO2(g)
  product: CaO
  limiting: CaCO3
  recovered: {CO2: 50 %}
  yield: {low: 90 %, typical: 95 %, high: 99 %, basis: dry, source: common practice}
  temperature: {low: 20 degC, high: 900 degC}
  time: {hands_on: 1 h}
  sources: common practice
"""


@pytest.fixture
def lib(make_library):
    return make_library(substances=SUBSTANCES, materials=MATERIALS, steps=STEPS)


def refused(result, *says):
    code, out, err = result
    assert code == 2, (code, out, err)
    for text in says:
        assert text in err, err
    assert len(err.strip().splitlines()) <= 9
    return err


def test_good_input_works(call, lib):
    """The base case that the others break."""
    code, out, _ = call("find", "Ca(OH)2", "--library", lib, "--only-library")
    assert code == 0
    assert "only route" in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["unobtainium"], "no substance is called 'unobtainium'"),
        (["lime"], "may mean several things"),
        (["Ca(OH)2", "--amount", "-5 g"], "must be above 0"),
        (["Ca(OH)2", "--amount", "250"], "has no unit"),
        (["Ca(OH)2", "--amount", "NaN"], "not a number with a unit"),
        (["Ca(OH)2", "--amount", "nan g"], "not a number with a unit"),
        (["Ca(OH)2", "--amount", "0 g"], "must be above 0"),
        (["Ca(OH)2", "--amount", "1e999 g"], "finite"),
        (["Ca(OH)2", "--amount", "5 degC"], "does not fit here"),
        (["Ca(OH)2", "--top", "0"], "at least one route"),
        (["Ca(OH)2", "--by", "beauty"], "unknown order 'beauty'"),
        (["Ca(OH)2", "--max-steps", "0"], "at least one step"),
        (["Ca(OH)2", "--max-temperature", "hot"], "not a number with a unit"),
        (["Ca(OH)2", "--max-temperature", "-400 degC"], "absolute zero"),
        (["Ca(OH)2", "--max-hazard", "lots"], "is not a limit"),
        (["Ca(OH)2", "--max-hazard", "charm 2"], "unknown hazard aspect 'charm'"),
        (["Ca(OH)2", "--max-hazard", "9"], "between 0 and 4"),
        (["Ca(OH)2", "--max-hazard", "toxic 1", "--max-hazard", "toxic 3"], "twice"),
        (["Ca(OH)2", "--budget", "-1"], "from 0 up"),
        (["Ca(OH)2", "--budget", "nan"], "from 0 up"),
        (["Ca(OH)2", "--max-time", "0 h"], "above 0"),
        (["Ca(OH)2", "--seconds", "0"], "above 0"),
        (["Ca(OH)2", "--avoid", "quicklime", "--from", "quicklime"], "drop one"),
        (["Ca(OH)2", "--avoid", "Ca(OH)2"], "drop one"),
        (["Ca(OH)2", "--from", "CO2"], "not on the shelf"),
        (["Ca(OH)2", "--route", "7"], "there is no route 7"),
        (["Ca(OH)2", "--diagram", "x.tiff"], "must end in"),
        (["Ca(OH)2", "--diagram", "/nowhere/x.dot"], "cannot be written"),
    ],
)  # fmt: skip
def test_contradictions_and_nonsense(call, lib, words, says, tmp_path, monkeypatch):
    """Each gets its sentence."""
    monkeypatch.chdir(tmp_path)
    before = sorted(p.name for p in tmp_path.iterdir())
    refused(call("find", *words, "--library", lib, "--only-library"), says)
    assert sorted(p.name for p in tmp_path.iterdir()) == before


@pytest.mark.parametrize("what", ["--shelf", "--bench", "--library"])
def test_missing_paths(call, lib, what):
    """A path that is not there."""
    refused(
        call("find", "Ca(OH)2", "--library", lib, "--only-library", what, "/no/such"), "no such"
    )


def test_folder_where_a_file_is_meant(call, lib, tmp_path):
    """--shelf and --bench name files, --library a folder."""
    base = ["find", "Ca(OH)2", "--library", lib, "--only-library"]
    refused(call(*base, "--shelf", tmp_path), "a folder, not a file")
    refused(call(*base, "--bench", tmp_path), "a folder, not a file")
    file = tmp_path / "file.yaml"
    file.write_text("[]")
    refused(call(*base, "--library", file), "a file, not a library folder")


def test_empty_library(call, tmp_path):
    """A folder without library files."""
    empty = tmp_path / "empty"
    empty.mkdir()
    refused(call("find", "x", "--library", empty, "--only-library"), "the library is empty")
    refused(call("find", "x", "--only-library"), "no library is named")


def test_unreadable_file(call, lib, tmp_path, monkeypatch):
    """A file that cannot be opened."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("material\nbag of lime\n")
    plain = os.open

    def deny(path, *words, **more):
        if path == shelf:
            raise PermissionError(13, "Permission denied")
        return plain(path, *words, **more)

    monkeypatch.setattr(os, "open", deny)  # root may read everything, so pretend
    refused(
        call("find", "Ca(OH)2", "--library", lib, "--only-library", "--shelf", shelf),
        "cannot be read", "permissions",
    )  # fmt: skip


def test_not_utf8(call, lib, tmp_path):
    """The line of the first bad byte is named."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_bytes(b"material\nbag of lime\n\xff\xfe\n")
    err = refused(
        call("find", "Ca(OH)2", "--library", lib, "--only-library", "--shelf", shelf), "not UTF-8"
    )
    assert "shelf.csv:3" in err


def test_huge_file(call, lib, tmp_path):
    """A 100 MB file is refused without reading it."""
    shelf = tmp_path / "shelf.csv"
    with shelf.open("wb") as file:
        file.truncate(100_000_000)
    refused(call("find", "Ca(OH)2", "--library", lib, "--only-library", "--shelf", shelf), "100 MB")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("stuff,amount\nlime,1 kg\n", "no column 'material'"),
        ("material,colour\nbag of lime,red\n", "unknown column 'colour'"),
        ("material,amount\nbag of lime,-1 kg\n", "is negative"),
        ("material,amount\nbag of lime,1\n", "has no unit"),
        ("material,amount\nbag of lme,1 kg\n", "bag of lime"),
        ("material,amount,strength\nbag of lime,1 kg,140 %\n", "up to 100 %"),
        ("material,amount,price\nbag of lime,1 kg,cheap\n", "not a price"),
        ("material,price\nbag of lime,3 USD/kg\ntap water,2 EUR/kg\n", "EUR and USD"),
        ("material\nbag of lime,5 kg\n", "more cells than the heading"),
        ("material\n", "the shelf is empty"),
        ("", "no column 'material'"),
    ],
)  # fmt: skip
def test_bad_shelves(call, lib, tmp_path, text, says):
    """File and line of what is wrong on a shelf."""
    shelf = tmp_path / "shelf.csv"
    shelf.write_text(text)
    err = refused(
        call("find", "Ca(OH)2", "--library", lib, "--only-library", "--shelf", shelf), says
    )
    assert "shelf.csv" in err


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("pot: enamel\n", "not a list"), ("[]", "the bench is empty"),
        ("- magic wand\n", "no equipment is called 'magic wand'"),
        ("- {name: pot, offers: [vesel: {made_of: enamel}]}\n", "unknown capability 'vesel'"),
        ("- {name: pot, offers: [vessel: {made_of: enamel, to: hot}]}\n", "not a number"),
        ("- {name: pot}\n", "offers nothing"),
        ("- {name: pot, offrs: [stir]}\n", "unknown field 'offrs'"),
        ("- [", "not valid YAML"),
    ],
)  # fmt: skip
def test_bad_benches(call, lib, tmp_path, text, says):
    """File and line of what is wrong on a bench."""
    bench = tmp_path / "bench.yaml"
    bench.write_text(text)
    err = refused(
        call("find", "Ca(OH)2", "--library", lib, "--only-library", "--bench", bench), says
    )
    assert "bench.yaml" in err


def test_faulty_library(call, make_library):
    """A library with faults is refused with the faults, and `check` is named when there are many."""
    bad = make_library(
        substances=SUBSTANCES, materials=MATERIALS, steps=STEPS.replace("2O(l)", "9O(l)")
    )
    err = refused(call("find", "Ca(OH)2", "--library", bad, "--only-library"), "test.yaml:4")
    assert "H9O" in err


def test_step_that_makes_its_own_reactant(call, make_library):
    """Refused when the library is read."""
    own = STEPS.replace("-> Ca(OH)2(s)", "-> CaO(s) + H2O(l)").replace(
        "product: Ca(OH)2", "product: CaO"
    )
    bad = make_library(substances=SUBSTANCES, materials=MATERIALS, steps=own)
    refused(call("find", "CaO", "--library", bad, "--only-library"), "makes its own reactant")


def test_library_with_a_cycle_only(call, make_library):
    """A loop without an entrance: nothing in the library can begin, and that is said."""
    loop = make_library(
        substances=SUBSTANCES, materials=MATERIALS.split("\n- {id: bag")[0] + "\n", steps=CYCLE
    )
    refused(
        call("find", "CaCO3", "--library", loop, "--only-library"),
        "no step of this library can begin: back and there", "add a material",
    )  # fmt: skip


def test_limits_that_set_everything_aside_are_named(call, lib, tmp_path):
    """No route: which limit set which step aside, and why."""
    bench = tmp_path / "bench.yaml"
    bench.write_text("- {name: jar, offers: [vessel: {made_of: HDPE, to: 60 degC}]}\n")
    code, out, _ = call("find", "Ca(OH)2", "--library", lib, "--only-library", "--bench", bench)
    assert code == 1
    assert "Slake lime" in out
    assert "a vessel to 100 °C of enamel or stainless steel" in out


def test_cache_that_cannot_be_written(call, lib, monkeypatch, tmp_path):
    """A read-only cache folder only costs time; a damaged cache is rebuilt."""
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should be")
    monkeypatch.setenv("ROUTEFINDER_CACHE", str(blocked))
    assert call("find", "Ca(OH)2", "--library", lib, "--only-library")[0] == 0
    good = tmp_path / "good"
    monkeypatch.setenv("ROUTEFINDER_CACHE", str(good))
    assert call("find", "Ca(OH)2", "--library", lib, "--only-library")[0] == 0
    (cached,) = good.glob("library-*.cache")
    cached.write_bytes(b"damaged")
    monkeypatch.setattr(library, "_loaded", {})  # as a new process has it
    assert call("find", "Ca(OH)2", "--library", lib, "--only-library")[0] == 0
    assert cached.read_bytes() != b"damaged"
    (heats,) = [p for p in good.iterdir() if p != cached]
    assert heats.name.startswith("heats-")
    cached.unlink()
    heats.write_bytes(b"damaged too")
    library._loaded.clear()
    assert call("find", "Ca(OH)2", "--library", lib, "--only-library")[0] == 0
    assert heats.read_bytes() != b"damaged too"


def test_cache_follows_the_files(lib, monkeypatch, tmp_path):
    """A changed file is seen at once."""
    from routefinder.library.cache import load_cached

    monkeypatch.setenv("ROUTEFINDER_CACHE", str(tmp_path / "cache"))
    assert load_cached([lib], only=True).steps["slake"].title == "Slake lime"
    path = lib / "steps" / "test.yaml"
    path.write_text(path.read_text().replace("Slake lime", "Slake quicklime"))
    assert load_cached([lib], only=True).steps["slake"].title == "Slake quicklime"
    assert load_cached([lib], only=True).steps["slake"].title == "Slake quicklime"


def test_two_processes_at_once(lib, tmp_path):
    """Several first runs at the same time all succeed and leave one cache."""
    import subprocess

    environment = {**os.environ, "ROUTEFINDER_CACHE": str(tmp_path / "cache")}
    words = [sys.executable, "-m", "routefinder", "find", "Ca(OH)2", "--library", str(lib),
             "--only-library"]  # fmt: skip
    runs = [
        subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(4)
    ]
    for done in runs:
        out, err = done.communicate(timeout=60)
        assert done.returncode == 0, err
        assert b"only route" in out
    kinds = sorted(p.name.split("-")[0] for p in (tmp_path / "cache").iterdir())
    assert kinds == ["heats", "library"]
