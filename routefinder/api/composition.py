"""A target with a composition of its own: "Rinmann's green, x = 0.1"."""

from __future__ import annotations

from routefinder.library.composition import Composition, asked, at, doubts
from routefinder.library.library import Library
from routefinder.results.answer import Answer
from routefinder.view import composition_words


def read(library: Library, target: str) -> tuple[Library, str, Composition | None]:
    """The library and the target as they are searched, and the composition, if one is asked for.

    A name that a record bears is that record. Raises InputError for a composition that cannot be.
    """
    wanted = asked(target) if isinstance(target, str) else None
    if wanted is None or library.substance_names.find(str(target)):
        return library, target, None
    found = at(library, *wanted)
    return found.library, found.substance.id, found


def notes(found: Composition | None, answer: Answer) -> tuple[str, ...]:
    """What the composition is, and what the assays at hand leave open of it."""
    if found is None:
        return ()
    return composition_words.notes(found, doubts(found, answer.question.shelf.supplies))
