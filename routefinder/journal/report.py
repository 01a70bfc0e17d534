"""The write-up of a run: planned against actual (``view/run_report`` makes pages of it).

**Overall yield** on a starting material: (target made per mole of it weighed in) over (the same by
the equations alone). Money counts what was weighed in at the plan's prices; what was not weighed in
counts as planned, and is marked so. Time is from the first to the last entry of a step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from routefinder import digits
from routefinder.journal.account import Account, account
from routefinder.journal.book import Book, StepBook
from routefinder.journal.learn import Result
from routefinder.journal.pictures import is_picture
from routefinder.journal.results import result
from routefinder.journal.store import moment
from routefinder.library.library import Library


@dataclass(frozen=True)
class Report:
    """A run as rows of text, ready for a template."""

    title: str
    head: tuple[str, ...]
    steps: tuple[dict[str, Any], ...]
    totals: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    photos: tuple[tuple[str, bool], ...]
    entries: tuple[str, ...]


def overall_actual(book: Book) -> list[tuple[str, float, float]]:
    """(material, planned, actual) overall yield on each starting material that was weighed in."""
    last = book.steps[-1]
    if last.out_g is None or last.wet:
        return []
    made = last.out_g / float(book.run.data.get("planned_g") or book.run.data["target_g"])
    out = []
    for row in book.run.data.get("overall") or ():
        planned = actual = 0.0
        known = True
        for step in book.steps:
            for feed in step.plan["feeds"]:
                if feed.get("material") != row["material"] or feed["role"] != "reactant":
                    continue
                planned += feed["as_weighed_g"]
                got = step.ins.get(feed["name"])
                known = known and got is not None
                actual += got["grams"] * got["purity"] / feed["purity"] if got else 0.0
        if known and actual > 0:
            out.append((row["name"], row["typical"], row["typical"] * made * planned / actual))
    return out


def _cost(book: Book) -> tuple[float, bool]:
    total, guessed = 0.0, False
    for step in book.steps:
        for feed in step.plan["feeds"]:
            if feed.get("price_per_g") is None or feed.get("everywhere"):
                continue
            got = step.ins.get(feed["name"])
            guessed = guessed or got is None
            total += feed["price_per_g"] * (got["grams"] if got else feed["as_weighed_g"])
    return total, guessed


def _waste(book: Book) -> tuple[float, bool] | None:
    """Everything that went in from outside less the product, in g, besides water and air."""
    last = book.steps[-1]
    if last.out_g is None or last.wet:
        return None
    total, guessed = 0.0, False
    for step in book.steps:
        for feed in step.plan["feeds"]:
            if "from_step" in feed or feed.get("everywhere"):
                continue
            got = step.ins.get(feed["name"])
            guessed = guessed or got is None
            total += got["grams"] if got else feed["as_weighed_g"]
    return total - last.out_g, guessed


def _minutes(step: StepBook) -> float | None:
    until = step.ended or step.made
    if step.begun is None or until is None:
        return None
    spent = (moment(until) - moment(step.begun)).total_seconds() / 60
    return spent if spent >= 1 else None


LEAST_G = 0.001


def _relied_on(standing: Account, step: StepBook) -> bool:
    """Whether what was weighed out is counted as it was weighed."""
    said = standing.of(step.id).verdict
    return said is None or said.says != "something else"


def report(library: Library, book: Book, entries: list[str]) -> Report:
    """What happened in a run, planned against actual."""
    data = book.run.data
    standing = account(library, book)
    steps = []
    for step in book.steps:
        plan = step.plan
        rows: list[tuple[str, str, str]] = []
        names: set[str] = set()
        for feed in plan["feeds"]:
            name = (
                f"from step {book.step(feed['from_step']).number}"
                if "from_step" in feed
                else feed["name"]
            )
            names.add(name)
            got = step.ins.get(name)
            if not got and feed["as_weighed_g"] < LEAST_G:  # what something else brings
                continue
            role = "" if feed["role"] == "reactant" else f" ({feed['role']})"
            rows.append((name + role, digits.mass(feed["as_weighed_g"]),
                         digits.mass(got["grams"]) if got else ""))  # fmt: skip
        for name in sorted(set(step.ins) - names):
            rows.append((name, "", digits.mass(step.ins[name]["grams"])))
        out = digits.mass(step.out_g) + (" wet" if step.wet else "") if step.out_g else ""
        if out and standing.of(step.id).verdict is not None and not _relied_on(standing, step):
            out += ", not relied on"
        rows.append((f"made: {library.name(plan['product']['substance'])}",
                     digits.mass(plan["product"]["mass_g"]), out))  # fmt: skip
        state = standing.of(step.id)
        said = state.verdict
        got_result: Result | None = result(library, book, step, standing)
        spent = _minutes(step)
        planned_min = plan["hands_on_min"] + plan["waiting_min"]
        y = plan["yield"]
        actual = said.short if said else ("failed" if step.failed is not None else "")
        if said and state.whence == "plan":
            actual += " (start as planned, not weighed)"
        if got_result is not None and got_result.why:
            why = got_result.why
            actual = why if said and said.short in why else f"{actual}; {why}"
        steps.append(
            {
                "number": step.number, "title": plan["title"], "rows": rows,
                "yield": f"{digits.percent(y['typical'])} ({digits.percent(y['low'])} to "
                f"{digits.percent(y['high'])}, 8 times in 10)",
                "actual": actual,
                "time": digits.duration(planned_min),
                "spent": digits.duration(spent) if spent is not None else "",
                "temperatures": ", ".join(step.temperatures), "notes": step.notes,
                "tests": step.tests,
                "photos": [(p, is_picture(p)) for p in step.photos],
            }
        )  # fmt: skip
    totals = []
    last = book.steps[-1]
    reached_g = digits.mass(last.out_g) if last.out_g and not last.wet else "not made"
    totals.append((data["target_name"], digits.mass(data["target_g"]), reached_g))
    for name, planned, reached in overall_actual(book):
        totals.append(
            (f"overall yield on {name}", digits.percent(planned), digits.percent(reached))
        )
    cost, guessed = _cost(book)
    mark = " (partly as planned)"
    totals.append(("materials", digits.money(data["cost"] or 0.0, data["currency"]),
                   digits.money(cost, data["currency"]) + mark * guessed))  # fmt: skip
    waste = _waste(book)
    if waste is not None:
        totals.append(("left over besides water", "", digits.mass(waste[0]) + mark * waste[1]))
    spent_all = [m for m in (_minutes(s) for s in book.steps) if m is not None]
    totals.append(("time", digits.duration(data["elapsed_min"]),
                   digits.duration(sum(spent_all)) if spent_all else ""))  # fmt: skip
    head = (
        f"Begun {book.run.at[:16].replace('T', ' ')}, "
        + (f"finished {book.finished[:16].replace('T', ' ')}" if book.finished else "not finished"),
        f"Route: {data['name']}",
    )  # fmt: skip
    return Report(
        f"Run {book.run.run}: {digits.mass(data['target_g'])} {data['target_name']}", head,
        tuple(steps), tuple(totals), tuple(book.notes),
        tuple((p, is_picture(p)) for p in book.photos), tuple(entries),
    )  # fmt: skip
