"""The reasoning behind a figure: a chain of arithmetic in lines, with units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """How one figure came about.

    ``figure`` names it ("heat:<step>", "gas:<step>", "time:<step>", "mass:<step>").
    """

    figure: str
    title: str
    lines: tuple[str, ...]
