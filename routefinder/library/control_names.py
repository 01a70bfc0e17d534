"""Other names and numbers of listed substances, as the package `chemicals` carries them.

``python -m routefinder.library.control_names`` writes ``reactions/regulated-names.csv``: for every
listed CAS number the salts, stereoisomers and isotopologues that the package knows, and of all of
them the systematic, inverted and foreign names. It leaves out registry codes, and ordinary words
and brand names that mean harmless things as well (``ORDINARY``): a street name is no chemistry.
A name that the package gives to an unlisted substance too stands in the file with that number
under ``also`` and is not used. ``regulated.shipped`` adds the file to the lists. The file is
compiled; correct this one instead.
"""

from __future__ import annotations

import csv
import io
import re
from functools import lru_cache
from pathlib import Path

from routefinder import files
from routefinder.chem import identifiers
from routefinder.errors import Fault, LibraryFaults
from routefinder.files import read_text
from routefinder.library import where
from routefinder.library.read import read_yaml
from routefinder.library.spelling import plain, squash
from routefinder.records.control import Control

FILE = "regulated-names.csv"
COLUMNS = ("listed", "cas", "name", "also")

# languages and marks that the package writes behind a name
_REMARK = re.compile(
    r"\s*[\[(](?:german|french|dutch|spanish|italian|polish|czech|inn[-:a-z]*|bsi[:a-z]*|iso[-:a-z]*|"
    r"usp|jan|ban|van|tn|nos|[0-9]+ci)[\])]",
    re.IGNORECASE,
)
_CODE = re.compile(
    r"(?:ac1|nsc|ctk|dsstox|einecs|cid|schembl|chembl|hsdb|caswell|epa |ccris|un ?\d|na ?\d|brn|"
    r"rcra|ai3|dea |tox21|ncgc|akos|zinc\d|bdbm|mfcd|mls|smr|spectrum|prestwick|opera|kbio|bspbio|"
    r"divk|nchem|ids\d|idi\d|sdccg|ghl\.|beilstein|bidd|cas[- ]\d|[a-z]{14}-)"
    r"|[a-z]{1,4}[-_ ]?\d{3,}\b|[a-z]{25,27}$|.*(?:beilstein|fema|street name|brand name|n\.o\.s)"
    r"|.*(?:;.*;|&|>>|standard|mixture)",
)
# how names of chemistry end, in the languages of the package
_CHEMICAL = re.compile(
    r"yl|ane|ene|yne|ine\b|ine[- ]|one\b|ol\b|ole\b|ide|idu|ite\b|ate\b|acid|säure|saeure|zuur|"
    r"kyselina|kwas|acide|acido|oxy|oxid|ossid|azo|nitr|amin|amid|sulf|chlor|cloro|cyan|cian|fluor|phos|fos|"
    r"arsen|stoff|stof\b|wodor|hydr|hidr|per|an[h]?[iy]dr|azyd|azot|jod|iod|barb|morphin|fentan|"
    r"azepam|zolam|ephedr|ergo|lysergi|amphet|amfet|lost|yperit|zyklon|cyclon|blasting|explosiv|agent\b"
)
# words and brands with other meanings, and names that the package gives to the wrong substance
_WORDS = """
    agene alcide anding barrels bartman beast bennie benzies biscuits bombita bonton brimstone
    cadillac cartwheels chinoin condition constan crank crystal cubes cupcakes cycline cyclones
    dolly dollies domes doval dreamer ecstasy emotion emotival fifty flats frogs frontal green
    greenies gradual hairy harry helex horse juice medicine mutagen mustard noise peace peaches
    persian roses scuffle securit sheets silence smack smite snaplets snorts solis speed spoonies
    stardust stuff sunshine supergrass superjoint superweed surfer tension transact trippers tubex
    umbrium wedges whack yellows zagreb azoto azufre benzoyl chloramin difluoro fluoro fosforo
    glyceryl glonoin hexamin hexil hexite hexyl hydriodide hydroiodide hydrofluoride iodane linyl
    levothyl methylin ethyls monoxide nitro nitrito nitryl phosphor phosphore phosphene pseudo
    schwefel soufre svovl sulfon sulfur theion thion trioxygen tetan sassafras rubigine crystex
    netzschwefel collokit microthiol kumulus cosan sofril polsulkol thiolux thiovit sulkol sulsol
    timberfume condy prussite melinite detrex extex despec
    chlorethamine ps phenylethanoate nbocpiperidone be2 menh2 ch3nh2 iodineatomic diazanenitricacid
    amine phenethylamine phenethylaminealphadimethyl phenethylaminealphadimethylhydrochloride
    benzeneethanaminealphadimethyl propam cyclohexanone co nitrogenivoxide ono hf m812 un2203
    tetrahydridogermanium clo2 anthranate exhaustgas fluegas sewergas sourgas fluorogroup
    sulfuratom hydrosulfurate copper lead
"""
ORDINARY = frozenset(_WORDS.split())
_ELEMENT_NAMES = {  # the package mixes these with the elements' own names
    "7783-06-4": re.compile(r"hydr|hidr|h2s|wasserstoff|waterstof|wodor|sulfure|stink|hepatic"),
    "7803-51-2": re.compile(r"hydr|ph3|fosf|phosph(?:ine|ane)|wasserstoff|wodor|hidr"),
}


@lru_cache(maxsize=1)
def listed() -> tuple[Control, ...]:
    """The rows of regulated.yaml; raises LibraryFaults when they are damaged."""
    path = where.shipped_library() / "regulated.yaml"
    document = read_yaml(path)
    faults = list(document.faults)
    rows: list[Control] = []
    for i, raw in enumerate(document.data or ()):
        try:
            rows.append(Control.model_validate(raw))
        except ValueError as error:
            faults.append(document.fault((i,), str(error).splitlines()[0], "Correct the row."))
    if faults or not rows:
        raise LibraryFaults(
            faults or [Fault(str(path), 0, 0, "", "the control lists are empty", "Install again.")]
        )
    return tuple(rows)


def cleaned(name: str) -> str:
    """A name without the package's remarks."""
    return _REMARK.sub("", name).strip().strip('"?|')


def worth(listed: str, name: str) -> bool:
    """Whether a name says which substance is meant: no code, no ordinary word."""
    text = plain(name)
    short = squash(name)
    if len(short) < 5 or short in ORDINARY or not re.search(r"[a-z]{4}", text):
        return False
    if _CODE.match(text) or re.fullmatch(r"(?=.*\d)[a-z0-9]{10}", text):
        return False
    if re.search(r"\s\([^()]*\)$", text):  # "GA (an agent)": without the bracket it is gallium
        return False
    if re.search(r"\d{2,7}-\d{2}-\d\b", text) or (text.startswith(("(", "[")) and len(short) < 8):
        return False
    own = _ELEMENT_NAMES.get(listed)
    if own is not None and not own.search(text):
        return False
    single = re.fullmatch(r"[a-z'-]+", text) is not None
    return single or _CHEMICAL.search(text) is not None


def numbers(row: Control) -> frozenset[str]:
    """The CAS number of a row, and those of its salts, isomers and isotopologues if it is organic.

    Neutral molecules without nitrogen and acid make no salts: of these only isomers count.
    """
    if row.cas is None:
        return frozenset()
    own = frozenset({row.cas, *row.also_cas})
    found = identifiers.identity(row.cas)
    organic = found is not None and found.formula is not None and {"C", "H"} <= set(
        found.formula.counts
    )  # fmt: skip
    if row.verdict != "refuse" or row.where != "any" or not organic or found is None:
        return own
    assert found.formula is not None
    kin = identifiers.with_part(row.cas)
    if "N" in found.formula.counts or "acid" in row.name.casefold() or "acid" in found.name:
        return own | kin
    same = {c for c in kin if (i := identifiers.identity(c)) is not None and i.formula is not None
            and i.formula.counts.get("C") == found.formula.counts.get("C")}  # fmt: skip
    return own | same


def compiled(rows: tuple[Control, ...]) -> list[tuple[str, str, str, str]]:
    """The lines of the file: listed number, number of the thing named, name, who bears it too."""
    found: dict[tuple[str, str], tuple[str, str, str]] = {}
    listed: set[str] = set()
    bare: list[tuple[str, str, str]] = []
    for row in rows:
        if row.cas is None or row.cas in listed:
            continue
        every = sorted(numbers(row), key=lambda c: (c != row.cas, c))
        listed.update(every)
        for cas in every:
            kept = False
            for name in map(cleaned, identifiers.names(cas)):
                if worth(row.cas, name):
                    kept = True
                    found.setdefault((row.cas, squash(name)), (row.cas, cas, name))
            if not kept and cas != row.cas:
                bare.append((row.cas, cas, ""))
    others = identifiers.borne({short for _, short in found}, squash, listed)
    lines = [(*line, others.get(short, "")) for (_, short), line in found.items()]
    return sorted([*lines, *((*line, "") for line in bare)])


def added(rows: tuple[Control, ...]) -> tuple[Control, ...]:
    """The rows with the names and numbers of the compiled file."""
    path = where.shipped_library() / FILE
    names: dict[str, dict[str, None]] = {}
    cas: dict[str, dict[str, None]] = {}
    for line in csv.DictReader(read_text(path).splitlines()):
        if line["name"] and not line["also"]:
            names.setdefault(line["listed"], {})[line["name"]] = None
        if line["cas"] != line["listed"]:
            cas.setdefault(line["listed"], {})[line["cas"]] = None
    return tuple(
        row if row.cas is None or (row.cas not in names and row.cas not in cas)
        else row.model_copy(update={
            "names": tuple(dict.fromkeys((*row.names, *names.get(row.cas, ())))),
            "also_cas": tuple(dict.fromkeys((*row.also_cas, *cas.get(row.cas, ())))),
        })
        for row in rows
    )  # fmt: skip


def write(path: Path, rows: tuple[Control, ...]) -> int:
    """Write the compiled file; the number of its lines."""
    lines = compiled(rows)
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(COLUMNS)
    out.writerows(lines)
    files.write(path, text.getvalue(), force=True)
    return len(lines)


if __name__ == "__main__":
    identifiers.version()
    count = write(where.shipped_library() / FILE, listed())
    print(f"{count} names and numbers")
