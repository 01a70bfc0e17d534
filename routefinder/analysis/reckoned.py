"""What the calculator gives back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reckoned:
    """``answer`` is a sentence's worth; ``lines`` the arithmetic; ``figures`` by name and unit."""

    answer: str
    lines: tuple[str, ...]
    figures: dict[str, float]
