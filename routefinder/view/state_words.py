"""In what state a target is wanted and ends, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.listing import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from routefinder.assessment.ending import EndState
    from routefinder.results.answer import Answer
    from routefinder.vessel.water import Liquor

KIND = {
    "solid": "a dry solid", "liquid": "a liquid by itself", "solution": "a solution",
    "gas": "a gas",
}  # fmt: skip
ENDS = {
    "solid": "end in a solid", "liquid": "end in a liquid", "solution": "end in solution",
    "gas": "end in a gas",
}  # fmt: skip


def strength_words(made: Liquor | None) -> str:
    """What follows "in solution": ", 12 %, 3.2 mol/L"; nothing where it has no water to be in."""
    if made is None:
        return ""
    about = "about " * made.about
    return (
        f", {digits.significant(100 * made.strength, 2)} %, "
        f"{about}{digits.significant(made.mol_per_L, 2)} mol/L"
    )


def ends_words(found: EndState, wanted: float | None = None) -> str:
    """How a route leaves its target; nothing where that is a dry solid or a liquid by itself.

    ``wanted`` is the strength that was asked for (a mass fraction).
    """
    if found.moist:
        return f"Ends moist: {digits.percent(found.water_share)} of what lies there is water."
    made = found.liquor
    if made is None:
        return "Ends in solution." if found.kind == "solution" else ""
    text = f"Ends in solution{strength_words(made)}: {digits.mass(made.total_g)} in all"
    if wanted is not None:
        water = found.water_to_g(wanted)
        assert water is not None
        share = digits.percent(wanted)
        if water > 0.005 * made.total_g:
            text += f"; {digits.mass(water)} of water more make it {share}"
        elif water < -0.005 * made.total_g:
            text += f"; {digits.mass(-water)} of water would have to be boiled off for {share}"
    return text + "."


def sentence(answer: Answer) -> str:
    """That the routes do not end as is wanted, and how they do; nothing where they do."""
    state = answer.state
    if state is None or state.met or not answer.routes:
        return ""
    asked = state.asked
    ends = [r.assessment.ends for r in answer.routes]
    kinds = list(dict.fromkeys(e.kind for e in ends))
    n = len(answer.routes)
    verb = "end" if n > 1 else "ends"
    how = listed([ENDS[k].replace("end", verb, 1) for k in kinds])
    what = f"{'these ' + str(n) if n > 1 else 'this one'} {how}"
    want = KIND[asked.kind]
    if asked.strength is not None:
        want += f" of {digits.percent(asked.strength)} or more"
    why = " within these limits"
    if not state.possible:
        why = ", for no step in the library takes it there"
    elif state.stopped:
        why = " was found in the time there was"
    text = f"No route as {want}{why}: {what}{_range([e.liquor for e in ends if e.liquor])}."
    if asked.kind == "solid" and state.solids:
        names = [answer.library.name(f) for f in state.solids]
        text += f" As a solid the library makes {listed(names)}."
    return text


def _range(made: Sequence[Liquor]) -> str:
    """From the weakest to the strongest of some solutions."""
    if not made:
        return ""
    shares = sorted(m.strength for m in made)
    low, high = digits.percent(shares[0]), digits.percent(shares[-1])
    return f", at {low}" if low == high else f", at {low[:-2]} to {high}"
