"""The user's settings: one small TOML file with the units to show and the paper to print on.

[units]
mass = "oz"             # g (the default), oz or lb
temperature = "degF"    # degC (the default), degF or K
time = "min"            # auto (the default), min or h

[print]
paper = "letter"        # A4 (the default) or letter
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from routefinder import files
from routefinder.errors import Fault, FileFault

CHOICES: dict[str, dict[str, tuple[str, ...]]] = {
    "units": {
        "mass": ("g", "oz", "lb"),
        "temperature": ("degC", "degF", "K"),
        "time": ("auto", "min", "h"),
    },
    "print": {"paper": ("A4", "letter")},
}


def settings_file() -> Path:
    """Where the settings are; ``ROUTEFINDER_SETTINGS`` names another file."""
    own = os.environ.get("ROUTEFINDER_SETTINGS")
    if own:
        return Path(own)
    from platformdirs import user_config_path

    return user_config_path("routefinder", appauthor=False) / "settings.toml"


def read(path: Path | None = None) -> dict[str, str]:
    """What is set of "mass", "temperature", "time" and "paper".

    Raises FileFault for a file that is no TOML, and for an unknown part, name or choice.
    """
    file = path or settings_file()
    try:
        if not file.exists():
            return {}
    except OSError as error:
        raise _fault(file, "", f"it cannot be read ({error.strerror})", "Check the path.") from None
    text = files.read_text(file)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _fault(
            file,
            "",
            f"it is no TOML: {error}",
            'Write lines such as mass = "oz" below a line [units].',
        ) from None
    out: dict[str, str] = {}
    for part, values in data.items():
        if part not in CHOICES:
            raise _fault(file, part, "it is unknown", "The parts are [units] and [print].")
        if not isinstance(values, dict):
            raise _fault(file, part, "it is no part of its own", f"Write [{part}] on a line.")
        known = CHOICES[part]
        for name, value in values.items():
            if name not in known:
                raise _fault(file, f"{part}.{name}", "it is unknown",
                             f"Choose from {', '.join(known)}.")  # fmt: skip
            if value not in known[name]:
                raise _fault(file, f"{part}.{name}", f"{value!r} is not among the choices",
                             f"Choose from {', '.join(known[name])}.")  # fmt: skip
        out |= values
    return out


def _fault(file: Path, field: str, what: str, remedy: str) -> FileFault:
    return FileFault(Fault(str(file), 0, 0, field, what, remedy))
