"""How much of the target a run will give from where it stands: certain, typical, in trials.

The way back from the target (``vessel.flow``) says how many turns of each step a gram of target
asks for, at yields drawn as in ``assessment.uncertainty``. What is there caps it:

    a step that goes   by the turns that each weighed reactant allows
    a lot that waits   by its moles over those that the steps still to be charged take of it; a lot
                       that was reckoned, not weighed, has its own step's yield drawn
    a step not begun   by its plan where the route's limiting material enters there, else by the
                       shelf, as needed: a reagent is dosed to what comes

and the scarcest decides. So the forecast is of this run: never more than it was planned or charged
for. What has lain longer than it keeps counts for less (``spoiling``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from routefinder.assessment.uncertainty import Range, Simulation, simulate
from routefinder.errors import InputError
from routefinder.journal.account import Account, Lot, StepState, is_main
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import everywhere, supply
from routefinder.records.shelf import Supply
from routefinder.vessel.amounts import amounts
from routefinder.vessel.step_amounts import Amounts

TINY = 1e-9


@dataclass(frozen=True)
class Forecast:
    """``expected_g`` at typical yields, ``output_g`` in 8 runs of 10, ``chance`` of the target.

    ``limited_by`` says what decides on the typical path. ``needs`` are, by step id, grams of the
    pure product of each waiting lot that the target would take at typical yields.
    """

    expected_g: float
    chance: float
    output_g: Range
    limited_by: str
    needs: Mapping[str, float]


@dataclass(frozen=True)
class Usable:
    """The part of a lot that is still good: 10th, 50th, 90th percentile (see ``spoiling``)."""

    low: float = 1.0
    typical: float = 1.0
    high: float = 1.0


def plan_supplies(library: Library, standing: Account, shelf: Sequence[Supply]) -> list[Supply]:
    """The materials of the run's plan, as the plan took them, and water and air."""
    known = {s.id: s for s in shelf}
    out: dict[str, Supply] = {s.id: s for s in everywhere(library)}
    for step in standing.book.steps:
        for feed in step.plan["feeds"]:
            name = feed.get("material")
            if name is None or name in out:
                continue
            if name in known:
                found = known[name]
            elif name in library.materials:
                found = supply(library.materials[name])
            else:
                found = Supply(
                    name, feed["name"], "solid", {feed["form"]: feed["purity"] or 1.0},
                    feed["form"], price_per_g=feed.get("price_per_g"),
                )  # fmt: skip
            out[name] = found
    return list(out.values())


def steps_of(library: Library, standing: Account) -> list[ResolvedStep]:
    """The steps of a run, in order. Raises InputError for steps that have left the library."""
    lacking = [s.id for s in standing.book.steps if s.id not in library.steps]
    if lacking:
        raise InputError(f"steps of the run are not in the library: {', '.join(lacking)}")
    return [library.steps[s.id] for s in standing.book.steps]


def plan_amounts(library: Library, standing: Account, shelf: Sequence[Supply]) -> Amounts:
    """The amounts of the run's route for its target, from the materials of its plan."""
    data = standing.book.run.data
    return amounts(
        library, steps_of(library, standing), plan_supplies(library, standing, shelf),
        data["target"], float(data["target_g"]),
    )  # fmt: skip


def forecast(
    library: Library,
    standing: Account,
    found: Amounts,
    stock: Mapping[str, float],
    usable: Mapping[str, Usable] | None = None,
    more: Mapping[str, float] | None = None,
) -> Forecast:
    """What a run will give.

    ``stock`` is grams by material that are left on the shelf (those not named are there as
    needed), ``usable`` what is still good of a step's lot, ``more`` grams of pure product added to
    a lot. Raises InputError where a step has left the library.
    """
    import numpy as np

    trial = simulate(library, found)
    drawn: dict[str, Any] = {}
    for factor, values in zip(trial.factors, trial.values, strict=True):
        if factor.kind == "yield":
            drawn[factor.of] = drawn.get(factor.of, 1.0) * values
    typical = {s.id: s.record.yield_.typical for s in trial.flow.steps}
    args = (library, standing, trial, dict(stock), usable or {}, more or {})
    middle = _Way(*args, typical, False)
    expected, limited = middle.output_g()
    output, _ = _Way(*args, drawn, True).output_g()
    output = np.broadcast_to(np.asarray(output, dtype=float), (len(trial.values[0]),)
                             if trial.values else (1,))  # fmt: skip
    low, half, high = (float(v) for v in np.quantile(output, (0.1, 0.5, 0.9)))
    target = trial.flow.target_g
    chance = float(np.mean(output >= target * (1 - 1e-9)))
    return Forecast(float(expected), chance, Range(low, half, high), limited, middle.needs())


@dataclass
class _Way:
    """One way through a run: with typical yields (numbers) or drawn ones (arrays)."""

    library: Library
    standing: Account
    trial: Simulation
    stock: dict[str, float]
    usable: Mapping[str, Usable]
    more: Mapping[str, float]
    yields: Mapping[str, Any]
    drawing: bool
    turns: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        flow = self.trial.flow
        every = flow.turns([self.yields[s.id] for s in flow.steps])
        self.turns = {s.id: t for s, t in zip(flow.steps, every, strict=True)}

    # --- what there is ---------------------------------------------------------------------

    def _good(self, name: str) -> Any:
        part = self.usable.get(name)
        if part is None:
            return 1.0
        if not self.drawing:
            return part.typical
        import numpy as np

        n = len(self.trial.values[0]) if self.trial.values else 1
        middle = np.random.default_rng(len(name)).random(n)
        return np.interp(middle, (0.0, 0.1, 0.5, 0.9, 1.0),
                         (part.low, part.low, part.typical, part.high, part.high))  # fmt: skip

    def made_mol(self, state: StepState) -> Any:
        """Moles of its product that a step has made, before anybody took of it."""
        lot = state.lot
        if lot is None:
            return 0.0
        molar = self.library.substances[lot.what].molar_mass_g
        added = self.more.get(state.step.id, 0.0)
        if lot.sure or state.found is None or not lot.most_g:
            pure: Any = lot.pure_g
        elif lot.whence == "reckoned" or not self.drawing:
            # from what was really charged, which may itself be drawn
            factor = self.yields[state.step.id] / self._typical(state)
            pure = self.charged(state) / state.found.turns * lot.pure_g * factor
        else:
            pure = lot.pure_g * self.yields[state.step.id] / self._typical(state)
        return (pure * self._good(state.step.id) + added) / molar

    def _typical(self, state: StepState) -> float:
        return state.resolved.record.yield_.typical if state.resolved else 1.0

    def charged(self, state: StepState) -> Any:
        """Turns that a step was really charged for."""
        if state.found is None or state.resolved is None:
            return 0.0
        allowed = [n / p.moles for p in state.resolved.reactants
                   if (n := self._charged_mol(state, p.substance, None)) is not None]  # fmt: skip
        return _least(allowed) if allowed else state.found.turns

    def _charged_mol(self, state: StepState, substance: str, weighed: set[str] | None) -> Any:
        """Moles of a reactant that went in (``weighed``: only what these names say); None: none."""
        root = self.library.root(substance)
        out: Any = None
        for c in state.charges:
            if c.whole or c.role != "reactant" or c.form not in self.library.substances:
                continue
            if self.library.root(c.form) != root or (weighed is not None and c.key not in weighed):
                continue
            moles: Any = c.moles(self.library)
            if c.most is not None:  # it came in a solution that nobody measured
                moles = moles * self._over_typical(state, c.form)
            elif c.supply is not None and c.low < c.high:
                moles = moles * self._strength(c.supply.id)
            out = moles if out is None else out + moles
        return out

    def _over_typical(self, state: StepState, form: str) -> Any:
        """What a step before really made over what it makes as a rule."""
        for feed in state.step.plan["feeds"]:
            if "from_step" not in feed:
                continue
            maker = self.standing.of(feed["from_step"])
            if maker.lot is not None and maker.lot.what == form and maker.lot.pure_g > TINY:
                return self.made_mol(maker) * self._molar(maker.lot) / maker.lot.pure_g
        return 1.0

    def _molar(self, lot: Lot) -> float:
        return self.library.substances[lot.what].molar_mass_g

    # --- what it allows --------------------------------------------------------------------

    def output_g(self) -> tuple[Any, str]:
        """(grams of the target, what limits it)."""
        last = self.standing.last
        target = self.trial.flow.target_g
        if last.phase == "made" and last.lot is not None and self.standing.at_end:
            return last.lot.pure_g, "what was made"
        caps: list[tuple[Any, str]] = []
        if last.phase == "made":
            goal = self._goal_mol()
            caps.append((self.made_mol(last) / goal, "what was made"))
        else:
            self._caps(last, caps, set())
        if not caps:
            return target, "the plan"
        least = _least([share for share, _ in caps])
        import numpy as np

        name = min(caps, key=lambda c: float(np.mean(c[0])))[1]
        return least * target, name

    def _goal_mol(self) -> float:
        flow = self.trial.flow
        return next(k.goal_mol for rows in flow.kept for k in rows if k.goal_mol)

    def _caps(self, state: StepState, caps: list[tuple[Any, str]], seen: set[str]) -> None:
        """Shares of the target that what is there allows, of a step that is still to be done."""
        if state.step.id in seen or state.resolved is None:
            return
        seen.add(state.step.id)
        step, turns = state.step, self.turns[state.step.id]
        weighed = set(step.ins)
        if state.phase == "failed":
            caps.append((0.0, f"step {step.number}, which failed"))
            return
        whole = any(c.whole for c in state.charges)
        for part in state.resolved.reactants:
            moles = self._charged_mol(state, part.substance, weighed)
            if moles is not None:
                caps.append((moles / part.moles / turns, self.library.name(part.substance)))
        if whole and state.found is not None:
            caps.append((state.found.turns / turns, "the charge"))
        for feed in step.plan["feeds"]:
            if "from_step" in feed:
                name = f"from step {self.standing.of(feed['from_step']).step.number}"
                if name not in weighed and not (whole and feed["role"] == "reactant"):
                    self._upstream(state, feed, caps, seen)
            elif feed["name"] not in weighed and not (whole and feed["role"] == "reactant"):
                self._from_shelf(state, feed, caps)

    def _upstream(
        self, state: StepState, feed: Mapping[str, Any], caps: list[tuple[Any, str]], seen: set[str]
    ) -> None:
        maker = self.standing.of(feed["from_step"])
        if maker.phase != "made":
            self._caps(maker, caps, seen)
            return
        lot = maker.lot
        if lot is None or not is_main(self.library, feed, maker.step):
            return
        gone = lot.gone_g + sum(
            grams
            for name, grams in lot.takes.items()
            if f"from step {maker.step.number}" in (taker := self.standing.of(name)).step.ins
            or taker.phase in {"made", "failed"}
        )
        there = _above_nothing(self.made_mol(maker) - gone / self._molar(lot))
        caps.append((there / self._wanted_mol(maker), f"what step {maker.step.number} made"))

    def _wanted_mol(self, maker: StepState) -> Any:
        """Moles of a lot that the steps still to be charged take for the target."""
        flow = self.trial.flow
        place = [s.id for s in flow.steps].index(maker.step.id)
        main = next(k for k in flow.kept[place] if k.share is None)
        total: Any = main.goal_mol
        for user, moles in main.users:
            taker = self.standing.of(flow.steps[user].id)
            if f"from step {maker.step.number}" in taker.step.ins or taker.phase == "made":
                continue
            total = total + moles * self.turns[flow.steps[user].id]
        return total

    def _from_shelf(
        self, state: StepState, feed: Mapping[str, Any], caps: list[tuple[Any, str]]
    ) -> None:
        name = feed["material"]
        if feed.get("everywhere") or name not in self.trial.need_g:
            return
        flow = self.trial.flow
        place = [s.id for s in flow.steps].index(state.step.id)
        takes = [t for t in flow.takes[name] if t.step == place]
        need = sum(t.weighed_g for t in takes) * self.turns[state.step.id]
        need = need / self._strength(name)
        limits = self.standing.book.run.data.get("limits_on") == name
        most = self.stock.get(name)
        if limits and feed["role"] == "reactant":
            planned = sum(
                f["as_weighed_g"] for f in state.step.plan["feeds"] if f.get("material") == name
            )
            most = planned if most is None else min(most, planned)
        if most is None:
            return
        every = [
            s for s in self.standing.states
            if any(f.get("material") == name and f["name"] not in s.step.ins
                   for f in s.step.plan["feeds"])
            and s.phase not in {"made", "failed"}
        ]  # fmt: skip
        if len(every) > 1 and not limits:  # one jar for several steps: all of them take from it
            places = [[x.id for x in flow.steps].index(s.step.id) for s in every]
            need = sum(
                t.weighed_g * self.turns[flow.steps[t.step].id]
                for t in flow.takes[name]
                if t.step in places
            ) / self._strength(name)
        if _some(need):
            caps.append((most / need, feed["name"]))

    def _strength(self, name: str) -> Any:
        """A material's strength over its stated one, as drawn."""
        if not self.drawing:
            return 1.0
        for factor, values in zip(self.trial.factors, self.trial.values, strict=True):
            if factor.kind == "purity" and factor.of == name:
                return values / factor.spread.typical
        return 1.0

    def needs(self) -> dict[str, float]:
        """Grams of the pure product of each waiting lot that the target takes (typical path)."""
        out = {}
        for state in self.standing.states:
            if state.phase == "made" and state.lot is not None and state is not self.standing.last:
                mol = float(self._wanted_mol(state))
                out[state.step.id] = mol * self._molar(state.lot)
        return out


def _least(values: Sequence[Any]) -> Any:
    import numpy as np

    out = values[0]
    for value in values[1:]:
        out = np.minimum(out, value)
    return out


def _above_nothing(value: Any) -> Any:
    import numpy as np

    return np.maximum(value, 0.0)


def _some(value: Any) -> bool:
    import numpy as np

    return bool(np.any(np.asarray(value) > TINY))
