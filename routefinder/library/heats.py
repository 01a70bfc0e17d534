"""Heats of the shipped library's equations, worked out beforehand.

The thermochemical data take seconds to load, so what the shipped equations give stands in
``heats.json`` beside this file: what an equation says (``contents.equation_key``) -> kJ of one
turn, or null when it is not known. Made by ``python -m routefinder.library.heats --write``; a test
holds it against the data.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from routefinder import files
from routefinder.library.contents import Heats, equation_key
from routefinder.library.heat import step_heat
from routefinder.library.library import Library

FILE = Path(__file__).with_name("heats.json")
DIGITS = 6


def shipped_heats() -> Heats:
    """The heats kept with the package; empty when the file is missing or damaged."""
    try:
        found = json.loads(FILE.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def work_out(library: Library) -> Heats:
    """The heat of every equation of a library, from the data."""
    out: Heats = {}
    for step in library.steps.values():
        key = equation_key(library, step)
        if key not in out:
            heat = step_heat(library, step).enthalpy_kJ
            out[key] = None if heat is None else round(heat, DIGITS)
    return out


def main(arguments: list[str]) -> int:
    """Renew the file (``--write``), or say whether it is fresh."""
    from routefinder.library.load import load
    from routefinder.library.where import shipped_library

    heats = dict(sorted(work_out(load([shipped_library()]).library).items()))
    text = json.dumps(heats, ensure_ascii=False, indent=0) + "\n"
    old = FILE.read_text(encoding="utf-8") if FILE.exists() else ""
    if text == old:
        print(f"{FILE.name}: fresh, {len(heats)} equations")
        return 0
    if "--write" in arguments:
        files.write(FILE, text, force=True)
        print(f"{FILE.name}: renewed, {len(heats)} equations")
        return 0
    print(f"{FILE.name} is stale; run: python -m routefinder.library.heats --write")
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
