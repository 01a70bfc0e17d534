"""The reference pages, made from the code: commands, files, questions, measures, Python."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NOTE = "*Made from the code when these pages are built; every name and default is the program's.*\n"


def _cell(text: object) -> str:
    return " ".join(str(text).split()).replace("|", "\\|").replace("<", "&lt;")


def _table(head: tuple[str, ...], rows: list[tuple[object, ...]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(map(_cell, row)) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def leaves(command: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every command with the words that call it."""
    if hasattr(command, "commands"):
        for word, each in command.commands.items():
            yield from leaves(each, f"{path} {word}".strip())
    else:
        yield path, command


def commands() -> str:
    """Every command with its arguments and options."""
    import typer

    from routefinder.cli.main import app

    out = ["# Commands\n", NOTE]
    for path, command in leaves(typer.main.get_command(app)):
        paragraphs = inspect.cleandoc(command.help or "").split("\n\n")
        out.append(f"## {path}\n")
        out.append("\n\n".join(paragraphs) + "\n")
        words = [p.name for p in command.params if p.param_type_name == "argument"]
        usage = " ".join(["routefinder", path, *(w.upper() for w in words), "[OPTIONS]"])
        out.append(f"```\n{usage}\n```\n")
        rows = []
        for param in command.params:
            if param.param_type_name != "option":
                continue
            named = ", ".join(f"`{name}`" for name in (*param.opts, *param.secondary_opts))
            takes = "" if param.is_flag else f" {param.metavar or ''}"
            default = param.default
            shown = "" if default in (None, False, (), []) or callable(default) else default
            rows.append((named + takes, param.help or "", shown))
        if rows:
            out.append(_table(("option", "what it does", "default"), rows))
    return "\n".join(out)


def _type(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return f"`{schema['$ref'].rsplit('/', 1)[1]}`"
    if "enum" in schema:
        return "one of " + ", ".join(f"`{v}`" for v in schema["enum"])
    if "const" in schema:
        return f"`{schema['const']}`"
    for key in ("anyOf", "oneOf"):
        if key in schema:
            kinds = dict.fromkeys(_type(each) for each in schema[key])
            return " or ".join(k for k in kinds if k) or "text"
    kind = schema.get("type")
    if kind == "array":
        return f"list of {_type(schema['items'])}" if schema.get("items") else "list"
    words = {"string": "text", "integer": "whole number", "boolean": "true or false",
             "object": "keys", "null": "nothing"}  # fmt: skip
    kinds = kind if isinstance(kind, list) else [kind]
    named = dict.fromkeys(words.get(k, k or "text or quantity") for k in kinds)
    shown = [n for n in named if n != "nothing"]
    if "number" in shown or "whole number" in shown or "true or false" in shown:
        shown = [n for n in shown if n != "text"]  # every scalar may be quoted
    return " or ".join(shown)


def _fields(schema: dict[str, Any]) -> str:
    needed = set(schema.get("required", ()))
    rows: list[tuple[object, ...]] = []
    for name, field in schema.get("properties", {}).items():
        default = field.get("default")
        plain = default not in (None, "", [], {})
        need = "yes" if name in needed else f"`{default}`" if plain else ""
        rows.append((f"`{name}`", _type(field), need, field.get("description", "")))
    return _table(("field", "holds", "needed, or default", "notes"), rows)


def files() -> str:
    """Every kind of file: the library's from its schema, shelf, bench, question, settings."""
    import json

    from routefinder.asking.fields import FIELDS
    from routefinder.library.schema import schemas
    from routefinder.library.settings import CHOICES
    from routefinder.library.shelf import COLUMNS
    from routefinder.records.capability import CAPABILITIES
    from routefinder.records.shelf import BenchItem
    from routefinder.view import plan_json

    out = ["# File formats\n", NOTE]
    out.append("## Question file\n")
    out.append("Written by `find --save FILE`, read by `find --question FILE`: YAML, the target "
               "under `target`, and any of these keys.\n")  # fmt: skip
    rows: list[tuple[object, ...]] = []
    for field in FIELDS:
        if field.door != "command":
            default = "" if field.default in (None, False, ()) else field.default
            rows.append((f"`{field.key}`", field.help, default))
    out.append(_table(("key", "what it says", "default"), rows))
    out.append("## Shelf\n")
    columns = ", ".join(f"`{name}`" for name in COLUMNS)
    out.append(f"CSV with a heading line and the columns {columns}, or a YAML list with the same "
               "fields. Only the material has to be said.\n")  # fmt: skip
    out.append("## Bench\n")
    out.append("A YAML list: a kind of equipment of the library by its name, or an entry of one's "
               "own with these fields.\n")  # fmt: skip
    out.append(_fields(BenchItem.model_json_schema(by_alias=True)))
    out.append("What equipment can do, under `offers`, and the figures that each may state:\n")
    out.append(_table(("capability", "in words", "figures"), [
        (f"`{name}`", words, ", ".join(f"`{key}`" for key in limits))
        for name, (words, limits) in CAPABILITIES.items()
    ]))  # fmt: skip
    out.append("## Settings\n")
    out.append("A TOML file in your configuration folder, or the one that `ROUTEFINDER_SETTINGS` "
               "names.\n")  # fmt: skip
    out.append(_table(("part", "name", "choices"), [
        (f"`[{part}]`", f"`{name}`", ", ".join(f"`{c}`" for c in choices))
        for part, names in CHOICES.items() for name, choices in names.items()
    ]))  # fmt: skip
    for kind, schema in schemas().items():
        out.append(f"## Library: {kind}\n")
        where = "equipment.yaml" if kind == "equipment" else f"{kind}/*.yaml"
        out.append(f"A YAML list in `{where}`; the whole schema is `reactions/schema/{kind}.json`."
                   "\n")  # fmt: skip
        out.append(_fields(schema["items"]))
        for name, part in sorted(schema["$defs"].items()):
            if part.get("properties"):
                out.append(f"### {name} ({kind})\n")
                out.append(_fields(part))
    for title, name in (("find", "routes"), ("plan", "plan")):
        path = Path(plan_json.__file__).with_name(f"{name}.schema.json")
        out.append(f"## JSON of `{title} --json`\n")
        out.append(f"The schema is `routefinder/view/{name}.schema.json`; at its top:\n")
        out.append(_fields(json.loads(path.read_text(encoding="utf-8"))))
    return "\n".join(out)


def measures() -> str:
    """Every measure by which routes are compared."""
    from routefinder.assessment.measure import MEASURES

    out = ["# Measures\n", NOTE]
    out.append("What `compare`, `--prefer`, `--measures` and must-haves call by name.\n")
    rows: list[tuple[object, ...]] = []
    for key, kind in MEASURES.items():
        rows.append((f"`{kind.word}`", kind.title, kind.unit, kind.better, f"`{key}`"))
    out.append(_table(("name", "what it is", "unit", "better when", "key in JSON"), rows))
    return "\n".join(out)


def python() -> str:
    """Everything under `rf`, with its signature and docstring."""
    import routefinder as rf

    out = ["# Python\n", NOTE, "```python\nimport routefinder as rf\n```\n"]
    for name in rf.__all__:
        thing = getattr(rf, name)
        if name == "__version__":
            continue
        out.append(f"## rf.{name}\n")
        if inspect.isfunction(thing):
            arguments = list(inspect.signature(thing).parameters.values())
            listed = ", ".join(
                f"{'**' if p.kind is p.VAR_KEYWORD else ''}{p.name}"
                + ("" if p.default is p.empty else f"={p.default!r}")
                for p in arguments
            )
            out.append(f"```python\nrf.{name}({listed})\n```\n")
        out.append(f"```text\n{inspect.getdoc(thing) or ''}\n```\n")
    return "\n".join(out)


def demo() -> str:
    """What `routefinder demo` prints, as this version prints it."""
    import os
    import subprocess
    import sys
    import tempfile

    environment = {**os.environ, "COLUMNS": "110", "ROUTEFINDER_LIBRARY": ""}
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run(
            [sys.executable, "-m", "routefinder", "demo", "--to", folder], check=True,
            capture_output=True, text=True, encoding="utf-8", env=environment,
        )  # fmt: skip
        lines = [line.rstrip() for line in run.stdout.replace(folder + os.sep, "").splitlines()]
    return "\n".join(lines) + "\n"


PAGES = {
    "commands.md": commands, "files.md": files, "measures.md": measures, "python.md": python,
    "demo.txt": demo,
}  # fmt: skip


def write(folder: Path) -> None:
    """Write the pages of the reference into a folder; unchanged ones are left alone."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in PAGES.items():
        path, text = folder / name, make()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
