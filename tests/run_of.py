"""A run of one's own for the journal's tests: a route that was found, planned and begun."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import routefinder as rf
from routefinder.journal.book import Book, open_book, plan_data
from routefinder.journal.store import Store


class RunOf:
    """A journal with one run of a route; entries as the commands make them."""

    def __init__(self, folder: Path, target: str, amount: str, shelf: str, ids: tuple[str, ...]):
        self.shelf = folder / "shelf.csv"
        self.shelf.write_text("material,amount\n" + shelf, encoding="utf-8")
        answer = rf.find(target, amount, shelf=self.shelf, top=40)
        route = next(r for r in answer.routes if r.ids == ids)
        self.library = answer.library
        self.store = Store(folder / "run.sqlite")
        data = plan_data(self.library, route.assessment, route.name, shelf=str(self.shelf))
        self.store.start(data)
        self.steps = list(ids)

    def feeds(self, step: int) -> list[dict[str, Any]]:
        """What the plan puts into a step."""
        return list(self.store.run(1).data["steps"][step - 1]["feeds"])

    def put(self, step: int, name: str, grams: float, **more: Any) -> None:
        """Something weighed in: a material of the plan by name, or "from step N"."""
        feed = next(
            f for f in self.feeds(step)
            if f.get("name") == name or ("from_step" in f and name.startswith("from step"))
        )  # fmt: skip
        data = {
            "name": name, "form": feed["form"], "role": feed["role"], "grams": grams,
            "reads_g": 0.1, "purity": feed.get("purity", 1.0), "low": feed.get("low", 1.0),
            "high": feed.get("high", 1.0), "material": feed.get("material"),
            "stated": "material" in feed, **more,
        }  # fmt: skip
        self.store.add(1, "in", self.steps[step - 1], data)

    def out(self, step: int, grams: float, **more: Any) -> None:
        """What came out of a step."""
        data = {"grams": grams, "reads_g": 0.1, **more}
        self.store.add(1, "out", self.steps[step - 1], data)

    def log(self, kind: str, step: int, **data: Any) -> None:
        """Another entry of a step."""
        self.store.add(1, kind, self.steps[step - 1], data)

    def book(self) -> Book:
        """The run as it stands in the journal."""
        return open_book(self.store, 1)
