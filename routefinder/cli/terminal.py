"""The streams as the program writes to them: nothing hidden gets through, all can be written.

A stream that takes no more raises ``Gone``, which no library on the way takes for its own.
"""

from __future__ import annotations

import re
from typing import Any

from routefinder.hidden import in_encoding, visible

_STYLE = re.compile(r"(\x1b\[[0-9;]*m)")  # colours and weights, which rich writes


class Gone(Exception):
    """The output takes no more; ``error`` says why."""

    def __init__(self, error: OSError) -> None:
        super().__init__(str(error))
        self.error = error


class Guarded:
    """A text stream that spells out what nobody sees and writes what its encoding has.

    ``line`` leaves carriage returns be: a line that says how far work is writes over itself.
    """

    def __init__(self, stream: Any, line: bool = False) -> None:
        self.stream = stream
        self.line = line

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def write(self, text: str) -> int:
        """Write text; raises Gone when the stream takes no more."""
        if not isinstance(text, str):
            raise TypeError("a text is wanted")
        try:
            self.stream.write(in_encoding(self._shown(text), self.stream.encoding or "utf-8"))
        except OSError as error:
            raise Gone(error) from None
        return len(text)

    def _shown(self, text: str) -> str:
        if text.isprintable():
            return text
        parts = [part if i % 2 else self._plain(part) for i, part in enumerate(_STYLE.split(text))]
        return "".join(parts)

    def _plain(self, text: str) -> str:
        return "\r".join(map(visible, text.split("\r"))) if self.line else visible(text)

    def writelines(self, lines: Any) -> None:
        """Write several texts."""
        for text in lines:
            self.write(text)

    def flush(self) -> None:
        """Hand on what waits; raises Gone when the stream takes no more."""
        try:
            self.stream.flush()
        except OSError as error:
            raise Gone(error) from None
