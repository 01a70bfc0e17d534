"""The library with what later rooms work out of each step once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from routefinder.assessment import purity
from routefinder.hazards import vessels
from routefinder.library import cache
from routefinder.library.library import Library


def load_library(folders: Sequence[str | Path] = (), only: bool = False) -> Library:
    """The shipped library (unless ``only``) with further library folders on top."""
    return cache.load_cached([Path(f) for f in folders], only, _prepare)


def _prepare(library: Library) -> None:
    vessels.prepare(library)
    purity.prepare(library)
