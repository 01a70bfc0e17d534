"""What a route holds beyond its titles, and which materials were chosen, in a line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from routefinder import digits
from routefinder.assessment.surprises import Surprise
from routefinder.library.library import Library
from routefinder.listing import listed
from routefinder.vessel.step_amounts import Amounts
from routefinder.vessel.supplied import Choice, choices

OTHERS = 3  # materials that are named besides the one chosen; the rest is counted
OFTEN = {2: "twice", 3: "three times"}


def _times(n: int) -> str:
    return OFTEN.get(n, f"{n} times")


def one(library: Library, found: Surprise) -> str:
    """One surprise, without its step."""
    heat = "" if found.at_C is None else f" at {digits.temperature(found.at_C)}"
    long = "" if found.minutes is None else digits.duration(found.minutes)
    if found.kind == "raking":
        return f"{long} of raking{heat}"
    if found.kind == "firing":
        often = _times(found.times)
        verb = "fired" if (found.at_C or 0) >= 400 else "heated"
        if found.words in {"", "grind"}:
            between = ", ground between" * bool(found.words)
            return f"{verb} {often}{heat}{between}"
        return f"{verb} {often}{heat} ({found.words} between)"
    if found.kind == "grinding":
        return "grinding" if found.times == 1 else f"grinding {_times(found.times)}"
    if found.kind == "filtering":
        return "a second filtration" if found.times == 2 else f"{found.times} filtrations"
    if found.kind == "decanting":
        return f"washed by pouring off {_times(found.times)}"
    if found.kind == "crops":
        return f"{found.times} crops of crystals"
    if found.kind == "distilling":
        return "a distillation"
    if found.kind == "current":
        return f"a current for {long}" if long else "a current"
    if found.kind == "atmosphere":
        return f"in the heat: {found.words}"
    if found.kind == "watching":
        return f"{long} of staying by it"
    return lacking(library, found.choice) if found.choice else ""


def lacking(library: Library, choice: Choice) -> str:
    """A material that is not as its step asks."""
    name, ask = choice.supply.name, choice.ask
    parts = []
    if ask.fineness and choice.supply.fineness not in {"", *ask.fineness}:
        parts.append(
            f"{name} comes as {choice.supply.fineness}, wanted as {_either(ask.fineness)}: "
            "divide it first, or buy it so"
        )
    else:
        parts.append(f"{name} is less pure than the {digits.percent(ask.pure)} wanted")
    return parts[0]


def _either(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def surprise_line(library: Library, found: Sequence[Surprise], numbers: Mapping[str, int]) -> str:
    """All of a route in one line; empty where there is nothing."""
    by_step: dict[str, list[str]] = {}
    for each in found:
        by_step.setdefault(each.step, []).append(one(library, each))
    if not by_step:
        return ""
    said = [
        f"step {numbers[step]}, {listed(words)}"
        for step, words in sorted(by_step.items(), key=lambda item: numbers[item[0]])
    ]
    return f"Expect: {'; '.join(said)}."


def surprise_data(library: Library, found: Sequence[Surprise]) -> list[dict[str, Any]]:
    """The same as data."""
    return [
        {
            "step": s.step, "kind": s.kind, "times": s.times, "minutes": s.minutes,
            "at_C": s.at_C, "words": one(library, s),
        }
        for s in found
    ]  # fmt: skip


def instead(library: Library, found: Amounts) -> dict[str, tuple[str, ...]]:
    """Material id -> names of what would serve wherever it is taken, the best first."""
    out: dict[str, list[str]] = {}
    for choice in choices(library, found):
        names = [s.name for s in choice.others]
        known = out.get(choice.supply.id)
        out[choice.supply.id] = names if known is None else [n for n in known if n in names]
    return {i: tuple(dict.fromkeys(names)) for i, names in out.items()}


def chosen_line(library: Library, found: Amounts) -> str:
    """Which materials were chosen where others would serve; empty where there was no choice."""
    names = {d.supply.id: d.supply.name for d in found.draws}
    said = []
    for material, others in instead(library, found).items():
        if not others or material not in names:
            continue
        shown = list(others[:OTHERS])
        more = len(others) - len(shown)
        rest = [f"{more} more"] if more else []
        said.append(f"{names[material]} (else {_either_or(shown + rest)})")
    return f"Chosen materials: {'; '.join(said)}." if said else ""


def _either_or(names: Sequence[str]) -> str:
    return "; ".join(names) if any("," in n for n in names) and len(names) > 2 else _either(names)
