"""A bench test as it was carried out: what was sampled, what was read, and how well.

Written in a line, its quantities told apart by their units: ``alkali, 10.00 g, 35.6 mL, 0.500
mol/L``; ``hydrometer, 1.081 g/mL``; ``acid gas, 1.00 g, 205 mL``; ``ignition, 2.00 g, 1.31 g``. Of
two quantities of the same unit the first is the sample. "first end point" says that the burette
was read as phenolphthalein turned; "on filtrate" what was sampled, when it was not the product.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from routefinder import units
from routefinder.analysis.methods import METHODS, Method
from routefinder.errors import InputError, QuantityError

WORDS = {
    "titration": "titration", "titrate": "titration", "alkali": "alkali", "acid": "acid",
    "hydrometer": "hydrometer", "density": "hydrometer", "acid gas": "acid gas", "gas": "acid gas",
    "ignition": "ignition", "loss on ignition": "ignition", "residue": "residue",
    "acid residue": "acid residue", "iodometry": "iodometry", "iodometric": "iodometry",
    "chloride": "chloride", "ph": "pH", "melting": "melting", "melting range": "melting",
    "flame": "flame", "dissolving": "dissolving",
}  # fmt: skip
MADE_UP = 0.01  # how well a titrant that was made up at the bench is known: common practice
_SAMPLED = re.compile(r"^on (?:the )?(?P<what>[a-z ]+)$")


@dataclass(frozen=True)
class Tested:
    """One reading in the unit of its method, ``u`` its standard uncertainty.

    The sample by mass, or by volume (then ``sample_g`` is None and ``density`` may be known);
    ``molar`` is the titrant's strength in equivalents, mol/L. ``on`` is what was sampled.
    """

    method: str
    reading: float
    u: float
    sample_g: float | None = None
    u_sample_g: float = 0.0
    sample_mL: float | None = None
    density_g_mL: float | None = None
    molar: float = 0.0
    u_molar: float = 0.0
    first: bool = False
    on: str = "product"
    text: str = ""

    @property
    def kind(self) -> Method:
        """Its method."""
        return METHODS[self.method]

    def grams(self, density_g_mL: float) -> float:
        """The sample in g, where it was measured by volume by its density (or the one given)."""
        if self.sample_g is not None:
            return self.sample_g
        return (self.sample_mL or 0.0) * (self.density_g_mL or density_g_mL)

    @property
    def relative(self) -> float:
        """Standard uncertainty of all but the reading itself, as a share of it."""
        parts = [self.u_molar / self.molar if self.molar else 0.0]
        if self.sample_g:
            parts.append(self.u_sample_g / self.sample_g)
        elif self.sample_mL:
            parts.append(0.05 / self.sample_mL)
        return math.hypot(*parts)

    @property
    def u_all(self) -> float:
        """Standard uncertainty of the reading with that of sample and titrant, in its unit."""
        return math.hypot(self.u, self.relative * self.reading)


def last_digit(text: str, kind: str) -> float:
    """What the last digit as written stands for: 0.1 of "214.0 g", in the unit of the kind."""
    number, unit = text.strip(), ""
    for i, sign in enumerate(number):
        if not (
            sign.isdigit() or sign in ".,+- _" or (sign in "eE" and i and number[i - 1].isdigit())
        ):
            number, unit = number[:i], number[i:]
            break
    try:
        written = Decimal(number.strip().replace(" ", "").replace("_", "").replace(",", "."))
    except InvalidOperation:
        return 1.0
    exponent = written.as_tuple().exponent
    places = exponent if isinstance(exponent, int) else 0
    factor = units.read(f"1 {unit.strip() or units.CANONICAL[kind]}", kind)
    return float(10.0 ** min(places, 0)) * factor


def method_named(word: str) -> str:
    """The method a word means: "gas" is "acid gas"; "titration" leaves it to what is titrated.

    Raises InputError with the tests there are.
    """
    found = WORDS.get(word.strip().casefold())
    if found is None:
        listed = ", ".join(METHODS)
        raise InputError(f"{word!r} is no bench test; there are: {listed}")
    return found


def read_test(text: str, titrates: str = "") -> Tested:
    """Read a line such as ``alkali, 10.00 g, 35.6 mL, 0.500 mol/L``.

    ``titrates`` is what "titration" means where it stands alone. Raises InputError, saying what is
    missing or what cannot be read.
    """
    words = [w.strip() for w in re.split(r"[;:]|,(?!\d)", text) if w.strip()]
    if not words:
        raise InputError("a test is written so: 'alkali, 10.00 g, 35.6 mL, 0.500 mol/L'")
    name = method_named(words[0])
    if name == "titration":
        if not titrates:
            raise InputError("say which titration it was: alkali, acid, iodometry or chloride")
        name = titrates
    method = METHODS[name]
    if method.sign:
        raise InputError(f"{method.title} is a sign to look at: note it in words, no figure counts")
    given: dict[str, list[tuple[float, float]]] = {}
    first, on = False, "product"
    for word in words[1:]:
        if word.casefold() in {"first", "first end point", "to the first end point"}:
            first = True
        elif sampled := _SAMPLED.match(word.casefold()):
            on = sampled["what"]
        else:
            kind, value, step = _quantity(word)
            given.setdefault(kind, []).append((value, step))
    if first and name != "alkali":
        raise InputError("only a titration of alkali has a first end point")
    return _built(method, given, first, on, text)


def _quantity(word: str) -> tuple[str, float, float]:
    for kind in ("mass", "volume", "concentration", "density"):
        try:
            value = units.read(word, kind)
        except QuantityError:
            continue
        if value < 0 or (value == 0 and kind in {"concentration", "density"}):
            raise InputError(f"{word!r} must not be below or at 0")
        return kind, value, last_digit(word, kind)
    raise InputError(
        f"{word!r} cannot be read; a test takes a mass, a volume, a titrant in mol/L or a density"
    )


def _built(
    method: Method, given: dict[str, list[tuple[float, float]]], first: bool, on: str, text: str
) -> Tested:
    def take(kind: str, what: str) -> tuple[float, float]:
        if not given.get(kind):
            example = {
                "volume": "35.6 mL", "mass": "10.00 g", "concentration": "0.500 mol/L",
                "density": "1.081 g/mL",
            }[kind]  # fmt: skip
            raise InputError(f"{method.title}: {what} is missing, for example {example!r}")
        return given[kind].pop(0)

    sample_g = u_sample = sample_mL = density = None
    molar = u_molar = 0.0
    if method.name == "hydrometer":
        value, step = take("density", "the density read")
    else:
        if given.get("mass"):
            sample_g, read = take("mass", "the sample")
            u_sample = read / math.sqrt(12)
        else:
            sample_mL, _ = take("volume", "the sample")
        if (sample_g if sample_g is not None else sample_mL) == 0:
            raise InputError(f"{method.title}: the sample must be above 0")
        value, step = take(method.reads, f"what was read, in {method.unit},")
        if method.titrant:
            molar, read = take("concentration", f"the strength of the {method.titrant}")
            u_molar = max(read / math.sqrt(12), MADE_UP * molar)
        if sample_mL is not None and given.get("density"):
            density, _ = take("density", "the density")
    rest = [kind for kind, values in given.items() if values]
    if rest:
        raise InputError(f"{method.title}: one {rest[0]} too many in {text!r}")
    u = math.hypot(method.u, method.u_share * value, step / math.sqrt(12))
    return Tested(
        method.name, value, u, sample_g, u_sample or 0.0, sample_mL, density, molar, u_molar,
        first, on, text.strip(),
    )  # fmt: skip
