"""Other solids that could lie on the filter: same key element, other weight, or the same weight.

A rival holds the step's key element (the one that the limiting reactant brings into the product),
in the same oxidation state, and only elements that are in the pot. Its weight is reckoned for the
same moles of the key element. Oxidation states are counted by the usual rules (O -2, H +1, alkali
+1, alkaline earth +2, Al +3, C +4, S +6, P +5, N +5, Cl -1); where they do not apply, as in
acetates, the figure matches nothing and no rival is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Substance

_STATES = {
    "O": -2, "H": 1, "Li": 1, "Na": 1, "K": 1, "Mg": 2, "Ca": 2, "Sr": 2, "Ba": 2, "Al": 3,
    "C": 4, "S": 6, "P": 5, "N": 5, "Cl": -1, "F": -1, "B": 3, "Si": 4, "Zn": 2,
}  # fmt: skip
_COMMON = frozenset(["H", "O", "C", "N", "S", "P", "Cl", "F", "Na", "K", "Li", "B"])
# what strong ignition leaves of a carbonate or hydroxide of the element: the usual weighing forms
# of gravimetric analysis, from memory
IGNITED = {
    "Cu": ("CuO", 1), "Zn": ("ZnO", 1), "Mg": ("MgO", 1), "Ca": ("CaO", 1), "Al": ("Al2O3", 2),
    "Fe": ("Fe2O3", 2), "Cr": ("Cr2O3", 2), "Mn": ("Mn3O4", 3), "Co": ("Co3O4", 3),
    "Ni": ("NiO", 1), "Sn": ("SnO2", 1), "Ti": ("TiO2", 1), "Sr": ("SrO", 1), "Ba": ("BaO", 1),
}  # fmt: skip
DISSOLVES = 1.0  # g per 100 g of water near 20 degC: more does not stay on a filter
NEAR = 0.12  # relative difference up to which a rival is worth naming


@dataclass(frozen=True)
class Rival:
    """Another solid for the same moles of the key element.

    ``ratio`` is its weight over the product's; ``ignited`` what share of it ignition leaves as the
    key element's oxide (``oxide``), None when no weighing form is listed.
    """

    substance: str
    ratio: float
    oxide: str
    ignited: float | None
    ignited_product: float | None


def key_element(library: Library, step: ResolvedStep) -> str | None:
    """The element that the limiting reactant brings into the product; None when it is not one."""
    limiting = library.substances[step.limiting.substance].parsed
    product = library.substances[step.main.substance].parsed
    if limiting is None or product is None:
        return None
    both = [e for e in product.amounts if e in limiting.amounts and e not in _COMMON]
    return both[0] if len(both) == 1 else None


def _state(substance: Substance, element: str) -> float | None:
    parsed = substance.parsed
    if parsed is None or element not in parsed.amounts:
        return None
    total = 0.0
    for other, count in parsed.amounts.items():
        if other == element:
            continue
        if other not in _STATES:
            return None
        total += _STATES[other] * count
    return (parsed.charge - total) / parsed.amounts[element]


def _soluble(substance: Substance) -> bool:
    for table in substance.solubility:
        near = [grams for t, grams in table.at if 10 <= t <= 30] or [g for _, g in table.at[:1]]
        if near and min(near) > DISSOLVES:
            return True
    return False


def _ignited(substance: Substance, element: str) -> tuple[str, float | None]:
    from routefinder.chem import formula

    if element not in IGNITED or substance.parsed is None:
        return "", None
    oxide, count = IGNITED[element]
    per = substance.parsed.amounts[element] / count * formula.molar_mass(oxide)
    return oxide, per / substance.molar_mass_g


def rivals(library: Library, step: ResolvedStep) -> tuple[Rival, ...]:
    """Other solids that the step's pot could give, nearest in weight first."""
    if step.is_recipe or step.main.state != "s":
        return ()
    element = key_element(library, step)
    if element is None:
        return ()
    product = library.substances[step.main.substance]
    own = product.parsed
    state = _state(product, element)
    if own is None or state is None:
        return ()
    pot = {"H", "O"}
    for part in step.reactants:
        parsed = library.substances[part.substance].parsed
        pot |= set(parsed.amounts) if parsed else set()
    fed = {library.root(p.substance) for p in step.reactants}
    per_product = product.molar_mass_g / own.amounts[element]
    out = []
    for other in library.substances.values():
        parsed = other.parsed
        if (
            parsed is None
            or parsed.charge
            or other.id == product.id
            or library.root(other.id) in fed
        ):
            continue
        if element not in parsed.amounts or not set(parsed.amounts) <= pot:
            continue
        found = _state(other, element)
        # the same oxidation state, if it may be hoped that the counting rules hold for it
        if found is None or abs(found - state) > 1e-9 or _soluble(other):
            continue
        ratio = other.molar_mass_g / parsed.amounts[element] / per_product
        oxide, left = _ignited(other, element)
        out.append(Rival(other.id, ratio, oxide, left, _ignited(product, element)[1]))
    return tuple(sorted(out, key=lambda r: (abs(r.ratio - 1), r.substance)))
