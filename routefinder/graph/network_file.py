"""Read a reaction network that is not ours: CSV, JSON, or SBML through cobra.

CSV: a heading line with the columns ``id, reactants, products`` and optionally ``cost``; reactants
and products are names separated by " + ", each with an optional amount ("2 A + B"). Lines that
begin with # are remarks. JSON: ``{"steps": [{"id", "reactants", "products", "cost"}], "shelf":
[...]}``, where reactants and products are lists of names or objects of name and amount. SBML needs
the extra ``cobra``; reversible reactions become two steps, and the shelf is what the model's
medium takes up.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

from routefinder import tables
from routefinder.errors import Fault, FileFault, LibraryFaults, OutOfReach
from routefinder.files import read_text
from routefinder.graph.network import LEAST_COST, MOST_COST, PlainStep
from routefinder.hidden import HIDDEN, code, shortened

COLUMNS = ("id", "reactants", "products", "cost")
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
            raise ValueError(f"the amount of {_shown(name)} must be above 0")
        out[name] = out.get(name, 0.0) + amount
    return out


def _number(value: Any, what: str) -> float:
    try:
        number = float(value) if not isinstance(value, bool) else math.nan
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"the {what} {_shown(value)} is not a number") from None
    if not (math.isfinite(number) and number > 0):
        raise ValueError(f"the {what} {_shown(value)} must be above 0")
    return number


def _cost(value: Any) -> float:
    cost = _number(value, "cost")
    if not LEAST_COST <= cost <= MOST_COST:
        raise ValueError(
            f"the cost {cost:g} must lie between {LEAST_COST:g} and {MOST_COST:g}: sums of others "
            "cannot be reckoned"
        )
    return cost


def _shown(value: Any) -> str:
    return shortened(repr(value))


def _name(value: Any, what: str) -> str:
    """A name in JSON: a text, or a whole number."""
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{what} {_shown(value)} is not a name; write it as text")
    if hidden := HIDDEN.search(value):
        raise ValueError(f"{what} holds a character that nobody sees, {code(hidden[0])}")
    return value


def _checked(step: PlainStep, seen: set[str]) -> PlainStep:
    if not step.id:
        raise ValueError("the step has no id")
    if step.id in seen:
        raise ValueError(f"the id {_shown(step.id)} is used twice")
    if not set(step.products) - set(step.reactants):
        raise ValueError(f"{_shown(step.id)} makes nothing that it does not take")
    seen.add(step.id)
    return step


def _read_csv(path: Path, text: str) -> list[PlainStep]:
    table = tables.read(text, str(path), COLUMNS[:3], COLUMNS)
    steps: list[PlainStep] = []
    faults = list(table.faults)
    seen: set[str] = set()
    for row in table.rows:
        cells = row.cells
        try:
            step = PlainStep(
                cells["id"], _side(cells["reactants"]), _side(cells["products"]),
                _cost(cells.get("cost") or 1.0),
            )  # fmt: skip
            steps.append(_checked(step, seen))
        except ValueError as error:
            faults.append(Fault(str(path), row.line, 0, "", str(error), "Correct the line."))
    return _finish(path, steps, faults)


def _finish(path: Path, steps: list[PlainStep], faults: list[Fault]) -> list[PlainStep]:
    if faults:
        raise LibraryFaults(faults)
    if not steps:
        raise FileFault(Fault(str(path), 0, 0, "", "the network has no steps", "Add some."))
    return steps


def _read_json(path: Path, text: str) -> tuple[list[PlainStep], tuple[str, ...]]:
    try:
        # a number of thousands of digits is no number of anything, and slow to turn
        data = json.loads(text, parse_int=lambda n: int(n) if len(n) < 20 else float(n),
                          object_pairs_hook=_once)  # fmt: skip
    except json.JSONDecodeError as error:
        raise FileFault(
            Fault(str(path), error.lineno, error.colno, "", f"not valid JSON ({error.msg})",
                  "Correct it there.")
        ) from None  # fmt: skip
    except ValueError as error:
        raise FileFault(Fault(str(path), 0, 0, "", str(error), "Keep one of them.")) from None
    except RecursionError:
        raise FileFault(
            Fault(str(path), 0, 0, "", "nested too deeply", "No network needs so many levels.")
        ) from None
    if not isinstance(data, dict) or not isinstance(data.get("steps"), list):
        raise FileFault(Fault(str(path), 1, 0, "", "there is no list 'steps'", "Write one."))
    faults = [
        Fault(str(path), 0, 0, shortened(str(key)), "unknown field",
              f"The fields are {', '.join(FIELDS)}.")
        for key in data
        if key not in FIELDS
    ]  # fmt: skip
    steps: list[PlainStep] = []
    seen: set[str] = set()
    for i, raw in enumerate(data["steps"]):
        try:
            steps.append(_checked(_json_step(raw), seen))
        except ValueError as error:
            faults.append(Fault(str(path), 0, 0, f"steps[{i}]", str(error), "Correct the step."))
    shelf = data.get("shelf", [])
    if not isinstance(shelf, list):
        raise FileFault(
            Fault(str(path), 0, 0, "shelf", "the shelf is not a list of names", "Write a list.")
        )
    names = []
    for i, raw in enumerate(shelf):
        try:
            names.append(_name(raw, "the entry"))
        except ValueError as error:
            faults.append(Fault(str(path), 0, 0, f"shelf[{i}]", str(error), "Correct it."))
    return _finish(path, steps, faults), tuple(names)


FIELDS = ("steps", "shelf")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A JSON object; raises ValueError when a key stands twice, for one would silently win."""
    out = dict(pairs)
    if len(out) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"the key {_shown(twice)} stands twice in one object")
    return out


def _json_step(raw: Any) -> PlainStep:
    if not isinstance(raw, dict) or "id" not in raw:
        raise ValueError("the step has no id")
    for key in raw:
        if key not in COLUMNS:
            raise ValueError(f"unknown field {_shown(key)}; the fields are {', '.join(COLUMNS)}")
    sides = []
    for what in COLUMNS[1:3]:
        side = raw.get(what, [])
        if isinstance(side, list):
            side = {_name(name, f"in {what}"): 1.0 for name in side}
        if not isinstance(side, dict):
            raise ValueError(f"{what} is neither a list nor an object")
        sides.append(
            {_name(k, f"in {what}"): _number(v, f"amount of {_shown(k)}") for k, v in side.items()}
        )
    return PlainStep(_name(raw["id"], "the id"), sides[0], sides[1], _cost(raw.get("cost", 1.0)))


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
