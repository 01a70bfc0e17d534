"""A comparison in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder.view import compare_words, text

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.results.comparison import Comparison

GAP = 4  # between two columns, with the mark


def _blocks(
    rows: list[tuple[str, list[compare_words.Cell]]], count: int, width: int
) -> list[list[int]]:
    """Places of the routes that fit beside one another."""
    room = width - max(len(name) for name, _ in rows) - 2
    blocks: list[list[int]] = [[]]
    left = room
    for i in range(count):
        wide = max(len("route 10"), *(_width(cells[i].text) for _, cells in rows)) + GAP
        if blocks[-1] and wide > left:
            blocks.append([])
            left = room
        blocks[-1].append(i)
        left -= wide
    return blocks


def _width(text: str) -> int:
    return max(map(len, text.split("\n")))


def print_comparison(found: Comparison, out: Console) -> None:
    """The table, as many routes beside one another as fit, and the sections under it."""
    from rich import box
    from rich.table import Table

    text.print_head(found.answer, out)
    for route in found.routes:
        text.say(out, f"{route.number}  {route.name}", 0, 4)
    rows = compare_words.table(found)
    for some in _blocks(rows, len(found.routes), out.width):
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
        _print_section(section, out)
    text.print_notes(found.answer, out)
    text.print_disclaimer(out)


def print_preferences(found: Comparison, out: Console) -> None:
    """Only the scores by the user's preferences (under an answer)."""
    _print_section(compare_words.scores_section(found), out)


def _print_section(section: compare_words.Section, out: Console) -> None:
    out.print()
    out.print(section.heading, style="bold")
    for line in section.lines:
        text.say(out, line, 2, 2)
