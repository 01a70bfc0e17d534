"""The kernels, compiled by numba for large networks; the only door to numba.

Compiling takes seconds the first time, so it is only done above ``PAYS_ABOVE`` steps, and the
machine code is kept in the cache folder. Without numba (an optional extra) the plain kernels serve.
"""

from __future__ import annotations

import os
from functools import lru_cache
from types import ModuleType, SimpleNamespace
from typing import Any

from routefinder.library.where import cache_folder
from routefinder.search import kernels

PAYS_ABOVE = 20_000
NAMES = (
    "max_labels", "max_labels_in_buckets", "tree_labels", "path_labels", "landmark_cuts",
)  # fmt: skip


@lru_cache(maxsize=1)
def compiled() -> Any:
    """The compiled kernels, or None when numba is not installed."""
    folder = cache_folder() / "numba"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        os.environ.setdefault("NUMBA_CACHE_DIR", str(folder))
        writable = os.access(folder, os.W_OK)
    except OSError:
        writable = False
    try:
        import numba
    except ImportError:
        return None
    made: dict[str, Any] = {}
    for name in NAMES:
        plain = getattr(kernels, name)
        made[name] = numba.njit(plain, cache=writable, error_model="numpy")
    # landmark_cuts calls max_labels: the compiled one
    source = made["landmark_cuts"].py_func
    scope = {**source.__globals__, "max_labels": made["max_labels"]}
    bound = type(source)(source.__code__, scope, source.__name__)
    bound.__module__ = source.__module__
    bound.__qualname__ = source.__qualname__
    made["landmark_cuts"] = numba.njit(bound, cache=writable, error_model="numpy")
    return SimpleNamespace(**made)


def kernels_for(size: int) -> tuple[ModuleType | SimpleNamespace, bool]:
    """(kernels, whether they are compiled) for a network of ``size`` steps."""
    if size >= PAYS_ABOVE:
        found = compiled()
        if found is not None:
            return found, True
    return kernels, False
