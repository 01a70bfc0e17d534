"""Equipment, as the capabilities it offers, and what it is like to work with."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from routefinder.records.base import Id, Record, Sources, Texts
from routefinder.records.capability import Capability

HEATS_BY = (
    "plate", "flame", "water bath", "oil bath", "mantle", "oven", "kiln", "muffle",
    "tube", "gas kiln", "microwave kiln",
)  # fmt: skip


def _known_way(value: str) -> str:
    if value and value not in HEATS_BY:
        raise ValueError(f"heats_by {value!r} is not one of {', '.join(HEATS_BY)}")
    return value


HeatsBy = Annotated[str, AfterValidator(_known_way)]


class Equipment(Record):
    """A kind of equipment: what it can do and within what limits.

    ``heats_by`` says what a vessel meets in it (one of ``HEATS_BY``; "" is not known and taken
    cautiously); ``may_be_left`` whether one may go away while it heats (None is no); ``outdoors``
    that it is used outdoors only; ``food`` that food is made in it;
    ``count`` how many such a line of a bench means when it does not say (a set of beakers);
    """

    id: Id
    name: str
    names: Texts = ()
    count: int = 1
    offers: tuple[Capability, ...]
    heats_by: HeatsBy = ""
    may_be_left: bool | None = None
    outdoors: bool = False
    food: bool = False
    size: str = ""
    cautions: Texts = ()
    notes: Texts = ()
    sources: Sources = ()
    replaces: bool = False
