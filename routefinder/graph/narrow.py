"""Narrow a library to a question; every step set aside keeps its reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from routefinder.graph import needs
from routefinder.hazards import danger, score
from routefinder.hazards.controls import Controlled, licence_for
from routefinder.hazards.makeshift import finishes
from routefinder.hazards.set_up import set_up
from routefinder.library import steering
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.capability import Capability
from routefinder.records.question import Limits, Question
from routefinder.records.shelf import Bench, Shelf, Supply


@dataclass(frozen=True)
class SetAside:
    """One reason why a step may not be used: the limit that it breaks, and how."""

    step: str
    limit: str
    reason: str


@dataclass(frozen=True)
class Narrowed:
    """The steps that remain, the reasons for the others, and the materials that may be used.

    ``withheld`` are the materials left out because they need a licence.
    """

    steps: tuple[ResolvedStep, ...]
    aside: tuple[SetAside, ...]
    supplies: tuple[Supply, ...]
    strengths: Mapping[str, float]
    profiles: Mapping[str, score.Profile]
    notes: tuple[str, ...] = ()
    withheld: tuple[Supply, ...] = ()

    def reasons(self, step_id: str) -> list[SetAside]:
        """Why a step was set aside."""
        return [a for a in self.aside if a.step == step_id]


def strengths_on(library: Library, shelf: Shelf) -> dict[str, float]:
    """Per family root, the weakest solution on the shelf (what a cautious worker reaches for)."""
    out: dict[str, float] = {}
    for supply in shelf.supplies:
        if supply.form in {"solution", "liquid"}:
            root = library.root(supply.main)
            out[root] = min(out.get(root, 1.0), supply.fractions[supply.main])
    return out


def lack(bench: Bench, need: Capability) -> str | None:
    """Why the bench does not meet a need, in a sentence; None when it does."""
    if need.anywhere or bench.serving(need) is not None:
        return None
    sentence = (
        f"needs {need.in_words()}" if need.name == "vessel" else f"needs to {need.in_words()}"
    )
    near = bench.nearest(need)
    if near is None:
        return f"{sentence}; nothing on the bench does"
    tool, offer = near
    if need.name == "vessel":
        return f"{sentence}; no vessel on the bench will do"
    return f"{sentence}; {tool.name} can {offer.in_words()}"


class _Lacks:
    """What a bench lacks, asked once a need: hundreds of steps share a few needs."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.known: dict[object, str | None] = {}

    def of(self, step: ResolvedStep) -> list[str]:
        """A sentence for every need that the bench does not meet and nobody can do without."""
        out = []
        for need in step.needs:
            if finishes(step, need):
                continue
            key = (need.name, need.limits, need.made_of, need.not_of)
            if key not in self.known:
                self.known[key] = lack(self.bench, need)
            sentence = self.known[key]
            if sentence is not None:
                out.append(sentence)
        return out


def narrow(library: Library, question: Question) -> Narrowed:
    """Apply the limits that concern single steps, and take the target off the shelf.

    What concerns whole routes (steps, time, budget, "must use") is applied in the search.
    """
    limits = question.limits
    strengths = strengths_on(library, question.shelf)
    kept: list[ResolvedStep] = []
    aside: list[SetAside] = []
    profiles: dict[str, score.Profile] = {}
    # with ``may_lack`` what is missing is counted over the whole route
    lacks = _Lacks(question.bench) if question.bench and not question.may_lack else None
    for step in library.steps.values():
        profiles[step.id] = score.profile(library, step, strengths)
        reasons = _reasons(library, step, limits, lacks, profiles[step.id])
        if not reasons and question.bench is not None:
            found = set_up(library, step, question.bench)
            reasons = [
                SetAside(step.id, "bench" if why == found.refused else "vessel", why)
                for why in found.barred
            ]
        if reasons:
            aside += reasons
        else:
            kept.append(step)
    supplies, notes, withheld = [], [], {}
    record = library.substances[question.target]  # a shop may sell another form under its name
    called = {name.casefold() for name in (record.name, *record.names)}
    for supply in question.shelf.supplies:
        if question.target in supply.offered or supply.name.casefold() in called:
            notes.append(f"{supply.name} is already the target; the routes do without it")
        elif any(steering.covers(library, name, supply) for name in limits.avoid):
            notes.append(f"{supply.name} is left on the shelf (--avoid)")
        elif limits.no_licence and (why := licence_for(library, supply)) is not None:
            withheld[supply.id] = (supply, why)
        else:
            supplies.append(supply)
    if withheld:
        names = ", ".join(sorted(s.name for s, _ in withheld.values()))
        notes.append(f"left out because they need a licence (--no-licence): {names}")
        unlicensed = _without_licence(library, kept, supplies, list(withheld.values()))
        aside += unlicensed
        kept = [s for s in kept if s.id not in {a.step for a in unlicensed}]
    return Narrowed(
        tuple(kept), tuple(aside), tuple(supplies), strengths, profiles, tuple(notes),
        tuple(s for s, _ in withheld.values()),
    )  # fmt: skip


def _without_licence(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
    withheld: Sequence[tuple[Supply, Controlled]],
) -> list[SetAside]:
    """Steps with a need that only materials under licence meet: nothing else at hand, and nothing
    made from what else is at hand, does."""
    wanted = {s.id: needs.needs(library, s) for s in steps}
    index = needs.NeedIndex(library, [n for ns in wanted.values() for n in ns])
    free = {n for s in supplies for o in needs.offers_of_supply(s) for n in index.met_by(o)}
    waiting = list(steps)
    while ready := [s for s in waiting if free.issuperset(wanted[s.id])]:
        done = {s.id for s in ready}
        waiting = [s for s in waiting if s.id not in done]
        free |= {n for s in ready for o in needs.offers_of_step(s) for n in index.met_by(o)}
    bound: dict[needs.Need, tuple[Supply, Controlled]] = {}
    for supply, why in withheld:
        for offer in needs.offers_of_supply(supply):
            for n in index.met_by(offer):
                bound.setdefault(n, (supply, why))
    out = []
    for step_id, ns in wanted.items():
        for n in ns:
            if n in bound and n not in free:
                supply, why = bound[n]
                out.append(SetAside(step_id, "no-licence", licence_words(supply.name, why)))
                break
    return out


def percent(fraction: float | None) -> str:
    """A mass fraction in percent, as lists of limits write it."""
    return "unknown strength" if fraction is None else f"{fraction * 100:.3g} %"


def licence_words(material: str, why: Controlled) -> str:
    """Why a material needs a licence: strength, limit and list."""
    return (
        f"takes {material}: {why.name} of {percent(why.strength)} is above the limit of "
        f"{percent(why.hit.limit)} ({why.hit.title}), so it needs a licence"
    )


def _reasons(
    library: Library,
    step: ResolvedStep,
    limits: Limits,
    lacks: _Lacks | None,
    profile: score.Profile,
) -> list[SetAside]:
    out: list[SetAside] = []
    heat = step.heat_C
    if limits.max_temperature_C is not None and heat > limits.max_temperature_C:
        out.append(
            SetAside(step.id, "max-temperature",
                     f"needs {heat:g} °C, above the limit of {limits.max_temperature_C:g} °C")
        )  # fmt: skip
    for name in limits.avoid:
        if name == step.id:
            out.append(SetAside(step.id, "avoid", "is to be avoided"))
        elif name in library.substances:
            root = library.root(name)
            parts = [p.substance for p in (*step.reactants, *step.products)]
            parts += [a.substance for a in step.aids]
            if any(library.root(p) == root for p in parts):
                out.append(
                    SetAside(step.id, "avoid", f"handles {library.name(name)}, to be avoided")
                )
    for aspect, points in limits.max_hazard:
        aspects = score.ASPECTS if aspect == "any" else (aspect,)
        for each in aspects:
            if profile[each].points > points:
                out.append(
                    SetAside(step.id, "max-hazard",
                             f"{danger.words(each, profile[each])}: {each} "
                             f"{profile[each].points} of {score.MOST}, above the {points} allowed "
                             f"({profile[each].cause})")
                )  # fmt: skip
    if lacks is not None:
        out += [SetAside(step.id, "bench", why) for why in lacks.of(step)]
    return out
