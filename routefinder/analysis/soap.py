"""Soap by the saponification number of its fats, with the superfat that is chosen.

Alkali, g of KOH = fat x number / 1000; of NaOH, that times 40.00 / 56.11. Superfat is the share of
the alkali that is left out, so that so much fat stays free. A number has a range; what it does to
the superfat is told. Weights of the bar are on the wet basis and say their water.
"""

from __future__ import annotations

import re

from routefinder import units
from routefinder.analysis.reckoned import Reckoned
from routefinder.assessment.reasoning import number
from routefinder.chem import formula as formulas
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.records.substance import Saponification

KOH = formulas.parse("KOH").molar_mass
GLYCEROL = formulas.parse("C3H8O3").molar_mass
SUPERFAT = 0.05  # common practice
LYE = 0.30  # of the lye, common practice
PURE = {"NaOH": 0.98, "KOH": 0.90}  # flake as sold; common practice
CURED_WATER = 0.10  # of a bar after some weeks, wet basis; common practice
MOST = 0.30  # of superfat: above that it is no soap
ASKED = re.compile(r"soap (?:of |from )?(?P<fats>[^,;]+)(?P<rest>(?:[,;].*)?)", re.IGNORECASE)
_FAT = re.compile(
    r"(?P<q>[\d.,]+\s*(?:kg|mg|g))\s+(?:of\s+)?(?P<what>.+?)"
    r"(?:\s+\((?P<number>[\d.]+)\))?"
)


def soap(found: re.Match[str], library: Library | None) -> Reckoned:
    """What a line such as "soap 500 g olive oil + 300 g coconut oil, superfat 8 %" asks.

    Raises InputError for a fat without a number, or a word that is not known.
    """
    fats = [_fat(text.strip(), library) for text in re.split(r"\s*\+\s*", found["fats"])]
    alkali, pure, superfat, lye = _choices(found["rest"])
    molar = formulas.parse(alkali).molar_mass
    least, most = (sum(g * n[i] for _, g, n in fats) / 1000 / KOH for i in (0, 1))
    moles = (least + most) / 2
    grams = moles * (1 - superfat) * molar
    weighed = grams / pure
    water = grams / lye - weighed
    if water < 0:
        raise InputError(f"{alkali} of {100 * pure:g} % makes no lye of {100 * lye:g} %")
    fat = sum(g for _, g, _ in fats)
    low, high = 1 - moles * (1 - superfat) / least, 1 - moles * (1 - superfat) / most
    dry = fat + grams
    acids = all(
        library is not None and i in library.substances and library.substances[i].formula
        for i, _, _ in fats
    )
    anhydrous = dry - fat * superfat - moles * (1 - superfat) * (18.015 if acids else GLYCEROL / 3)
    lines = [
        *(f"{i}: {number(g)} g × {number((n[0] + n[1]) / 2)} mg KOH / 1000 = "
          f"{number(g * (n[0] + n[1]) / 2000)} g KOH" for i, g, n in fats),
        f"{alkali}: {number(moles)} mol × (1 - {number(superfat)}) × {number(molar)} = "
        f"{number(grams)} g",
        f"weighed: {number(grams)} g / {number(pure)} = {number(weighed)} g",
        f"water: {number(grams)} g / {number(lye)} - {number(weighed)} g = {number(water)} g",
        f"fresh: {number(fat)} g + {number(weighed)} g + {number(water)} g = "
        f"{number(fat + weighed + water)} g",
        f"cured: {number(dry)} g / (1 - {number(CURED_WATER)}) = "
        f"{number(dry / (1 - CURED_WATER))} g",
    ]  # fmt: skip
    answer = (
        f"{weighed:.4g} g of {alkali} ({100 * pure:g} %) in {water:.4g} g of water for "
        f"{fat:.4g} g of fat at {100 * superfat:g} % superfat ({100 * max(low, 0):.0f} to "
        f"{100 * high:.0f} % as the fats vary); fresh it weighs {fat + weighed + water:.4g} g, "
        f"cured with {100 * CURED_WATER:g} % water (wet basis) {dry / (1 - CURED_WATER):.4g} g, "
        f"of which {anhydrous:.4g} g are soap counted dry"
    )
    if low < 0:
        answer += (
            f". With a fat at the low end {-100 * low:.0f} % of the alkali would stay free: take "
            "more superfat, or a number measured on this fat"
        )
    answer += ". Alkali into the water, never the reverse; goggles and gloves"
    return Reckoned(
        answer, tuple(lines),
        {"alkali_g": weighed, "pure_alkali_g": grams, "water_g": water, "fresh_g":
         fat + weighed + water, "cured_g": dry / (1 - CURED_WATER), "dry_soap_g": anhydrous,
         "superfat_low": low, "superfat_high": high},
    )  # fmt: skip


def _fat(text: str, library: Library | None) -> tuple[str, float, tuple[float, float]]:
    """(id or name, grams, least and greatest number) of one fat."""
    found = _FAT.fullmatch(text)
    if found is None:
        raise InputError(f"{text!r} is no fat with its mass; write for example '500 g olive oil'")
    grams = units.read(found["q"], "mass")
    if found["number"]:
        value = units.number(found["number"], "'188'")
        Saponification(low=value, high=value)
        return found["what"], grams, (value, value)
    if library is None:
        raise InputError("without a library write the number behind the fat: 'olive oil (188)'")
    record = library.substance(found["what"])
    if record.saponification is None:
        raise InputError(
            f"no saponification number of {record.name} is known; write it in mg of KOH per gram "
            f"behind it: '{found['q']} {found['what']} (190)'"
        )
    return record.id, grams, (record.saponification.low, record.saponification.high)


def _choices(rest: str) -> tuple[str, float, float, float]:
    """(alkali, its purity, superfat, strength of the lye)."""
    alkali, pure, superfat, lye = "NaOH", 0.0, SUPERFAT, LYE
    for part in (p.strip() for p in re.split(r"[,;]", rest)):
        word, _, figure = part.partition(" ")
        if not part:
            continue
        if word.casefold() == "superfat":
            superfat = units.read_fraction(figure)
        elif word.casefold() == "lye":
            lye = units.read_fraction(figure)
        elif word in PURE:
            alkali, pure = word, units.read_fraction(figure) if figure else 0.0
        else:
            raise InputError(f"{part!r} is none of 'superfat 8 %', 'lye 30 %', 'NaOH 98 %', 'KOH'")
    if not 0 <= superfat <= MOST:
        raise InputError(f"superfat goes from 0 to {100 * MOST:g} %")
    pure = pure or PURE[alkali]
    if not 0 < pure <= 1 or not 0.1 <= lye <= 0.5:
        raise InputError("alkali is up to 100 % pure, lye from 10 to 50 %")
    return alkali, pure, superfat, lye
