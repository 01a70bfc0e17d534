"""Files are read up to a limit and only when ordinary, written whole or not at all."""

from __future__ import annotations

import ast
import errno
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

import routefinder
from routefinder import files
from routefinder.errors import FileFault, InputError
from routefinder.library import shelf
from routefinder.library.read import read_yaml

PACKAGE = Path(routefinder.__file__).parent


def left(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


# --- reading -----------------------------------------------------------------------------------


@pytest.fixture
def specials(tmp_path):
    """Things with a name that are no ordinary files."""
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    plug = socket.socket(socket.AF_UNIX)
    plug.bind(str(tmp_path / "plug.csv"))
    (tmp_path / "link.csv").symlink_to("/dev/zero")
    yield [pipe, tmp_path / "plug.csv", tmp_path / "link.csv", Path("/dev/zero"), Path("/dev/null")]
    plug.close()


def test_special_files_are_refused_at_once(specials):
    """Nothing waits for the other end of a pipe, nothing reads a device without end."""
    signal.alarm(20)
    try:
        for path in specials:
            with pytest.raises(FileFault, match="no ordinary file"):
                files.read(path)
            with pytest.raises(FileFault, match="no ordinary file"):
                read_yaml(path)
            with pytest.raises(InputError, match="no ordinary file"):
                files.write(path, "x", force=True)
    finally:
        signal.alarm(0)
    assert all(os.path.lexists(p) for p in specials)


def test_every_door_refuses_a_pipe(call, specials, tmp_path):
    """Every option that names a file to read: one sentence, exit code 2, no waiting."""
    pipe = specials[0]
    (tmp_path / "pipe.json").symlink_to(pipe)
    (tmp_path / "pipe.xml").symlink_to(pipe)
    (tmp_path / "pipe.yaml").symlink_to(pipe)
    (tmp_path / "lib" / "steps").mkdir(parents=True)
    (tmp_path / "lib" / "steps" / "a.yaml").symlink_to(pipe)
    yaml = tmp_path / "pipe.yaml"
    doors = [
        ("find", "CuO", "--shelf", pipe),
        ("find", "CuO", "--bench", yaml),
        ("find", "--question", yaml),
        ("find", "x", "--network", pipe),
        ("find", "x", "--network", tmp_path / "pipe.json"),
        ("find", "x", "--network", tmp_path / "pipe.xml"),
        ("check", tmp_path / "lib"),
        ("log", "import", pipe, "--journal", tmp_path / "j.sqlite"),
        ("log", "import", tmp_path / "pipe.json", "--journal", tmp_path / "j.sqlite"),
        ("log", "show", "--journal", pipe),
        ("find", "CuO", "--journal", pipe),
        ("check", "--coverage", pipe),
        ("new", "step", "--answers", yaml),
    ]
    signal.alarm(120)
    try:
        for words in doors:
            code, out, err = call(*words)
            assert code in {1, 2}, (words, out, err)
            assert "no ordinary file" in out + err, (words, out, err)
    finally:
        signal.alarm(0)
    assert not (tmp_path / "j.sqlite").exists()


def test_what_lies_about_its_size(tmp_path):
    """A file of the kernel says that it is empty; a sparse one is refused by what is read of it."""
    said = Path("/proc/self/status")
    if said.exists():
        assert said.stat().st_size == 0
        assert len(files.read(said)) > 100
    big = tmp_path / "big"
    with big.open("wb") as file:
        file.truncate(3_000_000_000)
    with pytest.raises(FileFault, match=r"3000 MB; more than 20 MB is not read"):
        files.read(big)


def test_at_most_the_limit_and_one_byte_is_read(tmp_path):
    """However long a file says or does not say it is."""
    path = tmp_path / "a"
    path.write_bytes(b"x" * 5000)
    assert len(files.read(path, most=5000)) == 5000
    with pytest.raises(FileFault, match="is not read"):
        files.read(path, most=4999)
    code = (
        "import resource, sys; from pathlib import Path; from routefinder import files\n"
        "resource.setrlimit(resource.RLIMIT_AS, (600_000_000, 600_000_000))\n"
        "try: files.read(Path(sys.argv[1]))\n"
        "except files.FileFault as error: print(error)\n"
    )
    big = tmp_path / "big"
    with big.open("wb") as file:
        file.truncate(30_000_000_000)  # would not fit into the memory allowed
    done = subprocess.run([sys.executable, "-c", code, big], capture_output=True, text=True)
    assert "is not read" in done.stdout, done.stderr


def test_what_is_no_path(tmp_path):
    """A name with a zero byte, one too long, a file taken for a folder."""
    (tmp_path / "f").write_text("x")
    for path in (tmp_path / "f" / "g", tmp_path / ("n" * 300), Path("a\0b"), tmp_path):
        with pytest.raises(FileFault):
            files.read(path)
        with pytest.raises(InputError):
            files.write(path, "x")


# --- writing -----------------------------------------------------------------------------------


def test_written_whole_and_not_over_what_is_there(tmp_path):
    """Without ``force`` nothing is written over; with it the mode stays; a link is followed."""
    path = tmp_path / "a.txt"
    old = os.umask(0o027)
    try:
        assert files.write(path, "one") == path
    finally:
        os.umask(old)
    assert path.stat().st_mode & 0o777 == 0o640
    with pytest.raises(InputError, match=re.escape("a.txt is there already; write over it with")):
        files.write(path, "two")
    path.chmod(0o604)
    files.write(path, b"two", force=True)
    assert (path.read_text(), path.stat().st_mode & 0o777) == ("two", 0o604)
    link = tmp_path / "link"
    link.symlink_to(path)
    files.write(link, "three", force=True)
    assert link.is_symlink()
    assert path.read_text() == "three"
    assert left(tmp_path) == ["a.txt", "link"]


def test_one_of_two_writers_is_first(tmp_path, monkeypatch):
    """What appears between the look and the writing is not written over, hard links or not."""
    path = tmp_path / "a"
    monkeypatch.setattr(files, "check", lambda path, force=False: None)
    path.write_text("another's")
    with pytest.raises(InputError, match="there already"):
        files.write(path, "mine")

    def no_links(source, target):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    with pytest.raises(InputError, match="there already"):
        files.write(path, "mine")
    files.write(tmp_path / "b", "mine")
    assert path.read_text() == "another's"
    assert (tmp_path / "b").read_text() == "mine"
    assert left(tmp_path) == ["a", "b"]


def test_a_protected_file_stays(tmp_path):
    """Nothing is moved over a file that its owner protected (444); the user is told."""
    path = tmp_path / "a"
    path.write_text("keep")
    path.chmod(0o444)
    with pytest.raises(InputError, match="write-protected"):
        files.write(path, "new", force=True)
    assert (path.read_text(), path.stat().st_mode & 0o777) == ("keep", 0o444)
    assert left(tmp_path) == ["a"]


def test_full_disk(tmp_path):
    """No room: one sentence, the old file whole, nothing left beside it."""
    code = (
        "import resource, sys; from pathlib import Path; from routefinder import files\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "for name, force in (('a', True), ('b', False)):\n"
        "    try: files.write(Path(sys.argv[1]) / name, 'x' * 5000, force=force)\n"
        "    except files.InputError as error: print(error)\n"
    )
    (tmp_path / "a").write_text("old")
    done = subprocess.run([sys.executable, "-c", code, tmp_path], capture_output=True, text=True)
    assert done.stdout.count("cannot be written (File too large)") == 2, done.stderr
    assert left(tmp_path) == ["a"]
    assert (tmp_path / "a").read_text() == "old"


WRITER = """
import sys
from pathlib import Path
from routefinder import files
path = Path(sys.argv[1])
print("ready", flush=True)
for n in range(10**9):
    files.write(path, f"{n % 10}" * 400_000, force=True)
"""


def test_killed_writers_leave_a_whole_file_and_nothing_else(tmp_path):
    """Killed at any moment: the file is one of those written; the next writer cleans up."""
    path = tmp_path / "a.txt"
    for wait in range(8):
        child = subprocess.Popen([sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE)
        assert child.stdout is not None
        child.stdout.readline()
        while not path.exists():
            assert child.poll() is None
        for _ in range(wait):
            path.read_bytes()
        child.kill()
        child.wait()
        child.stdout.close()
        text = path.read_text()
        assert len(text) == 400_000
        assert len(set(text)) == 1
    files.write(path, "last", force=True)
    assert left(tmp_path) == ["a.txt"]


def test_a_living_writer_is_not_disturbed(tmp_path):
    """What another writer still holds is not cleaned away."""
    other = tmp_path / "a.txt"
    with files._unfinished(other, b"held", 0o600) as name:
        files.write(other, "mine")
        assert Path(name).read_bytes() == b"held"
    assert left(tmp_path) == ["a.txt"]


def test_several_files_together(tmp_path):
    """All or none, what was there comes back."""
    (tmp_path / "a").write_text("old")
    (tmp_path / "b").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        files.write_all({tmp_path / "a": "new", tmp_path / "b": "new"}, force=True)
    (tmp_path / "c").write_text("old")
    (tmp_path / "c").chmod(0o444)
    with pytest.raises(InputError, match="write-protected"):
        files.write_all({tmp_path / "a": "new", tmp_path / "c": "new"}, force=True)
    assert (tmp_path / "a").read_text() == "old"
    assert left(tmp_path) == ["a", "b", "c"]


# --- the law over the whole program --------------------------------------------------------------

ELSEWHERE = {  # what is written into a folder of one's own that is gone afterwards
    ("library/author.py", "copy2"), ("library/author.py", "write_text"),
    ("view/plan_files.py", "write_text"),
    ("journal/shelf_books.py", "write_bytes"),
    ("library/cache.py", "unlink"),  # its own of a week ago
    ("cli/main.py", "open"),  # the null device, when the output takes no more
    ("search/linear.py", "open"),  # the null device, for a solver that prints
}  # fmt: skip
WRITES = {"write_text", "write_bytes", "mkstemp", "NamedTemporaryFile", "replace", "rename", "link",
          "unlink", "copy", "copy2", "copyfile", "move", "remove", "rmtree", "truncate", "touch",
          "symlink"}  # fmt: skip
MODULES = {"os", "shutil", "tempfile"}


def writers(source: str) -> list[str]:
    """Calls that write, move or remove a file, or open one for writing."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        name, of = node.func.attr, node.func.value
        module = of.id if isinstance(of, ast.Name) else ""
        if name == "open" and module == "os":
            if "O_RDONLY" not in ast.unparse(node):
                found.append(name)
        elif name in {"open", "fdopen"}:
            mode = [
                a for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)
            ]
            if any(set(m.value) & set("wax+") for m in mode):
                found.append(name)
        elif name in {"write_text", "write_bytes", "unlink", "touch", "mkstemp"} or (
            name in WRITES and module in MODULES
        ):
            found.append(name)
    return found


def test_one_writer_for_every_file():
    """Nothing but ``files`` writes, moves or removes a file."""
    found = {
        (str(path.relative_to(PACKAGE)), name)
        for path in PACKAGE.rglob("*.py")
        if path != PACKAGE / "files.py"
        for name in writers(path.read_text(encoding="utf-8"))
    }
    assert found <= ELSEWHERE, found - ELSEWHERE
    assert writers("p.open('w'); p.write_text(x); os.replace(a, b); p.unlink()") == [
        "open", "write_text", "replace", "unlink",
    ]  # fmt: skip
    assert writers("p.open('rb'); text.replace(a, b); os.open(p, os.O_RDONLY)") == []


def test_no_command_writes_over_a_file_unasked(call, studio, tmp_path):
    """Every option that writes: a file that is there stays without --force, and goes with it."""
    ask = ["copper(II) acetate monohydrate", "250 g", "--shelf", studio / "shelf.csv", "--bench",
           studio / "bench.yaml", "--library", studio / "reactions"]  # fmt: skip
    journal = ["--journal", tmp_path / "j.sqlite"]
    assert call("log", "start", *ask, *journal)[0] == 0
    commands = [
        (["find", *ask, "--diagram"], ".dot"), (["find", *ask, "--save"], ".yaml"),
        (["draw", *ask, "--to"], ".dot"),
        (["compare", *ask, "--routes", "1,2", "--to"], ".html"),
        (["compare", *ask, "--routes", "1,2", "--to"], ".dot"),
        (["compare", *ask, "--routes", "1,2", "--plot"], ".png"),
        (["plan", *ask, "--to"], ".csv"),
        (["log", "report", "1", *journal, "--to"], ".md"),
        (["log", "export", *journal], ".json"),
    ]  # fmt: skip
    for words, ending in commands:
        path = tmp_path / f"mine{ending}"
        path.write_text("mine")
        code, out, err = call(*words, path)
        assert (code, path.read_text()) == (2, "mine"), (words, out, err)
        assert "is there already; write over it with --force" in err
        code, out, err = call(*words, path, "--force")
        assert code == 0, (words, out, err)
        assert path.read_bytes() != b"mine"
        path.unlink()
        assert call(*words, path)[0] == 0
        path.unlink()


def test_shelf_reader_uses_the_door(tmp_path, shipped):
    """The readers of tables go through the same door."""
    os.mkfifo(tmp_path / "s.csv")
    with pytest.raises(FileFault, match="no ordinary file"):
        shelf.read_shelf(tmp_path / "s.csv", shipped)
