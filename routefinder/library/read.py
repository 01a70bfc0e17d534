"""Read YAML so that nothing is lost: every scalar as text, repeated keys refused, places kept.

YAML's own guesses are wrong for chemistry (``NO`` would become false, ``1e3`` a number), and a
repeated key would silently win. The records turn text to numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from routefinder.errors import Fault, InputError
from routefinder.files import read_text
from routefinder.hidden import HIDDEN, code, visible

Place = tuple[int, int]
Key = tuple[str | int, ...]


@dataclass
class Document:
    """One file: its data (lists, dicts, texts), and the place of every node."""

    path: Path
    shown: str
    data: Any
    places: dict[Key, Place] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def place(self, key: Key) -> Place:
        """Line and column of the node at ``key``, or of the nearest node around it."""
        while key and key not in self.places:
            key = key[:-1]
        return self.places.get(key, (0, 0))

    def fault(self, key: Key, what: str, remedy: str, rule: str = "input") -> Fault:
        """A fault at ``key``."""
        line, column = self.place(key)
        name = ".".join(str(part) for part in key if isinstance(part, str))
        return Fault(self.shown, line, column, name, what, remedy, rule)


def read_yaml(path: Path, shown: str | None = None) -> Document:
    """Read a YAML file. Faults inside it are collected in the document, not raised."""
    import yaml

    name = shown or str(path)
    text = read_text(path, name)
    document = Document(path, name, None)
    loader_class: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    try:
        loader = loader_class(text)
        try:
            node = loader.get_single_node()
        finally:
            loader.dispose()
        if node is not None:
            document.data = _build(node, (), document, set())
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        what = f"not valid YAML ({error.problem})"
        document.faults.append(
            Fault(name, line, column, "", what, "Check indentation, colons and quotes.")
        )
    except yaml.YAMLError as error:
        document.faults.append(
            Fault(name, 0, 0, "", f"not valid YAML ({str(error).splitlines()[0]})",
                  "Remove control characters.")
        )  # fmt: skip
    except RecursionError:
        document.faults.append(
            Fault(name, 0, 0, "", "nested too deeply", "No record needs so many levels.")
        )
    return document


def read_text_yaml(text: str) -> Any:
    """One short YAML value, every scalar as text; raises InputError."""
    import yaml

    try:
        return yaml.load(text, Loader=yaml.BaseLoader)
    except yaml.YAMLError:
        raise InputError(
            f"{text!r} cannot be read; write 'name' or 'name: {{key: value}}'"
        ) from None


def _build(node: Any, key: Key, document: Document, seen: set[int]) -> Any:
    import yaml

    place = (node.start_mark.line + 1, node.start_mark.column + 1)
    document.places.setdefault(key, place)
    if isinstance(node, yaml.ScalarNode):
        if node.style is None and node.value in ("", "~", "null"):
            return None
        if not node.value.isprintable() and (hidden := HIDDEN.search(node.value)):
            document.faults.append(
                Fault(document.shown, *place, "", "the text holds a character that nobody sees, "
                      f"{code(hidden[0])}", "Delete it.", "hidden")
            )  # fmt: skip
        return node.value
    if id(node) in seen:
        document.faults.append(
            Fault(document.shown, *place, "", "an alias (*name) is used", "Write the value out.",
                  "yaml")
        )  # fmt: skip
        return None
    seen.add(id(node))
    if isinstance(node, yaml.SequenceNode):
        return [_build(child, (*key, i), document, seen) for i, child in enumerate(node.value)]
    out: dict[str, Any] = {}
    first: dict[str, int] = {}
    for key_node, value_node in node.value:
        line, column = key_node.start_mark.line + 1, key_node.start_mark.column + 1
        if not isinstance(key_node, yaml.ScalarNode):
            document.faults.append(
                Fault(document.shown, line, column, "", "a key is not text", "Write a field name.",
                      "yaml")
            )  # fmt: skip
            continue
        name = visible(key_node.value)
        if name in first:
            document.faults.append(
                Fault(document.shown, line, column, name,
                      f"the key {name!r} stands twice (first at line {first[name]})",
                      "Keep one of them.", "yaml")
            )  # fmt: skip
            continue
        first[name] = line
        document.places[(*key, name)] = (line, column)
        out[name] = _build(value_node, (*key, name), document, seen)
    return out
