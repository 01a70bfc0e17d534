"""By-products fed back: the linear programme by hand, its refusals, and the routes of the library."""

from __future__ import annotations

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

import routefinder as rf
from routefinder.errors import Refused
from routefinder.search.balance import balance
from routefinder.search.priced import PricedStep
from routefinder.vessel.amounts import amounts

# invented data: burn stone to lime and gas, slake, carbonate back with bought or returned gas
MASS = {"stone": 100.0, "lime": 56.0, "gas": 44.0, "water": 18.0, "milk": 74.0, "chalk": 100.0}


def cycle(keep: float) -> list[PricedStep]:
    """Precipitated chalk from stone; of the burning's gas the share ``keep`` is caught."""
    return [
        PricedStep("burn", (("stone", 1.0),), ((0.9, ("lime",)), (keep, ("gas",))), 0.0),
        PricedStep("slake", (("lime", 1.0), ("water", 1.5)), ((0.95, ("milk",)),), 0.0),
        PricedStep("carbonate", (("milk", 1.0), ("gas", 1.2)), ((0.98, ("chalk",)),), 0.0),
    ]


def test_gas_of_burning_carbonates():
    """By hand: 1 chalk takes 1/0.98 milk, 1.2 x as much gas, milk/0.95 lime, lime/0.9 stone."""
    prices = {"stone": 1.0, "gas": 10.0, "water": 0.0}
    milk = 1 / 0.98
    stone = milk / 0.95 / 0.9
    most = {"burn": stone, "slake": milk / 0.95, "carbonate": milk}
    found = balance(cycle(0.5), prices, "chalk", 1.0, MASS, most)
    assert found.bought["stone"] == pytest.approx(stone)
    assert found.bought["gas"] == pytest.approx(1.2 * milk - 0.5 * stone)
    (flow,) = [f for f in found.flows if f.node == "gas"]
    assert (flow.maker, flow.taker, flow.back) == ("burn", "carbonate", False)
    assert flow.amount == pytest.approx(0.5 * stone)
    free = balance(cycle(0.5), prices, "chalk", 1.0, MASS)
    assert free.bought["gas"] == pytest.approx(0, abs=1e-9), "dear gas: more stone is burnt for it"
    assert free.bought["stone"] == pytest.approx(1.2 * milk / 0.5)


def test_what_returns_to_an_earlier_step_is_a_starting_charge():
    """An acid that sets free what it needs again: lost a tenth a turn, bought a tenth."""
    steps = [
        PricedStep("dissolve", (("ore", 1.0), ("acid", 2.0)), ((1.0, ("liquor",)),), 0.0),
        PricedStep("plate", (("liquor", 1.0),), ((1.0, ("metal",)), (1.8, ("acid",))), 0.0),
    ]
    mass = {"ore": 80.0, "acid": 98.0, "liquor": 276.0, "metal": 63.0}
    found = balance(steps, {"ore": 1.0, "acid": 5.0}, "metal", 1.0, mass)
    assert found.bought == pytest.approx({"ore": 1.0, "acid": 0.2})
    (flow,) = [f for f in found.flows if f.node == "acid"]
    assert (flow.maker, flow.taker, flow.back) == ("plate", "dissolve", True)
    assert flow.amount == pytest.approx(1.8)


def test_a_loop_that_feeds_itself_from_nothing_is_refused():
    """More comes back than was taken: that is a mistake in the data, not a saving."""
    steps = [
        PricedStep("start", (("seed", 1.0),), ((1.0, ("a",)),), 0.0),
        PricedStep("grow", (("a", 1.0),), ((1.0, ("t",)), (1.5, ("a",))), 0.0),
    ]
    with pytest.raises(Refused, match="from nothing"):
        balance(steps, {"seed": 1.0}, "t", 1.0, {"seed": 10.0, "a": 10.0, "t": 10.0})


def test_no_steady_state_is_none():
    """What can neither be bought nor made has no balance."""
    assert balance(cycle(0.0), {"stone": 1.0, "water": 0.0}, "chalk", 1.0, MASS) is None


@given(
    st.floats(0.3, 0.95), st.floats(1.0, 2.0), st.floats(0.0, 1.0), st.floats(0.1, 50.0),
    st.floats(0.1, 20.0),
)  # fmt: skip
def test_laws(yield_, excess, kept, amount, price):
    """Linear in the amount; reuse never costs more; every node is covered; mass closes."""
    steps = [
        PricedStep("one", (("a", 1.0), ("b", excess)), ((yield_, ("m",)),), 0.0),
        PricedStep("two", (("m", 1.0),), ((yield_, ("t",)), (kept * excess, ("b",))), 0.0),
    ]
    mass = {"a": 50.0, "b": 30.0, "m": 50.0 + 30.0 * excess, "t": 50.0}
    prices = {"a": 1.0, "b": price}
    found = balance(steps, prices, "t", amount, mass)
    double = balance(steps, prices, "t", 2 * amount, mass)
    for node in prices:
        assert double.bought[node] == pytest.approx(2 * found.bought[node], abs=1e-6)
    plain = amount / yield_**2
    assert found.bought["a"] == pytest.approx(plain)
    assert found.bought["b"] <= plain * excess * (1 + 1e-9)
    fed = sum(f.amount for f in found.flows if f.node == "b")
    assert found.bought["b"] + fed >= excess * found.turns["one"] * (1 - 1e-6) - 1e-9
    assert fed <= kept * excess * found.turns["two"] * (1 + 1e-6) + 1e-9
    goes_in = sum(mass[n] * x for n, x in found.bought.items())
    assert goes_in >= amount * mass["t"] * (1 - 1e-6)


@pytest.fixture(scope="module")
def blue():
    """Cobalt blue in a flux of which a recorded share is got back."""
    return rf.find("cobalt blue", "100 g", top=3, reuse=True)


def test_the_library_says_what_reuse_saves(blue):
    """The saving is the recovered share of the flux, and the plain plan is left as it is."""
    route = next(r for r in blue.routes if r.reuse.savings)
    step = route.assessment.steps[0]
    flux = next(a for a in step.aids if a.role == "flux")
    (saving,) = route.reuse.savings
    # what comes back is weighed pure, the bag is not
    supply = saving.supply
    assert saving.plain_g - saving.reused_g == pytest.approx(
        flux.recovered * saving.plain_g, rel=1e-6
    )
    assert saving.money == pytest.approx(
        flux.recovered * saving.plain_g * supply.price_per_g, rel=1e-6
    )
    (flow,) = route.reuse.fed_back
    assert flow.back
    assert flow.mass_g == pytest.approx(
        flux.recovered * saving.plain_g * supply.fractions[flow.substance], rel=1e-6
    )
    again = amounts(
        route.library, route.assessment.steps, [d.supply for d in route.assessment.amounts.draws],
        route.assessment.amounts.target, 100.0,
    )  # fmt: skip
    assert again.draws == route.assessment.amounts.draws


def test_reuse_in_json_text_and_picture(blue):
    """Asked for, it stands in the JSON (by the schema), in the text, and as a double arrow."""
    import io
    import json
    from importlib.resources import files

    from routefinder.view import text

    data = blue.json()
    schema = json.loads(files("routefinder.view").joinpath("routes.schema.json").read_text("utf-8"))
    jsonschema.validate(data, schema)
    told = [r["reuse"] for r in data["routes"] if r["reuse"]["saved"]]
    assert told
    assert told[0]["fed_back"][0]["starting_charge_g"] > 0
    out = text.console(width=100)
    out.file = io.StringIO()
    text.print_answer(blue, out)
    said = out.file.getvalue()
    assert "Reuse, batch after batch:" in said
    assert "starting charge" in said
    route = next(r for r in blue.routes if r.reuse.savings)
    assert "black:white:black" in route.dot(reuse=True)
    assert "black:white:black" not in route.dot()
