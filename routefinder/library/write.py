"""Records -> YAML text that reads back to equal records."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from routefinder.records.base import Record


def to_yaml(records: Iterable[Record]) -> str:
    """A library file with ``records``, every scalar quoted where YAML might guess."""
    import yaml

    data = [record.as_file() for record in records]
    return yaml.safe_dump(
        _texts(data), allow_unicode=True, sort_keys=False, default_flow_style=False, width=100
    )


def lines_to_yaml(data: Mapping[str, object]) -> str:
    """A mapping as YAML, a line an entry, in the order given."""
    import yaml

    return yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True, width=1000)


def _texts(value: object) -> object:
    """Every scalar as text, so that no reader has to guess."""
    if isinstance(value, dict):
        return {str(k): _texts(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_texts(v) for v in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else repr(value)
