"""The course of a step: what is in the vessel after each stage, and what has left it.

**Conversion and loss.** The record's yield is y = c r: of the limiting reactant the part c turns,
and of what is made the part r goes on. Parts of a yield that say what they are ("conversion",
"equilibrium", "crystals", "mother liquor") count as c, the others as r, and what lumps conversion
with handling ("conversion, filtering, washing") says neither. Where a record does not part them
(our rule, common practice):

    crystallisation                       c = y, r = 1: what does not crystallise stays dissolved;
                                          its part "crop" is c where it has one (``library.crops``)
    equilibria and the like (``STOPS``)   c = y / r, r = 97 % (lost at parting and washing)
    several solids fired together         c = y / r, r = 99 % (spilt, stuck); the rest stays in it
    a recipe melted to a glass            c = 1, r = y
    one solid heated to constant weight   not turned: at most 2 % of the weight, r = y / c
    all other reactions                   c = 1, r = y

**Boiling down to crystals**: the water that must go for the crops leaves as steam before they grow,
down to what the last liquor is made of (``library.crops``).

**Where the lost part is**: a dissolved product stays in the liquor that its solids hold, else it
is spilt; a solid one that is filtered goes through and onto the filter with the filtrate; any
other is spilt.

**A cake** holds its own weight of liquor (``holds``, common practice for a drained cake), crystals
and what is sucked dry 30 % of it (common practice). A wash of a solid in n portions (3 where
nothing is said, common practice) leaves (h / (h + W/n))^n of what was dissolved in the liquor h
that is held; one that says ``pushes_out`` leaves 1 less that. Salts that lie undissolved beside the
product go with the liquor, where the library knows them dissolved and they are no sparing ones; of
these (gypsum) it takes up what cold water holds. What ``also`` turns in a wash turns in all of its
liquor. Where the product is the liquor and nothing is said, the cake holds as much as the yield
lets it.

**Companions.** What comes along unnamed in a solid stays with it in a dry heat and dissolves in a
wet one (unknown; cautious for neither). A named fate goes before: "stays", "dissolves", "burns
off", "leaves when heated".

**Lifted out** is what a stage of that name names, as far as it has not turned: lumps, what floats,
what is filtered off first. What is left of sulfur and carbon burns off in a heat that says "air".

**Combining in the heat.** What has not combined loses its gas all the same where the library knows
a step that drives it off at that heat (``Stages.alone``): the weight does not see the combining.

Mass and, where everything has a formula, each element balance at every stage.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product as pairs

from routefinder.chem import equation as equations
from routefinder.library import crops
from routefinder.library.assemble import find_substance
from routefinder.library.library import Library
from routefinder.library.resolve import Part as Term
from routefinder.library.resolve import ResolvedStep
from routefinder.records.material import FATES
from routefinder.records.stage import SEPARATES, Stage
from routefinder.vessel.stages import Stages, stages_of, wash_portions
from routefinder.vessel.stream import (
    NOTHING,
    REST,
    WATER,
    Number,
    Part,
    Stream,
    filled,
    least,
    total,
)

STOPS = frozenset({
    "esterification", "causticising", "hydrolysis", "condensation", "saponification",
})  # fmt: skip
KEPT_DRY, KEPT_WET = 0.99, 0.97  # what goes on of what is made, where a reaction stops short
NOT_THROUGH = 0.02  # of the weight, where a solid is heated to constant weight
VOLATILE_C = 150.0  # what boils below leaves on drying
CAKE_HOLDS = 1.0  # g of liquor a g of drained cake
SUCKED_HOLDS = 0.3  # crystals, or sucked dry
SPARING_G = 5.0  # in 100 g of water; less does not wash out
BURNABLE = frozenset({"S", "S8", "C"})
STEAM_C = 100.0
BURN_C = 300.0  # what burns off is gone after a hold above it; common practice
STAYS, DISSOLVES, BURNS, LEAVES = FATES
_CONVERTS = ("conversion", "equilibrium", "crystal", "crop", "mother liquor")
_HANDLES = ("filter", "wash", "dry")


@dataclass(frozen=True)
class Behaviour:
    """How far a step goes: ``conversion`` c of the limiting reactant, ``kept`` r of what is made.

    ``derived`` says that they were parted by our rule.
    """

    conversion: Number
    kept: Number
    derived: bool


@dataclass(frozen=True)
class Charge:
    """What is weighed in for one step: the vessel's contents, the wash, and what drifts along.

    ``turns`` are moles of the equation that the limiting reactant allows. ``fates`` says of a
    companion what becomes of it; ``by_feed`` is what each feed brings, in their order. ``later`` is
    the part of ``contents`` that goes in at a later stage, by the place of that stage; ``after``
    goes in when the reaction is over, and is not in ``contents``.
    """

    contents: Stream
    turns: Number
    wash: Stream = NOTHING
    fates: Mapping[str, str] = field(default_factory=dict)
    by_feed: tuple[Stream, ...] = ()
    later: Mapping[int, Stream] = field(default_factory=dict)
    after: Stream = NOTHING

    @property
    def at_first(self) -> Stream:
        """What goes in with the first charge."""
        return self.contents - total(self.later.values())


@dataclass(frozen=True)
class Point:
    """The end of one stage: what is in the vessel, what went in, and what left in it, by the way.

    Ways: "gas", "steam", "burnt", "distillate", "filtrate", "washings", "spilt". ``taken`` came in
    during the stage (wash, oxygen of the air, what goes in when the reaction is over).
    """

    stage: Stage
    contents: Stream
    taken: Stream
    left: Mapping[str, Stream]


@dataclass(frozen=True)
class Course:
    """A step from charge to what goes on.

    ``product`` goes on (with all that comes along); ``leavings`` is what is left over, by what it
    is at the bench ("filtrate", "residue"...); ``recovered`` by-products by substance. ``begun`` is
    what is in the vessel as the reaction begins: what dissolves is dissolved, nothing has turned.
    ``layered``: a liquid product is washed in its vessel, layer by layer.
    """

    charge: Charge
    points: tuple[Point, ...]
    product: Stream
    leavings: Mapping[str, Stream]
    recovered: Mapping[str, Stream]
    behaviour: Behaviour
    stages: Stages
    begun: Stream = NOTHING
    layered: bool = False

    def after(self, kind: str) -> Point:
        """The point after the last stage of this kind. Raises KeyError when there is none."""
        for point in reversed(self.points):
            if point.stage.kind == kind:
                return point
        raise KeyError(kind)


def behaviour_of(library: Library, step: ResolvedStep, yield_: Number | None = None) -> Behaviour:
    """Conversion and loss of a step at a yield (None: its typical one)."""
    record = step.record.yield_
    y = record.typical if yield_ is None else yield_
    named = [p for p in record.parts if _says(p.what, _CONVERTS) and not _says(p.what, _HANDLES)]
    stages = stages_of(library, step)
    if named and len(record.parts) > 1:
        c = 1.0
        for part in named:
            c *= part.typical
        # what a yield differs by from the typical one is the conversion's, as far as that goes
        reached: Number = least([c * (y / record.typical), 1.0 + 0.0 * y])
        return Behaviour(reached, y / reached, False)
    if stages.crystals and stages.having(*SEPARATES):
        return Behaviour(y, 1.0, not named)
    whole = 1.0 + 0.0 * y
    if step.is_recipe and step.record.kind == "melting":  # one glass: nothing lies in it unmelted
        return Behaviour(whole, y, True)
    if stages.dry or step.record.kind in STOPS:
        reached = least([y / (KEPT_DRY if stages.dry else KEPT_WET), whole])
        if stages.dry and len([p for p in step.reactants if p.state == "s"]) == 1:
            reached = -least([-reached, -_through(library, step) * whole])  # the greater of the two
        return Behaviour(reached, y / reached, True)
    return Behaviour(1.0 + 0.0 * y, y, True)


def _says(what: str, words: tuple[str, ...]) -> bool:
    return any(w in what.casefold() for w in words)


def _through(library: Library, step: ResolvedStep) -> float:
    """The least share that has turned where the weight stands still, within ``NOT_THROUGH``."""
    (solid,) = (p for p in step.reactants if p.state == "s")
    if step.is_recipe:
        before, after = solid.moles, step.main.moles
    else:
        molar = {p: library.substances[p.substance].molar_mass_g for p in (solid, *step.products)}
        before = solid.moles * molar[solid]
        after = sum(p.moles * molar[p] for p in step.products if p.state == "s")
    return 1 - NOT_THROUGH * min(after / before, 1.0)


def dissolves(library: Library, what: str) -> bool:
    """Whether the library knows a substance dissolved: some step takes or makes it (aq)."""
    return what in library.substances and library.root(what) in library.soluble


def run(
    library: Library,
    step: ResolvedStep,
    charge: Charge,
    behaviour: Behaviour | None = None,
    recover: Mapping[str, Number] | None = None,
) -> Course:
    """The course of a step for what is weighed in; masses in g, numbers or arrays alike.

    ``recover`` is how many grams of what are collected from what is left over, as far as there is
    so much; None: the record's shares of its by-products.
    """
    how = behaviour or behaviour_of(library, step)
    plan = stages_of(library, step)
    work = _Work(library, step, charge, how, plan, recover)
    points = tuple(work.do(i, stage) for i, stage in enumerate(plan.listed))
    return work.end(points)


def mixed(library: Library, step: ResolvedStep, course: Course) -> Stream:
    """What stands in the vessel when all that dissolves has dissolved and nothing has reacted.

    Its mass is that of what is charged; what differs is what went into solution. Gases that react
    are not in it: they come in as they react.
    """
    work = _Work(library, step, course.charge, course.behaviour, course.stages, None)
    work.vessel = course.charge.contents
    work.mix()
    return work.vessel


class _Work:
    """The vessel while a step runs through its stages."""

    def __init__(
        self,
        library: Library,
        step: ResolvedStep,
        charge: Charge,
        how: Behaviour,
        plan: Stages,
        recover: Mapping[str, Number] | None,
    ) -> None:
        self.library, self.step, self.charge = library, step, charge
        self.how, self.plan, self.recover = how, plan, recover
        self.vessel: Stream = NOTHING
        self.begun: Stream = charge.contents
        self.filtrate: Stream = NOTHING  # set aside when the product is in it
        self.enclosed: Stream = NOTHING  # salts shut in grains of the product
        self.left: dict[str, Stream] = {}
        self.now: dict[str, Stream] = {}
        self.taken: Stream = NOTHING
        self.recovered: dict[str, Stream] = {}
        self.liquid_product = step.main.state in {"aq", "l"}
        self.dry = plan.dry
        self.lost = False  # whether the lost part of the product has been put somewhere
        self.washes = len(plan.having("wash"))
        self.thickens = self._thickens()
        self.first = next((i for i, s in enumerate(plan.listed) if s.kind == "charge"), 0)

    # --- the ledger ------------------------------------------------------------------------

    def leave(self, way: str, stream: Stream) -> None:
        """Take ``stream`` out of the vessel by ``way``."""
        self.vessel = self.vessel - stream
        self._book(way, stream)

    def _book(self, way: str, stream: Stream) -> None:
        for book in (self.left, self.now):
            book[way] = book.get(way, NOTHING) + stream

    def do(self, place: int, stage: Stage) -> Point:
        """Run one stage."""
        self.now, self.taken = {}, NOTHING
        if stage.kind == "charge" and place == self.first:
            self.vessel = self.vessel + self.charge.at_first
        elif place in self.charge.later:
            self.taken = self.charge.later[place]
            self.vessel = self.vessel + self.taken
        for text in stage.also if stage.kind != "wash" else ():
            self._also(text)
        if place == self.plan.reacts:
            self._react()
            self.vessel = self.vessel + self.charge.after
            self.taken = self.taken + self.charge.after
        hot = stage.hottest_C
        if stage.kind in {"hold", "heat", "distil", "dry"} and hot is not None:
            self._drive_off(stage, hot)
        if place == self.thickens:
            self._thicken(place)
        work = getattr(self, f"_{stage.kind.replace(' ', '_')}", None)
        if work is not None:
            work(stage)
        return Point(stage, self.vessel + self.filtrate + self.enclosed, self.taken, dict(self.now))

    # --- reactions -------------------------------------------------------------------------

    def _grams(self, term: Term) -> float:
        return term.moles * self.library.substances[term.substance].molar_mass_g

    def _key(self, term: Term) -> Part:
        if term.state == "aq":
            return self.library.root(term.substance), "aq"
        return term.substance, term.state

    def _mass(self, term: Term) -> float:
        name = self._key(term)[0]
        return term.moles * self.library.substances[name].molar_mass_g

    def _dissolve(self, term: Term) -> None:
        """What a dissolved reactant is charged as goes into solution; a gas is led in."""
        if term.state != "aq":
            return
        root = self.library.root(term.substance)
        for form, phase in pairs(self.library.families.get(root, (root,)), "slg"):
            self._into_solution(form, phase)

    def _into_solution(self, form: str, phase: str) -> None:
        """One form goes into solution, its crystal water with it."""
        grams = self.vessel.parts.get((form, phase))
        if grams is None:
            return
        root = self.library.root(form)
        record, dry = self.library.substances[form], self.library.substances[root]
        share = dry.molar_mass_g / record.molar_mass_g
        parts = dict(self.vessel.parts)
        del parts[form, phase]
        self.vessel = Stream(parts) + Stream(
            {(root, "aq"): grams * share, WATER: grams * (1 - share)}
        )

    def _dissolve_besides(self) -> None:
        """Salts put in besides the reactants go into the liquor, as the library knows them."""
        if self.dry or not _any(self.vessel.grams(*WATER)):
            return
        own = {t.substance for t in (*self.step.reactants, *self.step.products)}
        stay = {a.substance for a in self.step.aids if a.role in {"seed", "drying agent", "fuel"}}
        for what, phase in list(self.vessel.parts):
            if phase == "s" and what not in own | stay and dissolves(self.library, what):
                self._into_solution(what, phase)

    def _have(self, term: Term) -> Number | None:
        """Turns that what is there of a reactant allows; None for what the air gives."""
        if term.state == "g" and self._key(term) not in self.vessel.parts:
            return None
        return self.vessel.grams(*self._key(term)) / self._mass(term)

    def mix(self) -> None:
        """What dissolves has dissolved, and nothing has reacted."""
        for term in self.step.reactants:
            self._dissolve(term)
        self._dissolve_besides()

    def _react(self) -> None:
        self.mix()
        self.begun = self.vessel
        turns = self.how.conversion * self.charge.turns
        allowed = [h for t in self.step.reactants if (h := self._have(t)) is not None]
        self._turn(self.step.reactants, self.step.products, least([turns, *allowed]))
        for other in self.plan.alone:  # what has not combined loses its gas all the same
            allowed = [h for t in other.reactants if (h := self._have(t)) is not None]
            self._turn(other.reactants, other.products, least(allowed))
        over = self.vessel.only("g")
        if _any(over.mass_g):
            self.leave("gas", over)

    def _also(self, text: str) -> None:
        """An equation that runs besides the step's own, as far as its reactants reach."""
        equation = equations.parse(text)
        sides = []
        for terms in (equation.left, equation.right):
            out = []
            for term in terms:
                name, what, remedy = find_substance(self.library, term.species)
                if name is None:
                    raise ValueError(f"{what}. {remedy}")
                out.append(Term(name, float(term.coefficient), term.state))
            sides.append(tuple(out))
        allowed = [h for t in sides[0] if (h := self._have(t)) is not None]
        self._turn(sides[0], sides[1], least(allowed))

    def _turn(self, left: tuple[Term, ...], right: tuple[Term, ...], turns: Number) -> None:
        air = NOTHING
        for term in left:
            if self._have(term) is None:
                air = air + Stream({self._key(term): self._mass(term) * turns})
        self.taken = self.taken + air
        self.vessel = self.vessel + air
        gone = Stream({self._key(t): self._mass(t) * turns for t in left})
        made = Stream({self._key(t): self._mass(t) * turns for t in right})
        self.vessel = self.vessel - gone + made
        rest = gone.mass_g - made.mass_g
        if self.step.is_recipe and left == self.step.reactants:
            # a recipe names what is kept; the rest goes with the liquor, or off with the heat
            self.vessel = self.vessel + Stream({REST: rest})
            if self.dry:
                self.leave("gas", Stream({REST: rest}))
        for term in right:
            if term.state == "g":
                self._let_off(term, turns)

    def _let_off(self, term: Term, turns: Number) -> None:
        grams = self._mass(term) * turns
        stays = self.step.dissolved.get(term.substance, 0.0)
        parts = dict(self.vessel.parts)
        parts[term.substance, "g"] = parts[term.substance, "g"] - grams
        if stays:
            key = (term.substance, "aq")
            parts[key] = parts.get(key, 0.0) + grams * stays
        self.vessel = Stream(parts)
        if term.substance == self.step.main.substance and self.step.main.state == "g":
            self.filtrate = self.filtrate + Stream({(term.substance, "g"): grams * (1 - stays)})
            return
        self._book("gas", Stream({(term.substance, "g"): grams * (1 - stays)}))

    # --- heat ------------------------------------------------------------------------------

    def _drive_off(self, stage: Stage, hot_C: float) -> None:
        wet = not self.dry and self.plan.having("filter", "decant", "crystallise")
        for (what, phase), grams in list(self.vessel.parts.items()):
            fate = self.charge.fates.get(what, "")
            if (fate == BURNS and hot_C >= BURN_C) or (fate == LEAVES and hot_C >= STEAM_C):
                way = "burnt" if fate == BURNS else "steam"
                self.leave(way, Stream({(what, phase): grams}))
            elif (what, phase) == WATER and self.dry and not wet and hot_C >= STEAM_C:
                self.leave("steam", Stream({(what, phase): grams}))

        if self.dry and "air" in stage.atmosphere and hot_C >= BURN_C:
            for (what, phase), grams in list(self.vessel.parts.items()):
                record = self.library.substances.get(what)
                if phase == "s" and record is not None and record.formula in BURNABLE:
                    self.leave("burnt", Stream({(what, phase): grams}))

    def _distil(self, stage: Stage) -> None:
        """What a step collects beside a product that stays in the still goes over."""
        for part in self.step.products:
            key = self._key(part)
            if part.substance in self.step.recovered and key in self.vessel.parts:
                self.leave("distillate", Stream({key: self.vessel.parts[key]}))

    def _thickens(self) -> int | None:
        """The place of the stage in which a liquor loses what is too much for its crops."""
        if not self.plan.crystals or crops.left_g_mol(self.library, self.step) is None:
            return None
        hot = (i for i, s in enumerate(self.plan.listed) if s.kind == "boil down")
        return next(hot, self.plan.reacts)

    def _thicken(self, place: int) -> None:
        """Boil down to what the last crop's liquor is made of; a little more is let be."""
        per_mol = crops.left_g_mol(self.library, self.step) or 0.0
        turns = self.charge.turns
        left = per_mol * self.step.limiting.moles * turns
        # salt that stays dissolved counts as crystals do: its crystal water is not free
        bound = self._formed_g() * turns
        if place >= self.plan.reacts:
            bound = bound * (1 - self.how.conversion)
        water = self.vessel.grams(*WATER)
        off = -least([-(water + bound - left), 0.0 * water])
        if crops.boils_down(self.step) or _any(off - (crops.CLEAR - 1) * left):
            self.leave("steam", Stream({WATER: off}))

    def _formed_g(self) -> float:
        """Water that a turn of the equation makes, less what it binds."""
        return sum(
            sign * self._mass(t)
            for sign, terms in ((-1, self.step.reactants), (1, self.step.products))
            for t in terms
            if self._key(t) == WATER
        )

    # --- separations -----------------------------------------------------------------------

    def _lift_out(self, stage: Stage) -> None:
        """Solids that a stage names are taken out, as far as they have not turned."""
        for name in stage.what:
            key = (self._named(name), "s")
            if key in self.vessel.parts:
                self.leave("residue", Stream({key: self.vessel.parts[key]}))

    def _named(self, text: str) -> str:
        """The id of a substance that a stage names, by id or formula."""
        own = {t.substance for t in self.step.reactants} | {a.substance for a in self.step.aids}
        name, what, remedy = find_substance(self.library, text, own)
        if name is None:
            name, what, remedy = find_substance(self.library, text)
        if name is None:
            raise ValueError(f"{what}. {remedy}")
        return name

    def _boil_down(self, stage: Stage) -> None:
        if stage.until == "dry" or (
            self.step.main.state == "s" and not self.plan.having("filter", "crystallise", "decant")
        ):
            self._dry(stage)

    def _settle_lost(self) -> None:
        """The lost part of a solid product, when its liquor is parted from it."""
        if self.lost or self.step.main.state != "s":
            return
        key = self._key(self.step.main)
        grams = self.vessel.grams(*key) * (1 - self.how.kept)
        self.leave("filtrate", Stream({key: grams}))
        self.lost = True

    def _filter(self, stage: Stage) -> None:
        solids, liquor = self.vessel.only("s"), self.vessel.only("l", "aq")
        mass = liquor.mass_g
        self._saturate()
        if self.liquid_product:
            solids, liquor = self.vessel.only("s"), self.vessel.only("l", "aq")
            mass = liquor.mass_g
            held = self._held_of_liquor(stage, solids, mass)
        else:
            self._settle_lost()
            self._take_up()
            if stage.encloses:
                self._enclose(stage.encloses)
            solids, liquor = self.vessel.only("s"), self.vessel.only("l", "aq")
            mass = liquor.mass_g
            ratio = self._holds() if stage.holds is None else stage.holds
            held = least([solids.mass_g * ratio, mass])
        share = held / filled(mass)  # of no liquor nothing is held
        passing = liquor * (1 - share)
        if self.liquid_product:
            self.vessel = self.vessel - passing
            self.filtrate = self.filtrate + passing
        else:
            self.leave("filtrate", passing)

    def _saturate(self) -> None:
        """A liquor that is parted from what dissolves sparingly holds as much of it as cold water
        takes up (gypsum: 2 to 3 g a litre). Not of the product, whose yield says it, nor of a
        reactant in excess, whose ions are in the liquor.
        """
        if self.dry:
            return
        own = {self.step.main.substance, *(t.substance for t in self.step.reactants)}
        for what, phase in list(self.vessel.parts):
            if phase != "s" or what in own or what not in self.library.substances:
                continue
            per_100_g = self._cold_solubility(what)
            if per_100_g is None or per_100_g >= SPARING_G:
                continue
            root = self.library.root(what)
            dry, form = self.library.substances[root], self.library.substances[what]
            share = dry.molar_mass_g / form.molar_mass_g
            there = self.vessel.parts[what, "s"]
            holds = self.vessel.grams(*WATER) * (per_100_g / 100 / share)
            grams = least([there, holds - self.vessel.grams(root, "aq") * (1 / share)])
            grams = -least([-grams, 0.0 * grams])
            self.vessel = self.vessel + Stream(
                {(what, "s"): -grams, (root, "aq"): grams * share, WATER: grams * (1 - share)}
            )

    def _enclose(self, share: float) -> None:
        """Salts of the liquor are shut in the grains, each as it stands in it."""
        salts = self.vessel.only("aq")
        wanted = least([self.vessel.only("s").mass_g * share, salts.mass_g])
        if _any(salts.mass_g):
            shut = salts * (wanted / filled(salts.mass_g))
            self.vessel = self.vessel - shut
            self.enclosed = Stream({(what, "s"): g for (what, _), g in shut.parts.items()})

    _press = _filter
    _decant = _filter

    def _held_of_liquor(self, stage: Stage, solids: Stream, mass: Number) -> Number:
        if stage.holds is not None:
            return least([solids.mass_g * stage.holds, mass])
        if not _any(solids.mass_g):
            return 0.0 * mass
        self.lost = True
        kept_back = (1 - self.how.kept) * mass
        wash = self.charge.wash.mass_g if self.washes else 0.0 * mass
        # h h / (h + W) = (1 - r) L: what a wash W leaves in the cake is what the yield calls lost
        return least([(kept_back + (kept_back**2 + 4 * kept_back * wash) ** 0.5) / 2, mass])

    def _holds(self) -> float:
        """Grams of liquor that a gram of a solid product keeps, where nothing is said."""
        if self.plan.crystals:
            return 0.0
        names = {n.name for n in self.step.record.equipment}
        return SUCKED_HOLDS if names & {"filter-vacuum", "crystallise"} else CAKE_HOLDS

    def _washing_g(self, stage: Stage) -> Stream:
        """What goes in with one wash of the record's: what it names, and its share of the rest."""
        every = self.plan.having("wash")
        naming = [{self.library.root(self._named(n)) for n in s.what} - {WATER[0]} for s in every]
        own = naming[every.index(stage)]
        out: dict[Part, Number] = {}
        for key, grams in self.charge.wash.parts.items():
            root = self.library.root(key[0]) if key[0] in self.library.substances else key[0]
            sharing = sum(root in n for n in naming)
            if not sharing:
                out[key] = grams * (1 / len(every))
            elif root in own:
                out[key] = grams * (1 / sharing)
        return Stream(out)

    def _wash(self, stage: Stage) -> None:
        water = self._washing_g(stage)
        if not _any(water.mass_g):
            return
        self.taken = self.taken + water
        if self.step.main.state == "l":  # layers: what is dissolved goes with the water
            washed = self.vessel.only("aq")
            self.vessel = self.vessel - washed
            self._book("washings", washed + water)
            return
        if self.step.main.state == "aq" and not self.plan.having(*SEPARATES):
            self.vessel = self.vessel + water  # a rinse, into the liquor
            return
        self._take_up()
        held = self.vessel.only("l", "aq")
        h, w = held.mass_g, water.mass_g
        if stage.also:
            self._wash_through(stage, water, h)
            return
        stays: Number
        if stage.pushes_out is not None:
            stays = 1 - stage.pushes_out
        else:
            n = wash_portions(self.step, stage)
            stays = (h / (h + w / n)) ** n if _any(h) else 0.0 * w
        # the liquor that is held keeps its mass: what is pushed out of it, water takes the place of
        out = held * (1 - stays)
        rest = water * (1 - (h * (1 - stays)) / w)
        self.vessel = self.vessel - out + (water - rest)
        passing = out + rest
        if self.liquid_product:
            self.filtrate = self.filtrate + passing
        else:
            self._book("washings", passing)

    def _wash_through(self, stage: Stage, water: Stream, held_g: Number) -> None:
        """A wash that reacts: the cake is stirred up in it, and as much liquor stays as before."""
        self.vessel = self.vessel + water
        for what, phase in water.parts:
            if what in self.library.substances and dissolves(self.library, what):
                for state in "slg":
                    if phase == state:
                        self._into_solution(what, phase)
        for text in stage.also:
            self._also(text)
        liquor = self.vessel.only("l", "aq")
        off = liquor * (1 - held_g / filled(liquor.mass_g))
        self._book("washings", off)
        self.vessel = self.vessel - off

    def _take_up(self) -> None:
        """Salts that lie beside the product dissolve in the liquor or the wash, as far as the
        library knows them dissolved; what dissolves sparingly stays.
        """
        if not _any(self.vessel.grams(*WATER)) and not self.dry:
            return
        stay = {a.substance for a in self.step.aids if a.role in {"seed", "drying agent", "fuel"}}
        stay |= {t.substance for t in self.step.products if t.state == "s"}
        for what, phase in list(self.vessel.parts):
            if phase != "s" or what in stay or not dissolves(self.library, what):
                continue
            if not self._sparing(what):
                self._into_solution(what, "s")

    def _sparing(self, what: str) -> bool:
        """Whether cold water takes up little of a substance, by its tables."""
        found = self._cold_solubility(what)
        return found is not None and found < SPARING_G

    def _cold_solubility(self, what: str) -> float | None:
        """Grams without crystal water in 100 g of water between 15 and 30 degC; None: no table."""
        record = self.library.substances[self.library.root(what)]
        found = [g for table in record.solubility for t, g in table.at if 15 <= t <= 30]
        return max(found, default=None)

    def _dry(self, stage: Stage) -> None:
        """Water leaves; what it held dissolved stays behind as a solid."""
        if self.step.main.state != "s":
            return
        left = (stage.moisture or 0.0) * self.vessel.only("s").mass_g
        water = self.vessel.grams(*WATER)
        self.leave("steam", Stream({WATER: water - least([left, water])}))
        if REST in self.vessel.parts:  # of a recipe with water the rest is that, as far as it goes
            poured = sum(self._mass(t) for t in self.step.reactants if t.substance == WATER[0])
            rest = self.vessel.parts[REST]
            self.leave("steam", Stream({REST: least([rest, poured * self.charge.turns])}))
        parts: dict[Part, Number] = {}
        for (what, phase), grams in list(self.vessel.parts.items()):
            if (what, phase) != WATER and self._volatile(what, phase):
                self.leave("steam", Stream({(what, phase): grams}))
                continue
            key = (what, "s") if phase == "aq" else (what, phase)
            parts[key] = parts.get(key, 0.0) + grams
        self.vessel = Stream(parts)

    def _volatile(self, what: str, phase: str) -> bool:
        """Whether a liquid, or what is dissolved, leaves on drying: it boils below 150 degC."""
        record = self.library.substances.get(what)
        if record is None or phase == "s":
            return False
        if record.boiling_C is None:
            return what in self.library.gases
        return record.boiling_C < VOLATILE_C

    # --- the end ---------------------------------------------------------------------------

    def end(self, points: tuple[Point, ...]) -> Course:
        """What goes on, what is left over, what is recovered."""
        main = self.step.main
        key = self._key(main)
        leavings = dict(self.left)
        self.vessel = self.vessel + self.enclosed
        if main.state == "g":
            product = self.filtrate * self.how.kept
            leavings["gas"] = leavings.get("gas", NOTHING) + self.filtrate * (1 - self.how.kept)
            rest = self.vessel
            if _any(rest.mass_g):
                leavings["residue"] = leavings.get("residue", NOTHING) + rest
        elif main.state == "l" and self.plan.having("distil", *SEPARATES) == ():
            product = Stream({key: self.vessel.grams(*key) * self.how.kept})
            leavings["residue"] = leavings.get("residue", NOTHING) + self.vessel - product
        elif main.state == "l":
            pot = self.vessel + self.filtrate
            product = Stream({key: pot.grams(*key) * self.how.kept})
            leavings["residue"] = leavings.get("residue", NOTHING) + pot - product
        elif self.liquid_product:
            parted = _any(self.filtrate.mass_g)
            product = self.filtrate if parted else self.vessel.only("l", "aq")
            rest = self.vessel if parted else self.vessel.only("s")
            if not self.lost:
                spilt = product * (1 - self.how.kept) if not self._mechanics() else NOTHING
                product = product - spilt
                if _any(spilt.mass_g):
                    leavings["spilt"] = leavings.get("spilt", NOTHING) + spilt
            if _any(rest.mass_g):
                leavings["residue"] = leavings.get("residue", NOTHING) + rest
        else:
            self._part_by_products(leavings)
            product = self.vessel
            if not self.lost:
                spilt = product * (1 - self.how.kept)
                product = product - spilt
                leavings["spilt"] = leavings.get("spilt", NOTHING) + spilt
        recovered = self._recover(leavings)
        return Course(
            self.charge, points, _clean(product),
            {k: _clean(v) for k, v in leavings.items() if _any(v.mass_g)},
            recovered, self.how, self.plan, self.begun, main.state == "l",
        )  # fmt: skip

    def _part_by_products(self, leavings: dict[str, Stream]) -> None:
        """A solid that the record collects beside a solid product lies apart from it."""
        if self.dry:
            return
        for part in self.step.products:
            key = self._key(part)
            if part.substance in self.step.recovered and key in self.vessel.parts:
                apart = Stream({key: self.vessel.parts[key]})
                self.vessel = self.vessel - apart
                leavings["residue"] = leavings.get("residue", NOTHING) + apart

    def _mechanics(self) -> bool:
        """Whether stages say themselves what a cake keeps back of the liquor."""
        return any(s.holds is not None for s in self.plan.listed)

    def _recover(self, leavings: dict[str, Stream]) -> dict[str, Stream]:
        out: dict[str, Stream] = {}
        for what, wanted in self._to_recover().items():
            root = self.library.root(what)
            rest = wanted
            for way, stream in list(leavings.items()):
                for key, grams in stream.parts.items():
                    if key[0] not in {what, root} or not _any(rest):
                        continue
                    share = least([grams, rest])
                    rest = rest - share
                    taken = Stream({key: share})
                    if (
                        key[1] == "aq" and way in {"filtrate", "washings"} and _any(grams)
                    ):  # liquor and all
                        taken = stream.only("l", "aq") * (share / filled(grams))
                    leavings[way] = leavings[way] - taken
                    out[what] = out.get(what, NOTHING) + taken
        return out

    def _to_recover(self) -> Mapping[str, Number]:
        if self.recover is not None:
            return self.recover
        out: dict[str, Number] = {}
        for part in self.step.products:
            share = self.step.recovered.get(part.substance, 0.0)
            if share and part.substance != self.step.main.substance:
                out[part.substance] = (
                    self._mass(part) * self.charge.turns * self.how.conversion * share
                )
        return out


def _any(value: Number) -> bool:
    return bool(value > 1e-12) if isinstance(value, float | int) else bool((value > 1e-12).any())


def _clean(stream: Stream) -> Stream:
    return Stream({k: v for k, v in stream.parts.items() if _any(v) or _any(-v)})


def balance_g(course: Course) -> Number:
    """Grams in less grams out of a course: 0 but for rounding."""
    into = course.charge.at_first.mass_g + total(p.taken for p in course.points).mass_g
    out = course.product.mass_g + total(course.leavings.values()).mass_g
    return into - out - total(course.recovered.values()).mass_g
