"""The wanted name and its amount, as people type them."""

from __future__ import annotations

import pytest

from routefinder.cli.options import AMOUNT, name_and_amount
from routefinder.errors import InputError


@pytest.mark.parametrize(
    ("typed", "name", "amount"),
    [
        ("copper acetate 250 g", "copper acetate", "250 g"),
        ("copper acetate 250g", "copper acetate", "250g"),
        ("zinc oxide 1.5 kg", "zinc oxide", "1.5 kg"),
        ("copper acetate", "copper acetate", AMOUNT),
        ("hydrogen peroxide 3 %", "hydrogen peroxide 3 %", AMOUNT),
        ("250 g", "250 g", AMOUNT),
    ],
)
def test_an_amount_may_stand_behind_the_name(typed, name, amount):
    """With or without a space; a strength is part of a name."""
    assert name_and_amount(typed.split(), AMOUNT) == (name, amount)


def test_an_amount_given_twice_is_said():
    """Unless both say the same."""
    assert name_and_amount(["alum", "50", "g"], "50 g") == ("alum", "50 g")
    with pytest.raises(InputError, match="given twice"):
        name_and_amount(["alum", "50", "g"], "60 g")
