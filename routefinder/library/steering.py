"""What --from, --use-up and --avoid name: a step, a substance, or one material; one place.

A name is tried in this order: a step's id; a substance's own name (its id, first name, formula or
CAS number); a material's own name (id or first name); any other name of a substance; any other
name of a material. So "calcium carbonate" and "chalk" mean every material of calcium carbonate,
"whiting" and "eggshells" one each. What is read is kept as an id; where a material and a substance
share one, it is the substance's.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from routefinder.library.library import Library
from routefinder.library.names import simplify

if TYPE_CHECKING:
    from routefinder.records.shelf import Supply


def meant(library: Library, text: str, *, steps: bool = False) -> str:
    """The id of what ``text`` names; with ``steps`` a step's id as well.

    Raises NameNotFound, AmbiguousName.
    """
    if steps and text in library.steps:
        return text
    key = simplify(text)
    named = library.substance_names.find(text)
    own = [
        i
        for i in named
        if key in (simplify(i), simplify(library.substances[i].name))
        or key not in {simplify(n) for n in library.substances[i].names}
    ]
    materials = library.material_names.find(text)
    first = [
        i for i in materials if key in (simplify(i), simplify(library.materials[i].record.name))
    ]
    if not own and len(first) == 1:
        return first[0]
    if not named and len(materials) == 1:
        return materials[0]
    return library.substance(text).id


def is_material(library: Library, name: str) -> bool:
    """Whether an id that was read means one material and no substance."""
    return name in library.materials and name not in library.substances


def substance_of(library: Library, name: str) -> str:
    """The substance that is meant, or that the material meant is sold for."""
    if is_material(library, name):
        return next(iter(library.materials[name].fractions))
    return name


def in_words(library: Library, name: str) -> str:
    """A step, substance or material by its name."""
    if is_material(library, name):
        return library.materials[name].record.name
    return library.name(name) if name in library.substances else name


def covers(library: Library, name: str, supply: Supply) -> bool:
    """Whether a supply is what is named: the material itself, or a form of the substance."""
    if is_material(library, name):
        return supply.record == name
    if name not in library.substances:
        return False
    return library.root(name) in {library.root(s) for s in supply.offered}


def pushed_aside(library: Library, wanted: Iterable[str], supply: Supply) -> bool:
    """Whether a supply is a rival of what must be used, and not among it itself.

    Of a substance another form is a rival; of a material, everything else of its substance.
    """
    roots = {library.root(s) for s in supply.offered}
    rivals = False
    for name in wanted:
        if is_material(library, name):
            if supply.record == name:
                return False
        elif name in supply.offered:
            return False
        rivals = rivals or library.root(substance_of(library, name)) in roots
    return rivals
