"""What lying does to what was made: how long it keeps, what is still good of it, in figures.

How long it keeps is read from the records (``assessment.perishables``). What is still good after
so long:

    a stated drift       share a day x days is no longer what it was called, up to the drift's end
    longer than it keeps somewhere between keeps / lain of it and all; half way is taken as typical
                         (our rule: no rate is stated); what keeps "not at all" may be all gone
    not stated           taken as good, and said to be unknown
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from routefinder import digits
from routefinder.assessment.calendar import DAY
from routefinder.assessment.perishables import Keeping, drifted, keeping_of
from routefinder.journal.account import StepState
from routefinder.journal.forecast import Usable
from routefinder.journal.store import moment
from routefinder.library.library import Library

AT_ONCE_MIN = 60.0  # "use at once" has not been kept when it has lain for an hour: our choice


@dataclass(frozen=True)
class Lain:
    """How long something has lain. ``verdict``: "spoilt", "spoils" (within a day), "unknown",
    "rests"; ``until`` when it spoils (None: unknown or never)."""

    keeping: Keeping
    made: datetime
    lain_min: float
    verdict: str
    until: datetime | None
    usable: Usable

    @property
    def changed(self) -> str:
        """What has drifted meanwhile: "; takes up water: about 4 % by now"."""
        if self.keeping.drift_per_day is None:
            return ""
        drift = self.keeping
        share = drifted(drift.drift_per_day or 0.0, self.lain_min / DAY, drift.drift_at_most)
        return f"; {drift.drift_words}: about {digits.percent(share)} by now"


def lain(library: Library, state: StepState, at: datetime) -> Lain | None:
    """How long what a step made has lain at the moment ``at``; None when nothing is known of it."""
    lot, step = state.lot, state.resolved
    if lot is None or step is None or lot.made is None:
        return None
    product = state.step.plan["product"]
    keeping = keeping_of(library, step, product["substance"], product["state"])
    made = moment(lot.made)
    minutes = max((at - made).total_seconds() / 60, 0.0)
    keeps = keeping.keeps_min
    until = None
    if keeps is None:
        verdict = "unknown"
    elif math.isinf(keeps):
        verdict = "rests"
    else:
        until = made + timedelta(minutes=keeps)
        left = (until - at).total_seconds() / 60
        verdict = "spoilt" if left <= 0 else "spoils" if left < DAY else "rests"
    return Lain(keeping, made, minutes, verdict, until, _usable(keeping, minutes))


def _usable(keeping: Keeping, minutes: float) -> Usable:
    good = 1.0
    if keeping.drift_per_day is not None:
        good = 1 - drifted(keeping.drift_per_day, minutes / DAY, keeping.drift_at_most)
    keeps = keeping.keeps_min
    if keeps is None or minutes <= max(keeps, AT_ONCE_MIN):
        return Usable(good, good, good)
    least = keeps / minutes
    return Usable(good * least, good * (1 + least) / 2, good)


def usables(library: Library, states: tuple[StepState, ...], at: datetime) -> dict[str, Usable]:
    """What is still good of each lot that lies, by step id."""
    out = {}
    for state in states:
        found = lain(library, state, at)
        if found is not None and found.usable != Usable():
            out[state.step.id] = found.usable
    return out


def warning(library: Library, state: StepState, at: datetime) -> str:
    """A sentence when what a step made has lain too long, or nobody knows how long it keeps."""
    found = lain(library, state, at)
    if found is None or found.verdict in {"rests", "spoils"}:
        return ""
    lies = f"{found.keeping.name} from step {state.step.number} has lain"
    lies += f" {digits.duration(found.lain_min)}"
    if found.verdict == "unknown":
        if found.lain_min < DAY / 2:
            return ""
        return f"{lies}; how long it keeps is unknown: test it before it is used{found.changed}"
    keeps = found.keeping.keeps_min or 0.0
    said = f"longer than the {digits.duration(keeps)} it keeps" if keeps else "and does not keep"
    words = f" ({found.keeping.words})" if found.keeping.words else ""
    return f"{lies}, {said} by its record{words}: test it before it is used{found.changed}"
