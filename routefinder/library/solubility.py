"""What the library's solubility tables say of a crystallisation: readings, crops, conflicts.

Where tables disagree every table gives its own answer, and the range is shown. The tables hold
g of anhydrous substance per 100 g of water.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from routefinder.chem import solutions
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.substance import Solubility, Substance

_CROPS = {"one": 1, "single": 1, "first": 1, "two": 2, "second": 2, "three": 3, "several": 4}
_CROP_WORDS = re.compile(r"\b(\w+)(?: (?:or|to) (\w+))? crops?\b")
_FEWER = re.compile(
    r"\bone (?:or|to) two crops|\btwo to three crops|\bone crop (?:\()?(?:for )?low|\blow one crop"
)
_AGAIN = re.compile(r"boiled down (?:again|twice)")


@dataclass(frozen=True)
class TabledCrops:
    """One table's answer at one temperature, g anhydrous per 100 g water."""

    anhydrous: float
    source: str


@dataclass(frozen=True)
class Crystallising:
    """What one table says of cooling from ``hot_C`` to ``cold_C``.

    ``hot`` and ``cold`` are g of crystals per 100 g of free water; ``hot`` is None when the salt
    dissolves in its own crystal water there; ``hot_C`` and ``cold_C`` are where the table was
    read. ``falls`` is a stretch of the table that falls on warming (retrograde), if the window has
    one. ``share`` is what one crop brings.
    """

    hot: float | None
    cold: float | None
    hot_C: float
    cold_C: float
    falls: tuple[float, float] | None
    source: str

    @property
    def share(self) -> float | None:
        """Share of one crop from hot saturation; None when cooling brings none or is not known."""
        if self.hot is None or self.cold is None or self.hot <= self.cold:
            return None
        return solutions.crop(self.hot, self.cold)


def tables_of(library: Library, substance_id: str) -> tuple[Solubility, ...]:
    """The tables of a substance, or else of the anhydrous form of its family."""
    own: Substance = library.substances[substance_id]
    dry = library.substances[library.root(substance_id)]
    return dry.solubility or own.solubility


def _source(table: Solubility) -> str:
    return "; ".join(str(s) for s in table.source)


def readings(tables: tuple[Solubility, ...], temperature_C: float) -> tuple[TabledCrops, ...]:
    """Every table's reading at a temperature; tables that do not reach it are left out."""
    out = []
    for table in tables:
        found = solutions.interpolate(table.at, temperature_C)
        if found is not None:
            out.append(TabledCrops(found, _source(table)))
    return tuple(out)


def crystallising(
    library: Library, substance_id: str, hot_C: float, cold_C: float, *, clamp: bool = False
) -> tuple[Crystallising, ...]:
    """What each table says of cooling a solution so that ``substance_id`` crystallises.

    ``clamp``: a table that ends inside the window is read at its ends, so that what it says of the
    crop is rather too small (a salt that dissolves better hot).
    """
    main = library.substances[substance_id]
    dry = library.substances[library.root(substance_id)]
    ratio = main.molar_mass_g / dry.molar_mass_g
    out = []
    for table in tables_of(library, substance_id):
        least, most = min(t for t, _ in table.at), max(t for t, _ in table.at)
        low, high = (max(cold_C, least), min(hot_C, most)) if clamp else (cold_C, hot_C)
        hot, cold = (solutions.interpolate(table.at, t) for t in (high, low))
        if hot is None or cold is None:
            continue
        out.append(
            Crystallising(
                solutions.crystals_per_free_water(hot, ratio),
                solutions.crystals_per_free_water(cold, ratio),
                high,
                low,
                solutions.falls_between(table.at, cold_C, hot_C),
                _source(table),
            )
        )
    return tuple(out)


def crops_in_words(words: str) -> int:
    """How many crops a yield's basis speaks of; 1 when it does not say."""
    text = words.lower()
    counts = [
        _CROPS.get(word, 1)
        for match in _CROP_WORDS.finditer(text)
        for word in match.groups()
        if word
    ]
    if _AGAIN.search(text):
        counts.append(_CROPS["two"])
    return max(counts, default=1)


def crops_of(step: ResolvedStep) -> int:
    """How many crops a step takes: as its stage says, else as its yield speaks of."""
    record = step.record
    for stage in record.stages:
        if stage.crops is not None:
            return stage.crops
    words = (record.yield_.basis, *(p.what for p in record.yield_.parts), record.title)
    return crops_in_words(" ".join(words))


def may_forgo(step: ResolvedStep) -> bool:
    """Whether the low end of a step's yield is that of a crop fewer."""
    words = (step.record.yield_.basis, *(p.what for p in step.record.yield_.parts))
    return crops_of(step) > 1 and bool(_FEWER.search(" ".join(words).lower()))


def crystallises_dissolved(library: Library, step: ResolvedStep) -> bool:
    """Whether the step takes one dissolved salt, and nothing else but water, to its crystals."""
    main = library.substances[step.main.substance]
    others = [p for p in step.reactants if library.substances[p.substance].formula != "H2O"]
    if step.main.state != "s" or len(others) != 1 or others[0].state != "aq":
        return False
    return library.root(others[0].substance) == library.root(main.id)


def crystallises(library: Library, step: ResolvedStep) -> bool:
    """Whether the step takes one dissolved salt, or two that join to a double salt, to crystals."""
    if crystallises_dissolved(library, step):
        return True
    others = [p for p in step.reactants if library.substances[p.substance].formula != "H2O"]
    return (
        step.record.kind == "crystallisation"
        and step.main.state == "s"
        and len(step.products) == 1
        and len(others) == 2
        and all(p.state == "aq" for p in others)
    )


def window(
    library: Library, step: ResolvedStep, hot_C: float | None = None, cold_C: float | None = None
) -> tuple[Crystallising, ...]:
    """What the tables say of a crystallising step through its window; () when nothing is known."""
    if not crystallises(library, step):
        return ()
    high = step.record.temperature.high_C if hot_C is None else hot_C
    low = step.record.temperature.low_C if cold_C is None else cold_C
    return crystallising(library, step.main.substance, high, low)
