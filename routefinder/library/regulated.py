"""What routefinder refuses and what it flags: one judgement for every door.

``verdict`` judges a text or a substance against the control lists (``reactions/regulated.yaml``,
always the shipped one, plus rows of the libraries in use) and the families of
``refused_families``; ``refuse`` raises Refused when the verdict says so for the part a thing plays.
Every entrance calls ``refuse``: `find`, `draw`, `look`, `new`, shelves, networks, the Python API,
and the loading of a library. A library's own rows can only add to the lists.

How a thing is recognised:

* a **CAS number** of the list, with hyphens or without, or anywhere in a name;
* a **name** of the list in any case, spacing, hyphenation, accent or Greek letter, also with words
  for state, purity, crystal water and (for organic substances) salts around it;
* a **formula** in any order, crystal water and hydrogen halides taken off. By itself it decides
  only where it is distinctive (``alone`` in the list, or a rule of a family). A formula that
  harmless isomers share counts against a library record only as long as that record has no CAS
  number of its own: benzyl salicylate has the formula of benzilic acid, and a CAS number clears it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from routefinder.chem import formula as formulas
from routefinder.errors import Refused
from routefinder.library import refused_forms as forms
from routefinder.library.control_names import added, listed
from routefinder.library.library import Library
from routefinder.library.refused_families import FAMILIES, WORD_RULES, Family
from routefinder.library.spelling import plain, squash
from routefinder.records.control import Control
from routefinder.records.substance import Substance, cas_check_digit_ok

Role = Literal["target", "made", "taken"]
FAMILY_LIST = "families that routefinder refuses"
FAMILY_DATE = "rules of this version"
FAMILY_SOURCE = "common practice: functional groups, see routefinder/library/refused_families.py"


@dataclass(frozen=True)
class Hit:
    """One reason to refuse or flag a thing.

    ``by`` is "CAS number", "name" or "formula"; ``matched`` what stood there. ``certain`` is False
    for a formula that harmless isomers share. ``limit`` is a mass fraction of the listed substance.
    """

    verdict: Literal["refuse", "flag"]
    where: str
    list: str
    part: str
    name: str
    by: str
    matched: str
    certain: bool
    cas: str | None = None
    threshold: str = ""
    limit: float | None = None
    action: str = ""
    date: str = ""
    source: str = ""
    why: str = ""
    differs: str = ""
    firmed: bool = False  # shared by harmless isomers, and nothing says that it is one of them

    @property
    def title(self) -> str:
        """The list and its part."""
        return f"{self.list}, {self.part}" if self.part else self.list

    def holds(self, role: Role) -> bool:
        """Whether it refuses a thing in this role."""
        if self.verdict != "refuse" or not self.certain:
            return False
        return self.where == "any" or role == "target" or (self.where == role == "made")


@dataclass(frozen=True)
class Ruling:
    """All that is to be said about one thing."""

    subject: str
    hits: tuple[Hit, ...]

    def refusal(self, role: Role) -> Hit | None:
        """The first reason to refuse it in this role."""
        return next((h for h in self.hits if h.holds(role)), None)

    @property
    def flags(self) -> tuple[Hit, ...]:
        """Lists on which it is lawful under conditions, a refused part in another role included."""
        return tuple(h for h in self.hits if h.certain and h.verdict == "flag")

    @property
    def doubts(self) -> tuple[Hit, ...]:
        """Listed substances that share only its formula."""
        return tuple(h for h in self.hits if not h.certain)


# --- texts in one spelling ---------------------------------------------------------------------

_FREE = re.compile(
    r"\b[\w()]+[\s-]free\b|\bfree[\s-](?:of|from)\s+\w+|\bwithout\s+\w+|\bnon-\w+", re.IGNORECASE
)
_CAS_IN_TEXT = re.compile(r"(?<!\d)([1-9]\d{1,6})[-‐‑‒–—−]\s?(\d{2})[-‐‑‒–—−]\s?(\d)(?!\d)")
_CAS_DIGITS = re.compile(r"^(?:cas\W*(?:no|nr|number|rn)?\W*)?\[?([1-9]\d{4,9})\]?$", re.IGNORECASE)
_HYDRATE = re.compile(
    r"(?:\b(?:\d+(?:[./]\d+)?|x|n)?[\s-]*(?:hemi|mono|sesqui|di|tri|tetra|penta|hexa|hepta|octa|"
    r"nona|deca|undeca|dodeca|octadeca)?hydrated?\b)|\banhydrous\b",
    re.IGNORECASE,
)
_ADDUCT = re.compile(r"\s*[·•∙⋅*.]\s*(?:\d*(?:[./]\d+)?|x|n)\s*(?:H2O|HCl|HBr|H2SO4|HNO3)\b")
_DOT = re.compile("[·•∙⋅*.]")
_STATE = (
    "gas gaseous vapour vapor liquid liquefied solid solution aqueous aq pure technical crude "
    "reagent grade lab analytical crystals crystal crystalline powder powdered powders flakes "
    "pellets granules dry wet damp moist stabilised stabilized concentrated conc dilute diluted "
    "fuming glacial racemic rac dl d l r s rs free base acid-free in water home made homemade the "
    "a of my raw refined compressed cylinder"
)
_STATE_WORDS = frozenset(_STATE.split())
_SALT = (
    "hydrochloride dihydrochloride hcl hydrobromide hbr hydroiodide hydriodide sulfate "
    "hemisulfate bisulfate hydrogensulfate nitrate phosphate tartrate bitartrate acetate oxalate "
    "citrate maleate fumarate succinate benzoate tannate mesylate tosylate salt sodium potassium "
    "ammonium calcium lithium magnesium disodium dipotassium zinc copper iron base"
)
_SALT_WORDS = frozenset(_SALT.split())
# what may stand beside a formula without making it part of a name
_BESIDE = (
    "acid stuff sample bottle tin bag jar can pack for and with from to or some any old new no nr "
    "salt compound reagent product starting material is as at by on approx ca about molecule ion "
    "anion formula called named gasförmig trocken fest flüssig gaz sec liquide solide"
)
_FORMULA_WORDS = _STATE_WORDS | frozenset(_BESIDE.split())


def _any_of(families: Iterable[Family]) -> re.Pattern[str]:
    """One look for all of them, since most names belong to none."""
    return re.compile("|".join(f"(?:{f.names.pattern})" for f in families if f.names is not None))


_ANY_FAMILY = _any_of(f for f in FAMILIES if f.name not in WORD_RULES)
_ANY_WORDS = _any_of(f for f in FAMILIES if f.name in WORD_RULES)


def cas_in(text: str) -> Iterator[str]:
    """CAS numbers in a text, with any hyphens; one of digits only when it is the whole text."""
    for match in _CAS_IN_TEXT.finditer(text):
        yield "-".join(match.groups())
    whole = _CAS_DIGITS.match(text.strip())
    if whole:
        digits = whole[1]
        yield f"{digits[:-3]}-{digits[-3:-1]}-{digits[-1]}"


def _bare(text: str) -> str:
    return re.sub(r"\s+\([^()]*\)\s*$", "", text)


def _cores(text: str) -> tuple[set[str], set[str]]:
    """Squashed forms of a name without words of state, and without words for salts as well."""
    cleaned = _ADDUCT.sub(" ", text) if _DOT.search(text) else text
    if "ydr" in cleaned.casefold():
        cleaned = _HYDRATE.sub(" ", cleaned)
    if "%" in cleaned:
        cleaned = re.sub(r"\d+(?:[.,]\d+)?\s*%(?:\s*w/[wv])?", " ", cleaned)
    words = [w for w in re.split(r"[\s,;:/+\-_()\[\]·]+", plain(cleaned)) if w]
    bare = [w for w in words if w not in _STATE_WORDS]
    state = {squash(cleaned), "".join(bare)}
    salt = {"".join(w for w in bare if w not in _SALT_WORDS)}
    return state - {""}, salt - state - {""}


# --- the lists ---------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def shipped() -> tuple[Control, ...]:
    """The control lists that routefinder ships, with the names and numbers of `chemicals`."""
    return added(listed())


def _with_shipped(rows: Iterable[Control]) -> tuple[Control, ...]:
    """The shipped lists and rows of a library's own."""
    own = frozenset(listed())
    return tuple(dict.fromkeys((*shipped(), *(row for row in rows if row not in own))))


class Screen:
    """Control lists ready for look-up."""

    def __init__(self, rows: Sequence[Control]) -> None:
        self.rows = rows
        self._names: dict[str, list[Control]] = {}
        self._cas: dict[str, list[Control]] = {}
        self._atoms: dict[frozenset[tuple[str, Fraction]], list[Control]] = {}
        for row in rows:
            spelt = {f for n in (row.name, *row.names) for f in (squash(n), squash(_bare(n)))}
            # German names stand there with "ae" for "ä", which ``plain`` takes as "a"
            spelt |= {form.replace("saeure", "saure") for form in spelt}
            for form in (spelt | _initials(row.name)) - {""}:
                self._names.setdefault(form, []).append(row)
            for cas in (row.cas, *row.also_cas):
                if cas:
                    self._cas.setdefault(cas, []).append(row)
            if row.formula:
                self._atoms.setdefault(
                    forms.key(forms.dry(formulas.parse(row.formula))), []
                ).append(row)

    def by_cas(self, text: str) -> Iterator[Hit]:
        """Hits of every CAS number in a text."""
        for cas in cas_in(text):
            for row in self._cas.get(cas, ()):
                yield _of(row, "CAS number", cas)

    def by_name(self, name: str) -> Iterator[Hit]:
        """Hits of a name, and of a CAS number inside it."""
        yield from self.by_cas(name)
        rows = list(self._names.get(squash(name), ()))
        text = _FREE.sub(" ", name)
        state, salt = _cores(text)
        if text.rstrip().endswith(")"):
            inner, salts = _cores(_bare(text))
            state, salt = state | inner, salt | salts
        # a bracket within a word ("triethyl(methyl)silane") parts nothing
        pieces = re.split(r",\s|;|\s[(]|[)](?=\s|$)|\s[–—]\s|\s-\s", text)
        if len(pieces) > 1 and not any(p.rstrip().endswith("-") for p in pieces):
            for piece in pieces:  # "phosphorus, red"; not "piperidine, 1-methyl-"
                inner, salts = _cores(piece)
                state, salt = state | inner, salt | salts
        for form in state:
            rows += self._names.get(form, ())
        for form in salt:
            rows += [r for r in self._names.get(form, ()) if _organic(r)]
        for row in dict.fromkeys(rows):
            yield _of(row, "name", name)
        squashed, words = squash(text), plain(text)
        if _ANY_FAMILY.search(squashed) is None and _ANY_WORDS.search(words) is None:
            return
        for family in FAMILIES:
            seen = words if family.name in WORD_RULES else squashed
            if family.names is not None and family.names.search(seen):
                yield _family(family, "name", name)

    def by_formula(self, text: str) -> Iterator[Hit]:
        """Hits of every formula in a text; those that harmless isomers share are not certain."""
        for formula, whole in forms.readings(_FREE.sub(" ", text), _FORMULA_WORDS):
            for hit in self._of_formula(formula):
                if whole or hit.certain:
                    yield hit
        if text.islower():
            ways = [list(self._of_formula(f)) for f in forms.small_readings(text, _FORMULA_WORDS)]
            if ways and all(any(h.certain for h in way) for way in ways):
                yield from (h for way in ways for h in way if h.certain)

    def _of_formula(self, formula: formulas.Formula) -> Iterator[Hit]:
        dry = forms.dry(formula)
        rows = list(self._atoms.get(forms.key(dry), ()))
        acids = forms.acids(formula)
        for free in (*forms.bases(formula), *acids):
            near = self._atoms.get(forms.key(free), ())
            rows += [r for r in near if r.verdict == "refuse" and _organic(r)]
        for row in dict.fromkeys(rows):
            if row.alone or row.verdict == "refuse":
                yield _of(row, "formula", formula.text, row.alone)
        counts = {element: float(count) for element, count in dry.items()}
        freed = [{element: float(count) for element, count in a.items()} for a in acids]
        for family in FAMILIES:
            if family.formula is None:
                continue
            salts = (f for f in freed if family.salts)
            if family.formula(counts, formula.text) or any(family.formula(f, "") for f in salts):
                yield _family(family, "formula", formula.text)


def _organic(row: Control) -> bool:
    return row.formula is None or "C" in formulas.parse(row.formula).counts


def _initials(name: str) -> set[str]:
    """Short names in brackets: "... (APAAN)"."""
    return {
        squash(s) for s in re.findall(r"\(([^()]+)\)", name)
        if re.fullmatch(r"(?=.*[A-Z]{2})(?!I|V)[A-Za-z0-9-]{3,12}", s)
    }  # fmt: skip


def _of(row: Control, by: str, matched: str, certain: bool = True) -> Hit:
    limit = row.limit
    if limit is not None and row.limit_as and row.formula:
        limit /= formulas.parse(row.formula).mass_fraction(row.limit_as)
    differs = ""
    if not certain:
        cas = f", CAS {row.cas}" if row.cas else ""
        differs = f"Only the formula is the same; the listed one is {row.name}{cas}."
    return Hit(
        row.verdict, row.where, row.list_, row.part, row.name, by, matched, certain, row.cas,
        row.threshold, limit, row.action, row.date, "; ".join(map(str, row.source)),
        differs=differs,
    )  # fmt: skip


def _family(family: Family, by: str, matched: str) -> Hit:
    return Hit(
        "refuse", family.where, FAMILY_LIST, family.name, family.name, by, matched, True,
        date=FAMILY_DATE, source=FAMILY_SOURCE, why=family.why, differs=family.differs,
    )  # fmt: skip


@lru_cache(maxsize=1)
def screen() -> Screen:
    """The shipped lists."""
    return Screen(shipped())


_SCREENS: list[tuple[tuple[Control, ...], Screen]] = []


def screen_of(library: Library | None) -> Screen:
    """The shipped lists and the rows of a library; one that has passed holds all of them."""
    if library is None:
        return screen()
    rows = library.regulated
    ready = library.screen
    if isinstance(ready, Screen) and library.passed is not None and ready.rows is rows:
        return ready
    for known, found in _SCREENS:
        if known is rows:
            return found
    every = rows if library.passed is not None else _with_shipped(rows)
    _SCREENS.insert(0, (rows, Screen(every)))
    del _SCREENS[4:]
    return _SCREENS[0][1]


# --- the judgement -----------------------------------------------------------------------------


def verdict(what: str | Substance, library: Library | None = None) -> Ruling:
    """What the lists say about a text (name, CAS number or formula) or a substance.

    A substance of a library is judged together with the anhydrous form of its family.
    """
    found = screen_of(library)
    if isinstance(what, str):
        return Ruling(what.strip(), _each([*found.by_name(what), *found.by_formula(what)]))
    hits = _of_substance(found, what)
    if library is not None and what.hydrate_of in library.substances:
        hits += _of_substance(found, library.substances[what.hydrate_of])
    return Ruling(what.name, _each(hits))


def verdict_of(
    names: Iterable[str], formula: str | None, cas: str | None, library: Library | None = None
) -> Ruling:
    """The verdict on one thing known by several names, a formula and a CAS number."""
    every = tuple(dict.fromkeys(names))
    found = _of_thing(screen_of(library), every, formula, cas)
    return Ruling(every[0] if every else str(formula), _each(found))


def of(library: Library, substance_id: str) -> Ruling:
    """The verdict on a substance of a library, worked out once a record."""
    record = library.substances[substance_id]
    known = library.verdicts.get(substance_id)
    if known is None or known[0] is not record:
        known = library.verdicts[substance_id] = (record, verdict(record, library))
    found: Ruling = known[1]
    return found


def _each(hits: Iterable[Hit]) -> tuple[Hit, ...]:
    """Every entry of a list once, by the surest sign."""
    out: dict[tuple[str, ...], Hit] = {}
    for hit in hits:
        key = (hit.verdict, hit.where, hit.list, hit.part, hit.name)
        if key not in out or (hit.certain and not out[key].certain):
            out[key] = hit
    return tuple(out.values())


def _of_substance(found: Screen, what: Substance) -> list[Hit]:
    return _of_thing(found, (what.id, what.name, *what.names), what.formula, what.cas)


def _of_thing(
    found: Screen, names: Iterable[str], formula: str | None, cas: str | None
) -> list[Hit]:
    names = tuple(dict.fromkeys(names))
    hits = [h for name in names for h in found.by_name(name)]
    if cas:
        hits += found.by_cas(cas)
    for text in (*names, *([formula] if formula else ())):
        for hit in found.by_formula(text):
            family = _FAMILY_OF.get(hit.part) if hit.list == FAMILY_LIST else None
            if family is not None and cas in family.cleared and belongs(cas, hit.matched):
                continue
            if hit.certain or (cas and belongs(cas, hit.matched)):
                hits.append(hit)
            else:  # nobody has said which isomer it is: the cautious reading
                hits.append(_firm(hit, cas))
    return hits


_FAMILY_OF = {family.name: family for family in FAMILIES}


@lru_cache(maxsize=1024)
def belongs(cas: str, formula: str) -> bool:
    """Whether a CAS number is that of a substance with this formula, crystal water apart.

    Only a number that the table of identities has can belong: a number with a right check digit
    may be made up, or be that of something else.
    """
    if not cas_check_digit_ok(cas):
        return False
    from routefinder.chem.packed import identity

    mine, known = forms.parsed(formula), identity(cas)
    if mine is None or known is None or known.formula is None:
        return False
    theirs = known.formula
    return mine.counts == theirs.counts or forms.dry(mine) == forms.dry(theirs)


def _firm(hit: Hit, cas: str | None) -> Hit:
    from dataclasses import replace

    what = "Give the record its CAS number if it is another substance."
    if cas:
        what = f"The CAS number {cas} is not known as that of a substance with this formula."
    return replace(hit, certain=True, firmed=True, differs=f"{hit.differs} {what}")


def refuse(what: str | Substance, role: Role, library: Library | None = None) -> Ruling:
    """The verdict on a thing in its role; raises Refused when routefinder plans nothing with it."""
    found = verdict(what, library)
    hit = found.refusal(role)
    if hit is not None:
        raise Refused(sentence(found.subject, hit))
    return found


def refuse_doubt(judged: Ruling) -> None:
    """Refuse the bare formula of a listed substance when the library knows no other with it."""
    for hit in judged.doubts:
        raise Refused(sentence(judged.subject, hit))


def sentence(subject: str, hit: Hit) -> str:
    """The refusal: what, and which list; of a formula that isomers share also what would tell."""
    said = f"refused: {subject!r} is on a list that routefinder does not plan for: {hit.title}"
    return f"{said}. {hit.differs}" if hit.firmed else said


def refused_records(library: Library) -> Iterator[tuple[str, str, Hit]]:
    """(kind, id, hit) of every record that holds, takes or makes a refused substance.

    What is refused as a target only may leave a step as a by-product, not be what it is for.
    """
    bad: dict[str, Hit] = {}
    made: dict[str, Hit] = {}
    goal: dict[str, Hit] = {}
    for s in library.substances.values():
        found = verdict(s, library)
        if (hit := found.refusal("taken")) is not None:
            bad[s.id] = hit
            yield "substances", s.id, hit
        elif (hit := found.refusal("made")) is not None:
            made[s.id] = hit
        elif (hit := found.refusal("target")) is not None:
            goal[s.id] = hit
    for m in library.materials.values():
        hits = [bad[i] for i in m.fractions if i in bad]
        for name in (m.id, m.record.name, *m.record.names):
            hit = verdict(name, library).refusal("taken")
            hits += [hit] if hit is not None else []
        if hits:
            yield "materials", m.id, hits[0]
    for step in library.steps.values():
        takes = [p.substance for p in step.reactants] + [a.substance for a in step.aids]
        makes = [p.substance for p in step.products]
        hits = [bad[i] for i in (*makes, *takes) if i in bad]
        hits += [made[i] for i in makes if i in made]
        hits += [goal[i] for i in (step.main.substance,) if i in goal]
        if hits:
            yield "steps", step.id, hits[0]


def refuse_library(library: Library) -> None:
    """Raise Refused when any record of a library holds, takes or makes a refused substance.

    A library that has passed is not judged again until it has grown or shrunk.
    """
    size = (len(library.substances), len(library.steps), len(library.materials))
    if library.passed == size:
        return
    for kind, name, hit in refused_records(library):
        raise Refused(f"{sentence(name, hit)} ({kind[:-1]} of the library in use)")
    passed(library)


def passed(library: Library) -> None:
    """Note that no record of a library is refused (``refused_records`` found none)."""
    size = (len(library.substances), len(library.steps), len(library.materials))
    library.regulated = _with_shipped(library.regulated)
    library.verdicts.clear()
    library.screen = Screen(library.regulated)
    library.passed = size


@dataclass(frozen=True)
class NetworkRefusal:
    """A step of a plain network that takes or makes a refused substance."""

    step: str
    node: str
    hit: Hit


def refused_steps(
    steps: Iterable[tuple[str, Iterable[str], Iterable[str]]],
) -> Iterator[NetworkRefusal]:
    """Steps of a plain network, as (id, reactants, products), with a refused name in them."""
    known: dict[str, Ruling] = {}  # each name once, however often it stands in the network

    def judged(name: str, role: Role) -> Hit | None:
        if name not in known:
            known[name] = verdict(name)
        return known[name].refusal(role)

    for step, reactants, products in steps:
        for role, names in (("taken", reactants), ("made", products)):
            hits = [(n, judged(n, role)) for n in names]  # type: ignore[arg-type]
            first = next(((n, h) for n, h in hits if h is not None), None)
            if first is not None and first[1] is not None:
                yield NetworkRefusal(step, first[0], first[1])
                break
