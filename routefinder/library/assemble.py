"""Records read -> a library: names resolved, amounts in numbers, every fault collected."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from routefinder.chem import equation as equations
from routefinder.chem import formula as formulas
from routefinder.errors import (
    EquationError,
    Fault,
    InputError,
)
from routefinder.library import assays
from routefinder.library.library import Library
from routefinder.library.read import Document, Key
from routefinder.library.resolve import Aid, Part, ResolvedMaterial, ResolvedStep
from routefinder.records.control import Control
from routefinder.records.material import Content, Material
from routefinder.records.step import Step
from routefinder.records.substance import Substance

_T = TypeVar("_T")


@dataclass(frozen=True)
class FileEntry:
    """A record with the place it was read from."""

    record: Any
    document: Document
    key: Key

    def fault(self, field_: Key, what: str, remedy: str, rule: str) -> Fault:
        return self.document.fault((*self.key, *field_), what, remedy, rule)


def assemble(
    entries: dict[tuple[str, str], FileEntry],
    faults: list[Fault],
    regulated: tuple[Control, ...],
) -> Library:
    """A library of ``entries``; what cannot be resolved is left out and added to ``faults``."""
    library = Library(regulated=regulated)
    for (kind, name), entry in entries.items():
        if kind == "substances":
            library.substances[name] = entry.record
        elif kind == "equipment":
            library.equipment[name] = entry.record
    for (kind, _), entry in list(entries.items()):
        if kind == "substances":
            faults += _check_family(library, entry)
    library.substances = {
        i: (s if s.hydrate_of is None or s.hydrate_of in library.substances
            else s.model_copy(update={"hydrate_of": None}))
        for i, s in library.substances.items()
    }  # fmt: skip
    for (kind, name), entry in entries.items():
        if kind == "steps":
            step = resolve_step(library, entry, faults)
            if step is not None:
                library.steps[name] = step
        elif kind == "materials":
            material = _resolve_material(library, entry, faults)
            if material is not None:
                library.materials[name] = material
    return library


def _check_family(library: Library, entry: FileEntry) -> list[Fault]:
    s: Substance = entry.record
    if s.hydrate_of is None:
        return []
    parent = library.substances.get(s.hydrate_of)
    key, rule = ("hydrate_of",), "bad-family"
    if parent is None:
        near = library.substance_names.closest(s.hydrate_of, 1)
        hint = f"The nearest id is {near[0]!r}." if near else "Add that substance."
        return [entry.fault(key, f"there is no substance {s.hydrate_of!r}", hint, "unknown-id")]
    if parent.hydrate_of is not None:
        return [entry.fault(key, f"{s.hydrate_of!r} is itself a hydrate",
                            f"Name the anhydrous form {parent.hydrate_of!r}.", rule)]  # fmt: skip
    a, b = s.parsed, parent.parsed
    if a is None or b is None:
        return [entry.fault(key, "a hydrate and its anhydrous form both need a formula",
                            "Add the formulas.", "bad-family")]  # fmt: skip
    rest = a.counts
    extra = {el: rest.get(el, 0) - b.counts.get(el, 0) for el in {*rest, *b.counts}}
    waters = extra.get("O", 0)
    wanted = {el: (2 * waters if el == "H" else waters if el == "O" else 0) for el in extra}
    if waters <= 0 or extra != wanted:
        return [entry.fault(key, f"{a.text} is not {b.text} with crystal water",
                            "Correct one of the formulas or drop hydrate_of.", rule)]  # fmt: skip
    return []


def find_substance(
    library: Library, text: str, among: Iterable[str] | None = None
) -> tuple[str | None, str, str]:
    """(id, "", "") or (None, what is wrong, what to do) for a name inside a library file."""
    if text in library.substances:
        found = [text]
    else:
        found = library.substance_names.by_formula(text) or library.substance_names.find(text)
    if among is not None:
        allowed = set(among)
        found = [i for i in found if i in allowed]
    if len(found) == 1:
        return found[0], "", ""
    if len(found) > 1:
        return (
            None,
            f"{text!r} is shared by {', '.join(found)}",
            "Write the id of the one that is meant.",
        )
    if among is not None:
        return None, f"{text!r} does not stand in the equation", "Name one of its species."
    near = library.substance_names.closest(text, 2)
    hint = f"Did you mean {' or '.join(near)}? Otherwise add it." if near else "Add it."
    return None, f"no substance has the id or formula {text!r}", hint


def resolve_step(library: Library, entry: FileEntry, faults: list[Fault]) -> ResolvedStep | None:
    """A step with its names resolved against a library; None, with faults added, where it fails."""
    step: Step = entry.record
    field_name = "equation" if step.equation is not None else "recipe"
    before = len(faults)

    def fail(key: Key, what: str, remedy: str, rule: str) -> None:
        faults.append(entry.fault(key, what, remedy, rule))

    try:
        equation = step.parsed
    except EquationError as error:
        fail((field_name,), str(error), "Write it as 'A(s) + 2 B(aq) -> C(s)'.", "bad-equation")
        return None
    ids: dict[str, str] = {}
    for term in (*equation.left, *equation.right):
        found, what, remedy = find_substance(library, term.species)
        if found is None:
            fail((field_name,), what, remedy, "unknown-id")
        else:
            ids[term.species] = found
        if not term.state:
            fail((field_name,), f"{term.species} has no state",
                 "Write (s), (l), (g) or (aq) behind it.", "missing-state")  # fmt: skip
    if len(faults) > before:
        return None
    if step.equation is not None and not _balanced(library, equation, ids, fail):
        return None

    def parts(terms: tuple[equations.Term, ...]) -> tuple[Part, ...]:
        out = []
        for term in terms:
            substance = ids[term.species]
            moles = float(term.coefficient)
            if step.recipe is not None:
                moles /= library.substances[substance].molar_mass_g
            out.append(Part(substance, moles, term.state))
        return tuple(out)

    reactants, products = parts(equation.left), parts(equation.right)
    if step.recipe is not None:
        mass_in = sum(p.moles * library.substances[p.substance].molar_mass_g for p in reactants)
        mass_out = sum(p.moles * library.substances[p.substance].molar_mass_g for p in products)
        if mass_out > mass_in * (1 + 1e-9):
            fail(("recipe",), f"{mass_out:g} g come out of {mass_in:g} g",
                 "Add what is taken up (water, air) on the left.", "unbalanced")  # fmt: skip
            return None

    def pick(text: str, among: tuple[Part, ...], key: Key) -> Part | None:
        found, what, remedy = find_substance(library, text, {p.substance for p in among})
        if found is None:
            fail(key, what, remedy, "unknown-id")
            return None
        return next(p for p in among if p.substance == found)

    main = pick(step.product, products, ("product",))
    limiting = pick(step.limiting, reactants, ("limiting",))
    if main is None or limiting is None:
        return None
    for group in (reactants, products):
        names = [(p.substance, p.state) for p in group]
        for name in {n for n in names if names.count(n) > 1}:
            fail((field_name,), f"{name[0]} stands twice on one side", "Add the two up.",
                 "repeated-term")  # fmt: skip
    if any(r.substance == main.substance and r.state == main.state for r in reactants):
        fail((field_name,), f"the step makes its own reactant {main.substance}",
             "A step must make something it does not take.", "own-reactant")  # fmt: skip

    def fractions(values: dict[str, _T], among: tuple[Part, ...], name: str) -> dict[str, _T]:
        out = {}
        for text, value in values.items():
            part = pick(text, among, (name, text))
            if part is not None:
                out[part.substance] = value
        return out

    excess = fractions(step.excess, reactants, "excess")
    least = {text: low for text, (low, _) in step.strength.items()}
    most = {text: high for text, (_, high) in step.strength.items() if high is not None}
    strength = fractions(least, reactants, "strength")
    at_most = fractions(most, reactants, "strength")
    fineness = fractions(step.fineness, reactants, "fineness")
    pure = fractions(step.purity, reactants, "purity")
    recovered = fractions(step.recovered, products, "recovered")
    dissolved = fractions(step.stays_dissolved, products, "stays_dissolved")
    if limiting.substance in excess:
        fail(("excess",), "the limiting reactant has an excess",
             "Name another reactant as limiting, or drop the excess.", "bad-excess")  # fmt: skip
    if main.substance in recovered:
        fail(("recovered",), "the main product is listed as recovered",
             "Its recovery is the yield; take it out here.", "bad-recovered")  # fmt: skip
    aids = tuple(
        a
        for i, _ in enumerate(step.auxiliaries)
        if (a := _aid(library, step, i, limiting, fail)) is not None
    )
    known = {p.substance for p in reactants} | {a.substance for a in aids}
    charged = _charged(library, step, known, fail)
    for i, stage in enumerate(step.stages):
        for text in stage.what if stage.kind in {"wash", "lift out"} else ():
            found, wrong, remedy = find_substance(library, text)
            if found is None or (stage.kind == "lift out" and found not in known):
                wrong = wrong or f"{text!r} does not stand in the step"
                fail(("stages", i), wrong, remedy or "Name a species of it.", "bad-stage")
    if len(faults) > before:
        return None
    return ResolvedStep(
        step,
        reactants,
        products,
        main,
        limiting,
        excess,
        strength,
        recovered,
        dissolved,
        aids,
        at_most,
        charged,
        fineness,
        pure,
    )


def _charged(
    library: Library, step: Step, known: set[str], fail: Any
) -> dict[str, tuple[tuple[int, float], ...]]:
    """What does not all go in with the first charge: substance -> (place, share) of each time."""
    shares: dict[str, dict[int, float]] = {}
    charges = [i for i, s in enumerate(step.stages) if s.kind == "charge"]
    for i in charges if len(charges) > 1 else ():
        what = step.stages[i].what
        if i != charges[0] and not what:
            fail(("stages", i), "nothing says what goes in here",
                 "Write 'what:' with what the step takes.", "bad-charge")  # fmt: skip
        for text in what:
            part = _SHARE.fullmatch(text)
            found, wrong, remedy = find_substance(library, part[2] if part else text, known)
            if found is None:
                fail(("stages", i), wrong, remedy, "bad-charge")
                continue
            given = shares.setdefault(found, {})
            rest = 1.0 - sum(given.values())
            given[i] = float(part[1]) / 100 if part else rest
            if rest < 1e-9 or given[i] > rest:
                fail(("stages", i), f"{text!r} is more than is left of it",
                     "All the charges of a substance make 100 %; the last one names it alone.",
                     "bad-charge")  # fmt: skip
    for found, given in shares.items():
        if abs(sum(given.values()) - 1) > 1e-9:
            fail(("stages",), f"the charges of {found} do not make 100 %",
                 "Name it without a share in the last of them.", "bad-charge")  # fmt: skip
    return {
        name: tuple((0 if i == charges[0] else i, share) for i, share in given.items())
        for name, given in shares.items()
        if set(given) != {charges[0]}
    }


_SHARE = re.compile(r"(\d+(?:\.\d+)?) ?% of (.+)")


def _balanced(
    library: Library, equation: equations.Equation, ids: dict[str, str], fail: Any
) -> bool:
    fs: dict[str, formulas.Formula] = {}
    for species, substance in ids.items():
        parsed = library.substances[substance].parsed
        if parsed is None:
            fail(("equation",), f"{species} has no formula",
                 "Use 'recipe' (in grams) for mixtures.", "unbalanced")  # fmt: skip
            return False
        fs[species] = parsed
    if equations.balances(equation, fs):
        return True
    off = equations.imbalance(equation, fs)
    shown = ", ".join(
        f"{'charge' if el == 'charge' else el} {float(abs(v)):g} too many on the "
        f"{'left' if v > 0 else 'right'}"
        for el, v in sorted(off.items())
    )
    try:
        remedy = f"The balanced form is: {equations.balance(equation, fs)}"
    except EquationError as error:
        remedy = f"{str(error)[0].upper()}{str(error)[1:]}."
    fail(("equation",), f"the equation does not balance: {shown}", remedy, "unbalanced")
    return False


def _aid(library: Library, step: Step, i: int, limiting: Part, fail: Any) -> Aid | None:
    aid = step.auxiliaries[i]
    found, what, remedy = find_substance(library, aid.substance)
    if found is None:
        fail(("auxiliaries", i, "substance"), what, remedy, "unknown-id")
        return None
    amount, unit = aid.amount
    if unit == "volume":
        substance = library.substances[found]
        density = substance.density_g_mL
        if density is None:
            fail(("auxiliaries", i, "amount"), f"{found} has no density",
                 "Add its density to the substance, or give the amount in g/mol.",
                 "missing-density")  # fmt: skip
            return None
        amount *= density
    elif unit == "ratio":  # grams per gram of the limiting reactant, formula or none
        amount *= library.substances[limiting.substance].molar_mass_g
    return Aid(found, aid.role, amount, aid.recovered, aid.at_least or 0.0, aid.after)


def _resolve_material(
    library: Library, entry: FileEntry, faults: list[Fault]
) -> ResolvedMaterial | None:
    material: Material = entry.record
    typical: dict[str, float] = {}
    low: dict[str, float] = {}
    high: dict[str, float] = {}
    others: dict[str, float] = {}
    fates: dict[str, str] = {}
    good = True
    for i, content in enumerate(material.contains):
        if content.what:
            others[content.what] = content.strength[0]
            if content.fate:
                fates[content.what] = content.fate
            continue
        found, what, remedy = find_substance(library, content.substance)
        key: Key = ("contains", i, "substance")
        if found is None:
            faults.append(entry.fault(key, what, remedy, "unknown-id"))
            good = False
            continue
        try:
            w = mass_fraction(library, material, content, found, content.strength)
            typical[found] = w
            if content.fate:
                fates[found] = content.fate
            low[found] = (
                mass_fraction(library, material, content, found, content.low) if content.low else w
            )
            high[found] = (
                mass_fraction(library, material, content, found, content.high)
                if content.high
                else w
            )
        except InputError as error:
            faults.append(entry.fault(key, str(error), "Correct the strength.", "bad-strength"))
            good = False
    whole = sum(typical.values()) + sum(others.values())
    if good and whole > 1.0005:
        faults.append(
            entry.fault(("contains",), f"the contents add up to {whole:.1%}",
                        "They may be 100 % at most.", "bad-strength")
        )  # fmt: skip
        good = False
    return ResolvedMaterial(material, typical, low, high, others, fates) if good else None


def mass_fraction(
    library: Library,
    material: Material,
    content: Content,
    substance_id: str,
    strength: tuple[float, str],
) -> float:
    """Grams of the substance per gram of material.

    w/v turns by the material's density; v/v by the densities of both (volumes taken as additive);
    an assay in another formula turns by the shared element. Raises InputError.
    """
    value, basis = strength
    substance = library.substances[substance_id]
    if basis != "w/w":
        density = material.density_g_mL
        if density is None:
            raise InputError("the material has no density")
        if basis == "v/v":
            pure = substance.density_g_mL
            if pure is None:
                raise InputError(f"{substance_id} has no density, so v/v cannot be read")
            value *= pure
        elif basis == "mol/L":
            value *= substance.molar_mass_g / 1000
        value /= density
    if content.as_formula is not None and content.of_element is not None:
        assay = formulas.parse(content.as_formula)
        parsed = substance.parsed
        element = content.of_element
        if parsed is None or element not in parsed.counts or element not in assay.counts:
            raise InputError(f"{content.as_formula} and {substance_id} do not share {element}")
        value *= assays.factor(assay, parsed, element)
    if not 0 < value <= 1.0005:
        raise InputError(f"the strength comes to {value:.1%} of {substance_id}")
    return min(value, 1.0)
