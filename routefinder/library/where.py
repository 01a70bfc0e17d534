"""Where the shipped library, the examples and the cache are."""

from __future__ import annotations

import os
from pathlib import Path

from routefinder import files
from routefinder.errors import OutOfReach

_PACKAGE = Path(__file__).resolve().parent.parent


def _data(name: str) -> Path:
    """A data folder: inside an installed wheel, or beside the package in a checkout."""
    for base in (_PACKAGE / "_data", _PACKAGE.parent):
        if (base / name).is_dir():
            return base / name
    raise OutOfReach(
        f"the folder {name!r} that routefinder ships is missing; install routefinder again"
    )


def shipped_library() -> Path:
    """The folder of the shipped library."""
    return _data("reactions")


def examples() -> Path:
    """The folder of the examples (the only place for invented data)."""
    return _data("examples")


def personal_library() -> Path | None:
    """Your own library folder; ``ROUTEFINDER_LIBRARY`` names another, or none when it is empty."""
    own = os.environ.get("ROUTEFINDER_LIBRARY")
    if own is not None:
        return Path(own) if own else None
    from platformdirs import user_data_path

    return user_data_path("routefinder", appauthor=False) / "library"


def cache_folder() -> Path:
    """Where compiled libraries are kept; ``ROUTEFINDER_CACHE`` names another folder."""
    own = os.environ.get("ROUTEFINDER_CACHE")
    if own:
        return Path(own)
    from platformdirs import user_cache_path

    return user_cache_path("routefinder", appauthor=False)


def journal_file() -> Path:
    """Where the journal is kept unless a file is named; ``ROUTEFINDER_JOURNAL`` names another."""
    own = os.environ.get("ROUTEFINDER_JOURNAL")
    if own:
        return Path(own)
    from platformdirs import user_data_path

    return user_data_path("routefinder", appauthor=False) / "journal.sqlite"


def write_fault(text: str) -> Path:
    """Keep the details of a fault of the program in the cache folder, readable to its owner.

    The last one only. Gives the file back; raises OSError or InputError.
    """
    folder = cache_folder()
    folder.mkdir(parents=True, exist_ok=True)
    data = text.encode("utf-8", errors="backslashreplace")
    return files.write(folder / "last-fault.txt", data, force=True, mode=0o600)
