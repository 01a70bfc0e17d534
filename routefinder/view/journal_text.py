"""What the terminal shows of the journal. Computed elsewhere; nothing is worked out here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.view.text import print_disclaimer, say

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.journal.book import Book
    from routefinder.journal.learn import Calibration, Learned
    from routefinder.journal.store import Entry
    from routefinder.journal.today import Today


def print_runs(books: list[Book], out: Console) -> None:
    """All runs, a line each."""
    for book in books:
        data = book.run.data
        done = sum(s.done for s in book.steps)
        state = "finished" if book.finished else f"{done} of {len(book.steps)} steps done"
        say(
            out,
            f"run {book.run.run}: {digits.mass(data['target_g'])} {data['target_name']}, begun "
            f"{book.run.at[:16].replace('T', ' ')}; {state}",
            0,
            4,
        )
    if books:
        print_disclaimer(out)


def print_book(book: Book, verdicts: dict[str, str], out: Console) -> None:
    """One run: the plan against what was weighed, then every entry with its number."""
    data = book.run.data
    say(
        out,
        f"Run {book.run.run}: {digits.mass(data['target_g'])} {data['target_name']}",
        0,
        2,
        "bold",
    )
    say(out, f"begun {book.run.at[:16].replace('T', ' ')}; route: {data['name']}", 0, 2)
    if data.get("goes_on_from"):
        say(out, f"goes on from what run {data['goes_on_from']} made", 0, 2)
    for step in book.steps:
        plan = step.plan
        out.print(f"{step.number:>3}. {plan['title']}", style="bold")
        for feed in plan["feeds"]:
            if "from_step" in feed:
                name = f"from step {book.step(feed['from_step']).number}"
            else:
                name = feed["name"]
            got = step.ins.get(name)
            actual = f"; weighed in {digits.mass(got['grams'])}" if got else ""
            if feed.get("everywhere") and not got:
                continue
            say(out, f"take {digits.mass(feed['as_weighed_g'])} {name}{actual}", 5, 4)
        shown = {f.get("name") for f in plan["feeds"]} | {
            f"from step {book.step(f['from_step']).number}"
            for f in plan["feeds"]
            if "from_step" in f
        }
        others = set(step.ins) - shown
        for name in sorted(others):
            say(out, f"weighed in {digits.mass(step.ins[name]['grams'])} {name}", 5, 4)
        line = f"gives {digits.mass(plan['product']['mass_g'])}"
        if step.out_g is not None:
            line += f"; came out {digits.mass(step.out_g)}" + (" (wet)" if step.wet else "")
        if step.id in verdicts:
            line += f": {verdicts[step.id]}"
        if step.failed is not None:
            line += f"; FAILED: {step.failed}"
        elif step.done and step.out_g is None:
            line += "; done"
        say(out, line, 5, 4)
        if step.strength is not None:
            say(out, f"measured: {digits.percent(step.strength['share'])} of it", 5, 4)
        for words in step.notes:
            say(out, f"note: {words}", 5, 4)
    for words in book.notes:
        say(out, f"Note: {words}", 0, 2)
    if book.entries:
        out.print("Entries (correct one with 'log correct NUMBER ...'):")
        for entry in book.entries:
            say(out, entry_line(entry, book), 2, 8)
    print_disclaimer(out)


def entry_line(entry: Entry, book: Book) -> str:
    """One entry in a line."""
    number = next((f"step {s.number}, " for s in book.steps if s.id == entry.step), "")
    old = f", in place of entry {entry.corrects}" if entry.corrects else ""
    when = entry.happened[:16].replace("T", " ")
    return f"{entry.entry:>4}  {when}  {number}{entry_words(entry.kind, entry.data)}{old}"


def entry_words(kind: str, data: dict[str, Any]) -> str:
    """What an entry says."""
    more = ", added" if data.get("more") else ""
    poured = f"{data['measured']} = " if data.get("measured") else ""
    if kind == "in":
        return f"in {poured}{data['grams']:.10g} g {data['name']}{more}"
    if kind == "out":
        wet = " wet" if data.get("wet") else ""
        return f"out {poured}{data['grams']:.10g} g{wet}{more}"
    if kind == "strength":
        return f"strength {digits.percent(data['share'])} ({data.get('words', '')})"
    if kind == "test":
        return f"test: {data['words']}"
    if kind == "gone":
        return f"gone: {digits.mass(data['grams'])} {data.get('words', '')}".rstrip()
    if kind == "temperature":
        return f"temperature {digits.temperature(data['temperature_C'])}"
    if kind in {"note", "failed"}:
        return f"{kind}: {data.get('words', '')}"
    if kind == "photo":
        return f"photo {data.get('path', '')}"
    if kind == "shelf":
        return f"shelf: {data.get('words', '')}"
    if kind == "plan":
        return f"new plan: {data.get('words', '')}"
    words = {"begin": "begun", "end": "ended", "finished": "run finished", "void": "taken back"}
    said = words[kind]
    return f"{said}: {data['words']}" if data.get("words") else said


def print_today(found: Today, out: Console) -> None:
    """What is due, what spoils next, what can rest."""
    if not found.due and not found.lying:
        out.print("Nothing is open.")
        return
    if found.due:
        out.print("Due:", style="bold")
        for due in found.due:
            when = f", from {due.when:%d %b %H:%M}" if due.when else ""
            say(out, f"run {due.run}, step {due.step}: {due.what}{when}", 2, 2)
    if found.lying:
        out.print("Lying:", style="bold")
        for lies in found.lying:
            mark = {"spoilt": "TOO LONG", "spoils": "SOON", "unknown": "UNKNOWN", "rests": "RESTS"}
            say(
                out,
                f"{mark[lies.verdict]}  run {lies.run}, step {lies.step}: {lies.sentence}",
                2,
                2,
            )
    print_disclaimer(out)


def span(low: float, typical: float, high: float) -> str:
    """A yield with its interval: 86 % (78 to 92 %)."""
    return f"{digits.percent(typical)} ({digits.percent(low)} to {digits.percent(high)})"


def print_learned(
    learned: dict[str, Learned], titles: dict[str, str], found: Calibration, out: Console
) -> None:
    """The yields before and after own results, outliers, what was left out, and the calibration."""
    if not learned:
        out.print("No results yet: nothing was made in the journal's runs.")
        return
    for name, one in learned.items():
        say(out, titles[name], 0, 2, "bold")
        b, a = one.before, one.after
        say(out, f"library  {span(b.low, b.typical, b.high)}, worth 3 runs", 2, 4)
        if one.results:
            runs = ", ".join(f"{digits.percent(r.yield_ or 0)} (run {r.run})" for r in one.results)
            say(out, f"own      {runs}", 2, 4)
            say(out, f"now      {span(a.low, a.typical, a.high)}", 2, 4)
        if one.failures:
            say(
                out,
                f"failed   {one.failures} of {one.failures + len(one.results)}: a chance of "
                f"{digits.percent(one.failure)} that nothing comes out",
                2,
                4,
            )
        for r in one.outliers:
            say(
                out,
                f"outlier  {digits.percent(r.yield_ or 0)} (run {r.run}) lies far from the rest; "
                f"it counts. Without: {digits.percent(one.without or 0)}",
                2,
                4,
            )
        for r in one.left_out:
            say(out, f"left out run {r.run}: {r.why}", 2, 4)
    out.print()
    print_calibration(found, out)
    print_disclaimer(out)


def print_calibration(found: Calibration, out: Console) -> None:
    """How well past estimates held."""
    if found.share is None:
        out.print("No result can be held against an estimate yet.")
        return
    n = len(found.pit)
    say(
        out,
        f"Past estimates: {found.inside} of {n} results ({digits.percent(found.share)}) fell "
        "inside the 80 % interval. Where they fell in what was expected (even is good):",
        0,
        2,
    )
    bins = found.bins()
    for i, count in enumerate(bins):
        out.print(f"  {i / len(bins):.1f} to {(i + 1) / len(bins):.1f}  {'#' * count} {count}")
    if n < 10:
        out.print("  Too few to say much yet.")
