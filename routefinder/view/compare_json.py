"""A comparison as plain data."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from routefinder.disclaimer import DISCLAIMER
from routefinder.view import as_json

if TYPE_CHECKING:
    from routefinder.results.comparison import Comparison

SCHEMA = "routefinder/comparison/1"


def comparison(found: Comparison) -> dict[str, Any]:
    """A comparison; routes are named by their numbers, values are in the units beside them."""
    numbers = [r.number for r in found.routes]
    front = found.answer.front
    return {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "answer": as_json.answer(found.answer),
        "routes": numbers,
        "measures": list(found.keys),
        "dominated": [
            {"route": n, "by": numbers[d.by - 1], "better_in": list(d.where)}
            for n, d in zip(numbers, found.dominated, strict=True)
            if d is not None
        ],
        "front": None
        if front is None
        else {
            "measures": list(front.keys),
            "size": front.size,
            "dominated_seen": front.beaten,
            "branches_cut": front.cut,
            "complete": front.complete,
            "complete_below": None if front.complete else front.below,
            "examples": [
                {
                    "steps": list(b.steps),
                    "by": found.answer.routes[b.dominated.by - 1].number,
                    "better_in": list(b.dominated.where),
                }
                for b in front.examples
            ],
        },
        "shared": {
            "steps": list(found.shared.steps),
            "materials": list(found.shared.materials),
            "own_steps": {
                str(n): list(own) for n, own in zip(numbers, found.shared.own, strict=True)
            },
            "partings": [
                {
                    "substance": p.substance,
                    "ways": [
                        {"from": origin, "routes": [numbers[i] for i in places]}
                        for origin, places in p.ways
                    ],
                }
                for p in found.shared.partings
            ],
        },
        "groups": [
            {"routes": [numbers[i] for i in g.routes], "reason": g.reason} for g in found.groups
        ],
        "preferred": found.preferred,
        "scores": [
            {
                "route": numbers[i],
                "score": found.scores[i].total,
                "parts": [asdict(p) for p in found.scores[i].parts],
                "breaks": list(found.scores[i].broken),
            }
            for i in found.ranking
        ],
        "robustness": None if found.robust is None else _robustness(found, numbers),
    }


def _robustness(found: Comparison, numbers: list[int]) -> dict[str, Any]:
    r = found.robust
    assert r is not None
    return {
        "first": numbers[r.first],
        "tied": [numbers[i] for i in r.tied],
        "draws": r.draws,
        "seed": r.seed,
        "price_factor": r.price_factor,
        "time_factor": r.time_factor,
        "first_in": [
            {
                "route": n,
                "any_weights": s.any_weights,
                "own_weights": s.own_weights,
                "central_weights": None if s.central is None else dict(s.central),
                "confidence": s.confidence,
            }
            for n, s in zip(numbers, r.shares, strict=True)
        ],
        "weight_turns": [{**asdict(t), "other": numbers[t.other]} for t in r.weight_turns],
        "yield_turns": [{**asdict(t), "other": numbers[t.other]} for t in r.yield_turns],
        "never": [numbers[i] for i in r.never],
    }
