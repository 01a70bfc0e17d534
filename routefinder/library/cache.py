"""The compiled library, kept by content.

The key is a digest of every file's name and content and of the package's own record code, so a
changed file or a new version builds anew. Written to a temporary file and renamed, so that two
processes can do it at once; a folder that cannot be written or a damaged file only costs time.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from routefinder.errors import Fault, FieldError, FileFault, LibraryFaults, Refused
from routefinder.library import regulated, where
from routefinder.library.contents import contents
from routefinder.library.control_names import FILE
from routefinder.library.heats import shipped_heats
from routefinder.library.library import Library
from routefinder.library.load import library_files, load, shipped_and

_PACKAGE = Path(__file__).resolve().parent.parent


def fingerprint(folders: Sequence[Path]) -> str:
    """A digest of all library files in ``folders`` and of the code that reads them."""
    digest = hashlib.blake2b(digest_size=16)
    rooms = ("chem", "records", "library", "hazards")
    code = [p for part in rooms for p in (_PACKAGE / part).glob("*.py")]
    data = [_PACKAGE / "units.py", _PACKAGE / "chem" / "formation.csv"]
    data += sorted((_PACKAGE / "hazards" / "data").glob("*.csv"))
    for path in (*sorted(code), *data):
        digest.update(f"{path.name}:{path.stat().st_size}:{path.stat().st_mtime_ns};".encode())
    for name in ("regulated.yaml", FILE):  # the lists hold without the shipped library too
        with contextlib.suppress(OSError):
            digest.update((where.shipped_library() / name).read_bytes())
    for folder in folders:
        digest.update(f"folder {folder.resolve()};".encode())
        for kind, path in library_files(folder):
            digest.update(f"{kind}/{path.name};".encode())
            with contextlib.suppress(OSError):
                digest.update(path.read_bytes())
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
    path = where.cache_folder() / f"library-{key}.pickle"
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
    for path in (*sorted((_PACKAGE / "chem").iterdir()), _PACKAGE / "library" / "heat.py"):
        if path.suffix in {".py", ".csv"}:
            digest.update(f"{path.name}:{path.stat().st_size}:{path.stat().st_mtime_ns};".encode())
    digest.update(version("chemicals").encode())
    file = where.cache_folder() / f"heats-{digest.hexdigest()}.pickle"
    kept = _unpickled(file)
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
    found = _unpickled(path)
    return found if isinstance(found, Library) else None


def _unpickled(path: Path) -> Any:
    collecting = gc.isenabled()
    gc.disable()  # as in load: many small objects, none of them garbage
    try:
        with path.open("rb") as file:
            return pickle.load(file)
    except Exception:
        return None
    finally:
        if collecting:
            gc.enable()


def _write(path: Path, value: object, kind: str = "library") -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{kind}-")
        try:
            with os.fdopen(handle, "wb") as file:
                pickle.dump(value, file, protocol=pickle.HIGHEST_PROTOCOL)
            os.replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
            raise
        for old in path.parent.glob(f"{kind}-*.pickle"):
            if old != path and old.stat().st_mtime < path.stat().st_mtime - 7 * 86400:
                old.unlink(missing_ok=True)
    except OSError:
        return
