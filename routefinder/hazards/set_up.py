"""How a step is set up on a bench: which heater, which vessels, and what is said against them.

One decision for all that speak of it: the search (a step with no vessel that lasts is set aside,
one that wears its vessel or its furnace is marginal), the batches, the calendar, the plan and the
bench sheet. Each vessel is judged together with the heater that it would stand on.

Of several set-ups the best is taken: a vessel that lasts before one that is slowly attacked, a
furnace that is not eaten before one that is, one that is held within the window (``holding``)
before one that is not, 30 K to spare before less, a heater that may be left where the record lets
one go away, an electric kiln before a gas kiln, then the least that serves: the one that reaches no
further than it must, and of these the most powerful. ``Bench.chosen`` goes before all of this.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from routefinder.hazards import heaters, vessels
from routefinder.hazards.attendance import Attendance, attendance, keeper
from routefinder.hazards.heaters import FURNACE_MARGIN, OVEN_TO_C, Way, Wear
from routefinder.hazards.holding import held
from routefinder.hazards.makeshift import makeshift
from routefinder.hazards.vessels import CAUTION, EATEN, NOTHING, SLOWLY, Verdict
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.listing import listed
from routefinder.records.capability import VESSEL_MATERIALS, Capability
from routefinder.records.shelf import Bench, Tool

RANK = {NOTHING: 0, CAUTION: 0, SLOWLY: 2}
_LACKING = 3
Pairs = tuple[tuple[Capability, Tool | None], ...]


@dataclass(frozen=True)
class Fit:
    """A vessel of the bench that serves a need; ``verdict`` None where it does not say of what."""

    tool: Tool
    offer: Capability
    verdict: Verdict | None

    @property
    def rank(self) -> int:
        """0 it lasts (with care), 1 not known of what it is made, 2 slowly attacked."""
        return 1 if self.verdict is None else RANK[self.verdict.verdict]


@dataclass(frozen=True)
class Place:
    """One vessel that a step needs: what fits, the best first; ``lacking`` says why nothing."""

    need: Capability
    fits: tuple[Fit, ...]
    lacking: str = ""

    @property
    def best(self) -> tuple[Fit, ...]:
        """Those with the least said against them."""
        return tuple(f for f in self.fits if f.rank == self.fits[0].rank)


@dataclass(frozen=True)
class SetUp:
    """The heaters and vessels of a step.

    ``heaters`` pairs each heat asked for with its tool (None: nothing on the bench does it), the
    hottest first; ``wear`` is what the charge does to the furnace; ``refused`` says why heaters at
    hand are not used, ``loose`` how far what is used keeps within the window, ``instead`` how it is
    dried or kept without the tool for it.
    """

    heaters: Pairs
    places: tuple[Place, ...]
    wear: tuple[Wear, ...]
    refused: str = ""
    loose: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()

    @property
    def heater(self) -> Tool | None:
        """The tool of the hottest heat."""
        return self.heaters[0][1] if self.heaters else None

    @property
    def way(self) -> Way | None:
        """How that tool heats."""
        return heaters.way(self.heaters[0][1], self.heaters[0][0]) if self.heaters else None

    @property
    def barred(self) -> tuple[str, ...]:
        """Why the step cannot be done on this bench: the heater or vessels that are lacking."""
        lacking = tuple(p.lacking for p in self.places if p.lacking)
        return (self.refused, *lacking) if self.refused else lacking

    @property
    def marginal(self) -> tuple[str, ...]:
        """What wears a vessel or a furnace, and what is made do with, in sentences."""
        out = []
        for place in self.places:
            if place.fits and place.fits[0].rank == RANK[SLOWLY]:
                fit = place.fits[0]
                assert fit.verdict is not None
                out.append(
                    f"{fit.tool.name} ({fit.verdict.material}) is slowly attacked: "
                    + _first(fit.verdict, SLOWLY)
                )
        tool = self.heater
        out += [f"{w.agent} {w.words} ({tool.name})" for w in self.wear if tool is not None]
        return tuple(dict.fromkeys((*out, *self.loose, *self.instead)))


class _Memo:
    """Set-ups of the last library and bench: a question asks for the same steps many times."""

    def __init__(self) -> None:
        self.library: Library | None = None
        self.bench: Bench | None = None
        self.found: dict[str, tuple[ResolvedStep, SetUp]] = {}

    def of(self, library: Library, step: ResolvedStep, bench: Bench) -> SetUp:
        if self.library is not library or self.bench is not bench:
            self.library, self.bench, self.found = library, bench, {}
        kept = self.found.get(step.id)
        if kept is None or kept[0] is not step:
            kept = self.found[step.id] = (step, _set_up(library, step, bench))
        return kept[1]


_memo = _Memo()


def set_up(library: Library, step: ResolvedStep, bench: Bench) -> SetUp:
    """The best set-up of a step on a bench."""
    return _memo.of(library, step, bench)


def chosen(bench: Bench, step: ResolvedStep, need: Capability) -> Tool | None:
    """The tool that a step is to be done with, where it meets this need."""
    names = bench.chosen.get(step.id, ())
    for tool in bench.tools if names else ():
        if tool.name in names and any(o.serves(need) for o in tool.offers):
            return tool
    return None


def attended(library: Library, step: ResolvedStep, bench: Bench | None) -> Attendance:
    """Whether a step may be left on this bench, with the heater that is used there."""
    if bench is None:
        return attendance(step, None, library)
    found = set_up(library, step, bench)
    return attendance(step, keeper(step, bench, found.heater), library, found.way)


def unfit(
    library: Library, step: ResolvedStep, bench: Bench
) -> list[tuple[Capability, frozenset[str]]]:
    """Each vessel that a step needs, as hot as it gets, with the materials that would not last.

    A material lasts when it does with some heater of the bench; a heater not at hand counts as not
    known.
    """
    wanted = heaters.heat_needs(step)
    choices, _ = _choices(library, step, bench)
    out = []
    for need, judged in zip(vessels.needs(step), vessels.judged(library, step), strict=True):
        heat = vessels.hottest(step, need)
        good: set[str] = set()
        for tools in product(*choices):
            pairs = tuple(zip(wanted, tools, strict=True))
            good |= {
                m for m, v in judged.items()
                if _on_heaters(step, need, v, pairs).verdict not in EATEN
            }  # fmt: skip
        limits = dict(need.limits)
        if "to" in limits:
            limits["to"] = max(limits["to"], heat)
        hot = need.model_copy(update={"limits": tuple(sorted(limits.items()))})
        out.append((hot, frozenset(judged) - good))
    return out


def _on_heaters(step: ResolvedStep, need: Capability, found: Verdict, pairs: Pairs) -> Verdict:
    """A verdict with what the heaters add: a kiln's charge stands on no plate besides."""
    if not vessels.is_heated(step, need):
        return found
    heat = vessels.hottest(step, need)
    kiln = pairs[0][0].name == "heat-dry" and (pairs[0][0].limit("to") or 0.0) >= OVEN_TO_C
    for wanted, tool in pairs[:1] if kiln else pairs:
        reason = vessels.on_heater(found.material, heat, _way(wanted, tool), wanted.limit("to"))
        found = vessels.worse(found, reason)
    return found


def _way(need: Capability, tool: Tool | None) -> Way | None:
    if tool is None and need.name != "heat-liquid":
        return heaters.WAYS["flame" if need.name == "open-flame" else "kiln"]
    return heaters.way(tool, need)


def _set_up(library: Library, step: ResolvedStep, bench: Bench) -> SetUp:
    wanted = heaters.heat_needs(step)
    needs = vessels.needs(step)
    judged = vessels.judged(library, step)
    choices, refused = _choices(library, step, bench)
    best: tuple[tuple[float, ...], SetUp] | None = None
    for tools in product(*choices):
        pairs = tuple(zip(wanted, tools, strict=True))
        ways = [w for n, t in pairs if (w := heaters.way(t, n)) is not None]
        places = tuple(
            _place(step, need, found, pairs, bench)
            for need, found in zip(needs, judged, strict=True)
        )
        wear = tuple(dict.fromkeys(w for way in ways for w in heaters.wear(library, step, way)))
        loose = tuple(
            why for n, t in pairs if t is not None and (why := held(step, n, t, bench).why)
        )
        found = SetUp(pairs, places, wear, loose=loose)
        rank = _rank(step, found)
        if best is None or rank < best[0]:
            best = rank, found
    assert best is not None
    instead = tuple(why for n in step.needs if (why := makeshift(library, step, n, bench)))
    return replace(best[1], refused=refused, instead=instead)


def _choices(
    library: Library, step: ResolvedStep, bench: Bench
) -> tuple[list[tuple[Tool | None, ...]], str]:
    """For each heat of a step the tools to choose from, and why others are left out.

    Nothing that burns heats a flammable liquid, and nothing that leaves the window a dry charge.
    """
    burns = heaters.flammable(library, step)
    out: list[tuple[Tool | None, ...]] = []
    refused = ""
    for need in heaters.heat_needs(step):
        tools = heaters.heating_tools(bench, need)
        if (wished := chosen(bench, step, need)) is not None:
            tools = (wished,)
        safe = tuple(t for t in tools if held(step, need, t, bench).verdict != "no")
        if tools and not safe:
            refused = "; ".join(held(step, need, t, bench).why for t in tools)
        if burns and need.name == "heat-liquid":
            safe = tuple(t for t in tools if not (w := heaters.way(t, need)) or not w.fire)
        if burns and tools and not safe:
            refused = (
                f"{burns[0]} is flammable and only {listed([t.name for t in tools])} (a flame) "
                "could heat it; lacking is a water bath, mantle or closed plate"
            )
        out.append(safe or (None,))
    return out, refused


def _rank(step: ResolvedStep, found: SetUp) -> tuple[float, ...]:
    """Smaller is better."""
    vessel = max((_LACKING if not p.fits else p.fits[0].rank for p in found.places), default=0)
    tool = found.heater
    if tool is None:
        return (vessel, 0, 0, 0, 0, 0, 0, 0.0, 0.0)
    need = found.heaters[0][0]
    offers = [o for o in tool.offers if o.serves(need)]
    reach = max((o.limit("to") or 0.0 for o in offers), default=0.0)
    spare = reach - step.least_C
    tight = need.name == "heat-dry" and spare < FURNACE_MARGIN
    stay = bool(step.record.time.unattended) and need.name == "heat-dry" and not tool.may_be_left
    gas = need.name == "heat-dry" and found.way is not None and found.way.fire
    food = tool.food  # another is taken where there is one
    power = max((o.limit("power") or 0.0 for o in offers), default=0.0)
    more = sum(
        min(o.spare(n) for o in heaters.heat_offers(t, n))
        for n, t in found.heaters
        if t is not None
    )
    loose = len(found.loose)
    return (vessel, len(found.wear), loose, tight, food, stay, gas, more, -power)


def _place(
    step: ResolvedStep,
    need: Capability,
    judged: dict[str, Verdict],
    pairs: Pairs,
    bench: Bench,
) -> Place:
    fits: list[Fit] = []
    refused: list[tuple[Tool, Verdict | None]] = []
    wished = chosen(bench, step, need)
    for tool in bench.tools if wished is None else (wished,):
        for offer in tool.offers:
            if not offer.serves(need):
                continue
            found = fit(step, need, judged, pairs, tool, offer)
            if isinstance(found, Fit):
                fits.append(found)
            else:
                refused.append((tool, found))
    if fits or not refused:  # that nothing serves at all is another reason
        return Place(need, tuple(sorted(fits, key=_order)))
    heat = vessels.hottest(step, need)
    usable = []
    for material in need.made_of or VESSEL_MATERIALS:
        if material in judged:
            each = _on_heaters(step, need, judged[material], pairs)
            if each.verdict not in EATEN:
                usable.append((RANK[each.verdict], material))
    would = [m for _, m in sorted(usable, key=lambda u: u[0])]
    return Place(need, (), _lacking(refused, heat, would))


def fit(
    step: ResolvedStep,
    need: Capability,
    judged: dict[str, Verdict],
    pairs: Pairs,
    tool: Tool,
    offer: Capability,
) -> Fit | Verdict | None:
    """The vessel as a fit; the verdict on it where it would not last (None: its own limit)."""
    heat = vessels.hottest(step, need)
    materials = [m for m in offer.made_of if not need.made_of or m in need.made_of]
    own = offer.limit("to")
    if own is not None and heat > own:
        return None
    if not materials:
        return Fit(tool, offer, None)
    verdicts = [_on_heaters(step, need, judged[m], pairs) for m in materials if m in judged]
    if not verdicts:
        return None
    best = min(verdicts, key=lambda v: RANK.get(v.verdict, _LACKING))
    return best if best.verdict in EATEN else Fit(tool, offer, best)


def _lacking(refused: list[tuple[Tool, Verdict | None]], heat: float, would: list[str]) -> str:
    """Which vessel is lacking, and why those at hand do not do."""
    told = dict.fromkeys(
        f"{tool.name} is not for {heat:g} °C"
        if v is None
        else f"{tool.name} ({v.material}): {v.reasons[0].words}"
        for tool, v in refused
    )
    text = f"no vessel on the bench lasts at {heat:g} °C: " + "; ".join(told)
    if would:
        text += f"; lacking is one of {listed(would[:4], 'or')}"
    return text


def _order(found: Fit) -> tuple[int, bool]:
    return found.rank, found.verdict is not None and found.verdict.verdict == CAUTION


def _first(found: Verdict, verdict: str) -> str:
    return next(r.words for r in found.reasons if r.verdict == verdict)
