"""A bench on which steps are done with the tools that the user names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches

from routefinder import units
from routefinder.errors import FieldError
from routefinder.hazards import vessels
from routefinder.hazards.set_up import Fit, fit, set_up
from routefinder.hazards.vessels import Verdict
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench, Tool


def with_chosen(
    library: Library,
    bench: Bench | None,
    steps: Sequence[ResolvedStep],
    wished: Sequence[tuple[str, str]],
) -> Bench | None:
    """The bench with (step, tool) as the user named them.

    Raises FieldError for a step that the route has not, a tool that the bench has not, and one that
    does not serve, with the reason.
    """
    if not wished:
        return bench
    if bench is None:
        raise FieldError("{f} needs a bench; give {g}", f="tools", g="bench")
    chosen: dict[str, tuple[str, ...]] = dict(bench.chosen)
    for step_name, tool_name in wished:
        step = _step(steps, step_name)
        tool = _tool(bench, tool_name)
        chosen[step.id] = (*chosen.get(step.id, ()), tool.name)
        wanted = replace(bench, chosen=chosen)
        why = _refused(library, step, wanted, tool)
        if why:
            raise FieldError("{f}: {tool} does not serve step {step}: {why}", f="tools",
                             tool=tool.name, step=step_name, why=why)  # fmt: skip
    return replace(bench, chosen=chosen)


def _step(steps: Sequence[ResolvedStep], name: str) -> ResolvedStep:
    if units.is_whole(name) and 1 <= int(name) <= len(steps):
        return steps[int(name) - 1]
    found = next((s for s in steps if s.id == name), None)
    if found is None:
        raise FieldError(
            "{f} names step {name!r}; this route has the steps 1 to {n}: {ids}", f="tools",
            name=name, n=len(steps), ids=", ".join(s.id for s in steps),
        )  # fmt: skip
    return found


def _tool(bench: Bench, name: str) -> Tool:
    wanted = name.casefold()
    found = [t for t in bench.tools if t.name.casefold() == wanted]
    found = found or [t for t in bench.tools if wanted in t.name.casefold()]
    if len(found) == 1:
        return found[0]
    names = [t.name for t in found or bench.tools]
    near = get_close_matches(name, names, n=3, cutoff=0.3) or names[:6]
    what = "may mean several" if found else "is not on the bench"
    raise FieldError("{f}: {name!r} {what}; there are: {listed}", f="tools", name=name, what=what,
                     listed="; ".join(names if found else near))  # fmt: skip


def _refused(library: Library, step: ResolvedStep, bench: Bench, tool: Tool) -> str:
    """Why a tool does not serve a step; nothing where it serves one of its needs."""
    kinds = {o.name for o in tool.offers}
    own = [n for n in step.needs if n.name in kinds]
    serving = [n for n in own if any(o.serves(n) for o in tool.offers)]
    if not own:
        return f"what it needs is: {_listed(n.in_words() for n in step.needs)}"
    if not serving:
        offers = [o.in_words() for o in tool.offers if o.name in {n.name for n in own}]
        return f"it needs: {_listed(n.in_words() for n in own)}; that can: {_listed(offers)}"
    found = set_up(library, step, bench)
    if found.refused:
        return found.refused
    if any(n.name != "vessel" for n in serving):
        return ""
    judged = vessels.judged(library, step)
    verdicts = [
        fit(step, need, verdict, found.heaters, tool, offer)
        for need, verdict in zip(vessels.needs(step), judged, strict=True)
        for offer in tool.offers
        if offer.serves(need)
    ]
    if any(isinstance(v, Fit) for v in verdicts):
        return ""
    bad = next((v for v in verdicts if isinstance(v, Verdict)), None)
    return "it would not last" + (f": {bad.reasons[0].words}" if bad is not None else "")


def _listed(words: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(words))


def read(text: object) -> tuple[str, str]:
    """(step, tool) from "step 2 = drying oven" or "2=drying oven". Raises FieldError."""
    left, equals, right = str(text).partition("=")
    step = " ".join(left.split()).removeprefix("step ").strip()
    if not equals or not step or not right.strip():
        raise FieldError("{f} {text!r}: write a step and a tool of the bench, for example "
                         "'step 2 = drying oven'", f="tools", text=text)  # fmt: skip
    return step, " ".join(right.split())
