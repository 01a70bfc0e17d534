"""The user's settings: one small TOML file with units to show, paper to print on, rates of money.

[units]
mass = "oz"             # g (the default), oz or lb
temperature = "degF"    # degC (the default), degF or K
time = "min"            # auto (the default), min or h

[print]
paper = "letter"        # A4 (the default) or letter

[money]
rates = ["1 USD = 0.92 EUR"]   # without one, sums of two currencies are told apart, never added

[balanced]              # what the balanced order weighs, in steps (``choice.order``)
step = 1                # a step
day = 1                 # a working day of 8 hours
waiting = 0.75          # a day of 24 hours
loss = 4                # of the product's value, by the factor e
hazard = 1              # ten points of hazard (squares summed)
impurity = 8            # of the product, by the factor e
raking = 3              # an hour at a stirred charge at a red heat
price = 1               # of what carries the value, by the factor e above the cheapest
"""

from __future__ import annotations

import math
import os
import re
import tomllib
from pathlib import Path
from typing import Any

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
WEIGHED = ("step", "day", "waiting", "loss", "hazard", "impurity", "raking", "price")
HEAVIEST = 1000.0  # of a weight


def settings_file() -> Path:
    """Where the settings are; ``ROUTEFINDER_SETTINGS`` names another file."""
    own = os.environ.get("ROUTEFINDER_SETTINGS")
    if own:
        return Path(own)
    from platformdirs import user_config_path

    return user_config_path("routefinder", appauthor=False) / "settings.toml"


_RATE = re.compile(r"\s*1 (\S+) = (\d+(?:\.\d+)?) (\S+)\s*")


def read(path: Path | None = None) -> dict[str, str]:
    """What is set of "mass", "temperature", "time" and "paper".

    Raises FileFault for a file that is no TOML, and for an unknown part, name or choice.
    """
    file = path or settings_file()
    out: dict[str, str] = {}
    for part, values in _parts(file).items():
        if part == "money":
            continue
        if part == "balanced":
            _weights(file, values)
            continue
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


def rates(into: str, path: Path | None = None) -> dict[str, float]:
    """Currency -> what one of it is worth in the currency ``into``, by the rates that are set.

    A rate serves both ways. Raises FileFault for what is no rate.
    """
    file = path or settings_file()
    money = _parts(file).get("money", {})
    for name in money:
        if name != "rates":
            raise _fault(file, f"money.{name}", "it is unknown", "Choose from rates.")
    lines = money.get("rates", [])
    out: dict[str, float] = {}
    for line in [lines] if isinstance(lines, str) else lines:
        found = _RATE.fullmatch(line) if isinstance(line, str) else None
        value = float(found[2]) if found else 0.0
        if found is None or not 1e-9 < value < math.inf:
            raise _fault(file, "money.rates", f"{line!r} is no rate",
                         "Write for example rates = [\"1 USD = 0.92 EUR\"].")  # fmt: skip
        if found[3] == into:
            out[found[1]] = value
        elif found[1] == into:
            out.setdefault(found[3], 1 / value)
    return out


def _parts(file: Path) -> dict[str, dict[str, Any]]:
    """The parts of the file as they stand; {} without one."""
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
    for part, values in data.items():
        if part not in {*CHOICES, "money", "balanced"}:
            raise _fault(file, part, "it is unknown",
                         "The parts are [units], [print], [money] and [balanced].")  # fmt: skip
        if not isinstance(values, dict):
            raise _fault(file, part, "it is no part of its own", f"Write [{part}] on a line.")
    return data


def weights(path: Path | None = None) -> dict[str, float]:
    """What ``[balanced]`` sets of the weights of the balanced order.

    Raises FileFault as ``read`` does, and for a weight below 0 or all too great.
    """
    return _weights(path or settings_file(), _parts(path or settings_file()).get("balanced", {}))


def _weights(file: Path, values: dict[str, Any]) -> dict[str, float]:
    out: dict[str, float] = {}
    for name, value in values.items():
        if name not in WEIGHED:
            raise _fault(file, f"balanced.{name}", "it is unknown",
                         f"Choose from {', '.join(WEIGHED)}.")  # fmt: skip
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 <= value <= HEAVIEST:
            raise _fault(file, f"balanced.{name}", f"{value!r} is no weight",
                         f"Write a number from 0 to {HEAVIEST:g}.")  # fmt: skip
        out[name] = float(value)
    return out


def _fault(file: Path, field: str, what: str, remedy: str) -> FileFault:
    return FileFault(Fault(str(file), 0, 0, field, what, remedy))
