"""A row of a control list: a substance that is refused, or flagged with its limit."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from routefinder.records.base import Formula, Fraction, Record, Sources, Texts


class Control(Record):
    """One substance on one list.

    ``verdict`` is "refuse" (routefinder plans nothing with it) or "flag" (lawful, with the list and
    its limit shown). ``where`` says in which part a refused one is refused: "any", "made" (as a
    target or on the way), or "target". ``alone`` says that the formula decides by itself; otherwise
    it is shared by harmless isomers and counts only for a record without a CAS number.
    ``limit`` is the mass fraction above which the general public needs a licence or is barred;
    with ``limit_as`` it counts that element only. ``also_cas`` are salts, hydrates and isomers.
    """

    list_: str = Field(alias="list")
    part: str = ""
    name: str
    names: Texts = ()
    cas: str | None = None
    also_cas: Texts = ()
    formula: Formula | None = None
    alone: bool = False
    threshold: str = ""
    limit: Fraction | None = None
    limit_as: str | None = None
    verdict: Literal["refuse", "flag"]
    where: Literal["any", "made", "target"] = "any"
    action: str = ""
    date: str
    source: Sources

    @property
    def title(self) -> str:
        """The list and its part."""
        return f"{self.list_}, {self.part}" if self.part else self.list_
