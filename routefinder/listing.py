"""How several things are said in a row."""

from __future__ import annotations

from collections.abc import Iterable


def listed(words: Iterable[str], last: str = "and", most: int | None = None, none: str = "") -> str:
    """ "a, b and c"; ``last`` "" puts commas only, ``none`` stands for no words.

    Of more than ``most`` words the rest is counted: "a, b and 3 more".
    """
    said = list(words)
    if not said:
        return none
    if most is not None and len(said) > most:
        return f"{', '.join(said[:most])} and {len(said) - most} more"
    if len(said) == 1 or not last:
        return ", ".join(said)
    return f"{', '.join(said[:-1])} {last} {said[-1]}"
