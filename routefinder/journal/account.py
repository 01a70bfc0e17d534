"""The one account of a run: what each step was charged with, how far it is, what lies where.

**How far a step is**: "waiting" (nothing entered), "going" (charged or begun, and what was weighed
does not say that it is through), "made", "failed". A step counts as made when its weight says so,
when it was ended, or when a later step has begun on what it made. A heated charge that is not
through, a wet weight, or one that no product can have leaves the step going: what is in the pot
stays in the pot. (A product on the filter that is less than usual is there all the same.)

**What went in** is what was weighed in; what goes from step to step and was not weighed again is
all that the step before made (of several takers each its planned share). A solution that nobody
measured is reckoned from what really went into it, not from the plan: theory times yield, as sure
as the yield is. Only where nothing at all was entered does the plan stand in.

**What was made** (``Lot``) is the product alone, ``pure_g``, in ``total_g`` of what lies there:
by the verdict of its weight, by a measured strength, or reckoned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from routefinder.errors import FieldError
from routefinder.journal.book import Book, StepBook
from routefinder.journal.decide import Verdict, weigh
from routefinder.journal.learn import prior_of
from routefinder.journal.mass_model import MassModel, model, vessel
from routefinder.journal.weight import Charge, Reading
from routefinder.library.densities import curve
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.library.shelf import supply
from routefinder.records.shelf import Supply
from routefinder.vessel import course
from routefinder.vessel.stream import Stream

NOTHING_G = 1e-9


@dataclass(frozen=True)
class Lot:
    """What a step made, as it was when it was made.

    ``what`` is the substance (of a solution the anhydrous one), ``pure_g`` grams of it with the
    10th and 90th percentile, ``most_g`` what there can be at the most; ``total_g`` what lies there
    all together, None where nobody can say. ``whence``: "weighed", "measured" (its strength was),
    "reckoned". ``sure``: the figure is read off a weight, not off a usual yield. ``beside`` are
    mass fractions of what else is in it. ``takes`` are grams of the pure by the step that took
    them, ``gone_g`` went elsewhere.
    """

    what: str
    state: str
    pure_g: float
    low_g: float
    high_g: float
    most_g: float
    total_g: float | None
    whence: str
    sure: bool
    made: str | None
    beside: Mapping[str, float]
    reads_g: float = 1.0
    takes: Mapping[str, float] = field(default_factory=dict)
    gone_g: float = 0.0

    @property
    def left_g(self) -> float:
        """Grams of the pure substance that nobody has taken."""
        return max(self.pure_g - sum(self.takes.values()) - self.gone_g, 0.0)

    @property
    def left_share(self) -> float:
        """The part of it that nobody has taken."""
        return self.left_g / self.pure_g if self.pure_g > NOTHING_G else 0.0

    @property
    def left_total_g(self) -> float | None:
        """What lies there all together, without what was taken."""
        return None if self.total_g is None else self.total_g * self.left_share

    @property
    def strength(self) -> float | None:
        """Grams of the substance in a gram of what lies there."""
        return self.pure_g / self.total_g if self.total_g else None


@dataclass(frozen=True)
class StepState:
    """One step of a run as it stands; see the top of the file for ``phase``.

    ``charges`` is what went in; ``whence`` says how the one that limits is known: "weighed", "step
    before" (weighed as it came out of that), "reckoned" (a solution nobody measured), "other"
    (another reactant was weighed) or "plan".
    """

    step: StepBook
    resolved: ResolvedStep | None
    phase: str
    charges: tuple[Charge, ...]
    whence: str
    found: MassModel | None
    verdict: Verdict | None
    lot: Lot | None


@dataclass(frozen=True)
class Account:
    """A run as it stands."""

    book: Book
    states: tuple[StepState, ...]

    def of(self, name: str) -> StepState:
        """The state of a step by its id."""
        return next(s for s in self.states if s.step.id == name)

    @property
    def last(self) -> StepState:
        """The step that makes the target."""
        return self.states[-1]

    @property
    def at_end(self) -> bool:
        """Whether the target was made and weighed dry."""
        return self.last.phase == "made" and self.last.step.out_g is not None


def account(library: Library, book: Book) -> Account:
    """What stands in the journal about a run, with what it means."""
    work = _Work(library, book)
    for step in book.steps:
        work.add(step)
    return Account(book, tuple(work.states.values()))


def verdict(library: Library, book: Book, step: StepBook) -> tuple[Verdict, str] | None:
    """What the step's weights mean, and where its start is from; None when nothing came out.

    Raises FieldError when the step has left the library.
    """
    if step.out_g is None:
        return None
    if step.id not in library.steps:
        raise FieldError(
            "step {step!r} of run {run} is no longer in the library; name the library it is in "
            "with {f}", f="libraries", step=step.id, run=book.run.run,
        )  # fmt: skip
    state = account(library, book).of(step.id)
    return None if state.verdict is None else (state.verdict, state.whence)


def makers(book: Book, step: StepBook) -> list[StepBook]:
    """The earlier steps that a step takes from."""
    return [book.step(f["from_step"]) for f in step.plan["feeds"] if "from_step" in f]


def takers(book: Book, step: StepBook) -> list[StepBook]:
    """The later steps that take from a step."""
    return [s for s in book.steps if any(m is step for m in makers(book, s))]


def entered(step: StepBook) -> bool:
    """Whether anything was entered that says that work on the step has begun."""
    return bool(step.begun or step.outs or step.ended or step.failed is not None)


def is_main(library: Library, feed: Mapping[str, Any], maker: StepBook) -> bool:
    """Whether a feed takes the main product of the step it comes from, not a by-product."""
    own = maker.plan["product"]["substance"]
    known = library.substances
    if feed["form"] not in known or own not in known:
        return bool(feed["form"] == own)
    return library.root(feed["form"]) == library.root(own)


@dataclass(frozen=True)
class Dose:
    """How much of what a step made a later step (its number ``taker``) takes.

    ``pure_g`` of the substance are in ``total_g`` of what lies there; ``volume_mL`` where its
    density is known; ``left_g`` is all that is left.
    """

    taker: int
    name: str
    pure_g: float
    total_g: float
    volume_mL: float | None
    left_g: float | None


def density_of(library: Library, state: StepState) -> float | None:
    """g/mL of what a step made: as measured, else of the solution at its strength by its table."""
    step = state.step
    if step.strength is not None and step.strength.get("density_g_mL"):
        return float(step.strength["density_g_mL"])
    for data in reversed(step.outs):
        if data.get("density_g_mL"):
            return float(data["density_g_mL"])
    main = state.resolved.main if state.resolved is not None else None
    if main is None:
        return None
    if main.state == "l":
        return library.substances[main.substance].density_g_mL
    share = state.lot.strength if state.lot is not None else None
    if step.strength is not None:
        share = float(step.strength["share"])
    if main.state != "aq" or share is None or not share < 1:
        return None
    found = curve(library, library.root(main.substance)).at(share)
    return None if found is None else found.g_mL


def doses(library: Library, standing: Account, step: StepBook) -> list[Dose]:
    """What the later steps take of what a step made, where its strength was measured.

    As much as goes with what was weighed in there already, else as planned.
    """
    maker = standing.of(step.id)
    lot = maker.lot
    share = lot.strength if lot is not None else None
    if step.strength is not None and maker.resolved is not None:
        share = float(step.strength["share"])
    if step.strength is None or not share:
        return []
    what = library.root(step.plan["product"]["substance"])
    rho = density_of(library, maker)
    out = []
    for taker in takers(standing.book, step):
        state = standing.of(taker.id)
        if state.phase in {"made", "failed"} or f"from step {step.number}" in taker.ins:
            continue
        for feed in taker.plan["feeds"]:
            if feed.get("from_step") != step.id or not is_main(library, feed, step):
                continue
            moles = float(feed["mol"])
            weighed = [c for c in state.charges if c.key in taker.ins]
            if weighed and state.resolved is not None:
                found = model(library, state.resolved, weighed[0], tuple(weighed[1:]))
                part = next(
                    (p for p in state.resolved.reactants if p.substance == feed["substance"]), None
                )
                if part is not None and any(c.role == "reactant" for c in weighed):
                    more = state.resolved.excess.get(part.substance, 0.0)
                    moles = found.turns * part.moles * (1 + more)
            pure = moles * library.substances[what].molar_mass_g
            total = pure / share
            out.append(
                Dose(taker.number, library.name(what), pure, total,
                     total / rho if rho else None, lot.left_total_g if lot is not None else None)
            )  # fmt: skip
    return out


def scale_of(library: Library, standing: Account, step: StepBook, beside: str = "") -> float | None:
    """How many times the plan the reactants weighed into a step make it, the scarcest first.

    ``beside`` is left out (to say how much of it goes with the others). None when none was weighed.
    """
    state = standing.of(step.id)
    if state.resolved is None:
        return None
    weighed = [c for c in state.charges if c.key in step.ins and c.key != beside and not c.whole]
    if not any(c.role == "reactant" for c in weighed):
        return None
    planned = next(
        (f["mol"] for f in step.plan["feeds"]
         if f["role"] == "reactant" and f["substance"] == state.resolved.limiting.substance), 0.0,
    )  # fmt: skip
    if not planned:
        return None
    weighed.sort(key=lambda c: c.role != "reactant")
    found = model(library, state.resolved, weighed[0], tuple(weighed[1:]))
    return found.turns * state.resolved.limiting.moles / float(planned)


def most_out_g(library: Library, state: StepState, wet: bool) -> float | None:
    """The most that can come out of a step by what went in; None where nobody can say.

    Dry: all of the product there can be, or the charge itself; wet or dissolved: all that is in
    the vessel.
    """
    found, step = state.found, state.resolved
    if found is None or step is None:
        return None
    charges = () if any(c.whole for c in state.charges) else state.charges
    put_in = vessel(library, step, charges, found.turns)
    whole = float(put_in.contents.mass_g + put_in.wash.mass_g)
    if wet or step.main.state != "s":
        return whole
    if found.way == "isolated":
        return max(found.full_g, found.ceiling_g or 0.0)
    grams = found.weighed.grams
    return max(found.weight_at(grams, 0.0), found.weight_at(grams, 1.0), grams)


class _Work:
    """The account while it is drawn up, step by step."""

    def __init__(self, library: Library, book: Book) -> None:
        self.library, self.book = library, book
        self.states: dict[str, StepState] = {}

    def add(self, step: StepBook) -> None:
        resolved = self.library.steps.get(step.id)
        charges, whence = self._charges(step, resolved)
        for maker, pure_g in self._taken(step).items():
            state = self.states[maker]
            if state.lot is not None:
                lot = replace(state.lot, takes={**state.lot.takes, step.id: pure_g})
                self.states[maker] = replace(state, lot=lot)
        found: MassModel | None = None
        said: Verdict | None = None
        made: Lot | None = None
        if resolved is not None and charges:
            found = model(self.library, resolved, charges[0], charges[1:])
            said = self._verdict(step, resolved, charges)
        phase = self._phase(step, said)
        if phase == "made":
            made = self._lot(step, resolved, charges, found, said)
        self.states[step.id] = StepState(step, resolved, phase, charges, whence, found, said, made)

    # --- what went in ----------------------------------------------------------------------

    def _charges(
        self, step: StepBook, resolved: ResolvedStep | None
    ) -> tuple[tuple[Charge, ...], str]:
        """What went into a step, what limits it by its record first; and how that is known."""
        if resolved is None:
            return (), "plan"
        out = [c for data in step.ins.values() if (c := self._weighed(data)) is not None]
        root = self.library.root(resolved.limiting.substance)

        def limits(charge: Charge) -> bool:
            return charge.whole or (
                charge.role == "reactant" and self.library.root(charge.form) == root
            )

        whence = "weighed" if any(limits(c) for c in out) else ""
        for feed in step.plan["feeds"]:
            if "from_step" not in feed or feed["role"] != "reactant":
                continue
            if f"from step {self.book.step(feed['from_step']).number}" in step.ins:
                continue
            carried, how = self._carried(step, feed)
            if carried is None:
                continue
            out.append(carried)
            if limits(carried) and not whence:
                whence = how
        other = any(c.role == "reactant" and not limits(c) for c in out)
        if not whence and other:
            whence = "other"
        if not whence:
            planned = self._planned(step, resolved)
            out += [planned] if planned is not None else []
            whence = "plan"
        return tuple(sorted(out, key=lambda c: not limits(c))), whence

    def _weighed(self, data: Mapping[str, Any]) -> Charge | None:
        if data["form"] not in self.library.substances:
            return None
        purity, low, high = data["purity"], data["low"], data["high"]
        stated = bool(data.get("stated", True))
        source = self._source(data)
        material: Supply | None = None
        name = str(data["name"])
        if source is not None and source.lot is not None:
            lot = source.lot
            name = f"{self.library.name(lot.what)} {name}"
            if not stated and lot.strength:
                purity = min(lot.strength, 1.0)
                low, high = (min(g / (lot.total_g or 1.0), 1.0) for g in (lot.low_g, lot.high_g))
            material, stated = _supply(lot, name), True
        elif data.get("material") in self.library.materials:
            material = supply(self.library.materials[data["material"]])
        return Charge(
            data["form"], name, Reading(data["grams"], data["reads_g"]), purity,
            min(low, purity), max(high, purity), stated, material,
            bool(data.get("whole")), data.get("role", "reactant"), key=str(data["name"]),
        )  # fmt: skip

    def _source(self, data: Mapping[str, Any]) -> StepState | None:
        """The step that something weighed in came from."""
        name = str(data["name"])
        if data.get("material") or not name.startswith("from step "):
            return None
        number = name.removeprefix("from step ")
        return next((s for s in self.states.values() if str(s.step.number) == number), None)

    def _carried(self, step: StepBook, feed: Mapping[str, Any]) -> tuple[Charge | None, str]:
        """What came from an earlier step and was not weighed in again."""
        maker = self.states[feed["from_step"]]
        lot = maker.lot
        name = f"{self.library.name(feed['form'])} from step {maker.step.number}"
        if not is_main(self.library, feed, maker.step):
            return None, "plan"  # a by-product: nobody keeps an account of it
        if lot is None or not entered(step) or not entered(maker.step):
            return None, "plan"
        share = lot.left_share * self._part(step, feed)
        if lot.pure_g * share <= NOTHING_G:
            return None, "plan"
        if lot.total_g is not None and lot.sure:
            total = lot.total_g
            shares = [min(g / total, 1.0) for g in (lot.low_g, lot.pure_g, lot.high_g)]
            return (
                Charge(
                    lot.what, name, Reading(total * share, lot.reads_g), shares[1], shares[0],
                    shares[2], True, _supply(lot, name),
                ),
                "step before",
            )  # fmt: skip
        most = lot.most_g
        shares = [g / most for g in (lot.low_g, lot.pure_g, lot.high_g)]
        reading = Reading(most * share, most * share * 1e-3)
        return (
            Charge(lot.what, name, reading, shares[1], shares[0], shares[2], True, most=1.0),
            "reckoned",
        )

    def _part(self, step: StepBook, feed: Mapping[str, Any]) -> float:
        """The part of what is left that a step takes: its planned share among those to come."""
        maker = self.book.step(feed["from_step"])
        own = later = 0.0
        for taker in self.book.steps:
            if taker.number < step.number:
                continue
            for other in taker.plan["feeds"]:
                if other.get("from_step") == maker.id and is_main(self.library, other, maker):
                    later += float(other["mol"])
                    own += float(other["mol"]) if taker is step else 0.0
        return own / later if later > 0 else 1.0

    def _planned(self, step: StepBook, resolved: ResolvedStep) -> Charge | None:
        for feed in step.plan["feeds"]:
            if feed["substance"] != resolved.limiting.substance or feed["role"] != "reactant":
                continue
            if feed["form"] not in self.library.substances:
                return None
            reading = Reading(feed["as_weighed_g"], 1.0)
            if "from_step" in feed:
                maker = self.book.step(feed["from_step"])
                name = f"{self.library.name(feed['form'])} from step {maker.number}"
                pure = feed["mol"] * self.library.substances[feed["form"]].molar_mass_g
                share = min(pure / feed["as_weighed_g"], 1.0) if feed["as_weighed_g"] else 1.0
                return Charge(feed["form"], name, reading, share, share, share)
            return Charge(
                feed["form"], feed["name"], reading, feed["purity"], feed["low"], feed["high"], True
            )
        return None

    def _taken(self, step: StepBook) -> dict[str, float]:
        """Grams of the pure substance that a step takes from each earlier one."""
        out: dict[str, float] = {}
        if not entered(step):
            return out
        for feed in step.plan["feeds"]:
            if "from_step" not in feed:
                continue
            maker = self.states[feed["from_step"]]
            lot = maker.lot
            if lot is None or not is_main(self.library, feed, maker.step):
                continue
            got = step.ins.get(f"from step {maker.step.number}")
            if got is None:
                taken = lot.left_g * self._part(step, feed)
            elif lot.strength is not None:
                taken = got["grams"] * lot.strength
            else:
                taken = lot.left_g
            out[maker.step.id] = out.get(maker.step.id, 0.0) + min(taken, lot.left_g)
        return out

    # --- how far it is ---------------------------------------------------------------------

    def _verdict(
        self, step: StepBook, resolved: ResolvedStep, charges: Sequence[Charge]
    ) -> Verdict | None:
        if step.out_g is None or step.goes_on:  # a weight that tells its water only
            return None
        part = step.outs[-1].get("part") or 1.0
        strength = None
        if step.strength is not None:
            measured = step.strength
            strength = (measured["low"], measured["share"], measured["high"])
        return weigh(
            self.library, resolved, charges[0], Reading(step.out_g, step.reads_g),
            others=tuple(charges[1:]), part=1.0 if len(step.outs) > 1 else part, wet=step.wet,
            moisture=step.moisture, strength=strength,
        )  # fmt: skip

    def _phase(self, step: StepBook, said: Verdict | None) -> str:
        if step.failed is not None:
            return "failed"
        onward = any(entered(t) for t in takers(self.book, step))
        if step.ended is not None or onward:
            return "made"
        if step.strength is not None and not step.outs:
            return "made"  # somebody measured what it made
        if step.outs:
            pot = said is not None and (
                said.product_g is None or (said.way == "through" and said.says == "go on")
            )
            return "going" if (pot or step.wet) and not step.goes_on else "made"
        return "going" if step.begun is not None else "waiting"

    # --- what was made ---------------------------------------------------------------------

    def _lot(
        self,
        step: StepBook,
        resolved: ResolvedStep | None,
        charges: Sequence[Charge],
        found: MassModel | None,
        said: Verdict | None,
    ) -> Lot | None:
        product = step.plan["product"]
        if resolved is None or found is None:
            grams = step.out_g if step.out_g is not None else float(product["mass_g"])
            total = step.out_g if step.out_g is not None else None
            return Lot(product["substance"], product["state"], grams, grams, grams, grams, total,
                       "weighed" if step.outs else "reckoned", False, step.made, {},
                       step.reads_g)  # fmt: skip
        main = resolved.main
        what = self.library.root(main.substance) if main.state == "aq" else main.substance
        molar = {k: self.library.substances[k].molar_mass_g for k in (what, main.substance)}
        to_held = molar[what] / molar[main.substance]
        if not entered(step) and found is not None:  # nothing was entered: the plan
            theory = float(product["mass_g"]) / (step.plan["yield"]["typical"] or 1.0)
        else:
            theory = found.full_g * to_held
        spread = prior_of(resolved)
        usual = resolved.record.yield_.typical
        pure, low, high = (theory * y for y in (usual, spread.low, spread.high))
        most = theory if found.ceiling_g is None else max(found.ceiling_g * to_held, theory)
        sure, whence = False, "reckoned"
        contents = self._contents(resolved, charges, found)
        total, beside = _total(contents, what, main.state)
        if step.out_g is not None:
            whence, total = "reckoned" if step.goes_on else "weighed", step.out_g
        if said is not None and said.product_g is not None:
            pure = said.product_g * to_held
            if said.sure:
                sure, low, high = True, pure, pure
                if said.way == "isolated" and step.strength is not None:
                    whence = "measured"
                    low, high = (pure * step.strength[k] / step.strength["share"]
                                 for k in ("low", "high"))  # fmt: skip
            else:
                low, high = min(low, pure), max(high, pure)
        elif step.strength is not None and total is not None:  # measured, but nobody weighed it
            whence = "measured"
            low, pure, high = (min(total * step.strength[k] * to_held, most)
                               for k in ("low", "share", "high"))  # fmt: skip
            sure, total = True, pure / (step.strength["share"] * to_held)
        if total is not None and pure > total and main.state == "s":
            total = pure
        gone = sum(float(g["grams"]) for g in step.gone) * (pure / total if total else 1.0)
        return Lot(
            what, main.state, pure, low, high, max(most, pure), total, whence, sure, step.made,
            beside, step.reads_g, {}, gone,
        )  # fmt: skip

    def _contents(
        self, resolved: ResolvedStep, charges: Sequence[Charge], found: MassModel
    ) -> Stream:
        """What goes on from the step by its vessel's course, at its typical yield."""
        if any(c.whole for c in charges):
            charges = ()
        put_in = vessel(self.library, resolved, tuple(charges), found.turns)
        return course.run(self.library, resolved, put_in).product


def _total(contents: Stream, what: str, state: str) -> tuple[float | None, dict[str, float]]:
    """Grams of all that goes on, and the shares of what else is in it."""
    total = float(contents.mass_g)
    if total <= NOTHING_G:
        return None, {}
    beside: dict[str, float] = {}
    for (name, _), grams in contents.parts.items():
        if name != what and not name.startswith("~") and float(grams) > NOTHING_G:
            beside[name] = beside.get(name, 0.0) + float(grams) / total
    return total, beside


def _supply(lot: Lot, name: str) -> Supply:
    """A lot as a supply, with what else is in it."""
    share = min(lot.strength or 1.0, 1.0)
    rest = sum(lot.beside.values())
    scale = (1 - share) / rest if rest > 1 - share and rest else 1.0
    beside = {k: v * scale for k, v in lot.beside.items() if k != "water" or lot.state == "s"}
    form = {"aq": "solution", "l": "liquid"}.get(lot.state, "solid")
    return Supply("", name, form, {lot.what: share, **beside}, lot.what)
