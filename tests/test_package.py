"""What `import routefinder as rf` gives a program: names, short looks, faults in its own words."""

from __future__ import annotations

import ast
import json
from importlib.resources import files
from pathlib import Path

import pytest

import routefinder as rf
from routefinder.errors import FieldError, InputError

PACKAGE = Path(rf.__file__).parent
SHORT = 300  # letters of a repr


@pytest.fixture(scope="module")
def plan(demo):
    return rf.plan(demo, 1, room="30 m3")


@pytest.fixture(scope="module")
def opened(demo, studio):
    return rf.unlock(
        "copper(II) acetate monohydrate", "250 g", library=demo.library, most=1,
        shelf=studio / "shelf.csv", bench=studio / "bench.yaml",
    )  # fmt: skip


def test_everything_a_program_needs(demo):
    """Types are marked; the names are there; a loaded library gives the same answer."""
    assert files("routefinder").joinpath("py.typed").is_file()
    wanted = {"find", "unlock", "compare", "plan", "Library", "Question", "Shelf", "Bench",
              "errors", "__version__", "Answer", "Route", "Comparison", "Plan", "Unlocked"}  # fmt: skip
    assert wanted <= set(rf.__all__)
    assert rf.errors.InputError is InputError
    assert rf.__version__[0].isdigit()
    assert isinstance(demo, rf.Answer)
    assert isinstance(demo.routes[0], rf.Route)
    again = rf.find(demo.target.name, "250 g", library=demo.library, shelf=demo.question.shelf,
                    bench=demo.question.bench)  # fmt: skip
    assert [r.ids for r in again.routes] == [r.ids for r in demo.routes]


def test_nothing_floods_a_notebook(demo, plan, opened):
    """The repr of every result, and of what it is made of, is a line."""
    route = demo.routes[0]
    side = rf.compare(demo)
    things = [demo, route, plan, side, opened, demo.library, demo.question, demo.question.shelf,
              demo.question.bench, route.assessment, route.assessment.amounts, plan.steps[0],
              route.assessment.amounts.steps[0], route.assessment.steps[0]]  # fmt: skip
    for thing in things:
        assert len(repr(thing)) < SHORT, type(thing)
        assert "\n" not in repr(thing)
        assert type(thing).__name__.removeprefix("Shown") in repr(thing).replace(
            "Step ", "ResolvedStep "
        )
    assert len(repr(demo.routes)) < SHORT * len(demo.routes)
    assert len(repr(opened.openings)) < 20_000


def test_print_is_short_and_says_what_counts(demo, plan):
    """An answer in two lines a route; a plan and a comparison as the terminal shows them."""
    text = str(demo)
    assert len(text.splitlines()) <= 2 * len(demo.routes) + 2
    assert all(r.name in text for r in demo.routes)
    assert "250 g" in text
    assert "yield" in str(demo.routes[0])
    assert plan.name.split(" → ")[-1] in " ".join(str(plan).split())
    assert str(rf.compare(demo)).count("\n") > 10
    assert "<pre>" in plan._repr_html_()
    none = rf.find("gold", library=demo.library) if "gold" in demo.library.substances else None
    assert none is None or "No route" in str(none)


def test_a_plan_writes_itself(plan, tmp_path):
    """As data, and as a file that is not written over by accident."""
    path = plan.write(tmp_path / "plan.json")
    assert json.loads(path.read_text(encoding="utf-8")) == json.loads(json.dumps(plan.json()))
    with pytest.raises(FieldError, match=r"write over it with force$"):
        plan.write(path)
    plan.write(path, force=True)
    assert plan.write(str(tmp_path / "plan.md")).read_text(encoding="utf-8").startswith("#")


BAD = {
    "number": lambda a: a.plan("1"), "no route 99": lambda a: a.plan(99),
    "'hour'; did you mean 'hours'": lambda a: a.plan(1, hour="9 to 17"),
    "room is 30": lambda a: a.plan(1, room=30), "air_changes goes with room": lambda a: a.plan(1, air_changes=2),
    "hourly is 'x'": lambda a: a.plan(1, hourly="x"), "heater is 5": lambda a: a.plan(1, heater=5),
    "fill '9'": lambda a: a.plan(1, fill="9"), "fill names '9'": lambda a: a.plan(1, fill="9=80 %"),
    "confidence": lambda a: a.plan(1, confidence=[]), "hours is 9": lambda a: a.plan(1, hours=9),
    "energy": lambda a: a.plan(1, energy_price=[]), "path is 3": lambda a: a.diagram(3),
    "routes is '12'": lambda a: rf.compare(a, "12"), "routes names '1'": lambda a: rf.compare(a, ["1"]),
    "no route 99 to": lambda a: rf.compare(a, [99]), "measures is 3": lambda a: rf.compare(a, measures=3),
    "prefer is 3": lambda a: rf.compare(a, prefer=3), "draws is 0": lambda a: rf.compare(a, draws=0),
    "price_factor is 'x'": lambda a: rf.compare(a, price_factor="x"),
    "answer is str": lambda a: rf.compare("x"), "answer is NoneType": lambda a: rf.plan(None),
    "most is 9": lambda a: rf.unlock("x", most=9), "libraries is 3": lambda a: rf.find("x", libraries=3),
    "journal is 3": lambda a: rf.find("CaO", library=a.library, journal=3),
    "unknown measure": lambda a: rf.compare(a).tradeoff("beauty"),
}  # fmt: skip


@pytest.mark.parametrize("says", BAD)
def test_every_wrong_argument_is_an_input_error(demo, says):
    """One sentence, no option of the command line, no AttributeError, nothing letter by letter."""
    with pytest.raises(InputError) as caught:
        BAD[says](demo)
    assert says in str(caught.value)
    assert "--" not in str(caught.value)


def test_one_text_is_one_fill_and_one_number_one_route(demo):
    """What stands alone need not be a list."""
    assert rf.compare(demo, 2).routes == (demo.routes[1],)
    a, b = (demo.plan(1, fill=fill) for fill in ("1=80 %", ["1=80 %"]))
    assert a.terms == b.terms


def options_in_faults(tree: ast.AST) -> list[int]:
    """Lines of `raise` whose sentence names an option of the command line."""
    return [
        part.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise)
        for part in ast.walk(node)
        if isinstance(part, ast.Constant) and isinstance(part.value, str)
        and "--" in part.value and "python -m" not in part.value
    ]  # fmt: skip


def test_no_fault_names_an_option_outside_the_command_line():
    """Fields are named by ``FieldError``, which says them as the caller does."""
    found = {
        f"{path.relative_to(PACKAGE)}:{line}"
        for path in PACKAGE.rglob("*.py")
        if path.parent.name != "cli"
        for line in options_in_faults(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == set()
    assert options_in_faults(ast.parse("raise X(f'--top is {n}')")) == [1]


# one name for two things, still: of the hazards and of the vessel's room
TWICE = {"Way", "Reason", "Verdict", "Known", "Charge", "InPot", "Found"}


def test_one_name_means_one_thing():
    """No two public classes bear one name, but for those listed: make the list shorter."""
    homes: dict[str, list[str]] = {}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and node.name[0] != "_":
                homes.setdefault(node.name, []).append(str(path.relative_to(PACKAGE)))
    twice = {name: where for name, where in homes.items() if len(where) > 1}
    assert len(homes) > 200
    assert {name: where for name, where in twice.items() if name not in TWICE} == {}
