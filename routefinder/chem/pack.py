"""Write the tables of ``packed/`` anew from the package `chemicals`, or say whether they are fresh.

    python -m routefinder.chem.pack [--write]

Only this needs the package (it comes with the extra `test`); a test holds the tables against it.
Of a name the table keeps the substance that the package itself means by it: the usual and the
systematic name of every entry, all names of its short lists (common chemicals, inorganic ones,
ions), of what holds no carbon and of salts of metals. Of exposure limits the numbers of the package
that bear a stray blank or bracket ("` 10043-35-3`", boric acid) are mended.
"""

from __future__ import annotations

import csv
import gzip
import io
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from routefinder import files
from routefinder.chem import identifiers, packed
from routefinder.errors import OutOfReach

ION_FILE = "CRC Thermodynamic Properties of Aqueous Ions.tsv"
SHORT_LISTS = (
    "chemical identifiers pubchem small.tsv", "Inorganic db.tsv", "Anion db.tsv", "Cation db.tsv",
)  # fmt: skip


def _text(value: Any) -> str:
    number = value if value is None or isinstance(value, str) else float(value)
    if number is None or (isinstance(number, float) and math.isnan(number)):
        return ""
    return str(number)


def _formation() -> Iterator[list[str]]:
    from chemicals import heat_capacity

    table: Any = heat_capacity.CRC_standard_data
    columns = [c for c in table.columns if c != "Chemical"]
    yield ["cas", "name", *columns]
    for cas in sorted(map(str, table.index)):
        row = table.loc[cas]
        yield [cas, str(row["Chemical"]), *(_text(row[c]) for c in columns)]


def _ions() -> Iterator[list[str]]:
    from chemicals.utils import source_path

    columns = ["Formula", "MW", "Hf(aq)", "Gf(aq)", "S(aq)"]
    yield columns
    path = Path(source_path) / "Electrolytes" / ION_FILE
    for row in csv.DictReader(io.StringIO(files.read_text(path)), delimiter="\t"):
        yield [row[c] for c in columns]


def _exposure() -> Iterator[list[str]]:
    from chemicals import safety

    safety.TWA("67-64-1")  # loads the table
    columns = [
        f"{what} ({unit})" for unit in ("ppm", "mg/m^3") for what in ("TWA", "STEL", "Ceiling")
    ]
    yield ["cas", "Name", *columns, "Skin"]
    limits: dict[str, Any] = dict(safety.Ontario_exposure_limits_dict)
    mended = {cas.strip(" )"): row for cas, row in limits.items()} | limits
    for cas, row in sorted(mended.items()):
        if cas == cas.strip(" )"):
            figures = (_text(row[c]) for c in columns)
            yield [cas, str(row["Name"]), *figures, "skin" if row["Skin"] else ""]


def _flammability() -> Iterator[list[str]]:
    from chemicals import safety

    yield ["cas", "lower_limit", "source"]
    safety.LFL_methods(CASRN="67-64-1")  # loads the tables
    known = {*map(str, safety.IEC_2010_data.index), *map(str, safety.NFPA_2008_data.index)}
    for cas in sorted(known):
        methods = safety.LFL_methods(CASRN=cas)
        for method in (safety.IEC, safety.NFPA):
            if method in methods:
                yield [cas, _text(safety.LFL(CASRN=cas, method=method)), str(method)]
                break


MOLECULAR = frozenset({"H", "C", "N", "O", "F", "P", "S", "Cl", "Br", "I", "Si"})
TABLES = {
    "formation": _formation, "ions": _ions, "exposure": _exposure, "flammability": _flammability,
}  # fmt: skip


def table(name: str) -> str:
    """The text of one table of `TABLES`, made from the package."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(TABLES[name]())
    return text.getvalue()


def _short_list() -> set[str]:
    import chemicals

    folder = Path(chemicals.__file__).parent / "Identifiers"
    return {
        line.split("\t")[1]
        for name in SHORT_LISTS
        for line in (folder / name).read_text(encoding="utf-8").splitlines()
    }


def identities() -> str:
    """The lines of ``identities.tsv``: CAS number, formula, molar mass, name, other names."""
    from chemicals.identifiers import pubchem_db as database

    database.autoload_main_db()
    short = _short_list()
    lines = []
    for entry in {str(e.CASs): e for e in database.CAS_index.values()}.values():
        cas = str(entry.CASs)
        every = cas in short or _of_a_bench(str(entry.formula))
        names = [entry.common_name, entry.iupac_name, *(entry.synonyms if every else ())]
        own: dict[str, None] = {}
        for name in names:
            if name and name != cas and "\t" not in name and _means(name) == cas:
                own.setdefault(name.casefold())
        usual = str(entry.common_name)
        # the usual name goes first even where the package means another by it: it is shown only
        lines.append("\t".join([cas, str(entry.formula), repr(float(entry.MW)), usual, *own]))
    return "\n".join(sorted(lines)) + "\n"


def _of_a_bench(formula: str) -> bool:
    """Whether a substance holds no carbon, or an element that molecules of life do not hold."""
    elements = set(re.findall("[A-Z][a-z]?", formula))
    return "C" not in elements or not elements <= MOLECULAR


def _means(name: str) -> str:
    from chemicals.identifiers import search_chemical

    try:
        return str(search_chemical(name, cache=False).CASs)
    except (ValueError, IndexError, KeyError):
        return ""


def main(arguments: list[str]) -> int:
    """Renew the files (``--write``), or say which are stale; gives the exit code."""
    try:
        identifiers.version()
    except OutOfReach as error:
        print(f"pack: {error}", file=sys.stderr)
        return 2
    stale = 0
    for name in TABLES:
        path = packed.FOLDER / f"{name}.csv"
        stale += _renewed(path, table(name).encode(), "--write" in arguments)
    text = identities().encode()
    old = gzip.decompress(packed.IDENTITIES.read_bytes()) if packed.IDENTITIES.exists() else b""
    fresh = packed.IDENTITIES.read_bytes() if text == old else gzip.compress(text, 9, mtime=0)
    stale += _renewed(packed.IDENTITIES, fresh, "--write" in arguments)
    return 1 if stale else 0


def _renewed(path: Path, data: bytes, write: bool) -> bool:
    """Say of a file whether it is fresh, write it if asked; whether it stays stale."""
    if path.exists() and path.read_bytes() == data:
        print(f"{path.name}: fresh")
        return False
    if write:
        files.write(path, data, force=True)
        print(f"{path.name}: renewed")
        return False
    print(f"{path.name} is stale; run: python -m routefinder.chem.pack --write")
    return True


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
