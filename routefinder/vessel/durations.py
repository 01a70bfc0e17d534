"""How long a step takes, stage by stage: the one place where durations are worked out.

Of one batch, in minutes. A stage takes what is written of it (``for``, all its rounds), and

    heating up     what its heater takes (``Heating``); a furnace's ramp is known without amounts
    boiling down   what the heater takes to boil off what must go, where that is longer
    cooling        of a furnace with its door shut, until it can be touched
    electrolyse    what the charge of the batch takes at the current, t = z n F / (I x efficiency)
    firing again   up, hold and down each time, unless it is only stirred between

Where stages are derived (``vessel.stages``), the record's waiting time holds the heating and the
cooling of a wet step, as a record's waiting time does. Handwork is nobody's stage: it comes beside.
Without a heater a furnace takes what a usual one does, and a liquid's heating is not known: 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from routefinder.hazards.heaters import heat_needs
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.stage import Stage
from routefinder.vessel.course import Course
from routefinder.vessel.kiln import (
    KILN_COOLING_MIN,
    KILN_FROM_C,
    KILN_RAMP_K_H,
    OVEN_RAMP_K_H,
    cooling_minutes,
    ramp_minutes,
)
from routefinder.vessel.stages import HOT_C, LEAST_SOAK, Stages, stages_of

FARADAY_C = 96485.332  # C/mol, exact in SI
ELECTRONS = {"O2": 4, "H2": 2}  # a mole of gas at an electrode; any other gas counts 2
RESTS = frozenset({
    "charge", "cool", "crystallise", "settle", "decant", "filter", "wash", "press", "dry", "grind",
    "stand",
})  # fmt: skip
_BOILS = ("boil down", "distil")


@dataclass(frozen=True)
class Heating:
    """What a heater takes for one batch: up to the heat, boiling off, and down again; minutes."""

    up_min: float = 0.0
    boil_min: float = 0.0
    down_min: float = 0.0


@dataclass(frozen=True)
class StageTime:
    """A stretch of a stage. ``kind`` is "heating", "waiting" or "cooling", ``round`` from 1 on.

    ``place`` is that of its stage among the step's (heating without a stage of its own goes with
    the stage that it is for). ``hot``: a heater keeps it warm. ``rests``: no gear runs. ``cell``:
    a current sets its time, by what goes in. ``attended`` is what the record says of its stage.
    """

    place: int
    kind: str
    minutes: float
    round: int
    hot: bool
    rests: bool
    cell: bool = False
    attended: bool | None = None


@dataclass(frozen=True)
class StepTimes:
    """The time of one batch: its handwork, and its stages in order, every round by itself.

    ``rounds`` is how often it is fired, ``soak_min`` how long it is held hot in the first (None:
    not in a furnace).
    """

    hands_on_min: float
    stages: tuple[StageTime, ...]
    rounds: int
    reacts: int
    soak_min: float | None

    @property
    def waiting_min(self) -> float:
        """All stages together: heating, waiting and cooling."""
        return sum(t.minutes for t in self.stages)

    @property
    def total_min(self) -> float:
        """Handwork and stages."""
        return self.hands_on_min + self.waiting_min

    def of_round(self, turn: int, kind: str) -> float:
        """Minutes of one kind in one round."""
        return sum(t.minutes for t in self.stages if t.round == turn and t.kind == kind)

    @property
    def reacting_min(self) -> float:
        """The stage in which the step's equation runs, its first round, heating for it besides."""
        own = (t for t in self.stages if t.place == self.reacts and t.round == 1)
        return sum(t.minutes for t in own if t.kind != "cooling")

    @property
    def least_waiting_min(self) -> float:
        """All stages but a cell's: less waiting no batch takes, however small."""
        return sum(t.minutes for t in self.stages if not t.cell)

    def shared(self, batches: int) -> StepTimes:
        """The times of one of several batches, where these are those of all in one."""
        if batches == 1 or not any(t.cell for t in self.stages):
            return self
        return replace(self, stages=tuple(
            replace(t, minutes=t.minutes / batches) if t.cell else t for t in self.stages
        ))  # fmt: skip


def fired(step: ResolvedStep) -> bool:
    """Whether its hottest heat is a furnace or a flame on something dry."""
    needs = heat_needs(step)
    return bool(needs) and needs[0].name != "heat-liquid"


def furnace_heating(
    to_C: float, kind: str, ramp_K_h: float | None = None, cooling_min: float | None = None
) -> Heating:
    """Up and down of a furnace; ``kind`` is heat-dry or open-flame, what is None is as usual."""
    kiln = to_C > KILN_FROM_C
    up = ramp_minutes(to_C, ramp_K_h or (KILN_RAMP_K_H if kiln else OVEN_RAMP_K_H))
    down = 0.0
    if kiln and kind == "heat-dry":
        down = cooling_minutes(to_C, cooling_min or KILN_COOLING_MIN)
    return Heating(up, 0.0, down)


def usual_times(library: Library, step: ResolvedStep) -> StepTimes:
    """The times of a step by itself: a usual furnace, and a cell as its record writes it."""
    known: StepTimes | None = library.kept("times", step)
    if known is None:
        known = times_of(library, step)
        library.keep("times", step, known)
    return known


def amount_times(library: Library, step: ResolvedStep, course: Course) -> StepTimes:
    """The times of a step with its amounts, all in one batch, in a usual furnace."""
    if any(s.kind == "electrolyse" for s in course.stages.listed):
        return times_of(library, step, None, cell_min(library, course))
    return usual_times(library, step)


def times_of(
    library: Library,
    step: ResolvedStep,
    heating: Heating | None = None,
    cell: float | None = None,
) -> StepTimes:
    """The times of one batch of a step.

    ``heating`` is what its heater takes (None: a usual furnace; nothing for a liquid); ``cell``
    the minutes of its current (None: as written).
    """
    plan = stages_of(library, step)
    burns = fired(step)
    if heating is None:
        needs = heat_needs(step)
        heating = furnace_heating(step.heat_C, needs[0].name) if burns else Heating()
    whole = Heating(*(float(math.ceil(m - 1e-9)) for m in
                      (heating.up_min, heating.boil_min, heating.down_min)))  # fmt: skip
    work = _Times(step, plan, burns, whole, cell)
    return work.result()


class _Times:
    """The stages of a step as they are given their minutes."""

    def __init__(
        self, step: ResolvedStep, plan: Stages, burns: bool, heating: Heating, cell: float | None
    ) -> None:
        self.step, self.plan, self.burns, self.heating = step, plan, burns, heating
        self.cell = cell
        self.first, self.last = _cycle(plan)
        holds = plan.listed[self.first : self.last + 1]
        self.rounds = max((_firings(s) for s in holds), default=1) if burns else 1
        self.boils = next((i for i, s in enumerate(plan.listed) if s.kind in _BOILS), None)
        self.out: list[StageTime] = []

    def result(self) -> StepTimes:
        listed = self.plan.listed
        for place in range(self.first):
            self._stage(place, 1)
        for turn in range(1, self.rounds + 1):
            self._heat_up(turn)
            for place in range(self.first, self.last + 1):
                self._stage(place, turn)
            self._cool_down(turn)
        for place in range(self.last + 1, len(listed)):
            self._stage(place, 1)
        soak = None
        if self.burns and any(s.kind == "hold" and s.for_min is not None for s in listed):
            soak = sum(
                t.minutes for t in self.out
                if listed[t.place].kind == "hold" and t.round == 1 and t.kind == "waiting"
            )  # fmt: skip
        return StepTimes(
            self.step.record.time.hands_on_min, tuple(self.out), self.rounds, self.plan.reacts, soak
        )

    def _add(self, place: int, kind: str, minutes: float, turn: int, hot: bool = False) -> None:
        if minutes > 0:
            listed = self.plan.listed[place]
            stage = listed.kind
            cell = stage == "electrolyse" and kind == "waiting"
            self.out.append(StageTime(
                place, kind, minutes, turn, hot, stage in RESTS, cell, listed.attended
            ))  # fmt: skip

    def _heat_up(self, turn: int) -> None:
        up = self.heating.up_min + (self.heating.boil_min if self.boils is None else 0.0)
        written = self.plan.listed[self.first]
        if written.kind == "heat" and written.for_min:
            up = max(up, written.for_min)
        self._add(self.first, "heating", up, turn, hot=True)

    def _cool_down(self, turn: int) -> None:
        self._add(self.last, "cooling", self.heating.down_min, turn)

    def _stage(self, place: int, turn: int) -> None:
        stage = self.plan.listed[place]
        if place == self.first and stage.kind == "heat":
            return  # its time is that of heating up
        minutes = self._minutes(place, stage, turn)
        if place == self.boils:
            self._add(place, "heating", self.heating.boil_min, turn, hot=True)
            minutes -= self.heating.boil_min
        if place == self.last and stage.kind == "cool" and self.burns:
            minutes -= self.heating.down_min  # the furnace cools meanwhile
        self._add(place, "waiting", minutes, turn, hot=self._hot(stage))

    def _minutes(self, place: int, stage: Stage, turn: int) -> float:
        if stage.kind == "electrolyse" and self.cell is not None:
            return self.cell
        if stage.for_min is None:
            return 0.0
        inside = self.first <= place <= self.last
        if self.burns and inside and stage.kind == "hold":
            again = _firings(stage)
            return (stage.for_min if again > 1 else stage.for_min * stage.times) * (turn <= again)
        minutes = stage.for_min * stage.times
        if self.plan.derived and not self.plan.dry:  # a record's waiting holds its heating
            minutes -= self.heating.up_min + self.heating.down_min
            if self.boils != place:
                minutes -= self.heating.boil_min
            if self.burns:
                minutes = max(minutes, LEAST_SOAK * stage.for_min)
        return minutes

    def _hot(self, stage: Stage) -> bool:
        warm = stage.hottest_C
        low = self.step.record.temperature.low_C if stage.at_C is None else stage.at_C
        return stage.kind not in RESTS and (warm is None or warm > HOT_C) and low > HOT_C


def _firings(stage: Stage) -> int:
    """How often a hold is fired anew: stirred between, it only goes on."""
    return 1 if stage.kind != "hold" or "stirred" in stage.between else stage.times


def _cycle(plan: Stages) -> tuple[int, int]:
    """First and last place of what is done again in every round: heat, hold and cool.

    Without a hold that is the stage that reacts; heating up comes before the first of these.
    """
    kinds = [s.kind for s in plan.listed]
    holds = [i for i, k in enumerate(kinds) if k == "hold"] or [plan.reacts]
    first = next((i for i, k in enumerate(kinds[: holds[0]]) if k == "heat"), holds[0])
    if holds == [plan.reacts] and "heat" in kinds and kinds.index("heat") < first:
        first = kinds.index("heat")
    after = holds[-1] + 1
    last = after if after < len(kinds) and kinds[after] == "cool" else holds[-1]
    return first, last


def cell_min(library: Library, course: Course, batches: int = 1) -> float | None:
    """Minutes of current for one batch: z n F / (I x efficiency); None without a current or gas.

    The gas at the electrodes tells the charge; where a record names no efficiency all of it counts.
    """
    cell = next((s for s in course.stages.listed if s.kind == "electrolyse"), None)
    if cell is None or not cell.current_A:
        return None
    moles = gas_mol(library, course)
    charge = max((ELECTRONS.get(f, 2) * n * FARADAY_C for f, n in moles.items()), default=0.0)
    if charge <= 0:
        return None
    return charge / batches / cell.current_A / 60 / (cell.efficiency or 1.0)


def gas_mol(library: Library, course: Course) -> dict[str, float]:
    """Moles of every gas that comes off in a course, by formula; what is only led through not."""
    out: dict[str, float] = {}
    streams = [course.product, *course.leavings.values(), *course.recovered.values()]
    fed = {name for name, phase in course.charge.contents.parts if phase == "g"}
    for stream in streams:
        for (name, phase), grams in stream.parts.items():
            record = library.substances.get(name)
            if phase == "g" and record is not None and record.formula and name not in fed:
                out[record.formula] = out.get(record.formula, 0.0) + float(
                    grams / record.molar_mass_g
                )
    return out
