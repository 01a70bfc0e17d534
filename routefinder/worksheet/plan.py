"""The plan of a chosen route: every figure one wants before committing, in one frozen value.

Nothing is reckoned here that a measure reckons; the plan puts the measures together so that they
agree (the same batches in time, heat and gas; the energy in the money).

**How much to start with.** Without a confidence the plan takes typical yields, and says in how
many trials these reach the asked amount. With one, all amounts are scaled so that the limiting
starting material is what that share of trials needs (``uncertainty``, other materials as needed).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from routefinder import digits, units
from routefinder.assessment import (
    batches,
    crystals,
    equipment,
    forward,
    gas,
    heat,
    money,
    perishables,
    schedule,
    shopping,
    uncertainty,
    waste,
    weighing,
)
from routefinder.assessment.assess import Assessment
from routefinder.errors import FieldError
from routefinder.hazards.attendance import Attendance
from routefinder.hazards.set_up import attended
from routefinder.library.library import Library
from routefinder.records.question import Question
from routefinder.records.shelf import Bench
from routefinder.vessel import water
from routefinder.vessel.amounts import amounts
from routefinder.vessel.linked import Handover
from routefinder.vessel.step_amounts import Amounts, StepAmounts
from routefinder.worksheet import wished
from routefinder.worksheet.safety import LeftOver, Safety, left_over, safety
from routefinder.worksheet.terms import Terms


@dataclass(frozen=True)
class StepPlan:
    """One step of the plan, all of its batches together.

    ``count`` is the number of batches; ``batches`` says why (None without a bench: then 1).
    ``stays`` is whether one may go away while it waits, and why not.
    """

    number: int
    amount: StepAmounts
    count: int
    batches: batches.Batches | None
    heat: heat.HeatOfStep
    gas: gas.GasOfStep | None
    crops: crystals.CrystalsOfStep | None
    pots: tuple[water.InPot, ...]
    water: water.WaterOfStep
    weigh_outs: tuple[weighing.WeighOut, ...]
    safety: Safety
    stays: Attendance

    def __repr__(self) -> str:
        return f"<StepPlan {self.number}: {self.amount.step.title}>"


@dataclass(frozen=True)
class Start:
    """What to start with for the asked confidence.

    ``scale`` is by how much more than at typical yields; ``chance`` the share of trials in which
    what is planned reaches the asked amount (of the limiting material, others as needed).
    ``enough_g`` is (material id, g) for each starting material at the confidence, empty without.
    """

    confidence: float | None
    scale: float
    chance: float | None
    enough_g: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Energy:
    """Energy from the mains: kWh of all steps whose figure is known, and the others' ids."""

    known_kWh: float
    unknown: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """Everything known before one begins. ``asked_g`` is wanted, ``planned_g`` planned for.

    ``sure`` is reckoned for the asked amount at typical yields; all else for the planned one.
    """

    library: Library
    question: Question
    number: int
    name: str
    terms: Terms
    asked_g: float
    planned_g: float
    amounts: Amounts
    start: Start
    sure: uncertainty.HowSure
    most: forward.Forward | None
    buying: shopping.ShoppingList
    steps: tuple[StepPlan, ...]
    needed: tuple[equipment.Needed, ...]
    timed: schedule.Schedule
    keeps: perishables.Perishables
    energy: Energy
    spent: money.Money
    buy: money.BuyOrMake
    left: waste.Waste
    used: waste.MassUse
    handling: LeftOver
    links: tuple[Handover, ...]

    def __repr__(self) -> str:
        return f"<Plan of route {self.number}, {self.name}: {digits.mass(self.planned_g)}>"

    @property
    def bench(self) -> Bench | None:
        """The bench, None when none was given."""
        return self.question.bench

    def step(self, step_id: str) -> StepPlan:
        """One step by its id."""
        return next(s for s in self.steps if s.amount.step.id == step_id)


def make(
    library: Library,
    question: Question,
    assessment: Assessment,
    number: int,
    name: str,
    terms: Terms | None = None,
) -> Plan:
    """The plan of an assessed route; raises InputError when the terms do not fit it."""
    terms = terms or Terms()
    bench = wished.with_chosen(library, question.bench, assessment.steps, terms.tools)
    question = replace(question, bench=bench)
    base = assessment.amounts
    trial = uncertainty.simulate(library, base)
    sure = uncertainty.how_sure(library, base)
    start = _start(base, trial, sure, terms.confidence)
    planned = base.target_g * start.scale
    found = base if start.scale == 1 else _again(library, base, planned)
    made = _batches(library, found, bench, terms)
    counts = {b.step: b.count for b in made}
    heats = heat.heats(
        library, found, bench, efficiency=terms.efficiency, batches=counts,
        power_W=terms.heater_W,
    )  # fmt: skip
    gases = gas.gases(library, found, terms.room, batches=counts)
    crops = crystals.crystals(library, found, bench)
    waters = water.water_of_steps(library, found)
    liquors = water.liquors(library, found)
    pots = water.pots_of_steps(library, found)
    weighed = weighing.weigh_outs(found, bench) if bench is not None else ()
    timed, keeps = _in_time(library, found, bench, heats, made, terms)
    energy = _energy(heats)
    spent = _money(found, energy, terms)
    bought = shopping.shopping(library, [found])
    by_step = {b.step: b for b in made}
    steps = tuple(
        StepPlan(
            i, a, counts.get(a.step.id, 1), by_step.get(a.step.id), heats[a.step.id],
            gases.get(a.step.id), crops.get(a.step.id), pots[a.step.id], waters[a.step.id],
            tuple(w for w in weighed if w.step == a.step.id),
            safety(
                library, a, terms.room, bench,
                by_step[a.step.id].vessels if a.step.id in by_step else (),
                liquors=liquors, batches=counts.get(a.step.id, 1),
            ),
            attended(library, a.step, bench),
        )
        for i, a in enumerate(found.steps, start=1)
    )  # fmt: skip
    return Plan(
        library, question, number, name, terms, base.target_g, planned, found, start, sure,
        forward.forward(library, found, trial), bought, steps,
        _needed(library, assessment, bench, made), timed, keeps,
        energy, spent,
        money.buy_or_make(library, found, spent, bought, timed.hands_on_min, hourly=terms.hourly,
                          purse=question.shelf.purse),
        waste.waste(found), waste.mass_use(library, found),
        left_over(library, found), assessment.links,
    )  # fmt: skip


def _needed(
    library: Library,
    assessment: Assessment,
    bench: Bench | None,
    made: Sequence[batches.Batches],
) -> tuple[equipment.Needed, ...]:
    """What the route needs, as it was assessed, or with the tools that are named for its steps."""
    if bench is None or not bench.chosen:
        return assessment.needed
    return equipment.needed(library, assessment.steps, bench, {b.step: b.vessels for b in made})


def _start(
    base: Amounts,
    trial: uncertainty.Simulation,
    sure: uncertainty.HowSure,
    confidence: float | None,
) -> Start:
    limiting = sure.starts[0] if sure.starts else None
    if confidence is None or limiting is None:
        return Start(None, 1.0, limiting.chance if limiting else None, ())
    enough = tuple((s.supply.id, trial.enough_g(s.supply.id, confidence)) for s in sure.starts)
    scale = enough[0][1] / limiting.start_g
    chance = trial.chance({limiting.supply.id: limiting.start_g * scale})
    return Start(confidence, scale, chance, enough)


def _again(library: Library, base: Amounts, target_g: float) -> Amounts:
    """The same route for another amount, from the same materials."""
    steps = [a.step for a in base.steps]
    return amounts(library, steps, [d.supply for d in base.draws], base.target, target_g)


def _batches(
    library: Library, found: Amounts, bench: Bench | None, terms: Terms
) -> tuple[batches.Batches, ...]:
    ids = [a.step.id for a in found.steps]
    fill = {}
    for name, share in terms.fill.items():
        if units.is_whole(name) and 1 <= int(name) <= len(ids):
            name = ids[int(name) - 1]
        if name not in ids:
            raise FieldError(
                "{f} names {name!r}; this route has the steps 1 to {n}: {ids}", f="fill",
                name=name, n=len(ids), ids=", ".join(ids),
            )  # fmt: skip
        fill[name] = share
    if bench is None:
        if fill:
            raise FieldError("{f} needs a bench with vessels of known size; give {g}", f="fill",
                             g="bench")  # fmt: skip
        return ()
    return batches.batches(library, found, bench, use=fill)


def _in_time(
    library: Library,
    found: Amounts,
    bench: Bench | None,
    heats: Mapping[str, heat.HeatOfStep],
    made: tuple[batches.Batches, ...],
    terms: Terms,
) -> tuple[schedule.Schedule, perishables.Perishables]:
    """The schedule in which the fewest intermediates lie too long; the plain one when equal."""
    counts = {b.step: b.count for b in made}
    vessels = {b.step: b.vessels for b in made}
    stays = {a.step.id: attended(library, a.step, bench) for a in found.steps}
    best = None
    for late in (False, True):
        timed = schedule.plan(
            found, bench, heats, counts, terms.calendar, just_in_time=late, vessels=vessels,
            stays=stays,
        )  # fmt: skip
        keeps = perishables.perishables(library, found, timed)
        if best is None or len(keeps.problems) < len(best[1].problems):
            best = timed, keeps
        if not keeps.problems:
            break
    assert best is not None
    return best


def _energy(heats: Mapping[str, heat.HeatOfStep]) -> Energy:
    known = 0.0
    unknown = []
    for name, one in heats.items():
        if one.energy_kWh is None:
            unknown.append(name)
        else:
            known += one.energy_kWh
    return Energy(known, tuple(unknown))


def _money(found: Amounts, energy: Energy, terms: Terms) -> money.Money:
    spent = money.money(found, energy_kWh=energy.known_kWh, price_per_kWh=terms.price_per_kWh)
    if terms.price_currency and terms.price_currency.upper() != spent.currency.upper():
        raise FieldError(
            "the energy is priced in {priced} and the shelf in {spent}; give {f} in {spent}",
            f="energy_price", priced=terms.price_currency, spent=spent.currency,
        )  # fmt: skip
    return spent
