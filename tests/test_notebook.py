"""The notebook in ``examples`` runs from top to bottom, and each of its last lines shows itself."""

from __future__ import annotations

import ast
import json

from routefinder.library.where import examples

TOUR = examples() / "tour.ipynb"


def test_the_tour_runs(monkeypatch, capsys):
    """Cell by cell in one namespace, as a notebook does; what a cell ends with is short to look at."""
    book = json.loads(TOUR.read_text(encoding="utf-8"))
    assert book["nbformat"] == 4
    assert not any(c.get("outputs") for c in book["cells"])  # kept without what it printed
    monkeypatch.chdir(TOUR.parent)
    names: dict[str, object] = {}
    shown = []
    for cell in book["cells"]:
        if cell["cell_type"] != "code":
            continue
        tree = ast.parse("".join(cell["source"]))
        last = tree.body[-1]
        if isinstance(last, ast.Expr):
            tree.body.pop()
        exec(compile(tree, TOUR.name, "exec"), names)
        if isinstance(last, ast.Expr):
            shown.append(eval(compile(ast.Expression(last.value), TOUR.name, "eval"), names))
    assert len(shown) >= 7
    for value in shown:
        if value is not None:  # a call that prints
            drawn = getattr(value, "_repr_svg_", None) or getattr(value, "_repr_html_", None)
            assert drawn is None or drawn()
            assert 0 < len(repr(value)) < 4_000
    printed = capsys.readouterr().out
    assert "crystallise-copper-ii-acetate" in printed
    assert "nan" not in printed.lower()


def test_no_library_of_its_own():
    """What the notebook imports is there with a plain installation."""
    book = json.loads(TOUR.read_text(encoding="utf-8"))
    for cell in book["cells"]:
        if cell["cell_type"] == "code":
            for node in ast.walk(ast.parse("".join(cell["source"]))):
                if isinstance(node, ast.Import):
                    assert {n.name for n in node.names} == {"routefinder"}
                if isinstance(node, ast.ImportFrom):
                    assert node.module == "pathlib"
