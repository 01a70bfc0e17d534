"""A reaction that stops at its equilibrium, run with another excess than its record's.

Which steps: those whose yield has a part called after the equilibrium, with two reactants mole for
mole. The constant is what the record's own conversion at its own ratio comes to, K = x^2 / ((1 - x)
(r - x)), for low, typical and high each (so what a short reflux leaves undone stays undone); at
another ratio it gives another conversion (``chem.equilibrium``). Work-up and distillation keep
their part of the yield. What has not turned is left over, not lost: the vessel's course has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from routefinder.chem.equilibrium import conversion
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep
from routefinder.records.step import YieldPart

MOST = 100.0  # mol a mol: more than that is another step


def rival(step: ResolvedStep) -> Part | None:
    """The reactant whose excess drives a step's equilibrium on; None where it has none."""
    named = [p for p in step.record.yield_.parts if _is_equilibrium(p)]
    others = [p for p in step.reactants if p.substance != step.limiting.substance]
    if len(named) != 1 or len(others) != 1 or len(step.products) != 2:
        return None
    return others[0] if abs(others[0].moles - step.limiting.moles) < 1e-12 else None


def ratio(step: ResolvedStep) -> float:
    """Moles of the reactant in excess a mole of the limiting one, as the step has it now."""
    other = rival(step)
    return 1.0 + step.excess.get(other.substance, 0.0) if other is not None else 1.0


def constant(x: float, r: float) -> float:
    """K of A + B <=> C + D from the conversion x of A with r mol of B a mol of A."""
    return x * x / ((1.0 - x) * (r - x))


def with_excess(library: Library, chosen: Sequence[tuple[str, float]]) -> Library:
    """The library with each such step that takes one of ``chosen`` at that ratio (mol a mol)."""
    wanted = {library.root(name): r for name, r in chosen}
    changed = {}
    for step in library.steps.values() if wanted else ():
        other = rival(step)
        r = wanted.get(library.root(other.substance)) if other is not None else None
        if other is not None and r is not None:
            changed[step.id] = _at(library, step, other, r)
    return replace(library, steps={**library.steps, **changed}) if changed else library


def _at(library: Library, step: ResolvedStep, other: Part, r: float) -> ResolvedStep:
    was = ratio(step)
    names = library.name(other.substance), library.name(step.limiting.substance)
    parts = []
    for part in step.record.yield_.parts:
        if _is_equilibrium(part):
            ends = {
                key: min(conversion(constant(x, was), r), 1.0)
                for key in ("low", "typical", "high")
                if 0 < (x := getattr(part, key)) < min(1.0, was)
            }
            words = f"equilibrium at {r:g} mol {names[0]} per mol {names[1]}"
            source = (
                f"computed: from {part.typical:.0%} at {was:g} mol per mol in the record, K = "
                f"{constant(part.typical, was):.2g}",
                *part.source,
            )
            part = part.model_copy(update={**ends, "what": words, "source": source})
        parts.append(part)
    record = step.record
    yield_ = record.yield_.model_copy(update={"parts": tuple(parts)})
    excess = {**step.excess, other.substance: r - 1.0}
    return replace(step, record=record.model_copy(update={"yield_": yield_}), excess=excess)


def _is_equilibrium(part: YieldPart) -> bool:
    return "equilibrium" in part.what.casefold()
