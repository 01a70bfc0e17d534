"""The terms of a plan: how sure it must be, when one works, the room, the heater, prices."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches

from routefinder import units
from routefinder.assessment import calendar
from routefinder.assessment.calendar import Calendar
from routefinder.assessment.heater import EFFICIENCY
from routefinder.assessment.room_air import AIR_CHANGES, Room
from routefinder.errors import FieldError, InputError
from routefinder.worksheet import wished

HOURS = "every day, 9 to 17"  # when a start is given and no hours
_PRICE = re.compile(r"^\s*(?P<number>[\d.,]+)\s*(?:(?P<money>[^\d\s/]+)\s*/\s*kWh)?\s*$")


@dataclass(frozen=True)
class Terms:
    """What the user says beside the question; None and empty where nothing is said.

    ``confidence`` is the share of trials (0 to 1) that must reach the asked amount; without it the
    plan takes typical yields. ``fill`` is the part of a vessel (0 to 1) that a step may fill, by
    step id; ``tools`` are (step, tool) that the user wants used. ``assumed`` are sentences on what
    was taken for granted in reading the terms.
    """

    confidence: float | None = None
    calendar: Calendar | None = None
    room: Room | None = None
    heater_W: float | None = None
    efficiency: float = EFFICIENCY
    price_per_kWh: float | None = None
    price_currency: str = ""
    hourly: float | None = None
    fill: Mapping[str, float] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    tools: tuple[tuple[str, str], ...] = ()


def known(names: Iterable[str]) -> None:
    """Raise InputError for a name that is no term of a plan."""
    terms = list(inspect.signature(read).parameters)
    for name in names:
        if name not in terms:
            near = get_close_matches(name, terms, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"there are {', '.join(terms)}"
            raise InputError(f"a plan has no {name!r}; {hint}")


def read(
    *,
    confidence: str | float | None = None,
    start: str | date | None = None,
    hours: str | None = None,
    room: str | None = None,
    air_changes: float | None = None,
    heater: str | None = None,
    energy_price: str | float | None = None,
    hourly: float | None = None,
    fill: Sequence[str] = (),
    tools: Sequence[str] = (),
) -> Terms:
    """Read the terms as a user writes them; raises InputError with one sentence.

    ``fill`` and ``tools`` may be one text as well as several.
    """
    tools = (tools,) if isinstance(tools, str) else tools
    fill = (fill,) if isinstance(fill, str) else fill
    for name, value in (("start", start), ("hours", hours), ("room", room), ("heater", heater)):
        if value is not None and not isinstance(value, str) and not isinstance(value, date):
            raise FieldError("{f} is {value!r}, not a text", f=name, value=value)
    for name, number in (("air_changes", air_changes), ("hourly", hourly)):
        if number is not None and (isinstance(number, bool) or not isinstance(number, int | float)):
            raise FieldError("{f} is {value!r}, not a number", f=name, value=number)
    assumed = []
    when = None
    if start is not None or hours is not None:
        if hours is None:
            assumed.append(f"working hours are not given: {HOURS}")
        if start is None:
            assumed.append("no start is given: it begins today")
        when = calendar.read(hours or HOURS, start or date.today())
    power, efficiency = (None, EFFICIENCY) if heater is None else _heater(heater)
    price, currency = (None, "") if energy_price is None else _price(energy_price)
    if hourly is not None and not (hourly >= 0 and math.isfinite(hourly)):
        raise InputError(f"an hour is worth {hourly:g}; give a number from 0 up")
    return Terms(
        None if confidence is None else _confidence(confidence), when,
        _room(room, air_changes, assumed), power, efficiency, price, currency, hourly,
        dict(_fill(text) for text in fill), tuple(assumed), tuple(map(wished.read, tools)),
    )  # fmt: skip


def _confidence(value: str | float) -> float:
    try:
        number = units.read_fraction(value)
    except InputError:
        raise InputError(f"the confidence {value!r} is no number; write for example 90") from None
    if "%" not in str(value) and number >= 1:
        number /= 100
    if not 0.01 <= number <= 0.999:
        raise InputError(
            f"the confidence {value!r} does not lie between 1 and 99.9 %; write for example 90 "
            "for nine times in ten"
        )
    return number


def _room(text: str | None, changes: float | None, assumed: list[str]) -> Room | None:
    if text is None:
        if changes is not None:
            raise FieldError("{f} goes with {g}; write for example {g} '30 m3'", f="air_changes",
                             g="room")  # fmt: skip
        return None
    try:
        volume = units.read(text.replace("m³", "m3"), "volume") / 1e6
    except InputError:
        raise InputError(f"the room {text!r} is no volume; write for example '30 m3'") from None
    if changes is None:
        assumed.append(f"air changes are not given: {AIR_CHANGES:g} an hour, a closed room")
        changes = AIR_CHANGES
    return Room(volume, changes)


def _heater(text: str) -> tuple[float, float]:
    parts = re.split(r"\s*,\s*|\s+at\s+", text.strip(), maxsplit=1)
    try:
        power = units.read(parts[0], "power")
    except InputError:
        raise InputError(
            f"the heater {text!r} has no power; write for example '1.5 kW at 50 %'"
        ) from None
    share = units.read_fraction(parts[1]) if len(parts) == 2 else EFFICIENCY
    if not (power > 0 and 0 < share <= 1):
        raise InputError(
            f"the heater {text!r} needs a power above 0, and an efficiency above 0 and up to 100 "
            "%; write for example '1.5 kW at 50 %'"
        )
    return power, share


def _price(value: str | float) -> tuple[float, str]:
    match = _PRICE.match(str(value))
    try:
        number = float(match["number"].replace(",", ".")) if match else math.nan
    except ValueError:
        number = math.nan
    if match is None or not math.isfinite(number):
        raise InputError(
            f"{value!r} is no price of energy; write for example '0.30 EUR/kWh' or 0.30"
        )
    return number, match["money"] or ""


def _fill(text: str) -> tuple[str, float]:
    parts = str(text).replace("=", " ").split(maxsplit=1)
    if len(parts) != 2:
        raise FieldError("{f} {text!r}: write a step and a share, for example '2=85 %'", f="fill",
                         text=text)  # fmt: skip
    share = units.read_fraction(parts[1])
    if not 0 < share <= 0.9:
        raise FieldError("{f} {text!r}: a vessel is filled by more than 0 and up to 90 %",
                         f="fill", text=text)  # fmt: skip
    return parts[0], share
