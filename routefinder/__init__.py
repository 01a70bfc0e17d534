"""routefinder: find, weigh up and run routes from the shelf to the substance you want.

The public names load what they need on first use, so that importing the package is instant.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from routefinder.api.find import compare, find
    from routefinder.api.shown import ShownAnswer as Answer
    from routefinder.api.shown import ShownComparison as Comparison
    from routefinder.api.shown import ShownRoute as Route
    from routefinder.asking.library import load_library
    from routefinder.graph.build import reaction_graph
    from routefinder.graph.network import PlainStep
    from routefinder.search.best import best_routes
    from routefinder.search.route import Ending, Found, StepSet

_HOMES = {
    "Answer": "routefinder.api.shown",
    "Comparison": "routefinder.api.shown",
    "Ending": "routefinder.search.route",
    "Found": "routefinder.search.route",
    "PlainStep": "routefinder.graph.network",
    "Route": "routefinder.api.shown",
    "StepSet": "routefinder.search.route",
    "compare": "routefinder.api.find",
    "find": "routefinder.api.find",
    "load_library": "routefinder.asking.library",
    "reaction_graph": "routefinder.graph.build",
    "best_routes": "routefinder.search.best",
}

_NAMES = {"Answer": "ShownAnswer", "Comparison": "ShownComparison", "Route": "ShownRoute"}

__all__ = [
    "Answer",
    "Comparison",
    "Ending",
    "Found",
    "PlainStep",
    "Route",
    "StepSet",
    "best_routes",
    "compare",
    "find",
    "load_library",
    "reaction_graph",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), _NAMES.get(name, name))
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
