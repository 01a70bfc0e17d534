"""A whole question in one YAML file: what `find` was asked, and beside it what it answered last.

The keys are the options of `find` with underscores (`asking.fields`); paths are taken from the
folder of the file. The answer of the last run is kept in a sibling, ``NAME.last.json``.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from routefinder import files, units
from routefinder.asking.fields import FIELDS, check, parse
from routefinder.asking.fields import key as as_key
from routefinder.disclaimer import DISCLAIMER
from routefinder.errors import (
    Fault,
    FieldError,
    FileFault,
    InputError,
    LibraryFaults,
    RoutefinderError,
)
from routefinder.files import read_text
from routefinder.library.read import Document, read_yaml
from routefinder.library.write import lines_to_yaml

SCHEMA = "routefinder/last-answer/1"
HEAD = (
    "# A question to routefinder; run it again with: routefinder find --question {name}\n"
    "# Paths are taken from this folder.\n"
    f"# {DISCLAIMER}\n"
)


BY_KEY = {field.key: field for field in FIELDS}
KEYS = ("target", *BY_KEY)


def _value(key: str, value: Any) -> Any:
    """One value as the command line would give it; raises InputError."""
    field = BY_KEY.get(key)
    if field is None or not field.many:
        if not isinstance(value, str):
            raise InputError("is not a text")
        found = value.strip() if field is None else parse(field, value)
        if field is not None and key == "amount":
            units.read_any(found, ("mass", "amount"))
        elif field is not None and (field.unit or field.choices):
            check(field, found)
        return found
    return [parse(field, _text(v)) for v in (value if isinstance(value, list) else [value])]


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise InputError("is not a text")
    return value


def read(path: Path) -> tuple[dict[str, Any], Document]:
    """The question in a file by key, paths joined to its folder, and where each key stands.

    Raises FileFault or LibraryFaults with the line of everything that cannot be used.
    """
    document = read_yaml(path)
    faults = list(document.faults)
    if not faults and not isinstance(document.data, dict):
        raise FileFault(
            document.fault((), "the question is not 'key: value' lines", "Begin with 'target: '.")
        )
    out: dict[str, Any] = {}
    for key, value in (document.data or {}).items() if not faults else ():
        if key not in KEYS:
            from difflib import get_close_matches

            near = get_close_matches(key, KEYS, n=1)
            remedy = f"Did you mean {near[0]!r}?" if near else f"The keys are {', '.join(KEYS)}."
            faults.append(document.fault((key,), f"unknown key {key!r}", remedy))
            continue
        if value is None:
            continue
        try:
            out[key] = _value(key, value)
        except InputError as error:
            said = error.said(as_key) if isinstance(error, FieldError) else str(error)
            said = said.removeprefix(f"{key}: ")
            what = f"{value!r} {said}" if said.startswith("is ") else said
            faults.append(document.fault((key,), what, "Correct it or take the line out."))
    if not faults and "target" not in out:
        faults.append(document.fault((), "no target is named", "Add a line 'target: ...'."))
    if faults:
        raise LibraryFaults(faults)
    for key in (f.key for f in FIELDS if f.is_path):
        if key in out:
            value = out[key]
            out[key] = (
                [str(path.parent / v) for v in value]
                if isinstance(value, list)
                else str(path.parent / value)
            )
    return out, document


def placed(error: InputError, document: Document, given: Mapping[str, Any]) -> InputError:
    """The error with the line of the value it speaks of, when that stands in the file."""
    if isinstance(error, FileFault):
        return error
    if isinstance(error, FieldError):
        named = [as_key(name) for name in error.fields if as_key(name) in given]
        said = error.said(as_key)
    else:
        said = str(error)
        named = [
            key
            for key in KEYS
            if key in given
            for value in (given[key] if isinstance(given[key], list) else [given[key]])
            if isinstance(value, str) and repr(value) in said
        ]
    if not named:
        return error
    line, column = document.place((named[0],))
    said = said if said.startswith(named[0]) else f"{named[0]}: {said}"
    return InputError(f"{document.shown}:{line}:{column}: {said}")


def write(path: Path, given: Mapping[str, Any], force: bool = False) -> None:
    """Write a question; keys without a value are left out.

    Raises InputError when it cannot, or when the file is there (unless ``force``).
    """
    folder = path.resolve().parent
    data: dict[str, Any] = {}
    for key in KEYS:
        value = given.get(key)
        if value is None or value is False or value == [] or value == ():
            continue
        if key in BY_KEY and BY_KEY[key].is_path:
            values = [value] if not isinstance(value, list | tuple) else value
            paths = [os.path.relpath(Path(v).resolve(), folder) for v in values]
            value = paths if BY_KEY[key].many else paths[0]
        elif isinstance(value, tuple):
            value = list(value)
        data[key] = "yes" if value is True else value
    text = HEAD.format(name=path.name) + lines_to_yaml(data)
    files.write(path, text, force=force)


def beside(path: Path) -> Path:
    """Where the last answer to a question is kept."""
    return path.with_name(f"{path.stem}.last.json")


def read_last(path: Path) -> dict[str, Any] | None:
    """The last answer to the question in ``path``, None when there is none.

    Raises FileFault when the file beside it is damaged.
    """
    place = beside(path)
    if not place.exists():
        return None

    def fail(what: str, line: int = 0) -> FileFault:
        return FileFault(
            Fault(str(place), line, 0, "", what, "Delete it: the next run writes it anew.")
        )

    try:
        data = json.loads(read_text(place))
    except json.JSONDecodeError as error:
        raise fail(f"not JSON ({error.msg})", error.lineno) from None
    except RoutefinderError:
        raise
    try:
        sound = data["schema"] == SCHEMA and isinstance(data["fingerprint"], str) and all(
            isinstance(r["name"], str)
            and all(isinstance(s, str) for s in r["steps"])
            and all(v is None or isinstance(v, int | float) for v in r["measures"].values())
            for r in data["routes"]
        )  # fmt: skip
    except (KeyError, TypeError, AttributeError):
        sound = False
    if not sound:
        raise fail("not the last answer to a question")
    return dict(data)


def write_last(path: Path, answer: Mapping[str, Any]) -> None:
    """Keep an answer beside the question in ``path``."""
    data = {"schema": SCHEMA, "disclaimer": DISCLAIMER, **answer}
    files.write(beside(path), json.dumps(data, indent=1, ensure_ascii=False), force=True)
