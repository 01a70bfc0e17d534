"""What the user wrote, read into a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Unpack

from routefinder import units
from routefinder.asking import fields, states
from routefinder.asking.fields import QuestionFields
from routefinder.choice import measures
from routefinder.choice import prefer as preferring
from routefinder.errors import FieldError, InputError, NameNotFound, QuantityError
from routefinder.hazards.score import ASPECTS
from routefinder.hidden import shortened
from routefinder.library import excess, regulated, steering
from routefinder.library import shelf as shelves
from routefinder.library.library import Library
from routefinder.library.strengths import of_substance
from routefinder.records.question import Limits, Question
from routefinder.records.shelf import Bench, Shelf
from routefinder.records.substance import Substance


class QuestionReader:
    """The fields of one question, read with its library, one by one or all together."""

    def __init__(self, lib: Library) -> None:
        self.lib = lib

    def target(self, text: Any) -> Substance:
        """What is wanted. Raises NameNotFound, AmbiguousName, Refused."""
        if not isinstance(text, str) or not text.strip():
            raise FieldError("{f} is {value!r}; give a name, formula or CAS number", f="target",
                             value=text)  # fmt: skip
        judged = regulated.refuse(text, "target", self.lib)
        try:
            found = self.lib.substance(text)
        except NameNotFound:
            regulated.refuse_doubt(judged)
            raise
        regulated.refuse(found, "target", self.lib)
        return found

    def field(self, name: str, value: Any) -> Any:
        """One field as ``Question`` keeps it. Raises InputError, mostly FieldError."""
        special = getattr(self, f"_{name}", None)
        if special is not None:
            return special(value)
        return fields.check(fields.BY_NAME[name], value)

    def names(self, name: str, value: Any) -> tuple[str, ...]:
        """A list of names; a single name stands for a list of one."""
        return tuple(fields.check(fields.BY_NAME[name], value))

    def _shelf(self, value: Any) -> Shelf:
        return read_shelf(self.lib, value)

    def _bench(self, value: Any) -> Bench | None:
        if value is None or isinstance(value, Bench):
            return value
        if not isinstance(value, str | Path):
            raise FieldError("{f} is {value!r}; give a file or a Bench", f="bench", value=value)
        return shelves.read_bench(Path(value), self.lib)

    def _avoid(self, value: Any) -> tuple[str, ...]:
        found = self.names("avoid", value)
        return tuple(steering.meant(self.lib, name, steps=True) for name in found)

    def _use(self, value: Any) -> tuple[str, ...]:
        found = self.names("use", value)
        for name in found:
            regulated.refuse(name, "taken", self.lib)
        return tuple(steering.meant(self.lib, name) for name in found)

    def _use_up(self, value: Any) -> str | None:
        name = fields.check(fields.BY_NAME["use_up"], value)
        if name is None:
            return None
        regulated.refuse(name, "taken", self.lib)
        return steering.meant(self.lib, name)

    def _max_hazard(self, value: Any) -> tuple[tuple[str, int], ...]:
        return tuple(hazard_limits(value).items())

    def _non_dominated(self, value: Any) -> tuple[str, ...]:
        """Measures named, or True for the usual ones."""
        if value is None or value is False:
            return ()
        if value is True:
            return measures.DEFAULT
        return measures.read_names(_text("non_dominated", value))

    def _excess(self, value: Any) -> tuple[tuple[str, float], ...]:
        """Ratios from "ethanol = 3", ["ethanol = 3"] or {"ethanol": 3}."""
        if isinstance(value, Mapping):
            value = [f"{name} = {r}" for name, r in value.items()]
        known = {
            self.lib.root(p.substance): p.substance
            for s in self.lib.steps.values()
            if (p := excess.rival(s)) is not None
        }
        out: dict[str, float] = {}
        for text in self.names("excess", value):
            name, equals, number = text.rpartition("=")
            try:
                ratio = float(number)
            except ValueError:
                ratio = 0.0
            if not equals or not name.strip() or not 1 <= ratio <= excess.MOST:
                raise FieldError("{f} {text!r}: write a reactant and moles of it a mole of the "
                                 "limiting one, 1 to 100, for example 'ethanol = 3'",
                                 f="excess", text=shortened(text))  # fmt: skip
            regulated.refuse(name.strip(), "taken", self.lib)
            found = self.lib.substance(name.strip())
            if self.lib.root(found.id) not in known:
                listed = ", ".join(sorted(map(self.lib.name, known.values())))
                raise FieldError("{f}: no step with a known equilibrium takes {name} in excess; "
                                 "there are {listed}", f="excess", name=found.name,
                                 listed=listed or "none")  # fmt: skip
            out[found.id] = ratio
        return tuple(out.items())

    def _purity(self, value: Any) -> float | None:
        """A share from "97 %" or 0.97."""
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise FieldError("{f} is {value!r}, not a share; write for example '97 %'",
                             f="purity", value=value)  # fmt: skip
        try:
            share = units.read_fraction(value)
        except InputError as error:
            raise FieldError("{f}: {error}", f="purity", error=error) from None
        if not 0 < share <= 1:
            raise FieldError("{f} {value!r} must lie above 0 and up to 100 %; write for example "
                             "'97 %'", f="purity", value=value)  # fmt: skip
        return share

    def _state(self, value: Any) -> str | None:
        """As written; what it means hangs on the target."""
        return None if value is None else _text("state", value)

    def _measures(self, value: Any) -> tuple[str, ...]:
        return () if value is None else measures.read_names(_text("measures", value))


def _text(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise FieldError("{f} is {value!r}, not a text", f=name, value=value)
    return value


def read_question(
    lib: Library, target: str, amount: Any = None, **given: Unpack[QuestionFields]
) -> Question:
    """Turn what the user wrote into a question; ``asking.fields`` says what there is to give.

    Raises InputError for anything unusable, Refused for what routefinder does not plan for.
    """
    fields.known(given)
    read = QuestionReader(lib)
    substance = read.target(target)
    grams = read_amount(fields.BY_NAME["amount"].default if amount is None else amount, substance)
    got = {
        f.name: read.field(f.name, given.get(f.name))
        for f in fields.FIELDS
        if f.door == "question" and f.name != "amount"
    }
    _contradictions(lib, substance, got)
    wishes = () if got["prefer"] is None else preferring.read(got["prefer"])
    musts = tuple((w.key, w.limit) for w in wishes if w.limit is not None)
    named = got.pop("measures")
    got["non_dominated"] = (named or got["non_dominated"]) if got["non_dominated"] else ()
    limits: dict[str, Any] = {"measures": musts}
    rest: dict[str, Any] = {}
    if got["state"] is not None:
        got["state"] = states.read_state(lib, substance, got["state"])
    for name, value in got.items():
        room, _, attribute = fields.BY_NAME[name].keeps.rpartition(".")
        (limits if room else rest)[attribute] = value
    return Question(substance.id, grams, limits=Limits(**limits), **rest)


def _contradictions(lib: Library, target: Substance, got: dict[str, Any]) -> None:
    """Raise InputError for fields that cannot hold together."""
    shunned = {lib.root(a) for a in got["avoid"] if a in lib.substances}
    shunned |= {a for a in got["avoid"] if steering.is_material(lib, a)}
    if target.id in got["avoid"]:
        raise FieldError("{name} is both the target and under {f}; drop one", f="avoid",
                         name=target.name)  # fmt: skip
    wanted = [("use", name) for name in got["use"]]
    if got["use_up"] is not None:
        wanted.append(("use_up", got["use_up"]))
    for field, name in wanted:
        if name in shunned or lib.root(steering.substance_of(lib, name)) in shunned:
            raise FieldError("{name} stands under both {f} and {g}; drop one", f=field, g="avoid",
                             name=steering.in_words(lib, name))  # fmt: skip
    for field, name in wanted:
        if not any(steering.covers(lib, name, s) for s in got["shelf"].supplies):
            raise FieldError("{f} {name}: it is not on the shelf ({shelf})", f=field,
                             name=steering.in_words(lib, name),
                             shelf=got["shelf"].name)  # fmt: skip
    for rival in ("use_up", "different"):
        if got["non_dominated"] and got[rival]:
            raise FieldError("{f} and {g} are two different wishes; drop one", f="non_dominated",
                             g=rival)  # fmt: skip
    if got["measures"] and not got["non_dominated"]:
        raise FieldError("{f} goes with {g}", f="measures", g="non_dominated")


def hazard_limits(value: Any) -> dict[str, int]:
    """Limits by aspect from 3, "3", ["toxic 2", "fire 3"] or {"toxic": 2}. Raises FieldError."""
    if value is None:
        return {}
    if isinstance(value, int | str):
        value = [str(value)]
    pairs: list[tuple[str, Any]] = []
    if isinstance(value, Mapping):
        pairs = list(value.items())
    else:
        for text in value if isinstance(value, Sequence) else (value,):
            parts = str(text).replace("=", " ").replace(":", " ").split()
            if not parts or not units.is_whole(parts[-1].removeprefix("-")) or len(parts) > 2:
                raise FieldError("{f} {text!r} is not a limit; write '3' or 'toxic 2'",
                                 f="max_hazard", text=shortened(str(text)))  # fmt: skip
            pairs.append((parts[0] if len(parts) == 2 else "any", int(parts[-1])))
    out: dict[str, int] = {}
    for aspect, points in pairs:
        if aspect != "any" and aspect not in ASPECTS:
            raise FieldError(
                "unknown hazard aspect {aspect!r} for {f}; the aspects are {known} (or 'any')",
                f="max_hazard", aspect=shortened(aspect), known=", ".join(ASPECTS),
            )  # fmt: skip
        if isinstance(points, bool) or not isinstance(points, int) or not 0 <= points <= 4:
            raise FieldError("the limit {points} of {f} for {aspect!r} must lie between 0 and 4; "
                             "write '3' or 'toxic 2'",
                             f="max_hazard", points=points, aspect=aspect)  # fmt: skip
        if out.get(aspect, points) != points:
            raise FieldError("{f} names {aspect!r} twice with different points", f="max_hazard",
                             aspect=aspect)  # fmt: skip
        out[aspect] = points
    return out


def read_amount(amount: Any, substance: Substance) -> float:
    """Grams of ``substance`` from text or a quantity. Raises FieldError, QuantityError."""
    if isinstance(amount, str):
        try:
            number, kind = units.read_any(amount, ("mass", "amount"))
        except QuantityError as error:
            number, kind = _poured(amount, substance, error), "mass"
    else:
        try:
            number, kind = units.canonical(amount, "mass"), "mass"
        except InputError:
            number, kind = units.canonical(amount, "amount"), "amount"
    if kind == "amount":
        if substance.formula is None:
            raise InputError(f"{substance.name} has no formula; give the amount in grams")
        number *= substance.molar_mass_g
    if not number > 0:
        raise FieldError("the {f} {amount!r} must be above 0; write for example '250 g'",
                         f="amount", amount=amount)  # fmt: skip
    return number


def _poured(amount: str, substance: Substance, error: QuantityError) -> float:
    """Grams of a volume of a liquid; raises ``error`` for what is no volume either."""
    try:
        millilitres = units.read(amount, "volume")
    except QuantityError:
        raise error from None
    liquid = of_substance(substance)
    if liquid.form != "liquid" or liquid.density_g_mL is None:
        raise FieldError(
            "the {f} {amount!r} is a volume, and {name} is no liquid whose density is known; give "
            "it in g", f="amount", amount=amount, name=substance.name,
        )  # fmt: skip
    return millilitres * liquid.density_g_mL


def read_shelf(lib: Library, shelf: Any) -> Shelf:
    """A shelf from a file, material names, or None for every shop. Raises InputError, Refused."""
    if shelf is None:
        return shelves.shops(lib)
    if isinstance(shelf, Shelf):
        return shelf
    if isinstance(shelf, str | Path):
        return shelves.read_shelf(Path(shelf), lib)
    if not isinstance(shelf, Sequence | set | frozenset):
        raise FieldError("{f} is {value!r}; give a file, names of materials, or a Shelf",
                         f="shelf", value=shelf)  # fmt: skip
    for name in shelf:
        _text("shelf", name)
        regulated.refuse(name, "taken", lib)
    purse = shelves.purse(lib)
    named = (*(shelves.supply(lib.material(name)) for name in shelf), *shelves.everywhere(lib))
    return Shelf(tuple(purse.priced(s) for s in named), "the materials named", (), purse)
