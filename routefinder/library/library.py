"""A library: all records by id, found by name."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from routefinder.errors import (
    AmbiguousName,
    NameNotFound,
)
from routefinder.library.names import NameIndex
from routefinder.library.resolve import ResolvedMaterial, ResolvedStep
from routefinder.records.control import Control
from routefinder.records.equipment import Equipment
from routefinder.records.substance import Substance


@dataclass
class Library:
    """All records of one or several libraries, by id, with their names resolved.

    ``regulated`` holds the rows of regulated.yaml; ``worked_out`` what has been worked out of each
    step (``keep``), ``prepared`` that this was done for all of them; ``fingerprint`` changes when
    any file does; ``passed`` is the size at which ``regulated.refuse_library`` found nothing to
    refuse; ``screen`` holds its lists ready for look-up; ``verdicts`` remembers what
    ``regulated.of`` said of a substance, ``dissolved`` the hazards of its solutions, ``curves``
    their densities.
    """

    substances: dict[str, Substance] = field(default_factory=dict)
    steps: dict[str, ResolvedStep] = field(default_factory=dict)
    materials: dict[str, ResolvedMaterial] = field(default_factory=dict)
    equipment: dict[str, Equipment] = field(default_factory=dict)
    regulated: tuple[Control, ...] = ()
    worked_out: dict[str, tuple[ResolvedStep, dict[str, Substance], Any]] = field(
        default_factory=dict, repr=False, compare=False
    )
    prepared: bool = False
    fingerprint: str = ""
    in_solution: frozenset[str] | None = field(default=None, repr=False, compare=False)
    of_steps: dict[str, ResolvedStep] | None = field(default=None, repr=False, compare=False)
    passed: tuple[int, int, int] | None = field(default=None, init=False)
    screen: Any = field(default=None, init=False, repr=False, compare=False)
    verdicts: dict[str, tuple[Substance, Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    dissolved: dict[tuple[str, float | None], tuple[Substance, Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    curves: dict[str, tuple[dict[str, Substance], dict[str, ResolvedMaterial], Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __repr__(self) -> str:
        return (
            f"<Library: {len(self.steps)} steps, {len(self.substances)} substances, "
            f"{len(self.materials)} materials, {len(self.equipment)} kinds of equipment>"
        )

    def kept(self, what: str, step: ResolvedStep) -> Any:
        """What ``keep`` has kept of a step, or None when the step or a substance is another."""
        found = self.worked_out.get(f"{what} of {step.id}")
        if found is None or found[0] is not step or found[1] is not self.substances:
            return None
        return found[2]

    def keep(self, what: str, step: ResolvedStep, value: Any) -> Any:
        """Keep what was worked out of a step (with this library's substances); gives it back."""
        self.worked_out[f"{what} of {step.id}"] = (step, self.substances, value)
        return value

    @property
    def soluble(self) -> frozenset[str]:
        """Roots of all substances that some step takes or makes dissolved.

        Handed on to a part of the library (``alone``), which knows no less chemistry.
        """
        if self.in_solution is None:
            self.in_solution = frozenset(
                self.root(p.substance)
                for s in self.steps.values()
                for p in (*s.reactants, *s.products)
                if p.state == "aq"
            )
        return self.in_solution

    def alone(self, step: ResolvedStep) -> Library:
        """The library with this one step, for looking at it by itself."""
        return replace(
            self, steps={step.id: step}, in_solution=self.soluble, of_steps=self.known_steps
        )

    @property
    def known_steps(self) -> dict[str, ResolvedStep]:
        """All steps, also of a library that is left with one: what is known does not change."""
        return self.steps if self.of_steps is None else self.of_steps

    @cached_property
    def gases(self) -> frozenset[str]:
        """Substances that some step takes or gives as a gas."""
        parts = (p for s in self.known_steps.values() for p in (*s.reactants, *s.products))
        return frozenset(p.substance for p in parts if p.state == "g")

    @cached_property
    def made(self) -> dict[str, frozenset[str]]:
        """Substance id -> the states in which steps make it to keep."""
        out: dict[str, set[str]] = {}
        for step in self.steps.values():
            for part in step.kept():
                out.setdefault(part.substance, set()).add(part.state)
        return {name: frozenset(states) for name, states in out.items()}

    @cached_property
    def substance_names(self) -> NameIndex:
        """Names of substances."""
        index = NameIndex()
        for s in self.substances.values():
            index.add(s.id, (s.name, *s.names), s.cas, s.formula)
        return index

    @cached_property
    def material_names(self) -> NameIndex:
        """Names of materials."""
        index = NameIndex()
        for m in self.materials.values():
            index.add(m.id, (m.record.name, *m.record.names), None, None)
        return index

    @cached_property
    def equipment_names(self) -> NameIndex:
        """Names of equipment, in the singular and the plural of what a record has."""
        index = NameIndex()
        for e in self.equipment.values():
            index.add(e.id, (e.name, *e.names), None, None)
        for e in self.equipment.values():
            other = [n[:-1] if n.endswith("s") and not n.endswith("ss") else f"{n}s"
                     for n in (e.name, *e.names)]  # fmt: skip
            index.add(e.id, (e.name, *(n for n in other if not index.find(n))), None, None)
        return index

    @cached_property
    def heated_alone(self) -> dict[str, tuple[ResolvedStep, ...]]:
        """Solid -> steps that only heat it, so that gas leaves and solids stay; coolest first."""
        out: dict[str, list[ResolvedStep]] = {}
        for step in self.known_steps.values():
            lone = len(step.reactants) == 1 and not step.aids and not step.is_recipe
            dry = all(p.state in {"s", "g"} for p in step.products)
            gas = any(p.state == "g" for p in step.products)
            if lone and dry and gas and step.limiting.state == "s":
                out.setdefault(step.limiting.substance, []).append(step)
        return {
            name: tuple(sorted(steps, key=lambda s: (s.record.temperature.low_C, s.id)))
            for name, steps in out.items()
        }

    @cached_property
    def families(self) -> dict[str, tuple[str, ...]]:
        """Root id -> all forms that dissolve to the same thing, the root first."""
        out: dict[str, list[str]] = {}
        for s in self.substances.values():
            root = s.hydrate_of or s.id
            out.setdefault(root, [])
            if s.id == root:
                out[root].insert(0, s.id)
            else:
                out[root].append(s.id)
        return {root: tuple(forms) for root, forms in out.items()}

    def root(self, substance_id: str) -> str:
        """The anhydrous form of a substance's family."""
        return self.substances[substance_id].hydrate_of or substance_id

    def name(self, substance_id: str) -> str:
        """The name of a substance."""
        return self.substances[substance_id].name

    def substance(self, text: str) -> Substance:
        """The substance that ``text`` names (name, trade name, formula or CAS number).

        Raises NameNotFound with the closest names, or AmbiguousName with the choices.
        """
        return self.substances[self._one(text, self.substance_names, "substance")]

    def material(self, text: str) -> ResolvedMaterial:
        """The material that ``text`` names."""
        return self.materials[self._one(text, self.material_names, "material")]

    def step(self, text: str) -> ResolvedStep:
        """The step with this id."""
        if text in self.steps:
            return self.steps[text]
        index = NameIndex()
        for s in self.steps.values():
            index.add(s.id, (s.title,), None, None)
        return self.steps[self._one(text, index, "step")]

    def _one(self, text: str, index: NameIndex, kind: str) -> str:
        ids = index.find(text)
        if not ids and kind == "substance":
            # a trade name: the substance that the material is sold for
            materials = self.material_names.find(text)
            ids = list(dict.fromkeys(self._main(m) for m in materials))
        if len(ids) == 1:
            return ids[0]
        if ids:
            choices = [self._choice(i, kind) for i in ids]
            listed = "".join(f"\n  {choice}" for choice in choices)
            raise AmbiguousName(
                f"{text!r} may mean several things; write one of these:{listed}", choices
            )
        closest = index.closest(text)
        if kind == "substance":
            closest = list(dict.fromkeys(closest + self.material_names.closest(text, 3)))[:6]
        hint = "; try another name, the formula or the CAS number"
        if closest:
            hint = "; the closest names are:" + "".join(f"\n  {name}" for name in closest)
        raise NameNotFound(f"no {kind} is called {text!r} in the library{hint}", closest)

    def _main(self, material_id: str) -> str:
        return next(iter(self.materials[material_id].fractions))

    def _choice(self, record_id: str, kind: str) -> str:
        if kind == "substance":
            s = self.substances[record_id]
            formula = f" ({s.label})" if s.formula else ""
            return f"{s.name}{formula}"
        if kind == "material":
            return self.materials[record_id].record.name
        return record_id
