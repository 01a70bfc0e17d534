"""Heat, entropy and equilibrium of a reaction from formation data; pure arithmetic, no files.

Formulas (any physical-chemistry textbook, for example Atkins, Physical Chemistry; OpenStax
Chemistry 2e, chapters 5 and 16):

    Hess              dH = sum(n Hf, products) - sum(n Hf, reactants); likewise dS, dG and dCp
    Kirchhoff         dH(T) = dH(T0) + dCp (T - T0);  dS(T) = dS(T0) + dCp ln(T / T0)
    Gibbs             dG(T) = dH(T) - T dS(T)
    van 't Hoff       dG = dG0 + R T ln Q
    ideal gas         p V = n R T
    adiabatic rise    -dH = sum(m c) dT

Heat capacities are taken as constant. Where one is missing, dH and dS are taken as constant, which
reads decomposition temperatures up to about 75 K low (`Reaction.capacity_J_K` is then None).
A value that is not known is None, never 0. T0 = 298.15 K and 1 bar throughout.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018 (exact)
ROOM = 298.15  # K
ATMOSPHERE = 1.01325  # bar, exact
HIGHEST = 4000.0  # K, where the search for a crossing ends
MARKS = ("published", "computed", "from memory")  # of formation data, the best first


@dataclass(frozen=True)
class Formation:
    """Standard formation data of one substance in one state at 298.15 K and 1 bar.

    Each of ``sources`` begins with its honesty mark; a dissolved salt, the sum of its ``ions``, may
    have several.
    """

    state: str
    enthalpy_kJ: float | None = None
    gibbs_kJ: float | None = None
    entropy_J_K: float | None = None
    capacity_J_K: float | None = None
    sources: tuple[str, ...] = ()
    ions: str = ""

    @property
    def known(self) -> int:
        """How many of the four figures are known."""
        figures = (self.enthalpy_kJ, self.gibbs_kJ, self.entropy_J_K, self.capacity_J_K)
        return sum(value is not None for value in figures)

    @property
    def mark(self) -> str:
        """The worst honesty mark of its sources."""
        return worst_mark(source.partition(": ")[0] for source in self.sources)


@dataclass(frozen=True)
class Reaction:
    """Change per turn of an equation at 298.15 K; ``gases`` are moles made less moles used up."""

    enthalpy_kJ: float | None
    entropy_J_K: float | None
    gibbs_kJ: float | None
    capacity_J_K: float | None
    gases: tuple[float, ...] = ()

    def without_capacity(self) -> Reaction:
        """The same reaction with dH and dS taken as constant."""
        return replace(self, capacity_J_K=None)


def worst_mark(marks: Iterable[str]) -> str:
    """The worst of some honesty marks: a sum is known no better than its worst term.

    No mark at all is "from memory". Raises ValueError for a word that is none of ``MARKS``.
    """
    return max(marks, key=MARKS.index, default=MARKS[-1])


def total(pairs: Iterable[tuple[float, float | None]]) -> float | None:
    """Sum of coefficient times value (Hess); None when a value is not known."""
    out = 0.0
    for coefficient, value in pairs:
        if value is None:
            return None
        out += coefficient * value
    return out


def reaction(terms: Sequence[tuple[float, Formation | None]]) -> Reaction:
    """The change of a reaction from its terms: moles (products positive) and formation data."""

    def change(figure: Callable[[Formation], float | None]) -> float | None:
        return total((n, None if data is None else figure(data)) for n, data in terms)

    return Reaction(
        enthalpy_kJ=change(lambda f: f.enthalpy_kJ),
        entropy_J_K=change(lambda f: f.entropy_J_K),
        gibbs_kJ=change(lambda f: f.gibbs_kJ),
        capacity_J_K=change(lambda f: f.capacity_J_K),
        gases=tuple(n for n, data in terms if data is not None and data.state == "g"),
    )


def enthalpy_kJ(change: Reaction, temperature_K: float) -> float | None:  # noqa: N802
    """dH at a temperature (Kirchhoff, constant dCp)."""
    if change.enthalpy_kJ is None:
        return None
    return change.enthalpy_kJ + (change.capacity_J_K or 0.0) * (temperature_K - ROOM) / 1000


def entropy_J_K(change: Reaction, temperature_K: float) -> float | None:  # noqa: N802
    """dS at a temperature (constant dCp)."""
    if change.entropy_J_K is None:
        return None
    return change.entropy_J_K + (change.capacity_J_K or 0.0) * math.log(temperature_K / ROOM)


def gibbs_kJ(  # noqa: N802
    change: Reaction, temperature_K: float, total_gas_bar: float | None = None
) -> float | None:
    """dG at a temperature.

    With every gas at 1 bar, or, when ``total_gas_bar`` is given, with the gases that are given off
    sharing that pressure as the equation makes them (a reaction that takes gas up is then None).
    """
    heat, entropy = enthalpy_kJ(change, temperature_K), entropy_J_K(change, temperature_K)
    if heat is None or entropy is None:
        return None
    out = heat - temperature_K * entropy / 1000
    if total_gas_bar is not None:
        if any(n < 0 for n in change.gases):
            return None
        moles = sum(change.gases)
        quotient = sum(n * math.log(n / moles * total_gas_bar) for n in change.gases if n)
        out += GAS_CONSTANT * temperature_K * quotient / 1000
    return out


def crossing_K(change: Reaction, total_gas_bar: float | None = None) -> float | None:  # noqa: N802
    """The temperature above 298.15 K where dG becomes 0 and the reaction begins to run by itself.

    None when data are missing, and when there is no such temperature: dG is below 0 already at
    298.15 K (speed alone decides), or stays above 0 up to 4000 K.
    """

    def at(temperature: float) -> float | None:
        return gibbs_kJ(change, temperature, total_gas_bar)

    low, value = ROOM, at(ROOM)
    if value is None or value <= 0:
        return None
    while low < HIGHEST:
        high = low + 10.0
        value = at(high)
        if value is not None and value <= 0:
            for _ in range(60):
                middle = (low + high) / 2
                found = at(middle)
                if found is not None and found > 0:
                    low = middle
                else:
                    high = middle
            return high
        low = high
    return None


def gas_volume_L(  # noqa: N802
    moles: float,
    temperature_K: float = ROOM,
    pressure_bar: float = ATMOSPHERE,
    vapour_bar: float = 0.0,
) -> float:
    """Litres of an ideal gas; ``vapour_bar`` is the share of water vapour in the pressure.

    Raises ValueError when the vapour has the whole pressure.
    """
    if pressure_bar <= vapour_bar:
        raise ValueError("the pressure must be above that of the water vapour")
    return moles * GAS_CONSTANT * temperature_K / (pressure_bar - vapour_bar) / 100


def adiabatic_rise_K(  # noqa: N802
    heat_kJ: float | None,
    parts: Sequence[tuple[float, float]],
) -> float | None:
    """Rise in temperature when dH = ``heat_kJ`` stays in a mixture of parts (grams, J/(g K)).

    Above the boiling point the water would boil off instead: the caller sees to that.
    """
    capacity = sum(mass * figure for mass, figure in parts)
    if heat_kJ is None or capacity <= 0:
        return None
    return -heat_kJ * 1000 / capacity
