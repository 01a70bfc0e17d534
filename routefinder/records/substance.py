"""A substance: a pure chemical in one definite form."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

from pydantic import Field, field_validator, model_validator

from routefinder import units
from routefinder.chem import formula as formulas
from routefinder.records.base import (
    Density,
    Formula,
    Fraction,
    Id,
    Record,
    Sources,
    Temperature,
    Texts,
)

_STATEMENT = re.compile(r"^(?:EUH\d{3}[A-Z]?|H\d{3}(?:[A-Za-z]{1,2})?)$")
_CAS = re.compile(r"^[1-9]\d{1,6}-\d{2}-\d$")


def cas_check_digit_ok(cas: str) -> bool:
    """The CAS check digit: digits right to left weighted 1, 2, 3..., sum modulo 10 (cas.org)."""
    if not _CAS.match(cas):
        return False
    digits = cas.replace("-", "")
    weighted = sum(i * int(d) for i, d in enumerate(reversed(digits[:-1]), start=1))
    return weighted % 10 == int(digits[-1])


class Hazards(Record):
    """GHS statements of one form of a substance.

    ``statements`` is what the source gives; ``caution`` holds stricter statements of other
    sources: scores use both, labels print only the first. ``unknown: true`` says that nobody
    looked or no source was found; it counts as the cautious value, never as harmless.
    """

    statements: Texts = ()
    caution: Texts = ()
    unknown: bool = False
    source: Sources = ()
    note: str = ""

    @field_validator("statements", "caution")
    @classmethod
    def _codes(cls, values: tuple[str, ...]) -> tuple[str, ...]:
        for value in values:
            if not _STATEMENT.match(value):
                raise ValueError(f"{value!r} is not a GHS statement code; write for example 'H318'")
        return values

    @property
    def no_data(self) -> bool:
        """Whether nothing is known: said so, or neither a statement nor a source is given."""
        return self.unknown or not (self.statements or self.caution or self.source)

    @property
    def scored(self) -> tuple[str, ...]:
        """All codes that count for a hazard score."""
        return tuple(dict.fromkeys((*self.statements, *self.caution)))


class DilutedHazards(Hazards):
    """GHS statements of a solution of the substance in water, between two strengths."""

    at_least: Fraction = 0.0
    below: Fraction = 1.0
    note: str = ""


class Solubility(Record):
    """Grams of the anhydrous substance per 100 g of water, at temperatures."""

    at: tuple[tuple[Temperature, float], ...]
    source: Sources


class SolutionDensities(Record):
    """g/mL of solutions in water at one temperature, by mass fraction of the anhydrous substance.

    ``at`` rises; water itself (0 %) need not stand there.
    """

    at: tuple[tuple[Fraction, float], ...]
    temperature_C: Temperature = Field(20.0, alias="temperature")
    source: Sources

    @model_validator(mode="after")
    def _rising(self) -> SolutionDensities:
        shares = [share for share, _ in self.at]
        if not shares or any(b <= a for a, b in pairwise(shares)):
            raise ValueError("at needs strengths that rise, such as [[5 %, 1.03], [10 %, 1.07]]")
        if shares[0] < 0 or shares[-1] > 1 or any(not 0.3 < rho < 5 for _, rho in self.at):
            raise ValueError("at holds strengths from 0 to 100 % and densities in g/mL")
        return self


class Drift(Record):
    """What waiting does to a substance as it is kept: a share of its mass or strength a day.

    ``what`` says in words which way ("gains carbon dioxide"); ``at_most`` is where it ends.
    """

    what: str
    per_day: Fraction
    at_most: Fraction | None = None
    source: Sources = ()

    @model_validator(mode="after")
    def _positive(self) -> Drift:
        if self.per_day <= 0 or (self.at_most is not None and self.at_most <= 0):
            raise ValueError("per_day and at_most are shares above 0; 'what' says which way")
        return self


class Storage(Record):
    """How to keep a substance, and what happens meanwhile."""

    how: str
    keeps: str = ""
    spoils_by: Texts = ()
    drift: Drift | None = None
    source: Sources = ()


class Saponification(Record):
    """The saponification number of a fat: mg of KOH that saponify a gram, least and greatest."""

    low: float
    high: float
    source: Sources = ()

    @model_validator(mode="before")
    @classmethod
    def _numbers(cls, value: Any) -> Any:
        if isinstance(value, dict):
            return {k: units.number(v, "'188'") if k != "source" and isinstance(v, str) else v
                    for k, v in value.items()}  # fmt: skip
        return value

    @model_validator(mode="after")
    def _rises(self) -> Saponification:
        if not 0 < self.low <= self.high < 1000:
            raise ValueError("low and high are mg of KOH per gram and rise, such as 184 and 196")
        return self


class Varies(Record):
    """A solid solution: its formula in x ("Zn{1-x}Co{x}O") and how far x may go.

    ``with_`` (in a file: ``with``) names the substance whose x it shares: what is made on the way.
    """

    formula: str
    low: float
    high: float
    with_: Id | None = Field(None, alias="with")
    source: Sources = ()

    @model_validator(mode="before")
    @classmethod
    def _numbers(cls, value: Any) -> Any:
        if isinstance(value, dict):
            return {k: units.number(v, "'0.1'") if k in {"low", "high"} and isinstance(v, str)
                    else v for k, v in value.items()}  # fmt: skip
        return value

    @model_validator(mode="after")
    def _sensible(self) -> Varies:
        if not 0 < self.low < self.high <= 1:
            raise ValueError("low and high lie between 0 and 1 and rise")
        if "x}" not in self.formula or not re.fullmatch(r"[^{}]*(\{[\d.x+-]+\}[^{}]*)+",
                                                         self.formula):  # fmt: skip
            raise ValueError("formula is one in x, such as 'Zn{1-x}Co{x}O'")
        return self


class Substance(Record):
    """A pure chemical in one definite form.

    ``hydrate_of`` names the anhydrous form; hydrates and anhydrous form together are one
    dissolved substance. A substance without ``formula`` (a lake, a soap, an oil) is counted by
    mass, and ``mixture: true`` says so. ``uses`` and
    ``colour`` are what people ask for it by ("pigment", "blue"; common practice).
    """

    id: Id
    name: str
    names: Texts = ()
    colour: str = ""
    uses: Texts = ()
    formula: Formula | None = None
    cas: str | None = None
    hydrate_of: Id | None = None
    mixture: bool = False
    hazards: Hazards = Hazards(unknown=True)
    solutions: tuple[DilutedHazards, ...] = ()
    density_g_mL: Density | None = Field(None, alias="density")
    densities: SolutionDensities | None = None
    melting_C: Temperature | None = Field(None, alias="melting")
    boiling_C: Temperature | None = Field(None, alias="boiling")
    solubility: tuple[Solubility, ...] = ()
    saponification: Saponification | None = None
    varies: Varies | None = None
    storage: Storage | None = None
    notes: Texts = ()
    sources: Sources = ()
    replaces: bool = False

    @property
    def parsed(self) -> formulas.Formula | None:
        """The parsed formula, or None for a substance counted by mass."""
        return formulas.parse(self.formula) if self.formula else None

    @property
    def molar_mass_g(self) -> float:
        """Molar mass in g/mol; 1 for a substance counted by mass (its "mole" is a gram)."""
        parsed = self.parsed
        return parsed.molar_mass if parsed else 1.0

    @property
    def label(self) -> str:
        """The formula with subscripts, or the name."""
        parsed = self.parsed
        return parsed.pretty() if parsed else self.name
