"""The state in which a target is wanted, and what the library can do about it.

What is asked, else what is usual (``library.state``). Where no step of the library makes that, the
other is looked for: a solution for what is wanted undissolved, and the other way round.
"""

from __future__ import annotations

import re

from routefinder.assessment.ending import KINDS
from routefinder.errors import FieldError, InputError
from routefinder.library.library import Library
from routefinder.library.state import usual_state
from routefinder.library.strengths import in_water
from routefinder.records.question import STATES, Question, State
from routefinder.records.substance import Substance

_FIRST = re.compile(r"(?P<strength>.*?\d.*?)\s+solution", re.IGNORECASE)


def read_state(library: Library, target: Substance, text: str) -> State:
    """A state from text: "solid", "solution", "solution, 10 %", "2 mol/L solution".

    Raises FieldError.
    """
    words = " ".join(text.split())
    first = _FIRST.fullmatch(words)
    if first:
        words = f"solution {first['strength']}"
    kind, _, strength = words.replace(",", " ").partition(" ")
    if words.lower() in {"dry solid", "dry"}:
        kind, strength = "solid", ""
    kind = kind.lower()
    if kind not in STATES:
        raise FieldError("{f} {text!r} is no state; write solid, liquid, gas, solution or "
                         "'solution, 10 %'", f="state", text=text)  # fmt: skip
    strength = strength.strip()
    if not strength:
        return State(kind)
    if kind != "solution":
        raise FieldError("{f} {text!r}: only a solution has a strength", f="state", text=text)
    try:
        return State(kind, in_water(library, library.root(target.id), strength))
    except InputError as error:
        raise FieldError("{f}: {error}", f="state", error=error) from None


def wanted(library: Library, question: Question) -> State:
    """What is asked, else what is usual."""
    return question.state or State(usual_state(library, question.target))


def can_be(library: Library, target: str, kind: str) -> bool:
    """Whether some step of the library makes a target in this state."""
    if kind != "solution":
        return kind in {KINDS[s] for s in library.made.get(target, ())}
    root = library.root(target)
    return any("aq" in library.made.get(form, ()) for form in library.families.get(root, (root,)))


def looked_for(library: Library, question: Question) -> str:
    """The kind that the search goes for: the wanted one, or the other where that cannot be."""
    kind = wanted(library, question).kind
    dissolved = can_be(library, question.target, "solution")
    made = library.made.get(question.target, frozenset()) - {"aq"}
    if kind == "solution":
        return kind if dissolved or not made else "solid"
    return kind if made or not dissolved else "solution"
