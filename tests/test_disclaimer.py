"""The sentence that defers to local rules stands in everything that leaves the program.

Every command and every kind of file is listed here against the program's own lists, so that a new
one cannot be forgotten: it makes the first test fail until it is tried too.
"""

from __future__ import annotations

import html
import json
import re
import shlex
import stat
import sys
import xml.etree.ElementTree as ET

import pytest
import typer

import routefinder as rf
from routefinder.cli.main import app
from routefinder.disclaimer import DISCLAIMER
from routefinder.view import diagram, plan_files

ASK = "'copper(II) acetate monohydrate' --amount '250 g' {studio}"
SHELF = "--shelf {folder}/shelf.csv --bench {folder}/bench.yaml --library {folder}/reactions"
NETWORK = "id,reactants,products,cost\nburn,stone,lime + gas,5\n"
WISHED = "name,formula,cas\nphlogiston,,\n"
STEP = "dissolve-chalk-in-acetic-acid"

# command -> what is run; {new} is a file that is not there yet
RUNS: dict[str, tuple[str, ...]] = {
    "find": (
        ASK, f"{ASK} --json", f"{ASK} --diagram {{new}}.svg", f"{ASK} --save {{new}}.yaml",
        f"{ASK} --max-temperature '20 degC' --max-steps 1",
        "lime --network {network} --have stone", "lime --network {network} --have stone --json",
        "lime --network {network} --have gas",
    ),
    "draw": (
        *(f"{ASK} --to {{new}}.{kind}" for kind in diagram.FORMATS),
        f"{ASK} --route 1 --to {{new}}.svg",
    ),
    "demo": (
        "--to {empty}", "--json --to {empty}", "--copy {root}/copied",
        "--json --copy {root}/copied-too",
    ),
    "compare": (
        f"{ASK} --top 2 --json --to {{new}}.html --plot {{new}}.png",
        f"{ASK} --top 2 --to {{new}}.dot --plot {{new}}.svg",
        *(f"{ASK} --top 2 --to {{new}}.{kind}" for kind in ("svg", "png")),
    ),
    "plan": (
        ASK, f"{ASK} --json", f"{ASK} --explain mass:1", f"{ASK} --explain mass:1 --json",
        f"{ASK} --try-first", f"{ASK} --try-first --json",
        f"{ASK} {' '.join(f'--to {{new}}{kind}' for kind in plan_files.ENDINGS)}",
    ),
    "unlock": (f"{ASK} --most 1 --top 1 --seconds 1", f"{ASK} --most 1 --top 1 --seconds 1 --json"),
    "look": (
        STEP, "--shelf {folder}/shelf.csv", "--shelf {folder}/shelf.csv --json", "gypsum --json",
        "'hydrogen cyanide'", "'hydrogen cyanide' --json",
    ),
    "weigh": (
        "burn-whiting-to-quicklime --in '100 g' --out '60 g'",
        "burn-whiting-to-quicklime --in '100 g' --out '60 g' --json",
    ),
    "test": (
        "burn-whiting-to-quicklime", "burn-whiting-to-quicklime --json",
        "burn-whiting-to-quicklime ignition", "burn-whiting-to-quicklime ignition --json",
        "'caustic soda' alkali", "'caustic soda' --json", "'caustic soda'",
        "'caustic soda' alkali --read '10.00 g, 35.6 mL, 0.500 mol/L'",
        "'caustic soda' alkali --read '10.00 g, 35.6 mL, 0.500 mol/L' --json",
    ),
    "reckon": ("'Cu in CuSO4'", "'Cu in CuSO4' --json"),
    "check": ("{folder}/reactions --json", "--coverage {wished}", "--coverage {wished} --json"),
    "log start": (f"{ASK} --route 4 {{journal}}",),
    "log weigh": ("1 --in '401.7 g' --of 'root killer' --no-shelf --out '100 g' {journal}",),
    "log show": ("{journal}", "1 {journal}", "1 --json {journal}"),
    "log today": ("{journal}",),
    "log strength": ("1 '90 %' {journal}",),
    "log test": (
        "1 'iodometry, 0.50 g, 45 mL, 0.100 mol/L' {journal}",
        "1 'iodometry, 0.50 g, 45 mL, 0.100 mol/L' --json {journal}",
    ),
    "log yields": ("{journal}", "--json {journal}", "--plot {new}.svg {journal}"),
    "log replan": ("{journal}", "--json {journal}"),
    "log report": ("1 {journal}", "1 --to {new}.html {journal}", "1 --to {new}.md {journal}"),
    "log export": ("{new}.json {journal}", "{new}.csv {journal}"),
}  # fmt: skip
# they only say back what was just written down, and nothing of a step, a route or a substance
ACKNOWLEDGE = {
    "log keep", "log begin", "log end", "log temp", "log note", "log photo", "log fail",
    "log finish", "log correct", "log import", "log gone", "log undo", "new step", "new substance", "new material",
}  # fmt: skip
WRITES = {"--to", "--diagram", "--plot", "--save", "--json", "--explain", "--network", "--coverage"}


def leaves(command, path=""):
    """Every command by its words."""
    if hasattr(command, "commands"):
        return {
            name: found
            for word, each in command.commands.items()
            for name, found in leaves(each, f"{path} {word}".strip()).items()
        }
    return {path: command}


def says(text: str) -> bool:
    """Whether the sentence stands in a text, however it is wrapped or escaped."""
    plain = html.unescape(re.sub(r"</?[a-z][^>]*>", " ", text))
    plain = plain.replace("\\n", " ").replace("\\", "")
    return DISCLAIMER in " ".join(plain.split())


def in_svg(text: str) -> bool:
    """Whether an SVG shows it: as text that stands on the drawing."""
    lines = ["".join(e.itertext()) for e in ET.fromstring(text).iter() if e.tag.endswith("}text")]
    return says(" ".join(lines))


def placed_words(dot: str) -> str:
    """The words of a drawing that is handed to Graphviz as xdot operations: "T x y -1 w n -words"."""
    whole = dot.replace('"\n + "', "")
    found = re.finditer(r"T \S+ \S+ -1 \S+ (\d+) -", whole)
    return " ".join(whole[m.end() : m.end() + int(m[1])] for m in found)


@pytest.fixture(scope="module")
def places(tmp_path_factory, studio):
    """Files that the commands read, and where they may write."""
    folder = tmp_path_factory.mktemp("said")
    (folder / "net.csv").write_text(NETWORK, encoding="utf-8")
    (folder / "wished.csv").write_text(WISHED, encoding="utf-8")
    (folder / "empty").mkdir()
    browser = folder / "bin" / "chromium"  # prints the page as it stands
    browser.parent.mkdir()
    browser.write_text(
        f"#!{sys.executable}\nimport sys, urllib.request, pathlib\n"
        "out = next(a for a in sys.argv if a.startswith('--print-to-pdf='))\n"
        "page = urllib.request.urlopen(sys.argv[-1]).read()\n"
        "pathlib.Path(out.split('=', 1)[1]).write_bytes(page)\n"
    )
    browser.chmod(browser.stat().st_mode | stat.S_IEXEC)
    shelf = SHELF.format(folder=studio)
    return {
        "root": folder, "folder": studio, "studio": shelf, "network": folder / "net.csv",
        "wished": folder / "wished.csv", "empty": folder / "empty", "bin": browser.parent,
        "journal": f"--journal {folder / 'journal.sqlite'}",
    }  # fmt: skip


def test_every_command_and_every_kind_of_file_is_tried():
    """Each command is run below or only acknowledges; each of its options that write is used."""
    every = leaves(typer.main.get_command(app))
    assert set(RUNS) | ACKNOWLEDGE == set(every)
    assert not set(RUNS) & ACKNOWLEDGE
    for name, runs in RUNS.items():
        options = {o for p in every[name].params for o in p.opts} & WRITES
        used = {word for line in runs for word in shlex.split(line) if word in WRITES}
        assert options <= used, name


@pytest.mark.parametrize("name", RUNS)
def test_every_output_says_it(name, places, call, monkeypatch):
    """The terminal, JSON as a field, and every file; a PNG by the drawing it is made from."""
    drawn: list[str] = []
    plain = diagram.render

    def render(dot, form, placed=False):
        drawn.append(placed_words(dot) if placed else dot)
        return plain(dot, form, placed)

    monkeypatch.setattr(diagram, "render", render)
    monkeypatch.setenv("PATH", str(places["bin"]), prepend=":")
    monkeypatch.setenv("ROUTEFINDER_JOURNAL", str(places["root"] / "journal.sqlite"))
    for i, line in enumerate(RUNS[name]):
        new = places["root"] / f"{name.replace(' ', '-')}-{i}"
        text = line.format(new=new, **{**places, "studio": places["studio"]})
        code, out, err = call(*name.split(), *shlex.split(text))
        assert code in {0, 1}, err
        written = [*places["root"].glob(f"{new.name}.*"), *places["empty"].iterdir()]
        assert "{new}" not in line or written, line
        if "--json" in text:
            assert json.loads(out)["disclaimer"] == DISCLAIMER, line
        elif name not in {"log export"} and not (written and name in {"plan", "log report"}):
            assert says(out), line
        for path in written:
            data = path.read_bytes()
            if path.suffix == ".svg":
                assert in_svg(data.decode()), path.name
            elif path.suffix == ".png":
                assert DISCLAIMER.encode() in data or any(says(dot) for dot in drawn), path.name
            elif path.suffix == ".json":
                assert json.loads(data)["disclaimer"] == DISCLAIMER, path.name
            elif path.suffix == ".yaml":
                assert says(data.decode().replace("#", "")), path.name
            else:
                assert says(data.decode()), path.name
            path.unlink()
        drawn.clear()


def test_what_python_gives_says_it(demo, shipped):
    """Notebook tables and pictures, DOT source, plain data, the networkx graph."""
    side = rf.compare(demo, [1, 2])
    for text in (
        demo._repr_html_(), side._repr_html_(), demo.dot(), side.dot(), demo.routes[0].dot(),
    ):  # fmt: skip
        assert says(text)
    for svg in (demo.routes[0]._repr_svg_(), side.bars()._repr_svg_()):
        assert in_svg(svg)
    for data in (demo.json(), side.json()):
        assert data["disclaimer"] == DISCLAIMER
    few = [shipped.steps[STEP]]
    assert rf.reaction_graph(shipped, few).graph["disclaimer"] == DISCLAIMER


def test_it_is_written_once():
    """One constant: no other file of the program spells the sentence out."""
    package = plan_files.Path(rf.__file__).parent
    words = "not permission and not an assurance"
    found = [p.name for p in package.rglob("*") if p.suffix in {".py", ".html"}
             and words in " ".join(p.read_text(encoding="utf-8").split())]  # fmt: skip
    assert found == ["disclaimer.py"]


def test_a_journal_written_as_csv_is_read_back(tmp_path, call, places):
    """The note at the end of the table is no entry."""
    journal = shlex.split(places["journal"])
    if not (places["root"] / "journal.sqlite").exists():
        pytest.skip("the runs above made no journal")
    out = tmp_path / "runs.csv"
    call("log", "export", out, *journal)
    code, said, err = call("log", "import", out, "--journal", tmp_path / "other.sqlite")
    assert (code, "taken in: run 1" in said) == (0, True), err
