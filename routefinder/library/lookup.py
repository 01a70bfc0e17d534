"""Find any record of a library by name: substance, material, kind of equipment or step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from difflib import SequenceMatcher

from routefinder.errors import AmbiguousName, InputError, NameNotFound
from routefinder.library.library import Library
from routefinder.library.names import NameIndex, simplify

KINDS = ("substance", "material", "equipment", "step")


@dataclass(frozen=True)
class Meaning:
    """What a name means: the kind of record and its id.

    ``also`` holds the records of other kinds that bear the same name.
    """

    kind: str
    id: str
    also: tuple[tuple[str, str], ...] = ()


def look_up(library: Library, text: str, kind: str | None = None) -> Meaning:
    """The record that ``text`` names.

    A substance goes before a material, that before equipment and steps; ``kind`` asks for one of
    them. Raises NameNotFound with the closest names, or AmbiguousName with the choices.
    """
    if kind is not None and kind not in KINDS:
        raise InputError(f"unknown kind {kind!r}; choose one of {', '.join(KINDS)}")
    text = text.strip()
    wanted = KINDS if kind is None else (kind,)
    indices = {k: _index(library, k) for k in wanted}
    found = {k: indices[k].find(text) for k in wanted}
    exact = [k for k in wanted if text in found[k]]  # an id means the record that has it
    first = next((k for k in (*exact, *wanted) if found[k]), None)
    if first is None:
        raise _not_found(text, kind, [indices[k] for k in wanted])
    ids = found[first]
    if len(ids) > 1:
        choices = [f"{i}  ({_shown(library, first)(i)})" for i in ids]
        listed = "".join(f"\n  {choice}" for choice in choices)
        raise AmbiguousName(
            f"{text!r} may mean several things; write one of these:{listed}", tuple(ids)
        )
    also = tuple((k, i) for k in wanted if k != first for i in found[k])
    return Meaning(first, ids[0], also)


def _index(library: Library, kind: str) -> NameIndex:
    if kind == "substance":
        return library.substance_names
    if kind == "material":
        return library.material_names
    if kind == "equipment":
        return library.equipment_names
    steps = NameIndex()
    for step in library.steps.values():
        steps.add(step.id, (step.title,), None, None)
    return steps


def _not_found(text: str, kind: str | None, indices: list[NameIndex]) -> NameNotFound:
    each = 5 if kind else 3
    key = simplify(text)
    near = list(dict.fromkeys(name for index in indices for name in index.closest(text, each)))
    near.sort(key=lambda name: -SequenceMatcher(None, key, simplify(name)).ratio())
    near = near[:6]
    hint = ""
    if near:
        hint = "; the closest names are:" + "".join(f"\n  {name}" for name in near)
    what = f"no {kind}" if kind else "nothing"
    return NameNotFound(f"{what} is called {text!r} in the library{hint}", near)


def _shown(library: Library, kind: str) -> Callable[[str], str]:
    def substance(i: str) -> str:
        s = library.substances[i]
        return f"{s.name}, {s.label}" if s.formula else s.name

    return {
        "substance": substance,
        "material": lambda i: library.materials[i].record.name,
        "equipment": lambda i: library.equipment[i].name,
        "step": lambda i: library.steps[i].title,
    }[kind]
