"""A comparison in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder.view import compare_words, text

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.comparing import Comparison

WIDE = 17  # columns of the terminal a route takes
FIRST = 27


def print_comparison(found: Comparison, out: Console) -> None:
    """The table, as many routes beside one another as fit, and the sections under it."""
    from rich import box
    from rich.table import Table

    text.print_head(found.answer, out)
    for route in found.routes:
        text.say(out, f"{route.number}  {route.name}", 0, 4)
    rows = compare_words.table(found)
    fit = max(1, (out.width - FIRST) // WIDE)
    for start in range(0, len(found.routes), fit):
        some = range(start, min(start + fit, len(found.routes)))
        shown = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
        shown.add_column("", no_wrap=True)
        for i in some:
            shown.add_column(f"route {found.routes[i].number}", justify="right", no_wrap=True)
        for name, cells in rows:
            shown.add_row(name, *(f"{cells[i].text} {cells[i].mark or ' '}" for i in some))
        out.print(shown)
    if len(found.routes) > 1:
        out.print(f"{compare_words.BEST} best, {compare_words.WORST} worst of these routes")
    for section in compare_words.sections(found):
        out.print()
        out.print(section.heading, style="bold")
        for line in section.lines:
            text.say(out, line, 2, 2)
    text.print_notes(found.answer, out)
    text.print_disclaimer(out)
