"""One question from the command line, a question file, or both: options go before the file."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from routefinder.asking.fields import FIELDS, key
from routefinder.cli import options as o
from routefinder.errors import InputError, Refused

if TYPE_CHECKING:
    from routefinder.api.shown import ShownAnswer
    from routefinder.choice.changes import Changes

DEFAULTS: dict[str, Any] = {f.key: f.default for f in FIELDS if f.default}


def said(ctx: typer.Context, given: Mapping[str, Any]) -> dict[str, Any]:
    """What was really written on the command line, by key of the file."""
    out = {}
    for name, value in given.items():
        source = ctx.get_parameter_source(name)
        if source is not None and source.name != "DEFAULT" and value not in (None, []):
            kept = [str(v) for v in value] if isinstance(value, list) else value
            out[key(name)] = str(kept) if isinstance(kept, Path) else kept
    return out


def search(question: Mapping[str, Any]) -> ShownAnswer:
    """Find for a question by key."""
    full = {**DEFAULTS, **question}
    given = {f.name: full[f.key] for f in FIELDS if f.key in full and f.name != "amount"}
    given["journal"] = None if full.get("journal") is None else Path(full["journal"])
    given["libraries"] = [Path(p) for p in full.get("library", ())]
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
        left = {name: value for name, value in kept.items() if name not in over}
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
    for name, value in question.items():
        if name == "target" or value in (None, False, []) or DEFAULTS.get(name) == value:
            continue
        option = f"--{name.replace('_', '-')}"
        if value is True:
            words.append(option)
            continue
        for each in value if isinstance(value, list) else [value]:
            words += [option, f"{each:g}" if isinstance(each, float) else str(each)]
    return shlex.join(words)
