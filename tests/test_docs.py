"""The documentation pages: links lead somewhere, commands exist, the reference misses nothing."""

from __future__ import annotations

import importlib.util
import re
import shlex
from pathlib import Path

import pytest
import typer

import routefinder as rf
from routefinder.asking.fields import FIELDS
from routefinder.assessment.measure import MEASURES
from routefinder.cli.main import app
from routefinder.disclaimer import DISCLAIMER
from routefinder.library.schema import schemas

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
MADE = {DOCS / "reference" / f"{name}.md" for name in ("commands", "files", "measures", "python")}
PAGES = sorted({*DOCS.rglob("*.md")} - MADE)
WRITTEN = [*PAGES, ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / ".github").rglob("*.md")]


@pytest.fixture(scope="module")
def made():
    spec = importlib.util.spec_from_file_location("made", DOCS / "made.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def leaves(made):
    return dict(made.leaves(typer.main.get_command(app)))


def test_every_page_is_in_the_contents():
    """The index lists every page, and lists none that is not there."""
    listed = re.findall(r"(?m)^((?:howto|explain|reference)/\w[\w-]*|tutorial)$",
                        (DOCS / "index.md").read_text(encoding="utf-8"))  # fmt: skip
    there = {p.relative_to(DOCS).with_suffix("").as_posix() for p in PAGES} - {"index"}
    assert set(listed) == there | {f"reference/{page.stem}" for page in MADE}


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(page):
    """Every relative link is a file, or a page that is made when the site is built."""
    for link in re.findall(r"\]\(([^)#\s]+)\)", page.read_text(encoding="utf-8")):
        target = (page.parent / link).resolve()
        assert link.startswith("http") or target.is_file() or target in MADE, link


@pytest.mark.parametrize("page", WRITTEN, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_commands_exist_with_their_options(page, leaves):
    """Each command line shown is a command, and each of its options is one of its options."""
    text = page.read_text(encoding="utf-8").replace("\\\n", " ")
    for line in re.findall(r"(?m)^    (?:\.venv/bin/)?routefinder (.+)$", text):
        words = shlex.split(line, comments=True)
        name = next((n for n in (" ".join(words[:2]), words[0]) if n in leaves), None)
        assert name is not None, line
        known = {o for p in leaves[name].params for o in (*p.opts, *p.secondary_opts)}
        used = {w for w in words if re.match(r"--?[a-z]", w)}
        assert used <= known | {"--help"}, line


def test_the_reference_misses_nothing(made, leaves):
    """Every command and option, key, field of a record, measure and name under rf stands in it."""
    commands = made.commands()
    for name, command in leaves.items():
        section = commands.split(f"\n## {name}\n")[1].split("\n## ")[0]
        for param in command.params:
            if param.param_type_name == "option":
                assert all(f"`{o}`" in section for o in (*param.opts, *param.secondary_opts)), name
    files = made.files()
    for kind, schema in schemas().items():
        section = files.split(f"\n## Library: {kind}\n")[1].split("\n## ")[0]
        for part in (schema["items"], *schema["$defs"].values()):
            for field in part.get("properties", {}):
                assert f"| `{field}` |" in section, (kind, field)
    for field in FIELDS:
        assert field.door == "command" or f"| `{field.key}` |" in files
    measures = made.measures()
    assert all(f"| `{kind.word}` |" in measures for kind in MEASURES.values())
    python = made.python()
    assert all(f"## rf.{name}\n" in python for name in rf.__all__ if name != "__version__")


def test_what_tells_of_routes_defers_to_local_rules():
    """The caution stands on the first page, the tutorial and the README."""
    for page in (DOCS / "index.md", DOCS / "tutorial.md", ROOT / "README.md"):
        text = " ".join(page.read_text(encoding="utf-8").lower().split())
        assert "not permission and not an assurance of safety" in text, page
        assert "qualified supervision decide" in text, page
    assert "not permission" in DISCLAIMER
