"""The files meant for copying: a shelf, a bench and a library to begin one's own with."""

from __future__ import annotations

from pathlib import Path

from routefinder import files
from routefinder.errors import InputError
from routefinder.library import where

FILES = (
    "shelf.csv", "shelf-with-extras.csv", "bench.yaml", "bench-with-kiln.yaml", "README.md",
    "reactions/steps/copper-acetate.yaml",
)  # fmt: skip


def copy(folder: Path) -> list[Path]:
    """Copy the demo's files into ``folder``, made if it is not there; nothing is written over.

    Raises InputError when a file of that name is there already, or the folder cannot be written.
    """
    made = [folder / name for name in FILES]
    there = [path for path in made if path.exists() or path.is_symlink()]
    if there:
        raise InputError(f"{there[0]} is there already; name another folder, or move it away")
    studio = where.examples() / "studio"
    try:
        for path in made:
            path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder} cannot be written ({error.strerror})") from None
    files.write_all({p: files.read(studio / n) for n, p in zip(FILES, made, strict=True)})
    return made
