"""The coverage report for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from routefinder import digits
from routefinder.view.text import print_disclaimer

if TYPE_CHECKING:
    from rich.console import Console

    from routefinder.library.library import Library
    from routefinder.results.covered import Coverage


def print_coverage(found: Coverage, library: Library, out: Console) -> None:
    """A row a target, the remarks, the totals."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("#", justify="right", no_wrap=True)
    table.add_column("target", ratio=2)
    table.add_column("routes", justify="right", no_wrap=True)
    table.add_column("different", justify="right", no_wrap=True)
    table.add_column("steps", justify="right", no_wrap=True)
    table.add_column("yield", justify="right", no_wrap=True)
    table.add_column("best route, or why none", ratio=3)
    for i, row in enumerate(found.rows, start=1):
        name = row.target.name
        if row.substance is not None:
            label = library.substances[row.substance].label
            name += f"  {label}" if label != library.name(row.substance) else ""
        more = "+" if row.more else ""
        table.add_row(
            str(i),
            name,
            f"{row.routes}{more}",
            f"{row.different}{more}",
            "-" if row.steps is None else str(row.steps),
            "-" if row.yield_typical is None else digits.percent(row.yield_typical),
            row.best or row.why,
        )
    out.print(table)
    for row in found.rows:
        if row.remark:
            out.print(f"Note: {row.target.name}: {row.remark}.")
    out.print(
        "different: routes that differ in what the target's metal, acid or skeleton comes from or "
        "goes through; hydrates and solutions of one substance count as one."
    )
    if any(row.more for row in found.rows):
        out.print(f"+ more exist; the best {found.top} ways are counted (--top).")
    for line in totals(found):
        out.print(line, style="bold")
    print_disclaimer(out)


def totals(found: Coverage) -> list[str]:
    """The totals in sentences."""
    count = len(found.rows)
    bench = f" on the bench {found.bench}" if found.bench else ""
    have = "has" if found.with_route == 1 else "have"
    have_two = "has" if found.with_two == 1 else "have"
    are = "is" if found.known == 1 else "are"
    out = [
        f"{found.known} of {count} {are} in the library.",
        f"{found.with_route} of {count} {have} a route from {found.shelf}{bench}, "
        f"{found.with_two} {have_two} two or more really different ones.",
    ]
    if found.refused:
        verb = "is" if found.refused == 1 else "are"
        out.append(
            f"{found.refused} of {count} {verb} refused: routefinder does not plan for such."
        )
    return out
