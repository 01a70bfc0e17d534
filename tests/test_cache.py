"""The cache of compiled libraries: never runs what it reads, finds flipped bits, shares nothing."""

from __future__ import annotations

import os
import pickle
import random
import subprocess
import sys
from pathlib import Path

import pytest

from routefinder.asking import library as of_library
from routefinder.asking.library import load_library
from routefinder.library import cache
from routefinder.library.library import Library


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A cache folder of this test alone."""
    found = tmp_path / "cache"
    monkeypatch.setenv("ROUTEFINDER_CACHE", str(found))
    return found


@pytest.fixture
def lib(make_library):
    return make_library(substances="- {id: zz, name: zz, formula: CuO, sources: from memory}\n")


def kept(folder: Path) -> Path:
    (found,) = folder.glob("library-*.cache")
    return found


def signed(content: bytes) -> bytes:
    """What a knowing attacker writes: the digest is no secret."""
    import hashlib

    return cache.HEAD + hashlib.blake2b(content, digest_size=32).digest() + content


class Bomb:
    """A pickle that runs a command when it is read."""

    def __init__(self, *call):
        self.call = call

    def __reduce__(self):
        return self.call[0], self.call[1:]


def test_what_is_kept_comes_back(folder, monkeypatch):
    """With everything that later rooms keep with it; so no class of a library is kept out."""
    monkeypatch.setattr(of_library, "_loaded", {})
    load_library()
    of_library._loaded.clear()  # another process: nothing is in memory
    assert folder.stat().st_mode & 0o777 == 0o700
    assert kept(folder).stat().st_mode & 0o777 == 0o600
    monkeypatch.setattr(cache, "load", lambda folders: pytest.fail("built anew"))
    assert load_library().prepared


def test_nothing_in_it_is_run(folder, lib, tmp_path):
    """Whatever a file with a right digest would call is not called."""
    cache.load_cached([lib], only=True)
    path = kept(folder)
    mark = tmp_path / "ran"
    for call in (
        (os.system, f"touch {mark}"), (eval, f"open({str(mark)!r}, 'w')"),
        (subprocess.getoutput, f"touch {mark}"), (exec, "import os"), (Path, "x"),
    ):  # fmt: skip
        for raw in (pickle.dumps(Bomb(*call)), signed(pickle.dumps(Bomb(*call)))):
            path.write_bytes(raw)
            assert isinstance(cache.load_cached([lib], only=True), Library)
            assert not mark.exists()
    # a module of ours that holds another's function, and a dotted way to one
    for module, name in (
        ("routefinder.library.cache", "pickle.loads"), ("routefinder.library.where", "Path"),
        ("routefinder.library.author", "save"), ("routefinder.journal.store", "Store"),
        ("builtins", "eval"), ("routefinder.files", "write"),
    ):  # fmt: skip
        raw = f"\x80\x04\x8c{chr(len(module))}{module}\x8c{chr(len(name))}{name}\x93.".encode(
            "latin-1"
        )
        path.write_bytes(signed(raw))
        assert cache._kept(path) is None, (module, name)
    assert pickle.loads(  # the bytes above do what they should
        b"\x80\x04\x8c\x08builtins\x8c\x04eval\x93."
    ) is eval  # fmt: skip


def test_every_flipped_bit_is_found(folder, lib):
    """1,000 flips anywhere, cuts and additions: never read."""
    cache.load_cached([lib], only=True)
    path = kept(folder)
    raw = path.read_bytes()
    assert isinstance(cache._kept(path), Library)
    chance = random.Random(20)
    places = [*range(8 * (len(cache.HEAD) + 40)),
              *(chance.randrange(8 * len(raw)) for _ in range(600))]  # fmt: skip
    for bit in places:
        bad = bytearray(raw)
        bad[bit // 8] ^= 1 << bit % 8
        path.write_bytes(bad)
        assert cache._kept(path) is None, bit
    for bad in (b"", raw[:-1], raw + b"x", raw[: len(cache.HEAD)], raw[60:]):
        path.write_bytes(bad)
        assert cache._kept(path) is None
    path.write_bytes(raw)
    assert isinstance(cache._kept(path), Library)


@pytest.mark.parametrize("mode", [0o720, 0o702, 0o777, 0o1777])
def test_a_folder_that_others_can_write_is_not_used(folder, lib, mode):
    """Neither read from nor written to; the library is built all the same."""
    cache.load_cached([lib], only=True)
    path = kept(folder)
    folder.chmod(mode)
    assert cache._kept(path) is None
    path.unlink()
    assert isinstance(cache.load_cached([lib], only=True), Library)
    assert list(folder.glob("library-*")) == []
    folder.chmod(0o700)
    cache.load_cached([lib], only=True)
    assert isinstance(cache._kept(kept(folder)), Library)


def test_a_file_of_another_is_not_read(folder, lib, monkeypatch, tmp_path):
    """Owned by another, writable by others, a link, a pipe."""
    cache.load_cached([lib], only=True)
    path = kept(folder)
    for mode in (0o620, 0o602):
        path.chmod(mode)
        assert cache._kept(path) is None
    path.chmod(0o600)
    me = os.geteuid()
    with monkeypatch.context() as other:
        other.setattr(os, "geteuid", lambda: me + 1)
        assert cache._kept(path) is None
    away = tmp_path / "away"
    path.rename(away)
    path.symlink_to(away)
    assert cache._kept(path) is None
    path.unlink()
    os.mkfifo(path)
    assert cache._kept(path) is None
    path.unlink()
    away.rename(path)
    assert isinstance(cache._kept(path), Library)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a file away")
def test_a_file_given_away_is_not_read(folder, lib):
    """The real thing: another user's file, another user's folder."""
    cache.load_cached([lib], only=True)
    path = kept(folder)
    os.chown(path, 12345, 12345)
    assert cache._kept(path) is None
    os.chown(path, 0, 0)
    os.chown(folder, 12345, 12345)
    assert cache._kept(path) is None
    os.chown(folder, 0, 0)
    assert isinstance(cache._kept(path), Library)


def test_killed_while_it_is_written(folder, lib):
    """The next run reads or builds, and nothing unfinished stays."""
    code = (
        "import sys; from routefinder.library import cache; cache.load_cached(sys.argv[1:], True)"
    )
    code = code.replace("sys.argv[1:]", "[__import__('pathlib').Path(sys.argv[1])]")
    killing = (
        "import os, signal\n"
        "real = os.fsync\n"
        "os.fsync = lambda handle: os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    assert subprocess.run([sys.executable, "-c", killing + code, lib]).returncode == -9
    assert [p.name[0] for p in folder.iterdir()] == ["."]
    assert subprocess.run([sys.executable, "-c", code, lib]).returncode == 0
    assert all(p.suffix == ".cache" for p in folder.iterdir())
