"""`find` without a target in a terminal: asks step by step, and lets one go back and change."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routefinder.errors import AmbiguousName, InputError, NameNotFound, Refused

if TYPE_CHECKING:
    from routefinder.library.library import Library

NOTHING = {"-", "none"}


@dataclass(frozen=True)
class Ask:
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
        elif line.isdigit() and 1 <= int(line) <= len(asks):
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


def _one(each: Ask, answers: dict[str, Any], shown: dict[str, str]) -> int:
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
        say(f"  {error}")
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
    if line.isdigit() and 1 <= int(line) <= len(unclear.choices):
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


def questions(library: Library) -> list[Ask]:
    """The questions in order."""
    from routefinder import units
    from routefinder.asking.question import _avoidable
    from routefinder.cli.options import hazard_limits
    from routefinder.hazards.score import ASPECTS
    from routefinder.library import regulated
    from routefinder.library import shelf as shelves
    from routefinder.records.question import ORDERS

    def named(text: str) -> str:
        regulated.refuse(text, "target", library)
        try:
            found = library.substance(text)
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
        regulated.refuse(found, "target", library)
        return text

    def amount(text: str) -> str:
        number, _ = units.read_any(text, ("mass", "amount"))
        if not number > 0:
            raise InputError("the amount must be above 0; write for example '250 g'")
        return text

    def file(read: Callable[[Path, Library], Any]) -> Callable[[str], str]:
        def checked(text: str) -> str:
            path = Path(text).expanduser()
            read(path, library)
            return str(path)

        return checked

    def quantity(kind: str) -> Callable[[str], str]:
        def checked(text: str) -> str:
            if units.canonical(text, kind) <= 0 and kind == "time":
                raise InputError("the time must be above 0")
            return text

        return checked

    def several(text: str) -> list[str]:
        names = [part.strip() for part in text.split(";") if part.strip()]
        for name in names:
            _avoidable(library, name)
        return names

    def hazards(text: str) -> list[str]:
        limits = [part.strip() for part in text.split(";") if part.strip()]
        for aspect, points in hazard_limits(limits).items():
            if aspect not in {"any", *ASPECTS} or not 0 <= points <= 4:
                raise InputError(
                    f"write '3' or 'toxic 2', 0 to 4; the aspects are {', '.join(ASPECTS)}"
                )
        return limits

    def money(text: str) -> float:
        try:
            number = float(text)
        except ValueError:
            raise InputError(f"{text!r} is not a number; write for example 20") from None
        if not 0 <= number < float("inf"):
            raise InputError("write an amount of money from 0 up")
        return number

    def order(text: str) -> str:
        if text not in ORDERS:
            raise InputError(f"the orders are {', '.join(ORDERS)}")
        return text

    def here(name: str) -> str:
        return name if os.path.isfile(name) else ""

    return [
        Ask("target", "Target", "", "A name, trade name, formula or CAS number.", named),
        Ask("amount", "Amount", "100 g", "Such as 250 g or 2 mol.", amount),
        Ask("shelf", "Shelf file", here("shelf.csv"), "CSV or YAML of materials at hand; with "
            "none, everything in the library can be bought.", file(shelves.read_shelf)),
        Ask("bench", "Bench file", here("bench.yaml"), "YAML of equipment at hand; with none, "
            "needs are only listed.", file(shelves.read_bench)),
        Ask("max_temperature", "Hottest", "", "Such as 250 degC; hotter steps are set aside.",
            quantity("temperature")),
        Ask("avoid", "Do without", "", "Substances or steps, with ; between.", several),
        Ask("max_hazard", "Hazard up to", "", "0 to 4: '3' for every aspect, or 'toxic 2; fire 3'.",
            hazards),
        Ask("max_time", "Time up to", "", "Elapsed time, such as 3 days.", quantity("time")),
        Ask("budget", "Money up to", "", "For materials, in the shelf's currency.", money),
        Ask("by", "Order", "balanced", f"One of {', '.join(ORDERS)}.", order),
    ]  # fmt: skip
