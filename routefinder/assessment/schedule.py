"""When each step and batch is done: hands-on, heating, waiting, cooling; what can overlap does.

A batch of a step is half its hands-on time, its stages one after the other with the time that
``vessel.durations`` gives each (heating by the bench's own heater), and the other half of its
hands-on time (filtering, drying, weighing); the halves are an assumption, since records give one
figure. What is fired again is worked on between, in equal parts.

Somebody is there for handwork and, in working hours, for everything that may not be left; what may
be is decided in ``hazards.attendance``. A liquid's heating is always watched; it may stop overnight
and go on, a firing may not. A furnace that cools with its door shut and its heat off may be left.
What must be watched for longer than any working hours stays watched, outside them, and is told.

There is one pair of hands. A batch holds its vessel from first to last; a heater is taken while it
heats (and while a stage is kept hot), a kiln until it is cold, a current or an air pump while it
runs: not while something settles, crystallises or dries. Batch j of a step needs the batches of
the step before that fill it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from routefinder.assessment.calendar import Calendar
from routefinder.assessment.heat import HeatOfStep
from routefinder.assessment.list_schedule import (
    EPS,
    HANDS,
    Block,
    Placed,
    Segment,
    Timetable,
    later,
    schedule,
)
from routefinder.errors import InputError
from routefinder.hazards.attendance import CALMS_MIN, HOT_C, Attendance, attendance
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool
from routefinder.vessel.durations import StageTime, StepTimes
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
class TimeOfStep:
    """What the time of a step is made of.

    ``times`` are those of one batch; ``takes`` the tools a batch takes. ``heating_known``: whether
    its heater's time is in ``times``.
    """

    step: str
    title: str
    times: StepTimes
    batches: int
    in_furnace: bool
    heating_known: bool
    stays: Attendance
    takes: tuple[str, ...]


@dataclass(frozen=True)
class Unwatched:
    """A stretch of a step that must be watched for longer than any working hours."""

    step: str
    kind: str
    minutes: float


@dataclass(frozen=True)
class Schedule:
    """The plan of a route in time.

    ``least_min`` is a bound that no schedule can beat (longest chain, all handwork); ``exact`` when
    every order was tried. ``unwatched`` is what no working hours allow. ``spans`` gives start and
    end of each (step, batch), ``steps`` what the time of each is made of.
    """

    tasks: tuple[Task, ...]
    spans: Mapping[tuple[str, int], tuple[float, float]]
    elapsed_min: float
    hands_on_min: float
    watched_min: float
    least_min: float
    exact: bool
    critical: tuple[Link, ...]
    unwatched: tuple[Unwatched, ...]
    bench_given: bool
    calendar: Calendar | None
    steps: tuple[TimeOfStep, ...]

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
    """What a batch of a step takes; its size is what its vessel is charged with, at 1 g/mL.

    ``own`` are the vessels that the batches took; otherwise the one that the fewest steps use.
    """
    if bench is None:
        return _Gear((), (), ())
    vessels: list[str] = []
    running: list[str] = []
    volume = float(amount.course.charge.contents.mass_g) / batches
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
    step: ResolvedStep, batch: int, times: StepTimes, heat: HeatOfStep | None, gear: _Gear,
    longest: float, after: tuple[str, ...], stays: Attendance,
) -> Block:  # fmt: skip
    """One batch as a block."""
    name = _name(step.id, batch)
    if times.waiting_min <= EPS:
        by_hand = _by_hand(times.hands_on_min, longest)
        return Block(name, tuple((s,) for s in by_hand), gear.vessels, after)
    in_furnace = heat is not None and heat.in_furnace
    flame = in_furnace and heat is not None and heat.heater is not None and (
        heat.heater.kind == "open-flame"
    )  # fmt: skip
    work = _Stretches(step, gear, longest, stays, in_furnace, flame)
    share = times.hands_on_min / (times.rounds + 1)  # before, between the firings, and after
    groups: list[tuple[Segment, ...]] = []
    for turn in range(1, times.rounds + 1):
        by_hand = _by_hand(share, longest)
        runs = work.runs([t for t in times.stages if t.round == turn])
        if by_hand and runs:  # set up and heated in one go, and what waits, waits from then on
            first = runs[0][0]
            if first.label != "heating" or by_hand[-1].minutes + first.minutes <= longest:
                runs[0] = (by_hand.pop(), *runs[0])
        groups += [(s,) for s in by_hand]
        groups += runs
    groups += [(s,) for s in _by_hand(share, longest)]
    return Block(name, tuple(groups), gear.vessels, after)


def _by_hand(minutes: float, longest: float) -> list[Segment]:
    return [Segment("hands-on", m, True, (HANDS,)) for m in _pieces(minutes, longest)]


class _Stretches:
    """The stages of a batch as segments: who must be there, and what is taken."""

    def __init__(
        self, step: ResolvedStep, gear: _Gear, longest: float, stays: Attendance,
        in_furnace: bool, flame: bool,
    ) -> None:  # fmt: skip
        self.gear, self.longest, self.stays = gear, longest, stays
        self.in_furnace = in_furnace
        self.watched_heating = flame or not in_furnace or stays.stay
        self.hot = stays.hot or in_furnace or (
            stays.stay and step.record.temperature.low_C > HOT_C
        )  # fmt: skip
        left = not stays.stay or stays.by_stage
        self.calming = CALMS_MIN if left and stays.calms else 0.0

    def runs(self, stages: Sequence[StageTime]) -> list[tuple[Segment, ...]]:
        """Groups that follow one another without a gap; a liquid's heating may pause at night."""
        groups: list[list[Segment]] = [[]]
        for kind, alike in groupby(stages, key=lambda t: t.kind):
            if kind == "heating":  # heated up and boiled down in one go
                minutes = sum(t.minutes for t in alike)
                pieces = [minutes] if self.in_furnace else _pieces(minutes, self.longest)
                warm = [Segment("heating", m, self.watched_heating, self.gear.heater)
                        for m in pieces if m > EPS]  # fmt: skip
                if not self.in_furnace or not groups[-1]:
                    groups += [[s] for s in warm]
                else:
                    groups[-1] += warm
                continue
            for stage in alike:
                if kind == "waiting":
                    groups[-1] += self._waits(groups[-1], stage)
                    continue
                groups[-1].append(Segment("cooling", stage.minutes, False, self.gear.heater))
        return [tuple(g) for g in groups if g]

    def _waits(self, before: list[Segment], stage: StageTime) -> list[Segment]:
        """A stretch of waiting; one that goes on like the last is one with it."""
        takes: tuple[str, ...] = () if stage.rests else self.gear.running
        if self.hot and (stage.hot or (self.in_furnace and not stage.rests)):
            takes = (*takes, *self.gear.heater)
        takes = tuple(dict.fromkeys(takes))
        minutes = stage.minutes
        stay = self.stays.stay and (not self.stays.by_stage or bool(stage.attended))
        out = []
        calming = min(self.calming, minutes)
        if calming > EPS:
            self.calming -= calming
            out.append(Segment("waiting", calming, True, takes))
            minutes -= calming
        if minutes > EPS:
            last = before[-1] if before and not out else None
            if last and (last.label, last.present, last.resources) == (
                "waiting", stay, takes
            ):  # fmt: skip
                minutes += last.minutes
                before.pop()
            out.append(Segment("waiting", minutes, stay, takes))
        return out


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
    without it a furnace is a usual one and a liquid's heating is not known. ``batches`` is the
    number of batches of a step (1 when not said). ``just_in_time`` makes every intermediate as late
    as the rest allows, so that none lies longer than it must; the slack is then gone. ``vessels``
    names the vessels of a step (as ``assessment.batches`` does); ``stays`` says which steps may be
    left while they wait (``hazards.set_up.attended``; without it no heater may be). Raises
    InputError when a number of batches makes no sense or the work does not fit into the calendar.
    """
    counts = _counts(found, batches or {})
    longest = math.inf if calendar is None else calendar.longest_min
    used: dict[str, int] = {}
    blocks: list[Block] = []
    each: list[TimeOfStep] = []
    off: dict[str, bool] = {}  # what may be left once its heat is off
    for amount in found.steps:
        step = amount.step
        heat = (heats or {}).get(step.id)
        gear = _gear(amount, counts[step.id], heat, bench, used, (vessels or {}).get(step.id, ()))
        stay = (stays or {}).get(step.id) or attendance(step)
        off[step.id] = stay.heat_off
        times = heat.times if heat is not None else amount.times.shared(counts[step.id])
        blocks += [
            _block(step, batch, times, heat, gear, longest, _before(amount, batch, counts), stay)
            for batch in range(1, counts[step.id] + 1)
        ]
        each.append(_time_of(step, times, counts[step.id], heat, gear, stay))
    tools = {t.name: t.count for t in bench.tools} if bench is not None else {}
    got = schedule(blocks, tools, calendar, seed)
    if just_in_time:
        got = later(blocks, got, tools, calendar)
    unwatched = (Unwatched(_split(name)[0], s.label, s.minutes) for name, s in got.unwatched)
    tasks = tuple(_task(p, off) for p in got.placed)
    by_hand = sum(t.end_min - t.start_min for t in tasks if t.kind == "hands-on")
    watched = _covered([(t.start_min, t.end_min) for t in tasks if t.present])
    spans = {_split(name): span for name, span in got.spans.items()}
    critical = _critical(blocks, got, tools)
    return Schedule(
        tasks, spans, got.makespan, by_hand, watched, max(_chain(blocks), by_hand), got.exact,
        critical, tuple(dict.fromkeys(unwatched)), bench is not None, calendar, tuple(each),
    )  # fmt: skip


def _counts(found: Amounts, batches: Mapping[str, int]) -> dict[str, int]:
    """The number of batches of each step."""
    counts = {a.step.id: batches.get(a.step.id, 1) for a in found.steps}
    for name, count in counts.items():
        if not 1 <= count <= MOST_BATCHES:
            raise InputError(
                f"{name}: {count} batches; between 1 and {MOST_BATCHES} can be planned"
            )
    return counts


def _time_of(
    step: ResolvedStep, times: StepTimes, count: int, heat: HeatOfStep | None, gear: _Gear,
    stays: Attendance,
) -> TimeOfStep:  # fmt: skip
    takes = dict.fromkeys((*gear.vessels, *gear.heater, *gear.running))
    return TimeOfStep(
        step.id, step.title, times, count, heat is not None and heat.in_furnace,
        heat is None or heat.heating_min is not None, stays, tuple(takes),
    )  # fmt: skip


def _task(placed: Placed, off: Mapping[str, bool]) -> Task:
    """A bar; ``off`` says of which steps the waiting is left with the heat off."""
    step, batch = _split(placed.block)
    segment = placed.segment
    heat_off = not segment.present and (segment.label == "cooling" or off[step])
    return Task(
        step, batch, segment.label, placed.start, placed.end, segment.resources, segment.present,
        segment.outside, heat_off,
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
