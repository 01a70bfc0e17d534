"""Equipment, as the capabilities it offers."""

from __future__ import annotations

from routefinder.records.base import Id, Record, Sources, Texts
from routefinder.records.capability import Capability


class Equipment(Record):
    """A kind of equipment: what it can do and within what limits."""

    id: Id
    name: str
    names: Texts = ()
    offers: tuple[Capability, ...]
    size: str = ""
    cautions: Texts = ()
    notes: Texts = ()
    sources: Sources = ()
    replaces: bool = False
