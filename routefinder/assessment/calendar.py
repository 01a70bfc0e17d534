"""Working hours: "Saturday and Sunday, 9 to 17" from a start date, as stretches of minutes.

A calendar is one or more clauses with a semicolon between them, each of days and hours:
"weekdays, 18 to 22; Saturday, 9:30 to 17". Minutes count from the start of the first day asked for;
clock changes in spring and autumn are not counted.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from routefinder.errors import InputError

DAY = 1440.0
NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_GROUPS = {
    "weekdays": range(5), "weekday": range(5), "weekends": (5, 6), "weekend": (5, 6),
    "every day": range(7), "daily": range(7), "any day": range(7),
}  # fmt: skip
_CLOCK = r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am|pm)?"
_HOURS = re.compile(rf"{_CLOCK}\s*(?:to|until|till|-|–)\s*{_CLOCK}\s*(?:h|o'clock)?\s*$", re.I)
_EXAMPLE = "write for example 'Saturday and Sunday, 9 to 17' or 'weekdays, 18 to 22'"


@dataclass(frozen=True)
class Calendar:
    """Working hours from a start: per weekday (0 is Monday) open and close in minutes of the day.

    ``start`` is midnight of the first day. Stretches that meet (24:00 and 0:00) are one.
    """

    start: datetime
    hours: tuple[tuple[int, float, float], ...]
    text: str = ""

    @property
    def longest_min(self) -> float:
        """The longest stretch of working time; infinite when it is always open."""
        found = 0.0
        t = 0.0
        while t < 15 * DAY:
            opened, closed = self.stretch(t)
            if closed - opened >= 8 * DAY:
                return math.inf
            found, t = max(found, closed - opened), closed
        return found

    def _of_day(self, day: int) -> list[tuple[float, float]]:
        weekday = (self.start + timedelta(days=day)).weekday()
        return [(day * DAY + a, day * DAY + b) for d, a, b in self.hours if d == weekday]

    def stretch(self, at: float) -> tuple[float, float]:
        """The first stretch that ends after ``at`` minutes, whole; meeting stretches are joined.

        Raises InputError for a calendar without hours.
        """
        day = max(math.floor(at / DAY) - 1, 0)
        found: tuple[float, float] | None = None
        for ahead in range(24):
            for opened, closed in self._of_day(day + ahead):
                if found is None:
                    if closed > at:
                        found = (opened, closed)
                elif opened <= found[1] + 1e-9:
                    found = (found[0], max(found[1], closed))
                else:
                    return found
        if found is None:
            raise InputError(f"the calendar has no working hours; {_EXAMPLE}")
        return found

    def next_fit(self, at: float, minutes: float) -> float | None:
        """The first moment from ``at`` on when ``minutes`` fit into one stretch; None if never."""
        t = at
        for _ in range(40):
            opened, closed = self.stretch(t)
            begin = max(opened, at)
            if begin + minutes <= closed + 1e-9:
                return begin
            t = closed
        return None

    def when(self, minutes: float) -> datetime:
        """The moment on the clock."""
        return self.start + timedelta(minutes=minutes)


def read(text: str, start: str | date) -> Calendar:
    """Read working hours and a start date ("2026-11-28").

    Raises InputError with a sentence and an example when either cannot be read.
    """
    if isinstance(start, datetime):
        begin = datetime.combine(start.date(), time())
    elif isinstance(start, date):
        begin = datetime.combine(start, time())
    else:
        try:
            begin = datetime.combine(date.fromisoformat(start.strip()), time())
        except ValueError:
            raise InputError(
                f"{start!r} is not a date; write year, month and day, for example '2026-11-28'"
            ) from None
    hours: list[tuple[int, float, float]] = []
    for clause in re.split(r";", text):
        if not clause.strip():
            continue
        found = _HOURS.search(clause.strip())
        if found is None:
            raise InputError(f"no hours in {clause.strip()!r}; {_EXAMPLE}")
        opened = _minutes(found[1], found[2], found[3] or _half(found[6], found[1], found[4]))
        closed = _minutes(found[4], found[5], found[6])
        if closed <= opened:
            raise InputError(
                f"{clause.strip()!r} ends before it begins; hours past midnight need two clauses, "
                "for example 'Friday, 18 to 24; Saturday, 0 to 2'"
            )
        words = clause.strip()[: found.start()].strip(" ,:")
        hours += [(day, opened, closed) for day in _days(words)]
    if not hours:
        raise InputError(f"the calendar {text!r} has no working hours; {_EXAMPLE}")
    return Calendar(begin, tuple(sorted(set(hours))), text)


def _half(close_half: str | None, opens: str, closes: str) -> str | None:
    """ "9 to 5 pm" opens in the morning, "1 to 5 pm" after noon."""
    if close_half is None:
        return None
    return "pm" if close_half.lower() == "pm" and int(opens) < int(closes) % 12 else "am"


def _minutes(hour: str, minute: str | None, half: str | None) -> float:
    h, m = int(hour), int(minute or 0)
    if half:
        if not 1 <= h <= 12:
            raise InputError(f"{hour} {half} is no time of day; {_EXAMPLE}")
        h = h % 12 + (12 if half.lower() == "pm" else 0)
    if h > 24 or m > 59 or (h == 24 and m):
        raise InputError(f"{hour}:{minute or '00'} is no time of day; {_EXAMPLE}")
    return h * 60.0 + m


def _day(word: str) -> int:
    found = [i for i, name in enumerate(NAMES) if len(word) >= 2 and name.startswith(word)]
    if word.endswith("s") and not found:
        found = [i for i, name in enumerate(NAMES) if name == word[:-1]]
    if len(found) != 1:
        raise InputError(f"{word!r} is no day of the week; {_EXAMPLE}")
    return found[0]


def _days(words: str) -> list[int]:
    text = words.lower().strip()
    if not text or text in _GROUPS:
        return list(_GROUPS[text]) if text else list(range(7))
    out: list[int] = []
    for part in re.split(r"\s*(?:,|\band\b|&|\+)\s*", text):
        if not part:
            continue
        if part in _GROUPS:
            out += _GROUPS[part]
            continue
        ends = re.split(r"\s*(?:\bto\b|-|–)\s*", part)
        if len(ends) == 2:
            first, last = _day(ends[0]), _day(ends[1])
            out += [(first + i) % 7 for i in range((last - first) % 7 + 1)]
        elif len(ends) == 1:
            out.append(_day(part))
        else:
            raise InputError(f"{part!r} is no span of days; {_EXAMPLE}")
    return out
