"""Explanations of the weight of a product that was filtered off or crystallised."""

from __future__ import annotations

from routefinder import digits
from routefinder.assessment import drying_words
from routefinder.assessment.drying import drying
from routefinder.journal.explanation import (
    WATER_G,
    Explanation,
    scale_error,
)
from routefinder.journal.mass_model import MassModel
from routefinder.journal.rivals import NEAR, Rival, rivals
from routefinder.journal.weight import Charge, Reading
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed

LEAST_WATER = 0.002  # less water than that is not worth a word
WETTEST = 0.8  # water per gram of a wet filter cake, at the most


def explain(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    found: MassModel,
    says: str,
    y: float,
    u: float,
    part: float,
) -> tuple[tuple[Explanation, ...], tuple[str, ...], tuple[str, ...]]:
    """(explanations, fitting ones first; next measurements; notes)."""
    product = library.substances[step.main.substance]
    b, full = out.grams, found.full_g
    usual = full * step.record.yield_.typical * part
    others = rivals(library, step)
    rows: list[Explanation] = []
    notes: list[str] = []
    if says == "go on":
        rows += _too_little(library, step, charge, b, full, part, y)
        rows.append(scale_error(usual - b, max(out.reads_g, charge.reading.reads_g)))
    elif says == "something else" or (says == "cannot tell" and y > step.record.yield_.high * part):
        rows += _too_much(library, step, charge, b, full, usual, y, found)
        rows += [_as_rival(library, r, b, full, usual) for r in others[:4] if r.ratio > 1]
        over = b - min(full, full * step.record.yield_.high * part)
        rows.append(scale_error(over, max(out.reads_g, charge.reading.reads_g)))
    low, high = (full * part * v for v in (step.record.yield_.low, step.record.yield_.high))
    same = [r for r in others if r.ratio != 1 and low * r.ratio <= b <= high * r.ratio][:3]
    if says == "done":
        for r in same:
            notes.append(_untold(library, r, product.label, usual))
        loss = (b - full * step.record.yield_.low * part) / b
        if loss > LEAST_WATER:
            notes.append(
                f"up to {digits.percent(loss)} of the weight could still be water without leaving "
                "the usual range"
            )
    rows.sort(key=lambda r: not r.fits)
    return tuple(rows), _checks(library, step, says, others, product.id), tuple(notes)


def _too_much(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    b: float,
    full: float,
    usual: float,
    y: float,
    found: MassModel,
) -> list[Explanation]:
    water_least, water = max(b - full, 0.0), b - usual
    rows = [
        Explanation(
            "wet", water / b <= WETTEST, water, "g",
            f"it holds water: {digits.mass(water)} ({digits.percent(water / b)}) if the yield is "
            "the usual one"
            + (f", at least {digits.mass(water_least)}" if water_least > 0 else ""),
        )
    ]  # fmt: skip
    salts = _salts(library, step, found)
    if salts:
        total = sum(grams for _, grams in salts)
        names = " and ".join(f"{label} (up to {digits.mass(grams)})" for label, grams in salts[:3])
        rows.append(
            Explanation(
                "not washed out", total >= water_least, min(total, water), "g",
                f"it holds {digits.mass(water)} of what was to be washed out or was fed in excess: "
                f"{names}",
            )
        )  # fmt: skip
    needed = charge.purity * y
    rows.append(
        Explanation(
            "richer start", needed <= charge.high, needed, "g/g",
            f"{charge.name} would hold {digits.percent(needed)} at the least (taken: "
            f"{digits.percent(charge.purity)})" + ("" if needed <= 1 else ", more than pure"),
        )
    )  # fmt: skip
    return rows


def _too_little(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    b: float,
    full: float,
    part: float,
    y: float,
) -> list[Explanation]:
    record = step.record.yield_
    usual = full * record.typical * part
    missing = usual - b
    rows = [
        Explanation(
            "unfinished", True, y, "of 1",
            f"{digits.mass(missing)} are still in the liquor or unreacted "
            f"({digits.percent(y / (record.typical * part))} of the usual amount is out)",
        ),
        Explanation(
            "lost", True, missing, "g",
            f"{digits.mass(missing)} were lost (filter, spill, washing)",
        ),
    ]  # fmt: skip
    needed = charge.purity * y / (record.typical * part)
    least = charge.low - (charge.purity - charge.low) if charge.stated else 0.9
    rows.append(
        Explanation(
            "impure start", needed >= least, needed, "g/g",
            f"{charge.name} would hold {digits.percent(needed)} at the usual yield (taken: "
            f"{digits.percent(charge.purity)})",
        )
    )  # fmt: skip
    product = library.substances[step.main.substance]
    parsed = product.parsed
    if parsed is not None and parsed.waters > 0:
        per = float(parsed.waters) * WATER_G / product.molar_mass_g
        gone = missing / (usual * per)
        rows.append(
            Explanation(
                "over-dried", gone <= 1, gone * float(parsed.waters), "mol/mol",
                f"the crystals lost {gone * float(parsed.waters):.2g} of their "
                f"{float(parsed.waters):g} H₂O in drying"
                + ("" if gone <= 1 else ", more than they have"),
            )
        )  # fmt: skip
    return rows


def _as_rival(library: Library, rival: Rival, b: float, full: float, usual: float) -> Explanation:
    most, likely = full * rival.ratio, usual * rival.ratio
    other = library.substances[rival.substance]
    return Explanation(
        "another compound", b <= most, likely, "g",
        f"{other.name}, {other.label}: would weigh {digits.mass(likely)} as a rule, "
        f"{digits.mass(most)} at most",
    )  # fmt: skip


def _untold(library: Library, rival: Rival, label: str, usual: float) -> str:
    other = library.substances[rival.substance]
    text = (
        f"weight cannot tell {label} from {other.label} ({other.name}): that would weigh "
        f"{digits.mass(usual * rival.ratio)} ({(rival.ratio - 1) * 100:+.1f} %)"
    )
    own, its = rival.ignited_product, rival.ignited
    if own is not None and its is not None and abs(its - own) > 0.005:
        text += (
            f"; on ignition it leaves {its * 100:.1f} % {rival.oxide}, {label} leaves "
            f"{own * 100:.1f} %"
        )
    return text


def _salts(library: Library, step: ResolvedStep, found: MassModel) -> list[tuple[str, float]]:
    """Dissolved co-products and reactants in excess, with their grams in the pot."""
    out = []
    for part in step.products:
        if part.state == "aq" and part.substance != step.main.substance:
            s = library.substances[part.substance]
            out.append((s.label, part.moles * found.turns * s.molar_mass_g))
    for part in step.reactants:
        more = step.excess.get(part.substance, 0.0)
        if part.state == "aq" and more > 0:
            s = library.substances[part.substance]
            out.append((s.label, part.moles * more * found.turns * s.molar_mass_g))
    return out


def by_moles(library: Library, step: ResolvedStep, grams: float) -> str:
    """What the next step is dosed on while the weight is not understood."""
    product = library.substances[step.main.substance]
    return (
        f"until that is known, dose the next step on the "
        f"{digits.significant(grams / product.molar_mass_g)} mol of {product.label} that a usual "
        "run gives, not on the grams"
    )


def _checks(
    library: Library, step: ResolvedStep, says: str, others: tuple[Rival, ...], product: str
) -> tuple[str, ...]:
    checks = []
    if says == "go on":
        checks.append("test the clear liquor: if the precipitant still clouds it, or more "
                      "crystallises on cooling or boiling down, it is unfinished")  # fmt: skip
        checks.append("weigh filter, vessel and liquor residue: what is found there is not lost")
        checks.append("titrate or assay the start if both are clean")
    else:
        found = drying(library, product, step.main.state, step)
        checks.append(drying_words.to_constant_weight(found))
        salts = [p for p in step.products if p.state == "aq" and p.substance != step.main.substance]
        if salts:
            ions = []
            for part in salts:
                formula = library.substances[part.substance].formula or ""
                if "SO4" in formula:
                    ions.append("sulfate")
                elif "Cl" in formula:
                    ions.append("chloride")
                elif "NO3" in formula:
                    ions.append("nitrate")
            named = listed(dict.fromkeys(ions), none="dissolved salt")
            checks.append(
                f"stir a pinch in water, filter, and test it for {named} and its pH: what should "
                "be washed out shows there"
            )
    near = next((r for r in others if abs(r.ratio - 1) <= NEAR and r.ignited is not None
                 and r.ignited_product is not None
                 and abs(r.ignited - r.ignited_product) > 0.005), None)  # fmt: skip
    if near is not None and near.ignited is not None and near.ignited_product is not None:
        checks.append(
            f"ignite a weighed dry gram to {near.oxide}: of "
            f"{library.substances[product].label} {near.ignited_product * 100:.1f} % is left, of "
            f"{library.substances[near.substance].label} {near.ignited * 100:.1f} %"
        )
    checks += [f"the library says: {words}" for words in step.record.done_when]
    return tuple(checks)
