"""A whole question in one YAML file: what `find` was asked, and beside it what it answered last.

The keys are the options of `find` with underscores (``KEYS``); paths are taken from the folder of
the file. The answer of the last run is kept in a sibling, ``NAME.last.json``.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from routefinder import units
from routefinder.errors import Fault, FileFault, InputError, LibraryFaults, RoutefinderError
from routefinder.library.read import Document, read_text, read_yaml
from routefinder.library.write import lines_to_yaml
from routefinder.records.question import ORDERS

SCHEMA = "routefinder/last-answer/1"
HEAD = (
    "# A question to routefinder; run it again with: routefinder find --question {name}\n"
    "# Paths are taken from this folder.\n"
)


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise InputError("is not a text")
    return value.strip()


def _texts(value: Any) -> list[str]:
    return [_text(v) for v in (value if isinstance(value, list) else [value])]


def _amount(value: Any) -> str:
    units.read_any(_text(value), ("mass", "amount"))
    return _text(value)


def _quantity(kind: str) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        units.canonical(_text(value), kind)
        return _text(value)

    return read


def _order(value: Any) -> str:
    if value not in ORDERS:
        raise InputError(f"is no order; the orders are {', '.join(ORDERS)}")
    return _text(value)


def _whole(value: Any) -> int:
    try:
        return int(_text(value))
    except ValueError:
        raise InputError("is not a whole number") from None


def _number(value: Any) -> float:
    try:
        return float(_text(value))
    except ValueError:
        raise InputError("is not a number") from None


def _yes(value: Any) -> bool:
    text = _text(value).lower()
    if text not in {"yes", "no", "true", "false"}:
        raise InputError("is neither yes nor no")
    return text in {"yes", "true"}


KEYS: dict[str, Callable[[Any], Any]] = {
    "target": _text, "amount": _amount, "shelf": _text, "bench": _text, "by": _order,
    "top": _whole, "max_temperature": _quantity("temperature"), "avoid": _texts, "from": _texts,
    "use_up": _text, "max_hazard": _texts, "max_steps": _whole, "max_time": _quantity("time"),
    "budget": _number, "no_licence": _yes, "step_cost": _number, "library": _texts,
    "only_library": _yes, "seconds": _number, "different": _yes, "reuse": _yes,
    "my_yields": _yes, "journal": _text, "non_dominated": _yes, "measures": _text,
    "may_lack": _whole, "prefer": _text,
}  # fmt: skip
PATHS = ("shelf", "bench", "library")


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
            out[key] = KEYS[key](value)
        except InputError as error:
            said = str(error)
            what = f"{value!r} {said}" if said.startswith("is ") else said
            faults.append(document.fault((key,), what, "Correct it or take the line out."))
    if not faults and "target" not in out:
        faults.append(document.fault((), "no target is named", "Add a line 'target: ...'."))
    if faults:
        raise LibraryFaults(faults)
    for key in PATHS:
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
    for key in ("target", "from", "avoid", "use_up", "max_hazard", "top", "max_steps", "budget",
                "step_cost", "seconds", "max_time", "amount"):  # fmt: skip
        if key not in given or isinstance(error, FileFault):
            continue
        values = given[key] if isinstance(given[key], list) else [given[key]]
        option = f"--{key.replace('_', '-')}"
        if any(repr(v) in str(error) for v in values if isinstance(v, str)) or option in str(error):
            line, column = document.place((key,))
            return InputError(f"{document.shown}:{line}:{column}: {key}: {error}")
    return error


def write(path: Path, given: Mapping[str, Any]) -> None:
    """Write a question; keys without a value are left out. Raises InputError when it cannot."""
    folder = path.resolve().parent
    data: dict[str, Any] = {}
    for key in KEYS:
        value = given.get(key)
        if value is None or value is False or value == [] or value == ():
            continue
        if key in PATHS:
            values = [value] if not isinstance(value, list | tuple) else value
            paths = [os.path.relpath(Path(v).resolve(), folder) for v in values]
            value = paths if key == "library" else paths[0]
        elif isinstance(value, tuple):
            value = list(value)
        data[key] = "yes" if value is True else value
    text = HEAD.format(name=path.name) + lines_to_yaml(data)
    _put(path, text)


def _put(path: Path, text: str) -> None:
    try:
        partial = path.with_name(f".{path.name}.partial")
        partial.write_text(text, encoding="utf-8")
        os.replace(partial, path)
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})") from None


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
    _put(beside(path), json.dumps({"schema": SCHEMA, **answer}, indent=1, ensure_ascii=False))
