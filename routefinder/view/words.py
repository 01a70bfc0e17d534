"""What every output says in the same words."""

from routefinder import digits
from routefinder.records.shelf import Supply


def under_never(text: str) -> str:
    """A "never ..." sentence as it stands under the heading "never"."""
    return text.removeprefix("never ")


def poured_or_weighed(supply: Supply, grams: float, figures: int = 3) -> str:
    """How much of a material: a volume of what is poured, else a mass to ``figures`` figures."""
    if supply.form in {"solution", "liquid"} and supply.density_g_mL:
        return digits.volume(grams / supply.density_g_mL)
    return digits.mass(grams, figures)
