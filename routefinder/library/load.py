"""Library files -> a library: records read, names resolved, every fault collected."""

from __future__ import annotations

import gc
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import ValidationError

from routefinder.errors import (
    Fault,
    FileFault,
)
from routefinder.library import where
from routefinder.library.assemble import FileEntry, assemble
from routefinder.library.library import Library
from routefinder.library.read import Document, Key, read_yaml
from routefinder.records.base import Record
from routefinder.records.control import Control
from routefinder.records.equipment import Equipment
from routefinder.records.material import Material
from routefinder.records.step import Step
from routefinder.records.substance import Substance

KINDS: dict[str, type[Record]] = {
    "substances": Substance,
    "steps": Step,
    "materials": Material,
    "equipment": Equipment,
}
R = TypeVar("R", bound=Record)


@dataclass
class Loaded:
    """A library with the faults found while loading it and the places of its entries."""

    library: Library
    faults: list[Fault]
    entries: dict[tuple[str, str], FileEntry]
    documents: list[Document]


def library_files(folder: Path) -> list[tuple[str, Path]]:
    """(kind, path) of every file of a library folder."""
    out: list[tuple[str, Path]] = []
    for kind in ("substances", "materials", "steps"):
        out += [(kind, p) for p in sorted((folder / kind).glob("*.yaml"))]
    for name in ("equipment", "regulated"):
        if (folder / f"{name}.yaml").exists():
            out.append((name, folder / f"{name}.yaml"))
    return out


def load(folders: Sequence[Path]) -> Loaded:
    """Load libraries in order; later ones may replace records of earlier ones by saying so."""
    faults: list[Fault] = []
    entries: dict[tuple[str, str], FileEntry] = {}
    documents: list[Document] = []
    regulated: list[Control] = []
    collecting = gc.isenabled()
    gc.disable()  # hundreds of thousands of small objects, none of them garbage: a third faster
    try:
        for folder in folders:
            _load_layer(folder, faults, entries, documents, regulated)
        library = assemble(entries, faults, tuple(regulated))
    finally:
        if collecting:
            gc.enable()
    return Loaded(library, faults, entries, documents)


def _shown(path: Path) -> str:
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return str(path)


def _load_layer(
    folder: Path,
    faults: list[Fault],
    entries: dict[tuple[str, str], FileEntry],
    documents: list[Document],
    regulated: list[Control],
) -> None:
    if not folder.is_dir():
        what = "this is a file, not a library folder" if folder.exists() else "no such folder"
        raise FileFault(Fault(str(folder), 0, 0, "", what, "Name the folder of a library."))
    files = library_files(folder)
    if not files:
        raise FileFault(
            Fault(str(folder), 0, 0, "", "the library is empty",
                  "Put YAML files into its folders substances, steps and materials.")
        )  # fmt: skip
    for stray in sorted(folder.rglob("*.y*ml")):
        if stray not in {path for _, path in files}:
            faults.append(
                Fault(_shown(stray), 0, 0, "", "this file is not read",
                      "Library files lie in substances/, steps/, materials/ and end in .yaml.",
                      "stray-file")
            )  # fmt: skip
    here: set[tuple[str, str]] = set()
    for kind, path in files:
        try:
            document = read_yaml(path, _shown(path))
        except FileFault as error:
            faults.append(error.fault)
            continue
        documents.append(document)
        faults += document.faults
        if document.data is None:
            continue
        if not isinstance(document.data, list):
            faults.append(
                document.fault((), "the file is not a list", "Begin each entry with '- '.")
            )
            continue
        if kind == "regulated":
            rows = [
                validate(Control, r, document, (i,), faults) for i, r in enumerate(document.data)
            ]
            regulated += [row for row in rows if row is not None]
            continue
        for i, raw in enumerate(document.data):
            record = validate(KINDS[kind], raw, document, (i,), faults)
            if record is None:
                continue
            entry = FileEntry(record, document, (i,))
            name = (kind, str(getattr(record, "id", "")))
            old = entries.get(name)
            if old is not None and (name in here or not getattr(record, "replaces", False)):
                line = old.document.place(old.key)[0]
                remedy = "Give it another id" + (
                    "."
                    if name in here
                    else ", or add 'replaces: true' if it is meant to replace it."
                )
                faults.append(
                    entry.fault(("id",), f"the id {name[1]!r} is used twice "
                                f"(first at {old.document.shown}:{line})", remedy, "repeated-id")
                )  # fmt: skip
                continue
            if old is None and getattr(record, "replaces", False):
                faults.append(
                    entry.fault(("replaces",), f"there is no earlier {kind[:-1]} {name[1]!r}",
                                "Take 'replaces' out or correct the id.", "replaces-nothing")
                )  # fmt: skip
            here.add(name)
            entries[name] = entry


def validate(
    model: type[R], raw: Any, document: Document, key: Key, faults: list[Fault]
) -> R | None:
    """One record of ``model``, or None with its faults added to ``faults``."""
    if not isinstance(raw, dict):
        faults.append(document.fault(key, "the entry has no fields", "Write 'id: ...' and so on."))
        return None
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for item in error.errors(include_url=False):
            loc = tuple(
                p for p in item["loc"] if not (isinstance(p, str) and p.startswith("function"))
            )
            faults.append(_translate(model, item, document, (*key, *loc)))
        return None


@lru_cache
def _field_names(model: type[Record]) -> tuple[str, ...]:
    """Names of all fields of a record and of the records inside it, as files write them."""
    names: dict[str, None] = {}
    for name, info in model.model_fields.items():
        names[info.alias or name] = None
        waiting: list[Any] = [info.annotation]
        while waiting:
            kind = waiting.pop()
            if isinstance(kind, type) and issubclass(kind, Record):
                names.update(dict.fromkeys(_field_names(kind)))
            else:
                waiting += get_args(kind)
    return tuple(names)


def _translate(model: type[Record], item: Any, document: Document, key: Key) -> Fault:
    name = str(key[-1]) if len(key) > 1 else ""
    if item["type"] == "extra_forbidden":
        from difflib import get_close_matches

        near = get_close_matches(name, _field_names(model), n=1)
        remedy = f"Did you mean {near[0]!r}?" if near else "Take it out; see reactions/README.md."
        return document.fault(key, f"unknown field {name!r}", remedy, "unknown-field")
    if item["type"] == "missing":
        parent = document.fault(key, f"the field {name!r} is missing", "Add it.", "missing-field")
        return parent
    message = re.sub(r"^(Value|Assertion) error, ", "", str(item["msg"]))
    if item["type"] in {"model_type", "tuple_type", "dict_type", "string_type"}:
        message = message.replace("Input should be", "this should be")
    return document.fault(key, message, "Correct the value.", "bad-value")


def shipped_and(folders: Sequence[Path], only: bool = False) -> list[Path]:
    """The shipped library (unless ``only``) followed by ``folders``."""
    return ([] if only else [where.shipped_library()]) + list(folders)
