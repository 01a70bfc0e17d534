"""What a step puts into the air of a room, against the exposure limits.

Gases: as ``gas`` reckons them with ``room_air``; what the record says is given off besides counts
at its worst, and where nobody knows how much it stands as kind "fume", not computed.

Vapours and dusts: how much goes into the air is not in any record. Said instead is how little it
takes: the grams that bring the whole room to the limit at once, limit x V. Extraction is asked for
where that is less than a hundredth of a liquid that is warmed, or less than 2 mg of a powder that
is weighed in, dried, ground or fired (a pinch; our own marks, common practice). A piece of metal
gives no dust. The table's one figure for chromium is that of chromium(VI), that for copper of its
fume.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment import gas
from routefinder.assessment.room_air import LITRES_PER_MOLE, Air, Room
from routefinder.chem import data
from routefinder.hazards.kinds import kinds
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Bench
from routefinder.records.substance import Substance
from routefinder.vessel.step_amounts import StepAmounts

OF_LIQUID = 0.01
PINCH_G = 0.002
DRY_WORK = frozenset({"grind", "sieve", "press", "dry", "heat-dry", "open-flame"})
WARM_C = 40.0

# limits of an element that hold for its compounds, counted as the element
BY_ELEMENT = {
    "Co": "7440-48-4", "Mn": "7439-96-5", "Cu": "7440-50-8", "Cr": "7440-47-3", "Sn": "7440-31-5",
    "Ag": "7440-22-4", "Ba": "7440-39-3", "Ni": "7440-02-0",
}  # fmt: skip
NO_DUST_HARM = frozenset({"BaSO4"})


@dataclass(frozen=True)
class Exposure:
    """One thing in the air of a room.

    ``kind`` is "gas", "fume", "vapour" or "dust". For a gas: ``litres`` a batch given off over
    ``hours``, ``peak`` and ``mean_8h`` in ``unit``, ``times`` the greatest ratio to a limit,
    ``of_explosion`` the peak as a share of the lower flammability limit; ``at_worst`` when the
    record, not the equation, says how much. A fume is given off, but nobody knows how much: nothing
    is computed of it. For a vapour or dust: ``to_limit_g``, the grams that
    bring the room to the limit, out of ``handled_g``. None: not known or not asked. ``extraction``:
    it asks for it; ``air`` is what a gas does in the room, ``when`` what makes a fume come.
    """

    substance: str
    name: str
    kind: str
    limits: data.ExposureLimits | None
    unit: str
    litres: float | None = None
    hours: float | None = None
    peak: float | None = None
    mean_8h: float | None = None
    times: float | None = None
    of_explosion: float | None = None
    to_limit_g: float | None = None
    handled_g: float | None = None
    extraction: bool = False
    verdict: str = ""
    at_worst: bool = False
    air: Air | None = None
    when: str = ""

    @property
    def unlimited(self) -> bool:
        """Nobody set a limit in the table that is used: not known to be harmless."""
        return self.limits is None and self.of_explosion is None


def limits_of(substance: Substance) -> tuple[data.ExposureLimits, float] | None:
    """(limits, grams counted per gram of substance): own limits, or those of its element."""
    formula = substance.formula or ""
    found = data.exposure_limits(substance.cas) if substance.cas else None
    if found is not None:
        return found, 1.0
    parsed = substance.parsed
    best: tuple[data.ExposureLimits, float] | None = None
    for element, cas in BY_ELEMENT.items():
        if parsed is None or element not in parsed.counts or formula in NO_DUST_HARM:
            continue
        found = data.exposure_limits(cas)
        if found is None or not found.eight_hours:
            continue
        share = parsed.mass_fraction(element)
        if best is None or found.eight_hours / share < (best[0].eight_hours or 0) / best[1]:
            best = found, share
    return best


def exposure(
    library: Library, amount: StepAmounts, room: Room | None = None, *, batches: int = 1
) -> list[Exposure]:
    """What a batch of a step puts into the air of a room, the worst first.

    Where the record asks for extraction, something of it always does.
    """
    room = room or Room()
    step = amount.step
    found = gas.gas_of_step(library, amount, room, batches=batches)
    out = _gases(found, batches) if found is not None else {}
    course = amount.course
    held = [course.charge.contents, *(point.contents for point in course.points)]
    for name, state in {p.substance: p.state for p in (*step.reactants, *step.products)}.items():
        kind = {"l": "vapour", "s": "dust"}.get(state, "")
        mass = max(float(stream.grams(name, state)) for stream in held)
        if kind and mass > 0:
            made = _loose(library.substances[name], kind, mass, step, room)
            out |= {(name, kind): made} if made is not None else {}
    return sorted(out.values(), key=lambda e: (not e.extraction, e.kind, -(e.times or 0.0)))


def _gases(found: gas.GasOfStep, batches: int) -> dict[tuple[str, str], Exposure]:
    """The gases of one batch, and what comes off besides: by figures where they are known."""
    out: dict[tuple[str, str], Exposure] = {}
    for one in found.gases:
        litres = (one.moles - one.kept_mol) * LITRES_PER_MOLE / batches
        if one.formula not in {"H2O", "O2", "N2"} and one.air is not None and litres > 0:
            out[one.substance, "gas"] = _of_air(
                one.substance, one.name, one.air, litres, one.over_min
            )  # fmt: skip
    for also in found.also:
        key = also.substance or also.name
        if also.air is not None and also.worst_L is not None:
            worst = _of_air(
                key, also.name, also.air, also.worst_L / batches, also.over_min, at_worst=True
            )
            out.setdefault((key, "gas"), worst)
            continue
        out[key, "fume"] = Exposure(
            key, also.name, "fume", None, "", extraction=also.asked, when=also.when,
            verdict="draw it off" if also.asked else "air it",
        )  # fmt: skip
    return out


def _of_air(
    key: str,
    name: str,
    air: Air,
    litres: float,
    over_min: float | None,
    *,
    at_worst: bool = False,
) -> Exposure:
    """One gas in the unit of its limit; mg/m3 at the room's 20 degC."""
    unit, factor = "ppm", 1e6
    if air.limits is not None and air.limits.unit == "mg/m3":
        unit, factor = "mg/m3", air.counted_g * 1e6 / LITRES_PER_MOLE
    return Exposure(
        key, name, "gas", air.limits, unit, litres, (over_min or 0.0) / 60, air.peak * factor,
        air.shift * factor, air.times, air.of_explosion, extraction=air.verdict != "fine",
        verdict=air.verdict, at_worst=at_worst, air=air,
    )  # fmt: skip


def _loose(
    substance: Substance, kind: str, mass_g: float, step: ResolvedStep, room: Room
) -> Exposure | None:
    """Grams of a vapour or dust that fill the room to its limit; None when there is no limit."""
    found = limits_of(substance)
    if found is None:
        return None
    limits, share = found
    least = min((v for v in (limits.eight_hours, limits.short, limits.ceiling) if v), default=None)
    if least is None:
        return None
    if limits.unit == "ppm":
        grams = least * 1e-6 * room.volume_m3 * 1000 / LITRES_PER_MOLE * substance.molar_mass_g
    else:
        grams = least * room.volume_m3 / 1000 / share
    if kind == "vapour":
        much = step.record.temperature.high_C >= WARM_C and grams < OF_LIQUID * mass_g
    else:
        much = grams < PINCH_G < mass_g and _dusty(substance, step)
    return Exposure(
        substance.id, substance.name, kind, limits, limits.unit, to_limit_g=grams,
        handled_g=mass_g, extraction=much,
    )  # fmt: skip


def _dusty(substance: Substance, step: ResolvedStep) -> bool:
    """Whether a solid is handled as a dry powder: weighed in, or made and dried or fired."""
    known = kinds(substance)
    if {"base metal", "noble metal", "copper metal"} & known.names and "metal powder" not in known:
        return False
    taken = substance.id in {p.substance for p in step.reactants}
    return taken or any(need.name in DRY_WORK for need in step.record.equipment)


def missing_extraction(
    found: list[Exposure], step: ResolvedStep, bench: Bench | None = None
) -> tuple[Exposure, ...]:
    """What needs extraction (against dust: a mask will do) that record or bench do not have."""
    names = {need.name for need in step.record.equipment}
    if bench is not None:
        names &= {offer.name for tool in bench.tools for offer in tool.offers}
    out = []
    for e in found:
        enough = {"fume-extraction"} | ({"protect-from-dust"} if e.kind == "dust" else set())
        if e.kind == "vapour" and names & {"reflux", "distil"}:
            continue  # closed but for its condenser
        if e.extraction and not names & enough:
            out.append(e)
    return tuple(out)
