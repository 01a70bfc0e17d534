"""What all records share: frozen models, sources with an honesty mark, quantities as text.

In a library file every quantity is text with a unit; in the record it is a float in the
canonical unit, and the attribute's name ends in that unit (``density_g_mL``). The name without
the unit is the field's name in the file (``density``).
"""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    WithJsonSchema,
    model_serializer,
    model_validator,
)

from routefinder import units
from routefinder.chem import formula as formulas
from routefinder.errors import FormulaError

MARKS = ("published", "common practice", "from memory", "computed", "invented")
ID = re.compile(r"^[a-z0-9]+(?:-[a-z0-9]+)*$")


class Record(BaseModel):
    """Base of all records: frozen, unknown fields refused."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True
    )

    def as_file(self) -> dict[str, Any]:
        """The record as a library file writes it: text with units, defaults left out."""
        return self.model_dump(mode="json", by_alias=True, exclude_defaults=True)


class Source(Record):
    """Where a number comes from, and how far it can be trusted.

    In a file: ``"published: Author, Title, year, page"``, ``"common practice"``,
    ``"from memory: Author, Title"``, ``"computed: from molar masses"`` or
    ``"invented: for the demo"`` (examples only).
    """

    mark: str
    cite: str = ""

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: Any) -> Any:
        if isinstance(value, str):
            mark, _, cite = value.partition(":")
            return {"mark": mark.strip().lower(), "cite": cite.strip()}
        return value

    @model_validator(mode="after")
    def _known_mark(self) -> Source:
        if self.mark not in MARKS:
            raise ValueError(
                f"{self.mark!r} is not an honesty mark; begin the source with one of "
                + ", ".join(repr(mark) for mark in MARKS)
            )
        if self.mark in {"published", "computed"} and not self.cite:
            raise ValueError(f"a source marked {self.mark!r} must say which, after a colon")
        return self

    @model_serializer
    def _as_text(self) -> str:
        return f"{self.mark}: {self.cite}" if self.cite else self.mark

    def __str__(self) -> str:
        return f"{self.mark}: {self.cite}" if self.cite else self.mark


def _listed(value: Any) -> Any:
    """One text may stand for a list of one."""
    return [value] if isinstance(value, str | dict) else value


_ONE_SOURCE = {
    "type": "string",
    "pattern": "^(" + "|".join(MARKS) + ")",
    "description": "an honesty mark, then a colon and the citation",
}
Sources = Annotated[
    tuple[Source, ...],
    BeforeValidator(_listed),
    WithJsonSchema({"anyOf": [_ONE_SOURCE, {"type": "array", "items": _ONE_SOURCE}]}),
]
Texts = Annotated[
    tuple[str, ...],
    BeforeValidator(_listed),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]


def _reader(kind: str) -> BeforeValidator:
    return BeforeValidator(lambda v: units.read(v, kind) if isinstance(v, str) else v)


def _writer(kind: str) -> PlainSerializer:
    return PlainSerializer(lambda v: units.write(v, kind), return_type=str, when_used="json")


def _schema(kind: str) -> WithJsonSchema:
    return WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^\s*[-+]?[0-9.,]",
            "description": f"a quantity with a unit of {kind.replace('_', ' ')}, "
            f"for example '{units._EXAMPLES[kind]}'",
        }
    )


Mass = Annotated[float, _reader("mass"), _writer("mass"), _schema("mass")]
Volume = Annotated[float, _reader("volume"), _writer("volume"), _schema("volume")]
Temperature = Annotated[
    float, _reader("temperature"), _writer("temperature"), _schema("temperature")
]
Time = Annotated[float, _reader("time"), _writer("time"), _schema("time")]
Current = Annotated[float, _reader("current"), _writer("current"), _schema("current")]
Density = Annotated[float, _reader("density"), _writer("density"), _schema("density")]
Length = Annotated[float, _reader("length"), _writer("length"), _schema("length")]
Flow = Annotated[float, _reader("flow"), _writer("flow"), _schema("flow")]
Power = Annotated[float, _reader("power"), _writer("power"), _schema("power")]


def _formula(text: str) -> str:
    try:
        return formulas.parse(text).text
    except FormulaError as error:
        raise ValueError(str(error)) from None


Formula = Annotated[str, AfterValidator(_formula)]  # kept as ``chem.formula`` writes it


def percent_text(value: float) -> str:
    """A fraction as the text that ``units.read_fraction`` gives back unchanged."""
    text = f"{value * 100!r} %"
    return text if units.read_fraction(text) == value else repr(value)


Fraction = Annotated[
    float,
    BeforeValidator(lambda v: units.read_fraction(v) if isinstance(v, str) else v),
    PlainSerializer(percent_text, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "description": "a fraction, for example '95 %' or '0.95'"}),
]


def _check_id(value: str) -> str:
    if not ID.match(value):
        raise ValueError(
            f"{value!r} is not an id; use small letters, digits and single hyphens, "
            "for example 'calcium-carbonate'"
        )
    return value


Id = Annotated[str, BeforeValidator(lambda v: _check_id(str(v)))]


def _per_mole(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    number, unit = units.split(value)
    if unit in {"g/g", "kg/kg"}:
        return number, "ratio"
    try:
        amount, kind = units.read_any(value, ("mass_per_amount", "volume_per_amount"))
    except ValueError:
        raise ValueError(
            f"{value!r} is not an amount per mole; write '500 g/mol' or '2 L/mol' (per mole of the "
            "limiting reactant), or '3 g/g' (per gram of it)"
        ) from None
    return amount, kind.removesuffix("_per_amount")


def _per_mole_text(value: tuple[float, str]) -> str:
    unit = {"mass": "g/mol", "volume": "mL/mol", "ratio": "g/g"}[value[1]]
    return f"{value[0]!r} {unit}"


PerMole = Annotated[
    tuple[float, str],
    BeforeValidator(_per_mole),
    PlainSerializer(_per_mole_text, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "description": "'500 g/mol', '2 L/mol' or '3 g/g'"}),
]
