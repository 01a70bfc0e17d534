"""What the user has: the shelf (materials with amounts) and the bench (equipment)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from routefinder.records.base import Record, Texts
from routefinder.records.capability import Capability
from routefinder.records.equipment import HeatsBy
from routefinder.records.substance import Hazards


@dataclass(frozen=True)
class Supply:
    """One material at hand.

    ``fractions`` are grams of each substance per gram of material; ``amount_g`` is None when the
    amount is not given (then it is not counted). ``price_per_g`` is in ``currency``, None when
    unknown; ``elsewhere`` is a price per g that is known only in another currency, and that.
    ``in_shop``: it would have to be bought; what a route makes itself is then not bought as well.
    ``material`` is its id in the library where that differs from ``id`` (one material at two
    strengths on a shelf). ``others`` are mass fractions of what has no substance, by its words;
    ``fates`` what becomes of what only comes along. ``hazards`` are those of its form as sold,
    ``fineness`` as in ``records.material``.
    """

    id: str
    name: str
    form: str
    fractions: dict[str, float]
    main: str
    amount_g: float | None = None
    density_g_mL: float | None = None
    price_per_g: float | None = None
    currency: str = ""
    elsewhere: tuple[float, str] | None = None
    everywhere: bool = False
    in_shop: bool = False
    note: str = ""
    low: dict[str, float] = field(default_factory=dict)
    high: dict[str, float] = field(default_factory=dict)
    others: dict[str, float] = field(default_factory=dict)
    fates: dict[str, str] = field(default_factory=dict)
    material: str = ""
    hazards: Hazards | None = None
    fineness: str = ""

    @property
    def record(self) -> str:
        """The id of the material or substance in the library."""
        return self.material or self.id

    @property
    def dissolved(self) -> bool:
        """A solution serves dissolved reactants only."""
        return self.form == "solution"

    @property
    def offered(self) -> tuple[str, ...]:
        """The substances it is used for: the first named, or all of a gas mixture."""
        return tuple(self.fractions) if self.form == "gas" else (self.main,)


@dataclass(frozen=True)
class Purse:
    """The one currency that a question reckons in, and what a unit of others is worth in it.

    A price in a currency without a rate counts as not known (``Supply.elsewhere`` keeps it):
    sums of two currencies are never added.
    """

    currency: str = "USD"
    rates: Mapping[str, float] = field(default_factory=dict)

    def priced(self, supply: Supply) -> Supply:
        """A supply with its price in this currency."""
        price, theirs = supply.price_per_g, supply.currency
        if price and theirs and theirs != self.currency:
            rate = self.rates.get(theirs)
            if rate is None:
                return replace(
                    supply, price_per_g=None, currency=self.currency, elsewhere=(price, theirs)
                )
            price *= rate
        return replace(supply, price_per_g=price, currency=self.currency)


@dataclass(frozen=True)
class Shelf:
    """All materials at hand. ``name`` says where the shelf came from, ``purse`` what counts."""

    supplies: tuple[Supply, ...]
    name: str = "shelf"
    notes: tuple[str, ...] = ()
    purse: Purse = Purse()

    def __repr__(self) -> str:
        return f"<Shelf {self.name}: {len(self.supplies)} materials>"


class BenchItem(Record):
    """One piece of equipment on a bench file.

    Either ``equipment`` names a kind in the library, or ``offers`` lists capabilities; with both,
    the offers here replace the library's of the same capability, and so do ``heats_by``,
    ``may_be_left``, ``outdoors`` and ``food``; ``cautions`` are added to the library's. Without
    ``count`` there are as many as the kind means (several beakers, one kiln).
    """

    name: str = ""
    equipment: str | None = None
    offers: tuple[Capability, ...] = ()
    count: int | None = None
    heats_by: HeatsBy = ""
    may_be_left: bool | None = None
    outdoors: bool | None = None
    food: bool | None = None
    cautions: Texts = ()
    notes: Texts = ()


@dataclass(frozen=True)
class Tool:
    """A piece of equipment with what it offers.

    ``heats_by``, ``may_be_left``, ``outdoors``, ``food`` and ``cautions`` as in
    ``records.equipment``.
    """

    name: str
    offers: tuple[Capability, ...]
    count: int = 1
    heats_by: str = ""
    may_be_left: bool | None = None
    outdoors: bool = False
    cautions: tuple[str, ...] = ()
    food: bool = False


@dataclass(frozen=True)
class Bench:
    """The equipment at hand.

    ``chosen`` are names of tools that a step is to be done with, by step id.
    """

    tools: tuple[Tool, ...]
    name: str = "bench"
    chosen: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<Bench {self.name}: {len(self.tools)} tools>"

    def serving(self, need: Capability) -> Tool | None:
        """The least tool that meets ``need``: the one with the least to spare."""
        best: tuple[float, Tool] | None = None
        for tool in self.tools:
            for offer in tool.offers:
                if offer.serves(need) and (best is None or offer.spare(need) < best[0]):
                    best = offer.spare(need), tool
        return best[1] if best else None

    def nearest(self, need: Capability) -> tuple[Tool, Capability] | None:
        """The tool with the same capability that comes nearest to ``need``, if there is one."""
        best: tuple[Tool, Capability] | None = None
        reach = float("-inf")
        for tool in self.tools:
            for offer in tool.offers:
                if offer.name != need.name:
                    continue
                figure = offer.limit("to") or 0.0
                if best is None or figure > reach:
                    best, reach = (tool, offer), figure
        return best
