"""The amounts of a route as coefficients, so that ten thousand yields are worked through at once.

``amounts`` writes out one set of yields with every mass balance; here is the same way back from
the target, in which yields are numbers or arrays of draws. A test holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.course import behaviour_of
from routefinder.vessel.outcomes import collected_share
from routefinder.vessel.step_amounts import Amounts

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Number = float | NDArray[np.float64]


@dataclass(frozen=True)
class Kept:
    """A product that is used: moles per turn of its step, and who wants how much of it.

    ``share`` is the part recovered at the ``typical`` yield, None for the main product (then it is
    the step's yield); ``stops`` as ``kept`` of ``outcomes.collected_share``.
    ``users`` are (place of the later step, moles per turn of that). ``goal_mol`` is the target's.
    """

    moles: float
    share: float | None
    users: tuple[tuple[int, float], ...]
    goal_mol: float
    typical: float = 1.0
    stops: float = 0.0


@dataclass(frozen=True)
class Take:
    """What one step takes of a supply per turn: moles of the species, grams as weighed."""

    step: int
    moles: float
    weighed_g: float
    reactant: bool


@dataclass(frozen=True)
class Flow:
    """A route as coefficients, for ``target_g`` of the target; steps in a workable order."""

    target_g: float
    steps: tuple[ResolvedStep, ...]
    kept: tuple[tuple[Kept, ...], ...]
    supplies: dict[str, Supply] = field(default_factory=dict)
    takes: dict[str, tuple[Take, ...]] = field(default_factory=dict)

    @property
    def typical(self) -> list[float]:
        """The typical yield of each step."""
        return [s.record.yield_.typical for s in self.steps]

    @property
    def starts(self) -> list[str]:
        """Ids of the starting materials: what reacts, besides water and air."""
        return [
            name
            for name, takes in self.takes.items()
            if not self.supplies[name].everywhere and any(t.reactant for t in takes)
        ]

    def turns(self, yields: Sequence[Number]) -> list[Number]:
        """Moles of each step's equation, given each step's yield (numbers or arrays alike)."""
        out: list[Any] = [0.0] * len(self.steps)
        for i in reversed(range(len(self.steps))):
            asked: list[Any] = []
            for kept in self.kept[i]:
                wanted: Any = kept.goal_mol
                for user, moles in kept.users:
                    wanted = wanted + moles * out[user]
                share: Any = yields[i]
                if kept.share is not None:  # a by-product goes as well or ill as the run
                    share = collected_share(kept.share, share, kept.typical, kept.stops)
                asked.append(wanted / (kept.moles * share))
            out[i] = _greatest(asked)
        return out

    def moles(self, supply: str, turns: Sequence[Number], reactant: bool = False) -> Number:
        """Moles taken of a supply's species; with ``reactant`` only what reacts."""
        total: Any = 0.0
        for take in self.takes[supply]:
            if take.reactant or not reactant:
                total = total + take.moles * turns[take.step]
        return total  # type: ignore[no-any-return]

    def weighed_g(self, supply: str, turns: Sequence[Number]) -> Number:
        """Grams of a supply as weighed, at its stated strength."""
        total: Any = 0.0
        for take in self.takes[supply]:
            total = total + take.weighed_g * turns[take.step]
        return total  # type: ignore[no-any-return]


def _greatest(values: list[Any]) -> Any:
    if len(values) == 1:
        return values[0]
    if all(isinstance(v, float) for v in values):
        return max(values)
    import numpy as np

    out = values[0]
    for value in values[1:]:
        out = np.maximum(out, value)
    return out


def flow_of(library: Library, found: Amounts, *, ideal: bool = False) -> Flow:
    """The coefficients behind ``found``; ``ideal`` as in ``amounts`` (then give yields of 1)."""
    steps = tuple(a.step for a in found.steps)
    users: dict[tuple[str, str], list[tuple[int, float]]] = {}
    takes: dict[str, list[Take]] = {}
    supplies: dict[str, Supply] = {}
    for i, (step, amount) in enumerate(zip(steps, found.steps, strict=True)):
        per_turn = [
            part.moles * (1 if ideal else 1 + step.excess.get(part.substance, 0.0))
            for part in step.reactants
        ]
        per_turn += [
            aid.mass_g * step.limiting.moles / library.substances[aid.substance].molar_mass_g
            for aid in step.aids
        ]
        for moles, feed in zip(per_turn, amount.feeds, strict=True):
            if isinstance(feed.origin, str):
                users.setdefault((feed.origin, feed.form), []).append((i, moles))
                continue
            if feed.from_solution_g and feed.drawn_g <= 1e-9:
                continue
            supply = feed.origin
            supplies[supply.id] = supply
            brought = feed.spared_g + feed.from_solution_g
            if brought:  # as at the yields of ``found``: only water, so it matters little
                moles -= brought / library.substances[feed.substance].molar_mass_g / amount.turns
            pure_g = moles * library.substances[feed.form].molar_mass_g
            takes.setdefault(supply.id, []).append(
                Take(i, moles, pure_g / supply.fractions[feed.form], feed.role == "reactant")
            )
    goal_mol = found.target_g / library.substances[found.target].molar_mass_g
    kept = []
    for step in steps:
        rows = []
        for part in step.kept():
            main = part.substance == step.main.substance
            share = None if main else 1.0 if ideal else step.recovered[part.substance]
            wanted = tuple(users.get((step.id, part.substance), ()))
            is_goal = step.id == found.last and part.substance == found.form
            if wanted or is_goal or main:
                usual = 1.0 if ideal else step.record.yield_.typical
                how = behaviour_of(library, step, usual)
                stops = float(how.kept) if float(how.conversion) < 1 and not ideal else 0.0
                goal_here = goal_mol if is_goal else 0.0
                rows.append(Kept(part.moles, share, wanted, goal_here, usual, stops))
        kept.append(tuple(rows))
    return Flow(
        found.target_g, steps, tuple(kept), supplies, {k: tuple(v) for k, v in takes.items()}
    )
