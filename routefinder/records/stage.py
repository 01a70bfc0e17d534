"""A stage: one operation of a step at the bench, in the plain words of the trade.

In a file a stage is one word, or one word with its figures: ``- settle``,
``- hold: {at: 850 degC, to: 1050 degC, within: 40 K, for: 2 h, attended: no}``. The words and the
figures each may carry stand in ``STAGES``.
"""

from __future__ import annotations

from typing import Any

from pydantic import Field, model_serializer, model_validator

from routefinder import units
from routefinder.records.base import Fraction, PerMole, Record, Sources, Temperature, Texts, Time

_ALWAYS = ("for", "attended", "also", "note", "source")
_HEATS = ("at", "to", "within")

# word -> (what is done, the figures it may carry besides those of every stage)
STAGES: dict[str, tuple[str, tuple[str, ...]]] = {
    "charge": ("put in", ("what", "portions", "into")),
    "heat": ("bring to the heat", ("to", "ramp")),
    "hold": ("keep hot", (*_HEATS, "times", "between", "atmosphere")),
    "cool": ("let cool", ("to", "closed")),
    "stir": ("stir", _HEATS),
    "gas off": ("let the gas off", _HEATS),
    "electrolyse": ("pass the current", (*_HEATS, "current", "efficiency")),
    "distil": ("distil", _HEATS),
    "boil down": ("boil down", (*_HEATS, "until", "leaves")),
    "crystallise": ("let crystals grow", ("at", "crops", "leaves")),
    "settle": ("let settle", ()),
    "decant": ("pour off", ("holds", "times")),
    "filter": ("filter", ("holds", "encloses")),
    "wash": ("wash", ("what", "times", "pushes_out")),
    "lift out": ("take out", ("what",)),
    "press": ("press", ("holds",)),
    "dry": ("dry", (*_HEATS, "until", "moisture")),
    "grind": ("grind", ()),
    "stand": ("let stand", ("at",)),
}
SEPARATES = ("decant", "filter", "press")


class Stage(Record):
    """One operation, how hot, how long, how often, and whether somebody must be there.

    ``at`` and ``to`` are the least and greatest temperature in degC (of heat and cool, ``to`` is
    where it goes); ``within`` the tolerance in K. ``for`` is the time of one round, ``times`` how
    many rounds, with ``between`` done between two. ``what`` of a wash names the washes that go in
    there (the others go into every wash that names none), of a lift out the solids that are picked,
    floated, drawn or filtered out before the product is parted. ``holds`` is grams of liquor that
    a gram of solid keeps; ``encloses`` grams of the liquor's salts shut in a gram of grains, which
    no wash takes out; ``pushes_out`` the share of the liquor that a wash replaces, ``moisture``
    grams of water left per gram of dried product; ``leaves`` the free water (not bound in
    crystals) that boiling down, or an open dish, leaves: grams per mole of the limiting reactant.
    ``also`` are equations that run besides the step's own, with states; what they take and make is
    counted. ``attended`` None: nobody has said.
    """

    kind: str
    what: Texts = ()
    portions: int | None = None
    into: str = ""
    at_C: Temperature | None = Field(None, alias="at")
    to_C: Temperature | None = Field(None, alias="to")
    within_K: float | None = Field(None, alias="within")
    ramp_K_h: float | None = Field(None, alias="ramp")
    for_min: Time | None = Field(None, alias="for")
    times: int = 1
    between: str = ""
    atmosphere: str = ""
    closed: bool | None = None
    current_A: float | None = Field(None, alias="current")
    efficiency: Fraction | None = None
    until: str = ""
    leaves: PerMole | None = None
    crops: int | None = None
    holds: Fraction | None = None
    pushes_out: Fraction | None = None
    encloses: Fraction | None = None
    moisture: Fraction | None = None
    attended: bool | None = None
    also: Texts = ()
    note: str = ""
    source: Sources = ()

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        entries = {
            word: {
                "type": ["object", "null"],
                "properties": {key: {} for key in (*keys, *_ALWAYS)},
                "additionalProperties": False,
                "description": words,
            }
            for word, (words, keys) in STAGES.items()
        }
        return {
            "anyOf": [
                {"enum": list(STAGES)},
                {
                    "type": "object",
                    "properties": entries,
                    "additionalProperties": False,
                    "minProperties": 1,
                    "maxProperties": 1,
                },
            ]
        }

    @model_validator(mode="before")
    @classmethod
    def _from_file(cls, value: Any) -> Any:
        if isinstance(value, str):
            value = {value: {}}
        if not isinstance(value, dict) or "kind" in value:
            return value
        if len(value) != 1:
            raise ValueError("write one stage an entry, for example '- hold: {at: 900 degC}'")
        word, figures = next(iter(value.items()))
        if word not in STAGES:
            from difflib import get_close_matches

            near = get_close_matches(str(word), STAGES, n=2)
            hint = f"; did you mean {' or '.join(map(repr, near))}?" if near else ""
            raise ValueError(f"unknown stage {word!r}{hint}; the stages are: {', '.join(STAGES)}")
        allowed = (*STAGES[word][1], *_ALWAYS)
        out: dict[str, Any] = {"kind": word}
        for key, text in (figures or {}).items():
            if key not in allowed:
                raise ValueError(f"{word!r} has no {key!r}; it may carry: {', '.join(allowed)}")
            out[key] = _figure(key, text)
        return out

    @model_validator(mode="after")
    def _sensible(self) -> Stage:
        if self.at_C is not None and self.to_C is not None and self.at_C > self.to_C:
            raise ValueError(f"at {self.at_C:g} degC lies above to {self.to_C:g} degC")
        if self.for_min is not None and self.for_min < 0:
            raise ValueError("a time cannot be negative")
        if self.times < 1:
            raise ValueError("times must be at least 1")
        if self.portions is not None and self.portions < 1:
            raise ValueError("portions must be at least 1")
        for name in ("pushes_out", "encloses", "moisture", "efficiency"):
            share = getattr(self, name)
            if share is not None and not 0 <= share <= 1:
                raise ValueError(f"{name} must lie between 0 and 1 (100 %)")
        if self.leaves is not None and (self.leaves[1] != "mass" or self.leaves[0] < 0):
            raise ValueError("leaves is grams of water, such as '59 g/mol'")
        if self.holds is not None and self.holds < 0:
            raise ValueError("holds must not be negative")
        return self

    @model_serializer
    def _as_file(self) -> Any:
        figures: dict[str, Any] = {}
        for key in (*STAGES[self.kind][1], *_ALWAYS):
            value = getattr(self, _FIELDS.get(key, key))
            if value is None or value in ("", ()) or (key == "times" and value == 1):
                continue
            figures[key] = _text(key, value)
        return {self.kind: figures} if figures else self.kind

    @property
    def hottest_C(self) -> float | None:  # noqa: N802
        """The highest temperature the stage may have, None when it says none."""
        return self.to_C if self.to_C is not None else self.at_C

    @property
    def total_min(self) -> float | None:
        """All rounds together, None when it says no time."""
        return None if self.for_min is None else self.for_min * self.times


_FIELDS = {
    "at": "at_C", "to": "to_C", "within": "within_K", "ramp": "ramp_K_h", "for": "for_min",
    "current": "current_A",
}  # fmt: skip


def _figure(key: str, text: Any) -> Any:
    if not isinstance(text, str):
        return text
    if key == "within":
        number, unit = units.split(text)
        if unit != "K":
            raise ValueError(f"{text!r} is not a temperature difference; write '15 K'")
        return number
    if key == "ramp":
        return units.read(text, "ramp")
    if key == "current":
        return units.read(text, "current")
    if key in {"attended", "closed"}:
        if text.lower() not in {"yes", "no", "true", "false"}:
            raise ValueError(f"{key} is yes or no, not {text!r}")
        return text.lower() in {"yes", "true"}
    if key in {"times", "portions", "crops"}:
        if not units.is_whole(text):
            raise ValueError(f"{key} is a whole number, not {text!r}")
        return int(text)
    return text


def _text(key: str, value: Any) -> Any:
    if key in {"at", "to"}:
        return units.write(value, "temperature")
    if key == "within":
        return f"{value!r} K"
    if key == "ramp":
        return units.write(value, "ramp")
    if key == "current":
        return units.write(value, "current")
    if key == "for":
        return units.write(value, "time")
    if key in {"attended", "closed"}:
        return "yes" if value else "no"
    if key in {"times", "portions", "crops"}:
        return str(value)
    if key in {"holds", "pushes_out", "encloses", "moisture", "efficiency"}:
        text = f"{value * 100!r} %"
        return text if units.read_fraction(text) == value else repr(value)
    if key == "leaves":
        return f"{value[0]!r} g/mol"
    if key == "source":
        return [str(s) for s in value]
    return list(value) if isinstance(value, tuple) else value
