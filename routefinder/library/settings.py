"""The user's settings: one small TOML file, from which the units that are shown are read.

[units]
mass = "oz"             # g (the default), oz or lb
temperature = "degF"    # degC (the default), degF or K
time = "min"            # auto (the default), min or h
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from routefinder.errors import Fault, FileFault

CHOICES = {
    "mass": ("g", "oz", "lb"),
    "temperature": ("degC", "degF", "K"),
    "time": ("auto", "min", "h"),
}


def settings_file() -> Path:
    """Where the settings are; ``ROUTEFINDER_SETTINGS`` names another file."""
    own = os.environ.get("ROUTEFINDER_SETTINGS")
    if own:
        return Path(own)
    from platformdirs import user_config_path

    return user_config_path("routefinder", appauthor=False) / "settings.toml"


def read_units(path: Path | None = None) -> dict[str, str]:
    """The units to show, by "mass", "temperature" and "time"; only what is set.

    Raises FileFault for a file that is no TOML, and for an unknown name or unit.
    """
    file = path or settings_file()
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise _fault(file, "", f"it cannot be read ({error})", "") from None
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _fault(file, "", f"it is no TOML: {error}", "") from None
    for name in data:
        if name != "units":
            raise _fault(file, name, "it is unknown", "The only part is [units].")
    units = data.get("units", {})
    if not isinstance(units, dict):
        raise _fault(file, "units", "it is no part of its own", "Write [units] on a line.")
    for name, value in units.items():
        if name not in CHOICES:
            raise _fault(file, f"units.{name}", "it is unknown",
                         f"Choose from {', '.join(CHOICES)}.")  # fmt: skip
        if value not in CHOICES[name]:
            raise _fault(file, f"units.{name}", f"{value!r} is not a unit that is shown",
                         f"Choose from {', '.join(CHOICES[name])}.")  # fmt: skip
    return dict(units)


def _fault(file: Path, field: str, what: str, remedy: str) -> FileFault:
    return FileFault(Fault(str(file), 0, 0, field, what, remedy))
