"""What every output says in the same words."""

from routefinder import digits
from routefinder.assessment.leavings import Handling
from routefinder.records.shelf import Supply


def under_never(text: str) -> str:
    """A "never ..." sentence as it stands under the heading "never"."""
    return text.removeprefix("never ")


def things_left(stream: Handling) -> str:
    """What a stream of leavings holds; what is not reckoned is named without a mass."""
    return ", ".join(
        f"{digits.mass(w.mass_g)} {w.name}" if w.mass_g else w.name for w in stream.what
    )


def poured_or_weighed(supply: Supply, grams: float, figures: int = 3) -> str:
    """How much of a material: a volume of what is poured, else a mass to ``figures`` figures."""
    if supply.form in {"solution", "liquid"} and supply.density_g_mL:
        return digits.volume(grams / supply.density_g_mL)
    return digits.mass(grams, figures)
