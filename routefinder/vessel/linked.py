"""Isolated or carried on: what goes from one step of a route straight into the next.

A step isolates its product as its record says. Where the next step bears it, its stages may end
earlier, and all that is then in the vessel goes on with it, water and salts too:

    wet     a filtered (and washed) cake goes on without being dried
    slurry  the whole contents go on: nothing is filtered, washed or dried

The next step bears it (our rules, common practice) when

* it is the only taker, takes it as a reactant, and works in water;
* the water that comes along is no more than it calls for (or than a tenth of what is there), and
  nothing stands too weak for it;
* what comes along besides water and what the next step has in its own equation is less than a
  hundredth of the product, or the next step washes its own solid product (of a liquor that is
  filtered, what is undissolved does not count: it stays on the filter);
* nothing of that meets anything there that gives fire, spitting or a bad gas (``hazards.meets``).

A cake keeps its yield. A slurry loses nothing on a filter: it is taken at the better end of its
record's yield. The waiting of the stages that fall away is saved, the handwork is left as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from routefinder.hazards import meets
from routefinder.library import pot
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.question import carry_of
from routefinder.records.shelf import Supply
from routefinder.records.stage import SEPARATES, Stage
from routefinder.vessel import water
from routefinder.vessel.amounts import amounts
from routefinder.vessel.charge import onward
from routefinder.vessel.feed import Feed
from routefinder.vessel.stages import stages_of
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.vessel.stream import WATER, Stream

LITTLE = 0.01  # g of other things a g of product that a step without a wash bears; our choice
TRACE = 0.001
LITTLE_WATER = 0.1  # of the water that is there, where none is called for; our choice
_AFTER = {
    "wet": frozenset({"dry", "grind", "stand", "cool"}),
    "slurry": frozenset({"settle", *SEPARATES, "wash", "dry", "grind", "stand", "cool"}),
}
_TOOLS = {
    "wet": frozenset({"dry", "dry-in-vacuum", "keep-dry", "grind", "sieve"}),
    "slurry": frozenset({
        "dry", "dry-in-vacuum", "keep-dry", "grind", "sieve", "filter", "filter-vacuum",
        "centrifuge", "decant", "press",
    }),
}  # fmt: skip
BASIS = {
    "wet": "not dried: goes straight on as a wet paste",
    "slurry": "not filtered: goes straight on as a slurry, under its water",
}


@dataclass(frozen=True)
class Handover:
    """What a solid product does between its step and the one that takes it, by their ids.

    ``how`` is "isolated", "wet" or "slurry"; ``why`` says why it is not carried on as was asked
    ("": nobody asked).
    ``saved_min`` is waiting that falls away.
    """

    maker: str
    taker: str
    how: str
    why: str = ""
    saved_min: float = 0.0


def carried(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
    target: str,
    target_g: float,
    asked: str,
) -> tuple[Library, tuple[ResolvedStep, ...], tuple[Handover, ...]]:
    """A route with its solids carried on as ``asked`` wherever it is borne.

    ``asked`` is one choice for all links or one for each (``records.question.carry_of``). "slurry"
    takes "wet" where only that is borne. Gives the library and steps with the stages that
    are left, and what became of every link.
    """
    now, lib = list(steps), library
    links: list[Handover] = []
    for maker in steps:
        if maker.main.state != "s":
            continue
        base = amounts(lib, now, supplies, target, target_g)
        takers = _takers(base, maker)
        wanted = carry_of(asked, maker.id)
        if not takers or maker.id == base.last:
            continue
        if wanted == "no":
            links.append(Handover(maker.id, takers[0][0].step.id, "isolated"))
            continue
        taker, feed = takers[0]
        why = ""
        done: Handover | None = None
        for how in ("slurry", "wet") if wanted == "slurry" else ("wet",):
            said = _refused(maker, takers, feed)
            cut = None if said else _cut(lib, maker, how)
            if isinstance(cut, str):
                said, cut = cut, None
            if cut is not None:
                trial = [cut[0] if s.id == maker.id else s for s in now]
                wider = _with(lib, cut[0])
                found = amounts(wider, trial, supplies, target, target_g)
                said = _not_borne(wider, found, base, maker.id, taker.step.id)
                if not said:
                    now, lib = trial, wider
                    done = Handover(maker.id, taker.step.id, how, "", cut[1])
                    break
            why = why or said
        links.append(done or Handover(maker.id, taker.step.id, "isolated", why))
    return lib, tuple(now), tuple(links)


def handed_on(library: Library, step_id: str, how: str) -> Library:
    """The library with one step that hands its solid on "wet" or as "slurry"; else unchanged."""
    step = library.steps.get(step_id)
    cut = _cut(library, step, how) if step is not None and how in _AFTER else ""
    return library if isinstance(cut, str) else _with(library, cut[0])


def way_on(step: ResolvedStep) -> str:
    """How a step of a route hands its solid on: "wet", "slurry", else "isolated"."""
    basis = step.record.yield_.basis
    return next((how for how, words in BASIS.items() if words == basis), "isolated")


def _takers(found: Amounts, maker: ResolvedStep) -> list[tuple[StepAmounts, Feed]]:
    return [
        (a, f)
        for a in found.steps
        for f in a.feeds
        if f.origin == maker.id and f.form == maker.main.substance and f.moles
    ]


def _with(library: Library, step: ResolvedStep) -> Library:
    """The library with one step otherwise; what is worked out of it is its own."""
    return replace(
        library, steps={**library.steps, step.id: step}, worked_out=dict(library.worked_out)
    )


def _refused(maker: ResolvedStep, takers: Sequence[tuple[StepAmounts, Feed]], feed: Feed) -> str:
    """What is against it before anything is weighed."""
    taker = takers[0][0].step
    if len(takers) > 1:
        return "several steps take it"
    if feed.role != "reactant":
        return "it is no reactant there"
    watery = any(p.state == "aq" for p in (*taker.reactants, *taker.products)) or any(
        a.role in {"solvent", "medium"} and a.substance == WATER[0] for a in taker.aids
    )
    if taker.dry_heat or not watery:
        return "the next step works dry"
    return ""


def _cut(library: Library, step: ResolvedStep, how: str) -> tuple[ResolvedStep, float] | str:
    """The step with its last stages left out, and the minutes saved; else why that cannot be."""
    listed = stages_of(library, step).listed
    first = "dry" if how == "wet" else None
    place = next(
        (
            i for i, s in enumerate(listed)
            if (s.kind == first if first else s.kind in {"settle", *SEPARATES})
        ),
        None,
    )  # fmt: skip
    if how == "slurry" and stages_of(library, step).crystals:
        return "its crystals have to be parted from their liquor"
    if place is None:
        return "it is not dried" if how == "wet" else "nothing is filtered"
    if how == "wet" and not any(s.kind in SEPARATES for s in listed[:place]):
        return "it is no filtered cake"
    rest = listed[place:]
    if any(s.kind not in _AFTER[how] for s in rest):
        more = next(s.kind for s in rest if s.kind not in _AFTER[how])
        return f"it has to {more} afterwards"
    if how == "slurry" and any(
        v > 0 for k, v in step.recovered.items() if k != step.main.substance
    ):
        return "what it makes besides is collected"
    return _shortened(step, listed[:place], rest, how)


def _shortened(
    step: ResolvedStep, kept: Sequence[Stage], rest: Sequence[Stage], how: str
) -> tuple[ResolvedStep, float]:
    record = step.record
    saved = min(sum(s.total_min or 0.0 for s in rest), record.time.waiting_min)
    time = record.time.model_copy(update={"waiting_min": record.time.waiting_min - saved})
    parts = record.yield_.parts
    if how == "slurry":  # nothing stays on a filter
        parts = tuple(p.model_copy(update={"typical": p.high, "low": p.typical}) for p in parts)
    updates = {
        "stages": tuple(kept),
        "time": time,
        "yield_": record.yield_.model_copy(update={"parts": parts, "basis": BASIS[how]}),
        "equipment": tuple(n for n in record.equipment if n.name not in _TOOLS[how]),
    }
    aids = step.aids
    if how == "slurry":
        aids = tuple(a for a in aids if a.role != "wash")
        updates["auxiliaries"] = tuple(a for a in record.auxiliaries if a.role != "wash")
    return replace(step, record=record.model_copy(update=updates), aids=aids), saved


def _not_borne(
    library: Library, found: Amounts, base: Amounts, maker_id: str, taker_id: str
) -> str:
    """Why the next step does not bear what comes along; nothing where it does."""
    by_id = {a.step.id: a for a in found.steps}
    taker, course = by_id[taker_id], by_id[maker_id].course
    feed = next(f for f in taker.feeds if f.origin == maker_id and f.moles)
    stream = onward(library, feed, course)
    call = pot.called(library, taker.step)
    wanted = (call.bound_g + call.start_g) * taker.turns
    brought = float(stream.grams(*WATER))
    there = water.water_of_step(library, taker).charged_g - brought
    most = max(wanted, LITTLE_WATER * there)
    if brought > most * (1 + 1e-9) + 1e-9:
        return f"it brings {brought:.3g} g of water, and {most:.3g} g are borne there"
    own = float(stream.grams(feed.form))
    other = _foreign(library, taker.step, feed, stream)
    washes = any(s.kind == "wash" for s in stages_of(library, taker.step).listed)
    share = sum(other.values()) / own
    if share > LITTLE and not (washes and taker.step.main.state == "s"):
        worst = max(other, key=lambda k: other[k])
        name = library.name(worst) if worst in library.substances else worst.lstrip("~")
        return (
            f"{share:.2g} g of other things a gram ({name}) would go along, and nothing is washed"
        )
    for what in other:
        bad = meets_badly(library, taker.step, what) if other[what] > TRACE * own else ""
        if bad:
            return bad
    weak = {p.substance for p in _pots(library, found, taker_id) if p.too_weak}
    if weak - {p.substance for p in _pots(library, base, taker_id) if p.too_weak}:
        return "what reacts there would stand too weak"
    return ""


def _foreign(library: Library, step: ResolvedStep, feed: Feed, stream: Stream) -> dict[str, float]:
    """Grams of what comes along and is no water and nothing of the next step's equation."""
    known = {p.substance for p in (*step.reactants, *step.products)}
    known |= {library.root(s) for s in known} | {feed.form, library.root(feed.form), WATER[0]}
    out: dict[str, float] = {}
    filtered = step.main.state == "aq" and stages_of(library, step).having(*SEPARATES)
    for (what, phase), grams in stream.parts.items():
        if what not in known and not (filtered and phase == "s"):
            out[what] = out.get(what, 0.0) + float(grams)
    return out


def meets_badly(library: Library, step: ResolvedStep, what: str) -> str:
    """What comes of a dissolved substance with what a step holds, where that is grave; else ""."""
    substance = library.substances.get(what)
    if substance is None:
        return ""
    one = meets.Present(substance, "aq", None, "reactant")
    for other in meets.present(library, step):
        for found in meets.between(one, other, "vessel", step.heat_C):
            if found.grave:
                return f"{substance.name} in it meets {other.substance.name}: {found.words}"
    return ""


def _pots(library: Library, found: Amounts, step_id: str) -> tuple[water.InPot, ...]:
    amount = next(a for a in found.steps if a.step.id == step_id)
    return water.in_pot(library, amount, water.water_of_step(library, amount))
