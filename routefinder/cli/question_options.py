"""One question from the command line, a question file, or both: options go before the file."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from routefinder.cli import options as o
from routefinder.errors import InputError, Refused

if TYPE_CHECKING:
    from routefinder.api.shown import ShownAnswer
    from routefinder.choice.changes import Changes

# parameter of the command -> key of the file; the option is the key with hyphens
NAMES = {"use": "from", "libraries": "library"}
DEFAULTS: dict[str, Any] = {
    "amount": o.AMOUNT, "by": "balanced", "top": 10, "step_cost": 1.0, "seconds": 10.0,
    "my_yields": True,
}  # fmt: skip


def said(ctx: typer.Context, given: Mapping[str, Any]) -> dict[str, Any]:
    """What was really written on the command line, by key of the file."""
    out = {}
    for name, value in given.items():
        source = ctx.get_parameter_source(name)
        if source is not None and source.name != "DEFAULT" and value not in (None, [], ""):
            kept = [str(v) for v in value] if isinstance(value, list) else value
            out[NAMES.get(name, name)] = str(kept) if isinstance(kept, Path) else kept
    return out


def search(question: Mapping[str, Any]) -> ShownAnswer:
    """Find for a question by key."""
    full = {**DEFAULTS, **question}
    back = {key: name for name, key in NAMES.items()}
    given = {back.get(k, k): v for k, v in full.items() if k not in {"target", "amount"}}
    if "libraries" in given:
        given["libraries"] = [Path(p) for p in given["libraries"]]
    if given.get("journal") is not None:
        given["journal"] = Path(given["journal"])
    return o.find_with([full["target"]], full["amount"], **given)


def from_file(path: Path, over: Mapping[str, Any]) -> tuple[ShownAnswer, dict[str, Any]]:
    """The answer to the question in a file, options before it, and the question as asked."""
    from routefinder.asking import question_file

    kept, document = question_file.read(path)
    try:
        found = search({**kept, **over})
    except Refused:
        raise
    except InputError as error:
        left = {key: value for key, value in kept.items() if key not in over}
        raise question_file.placed(error, document, left) from None
    return found, {**kept, **over}


def keep(path: Path, question: Mapping[str, Any], found: ShownAnswer) -> Changes | None:
    """Compare with the last answer beside a question file, then keep this one.

    None when there was none.
    """
    from routefinder.asking import question_file
    from routefinder.choice import changes

    before = question_file.read_last(path)
    asked = {k: v for k, v in question.items() if k != "seconds"}
    now = {
        "fingerprint": found.library.fingerprint,
        "question": asked,
        "routes": [changes.row(r.name, r.assessment) for r in found.routes],
    }
    question_file.write_last(path, now)
    if before is None:
        return None
    old = before.get("question")
    old = old if isinstance(old, dict) else {}
    differs = [k for k in {**old, **asked} if old.get(k) != asked.get(k)]
    return changes.changes(before, now, differs)


def command(question: Mapping[str, Any]) -> str:
    """The command line that asks a question."""
    words = ["routefinder", "find", question["target"]]
    for key, value in question.items():
        if key == "target" or value in (None, False, []) or DEFAULTS.get(key) == value:
            continue
        option = f"--{key.replace('_', '-')}"
        if value is True:
            words.append(option)
            continue
        for each in value if isinstance(value, list) else [value]:
            words += [option, f"{each:g}" if isinstance(each, float) else str(each)]
    return shlex.join(words)
