"""What a run of the journal and its entries must hold to be read: checked before they are taken in.

Unknown fields are allowed (a later version may add some), but nothing in them that JSON, SQLite or
arithmetic cannot carry: no NaN, no number beyond 1e15, no half characters, no deep nesting.
"""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from routefinder.errors import InputError

MOST = 1e15
DEEPEST = 20
Name = Annotated[str, Field(min_length=1, max_length=1000)]
Words = Annotated[str, Field(max_length=100_000)]
Grams = Annotated[float, Field(ge=0, le=1e9)]
Share = Annotated[float, Field(ge=0, le=1)]
Minutes = Annotated[float, Field(ge=0, le=1e9)]
Money = Annotated[float, Field(ge=0, le=1e12)]


class _Kept(BaseModel):
    model_config = ConfigDict(frozen=True, extra="allow", strict=True, allow_inf_nan=False)


class _Feed(_Kept):
    substance: Name
    form: Name
    role: Name
    as_weighed_g: Grams
    from_step: Name | None = None
    material: Name | None = None
    name: Name | None = None
    purity: Share = 1.0
    low: Share = 1.0
    high: Share = 1.0
    price_per_g: Money | None = None
    density_g_mL: Annotated[float, Field(gt=0, le=100)] | None = None
    everywhere: bool = False

    @model_validator(mode="after")
    def _comes_from(self) -> _Feed:
        said = {"material", "name", "purity", "low", "high"} - self.model_fields_set
        if self.from_step is None and (said or self.name is None or self.material is None):
            raise ValueError("neither a step nor a material with its purity is named")
        return self


class _Product(_Kept):
    substance: Name
    state: Name
    mass_g: Grams


class _Yield(_Kept):
    low: Annotated[float, Field(ge=0, le=100)]
    typical: Annotated[float, Field(ge=0, le=100)]
    median: Annotated[float, Field(ge=0, le=100)]
    high: Annotated[float, Field(ge=0, le=100)]

    @model_validator(mode="after")
    def _rises(self) -> _Yield:
        if not self.low <= self.median <= self.high:
            raise ValueError("low, median and high do not rise")
        return self


class _Step(_Kept):
    id: Name
    title: Words
    expected: _Yield = Field(alias="yield")
    product: _Product
    ceiling_g: Grams | None
    hands_on_min: Minutes
    waiting_min: Minutes
    feeds: list[_Feed]


class _Overall(_Kept):
    material: Name
    name: Words
    low: Annotated[float, Field(ge=0, le=100)]
    typical: Annotated[float, Field(ge=0, le=100)]
    high: Annotated[float, Field(ge=0, le=100)]


class RunData(_Kept):
    """What a run remembers of its route as planned (``journal.book.plan_data``)."""

    name: Words
    target: Name
    target_name: Words
    target_g: Annotated[float, Field(gt=0, le=1e9)]
    planned_g: Annotated[float, Field(gt=0, le=1e9)] | None = None
    order: Words = ""
    shelf: Words = ""
    bench: Words = ""
    libraries: list[Words] = []
    only_library: bool = False
    overall: list[_Overall] = []
    cost: Money | None
    currency: Words
    elapsed_min: Minutes
    waste_g: Grams
    steps: Annotated[list[_Step], Field(min_length=1, max_length=1000)]
    goes_on_from: int | None = None

    @model_validator(mode="after")
    def _steps_fit(self) -> RunData:
        known: set[str] = set()
        for step in self.steps:
            if step.id in known:
                raise ValueError(f"the step {step.id!r} stands there twice")
            for feed in step.feeds:
                if feed.from_step is not None and feed.from_step not in known:
                    raise ValueError(
                        f"step {step.id!r} takes from {feed.from_step!r}, no earlier step"
                    )
            known.add(step.id)
        return self


class _In(_Kept):
    name: Name
    form: Name
    role: Name = "reactant"
    grams: Grams
    reads_g: Annotated[float, Field(gt=0, le=1e9)]
    purity: Share
    low: Share
    high: Share
    stated: bool = True
    material: Name | None = None
    more: bool = False
    whole: bool = False


class _Out(_Kept):
    grams: Grams
    reads_g: Annotated[float, Field(gt=0, le=1e9)]
    more: bool = False
    wet: bool = False
    moisture: Share | None = None
    part: Annotated[float, Field(gt=0, le=1)] | None = None


class _Strength(_Kept):
    low: Share
    share: Annotated[float, Field(gt=0, le=1)]
    high: Share
    density_g_mL: Annotated[float, Field(gt=0, le=100)] | None = None
    words: Words = ""

    @model_validator(mode="after")
    def _rises(self) -> _Strength:
        if not self.low <= self.share <= self.high:
            raise ValueError("low, share and high do not rise")
        return self


class _Test(_Kept):
    words: Annotated[str, Field(min_length=1, max_length=1000)]


class _Gone(_Kept):
    grams: Grams
    words: Words = ""


class _Temperature(_Kept):
    temperature_C: Annotated[float, Field(ge=-273.15, le=10_000)]


class _Remark(_Kept):
    words: Words = ""
    path: Words = ""
    of_entry: int | None = None


ENTRIES: dict[str, type[_Kept]] = {
    "in": _In, "out": _Out, "temperature": _Temperature, "strength": _Strength, "gone": _Gone,
    "test": _Test,
}  # fmt: skip


def check_run(data: Any, at: str) -> None:
    """Raise InputError, saying which field, when a run could not be read."""
    _check(RunData, data)
    check_moment(at)


def check_entry(kind: str, data: Any, at: str, happened: str) -> None:
    """Raise InputError, saying which field, when an entry could not be read."""
    _check(ENTRIES.get(kind, _Remark), data)
    check_moment(at)
    check_moment(happened)


def check_moment(text: str) -> None:
    """Raise InputError when a moment is none, or lies in no century of ours."""
    try:
        found = datetime.fromisoformat(text).year in range(1900, 2200)
    except ValueError:
        found = False
    if not found:
        raise InputError(f"{text[:40]!r} is no moment such as '2026-11-28T14:30:00+00:00'")


def _check(model: type[_Kept], data: Any) -> None:
    sound(data)
    try:
        model.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(p + 1) if isinstance(p, int) else p for p in first["loc"])
        said = str(first["msg"]).removeprefix("Value error, ")
        raise InputError(f"{place}: {said}" if place else said) from None


def sound(value: Any, at: tuple[str, ...] = ()) -> None:
    """Raise InputError, with the place, for what cannot be kept.

    That is NaN, huge numbers, half characters and deep nesting.
    """

    def fail(what: str) -> InputError:
        place = ".".join(at[:6])[:80].encode("utf-8", "replace").decode()
        return InputError(f"{place}: {what}" if place else what)

    if len(at) > DEEPEST:
        raise fail(f"nested more than {DEEPEST} levels deep")
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise fail("a text holds half a character (a lone surrogate)") from None
    elif isinstance(value, dict):
        for key, each in value.items():
            sound(key, (*at, str(key)))
            sound(each, (*at, str(key)))
    elif isinstance(value, list | tuple):
        for i, each in enumerate(value, start=1):
            sound(each, (*at, str(i)))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        if not math.isfinite(value):
            raise fail(f"{value} is no number")
        if abs(value) > MOST:
            raise fail(f"a number is beyond {MOST:g}")
