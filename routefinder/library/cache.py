"""The compiled library, kept by content.

The key is a digest of every file's name and content and of the package's own record code, so a
changed file or a new version builds anew. Two processes can do it at once; a folder that cannot be
written or a damaged file only costs time.

A kept library is a pickle, for the sake of a fast start, so what is read is guarded threefold: file
and folder must be this user's own and writable by nobody else (a folder that is shared only costs
time); a digest before the content must agree, so that a flipped bit is found; and nothing but the
classes of records, libraries and hazards is ever called.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import io
import pickle
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from routefinder import files
from routefinder.errors import Fault, FieldError, FileFault, InputError, LibraryFaults, Refused
from routefinder.library import regulated, where
from routefinder.library.contents import contents
from routefinder.library.control_names import FILE
from routefinder.library.heats import shipped_heats
from routefinder.library.library import Library
from routefinder.library.load import library_files, load, shipped_and

ENDING = ".cache"
HEAD = b"routefinder cache 1\n"
MOST_BYTES = 500_000_000
_DIGEST_BYTES = 32
# rooms whose classes a library holds, with what later rooms keep with it
_ROOMS = tuple(f"routefinder.{room}." for room in ("records", "library", "hazards", "vessel"))
# rooms whose code decides what is kept
_DECIDING = ("chem", "records", "library", "hazards", "vessel", "assessment")
_PACKAGE = Path(__file__).resolve().parent.parent


def fingerprint(folders: Sequence[Path]) -> str:
    """A digest of all library files in ``folders`` and of the code that reads them."""
    digest = hashlib.blake2b(digest_size=16)
    code = [p for room in _DECIDING for p in (_PACKAGE / room).glob("*.py")]
    data = [_PACKAGE / "units.py"]
    for room in _DECIDING:
        data += sorted(p for p in (_PACKAGE / room).rglob("*.*") if p.suffix in {".csv", ".gz"})
    for path in (*sorted(code), *data):
        digest.update(f"{path.name}:{path.stat().st_size}:{path.stat().st_mtime_ns};".encode())
    for name in ("regulated.yaml", FILE):  # the lists hold without the shipped library too
        with contextlib.suppress(OSError):
            digest.update((where.shipped_library() / name).read_bytes())
    for folder in folders:
        digest.update(f"folder {folder.resolve()};".encode())
        for kind, path in library_files(folder):
            digest.update(f"{kind}/{path.name};".encode())
            with contextlib.suppress(FileFault):  # said when the library is read
                digest.update(files.read(path))
    return digest.hexdigest()


def load_cached(
    folders: Sequence[Path] = (),
    only: bool = False,
    prepare: Callable[[Library], None] | None = None,
) -> Library:
    """The library in ``folders`` on top of the shipped one, from the cache when it is there.

    ``prepare`` works out, once, what later rooms want to know of every step; it is kept with the
    library. Raises LibraryFaults when the library has faults that keep it from being used, and
    Refused when it holds, takes or makes what routefinder refuses.
    """
    every = shipped_and(folders, only)
    for folder in every:
        if not folder.is_dir():
            what = "this is a file, not a library folder" if folder.exists() else "no such folder"
            raise FileFault(Fault(str(folder), 0, 0, "", what, "Name the folder of a library."))
    if not every:
        raise FieldError("{f}: no library is named; name its folder with {g}", f="only_library",
                         g="libraries")  # fmt: skip
    key = fingerprint(every)
    path = where.cache_folder() / f"library-{key}{ENDING}"
    library = _read(path)
    if library is not None:
        if prepare is not None and not library.prepared:
            _prepare(library, prepare)
            _write(path, library)
        return library
    loaded = load(every)
    from routefinder.library.check import refused

    refusals = list(refused(loaded))
    if refusals:
        raise Refused(str(refusals[0]))
    if loaded.faults:
        raise LibraryFaults(loaded.faults)
    library = loaded.library
    regulated.passed(library)
    library.fingerprint = key
    _work_out_contents(library)
    if prepare is not None:
        _prepare(library, prepare)
    _write(path, library)
    return library


def _work_out_contents(library: Library) -> None:
    """What is in the vessel of every step and its heat, once here, so that no search has to.

    The thermochemical data take seconds to load; heats are therefore kept by equation, apart from
    the library, so that a changed library computes only what is new in it.
    """
    digest = hashlib.blake2b(digest_size=16)
    for path in (*sorted((_PACKAGE / "chem").rglob("*.*")), _PACKAGE / "library" / "heat.py"):
        if path.suffix in {".py", ".csv", ".gz"}:
            digest.update(f"{path.name}:{path.stat().st_size}:{path.stat().st_mtime_ns};".encode())
    file = where.cache_folder() / f"heats-{digest.hexdigest()}{ENDING}"
    kept = _kept(file)
    heats = shipped_heats() | (kept if isinstance(kept, dict) else {})
    known = len(heats)
    for step in library.steps.values():
        contents(library, step, heats)
    if len(heats) > known:
        _write(file, heats, "heats")


def _prepare(library: Library, prepare: Callable[[Library], None]) -> None:
    prepare(library)
    library.prepared = True


def _read(path: Path) -> Library | None:
    found = _kept(path)
    return found if isinstance(found, Library) else None


class _Reader(pickle.Unpickler):
    """Reads what was kept; calls nothing but the classes a library is made of."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) == ("fractions", "Fraction"):
            return Fraction
        if module.startswith(_ROOMS) and "." not in name:
            found = super().find_class(module, name)
            if isinstance(found, type) and found.__module__ == module:
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is no part of a library")


def _kept(path: Path) -> Any:
    raw = files.read_private(path, MOST_BYTES)
    start = len(HEAD) + _DIGEST_BYTES
    if raw is None or not raw.startswith(HEAD):
        return None
    content = memoryview(raw)[start:]
    if hashlib.blake2b(content, digest_size=_DIGEST_BYTES).digest() != raw[len(HEAD) : start]:
        return None
    collecting = gc.isenabled()
    gc.disable()  # as in load: many small objects, none of them garbage
    try:
        return _Reader(io.BytesIO(content)).load()
    except Exception:
        return None
    finally:
        if collecting:
            gc.enable()


def _write(path: Path, value: object, kind: str = "library") -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return
    if not files.is_private(path.parent):
        return
    content = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    digest = hashlib.blake2b(content, digest_size=_DIGEST_BYTES).digest()
    with contextlib.suppress(InputError, OSError):
        files.write(path, HEAD + digest + content, force=True, mode=0o600)
        for ending in (ENDING, ".pickle"):  # as it was called before
            for old in path.parent.glob(f"{kind}-*{ending}"):
                if old != path and old.stat().st_mtime < path.stat().st_mtime - 7 * 86400:
                    old.unlink(missing_ok=True)
