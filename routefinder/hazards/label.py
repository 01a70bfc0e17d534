"""The label of a substance, a solution or a mixture: signal word, statements, pictograms.

Class, signal word and pictogram of each statement stand in ``data/statements.csv`` (UN GHS Annex 3;
from memory, the wordings in ``hazards.phrases``). Of a statement whose categories differ the
stricter signal word counts. What a label leaves out is in ``OMITS`` and ``_pictograms``; nothing is
left out of ``Label.statements``' source, only of the label, and ``omitted`` says what and why.

A label prints what the source gives. Stricter statements of other sources stand apart
(``for_caution``): they count for points and cautions, never as the classification.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from routefinder.hazards.kinds import DATA
from routefinder.hazards.mixture import covers, dissolved_hazards, material_hazards, strictest
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply
from routefinder.records.substance import Hazards

OMITS: dict[str, tuple[str, str]] = {
    "H318": ("H314", "published: UN GHS Rev. 9, 1.4.10.5.3.3"),
    "H400": ("H410", "published: UN GHS Rev. 9, 1.4.10.5.3.3"),
    "H401": ("H411", "published: UN GHS Rev. 9, 1.4.10.5.3.3"),
    "H402": ("H412", "published: UN GHS Rev. 9, 1.4.10.5.3.3"),
}  # statement: (the one that covers it, source)
NAMES: dict[str, str] = {
    "GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle",
    "GHS04": "gas cylinder", "GHS05": "corrosion", "GHS06": "skull and crossbones",
    "GHS07": "exclamation mark", "GHS08": "health hazard", "GHS09": "environment",
}  # fmt: skip
_ACUTE = frozenset({"H302", "H312", "H332"})
_SKIN_EYE = frozenset({"H315", "H319"})


@dataclass(frozen=True)
class Class:
    """What one statement puts on a label."""

    hazard_class: str
    signal: str
    pictograms: tuple[str, ...]


@dataclass(frozen=True)
class Label:
    """A label: ``signal`` is "Danger", "Warning" or "" (none), pictograms are GHS01 to GHS09.

    ``omitted`` holds (statement, why) of what the rules leave out; ``unknown`` that nobody knows
    (some of) the hazards: the label is then incomplete and says so, it is never "harmless".
    """

    name: str
    signal: str
    statements: tuple[str, ...]
    pictograms: tuple[str, ...]
    omitted: tuple[tuple[str, str], ...] = ()
    for_caution: tuple[str, ...] = ()
    unknown: bool = False


@lru_cache(maxsize=1)
def classes() -> dict[str, Class]:
    """Statement -> what it puts on a label."""
    with (DATA / "statements.csv").open(encoding="utf-8", newline="") as file:
        return {
            r["code"]: Class(r["hazard_class"], r["signal"], tuple(r["pictograms"].split()))
            for r in csv.DictReader(file)
        }


def _class(code: str) -> Class:
    found = classes()
    return found.get(code) or found.get(code[:4]) or Class("", "", ())


def make(
    name: str, codes: Iterable[str], caution: Iterable[str] = (), unknown: bool = False
) -> Label:
    """A label from statements, by the rules of omission and precedence."""
    every = tuple(sorted(set(codes), key=_order))
    omitted, shown = [], []
    for code in every:
        by, source = OMITS.get(code, ("", ""))
        if by in every:
            omitted.append((code, f"covered by {by} ({source})"))
        else:
            shown.append(code)
    signals = {_class(c).signal for c in every}
    signal = "Danger" if "Danger" in signals else "Warning" if "Warning" in signals else ""
    rest = tuple(
        c for c in sorted(set(caution), key=_order) if not any(covers(o, c) for o in every)
    )
    return Label(name, signal, tuple(shown), _pictograms(every), tuple(omitted), rest, unknown)


def _order(code: str) -> tuple[bool, str]:
    return (not code.startswith("H"), code)  # EUH statements come last


def _pictograms(codes: Sequence[str]) -> tuple[str, ...]:
    """Pictograms, the exclamation mark left out where a graver one speaks for its reasons.

    Precedence (from memory: UN GHS 1.4.10.5.3.1): the skull for acute toxicity, corrosion for skin
    and eyes (not for metals), the health hazard of a respiratory sensitiser for skin and eyes.
    """
    found: dict[str, set[str]] = {}
    for code in codes:
        for pictogram in _class(code).pictograms:
            found.setdefault(pictogram, set()).add(code[:4])
    reasons = found.get("GHS07", set())
    if "GHS06" in found:
        reasons = reasons - _ACUTE
    if found.get("GHS05", set()) - {"H290"}:
        reasons = reasons - _SKIN_EYE
    if "H334" in found.get("GHS08", set()):
        reasons = reasons - _SKIN_EYE - {"H317"}
    if not reasons:
        found.pop("GHS07", None)
    return tuple(sorted(found))


def label(library: Library, substance: str, fraction: float | None = None) -> Label:
    """The label of a substance (id), or of its solution in water at a mass fraction.

    Raises ValueError when ``fraction`` does not lie above 0 and up to 1.
    """
    found = library.substances[substance]
    if fraction is None:
        hazards, name = found.hazards, found.name
    else:
        if not 0 < fraction <= 1:
            raise ValueError(f"the fraction {fraction:g} must lie above 0 and up to 1 (100 %)")
        hazards = dissolved_hazards(library, substance, fraction)
        name = f"{found.name}, {100 * fraction:.3g} %"
    return make(name, hazards.statements, hazards.caution, hazards.no_data)


def material_label(
    library: Library,
    name: str,
    contents: Mapping[str, float],
    form: str,
    as_sold: Hazards | None = None,
) -> Label:
    """The label of a material: of its one substance, or by the mixture rules for several."""
    found = material_hazards(library, contents, form, as_sold)
    return make(name, found.statements, found.caution, found.no_data)


def step_label(
    library: Library,
    step: ResolvedStep,
    strengths: Mapping[str, float] | None = None,
    charged: Iterable[Supply] = (),
    inside: Mapping[str, float] | None = None,
) -> Label:
    """What all that is present in a step would bear together, for a card above the bench.

    ``charged`` are the materials weighed or poured in, as far as they are known: the label is never
    milder than any of theirs, nor than that of what is made. ``inside`` is how strong what is
    dissolved stands in the vessel, where its course is known (``score.profile``).
    """
    from routefinder.hazards.score import as_asked, hazards_of, present

    codes: set[str] = set()
    caution: set[str] = set()
    unknown = False
    poured = as_asked(library, step, strengths or {})
    for name, state, strength in present(library, step, poured, inside):
        found = hazards_of(library, name, state, strength)
        drop = {"H280"} if state in {"g", "aq"} else set()  # no cylinder stands there
        codes |= set(found.statements) - drop
        caution |= set(found.caution)
        unknown |= found.no_data
    for supply in charged:
        found = material_hazards(library, supply.fractions, supply.form, supply.hazards)
        codes |= set(found.statements)
        caution |= set(found.caution)
        unknown |= found.no_data
    return make(step.title, strictest(codes), strictest(caution), unknown)
