"""The gas of a step in sentences: its arithmetic line by line, and what is to be minded."""

from __future__ import annotations

import math
from collections.abc import Iterator

from routefinder import digits
from routefinder.assessment.gas import Also, Gas, GasOfStep
from routefinder.assessment.reasoning import Reason
from routefinder.assessment.room_air import LITRES_PER_MOLE
from routefinder.chem import formula as formulas
from routefinder.library import fumes
from routefinder.library.resolve import ResolvedStep
from routefinder.units import significant
from routefinder.view import air_words

WARM_C = 40.0  # above it the hot volume is told besides
UPTAKE = 0.2  # the share of its oxygen that air led through gives up; common practice


def reason(found: GasOfStep, step: ResolvedStep) -> Reason:
    """The arithmetic of a step's gases."""
    lines = [line for g in found.gases for line in _of_gas(g, found)]
    lines += [line for a in found.also for line in _of_also(a, found)]
    if found.oxygen_mol:
        lines.append(
            f"oxygen taken up: {significant(found.oxygen_mol)} mol = "
            f"{significant(found.oxygen_mol * LITRES_PER_MOLE)} L, at least "
            f"{significant(found.air_taken_L)} L of air; at 20 % uptake "
            f"{significant(found.air_taken_L / UPTAKE)} L"
        )
    return Reason(f"gas:{step.id}", f"Gas of: {step.title}", (*lines, *notes(found)))


def notes(found: GasOfStep) -> tuple[str, ...]:
    """What is to be minded of the gases, one clause each."""
    out = []
    if any(g.formula == "H2" for g in found.gases):
        out.append("hydrogen: no flame, no spark, never a closed vessel")
    toxic = [g.name for g in found.gases if g.formula not in fumes.CLEAN | {"H2"}]
    if found.asked:
        out.append(f"extraction, or outdoors: {found.why_asked}")
    elif toxic:
        out.append(f"{', '.join(toxic)}: outdoors or under extraction only")
    return tuple(out)


def shown(g: Gas) -> str:
    """Litres, rate and what the room makes of it."""
    text = f"{digits.significant(g.room_L)} L {g.name}"
    if g.over_min and g.even_L_min is not None and g.worst_L_min is not None:
        text += (
            f" over {digits.duration(g.over_min)}: {digits.significant(g.even_L_min, 2)} L/min, at "
            f"worst {digits.significant(g.worst_L_min, 2)} L/min"
        )
    else:
        text += "; how fast is not known"
    if g.air is not None:
        text += f"; in the room: {g.air.verdict}, {air_words.why(g.air)}"
        if 0 < g.air.needed_m3_h < math.inf and g.air.verdict != "fine":
            text += f"; {digits.significant(g.air.needed_m3_h, 2)} m³ of fresh air an hour suffice"
    return text


def also(a: Also) -> str:
    """What the record says is given off besides: how much at worst, or that nobody knows."""
    text = ("traces of " if a.traces else "") + a.name + (f" ({a.when})" if a.when else "")
    if a.worst_g is None:
        text += ": not computed"
    else:
        if a.typical_g is not None:
            text += f", typically {digits.mass(a.typical_g)}"
        text += f", at worst {digits.mass(a.worst_g)}"
        if a.worst_L is not None:
            text += f" ({digits.significant(a.worst_L)} L)"
    if a.air is not None:
        text += f"; in the room: {a.air.verdict}, {air_words.why(a.air)}"
    if a.air is None or not a.asked:
        text += f"; {air_words.asking(a.asked)}"
    return text


def _of_gas(g: Gas, found: GasOfStep) -> Iterator[str]:
    if g.formula == "H2O":
        yield (
            f"water vapour: {significant(g.moles)} mol, {significant(g.hot_L)} L at "
            f"{found.working_C:.0f} °C; it condenses in the cold"
        )
        return
    hot = f", {significant(g.hot_L)} L at {found.working_C:.0f} °C"
    yield (
        f"{g.name}: {significant(g.moles)} mol × {LITRES_PER_MOLE:.2f} L/mol = "
        f"{significant(g.room_L)} L at 20 °C" + (hot if found.working_C > WARM_C else "")
    )
    if g.even_L_min is not None and g.worst_L_min is not None and g.over_min:
        per = f" ÷ {found.batches} batches" if found.batches > 1 else ""
        most = (
            "no faster than the current lets it"
            if found.paced
            else f"up to {significant(g.worst_L_min, 2)} L/min when all meets at once (95 % "
            "through in that time)"
        )
        yield (
            f"  {significant(g.room_L)} L{per} ÷ {significant(g.over_min)} min = "
            f"{significant(g.even_L_min, 2)} L/min even; {most}"
        )
    if g.kept_mol:
        yield f"  of it {significant(g.kept_mol * LITRES_PER_MOLE)} L are collected or used"
    if g.air is None or found.room is None:
        return
    yield (
        f"  room of {significant(found.room.volume_m3)} m³, "
        f"{significant(found.room.air_changes_h, 2)} air changes an hour: {g.air.verdict}: "
        f"{air_words.why(g.air)}"
    )
    if 0 < g.air.needed_m3_h < math.inf and g.air.verdict != "fine":
        yield (
            f"  {significant(g.air.needed_m3_h, 2)} m³ of fresh air an hour keep it below the "
            "limit, or take longer over it"
        )


def _of_also(a: Also, found: GasOfStep) -> Iterator[str]:
    name = a.name + (f" ({a.when})" if a.when else "")
    asks = air_words.asking(a.asked)
    if a.worst_g is None:
        yield f"{name}: not computed; {asks}"
        return
    text = f"{name}, at worst: {significant(a.worst_g)} g"
    if a.worst_L is not None:
        mass = formulas.molar_mass(a.formula)
        text += (
            f" ÷ {significant(mass, 4)} g/mol × {LITRES_PER_MOLE:.2f} L/mol = "
            f"{significant(a.worst_L)} L at 20 °C"
        )
    yield f"{text}; {asks}"
    if a.air is not None and found.room is not None:
        yield f"  in the room: {a.air.verdict}: {air_words.why(a.air)}"
