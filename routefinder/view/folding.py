"""How a long drawing is folded: rows of steps as lines of text, chains of steps as one card.

Both work on plain maps from a step to the steps it takes something from, and know nothing of
chemistry or of drawing.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence


def columns(sources: Mapping[str, Sequence[str]]) -> dict[str, int]:
    """The column of each step, from 0: as late as its takers allow, so that branches meet late.

    ``sources`` holds every step, makers before takers.
    """
    order = list(sources)
    height = dict.fromkeys(order, 0)  # steps still to come after this one
    for step in reversed(order):
        for maker in sources[step]:
            height[maker] = max(height[maker], height[step] + 1)
    last = max(height.values(), default=0)
    return {step: last - height[step] for step in order}


def rows(sources: Mapping[str, Sequence[str]], across: int) -> list[list[str]]:
    """The steps in rows of at most ``across`` columns, the rows about equally long."""
    column = columns(sources)
    count = max(column.values(), default=-1) + 1
    many = max(1, -(-count // across))
    wide = -(-count // many) or 1
    out: list[list[str]] = [[] for _ in range(-(-count // wide))]
    for step, at in column.items():
        out[at // wide].append(step)
    return out


def chains(sources: Mapping[str, Sequence[str]], kind: Mapping[str, Hashable]) -> list[list[str]]:
    """All steps, those that follow one another without a branch and are of one kind together.

    A step joins the chain of its maker when it takes from nobody else, nobody else takes from the
    maker, and both are of one ``kind``. ``sources`` holds makers before takers; where a circle
    makes that impossible no chain is made.
    """
    takers: dict[str, set[str]] = {}
    for step, makers in sources.items():
        for maker in makers:
            takers.setdefault(maker, set()).add(step)
    chain_of: dict[str, list[str]] = {}
    out: list[list[str]] = []
    for step, makers in sources.items():
        maker = makers[0] if len(set(makers)) == 1 else ""
        chain = chain_of.get(maker, [])
        if not chain or takers[maker] != {step} or kind[maker] != kind[step]:
            chain = []
            out.append(chain)
        chain.append(step)
        chain_of[step] = chain
    return out
