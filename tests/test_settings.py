"""Units of the user's choice, from a settings file."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from routefinder import digits
from routefinder.cli.main import app
from routefinder.errors import InputError
from routefinder.library import settings

RUN = CliRunner()


@pytest.fixture(autouse=True)
def as_before():
    yield
    digits.use(digits.Shown())


def test_units_are_shown_as_chosen():
    """An ounce is 28.349523125 g and a pound 453.59237 g (exact, avoirdupois)."""
    digits.use(digits.Shown("oz", "degF", "min"))
    assert digits.mass(401.7) == "14.2 oz"
    assert digits.readable(401.7, 0.1) == "14.170 oz"
    assert digits.temperature(100) == "212 °F"
    assert digits.duration(120) == "120 min"
    digits.use(digits.Shown("lb", "K", "h"))
    assert digits.mass(453.59237) == "1.00 lb"
    assert digits.temperature(20) == "293 K"
    assert digits.duration(90) == "1.5 h"
    digits.use(digits.Shown())
    assert digits.mass(401.7, 4) == "401.7 g"
    assert digits.temperature(290) == "290 °C"


def test_the_file_is_read(tmp_path, monkeypatch, studio):
    """What is set counts in the terminal; without a file nothing changes."""
    file = tmp_path / "settings.toml"
    assert settings.read(file) == {}
    file.write_text('[units]\nmass = "oz"\ntemperature = "degF"\n')
    assert settings.read(file) == {"mass": "oz", "temperature": "degF"}
    file.write_text('[units]\nmass = "oz"\ntemperature = "degF"\n[print]\npaper = "letter"\n')
    assert settings.read(file) == {"mass": "oz", "temperature": "degF", "paper": "letter"}
    monkeypatch.setenv("ROUTEFINDER_SETTINGS", str(file))
    done = RUN.invoke(app, [
        "find", "copper(II) acetate monohydrate", "--amount", "250 g", "--shelf",
        str(studio / "shelf.csv"), "--bench", str(studio / "bench.yaml"), "--library",
        str(studio / "reactions"),
    ])  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "208 °F" in done.stdout
    assert "8.82 oz" in done.stdout


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("units = 3", "no part of its own"),
        ("[units]\nmass = 'stone'", "'stone' is not among the choices. Choose from g, oz, lb"),
        ("[units]\nlength = 'ft'", "units.length: it is unknown"),
        ("[colours]", "The parts are"),
        ("mass: oz", "it is no TOML"),
        ("[print]\npaper = 'A3'", "'A3' is not among the choices. Choose from A4, letter"),
        ("[units]\nmass = 3", "3 is not among"),
        ("[units]\nmass = ['g']", "is not among"),
    ],
)
def test_bad_settings(tmp_path, text, sentence):
    """One sentence with the file's name."""
    file = tmp_path / "settings.toml"
    file.write_text(text)
    with pytest.raises(InputError, match=sentence) as error:
        settings.read(file)
    assert "settings.toml" in str(error.value)


def test_where_it_is(monkeypatch):
    monkeypatch.delenv("ROUTEFINDER_SETTINGS")
    assert settings.settings_file().name == "settings.toml"
