"""What equipment can do, as a closed list of capabilities with limits.

Each limit has a kind and a sense: "reach" means that the bench's figure must be at least the
step's, "stay" that it must be at most the step's, "rank" that it must stand as high in a list,
"have" that a yes is needed where the step says yes.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from pydantic import model_serializer, model_validator

from routefinder import units
from routefinder.errors import QuantityError
from routefinder.records.base import Record


class Limit(NamedTuple):
    """One limit of a capability: its unit kind (or list of ranks) and its sense."""

    kind: str
    sense: str
    ranks: tuple[str, ...] = ()


FINENESS = ("coarse", "medium", "fine")
VESSEL_MATERIALS = (
    "borosilicate", "soda-lime glass", "fused silica", "porcelain", "alumina", "earthenware",
    "clay-graphite", "graphite", "stainless steel", "carbon steel", "enamel", "nickel", "platinum",
    "aluminium", "copper", "HDPE", "LDPE", "PP", "PTFE", "PFA", "PC", "PMP", "zinc-plated steel",
)  # fmt: skip

CAPABILITIES: dict[str, tuple[str, dict[str, Limit]]] = {
    "heat-liquid": ("heat a liquid", {"to": Limit("temperature", "reach"),
                                      "power": Limit("power", "reach")}),
    "heat-dry": ("heat a dry solid", {"to": Limit("temperature", "reach"),
                                      "power": Limit("power", "reach"),
                                      "ramp": Limit("ramp", "reach"),
                                      "cooling": Limit("time", "stay"),
                                      "overshoot": Limit("temperature_step", "stay"),
                                      "volume": Limit("volume", "reach")}),
    "open-flame": ("heat with a flame", {"to": Limit("temperature", "reach")}),
    "hold-temperature": ("hold a temperature", {"within": Limit("temperature_step", "stay")}),
    "measure-temperature": ("measure temperature", {"to": Limit("temperature", "reach")}),
    "cool": ("cool", {"to": Limit("temperature", "stay")}),
    "vessel": ("a vessel", {"to": Limit("temperature", "reach"),
                            "volume": Limit("volume", "reach")}),
    "stir": ("stir", {"volume": Limit("volume", "reach")}),
    "filter": ("filter", {"grade": Limit("rank", "rank", FINENESS),
                          "volume": Limit("volume", "reach")}),
    "filter-vacuum": ("filter with suction", {"grade": Limit("rank", "rank", FINENESS),
                                              "volume": Limit("volume", "reach")}),
    "decant": ("settle and decant", {}),
    "centrifuge": ("spin in a centrifuge", {}),
    "evaporate": ("boil down or evaporate", {}),
    "crystallise": ("stand undisturbed to crystallise", {}),
    "dry": ("dry a solid", {"to": Limit("temperature", "reach")}),
    "dry-in-vacuum": ("dry in vacuum", {}),
    "keep-dry": ("keep over a drying agent", {}),
    "keep-airtight": ("keep the product in an airtight jar", {}),
    "exclude-air": ("keep air out of the vessel, gas free to leave (airlock)", {}),
    "reflux": ("boil under reflux", {}),
    "distil": ("distil", {}),
    "remove-water": ("take off water as it forms (trap)", {}),
    "separate-layers": ("separate two liquid layers", {}),
    "extract": ("extract", {}),
    "inert-gas": ("keep under inert gas", {}),
    "fume-extraction": ("draw off fumes (cupboard or outdoors)", {}),
    "ventilation": ("air the room", {}),
    "electrolysis": ("pass a current", {"current": Limit("current", "reach"),
                                        "divided": Limit("yes", "have")}),
    "aerate": ("blow in air", {"flow": Limit("flow", "reach")}),
    "lead-in-gas": ("lead a gas into a liquid", {}),
    "grind": ("grind", {}),
    "sieve": ("sieve", {"opening": Limit("length", "stay")}),
    "press": ("press or mould", {}),
    "weigh": ("weigh", {"readability": Limit("mass", "stay"), "capacity": Limit("mass", "reach")}),
    "measure-volume": ("measure volumes", {"capacity": Limit("volume", "reach")}),
    "measure-ph": ("measure pH", {"resolution": Limit("plain", "stay")}),
    "measure-density": ("measure density", {}),
    "titrate": ("titrate", {}),
    "protect-from-dust": ("dust mask or enclosed handling", {}),
    "protect-from-splash": ("goggles and gloves", {}),
    "collect-waste": ("collect waste apart", {}),
}  # fmt: skip


ROOM_C = 20.0  # what stands at room temperature needs no cold


class Capability(Record):
    """A capability that a step needs or that equipment offers.

    In a file: ``filter`` (just the name), or ``{heat-dry: {to: 900 degC}}``. ``limits`` holds the
    figures in canonical units (ranks as their place in the list). A vessel has besides
    ``made_of`` (needed: any of these; offered: what it is) and ``not_of`` (never these).
    """

    name: str
    limits: tuple[tuple[str, float], ...] = ()
    made_of: tuple[str, ...] = ()
    not_of: tuple[str, ...] = ()

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        entries = {
            name: {
                "type": ["object", "null"],
                "properties": {
                    **{key: {} for key in limits},
                    **({"made_of": {}, "not_of": {}} if name == "vessel" else {}),
                },
                "additionalProperties": False,
                "description": words,
            }
            for name, (words, limits) in CAPABILITIES.items()
        }
        return {
            "anyOf": [
                {"enum": list(CAPABILITIES)},
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
            value = {value: None}
        if not isinstance(value, dict):
            return value
        if "name" in value:
            return value
        if len(value) != 1:
            raise ValueError(
                "write one capability an entry, for example '- heat-dry: {to: 900 degC}'"
            )
        name, figures = next(iter(value.items()))
        figures = dict(figures or {})
        if name not in CAPABILITIES:
            from difflib import get_close_matches

            near = get_close_matches(str(name), CAPABILITIES, n=3)
            hint = f"; did you mean {' or '.join(map(repr, near))}?" if near else ""
            raise ValueError(f"unknown capability {name!r}{hint}")
        made_of = _materials(figures.pop("made_of", ()))
        not_of = _materials(figures.pop("not_of", ()))
        if (made_of or not_of) and name != "vessel":
            raise ValueError(f"only a vessel has made_of and not_of, not {name!r}")
        known = CAPABILITIES[name][1]
        limits = []
        for key, text in figures.items():
            if key not in known:
                allowed = ", ".join(known) or "none"
                raise ValueError(f"{name!r} has no limit {key!r}; its limits are: {allowed}")
            limits.append((key, _figure(text, known[key])))
        return {
            "name": name,
            "limits": tuple(sorted(limits)),
            "made_of": made_of,
            "not_of": not_of,
        }

    @model_serializer
    def _as_file(self) -> Any:
        known = CAPABILITIES[self.name][1]
        figures: dict[str, Any] = {key: _as_text(v, known[key]) for key, v in self.limits}
        if self.made_of:
            figures["made_of"] = list(self.made_of)
        if self.not_of:
            figures["not_of"] = list(self.not_of)
        return {self.name: figures} if figures else self.name

    def limit(self, key: str) -> float | None:
        """The figure of one limit, or None."""
        return next((value for name, value in self.limits if name == key), None)

    @property
    def anywhere(self) -> bool:
        """Whether any bench can do it: to let stand, to decant, to cool to room temperature."""
        to = self.limit("to")
        return self.name in {"crystallise", "decant"} or (
            self.name == "cool" and to is not None and to >= ROOM_C
        )

    def in_words(self) -> str:
        """The capability in words: "heat a dry solid to 900 °C"."""
        words = CAPABILITIES[self.name][0]
        for key, value in self.limits:
            words += _limit_words(key, value, CAPABILITIES[self.name][1][key])
        if self.made_of:
            words += f" of {' or '.join(self.made_of)}"
        if self.not_of:
            words += f" not of {' or '.join(self.not_of)}"
        return words

    def spare(self, need: Capability) -> float:
        """How far its heat reaches beyond what is needed, in K; 0 for what has no heat."""
        return (self.limit("to") or 0.0) - (need.limit("to") or 0.0)

    def serves(self, need: Capability) -> bool:
        """Whether this offer meets ``need``."""
        if self.name != need.name:
            return False
        if need.made_of and not set(self.made_of) & set(need.made_of):
            return False
        if set(self.made_of) & set(need.not_of):
            return False
        known = CAPABILITIES[self.name][1]
        for key, wanted in need.limits:
            offered = self.limit(key)
            sense = known[key].sense
            if offered is None:
                if sense == "have" and not wanted:
                    continue
                return False
            if sense == "stay" and offered > wanted:
                return False
            if sense in {"reach", "rank", "have"} and offered < wanted:
                return False
        return True


def _materials(value: Any) -> tuple[str, ...]:
    names = (value,) if isinstance(value, str) else tuple(value)
    for name in names:
        if name not in VESSEL_MATERIALS:
            raise ValueError(
                f"unknown vessel material {name!r}; known are: {', '.join(VESSEL_MATERIALS)}"
            )
    return names


def _figure(text: Any, limit: Limit) -> float:
    if limit.kind == "rank":
        if text not in limit.ranks:
            raise ValueError(f"{text!r} is not one of {', '.join(limit.ranks)}")
        return float(limit.ranks.index(text))
    if limit.kind == "yes":
        if str(text).lower() not in {"yes", "no", "true", "false"}:
            raise ValueError(f"{text!r} is not yes or no")
        return float(str(text).lower() in {"yes", "true"})
    if limit.kind == "plain":
        return float(text)
    if limit.kind == "temperature_step":
        number, unit = units.split(str(text))
        if unit not in {"K", "degC", "°C"}:
            raise QuantityError(f"{text!r} is not a temperature difference; write '15 K'")
        return number
    return units.read(str(text), limit.kind)


def _as_text(value: float, limit: Limit) -> str:
    if limit.kind == "rank":
        return limit.ranks[int(value)]
    if limit.kind == "yes":
        return "yes" if value else "no"
    if limit.kind == "plain":
        return repr(value)
    if limit.kind == "temperature_step":
        return f"{value!r} K"
    return units.write(value, limit.kind)


def _limit_words(key: str, value: float, limit: Limit) -> str:
    if limit.kind == "temperature":
        return f" to {value:g} °C"
    if limit.kind == "temperature_step":
        return f" {'running over by' if key == 'overshoot' else 'within'} {value:g} K"
    if limit.kind == "rank":
        return f" ({limit.ranks[int(value)]})"
    if limit.kind == "yes":
        return f" ({key})" if value else ""
    if limit.kind == "volume":
        return f" of {value / 1000:g} L"
    if limit.kind == "plain":
        return f" to {value:g}"
    unit = units.CANONICAL[limit.kind]
    words = {
        "readability": "to",
        "capacity": "up to",
        "opening": "at",
        "current": "of",
        "ramp": "at",
        "cooling": "cold within",
    }
    return f" {words.get(key, key)} {value:g} {unit}"
