"""Names of chemistry in one spelling, so that two ways to write one name are equal."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_LETTERS = (
    "alpha beta gamma delta epsilon zeta eta theta iota kappa lambda mu nu xi o pi rho sigma tau "
    "upsilon phi chi psi omega mu"
)
_GREEK = dict(zip("αβγδεζηθικλμνξοπρστυφχψωµ", _LETTERS.split(), strict=True))
_LOOKALIKE = dict(zip("аеіїкмнорстухѕјԁһ", "aeiikmhopctyxsjdh", strict=True))  # Cyrillic
_PLAIN = str.maketrans({**_GREEK, **_LOOKALIKE})


@lru_cache(maxsize=16384)
def plain(text: str) -> str:
    """Lower case, no accents, no invisible characters, Greek letters in words, one spelling."""
    if text.isascii():
        folded = text.lower()
    else:
        folded = unicodedata.normalize("NFKD", text).casefold()
        folded = "".join(
            c for c in folded if not unicodedata.combining(c) and unicodedata.category(c) != "Cf"
        ).translate(_PLAIN)
    return folded.replace("sulph", "sulf").replace("aluminum", "aluminium")


def squash(text: str) -> str:
    """Letters and digits only: two spellings of one name are equal."""
    return re.sub(r"[^a-z0-9]", "", plain(text))
