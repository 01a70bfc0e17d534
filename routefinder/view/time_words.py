"""The time of steps in sentences: its arithmetic line by line, and what is watched too long."""

from __future__ import annotations

from collections.abc import Iterator

from routefinder.assessment.reasoning import Reason
from routefinder.assessment.schedule import Schedule, TimeOfStep, Unwatched
from routefinder.hazards.attendance import CALMS_MIN, Attendance
from routefinder.units import significant

EPS = 1e-6


def reasons(found: Schedule) -> tuple[Reason, ...]:
    """The arithmetic of every step's time."""
    return tuple(
        Reason(f"time:{one.step}", f"Time of: {one.title}", tuple(_lines(one)))
        for one in found.steps
    )


def notes(found: Schedule) -> tuple[str, ...]:
    """What was taken for granted."""
    if found.bench_given:
        return ()
    return ("no bench is given: every step is taken to have its own vessel and heater",)


def unwatched(u: Unwatched) -> str:
    """What must be watched for longer than any working hours."""
    return (
        f"{_hours(u.minutes)} of {u.kind} must be watched, and working hours are not long enough: "
        "it stays watched outside them; take turns, or get a heater that may be left"
    )


def _hours(minutes: float) -> str:
    if minutes < 90:
        return f"{minutes:.0f} min"
    return f"{significant(minutes / 60, 3 if minutes < 6000 else 4)} h"


def _lines(one: TimeOfStep) -> Iterator[str]:
    times = one.times
    hands = f"hands-on {_hours(times.hands_on_min)}"
    if times.rounds == 1:
        yield f"{hands}, half before and half after the waiting"
    else:
        yield f"{hands}, in {times.rounds + 1} parts: before, between and after"
    yield from _waiting(one)
    if not one.heating_known:
        yield "heating: not known, taken as inside the waiting"
    yield _staying(one.stays)
    if one.batches > 1:
        yield f"{one.batches} batches"
    if one.takes:
        yield "takes " + ", ".join(one.takes)


def _waiting(one: TimeOfStep) -> Iterator[str]:
    times = one.times
    up, wait, down = (times.of_round(1, kind) for kind in ("heating", "waiting", "cooling"))
    if one.in_furnace and times.soak_min is not None:
        rest = times.waiting_min - times.rounds * (up + times.soak_min + down)
        yield (
            f"a firing: up {_hours(up)}, held {_hours(times.soak_min)}"
            + (f", cooling {_hours(down)}" if down else "")
            + (f"; {times.rounds} firings, ground or turned between" if times.rounds > 1 else "")
            + (f"; the stages after it {_hours(rest)}" if rest > EPS else "")
        )
    elif up + down > 0:
        yield (
            f"waiting {_hours(times.waiting_min)}, of it heating {_hours(up)}"
            + (f", cooling {_hours(down)}" if down else "")
            + f", the rest {_hours(wait)}"
        )
    elif times.waiting_min:
        yield f"waiting {_hours(times.waiting_min)}"


def _staying(stays: Attendance) -> str:
    if stays.stay:
        return f"the waiting is watched: {stays.why}"
    off = " once its heat is off" if stays.heat_off else ""
    calm = f", after the first {_hours(CALMS_MIN)} of it" if stays.calms else ""
    said = "" if stays.said else " (it stands in the cold; nobody has said)"
    return f"the waiting may be left{off}{calm}{said}"
