"""A plain reaction network as arrays: what the search works on.

Nodes and steps are numbered. ``tails`` are what a step needs (all of them), ``heads`` what it
makes. The arrays are compressed rows (CSR) both ways, plain lists for small networks and numpy
arrays for large ones; the same algorithm runs on both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from routefinder.errors import InputError
from routefinder.units import is_whole

LEAST_COST, MOST_COST = 1e-100, 1e100  # of a step: sums of any number of steps stay finite
FREE = "(nothing)"  # stands for "needs nothing"; always at hand
Names = Mapping[str, float] | Iterable[str]


@dataclass(frozen=True)
class PlainStep:
    """A step of any network: what it takes, what it makes, what it costs.

    ``reactants`` and ``products`` are names, or names with amounts (the search by step cost uses
    the names only). ``cost`` must be above 0, from LEAST_COST to MOST_COST.
    """

    id: str
    reactants: Names
    products: Names
    cost: float = 1.0


@dataclass
class Rows:
    """Compressed rows: the items of row i are ``items[starts[i]:starts[i + 1]]``."""

    starts: Any
    items: Any

    def row(self, i: int) -> Any:
        """Items of row ``i``."""
        return self.items[self.starts[i] : self.starts[i + 1]]

    def __len__(self) -> int:
        return len(self.starts) - 1


def rows(lists: Sequence[Sequence[int]]) -> Rows:
    """Rows from a list of lists."""
    starts = [0]
    items: list[int] = []
    for values in lists:
        items.extend(values)
        starts.append(len(items))
    return Rows(starts, items)


def turn(table: Rows, width: int) -> Rows:
    """The transposed rows: for every item 0..width-1, the rows it stands in."""
    if not isinstance(table.items, list):
        return _turn_arrays(table, width)
    out: list[list[int]] = [[] for _ in range(width)]
    for i in range(len(table)):
        for item in table.row(i):
            out[item].append(i)
    return rows(out)


def _turn_arrays(table: Rows, width: int) -> Rows:
    import numpy as np

    owner = np.repeat(np.arange(len(table), dtype=np.int32), np.diff(table.starts))
    order = np.argsort(table.items, kind="stable")
    starts = np.zeros(width + 1, dtype=np.int64)
    np.cumsum(np.bincount(table.items, minlength=width), out=starts[1:])
    return Rows(starts, owner[order])


class Numbered(Sequence[str]):
    """Names made from numbers on demand ("n0", "n1", ...), for networks of a million steps."""

    def __init__(self, letter: str, count: int) -> None:
        self.letter = letter
        self.size = count

    def __len__(self) -> int:
        return self.size

    def __getitem__(self, i: Any) -> Any:
        if not 0 <= i < self.size:
            raise IndexError(i)
        return f"{self.letter}{i}"

    def number(self, name: str) -> int | None:
        """The number behind a name, or None."""
        digits = name[len(self.letter) :]
        if not name.startswith(self.letter) or not is_whole(digits) or int(digits) >= self.size:
            return None
        return int(digits)


@dataclass
class Network:
    """Numbered nodes and steps with their costs."""

    nodes: Sequence[str]
    steps: Sequence[str]
    tails: Rows
    heads: Rows
    costs: Any
    takers: Rows = field(init=False)
    makers: Rows = field(init=False)
    labels: dict[Any, Any] = field(init=False, default_factory=dict, repr=False)
    judged: bool = field(init=False, default=False, repr=False)  # its names passed the lists
    _records: Any = field(init=False, default=None, repr=False)

    def __post_init__(self) -> None:
        self.takers = turn(self.tails, len(self.nodes))
        self.makers = turn(self.heads, len(self.nodes))

    @cached_property
    def as_arrays(self) -> Network:
        """The same network on numpy arrays (itself when it already is)."""
        import numpy as np

        if not isinstance(self.costs, list):
            return self

        def arrays(table: Rows) -> Rows:
            return Rows(np.asarray(table.starts, np.int64), np.asarray(table.items, np.int32))

        return Network(
            self.nodes, self.steps, arrays(self.tails), arrays(self.heads),
            np.asarray(self.costs, float),
        )  # fmt: skip

    def step_records(self) -> Any:
        """Of an array network: (0, cost, number of reactants, start of its products) of each step.

        A new array, one record after the other, none across two cache lines.
        """
        import numpy as np

        room = np.empty(4 * self.size + 8)
        skip = (-room.ctypes.data % 64) // 8
        records = room[skip : skip + 4 * self.size]
        if self._records is None:
            self._records = np.zeros(4 * self.size)
            self._records[1::4] = self.costs
            self._records[2::4] = np.diff(self.tails.starts)
            self._records[3::4] = self.heads.starts[:-1]
        records[:] = self._records
        return records

    def number(self, name: str) -> int | None:
        """The number of a node, or None when no step mentions it."""
        if isinstance(self.nodes, Numbered):
            return self.nodes.number(name)
        return self._numbers.get(name)

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.nodes)}

    @property
    def size(self) -> int:
        """Number of steps."""
        return len(self.steps)


def network(steps: Iterable[PlainStep], extra_nodes: Iterable[str] = ()) -> Network:
    """Number the nodes and steps of ``steps``.

    Raises InputError for an id used twice, a cost that is not above 0, a step without products,
    or a step whose only products are its own reactants.
    """
    numbers: dict[str, int] = {}

    def number(name: str) -> int:
        return numbers.setdefault(name, len(numbers))

    ids: list[str] = []
    seen: set[str] = set()
    tails: list[list[int]] = []
    heads: list[list[int]] = []
    costs: list[float] = []
    for step in steps:
        if step.id in seen:
            raise InputError(f"the step id {step.id!r} is used twice; give every step its own id")
        seen.add(step.id)
        if not (math.isfinite(step.cost) and step.cost > 0):
            raise InputError(f"step {step.id!r} costs {step.cost}; a cost must be a number above 0")
        if not LEAST_COST <= step.cost <= MOST_COST:
            raise InputError(
                f"step {step.id!r} costs {step.cost:g}; a cost must lie between {LEAST_COST:g} and "
                f"{MOST_COST:g}"
            )
        tail = list(dict.fromkeys(number(name) for name in step.reactants))
        if not tail:
            tail = [number(FREE)]
        head = [n for n in dict.fromkeys(number(name) for name in step.products) if n not in tail]
        if not head:
            raise InputError(
                f"step {step.id!r} makes nothing that it does not take; take it out or correct it"
            )
        ids.append(step.id)
        tails.append(tail)
        heads.append(head)
        costs.append(float(step.cost))
    for name in extra_nodes:
        number(name)
    return Network(list(numbers), ids, rows(tails), rows(heads), costs)
