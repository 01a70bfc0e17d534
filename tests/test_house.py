"""The house rules: imports run one way, every outside library has its door, help is cheap."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import routefinder

PACKAGE = Path(routefinder.__file__).parent
ORDER = [
    "disclaimer", "errors", "hidden", "files", "tables", "units", "digits", "listing", "chem", "records", "library", "hazards", "graph",
    "search", "vessel", "assessment", "analysis", "choice", "worksheet", "results", "asking", "journal", "view", "api",
    "cli", "page", "__main__",
]  # fmt: skip
DOORS = {
    "networkx": {"graph"},
    "pydantic": {"records", "library"},
    "pint": {"units"},
    "graphviz": {"view"},
    "yaml": {"library"},
    "chemicals": {"chem"},
    "rich": {"view"},
    "jinja2": {"view"},
    "markupsafe": {"view"},
    "matplotlib": {"view"},
    "typer": {"cli"},
    "platformdirs": {"library"},
    "sqlite3": {"journal"},
    "scipy": set(),
    "pandas": set(),
    "highspy": {"search"},
    "cobra": {"graph"},
    "numba": {"search"},
}
HEAVY = (
    "networkx",
    "pint",
    "graphviz",
    "numpy",
    "rich",
    "pydantic",
    "yaml",
    "chemicals",
    "highspy",
    "jinja2",
    "matplotlib",
)


def room(path: Path) -> str:
    relative = path.relative_to(PACKAGE)
    return relative.parts[0].removesuffix(".py")


def imports(path: Path):
    """(module, line) of every import, those inside functions and those for types included.

    ``from a import b`` is "a.b": b may be a module.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno} uses a relative import"
            for name in node.names:
                yield f"{node.module}.{name.name}", node.lineno


def offences(files):
    """Every import against the order of the rooms or through no door."""
    out = []
    for path in files:
        here = room(path)
        for module, line in imports(path):
            top = module.split(".")[0]
            if top == "routefinder":
                there = module.split(".")[1] if "." in module else "the package root"
                if there not in ORDER or here not in ORDER:
                    out.append(f"{path}:{line} {here} imports {there}, no room of the house")
                elif ORDER.index(there) > ORDER.index(here):
                    out.append(f"{path}:{line} {here} imports {there}")
            elif top in DOORS and here not in DOORS[top]:
                out.append(f"{path}:{line} {here} imports {top}")
    return out


def package_files():
    return [p for p in PACKAGE.rglob("*.py") if p.name != "__init__.py" or p.parent != PACKAGE]


def test_imports_run_one_way_and_through_doors():
    """No room imports a room to its right, and outside libraries enter by their doors."""
    assert offences(package_files()) == []


def test_the_rule_trips(tmp_path, monkeypatch):
    """The check above can fail: a view that imports networkx, units that import cli."""
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path)
    (tmp_path / "view").mkdir()
    (tmp_path / "view" / "bad.py").write_text("def f():\n    import networkx\n")
    (tmp_path / "units.py").write_text("from routefinder.cli import main\n")
    found = offences(sorted(tmp_path.rglob("*.py")))
    assert len(found) == 2


def sources() -> dict[str, set[str]]:
    """Module -> the modules of the package that it imports, wherever the import stands."""
    names = {
        "routefinder." + ".".join(p.relative_to(PACKAGE).with_suffix("").parts): p
        for p in package_files()
        if p.name != "__init__.py"
    }
    out = {}
    for name, path in names.items():
        found = {module for module, _ in imports(path)}
        # `from a.b import c`: c may be a module, or something that a.b holds
        out[name] = {m for f in found for m in (f, f.rpartition(".")[0]) if m in names}
    return out


def rings(sources: dict[str, set[str]]) -> list[list[str]]:
    """Modules that import one another in a ring; ``sources`` is module -> what it imports."""
    import networkx

    graph = networkx.DiGraph((a, b) for a, found in sources.items() for b in found & set(sources))
    return [sorted(c) for c in networkx.strongly_connected_components(graph) if len(c) > 1]


def test_no_rings():
    """No module imports itself, however far round; imports in functions and for types count."""
    known = sources()
    assert len(known) > 150
    assert len(known["routefinder.api.find"]) > 8
    assert "routefinder.digits" in known["routefinder.journal.decide"]
    assert rings(known) == []
    assert rings({"a": {"b"}, "b": {"c", "math"}, "c": {"a"}}) == [["a", "b", "c"]]


def test_a_ring_in_hiding_is_seen(tmp_path, monkeypatch):
    """An import inside a function or for types closes a ring just as well; so for the way."""
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path)
    (tmp_path / "view").mkdir()
    (tmp_path / "view" / "a.py").write_text("from routefinder.view.b import thing\n")
    hidden = "if TYPE_CHECKING:\n    from routefinder.view import a\n"
    (tmp_path / "view" / "b.py").write_text(hidden)
    assert rings(sources()) == [["routefinder.view.a", "routefinder.view.b"]]
    (tmp_path / "view" / "b.py").write_text("def f():\n    from routefinder.view.a import x\n")
    assert rings(sources()) == [["routefinder.view.a", "routefinder.view.b"]]
    (tmp_path / "view" / "b.py").write_text(hidden.replace("view", "api"))
    assert offences(package_files()) == [f"{tmp_path / 'view' / 'b.py'}:2 view imports api"]


def test_every_module_can_be_imported():
    """With what is installed for the tests."""
    modules = [
        "routefinder." + ".".join(p.relative_to(PACKAGE).with_suffix("").parts)
        for p in package_files()
        if p.name not in {"__init__.py", "__main__.py"}
    ]
    code = "import importlib, sys\nfor name in sys.argv[1:]: importlib.import_module(name)"
    done = subprocess.run(
        [sys.executable, "-c", code, *modules], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("statement", ["import routefinder", "import routefinder.cli.main"])
def test_heavy_libraries_are_lazy(statement):
    """Importing the package or the command line loads no heavy library."""
    code = f"import sys\n{statement}\nprint([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_public_names():
    """The public names are these, and all of them load."""
    assert routefinder.__all__ == sorted(routefinder.__all__)
    for name in routefinder.__all__:
        assert getattr(routefinder, name) is not None
    with pytest.raises(AttributeError, match="no attribute"):
        routefinder.nonsense  # noqa: B018


def test_every_public_function_has_a_docstring():
    """Functions and classes without a leading underscore say what they do."""
    bare = []
    for path in package_files():
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            public = isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name[0] != "_"
            if public and not ast.get_docstring(node):
                bare.append(f"{path.name}:{node.name}")
    assert bare == []


def silent_raisers(tree: ast.Module) -> list[str]:
    """Public functions with a ``raise`` of their own that their docstring does not speak of."""

    def own(node: ast.AST):
        for part in ast.iter_child_nodes(node):
            if not isinstance(part, ast.FunctionDef | ast.Lambda | ast.ClassDef):
                yield part
                yield from own(part)

    functions = [n for n in tree.body if isinstance(n, ast.FunctionDef)]
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name[0] != "_":
            functions += [m for m in node.body if isinstance(m, ast.FunctionDef)]
    out = []
    for function in functions:
        validator = any("validator" in ast.dump(d) for d in function.decorator_list)
        raised = [
            ast.unparse(n.exc).split("(")[0]
            for n in own(function)
            if isinstance(n, ast.Raise) and n.exc
        ]
        raised = [r for r in raised if r[0].isupper() and r != "AssertionError"]
        says = ast.get_docstring(function) or ""
        spoken = any(word in says for word in ("aise", "efuse", "InputError"))
        if function.name[0] != "_" and raised and not validator and not spoken:
            out.append(function.name)
    return out


def test_what_is_raised_is_said():
    """The docstring of a public function names its errors; a command's are sentences to the user."""
    found = {
        f"{path.relative_to(PACKAGE)}:{name}"
        for path in package_files()
        if not path.name.endswith(("_commands.py", "_command.py"))
        and path.parent.name + path.name != "climain.py"
        for name in silent_raisers(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == set()
    bad = "def f():\n    'Does.'\n    if x:\n        raise InputError('x')\n"
    assert silent_raisers(ast.parse(bad)) == ["f"]
    assert silent_raisers(ast.parse(bad.replace("Does.", "Does. Raises InputError."))) == []


def test_every_room_says_what_it_is():
    """The package docstrings of the rooms, and of every file."""
    bare = [
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert bare == []


# data without a sentence: their words are made in view (heat_words, gas_words, air_words, time_words)
WORDLESS = (
    "assessment/exposure.py", "assessment/furnace.py", "assessment/gas.py", "assessment/heat.py",
    "assessment/heater.py", "assessment/list_schedule.py", "assessment/reaction_heat.py",
    "assessment/room_air.py", "assessment/schedule.py", "assessment/time.py",
    "assessment/warming.py", "vessel/amounts.py", "vessel/durations.py", "vessel/flow.py",
    "vessel/outcomes.py", "vessel/stages.py", "vessel/water.py",
    "worksheet/bench_work.py", "worksheet/plan.py",
)  # fmt: skip
SENTENCE_WORDS = 4
WORD = re.compile(r"[A-Za-z]{2,}")


def sentences(tree: ast.Module) -> list[str]:
    """Texts of several words that could reach output: no docstring, error or pattern."""
    nodes = list(ast.walk(tree))
    apart: set[int] = set()
    for node in nodes:
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
            apart.add(id(body[0].value))
        pattern = isinstance(node, ast.Call) and ast.unparse(node.func).startswith("re.")
        if pattern or isinstance(node, ast.Raise | ast.Assert):
            apart |= {id(n) for n in ast.walk(node)}
        if isinstance(node, ast.JoinedStr):
            apart |= {id(n) for n in node.values}
    out = []
    for node in nodes:
        parts = node.values if isinstance(node, ast.JoinedStr) else [node]
        text = " ".join(p.value for p in parts if isinstance(p, ast.Constant)
                        and isinstance(p.value, str))  # fmt: skip
        if id(node) not in apart and len(WORD.findall(text)) >= SENTENCE_WORDS:
            out.append(text)
    return out


def test_facts_are_apart_from_words():
    """Heat, gas, air, time and the vessel give terms with values; nobody there makes a sentence."""
    said = {
        name: found
        for name in WORDLESS
        if (found := sentences(ast.parse((PACKAGE / name).read_text(encoding="utf-8"))))
    }
    assert said == {}
    trip = "def f(x):\n    'Does it.'\n    return f'{x} must be watched until it has cooled'\n"
    assert sentences(ast.parse(trip)) == [" must be watched until it has cooled"]
    assert sentences(ast.parse("raise E('this is what the user has to do')")) == []


def read_from_both(tree):
    """Lines that read ``.output``: stdout and stderr in one, where the progress ticker speaks too.

    As what is shown when an exit code is wrong it may stand.
    """
    shown = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.Assert) and node.msg is not None
        and "exit_code" in ast.unparse(node.test)
        for part in ast.walk(node.msg)
    }  # fmt: skip
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "output" and id(node) not in shown
    ]


def test_no_test_reads_stdout_and_stderr_in_one():
    """``.stdout`` or ``.stderr``: what a slow machine says while it works breaks no test."""
    found = [
        f"{path.name}:{line}"
        for path in sorted(Path(__file__).parent.glob("*.py"))
        for line in read_from_both(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert found == []
    assert read_from_both(ast.parse("assert 'a' in done.output")) == [1]
    assert read_from_both(ast.parse("assert done.exit_code == 0, done.output")) == []
