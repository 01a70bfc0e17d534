"""JSON Schema of the library files, made from the records.

python -m routefinder.library.schema DIR
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from routefinder import files
from routefinder.library.load import KINDS


def schemas() -> dict[str, dict[str, Any]]:
    """Schema per kind of file: a list of entries."""
    out = {}
    for kind, model in KINDS.items():
        entry = model.model_json_schema(by_alias=True, ref_template="#/$defs/{model}")
        definitions = entry.pop("$defs", {})
        entry, definitions = _texts_too(entry), _texts_too(definitions)
        out[kind] = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": f"routefinder {kind}",
            "type": "array",
            "items": entry,
            "$defs": definitions,
        }
    return out


def _texts_too(schema: Any) -> Any:
    """Numbers and yes/no may be quoted: every scalar of a library file is read as text."""
    if isinstance(schema, list):
        return [_texts_too(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    out = {key: _texts_too(value) for key, value in schema.items()}
    if out.get("type") in ("number", "integer", "boolean"):
        out["type"] = [out["type"], "string"]
    return out


def text(schema: dict[str, Any]) -> str:
    """A schema as it stands in its file."""
    return json.dumps(schema, indent=2, ensure_ascii=False, sort_keys=True) + "\n"


def main() -> None:
    """Write all schemas into the folder named on the command line."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("reactions/schema")
    folder.mkdir(parents=True, exist_ok=True)
    for kind, schema in schemas().items():
        files.write(folder / f"{kind}.json", text(schema), force=True)


if __name__ == "__main__":
    main()
