"""The only door to pint: text <-> number in a canonical unit.

Canonical units: mass g, volume mL, amount mol, temperature degC, time min, current A,
density g/mL, length mm, fraction 1, and the ratios made of them. Temperatures are kept in
degC because that is what every dial at the bench shows.

Common units are read from a table of exact factors, because importing pint and building its
registry takes a quarter of a second; every other unit goes to pint. A test holds the table
against pint.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Any

from routefinder.errors import QuantityError
from routefinder.hidden import shortened

CANONICAL = {
    "mass": "g",
    "volume": "mL",
    "amount": "mol",
    "temperature": "degC",
    "time": "min",
    "current": "A",
    "density": "g/mL",
    "length": "mm",
    "mass_per_amount": "g/mol",
    "volume_per_amount": "mL/mol",
    "concentration": "mol/L",
    "flow": "L/min",
    "power": "W",
    "ramp": "K/h",
}

# kind -> unit text -> factor to the canonical unit; all factors are exact by definition.
FACTORS: dict[str, dict[str, float]] = {
    "mass": {"g": 1.0, "kg": 1000.0, "mg": 0.001, "lb": 453.59237, "oz": 28.349523125, "t": 1e6},
    "volume": {"mL": 1.0, "ml": 1.0, "L": 1000.0, "l": 1000.0, "cL": 10.0, "dL": 100.0,
               "cm3": 1.0, "m3": 1e6},
    "amount": {"mol": 1.0, "mmol": 0.001, "kmol": 1000.0},
    "time": {"min": 1.0, "h": 60.0, "hour": 60.0, "hours": 60.0, "minute": 1.0, "minutes": 1.0,
             "s": 1 / 60, "d": 1440.0, "day": 1440.0, "days": 1440.0, "week": 10080.0,
             "weeks": 10080.0},
    "current": {"A": 1.0, "mA": 0.001},
    "density": {"g/mL": 1.0, "g/ml": 1.0, "g/cm3": 1.0, "kg/L": 1.0, "g/L": 0.001},
    "length": {"mm": 1.0, "um": 0.001, "cm": 10.0},
    "mass_per_amount": {"g/mol": 1.0, "kg/mol": 1000.0},
    "volume_per_amount": {"mL/mol": 1.0, "ml/mol": 1.0, "L/mol": 1000.0, "l/mol": 1000.0},
    "concentration": {"mol/L": 1.0, "M": 1.0, "mmol/L": 0.001},
    "flow": {"L/min": 1.0, "mL/min": 0.001},
    "power": {"W": 1.0, "kW": 1000.0},
    "ramp": {"K/h": 1.0, "K/min": 60.0},
}  # fmt: skip

_CELSIUS = {"degC", "°C", "C", "celsius"}
_WHOLE = r"(?:[0-9]{1,3}(?:[ _][0-9]{3})+|[0-9]+)"  # spaces between thousands only
_NUMBER = rf"[-+]?(?:{_WHOLE}(?:[.,][0-9]+)?|[.,][0-9]+)(?:[eE][-+]?[0-9]{{1,4}})?"
_QUANTITY = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[^\d\s.,+-].*?)?\s*")
# 1,500: 1500 to some and 1.5 to others
_TWO_MEANINGS = re.compile(r"[-+]?[1-9][0-9]{0,2},[0-9]{3}")
_NAME = r"[A-Za-zµμΩÅ°_%]+"
_POWER = r"(?:(?:\^|\*\*)(-?[1-9])|([²³]))?"
_UNIT = re.compile(rf"{_NAME}{_POWER}(?:\s*[*/·]\s*{_NAME}{_POWER}|\s+{_NAME}{_POWER}){{0,4}}")
_FACTOR = re.compile(rf"(^|[*/·]|\s)\s*({_NAME})(?:(?:\^|\*\*)?(-?[1-9]|[²³]))?")
_SUPERSCRIPTS = str.maketrans("²³", "23")
_LONGEST_UNIT = 40
MOST = 1e15  # of any unit
_EXAMPLES = {
    "mass": "250 g",
    "volume": "2 L",
    "amount": "1.5 mol",
    "temperature": "900 degC",
    "time": "2 h",
    "current": "3 A",
    "density": "1.28 g/mL",
    "length": "0.1 mm",
    "mass_per_amount": "18 g/mol",
    "volume_per_amount": "2 L/mol",
    "concentration": "0.5 mol/L",
    "flow": "2 L/min",
    "power": "1 kW",
    "ramp": "150 K/h",
}


@lru_cache(maxsize=1)
def registry() -> Any:
    """The one pint registry of the program (units may be attached to its quantities)."""
    import pint

    ureg: Any = pint.UnitRegistry()
    return ureg


@lru_cache(maxsize=512)
def _pint_factor(unit: str, kind: str) -> float:
    """Factor from ``unit`` to the canonical unit of ``kind``, by pint."""
    import pint

    ureg = registry()
    try:
        # names are looked up one by one: what was typed never reaches pint's evaluator
        container = ureg.UnitsContainer()
        for name, power in _factors_of(unit):
            known = ureg.get_name(name)
            if not known or known == "dimensionless":
                raise ValueError(name)
            container *= ureg.UnitsContainer({known: power})
        return float(ureg.Quantity(1.0, container).to(CANONICAL[kind]).magnitude)
    except pint.DimensionalityError:
        raise QuantityError(
            f"{unit!r} is not a unit of {kind.replace('_', ' ')}; write for example "
            f"{_EXAMPLES[kind]!r}"
        ) from None
    except Exception:
        raise QuantityError(
            f"unknown unit {shortened(repr(unit))}; write for example {_EXAMPLES[kind]!r}"
        ) from None


def _factors_of(unit: str) -> list[tuple[str, int]]:
    """(name, power) of every factor of a unit text such as ``kg/m^3``; raises ValueError."""
    if len(unit) > _LONGEST_UNIT or not _UNIT.fullmatch(unit):
        raise ValueError(unit)
    out = []
    for sign, name, power in _FACTOR.findall(unit):
        number = int(power.translate(_SUPERSCRIPTS) or 1)
        out.append((name, -number if sign.strip() == "/" else number))
    return out


def number(text: str, example: str = "'250'") -> float:
    """Read ``"1 500"`` or ``"2,5"`` as a number. A comma may be the decimal sign.

    Raises QuantityError for anything else, for more than ``MOST``, and for ``"1,500"``, which some
    write for 1500 and others for 1.5.
    """
    shown = shortened(repr(text))
    if not re.fullmatch(_NUMBER, text):
        raise QuantityError(f"{shown} is not a number; write for example {example}")
    if _TWO_MEANINGS.fullmatch(text):
        raise QuantityError(
            f"{shown} may mean {text.replace(',', '')} or {text.replace(',', '.')}; "
            "write it without a comma"
        )
    value = float(re.sub(r"[ _]", "", text).replace(",", "."))
    if not math.isfinite(value):
        raise QuantityError(f"{shown} is not a finite number")
    if abs(value) > MOST:
        raise QuantityError(f"{shown} is more than any bench or shop holds")
    return value


def is_whole(text: str) -> bool:
    """Whether a text is a whole number of up to nine plain digits; "²" is none, nor is "-1"."""
    return text.isascii() and text.isdigit() and len(text) <= 9


def split(text: str, example: str = "'250 g'") -> tuple[float, str]:
    """Split ``"1 500 mL"`` into number and unit text. A comma may be the decimal sign.

    Raises QuantityError, with ``example`` of what to write, when there is no finite number.
    """
    shown = shortened(repr(text))
    match = _QUANTITY.fullmatch(text)
    if not match:
        raise QuantityError(f"{shown} is not a number with a unit; write for example {example}")
    unit = (match["unit"] or "").strip()
    if _TWO_MEANINGS.fullmatch(match["number"]):
        one, other = match["number"].replace(",", ""), match["number"].replace(",", ".")
        raise QuantityError(
            f"{shown} may mean {one} {unit} or {other} {unit}; write it without a comma"
        )
    value = float(re.sub(r"[ _]", "", match["number"]).replace(",", "."))
    if not math.isfinite(value):
        raise QuantityError(f"{shown} is not a finite number")
    if abs(value) > MOST:
        raise QuantityError(f"{shown} is more than any bench or shop holds")
    return value, unit


def read(text: str, kind: str) -> float:
    """Read ``text`` such as ``"250 g"`` as a number in the canonical unit of ``kind``.

    Raises QuantityError when the unit is missing, unknown or of another kind.
    """
    example = _EXAMPLES[kind]
    number, unit = split(str(text), repr(example))
    if not unit:
        raise QuantityError(f"{text!r} has no unit; write for example {example!r}")
    if kind == "temperature":
        if unit in _CELSIUS:
            value = number
        elif unit in {"K", "kelvin"}:
            value = number - 273.15
        elif unit in {"degF", "°F", "F"}:
            value = (number - 32) * 5 / 9
        else:
            raise QuantityError(
                f"{unit!r} is not a temperature unit; write for example {example!r}"
            )
        if value < -273.15:
            raise QuantityError(f"{text!r} is below absolute zero")
        return value
    factor = FACTORS[kind].get(unit)
    if factor is None:
        factor = _pint_factor(unit, kind)
    return number * factor


def read_any(text: str, kinds: tuple[str, ...]) -> tuple[float, str]:
    """Read ``text`` as the first of ``kinds`` whose units it uses: (number, kind).

    Raises QuantityError for text with none of these units.
    """
    wanted = " or ".join(repr(_EXAMPLES[kind]) for kind in kinds)
    number, unit = split(str(text), wanted)
    for kind in kinds:
        if unit in FACTORS.get(kind, {}):
            return number * FACTORS[kind][unit], kind
    for kind in kinds:
        try:
            return read(text, kind), kind
        except QuantityError:
            continue
    if not unit:
        raise QuantityError(f"{text!r} has no unit; write for example {wanted}")
    raise QuantityError(
        f"{shortened(repr(text))} has a unit that does not fit here; write for example {wanted}"
    )


def read_fraction(text: str | float) -> float:
    """Read ``"95 %"``, ``"0.95"`` or ``0.95`` as a fraction (0.95).

    Raises QuantityError for what is no fraction.
    """
    if isinstance(text, int | float) and not isinstance(text, bool):
        number, unit = float(text), ""
    else:
        number, unit = split(str(text), "'95 %' or '0.95'")
    if not math.isfinite(number):
        raise QuantityError(f"{text!r} is not a finite number")
    if unit in {"%", "percent", "per cent"}:
        return number / 100
    if unit:
        raise QuantityError(f"{text!r} is not a fraction; write for example '95 %' or '0.95'")
    return number


def quantity(value: float, kind: str) -> Any:
    """A pint quantity of ``value`` in the canonical unit of ``kind``."""
    return registry().Quantity(value, CANONICAL[kind])


def write(value: float, kind: str) -> str:
    """Text that ``read`` gives back unchanged: ``"250 g"``."""
    return f"{value!r} {CANONICAL[kind]}".replace(".0 ", " ")


def canonical(value: Any, kind: str) -> float:
    """Accept text or a pint quantity at the boundary; return the canonical number.

    Raises QuantityError for a value without a fitting unit.
    """
    if isinstance(value, str):
        return read(value, kind)
    magnitude = getattr(value, "to", None)
    if magnitude is None:
        raise QuantityError(
            f"{value!r} has no unit; write for example {_EXAMPLES[kind]!r} or give a pint quantity"
        )
    try:
        number = float(value.to(CANONICAL[kind]).magnitude)
    except Exception:
        raise QuantityError(
            f"{value} is not a {kind.replace('_', ' ')}; write for example {_EXAMPLES[kind]!r}"
        ) from None
    if not math.isfinite(number):
        raise QuantityError(f"{value} is not a finite number")
    return number


def significant(value: float, digits: int = 3) -> str:
    """``value`` rounded to ``digits`` significant figures, without an exponent."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, decimals)
    decimals = digits - 1 - math.floor(math.log10(abs(rounded)))  # 9.999 becomes 10.0
    if decimals <= 0:
        return f"{rounded:.0f}"
    return f"{rounded:.{decimals}f}"
