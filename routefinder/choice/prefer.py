"""Preferences in plain words: weights, value functions that are shown, and must-haves.

"yield 3 from 40 % to 90 %, hazard 2, time at most 3 days" reads: yield counts three times; a yield
of 40 % is worth 0 and one of 90 % is worth 1, on a straight line between (less and more than that
is worth no less and no more); hazard counts twice; no more than 3 days will do. Where no ends are
given they are the worst and the best typical value among the routes compared, and say so: they
then hang on which routes are compared. The score is the weighted mean of the worths (an additive
value function, common practice in decision analysis).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from routefinder import units
from routefinder.assessment.assess import Assessment
from routefinder.assessment.measure import MEASURES
from routefinder.choice.measures import key_of, side, word
from routefinder.errors import FieldError, InputError, QuantityError

_WISH = re.compile(
    r"(?P<name>[a-z_ -]*?[a-z])"
    r"(?:\s+(?P<weight>[+-]?[\d.]+))?"
    r"(?:\s+from\s+(?P<worst>.+?)\s+to\s+(?P<best>.+?))?"
    r"(?:\s+at\s+(?P<side>most|least)\s+(?P<limit>.+))?",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Wish:
    """What one measure counts: ``weight`` (0: only a must-have), ends of the value function, limit.

    ``worst`` is worth 0 and ``best`` 1, in the measure's unit; None until the routes set them.
    ``limit`` is the must-have: at most (a measure where less is better) or at least.
    """

    key: str
    weight: float = 1.0
    worst: float | None = None
    best: float | None = None
    limit: float | None = None


@dataclass(frozen=True)
class Worth:
    """One measure's part in a score: ``value`` is worth ``worth`` (0 to 1), and adds ``points``.

    ``given``: the ends were set by the user; otherwise they come from the routes compared.
    """

    key: str
    weight: float
    worst: float
    best: float
    given: bool
    value: float
    worth: float
    points: float


@dataclass(frozen=True)
class WishScore:
    """The weighted mean of the worths (0 to 1), with its parts, and the must-haves it breaks."""

    total: float
    parts: tuple[Worth, ...]
    broken: tuple[str, ...] = ()


def _fault(what: str) -> FieldError:
    return FieldError("{f} {what}", f="prefer", what=what)


def read(text: str) -> tuple[Wish, ...]:
    """Wishes from text; raises InputError that says which part cannot be read."""
    out: dict[str, Wish] = {}
    for part in text.split(","):
        if not part.strip():
            continue
        try:
            wish = _wish(part.strip())
        except QuantityError as error:
            raise _fault(f"{part.strip()!r}: {error}") from None
        if wish.key in out:
            raise _fault(f"names {word(wish.key)} twice; say it once")
        out[wish.key] = wish
    if not out:
        raise _fault("is empty; write for example 'yield 3, hazard 2, time 1'")
    if not any(w.weight or w.limit is not None for w in out.values()):
        raise _fault("gives no measure a weight above 0; write for example 'yield 3'")
    return tuple(out.values())


def _wish(part: str) -> Wish:
    found = _WISH.fullmatch(part)
    first = part.split()[0]
    known = {w for key, kind in MEASURES.items() for w in (key, kind.word)}
    if found is None or (first.lower() in known and len(found["name"].split()) > 1):
        raise _fault(
            f"{part!r} cannot be read; write 'yield 3', 'yield 3 from 40 % to 90 %' or "
            "'time at most 3 days'"
        )
    key = key_of(found["name"])
    limit = None if found["limit"] is None else _amount(key, found["limit"])
    if found["side"] is not None:
        right = side(key)
        if found["side"].lower() != right:
            raise _fault(f"{part!r}: for {word(key)} write 'at {right} ...'")
    if found["weight"] is not None:
        weight = _plain(found["weight"], part)
    else:
        weight = 0.0 if limit is not None and found["worst"] is None else 1.0
    if weight < 0:
        raise _fault(f"{part!r}: a weight is 0 or more")
    worst = best = None
    if found["worst"] is not None:
        worst, best = _amount(key, found["worst"]), _amount(key, found["best"])
        if worst == best or (best > worst) != (MEASURES[key].better == "more"):
            raise _fault(
                f"{part!r}: write the worst value first, then the best "
                f"({MEASURES[key].better} {word(key)} is better)"
            )
    return Wish(key, weight, worst, best, limit)


def _plain(text: str, part: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise _fault(f"{part!r}: {text!r} is no number") from None


def _amount(key: str, text: str) -> float:
    """A value of a measure, in the measure's unit."""
    text = text.strip()
    quantity = MEASURES[key].quantity
    if quantity == "time":
        return units.canonical(text, "time") / 60
    if quantity == "temperature":
        return units.canonical(text, "temperature")
    if quantity == "share":
        text = text.removesuffix("%").strip()
    if quantity == "money":
        text = re.sub(r"\s*[A-Za-z]{3}$", "", text)
    if not _NUMBER.fullmatch(text):
        raise InputError(f"{text!r} is no value of {word(key)}; write a plain number")
    return float(text)


def settled(wishes: Sequence[Wish], routes: Sequence[Assessment]) -> tuple[Wish, ...]:
    """The wishes with ends for every measure that counts, from the routes where none were given."""
    out = []
    for wish in wishes:
        worst, best = wish.worst, wish.best
        if worst is None and wish.weight:
            rows = [r.measures()[wish.key] for r in routes]
            values = [m.typical for m in rows if m.typical is not None]
            more = bool(rows) and rows[0].better == "more"
            worst, best = (min(values), max(values)) if more else (max(values), min(values))
        out.append(Wish(wish.key, wish.weight, worst, best, wish.limit))
    return tuple(out)


def worth(wish: Wish, value: Any, *, clip: bool = True) -> Any:
    """Worth of a value (number or array); 1 for all where the ends are equal."""
    if wish.worst is None or wish.best is None or wish.worst == wish.best:
        return value * 0 + 1.0
    out = (value - wish.worst) / (wish.best - wish.worst)
    if not clip:
        return out
    if isinstance(out, float):
        return min(1.0, max(0.0, out))
    import numpy as np

    return np.clip(out, 0.0, 1.0)


def score(wishes: Sequence[Wish], ends: Sequence[Wish], found: Assessment) -> WishScore:
    """Score one route; ``ends`` are the wishes as ``settled``."""
    rows = found.measures()
    whole = sum(w.weight for w in wishes)
    parts, broken = [], []
    for wish, end in zip(wishes, ends, strict=True):
        m = rows[wish.key]
        value = m.typical if m.typical is not None else float("inf")
        if wish.limit is not None and not keeps([(wish.key, wish.limit)], found):
            broken.append(wish.key)
        if wish.weight and end.worst is not None and end.best is not None:
            w = float(worth(end, value))
            parts.append(
                Worth(wish.key, wish.weight, end.worst, end.best, wish.worst is not None, value, w,
                      wish.weight / whole * w)
            )  # fmt: skip
    return WishScore(sum(p.points for p in parts), tuple(parts), tuple(broken))


def keeps(musts: Sequence[tuple[str, float]], found: Assessment) -> bool:
    """Whether a route keeps must-haves, each a measure and its worst value that will do."""
    rows = found.measures()
    for key, limit in musts:
        m = rows[key]
        if m.typical is None:
            return False
        if m.typical < limit if m.better == "more" else m.typical > limit:
            return False
    return True


def scores(wishes: Sequence[Wish], routes: Sequence[Assessment]) -> tuple[WishScore, ...]:
    """Scores of routes, in the order given."""
    ends = settled(wishes, routes)
    return tuple(score(wishes, ends, r) for r in routes)


def ranking(found: Sequence[WishScore]) -> tuple[int, ...]:
    """Places in ``found``, best first; what breaks a must-have comes last."""
    return tuple(sorted(range(len(found)), key=lambda i: (len(found[i].broken), -found[i].total)))


def weighed(wishes: Sequence[Wish], keys: Sequence[str]) -> tuple[Wish, ...]:
    """The wishes; where none has a weight, all of ``keys`` count the same beside the must-haves."""
    if any(w.weight for w in wishes):
        return tuple(wishes)
    limits = {w.key: w.limit for w in wishes}
    return tuple(Wish(k, 1.0, limit=limits.get(k)) for k in dict.fromkeys((*keys, *limits)))
