"""A step: one reaction or one physical operation, as the library knows it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from routefinder import units
from routefinder.chem import equation as equations
from routefinder.errors import EquationError
from routefinder.records.base import (
    Fraction,
    Id,
    Mass,
    PerMole,
    Record,
    Sources,
    Temperature,
    Texts,
    Time,
    percent_text,
)
from routefinder.records.bench_test import BenchTest
from routefinder.records.capability import Capability
from routefinder.records.material import FINENESS
from routefinder.records.stage import Stage
from routefinder.records.substance import Storage

KINDS = (
    "precipitation", "dissolution", "neutralisation", "displacement", "oxidation", "reduction",
    "burning", "roasting", "dehydration", "hydration", "decomposition", "combination",
    "electrolysis", "crystallisation", "recrystallisation", "drying", "leaching", "washing",
    "concentration", "causticising", "esterification", "saponification", "hydrolysis",
    "condensation", "extraction", "melting", "laking", "ion exchange", "distillation", "grinding",
)  # fmt: skip
ROLES = ("solvent", "wash", "catalyst", "flux", "seed", "medium", "drying agent", "fuel")


class YieldPart(Record):
    """One factor of a step's yield, with its range.

    ``reading`` says what low, typical and high mean: "percentiles" (10th, 50th, 90th) or
    "triangular" (least, most likely, greatest). The first ``source`` bears the figures, those
    after it say what else went in (``library.evidence``); ``check`` refuses a part without one.
    ``scale_g``: what the printed work started from.
    """

    what: str = ""
    low: Fraction
    typical: Fraction
    high: Fraction
    reading: str = "percentiles"
    source: Sources = ()
    scale_g: Mass | None = Field(default=None, alias="scale")

    @model_validator(mode="after")
    def _ordered(self) -> YieldPart:
        for name in ("low", "typical", "high"):
            value = getattr(self, name)
            if not 0 < value <= 1:
                raise ValueError(f"{name} is {value:g}; a yield lies above 0 and up to 1 (100 %)")
        if not self.low <= self.typical <= self.high:
            raise ValueError(
                f"low {self.low:g}, typical {self.typical:g}, high {self.high:g} are out of order"
            )
        if self.reading not in {"percentiles", "triangular"}:
            raise ValueError(f"reading {self.reading!r} is neither 'percentiles' nor 'triangular'")
        return self


class Yield(Record):
    """The isolated fraction of the theoretical amount of the main product.

    It counts on the limiting reactant. ``basis`` says what was weighed and how dry. A step whose
    loss has several causes may give them as ``parts``; the yield is their product.
    """

    basis: str
    parts: tuple[YieldPart, ...]

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        found: dict[str, Any] = handler.resolve_ref_schema(handler(schema))
        part = handler.resolve_ref_schema(found["properties"]["parts"]["items"])
        single = {
            "type": "object",
            "additionalProperties": False,
            "properties": {**part["properties"], "basis": {"type": "string"}},
            "required": ["low", "typical", "high", "basis"],
        }
        return {"anyOf": [dict(found), single]}

    @model_validator(mode="before")
    @classmethod
    def _single(cls, value: Any) -> Any:
        if isinstance(value, dict) and "parts" not in value and "low" in value:
            rest = {k: v for k, v in value.items() if k != "basis"}
            return {"basis": value.get("basis", ""), "parts": [rest]}
        return value

    @model_validator(mode="after")
    def _filled(self) -> Yield:
        if not self.parts:
            raise ValueError("parts is empty; give low, typical and high")
        if not self.basis:
            raise ValueError("basis is missing; say what was weighed and how dry")
        return self

    def _product(self, name: str) -> float:
        total = 1.0
        for part in self.parts:
            total *= getattr(part, name)
        return total

    @property
    def low(self) -> float:
        return self._product("low")

    @property
    def typical(self) -> float:
        return self._product("typical")

    @property
    def high(self) -> float:
        return self._product("high")


class Window(Record):
    """The temperature window a step works in; too hot is as wrong as too cold."""

    low_C: Temperature = Field(alias="low")
    high_C: Temperature = Field(alias="high")
    source: Sources = ()

    @model_validator(mode="after")
    def _ordered(self) -> Window:
        if self.low_C > self.high_C:
            raise ValueError(f"low {self.low_C:g} degC is above high {self.high_C:g} degC")
        return self


class Duration(Record):
    """Working and waiting time of one batch.

    ``unattended`` says whether one may leave it while it waits; None when nobody has said.
    """

    hands_on_min: Time = Field(alias="hands_on")
    waiting_min: Time = Field(0.0, alias="waiting")
    unattended: bool | None = None
    source: Sources = ()

    @model_validator(mode="after")
    def _positive(self) -> Duration:
        if self.hands_on_min < 0 or self.waiting_min < 0:
            raise ValueError("a time cannot be negative")
        return self


def _within(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    text = value.strip()
    if text.startswith("up to "):
        return 0.0, units.read_fraction(text.removeprefix("up to "))
    low, to, high = text.partition(" to ")
    return units.read_fraction(low), units.read_fraction(high) if to else None


def _within_text(value: tuple[float, float | None]) -> str:
    low, high = value
    if high is None:
        return percent_text(low)
    return f"{percent_text(low)} to {percent_text(high)}"


Within = Annotated[
    tuple[float, float | None],
    BeforeValidator(_within),
    PlainSerializer(_within_text, return_type=str, when_used="json"),
    WithJsonSchema(
        {"type": "string", "description": "'20 %' (at least), '10 % to 40 %' or 'up to 40 %'"}
    ),
]


class Auxiliary(Record):
    """Something that goes in besides the reactants, per mole or gram of the limiting reactant.

    ``recovered`` is the fraction that can be used again; ``after`` says that it goes in when the
    reaction is over: it dilutes what was made and not what reacts.
    """

    substance: str
    role: str
    amount: PerMole
    after: bool = False
    recovered: Fraction = 0.0
    at_least: Fraction | None = None
    source: Sources = ()

    @model_validator(mode="after")
    def _known(self) -> Auxiliary:
        if self.role not in ROLES:
            raise ValueError(f"role {self.role!r} is not one of {', '.join(ROLES)}")
        if not 0 <= self.recovered <= 1:
            raise ValueError("recovered must lie between 0 and 1 (100 %)")
        if self.amount[0] <= 0:
            raise ValueError("the amount must be above 0")
        return self


class GivenOff(Record):
    """A gas, vapour, mist or smoke that comes off besides the equation's gases.

    ``what`` is a name of ``library/fumes.csv`` or the id of a substance. ``typical`` and
    ``worst`` are masses per mole of the limiting reactant (or grams per gram of it); None where
    nobody knows. ``traces`` says that little comes, ``when`` what makes it come.
    """

    what: str
    typical: PerMole | None = None
    worst: PerMole | None = None
    traces: bool = False
    when: str = ""
    source: Sources = ()

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        found: dict[str, Any] = handler.resolve_ref_schema(handler(schema))
        return {"anyOf": [dict(found), {"type": "string"}]}

    @model_validator(mode="before")
    @classmethod
    def _name_alone(cls, value: Any) -> Any:
        return {"what": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _known(self) -> GivenOff:
        given = [x for x in (self.typical, self.worst) if x is not None]
        if any(amount <= 0 for amount, _ in given):
            raise ValueError("what is given off must be above 0; leave out what is not known")
        if any(kind == "volume" for _, kind in given):
            raise ValueError("what is given off counts by mass; write '5 g/mol' or '0.2 g/g'")
        if self.typical and self.worst and self.typical[0] > self.worst[0]:
            raise ValueError("typical is more than worst")
        if self.typical and not self.worst:
            raise ValueError("typical is given without worst; the worst decides what is asked for")
        if given and not self.source:
            raise ValueError("an amount needs its source")
        return self


class Step(Record):
    """One reaction or physical operation: several reactants AND-ed to several products.

    The equation holds formulas or substance ids with states. A step whose products have no fixed
    formula gives ``recipe`` instead: the same text with grams for coefficients. ``fineness`` and
    ``purity`` ask for how finely a bought reactant is divided, and for the least mass fraction.
    """

    id: Id
    title: str
    kind: str
    equation: str | None = None
    recipe: str | None = None
    product: str
    limiting: str
    yield_: Yield = Field(alias="yield")
    temperature: Window
    time: Duration
    excess: dict[str, Fraction] = {}
    strength: dict[str, Within] = {}
    fineness: dict[str, Texts] = {}
    purity: dict[str, Fraction] = {}
    recovered: dict[str, Fraction] = {}
    stays_dissolved: dict[str, Fraction] = {}
    auxiliaries: tuple[Auxiliary, ...] = ()
    equipment: tuple[Capability, ...] = ()
    gives_off: tuple[GivenOff, ...] = ()
    stages: tuple[Stage, ...] = ()
    tests: tuple[BenchTest, ...] = ()
    done_when: Texts = ()
    watch: Texts = ()
    cautions: Texts = ()
    storage: Storage | None = None
    notes: Texts = ()
    sources: Sources = ()
    exceptions: dict[str, str] = {}
    replaces: bool = False

    @field_validator("kind")
    @classmethod
    def _known_kind(cls, value: str) -> str:
        if value not in KINDS:
            raise ValueError(f"kind {value!r} is not one of {', '.join(KINDS)}")
        return value

    @model_validator(mode="after")
    def _consistent(self) -> Step:
        if (self.equation is None) == (self.recipe is None):
            raise ValueError("give either equation (in moles) or recipe (in grams)")
        for name, fraction in self.excess.items():
            if fraction < 0:
                raise ValueError(f"excess of {name} is negative")
        for name, (low, high) in self.strength.items():
            if not 0 <= low <= 1 or (high is not None and not 0 < high <= 1):
                raise ValueError(f"strength {name} must lie between 0 and 1 (100 %)")
            if high is not None and low > high:
                raise ValueError(f"strength {name}: {low:g} to {high:g} is out of order")
        for name, allowed in self.fineness.items():
            for each in allowed:
                if each not in FINENESS:
                    raise ValueError(
                        f"fineness {name}: {each!r} is not one of {', '.join(FINENESS)}"
                    )
        for field in ("recovered", "stays_dissolved", "purity"):
            for name, fraction in getattr(self, field).items():
                if not 0 <= fraction <= 1:
                    raise ValueError(f"{field} {name} must lie between 0 and 1 (100 %)")
        return self

    @property
    def parsed(self) -> equations.Equation:
        """The parsed equation or recipe. Raises EquationError."""
        text = self.equation or self.recipe
        if text is None:
            raise EquationError(f"step {self.id} has no equation")
        return equations.parse(text)
