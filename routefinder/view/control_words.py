"""Control lists as data and as lines: why a thing is refused or flagged, and what differs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from routefinder import digits
from routefinder.disclaimer import DISCLAIMER
from routefinder.library.regulated import Hit, Ruling

if TYPE_CHECKING:
    from rich.console import Console

SCHEMA = "routefinder/control/1"
CLEARED = (
    "A list is no legal text, and a rule can be wrong: what differs is said above. A record of "
    "your own library is cleared of a shared formula by its CAS number."
)
WHERE = {
    "any": "refused in every part",
    "made": "refused as a target or as something made on the way",
    "target": "refused as a target",
}


def rows(hits: Iterable[Hit]) -> list[dict[str, Any]]:
    """Entries of control lists as plain data."""
    return [
        {
            "list": h.list,
            "part": h.part,
            "entry": h.name,
            "cas": h.cas,
            "verdict": h.verdict if h.certain else "not decided by the formula",
            "where": h.where if h.verdict == "refuse" else None,
            "matched_by": h.by,
            "matched": h.matched,
            "threshold": h.threshold,
            "limit": h.limit,
            "action": h.action,
            "why": h.why,
            "differs": h.differs,
            "date": h.date,
            "source": h.source,
        }
        for h in hits
    ]


def lines(found: Iterable[dict[str, Any]], with_source: bool = True) -> list[str]:
    """One line an entry: list, limit, what follows, date and source."""
    out = []
    for row in found:
        title = f"{row['list']}, {row['part']}" if row["part"] else row["list"]
        if row["verdict"] == "refuse":
            what = WHERE[row["where"]]
        elif row["verdict"] == "flag":
            what = "lawful under conditions; check your country"
        else:
            what = f"not refused for its formula alone. {row['differs']}"
        limit = "" if row["limit"] is None else f", limit {digits.percent(row['limit'])}"
        threshold = row["threshold"]
        if threshold and threshold not in {"any", "none"}:
            limit += f" ({threshold})"
        source = f"; {row['source']}" if with_source else ""
        out.append(f"{title}{limit}: {what} [{row['date']}{source}]")
    return out


def explanation(judged: Ruling) -> dict[str, Any]:
    """What the lists say about a name, as plain data."""
    refused = judged.refusal("target") is not None
    return {
        "schema": SCHEMA,
        "disclaimer": DISCLAIMER,
        "kind": "control",
        "name": judged.subject,
        "refused": refused,
        "control_lists": rows(judged.hits),
    }


def print_explanation(found: dict[str, Any], out: Console) -> None:
    """Why a name is refused or flagged, for a terminal."""
    from routefinder.view.text import print_disclaimer, say

    out.print(found["name"], style="bold")
    plans = "routefinder does not plan for it" if found["refused"] else "not in the library"
    say(out, f"on control lists; {plans}")
    out.print()
    for row, line in zip(found["control_lists"], lines(found["control_lists"], False), strict=True):
        say(out, line, 0, 2)
        entry = f"entry {row['entry']!r}" + (f", CAS {row['cas']}" if row["cas"] else "")
        say(out, f"recognised by {row['matched_by']} {row['matched']!r}; {entry}", 2, 2)
        for key in ("why", "differs"):
            if row[key] and row["verdict"] in {"refuse", "flag"}:
                say(out, row[key], 2, 2)
        say(out, f"[{row['source']}]", 2, 2)
    out.print()
    say(out, CLEARED)
    print_disclaimer(out)
