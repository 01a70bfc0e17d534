"""Money of a route: per gram of target, by material, with energy and against buying the target.

Materials are counted by the gram (``cost``); whole packs are in ``shopping``. Energy and hours are
counted only where a price for them is given: otherwise they are None, "not counted", never 0.
Everything is counted as the pure substance in it and weighed as it lies there, what is bought ready
too. Sums are in one currency; what is priced only in another is told apart and not compared.
"""

from __future__ import annotations

from dataclasses import dataclass

from routefinder.assessment.cost import elsewhere, material_cost
from routefinder.assessment.reasoning import Reason, number
from routefinder.assessment.shopping import Chosen, ShoppingList, cover, packs_of
from routefinder.errors import InputError
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.records.shelf import Purse
from routefinder.vessel.step_amounts import Amounts


@dataclass(frozen=True)
class MoneyPart:
    """One material's money (None: no price) and its share in the known total (0 to 1).

    ``elsewhere`` is (money, currency) of what is priced only in another currency.
    """

    material: str
    name: str
    grams: float
    money: float | None
    share: float | None
    elsewhere: tuple[float, str] | None = None


@dataclass(frozen=True)
class Money:
    """What the asked amount costs. ``energy`` is None when no price was given: not counted.

    ``total`` and ``per_gram`` hold what is known; ``unknown`` names materials without a price in
    ``currency``, and then both are lower bounds. ``others`` are (currency, money) besides.
    """

    currency: str
    parts: tuple[MoneyPart, ...]
    materials: float
    energy_kWh: float | None
    energy: float | None
    total: float
    per_gram: float
    unknown: tuple[str, ...]
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class BuyOrMake:
    """The asked amount bought ready, against made.

    ``bought`` is by the gram at the cheapest material that holds the target, ``bought_packs`` in
    whole packs; ``made`` by the gram with energy where counted, ``made_packs`` with whole packs
    bought. ``saves`` = bought - made, ``saves_per_hour`` of hands-on work. ``verdict`` is "buy",
    "make" or "unknown" (no price for the target, or for a material). ``elsewhere`` is (money,
    currency) of the target bought ready where it is priced only in another currency: no comparison.
    """

    material: str
    bought: float | None
    bought_packs: Chosen | None
    made: float
    made_packs: float
    hours: float
    saves: float | None
    saves_per_hour: float | None
    verdict: str
    currency: str
    elsewhere: tuple[float, str] | None = None


def money(
    found: Amounts, *, energy_kWh: float | None = None, price_per_kWh: float | None = None
) -> Money:
    """Cost of the asked amount and per gram; energy is counted when both of its figures are given.

    Raises InputError for a negative energy or price.
    """
    for value, what in ((energy_kWh, "energy"), (price_per_kWh, "price of a kWh")):
        if value is not None and not value >= 0:
            raise InputError(f"the {what} is {value:g}; give a number from 0 up")
    materials = material_cost(found)
    known = materials.typical or 0.0
    parts = []
    for draw in found.draws:
        supply = draw.supply
        if supply.everywhere and not supply.price_per_g:
            continue
        paid = None if supply.price_per_g is None else draw.as_weighed_g * supply.price_per_g
        share = None if paid is None or not known else paid / known
        other = supply.elsewhere
        away = None if other is None else (draw.as_weighed_g * other[0], other[1])
        parts.append(MoneyPart(supply.id, supply.name, draw.as_weighed_g, paid, share, away))
    parts.sort(key=lambda p: -(p.money or 0.0))
    energy = None
    if energy_kWh is not None and price_per_kWh is not None:
        energy = energy_kWh * price_per_kWh
    total = known + (energy or 0.0)
    return Money(
        materials.unit, tuple(parts), known, energy_kWh, energy, total, total / found.target_g,
        materials.unknown, tuple(sorted(elsewhere(found).items())),
    )  # fmt: skip


def buy_or_make(
    library: Library,
    found: Amounts,
    spent: Money,
    shopping: ShoppingList,
    hands_on_min: float,
    *,
    hourly: float | None = None,
    purse: Purse | None = None,
) -> BuyOrMake:
    """Compare making with buying the target ready.

    ``purse`` brings the library's prices into the currency of ``spent``. ``hourly`` is what an hour
    of hands-on work is worth (None: not counted; then "make" means that the materials alone cost
    less). Raises InputError when it is negative.
    """
    if hourly is not None and not hourly >= 0:
        raise InputError(f"an hour is worth {hourly:g}; give a number from 0 up")
    offers, away = [], []
    reckons = purse or Purse(spent.currency)
    for material in library.materials.values():
        supply = reckons.priced(shelves.supply(material))
        fraction = supply.fractions.get(found.target)
        if supply.main != found.target or not fraction:
            continue
        grams = found.target_g / fraction
        if supply.price_per_g is not None:
            offers.append((grams * supply.price_per_g, grams, supply))
        elif supply.elsewhere is not None:
            per_g, currency = supply.elsewhere
            away.append((grams * per_g, currency, supply.name))
    hours = hands_on_min / 60
    made = spent.total + (hourly or 0.0) * hours
    if not offers:
        price, currency, name = min(away, default=(0.0, "", ""))
        return BuyOrMake(name, None, None, made, shopping.packets, hours, None, None, "unknown",
                         spent.currency, (price, currency) if away else None)  # fmt: skip
    bought, grams, supply = min(offers, key=lambda o: o[0])
    packs = packs_of(library, supply)
    chosen = cover(grams, packs) if packs else None
    saves = bought - made
    verdict = "unknown"
    if saves <= 0:
        verdict = "buy"  # unknown prices can only make it dearer
    elif not spent.unknown:
        verdict = "make"
    return BuyOrMake(
        supply.name, bought, chosen, made, shopping.packets, hours, saves,
        saves / hours if hours else None, verdict, spent.currency,
    )  # fmt: skip


def reasons(found: Amounts, spent: Money) -> tuple[Reason, ...]:
    """The arithmetic behind the cost per gram."""
    unit = spent.currency
    known = [p for p in spent.parts if p.money is not None]
    lines = []
    if known:
        terms = " + ".join(f"{number(p.money or 0.0)} {unit}" for p in known)
        lines.append(f"materials ({', '.join(p.name for p in known)}): {terms} = "
                     f"{number(spent.materials)} {unit}")  # fmt: skip
    if spent.energy is not None and spent.energy_kWh:
        price = spent.energy / spent.energy_kWh
        lines.append(f"energy: {number(spent.energy_kWh)} kWh × {number(price)} {unit} = "
                     f"{number(spent.energy)} {unit}")  # fmt: skip
    else:
        lines.append("energy is not counted: no price or no figure for it")
    lines.append(f"per gram of target: {number(spent.total)} {unit} / {number(found.target_g)} g = "
                 f"{number(spent.per_gram)} {unit}/g")  # fmt: skip
    if spent.unknown:
        lines.append(f"no price is known for {', '.join(spent.unknown)}: at least this much")
    return (Reason("cost", "Money for the asked amount", tuple(lines)),)
