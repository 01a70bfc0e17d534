"""The library with what later rooms work out of each step once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from routefinder.assessment import purity
from routefinder.hazards import vessels
from routefinder.library import cache, where
from routefinder.library.library import Library
from routefinder.library.load import shipped_and

_MOST_LOADED = 2
_loaded: dict[tuple[str, str], Library] = {}


def load_library(folders: Sequence[str | Path] = (), only: bool = False) -> Library:
    """The shipped library (unless ``only``) with further library folders on top.

    The last ones loaded stay in memory: asked again, the same ``Library`` comes back as long as no
    file of it has changed. Raises what `library.cache.load_cached` raises.
    """
    every = [Path(f) for f in folders]
    layers = shipped_and(every, only)
    key = None
    if layers and all(folder.is_dir() for folder in layers):
        key = (str(where.cache_folder()), cache.fingerprint(layers))
        if key in _loaded:
            _loaded[key] = library = _loaded.pop(key)  # the last used comes last
            return library
    library = cache.load_cached(every, only, _prepare)
    if key is not None:
        _loaded[key] = library
        while len(_loaded) > _MOST_LOADED:
            del _loaded[next(iter(_loaded))]
    return library


def _prepare(library: Library) -> None:
    vessels.prepare(library)
    purity.prepare(library)
