"""Danger in short words: what gave an aspect its points, said so that one need not know a code.

The words stand in ``data/danger_words.csv``, a row a sign, each with its source: a hazard statement
("H314": burns skin and eyes), a gas that leaves ("gas CO"), the heat or the temperature with its
points ("heat 3"). They shorten the statement and never soften it; the statement itself stands in
``hazards.phrases``. The points are our own order of such signs, no part of any published label.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from routefinder.hazards.kinds import DATA
from routefinder.hazards.score import ASPECTS, MOST, STATEMENTS, Score


@dataclass(frozen=True)
class Danger:
    """One aspect of a step in words: ``points`` of ``MOST``, what gave them in ``cause``.

    Of a route, ``step`` is the id of the worst step.
    """

    aspect: str
    points: int
    words: str
    cause: str
    step: str = ""

    @property
    def of(self) -> int:
        """The most points there are."""
        return MOST


@lru_cache(maxsize=1)
def table() -> Mapping[str, str]:
    """Sign -> short words."""
    with (DATA / "danger_words.csv").open(encoding="utf-8", newline="") as file:
        return {row["sign"]: row["words"] for row in csv.DictReader(file)}


def of_sign(sign: str) -> str:
    """The words of a sign, "" when the table has none.

    A statement with letters behind it (H360FD) that has no row of its own has the words of the
    statement without them; any other sign those of its first word.
    """
    known = table()
    for key in (sign, sign[:4] if sign.startswith("H") else "", sign.split(" ")[0]):
        if key in known:
            return known[key]
    return ""


def words(aspect: str, score: Score) -> str:
    """What is dangerous about an aspect: "burns skin and eyes"; "" for no points."""
    if not score.points:
        return ""
    if aspect in {"temperature", "heat"} and not score.sign.startswith("EUH"):
        return of_sign(f"{aspect} {score.points}")
    found = of_sign(score.sign) or of_sign("unlisted")
    if aspect == "gas" and score.sign.startswith("H"):
        return f"gives off gas: {found}"
    return f"as dust: {found}" if aspect == "dust" else found


def dangers(profile: Mapping[str, Score]) -> tuple[Danger, ...]:
    """The aspects that have points, the greatest first, in the order of ``ASPECTS`` else."""
    found = [
        Danger(a, profile[a].points, words(a, profile[a]), profile[a].cause)
        for a in ASPECTS
        if profile[a].points
    ]
    return tuple(sorted(found, key=lambda d: -d.points))


def of_route(profiles: Mapping[str, Mapping[str, Score]]) -> tuple[Danger, ...]:
    """The dangers of several steps (id -> profile) together: of each aspect the worst step's.

    In the order of ``dangers``; of equals the earlier step is named.
    """
    best: dict[str, Danger] = {}
    for step, profile in profiles.items():
        for found in dangers(profile):
            if found.aspect not in best or found.points > best[found.aspect].points:
                best[found.aspect] = replace(found, step=step)
    order = [best[a] for a in ASPECTS if a in best]
    return tuple(sorted(order, key=lambda d: -d.points))


def in_short(statements: Iterable[str]) -> tuple[str, ...]:
    """The words of some statements, the gravest first, each once."""
    order = sorted(set(statements), key=lambda c: (-_points(c), c))
    return tuple(dict.fromkeys(found for found in map(of_sign, order) if found))


def _points(code: str) -> int:
    return (STATEMENTS.get(code) or STATEMENTS.get(code[:4]) or ("", 0))[1]
