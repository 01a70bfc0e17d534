"""Find records by name, trade name, formula or CAS number."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from difflib import SequenceMatcher, get_close_matches

from routefinder.chem import formula as formulas
from routefinder.errors import FormulaError

_CAS = re.compile(r"^\d{2,7}-\d{2}-\d$")
_OXIDATION_STATE = re.compile(r"\((?:0|[ivx]+)\)", re.IGNORECASE)
FAR_LONGER = 4  # times the longest name: no name is near such a text (and looking takes minutes)
_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")


def simplify(text: str) -> str:
    """Case, accents, hyphens and spaces do not tell two names apart."""
    folded = unicodedata.normalize("NFKD", text.translate(_SUBSCRIPTS)).casefold()
    folded = "".join(c for c in folded if not unicodedata.combining(c))
    folded = folded.replace("sulph", "sulf").replace("aluminum", "aluminium").replace("'", "")
    folded = folded.replace("’", "")
    return re.sub(r"[\s\-_,]+", " ", folded).strip()


def formula_key(text: str) -> tuple[object, ...] | None:
    """The key of a formula, or None when ``text`` is not one."""
    if not re.match(r"^[\[(A-Z0-9]", text.strip()):
        return None
    try:
        return formulas.parse(text).key
    except FormulaError:
        return None


class NameIndex:
    """Names of records of one kind, in any spelling."""

    def __init__(self) -> None:
        self._by_name: dict[str, list[str]] = {}
        self._by_cas: dict[str, list[str]] = {}
        self._by_formula: dict[tuple[object, ...], list[str]] = {}
        self._bare: list[tuple[str, str, str]] = []  # (bare name, oxidation state, id)
        self._shown: dict[str, str] = {}
        self._proper: dict[str, str] = {}

    def add(
        self, record_id: str, names: Iterable[str], cas: str | None, formula: str | None
    ) -> None:
        """Index one record; the first of the names is the one it is shown by."""
        names = tuple(names)
        self._proper[record_id] = names[0] if names else record_id
        for name in names:
            if state := _OXIDATION_STATE.search(name):
                bare = simplify(_OXIDATION_STATE.sub("", name))
                self._bare.append((bare, state[0].casefold(), record_id))
        for name in (*names, record_id):
            key = simplify(name)
            ids = self._by_name.setdefault(key, [])
            if record_id not in ids:
                ids.append(record_id)
            self._shown.setdefault(key, name)
        if cas:
            self._by_cas.setdefault(cas, []).append(record_id)
        if formula:
            key_f = formulas.parse(formula).key
            self._by_formula.setdefault(key_f, []).append(record_id)

    def by_formula(self, text: str) -> list[str]:
        """Ids of the records with this formula, hydrates apart."""
        key = formula_key(text)
        return list(self._by_formula.get(key, ())) if key is not None else []

    def find(self, text: str) -> list[str]:
        """Ids that ``text`` may mean, as id, CAS number, name or formula; an id means itself.

        Without its oxidation state a name means what bears it with one; of "iron chloride" all
        that it may be the beginning of, if there are chlorides of several states.
        """
        text = text.strip()
        if _CAS.match(text):
            return list(self._by_cas.get(text, ()))
        named = self._by_name.get(simplify(text), [])
        if text in named:
            return [text]
        if named:
            return list(named)
        return self.by_formula(text) or self._without_state(simplify(text))

    def _without_state(self, key: str) -> list[str]:
        same = [(state, i) for bare, state, i in self._bare if bare == key]
        states = {state for state, _ in same}
        longer = [i for bare, state, i in self._bare
                  if bare.startswith(f"{key} ") and state not in states]  # fmt: skip
        return list(dict.fromkeys([i for _, i in same] + (longer if same else [])))

    def closest(self, text: str, count: int = 5) -> list[str]:
        """The nearest names, best first."""
        key = simplify(text)
        if not key or len(key) > FAR_LONGER * max(map(len, self._shown), default=0):
            return []
        near = get_close_matches(key, self._shown, n=count * 3, cutoff=0.55)
        words = set(key.split())
        for name in self._shown:
            if words & set(name.split()) and name not in near and len(near) < count * 6:
                near.append(name)
        near.sort(key=lambda name: -SequenceMatcher(None, key, name).ratio())
        out: list[str] = []
        owners: set[str] = set()
        for name in near:
            owner = self._by_name[name][0]
            if owner not in owners:
                owners.add(owner)
                shown = self._shown[name]
                out.append(self._proper[owner] if shown == owner else shown)
        return out[:count]
