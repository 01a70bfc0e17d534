"""Records survive a file; the schema is fresh and accepts what the reader accepts."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import strategies
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

from routefinder.library import load, schema
from routefinder.library.read import read_yaml
from routefinder.library.where import shipped_library
from routefinder.library.write import to_yaml
from routefinder.records.control import Control

KINDS = {
    "substances": strategies.substances,
    "steps": strategies.steps,
    "materials": strategies.materials,
    "equipment": strategies.equipment,
}


@given(strategies.controls())
def test_control_rows_survive_a_file(row):
    """A row of a control list, written and read again, is the same."""
    assert Control.model_validate(row.as_file()) == row


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_records_survive_a_file(kind, tmp_path_factory):
    """record -> YAML -> record is the same record, whatever is in it."""
    path = tmp_path_factory.mktemp("trip") / "records.yaml"

    @given(st.lists(KINDS[kind], min_size=1, max_size=2))
    @few(80)
    def trip(records):
        path.write_text(to_yaml(records), encoding="utf-8")
        document = read_yaml(path)
        assert document.faults == []
        faults = []
        read = [
            load.validate(load.KINDS[kind], raw, document, (i,), faults)
            for i, raw in enumerate(document.data)
        ]
        assert faults == []
        assert read == records

    trip()


def test_shipped_records_survive_a_file(tmp_path):
    """The whole shipped library, written and read again, is the same."""
    loaded = load.load([shipped_library()])
    for kind in KINDS:
        records = [e.record for (k, _), e in loaded.entries.items() if k == kind]
        path = tmp_path / f"{kind}.yaml"
        path.write_text(to_yaml(records), encoding="utf-8")
        document = read_yaml(path)
        faults = []
        read = [
            load.validate(load.KINDS[kind], raw, document, (i,), faults)
            for i, raw in enumerate(document.data)
        ]
        assert faults == []
        assert read == records


def test_schema_files_are_fresh():
    """`python -m routefinder.library.schema` would change nothing."""
    for kind, made in schema.schemas().items():
        path = shipped_library() / "schema" / f"{kind}.json"
        assert path.read_text(encoding="utf-8") == schema.text(made), f"{path} is stale"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_schema_accepts_the_library_and_refuses_the_rest(kind):
    """The schema and the reader agree on the shipped files and on an unknown field."""
    jsonschema = pytest.importorskip("jsonschema")
    import yaml

    made = schema.schemas()[kind]
    validator = jsonschema.Draft202012Validator(made)
    folder = shipped_library()
    files = (
        [folder / "equipment.yaml"]
        if kind == "equipment"
        else sorted((folder / kind).glob("*.yaml"))
    )
    assert files
    for path in files:
        data = yaml.load(Path(path).read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
        errors = list(validator.iter_errors(_as_schema_types(data)))
        assert not errors, f"{path}: {errors[0].message} at {list(errors[0].absolute_path)}"
    assert list(validator.iter_errors([{"id": "x", "wibble": 1}]))
    assert json.loads(schema.text(made)) == made


def _as_schema_types(value):
    """YAML turns dates and plain numbers from text; the schema wants text or numbers."""
    if isinstance(value, dict):
        return {str(k): _as_schema_types(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_as_schema_types(v) for v in value]
    return value if isinstance(value, bool | int | float | str | None) else str(value)
