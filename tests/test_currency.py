"""Money in one currency, and grams in one account: what is paid is never the sum of two currencies."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import routefinder as rf
from routefinder.assessment import money as m
from routefinder.assessment.shopping import shopping
from routefinder.cli.main import app
from routefinder.errors import FileFault, RoutefinderError
from routefinder.library import settings
from routefinder.library.shelf import read_shelf
from routefinder.records.shelf import Purse, Supply

RUN = CliRunner()
EURO = "material,amount,price\nsoda ash,2 kg,3 EUR/kg\nblue vitriol root killer,1 kg,\n"


@pytest.fixture
def euro(tmp_path) -> Path:
    """A shelf with a price in euro, and a material whose price only the library knows, in USD."""
    file = tmp_path / "shelf.csv"
    file.write_text(EURO, encoding="utf-8")
    return file


def rate(tmp_path, monkeypatch, text: str) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(f"[money]\nrates = {text}\n", encoding="utf-8")
    monkeypatch.setenv("ROUTEFINDER_SETTINGS", str(file))


def test_a_purse_never_adds_two_currencies():
    item = Supply("a", "a", "solid", {"a": 1.0}, "a", price_per_g=0.01, currency="USD")
    apart = Purse("EUR").priced(item)
    assert (apart.price_per_g, apart.currency, apart.elsewhere) == (None, "EUR", (0.01, "USD"))
    same = Purse("EUR", {"USD": 0.92}).priced(item)
    assert same.price_per_g == pytest.approx(0.0092)
    assert (same.currency, same.elsewhere) == ("EUR", None)
    assert Purse("EUR", {"USD": 0.92}).priced(same) == same
    assert Purse("USD").priced(item) == item


def test_the_sums_of_a_plan_are_in_the_currency_of_the_shelf(euro, shipped):
    """Soda at 3 EUR/kg is counted; vitriol, 8 USD/kg in the library, is told apart."""
    answer = rf.find("basic copper carbonate", "100 g", shelf=euro, library=shipped, top=1)
    assert any("blue vitriol root killer: its price is known in USD only (8 USD/kg)" in n
               for n in answer.notes), answer.notes  # fmt: skip
    route = answer.routes[0]
    grams = {d.supply.id: d.as_weighed_g for d in route.assessment.amounts.draws}
    cost = route.assessment.cost
    assert cost.unit == "EUR"
    assert cost.at_least
    assert cost.typical == pytest.approx(grams["soda-ash-dense"] * 0.003)
    plan = answer.plan(1)
    dollars = grams["blue-vitriol-root-killer"] * 0.008
    assert plan.spent.others == (("USD", pytest.approx(dollars)),)
    assert plan.buying.currency == "EUR"
    assert plan.buying.others == (("USD", pytest.approx(dollars), 0.0),)
    assert plan.buying.consumed == pytest.approx(grams["soda-ash-dense"] * 0.003)
    buy = plan.buy
    assert buy.verdict == "unknown"
    assert buy.bought is None  # no EUR beside a price in USD
    text = RUN.invoke(
        app, ["plan", "basic copper carbonate", "100 g", "--shelf", str(euro), "--top", "1"]
    ).stdout
    assert "not added: the settings give no rate into EUR" in " ".join(text.split())
    if buy.elsewhere is not None:
        assert buy.elsewhere[1] == "USD"
        assert "not compared" in " ".join(text.split())


def test_a_rate_of_the_settings_converts(euro, shipped, tmp_path, monkeypatch):
    rate(tmp_path, monkeypatch, '["1 USD = 0.92 EUR"]')
    answer = rf.find("basic copper carbonate", "100 g", shelf=euro, library=shipped, top=1)
    found = answer.routes[0].assessment
    grams = {d.supply.id: d.as_weighed_g for d in found.amounts.draws}
    hand = grams["soda-ash-dense"] * 0.003 + grams["blue-vitriol-root-killer"] * 0.008 * 0.92
    assert found.cost.typical == pytest.approx(hand)
    assert not found.cost.at_least
    assert m.money(found.amounts).others == ()
    both = "material,price\nsoda ash,3 EUR/kg\nblue vitriol root killer,8 USD/kg\n"
    euro.write_text(both, encoding="utf-8")
    mixed = read_shelf(euro, shipped)
    prices = {s.id: (s.price_per_g, s.currency) for s in mixed.supplies}
    assert prices["blue-vitriol-root-killer"] == (pytest.approx(0.00736), "EUR")


def test_two_currencies_in_a_file_need_a_rate(euro, shipped):
    euro.write_text("material,price\nsoda ash,3 EUR/kg\nwhiting,2 USD/kg\n", encoding="utf-8")
    with pytest.raises(FileFault, match=r"prices are in EUR and USD.*1 USD = \.\.\. EUR"):
        read_shelf(euro, shipped)


@pytest.mark.parametrize("text", ['["USD 0.9"]', '"1 USD = x EUR"', "[1.2]", '["1 USD = 0 EUR"]'])
def test_what_is_no_rate_is_refused(text, tmp_path, monkeypatch):
    rate(tmp_path, monkeypatch, text)
    with pytest.raises(FileFault, match="is no rate"):
        settings.rates("EUR")


def test_a_rate_serves_both_ways(tmp_path, monkeypatch):
    rate(tmp_path, monkeypatch, '["1 USD = 0.8 EUR"]')
    assert settings.rates("USD") == {"EUR": pytest.approx(1.25)}
    assert settings.rates("GBP") == {}
    assert settings.read() == {}


def test_unlock_tells_prices_in_their_own_currency(euro, shipped):
    """A purchase that only the library prices is told in USD beside a sum in EUR."""
    found = rf.unlock("copper(II) acetate monohydrate", "100 g", shelf=euro, library=shipped, top=2)
    bought = [p for o in found.openings for p in o.pieces if p.kind == "material" and p.money]
    assert bought
    assert {p.currency for p in bought} == {"USD"}
    for opening in found.openings:
        cost = opening.route.assessment.cost
        grams = {d.supply.id: d for d in opening.route.assessment.amounts.draws}
        known = sum(d.as_weighed_g * d.supply.price_per_g for d in grams.values()
                    if d.supply.price_per_g)  # fmt: skip
        assert cost.unit == "EUR"
        assert cost.typical == pytest.approx(known)
        assert "cost" not in opening.gains  # what lacks a price is not compared
    out = RUN.invoke(
        app, ["unlock", "copper(II) acetate monohydrate", "100 g", "--shelf", str(euro), "--json"]
    )
    data = json.loads(out.stdout)
    pieces = [p for o in data["openings"] for p in o["acquire"] if p["money"]]
    assert pieces
    assert {p["currency"] for p in pieces} == {"USD"}


def test_grams_are_one_account(shipped):
    """Every route of every 11th thing that can be made: what the list has bought is what the steps
    weigh out, and what the money, the answer and the shelf count."""
    tried = 0
    for name in list(shipped.made)[::11]:
        try:
            answer = rf.find(shipped.name(name), "100 g", library=shipped, top=3)
        except RoutefinderError:
            continue  # a name that several things share
        for route in answer.routes:
            found = route.assessment.amounts
            weighed: dict[str, float] = {}
            for amount in found.steps:
                for feed, stream in zip(amount.feeds, amount.course.charge.by_feed, strict=True):
                    if isinstance(feed.origin, str) or feed.origin.everywhere:
                        continue
                    if feed.origin.form != "gas":
                        put_in = float(stream.mass_g)
                        assert put_in == pytest.approx(feed.drawn_g, rel=1e-9), amount.step.id
                    weighed[feed.origin.id] = weighed.get(feed.origin.id, 0.0) + feed.drawn_g
            bought = {p.material: p.need_g for p in shopping(shipped, [found]).purchases}
            paid = {p.material: p.grams for p in m.money(found).parts}
            assert bought.keys() == {k for k, v in weighed.items() if v > 0}
            for key, grams in bought.items():
                tried += 1
                assert grams == pytest.approx(weighed[key], rel=1e-9), (name, key)
                assert paid[key] == pytest.approx(weighed[key], rel=1e-9), (name, key)
    assert tried > 250
