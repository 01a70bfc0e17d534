"""What makes a substance worth its name (its metal, its acid, its skeleton), and what carries it.

The *value* of a target is one element, or its organic carbon, by the order of ``DEAR``: a metal
that costs something before an organic acid, that before what fertilisers and glazes are made of.
The order is ours, after prices of the usual salts (common practice). It depends on the target
alone, so that different ways to it are measured by the same thing.

A reactant *carries* the value into a step's product when its atoms are those that the product
has: of an element, every reactant that holds it; of organic carbon, those with the same skeleton
(as many carbon atoms to the ion or molecule), else the one that brings the most carbon. What
carries nothing is side work: acids, alkalis, washes, counter-ions.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache

from routefinder.chem.formula import Formula, parse
from routefinder.chem.ions import dry_counts, ions
from routefinder.library.library import Library
from routefinder.library.resolve import Part, ResolvedStep

ORGANIC = "organic carbon"
METALS = (
    "Ag", "Bi", "Sn", "W", "Mo", "Co", "Ni", "V", "Cu", "Sb", "Pb", "Cd", "Ce", "Cr", "Zn", "Zr",
    "Ti", "Ba", "Sr", "Mn", "Fe",
)  # fmt: skip
AFTER = (
    "Al", "I", "Br", "B", "P", "F", "Li", "Si", "K", "Mg", "Ca", "N", "S", "Cl", "Na", "C",
)  # fmt: skip
NAMES = {
    "Ag": "silver", "Bi": "bismuth", "Sn": "tin", "W": "tungsten", "Mo": "molybdenum",
    "Co": "cobalt", "Ni": "nickel", "V": "vanadium", "Cu": "copper", "Sb": "antimony", "Pb": "lead",
    "Cd": "cadmium", "Ce": "cerium", "Cr": "chromium", "Zn": "zinc", "Zr": "zirconium",
    "Ti": "titanium", "Ba": "barium", "Sr": "strontium", "Mn": "manganese", "Fe": "iron",
    "Al": "aluminium", "I": "iodine", "Br": "bromine", "B": "boron", "P": "phosphorus",
    "F": "fluorine", "Li": "lithium", "Si": "silicon", "K": "potassium", "Mg": "magnesium",
    "Ca": "calcium", "N": "nitrogen", "S": "sulfur", "Cl": "chlorine", "Na": "sodium",
    "C": "carbon", ORGANIC: "organic carbon",
}  # fmt: skip
DEAR = (*METALS, ORGANIC, *AFTER)  # the first of these that a target holds is its value
_CARBONATE = re.compile(r"CO3(?![a-z0-9])|CO3\b")
_NO_SKELETON = frozenset({"C", "CO", "CO2"})  # carbon and its oxides; urea is counted as nitrogen
_CYANIDE = re.compile(r"CN")


@lru_cache(maxsize=4096)
def _organic(formula: Formula) -> int:
    """Organic carbon atoms of one formula unit: neither carbonate, cyanide nor carbon itself."""
    counts = formula.counts
    carbons = int(counts.get("C", 0))
    if not carbons or formula.text in _NO_SKELETON or _CYANIDE.search(formula.text):
        return 0
    if "C" in counts and _CARBONATE.search(formula.text):
        return 0
    return 0 if "N" in counts and "H" in counts and carbons == 1 else carbons


@lru_cache(maxsize=4096)
def _skeleton(formula: Formula) -> int:
    """Carbon atoms of the ion or molecule that holds the organic carbon; 0 without."""
    if not _organic(formula):
        return 0
    for ion, _ in ions(formula):
        inside = int(parse(ion).counts.get("C", 0))
        if inside:
            return inside
    groups = re.findall(r"\(C(\d*)H", formula.text)  # a basic salt: (C18H35O2)2
    return int(groups[0] or 1) if groups else int(dry_counts(formula).get("C", 0))


def value_of(library: Library, target: str) -> str:
    """The value of a target: a symbol, ``ORGANIC``, or "" where it has no formula or none fits."""
    formula = library.substances[target].parsed
    if formula is None:
        return ""
    return next((v for v in DEAR if _holds(formula, v)), "")


def holds(library: Library, substance: str, value: str) -> float:
    """Atoms of the value in one formula unit of a substance; 0 where it has no formula."""
    formula = library.substances[substance].parsed
    return 0.0 if formula is None else _holds(formula, value)


def _holds(formula: Formula, value: str) -> float:
    if value == ORGANIC:
        return float(_organic(formula))
    return float(formula.counts.get(value, 0))


def carriers(library: Library, step: ResolvedStep, product: str, value: str) -> tuple[Part, ...]:
    """The reactants that bring the value into a product of a step.

    The limiting reactant alone where nothing is known of it: a recipe by mass, no value, or no
    reactant that holds it.
    """
    holding = [p for p in step.reactants if holds(library, p.substance, value)]
    if step.is_recipe or not holding or not holds(library, product, value):
        return (step.limiting,)
    if value != ORGANIC or len(holding) == 1:
        return tuple(holding)
    made = library.substances[product].parsed
    same = [p for p in holding if made and _size(library, p.substance) == _skeleton(made)]
    if same:
        return tuple(same)
    most = max(p.moles * holds(library, p.substance, value) for p in holding)
    best = [p for p in holding if p.moles * holds(library, p.substance, value) == most]
    return (step.limiting,) if step.limiting in best else (best[0],)


def _size(library: Library, substance: str) -> int:
    formula = library.substances[substance].parsed
    return 0 if formula is None else _skeleton(formula)


def kept_share(library: Library, step: ResolvedStep, value: str) -> float:
    """Of the value that a step takes, the share that its main product can hold at a full yield.

    1 for a step that carries none. Excess of what carries it counts as taken.
    """
    known: float | None = library.kept(f"share of {value}", step)
    return library.keep(f"share of {value}", step, _share(library, step, value)) if (
        known is None) else known  # fmt: skip


def _share(library: Library, step: ResolvedStep, value: str) -> float:
    main = step.main.substance
    carry = carriers(library, step, main, value)
    product = step.main.moles * holds(library, main, value) * brought(library, step, main, value)
    taken = sum(
        p.moles * (1 + step.excess.get(p.substance, 0.0)) * holds(library, p.substance, value)
        for p in carry
    )
    return min(1.0, product / taken) if product and taken and not step.is_recipe else 1.0


def brought(library: Library, step: ResolvedStep, product: str, value: str) -> float:
    """Of the value in a product, the share that comes from what carries it.

    Below 1 where two carbon skeletons become one: an ester has the alcohol's and the acid's.
    """
    made = next((p.moles for p in step.products if p.substance == product), 0.0)
    made *= holds(library, product, value)
    came = sum(
        p.moles * holds(library, p.substance, value)
        for p in carriers(library, step, product, value)
    )
    return min(1.0, came / made) if made and came and not step.is_recipe else 1.0


def chain(library: Library, target: str) -> frozenset[str]:
    """Roots of all that may carry the value to a target by any steps of the library.

    The rest is side work: acids, alkalis, counter-ions, washes, and what they are made of.
    """
    value = value_of(library, target)
    makers: dict[str, list[tuple[ResolvedStep, str]]] = {}
    for step in library.steps.values():
        for part in step.kept():
            makers.setdefault(library.root(part.substance), []).append((step, part.substance))
    out = {library.root(target)}
    waiting = list(out)
    while waiting:
        for step, product in makers.get(waiting.pop(), ()):
            for part in carriers(library, step, product, value):
                root = library.root(part.substance)
                if root not in out:
                    out.add(root)
                    waiting.append(root)
    return frozenset(out)


Carrying = tuple[ResolvedStep, Part, str | None]


def path(
    library: Library,
    target: str,
    steps: Mapping[str, ResolvedStep],
    last: str,
    maker: Callable[[ResolvedStep, Part], str | None],
) -> tuple[Carrying, ...]:
    """What carries the target's value through a route, from the target back to the shelf.

    (step, reactant, the step that makes it or None for the shelf); ``last`` makes the target,
    ``maker`` says where a reactant comes from.
    """
    value = value_of(library, target)
    return tuple(
        (step, part, maker(step, part))
        for step, product in makers(library, target, steps, last, maker)
        for part in carriers(library, step, product, value)
    )


def makers(
    library: Library,
    target: str,
    steps: Mapping[str, ResolvedStep],
    last: str,
    maker: Callable[[ResolvedStep, Part], str | None],
) -> tuple[tuple[ResolvedStep, str], ...]:
    """The steps through which the value goes, each with the product that takes it on."""
    value = value_of(library, target)
    waiting = [(last, library.root(target))]
    out: dict[tuple[str, str], tuple[ResolvedStep, str]] = {}
    while waiting:
        step_id, root = waiting.pop(0)
        step = steps[step_id]
        made = next(
            (p.substance for p in step.kept() if library.root(p.substance) == root),
            step.main.substance,
        )
        if (step_id, made) in out:
            continue
        out[step_id, made] = (step, made)
        for part in carriers(library, step, made, value):
            origin = maker(step, part)
            if origin is not None:
                waiting.append((origin, library.root(part.substance)))
    return tuple(out.values())
