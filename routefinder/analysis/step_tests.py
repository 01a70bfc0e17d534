"""The tests of a step: what each must read when it went as usual, and which one tells most.

A test is judged by what it would show of a reaction that stopped a tenth short: the change of its
reading in standard uncertainties (``power``). Its figures come from the vessel's course.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routefinder.analysis import methods
from routefinder.analysis.methods import METHODS, Method
from routefinder.analysis.model import PRODUCT, Unknowns, typical, vessel_of
from routefinder.analysis.reading import MADE_UP, Tested
from routefinder.assessment.reasoning import Reason, number
from routefinder.chem.responses import FLAMES
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.bench_test import BenchTest
from routefinder.vessel.stream import Stream

MOLAR = {"acid": 0.5, "lye": 0.5, "thiosulfate": 0.1, "silver nitrate": 0.1}  # usual, mol/L
SHORT = 0.9  # a reaction that stopped a tenth short
TELLS = 2.0  # standard uncertainties by which a reading must change to tell
LEAST_SHARE = 0.005  # of a sample: what gives less is not looked for


@dataclass(frozen=True)
class Prepared:
    """One test of a step before it is carried out; masses in g, readings in the method's unit.

    ``usual`` is the reading of a usual run, ``short`` of one that stopped a tenth short,
    ``nothing`` of one that has not reacted. ``counted`` are the substances it sees, with their
    share of the reading. ``written`` is the record's own entry.
    """

    method: Method
    on: str
    sample_g: float
    molar: float
    usual: float
    short: float
    nothing: float
    u: float
    counted: tuple[tuple[str, float], ...]
    first: bool
    reason: Reason
    written: BenchTest | None = None

    @property
    def power(self) -> float:
        """Standard uncertainties between a usual reading and that of a tenth short."""
        return abs(self.usual - self.short) / self.u

    @property
    def tells(self) -> bool:
        """Whether a tenth short would show."""
        return self.power >= TELLS


@dataclass(frozen=True)
class Sign:
    """A test without a figure: ``method``, and what is looked for (a substance, a figure)."""

    method: Method
    substance: str
    figure: float | None = None
    word: str = ""
    written: BenchTest | None = None


Runs = tuple[Mapping[str, Stream], ...]


def three_runs(library: Library, step: ResolvedStep) -> Runs:
    """The streams of a usual run, of one that stopped a tenth short, of one without reaction."""
    vessel, usual = vessel_of(library, step), typical(library, step)
    return tuple(
        vessel.streams(Unknowns(usual.conversion * share, usual.kept))
        for share in (1.0, SHORT, 0.0)
    )


def prepare(
    library: Library,
    step: ResolvedStep,
    method: str,
    *,
    on: str = PRODUCT,
    sample_g: float | None = None,
    molar: float | None = None,
    first: bool = False,
    runs: Runs | None = None,
    written: BenchTest | None = None,
) -> Prepared | None:
    """One test of a step; None when there is nothing for it to see. ``runs`` as ``three_runs``."""
    kind = METHODS[method]
    if kind.sign:
        return None
    three = runs or three_runs(library, step)
    found = [run.get(on) for run in three]
    streams = [s if s is not None and float(s.mass_g) > 0 else None for s in found]
    made, short, nothing = streams
    if made is None or short is None:
        return None
    if kind.name == "hydrometer" and (step.main.state != "aq" or on != PRODUCT):
        return None
    solid = float(made.solids_g) > 0.5 * float(made.mass_g)
    if kind.name in {"residue", "acid residue", "ignition"} and not solid:
        return None
    per = [float(methods.per_gram(library, method, s, first)) if s else 0.0 for s in streams]
    if method in {"alkali", "acid", "acid gas", "iodometry", "chloride"} and not _seen(per):
        return None
    c = molar if molar is not None else MOLAR.get(kind.titrant, 0.0)
    sample = sample_g or methods.sample_for(method, max(per), c, solid)
    # nothing that has not reacted weighs as much as the vessel holds: a sample is a sample
    read = [
        float(methods.reading(library, method, s, sample, c, first)) if s is not None else 0.0
        for s in (made, short, nothing)
    ]
    done = Tested(method, read[0], 0.0, sample, 0.003, molar=c, u_molar=MADE_UP * c)
    u = max((kind.u**2 + (kind.u_share * read[0]) ** 2 + (done.relative * read[0]) ** 2) ** 0.5,
            1e-9)  # fmt: skip
    counted = _counted(library, method, made, first)
    return Prepared(
        kind, on, sample, c, read[0], read[1], read[2], u, counted, first,
        _reason(library, kind, made, sample, c, per[0], read[0], first), written,
    )  # fmt: skip


def _seen(per: list[float]) -> bool:
    """Whether what gives the reading is more than a trace: 0.05 mmol per gram."""
    return max(per) > 5e-5


def _counted(
    library: Library, method: str, stream: Stream, first: bool
) -> tuple[tuple[str, float], ...]:
    if method in {"hydrometer", "ignition", "residue", "acid residue"}:
        return ()
    rows = []
    for (name, phase), grams in stream.parts.items():
        part = Stream({(name, phase): 1.0})
        per = float(methods.per_gram(library, method, part, first))
        if per and name in library.substances:
            rows.append((name, per * float(grams)))
    whole = sum(v for _, v in rows)
    merged: dict[str, float] = {}
    for name, value in rows:
        merged[name] = merged.get(name, 0.0) + value / whole
    return tuple(sorted(merged.items(), key=lambda row: -row[1]))


def _reason(
    library: Library,
    kind: Method,
    stream: Stream,
    sample: float,
    molar: float,
    per: float,
    read: float,
    first: bool,
) -> Reason:
    lines = [
        f"in 100 g as a usual run gives it: {number(100 * share)} g of {library.name(name)}"
        for name in stream.named()
        if name in library.substances
        and (share := float(stream.grams(name) / stream.mass_g)) > LEAST_SHARE
    ]
    if kind.titrant:
        lines.append(
            f"it must take: {number(sample)} g × {number(per)} mol/g × 1000 / {number(molar)} = "
            f"{number(read)} mL"
        )
    elif kind.name == "acid gas":
        lines.append(
            f"it must give: {number(sample)} g × {number(per)} mol/g × "
            f"{number(methods.GAS_ML_MOL)} mL = {number(read)} mL"
        )
    elif kind.name != "hydrometer":
        lines.append(f"it must leave: {number(sample)} g × {number(per)} = {number(read)} g")
    name = kind.title + (", first end point" if first else "")
    return Reason(f"test:{kind.name}", name, tuple(lines))


def figures_and_signs(
    library: Library, step: ResolvedStep, on: str = PRODUCT
) -> tuple[tuple[Prepared, ...], tuple[Sign, ...]]:
    """(tests with a figure, the record's own first and then what tells most per minute; signs)."""
    runs = three_runs(library, step)
    own = {t.method: t for t in step.record.tests}
    found: list[Prepared] = []
    for written in step.record.tests:
        first = "first" in written.end_point
        one = prepare(library, step, written.method, on=written.sampled, first=first, runs=runs,
                      sample_g=written.sample_g, written=written)  # fmt: skip
        if one is not None:
            found.append(one)
    rest: list[Prepared] = []
    for method, first in [*((m, False) for m in METHODS), ("alkali", True)]:
        if method in own:
            continue
        one = prepare(library, step, method, on=on, runs=runs, first=first)
        if one is not None and one.tells:
            rest.append(one)
    rest.sort(key=lambda p: -min(p.power, 30.0) / p.method.minutes)
    return (*found, *rest), _signs(library, step, own)


def _signs(library: Library, step: ResolvedStep, own: dict[str, BenchTest]) -> tuple[Sign, ...]:
    main = library.substances[step.main.substance]
    given = methods.of_substance(library, main.id)
    out = []
    if given.acid or given.alkali_first or "pH" in own:
        word = "acid" if given.acid else "alkaline" if given.alkali_first else ""
        out.append(Sign(METHODS["pH"], main.id, None, word, own.get("pH")))
    if main.melting_C is not None and step.main.state == "s" and main.melting_C < 250:
        out.append(Sign(METHODS["melting"], main.id, main.melting_C, "", own.get("melting")))
    if given.flames:
        element = given.flames[0]
        word = f"{element}: {FLAMES[element]}"
        out.append(Sign(METHODS["flame"], main.id, None, word, own.get("flame")))
    if step.main.state == "s" and methods.dissolves_in_water(library, main.id):
        left = [p.substance for p in step.reactants if p.state == "s"
                and not methods.dissolves_in_water(library, p.substance)]  # fmt: skip
        if left:
            out.append(Sign(METHODS["dissolving"], main.id, None, left[0], own.get("dissolving")))
    named = {s.method.name for s in out}
    out += [Sign(METHODS[m], main.id, None, "", t) for m, t in own.items()
            if METHODS[m].sign and m not in named]  # fmt: skip
    return tuple(out)


def deciding(library: Library, step: ResolvedStep) -> Prepared | None:
    """The test that tells how far the step went, for least work; None when none of ours does."""
    figures, _ = figures_and_signs(library, step)
    telling = [p for p in figures if p.tells]
    return next((p for p in telling if p.written), telling[0] if telling else None)
