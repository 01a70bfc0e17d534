"""Who provides what each step of a route needs: which material is taken, and what else would serve.

The one place that ranks supplies (``serving``). A step may ask of what is bought for it how finely
it is divided and how pure it is (``Asked``): what is known to fall short comes after all that does
not, and where nothing else is there it is taken, and said (``Choice.lacks``).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from routefinder.graph.needs import (
    Need,
    meets,
    need_of,
    need_of_aid,
    offers_of_step,
    offers_of_supply,
)
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep
from routefinder.records.shelf import Supply

if TYPE_CHECKING:
    from routefinder.vessel.step_amounts import Amounts

DIRT = 0.1  # a greater share may be crystal water or what an assay does not name


def providers(
    library: Library,
    steps: Sequence[ResolvedStep],
    supplies: Sequence[Supply],
) -> dict[tuple[str, Need], Supply | str]:
    """Who provides each need of each step.

    The first of ``serving`` at hand, else the first earlier step that makes it, else the first that
    is in a shop.
    """
    at_hand = _by_root(library, (s for s in supplies if not s.in_shop))
    shops = _by_root(library, (s for s in supplies if s.in_shop))
    out: dict[tuple[str, Need], Supply | str] = {}
    made: list[ResolvedStep] = []
    for step in steps:
        for need, ask in asked_for(library, step).items():
            makers = [e for e in made if any(meets(library, o, need) for o in offers_of_step(e))]
            again = [e for e in makers if e.main == step.main]  # what this step makes purer
            maker = (again or makers)[0].id if makers else None
            found: Supply | str | None = maker if again else None
            root = library.root(need[1])
            found = found or (
                _best_supply(library, at_hand.get(root, ()), need, ask)
                or maker
                or _best_supply(library, shops.get(root, ()), need, ask)
            )
            if found is None:
                raise AssertionError(f"nothing provides {need} for {step.id}")
            out[step.id, need] = found
        made.append(step)
    return out


@dataclass(frozen=True)
class Asked:
    """What a step asks of a bought reactant: one of these finenesses, a least mass fraction."""

    fineness: tuple[str, ...] = ()
    pure: float = 0.0

    def lacks(self, supply: Supply, share: float) -> bool:
        """Whether a supply with this share of the substance is known to fall short."""
        coarse = self.fineness and supply.fineness and supply.fineness not in self.fineness
        return bool(coarse) or share < self.pure - 1e-9


def asked_for(library: Library, step: ResolvedStep) -> dict[Need, Asked]:
    """The needs of a step, each once, with what it asks of what is bought for them."""
    out: dict[Need, Asked] = {}
    for part in step.reactants:
        ask = Asked(step.fineness.get(part.substance, ()), step.pure.get(part.substance, 0.0))
        out.setdefault(need_of(library, part, step), ask)
    for aid in step.aids:
        out.setdefault(need_of_aid(library, aid), Asked())
    return out


def _by_root(library: Library, supplies: Iterable[Supply]) -> dict[str, list[Supply]]:
    """Supplies by the anhydrous forms of what they offer: no others can meet such a need."""
    out: dict[str, list[Supply]] = {}
    for supply in supplies:
        for root in dict.fromkeys(map(library.root, supply.offered)):
            out.setdefault(root, []).append(supply)
    return out


def _best_supply(
    library: Library, supplies: Sequence[Supply], need: Need, ask: Asked
) -> Supply | None:
    """The one of ``serving`` that counts."""
    return next(iter(serving(library, supplies, need, ask)), None)


def serving(
    library: Library, supplies: Sequence[Supply], need: Need, ask: Asked | None = None
) -> tuple[Supply, ...]:
    """The supplies that meet a need, the one to take first.

    What has run out comes last, before it what falls short of what is asked for. Then the one with
    the least price for a mole of the thing, to which each per cent that is something else (up to
    ``DIRT``) adds a tenth of the middle price of all that would do. What costs nothing counts at
    the middle price, so that a price of 0 never decides alone; of equals the purer, then the one
    named first.
    """
    fitting: list[tuple[int, float, float, int, Supply]] = []
    for i, supply in enumerate(supplies):
        for offer in offers_of_supply(supply):
            if not meets(library, offer, need):
                continue
            fraction = supply.fractions[offer[0]]
            per_mole = library.substances[offer[0]].molar_mass_g / fraction
            price = supply.price_per_g * per_mole if supply.price_per_g is not None else 1e12
            dirt = 0.0 if supply.form in {"solution", "liquid", "gas"} else 1 - fraction
            last = 2 if supply.amount_g == 0 else int(bool(ask and ask.lacks(supply, fraction)))
            fitting.append((last, price, min(dirt, DIRT), i, supply))
            break
    if len(fitting) > 1:
        prices = sorted(price for _, price, *_ in fitting if 0 < price < 1e12)
        middle = prices[len(prices) // 2] if prices else 0.0
        fitting = [
            (out, (price or middle) + 10 * dirt * middle, dirt, i, s)
            for out, price, dirt, i, s in fitting
        ]
    return tuple(item[-1] for item in sorted(fitting, key=lambda item: item[:4]))


@dataclass(frozen=True)
class Choice:
    """The material that a step takes for one need, and what else would serve, the best first.

    ``lacks`` says that the step asks for another fineness or purity than it has: ``ask``.
    """

    step: str
    need: Need
    supply: Supply
    others: tuple[Supply, ...]
    ask: Asked
    lacks: bool


def choices(library: Library, found: Amounts) -> tuple[Choice, ...]:
    """The materials of a route, by step and need; water and air, which are everywhere, apart.

    What else would serve falls not short itself where what is chosen does not.
    """
    out = []
    for result in found.steps:
        asked = asked_for(library, result.step)
        for need, ask in asked.items():
            supply = found.providers.get((result.step.id, need))
            if not isinstance(supply, Supply) or supply.everywhere:
                continue
            share = supply.fractions[form_in(library, supply, need)]
            lacks = ask.lacks(supply, share)
            others = tuple(
                s
                for s in serving(library, found.supplies, need, ask)
                if s.id != supply.id
                and s.amount_g != 0
                and (lacks or not ask.lacks(s, s.fractions[form_in(library, s, need)]))
            )
            out.append(Choice(result.step.id, need, supply, others, ask, lacks))
    return tuple(out)


def form_in(library: Library, supply: Supply, need: Need) -> str:
    """Which of the supply's substances meets the need."""
    for offer in offers_of_supply(supply):
        if meets(library, offer, need):
            return offer[0]
    raise AssertionError(f"{supply.id} does not meet {need}")
