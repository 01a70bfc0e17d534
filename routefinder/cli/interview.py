"""`find` without a target in a terminal: asks step by step, and lets one go back and change."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder.asking.fields import option
from routefinder.errors import AmbiguousName, FieldError, InputError, NameNotFound, Refused
from routefinder.units import is_whole

if TYPE_CHECKING:
    from routefinder.library.library import Library

NOTHING = {"-", "none"}


@dataclass(frozen=True)
class Item:
    """One question: its key, its words, what an empty line means, help, and how to read it."""

    key: str
    words: str
    usual: str
    help: str
    read: Callable[[str], Any]


class _Choices(Exception):
    """A name that is not clear, with what to pick from."""

    def __init__(self, sentence: str, choices: tuple[str, ...]) -> None:
        super().__init__(sentence)
        self.choices = choices


def say(text: str = "") -> None:
    """A line beside the questions."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def interview(library: Library, known: Mapping[str, Any]) -> dict[str, Any]:
    """Ask for what makes a question; ``known`` are options given already, taken as suggestions.

    Raises InputError when the answers end or one leaves with "quit".
    """
    say("What do you want to make? An empty line takes what stands in brackets; ? explains,")
    say("back goes back a question, none clears an answer, quit leaves.")
    say()
    asks = questions(library)
    answers: dict[str, Any] = dict(known)
    shown: dict[str, str] = {k: _shown(v) for k, v in known.items()}
    at = 0
    while True:
        while at < len(asks):
            at = max(0, at + _one(asks[at], answers, shown))
        say()
        for i, each in enumerate(asks, start=1):
            say(f"{i:>3}  {each.words}: {shown.get(each.key) or each.usual or 'none'}")
        line = _line("Enter searches; a number changes that answer; quit leaves: ")
        if line == "back":
            at = len(asks) - 1
        elif is_whole(line) and 1 <= int(line) <= len(asks):
            while _one(asks[int(line) - 1], answers, shown) == 0:
                pass
        elif not line:
            return answers
        else:
            say(f"  There is no answer {line!r}; write a number from 1 to {len(asks)}.")


def _shown(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _one(each: Item, answers: dict[str, Any], shown: dict[str, str]) -> int:
    """Ask one question; 1 when it is answered, -1 to go back, 0 to ask again."""
    usual = shown.get(each.key) or each.usual
    line = _line(f"{each.words} [{usual or 'none'}]: " if usual or each.key != "target"
                 else f"{each.words}: ")  # fmt: skip
    if line == "back":
        return -1
    if line == "?":
        say(f"  {each.help}")
        return 0
    if line.lower() in NOTHING:
        if each.key == "target":
            say("  This one needs an answer.")
            return 0
        answers.pop(each.key, None)
        shown[each.key] = "none" if each.usual else ""
        if each.key in {"shelf", "bench"}:
            shown[each.key] = "none"
        elif each.usual:  # there is no question without an amount or an order
            shown[each.key] = each.usual
        return 1
    text = line or usual
    if not text or text == "none":
        if each.key == "target":
            say("  This one needs an answer.")
            return 0
        return 1
    try:
        value = each.read(text)
    except _Choices as unclear:
        picked = _pick(unclear)
        if picked is None:
            return 0
        value = picked
    except (InputError, Refused) as error:
        say(f"  {error.said(option) if isinstance(error, FieldError) else error}")
        return 0
    answers[each.key] = value
    shown[each.key] = _shown(value)
    return 1


def _pick(unclear: _Choices) -> str | None:
    """One of several names by its number; None to write another."""
    say(f"  {unclear}")
    for i, choice in enumerate(unclear.choices, start=1):
        say(f"  {i:>2}  {choice}")
    if not unclear.choices:
        return None
    line = _line("  Number, or an empty line to write another: ")
    if is_whole(line) and 1 <= int(line) <= len(unclear.choices):
        return unclear.choices[int(line) - 1]
    return None


def _line(prompt: str) -> str:
    sys.stderr.write(prompt)
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        say()
        raise InputError("the answers ended before the question was complete; nothing was searched")
    text = line.strip()
    if text.lower() == "quit":
        raise InputError("left without searching")
    return text.lower() if text.lower() == "back" else text


def questions(library: Library) -> list[Item]:
    """The questions in order."""
    from routefinder.asking.fields import FIELDS, Field, parse
    from routefinder.asking.question import QuestionReader, read_amount

    reading = QuestionReader(library)
    wanted: list[Any] = []

    def target(text: str) -> str:
        try:
            wanted[:] = [reading.target(text)]
        except NameNotFound as error:
            hint = "" if error.closest else "; try another name, the formula or the CAS number"
            raise _Choices(
                f"Nothing is called {text!r} in the library{hint}"
                + (". The nearest names:" if error.closest else "."), error.closest,
            ) from None  # fmt: skip
        except AmbiguousName as error:
            # "name (formula)": the name is what may be written
            names = tuple(c.rsplit(" (", 1)[0] for c in error.choices)
            raise _Choices(f"{text!r} may mean several things:", names) from None
        return text

    def read(field: Field) -> Callable[[str], Any]:
        def checked(text: str) -> Any:
            if field.name == "amount":
                read_amount(text, wanted[0])
                return text
            parts = [part.strip() for part in text.split(";")] if field.many else [text]
            try:
                values = [parse(field, part) for part in parts if part]
            except InputError as error:
                raise InputError(f"{text!r} {error}") from None
            if field.is_path:
                values = [str(Path(v).expanduser()) for v in values]
            value = values if field.many else values[0]
            reading.field(field.name, value)
            return value

        return checked

    def here(name: str) -> str:
        return name if os.path.isfile(name) else ""

    return [
        Item("target", "Target", "", "A name, trade name, formula or CAS number.", target),
        *(
            Item(f.name, f.asks, here(f.here) if f.here else f.default or "", f.hint, read(f))
            for f in sorted(FIELDS, key=lambda f: f.name == "by")  # the order comes last
            if f.asks
        ),
    ]  # fmt: skip
