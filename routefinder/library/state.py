"""The state in which a substance is usually sold or kept: what is meant when nobody says.

In order: a dry solid where a step of the library keeps it so or a shop sells it so; a liquid
likewise; a solution where it is sold in no other way, or where its record says so of its keeping; a
gas; what its melting and boiling points say in a room; else a dry solid.
"""

from __future__ import annotations

import re

from routefinder.library.library import Library

ROOM_C = 20.0
_KEPT_DISSOLVED = re.compile(r"\bsolution\b|^in [a-z]+ acid\b", re.IGNORECASE)


def usual_state(library: Library, substance_id: str) -> str:
    """One of ``records.question.STATES``."""
    made = library.made.get(substance_id, frozenset())
    forms = {
        m.record.form for m in library.materials.values() if m.main == substance_id
    }  # "metal" is a solid too
    record = library.substances[substance_id]
    boils = record.boiling_C is not None and record.boiling_C < ROOM_C
    if "s" in made or (forms & {"solid", "metal"} and not boils and "g" not in made):
        return "solid"
    if "l" in made or "liquid" in forms:
        return "liquid"
    kept = record.storage.how if record.storage is not None else ""
    if forms == {"solution"} or _KEPT_DISSOLVED.search(kept):
        return "solution"
    if "g" in made or "gas" in forms or boils:
        return "gas"
    if record.melting_C is not None and record.melting_C < ROOM_C:
        return "liquid"
    return "solid"
