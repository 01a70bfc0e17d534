"""What the terminal shows of weights and tests taken together. Nothing is worked out here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.view.bench_test_text import short_line
from routefinder.view.text import print_disclaimer, say
from routefinder.view.weigh_text import WORDS

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.analysis.inference import Odds, Spread
    from routefinder.journal.senses import Sensed
    from routefinder.library.library import Library

LEAST = 0.01  # odds below which an explanation is not shown
WHAT = {
    "usual": "a usual run",
    "unfinished": "the reaction stopped short",
    "lost": "some was spilt or lost",
    "wet": "it holds water",
    "impure start": "the start was not what its name says",
    "damp start": "the start held water",
    "went on": "it went on to the next thing in the heat",
    "another solid": "another solid",
    "misread": "one reading is wrong",
    "something else": "none of these",
}


def _span(s: Spread, percent: bool = True) -> str:
    show = digits.percent if percent else digits.mass
    return f"{show(s.middle)} ({show(s.low)} to {show(s.high)})"


def explanation(row: Odds, found: Sensed, library: Library) -> str:
    """One explanation with its odds and what it would mean."""
    text = WHAT[row.what]
    if row.substance:
        text += f", {library.name(row.substance)}"
    if row.what == "misread" and row.reading is not None:
        text = f"{found.readings[row.reading]!r} is wrong"
    f = row.figures
    detail = {
        "unfinished": f"{_span(f['conversion'])} reacted",
        "lost": f"{_span(f['kept'])} kept",
        "wet": f"{_span(f['moisture'])} of the weight is water",
        "impure start": f"{_span(f['true'])} of it was",
        "damp start": f"{_span(f['true'])} of it was not water",
    }.get(row.what)
    return f"{digits.chance(row.share)}  {text}" + (f": {detail}" if detail else "")


def sentence(found: Sensed) -> str:
    """The verdict in a sentence."""
    conversion = _span(found.found.figures["conversion"])
    if found.odd:
        return f"the readings contradict one another: {found.odd} does not go with the rest"
    return {
        "done": f"{conversion} reacted",
        "go on": f"{conversion} reacted; go on",
        "something else": "no run of this step reads so",
        "cannot tell": "these readings do not tell how far it went",
    }[found.says]


def print_sensed(found: Sensed, library: Library, out: Console, arithmetic: bool = False) -> None:
    """Verdict, explanations with odds, what it is, and what to measure next."""
    says = "cannot tell" if found.odd else found.says
    say(out, f"{WORDS[says]}: {sentence(found)}.", 0, 2, "bold")
    out.print("What would explain it (odds after these readings):")
    for row in found.found.explanations:
        if row.share >= LEAST:
            say(out, explanation(row, found, library), 2, 9)
    name = library.name(found.substance)
    say(
        out,
        f"Dose by: {_span(found.strength)} {name} by weight, {_span(found.product_g, False)} in "
        "all (the middle, and the interval that holds 80 %).",
        0, 2,
    )  # fmt: skip
    if found.worth:
        out.print("What would tell more, most for least work first:")
        for w in found.worth:
            cut = f"takes {digits.percent(w.cut)} of the doubt in {digits.duration(w.minutes)}"
            say(out, f"- {short_line(w.test)}: {cut}", 2, 4)
    if arithmetic:
        out.print("Before and after (10th, 50th, 90th percentile):")
        for key, after in found.found.figures.items():
            before = found.found.before[key]
            say(
                out,
                f"{key}: {before.low:.4g}, {before.middle:.4g}, {before.high:.4g} before; "
                f"{after.low:.4g}, {after.middle:.4g}, {after.high:.4g} after",
                2, 2,
            )  # fmt: skip
        say(out, f"by importance sampling, {found.found.effective:.0f} effective draws", 2, 2)
    print_disclaimer(out)


def _spread(s: Spread) -> dict[str, float]:
    return {"low": s.low, "middle": s.middle, "high": s.high, "sd": s.sd}


def as_json(found: Sensed, library: Library) -> dict[str, Any]:
    """As plain data: masses in g, fractions from 0 to 1, intervals of 80 %."""
    return {
        "schema": "routefinder/sensed/1",
        "disclaimer": DISCLAIMER,
        "step": found.step,
        "says": "cannot tell" if found.odd else found.says,
        "readings": list(found.readings),
        "contradicts": found.odd or None,
        "figures": {k: _spread(v) for k, v in found.found.figures.items()},
        "before": {k: _spread(v) for k, v in found.found.before.items()},
        "explanations": [
            {"what": r.what, "odds": r.share, "substance": r.substance or None,
             "reading": r.reading, "figures": {k: _spread(v) for k, v in r.figures.items()}}
            for r in found.found.explanations
        ],
        "dose_by": {"substance": found.substance, "share": _spread(found.strength),
                    "product_g": _spread(found.product_g)},
        "next": [
            {"test": w.test.method.name, "on": w.test.on, "first_end_point": w.test.first,
             "sample_g": w.test.sample_g, "cut": w.cut, "minutes": w.minutes}
            for w in found.worth
        ],
        "effective_draws": found.found.effective,
    }  # fmt: skip
