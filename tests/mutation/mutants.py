"""What is changed: every small change of a module's code, one at a time, and some named ones."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2] / "routefinder"
SWAPPED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or,
    ast.Or: ast.And,
}  # fmt: skip
OTHER_CALL = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "ceil": "floor",
    "floor": "ceil",
}


@dataclass(frozen=True)
class Mutant:
    """One change: the part of the package, where, what stood there and what stands there now."""

    module: str
    line: int
    function: str
    before: str
    after: str
    site: tuple[int, int] | None = None  # which node, which of its changes; None: a named one
    name: str = ""

    @property
    def shown(self) -> str:
        """One line that says it."""
        what = f" [{self.name}]" if self.name else ""
        return (
            f"{self.module}.py:{self.line} {self.function}: {self.before}  ->  {self.after}{what}"
        )


class _Sites(ast.NodeVisitor):
    """Nodes that may be changed; words, types and messages of faults are left alone."""

    def __init__(self) -> None:
        self.found: list[ast.AST] = []

    def visit(self, node: ast.AST) -> None:
        if isinstance(node, ast.JoinedStr | ast.Raise | ast.Import | ast.ImportFrom | ast.Assert):
            return
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            return
        self.found.append(node)
        for field, value in ast.iter_fields(node):
            if field in {"annotation", "returns", "decorator_list", "type_comment"}:
                continue
            if isinstance(node, ast.ClassDef) and field == "keywords":
                continue
            for each in value if isinstance(value, list) else [value]:
                if isinstance(each, ast.AST):
                    self.visit(each)


def _changed(node: ast.AST) -> Iterator[ast.AST]:
    """The small changes of one node: each a new node for its place."""
    new = copy.deepcopy(node)
    if isinstance(node, ast.Compare) and isinstance(new, ast.Compare):
        for i, op in enumerate(node.ops):
            if type(op) in SWAPPED:
                one = copy.deepcopy(new)
                one.ops[i] = SWAPPED[type(op)]()
                yield one
    elif isinstance(new, ast.BinOp | ast.BoolOp | ast.AugAssign) and type(new.op) in SWAPPED:
        new.op = SWAPPED[type(new.op)]()
        yield new
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield copy.deepcopy(node.operand)
    elif isinstance(new, ast.Constant):
        if isinstance(new.value, bool):
            new.value = not new.value
            yield new
        elif isinstance(new.value, int):
            new.value += 1
            yield new
        elif isinstance(new.value, float):
            new.value = new.value * 1.5 if new.value else 1.0
            yield new
    elif isinstance(new, ast.Call):
        if isinstance(new.func, ast.Name) and new.func.id in OTHER_CALL:
            new.func.id = OTHER_CALL[new.func.id]
            yield new
        elif isinstance(new.func, ast.Attribute) and new.func.attr in {"ceil", "floor"}:
            new.func.attr = OTHER_CALL[new.func.attr]
            yield new
    elif isinstance(new, ast.IfExp):
        new.body, new.orelse = new.orelse, new.body
        yield new
    elif isinstance(new, ast.comprehension) and new.ifs:
        new.ifs = []
        yield new
    elif isinstance(node, ast.Continue) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    ):
        yield ast.copy_location(ast.Pass(), node)


def _where(tree: ast.AST) -> dict[int, str]:
    """Of every node (by id) the function or the constant it stands in."""
    out: dict[int, str] = {}

    def walk(node: ast.AST, inside: str, function: bool) -> None:
        for child in ast.iter_child_nodes(node):
            name, deep = inside, function
            if not function:
                if isinstance(child, ast.FunctionDef | ast.ClassDef):
                    name = f"{inside}.{child.name}".strip(".")
                    deep = isinstance(child, ast.FunctionDef)
                elif isinstance(child, ast.Assign | ast.AnnAssign) and isinstance(node, ast.Module):
                    target = child.targets[0] if isinstance(child, ast.Assign) else child.target
                    name, deep = getattr(target, "id", ""), True
            out[id(child)] = name
            walk(child, name, deep)

    walk(tree, "", False)
    return out


class _Put(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.old:
            return self.new
        return self.generic_visit(node)


def generated(module: str) -> list[Mutant]:
    """All small changes of a module (``assessment/gas``), in the order of its text."""
    text = (PACKAGE / f"{module}.py").read_text(encoding="utf-8")
    tree = ast.parse(text)
    places = _where(tree)
    out = []
    for site, node in enumerate(_sites(tree)):
        function = places.get(id(node), "")
        line = getattr(node, "lineno", 0) or getattr(getattr(node, "target", None), "lineno", 0)
        for nth, new in enumerate(_changed(node)):
            before, after = ast.unparse(node), ast.unparse(new)
            if function and before != after:
                out.append(Mutant(module, line, function, before, after, site=(site, nth)))
    return out


def source_of(mutant: Mutant) -> str:
    """The whole text of the module with the change made."""
    text = (PACKAGE / f"{mutant.module}.py").read_text(encoding="utf-8")
    if mutant.site is None:
        before, after = NAMED[mutant.name][1:]
        return text.replace(before, after)
    tree = ast.parse(text)
    site, nth = mutant.site
    node = _sites(tree)[site]
    new = list(_changed(node))[nth]
    if "lineno" in node._attributes:
        ast.copy_location(new, node)
    return ast.unparse(ast.fix_missing_locations(_Put(node, new).visit(tree)))


def _sites(tree: ast.Module) -> list[ast.AST]:
    visitor = _Sites()
    for node in tree.body:
        visitor.visit(node)
    return visitor.found


def named(module: str = "") -> list[Mutant]:
    """The changes that once went unseen (``NAMED``); ``module`` limits them.

    Raises ValueError when the text of one is not found exactly once.
    """
    out = []
    for name, (where, before, after) in NAMED.items():
        if module not in {"", where}:
            continue
        text = (PACKAGE / f"{where}.py").read_text(encoding="utf-8")
        if text.count(before) != 1:
            raise ValueError(f"{name}: stands {text.count(before)} times in {where}.py: {before}")
        line = text[: text.index(before)].count("\n") + 1
        tree = ast.parse(text)
        places = _where(tree)
        function = next(
            places[id(n)] for n in ast.walk(tree)
            if getattr(n, "lineno", 0) == line and places.get(id(n)) and not isinstance(n, ast.ClassDef)
        )  # fmt: skip
        shown = [" ".join(part.split()) for part in (before, after)]
        out.append(Mutant(where, line, function, shown[0], shown[1], name=name))
    return out


# name -> (part of the package, what stands there, what is put there)
NAMED: dict[str, tuple[str, str, str]] = {
    "electrolysis gas over working time": (
        "assessment/room_air",
        "minutes = reacts or times.hands_on_min\n    elif not any",
        "minutes = times.hands_on_min or reacts\n    elif not any",
    ),
    "collected gas fills the room": (
        "assessment/gas",
        "formula, (moles - kept) * LITRES_PER_MOLE / batches,",
        "formula, moles * LITRES_PER_MOLE / batches,",
    ),
    "mildest limit": (
        "assessment/exposure",
        "least = min((v for v in (limits.eight_hours, limits.short, limits.ceiling) if v), default=None)",
        "least = max((v for v in (limits.eight_hours, limits.short, limits.ceiling) if v), default=None)",
    ),
    "first batch of what perishes": (
        "assessment/perishables", "for j in range(1, mine + 1):", "for j in range(1, 2):",
    ),
    "heat given counts as heating": (
        "assessment/heat", "take_up = max(reaction.enthalpy_kJ, 0.0)",
        "take_up = reaction.enthalpy_kJ",
    ),
    "heat of dissolving dropped": (
        "assessment/heat", "-(reaction.at_25_kJ + first.heat_kJ)", "-reaction.at_25_kJ",
    ),
    "acute cut-off 10 %": ("hazards/mixture", "if percent < 1:", "if percent < 10:"),
    "raised from 0": ("hazards/score", "1 <= heat.points < 4", "0 <= heat.points < 4"),
    "co-products count as lost": (
        "choice/bounds", "share = step.recovered.get(part.substance, 0.0)", "share = 0.0",
    ),
    "a further weight overwrites": (
        "journal/book", '"grams": before["grams"] + data["grams"]', '"grams": data["grams"]',
    ),
    "auxiliaries per turn": (
        "vessel/amounts", "moles = aid.mass_g * limiting_mol /", "moles = aid.mass_g * turns /",
    ),
    "nothing on the shelf is something": (
        "vessel/supplied", "last = 2 if supply.amount_g == 0 else",
        "last = 2 if supply.amount_g is None else",
    ),
    "water is not spared": ("library/pot", "return min(own + loose_g, called_g)", "return 0.0"),
    "gas main product left over": (
        "vessel/outcomes",
        'if over < 1e-9 * made or step.main.state == "g" else over',
        "if over < 1e-9 * made else over",
    ),
    "front without rounding": (
        "search/front",
        "v = tuple(rounded(x) for x in vector(ids))",
        "v = tuple(x for x in vector(ids))",
    ),
}  # fmt: skip
