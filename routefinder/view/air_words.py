"""The air of a room in sentences: what a gas comes to, and what stands against a limit."""

from __future__ import annotations

from routefinder import digits
from routefinder.assessment.exposure import Exposure
from routefinder.assessment.room_air import Air
from routefinder.units import significant

TELLING = 0.1  # of its limit: a bad gas that comes to less is not told by figures


def why(air: Air) -> str:
    """Why a gas may come into a room or not, in a clause."""
    found = _why(air)
    return f"{found}; the record asks for extraction" if air.verdict == "draw it off" else found


def _why(air: Air) -> str:
    under_ceiling = "; it gathers under the ceiling: open high up, no flame, no switch"
    match air.case:
        case "burns":
            most = max(air.peak, air.peak_at_once)
            return f"it would burn: {most:.1%}, limit 4 %{under_ceiling}"
        case "a tenth":
            return f"{air.peak:.2%}, above the 0.4 % that is a tenth of what burns{under_ceiling}"
        case "little":
            return f"{air.peak:.2%} in the whole room, limit 4 %{under_ceiling}"
        case "short":
            return f"{_ppm(air.peak)}, above 30 000 ppm for 10 minutes"
        case "shift":
            return f"{_ppm(air.shift)} over 8 hours, limit 5000 ppm"
        case "for a while":
            return f"{_ppm(air.peak)} for a while, 5000 ppm are the limit for a shift"
        case "below":
            return f"{_ppm(air.peak)} at most, limit 5000 ppm over 8 hours"
        case "clean":
            return "part of air"
    text = "outdoors or under extraction only"
    if air.times is not None and air.times >= TELLING:
        text += f": {significant(air.times, 2)} times its limit in the room"
    return text


def _ppm(fraction: float) -> str:
    return f"{significant(fraction * 1e6, 2)} ppm"


def asking(asked: bool) -> str:
    """What is asked for where nobody knows how much comes off."""
    return "the record asks for extraction" if asked else "air the room"


def exposed(e: Exposure) -> str:
    """Why something in the air asks for extraction, or what is not known of it; "" for neither."""
    if e.kind == "fume":
        when = f" ({e.when})" if e.when else ""
        return f"{e.name}{when}: not computed; {asking(e.extraction)}"
    if not e.extraction:
        return ""
    if e.air is not None:
        return f"{e.name}: {why(e.air)}"
    grams, handled = e.to_limit_g or 0.0, e.handled_g or 0.0
    if e.kind == "vapour":
        return f"{grams:.2g} g of {e.name} in the air reach the limit, {handled:.3g} g are warm"
    return f"{1000 * grams:.2g} mg of {e.name} dust in the air reach the limit"


def loose(e: Exposure) -> str:
    """A vapour or a dust against its limit, or what is given off besides."""
    if e.to_limit_g is None or e.handled_g is None:
        return f"{e.name}, {e.kind}: {exposed(e) or 'no limit known'}"
    return (
        f"{e.name}, {e.kind}: {digits.mass(e.to_limit_g)} in the air of the room reach the limit; "
        f"{digits.mass(e.handled_g)} are handled"
    )
