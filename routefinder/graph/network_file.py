"""Read a reaction network that is not ours: CSV, JSON, or SBML through cobra.

CSV: a heading line with the columns ``id, reactants, products`` and optionally ``cost``; reactants
and products are names separated by " + ", each with an optional amount ("2 A + B"). Lines that
begin with # are remarks. JSON: ``{"steps": [{"id", "reactants", "products", "cost"}], "shelf":
[...]}``, where reactants and products are lists of names or objects of name and amount. SBML needs
the extra ``cobra``; reversible reactions become two steps, and the shelf is what the model's
medium takes up.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from pathlib import Path
from typing import Any

from routefinder.errors import Fault, FileFault, LibraryFaults, OutOfReach
from routefinder.files import read_text
from routefinder.graph.network import PlainStep

_AMOUNT = re.compile(r"^(?P<amount>\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s+(?P<name>\S.*)$")


def read_network(path: Path) -> tuple[list[PlainStep], tuple[str, ...]]:
    """(steps, shelf named in the file) of a network file; raises FileFault or LibraryFaults."""
    kind = path.suffix.lower()
    if kind in {".xml", ".sbml"}:
        return _read_sbml(path)
    text = read_text(path)
    if kind == ".json":
        return _read_json(path, text)
    if kind == ".csv":
        return _read_csv(path, text), ()
    raise FileFault(
        Fault(str(path), 0, 0, "", f"a network file cannot end in {kind or 'nothing'!r}",
              "Use .csv, .json, or .xml for SBML.")
    )  # fmt: skip


def _side(text: str) -> dict[str, float]:
    out: dict[str, float] = {}
    for term in re.split(r"\s+\+\s+", text.strip()):
        if not term:
            continue
        match = _AMOUNT.match(term)
        name, amount = (match["name"], float(match["amount"])) if match else (term, 1.0)
        if not (math.isfinite(amount) and amount > 0):
            raise ValueError(f"the amount of {name!r} must be above 0")
        out[name] = out.get(name, 0.0) + amount
    return out


def _cost(value: Any) -> float:
    try:
        cost = float(value)
    except (TypeError, ValueError):
        raise ValueError(f"the cost {value!r} is not a number") from None
    if not (math.isfinite(cost) and cost > 0):
        raise ValueError(f"the cost {value!r} must be above 0")
    return cost


def _checked(step: PlainStep, seen: set[str]) -> PlainStep:
    if not step.id:
        raise ValueError("the step has no id")
    if step.id in seen:
        raise ValueError(f"the id {step.id!r} is used twice")
    if not set(step.products) - set(step.reactants):
        raise ValueError(f"{step.id!r} makes nothing that it does not take")
    seen.add(step.id)
    return step


def _read_csv(path: Path, text: str) -> list[PlainStep]:
    lines = text.splitlines()
    skip = 0
    while skip < len(lines) and (not lines[skip].strip() or lines[skip].startswith("#")):
        skip += 1
    reader = csv.DictReader(io.StringIO("\n".join(lines[skip:])), skipinitialspace=True)
    heading = [(h or "").strip().lower() for h in reader.fieldnames or ()]
    for column in ("id", "reactants", "products"):
        if column not in heading:
            raise FileFault(
                Fault(str(path), skip + 1, 0, "", f"the heading line names no column {column!r}",
                      "Begin with: id,reactants,products,cost")
            )  # fmt: skip
    reader.fieldnames = heading
    steps: list[PlainStep] = []
    faults: list[Fault] = []
    seen: set[str] = set()
    for row in reader:
        line = skip + reader.line_num
        clean = {k: (v or "").strip() for k, v in row.items() if isinstance(v, str | None) and k}
        if not any(clean.values()) or clean["id"].startswith("#"):
            continue
        try:
            step = PlainStep(
                clean["id"], _side(clean["reactants"]), _side(clean["products"]),
                _cost(clean.get("cost") or 1.0),
            )  # fmt: skip
            steps.append(_checked(step, seen))
        except ValueError as error:
            faults.append(Fault(str(path), line, 0, "", str(error), "Correct the line."))
    return _finish(path, steps, faults)


def _finish(path: Path, steps: list[PlainStep], faults: list[Fault]) -> list[PlainStep]:
    if faults:
        raise LibraryFaults(faults)
    if not steps:
        raise FileFault(Fault(str(path), 0, 0, "", "the network has no steps", "Add some."))
    return steps


def _read_json(path: Path, text: str) -> tuple[list[PlainStep], tuple[str, ...]]:
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise FileFault(
            Fault(str(path), error.lineno, error.colno, "", f"not valid JSON ({error.msg})", "")
        ) from None
    if not isinstance(data, dict) or not isinstance(data.get("steps"), list):
        raise FileFault(Fault(str(path), 1, 0, "", "there is no list 'steps'", "Write one."))
    steps: list[PlainStep] = []
    faults: list[Fault] = []
    seen: set[str] = set()
    for i, raw in enumerate(data["steps"]):
        try:
            if not isinstance(raw, dict) or "id" not in raw:
                raise ValueError("the step has no id")
            sides = []
            for name in ("reactants", "products"):
                side = raw.get(name, [])
                if isinstance(side, list):
                    side = dict.fromkeys(map(str, side), 1.0)
                if not isinstance(side, dict):
                    raise ValueError(f"{name} is neither a list nor an object")
                sides.append({str(k): _cost(v) for k, v in side.items()})
            step = PlainStep(str(raw["id"]), sides[0], sides[1], _cost(raw.get("cost", 1.0)))
            steps.append(_checked(step, seen))
        except ValueError as error:
            faults.append(Fault(str(path), 0, 0, f"steps[{i}]", str(error), "Correct the step."))
    shelf = data.get("shelf", [])
    if not isinstance(shelf, list):
        raise FileFault(Fault(str(path), 0, 0, "shelf", "the shelf is not a list of names", ""))
    return _finish(path, steps, faults), tuple(map(str, shelf))


def _read_sbml(path: Path) -> tuple[list[PlainStep], tuple[str, ...]]:
    text = read_text(path)  # the same refusals as for the other kinds
    _check_sbml(path, text)
    try:
        import cobra
    except ImportError:
        raise OutOfReach(
            "reading SBML needs the extra: run `pip install 'routefinder[sbml]'`"
        ) from None
    try:
        model = cobra.io.read_sbml_model(text)
    except Exception as error:
        raise FileFault(
            Fault(str(path), 0, 0, "", f"not an SBML model ({str(error).splitlines()[0]})", "")
        ) from None
    return steps_of_model(model)


def _check_sbml(path: Path, text: str) -> None:
    """Refuse at once what is no SBML, before a slow reader is loaded; raises FileFault."""
    from xml.parsers import expat

    seen: list[str] = []

    def begin(name: str, _: dict[str, str]) -> None:
        if not seen:
            seen.append(name.rpartition(" ")[2])

    def declared(*_: object) -> None:
        raise ValueError("it declares a document type; SBML has none")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = begin
    parser.StartDoctypeDeclHandler = declared
    line = 0
    try:
        parser.Parse(text.encode("utf-8"), True)
        what = "" if seen == ["sbml"] else f"its outermost element is {seen[0][:40]!r}, not 'sbml'"
    except expat.ExpatError as error:
        what, line = f"not XML: {expat.ErrorString(error.code)}", error.lineno
    except ValueError as error:
        what = str(error)
    if what:
        raise FileFault(Fault(str(path), line, 0, "", f"not an SBML model ({what})", ""))


def steps_of_model(model: Any) -> tuple[list[PlainStep], tuple[str, ...]]:
    """(steps, medium) of a cobra model: reversible reactions split, exchanges left out."""
    steps: list[PlainStep] = []
    boundary = {r.id for r in model.boundary}
    for reaction in model.reactions:
        if reaction.id in boundary:
            continue
        taken = {m.id: -c for m, c in reaction.metabolites.items() if c < 0}
        made = {m.id: c for m, c in reaction.metabolites.items() if c > 0}
        if reaction.upper_bound > 0 and set(made) - set(taken):
            steps.append(PlainStep(reaction.id, taken, made))
        if reaction.lower_bound < 0 and set(taken) - set(made):
            steps.append(PlainStep(f"{reaction.id} (back)", made, taken))
    medium = []
    for reaction_id in model.medium:
        medium += [m.id for m in model.reactions.get_by_id(reaction_id).metabolites]
    return steps, tuple(medium)
