"""Heat of a step's equation and of what dissolves first, for its amounts.

of the step     turns x dH(T), dH(T) = dH(298) + dCp (T - 298)               (Hess, Kirchhoff)
dissolving      moles x (dH of the dissolved + its crystal water - dH of the crystals)
diluting acid   moles x (heat of mixing before - after), Thomsen's formula (``chem.solutions``)
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.chem import data, solutions, thermo
from routefinder.chem.formula import molar_mass
from routefinder.errors import FormulaError
from routefinder.library.heat import formation_of, step_heat
from routefinder.library.library import Library
from routefinder.library.pot import WATER
from routefinder.library.resolve import Part, ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.vessel.feed import Feed
from routefinder.vessel.kiln import ROOM_C
from routefinder.vessel.step_amounts import StepAmounts

CELSIUS = 273.15
RANGE_KJ = 0.5  # a turn: sources that differ by less agree


@dataclass(frozen=True)
class ReactionHeat:
    """Heat of a step's equation, kJ (below 0: gives heat), as if everything turned.

    ``turn_kJ`` is for one turn at 25 degC, ``hot_kJ`` at the working temperature, ``low_turn_kJ``
    and ``high_turn_kJ`` the ends where sources disagree; None when data lack for ``missing``.
    """

    turns: float
    working_C: float
    turn_kJ: float | None
    hot_kJ: float | None
    capacity_J_K: float | None
    low_turn_kJ: float | None
    high_turn_kJ: float | None
    missing: tuple[str, ...]
    sources: tuple[str, ...]

    def _all(self, turn_kJ: float | None) -> float | None:
        return None if turn_kJ is None else turn_kJ * self.turns

    @property
    def at_25_kJ(self) -> float | None:  # noqa: N802
        """All of it at 25 degC."""
        return self._all(self.turn_kJ)

    @property
    def enthalpy_kJ(self) -> float | None:  # noqa: N802
        """All of it at the working temperature."""
        return self._all(self.hot_kJ)

    @property
    def low_kJ(self) -> float | None:  # noqa: N802
        """The lower end at 25 degC, where sources disagree."""
        return self._all(self.low_turn_kJ)

    @property
    def high_kJ(self) -> float | None:  # noqa: N802
        """The upper end at 25 degC, where sources disagree."""
        return self._all(self.high_turn_kJ)


@dataclass(frozen=True)
class Dissolved:
    """What goes into solution: kJ a mole (below 0: gives heat), and moles."""

    name: str
    moles: float
    each_kJ: float

    @property
    def heat_kJ(self) -> float:  # noqa: N802
        """All of it."""
        return self.each_kJ * self.moles


@dataclass(frozen=True)
class Diluted(Dissolved):
    """An acid that is diluted: moles of water a mole, before and after."""

    before: float
    after: float


@dataclass(frozen=True)
class Dissolving:
    """What dissolves or is diluted before it reacts; ``missing`` are names without data."""

    parts: tuple[Dissolved, ...]
    missing: tuple[str, ...]

    @property
    def heat_kJ(self) -> float:  # noqa: N802
        """All that is known of it."""
        return sum(p.heat_kJ for p in self.parts)


def reaction_heat(library: Library, amount: StepAmounts) -> ReactionHeat:
    """The heat of the step's equation for its amounts."""
    step = amount.step
    working = step.heat_C
    found = step_heat(library, step)
    if found.enthalpy_kJ is None or found.change is None:
        return ReactionHeat(
            amount.turns, working, None, None, None, None, None, found.missing, found.sources
        )
    low = high = None
    ends = enthalpy_range(library, step)
    if ends is not None and ends[1] - ends[0] > RANGE_KJ:
        low, high = ends
    return ReactionHeat(
        amount.turns, working, found.enthalpy_kJ,
        thermo.enthalpy_kJ(found.change, working + CELSIUS), found.change.capacity_J_K, low, high,
        (), found.sources,
    )  # fmt: skip


def enthalpy_range(library: Library, step: ResolvedStep) -> tuple[float, float] | None:
    """Lowest and highest dH(298) of a turn in kJ, each substance by each source that has it."""
    if step.is_recipe:
        return None
    low = high = 0.0
    for sign, parts in ((-1.0, step.reactants), (1.0, step.products)):
        for part in parts:
            values = _enthalpies(library, part)
            if not values:
                return None
            ends = [sign * part.moles * v for v in (min(values), max(values))]
            low, high = low + min(ends), high + max(ends)
    return low, high


def _enthalpies(library: Library, part: Part) -> list[float]:
    substance = library.substances[part.substance]
    if substance.formula is None:
        return []
    cas = substance.cas
    if part.state == "aq" and substance.hydrate_of:
        cas = library.substances[substance.hydrate_of].cas
    try:
        found = data.readings(substance.formula, part.state, cas)
    except FormulaError:
        return []
    return [f.enthalpy_kJ for f in found if f.enthalpy_kJ is not None]


def dissolving(library: Library, amount: StepAmounts, water_g: float) -> Dissolving:
    """What goes into solution first; ``water_g`` is all the water that is charged."""
    states = {p.substance: p.state for p in amount.step.reactants}
    parts: list[Dissolved] = []
    missing: list[str] = []
    for feed in amount.feeds:
        if feed.role != "reactant" or feed.moles <= 0 or states.get(feed.substance) != "aq":
            continue
        substance = library.substances[feed.form]
        supplied = feed.origin if isinstance(feed.origin, Supply) else None
        if supplied is not None and substance.formula == "H2SO4":
            parts.append(_diluted(substance.name, feed, water_g))
            continue
        if supplied is not None and supplied.dissolved:
            continue
        if supplied is None and feed.water_g == 0 and _made_dissolved(library, feed):
            continue
        each = _each_kJ(library, feed)
        if each is None:
            missing.append(substance.name)
        else:
            parts.append(Dissolved(substance.name, feed.moles, each))
    return Dissolving(tuple(parts), tuple(missing))


def _each_kJ(library: Library, feed: Feed) -> float | None:  # noqa: N802
    """kJ a mole of what dissolves, its crystal water besides; None when data lack."""
    substance = library.substances[feed.form]
    solid = "s" if (substance.melting_C is None or substance.melting_C > ROOM_C) else "l"
    if isinstance(feed.origin, Supply) and feed.origin.form == "liquid":
        solid = "l"
    before = formation_of(library, Part(feed.form, 1.0, solid))
    after = formation_of(library, Part(feed.substance, 1.0, "aq"))
    liquid = data.formation(WATER, "l", "7732-18-5")
    if (
        before is None or before.enthalpy_kJ is None or after is None
        or after.enthalpy_kJ is None or liquid is None or liquid.enthalpy_kJ is None
    ):  # fmt: skip
        return None
    return (
        after.enthalpy_kJ
        + _crystal_waters(library, feed) * liquid.enthalpy_kJ
        - (before.enthalpy_kJ)
    )


def _crystal_waters(library: Library, feed: Feed) -> float:
    """Crystal water per mole of the dissolved species, by the two molar masses."""
    form = library.substances[feed.form].molar_mass_g
    dry = library.substances[feed.substance].molar_mass_g
    return (form - dry) / molar_mass(WATER)


def _made_dissolved(library: Library, feed: Feed) -> bool:
    """Whether the earlier step delivers the feed already in solution."""
    maker = library.steps.get(str(feed.origin))
    if maker is None:
        return True
    return any(p.substance == feed.form and p.state == "aq" for p in maker.products)


def _diluted(name: str, feed: Feed, water_g: float) -> Diluted:
    before, after = (g / molar_mass(WATER) / feed.moles for g in (feed.water_g, water_g))
    each = solutions.sulfuric_mixing_kJ(before) - solutions.sulfuric_mixing_kJ(after)
    return Diluted(name, feed.moles, each, before, after)
