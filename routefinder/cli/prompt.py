"""Ask for one thing at a time: from --set and --answers first, then from the keyboard or a pipe.

An answer that cannot be used is asked for again at the keyboard; from a file or an option it is an
error. An empty line takes the suggestion in square brackets; "?" shows what may be written.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from routefinder.errors import FileFault, InputError, Refused

T = TypeVar("T")


class Prompter:
    """Where answers come from. ``given`` are the answers of --answers and --set, by key."""

    def __init__(self, given: Mapping[str, Any]) -> None:
        self.given = dict(given)
        self.unused = set(self.given)
        self.terminal = sys.stdin.isatty()
        self.folder: Path | None = None  # where the record will be written
        self.overwrite = False  # whether a record of one's own is to be written over
        self.typed: dict[str, str] = {}  # what was answered at the keyboard or through a pipe

    def ask(
        self,
        key: str,
        question: str,
        read: Callable[[str], T],
        suggestion: str | None = None,
        help_: str = "",
    ) -> T:
        """The answer to one question, read by ``read``; a suggestion stands for no answer.

        Raises InputError when it cannot be used or the answers end.
        """
        if key in self.given:
            self.unused.discard(key)
            try:
                return read(_nothing(_text(self.given[key]), suggestion))
            except Refused:
                raise
            except InputError as error:
                raise InputError(f"{key}: {error}") from None
        if self.given and suggestion is not None:
            return read(suggestion)
        while True:
            answer = self._line(key, question, suggestion)
            if answer == "?":
                say(help_ or "Nothing more is known about this question.")
                continue
            if not answer:
                if suggestion is None:
                    say("  This one needs an answer.")
                    continue
                answer = suggestion
            try:
                found = read(_nothing(answer, suggestion))
                self.typed[key] = answer
                return found
            except Refused:
                raise
            except InputError as error:
                say(f"  {error}")
                if not self.terminal:
                    raise

    def _line(self, key: str, question: str, suggestion: str | None) -> str:
        hint = f" [{suggestion}]" if suggestion else " [none]" if suggestion == "" else ""
        sys.stderr.write(f"{question}{hint}: ")
        sys.stderr.flush()
        line = sys.stdin.readline()
        if not self.terminal:
            sys.stderr.write("\n")
        if not line:
            raise InputError(f"the answers end before {key!r}; nothing was written")
        return line.strip()

    def check_all_used(self) -> None:
        """Raise InputError for answers to questions that were never asked."""
        if self.unused:
            named = ", ".join(sorted(self.unused))
            raise InputError(f"no question is called {named}; see `routefinder new --help`")


def _nothing(answer: str, suggestion: str | None) -> str:
    """ "none" is nothing where nothing may be answered."""
    return "" if suggestion == "" and answer.casefold() == "none" else answer


def say(text: str) -> None:
    """A line beside the questions (stderr, so that stdout stays the result)."""
    sys.stderr.write(text + "\n")


def _text(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(_text(v) for v in value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_text(v)}" for k, v in value.items()) + "}"
    return "" if value is None else str(value).strip()


def answers(path: Path | None, pairs: list[str] | None) -> dict[str, Any]:
    """The answers of --answers FILE (a YAML mapping) and --set KEY=VALUE.

    Raises FileFault, InputError.
    """
    out: dict[str, Any] = {}
    if path is not None:
        from routefinder.library.read import read_yaml

        document = read_yaml(path)
        if document.faults:
            raise FileFault(document.faults[0])
        if not isinstance(document.data, dict):
            raise FileFault(
                document.fault((), "the answers are not 'key: value' lines", "Write them so.")
            )
        out.update(document.data)
    for pair in pairs or ():
        key, sign, value = pair.partition("=")
        if not sign:
            raise InputError(f"--set {pair!r} is not KEY=VALUE")
        out[key.strip()] = value.strip()
    return out


def yes_or_no(text: str) -> bool:
    """Read yes or no. Raises InputError for anything else."""
    if text.strip().lower() in {"y", "yes", "true", "1"}:
        return True
    if text.strip().lower() in {"n", "no", "false", "0"}:
        return False
    raise InputError(f"{text!r} is neither yes nor no")
