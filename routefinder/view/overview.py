"""Several routes over one another as a plain graph: common steps once, route numbers on the arrows.

What hangs on the wall is drawn by ``view.picture.lanes``.
"""

from __future__ import annotations

from collections.abc import Sequence

from routefinder import digits
from routefinder.assessment.assess import Assessment
from routefinder.hazards.danger import of_route
from routefinder.hazards.score import Profile
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Substance
from routefinder.view.diagram import (
    FOOT_WIDTH,
    heading,
    quote,
    small_card,
    supply_text,
    target_label,
)


def overview_dot(
    library: Library,
    target: Substance,
    routes: Sequence[tuple[int, Assessment]],
    foot: bool = True,
) -> str:
    """DOT source of the routes over one another, with the disclaimer under it (``foot``)."""
    steps: dict[str, ResolvedStep] = {}
    profiles: dict[str, Profile] = {}
    uses: dict[str, list[int]] = {}
    missing: dict[str, list[str]] = {}
    edges: dict[tuple[str, str, str], list[int]] = {}
    supplies: dict[str, tuple[Supply, str]] = {}
    for number, found in routes:
        for amount in found.amounts.steps:
            sid = amount.step.id
            steps[sid] = amount.step
            profiles[sid] = found.profiles[sid]
            uses.setdefault(sid, []).append(number)
            for feed in amount.feeds:
                if isinstance(feed.origin, str):
                    label = library.substances[feed.form].label
                    edges.setdefault((feed.origin, sid, label), []).append(number)
                elif feed.role == "reactant" and not feed.origin.everywhere:
                    name = f"shelf/{feed.origin.id}"
                    supplies[name] = (feed.origin, feed.form)
                    edges.setdefault((name, sid, ""), []).append(number)
            if sid == found.amounts.last:
                edges.setdefault((sid, "target", ""), []).append(number)
        for need in found.missing:
            for sid in need.steps:
                words = missing.setdefault(sid, [])
                if need.capability.in_words() not in words:
                    words.append(need.capability.in_words())
    numbers = [number for number, _ in routes]
    title = (
        f"{digits.count(len(routes), 'route')} to {target.name} over one another: "
        f"{digits.count(len(steps), 'step')}, common "
        "steps once, route numbers on the arrows."
    )
    out = [heading(title, foot, 2 * FOOT_WIDTH if len(steps) > 2 else FOOT_WIDTH)]
    for name, (supply, form) in supplies.items():
        out.append(f"  {quote(name)} [label={quote(supply_text(library, supply, form, None))}];\n")
    for sid, step in steps.items():
        worst = next(iter(of_route({sid: profiles[sid]})), None)
        shown = _numbers(uses[sid], numbers)
        label = small_card(library, step, shown, missing.get(sid, ()), worst)
        out.append(f"  {quote(sid)} [label={label}];\n")
    out.append(f"  target [label={target_label(target)}];\n")
    for (tail, head, label), found_in in edges.items():
        shown = _numbers(found_in, numbers)
        text = f"{label}\n{shown}" if label else shown
        head_style = ", arrowhead=none" if tail.startswith("shelf/") else ""
        width = round(0.7 + 0.5 * (len(set(found_in)) - 1), 2)
        out.append(
            f"  {quote(tail)} -> {quote(head)} [label={quote(text)}, "
            f"penwidth={width}{head_style}];\n"
        )
    out.append("}\n")
    return "".join(out)


def _numbers(found: Sequence[int], every: Sequence[int]) -> str:
    """Route numbers: "1 2 5", or "all"."""
    unique = sorted(set(found))
    if len(every) > 1 and unique == sorted(set(every)):
        return "all"
    return " ".join(map(str, unique))
