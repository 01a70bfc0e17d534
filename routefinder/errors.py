"""Every error that routefinder raises on purpose.

    RoutefinderError
    ├── InputError (also ValueError)    what the user gave cannot be used
    │   ├── FieldError                  a field of a question, plan or comparison
    │   ├── QuantityError               a number or unit
    │   ├── FormulaError                a chemical formula
    │   ├── EquationError               a reaction equation
    │   ├── NameNotFound (LookupError)  no such name; carries the closest ones
    │   ├── AmbiguousName (LookupError) several things bear the name; carries the choices
    │   └── FileFault                   a file; carries path, line, column, field, what, remedy
    │       └── LibraryFaults           all faults of a library together
    ├── JournalFault                    the journal cannot be read or written; nothing was lost
    ├── Refused                         what routefinder does not plan for (exit code 3)
    └── OutOfReach                      an answer could not be computed (no solver, no data)

"No route" is an answer (see ``routefinder.search.explain``), not an error.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


LONGEST_LINE = 2_000  # characters; a sentence that quotes what was given need not be longer


def _cut(text: str) -> str:
    """``text`` with the middle of overlong lines left out."""
    return "\n".join(
        line
        if len(line) <= LONGEST_LINE
        else f"{line[: LONGEST_LINE // 2]} ... {line[-LONGEST_LINE // 3 :]}"
        for line in text.split("\n")
    )


class RoutefinderError(Exception):
    """Base of all errors that carry a sentence meant for the user; no line of it is endless."""

    def __str__(self) -> str:
        return _cut(super().__str__())


class InputError(RoutefinderError, ValueError):
    """What the user gave cannot be used; the message says what to do."""


class FieldError(InputError):
    """A field of a question, plan or comparison cannot be used.

    ``template`` names the field as ``{f}``, a second one as ``{g}``; the message says them as
    Python does (``max_steps``), ``said`` as another door does (``--max-steps``).
    """

    def __init__(self, template: str, *, f: str, g: str = "", **values: object) -> None:
        self.template = template
        self.fields = (f, g) if g else (f,)
        self.values = values
        super().__init__(self.said(str))

    def said(self, name: Callable[[str], str]) -> str:
        """The message with the fields named by ``name``."""
        named = dict(zip("fg", map(name, self.fields), strict=False))
        return _cut(self.template.format(**named, **self.values))


class QuantityError(InputError):
    """A number, unit or fraction could not be read."""


class FormulaError(InputError):
    """A chemical formula could not be read."""


class EquationError(InputError):
    """A reaction equation could not be read or does not balance."""


class NameNotFound(InputError, LookupError):
    """No record bears the name.

    ``closest`` holds the nearest names, best first.
    """

    def __init__(self, message: str, closest: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.closest = tuple(closest)


class AmbiguousName(InputError, LookupError):
    """Several records bear the name; ``choices`` holds what to write instead."""

    def __init__(self, message: str, choices: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.choices = tuple(choices)


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a file: where it is, what it is, and what to do.

    ``line`` and ``column`` count from 1; 0 means that the place is not known.
    """

    path: str
    line: int
    column: int
    field: str
    what: str
    remedy: str
    rule: str = "input"

    def __str__(self) -> str:
        place = self.path
        if self.line:
            place += f":{self.line}"
            if self.column:
                place += f":{self.column}"
        field = f" {self.field}:" if self.field else ""
        remedy = f" {self.remedy}" if self.remedy else ""
        return f"{place}:{field} {self.what}.{remedy}"


class FileFault(InputError):
    """A file cannot be used; ``fault`` says where and why."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


class LibraryFaults(InputError):
    """A library has faults; ``faults`` holds all of them."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        shown = "\n".join(str(fault) for fault in self.faults[:8])
        more = len(self.faults) - 8
        tail = f"\n... and {more} more; `routefinder check` lists all." if more > 0 else ""
        super().__init__(shown + tail)


class JournalFault(RoutefinderError):
    """The journal file cannot be read or written. What was acknowledged before is kept."""


class Refused(RoutefinderError):
    """routefinder does not plan for this; the message names the list and says no more."""


class OutOfReach(RoutefinderError):
    """An answer could not be computed with what is installed or known."""


def missing_package(error: BaseException) -> str:
    """The sentence for a required package that is not installed; empty for any other fault."""
    name = (error.name or "").split(".")[0] if isinstance(error, ModuleNotFoundError) else ""
    if name in {"", "routefinder"}:
        return ""
    return (
        f"the package {name}, which routefinder cannot do without here, is not installed; "
        "install routefinder with all it needs: pip install --upgrade routefinder"
    )
