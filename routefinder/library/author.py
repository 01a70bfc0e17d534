"""Write a record of one's own: suggestions, a check against the library, a safe place in a folder.

A record becomes a file of its own (``steps/<id>.yaml``), so nothing that exists is rewritten. All
files of one saving are written together or not at all.
"""

from __future__ import annotations

import re
import shutil
import tempfile
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from routefinder import files, units
from routefinder.chem import equation as equations
from routefinder.chem import formula as formulas
from routefinder.errors import Fault, InputError, Refused
from routefinder.library import assays, regulated
from routefinder.library.assemble import find_substance
from routefinder.library.library import Library
from routefinder.library.load import KINDS, library_files, load
from routefinder.library.vessel_attack import LIMITS, attack_on
from routefinder.library.write import to_yaml
from routefinder.records.base import ID, Record
from routefinder.records.bench_test import BenchTest
from routefinder.records.stage import Stage
from routefinder.records.substance import Substance

GASES = frozenset({"CO2", "H2", "O2", "N2", "NH3", "SO2", "CO", "NO2", "NO", "HCl", "Cl2", "CH4"})


@dataclass(frozen=True)
class Draft:
    """A record on its way into a folder: ``kind`` is substances, steps or materials."""

    kind: str
    record: Record

    @property
    def id(self) -> str:
        """The id of the record."""
        return str(self.record.id)  # type: ignore[attr-defined]

    def path(self, folder: Path) -> Path:
        """Where it will stand."""
        return folder / self.kind / f"{self.id}.yaml"

    def text(self) -> str:
        """The file as it will be written."""
        return to_yaml([self.record])


def slug(text: str) -> str:
    """An id made from a name or title."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    found = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    return found if ID.match(found) else "new-record"


def draft(kind: str, fields: Mapping[str, Any]) -> Draft:
    """A record from its fields as a file has them; raises InputError saying what is wrong."""
    filled = {k: v for k, v in fields.items() if v not in (None, "", [], {})}
    try:
        return Draft(kind, KINDS[kind].model_validate(filled))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(p) for p in first["loc"] if not str(p).startswith("function"))
        message = re.sub(r"^(Value|Assertion) error, ", "", str(first["msg"]))
        raise InputError(f"{place or kind}: {message}") from None


def check_part(kind: str, data: Any, written: str) -> None:
    """Raise InputError where ``data`` is no Stage or BenchTest; ``written`` is what was typed."""
    kinds: dict[str, type[Record]] = {"Stage": Stage, "BenchTest": BenchTest}
    try:
        kinds[kind].model_validate(data)
    except ValidationError as error:
        raise InputError(f"{written!r}: {error.errors()[0]['msg']}") from None


# --- equations ---------------------------------------------------------------------------------


def meanings(library: Library, species: str) -> list[str]:
    """Ids of the substances that a species may be."""
    found, _, _ = find_substance(library, species)
    if found is not None:
        return [found]
    return library.substance_names.by_formula(species) or library.substance_names.find(species)


def balanced(
    equation: equations.Equation, formula_of: Mapping[str, str]
) -> tuple[equations.Equation, bool]:
    """(the equation, whether it had to be balanced); raises EquationError when none balances."""
    parsed = {species: formulas.parse(text) for species, text in formula_of.items()}
    if equations.balances(equation, parsed):
        return equation, False
    return equations.balance(equation, parsed), True


def usual_state(library: Library, substance: str | None, formula: str, left: bool) -> str:
    """The state that the library's steps give a substance most often, or a guess."""
    if formula in GASES:
        return "g"
    if formula == "H2O":
        return "l"
    counts: dict[str, int] = {}
    for step in library.steps.values():
        for part in step.reactants if left else step.products:
            if part.substance == substance:
                counts[part.state] = counts.get(part.state, 0) + 1
    return max(counts, key=lambda s: counts[s]) if counts else "s"


def usual_kind(equation: equations.Equation) -> str:
    """A word for the step, guessed from its states."""
    left = {t.state for t in equation.left if t.species != "H2O"}
    right = {t.state for t in equation.right if t.species != "H2O"}
    if left == {"aq"} and "s" in right:
        return "precipitation" if len(equation.right) > 1 else "crystallisation"
    if left == {"s"} and len(equation.left) == 1:
        return "decomposition" if len(equation.right) > 1 else "drying"
    if right == {"aq"}:
        return "dissolution"
    return "combination"


def usual_equipment(
    equation: equations.Equation,
    low_C: float,
    high_C: float,
    present: Sequence[tuple[Substance, str]] = (),
) -> list[Any]:
    """Capabilities that a step with these states and this heat needs, to be corrected by hand.

    ``present`` is what is in the vessel (substance, state): no vessel is named that it attacks, or
    that the heat is too much for.
    """
    wet = any(t.state in {"aq", "l"} for t in equation.left)
    top = f"{high_C:g} degC"
    out: list[Any] = []
    if low_C > 60:
        out.append({"heat-liquid" if wet else "heat-dry": {"to": f"{low_C:g} degC"}})
    wanted: tuple[str, ...]
    if high_C > 450:
        wanted = ("porcelain", "alumina", "nickel")
    elif wet and high_C <= 60:
        wanted = ("borosilicate", "PP", "HDPE", "PTFE", "stainless steel")
    else:
        wanted = ("borosilicate", "PTFE", "stainless steel", "nickel")
    fit = [m for m in wanted if attack_on(m, list(present), high_C) is None
           and high_C <= LIMITS.get(m, (high_C, ""))[0]]  # fmt: skip
    out.append({"vessel": {"made_of": fit[:3], "to": top} if fit else {"to": top}})
    if wet and any(t.state == "s" for t in equation.right):
        out.append("filter")
    if any(t.state == "g" and t.species not in {"CO2", "O2", "N2", "H2O"} for t in equation.right):
        out.append("fume-extraction")
    elif any(t.state == "g" for t in equation.right):
        out.append("ventilation")
    out.append({"weigh": {"readability": "1 g"}})
    return out


def family(library: Library, formula: str) -> str | None:
    """The anhydrous form that a hydrate's formula belongs to, when the library has exactly one."""
    parsed = formulas.parse(formula)
    if not parsed.waters or len(parsed.parts) < 2:
        return None
    dry = parsed.text.split("·")[0]
    found = library.substance_names.by_formula(dry)
    return found[0] if len(found) == 1 else None


def content(library: Library, held: Substance, strength: str, sole: bool) -> dict[str, str]:
    """One of a material's contents from a label's figure: "98 %", "56 % Cu", "44 to 48 % Co".

    ``sole`` says that it is a solid and holds nothing else: a bare figure far below what such
    materials of the library hold is then asked back (InputError).
    """
    stated = assays.read(strength)
    if stated is None:
        if sole and re.fullmatch(r"\s*[\d.,]+\s*%\s*", strength):
            known = [m for m in library.materials.values()
                     if m.main == held.id and m.record.form in {"solid", "metal"}]  # fmt: skip
            low = min([m.low.get(held.id, 1.0) for m in known], default=1.0)
            high = max([m.high.get(held.id, 1.0) for m in known], default=1.0)
            assays.ask_back(held, held.name, units.read_fraction(strength), low, high)
        return {"substance": held.id, "strength": strength}
    assays.fraction_of(stated.high, stated.formula, held)
    out = {"substance": held.id, "strength": f"{100 * stated.typical:g} %"}
    if stated.low < stated.high:
        out |= {"low": f"{100 * stated.low:g} %", "high": f"{100 * stated.high:g} %"}
    assert held.parsed is not None
    given = formulas.parse(stated.formula)
    if given.counts == held.parsed.counts:
        return out
    return {**out, "as_formula": stated.formula,
            "of_element": assays.telling(given, held.parsed)[0]}  # fmt: skip


# --- checking and saving -----------------------------------------------------------------------


def faults(drafts: Sequence[Draft], folder: Path, beside: Sequence[Path]) -> list[Fault]:
    """All faults that the drafts would have in ``folder``, on top of the libraries ``beside``.

    Raises Refused when one of them holds, takes or makes what routefinder refuses. A new substance
    or material that nothing uses yet is no fault here.
    """
    from routefinder.library.check import faults_of, refused

    with tempfile.TemporaryDirectory(prefix="routefinder-new-") as temporary:
        stage = Path(temporary) / "library"
        for kind, path in library_files(folder) if folder.is_dir() else ():
            place = stage / kind if kind in KINDS and kind != "equipment" else stage
            place.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, place / path.name)
        for each in drafts:
            path = each.path(stage)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(each.text(), encoding="utf-8")
        loaded = load([*beside, stage])
        for refusal in refused(loaded):
            raise Refused(refusal.what)
        found = faults_of(loaded, [stage])
    mine = {each.path(stage).name for each in drafts}
    return [
        f for f in found
        if Path(f.path).name in mine and not (f.rule == "orphan" and len(drafts) == 1)
    ]  # fmt: skip


def save(drafts: Sequence[Draft], folder: Path, *, replace: bool = False) -> list[Path]:
    """Write the drafts into a library folder, all or none; raises InputError when that fails.

    A file that exists is left alone unless ``replace``.
    """
    wanted = {each.path(folder): each.text() for each in drafts}
    for path in wanted:
        if path.exists() and not replace:
            raise InputError(f"{path} exists already; choose another id")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"{folder} cannot be written ({error.strerror})") from None
    files.write_all(wanted, force=replace)
    return list(wanted)


def is_library(folder: Path) -> bool:
    """Whether a folder has library files in it."""
    return folder.is_dir() and bool(library_files(folder))


def refuse_answer(text: str | Substance, library: Library, role: regulated.Role = "taken") -> None:
    """Refuse a name, formula, CAS number or record before anything is made of it.

    ``role`` is the part it plays: a gas that is refused as a target may leave a step beside it.
    """
    regulated.refuse(text, role, library)


def refuse_doubtful(formula: str, name: str, cas: str, library: Library) -> None:
    """Refuse a formula that a listed substance shares, unless a CAS number says it is another."""
    judged = regulated.verdict_of((name,), formula, cas or None, library)
    hit = judged.refusal("taken")
    if hit is not None:
        raise Refused(regulated.sentence(name, hit))


def doubtful(formula: str, library: Library) -> tuple[regulated.Hit, ...]:
    """Listed substances that share a formula with harmless ones."""
    return regulated.verdict(formula, library).doubts
