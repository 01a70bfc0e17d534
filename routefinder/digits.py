"""Numbers for people: never more digits than the data bear, units always.

Masses, temperatures and times are shown in the units that the user has chosen (``use``), pages on
that paper. Arithmetic line by line, the words of records and JSON keep g, degC and min.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routefinder.units import significant as significant


@dataclass(frozen=True)
class Shown:
    """Mass in g, oz or lb; temperature in degC, degF or K; time auto, min or h; A4 or letter."""

    mass: str = "g"
    temperature: str = "degC"
    time: str = "auto"
    paper: str = "A4"


_GRAMS = {"oz": 28.349523125, "lb": 453.59237}  # exact, avoirdupois
_shown = Shown()


def use(shown: Shown) -> None:
    """Show these units from now on."""
    global _shown
    _shown = shown


def count(number: int, noun: str) -> str:
    """So many things: 1 route, 6 routes, 2 batches."""
    more = "es" if noun.endswith("ch") else "s"
    return f"{number} {noun}{'' if number == 1 else more}"


def paper() -> str:
    """What pages are printed on: "A4" or "letter"."""
    return _shown.paper


def mass(grams: float, figures: int = 3) -> str:
    """A mass: 402 g, 1.74 kg, 35 mg."""
    if _shown.mass in _GRAMS:
        return f"{significant(grams / _GRAMS[_shown.mass], figures)} {_shown.mass}"
    if abs(grams) < 1e-9:
        return "0 g"
    if abs(grams) >= 999.5:
        return f"{significant(grams / 1000, figures)} kg"
    if abs(grams) < 0.0995:
        return f"{significant(grams * 1000, 2)} mg"
    return f"{significant(grams, figures)} g"


def volume(millilitres: float) -> str:
    """A volume: 3.78 L, 250 mL."""
    if abs(millilitres) >= 999.5:
        return f"{significant(millilitres / 1000)} L"
    return f"{significant(millilitres)} mL"


def gas(moles: float) -> str:
    """Volume of a gas at 20 °C and 1 atm (ideal gas, 24.05 L/mol)."""
    return f"{significant(moles * 24.055)} L"


def duration(minutes: float) -> str:
    """A time: 45 min, 3.5 h, 2 d."""
    if _shown.time == "min":
        return f"{minutes:.0f} min"
    if _shown.time == "h":
        return f"{significant(minutes / 60, 2)} h"
    if minutes < 59.5:
        return f"{minutes:.0f} min"
    hours = minutes / 60
    if hours < 47.5:
        return f"{significant(hours, 2)} h"
    return f"{significant(hours / 24, 2)} d"


def percent(fraction: float) -> str:
    """A fraction as a percentage: 79 %; near 100 % with a decimal."""
    value = fraction * 100
    if 99 < value < 99.95 or value < 10:
        return f"{value:.1f} %"
    return f"{value:.0f} %"


def chance(share: float) -> str:
    """A chance that was found by trials: 21 %; never quite none and never quite certain."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{share * 100:.0f} %"


def money(value: float, currency: str, at_least: bool = False) -> str:
    """A sum of money: 8.30 USD; ≥ when a price is unknown."""
    digits = 2 if value < 100 else 0
    return f"{'≥ ' if at_least else ''}{value:.{digits}f} {currency}"


def temperature(celsius: float) -> str:
    """A temperature: 290 °C."""
    if _shown.temperature == "degF":
        return f"{celsius * 9 / 5 + 32:.0f} °F"
    if _shown.temperature == "K":
        return f"{celsius + 273.15:.0f} K"
    return f"{celsius:g} °C"


def window(low_C: float, high_C: float) -> str:
    """A stretch of temperature: 20 to 65 °C."""
    if low_C == high_C:
        return temperature(low_C)
    low, _, unit = temperature(low_C).rpartition(" ")
    return f"{low} to {temperature(high_C).removesuffix(unit)}{unit}"


def energy(kilojoules: float) -> str:
    """An amount of heat: 8.31 MJ, 51.2 kJ."""
    if abs(kilojoules) >= 999.5:
        return f"{significant(kilojoules / 1000)} MJ"
    return f"{significant(kilojoules)} kJ"


def readable(grams: float, readability_g: float) -> str:
    """A mass as a balance of that readability shows it: 401.7 g at 0.1 g."""
    if readability_g <= 0:
        return mass(grams)
    if _shown.mass in _GRAMS:
        per = _GRAMS[_shown.mass]
        decimals = max(0, -math.floor(math.log10(readability_g / per) + 1e-9))
        return f"{grams / per:.{decimals}f} {_shown.mass}"
    decimals = max(0, -math.floor(math.log10(readability_g) + 1e-9))
    return f"{grams:.{decimals}f} g"


def span(minutes: float) -> str:
    """A long time in words: 5 h, 3 days, 2 weeks, 6 months, 2 years."""
    for limit, size, name in (
        (2880.0, 60.0, "h"), (20160.0, 1440.0, "days"), (87600.0, 10080.0, "weeks"),
        (1051200.0, 43800.0, "months"),
    ):  # fmt: skip
        if minutes < limit:
            return f"{significant(minutes / size, 2).removesuffix('.0')} {name}"
    return f"{significant(minutes / 525600.0, 2).removesuffix('.0')} years"
