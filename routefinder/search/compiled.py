"""The inner loops, compiled by numba for large networks; the only door to numba.

Compiling takes seconds the first time, so it is only done above ``PAYS_ABOVE`` steps, and the
machine code is kept in the cache folder. Without numba (an optional extra) the plain loops serve.
"""

from __future__ import annotations

import os
from functools import lru_cache
from types import FunctionType, SimpleNamespace
from typing import Any

from routefinder.library.where import cache_folder
from routefinder.search import branching, goods, kernels, subnet

PAYS_ABOVE = 20_000
# in an order in which each only calls earlier ones
LOOPS: tuple[Any, ...] = (
    kernels.max_labels, kernels.max_labels_in_buckets, kernels.tree_labels,
    kernels.path_labels, kernels.landmark_cuts, subnet.row_sizes, subnet.sub_rows, subnet.turned,
    goods.demand, goods.reach_back, branching.before, branching.push, branching.pop,
    branching.close, branching.run_order, branching.superfluous, branching.inside,
    branching.include, branching.branch_on,
    branching.read_node, branching.grow,
)  # fmt: skip
PLAIN = SimpleNamespace(**{loop.__name__: loop for loop in LOOPS})


@lru_cache(maxsize=1)
def compiled() -> Any:
    """The compiled loops, or None when numba is not installed."""
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
    for loop in LOOPS:
        # a copy that calls the compiled ones, so that the plain ones stay plain
        copy = FunctionType(
            loop.__code__, {**loop.__globals__, **made}, loop.__name__, loop.__defaults__
        )
        copy.__module__, copy.__qualname__ = loop.__module__, loop.__qualname__
        made[loop.__name__] = numba.njit(copy, cache=writable, error_model="numpy")
    return SimpleNamespace(**made)


def loops_for(size: int) -> tuple[Any, bool]:
    """(loops, whether they are compiled) for a network of ``size`` steps."""
    if size >= PAYS_ABOVE:
        found = compiled()
        if found is not None:
            return found, True
    return PLAIN, False
