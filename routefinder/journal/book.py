"""A run read from the journal: what was planned, and what was weighed in each step.

The latest weight of a thing counts; one marked "more" (a further batch or crop) is added to those
before it. A wet weight counts only until a dry one comes. What the entries mean, and what lies
where, is worked out in ``account``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from routefinder.assessment.assess import Assessment
from routefinder.errors import InputError, JournalFault
from routefinder.journal.as_planned import changed
from routefinder.journal.learn import prior_of
from routefinder.journal.store import Entry, Run, Store
from routefinder.library.library import Library
from routefinder.records import run as deep
from routefinder.vessel.feed import Feed
from routefinder.vessel.step_amounts import Amounts

MADE = "made-"  # begins the id of what a step made, when it is taken as a supply


def plan_data(
    library: Library,
    found: Assessment,
    name: str,
    *,
    shelf: str = "",
    bench: str = "",
    libraries: tuple[str, ...] = (),
    only_library: bool = False,
    order: str = "balanced",
    planned: Amounts | None = None,
) -> dict[str, Any]:
    """What a run remembers of its route as it was planned: plain data, masses in g.

    ``planned`` are other amounts of the same route, to start with more than typical yields ask for.
    """
    amounts = planned or found.amounts
    scale = amounts.target_g / found.amounts.target_g
    steps = []
    for amount in amounts.steps:
        expected = prior_of(amount.step)
        product = amount.product
        steps.append(
            {
                "id": amount.step.id,
                "title": amount.step.title,
                "yield": {
                    "low": expected.low, "typical": amount.yield_, "median": expected.typical,
                    "high": expected.high,
                },
                "product": {
                    "substance": product.substance, "state": product.state, "mass_g": product.mass_g
                },
                "ceiling_g": None if amount.step.is_recipe else amount.theoretical_g,
                "hands_on_min": amount.times.hands_on_min,
                "waiting_min": amount.times.waiting_min,
                "feeds": [_feed(f) for f in amount.feeds],
            }
        )  # fmt: skip
    return {
        "name": name,
        "target": found.amounts.target,
        "target_name": library.name(found.amounts.target),
        "target_g": found.amounts.target_g,
        "planned_g": amounts.target_g,
        "order": order,
        "shelf": shelf,
        "bench": bench,
        "libraries": list(libraries),
        "only_library": only_library,
        "library_fingerprint": library.fingerprint,
        "limits_on": found.amounts.limits,
        "overall": [
            {"material": y.supply.id, "name": y.supply.name, "low": y.low, "typical": y.typical,
             "high": y.high}
            for y in found.overall
        ],
        "cost": None if found.cost.typical is None else found.cost.typical * scale,
        "currency": found.cost.unit,
        "hands_on_min": found.hands_on_min,
        "elapsed_min": found.elapsed_min,
        "waste_g": (found.waste.e_factor or 0.0) * amounts.target_g,
        "steps": steps,
        **changed(found),
    }  # fmt: skip


def _feed(feed: Feed) -> dict[str, Any]:
    out: dict[str, Any] = {
        "substance": feed.substance, "form": feed.form, "role": feed.role,
        "as_weighed_g": feed.drawn_g, "mol": feed.moles,
    }  # fmt: skip
    if isinstance(feed.origin, str):
        return {**out, "from_step": feed.origin}
    supply = feed.origin
    w = supply.fractions[feed.form]
    return {
        **out, "material": supply.id, "name": supply.name, "form_of": supply.form, "purity": w,
        "low": min(supply.low.get(feed.form, w), w), "high": max(supply.high.get(feed.form, w), w),
        "price_per_g": supply.price_per_g, "density_g_mL": supply.density_g_mL,
        "everywhere": supply.everywhere,
    }  # fmt: skip


@dataclass
class StepBook:
    """One step of a run: the plan (``plan``), and what was logged.

    ``ins`` are grams by name of what was weighed in; ``out_g`` what came out (dry, unless ``wet``).
    ``strength`` is what was last measured of what it made: grams of it per gram, with its 10th and
    90th percentile. ``gone`` is what went elsewhere: on the shelf, given away, used up. ``failed``
    says why it stands as failed, ``failures`` why it failed at every attempt. ``tests`` are bench
    tests as they were written down.
    """

    number: int
    plan: dict[str, Any]
    ins: dict[str, dict[str, Any]] = field(default_factory=dict)
    outs: list[dict[str, Any]] = field(default_factory=list)
    begun: str | None = None
    ended: str | None = None
    made: str | None = None
    failed: str | None = None
    failures: list[str] = field(default_factory=list)
    temperatures: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    photos: list[str] = field(default_factory=list)
    strength: dict[str, Any] | None = None
    gone: list[dict[str, Any]] = field(default_factory=list)
    tests: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        """The id of the step."""
        return str(self.plan["id"])

    @property
    def wet(self) -> bool:
        """Whether only wet weights are there."""
        return bool(self.outs) and all(o.get("wet") for o in self.outs)

    @property
    def goes_on(self) -> bool:
        """Whether what came out goes straight on, water and all, as it was planned."""
        return any(o.get("goes_on") for o in self.outs)

    @property
    def out_g(self) -> float | None:
        """What came out, in g; None when nothing was weighed."""
        if not self.outs:
            return None
        rows = [o for o in self.outs if self.wet or not o.get("wet")]
        return float(sum(o["grams"] for o in rows))

    @property
    def reads_g(self) -> float:
        """The coarsest readability of the weights out."""
        return float(max((o["reads_g"] for o in self.outs), default=1.0))

    @property
    def moisture(self) -> float | None:
        """The moisture of a wet weight, when it was said."""
        found = [o["moisture"] for o in self.outs if o.get("moisture") is not None]
        return float(found[-1]) if found else None

    @property
    def done(self) -> bool:
        """Whether something came out dry, or it was ended (how far it is says ``account``)."""
        return (bool(self.outs) and not self.wet) or self.ended is not None


@dataclass
class Book:
    """A run with its steps."""

    run: Run
    steps: list[StepBook]
    finished: str | None
    notes: list[str]
    photos: list[str]
    entries: list[Entry]

    def step(self, text: str) -> StepBook:
        """A step by number or id; raises InputError with what there is."""
        for step in self.steps:
            if text in {str(step.number), step.id}:
                return step
        listed = ", ".join(f"{s.number} ({s.id})" for s in self.steps)
        raise InputError(f"run {self.run.run} has no step {text!r}; it has {listed}")


def open_book(store: Store, run: int) -> Book:
    """Read a run with all that stands in the journal about it; what it means is ``account``'s.

    Raises JournalFault when something in it cannot be read.
    """
    found = store.run(run)
    _check(found, store.entries(run))
    steps = [StepBook(i, plan) for i, plan in enumerate(found.data.get("steps") or (), start=1)]
    by = {s.id: s for s in steps}
    book = Book(found, steps, None, [], [], store.entries(run))
    first = first_of(book.entries)
    for entry in store.standing(run):
        step = by.get(entry.step or "")
        data = entry.data
        if entry.kind == "finished":
            book.finished = entry.happened
        elif entry.kind == "note":
            (step.notes if step else book.notes).append(str(data.get("words", "")))
        elif entry.kind == "photo":
            (step.photos if step else book.photos).append(str(data.get("path", "")))
        elif step is not None:
            _take(step, entry, first.get(entry.entry, entry.entry))
    _passed_on(store, book)
    return book


def _passed_on(store: Store, book: Book) -> None:
    """What a run that goes on from this one has weighed in of what was made here."""
    for run in store.runs():
        if run.fault or run.data.get("goes_on_from") != book.run.run:
            continue
        for entry in store.standing(run.run):
            made = str(entry.data.get("material") or "")
            grams = entry.data.get("grams")
            if entry.kind != "in" or entry.fault or not isinstance(grams, float | int):
                continue
            for step in book.steps:
                if made == f"{MADE}{step.number}":
                    step.gone.append({"grams": float(grams), "words": f"run {run.run}"})


def first_of(entries: list[Entry]) -> dict[int, int]:
    """The entry that each correction goes back to."""
    out: dict[int, int] = {}
    for entry in entries:
        if entry.corrects is not None:
            out[entry.entry] = out.get(entry.corrects, entry.corrects)
    return out


def _check(run: Run, entries: list[Entry]) -> None:
    what = f"run {run.run}"
    try:
        if run.fault:
            raise InputError(run.fault)
        deep.check_run(run.data, run.at)
        for entry in entries:
            what = f"run {run.run}, entry {entry.entry}"
            if entry.fault:
                raise InputError(entry.fault)
            deep.check_entry(entry.kind, entry.data, entry.at, entry.happened)
    except InputError as error:
        raise JournalFault(f"{what} of the journal cannot be read: {error}") from None


def open_books(store: Store) -> tuple[list[Book], list[JournalFault]]:
    """All runs that can be read, the oldest first, and what is wrong with the others."""
    books, faults = [], []
    for run in store.runs():
        try:
            books.append(open_book(store, run.run))
        except JournalFault as error:
            faults.append(error)
    return books, faults


def _take(step: StepBook, entry: Entry, first: int) -> None:
    data = entry.data
    if entry.kind == "in":
        before = step.ins.get(data["name"])
        parts = [(first, data["grams"])]
        if before is not None and data.get("more"):
            parts = [*before["parts"], *parts]
            data = {**data, "grams": before["grams"] + data["grams"]}
        step.ins[data["name"]] = {**data, "entry": entry.entry, "parts": parts}
        step.begun = step.begun or entry.happened
        step.failed = None  # begun anew
    elif entry.kind == "out":
        if not data.get("more"):
            step.outs = []
        step.outs.append({**data, "entry": entry.entry})
        step.made = entry.happened
        step.failed = None
    elif entry.kind == "begin":
        step.begun = entry.happened
    elif entry.kind == "end":
        step.ended = entry.happened
        step.made = step.made or entry.happened
    elif entry.kind == "temperature":
        step.temperatures.append(f"{data['temperature_C']:g} °C")
    elif entry.kind == "strength":
        step.strength = {**data, "entry": entry.entry, "happened": entry.happened}
        step.made = step.made or entry.happened
    elif entry.kind == "test":
        step.tests.append(str(data["words"]))
    elif entry.kind == "gone":
        step.gone.append({**data, "entry": entry.entry})
    elif entry.kind == "shelf" and "kept_g" in data and "shelf" not in data:
        step.gone.append({"grams": data["kept_g"], "words": data.get("words", "")})
    elif entry.kind == "failed":
        step.failed = str(data.get("words", ""))
        step.failures.append(step.failed)


def library_folders(run: Run) -> tuple[list[Path], bool]:
    """The library folders the run was planned with, and whether they stood alone."""
    return [Path(p) for p in run.data.get("libraries") or ()], bool(run.data.get("only_library"))
