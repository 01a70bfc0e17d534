"""The exact search on a plain network file: steps and costs, nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path

from routefinder.errors import InputError
from routefinder.graph.network_file import read_network
from routefinder.library import regulated
from routefinder.results.answer import NetworkAnswer
from routefinder.search import best, explain
from routefinder.search.route import Ending


def find_in_network(
    path: str | Path,
    target: str,
    shelf: Sequence[str] = (),
    *,
    top: int = 10,
    seconds: float = 10.0,
) -> NetworkAnswer:
    """The best routes in a plain network file (``graph.network_file``) by the sum of step costs.

    Steps that take or make what routefinder refuses are left out and named in the answer. Raises
    InputError for a bad file or a target or shelf name that the network does not have, Refused for
    a refused one.
    """
    regulated.refuse(target, "target")
    steps, own = read_network(Path(path))
    for name in (*own, *shelf):
        regulated.refuse(name, "taken")
    names = dict.fromkeys(n for s in steps for n in (*s.reactants, *s.products))
    for name in (target, *shelf):
        if name not in names:
            near = get_close_matches(name, names, n=3)
            hint = f"; the closest names are {', '.join(near)}" if near else ""
            raise InputError(f"{name!r} stands in no step of {path}{hint}")
    at_hand = tuple(dict.fromkeys((*own, *shelf)))
    if not at_hand:
        raise InputError("nothing is at hand; name at least one thing that is")
    if target in at_hand:
        raise InputError(f"{target!r} is already at hand")
    refused = tuple(regulated.refused_steps((s.id, s.reactants, s.products) for s in steps))
    out = {r.step for r in refused}
    steps = [s for s in steps if s.id not in out]
    found = best.search(steps, at_hand, target, top, seconds=seconds)
    near_route = None
    if found.ending is Ending.NONE:
        near_route = explain.nearest(steps, at_hand, target, {})
    return NetworkAnswer(str(path), target, at_hand, found, near_route, refused)
