"""Characters that nobody sees: control characters, marks that turn the direction, lone surrogates.

They can move a terminal's cursor, change its title or make a name read otherwise than it is
written. Files may not hold them; what comes from elsewhere is shown with them spelled out.
"""

from __future__ import annotations

import re
import unicodedata

# Unicode Standard 15, ch. 23: C0 and C1 controls (but tab and line ends), bidirectional and other
# format marks, line and paragraph separators, surrogates, tags. Joiners and the soft hyphen stay.
HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f"
    "\ufeff\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]"
)
LONGEST = 300  # characters of one word of somebody else's in a message


def code(character: str) -> str:
    """A character as its number: ``U+001B``."""
    return f"U+{ord(character):04X}"


def visible(text: str) -> str:
    """``text`` with what nobody sees spelled out: ``(U+001B)``. Line ends and tabs stay.

    The brackets mean nothing to a page, a diagram, Markdown or a table, so it may be done last.
    """
    if text.isascii() and text.isprintable():
        return text
    text = HIDDEN.sub(lambda m: f"({code(m[0])})", text.replace("\r\n", "\n"))
    return text.replace("\r", "(U+000D)")


def visible_json(text: str) -> str:
    """JSON text with the same characters as JSON escapes: the same data, and nothing hidden."""
    return HIDDEN.sub(lambda m: _escaped(m[0]), text)


def _escaped(character: str) -> str:
    number = ord(character)
    if number < 0x10000:
        return f"\\u{number:04x}"
    number -= 0x10000
    return f"\\u{0xD800 + (number >> 10):04x}\\u{0xDC00 + (number & 0x3FF):04x}"


def shortened(text: str, most: int = LONGEST) -> str:
    """``text`` with the middle of every overlong word left out."""
    return re.sub(
        rf"\S{{{most},}}", lambda m: f"{m[0][: most // 2]}...{m[0][-(most // 4) :]}", text
    )


_ASCII = str.maketrans({
    "°": "deg", "·": ".", "→": "->", "←": "<-", "⇌": "<=>", "–": "-", "—": "-", "−": "-", "×": "x",
    "≥": ">=", "≤": "<=", "≈": "~", "±": "+/-", "µ": "u", "μ": "u", "…": "...", "’": "'", "‘": "'",
    "“": '"', "”": '"', "•": "*", "√": "sqrt", "Δ": "delta ", "⁺": "+", "⁻": "-", "₊": "+",
    "₋": "-", "│": "|", "─": "-", "└": "`", "├": "|", "█": "#", "☐": "[ ]", "€": "EUR", "✓": "ok",
    "∙": ".", "²": "2", "³": "3", "½": "1/2", "ß": "ss",
})  # fmt: skip


def in_encoding(text: str, encoding: str) -> str:
    """``text`` in the nearest characters that ``encoding`` has, "?" where there is none."""
    try:
        text.encode(encoding)
        return text
    except (UnicodeEncodeError, LookupError):
        pass
    near = unicodedata.normalize("NFKD", text.translate(_ASCII)).translate(_ASCII)
    plain = "".join(c for c in near if not unicodedata.combining(c))
    return plain.encode("ascii", "replace").decode("ascii")
