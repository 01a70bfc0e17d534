"""What to buy for one or several routes: whole packs at least cost, and what stays over.

What stands on the shelf is deducted as pure substance, so that 500 g at 98 % on the shelf spare
490 g / 0.95 of a material sold at 95 %. Packs are chosen exactly (an integer covering problem,
solved by dynamic programming over the packs' common measure); of equal costs the choice with fewer
packs is taken. Two totals, because both are asked for: *consumed*, what the routes use by the gram,
the shelf's included; *packets*, what must be paid in the shop now. Grams are those that the steps
weigh out, impurities and water included. A purchase has its own currency: what is priced only in
another one than the rest is told apart (``others``), never added.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from routefinder import units
from routefinder.assessment.reasoning import Reason, number
from routefinder.errors import InputError
from routefinder.library.library import Library
from routefinder.records.shelf import Supply
from routefinder.vessel.step_amounts import Amounts

_SIZE = re.compile(r"^\s*([\d.,]+\s*[A-Za-z]+)")


@dataclass(frozen=True)
class Pack:
    """A pack as sold: the label, grams of material in it, its price (None when unknown).

    ``size`` is the number on the label in its own unit, g or mL (0: as ``grams``).
    """

    label: str
    grams: float
    price: float | None = None
    size: float = 0.0


@dataclass(frozen=True)
class Chosen:
    """Packs chosen to cover a need: (pack, how many), the grams and money together."""

    packs: tuple[tuple[Pack, int], ...]
    grams: float
    price: float | None


@dataclass(frozen=True)
class Purchase:
    """One material of the shopping list.

    ``need_g`` is what all routes take of it, ``have_g`` what the shelf gives, ``short_g`` what is
    lacking: each row is one thing at one strength, with its own name and density (of a liquid).
    What the shelf holds weaker or stronger than it is sold, and too little of, has a second row for
    what is bought in its stead, counted as it is sold; ``makes`` names what it is brought to.
    ``chosen`` is None where no pack size is known: buy at least ``short_g``. ``consumed`` is money
    for what is used, ``packets`` for what is bought now (None: no price known), in ``currency``.
    """

    material: str
    name: str
    need_g: float
    have_g: float
    short_g: float
    chosen: Chosen | None
    consumed: float | None
    packets: float | None
    keeps_min: float | None = None
    density_g_mL: float | None = None
    makes: str = ""
    currency: str = ""

    @property
    def left_g(self) -> float:
        """What stays over of the packs bought."""
        return self.chosen.grams - self.short_g if self.chosen else 0.0


@dataclass(frozen=True)
class ShoppingList:
    """All purchases and both totals in ``currency``; ``unknown`` names what has no price.

    ``others`` are (currency, consumed, packets) of what is priced only in another one.
    """

    purchases: tuple[Purchase, ...]
    consumed: float
    packets: float
    currency: str
    unknown: tuple[str, ...]
    others: tuple[tuple[str, float, float], ...] = ()

    @property
    def at_least(self) -> bool:
        """Whether the totals lack something: a price, or what is paid in another currency."""
        return bool(self.unknown or self.others)


def _price(supply: Supply) -> tuple[float | None, str]:
    """Price per g and its currency: the one it is known in."""
    if supply.price_per_g is None and supply.elsewhere is not None:
        return supply.elsewhere
    return supply.price_per_g, supply.currency


def packs_of(library: Library, supply: Supply) -> tuple[Pack, ...]:
    """The packs a material is sold in, priced by the gram; empty when the library names none."""
    material = library.materials.get(supply.record)
    if material is None:
        return ()
    out = []
    for label in material.record.packs:
        match = _SIZE.match(label)
        if match is None:
            continue
        try:
            size, kind = units.read_any(match[1], ("mass", "volume"))
        except InputError:
            continue
        density = supply.density_g_mL or material.record.density_g_mL
        if kind == "volume" and density is None:
            continue
        grams = size * (density or 1.0) if kind == "volume" else size
        per_g, _ = _price(supply)
        price = None if per_g is None else per_g * grams
        out.append(Pack(label, grams, price, size))
    return tuple(out)


def cover(need_g: float, packs: Sequence[Pack]) -> Chosen:
    """The cheapest whole packs that hold ``need_g`` or more, exactly.

    Without prices the least mass is taken. Sizes are told apart to 0.01 g. Raises InputError
    without packs, or when a pack holds nothing.
    """
    if not packs:
        raise InputError("no pack sizes are known")
    if any(not p.grams >= 0.01 for p in packs):
        raise InputError("a pack must hold 0.01 g or more")
    if need_g <= 0:
        return Chosen((), 0.0, 0.0)
    priced = all(p.price is not None for p in packs)
    # label sizes have a common measure where grams of a liquid have none
    per = {p.grams / p.size if p.size else 1.0 for p in packs}
    ratio = per.pop() if max(per) - min(per) < 1e-9 else 1.0
    sizes = [round(p.grams / ratio * 100) for p in packs]
    step = math.gcd(*sizes)
    sizes = [s // step for s in sizes]
    # costs as whole numbers, so that equal ones are equal
    costs = [
        round((p.price or 0.0) * 1e6) if priced else s for p, s in zip(packs, sizes, strict=True)
    ]
    need = math.ceil(need_g / ratio * 100 / step - 1e-6)
    counts = [0] * len(packs)
    # An optimum holds fewer than sizes[best] packs that are not the cheapest by the gram: among
    # more, some would add up to a multiple of its size and could be exchanged for it at no loss.
    best = min(range(len(packs)), key=lambda i: (costs[i] / sizes[i], -sizes[i]))
    sure = max(0, (need - sizes[best] * max(sizes)) // sizes[best])
    counts[best] += sure
    need -= sure * sizes[best]
    table: list[tuple[int, int, int]] = [(0, 0, -1)]  # cost, packs, last pack taken
    for k in range(1, need + 1):
        table.append(
            min(
                (table[max(0, k - s)][0] + c, table[max(0, k - s)][1] + 1, i)
                for i, (s, c) in enumerate(zip(sizes, costs, strict=True))
            )
        )
    k = need
    while k > 0:
        i = table[k][2]
        counts[i] += 1
        k -= sizes[i]
    taken = tuple((p, n) for p, n in zip(packs, counts, strict=True) if n)
    return Chosen(
        taken,
        sum(p.grams * n for p, n in taken),
        sum((p.price or 0.0) * n for p, n in taken) if priced else None,
    )


def shopping(library: Library, routes: Sequence[Amounts]) -> ShoppingList:
    """What to buy so that all ``routes`` can be run, one after the other, from the same shelf."""
    needs: dict[str, float] = {}
    supplies: dict[str, Supply] = {}
    for found in routes:
        for draw in found.draws:
            if draw.supply.everywhere:
                continue
            needs[draw.supply.id] = needs.get(draw.supply.id, 0.0) + draw.as_weighed_g
            supplies[draw.supply.id] = draw.supply
    purchases = []
    for name, grams in needs.items():
        purchases += _purchases(library, supplies[name], grams)
    currency = next((s.currency for s in supplies.values() if s.currency), "USD")
    unknown = tuple(
        p.name for p in purchases if p.consumed is None or (p.short_g > 0 and p.packets is None)
    )
    sums: dict[str, tuple[float, float]] = {currency: (0.0, 0.0)}
    for p in purchases:
        used, paid = sums.get(p.currency or currency, (0.0, 0.0))
        sums[p.currency or currency] = used + (p.consumed or 0.0), paid + (p.packets or 0.0)
    used, paid = sums.pop(currency)
    others = tuple((name, *both) for name, both in sorted(sums.items()))
    return ShoppingList(tuple(purchases), used, paid, currency, unknown, others)


def _purchases(library: Library, supply: Supply, grams: float) -> list[Purchase]:
    """The rows for ``grams`` as weighed at the supply's own strength."""
    material = library.materials.get(supply.record)
    sold = material.fractions.get(supply.main) if material and not supply.in_shop else None
    at_hand = 0.0 if supply.in_shop else (supply.amount_g if supply.amount_g is not None else grams)
    short = grams - min(grams, at_hand)
    # what is bought has the library's strength, which may differ from the shelf's
    per = supply.fractions[supply.main] / sold if sold else 1.0
    if material is None or short <= TRIFLE * grams or abs(per - 1) <= TRIFLE:
        return [_purchase(library, supply, grams, at_hand)]
    price, other = supply.price_per_g, supply.elsewhere
    bought = replace(
        supply, name=material.record.name, form=material.record.form, fractions=material.fractions,
        density_g_mL=material.record.density_g_mL,
        price_per_g=price / per if price is not None else None,
        elsewhere=(other[0] / per, other[1]) if other is not None else None,
    )  # fmt: skip
    rows = [_purchase(library, supply, at_hand, at_hand)] if at_hand > 0 else []
    row = _purchase(library, bought, short * per, 0.0)
    return [*rows, replace(row, makes=supply.name)]


TRIFLE = 1e-9  # of what is needed, lost in arithmetic


def _purchase(library: Library, supply: Supply, need: float, at_hand: float) -> Purchase:
    """One row: ``need`` and ``at_hand`` in grams of this supply."""
    material = library.materials.get(supply.record)
    per_g, currency = _price(supply)
    consumed = None if per_g is None else need * per_g
    have = min(need, at_hand)
    short = need - have
    short = 0.0 if short < TRIFLE * need else short
    packs = packs_of(library, supply)
    chosen = cover(short, packs) if packs and short else None
    packets: float | None = 0.0
    if short:
        by_gram = None if per_g is None else short * per_g
        packets = by_gram if chosen is None else chosen.price
    return Purchase(
        supply.id, supply.name, need, have, short, chosen, consumed, packets,
        material.record.keeps_min if material else None,
        supply.density_g_mL if supply.form in {"solution", "liquid"} else None, "", currency,
    )  # fmt: skip


def reasons(found: ShoppingList) -> tuple[Reason, ...]:
    """The arithmetic behind each purchase: need, shelf, packs, what stays over."""
    out = []
    for p in found.purchases:
        lines = [f"lacking, {p.name}: {number(p.need_g)} g - {number(p.have_g)} g = "
                 f"{number(p.short_g)} g"]  # fmt: skip
        if p.chosen is not None and p.chosen.packs:
            sizes = " + ".join(f"{n} × {number(k.grams)} g" for k, n in p.chosen.packs)
            lines.append(f"bought: {sizes} = {number(p.chosen.grams)} g")
            lines.append(f"stays over: {number(p.chosen.grams)} g - {number(p.short_g)} g = "
                         f"{number(p.left_g)} g")  # fmt: skip
            if p.chosen.price is not None:
                unit = p.currency or found.currency
                money = " + ".join(
                    f"{n} × {number(k.price or 0.0)} {unit}" for k, n in p.chosen.packs
                )
                lines.append(f"paid: {money} = {number(p.chosen.price)} {unit}")
        out.append(Reason(f"buy:{p.material}", f"Buying {p.name}", tuple(lines)))
    return tuple(out)
