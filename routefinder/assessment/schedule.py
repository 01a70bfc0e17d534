"""When each step and batch is done: hands-on, heating, waiting, cooling; what can overlap does.

A batch of a step is half its hands-on time, heating up (heat and heater, or the kiln's ramp), the
waiting, cooling down, and the other half of its hands-on time (filtering, drying, weighing); the
halves are an assumption, since records give one figure. A record's waiting time includes heating
and cooling; when these alone take longer, they count and a note says so. A dry heat is held as long
as its stages say, whatever its furnace takes up and down, and as often.

Somebody is there for handwork and, in working hours, for everything that may not be left; what may
be is decided in ``hazards.attendance``. A liquid's heating is always watched; it may stop overnight
and go on, a firing may not. A furnace that cools with its door shut and its heat off may be left.
What must be watched for longer than any working hours stays watched, outside them, and is told.

There is one pair of hands. A batch holds its vessel from first to last; a heater is taken while it
heats (and while the step is kept hot), a kiln until it is cold, a current or an air pump while it
waits. Batch j of a step needs the batches of the step before that fill it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from routefinder.assessment.calendar import Calendar
from routefinder.assessment.heat import HeatOfStep
from routefinder.assessment.list_schedule import (
    EPS,
    HANDS,
    Block,
    Segment,
    Timetable,
    later,
    schedule,
)
from routefinder.assessment.reasoning import Reason
from routefinder.errors import InputError
from routefinder.hazards.attendance import CALMS_MIN, HOT_C, Attendance, attendance
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool
from routefinder.units import significant
from routefinder.vessel.step_amounts import Amounts, StepAmounts

RUNNING = ("electrolysis", "aerate", "reflux", "distil", "lead-in-gas")
MOST_BATCHES = 200


@dataclass(frozen=True)
class Task:
    """One bar of a Gantt chart; minutes from the start of the plan.

    ``kind`` is "hands-on", "heating", "waiting" or "cooling"; ``present``: somebody must be there,
    ``outside`` the working hours where these are too short. ``heat_off``: it may be left because
    nothing heats it any more.
    """

    step: str
    batch: int
    kind: str
    start_min: float
    end_min: float
    resources: tuple[str, ...]
    present: bool
    outside: bool = False
    heat_off: bool = False


@dataclass(frozen=True)
class Link:
    """One bar of the critical path.

    ``waited_for`` is "step" (one before it), a resource, "working hours", or "" (it begins at
    once).
    """

    step: str
    batch: int
    start_min: float
    end_min: float
    waited_for: str


@dataclass(frozen=True)
class Schedule:
    """The plan of a route in time.

    ``least_min`` is a bound that no schedule can beat (longest chain, all handwork); ``exact`` when
    every order was tried. ``problems`` are things that do not work as asked. ``spans`` gives start
    and end of each (step, batch).
    """

    tasks: tuple[Task, ...]
    spans: Mapping[tuple[str, int], tuple[float, float]]
    elapsed_min: float
    hands_on_min: float
    watched_min: float
    least_min: float
    exact: bool
    critical: tuple[Link, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    calendar: Calendar | None
    reasons: tuple[Reason, ...]

    def when(self, minutes: float) -> datetime | None:
        """The moment on the clock, None without a calendar."""
        return None if self.calendar is None else self.calendar.when(minutes)


def _pieces(minutes: float, longest: float) -> list[float]:
    """A time cut into equal pieces that each fit a working stretch."""
    if minutes <= 0:
        return []
    count = 1 if math.isinf(longest) else max(math.ceil(minutes / longest - 1e-9), 1)
    return [minutes / count] * count


def _tool_for(
    bench: Bench, need: Capability, used: dict[str, int], volume_mL: float
) -> Tool | None:
    """The fitting tool that the fewest steps use so far, of those that are large enough.

    When none is, the largest.
    """
    sizes: list[tuple[Tool, float]] = []
    for tool in bench.tools:
        fitting = [o for o in tool.offers if o.serves(need)]
        if fitting:
            sizes.append((tool, max(o.limit("volume") or math.inf for o in fitting)))
    if not sizes:
        return None
    large = [tool for tool, size in sizes if size >= volume_mL]
    if not large:
        return max(sizes, key=lambda pair: pair[1])[0]
    return min(large, key=lambda t: used.get(t.name, 0) / t.count)


@dataclass(frozen=True)
class _Gear:
    vessels: tuple[str, ...]
    heater: tuple[str, ...]
    running: tuple[str, ...]


def _gear(
    amount: StepAmounts,
    batches: int,
    heat: HeatOfStep | None,
    bench: Bench | None,
    used: dict[str, int],
    own: Sequence[str],
) -> _Gear:
    """What a batch of a step takes; its size is its mass at 1 g/mL.

    ``own`` are the vessels that the batches took; otherwise the one that the fewest steps use.
    """
    if bench is None:
        return _Gear((), (), ())
    vessels: list[str] = []
    running: list[str] = []
    if heat is not None:  # with the water that a solution carries
        volume = sum(p.mass_g for p in heat.portions) / batches
    else:
        washes = sum(f.as_weighed_g for f in amount.feeds if f.role == "wash")
        volume = (amount.mass_in_g - washes) / batches
    for need in amount.step.needs:
        if need.name not in RUNNING and (need.name != "vessel" or own):
            continue
        tool = _tool_for(bench, need, used, volume if need.name == "vessel" else 0.0)
        if tool is None:
            continue
        used[tool.name] = used.get(tool.name, 0) + 1
        (vessels if need.name == "vessel" else running).append(tool.name)
    for name in own:
        if name:
            used[name] = used.get(name, 0) + 1
            vessels.append(name)
    heater = heat.heater if heat is not None else None
    return _Gear(
        tuple(dict.fromkeys(vessels)),
        (heater.name,) if heater is not None and not heater.assumed else (),
        tuple(dict.fromkeys(running)),
    )


def _block(
    step: ResolvedStep, batch: int, heat: HeatOfStep | None, gear: _Gear, longest: float,
    after: tuple[str, ...], stays: Attendance,
) -> tuple[Block, list[str]]:  # fmt: skip
    """One batch as a block, and the lines of its arithmetic."""
    time = step.record.time
    hands, waiting = time.hands_on_min, time.waiting_min
    heating = float(math.ceil(heat.heating_min)) if heat and heat.heating_min else 0.0
    cooling = float(math.ceil(heat.cooling_min)) if heat else 0.0
    soak = heat.soak_min if heat is not None else None
    rounds = heat.rounds if heat is not None else 1
    rest = max(waiting - heating - cooling, 0.0) if soak is None else soak
    dry = heat is not None and heat.heater is not None and heat.heater.kind != "heat-liquid"
    flame = heat is not None and heat.heater is not None and heat.heater.kind == "open-flame"
    leave = not stays.stay
    kept_hot = stays.hot or dry or (stays.stay and step.record.temperature.low_C > HOT_C)
    lines = [
        f"hands-on {_hours(hands)}, half before and half after the waiting"
        if rounds == 1
        else f"hands-on {_hours(hands)}, in {rounds + 1} parts: before, between and after"
    ]
    if soak is not None:
        lines.append(
            f"a firing: up {_hours(heating)}, held {_hours(soak)}"
            + (f", cooling {_hours(cooling)}" if cooling else "")
            + (f"; {rounds} firings, ground or turned between" if rounds > 1 else "")
        )
    elif heating + cooling > 0:
        lines.append(
            f"waiting {_hours(waiting)}, of it heating {_hours(heating)}"
            + (f", cooling {_hours(cooling)}" if cooling else "")
            + f", the rest {_hours(rest)}"
        )
        if heating + cooling > waiting + EPS:
            lines.append("heating and cooling alone take longer than the waiting: they count")
    elif waiting:
        lines.append(f"waiting {_hours(waiting)}")
    if heat is not None and heat.heating_min is None:
        lines.append("heating: not known, taken as inside the waiting")
    if leave:
        off = " once its heat is off" if stays.heat_off else ""
        lines.append(
            f"the waiting may be left{off}"
            + (f", after the first {_hours(CALMS_MIN)} of it" if stays.calms else "")
            + ("" if stays.said else " (it stands in the cold; nobody has said)")
        )
    else:
        lines.append(f"the waiting is watched: {stays.why}")
    by_hand = [Segment("hands-on", m, True, (HANDS,)) for m in _pieces(hands, longest)]
    if heating + rest + cooling <= EPS:
        return Block(
            _name(step.id, batch), tuple((s,) for s in by_hand), gear.vessels, after
        ), lines
    share = hands / (rounds + 1)  # before, between the firings, and after
    by_turns = [Segment("hands-on", m, True, (HANDS,)) for m in _pieces(share, longest)]
    watched_heating = flame or not dry or not leave
    pieces = [heating] if dry else _pieces(heating, longest)
    warm = [Segment("heating", m, watched_heating, gear.heater) for m in pieces if m > EPS]
    hold = (*gear.running, *(gear.heater if kept_hot else ()))
    tail: list[Segment] = []
    calming = min(CALMS_MIN, rest) if leave and stays.calms else 0.0
    if calming > EPS:
        tail.append(Segment("waiting", calming, True, tuple(dict.fromkeys(hold))))
        rest -= calming
    if rest > EPS:
        tail.append(Segment("waiting", rest, not leave, tuple(dict.fromkeys(hold))))
    if cooling > EPS:
        tail.append(Segment("cooling", cooling, False, gear.heater))
    groups: list[tuple[Segment, ...]] = []
    for _ in range(rounds):
        groups += [(s,) for s in by_turns]
        last_by_hand = groups.pop() if by_turns else ()
        if not warm:
            groups.append((*last_by_hand, *tail))  # what waits, waits from when it is set up
            continue
        runs = [(s,) for s in warm[:-1]] + [(warm[-1], *tail)]
        set_up = last_by_hand[0].minutes if last_by_hand else 0.0
        if set_up + warm[0].minutes <= longest:  # set up and heated in one go
            runs[0] = (*last_by_hand, *runs[0])
        elif last_by_hand:
            groups.append(last_by_hand)
        groups += runs
    groups += [(s,) for s in by_turns]
    return Block(_name(step.id, batch), tuple(groups), gear.vessels, after), lines


def _name(step: str, batch: int) -> str:
    return f"{step}#{batch}"


def _split(name: str) -> tuple[str, int]:
    step, _, batch = name.rpartition("#")
    return step, int(batch)


def _before(amount: StepAmounts, batch: int, batches: Mapping[str, int]) -> tuple[str, ...]:
    """Names of the batches of earlier steps that a batch needs."""
    mine = batches.get(amount.step.id, 1)
    out = []
    for origin in dict.fromkeys(f.origin for f in amount.feeds if isinstance(f.origin, str)):
        theirs = batches.get(origin, 1)
        needed = math.ceil(batch * theirs / mine - 1e-9)
        out += [_name(origin, i) for i in range(1, needed + 1)]
    return tuple(out)


def _hours(minutes: float) -> str:
    if minutes < 90:
        return f"{minutes:.0f} min"
    return f"{significant(minutes / 60, 3 if minutes < 6000 else 4)} h"


def plan(
    found: Amounts,
    bench: Bench | None = None,
    heats: Mapping[str, HeatOfStep] | None = None,
    batches: Mapping[str, int] | None = None,
    calendar: Calendar | None = None,
    seed: int = 0,
    just_in_time: bool = False,
    vessels: Mapping[str, Sequence[str]] | None = None,
    stays: Mapping[str, Attendance] | None = None,
) -> Schedule:
    """The schedule of a route.

    ``heats`` (from ``assessment.heat.heats`` with the same batches) gives heating and cooling;
    without it they are taken as inside the waiting. ``batches`` is the number of batches of a step
    (1 when not said). ``just_in_time`` makes every intermediate as late as the rest allows, so that
    none lies longer than it must; the slack is then gone. ``vessels`` names the vessels of a step
    (as ``assessment.batches`` does); ``stays`` says which steps may be left while they wait
    (``hazards.set_up.attended``; without it no heater may be). Raises InputError when a number of
    batches makes no sense or the work does not fit into the calendar.
    """
    counts = {a.step.id: (batches or {}).get(a.step.id, 1) for a in found.steps}
    for name, count in counts.items():
        if not 1 <= count <= MOST_BATCHES:
            raise InputError(
                f"{name}: {count} batches; between 1 and {MOST_BATCHES} can be planned"
            )
    longest = math.inf if calendar is None else calendar.longest_min
    used: dict[str, int] = {}
    blocks: list[Block] = []
    reasons: list[Reason] = []
    notes: list[str] = []
    off: dict[str, bool] = {}  # what may be left once its heat is off
    for amount in found.steps:
        step = amount.step
        heat = (heats or {}).get(step.id)
        gear = _gear(amount, counts[step.id], heat, bench, used, (vessels or {}).get(step.id, ()))
        stay = (stays or {}).get(step.id) or attendance(step)
        off[step.id] = stay.heat_off
        lines: list[str] = []
        for batch in range(1, counts[step.id] + 1):
            block, lines = _block(
                step, batch, heat, gear, longest, _before(amount, batch, counts), stay
            )
            blocks.append(block)
        if counts[step.id] > 1:
            lines.append(f"{counts[step.id]} batches")
        if gear.vessels or gear.heater or gear.running:
            takes = dict.fromkeys((*gear.vessels, *gear.heater, *gear.running))
            lines.append("takes " + ", ".join(takes))
        reasons.append(Reason(f"time:{step.id}", f"Time of: {step.title}", tuple(lines)))
    tools = {t.name: t.count for t in bench.tools} if bench is not None else {}
    got = schedule(blocks, tools, calendar, seed)
    if just_in_time:
        got = later(blocks, got, tools, calendar)
    problems = [
        f"{_split(name)[0]}: {_hours(s.minutes)} of {s.label} must be watched, and working hours "
        "are not long enough: it stays watched outside them; take turns, or get a heater that may "
        "be left"
        for name, s in dict.fromkeys(got.unwatched)
    ]
    if bench is None:
        notes.append("no bench is given: every step is taken to have its own vessel and heater")
    tasks = tuple(
        Task(*_split(p.block), p.segment.label, p.start, p.end, p.segment.resources,
             p.segment.present, p.segment.outside,
             not p.segment.present and (p.segment.label == "cooling" or off[_split(p.block)[0]]))
        for p in got.placed
    )  # fmt: skip
    by_hand = sum(t.end_min - t.start_min for t in tasks if t.kind == "hands-on")
    watched = _covered([(t.start_min, t.end_min) for t in tasks if t.present])
    spans = {_split(name): span for name, span in got.spans.items()}
    critical = _critical(blocks, got, tools)
    return Schedule(
        tasks, spans, got.makespan, by_hand, watched, max(_chain(blocks), by_hand), got.exact,
        critical, tuple(dict.fromkeys(problems)), tuple(notes), calendar, tuple(reasons),
    )  # fmt: skip


def _covered(stretches: list[tuple[float, float]]) -> float:
    """Minutes covered by at least one stretch."""
    total, reached = 0.0, -math.inf
    for start, end in sorted(stretches):
        total += max(end - max(start, reached), 0.0)
        reached = max(reached, end)
    return total


def _chain(blocks: list[Block]) -> float:
    """The longest chain of blocks without any waiting for resources or hours."""
    done: dict[str, float] = {}
    for block in blocks:
        done[block.id] = block.minutes + max((done[a] for a in block.after), default=0.0)
    return max(done.values(), default=0.0)


def _critical(blocks: list[Block], got: Timetable, tools: Mapping[str, int]) -> tuple[Link, ...]:
    """The chain that sets the end: back from the last block to what each one waited for."""
    by_id = {b.id: b for b in blocks}
    takes = {
        b.id: {*b.holds, *(r for g in b.groups for s in g for r in s.resources)} for b in blocks
    }
    current = max(got.spans, key=lambda n: got.spans[n][1], default=None)
    out: list[Link] = []
    seen: set[str] = set()
    while current is not None and current not in seen:
        seen.add(current)
        start, end = got.spans[current]
        cause, following = "", None
        ends = {n: got.spans[n][1] for n in by_id[current].after}
        last = max(ends, key=lambda n: ends[n], default=None)
        if last is not None and ends[last] >= start - EPS:
            cause, following = "step", last
        elif start > EPS:
            cause, following = _waited(current, start, got, takes)
            if following is None:
                cause = "working hours"
                following = last
        out.append(Link(*_split(current), start, end, cause))
        current = following
    return tuple(reversed(out))


def _waited(
    current: str, start: float, got: Timetable, takes: Mapping[str, set[str]]
) -> tuple[str, str | None]:
    """The resource, and the block that let go of it, when ``current`` began."""
    for p in got.placed:
        if p.block != current and abs(p.end - start) <= EPS:
            shared = takes[current] & set(p.segment.resources)
            if shared:
                return min(shared), p.block
    for name, (_, end) in got.spans.items():
        if name != current and abs(end - start) <= EPS and takes[name] & takes[current]:
            return min(takes[name] & takes[current]), name
    return "", None
