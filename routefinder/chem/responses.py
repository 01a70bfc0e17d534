"""What a mole of a substance gives in the usual bench tests, from its formula; pure chemistry.

Acid and alkali are counted in moles of a strong acid or lye that a mole takes up (equivalents), at
two end points: the *first* as phenolphthalein turns (pH about 8.3), the *last* as methyl orange or
bromophenol blue turns (pH about 4). Hydroxide is through at the first, dissolved carbonate half
way, bicarbonate only at the last; what does not dissolve without acid counts at the last alone.
Rules from memory: Vogel's Textbook of Quantitative Chemical Analysis (acid-base titrations).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from routefinder.chem.formula import parse
from routefinder.errors import FormulaError

ALKALI = frozenset({"Na", "K", "Li"})
EARTHS = frozenset({"Ca", "Mg", "Sr", "Ba"})
_CARBONATE = re.compile(r"(\()?(H?)CO3(?(1)\)(\d*))")
_HYDROXIDE = re.compile(r"\(OH\)(\d*)|OH(?![a-z\d(])")
_AMMONIUM = re.compile(r"\(NH4\)\d*|NH4")
# CAS number -> (moles of lye to phenolphthalein per mole); number of acid hydrogens, from memory:
# CRC Handbook, Dissociation Constants of Organic Acids and Bases
ORGANIC_ACIDS = {
    "64-19-7": 1, "64-18-6": 1, "77-92-9": 3, "5949-29-1": 3, "87-69-4": 2, "144-62-7": 2,
    "6153-56-6": 2, "50-21-5": 1, "79-33-4": 1, "65-85-0": 1, "69-72-7": 1, "79-09-4": 1,
    "107-92-6": 1, "57-11-4": 1, "57-10-3": 1, "112-80-1": 1, "50-81-7": 1, "868-14-4": 1,
}  # fmt: skip
# phosphoric acid and its salts are titrated to the second hydrogen
MINERAL_ACIDS = {
    "HCl": 1.0, "HNO3": 1.0, "H2SO4": 2.0, "H3PO4": 2.0, "H3NSO3": 1.0, "NaHSO4": 1.0,
    "KHSO4": 1.0, "NaH2PO4": 1.0, "KH2PO4": 1.0, "NH4H2PO4": 1.0, "Ca(H2PO4)2": 2.0,
    "NaHSO3": 1.0, "KHC4H4O6": 1.0, "HBr": 1.0, "HF": 1.0,
}  # fmt: skip
# formula -> alkali at the (first, last) end point, where the rules below say nothing
BASES = {
    "NH3": (0.0, 1.0), "Na2SiO3": (2.0, 2.0), "K2SiO3": (2.0, 2.0), "Na2B4O7": (0.0, 2.0),
    "Na3PO4": (1.0, 2.0), "K3PO4": (1.0, 2.0), "Na2HPO4": (0.0, 1.0), "K2HPO4": (0.0, 1.0),
    "Na2SO3": (0.0, 1.0), "NaBO2": (0.0, 1.0), "KBO2": (0.0, 1.0), "Na2S": (1.0, 2.0),
}  # fmt: skip
OXIDISERS = {"H2O2": 2.0, "NaOCl": 2.0, "KOCl": 2.0, "Ca(OCl)2": 4.0, "Cl2": 2.0, "I2": 2.0}
COPPER_NOT_TWO = frozenset({"Cu", "Cu2O", "CuCl", "CuI", "CuBr", "Cu2S", "CuCN"})
# what dilute acid leaves, from memory: Vogel's Qualitative Inorganic Analysis (insoluble residues)
ACID_LEAVES = frozenset({
    "SiO2", "BaSO4", "SrSO4", "TiO2", "SnO2", "C", "Cr2O3", "CaCuSi4O10", "CoAl2O4", "Co2SnO4",
    "Fe4(Fe(CN)6)3", "Al2SiO5", "S", "AgCl",
})  # fmt: skip
# element -> colour of a flame; from memory: Vogel's Qualitative Inorganic Analysis (flame tests)
FLAMES = {
    "Li": "carmine red", "Na": "lasting yellow", "K": "lilac (red through cobalt glass)",
    "Ca": "brick red", "Sr": "crimson", "Ba": "apple green", "Cu": "green, blue with chloride",
    "B": "green at the edge, with spirit and sulfuric acid",
}  # fmt: skip


@dataclass(frozen=True)
class Response:
    """Per mole: alkali at two end points, acid, carbon dioxide with acid, chloride, iodine.

    ``iodine`` is moles of thiosulfate. ``flames`` are elements that colour a flame.
    """

    alkali_first: float = 0.0
    alkali: float = 0.0
    acid: float = 0.0
    carbonate: float = 0.0
    chloride: float = 0.0
    iodine: float = 0.0
    acid_leaves: bool = False
    flames: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def response(formula: str | None, cas: str | None = None) -> Response:
    """What a mole of it gives in each test; nothing for what has no formula."""
    if not formula:
        return Response()
    try:
        parsed = parse(formula)
    except FormulaError:
        return Response()
    sums = {"alkali_first": 0.0, "alkali": 0.0, "carbonate": 0.0}
    for (times, elements), piece in zip(parsed.parts, parsed.text.split("·"), strict=True):
        body = re.sub(r"^\d+\.?\d*(?:/\d+)?", "", piece)
        for name, value in _piece(body, {e: float(n) for e, n in elements}).items():
            sums[name] += float(times) * value
    body = parsed.text.split("·")[0]
    counts = parsed.amounts
    oxidiser = body in OXIDISERS or "ClO" in body or "OCl" in body
    held = body in COPPER_NOT_TWO or {"Si", "Cr"} & set(counts)  # dilute acid does not free it
    copper = 0.0 if held else counts.get("Cu", 0.0)
    return Response(
        **sums,
        acid=MINERAL_ACIDS.get(body, float(ORGANIC_ACIDS.get(cas or "", 0))),
        chloride=0.0 if oxidiser else counts.get("Cl", 0.0),
        iodine=OXIDISERS.get(body, copper),
        acid_leaves=body in ACID_LEAVES,
        flames=tuple(e for e in FLAMES if e in counts),
    )


def _groups(pattern: re.Pattern[str], text: str, group: int) -> float:
    return sum(float(m[group] or 1) for m in pattern.finditer(text))


def _piece(body: str, counts: dict[str, float]) -> dict[str, float]:
    """Alkali and carbonate of one part of a formula between dots."""
    gas = _groups(_CARBONATE, body, 3)
    if body in BASES:
        first, last = BASES[body]
        return {"alkali_first": first, "alkali": last, "carbonate": gas}
    rest = _AMMONIUM.sub("", _CARBONATE.sub("", _HYDROXIDE.sub("", body)))
    left = set(re.findall(r"[A-Z][a-z]?", rest))
    metals = set(counts) & (ALKALI | EARTHS)
    ammonium = "NH4" in body
    if not (metals or ammonium) or body in MINERAL_ACIDS:
        return {"carbonate": gas}
    if left <= metals | ({"N", "H"} if ammonium else set()):
        half = sum(float(m[3] or 1) for m in _CARBONATE.finditer(body) if m[2])
        whole = gas - half
        hydroxide = _groups(_HYDROXIDE, body, 1)
        if not whole and not half and not hydroxide:
            return {}
        dissolved = not metals & EARTHS
        return {
            "alkali_first": hydroxide + (whole if dissolved and not ammonium else 0.0),
            "alkali": hydroxide + 2 * whole + half,
            "carbonate": gas,
        }
    charge = sum(counts[m] * (1 if m in ALKALI else 2) for m in metals)
    if left == metals | {"O"} and charge == 2 * counts["O"]:
        return {"alkali_first": charge, "alkali": charge}
    return {"carbonate": gas}
