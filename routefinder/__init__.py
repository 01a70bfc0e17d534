"""routefinder: find, weigh up and run routes from the shelf to the substance you want.

The public names load what they need on first use, so that importing the package is instant.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from routefinder import errors
    from routefinder.api.find import compare, find, plan, unlock
    from routefinder.api.shown import ShownAnswer as Answer
    from routefinder.api.shown import ShownComparison as Comparison
    from routefinder.api.shown import ShownPlan as Plan
    from routefinder.api.shown import ShownRoute as Route
    from routefinder.api.shown import ShownUnlocked as Unlocked
    from routefinder.asking.library import load_library
    from routefinder.graph.build import reaction_graph
    from routefinder.graph.network import PlainStep
    from routefinder.library.library import Library
    from routefinder.records.question import Limits, Question
    from routefinder.records.shelf import Bench, Shelf
    from routefinder.search.best import best_routes
    from routefinder.search.route import Ending, Found, StepSet

    __version__: str

# public name -> module, or module:name where it is called otherwise there
_HOMES = {
    "Answer": "routefinder.api.shown:ShownAnswer",
    "Bench": "routefinder.records.shelf",
    "Comparison": "routefinder.api.shown:ShownComparison",
    "Ending": "routefinder.search.route",
    "Found": "routefinder.search.route",
    "Library": "routefinder.library.library",
    "Limits": "routefinder.records.question",
    "PlainStep": "routefinder.graph.network",
    "Plan": "routefinder.api.shown:ShownPlan",
    "Question": "routefinder.records.question",
    "Route": "routefinder.api.shown:ShownRoute",
    "Shelf": "routefinder.records.shelf",
    "StepSet": "routefinder.search.route",
    "Unlocked": "routefinder.api.shown:ShownUnlocked",
    "best_routes": "routefinder.search.best",
    "compare": "routefinder.api.find",
    "find": "routefinder.api.find",
    "load_library": "routefinder.asking.library",
    "plan": "routefinder.api.find",
    "reaction_graph": "routefinder.graph.build",
    "unlock": "routefinder.api.find",
}

__all__ = [
    "Answer",
    "Bench",
    "Comparison",
    "Ending",
    "Found",
    "Library",
    "Limits",
    "PlainStep",
    "Plan",
    "Question",
    "Route",
    "Shelf",
    "StepSet",
    "Unlocked",
    "__version__",
    "best_routes",
    "compare",
    "errors",
    "find",
    "load_library",
    "plan",
    "reaction_graph",
    "unlock",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        home, _, called = _HOMES[name].partition(":")
        return getattr(import_module(home), called or name)
    if name == "errors":
        return import_module("routefinder.errors")
    if name == "__version__":
        from importlib.metadata import version

        return version("routefinder")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
