"""Lints of strength: an acid, a lye, a peroxide stands in the pot as its record says it does.

The arithmetic is ``library/pot.py``'s, with the strongest that the library's materials sell: what
holds for that holds for anything weaker. Like the other lints these honour ``exceptions``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import ceil

from routefinder.errors import Fault
from routefinder.library import pot
from routefinder.library.assemble import FileEntry
from routefinder.library.library import Library
from routefinder.library.load import Loaded
from routefinder.library.resolve import ResolvedStep

# mass fraction from which a solution burns skin or eyes, so that a record must name an upper end
BURNS: dict[str, tuple[float, str]] = {
    "H2SO4": (0.15, "CLP Annex VI, 016-020-00-8: H314 from 15 %"),
    "HCl": (0.25, "CLP Annex VI, 017-002-01-X: H314 from 25 %"),
    "HNO3": (0.05, "CLP Annex VI, 007-030-00-3: H314 from 5 %"),
    "H3PO4": (0.25, "CLP Annex VI, 015-011-00-6: H314 from 25 %"),
    "C2H4O2": (0.25, "CLP Annex VI, 607-002-00-6: H314 from 25 %"),
    "C3H6O2": (0.25, "CLP Annex VI, 607-089-00-0: H314 from 25 %"),
    "CH2O2": (0.10, "CLP Annex VI, 607-001-00-0: H314 from 10 %"),
    "NaOH": (0.05, "CLP Annex VI, 011-002-00-6: H314 (1A) from 5 %"),
    "KOH": (0.05, "CLP Annex VI, 019-002-00-8: H314 (1A) from 5 %"),
    "LiOH": (0.05, "CLP Annex I, table 3.2.3: H314 from 5 % where no other limit is set"),
    "NH3": (0.05, "CLP Annex VI, 007-001-01-2: H335 from 5 %"),
    "H2O2": (0.08, "CLP Annex VI, 008-003-00-9: H318 from 8 %"),
}
ACIDS = frozenset({"H2SO4", "HCl", "HNO3", "H3PO4", "C2H4O2", "C3H6O2", "CH2O2"})
NEAR = 1e-3  # mass fraction: rounding of amounts in a record
DILUTE = 0.30  # what a title may call dilute acid; common practice

_NUMBER = r"(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? %"
_SAID = {
    "acid": (
        re.compile(rf"\bacid (?:of|at)(?: about)? {_NUMBER}(?! and more)", re.IGNORECASE),
        re.compile(rf"\bdilute[ds]?\b[^.;:]*? (?:below|to)(?: about)? {_NUMBER}", re.IGNORECASE),
        re.compile(rf"\bacid dilute \({_NUMBER}\)", re.IGNORECASE),
    ),
    "peroxide": (
        re.compile(rf"{_NUMBER} peroxide", re.IGNORECASE),
        re.compile(rf"\bperoxide \({_NUMBER}", re.IGNORECASE),
    ),
}
_DILUTE_ACID = re.compile(
    r"\bdiluted? (?:sulfuric|hydrochloric|nitric|phosphoric|formic|acetic|mineral)? ?acid",
    re.IGNORECASE,
)


def _steps(loaded: Loaded, rule: str) -> Iterator[tuple[FileEntry, ResolvedStep]]:
    for (kind, name), entry in loaded.entries.items():
        step = loaded.library.steps.get(name) if kind == "steps" else None
        if step is not None and rule not in entry.record.exceptions:
            yield entry, step


def _pots(loaded: Loaded) -> Iterator[tuple[FileEntry, ResolvedStep, dict[str, pot.InPot]]]:
    sold = pot.strongest_sold(loaded.library)
    for entry, step in _steps(loaded, "strength"):
        if any(p.state == "aq" for p in step.reactants):
            yield entry, step, pot.pots(loaded.library, step, sold)


def _burns(library: Library, substance: str) -> tuple[float, str] | None:
    """From where its solution burns; an isomer of the acids that does not burn is left out."""
    s = library.substances[substance]
    return BURNS.get(s.formula or "") if {"H314", "H318"} & set(s.hazards.scored) else None


def burns_as(library: Library, substance: str, fraction: float | None) -> str:
    """ "acid" or "alkali" of what burns at this mass fraction (None: pure), else ""."""
    limit = _burns(library, substance)
    formula = library.substances[substance].formula
    if limit is None or formula == "H2O2" or (fraction is not None and fraction < limit[0]):
        return ""
    return "acid" if formula in ACIDS else "alkali"


def _percent(fraction: float) -> str:
    return f"{100 * fraction:.3g} %"


def strength_in_pot(loaded: Loaded) -> Iterator[Fault]:
    """What is charged makes a pot outside the strength that the step states."""
    for entry, step, found in _pots(loaded):
        for name, here in found.items():
            least, most = step.strength.get(name, 0.0), step.at_most.get(name)
            label = loaded.library.name(name)
            if most is not None and here.alone > most + NEAR:
                yield entry.fault(
                    ("strength",),
                    f"{label} stands at {_percent(here.alone)} in its share of the water, but the "
                    f"step allows {_percent(most)} at most",
                    "Call for more solvent water, or raise the upper end.", "strength",
                )  # fmt: skip
            if here.among < least - NEAR:
                yield entry.fault(
                    ("strength",),
                    f"{label} stands at {_percent(here.among)} in all the water that is called "
                    f"for, but the step asks for {_percent(least)} at least",
                    "Call for less solvent water, or mark what goes in later 'after: true'.",
                    "strength",
                )


def strength_unsaid(loaded: Loaded) -> Iterator[Fault]:
    """A solution that burns is charged, and no upper end of its strength is stated."""
    for entry, step, found in _pots(loaded):
        for name, here in found.items():
            limit = _burns(loaded.library, name)
            if limit is None or name in step.at_most or here.alone <= limit[0] + NEAR:
                continue
            formula = loaded.library.substances[name].formula
            yield entry.fault(
                ("equation",) if step.record.equation else ("recipe",),
                f"{loaded.library.name(name)} is charged at {_percent(here.alone)} ({limit[1]}), "
                "and nothing says how strong it may be",
                f"Write strength: {{{formula}: up to {5 * ceil(here.alone * 20)} %}}, and call for "
                "the water that makes it so.", "strength",
            )  # fmt: skip


def broken_words(loaded: Loaded) -> Iterator[Fault]:
    """Title, watch or caution name a strength that the pot exceeds."""
    for entry, step, found in _pots(loaded):
        kinds: dict[str, list[str]] = {"acid": [], "peroxide": []}
        for name in found:
            formula = loaded.library.substances[name].formula or ""
            if formula in ACIDS and _burns(loaded.library, name):
                kinds["acid"].append(name)
            elif formula == "H2O2":
                kinds["peroxide"].append(name)
        record = step.record
        for said, most, kind in _said((record.title, *record.watch, *record.cautions)):
            for name in kinds[kind]:
                here = step.at_most.get(name, found[name].alone)
                if here > most + 5 * NEAR:
                    yield entry.fault(
                        ("strength",) if record.strength else ("title",),
                        f"the record says {said!r}, but {loaded.library.name(name)} may stand at "
                        f"{_percent(here)}",
                        "Call for the water that the words ask for, and state it as 'strength'.",
                        "strength",
                    )


def _said(texts: tuple[str, ...]) -> Iterator[tuple[str, float, str]]:
    """(words, greatest mass fraction they allow, what of) for each strength that texts name."""
    for text in texts:
        for kind, patterns in _SAID.items():
            for pattern in patterns:
                for match in pattern.finditer(text):
                    yield match[0], float(match[2] or match[1]) / 100, kind
    for match in _DILUTE_ACID.finditer(texts[0]):
        yield match[0], DILUTE, "acid"


RULES = (strength_in_pot, strength_unsaid, broken_words)
