"""Drying in sentences, from ``assessment.drying``: never a figure that no record gives."""

from __future__ import annotations

from routefinder import digits
from routefinder.assessment.drying import Drying


def advice(found: Drying, what: str = "it") -> str:
    """An imperative without a full stop: how ``what`` is dried, or why it is not."""
    text = _advice(found, what)
    if found.spirit and found.may:
        wash = " and ".join(found.spirit)
        text = f"let the {wash} go off in a draught first, no flame and no spark near; then {text}"
    return text


def to_constant_weight(found: Drying, what: str = "it") -> str:
    """As ``advice``, to constant weight where it may be dried."""
    text = advice(found, what)
    if found.effloresces:
        return f"{text}, only until the crystals no longer cling"
    return f"{text}, to constant weight" if found.may else text


def again(found: Drying) -> str:
    """What to do with a product that weighs more than it can."""
    if found.may:
        return f"{to_constant_weight(found)}, or look for what else it holds"
    if found.way == "fire again":
        return (
            "heat it again as its step says, let it cool closed and weigh it again, or look for "
            "what else it holds"
        )
    if found.way == "liquid":
        return f"{advice(found)}; or look for what else it holds"
    return f"look for what it holds besides ({advice(found)})"


def _advice(found: Drying, what: str) -> str:
    limit = None if found.at_most_C is None else digits.temperature(found.at_most_C)
    if found.way == "oven":
        return f"dry {what} at {limit} or less"
    if found.way == "room":
        why = f" ({found.why[0]})" if found.why else ""
        if found.effloresces:
            why = " (warmth and dry air take its crystal water)"
        warm = f", never above {limit}" if limit else ", no oven"
        return f"air-dry {what} at room temperature{warm}{why}"
    if found.way == "agent":
        return f"dry {what} over a drying agent in a closed vessel, not in open air"
    if found.way == "out of air":
        warm = f" at {limit} or less" if limit else " without heat"
        return f"dry {what} under inert gas{warm} (air changes it)"
    if found.way == "as said":
        return f"dry {what} as its record says ({found.says})"
    if found.way == "fire again":
        return f"heat {what} again as its step says and let it cool closed; an oven does not do it"
    if found.way == "keep wet":
        return f"do not dry {what}: assay a small weighed sample and reckon the rest by it"
    if found.way == "liquid":
        if found.agent:
            return (
                f"let {what} stand over fresh {found.agent}, pour it off and weigh it again (a "
                "liquid goes into no oven)"
            )
        return f"{what} is a liquid, so no oven; its density tells of water in it"
    if found.way == "solution":
        return f"titrate {what}, or measure its density"
    if found.way == "never":
        return f"do not dry {what}: {'; '.join(found.why)}"
    return f"no record says how {what} may be dried: ask its safety data sheet"
