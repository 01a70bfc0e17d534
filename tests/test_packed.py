"""The tables kept with the program: what the package `chemicals` gives, by another way to it."""

from __future__ import annotations

import math
import random
import re
import sys
from pathlib import Path

import pytest

from routefinder.chem import data, lookup, pack, packed
from routefinder.chem.formula import parse
from routefinder.journal import student

IDENTIFIERS = pytest.importorskip("chemicals.identifiers")


@pytest.mark.parametrize("name", pack.TABLES)
def test_the_tables_are_fresh(name):
    """Every cell as the package has it."""
    assert (packed.FOLDER / f"{name}.csv").read_text(encoding="utf-8") == pack.table(name)


def test_every_number_has_the_package_s_identity():
    """All 76,522 CAS numbers: formula and molar mass; no number more or less."""
    database = IDENTIFIERS.pubchem_db
    database.autoload_main_db()
    theirs = {
        str(e.CASs): (str(e.formula), float(e.MW)) for e in database.CAS_index.values()
    }  # fmt: skip
    ours = {}
    for cas, line in packed._lines().items():
        written, mass, _ = line.split("\t")[:3]
        ours[cas] = (written, float(mass))
    assert ours == theirs
    assert len(ours) > 70_000


def test_a_name_means_what_the_package_means():
    """2,000 names drawn from the table, asked of the package; and CAS numbers by themselves."""
    names = sorted(packed._by_name())
    for name in random.Random(1).sample(names, 2000):
        found = packed.named(name)
        assert found is not None
        assert found.cas == str(IDENTIFIERS.search_chemical(name).CASs), name
        assert packed.named(found.cas) == found


@pytest.mark.parametrize(
    ("text", "cas"),
    [("Sodium Chloride", "7647-14-5"), (" copper(II) sulfate ", "7758-98-7"),
     ("potash alum", "10043-67-1"), ("nisO4", "7786-81-4"), ("calcium hydroxide", "1305-62-0")],
)  # fmt: skip
def test_names_as_people_write_them(text, cas):
    """Capitals and blanks do not matter; CAS numbers as on the labels (from memory)."""
    found = lookup.known(text)
    assert found is not None
    assert found.cas == cas


def test_limits_of_numbers_that_bear_a_blank_in_the_package():
    """Boric acid, borax and gypsum have the limits of their group; CAS numbers without blanks."""
    rows = list(packed.rows("exposure"))
    assert len({row["cas"] for row in rows}) == len(rows)
    assert all(row["cas"] == row["cas"].strip(" )") for row in rows)
    for cas in ("10043-35-3", "1303-96-4", "12179-04-3"):
        limits = data.exposure_limits(cas)
        assert limits is not None
        assert (limits.unit, limits.eight_hours, limits.short) == ("mg/m3", 2.0, 6.0)
    for cas in ("10101-41-4", "10034-76-1", "7778-18-9"):
        limits = data.exposure_limits(cas)
        assert limits is not None
        assert (limits.unit, limits.eight_hours) == ("mg/m3", 10.0)


def test_the_limits_are_their_figures():
    """Ammonia: 25 and 35 ppm; its lower flammability limit 15 %, hydrogen's 4 %."""
    ammonia = data.exposure_limits("7664-41-7")
    assert ammonia is not None
    assert (ammonia.unit, ammonia.eight_hours, ammonia.short) == ("ppm", 25.0, 35.0)
    assert data.lower_flammability("7664-41-7") == 0.15
    assert data.lower_flammability("1333-74-0") == 0.04
    assert data.lower_flammability("7647-14-5") is None
    assert data.exposure_limits("0-00-0") is None


def test_a_wrong_number_is_nobody_s():
    """The number must be that of our formula, with its molar mass."""
    assert data.same_substance("7647-14-5", parse("NaCl"))
    assert not data.same_substance("7647-14-5", parse("KCl"))
    assert not data.same_substance("1-23-4", parse("NaCl"))


def test_nothing_reaches_for_the_package_but_what_compares_with_it():
    """Only the commands that compile or compare import it."""
    package = Path(packed.__file__).parents[2]
    users = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"^\s*(?:from|import) chemicals\b", path.read_text(encoding="utf-8"), re.M)
    }
    assert users == {"chem/pack.py", "chem/identifiers.py"}


# Student's t, 90th percentile: tables print 3.078 at 1, 1.886 at 2, 1.372 at 10, 1.282 at infinity
# (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2)
@pytest.mark.parametrize(
    ("freedom", "printed"), [(1, 3.078), (2, 1.886), (5, 1.476), (10, 1.372), (100, 1.290)]
)
def test_quantiles_of_t_as_printed(freedom, printed):
    """Three digits of the printed table."""
    assert student.quantile(0.9, freedom) == pytest.approx(printed, abs=0.0006)


def test_quantiles_of_t_against_scipy():
    """Whole and broken degrees of freedom, nine digits."""
    special = pytest.importorskip("scipy.special")
    for freedom in (0.3, 0.5, 1, 1.5, 2, 3, 4.2, 7, 10, 20.5, 33, 60, 100, 1000, 1e4):
        for share in (0.5, 0.6, 0.75, 0.9, 0.95, 0.975, 0.99, 0.999):
            theirs = float(special.stdtrit(freedom, share))
            assert student.quantile(share, freedom) == pytest.approx(theirs, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("share", "freedom"), [(0.4, 3), (1.0, 3), (0.9, 0), (0.9, math.nan)])
def test_no_quantile_out_of_range(share, freedom):
    """A sentence, no endless search."""
    with pytest.raises(ValueError, match="no quantile"):
        student.quantile(share, freedom)


def test_one_sentence_without_the_package(monkeypatch, capsys):
    """The commands that compare say what to install; exit code 2."""
    from routefinder.library import crosscheck

    monkeypatch.setitem(sys.modules, "chemicals", None)
    for main in (pack.main, crosscheck.main):
        assert main([]) == 2
        assert "pip install 'routefinder[test]'" in capsys.readouterr().err
