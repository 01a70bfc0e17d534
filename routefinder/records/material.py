"""A material: what is bought or kept, as substances at mass fractions."""

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
from routefinder.records.base import Density, Fraction, Id, Record, Sources, Texts, Time
from routefinder.records.substance import Hazards

FORMS = ("solid", "metal", "liquid", "solution", "gas")
BASES = ("w/w", "w/v", "v/v", "mol/L")
_MOST = {"w/w": 1.0, "w/v": 2.0, "v/v": 1.0, "mol/L": 100.0}
# how finely a solid is divided, as it is sold or as a step asks for it, the finest first
FINENESS = ("powder", "filings", "wool", "granules", "flakes", "wire", "sheet", "lumps")
FATES = ("stays", "dissolves", "burns off", "leaves when heated")


def _strength(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    text, basis = value.strip(), "w/w"
    for candidate in BASES:
        if text.endswith(candidate):
            text, basis = text[: -len(candidate)].strip(), candidate
    return units.read_fraction(text), basis


def _strength_text(value: tuple[float, str]) -> str:
    if value[1] == "mol/L":
        return f"{value[0]!r} mol/L"
    number = f"{value[0] * 100!r} %"
    if units.read_fraction(number) != value[0]:
        number = repr(value[0])
    return number if value[1] == "w/w" else f"{number} {value[1]}"


Strength = Annotated[
    tuple[float, str],
    BeforeValidator(_strength),
    PlainSerializer(_strength_text, return_type=str, when_used="json"),
    WithJsonSchema(
        {
            "type": "string",
            "description": "'98 %', '5 % w/v', '95 % v/v' or '1 mol/L' (w/w if not said)",
        }
    ),
]


class Content(Record):
    """One substance in a material.

    ``as_formula`` says that the strength is an assay in another formula that shares
    ``of_element`` ("17 % as Al2O3"). ``what`` names in plain words what is no substance of the
    library ("organic matter"). ``fate`` is what becomes of a thing that only comes along: one of
    FATES; not said means unknown.
    """

    substance: str = ""
    what: str = ""
    strength: Strength
    low: Strength | None = None
    high: Strength | None = None
    as_formula: str | None = None
    of_element: str | None = None
    fate: str = ""

    @model_validator(mode="after")
    def _sensible(self) -> Content:
        if bool(self.substance) == bool(self.what):
            raise ValueError("give either substance or, for what is none of the library's, what")
        if self.what and self.strength[1] != "w/w":
            raise ValueError(f"{self.what!r} is given by mass: write for example '0.5 %'")
        if self.fate and self.fate not in FATES:
            raise ValueError(f"fate {self.fate!r} is not one of {', '.join(FATES)}")
        for name in ("strength", "low", "high"):
            value = getattr(self, name)
            if value is not None and not 0 < value[0] <= _MOST[value[1]]:
                raise ValueError(f"{name} must lie above 0 and up to 100 %")
        if (self.as_formula is None) != (self.of_element is None):
            raise ValueError("as_formula and of_element go together")
        return self


def _price(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    amount, _, per = value.partition("/")
    parts = amount.split()
    if len(parts) != 2 or not per:
        raise ValueError(f"{value!r} is not a price; write for example '8 USD/kg' or '2 EUR/L'")
    number, currency = units.number(parts[0], "'8 USD/kg'"), parts[1]
    if number < 0:
        raise ValueError("a price cannot be negative")
    size, kind = units.read_any(f"1 {per.strip()}", ("mass", "volume"))
    return number / size, currency, kind


def _price_text(value: tuple[float, str, str]) -> str:
    unit = "g" if value[2] == "mass" else "mL"
    return f"{value[0]!r} {value[1]}/{unit}"


Price = Annotated[
    tuple[float, str, str],
    BeforeValidator(_price),
    PlainSerializer(_price_text, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "description": "'8 USD/kg' or '2 EUR/L'"}),
]


class Material(Record):
    """What is bought or kept.

    ``form`` is solid, metal, liquid, solution or gas. ``everywhere: true`` marks what every bench
    has (tap water, air). A solution needs a ``density``. ``fineness`` is one of FINENESS; not said
    means as usual. ``hazards`` are statements that its form
    adds to those of its substances (a powder). ``uses`` are what it is asked
    for beside what its main substance is.
    """

    id: Id
    name: str
    names: Texts = ()
    uses: Texts = ()
    form: str
    fineness: str = ""
    contains: tuple[Content, ...]
    density_g_mL: Density | None = Field(None, alias="density")
    price: Price | None = None
    price_source: Sources = ()
    packs: Texts = ()
    where: Texts = ()
    everywhere: bool = False
    keeps_min: Time | None = Field(None, alias="keeps")
    hazards: Hazards | None = None
    pitfalls: Texts = ()
    notes: Texts = ()
    sources: Sources = ()
    replaces: bool = False

    @field_validator("form")
    @classmethod
    def _known_form(cls, value: str) -> str:
        if value not in FORMS:
            raise ValueError(f"form {value!r} is not one of {', '.join(FORMS)}")
        return value

    @field_validator("fineness")
    @classmethod
    def _known_fineness(cls, value: str) -> str:
        if value and value not in FINENESS:
            raise ValueError(f"fineness {value!r} is not one of {', '.join(FINENESS)}")
        return value

    @model_validator(mode="after")
    def _consistent(self) -> Material:
        if self.fineness and self.form not in {"solid", "metal"}:
            raise ValueError(f"fineness is of a solid or a metal, not of a {self.form}")
        if not self.contains:
            raise ValueError("contains is empty; name at least one substance")
        if self.contains[0].what:
            raise ValueError("the first of contains is what the material is sold for: a substance")
        wants_density = any(c.strength[1] != "w/w" for c in self.contains)
        priced_by_volume = self.price is not None and self.price[2] == "volume"
        if (wants_density or priced_by_volume) and self.density_g_mL is None:
            raise ValueError("density is missing; it is needed to turn volumes into masses")
        return self


__all__ = ["BASES", "FATES", "FINENESS", "Content", "Fraction", "Material"]
