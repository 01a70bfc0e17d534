"""What the README shows is what the tool prints and does."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"


@pytest.fixture(scope="module")
def readme():
    return README.read_text(encoding="utf-8")


def test_the_demo_in_the_readme_is_the_demo(call, tmp_path, monkeypatch, readme):
    """Every line of the block stands in the output, in the same order; "..." leaves some out."""
    monkeypatch.delenv("COLUMNS", raising=False)
    code, out, _ = call("demo", "--to", tmp_path)
    assert code == 0
    block = readme.split("The answer begins so")[1].split("Then come each step")[0]
    wanted = [line.strip() for line in block.splitlines()[1:] if line.strip() not in {"", "..."}]
    assert len(wanted) >= 11
    printed = iter([line.strip() for line in out.splitlines()])
    for line in wanted:
        assert line in printed, line


def test_the_question_in_the_readme_is_that_of_the_demo(call, tmp_path, monkeypatch, readme):
    """The commands, run as printed in an empty folder, give the answer that follows them."""
    import shlex

    monkeypatch.chdir(tmp_path)
    block = readme.split("## One question\n")[1].split("The answer begins so")[0]
    for words in re.findall(r"(?m)^    (routefinder (?:.*\\\n)*.*)$", block):
        code, out, _ = call(*shlex.split(words.replace("\\\n", " "))[1:])
        assert code == 0
    assert "These are all 6 routes within the limits (proven)." in out


def test_the_python_in_the_readme_runs(tmp_path, monkeypatch, readme):
    """The five lines run as they stand, and write what they say."""
    monkeypatch.chdir(tmp_path)
    code = readme.split("```python\n")[1].split("```")[0]
    given: dict[str, object] = {}
    exec(code, given)
    assert len(given["answer"].routes) == 3
    assert "<html" in (tmp_path / "plan.html").read_text(encoding="utf-8")


def test_it_is_short_and_its_links_lead_somewhere(readme):
    """At most 150 lines; every relative link and picture is a file of the project."""
    assert len(readme.splitlines()) <= 150
    links = re.findall(r"\]\(([^)#]+)\)", readme)
    assert len(links) > 10
    for link in links:
        assert (ROOT / link).is_file(), link


def test_as_an_index_page_it_has_no_dead_link(readme):
    """On a package index there are no files beside it: pictures go, links become plain paths."""
    made = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    hook = made["tool"]["hatch"]["metadata"]["hooks"]["fancy-pypi-readme"]
    for change in hook["substitutions"]:
        readme = re.sub(change["pattern"], change["replacement"], readme)
    assert not re.search(r"!?\[[^\]]*\]\((?!https?://)", readme)
    assert "your own steps (`docs/howto/own-step.md`)" in readme
