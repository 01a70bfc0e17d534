"""What weights and tests of a step mean together: the inference, for what was weighed in.

The forward model is the vessel charged with what was weighed (``mass_model.vessel``); the inference
stands in ``analysis.inference``. Here its findings are put so that the bench can use them: the
verdict, the explanations with their odds, the strength to dose the next step by, and the further
test that takes most of the doubt away for its work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from routefinder.analysis import methods, step_tests
from routefinder.analysis.inference import (
    MOIST,
    Posterior,
    Priors,
    Spread,
    Telling,
    Weighed,
    infer,
    prior_yield,
    worth,
)
from routefinder.analysis.model import PRODUCT, VESSEL, Vessel, charged, typical
from routefinder.analysis.reading import Tested
from routefinder.assessment.distribution import Distribution
from routefinder.errors import InputError
from routefinder.journal.account import StepState
from routefinder.journal.mass_model import model, vessel
from routefinder.journal.rivals import rivals
from routefinder.journal.weight import Charge, Reading
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.vessel.stream import Number, Stream

RIVALS = 3  # other solids that are tried, the nearest in weight first
SAME = 1e-3  # a rival that weighs the same to this share is left out: a weight never tells it
TOLD = 0.8  # of the spread before: our choice
NEXT = 3  # further tests that are named


@dataclass(frozen=True)
class Sensed:
    """``says`` is one of "done", "go on", "something else", "cannot tell".

    ``strength`` is grams of ``substance`` in a gram of what was made, ``product_g`` of it in all;
    ``odd`` is the reading that the others contradict, as it was given. ``worth`` are further tests.
    """

    step: str
    title: str
    says: str
    substance: str
    readings: tuple[str, ...]
    found: Posterior
    strength: Spread
    product_g: Spread
    odd: str
    worth: tuple[Telling, ...]
    doubt: str
    dissolved: bool = False

    @property
    def told(self) -> bool:
        """Whether the readings tell the strength: a good deal less doubt than before."""
        return self.strength.sd < TOLD * self.found.before["share"].sd


def titrates(library: Library, step: ResolvedStep) -> str:
    """What "titration" means of a step's product: the first titration that tells, or none."""
    figures, _ = step_tests.figures_and_signs(library, step)
    return next((p.method.name for p in figures if p.method.titrant), "")


def sense(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    tests: Sequence[Tested],
    out: Reading | None = None,
    *,
    others: tuple[Charge, ...] = (),
    on: str = PRODUCT,
    part: float = 1.0,
    wet: bool = False,
    moisture: float | None = None,
    yield_: Distribution | None = None,
) -> Sensed:
    """What the weight ``out`` and the tests mean for what was weighed in.

    ``on`` is what the weight is of: the product, or the vessel before its wash. ``yield_`` is what
    is thought of the yield beforehand (None: as the library draws it). Raises InputError when
    something that was read cannot be read of this step.
    """
    put_in = _charged(library, step, charge, others)
    places = put_in.streams(typical(library, step))
    readings: list[Weighed | Tested] = []
    named: list[str] = []
    if out is not None:
        readings.append(Weighed(out.grams, max(out.u_g, 1e-6), on, part))
        named.append(f"{out.grams:g} g")
    readings += tests
    named += [t.text for t in tests]
    for reading, text in zip(readings, named, strict=True):
        if reading.on not in places:
            listed = ", ".join(places)
            raise InputError(
                f"{text!r}: {step.id} has no {reading.on!r} to weigh or sample; it has: {listed}"
            )
    if not readings:
        raise InputError("nothing was read: give a weight or a test")
    priors = Priors(
        yield_ or prior_yield(step), charge.purity, charge.low, charge.high, charge.stated,
        charge.reading.u_g / charge.reading.grams, _moisture(wet, moisture),
    )  # fmt: skip
    other = tuple((r.substance, r.ratio) for r in rivals(library, step) if abs(r.ratio - 1) > SAME)[
        :RIVALS
    ]
    found = infer(put_in, priors, readings, other)
    doubt = "share" if found.says != "cannot tell" else "conversion"
    if found.figures[doubt].sd <= 0:
        doubt = "product_g"
    done = {(t.method, t.first, t.on) for t in tests}
    return Sensed(
        step.id, step.title, found.says, step.main.substance, tuple(named), found,
        found.figures["share"], found.figures["product_g"], _odd(found, named),
        _worth(library, step, put_in, found, doubt, done), doubt, step.main.state == "aq",
    )  # fmt: skip


def of_step(library: Library, state: StepState, tests: Sequence[Tested]) -> Sensed:
    """What tests of a step of a run mean, with what was weighed in it and out of it.

    Raises InputError where nobody knows what went in.
    """
    step, own = state.resolved, state.step
    if step is None or not state.charges:
        raise InputError(f"nobody knows what went into step {own.number}; log it with log weigh")
    out = None
    if own.out_g is not None:
        out = Reading(own.out_g, own.reads_g)
    part = (own.outs[-1].get("part") or 1.0) if len(own.outs) == 1 else 1.0
    return sense(
        library, step, state.charges[0], tests, out, others=tuple(state.charges[1:]), part=part,
        wet=own.wet, moisture=own.moisture,
    )  # fmt: skip


def _charged(
    library: Library, step: ResolvedStep, charge: Charge, others: tuple[Charge, ...]
) -> Vessel:
    turns = model(library, step, charge, others).turns
    single = () if charge.whole else (charge, *others)
    return charged(library, step, vessel(library, step, single, turns))


def _moisture(wet: bool, moisture: float | None) -> tuple[float, float] | None:
    if moisture is not None:
        return max(moisture - 0.1, 0.0), min(moisture + 0.1, 0.95)
    return MOIST if wet else None


ODD = 0.5  # odds from which one reading is named as the one that the others contradict


def _odd(found: Posterior, named: Sequence[str]) -> str:
    worst = max((o for o in found.explanations if o.what == "misread"),
                key=lambda o: o.share, default=None)  # fmt: skip
    alone = found.share_of("misread") + found.share_of("something else")
    if worst is None or worst.reading is None or alone < ODD:
        return ""
    return named[worst.reading] if worst.share > ODD * alone else " or ".join(named)


def _worth(
    library: Library, step: ResolvedStep, put_in: Vessel, found: Posterior, doubt: str,
    done: set[tuple[str, bool, str]],
) -> tuple[Telling, ...]:  # fmt: skip
    offered = []
    for place in (PRODUCT, VESSEL):
        if place not in found.streams:
            continue
        figures, _ = step_tests.figures_and_signs(library, step, place)
        for p in figures:
            if (p.method.name, p.first, p.on) in done or p.on != place:
                continue
            read = partial(_read, library, p)
            offered.append((p, read, p.on))
    ranked = worth(found, put_in, offered, doubt)
    return tuple(w for w in ranked if w.cut > 0.05)[:NEXT]


def _read(library: Library, p: step_tests.Prepared, stream: Stream) -> Number:
    return methods.reading(library, p.method.name, stream, p.sample_g, p.molar, p.first)
