"""The steps of a plan as ordered work at the bench, in numbers; the view makes sentences of them.

**Order of addition** (common practice, where a record does not say): liquids before solids, water
and solvents first; an acid or a lye that burns is diluted in that water before anything else comes
to it; then what comes from an earlier step; of the solids what dissolves before what does not, the
limiting reactant first. Without water
what burns goes into the other liquids. Of a step that gives off gas, or that would boil or warm
much if all were put together, the last is added in portions. A gas is led in, a drying agent waits
until the product has been washed. Hydrogen peroxide goes in after all that it acts on, little
by little, and only a base comes after it; a burning acid goes in after a cyanoferrate; what melts
to lye is melted first. Where the stages charge more than once they go before all this: the rule is
for what goes in together. A solid that goes in later as a solution is dissolved in water kept back.

**Checkpoint.** Read off the vessel's course: the pure product at the typical yield, or, of a charge
that is only heated, all that lies there but free water; the band goes from the low yield at the low
strength of the limiting material to the high yield at the high one. Nothing weighs more than what
is there when all has turned and all is caught (``ceiling_g``). The contents of the vessel are those
at the end of the stage in which it reacts; washes come later.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from routefinder.assessment.crystals import boils_down
from routefinder.assessment.drying import Drying, drying
from routefinder.assessment.equipment import tools
from routefinder.assessment.leavings import Handling, leavings
from routefinder.assessment.perishables import Keeping, keeping_of
from routefinder.assessment.room_air import ACIDS
from routefinder.assessment.warming import PORTIONS_K
from routefinder.hazards.kinds import kinds
from routefinder.library import fumes
from routefinder.library.library import Library
from routefinder.library.pot import called, is_water
from routefinder.library.resolve import ResolvedStep
from routefinder.library.strength_lints import burns_as
from routefinder.records.shelf import Bench
from routefinder.vessel.course import Behaviour, behaviour_of, run
from routefinder.vessel.feed import Feed
from routefinder.vessel.stages import is_dry_heat, stages_of, wash_portions
from routefinder.vessel.step_amounts import StepAmounts
from routefinder.vessel.stream import WATER
from routefinder.worksheet.plan import Plan, StepPlan

_LIQUID = ("solution", "liquid")
SPARE = 0.1  # of the water a crystallisation wants; less is borne
_GROW = frozenset({"crystallisation", "recrystallisation", "concentration", "drying"})
_AGENT = "drying agent"
LIES_MORE = 1.02  # times the pure product: what lies there is told from here on


@dataclass(frozen=True)
class BenchPortion:
    """What goes into one batch: grams as weighed, and mL of what is measured.

    ``reads_g`` is the readability of the balance it is rounded to (None: not rounded).
    ``burns`` is "acid" or "alkali" of what goes slowly into the water, never the water into it.
    ``from_step`` is the number of the step that made it; ``dissolved``: as its solution.
    ``fizzes``: a carbonate, which gives carbon dioxide with the acid of the step.
    ``little_by_little``: it acts on all that is in the vessel, and all at once it runs away.
    ``stage`` is the place of the stage it goes in with, ``to_dissolve``: then, as a solution;
    ``water``: plain water.
    """

    name: str
    role: str
    grams: float
    volume_mL: float | None
    reads_g: float | None
    from_step: int | None
    dissolved: bool
    liquid: bool
    to_make_up: bool = False
    burns: str = ""
    fizzes: bool = False
    little_by_little: bool = False
    stage: int = 0
    to_dissolve: bool = False
    water: bool = False


@dataclass(frozen=True)
class Checkpoint:
    """What one batch must weigh, in g; None where it does not apply.

    ``expected_g`` with ``low_g`` and ``high_g`` is the dry product, which cannot weigh more than
    ``ceiling_g``. ``contents_g`` is what the vessel holds when the gas ``gas_g`` has left.
    ``lies_g`` is what lies there dry with all that goes along, as the course has it, where that is
    more than the pure product. ``tells`` says whether the bench's balance can see the loss of gas:
    None without a bench.
    """

    expected_g: float | None
    low_g: float | None
    high_g: float | None
    ceiling_g: float | None
    contents_g: float
    gas_g: float
    reads_g: float | None
    tells: bool | None
    lies_g: float | None = None


@dataclass(frozen=True)
class BenchCrop:
    """One crop of a batch: mL of water to be left before cooling, and the crystals, g.

    ``hot``: the crystals are parted from the hot liquor, nothing is cooled.
    """

    leave_mL: float
    boils: bool
    crystals_g: float
    hot: bool = False


@dataclass(frozen=True)
class StepWork:
    """One step as work: what is got ready, put in, done, weighed and put away, for each batch.

    ``tools`` pairs each need in words with what serves it (None: nothing on the bench).
    ``in_portions``: the last thing is added little by little; ``foams``: because gas comes off.
    ``spare_mL`` is water to take off before crystals grow, ``portions`` in how many the washes go
    on. ``led_in`` are gases, ``agents`` the drying agents, for the product. ``kept`` is (name,
    grams) of what is recovered and not used, ``leavings`` the rest by stream with its usual
    handling, both of all batches. ``drying`` is how the product may be dried.
    """

    plan: StepPlan
    tools: tuple[tuple[str, str | None], ...]
    vessel: str
    charge: tuple[BenchPortion, ...]
    after: tuple[BenchPortion, ...]
    washes: tuple[BenchPortion, ...]
    portions: int
    led_in: tuple[BenchPortion, ...]
    agents: tuple[BenchPortion, ...]
    in_portions: bool
    foams: bool
    boil_off_mL: float | None
    crops: tuple[BenchCrop, ...]
    spare_mL: float
    filters: bool
    drying: Drying
    checkpoint: Checkpoint
    keeping: Keeping
    last: bool
    kept: tuple[tuple[str, float], ...]
    leavings: tuple[Handling, ...]


def bench_work(plan: Plan) -> tuple[StepWork, ...]:
    """All steps of a plan in the order they are done."""
    return tuple(_work(plan, s) for s in plan.steps)


def _spare_g(library: Library, s: StepPlan) -> float:
    """Water that the solution of an earlier step brings beyond what its crystals want, where the
    step boils nothing down: grams; 0 where it is less than a tenth.
    """
    step = s.amount.step
    if step.record.kind not in _GROW or s.heat.boil_off_g or not s.water.carried_g:
        return 0.0
    call = called(library, step)
    wanted = (call.bound_g + call.start_g) * s.amount.turns
    spare = s.water.charged_g - wanted
    return spare if spare > SPARE * wanted else 0.0


def _poured(
    library: Library, amount: StepAmounts, charge: list[tuple[int, Feed]]
) -> frozenset[str]:
    """What is dissolved apart and poured in: of two dissolved reactants that throw a solid down,
    those after the first, where they are weighed in dry and stand in no charge of their own.
    """
    step = amount.step
    written = any(s.kind == "charge" and s.what for s in step.record.stages)
    falls = step.record.kind not in _GROW and any(p.state == "s" for p in step.products)
    if written or not falls:
        return frozenset()
    aq = {p.substance for p in step.reactants if p.state == "aq"}
    wet = [f for _, f in charge if f.substance in aq and not is_water(library, f.substance)]
    plain = any(is_water(library, f.substance) for _, f in charge)
    return frozenset(f.substance for f in wet[1:]) if plain else frozenset()


def _wash_portions(library: Library, step: ResolvedStep) -> int:
    """In how many portions the plain washes of a step go on, all its stages together."""
    washes = stages_of(library, step).having("wash")
    return sum(wash_portions(step, s) for s in washes if not s.also)


def _work(plan: Plan, s: StepPlan) -> StepWork:
    amount, step = s.amount, s.amount.step
    numbers = {p.amount.step.id: p.number for p in plan.steps}
    feeds = [f for f in amount.feeds if f.drawn_g > 1e-9 and not _air(f)]
    put_in = [f for f in feeds if f.role not in {"wash", _AGENT}]
    at_once = [f for f in put_in if not f.after]
    groups: dict[int, list[Feed]] = {}
    for feed in at_once:
        for place, share in step.charges_of(feed.substance):
            groups.setdefault(place, []).append(_part_of(feed, share))
    charge = [
        (place, f)
        for place in sorted(groups)
        for f in in_order(plan.library, amount, groups[place])
    ]
    after = [f for f in put_in if f.after]
    poured = _poured(plan.library, amount, charge)
    agents = [f for f in feeds if f.role == _AGENT]
    led_in = [f for f in amount.feeds if _air(f) and not _of_the_air(plan.library, f)]
    washes = [f for f in feeds if f.role == "wash"]

    def portions(part: list[Feed]) -> tuple[BenchPortion, ...]:
        return tuple(_portion(plan.library, s, f, numbers) for f in part)

    names = {n.name for n in step.record.equipment}
    boil_off = s.heat.boil_off_g
    wet = any(p.state in {"aq", "l"} for p in step.reactants)
    current = step.record.kind == "electrolysis"  # it sets the pace of its gas
    foams = _gives_gas(plan.library, amount) and wet and not current
    warms = s.heat.warming.boiled_g > 0 or (s.heat.warming.rise_K or 0.0) > PORTIONS_K
    return StepWork(
        s,
        tuple(
            (need.in_words(), tool) for need, tool in zip(step.needs, _tools(plan, s), strict=True)
        ),
        s.batches.vessel if s.batches else "",
        tuple(
            _portion(plan.library, s, f, numbers, place, f.substance in poured)
            for place, f in charge
        ),
        portions(after),
        portions(washes),
        _wash_portions(plan.library, step),
        portions(led_in),
        portions(agents),
        (foams or (wet and warms)) and len(charge) > 1,
        foams,
        boil_off / s.count if boil_off else None,
        _crops(s),
        _spare_g(plan.library, s) / s.count,
        bool(names & {"filter", "filter-vacuum"}),
        drying(plan.library, step.main.substance, step.main.state, step),
        _checkpoint(plan, s),
        keeping_of(plan.library, step, step.main.substance, step.main.state),
        step.id == plan.amounts.last,
        _kept(plan.library, amount),
        leavings(plan.library, [amount]),
    )


def _part_of(feed: Feed, share: float) -> Feed:
    """A share of what goes in, where it goes in at several times."""
    if share == 1.0:
        return feed
    of = ("moles", "mass_g", "companions_g", "water_g", "from_solution_g", "spared_g")
    return replace(feed, **{name: getattr(feed, name) * share for name in of})


def _kept(library: Library, amount: StepAmounts) -> tuple[tuple[str, float], ...]:
    return tuple(
        (library.name(o.substance), o.mass_g)
        for o in amount.kept
        if not is_water(library, o.substance)
    )


def _air(feed: Feed) -> bool:
    return not isinstance(feed.origin, str) and feed.origin.form == "gas"


def _of_the_air(library: Library, feed: Feed) -> bool:
    return library.substances[feed.substance].formula in {"O2", "N2"}


def _gives_gas(library: Library, amount: StepAmounts) -> bool:
    """By the equation, or carbon dioxide by the record: what foams."""
    return any(o.fate == "gas" and o.state == "g" for o in amount.outcomes) or any(
        f.formula == "CO2" and not f.traces for f in fumes.fumes(library, amount.step)
    )


def _tools(plan: Plan, s: StepPlan) -> tuple[str | None, ...]:
    """What serves each need of the record; the vessels are those that the batches took."""
    if plan.bench is None:
        return (None,) * len(s.amount.step.record.equipment)
    vessels = s.batches.vessels if s.batches else ()
    return tools(plan.library, s.amount.step, plan.bench, vessels)


def in_order(library: Library, amount: StepAmounts, feeds: list[Feed]) -> list[Feed]:
    """The charge in order: plain water together and first, so that acid goes into water."""
    waters = [
        f
        for f in feeds
        if not isinstance(f.origin, str)
        and f.origin.form == "liquid"
        and is_water(library, f.substance)
    ]
    rest = [f for f in feeds if f not in waters]
    if waters:
        main = max(waters, key=lambda f: f.mass_g)
        more = {
            name: sum(getattr(f, name) for f in waters)
            for name in ("moles", "mass_g", "companions_g", "water_g", "from_solution_g")
        }
        rest.append(replace(main, **more))
    return sorted(rest, key=lambda f: _rank(library, amount, f, bool(waters)))


PEROXIDE = "H2O2"
_BASES = frozenset({"strong alkali", "mild alkali", "earthy base", "ammonia", "carbonate"})
_LAST = 2  # after liquids (0) and solids (1)


def _rank(library: Library, amount: StepAmounts, feed: Feed, water: bool) -> tuple[int, int]:
    special = _out_of_turn(library, amount, feed)
    return _by_state(library, amount, feed, water) if special is None else special


def _out_of_turn(library: Library, amount: StepAmounts, feed: Feed) -> tuple[int, int] | None:
    """The place of what must not meet the rest at once, or None."""
    names = [f.substance for f in amount.feeds if f.role != "wash" and not f.after]
    mine = library.substances[feed.substance]
    if mine.formula == PEROXIDE:
        return _LAST, 1
    if not is_water(library, feed.substance):
        known = kinds(mine).names
        if any(library.substances[n].formula == PEROXIDE for n in names) and known & _BASES:
            return _LAST, 2
        cyano = any("cyanoferrate" in kinds(library.substances[n]) for n in names)
        if cyano and known & ACIDS:
            return _LAST, 0
        if is_dry_heat(amount.step) and "strong alkali" in known:
            return 0, 0
    return None


def _by_state(library: Library, amount: StepAmounts, feed: Feed, water: bool) -> tuple[int, int]:
    if isinstance(feed.origin, str):
        return (0, 3) if _dissolved(amount, feed) else (1, _solid(amount, feed))
    if feed.origin.form in _LIQUID:
        if is_water(library, feed.substance) or feed.role == "solvent":
            return (0, 0)
        burns = burns_as(library, feed.substance, feed.origin.fractions.get(feed.form))
        if not burns:
            return (0, 4)
        if not water:
            return (0, 5)
        return (0, 1 if burns == "acid" else 2)
    return (1, _solid(amount, feed))


def _solid(amount: StepAmounts, feed: Feed) -> int:
    """The place of a solid among solids."""
    part = next((p for p in amount.step.reactants if p.substance == feed.substance), None)
    stays = part is not None and part.state == "s" and not is_dry_heat(amount.step)
    return 2 * stays + (not _limits(amount, feed))


def _limits(amount: StepAmounts, feed: Feed) -> bool:
    return feed.role == "reactant" and feed.substance == amount.step.limiting.substance


def _dissolved(amount: StepAmounts, feed: Feed) -> bool:
    """Whether something from an earlier step comes as its solution."""
    part = next((p for p in amount.step.reactants if p.substance == feed.substance), None)
    return part is not None and part.state == "aq" and feed.water_g == 0


def _portion(
    library: Library,
    s: StepPlan,
    feed: Feed,
    numbers: dict[str, int],
    place: int = 0,
    poured: bool = False,
) -> BenchPortion:
    found = _plain_portion(library, s, feed, numbers)
    step = s.amount.step
    wet = any(p.substance == feed.substance and p.state == "aq" for p in step.reactants)
    later = (bool(place) or poured) and wet and not found.liquid
    water = found.liquid and is_water(library, feed.substance)
    return replace(found, stage=place, to_dissolve=later, water=water)


def _plain_portion(
    library: Library, s: StepPlan, feed: Feed, numbers: dict[str, int]
) -> BenchPortion:
    grams = feed.drawn_g / s.count
    if isinstance(feed.origin, str):
        wet = _dissolved(s.amount, feed)
        name = library.name(feed.substance)
        return BenchPortion(name, feed.role, grams, None, None, numbers[feed.origin], wet, wet)
    supply = feed.origin
    if supply.form == "gas":
        name = library.name(feed.substance)
        return BenchPortion(name, feed.role, feed.mass_g / s.count, None, None, None, False, False)
    liquid = supply.form in _LIQUID
    volume = grams / supply.density_g_mL if liquid and supply.density_g_mL else None
    reads = next(
        (w.readability_g for w in s.weigh_outs if w.material == supply.name and w.balance), None
    )
    if reads is not None:
        grams = round(grams / reads) * reads
    return BenchPortion(
        supply.name,
        feed.role,
        grams,
        volume,
        reads,
        None,
        False,
        liquid,
        feed.spared_g > 0 or feed.from_solution_g > 0,
        burns_as(library, feed.substance, supply.fractions.get(feed.form)),
        feed.role == "wash" and _meets_acid(library, s.amount, feed),
        library.substances[feed.substance].formula == PEROXIDE,
    )


def _meets_acid(library: Library, amount: StepAmounts, feed: Feed) -> bool:
    """Whether a carbonate meets an acid that was charged."""
    acids = ("strong acid", "organic acid", "mineral acid", "acid salt")
    if "carbonate" not in kinds(library.substances[feed.substance]):
        return False
    others = [kinds(library.substances[f.substance]) for f in amount.feeds]
    return any(acid in known for known in others for acid in acids)


def _crops(s: StepPlan) -> tuple[BenchCrop, ...]:
    """By the first table; nothing where nothing is known."""
    if s.crops is None or not s.crops.answers:
        return ()
    boils = boils_down(s.amount.step)
    first = s.crops.answers[0]
    if not boils and not first.to_leaves:
        crystals_g = first.as_charged_share * s.crops.salt_g / s.count
        return (BenchCrop(0.0, False, crystals_g, first.hot_parted),)
    return tuple(
        BenchCrop(
            c.liquor_water_g / s.count,
            boils and c.boiled_off_g > 0.5,
            c.crystals_g / s.count,
            first.hot_parted,
        )
        for c in first.crops
    )


def _checkpoint(plan: Plan, s: StepPlan) -> Checkpoint:
    amount, step, course = s.amount, s.amount.step, s.amount.course
    expected = low = high = ceiling = None
    if step.main.state in {"s", "l"}:
        y = step.record.yield_
        weak, strong = _strength(amount)
        # a charge that is only heated is weighed as it lies there; what is parted from a liquor is
        # judged as the pure product, as a weighing is (``journal.mass_model``)
        whole = course.stages.dry and not course.stages.having("filter", "decant")

        def weighs(how: Behaviour) -> float:
            product = run(plan.library, step, course.charge, how, {}).product
            if whole:
                return float(product.mass_g - product.grams(*WATER)) / s.count
            return float(product.grams(step.main.substance)) / s.count

        expected = weighs(course.behaviour)
        low = weighs(behaviour_of(plan.library, step, y.low)) * weak
        high = weighs(behaviour_of(plan.library, step, y.high)) * strong
        low, high = min(low, expected), max(high, expected)
        if not step.is_recipe:
            ceiling = max(weighs(Behaviour(1.0, 1.0, True)), expected)
            high = min(high, ceiling)
    gas = sum(o.mass_g for o in amount.outcomes if o.state == "g") / s.count
    charged = float(course.charge.contents.mass_g)
    contents = float(course.points[course.stages.reacts].contents.mass_g) / s.count
    reads = _reads(plan.bench, charged / s.count)
    tells = None if plan.bench is None else reads is not None and gas > 10 * reads
    made = course.product
    lies = float(made.in_phases("s", "l", "aq") - made.grams(*WATER)) / s.count
    more = expected is not None and lies > LIES_MORE * expected
    reads_g = _reads(plan.bench, expected or 0.0)
    return Checkpoint(
        expected, low, high, ceiling, contents, gas, reads_g, tells, lies if more else None
    )


def _strength(amount: StepAmounts) -> tuple[float, float]:
    """Least and greatest strength of the limiting material, as shares of the stated one."""
    for feed in amount.feeds:
        if _limits(amount, feed) and not isinstance(feed.origin, str):
            typical = feed.origin.fractions[feed.form]
            low = feed.origin.low.get(feed.form, typical)
            high = feed.origin.high.get(feed.form, typical)
            return min(low, typical) / typical, max(high, typical) / typical
    return 1.0, 1.0


def _reads(bench: Bench | None, load_g: float) -> float | None:
    """Readability of the finest balance that bears a load."""
    if bench is None:
        return None
    fitting = [
        reads
        for t in bench.tools
        for o in t.offers
        if o.name == "weigh"
        and (reads := o.limit("readability"))
        and (o.limit("capacity") or math.inf) >= load_g
    ]
    return min(fitting, default=None)
