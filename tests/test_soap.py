"""Soap by saponification number, superfat chosen; what every soap record says of its water."""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.analysis.reckon import reckon
from routefinder.errors import InputError


def test_olive_oil_by_hand(shipped):
    """1 kg at 190 mg KOH/g: 135.4 g NaOH; computed by hand: 190 × 40.00 / 56.11."""
    found = reckon("soap 1 kg olive oil, superfat 0 %, NaOH 100 %", shipped)
    assert found.figures["alkali_g"] == pytest.approx(135.4, abs=0.1)
    assert "stay free" in found.answer  # the oil may want less
    with_fat = reckon("soap 1 kg olive oil, superfat 8 %, NaOH 98 %, lye 30 %", shipped)
    pure = with_fat.figures["pure_alkali_g"]
    assert pure == pytest.approx(135.4 * 0.92, abs=0.1)
    assert with_fat.figures["alkali_g"] == pytest.approx(pure / 0.98)
    assert pure / (with_fat.figures["alkali_g"] + with_fat.figures["water_g"]) == (
        pytest.approx(0.30))  # fmt: skip
    low, high = with_fat.figures["superfat_low"], with_fat.figures["superfat_high"]
    assert low < 0.08 < high
    assert "wet basis" in with_fat.answer


def test_mixed_fats_add_and_potash_is_heavier(shipped):
    """The alkali of a mixture is the sum of its fats'; KOH weighs 1.403 times NaOH."""
    one = reckon("soap 500 g olive oil, NaOH 100 %", shipped).figures["alkali_g"]
    two = reckon("soap 300 g coconut oil, NaOH 100 %", shipped).figures["alkali_g"]
    both = reckon("soap 500 g olive oil + 300 g coconut oil, NaOH 100 %", shipped)
    assert both.figures["alkali_g"] == pytest.approx(one + two)
    soft = reckon("soap 500 g olive oil + 300 g coconut oil, KOH 100 %", shipped)
    assert soft.figures["alkali_g"] / both.figures["alkali_g"] == pytest.approx(1.403, abs=0.001)
    own = reckon("soap 100 g shea butter (180), NaOH 100 %, superfat 0 %", shipped)
    assert own.figures["alkali_g"] == pytest.approx(12.83, abs=0.01)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("soap 100 g quartz", "no saponification number"), ("soap olive oil", "no fat with its"),
        ("soap 100 g olive oil, superfat 60 %", "0 to 30 %"),
        ("soap 100 g olive oil, honey 3 %", "none of"),
        ("soap 100 g olive oil, NaOH 20 %, lye 40 %", "makes no lye"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(shipped, line, says):
    """One sentence."""
    with pytest.raises(InputError, match=says):
        reckon(line, shipped)


def test_every_fat_of_a_soap_has_a_number(shipped):
    """Every oil that some soap step takes can be reckoned, and the step agrees within its range.

    Alkali that a record calls for lies between 75 and 130 % of what the number asks.
    """
    tried = 0
    for step in shipped.steps.values():
        if step.record.kind != "saponification" or not step.is_recipe:
            continue
        fats = [p for p in step.reactants if shipped.substances[p.substance].saponification]
        lye = [p for p in step.reactants if p.substance in {"sodium-hydroxide",
                                                            "potassium-hydroxide"}]  # fmt: skip
        if not fats or not lye:
            continue
        tried += 1
        need = sum(p.moles * (n.low + n.high) / 2000 / 56.106 for p in fats
                   if (n := shipped.substances[p.substance].saponification))  # fmt: skip
        has = sum(p.moles for p in lye)  # moles, of a thing with a formula, also in a recipe
        assert 0.75 * need < has < 1.3 * need, (step.id, has, need)
    assert tried >= 5


def test_soap_records_say_their_basis(shipped):
    """Dry or wet: every soap's yield says what it counts."""
    silent = [
        s.id for s in shipped.steps.values()
        if s.record.kind == "saponification"
        and not any(w in s.record.yield_.basis for w in ("dry", "dried", "wet", "water", "solution",
                                                         "counted", "paste"))
    ]  # fmt: skip
    assert silent == []


def test_lye_of_soap_strength_opens_soap_from_soda(shipped):
    """From soda ash, lime and oil alone: by the lye that is boiled down to what soap wants."""
    for oil, soda, soap in (
        ("olive-oil-food", "soda-ash-light", "castile-soap"),
        ("raw-linseed-oil", "potassium-carbonate-dyers", "linseed-soft-soap"),
    ):
        found = rf.find(soap, "1 kg", library=shipped, shelf=[oil, soda, "hydrated-lime"])
        ids = {step for route in found.routes for step in route.ids}
        assert ids & {"causticise-soda-and-boil-down-for-soap",
                      "causticise-potash-and-boil-down-for-soap"}, (soap, ids)  # fmt: skip
