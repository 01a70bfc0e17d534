"""Lint a library: every fault in one pass, each with its place and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from routefinder.errors import Fault
from routefinder.library import chemistry_lints, regulated, solubility_lints, strength_lints
from routefinder.library.assemble import FileEntry
from routefinder.library.load import Loaded, load
from routefinder.records.step import Step
from routefinder.records.substance import Substance, cas_check_digit_ok


def check(folders: Sequence[Path], lint: Sequence[Path] | None = None) -> list[Fault]:
    """All faults of the libraries, by file and line; an empty list when all is well.

    ``lint`` narrows the report to these folders (the others are only loaded).
    """
    return faults_of(load(folders), lint)


def faults_of(loaded: Loaded, lint: Sequence[Path] | None = None) -> list[Fault]:
    """All faults of what is loaded, as ``check`` gives them."""
    faults = list(loaded.faults)
    for rule in RULES:
        faults += rule(loaded)
    if lint is not None:
        inside = [str(d.path) for d in loaded.documents if any(_in(d.path, f) for f in lint)]
        shown = {d.shown for d in loaded.documents if str(d.path) in inside}
        known = {d.shown for d in loaded.documents}
        faults = [f for f in faults if f.path in shown or f.path not in known]
    unique = dict.fromkeys(faults)
    return sorted(unique, key=lambda f: (f.path, f.line, f.column, f.what))


def _in(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())


def _each(loaded: Loaded, kind: str) -> Iterator[tuple[FileEntry, Any]]:
    for (entry_kind, _), entry in loaded.entries.items():
        if entry_kind == kind:
            yield entry, entry.record


def bad_cas(loaded: Loaded) -> Iterator[Fault]:
    """CAS numbers whose check digit does not fit."""
    for entry, s in _each(loaded, "substances"):
        if s.cas is not None and not cas_check_digit_ok(s.cas):
            yield entry.fault(
                ("cas",), f"{s.cas!r} is not a CAS number (its check digit or form is wrong)",
                "Look the number up again.", "bad-cas",
            )  # fmt: skip


def missing_source(loaded: Loaded) -> Iterator[Fault]:
    """Entries, and hazards and prices inside them, without a source."""
    for kind in ("substances", "steps", "materials", "equipment"):
        for entry, record in _each(loaded, kind):
            if not record.sources:
                yield entry.fault(
                    (), f"{record.id} has no source",
                    "Add 'sources:' with an honesty mark, for example 'from memory'.",
                    "missing-source",
                )  # fmt: skip
    for entry, s in _each(loaded, "substances"):
        for key, hazards in (("hazards", s.hazards), *(("solutions", h) for h in s.solutions)):
            if not hazards.unknown and not hazards.source:
                yield entry.fault(
                    (key,), f"the hazards of {s.id} have no source",
                    "Add 'source:' to them, or 'unknown: true'.", "missing-source",
                )  # fmt: skip
    for entry, m in _each(loaded, "materials"):
        if m.price is not None and not m.price_source:
            yield entry.fault(
                ("price",), f"the price of {m.id} has no source", "Add 'price_source:'.",
                "missing-source",
            )  # fmt: skip


def yield_without_source(loaded: Loaded) -> Iterator[Fault]:
    """Yields, or parts of one, that do not say where they come from.

    The sources of the entry do not cover them: an equation may be printed and its yield a guess.
    """
    for entry, step in _each(loaded, "steps"):
        parts = step.yield_.parts
        for n, part in enumerate(parts):
            if not part.source:
                which = f"part {n + 1} ({part.what}) of the yield" if part.what else "the yield"
                yield entry.fault(
                    ("yield",), f"{which} of {step.id} does not say where it comes from",
                    "Add 'source:' to it: 'published: ...', 'computed: ...', 'common practice' or "
                    "'from memory' for a guess; the sources of the step do not cover its yield.",
                    "yield-without-source",
                )  # fmt: skip


def invented(loaded: Loaded) -> Iterator[Fault]:
    """Invented data outside examples/."""
    for (_, name), entry in loaded.entries.items():
        if "examples" in entry.document.path.resolve().parts:
            continue
        if '"invented' in entry.record.model_dump_json():
            yield entry.fault(
                (), f"{name} holds invented data", "Invented data belongs in examples/.", "invented"
            )


def orphan_substances(loaded: Loaded) -> Iterator[Fault]:
    """Substances that no step, material or hydrate uses."""
    library = loaded.library
    used: set[str] = set()
    for step in library.steps.values():
        used |= {p.substance for p in (*step.reactants, *step.products)}
        used |= {a.substance for a in step.aids}
    for material in library.materials.values():
        used |= set(material.fractions)
    used |= {library.root(i) for i in used if i in library.substances}
    for entry, s in _each(loaded, "substances"):
        root_used = any(form in used for form in library.families.get(library.root(s.id), ()))
        if s.id not in used and not (s.hydrate_of and root_used):
            yield entry.fault(
                ("id",), f"no step and no material uses {s.id}",
                "Use it or take it out.", "orphan",
            )  # fmt: skip


def same_steps(loaded: Loaded) -> Iterator[Fault]:
    """Two steps with the same reactants, products, kind, window and auxiliaries that take part.

    Water and what only washes or dries does not tell two steps apart.
    """
    seen: dict[object, FileEntry] = {}
    for entry, step in _each(loaded, "steps"):
        resolved = loaded.library.steps.get(step.id)
        if resolved is None:
            continue
        key = (
            frozenset((p.substance, p.state) for p in resolved.reactants),
            frozenset((p.substance, p.state) for p in resolved.products),
            step.kind, step.temperature.low_C, step.temperature.high_C,
            frozenset(a.substance for a in resolved.aids
                      if a.role not in {"wash", "drying agent"} and a.substance != "water"),
        )  # fmt: skip
        if key in seen:
            other = seen[key].record.id
            yield entry.fault(
                ("id",), f"{step.id} is the same step as {other}", "Keep one of them.", "same-step"
            )
        seen.setdefault(key, entry)


def heat_named(loaded: Loaded) -> Iterator[Fault]:
    """Hot steps that name no heat, and heat outside the step's own window."""
    for entry, step in _each(loaded, "steps"):
        yield from _heat_named(entry, step)


def _heat_named(entry: FileEntry, step: Step) -> Iterator[Fault]:
    if step.temperature.low_C <= 60 or "no-heat" in step.exceptions:
        return
    reach = [
        c.limit("to")
        for c in step.equipment
        if c.name in {"heat-liquid", "heat-dry", "open-flame", "reflux", "distil", "dry"}
    ]
    if not reach and not any(c.name in {"reflux", "distil", "evaporate"} for c in step.equipment):
        yield entry.fault(
            ("equipment",),
            f"the step works at {step.temperature.low_C:g} degC or more, but names no heat",
            "Add 'heat-liquid' or 'heat-dry' with 'to'.", "no-heat",
        )  # fmt: skip
        return
    figures = [figure for figure in reach if figure is not None]
    if figures and max(figures) > step.temperature.high_C + 1e-9:
        yield entry.fault(
            ("equipment",),
            f"the heat goes to {max(figures):g} degC, above the window's "
            f"{step.temperature.high_C:g} degC",
            "Correct the window or the heat.", "heat-outside-window",
        )  # fmt: skip
    if figures and max(figures) < step.temperature.low_C - 1e-9:
        yield entry.fault(
            ("equipment",),
            f"the heat goes to {max(figures):g} degC only, below the window's "
            f"{step.temperature.low_C:g} degC",
            "Correct the window or the heat.", "heat-outside-window",
        )  # fmt: skip


def gas_state(loaded: Loaded) -> Iterator[Fault]:
    """Gases that leave a step written as solid or liquid."""
    for entry, step in _each(loaded, "steps"):
        resolved = loaded.library.steps.get(step.id)
        if resolved is None:
            continue
        for part in resolved.products:
            substance: Substance = loaded.library.substances[part.substance]
            if substance.formula in {"CO2", "H2", "O2", "SO2", "CO"} and part.state not in {
                "g",
                "aq",
            }:
                yield entry.fault(
                    ("equation",), f"{substance.formula} is written as ({part.state})",
                    "It leaves as a gas: write (g).", "gas-state",
                )  # fmt: skip


def refused(loaded: Loaded) -> Iterator[Fault]:
    """Records that hold, take or make what routefinder refuses."""
    for kind, name, hit in regulated.refused_records(loaded.library):
        entry = loaded.entries[kind, name]
        remedy = f"Take it out. {hit.differs}" if hit.by == "formula" else "Take it out."
        yield entry.fault(
            (), f"{name} is on a list that routefinder does not plan for: {hit.title}",
            remedy, "refused",
        )  # fmt: skip


RULES = (
    refused,
    bad_cas,
    missing_source,
    yield_without_source,
    invented,
    orphan_substances,
    same_steps,
    heat_named,
    gas_state,
    *chemistry_lints.RULES,
    *strength_lints.RULES,
    *solubility_lints.RULES,
)
