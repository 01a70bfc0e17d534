"""A question: what is wanted, from what, with what, within which limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the command line reads the table of fields, which needs no pydantic
    from routefinder.records.shelf import Bench, Shelf

# what a step is charged in the order "cost", beside its materials: heat, filters, gloves (our
# assumption, in the currency of the prices; the user may set it)
STEP_COST = 1.0
CARRY = ("no", "wet", "slurry")


def carries(carry: str) -> dict[str, str]:
    """How solids go on, by the step that makes them; "" stands for those not named."""
    out = {"": "no"}
    for text in carry.split(","):
        name, _, how = text.rpartition("=")
        out[name.strip()] = how.strip()
    return out


def carry_of(carry: str, step_id: str) -> str:
    """How the solid of one step is to go on: one of CARRY."""
    asked = carries(carry)
    return asked.get(step_id, asked[""])


STATES = ("solid", "liquid", "solution", "gas")
ORDERS = ("balanced", "cost", "yield", "time", "hazard", "steps")


@dataclass(frozen=True)
class State:
    """The state in which the target is wanted: one of STATES.

    ``strength`` is the least mass fraction of a solution, counted without crystal water; None where
    any will do.
    """

    kind: str
    strength: float | None = None

    def __str__(self) -> str:
        return self.kind if self.strength is None else f"{self.kind}, {self.strength * 100:g} %"


@dataclass(frozen=True)
class Limits:
    """What sets steps or routes aside. None means no limit.

    ``purity`` is the least computed purity of the product, a mass fraction. ``measures`` are
    must-haves on whole routes: a measure and its worst value that will do.
    """

    max_temperature_C: float | None = None
    avoid: tuple[str, ...] = ()
    use: tuple[str, ...] = ()
    max_hazard: tuple[tuple[str, int], ...] = ()
    max_steps: int | None = None
    max_time_min: float | None = None
    budget: float | None = None
    no_licence: bool = False
    purity: float | None = None
    measures: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Question:
    """A question put to a library. ``amount_g`` is of the target as named.

    ``different``: only the best route of each way. ``make_reagents``: also routes that make
    reagents which could be bought. ``use_up`` is a substance on the shelf: routes that take most of
    it come first. ``front`` names measures: then not the best by ``order`` are wanted but the
    routes that no other dominates in these. ``state`` is how the target is wanted, None as it is
    usually kept. ``may_lack`` is how many needs of a route the bench may leave unmet. ``prefer``
    are preferences as written (``choice.prefer``). ``excess`` is (substance, mol a mol of the
    limiting reactant) for reactions that stop at their equilibrium (``library.excess``);
    ``carry`` is one of CARRY for every link, or pairs "step = how" with commas between, by the id
    of the step that makes the solid, and a bare word for the others (``carry_of``).
    """

    target: str
    amount_g: float
    shelf: Shelf
    bench: Bench | None = None
    limits: Limits = Limits()
    order: str = "balanced"
    top: int = 10
    step_cost: float = STEP_COST
    different: bool = False
    make_reagents: bool = False
    reuse: bool = False
    seconds: float = 10.0
    use_up: str | None = None
    front: tuple[str, ...] = ()
    may_lack: int = 0
    prefer: str | None = None
    state: State | None = None
    excess: tuple[tuple[str, float], ...] = ()
    carry: str = "no"

    def __repr__(self) -> str:
        return f"<Question: {self.amount_g:g} g of {self.target} from {self.shelf.name}>"
