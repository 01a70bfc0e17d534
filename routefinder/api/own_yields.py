"""The library with the yields of one's own runs."""

from __future__ import annotations

from pathlib import Path

from routefinder import digits
from routefinder.journal.learn import learn
from routefinder.journal.learn import with_own_yields as taught
from routefinder.journal.results import results
from routefinder.journal.store import Store
from routefinder.library.library import Library


def with_own_yields(lib: Library, journal: str | Path) -> tuple[Library, dict[str, str]]:
    """The library with the yields that the journal's runs taught, and a note a step.

    Raises JournalFault when the journal cannot be read.
    """
    with Store(journal, create=False) as store:
        learned = learn(lib, results(store, lib))
    notes = {}
    for name, one in learned.items():
        words = []
        if one.results:
            n = len(one.results)
            words.append(
                f"the yield counts as {digits.percent(one.after.typical)} instead of "
                f"{digits.percent(one.before.typical)}, "
                f"by {n} run{'s' if n > 1 else ''} of yours (--no-my-yields leaves them out)"
            )
        if one.failures:
            words.append(f"it failed {one.failures} times in your runs")
        if words:
            notes[name] = f"{lib.steps[name].title}: {'; '.join(words)}"
    return taught(lib, learned), notes
