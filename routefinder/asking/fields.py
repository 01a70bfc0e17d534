"""Every field of a question, in one table.

The options of the command line, the keys of a question file, the steps of the interview, the
question in JSON, the limits in words and the arguments of ``find`` are made from ``FIELDS``.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import reduce
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict

from routefinder import digits, units
from routefinder.errors import FieldError, InputError
from routefinder.records.question import CARRY, ORDERS, STEP_COST

if TYPE_CHECKING:
    from routefinder.library.library import Library
    from routefinder.records.question import Question
    from routefinder.records.shelf import Bench, Shelf


@dataclass(frozen=True)
class Field:
    """One field: its name in Python, how it is read, where it is kept, and its words.

    ``kind`` is what one value is (str, int, float, bool, Path), ``many`` that it may stand several
    times, ``unit`` the kind of quantity that its text holds, ``free`` that ``asking.question``
    reads it in its own way, ``pairs`` that
    it is kept as pairs. ``least`` is the smallest value (``above`` it: not itself), ``wrong``
    says what to give instead. ``keeps`` is where in ``Question`` it is kept, ``json`` its key in
    JSON. ``asks`` are its words in the interview, ``hint`` what "?" explains there, ``here`` the
    file suggested when it lies in the folder. ``words`` says a value that limits. ``door`` is
    "question" (what is asked), "find" (where it is looked for) or "command" (command line only).
    """

    name: str
    kind: type
    help: str
    default: Any = None
    many: bool = False
    metavar: str | None = None
    option: str = ""
    short: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    least: float | None = None
    above: bool = False
    wrong: str = ""
    free: bool = False
    pairs: bool = False
    keeps: str = ""
    json: str = ""
    asks: str = ""
    hint: str = ""
    here: str = ""
    words: Callable[[Any, Library], str] | None = None
    door: str = "question"

    @property
    def options(self) -> tuple[str, ...]:
        """How it is written on the command line."""
        long = self.option or f"--{self.name.replace('_', '-')}"
        return (long, self.short) if self.short else (long,)

    @property
    def key(self) -> str:
        """Its key in a question file: the option with underscores."""
        return self.options[0].split("/")[0].removeprefix("--").replace("-", "_")

    @property
    def is_path(self) -> bool:
        """Whether it names files or folders that a question file brings along."""
        return self.kind is Path

    def kept(self, question: Question) -> Any:
        """Its value in a question."""
        return reduce(getattr, self.keeps.split("."), question)


def steering_words(library: Library, name: str) -> str:
    """What a field that steers the materials names."""
    from routefinder.library import steering

    return steering.in_words(library, name)


MONEY = "give an amount of money from 0 up"

FIELDS = (
    Field("amount", str, "How much, such as '250 g' or '2 mol'.", "100 g", metavar="AMOUNT",
          short="-a", free=True, asks="Amount", hint="Such as 250 g or 2 mol."),
    Field("shelf", Path, "CSV or YAML of materials at hand; without it everything in the library "
          "can be bought.", metavar="FILE", free=True, keeps="shelf", json="shelf",
          asks="Shelf file", here="shelf.csv", hint="CSV or YAML of materials at hand; with none, "
          "everything in the library can be bought."),
    Field("bench", Path, "YAML of equipment at hand; without it needs are only listed.",
          metavar="FILE", free=True, keeps="bench", json="bench", asks="Bench file",
          here="bench.yaml", hint="YAML of equipment at hand; with none, needs are only listed."),
    Field("by", str, "Order: balanced, cost, yield, time, hazard or steps.", "balanced",
          metavar="ORDER", choices=ORDERS, keeps="order", json="order", asks="Order",
          hint=f"One of {', '.join(ORDERS)}."),
    Field("top", int, "How many routes.", 10, metavar="N", short="-n", least=1,
          wrong="ask for at least one route", keeps="top", json="top"),
    Field("state", str, "How the target is wanted: solid, liquid, gas, solution, or 'solution, "
          "10 %' (at least so strong); else as it is usually kept.", metavar="STATE",
          option="--as", free=True, keeps="state", json="state",
          words=lambda v, _: f"as {'a solution' if v.kind == 'solution' else v.kind}"
          + (f" of at least {digits.percent(v.strength)}" if v.strength else "")),
    Field("excess", str, "For a reaction that stops at its equilibrium: moles of a reactant that "
          "go in a mole of the limiting one, such as 'ethanol = 3' (repeat).", (), many=True,
          metavar="NAME=RATIO", free=True, pairs=True, keeps="excess", json="excess",
          words=lambda v, lib: ", ".join(f"{lib.name(n)} {r:g} mol a mol" for n, r in v)),
    Field("carry", str, "Solids go straight on where the next step bears it: wet (undried) or "
          "slurry (unfiltered); no: each is isolated as its step says.", "no", metavar="HOW",
          choices=CARRY, keeps="carry", json="carry",
          words=lambda v, _: "" if v == "no" else "solids go straight on "
          + ("as wet cakes" if v == "wet" else "as slurries")),
    Field("max_temperature", str, "Set hotter steps aside: '250 degC'.", metavar="TEMPERATURE",
          unit="temperature", keeps="limits.max_temperature_C", json="limits.max_temperature_C",
          asks="Hottest", hint="Such as 250 degC; hotter steps are set aside.",
          words=lambda v, _: f"up to {digits.temperature(v)}"),
    Field("avoid", str, "A substance, material or step to do without (repeat).", (), many=True,
          metavar="NAME", free=True, keeps="limits.avoid", json="limits.avoid", asks="Do without",
          hint="Substances, materials or steps, with ; between.",
          words=lambda v, lib: "without " + ", ".join(steering_words(lib, n) for n in v)),
    Field("use", str, "A substance, or one material, that must be used (repeat).", (), many=True,
          metavar="NAME", option="--from", free=True, keeps="limits.use", json="limits.from",
          words=lambda v, lib: "using " + ", ".join(steering_words(lib, n) for n in v)),
    Field("use_up", str, "A material on the shelf: routes that take most of it come first.",
          metavar="NAME", free=True, keeps="use_up", json="use_up",
          words=lambda v, lib: f"using up {steering_words(lib, v)}"),
    Field("max_hazard", str, "'3' for every aspect, or 'toxic 2' (repeat); 0 to 4.", (), many=True,
          metavar="LIMIT", free=True, pairs=True, keeps="limits.max_hazard",
          json="limits.max_hazard",
          asks="Hazard up to", hint="0 to 4: '3' for every aspect, or 'toxic 2; fire 3'.",
          words=lambda v, _: " · ".join(f"{a} up to {n} of 4" for a, n in v)),
    Field("max_steps", int, "Steps a route may have.", metavar="N", least=1,
          wrong="a route has at least one step", keeps="limits.max_steps",
          json="limits.max_steps", words=lambda v, _: f"up to {digits.count(v, 'step')}"),
    Field("max_time", str, "Elapsed time: '3 days'.", metavar="TIME", unit="time", least=0,
          above=True, wrong="the time must be above 0", keeps="limits.max_time_min",
          json="limits.max_time_min", asks="Time up to", hint="Elapsed time, such as 3 days.",
          words=lambda v, _: f"within {digits.duration(v)}"),
    Field("budget", float, "Money for materials, in the shelf's currency.", metavar="MONEY",
          least=0, wrong=MONEY, keeps="limits.budget", json="limits.budget",
          asks="Money up to", hint="For materials, in the shelf's currency.",
          words=lambda v, _: f"for at most {v:g}"),
    Field("no_licence", bool, "Set aside what needs a licensed material.", False,
          keeps="limits.no_licence", json="limits.no_licence",
          words=lambda _, __: "without licensed materials"),
    Field("purity", str, "The least purity of the product, as computed: '97 %'; what falls short "
          "is crystallised once more where the library can, else set aside.", metavar="SHARE",
          free=True, keeps="limits.purity", json="limits.purity",
          words=lambda v, _: f"purity at least {digits.percent(v)}"),
    Field("step_cost", float, "With --by cost: what each step is charged beside its materials "
          "(heat, filters, gloves; our assumption, set your own).", STEP_COST, metavar="MONEY",
          least=0, wrong=MONEY, keeps="step_cost"),
    Field("different", bool, "Only the best route of each way, without its variants.", False,
          keeps="different", json="different"),
    Field("make_reagents", bool, "Also routes that make acids, alkalis, washing and drying agents "
          "which could be bought.", False, keeps="make_reagents", json="make_reagents"),
    Field("reuse", bool, "Feed by-products back: what that saves on each route.", False,
          keeps="reuse", json="reuse"),
    Field("non_dominated", bool, "Search for the routes that no other dominates in these measures, "
          "not for the best by --by.", False, free=True, keeps="front", json="non_dominated"),
    Field("measures", str, "What counts: some of yield, cost, time, work, hazard, missing, waste, "
          "peak, steps.", metavar="LIST", free=True),
    Field("may_lack", int, "Let a route need up to N things that the bench lacks.", 0, metavar="N",
          least=0, wrong="give a number from 0 up", keeps="may_lack", json="may_lack",
          words=lambda v, _: f"the bench may lack {v}"),
    Field("prefer", str, "Weights, ends and must-haves: 'yield 3 from 40 % to 90 %, hazard 2, time "
          "at most 3 days'.", metavar="WISHES", keeps="prefer", json="prefer"),
    Field("libraries", Path, "A library folder to add (repeat).", (), many=True, metavar="DIR",
          option="--library", door="find"),
    Field("only_library", bool, "Leave the shipped library out.", False, door="find"),
    Field("my_yields", bool, "Let your journal's runs sharpen the yields (shown).", True,
          option="--my-yields/--no-my-yields", door="command"),
    Field("journal", Path, "The journal's file; else ROUTEFINDER_JOURNAL, else one in your user "
          "data folder.", metavar="FILE", door="command"),
    Field("seconds", float, "Time limit of the search.", 10.0, metavar="S", least=0, above=True,
          wrong="give a time above 0", keeps="seconds"),
)  # fmt: skip
BY_NAME = {field.name: field for field in FIELDS}


class QuestionFields(TypedDict, total=False):
    """What ``find`` takes beside target and amount; the types of ``FIELDS`` as Python sees them."""

    shelf: str | Path | Shelf | Sequence[str] | None
    bench: str | Path | Bench | None
    by: str
    top: int
    state: str | None
    excess: Sequence[str] | Mapping[str, float]
    carry: str
    max_temperature: Any
    avoid: Sequence[str]
    use: Sequence[str]
    use_up: str | None
    max_hazard: int | Mapping[str, int] | Sequence[str] | None
    max_steps: int | None
    max_time: Any
    budget: float | None
    no_licence: bool
    purity: str | float | None
    step_cost: float
    different: bool
    make_reagents: bool
    reuse: bool
    non_dominated: bool | str | None
    measures: str | None
    may_lack: int
    prefer: str | None
    seconds: float


TERMS = {"tools": "--with"}  # terms of a plan whose option has another name
NOT_A = {str: "a text", int: "a whole number", float: "a number", bool: "yes or no", Path: "a path"}


def option(name: str) -> str:
    """A field as the command line says it: "use" is "--from"."""
    if name in BY_NAME:
        return BY_NAME[name].options[0].split("/")[0]
    return TERMS.get(name, f"--{name.replace('_', '-')}")


def key(name: str) -> str:
    """A field as a question file says it."""
    return BY_NAME[name].key if name in BY_NAME else name


def parse(field: Field, text: str) -> Any:
    """One value from text; raises InputError whose sentence begins with "is"."""
    text = text.strip()
    if not text:
        raise InputError(f"is not {NOT_A[field.kind]}")
    try:
        if field.kind in (int, float):
            return field.kind(text)
    except ValueError:
        raise InputError(f"is not {NOT_A[field.kind]}") from None
    if field.kind is bool:
        if text.lower() not in {"yes", "no", "true", "false"}:
            raise InputError("is neither yes nor no")
        return text.lower() in {"yes", "true"}
    return text


def check(field: Field, value: Any) -> Any:
    """A value as Python gives it: its type, unit and range. None stands for the default.

    Raises FieldError.
    """
    if value is None:
        return field.default
    if field.many:
        if isinstance(value, str | Path):
            value = (value,)
        if not isinstance(value, Sequence | set | frozenset):
            raise FieldError("{f} is {value!r}; give a list", f=field.name, value=value)
        return tuple(_one(field, each) for each in value)
    return _one(field, value)


def _one(field: Field, value: Any) -> Any:
    if field.unit:
        try:
            value = units.canonical(value, field.unit)
        except InputError as error:
            raise FieldError("{f}: {error}", f=field.name, error=error) from None
    elif not _fits(field.kind, value):
        what = NOT_A[field.kind]
        raise FieldError("{f} is {value!r}, not {what}", f=field.name, value=value, what=what)
    if field.choices and value not in field.choices:
        listed = ", ".join(field.choices)
        said = "unknown {what} {value!r}" if field.asks else "{f} is {value!r}"
        raise FieldError(
            said + "; choose one of {listed}", f=field.name, value=value,
            what=field.asks.lower(), listed=listed,
        )  # fmt: skip
    if field.least is not None:
        good = value > field.least if field.above else value >= field.least
        if not good or math.isinf(value):
            shown = f"{value:g}" if isinstance(value, float) else value
            raise FieldError(
                "{f} is {value}; {wrong}", f=field.name, value=shown, wrong=field.wrong
            )
    return value


def _fits(kind: type, value: Any) -> bool:
    if kind is Path:
        return isinstance(value, str | Path)
    if kind is bool or isinstance(value, bool):
        return kind is bool and isinstance(value, bool)
    if kind is int:
        try:
            operator.index(value)
        except TypeError:
            return False
        return True
    if kind is float:
        try:
            float(value)
        except (TypeError, ValueError):
            return False
        return not isinstance(value, str)
    return isinstance(value, kind) and bool(str(value).strip())


def known(names: Mapping[str, Any]) -> None:
    """Raise FieldError for a name that is no field of a question."""
    for name in names:
        if name not in BY_NAME or BY_NAME[name].door != "question" or name == "amount":
            near = get_close_matches(name, QuestionFields.__annotations__, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else (
                f"; there are {', '.join(QuestionFields.__annotations__)}")  # fmt: skip
            raise InputError(f"a question has no {name!r}{hint}")
