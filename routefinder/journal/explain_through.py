"""Explanations of the weight of a charge that was heated, dried, roasted or slaked."""

from __future__ import annotations

from routefinder import digits
from routefinder.analysis.ignition import heated_alone
from routefinder.assessment import drying_words
from routefinder.assessment.drying import drying
from routefinder.assessment.keeping import takes_up
from routefinder.journal.explanation import (
    CO2_G,
    COMMERCIAL,
    WATER_G,
    Explanation,
    scale_error,
)
from routefinder.journal.mass_model import MassModel
from routefinder.journal.weight import Charge, Reading
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep

DAMPEST = 0.1  # what a dry powder takes up while it cools, at the most: our choice
WETTEST = 0.6  # free water per gram of a start that was called dry: more is a slurry


def explain(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    out: Reading,
    found: MassModel,
    x: float,
    u: float,
) -> tuple[tuple[Explanation, ...], tuple[str, ...], tuple[str, ...]]:
    """(explanations, fitting ones first; next measurements; notes)."""
    a, b, s = charge.reading.grams, out.grams, found.share
    end = found.weight_at(a, 1.0)
    off = b - end  # too heavy (+) or too light (-) for full conversion
    rows: list[Explanation] = []
    if x + u < 1 and x + u >= 0:
        said = f"{digits.percent(max(x, 0))} has reacted"
        rows.append(Explanation("unfinished", True, x, "of 1", said))
    rows.append(_impure(charge, x, u))
    if off > 0:
        rows += _too_heavy(library, step, found, off, x + u < 1 or s < 0, b)
    elif off < 0:
        rows += _too_light(library, step, a, b, s, end)
    reads = max(charge.reading.reads_g, out.reads_g)
    rows.append(scale_error(off, reads))
    if abs(x - 1) <= u:  # nothing needs explaining
        rows = []
    rows.sort(key=lambda r: not r.fits)
    checks = _checks(library, step, charge, off, b, x, u, s)
    notes = []
    if abs(x - 1) <= u:
        notes.append(
            "loss of product and a start that was wet or impure can make up for an unfinished "
            "reaction; one weight does not show that"
        )
    if not charge.stated and charge.purity == 1:
        notes.append(f"{charge.name} was taken as pure; say --strength or --of if it is not")
    return tuple(rows), checks, tuple(notes)


def _impure(charge: Charge, x: float, u: float) -> Explanation:
    needed = charge.purity * x
    low = charge.low - (charge.purity - charge.low) if charge.low < charge.purity else charge.low
    least = low if charge.stated else COMMERCIAL
    slack = charge.purity * u
    fits = least - slack <= needed <= min(1.0, max(charge.high, charge.purity) + slack)
    stated = f"stated: {digits.percent(charge.purity)}" if charge.stated else "none was stated"
    if needed <= 0:
        return Explanation(
            "impure start", False, needed, "g/g", "no purity of the start explains it"
        )
    return Explanation(
        "impure start", fits, needed, "g/g",
        f"the start would hold {digits.percent(needed)} {charge.name} ({stated})"
        + ("" if needed <= 1 else ", more than pure"),
    )  # fmt: skip


def _too_heavy(
    library: Library, step: ResolvedStep, found: MassModel, off: float, could: bool, b: float
) -> list[Explanation]:
    product = library.substances[step.main.substance]
    words = " ".join(
        w for st in (step.record.storage, product.storage) if st
        for w in (st.how, st.keeps, *st.spoils_by)
    )  # fmt: skip
    moles = step.main.moles * found.turns
    forms = library.families.get(library.root(product.id), ())
    hydrates = any((p := library.substances[f].parsed) is not None and p.waters > 0 for f in forms)
    hungry = takes_up(words) or hydrates or _base(product.formula)
    likely = hungry or found.share < 0 or off / b <= DAMPEST
    rows = [
        Explanation(
            "wet or took up water", could and likely, off, "g",
            f"{digits.mass(off)} of water in it ({digits.percent(off / b)} of the weight, "
            f"{off / WATER_G / moles:.2g} mol per mol of {product.label})",
        )
    ]  # fmt: skip
    if _base(product.formula):
        rows.append(
            Explanation(
                "took up carbon dioxide", could, off, "g",
                f"{digits.mass(off)} of CO₂ from the air ({off / CO2_G / moles:.2g} mol per mol)",
            )
        )  # fmt: skip
    return rows


def _base(formula: str | None) -> bool:
    """Oxides and hydroxides of alkali and alkaline earth take up CO2."""
    if not formula:
        return False
    plain = formula.replace("(", "").replace(")", "").replace("2", "")
    return plain in {"CaO", "CaOH", "MgO", "MgOH", "SrO", "SrOH", "BaO", "BaOH", "NaOH", "KOH"}


def _too_light(
    library: Library, step: ResolvedStep, a: float, b: float, s: float, end: float
) -> list[Explanation]:
    rows = []
    lost = end - b
    if s > 0 and s < 1:
        water = (a - b - s * a) / (1 - s)
        share = water / a
        rows.append(
            Explanation(
                "wet start", 0 < share <= WETTEST, water, "g",
                f"the start held {digits.mass(water)} of free water ({digits.percent(share)})",
            )
        )  # fmt: skip
    rows.append(
        Explanation(
            "lost", lost < end, lost, "g",
            f"{digits.mass(lost)} of product was spilt or blown off "
            f"({digits.percent(lost / end)}), if it is all through",
        )
    )  # fmt: skip
    for following, share in heated_alone(library, step.main.substance)[:2]:
        further = lost / (end * share)
        made = library.substances[following.main.substance].label
        rows.append(
            Explanation(
                "went on", further <= 1.02, further, "of 1",
                f"{digits.percent(min(further, 9.99))} of it went on to {made}"
                + ("" if further <= 1.02 else ", more than all"),
            )
        )  # fmt: skip
    return rows


def _checks(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    off: float,
    b: float,
    x: float,
    u: float,
    s: float,
) -> tuple[str, ...]:
    start = library.substances[charge.form]
    product = library.substances[step.main.substance]
    checks = []
    if s > 0:
        checks.append(
            "heat on, let it cool closed and weigh again: it is through when two weights agree "
            "(constant weight)"
        )
        if x + u < 1 and off > 0:
            own = drying(library, product.id, "s", step)
            if own.way != "fire again":  # that is the first check
                checks.append(f"first {drying_words.advice(own)}: moisture looks the same")
            checks.append(
                "loss on ignition tells unfinished from impure: 10 g of this would still lose "
                f"{10 * off / b:.2f} g, a finished but impure one nothing"
            )
        if off < 0:
            wet = (-off) / (1 - s) / charge.reading.grams
            how = drying(library, start.id)
            if how.may:
                text = drying_words.to_constant_weight(how, "10 g of the start")
                checks.append(f"{text}: if it was wet, it loses about {10 * wet:.2f} g")
            else:
                checks.append(
                    f"find the water in the start: {drying_words.advice(how, 'it')}; 10 g would "
                    f"hold about {10 * wet:.2f} g"
                )
            checks.append("weigh what stuck to the vessel and what dust lies around")
    else:
        own = drying(library, product.id, "s", step)
        checks.append(f"{drying_words.to_constant_weight(own)}; then go on and weigh again")
    if _carbonate(start.formula) and not _carbonate(product.formula):
        checks.append("a pinch in dilute acid: fizz means that carbonate is left")
    checks += [f"the library says: {words}" for words in step.record.done_when]
    return tuple(checks)


def _carbonate(formula: str | None) -> bool:
    return bool(formula) and "CO3" in (formula or "")
