"""How long something keeps, read from a record's words: "a week or two" is a week.

The shortest that the words allow counts: plurals without a number are two ("weeks" is two weeks),
"hours to a day" is two hours. Words after a semicolon say what happens, not how long; when they say
that it spoils in open air, it keeps that long only closed.
"""

from __future__ import annotations

import math
import re

UNITS_MIN = {
    "minute": 1.0, "hour": 60.0, "day": 1440.0, "week": 10080.0, "month": 43800.0,
    "year": 525600.0,
}  # fmt: skip
_NUMBERS = {
    "a": 1.0, "an": 1.0, "one": 1.0, "half a": 0.5, "half an": 0.5, "two": 2.0, "three": 3.0,
    "four": 4.0, "six": 6.0, "a few": 2.0, "several": 3.0, "many": 5.0,
}  # fmt: skip
_TIME = re.compile(
    r"(?:\b(?P<number>\d+(?:\.\d+)?|half an?|a few|several|many|an?|one|two|three|four|six)\s+)?"
    r"(?:(?:or|to)\s+\w+\s+)?\b(?P<unit>minute|hour|day|week|month|year)(?P<plural>s?)\b"
    r"|\b(?P<figure>\d+(?:\.\d+)?)\s*(?P<letter>h|d)\b",
    re.IGNORECASE,
)
_LETTERS = {"h": 60.0, "d": 1440.0}
_EVER = re.compile(r"for ever|forever|indefinite|stable", re.IGNORECASE)
_NONE = re.compile(r"\b(?:use|used) (?:fresh|at once)|does not keep|at once", re.IGNORECASE)
TAKES_UP = re.compile(
    r"moist|damp|hygroscopic|deliquesc|carbon dioxide|\bCO2\b|takes up|takes water|draws water|"
    r"gains water|runs wet|runs to liquid|melts in air|slak|swells|draws damp",
    re.IGNORECASE,
)
_CARBON_DIOXIDE = re.compile(r"carbon dioxide|\bCO2\b", re.IGNORECASE)
_VENTED = re.compile(r"cap loose|airlock", re.IGNORECASE)
LOSES = re.compile(
    r"effloresc|loses (?:its )?(?:water|ammonia|crystal)|bloom|dries out|loses CO2|warm dry air|"
    r"evaporates",
    re.IGNORECASE,
)
AIRTIGHT = re.compile(
    r"air-?tight|\btight\b[\w ,]*\b(?:jar|bottle|tin|tub)|well[- ]closed|\bsealed\b|"
    r"over a drying agent",
    re.IGNORECASE,
)
OXIDISES = re.compile(
    r"\bbrown|oxidis|blacken|greens|turns green|\bair:|\bair\b turns", re.IGNORECASE
)


def keeps_min(words: str) -> float | None:
    """Minutes that ``words`` promise at least; infinite for ever; None when they give no time."""
    head = words.split(";")[0]
    if _NONE.search(head):
        return 0.0
    found = []
    for match in _TIME.finditer(head):
        if match["figure"]:
            found.append(float(match["figure"]) * _LETTERS[match["letter"].lower()])
            continue
        text = (match["number"] or "").lower()
        if not text:
            number = 2.0 if match["plural"] else 1.0
        else:
            number = _NUMBERS[text] if text in _NUMBERS else float(text)
        found.append(number * UNITS_MIN[match["unit"].lower()])
    if found:
        return min(found)
    return math.inf if _EVER.search(head) else None


def takes_up(words: str) -> bool:
    """Whether the words say that it takes water or carbon dioxide from the air."""
    return TAKES_UP.search(words) is not None


def takes_carbon_dioxide(words: str) -> bool:
    """Whether the words say that it takes up carbon dioxide; so does its solution."""
    return _CARBON_DIOXIDE.search(words) is not None and "gives" not in words.casefold()


def not_open(words: str) -> bool:
    """Whether the words ask for a tight lid: it takes up, gives off or turns in open air."""
    if _VENTED.search(words):
        return False  # gas comes off: no tight lid, whatever else is said
    return any(x.search(words) for x in (TAKES_UP, OXIDISES, LOSES, AIRTIGHT))


def oxidises(words: str) -> bool:
    """Whether the words say that air changes it."""
    return OXIDISES.search(words) is not None
