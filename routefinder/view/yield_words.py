"""A yield in words, with what it rests on: "98 % (95 % to 99 %), guess"."""

from __future__ import annotations

from routefinder import digits
from routefinder.library import evidence
from routefinder.records.step import Yield

_ONE = {"forum": "one forum page", "shop": "one shop page"}
_BEST = {"forum": "forum pages", "shop": "shop pages"}


def rests_on(found: evidence.Evidence) -> str:
    """Briefly: "guess", "computed", "one paper, 50 g", "several, best a paper"; "" if invented.

    A library of invented data says so at its head, not at every yield.
    """
    if found.kind == evidence.INVENTED:
        return ""
    if found.kind == evidence.ONE:
        words = _ONE.get(found.grades[0], f"one {found.grades[0]}")
    elif found.kind == evidence.SEVERAL:
        best = found.grades[0]
        words = f"several, best {_BEST.get(best, f'a {best}')}"
    else:
        return found.kind
    return words + (f", {found.scale_g:g} g" if found.scale_g is not None else "")


def yield_words(found: Yield) -> str:
    """The typical yield with its range and what it rests on."""
    words = rests_on(evidence.of_yield(found))
    return (
        f"{digits.percent(found.typical)} ({digits.percent(found.low)} to "
        f"{digits.percent(found.high)})" + (f", {words}" if words else "")
    )


def as_data(found: evidence.Evidence) -> dict[str, object]:
    """What a yield rests on, for JSON."""
    return {"kind": found.kind, "grades": list(found.grades), "scale_g": found.scale_g}
