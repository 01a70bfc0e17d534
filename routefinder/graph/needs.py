"""What steps need and what steps and materials offer: the nodes of the search.

A need is a substance in exactly one form, or a substance dissolved (then any form of its hydrate
family will do) at a least strength. Both are plain tuples so that they can be dictionary keys:
``("form", id, 0.0)`` and ``("dissolved", root id, least mass fraction)``. A target may also be
wanted as a solution and nothing else: ``("solution", root id, 0.0)``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from routefinder.library.library import Library
from routefinder.library.resolve import Aid, Part, ResolvedStep
from routefinder.records.shelf import Supply

Need = tuple[str, str, float]
Offer = tuple[str, bool, float]  # substance id, only dissolved, strength


def need_of(library: Library, part: Part, step: ResolvedStep) -> Need:
    """The need behind one reactant of a step."""
    if part.state == "aq":
        strength = step.strength.get(part.substance, 0.0)
        return ("dissolved", library.root(part.substance), strength)
    return ("form", part.substance, 0.0)


def need_of_aid(library: Library, aid: Aid) -> Need:
    """The need behind an auxiliary: any form will do, at its least strength.

    A drying agent must be exactly the form named: a hydrate dries nothing.
    """
    if aid.role == "drying agent":
        return ("form", aid.substance, 0.0)
    return ("dissolved", library.root(aid.substance), aid.at_least)


def needs(library: Library, step: ResolvedStep) -> list[Need]:
    """All needs of a step, each once."""
    out = [need_of(library, part, step) for part in step.reactants]
    out += [need_of_aid(library, aid) for aid in step.aids]
    return list(dict.fromkeys(out))


def target_need(library: Library, substance_id: str, kind: str) -> Need:
    """The need behind a target: its solution where ``kind`` is that, else exactly this form."""
    if kind == "solution":
        return ("solution", library.root(substance_id), 0.0)
    return ("form", substance_id, 0.0)


def end_of(library: Library, steps: Sequence[ResolvedStep], target: str) -> tuple[str, str, Need]:
    """The step of a route that makes its target, the form it makes, and the need that this meets.

    ``steps`` in a workable order.
    """
    goals = (target_need(library, target, "solid"), target_need(library, target, "solution"))
    for step in reversed(steps):  # of a minimal route every other step is there for the last
        for goal in goals:
            for offer in offers_of_step(step):
                if meets(library, offer, goal):
                    return step.id, offer[0], goal
    raise AssertionError(f"no step makes {target}")


def offers_of_step(step: ResolvedStep) -> list[Offer]:
    """What a step gives to others; a product in solution has no stated strength."""
    return [
        (part.substance, part.state == "aq", 0.0 if part.state == "aq" else 1.0)
        for part in step.kept()
    ]


def offers_of_supply(supply: Supply) -> list[Offer]:
    """What a material gives."""
    return [
        (
            substance,
            supply.dissolved,
            supply.fractions[substance] if supply.form in {"solution", "liquid"} else 1.0,
        )
        for substance in supply.offered
    ]


def meets(library: Library, offer: Offer, need: Need) -> bool:
    """Whether an offer meets a need."""
    substance, only_dissolved, strength = offer
    if need[0] == "form":
        return not only_dissolved and substance == need[1]
    if need[0] == "solution" and not only_dissolved:
        return False
    return library.root(substance) == need[1] and strength >= need[2] - 1e-9


class NeedIndex:
    """All needs that occur, so that the needs an offer meets are found at once."""

    def __init__(self, library: Library, every: Iterable[Need]) -> None:
        self.library = library
        self.by_form: dict[str, list[Need]] = {}
        self.by_root: dict[str, list[Need]] = {}
        self.made_up: dict[str, list[Need]] = {}
        for need in dict.fromkeys(every):
            tables = {"form": self.by_form, "solution": self.made_up}
            table = tables.get(need[0], self.by_root)
            table.setdefault(need[1], []).append(need)

    def met_by(self, offer: Offer) -> list[Need]:
        """The needs that ``offer`` meets."""
        substance = offer[0]
        out = list(self.by_form.get(substance, ())) if not offer[1] else []
        root = self.library.root(substance)
        out += self.made_up.get(root, ()) if offer[1] else ()
        out += [n for n in self.by_root.get(root, ()) if offer[2] >= n[2] - 1e-9]
        return out


def in_words(library: Library, need: Need) -> str:
    """A need in words."""
    name = library.name(need[1])
    if need[0] == "form":
        return name
    name = name.removesuffix(", anhydrous")
    if need[2] > 0:
        return f"{name} of at least {need[2]:.0%}"
    return name
