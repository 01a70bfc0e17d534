"""The measures that routes are compared by: the words for them, and their values as numbers."""

from __future__ import annotations

from collections.abc import Sequence

from routefinder.assessment.assess import Assessment
from routefinder.assessment.measure import MEASURES
from routefinder.errors import InputError
from routefinder.search.front import rounded

DEFAULT = ("yield", "cost", "time", "hazard", "missing", "e_factor")
_KEYS = {kind.word: key for key, kind in MEASURES.items()} | {key: key for key in MEASURES}


def key_of(word: str) -> str:
    """The key of a measure; raises InputError for a word that names none."""
    key = _KEYS.get(word.strip().lower().replace("-", "_").replace(" ", "_"))
    if key is None:
        known = ", ".join(kind.word for kind in MEASURES.values())
        raise InputError(f"unknown measure {word.strip()!r}; the measures are {known}")
    return key


def read_names(text: str) -> tuple[str, ...]:
    """Keys of measures from "yield, cost, time"; raises InputError for an unknown or no name."""
    keys = tuple(dict.fromkeys(key_of(word) for word in text.split(",") if word.strip()))
    if not keys:
        raise InputError("name at least one measure, such as 'yield, cost, time'")
    return keys


def word(key: str) -> str:
    """The word a user writes for a measure."""
    return MEASURES[key].word


def title(key: str) -> str:
    """A measure's name in a table."""
    return MEASURES[key].title


def side(key: str) -> str:
    """On which side of its limit a must-have lies: "least" where more is better, else "most"."""
    return "least" if MEASURES[key].better == "more" else "most"


def losses(found: Assessment, keys: Sequence[str]) -> tuple[float, ...]:
    """The typical values of some measures, less is better, rounded to ten digits.

    Rounding makes equal what differs by the order of summation only, and keeps dominance
    transitive.
    """
    rows = found.measures()
    out = []
    for key in keys:
        m = rows[key]
        value = m.typical if m.typical is not None else float("inf")
        out.append(rounded(-value if m.better == "more" else value))
    return tuple(out)
