"""How long each intermediate may wait, what waiting does, and what a plan makes of it.

The storage of the step that makes it counts, else that of the substance (for a solid or liquid; a
solution keeps by its own step's word only). Words are read cautiously (``keeping.py``). A stated
drift is reckoned: share a day x days, up to its end. Where nothing is stated it is "unknown, use at
once", and a plan that lets it lie over a night says so.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import pairwise

from routefinder.assessment.calendar import DAY
from routefinder.assessment.keeping import (
    keeps_min,
    not_open,
    oxidises,
    takes_carbon_dioxide,
    takes_up,
)
from routefinder.assessment.reasoning import Reason
from routefinder.assessment.schedule import Schedule
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Storage
from routefinder.units import significant
from routefinder.vessel.step_amounts import Amounts

NIGHT_MIN = 360.0  # a wait that long, or one over midnight, counts as a night


@dataclass(frozen=True)
class Keeping:
    """What is known of keeping an intermediate. ``keeps_min`` None: not stated.

    ``not_open``: it wants a tight lid, for whatever reason.
    """

    substance: str
    name: str
    dissolved: bool
    keeps_min: float | None
    how: str
    words: str
    spoils_by: tuple[str, ...]
    takes_up: bool
    oxidises: bool
    drift_per_day: float | None
    drift_at_most: float | None
    drift_words: str
    not_open: bool = False


@dataclass(frozen=True)
class Waiting:
    """One intermediate between the step that makes it and a step that takes it.

    ``verdict`` is "fine", "close it" (keeps only away from air), "unknown" or "too long";
    ``change`` the stated share it changes by meanwhile (None: no rate is stated). ``overnight``
    says whether it lies over a night.
    """

    maker: str
    taker: str
    keeping: Keeping
    made_min: float
    needed_min: float
    overnight: bool
    verdict: str
    change: float | None
    sentence: str

    @property
    def waits_min(self) -> float:
        """How long it lies."""
        return max(self.needed_min - self.made_min, 0.0)


@dataclass(frozen=True)
class Perishables:
    """All intermediates of a plan; ``problems`` are those that wait too long or nobody knows."""

    waits: tuple[Waiting, ...]
    problems: tuple[str, ...]
    not_overnight: tuple[str, ...]
    reasons: tuple[Reason, ...]


def keeping_of(library: Library, step: ResolvedStep, substance: str, state: str) -> Keeping:
    """What is known of keeping a product of a step."""
    record = library.substances[substance]
    storage: Storage | None = None
    if substance == step.main.substance:
        storage = step.record.storage
    own = record.storage if state != "aq" else None
    storage = storage or own
    plain = re.sub(r",? anhydrous$", "", record.name) if state == "aq" else record.name
    name = plain + (" solution" if state == "aq" else "")
    dry = library.substances[library.root(substance)].storage or record.storage
    dry_words = _words(dry)
    alkaline = state == "aq" and takes_carbon_dioxide(dry_words)
    if storage is None:
        return Keeping(
            substance, name, state == "aq", None, "", "", (), alkaline, False, None, None, "",
            alkaline,
        )  # fmt: skip
    words = _words(storage)
    minutes = keeps_min(storage.keeps)
    if minutes is None:
        minutes = keeps_min(storage.how)
    drift = storage.drift
    return Keeping(
        substance, name, state == "aq", minutes, storage.how, words, storage.spoils_by,
        takes_up(words) or alkaline, oxidises(words),
        drift.per_day if drift else None,
        drift.at_most if drift else None,
        drift.what if drift else "", not_open(words) or alkaline,
    )  # fmt: skip


def _words(storage: Storage | None) -> str:
    if storage is None:
        return ""
    return "; ".join(w for w in (storage.how, storage.keeps, *storage.spoils_by) if w)


def drifted(per_day: float, days: float, at_most: float | None) -> float:
    """Share that has changed after some days at a steady rate, up to its end."""
    return min(per_day * days, at_most if at_most is not None else 1.0)


def _sentence(keeping: Keeping, waits: float, overnight: bool) -> tuple[str, float | None, str]:
    """(verdict, change, sentence) of one wait."""
    lies = f"{keeping.name} goes on at once"
    if waits >= 1:
        lies = f"{keeping.name} lies {_long(waits)}" + (" over a night" if overnight else "")
    change = None
    drift = ""
    if keeping.drift_per_day is not None:
        change = drifted(keeping.drift_per_day, waits / DAY, keeping.drift_at_most)
        drift = f"; {keeping.drift_words}: about {change:.2g} of it by then"
    if keeping.keeps_min is None:
        if not overnight and waits < NIGHT_MIN and change is None:
            return "fine", None, f"{lies}; how long it keeps is unknown: use it at once"
        said = f" ({keeping.words})" if keeping.words else ""
        return (
            "unknown",
            change,
            f"{lies}; how long it keeps is unknown{said}: use it at once{drift}",
        )
    if waits > keeping.keeps_min:
        return (
            "too long", change,
            f"{lies}, but keeps {_long(keeping.keeps_min)} at least by its record "
            f"({keeping.words}): make it later or plan it for the same day{drift}",
        )  # fmt: skip
    if keeping.not_open and (overnight or waits >= NIGHT_MIN):
        return "close it", change, f"{lies}: not open to the air ({keeping.words}){drift}"
    until = "for ever" if math.isinf(keeping.keeps_min) else _long(keeping.keeps_min)
    return "fine", change, f"{lies}; it keeps {until}{drift}"


def _long(minutes: float) -> str:
    if minutes < 90:
        return f"{minutes:.0f} min"
    if minutes < 2 * DAY:
        return f"{significant(minutes / 60, 2)} h"
    if minutes < 60 * DAY:
        return f"{significant(minutes / DAY, 2)} days"
    if minutes < 730 * DAY:
        return f"{significant(minutes / DAY / 30.4, 2)} months"
    return f"{significant(minutes / DAY / 365, 2)} years"


def _over_night(plan: Schedule, start: float, end: float) -> bool:
    """Whether a stretch holds a midnight; without a calendar, whether it is as long as a night."""
    if end <= start:
        return False
    if plan.calendar is None:
        return end - start >= NIGHT_MIN
    first, last = plan.calendar.when(start), plan.calendar.when(end)
    return last.date() > first.date()


def _begun(plan: Schedule, step: str, batch: int) -> float:
    """When a batch of a step has really begun: set up, and not paused before the rest."""
    tasks = [t for t in plan.tasks if (t.step, t.batch) == (step, batch)]
    tasks.sort(key=lambda t: t.start_min)
    start = tasks[0].start_min if tasks else 0.0
    for early, late in pairwise(tasks):
        if early.kind != "hands-on":
            break
        start += max(late.start_min - early.end_min, 0.0)  # set up, and left
        if late.kind != "hands-on":
            break
    return start


def _longest(plan: Schedule, maker: str, taker: str) -> tuple[float, float]:
    """(made, needed) of the batch of ``taker`` whose share lies longest.

    Batch j of n takes from the batches of the maker that its share, from (j - 1)/n to j/n of all,
    comes from; the oldest of these counts.
    """
    theirs = sum(name == maker for name, _ in plan.spans)
    mine = sum(name == taker for name, _ in plan.spans)
    out = (0.0, -math.inf)
    for j in range(1, mine + 1):
        first = math.floor((j - 1) * theirs / mine + 1e-9) + 1
        last = max(math.ceil(j * theirs / mine - 1e-9), first)
        made = min(plan.spans[maker, i][1] for i in range(first, last + 1))
        needed = max(_begun(plan, taker, j), made)
        if needed - made > out[1] - out[0]:
            out = (made, needed)
    return out


def perishables(library: Library, found: Amounts, plan: Schedule) -> Perishables:
    """How long each intermediate of a route lies by a plan, and whether it keeps that long.

    Each batch that takes it counts, with the batches that fill it; the longest wait of an
    intermediate between two steps is kept: from the end of the batch that made it to the start of
    the one that takes it, pauses after setting up included.
    """
    waits: list[Waiting] = []
    steps = {a.step.id: a.step for a in found.steps}
    for amount in found.steps:
        for feed in amount.feeds:
            if not isinstance(feed.origin, str):
                continue
            maker = steps[feed.origin]
            state = next((p.state for p in maker.products if p.substance == feed.form), "s")
            keeping = keeping_of(library, maker, feed.form, state)
            made, needed = _longest(plan, maker.id, amount.step.id)
            night = _over_night(plan, made, needed)
            verdict, change, sentence = _sentence(keeping, needed - made, night)
            waits.append(
                Waiting(maker.id, amount.step.id, keeping, made, needed, night, verdict, change,
                        sentence)
            )  # fmt: skip
    problems = tuple(
        dict.fromkeys(w.sentence for w in waits if w.verdict in {"too long", "unknown"})
    )
    names = [
        w.keeping.name
        for w in waits
        if w.keeping.not_open or w.keeping.keeps_min is None or w.keeping.keeps_min < DAY
    ]
    reasons = tuple(
        Reason(
            f"keeps:{w.maker}",
            f"Keeping {w.keeping.name}",
            (
                f"made by minute {w.made_min:.0f}, taken at minute {w.needed_min:.0f} by "
                f"{w.taker}: {_long(w.waits_min)}",
                f"record: {w.keeping.words or 'nothing is said'}",
                w.sentence,
            ),
        )
        for w in waits
    )
    return Perishables(tuple(waits), problems, tuple(dict.fromkeys(names)), reasons)
