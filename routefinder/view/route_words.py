"""A route in a sentence: what its pictures say to who cannot see them."""

from __future__ import annotations

from routefinder import digits
from routefinder.assessment.assess import Assessment
from routefinder.library.library import Library
from routefinder.view.words import poured_or_weighed


def alt_text(library: Library, found: Assessment) -> str:
    """From what, in which steps, to how much of what."""
    starts = [
        f"{poured_or_weighed(d.supply, d.as_weighed_g)} {d.supply.name}"
        for d in found.amounts.draws
        if d.reactant and not d.supply.everywhere
    ]
    titles = [s.title for s in found.steps]
    return (
        f"From {', '.join(starts) or 'water and air'} in {digits.count(len(titles), 'step')} "
        f"({'; '.join(titles)}) to "
        f"{digits.mass(found.amounts.target_g)} {library.name(found.amounts.target)}."
    )
